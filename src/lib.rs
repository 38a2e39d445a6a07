//! Which harmonica, in which position, and the tab: breathline looks at the tune itself.

pub mod harp;
pub mod import;
pub mod melody;
pub mod pitch;
pub mod time;
pub mod data;
pub mod search;
pub mod tab;
pub mod report;
