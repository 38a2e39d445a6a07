//! Writes answers as JSON: one object with `"schema": 1`, or one such object on each line for a book. The data for the
//! scripts of pages has no schema number.
//!
//! The field names and their meaning are the contract with other programs; they change only with the schema number.
//! Bars count from 1 (a pickup is bar 0), parts from 1, `midi` 60 is C4, and pitch is always sounding pitch. Onsets and
//! durations are in quarters, as decimal numbers. Times are in seconds in a field `seconds`, and in milliseconds in a
//! field that ends in `_ms`. A `beat` is in the unit of the time signature.

mod approach;
pub mod bag;
pub mod book;
mod check;
mod harps;
mod levels;
mod notes;
mod practice;
mod suggest;
mod tune;
mod tunes;

pub use check::{choice, lesson, unreached};
pub use harps::{chords, harp, positions, typed};
pub use levels::levels;
pub use notes::notes;
pub use practice::{practice, practice_rows};
pub use suggest::{sheet, suggest, tab};
pub use tunes::tunes;

use serde::Serialize;

use crate::clean::is_hidden;

/// The schema number of this contract.
const SCHEMA: u32 = 1;

/// Returns an answer as JSON, with hidden characters as escapes.
pub fn print(answer: &impl Serialize) -> String {
    // The types of the answers contain nothing that could fail to serialise.
    let mut text = with_escapes(&serde_json::to_string_pretty(answer).unwrap_or_default());
    text.push('\n');
    text
}

/// Returns an answer of this module in a single line, for JSON Lines.
pub fn in_a_line(answer: &str) -> String {
    // A line break inside a string is written as an escape, so every line break here is layout.
    answer.lines().map(str::trim_start).collect::<String>() + "\n"
}

/// Returns JSON in which every hidden character of a string is an escape. Of these characters, JSON itself
/// requires escapes only for the control characters below U+0020.
fn with_escapes(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if c == '\n' || !is_hidden(c) {
            out.push(c);
        } else {
            c.encode_utf16(&mut [0; 2]).iter().for_each(|unit| out.push_str(&format!("\\u{unit:04x}")));
        }
    }
    out
}
