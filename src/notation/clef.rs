//! The clef of a tune, and the ledger lines of its notes.

use crate::pitch::Spelling;

/// The treble clef, plain or shifted by octaves.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Clef {
    /// The number of octaves by which the notes sound higher than they are drawn.
    pub octaves: i8,
}

impl Clef {
    /// The lowest line, E4, in steps above C0.
    const LOWEST_LINE: i32 = 4 * 7 + 2;

    /// Returns the staff position of a note: the steps above the lowest line.
    pub fn position(self, spelling: Spelling) -> i32 {
        let octave = i32::from(spelling.octave) - i32::from(self.octaves);
        7 * octave + spelling.step as i32 - Clef::LOWEST_LINE
    }

    /// Returns the clef with the fewest ledger lines, but an octave clef only if it saves more than one ledger line per
    /// note on average.
    pub(super) fn best(spellings: &[Spelling]) -> Clef {
        let cost = |clef: &Clef| {
            let lines: i32 =
                spellings.iter().map(|&spelling| ledger_lines(clef.position(spelling)).abs()).sum();
            lines + if clef.octaves == 0 { 0 } else { spellings.len() as i32 }
        };
        let clefs = [0, 1, -1, 2].map(|octaves| Clef { octaves });
        clefs.into_iter().min_by_key(cost).unwrap_or(Clef { octaves: 0 })
    }
}

/// Returns the number of ledger lines that a staff position needs; negative below the staff.
pub fn ledger_lines(position: i32) -> i32 {
    if position > 9 {
        (position - 8) / 2
    } else if position < -1 {
        position / 2
    } else {
        0
    }
}
