//! The program as its user sees it: the command, its pages, exports and sheets. These tests form one crate, so that it
//! is linked only once.

#[path = "../geometry/mod.rs"]
mod geometry;
#[path = "../harness/mod.rs"]
mod harness;
#[path = "../players/mod.rs"]
mod players;
#[path = "../random/mod.rs"]
mod random;
#[path = "../support/midi.rs"]
mod support;
#[path = "../tunes/mod.rs"]
mod tunes;

mod bag;
mod book;
mod check;
mod cli;
mod documents;
mod export;
mod kit;
mod mistakes;
mod files;
mod streams;
mod install;
mod json;
mod levels;
mod notation;
mod page;
mod pins;
mod progress;
mod sheet;
mod text;
mod typed_tabs;
mod viewer;
