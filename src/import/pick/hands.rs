//! Separates the left hand's notes if one part contains both hands, as in keyboard music from a single MIDI track.
//!
//! When several notes sound, the highest belongs to the tune and the lowest to the accompaniment. If these two groups
//! lie apart, a single note as low as the accompaniment belongs to the accompaniment, because the tune rests there.

use super::sweep::span;
use crate::{melody::Note, pitch::Pitch};

/// The smallest percentage of moments with several notes. Below it, the moments with several notes are double stops of
/// one voice.
const SEVERAL_PERCENT: usize = 50;
/// The smallest number of moments with several notes; fewer give too little evidence.
const FEWEST: usize = 8;

/// Returns the pitch up to which single notes belong to the left hand, if there is a left hand. The notes are in order
/// of onset.
pub(super) fn lower_hand(notes: &[&Note]) -> Option<Pitch> {
    let spans: Vec<(u64, u64)> = notes.iter().map(|note| span(note)).collect();
    // Most parts are a single line, which has no left hand.
    if spans.is_sorted_by(|before, next| before.1 <= next.0) {
        return None;
    }
    let (mut moments, mut tops, mut bottoms) = (0, Vec::new(), Vec::new());
    let mut held = Held::new();
    let mut rest = spans.as_slice();
    for moment in notes.chunk_by(|a, b| a.onset == b.onset) {
        let (of_moment, after) = rest.split_at(moment.len());
        rest = after;
        let now = of_moment[0].0;
        for (note, &(_, end)) in moment.iter().zip(of_moment) {
            // A legato note that sounds only a little into the next note is not a second hand.
            held.add(note.pitch, now + (end - now) * 3 / 4);
        }
        moments += 1;
        if let Some((bottom, top)) = held.outermost(now)
            && bottom < top
        {
            tops.push(top);
            bottoms.push(bottom);
        }
    }
    if tops.len() < FEWEST || tops.len() * 100 < moments * SEVERAL_PERCENT {
        return None;
    }
    tops.sort_unstable();
    bottoms.sort_unstable();
    // A tenth of the top notes and a tenth of the bottom notes may stray.
    let (lowest_top, highest_bottom) = (tops[tops.len() / 10], bottoms[bottoms.len() * 9 / 10]);
    (highest_bottom < lowest_top).then_some(highest_bottom)
}

/// The held pitches: a bit for each, and the time at which each ends.
struct Held {
    pitches: u128,
    until: [u64; 128],
}

impl Held {
    fn new() -> Held {
        Held { pitches: 0, until: [0; 128] }
    }

    fn add(&mut self, pitch: Pitch, until: u64) {
        let slot = &mut self.until[usize::from(pitch.midi() & 0x7F)];
        *slot = until.max(*slot);
        self.pitches |= 1 << (pitch.midi() & 0x7F);
    }

    /// Returns the lowest and the highest pitch still held. Time only moves forward, so ended notes are dropped.
    fn outermost(&mut self, now: u64) -> Option<(Pitch, Pitch)> {
        let until = &self.until;
        let mut held = |pitch: fn(u128) -> u32| {
            while self.pitches != 0 {
                let pitch = pitch(self.pitches);
                if until[pitch as usize] > now {
                    return Pitch::new(pitch as u8);
                }
                self.pitches &= !(1 << pitch);
            }
            None
        };
        let highest = held(u128::ilog2)?;
        Some((held(u128::trailing_zeros)?, highest))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_outermost_pitches_are_those_of_all_that_are_held() {
        let mut held = Held::new();
        let mut all: Vec<(Pitch, u64)> = Vec::new();
        let mut random = 1_u64;
        for now in 0..2_000 {
            // Knuth's MMIX generator (The Art of Computer Programming 2, section 3.3.4).
            random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            if random >> 62 != 0 {
                let note = (Pitch::new((random >> 40) as u8 & 0x7F).unwrap(), now + (random >> 50) % 9);
                held.add(note.0, note.1);
                all.push(note);
            }
            let sounding = || all.iter().filter(|note| note.1 > now).map(|note| note.0);
            assert_eq!(held.outermost(now), sounding().min().zip(sounding().max()), "{now}");
        }
    }
}
