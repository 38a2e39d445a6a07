//! The renderers. Each draws the same [`Page`](crate::pages::Page) for one medium. A renderer makes no musical
//! decision.

pub mod text;
pub mod markdown;
pub mod html;
pub mod csv;
