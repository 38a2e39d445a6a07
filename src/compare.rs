//! Compares a choice that somebody made (a harp, a position or a tab) with the best one.
//!
//! Input: the request of a search, and the choice. Output: the correct and the wrong parts of the choice, and its cost
//! note by note; [`crate::pages`] words the result.
//!
//! * [`choice`] compares two rows of a ranking: the bars in which each is easier, and the advantages of each.
//! * [`lesson`] compares a typed tab with the tune ([`align`]), then with the playing of least effort on the same harp.

pub mod align;
pub mod choice;
pub mod lesson;

use crate::{
    harp::Action,
    melody::Melody,
    search::{Effort, Playing, Term},
};

/// A note that two playings sound in different ways, and what the difference costs.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Difference {
    /// The index of the note in the melody.
    pub note: usize,
    /// The action of the given playing; `None` if that playing leaves the note out.
    pub given: Option<Action>,
    /// The action of the best playing; `None` if that playing leaves the note out.
    pub best: Option<Action>,
    /// The cost of the given playing from this note up to the next differing note; the whole stretch counts because a
    /// hole also affects the steps after it.
    pub effort_given: Effort,
    /// The cost of the best playing for the same notes.
    pub effort_best: Effort,
}

impl Difference {
    /// Returns by how many points the given playing is dearer; negative if it is cheaper.
    pub fn more(&self) -> i64 {
        let points = |effort: Effort| i64::try_from(effort.total()).unwrap_or(i64::MAX);
        points(self.effort_given) - points(self.effort_best)
    }
}

/// Lists the differences between two playings of a melody on one harp. Added up over all differences,
/// [`Difference::more`] is the difference of the total efforts, because the playings cost the same before the first
/// difference.
pub fn differences(given: &Playing, best: &Playing) -> Vec<Difference> {
    let mut differences: Vec<Difference> = Vec::new();
    for (note, (given, best)) in given.notes.iter().zip(&best.notes).enumerate() {
        if given.action != best.action {
            differences.push(Difference {
                note,
                given: given.action,
                best: best.action,
                effort_given: Effort::default(),
                effort_best: Effort::default(),
            });
        }
        if let Some(difference) = differences.last_mut() {
            difference.effort_given += given.effort;
            difference.effort_best += best.effort;
        }
    }
    differences
}

/// Returns the cost of a playing in each bar, by index; the position, which all bars share, is not included. The two
/// halves of a bar that is split at a repeat count as one bar, under the index of the first.
pub fn bar_efforts(melody: &Melody, playing: &Playing) -> Vec<u64> {
    let whole = whole_bars(melody);
    let mut efforts = vec![0_u64; whole.len()];
    for (note, played) in melody.notes.iter().zip(&playing.notes) {
        let effort = &mut efforts[whole[note.bar]];
        *effort = effort.saturating_add(played.effort.with(Term::Position, 0).total());
    }
    efforts
}

/// Lists the bars in which one playing costs less than another, by [`bar_efforts`].
pub fn easier_bars(melody: &Melody, ours: &Playing, theirs: &Playing) -> Vec<usize> {
    let (ours, theirs) = (bar_efforts(melody, ours), bar_efforts(melody, theirs));
    (0..ours.len()).filter(|&bar| ours[bar] < theirs[bar]).collect()
}

/// Returns the index of every bar; for the second half of a bar split at a repeat, the index of the first half.
pub fn whole_bars(melody: &Melody) -> Vec<usize> {
    let bars = &melody.bars;
    let mut whole: Vec<usize> = (0..bars.len()).collect();
    for index in 1..bars.len() {
        let (before, bar) = (&bars[index - 1], &bars[index]);
        let is_half = bar.meter.is_some_and(|meter| before.length + bar.length <= meter.bar());
        if before.number == bar.number && is_half {
            whole[index] = whole[index - 1];
        }
    }
    whole
}
