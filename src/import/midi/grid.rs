//! From ticks to exact musical time.
//!
//! A file written by a notation program has its notes on the grid of written music, and they are taken as they
//! are. What was played freely, or made to sound so, is moved to that grid, because bars, beats and note values
//! mean nothing otherwise; how far is measured and reported.

use crate::time::Beats;

/// A part counts as written when so many of a hundred onsets lie on the grid.
const WRITTEN_PERCENT: usize = 95;
/// Near the grid means within 1/50 of a quarter.
const NEAR: u64 = 50;
/// Notes that start within this time are meant as one chord: what listeners take for simultaneous is about 40 ms
/// (Dixon, Journal of New Music Research 30, 2001).
const TOGETHER_MICROS: u64 = 40_000;
/// A note that sounds through four fifths of the way to the next, or of a note value, is meant to fill it.
const FILLED: (u64, u64) = (4, 5);

/// The ticks of a quarter.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Grid {
    /// Ticks a quarter, at least 1.
    pub(super) quarter: u64,
}

/// A part's notes in exact time, and what had to be done to them.
pub(super) struct OnGrid {
    /// Onset and end of each note, in the order given.
    pub(super) notes: Vec<(Beats, Beats)>,
    /// Onsets were moved by more than a tick: the mean distance over all onsets, in microseconds.
    pub(super) moved: Option<u64>,
    /// The first note whose end was moved by more than a tick though the onsets are written ones.
    pub(super) lengthened: Option<usize>,
}

impl Grid {
    /// A place as it stands.
    pub(super) fn raw(self, tick: u64) -> Beats {
        Beats::new(i64::try_from(tick).unwrap_or(i64::MAX), i64::try_from(self.quarter).unwrap_or(i64::MAX))
    }

    /// Puts a part's notes (onset and end, in order of onset) on the grid.
    ///
    /// `micros` is the length of a quarter at a tick.
    pub(super) fn settle(self, notes: &[(u64, u64)], micros: impl Fn(u64) -> u64) -> OnGrid {
        let mut onsets: Vec<u64> = notes.iter().map(|&(onset, _)| onset).collect();
        onsets.dedup();
        let enough = |count: usize| count * 100 >= onsets.len() * WRITTEN_PERCENT;
        let clean = enough(onsets.iter().filter(|&&onset| self.exact(onset).is_some()).count());
        let written = clean || enough(onsets.iter().filter(|&&onset| self.near(onset).is_some()).count());
        let settled: Vec<Beats> = if written {
            let settle = |&onset: &u64| {
                let exact = if clean { self.exact(onset) } else { None };
                exact.or_else(|| self.near(onset)).unwrap_or_else(|| self.raw(onset))
            };
            let mut last = Beats::ZERO;
            let keep_order = |at: Beats| {
                last = last.max(at);
                last
            };
            onsets.iter().map(settle).map(keep_order).collect()
        } else {
            self.quantised(&onsets, &micros)
        };

        let mut on_grid = OnGrid { notes: Vec::with_capacity(notes.len()), moved: None, lengthened: None };
        for (index, &(onset, end)) in notes.iter().enumerate() {
            let at = onsets.partition_point(|&other| other < onset);
            let start = settled[at];
            // The next onset that is not part of the same chord.
            let after = at + settled[at..].partition_point(|&other| other <= start);
            let next = onsets.get(after).map(|&tick| Next { tick, at: settled[after] });
            let stop = if end == onset {
                start
            } else if written {
                self.written_end((onset, start), end, next, (&onsets, &settled))
            } else {
                self.played_end((onset, start), end, next)
            };
            let shift = (stop - self.raw(end)).as_f64().abs() * self.quarter as f64;
            if written && shift > 1.0 {
                on_grid.lengthened.get_or_insert(index);
            }
            on_grid.notes.push((start, stop));
        }

        let shifts = onsets.iter().zip(&settled).map(|(&onset, &at)| {
            let (numerator, denominator) = (at - self.raw(onset)).fraction();
            (numerator.unsigned_abs() * self.quarter > denominator.unsigned_abs(), {
                let micros = u128::from(numerator.unsigned_abs()) * u128::from(micros(onset));
                (micros / u128::from(denominator.unsigned_abs())) as u64
            })
        });
        let (moved, distance) =
            shifts.fold((false, 0), |(any, sum), (moved, micros): (bool, u64)| (any | moved, sum + micros));
        on_grid.moved = moved.then(|| distance / onsets.len().max(1) as u64);
        on_grid
    }

    /// The written place that a tick stands for without doubt: thirty-second notes, triplets and their halves,
    /// quintuplets, septuplets, nine to the quarter; rounded by less than a tick where the file has too few ticks.
    fn exact(self, tick: u64) -> Option<Beats> {
        const PARTS: [u64; 5] = [32, 24, 5, 7, 9];
        /// With fewer ticks a rounded place is no evidence.
        const FINE_ENOUGH: u64 = 48;
        if PARTS.iter().any(|parts| (tick * parts).is_multiple_of(self.quarter)) {
            return Some(self.raw(tick));
        }
        let rounded =
            PARTS.iter().filter(|&&parts| self.quarter >= FINE_ENOUGH && !self.quarter.is_multiple_of(parts));
        rounded
            .map(|&parts| (self.nearest(tick, parts), parts))
            .find(|&(place, parts)| (tick * parts).abs_diff(place * self.quarter) < parts)
            .map(|(place, parts)| Beats::new(place as i64, parts as i64))
    }

    /// The nearest sixty-fourth or half of a sixteenth triplet, if it is near.
    fn near(self, tick: u64) -> Option<Beats> {
        [16, 12]
            .map(|parts| {
                let place = self.nearest(tick, parts);
                // Common denominator 48, so that both distances are in one unit.
                let distance = (tick * parts).abs_diff(place * self.quarter) * (48 / parts);
                (distance, Beats::new(place as i64, parts as i64))
            })
            .into_iter()
            .min_by_key(|&(distance, _)| distance)
            .filter(|&(distance, _)| distance * NEAR <= 48 * self.quarter)
            .map(|(_, at)| at)
    }

    /// The nearest place on a grid of so many parts of a quarter, halves up.
    fn nearest(self, tick: u64, parts: u64) -> u64 {
        (tick * parts * 2 + self.quarter) / (self.quarter * 2)
    }

    /// Where a note of a written part ends.
    fn written_end(
        self,
        (onset, start): (u64, Beats),
        end: u64,
        next: Option<Next>,
        (onsets, settled): (&[u64], &[Beats]),
    ) -> Beats {
        let length = end.saturating_sub(onset);
        // Ends that are places of their own: at another onset, on the plain grid, or in a tuplet from start to end.
        let plain = [32, 24].iter().any(|parts| (end * parts).is_multiple_of(self.quarter));
        let tuplet = || {
            let both_on =
                |parts: u64| [onset, end].iter().all(|tick| (tick * parts).is_multiple_of(self.quarter));
            [5, 7, 9].into_iter().any(both_on)
        };
        if let Ok(index) = onsets.binary_search(&end) {
            return settled[index];
        }
        if self.raw(onset) == start && (plain || tuplet()) {
            return self.raw(end);
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
        self.exact(end).or_else(|| self.near(end)).unwrap_or_else(|| self.raw(end)).max(start)
    }

    /// The note value that a length nearly fills.
    fn note_value(self, length: u64) -> Option<Beats> {
        /// In 48ths of a quarter: sixteenths triplet to breve, with dots and triplets.
        const VALUES: [u64; 17] = [8, 12, 16, 18, 24, 32, 36, 48, 64, 72, 96, 128, 144, 192, 288, 384, 576];
        let filled = |value: &&u64| {
            let (length, value) = (length * 48, **value * self.quarter);
            length * FILLED.1 >= value * FILLED.0 && length * NEAR <= value * (NEAR + 1)
        };
        VALUES.iter().find(filled).map(|&value| Beats::new(value as i64, 48))
    }

    /// Where a note of a played part ends: at the next onset if it gets near it, else on quarters of the beat.
    fn played_end(self, (onset, start): (u64, Beats), end: u64, next: Option<Next>) -> Beats {
        let plain = Beats::new(self.nearest(end, 4) as i64, 4);
        let stop = match next {
            Some(next) => {
                let between = next.tick.saturating_sub(onset);
                if end.abs_diff(next.tick) * 4 <= between {
                    next.at
                } else if end < next.tick {
                    plain.min(next.at)
                } else {
                    plain.max(next.at)
                }
            }
            None => plain,
        };
        if stop > start {
            stop
        } else {
            let eighth = start + Beats::new(1, 8);
            next.map_or(eighth, |next| eighth.min(next.at))
        }
    }

    /// The likely written places of played onsets: for each beat the division that fits best for its price.
    fn quantised(self, onsets: &[u64], micros: &impl Fn(u64) -> u64) -> Vec<Beats> {
        let mut settled: Vec<Beats> = Vec::with_capacity(onsets.len());
        let mut from = 0;
        while from < onsets.len() {
            let beat = onsets[from] / self.quarter;
            let until = from + onsets[from..].partition_point(|onset| onset / self.quarter == beat);
            let heads = self.chord_heads(&onsets[from..until], micros);
            let before = settled.last().copied();
            let best = DIVISIONS
                .iter()
                .map(|division| (self.misfit(&heads, before, division), division.parts))
                .min();
            let parts = best.map_or(1, |(_, parts)| parts);
            settled
                .extend(heads.iter().map(|&head| Beats::new(self.nearest(head, parts) as i64, parts as i64)));
            from = until;
        }
        settled
    }

    /// For each onset, the first onset of the chord that it belongs to.
    fn chord_heads(self, onsets: &[u64], micros: &impl Fn(u64) -> u64) -> Vec<u64> {
        let mut head = 0;
        onsets
            .iter()
            .enumerate()
            .map(|(index, &onset)| {
                let together = TOGETHER_MICROS * self.quarter / micros(onset).max(1);
                if index == 0 || onset - head > together {
                    head = onset;
                }
                head
            })
            .collect()
    }

    /// How badly a division fits the onsets of a beat, in thousandths of a quarter; two notes at one place are the
    /// worst, since one of them would be lost.
    fn misfit(self, heads: &[u64], before: Option<Beats>, division: &Division) -> u64 {
        const COLLISION: u64 = 1_000;
        let mut sum = division.price;
        let mut last: Option<u64> = None;
        let mut taken = before;
        for &head in heads {
            if last == Some(head) {
                continue;
            }
            let place = self.nearest(head, division.parts);
            let at = Beats::new(place as i64, division.parts as i64);
            if taken == Some(at) {
                sum += COLLISION;
            }
            sum += (head * division.parts).abs_diff(place * self.quarter) * 1_000
                / (division.parts * self.quarter);
            (last, taken) = (Some(head), Some(at));
        }
        sum
    }
}

/// The next onset, as played and as written.
#[derive(Clone, Copy)]
struct Next {
    tick: u64,
    at: Beats,
}

/// A way to divide a quarter.
struct Division {
    parts: u64,
    /// In thousandths of a quarter of misfit that it must save; by judgement, simpler is likelier.
    price: u64,
}

const DIVISIONS: [Division; 8] = [
    Division { parts: 1, price: 0 },
    Division { parts: 2, price: 10 },
    Division { parts: 4, price: 40 },
    Division { parts: 3, price: 45 },
    Division { parts: 6, price: 110 },
    Division { parts: 8, price: 120 },
    Division { parts: 12, price: 200 },
    Division { parts: 16, price: 210 },
];
