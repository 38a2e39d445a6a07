//! Which note of a tab is which note of the tune: the alignment of least cost, exactly.
//!
//! In: the tune's pitches and the tab's, as they sound. Out: for every note of either, its partner or that it has none.
//!
//! **Recurrence.** With `i` notes of the tune and `j` of the tab still to come,
//!
//! ```text
//! cost(i, j) = min( pair(i, j)  + cost(i+1, j+1),
//!                   left_out(i) + cost(i+1, j),
//!                   ADDED       + cost(i, j+1) )
//! ```
//!
//! which is the edit distance (Wagner and Fischer, Journal of the ACM 21(1), 1974, as remembered) with prices of its own:
//! a wrong note costs more than a note left out or added, but less than both together, and the less the nearer it is; a
//! grace note is left out readily. Of equal alignments the one is taken that pairs notes as early as it can.
//!
//! **The move.** The tab may lie in another octave or key than the tune. Every interval at which they have a note in common
//! is tried, but for those that cannot be better than the best one found: the notes of each pitch, counted, say how many
//! can match at most.
//!
//! **Cost.** `O(n · m)` time and bytes for one interval, at most [`MAX_CELLS`]. Of real tabs one or two intervals are aligned;
//! hostile ones can make it all of them, a few dozen.

use std::cmp::Reverse;

use crate::pitch::{Interval, Pitch};

/// The most pairs of a note of the tune and a note of the tab that are compared: two thousand notes in each.
pub const MAX_CELLS: usize = 4_000_000;

/// A note of the tune, as the alignment needs it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Wanted {
    /// Its pitch.
    pub pitch: Pitch,
    /// Whether it is a grace note.
    pub grace: bool,
}

/// A note of the tune and a note of the tab, by their indices, in the order of playing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Step {
    /// They are the same note, whether it sounds the right pitch or not.
    Pair {
        /// In the tune.
        note: usize,
        /// In the tab.
        typed: usize,
    },
    /// A note of the tune that the tab does not have.
    LeftOut {
        /// In the tune.
        note: usize,
    },
    /// A note of the tab that the tune does not have.
    Added {
        /// In the tab.
        typed: usize,
    },
}

/// Two lines of notes side by side.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Alignment {
    /// By how much the tune is moved to sound like the tab.
    pub shift: Interval,
    /// Every note of the tune and of the tab once.
    pub steps: Vec<Step>,
    /// What differs, priced; zero if nothing does.
    pub cost: u32,
}

/// A note that the tab leaves out.
const LEFT_OUT: u32 = 20;
/// A grace note that it leaves out: most tabs do.
const GRACE_LEFT_OUT: u32 = 4;
/// A note that it adds.
const ADDED: u32 = 20;
/// A wrong note, and besides for each semitone up to nine: less than left out and added together.
const WRONG: u32 = 30;
/// The right note in another octave, or one that the harp does not have.
const WRONG_OCTAVE: u32 = 28;
/// Another key than expected is believed when it explains about three faults.
const OTHER_KEY: u32 = 70;
/// Another octave than asked for is believed when it explains about one.
const OTHER_OCTAVE: u32 = 25;

/// What move of the tune is expected.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Expected {
    /// By how many semitones, octaves apart.
    pub transposed: Interval,
    /// By how many octaves besides, if that is known.
    pub octave: Option<i8>,
}

impl Expected {
    fn doubt(self, shift: Interval) -> u32 {
        if (shift.0 - self.transposed.0) % 12 != 0 {
            return OTHER_KEY;
        }
        let octave = (shift.0 - self.transposed.0) / 12;
        if self.octave.is_some_and(|expected| i16::from(expected) != octave) { OTHER_OCTAVE } else { 0 }
    }
}

/// The order of the moves: cost, doubt, size, and of equals up before down.
type Rank = (u32, u32, u16, Reverse<Interval>);

/// Finds the move and the alignment of least cost; of equals the expected key, then the smaller move, then up.
/// `None` if either has no notes, or both together more than [`MAX_CELLS`] allows.
pub fn best(tune: &[Wanted], tab: &[Option<Pitch>], expected: Expected) -> Option<Alignment> {
    if tune.is_empty() || tab.is_empty() || fits(tune.len(), tab.len()).is_none() {
        return None;
    }
    // By what they cost, then by what is expected.
    let rank = |cost: u32, shift: Interval| {
        let doubt = expected.doubt(shift);
        (cost + doubt, doubt, shift.0.unsigned_abs(), Reverse(shift))
    };
    let mut moves: Vec<(Rank, Interval)> =
        (-127..=127).map(Interval).map(|shift| (rank(least_cost(tune, tab, shift), shift), shift)).collect();
    moves.sort_unstable();
    let mut best: Option<(Rank, Alignment)> = None;
    for (bound, shift) in moves {
        if best.as_ref().is_some_and(|(key, _)| bound.0 > key.0) {
            break;
        }
        let found = align(tune, tab, shift);
        let key = rank(found.cost, shift);
        if best.as_ref().is_none_or(|(before, _)| key < *before) {
            best = Some((key, found));
        }
    }
    best.map(|(_, found)| found)
}

/// How many cells the table has, if that is not too many.
fn fits(tune: usize, tab: usize) -> Option<usize> {
    tune.checked_mul(tab).filter(|&cells| cells <= MAX_CELLS)
}

/// No alignment at this interval costs less. No more notes match than each pitch has in both; what is left of either line
/// costs at least as much as a wrong note for two, or a note left out or added for one.
fn least_cost(tune: &[Wanted], tab: &[Option<Pitch>], shift: Interval) -> u32 {
    let (mut here, mut there) = ([0_u32; 128], [0_u32; 128]);
    let mut main = 0;
    for wanted in tune {
        main += u32::from(!wanted.grace);
        if let Some(pitch) = wanted.pitch.transposed(shift) {
            here[usize::from(pitch.midi())] += 1;
        }
    }
    for pitch in tab.iter().flatten() {
        there[usize::from(pitch.midi())] += 1;
    }
    let matches: u32 = here.iter().zip(&there).map(|(&here, &there)| here.min(there)).sum();
    let (tune_left, tab_left) = (main.saturating_sub(matches), (tab.len() as u32).saturating_sub(matches));
    WRONG_OCTAVE * tune_left.min(tab_left) + LEFT_OUT.min(ADDED) * tune_left.abs_diff(tab_left)
}

/// What it costs that a note of the tune is played so.
fn pair(wanted: Option<Pitch>, has: Option<Pitch>) -> u32 {
    match (wanted, has) {
        (Some(wanted), Some(has)) if wanted == has => 0,
        (Some(wanted), Some(has)) if wanted.class() == has.class() => WRONG_OCTAVE,
        (Some(wanted), Some(has)) => WRONG + u32::from(wanted.midi().abs_diff(has.midi())).min(9),
        _ => WRONG_OCTAVE,
    }
}

/// The alignment at one interval.
fn align(tune: &[Wanted], tab: &[Option<Pitch>], shift: Interval) -> Alignment {
    #[derive(Clone, Copy)]
    enum Next {
        Pair,
        LeftOut,
        Added,
    }
    let (rows, columns) = (tune.len(), tab.len());
    let left_out = |note: &Wanted| if note.grace { GRACE_LEFT_OUT } else { LEFT_OUT };
    let mut next = vec![Next::Added; rows * columns];
    // The costs of the row below; after the last note of the tune, all that is left of the tab is added.
    let mut below: Vec<u32> = (0..=columns as u32).rev().map(|left| left * ADDED).collect();
    for (row, wanted) in tune.iter().enumerate().rev() {
        let pitch = wanted.pitch.transposed(shift);
        let mut diagonal = below[columns];
        below[columns] += left_out(wanted);
        for column in (0..columns).rev() {
            let paired = diagonal + pair(pitch, tab[column]);
            let skipped = below[column] + left_out(wanted);
            let added = below[column + 1] + ADDED;
            diagonal = below[column];
            let (cost, choice) = if paired <= skipped.min(added) {
                (paired, Next::Pair)
            } else if skipped <= added {
                (skipped, Next::LeftOut)
            } else {
                (added, Next::Added)
            };
            below[column] = cost;
            next[row * columns + column] = choice;
        }
    }
    let mut steps = Vec::with_capacity(rows.max(columns));
    let (mut note, mut typed) = (0, 0);
    while note < rows && typed < columns {
        match next[note * columns + typed] {
            Next::Pair => {
                steps.push(Step::Pair { note, typed });
                (note, typed) = (note + 1, typed + 1);
            }
            Next::LeftOut => {
                steps.push(Step::LeftOut { note });
                note += 1;
            }
            Next::Added => {
                steps.push(Step::Added { typed });
                typed += 1;
            }
        }
    }
    steps.extend((note..rows).map(|note| Step::LeftOut { note }));
    steps.extend((typed..columns).map(|typed| Step::Added { typed }));
    Alignment { shift, steps, cost: below[0] }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn tune(pitches: &[u8]) -> Vec<Wanted> {
        let pitches = pitches.iter().map(|&midi| Pitch::new(midi).unwrap());
        pitches.map(|pitch| Wanted { pitch, grace: false }).collect()
    }

    fn tab(pitches: &[u8]) -> Vec<Option<Pitch>> {
        pitches.iter().map(|&midi| Pitch::new(midi)).collect()
    }

    const AS_WRITTEN: Expected = Expected { transposed: Interval(0), octave: None };

    #[test]
    fn each_fault_is_the_one_that_was_made() {
        let song = tune(&[60, 62, 64, 65, 67, 69, 71, 72]);
        let steps = |typed: &[u8]| {
            let found = best(&song, &tab(typed), AS_WRITTEN).unwrap();
            let odd = found.steps.iter().filter(|step| match **step {
                Step::Pair { note, typed: at } => {
                    song[note].pitch.transposed(found.shift) != Pitch::new(typed[at])
                }
                _ => true,
            });
            (found.shift.0, odd.copied().collect::<Vec<_>>())
        };
        assert_eq!(steps(&[60, 62, 64, 65, 67, 69, 71, 72]), (0, vec![]));
        assert_eq!(steps(&[72, 74, 76, 77, 79, 81, 83, 84]), (12, vec![]));
        assert_eq!(steps(&[62, 64, 66, 67, 69, 71, 73, 74]), (2, vec![]));
        assert_eq!(steps(&[60, 62, 64, 67, 69, 71, 72]), (0, vec![Step::LeftOut { note: 3 }]));
        assert_eq!(steps(&[60, 62, 64, 64, 65, 67, 69, 71, 72]), (0, vec![Step::Added { typed: 3 }]));
        assert_eq!(steps(&[60, 62, 63, 65, 67, 69, 71, 72]), (0, vec![Step::Pair { note: 2, typed: 2 }]));
        assert_eq!(steps(&[60, 62, 52, 65, 67, 69, 71, 72]), (0, vec![Step::Pair { note: 2, typed: 2 }]));
    }

    #[test]
    fn grace_notes_are_left_out_readily() {
        let mut song = tune(&[60, 62, 64]);
        song[1].grace = true;
        let found = best(&song, &tab(&[60, 64]), AS_WRITTEN).unwrap();
        assert_eq!((found.cost, found.steps[1]), (GRACE_LEFT_OUT, Step::LeftOut { note: 1 }));
    }

    #[test]
    fn what_is_too_long_is_not_aligned() {
        let long = vec![Some(Pitch::MIDDLE_C); 2001];
        assert_eq!(best(&tune(&[60; 2000]), &long, AS_WRITTEN), None);
        assert!(best(&tune(&[60; 2000]), &long[..2000], AS_WRITTEN).is_some());
        assert_eq!(best(&[], &long, AS_WRITTEN), None);
        assert_eq!(best(&tune(&[60]), &[], AS_WRITTEN), None);
    }

    /// Every alignment there is.
    fn exhaustive(tune: &[Wanted], tab: &[Option<Pitch>], shift: Interval) -> u32 {
        match (tune, tab) {
            ([], rest) => rest.len() as u32 * ADDED,
            ([first, rest @ ..], tab) => {
                let out = if first.grace { GRACE_LEFT_OUT } else { LEFT_OUT };
                let skipped = out + exhaustive(rest, tab, shift);
                let Some((&has, later)) = tab.split_first() else { return skipped };
                let paired = pair(first.pitch.transposed(shift), has) + exhaustive(rest, later, shift);
                paired.min(skipped).min(ADDED + exhaustive(tune, later, shift))
            }
        }
    }

    proptest! {
        #[test]
        fn the_alignment_is_that_of_an_exhaustive_search(
            song in prop::collection::vec((55..75_u8, prop::bool::weighted(0.2)), 1..6),
            typed in prop::collection::vec(prop::option::weighted(0.9, 55..75_u8), 1..6),
            transposed in -6..6_i16,
            octave in prop::option::of(-1..=1_i8),
        ) {
            let song: Vec<Wanted> = song.iter()
                .map(|&(midi, grace)| Wanted { pitch: Pitch::new(midi).unwrap(), grace }).collect();
            let typed: Vec<Option<Pitch>> = typed.iter().map(|midi| midi.and_then(Pitch::new)).collect();
            let expected = Expected { transposed: Interval(transposed), octave };
            let found = best(&song, &typed, expected).unwrap();
            let least = (-127..=127).map(Interval).map(|shift| {
                exhaustive(&song, &typed, shift) + expected.doubt(shift)
            }).min();
            prop_assert_eq!(Some(found.cost + expected.doubt(found.shift)), least);
            prop_assert_eq!(found.cost, exhaustive(&song, &typed, found.shift));
            prop_assert!(least_cost(&song, &typed, found.shift) <= found.cost);
            let (mut notes, mut marks) = (0, 0);
            for step in &found.steps {
                match *step {
                    Step::Pair { note, typed } => {
                        prop_assert_eq!((note, typed), (notes, marks));
                        (notes, marks) = (notes + 1, marks + 1);
                    }
                    Step::LeftOut { note } => { prop_assert_eq!(note, notes); notes += 1; }
                    Step::Added { typed } => { prop_assert_eq!(typed, marks); marks += 1; }
                }
            }
            prop_assert_eq!((notes, marks), (song.len(), typed.len()));
        }
    }
}
