//! The written form of a file's notes and rests, if the file states it; the notation keeps this form instead of finding
//! its own.

use crate::time::{Beats, Value};

/// A note, a tied piece of a note, or a rest, as a file writes it in a bar.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Written {
    /// The position according to the file's durations, from the start of the bar.
    pub at: Beats,
    /// The length according to the file's durations, which may be rounded to whole ticks.
    pub length: Beats,
    /// The printed note value.
    pub value: Value,
    /// The tuplet's ratio: the number of notes, and the number of notes in whose time they are played.
    pub ratio: Option<(u8, u8)>,
    /// Whether a tuplet begins or ends with this note or rest.
    pub tuplet: Ends,
    /// The note's part of each beam, from the beam of the eighths on.
    pub beams: [Option<Beam>; Beam::LEVELS],
    /// A note, a grace note, a rest or a hidden rest.
    pub kind: WrittenKind,
}

/// A note's part of a beam.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
#[allow(
    missing_docs,
    reason = "the five names explain themselves; a hook is a stub towards the next or the previous note"
)]
pub enum Beam {
    Begin,
    Continue,
    End,
    ForwardHook,
    BackwardHook,
}

impl Beam {
    /// The largest number of beams on a note: a 128th has five.
    pub(crate) const LEVELS: usize = 5;
    /// All parts of a beam, with their names in MusicXML (4.0, `beam-value`).
    const NAMES: [(Beam, &str); 5] = [
        (Beam::Begin, "begin"),
        (Beam::Continue, "continue"),
        (Beam::End, "end"),
        (Beam::ForwardHook, "forward hook"),
        (Beam::BackwardHook, "backward hook"),
    ];

    /// Returns the name in MusicXML (4.0, `beam-value`).
    pub fn name(self) -> &'static str {
        Beam::NAMES[self as usize].1
    }

    /// Returns the part of a beam with this MusicXML name.
    pub(crate) fn named(name: &str) -> Option<Beam> {
        Beam::NAMES.iter().find(|(_, known)| *known == name).map(|&(beam, _)| beam)
    }
}

/// Whether a group begins or ends here; both are false in the middle of a group.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[allow(missing_docs, reason = "the two names explain themselves")]
pub struct Ends {
    pub begins: bool,
    pub ends: bool,
}

/// The kinds of written notes and rests.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum WrittenKind {
    /// A note or a tied piece of a note.
    Note {
        /// Whether the accidental before the note is only a reminder (a courtesy accidental).
        courtesy: bool,
    },
    /// A grace note, which takes no time.
    Grace,
    /// A rest.
    Rest,
    /// A rest that is not printed.
    HiddenRest,
}

impl Written {
    /// Returns the exact length, from the note value and the tuplet; zero for a grace note.
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
