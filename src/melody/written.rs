//! How a file writes its notes and rests, where it says so; notation keeps this instead of finding its own way.

use crate::time::{Beats, Value};

/// A note, a tied piece of one, or a rest, as a file writes it in a bar.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Written {
    /// Where it begins according to the file's durations, from the start of the bar.
    pub at: Beats,
    /// How long it lasts according to the file's durations, which may be rounded to whole ticks.
    pub length: Beats,
    /// Its sign.
    pub value: Value,
    /// The tuplet's ratio: so many notes in the time of so many.
    pub ratio: Option<(u8, u8)>,
    /// Whether a tuplet begins or ends with it.
    pub tuplet: Ends,
    /// Its part of each beam, from the beam of the eighths on.
    pub beams: [Option<Beam>; Beam::LEVELS],
    /// What it is.
    pub kind: WrittenKind,
}

/// A note's part of a beam.
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
    /// The most beams on a note: a 128th has five.
    pub(crate) const LEVELS: usize = 5;
    /// All of them with their names in MusicXML (4.0, `beam-value`).
    const NAMES: [(Beam, &str); 5] = [
        (Beam::Begin, "begin"),
        (Beam::Continue, "continue"),
        (Beam::End, "end"),
        (Beam::ForwardHook, "forward hook"),
        (Beam::BackwardHook, "backward hook"),
    ];

    /// The name in MusicXML (4.0, `beam-value`).
    pub fn name(self) -> &'static str {
        Beam::NAMES[self as usize].1
    }

    /// Returns the part with this MusicXML name.
    pub(crate) fn named(name: &str) -> Option<Beam> {
        Beam::NAMES.iter().find(|(_, known)| *known == name).map(|&(beam, _)| beam)
    }
}

/// Whether a group begins or ends here; neither in the middle of a group.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[allow(missing_docs, reason = "the two name themselves")]
pub struct Ends {
    pub begins: bool,
    pub ends: bool,
}

/// What is written.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum WrittenKind {
    /// A note or a tied piece of one.
    Note {
        /// The accidental before it is only a reminder (a courtesy accidental).
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
    /// Its exact length, from its value and its tuplet.
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
