//! Converts ticks to exact musical time.
//!
//! Notes from a notation program lie on the grid of written music and stay as they are. Notes that were played freely,
//! or that a program shifted to sound as if they were, are moved to that grid, because bars, beats and note values have
//! no meaning without it. The mean distance of the moves is measured and reported.

mod places;
mod played;

use crate::time::Beats;
pub(super) use places::Places;

/// A part is treated as written if at least this percentage of its onsets lie exactly on the grid.
const WRITTEN_PERCENT: usize = 95;
/// In a written part, a stray note at most 1/50 of a quarter away from the grid is moved onto the grid.
const NEAR: u64 = 50;
/// A note that sounds for at least four fifths of the time to the next note, or of a note value, is meant to fill that
/// time.
const FILLED: (u64, u64) = (4, 5);

/// The numbers of equal parts of a quarter whose positions are certainly written: 32 for notes down to the 128th, 24
/// for triplets down to the 64th, 5 and 7 for quintuplets and septuplets, and 9.
const PARTS: [u64; 5] = [32, 24, 5, 7, 9];

/// The grid of written positions, given by the number of ticks in a quarter.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Grid {
    /// Ticks per quarter, at least 1.
    pub(super) quarter: u64,
}

/// A part's notes in exact time, with a record of how they were changed.
pub(super) struct OnGrid {
    /// The onset and the end of each note, in the order given.
    pub(super) notes: Vec<(Beats, Beats)>,
    /// The mean distance by which the onsets were moved, in microseconds; `None` if no onset was moved by more than a
    /// tick.
    pub(super) moved: Option<u64>,
    /// The index of the first note whose end was moved by more than a tick although the part is treated as written.
    pub(super) lengthened: Option<usize>,
}

impl Grid {
    /// Returns the exact time of a tick, unrounded.
    pub(super) fn raw(self, tick: u64) -> Beats {
        Beats::new(i64::try_from(tick).unwrap_or(i64::MAX), i64::try_from(self.quarter).unwrap_or(i64::MAX))
    }

    /// Places a part's notes (onset and end, in order of onset) on the grid.
    ///
    /// `places` caches the positions of this grid; `micros` returns the length of the quarter at a tick, in
    /// microseconds.
    pub(super) fn settle(
        self,
        notes: &[(u64, u64)],
        places: &mut Places,
        micros: impl Fn(u64) -> u64,
    ) -> OnGrid {
        let mut onsets: Vec<u64> = notes.iter().map(|&(onset, _)| onset).collect();
        onsets.dedup();
        let exact = onsets.iter().filter(|&&onset| places.is_exact(onset)).count();
        let written = exact * 100 >= onsets.len() * WRITTEN_PERCENT;
        let settled = if written { self.as_written(&onsets, places) } else { self.quantised(notes, &micros) };

        let mut on_grid = OnGrid { notes: Vec::with_capacity(notes.len()), moved: None, lengthened: None };
        // The index of the note's onset, and of the next onset outside its chord.
        let (mut at, mut after) = (0, 0);
        for (index, &(onset, end)) in notes.iter().enumerate() {
            while onsets[at] < onset {
                at += 1;
            }
            let start = settled[at];
            after = after.max(at);
            while settled.get(after).is_some_and(|&other| other <= start) {
                after += 1;
            }
            let next = onsets.get(after).map(|&tick| Next { tick, at: settled[after] });
            let stop = if end == onset {
                start
            } else if written {
                match after_onset(&onsets, at, end) {
                    // Most notes end where another note begins.
                    Some(other) => settled[other],
                    None => self.written_end((onset, start), end, places, next),
                }
            } else {
                self.played_end((onset, start), end, next)
            };
            // Only an ornament has no length.
            let stop = if stop > start || end == onset { stop } else { start + self.raw(end - onset) };
            if written && on_grid.lengthened.is_none() && self.is_moved(end, stop) {
                on_grid.lengthened = Some(index);
            }
            on_grid.notes.push((start, stop));
        }

        let pairs = || onsets.iter().copied().zip(settled.iter().copied());
        if pairs().any(|(onset, at)| self.is_moved(onset, at)) {
            let distance = |(onset, at): (u64, Beats)| {
                let (numerator, denominator) = (at - self.raw(onset)).fraction();
                numerator.unsigned_abs().saturating_mul(micros(onset)) / denominator.unsigned_abs()
            };
            let sum = pairs().map(distance).fold(0, u64::saturating_add);
            on_grid.moved = Some(sum / onsets.len().max(1) as u64);
        }
        on_grid
    }

    /// Whether the position `at` is more than a tick away from the tick that was moved there.
    fn is_moved(self, tick: u64, at: Beats) -> bool {
        // Distances are in ticks times the denominator; the ticks of a day times `Beats::FINEST` fit in a `u64`.
        let (numerator, denominator) = at.fraction();
        let (at, denominator) = (numerator.unsigned_abs() * self.quarter, denominator.unsigned_abs());
        at.abs_diff(tick * denominator) > denominator
    }

    /// Returns the exact times of a written part's onsets, a few of which may stray from the grid.
    fn as_written(self, onsets: &[u64], places: &mut Places) -> Vec<Beats> {
        let mut last = Beats::ZERO;
        onsets
            .iter()
            .map(|&onset| {
                let exact = places.exact(onset);
                let at = exact.or_else(|| self.near(onset)).unwrap_or_else(|| self.raw(onset));
                last = last.max(at);
                last
            })
            .collect()
    }

    /// Returns the written position that a tick certainly stands for: a position on one of [`PARTS`], rounded by less
    /// than a tick if the file has too few ticks.
    fn exact(self, tick: u64) -> Option<Beats> {
        /// The smallest number of ticks per quarter with which a rounded position is evidence.
        const FINE_ENOUGH: u64 = 48;
        if self.on(tick) != 0 {
            return Some(self.raw(tick));
        }
        let mut rounded =
            PARTS.iter().filter(|&&parts| self.quarter >= FINE_ENOUGH && !self.quarter.is_multiple_of(parts));
        rounded.find(|&&parts| self.distance(tick, parts) < parts).map(|&parts| self.place(tick, parts))
    }

    /// Returns which of [`PARTS`] a tick lies on, with one bit for each.
    fn on(self, tick: u64) -> u8 {
        let bit =
            |(index, parts): (usize, &u64)| u8::from((tick * parts).is_multiple_of(self.quarter)) << index;
        PARTS.iter().enumerate().map(bit).sum()
    }

    /// Returns the nearest position on the grid of 64ths or of thirty-second triplets, if a tick is close to one.
    fn near(self, tick: u64) -> Option<Beats> {
        // The common denominator 48 gives both distances the same unit.
        let distance = |parts: &u64| self.distance(tick, *parts) * (48 / parts);
        let parts = [16, 12].into_iter().min_by_key(distance)?;
        (distance(&parts) * NEAR <= 48 * self.quarter).then(|| self.place(tick, parts))
    }

    /// Returns the index of the nearest place on a grid of `parts` parts of a quarter; halves round up.
    fn nearest(self, tick: u64, parts: u64) -> u64 {
        (tick * parts * 2 + self.quarter) / (self.quarter * 2)
    }

    /// Returns the nearest place on a grid of `parts` parts of a quarter, in exact time.
    fn place(self, tick: u64, parts: u64) -> Beats {
        Beats::new(self.nearest(tick, parts) as i64, parts as i64)
    }

    /// Returns the distance to the nearest place on a grid of `parts` parts of a quarter, in ticks times `parts`.
    fn distance(self, tick: u64, parts: u64) -> u64 {
        (tick * parts).abs_diff(self.nearest(tick, parts) * self.quarter)
    }

    /// Returns the end of a note in a written part, if the note does not end where another note begins.
    fn written_end(
        self,
        (onset, start): (u64, Beats),
        end: u64,
        places: &mut Places,
        next: Option<Next>,
    ) -> Beats {
        const PLAIN: u8 = 0b00011;
        let length = end.saturating_sub(onset);
        let [given, stop] = [onset, end].map(|tick| places.of(tick));
        // An end is exact if it lies on the grid of 32 or 24 parts, or in the same kind of tuplet as the start.
        let is_place = stop.on & (PLAIN | given.on) != 0;
        if is_place && given.raw == start {
            return stop.raw;
        }
        if let Some(next) = next {
            let between = next.tick.saturating_sub(onset);
            let fills = end <= next.tick && length * FILLED.1 >= between * FILLED.0;
            let overlaps =
                end > next.tick && (end - next.tick) * 16 <= self.quarter && (end - next.tick) * 4 <= between;
            if fills || overlaps {
                return next.at;
            }
        }
        let limit = next.filter(|next| end <= next.tick).map(|next| next.at);
        if let Some(value) = self.note_value(length)
            && limit.is_none_or(|limit| start + value <= limit)
        {
            return start + value;
        }
        stop.exact.or_else(|| self.near(end)).unwrap_or(stop.raw).max(start)
    }

    /// Returns the note value that a length nearly fills, if there is one.
    fn note_value(self, length: u64) -> Option<Beats> {
        /// The values in 48ths of a quarter: from a triplet sixteenth to a dotted breve, with dots and triplets.
        const VALUES: [u64; 17] = [8, 12, 16, 18, 24, 32, 36, 48, 64, 72, 96, 128, 144, 192, 288, 384, 576];
        let filled = |value: &&u64| {
            let (length, value) = (length * 48, **value * self.quarter);
            length * FILLED.1 >= value * FILLED.0 && length * NEAR <= value * (NEAR + 1)
        };
        VALUES.iter().find(filled).map(|&value| Beats::new(value as i64, 48))
    }
}

/// The next onset, as played and as written.
#[derive(Clone, Copy)]
struct Next {
    tick: u64,
    at: Beats,
}

/// Finds the index of a tick in a list of onsets. The tick lies after `onsets[from]` and usually close to it, so the
/// search moves forward in doubling steps.
fn after_onset(onsets: &[u64], from: usize, tick: u64) -> Option<usize> {
    let (mut low, mut step) = (from, 1);
    while onsets.get(low + step).is_some_and(|&onset| onset < tick) {
        low += step;
        step *= 2;
    }
    let high = onsets.len().min(low + step + 1);
    onsets[low..high].binary_search(&tick).ok().map(|index| low + index)
}

#[cfg(test)]
mod tests {
    use super::after_onset;

    #[test]
    fn an_onset_is_found_from_any_before_it() {
        let onsets: Vec<u64> = (0..200).map(|n| n * n / 7 + n).collect();
        for from in 0..onsets.len() {
            for tick in onsets[from] + 1..6_000 {
                assert_eq!(
                    after_onset(&onsets, from, tick),
                    onsets.binary_search(&tick).ok(),
                    "{tick} from {from}"
                );
            }
        }
    }
}
