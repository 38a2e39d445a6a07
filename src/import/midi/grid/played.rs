//! Quantises free playing: finds the written positions that the onsets and ends most likely stand for.

use super::{Grid, Next};
use crate::time::Beats;

/// Notes that start within this time and sound together count as one chord. Listeners hear onsets as simultaneous
/// within about 40 ms (Dixon, Journal of New Music Research 30, 2001).
const TOGETHER_MICROS: u64 = 40_000;

/// A way to divide a quarter.
struct Division {
    parts: u64,
    /// The misfit that the division must save to be chosen, in thousandths of a quarter. Simpler divisions are cheaper,
    /// because they are likelier (our judgement).
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

/// An onset, with the latest end of the notes that start there, in ticks.
#[derive(Clone, Copy)]
struct Start {
    tick: u64,
    end: u64,
}

impl Grid {
    /// Returns the likely written positions of played onsets: each beat gets the division with the least sum of misfit
    /// and price.
    ///
    /// The notes (onset and end) must be in order of onset; the result has one position for each different onset.
    pub(super) fn quantised(self, notes: &[(u64, u64)], micros: &impl Fn(u64) -> u64) -> Vec<Beats> {
        let starts: Vec<Start> = notes
            .chunk_by(|a, b| a.0 == b.0)
            .map(|chord| Start { tick: chord[0].0, end: chord.iter().map(|note| note.1).max().unwrap_or(0) })
            .collect();
        let mut settled: Vec<Beats> = Vec::with_capacity(starts.len());
        for beat in starts.chunk_by(|a, b| a.tick / self.quarter == b.tick / self.quarter) {
            let heads = self.chord_heads(beat, micros);
            let before = settled.last().copied();
            let best = DIVISIONS
                .iter()
                .map(|division| (self.misfit(&heads, before, division), division.parts))
                .min();
            let parts = best.map_or(1, |(_, parts)| parts);
            settled.extend(heads.iter().map(|&head| self.place(head, parts)));
        }
        settled
    }

    /// Returns, for each onset, the first onset of its chord.
    fn chord_heads(self, starts: &[Start], micros: &impl Fn(u64) -> u64) -> Vec<u64> {
        let mut heads = Vec::with_capacity(starts.len());
        let mut head: Option<Start> = None;
        for &start in starts {
            let together = TOGETHER_MICROS * self.quarter / micros(start.tick).max(1);
            // The notes of a chord sound together for most of their time; the notes of a fast run do not.
            let is_chord = |head: &Start| {
                start.tick - head.tick <= together
                    && head.end.saturating_sub(start.tick) * 3 >= head.end.saturating_sub(head.tick) * 2
            };
            let first = head.filter(is_chord).unwrap_or(start);
            head = Some(first);
            heads.push(first.tick);
        }
        heads
    }

    /// Returns the misfit between a division and the onsets of a beat, plus the division's price, in thousandths of a
    /// quarter. Two notes at one position are the worst misfit, because one of them would be lost.
    fn misfit(self, heads: &[u64], before: Option<Beats>, division: &Division) -> u64 {
        const COLLISION: u64 = 1_000;
        let mut sum = division.price;
        let mut last: Option<u64> = None;
        let mut taken = before;
        for &head in heads {
            if last == Some(head) {
                continue;
            }
            let at = self.place(head, division.parts);
            if taken == Some(at) {
                sum += COLLISION;
            }
            sum += self.distance(head, division.parts) * 1_000 / (division.parts * self.quarter);
            (last, taken) = (Some(head), Some(at));
        }
        sum
    }

    /// Returns the end of a note in a played part: the next onset if the note ends near it, otherwise the nearest
    /// sixteenth.
    pub(super) fn played_end(self, (onset, start): (u64, Beats), end: u64, next: Option<Next>) -> Beats {
        let plain = self.place(end, 4);
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
}
