//! What it costs a tune to be changed, in the points of the effort: so a change that makes an awkward playing can be weighed
//! against a smaller awkwardness. Every default is a judgement of common practice, no source.

use serde::Deserialize;

/// Prices of changes to a tune. All are points but for one time in milliseconds.
///
/// The choices told at the fields are what is done for a player to whom nothing else matters; `tests/adapt.rs` shows every
/// field just below, at and above the number where the choice flips.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EditWeights {
    /// A phrase that is moved by an octave. One that lacks a single note is moved if this is less than replacing the note.
    pub octave: u32,
    /// A note that is replaced by another. A phrase that lacks two is moved if replacing both costs more.
    pub replace: u32,
    /// Each second that a replaced note sounds: a long one is missed more than a short one.
    pub second: u32,
    /// Each semitone between a note and what replaces it.
    pub semitone: u32,
    /// A note in place of another that is not in the chord of the moment, where the tune has chord symbols. For F#5 over D on a
    /// C harp without bends, G5 wins over A5 as long as this costs no more than the two semitones that A5 is further.
    pub off_chord: u32,
    /// A step from note to note that goes up, down or along as the tune's does not.
    pub contour: u32,
    /// A grace note that is left out.
    pub grace: u32,
    /// A note of an ornament that is left out: a short one without words that leads to one at least twice as long.
    pub ornament: u32,
    /// A note that sounds for less than this can be an ornament.
    pub ornament_ms: u32,
}
