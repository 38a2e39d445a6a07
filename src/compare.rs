//! A choice that somebody else made, a harp, a position or a tab, held against the best one.
//!
//! In: the request that a search is made with, and the choice. Out: what is right in it, what is not, and what it costs
//! note by note; [`crate::pages`] puts it into words.
//!
//! * [`choice`] compares two rows of a ranking: where each is easier, and what speaks for the one that the search did not
//!   take.
//! * [`lesson`] compares a tab that was typed with the tune ([`align`]), then with the least effort on the same harp.

pub mod align;
pub mod choice;
pub mod lesson;

use crate::{
    harp::Action,
    melody::Melody,
    search::{Effort, Playing, Term},
};

/// A note that two playings sound in different ways, with what that costs.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Difference {
    /// The index of the note in the melody.
    pub note: usize,
    /// What the given playing does; `None` where it leaves the note out.
    pub given: Option<Action>,
    /// What the best one does.
    pub best: Option<Action>,
    /// What the given one costs from this note up to the next one that differs: a hole is paid for in the steps after it too.
    pub effort_given: Effort,
    /// What the best one costs there.
    pub effort_best: Effort,
}

impl Difference {
    /// By how much the given way is dearer; negative where it is cheaper.
    pub fn more(&self) -> i64 {
        let points = |effort: Effort| i64::try_from(effort.total()).unwrap_or(i64::MAX);
        points(self.effort_given) - points(self.effort_best)
    }
}

/// Where two playings of a melody on one harp differ. What they cost more or less adds up to the difference of their
/// sums: before the first of these notes they cost the same.
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

/// What a playing costs in each bar, by index; the position that all of it is played in costs none. The two halves of a bar that
/// is split at a repeat are one, and cost what they do in the first.
pub fn bar_efforts(melody: &Melody, playing: &Playing) -> Vec<u64> {
    let whole = whole_bars(melody);
    let mut efforts = vec![0_u64; whole.len()];
    for (note, played) in melody.notes.iter().zip(&playing.notes) {
        let effort = &mut efforts[whole[note.bar]];
        *effort = effort.saturating_add(played.effort.with(Term::Position, 0).total());
    }
    efforts
}

/// The bars in which one playing costs less than another, as [`bar_efforts`] has them.
pub fn easier_bars(melody: &Melody, ours: &Playing, theirs: &Playing) -> Vec<usize> {
    let (ours, theirs) = (bar_efforts(melody, ours), bar_efforts(melody, theirs));
    (0..ours.len()).filter(|&bar| ours[bar] < theirs[bar]).collect()
}

/// For every bar its index, or of the second half of a bar that is split at a repeat that of the first.
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
