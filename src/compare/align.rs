//! Matches the notes of a tab with the notes of the tune: finds the alignment of least cost, exactly.
//!
//! Input: the sounding pitches of the tune and of the tab. Output: the partner of every note of tune and tab, or the
//! fact that a note has no partner.
//!
//! **Recurrence.** With `i` notes of the tune and `j` notes of the tab still to align,
//!
//! ```text
//! cost(i, j) = min( pair(i, j)  + cost(i+1, j+1),
//!                   left_out(i) + cost(i+1, j),
//!                   ADDED       + cost(i, j+1) )
//! ```
//!
//! This is the edit distance (Wagner and Fischer, Journal of the ACM 21(1), 1974, from memory) with our own prices. A
//! wrong note costs less than a note left out together with a note added, and the nearer its pitch, the less it costs.
//! Leaving out a grace note costs little. Among equally cheap alignments, the one that pairs notes earliest wins.
//!
//! **Gaps.** If a tab covers only a part of the tune, the omitted notes lie next to each other. So each gap has a price
//! in addition to the price of its notes (Gotoh, Journal of Molecular Biology 162, 1982, from memory). The price of a
//! gap exceeds the price of a wrong note, so that the alignment does not skip notes to make a single note fit.
//! Therefore `cost` also depends on the `Run` that the previous step belongs to.
//!
//! **The move.** The tab may be in another octave or key than the tune. Every interval is tried, except those that
//! cannot beat the best one so far: the number of notes of each pitch limits how many notes can match.
//!
//! **The band.** A path far from the diagonals between the two ends leaves out and adds many notes. So a band around
//! these diagonals is searched first. A wider band is searched only if the best alignment in the first band costs as
//! much as a path outside this band would.
//!
//! **Cost.** `O(n · m)` time and bytes for one interval; `O(n + m)` if the tab has few faults; at most [`MAX_CELLS`].
//! Real tabs need one or two intervals. Tabs of another tune could need all intervals, a few dozen; after [`MOST_WORK`]
//! the search keeps the best one found.

use std::cmp::Reverse;

use crate::pitch::{Interval, Pitch};

/// The largest number of pairs (a note of the tune with a note of the tab) that are compared at one interval. A tune of
/// 10,000 notes and a tab of up to the same length need fewer pairs within the narrowest band; each pair takes a byte.
pub const MAX_CELLS: usize = 64_000_000;
/// The largest number of pairs up to which a band is widened: four thousand notes each.
const MAX_WIDE: usize = 16_000_000;
/// The number of pairs after which no further interval is tried: two thousand notes each.
pub const MOST_WORK: usize = 4_000_000;
/// The number of diagonals on each side in the first band.
const NARROW: usize = 64;

/// A note of the tune, reduced to the data that the alignment needs.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Wanted {
    /// The pitch of the note.
    pub pitch: Pitch,
    /// Whether the note is a grace note.
    pub grace: bool,
}

/// One step of an alignment, with the indices of its notes; the steps are in the order of playing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Step {
    /// A note of the tab that corresponds to a note of the tune, whether its pitch is right or not.
    Pair {
        /// The index in the tune.
        note: usize,
        /// The index in the tab.
        typed: usize,
    },
    /// A note of the tune that the tab leaves out.
    LeftOut {
        /// The index of the note in the tune.
        note: usize,
    },
    /// A note that the tab adds to the tune.
    Added {
        /// The index of the note in the tab.
        typed: usize,
    },
}

/// The notes of tune and tab, aligned.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Alignment {
    /// The interval by which the tune is moved to match the tab.
    pub shift: Interval,
    /// The steps; every note of the tune and of the tab occurs once.
    pub steps: Vec<Step>,
    /// The cost of the differences; zero if there are none.
    pub cost: u32,
}

/// The price of a note that the tab leaves out.
const LEFT_OUT: u32 = 20;
/// The price of a grace note that the tab leaves out; it is low because most tabs leave out grace notes.
const GRACE_LEFT_OUT: u32 = 4;
/// The price of a note that the tab adds.
const ADDED: u32 = 20;
/// The price of a wrong note; each semitone of the error, up to nine, adds one. The sum is less than the price of a
/// note left out together with a note added.
const WRONG: u32 = 30;
/// The price of the right note in another octave, or of a note that the harp does not have.
const WRONG_OCTAVE: u32 = 28;
/// The price of a gap of any length, in addition to its notes: more than the price of a wrong note.
const GAP: u32 = 40;
/// The price of another key than expected: another key wins if it explains about two wrong notes.
const OTHER_KEY: u32 = 70;
/// The price of another octave than requested: another octave wins if it explains about one wrong note.
const OTHER_OCTAVE: u32 = 25;

/// The expected move of the tune.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Expected {
    /// The semitones, without octaves.
    pub transposed: Interval,
    /// The further octaves, if they are known.
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

/// The rank of a move, by which the best move comes first: its total cost, the price of an unexpected key or octave,
/// its size, and its direction (up before down).
type Rank = (u32, u32, u16, Reverse<Interval>);

/// Finds the move and the alignment of least cost; among equals the expected key wins, then the smaller move, then the
/// move up. Returns `None` if the tune or the tab has no notes, or if both together exceed [`MAX_CELLS`].
pub fn best(tune: &[Wanted], tab: &[Option<Pitch>], expected: Expected) -> Option<Alignment> {
    if tune.is_empty() || tab.is_empty() {
        return None;
    }
    // Among moves of equal cost, the expected one comes first.
    let rank = |cost: u32, shift: Interval| {
        let doubt = expected.doubt(shift);
        (cost + doubt, doubt, shift.0.unsigned_abs(), Reverse(shift))
    };
    let mut moves: Vec<(Rank, Interval)> =
        (-127..=127).map(Interval).map(|shift| (rank(least_cost(tune, tab, shift), shift), shift)).collect();
    moves.sort_unstable();
    let mut best: Option<(Rank, Alignment)> = None;
    let mut places = 0_usize;
    for (bound, shift) in moves {
        if best.as_ref().is_some_and(|(key, _)| bound.0 > key.0 || places > MOST_WORK) {
            break;
        }
        let (found, looked_at) = align(tune, tab, shift)?;
        places += looked_at;
        let key = rank(found.cost, shift);
        if best.as_ref().is_none_or(|(before, _)| key < *before) {
            best = Some((key, found));
        }
    }
    best.map(|(_, found)| found)
}

/// Returns a lower bound of the cost of any alignment at this interval. For each pitch, no more notes can match than
/// occur in both tune and tab. Two unmatched notes, one of the tune and one of the tab, cost at least as much as a
/// wrong note. Any further unmatched note costs at least as much as a note left out or added.
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

/// Returns the cost of a pair, given the pitch of the tune and the pitch of the tab.
fn pair(wanted: Option<Pitch>, has: Option<Pitch>) -> u32 {
    match (wanted, has) {
        (Some(wanted), Some(has)) if wanted == has => 0,
        (Some(wanted), Some(has)) if wanted.class() == has.class() => WRONG_OCTAVE,
        (Some(wanted), Some(has)) => WRONG + u32::from(wanted.midi().abs_diff(has.midi())).min(9),
        _ => WRONG_OCTAVE,
    }
}

/// The gap to which the step before a place belongs. A grace note that is left out neither opens nor closes a gap.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Run {
    None,
    LeftOut,
    Added,
}

impl Run {
    const ALL: [Run; 3] = [Run::None, Run::LeftOut, Run::Added];

    /// Returns the run after a note is left out, and the cost of leaving it out.
    fn leave_out(self, wanted: &Wanted) -> (Run, u32) {
        if wanted.grace {
            return (self, GRACE_LEFT_OUT);
        }
        (Run::LeftOut, LEFT_OUT + if self == Run::LeftOut { 0 } else { GAP })
    }

    /// Returns the run after a note is added, and the cost of adding it.
    fn add(self) -> (Run, u32) {
        (Run::Added, ADDED + if self == Run::Added { 0 } else { GAP })
    }
}

/// The table for one interval: the best next step from every place, for each run before it.
struct Table {
    /// The best next step for each place within the band, row after row, and for each run: two bits each.
    next: Vec<u8>,
    stride: usize,
    /// The first diagonal of the band.
    low: isize,
}

/// The best next step from a place.
#[derive(Clone, Copy)]
enum Next {
    Pair,
    LeftOut,
    Added,
}

impl Table {
    /// Returns the first column of a row.
    fn first(&self, row: usize) -> usize {
        row.saturating_add_signed(self.low)
    }

    fn next(&self, row: usize, column: usize, run: Run) -> Next {
        let choices = self.next[row * self.stride + column - self.first(row)];
        match choices >> (2 * run as u8) & 3 {
            0 => Next::Pair,
            1 => Next::LeftOut,
            _ => Next::Added,
        }
    }
}

/// Returns the length of a row, and the number of places in all rows, of a band that has `wide` more diagonals on each
/// side than it needs.
fn band(rows: usize, columns: usize, wide: usize) -> (usize, usize) {
    let stride = columns.min(rows.abs_diff(columns).saturating_add(2 * wide + 1));
    (stride, rows.saturating_mul(stride))
}

/// Finds the alignment of least cost at one interval; if the whole table is too large, the cheapest alignment within a
/// band. Also returns the number of places examined; `None` if even the narrowest band is too large.
fn align(tune: &[Wanted], tab: &[Option<Pitch>], shift: Interval) -> Option<(Alignment, usize)> {
    let cheapest = if tune.iter().any(|wanted| wanted.grace) { GRACE_LEFT_OUT } else { LEFT_OUT };
    let places = |wide: usize| band(tune.len(), tab.len(), wide).1;
    let fits = |wide: usize| places(wide) <= MAX_CELLS;
    let (mut wide, mut looked_at) = (if fits(NARROW) { NARROW } else { 0 }, 0);
    while fits(wide) {
        looked_at += places(wide);
        let found = within(tune, tab, shift, wide);
        // A path outside the band leaves out and adds more notes than the band is wide.
        let outside = (wide as u32).saturating_add(1).saturating_mul(cheapest + ADDED);
        let is_whole = wide >= tune.len().max(tab.len());
        if is_whole || found.cost < outside || wide == 0 || places(4 * wide) > MAX_WIDE {
            return Some((found, looked_at));
        }
        wide *= 4;
    }
    None
}

/// Finds the alignment of least cost at one interval within a band of diagonals.
fn within(tune: &[Wanted], tab: &[Option<Pitch>], shift: Interval, wide: usize) -> Alignment {
    const RUNS: usize = Run::ALL.len();
    // A cost above the cost of any alignment, but far from overflow.
    const NEVER: u32 = u32::MAX / 4;
    let (rows, columns) = (tune.len(), tab.len());
    let (low, high) = {
        let off = columns as isize - rows as isize;
        (off.min(0) - wide as isize, off.max(0) + wide as isize)
    };
    let (stride, cells) = band(rows, columns, wide);
    let mut table = Table { next: vec![0; cells], stride, low };
    // The costs of the row below, for each run. After the last note of the tune, all remaining notes of the tab are
    // added.
    let mut below: Vec<[u32; RUNS]> = vec![[NEVER; RUNS]; columns + 1];
    below[columns] = [0; RUNS];
    for column in (table.first(rows)..columns).rev() {
        below[column] = Run::ALL.map(|run| {
            let (after, cost) = run.add();
            cost + below[column + 1][after as usize]
        });
    }
    for (row, wanted) in tune.iter().enumerate().rev() {
        let pitch = wanted.pitch.transposed(shift);
        let last = row.saturating_add_signed(high).min(columns - 1);
        // The place to the right of the last column is at the end of the tab or outside the band.
        let mut diagonal = below[last + 1];
        below[last + 1] = match last + 1 == columns {
            true => Run::ALL.map(|run| {
                let (after, cost) = run.leave_out(wanted);
                cost + diagonal[after as usize]
            }),
            false => [NEVER; RUNS],
        };
        let first = table.first(row);
        for column in (first..=last).rev() {
            let paired = diagonal[Run::None as usize] + pair(pitch, tab[column]);
            let (skips, adds) = (below[column], below[column + 1]);
            diagonal = skips;
            let mut choices = 0;
            for run in Run::ALL {
                let (after, cost) = run.leave_out(wanted);
                let skipped = skips[after as usize] + cost;
                let (after, cost) = run.add();
                let added = adds[after as usize] + cost;
                let (cost, choice) = if paired <= skipped.min(added) {
                    (paired, Next::Pair)
                } else if skipped <= added {
                    (skipped, Next::LeftOut)
                } else {
                    (added, Next::Added)
                };
                below[column][run as usize] = cost.min(NEVER);
                choices |= (choice as u8) << (2 * run as u8);
            }
            table.next[row * stride + column - first] = choices;
        }
    }
    Alignment { shift, steps: steps(tune, columns, &table), cost: below[0][Run::None as usize] }
}

/// Follows the best steps from the beginning to the end.
fn steps(tune: &[Wanted], columns: usize, table: &Table) -> Vec<Step> {
    let rows = tune.len();
    let mut steps = Vec::with_capacity(rows.max(columns));
    let (mut note, mut typed, mut run) = (0, 0, Run::None);
    while note < rows && typed < columns {
        match table.next(note, typed, run) {
            Next::Pair => {
                steps.push(Step::Pair { note, typed });
                (note, typed, run) = (note + 1, typed + 1, Run::None);
            }
            Next::LeftOut => {
                steps.push(Step::LeftOut { note });
                run = run.leave_out(&tune[note]).0;
                note += 1;
            }
            Next::Added => {
                steps.push(Step::Added { typed });
                run = run.add().0;
                typed += 1;
            }
        }
    }
    steps.extend((note..rows).map(|note| Step::LeftOut { note }));
    steps.extend((typed..columns).map(|typed| Step::Added { typed }));
    steps
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
        let long = vec![Some(Pitch::MIDDLE_C); 20_000];
        assert_eq!(best(&tune(&[60; 10_000]), &long, AS_WRITTEN), None);
        for typed in [1, 1000, 5000, 9_999, 10_000] {
            assert!(best(&tune(&[60; 10_000]), &long[..typed], AS_WRITTEN).is_some(), "{typed}");
        }
        assert_eq!(best(&[], &long, AS_WRITTEN), None);
        assert_eq!(best(&tune(&[60]), &[], AS_WRITTEN), None);
    }

    /// If the tab covers a part of the tune, the notes before and after the part are one gap each. A wrong note within
    /// the part is a single fault and opens no gap.
    #[test]
    fn a_part_of_a_tune_is_found_in_one_piece() {
        let song = [60, 64, 62, 60, 60, 64, 62, 60, 67, 65, 64, 62, 67, 65, 64, 62, 60, 64, 62, 60];
        let odd = |typed: &[u8]| {
            let found = best(&tune(&song), &tab(typed), AS_WRITTEN).unwrap();
            let is_odd = |step: &&Step| match **step {
                Step::Pair { note, typed: at } => song[note] != typed[at],
                _ => true,
            };
            found.steps.iter().filter(is_odd).copied().collect::<Vec<_>>()
        };
        let left_out =
            |notes: std::ops::Range<usize>| notes.map(|note| Step::LeftOut { note }).collect::<Vec<_>>();
        // The second half.
        assert_eq!(odd(&song[12..]), left_out(0..12));
        // The first half of the tune, with one wrong note that would fit later.
        let mut first = song[..10].to_vec();
        first[7] = 67;
        let wrong = vec![Step::Pair { note: 7, typed: 7 }];
        assert_eq!(odd(&first), [wrong, left_out(10..20)].concat());
        // The middle.
        assert_eq!(odd(&song[6..14]), [left_out(0..6), left_out(14..20)].concat());
    }

    proptest! {
        #[test]
        fn a_band_is_as_good_as_the_whole_table(
            song in prop::collection::vec(55..75_u8, 200..400),
            without in 0..150_usize,
            at in 0..150_usize,
            typed in prop::collection::vec(55..75_u8, 0..100),
        ) {
            let mut marks = song.clone();
            marks.drain(at..(at + without).min(song.len()));
            marks.splice(at..at, typed);
            let (song, marks) = (tune(&song), tab(&marks));
            let (found, _) = align(&song, &marks, Interval(0)).unwrap();
            prop_assert_eq!(found, within(&song, &marks, Interval(0), 1000));
        }
    }

    /// Tries every alignment of the remaining notes of the tune with the remaining notes of the tab.
    fn exhaustive(
        tune: (&[Wanted], usize),
        tab: (&[Option<Pitch>], usize),
        shift: Interval,
        run: Run,
    ) -> u32 {
        let ((notes, note), (marks, typed)) = (tune, tab);
        let mut least = u32::MAX;
        if let (Some(wanted), Some(&has)) = (notes.get(note), marks.get(typed)) {
            let rest = exhaustive((notes, note + 1), (marks, typed + 1), shift, Run::None);
            least = least.min(pair(wanted.pitch.transposed(shift), has) + rest);
        }
        if let Some(wanted) = notes.get(note) {
            let (after, cost) = run.leave_out(wanted);
            least = least.min(cost + exhaustive((notes, note + 1), tab, shift, after));
        }
        if typed < marks.len() {
            let (after, cost) = run.add();
            least = least.min(cost + exhaustive(tune, (marks, typed + 1), shift, after));
        }
        if least == u32::MAX { 0 } else { least }
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
                exhaustive((&song, 0), (&typed, 0), shift, Run::None) + expected.doubt(shift)
            }).min();
            prop_assert_eq!(Some(found.cost + expected.doubt(found.shift)), least);
            prop_assert_eq!(found.cost, exhaustive((&song, 0), (&typed, 0), found.shift, Run::None));
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
