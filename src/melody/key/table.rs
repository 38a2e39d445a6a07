//! The form of the fitted weights; `weights.rs` has their values.

use super::shares::{ROWS, Shares};

/// The number of signs of a first downbeat.
pub const SIGNS: usize = 12;

/// The points of each clue. `weights.rs` has the fitted values.
pub(super) struct Table {
    /// First by the mode's third (major, minor), then by row of shares: the points of a row whose notes all lie so many
    /// semitones above the tonic.
    pub rows: [[[i32; 12]; ROWS]; 2],
    /// For major and for minor, by semitones above the tonic: the points of durations that lie in that direction, with
    /// the mean subtracted and the length made one. Each is a weighted sum of published profiles, centred and of length
    /// one.
    pub profiles: [Shares; 2],
    /// For each degree from second to seventh: points gained where only the mode's form of it occurs and not its twin a
    /// semitone off, and lost where only the twin occurs.
    pub telling: [i64; 6],
    /// How common major, minor, Dorian and Mixolydian are.
    pub habits: [i64; 4],
}
