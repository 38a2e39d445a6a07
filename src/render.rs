//! The media: each draws the same [`Page`](crate::pages::Page). A renderer takes no musical decision.

pub mod text;
pub mod markdown;
pub mod html;
pub mod csv;
