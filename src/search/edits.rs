//! The prices of changes to a tune, in points of effort: an awkward playing that a change causes can thus be weighed
//! against a smaller awkwardness. Every default is a judgement of common practice, no source.

use serde::Deserialize;

/// Prices of changes to a tune. All are points, except one time in milliseconds.
///
/// Each field's example assumes a player for whom nothing else costs anything; `tests/playing/adapt.rs` shows every field just
/// below, at and above the number where the choice flips.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EditWeights {
    /// A phrase that is moved by an octave. A phrase that lacks a single note is moved if this is less than replacing
    /// the note.
    pub octave: u32,
    /// A note that is replaced by another. A phrase that lacks two notes is moved if replacing both costs more.
    pub replace: u32,
    /// Each second that a replaced note sounds: a long note is missed more than a short one.
    pub second: u32,
    /// Each semitone between a note and its replacement.
    pub semitone: u32,
    /// A replacement outside the chord of the moment, where the tune has chord symbols. For F#5 over D on a C harp
    /// without bends, G5 wins over A5 as long as this costs no more than the two semitones that A5 is further away.
    pub off_chord: u32,
    /// A step from note to note in another direction (up, down, level) than the tune's.
    pub contour: u32,
    /// A grace note that is left out.
    pub grace: u32,
    /// A note of an ornament that is left out: a short note without words that leads to one at least twice as long.
    pub ornament: u32,
    /// A note that sounds for less than this can be part of an ornament.
    pub ornament_ms: u32,
}
