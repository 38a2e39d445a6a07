//! How a file writes its notes and rests, where it says so: what notation keeps instead of finding its own way.

use crate::time::{Beats, Value};

/// A note, a tied piece of one, or a rest, as a file writes it in a bar.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Written {
    /// Where it begins by the file's durations, from the start of the bar.
    pub at: Beats,
    /// How long it lasts by the file's durations, which may be rounded to whole ticks.
    pub length: Beats,
    /// Its sign.
    pub value: Value,
    /// So many in the time of so many.
    pub ratio: Option<(u8, u8)>,
    /// A tuplet begins with it, and ends with it.
    pub tuplet: Ends,
    /// A beam begins with it, and ends with it; `None` where it has no beam.
    pub beam: Option<Ends>,
    /// What it is.
    pub kind: WrittenKind,
}

/// Whether a group begins or ends here; in the middle of one neither.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[allow(missing_docs, reason = "the two name themselves")]
pub struct Ends {
    pub begins: bool,
    pub ends: bool,
}

/// What is written.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum WrittenKind {
    /// A note or a tied piece of one; with a sign before it that only reminds (a courtesy accidental) or without.
    Note {
        /// The sign before it is a reminder.
        courtesy: bool,
    },
    /// A rest.
    Rest,
    /// A rest that is not to be seen.
    HiddenRest,
}

impl Written {
    /// How long it lasts exactly, by its value and its tuplet.
    pub fn exact(&self) -> Beats {
        let duration = self.value.duration();
        match self.ratio {
            Some((actual, normal)) => duration.times(normal.into(), i64::from(actual).max(1)),
            None => duration,
        }
    }
}
