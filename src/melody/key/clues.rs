//! What is counted in a melody before any key is thought of.

use crate::{
    melody::{KeySignature, Melody},
    pitch::PitchClass,
    time::Beats,
};

/// All that the election looks at.
pub(super) struct Clues {
    /// How long each note from C to B sounds, in [`GRID`] parts of a quarter, scaled down to at most 2^20.
    pub durations: [i64; 12],
    /// The last note.
    pub last: Option<PitchClass>,
    /// The signature at the start.
    pub signature: Option<KeySignature>,
}

/// Parts of a quarter that durations are counted in: 2^6 · 3^2 · 5 · 7.
const GRID: i64 = 20_160;

/// Time as a whole number, so that sums cost no fractions; fits since a numerator stays below 2^43.
fn ticks(time: Beats) -> i64 {
    let (numerator, denominator) = time.fraction();
    numerator * GRID / denominator
}

/// Counts a melody's clues, in one pass.
pub(super) fn gather(melody: &Melody) -> Clues {
    let mut durations = [0i64; 12];
    for note in &melody.notes {
        durations[usize::from(note.pitch.class().semitones())] += ticks(note.duration).max(0);
    }
    let largest = durations.iter().copied().max().unwrap_or(0);
    let shift = (64 - largest.leading_zeros()).saturating_sub(20);
    Clues {
        durations: durations.map(|duration| duration >> shift),
        last: melody.notes.iter().rev().find(|note| !note.grace).map(|note| note.pitch.class()),
        signature: melody.signatures.first().copied(),
    }
}
