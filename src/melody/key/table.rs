//! The form of the fitted weights; `weights.rs` has their values.

use super::shares::{ROWS, Shares};

/// How many signs speak for a first downbeat.
pub const SIGNS: usize = 12;

/// What each clue is worth, in points. `weights.rs` has the fitted values.
pub(super) struct Table {
    /// For modes with a major third and for those with a minor one, for each row of shares: the points of a row whose
    /// notes all lie so many semitones above the tonic.
    pub rows: [[[i32; 12]; ROWS]; 2],
    /// For major and for minor, by semitones above the tonic: the points of durations that lie in that direction, their
    /// mean taken away and their length made one. It is a weighted sum of published profiles, centred and of length one.
    pub profiles: [Shares; 2],
    /// Points where only the mode's form of a degree occurs, second to seventh, and not its twin a semitone off;
    /// as many are lost where only the twin does.
    pub telling: [i64; 6],
    /// How common major, minor, Dorian and Mixolydian are.
    pub habits: [i64; 4],
}
