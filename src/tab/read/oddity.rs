//! The oddities of a typed tab, each with its place and what to do.

use std::fmt;

use super::Spot;
use crate::harp::{Action, Bend};

/// An oddity in a tab.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Oddity {
    /// The place of the oddity in the text.
    pub at: Spot,
    /// The text at this place.
    pub found: String,
    /// The kind of the oddity.
    pub kind: OddityKind,
}

/// The kinds of oddities.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum OddityKind {
    /// A mark without meaning here, which gives no note.
    Unknown(Hint),
    /// Several holes at once, of which the highest is kept.
    Chord(Action),
    /// Notes without a space between them.
    Joined,
    /// A sign separated from its hole.
    Loose(Action),
    /// A note without the breath sign that the other notes have; it is read as blow.
    NoBreath(Action),
    /// A mark of a different convention from the other marks.
    Mixed(Action),
    /// A sign after the hole, although it belongs before the hole.
    Behind(Action),
    /// A line of words that contains marks of tab, which are skipped.
    InWords,
    /// A number before a bar line, which is read as a bar number.
    BarNumber,
    /// A whole tab without a draw note.
    AllBlow,
    /// A lost sign, reported only at the first note that lost its sign.
    SignLost(Action),
    /// A row of letters that does not have one letter for each hole above it.
    UnevenRow {
        /// The holes above.
        holes: usize,
        /// The letters.
        letters: usize,
    },
}

/// The correction for a mark that was not understood.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum Hint {
    /// Holes are numbered from 1 to 10.
    Hole,
    /// A number such as 60, which probably means an overblow, as in `6o`.
    Overblow,
    /// The mark of the slide of a chromatic harmonica.
    Slide,
    /// A bracket without its partner.
    Bracket,
    /// A bend deeper than any harp allows.
    Bend,
    /// A mark without a hole.
    Alone,
    /// Anything else.
    Any,
}

impl fmt::Display for Oddity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Oddity { at, found, kind } = self;
        write!(f, "{at}: ")?;
        match kind {
            OddityKind::Unknown(hint) => write!(f, "`{found}` is not understood and is left out; {hint}"),
            OddityKind::Chord(top) => {
                let top = spoken(*top);
                write!(
                    f,
                    "`{found}` sounds several holes at once; only the highest is kept, {top}{}",
                    past_ten(found)
                )
            }
            OddityKind::Joined => {
                let past_ten = past_ten(found);
                write!(
                    f,
                    "`{found}` has no space between its notes; they are read one after another{past_ten}"
                )
            }
            OddityKind::Loose(action) => {
                write!(f, "`{found}` is apart from its hole; the two are read as {}", spoken(*action))
            }
            OddityKind::NoBreath(action) => {
                write!(f, "`{found}` does not say blow or draw; it is read as {}", spoken(*action))
            }
            OddityKind::Mixed(action) => {
                write!(
                    f,
                    "`{found}` is written in another style than the rest; it is read as {}",
                    spoken(*action)
                )
            }
            OddityKind::Behind(action) => {
                write!(f, "`{found}` has its sign after the hole; it is read as {}", spoken(*action))
            }
            OddityKind::InWords => write!(
                f,
                "the line looks like words, so `{found}` in it is not a note; put the tab on a line of its own"
            ),
            OddityKind::BarNumber => write!(
                f,
                "`{found}` before the bar line is read as the number of the bar; write a bar line before it if \
                 it is a note"
            ),
            OddityKind::SignLost(action) => write!(
                f,
                "`{found}` has a sign that was lost in copying; it is read as {}; type the signs again, as in 4 -4",
                spoken(*action)
            ),
            OddityKind::UnevenRow { holes, letters } => write!(
                f,
                "the row has {letters} letters for {holes} holes above it and is left out; write one letter under each hole"
            ),
            OddityKind::AllBlow => {
                f.write_str("there is no draw note in the whole tab; were its signs lost in copying?")
            }
        }
    }
}

impl fmt::Display for Hint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Hint::Hole => "holes go from 1 to 10, with a space between two notes",
            Hint::Overblow => "holes go from 1 to 10; an overblow is written with the letter, as in 6o",
            Hint::Slide => "that is the slide of a chromatic harmonica; only tab for ten-hole harps is read",
            Hint::Bracket => "close the bracket on the same line",
            Hint::Bend => "write one mark for each half step of a bend, at most three, as in -3'''",
            Hint::Alone => "write a sign right before its hole and a bend right after it, as in -3'",
            Hint::Any => "write a note as 4, -4, -3' or 6o, and put # before a comment",
        })
    }
}

/// Returns the addition to a message for a number that could be a hole of a larger harp.
fn past_ten(found: &str) -> &'static str {
    let number = found.trim_start_matches(['-', '+']).parse::<u32>();
    if number.is_ok_and(|number| (11..=16).contains(&number)) { " (holes go from 1 to 10)" } else { "" }
}

/// Returns an action in words, such as "draw 3 with a whole-step bend".
fn spoken(action: Action) -> String {
    let Action { hole, breath, bend } = action;
    match bend {
        Bend::None => format!("{breath} {hole}"),
        Bend::Down(1) => format!("{breath} {hole} with a half-step bend"),
        Bend::Down(2) => format!("{breath} {hole} with a whole-step bend"),
        Bend::Down(3) => format!("{breath} {hole} with a step-and-a-half bend"),
        Bend::Down(depth) => format!("{breath} {hole} with a bend of {depth} half steps"),
        Bend::Over => format!("over{breath} {hole}"),
    }
}
