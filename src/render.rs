//! How an answer looks: one [`Page`](crate::pages::Page) drawn for each medium. A renderer takes no musical decision.

pub mod text;
pub mod markdown;
pub mod html;
