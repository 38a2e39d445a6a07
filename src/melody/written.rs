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
    /// What it has of a beam, from the beam of the eighths on.
    pub beams: [Option<Beam>; Beam::LEVELS],
    /// What it is.
    pub kind: WrittenKind,
}

/// What a note has of a beam.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
#[allow(missing_docs, reason = "the five name themselves; a hook is a stub towards the note after or before")]
pub enum Beam {
    Begin,
    Continue,
    End,
    ForwardHook,
    BackwardHook,
}

impl Beam {
    /// The most beams of a note: a 128th has five.
    pub(crate) const LEVELS: usize = 5;
    /// All of them with their names in MusicXML (4.0, `beam-value`).
    const NAMES: [(Beam, &str); 5] = [
        (Beam::Begin, "begin"),
        (Beam::Continue, "continue"),
        (Beam::End, "end"),
        (Beam::ForwardHook, "forward hook"),
        (Beam::BackwardHook, "backward hook"),
    ];

    /// As MusicXML names it (4.0, `beam-value`).
    pub fn name(self) -> &'static str {
        Beam::NAMES[self as usize].1
    }

    /// What MusicXML calls so.
    pub(crate) fn named(name: &str) -> Option<Beam> {
        Beam::NAMES.iter().find(|(_, known)| *known == name).map(|&(beam, _)| beam)
    }
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
    /// A grace note, which takes no time.
    Grace,
    /// A rest.
    Rest,
    /// A rest that is not to be seen.
    HiddenRest,
}

impl Written {
    /// How long it lasts exactly, by its value and its tuplet.
    pub fn exact(&self) -> Beats {
        if self.kind == WrittenKind::Grace {
            return Beats::ZERO;
        }
        let duration = self.value.duration();
        match self.ratio {
            Some((actual, normal)) => duration.times(normal.into(), i64::from(actual).max(1)),
            None => duration,
        }
    }
}
