//! The structure of the fitted weights; `weights.rs` has the values.

use super::shares::{ROWS, Shares};

/// The number of signs that speak for a first downbeat.
pub const SIGNS: usize = 12;

/// The points of each clue. `weights.rs` has the fitted values.
pub(super) struct Table {
    /// By the mode's third (major, minor), then by row of shares, then by semitones above the tonic: the points of a
    /// row if all its notes lie at that distance.
    pub rows: [[[i32; 12]; ROWS]; 2],
    /// For major and for minor, by semitones above the tonic: the points for the duration of the note at that distance.
    /// The durations are first centred and scaled to length one. Each profile is a weighted sum of published profiles,
    /// centred and of length one.
    pub profiles: [Shares; 2],
    /// For each degree from the second to the seventh, the points gained or lost. The points are gained if only the
    /// mode's form of the degree occurs, and lost if only its twin a semitone away occurs.
    pub telling: [i64; 6],
    /// The points for how common major, minor, Dorian and Mixolydian are.
    pub habits: [i64; 4],
}
