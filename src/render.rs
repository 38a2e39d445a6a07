//! The renderers. Each draws the pages of [`crate::pages`], or their tables, for one medium. A renderer makes no
//! musical decision.

pub mod text;
pub mod markdown;
pub mod html;
pub mod csv;
