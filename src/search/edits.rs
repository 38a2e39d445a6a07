//! The prices of changes to a tune, in points of effort, so that a change can be weighed against the effort that it
//! causes or saves. Every default is a judgement of common practice, without a source.

use serde::Deserialize;

/// Prices of changes to a tune. All prices are points; one field is a time in milliseconds.
///
/// Each field's example assumes a player for whom nothing else costs anything; `tests/playing/adapt.rs` tests every
/// field just below, at and above the number at which the choice flips.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EditWeights {
    /// A phrase that moves by an octave. A phrase that lacks a single note is moved if the move costs less than
    /// replacing the note.
    pub octave: u32,
    /// A note that is replaced. A phrase that lacks two notes is moved if replacing both costs more than the move.
    pub replace: u32,
    /// Each second that a replaced note sounds: a long note is missed more than a short one.
    pub second: u32,
    /// Each semitone between a note and its replacement.
    pub semitone: u32,
    /// A replacement that is not in the current chord, in a tune with chord symbols. Example: for F#5 over a D chord on
    /// a C harp without bends, A5 is in the chord but two semitones further away than G5. G5 wins as long as this price
    /// does not exceed the price of two semitones.
    pub off_chord: u32,
    /// A step from note to note whose direction (up, down, level) differs from the tune's.
    pub contour: u32,
    /// A grace note that is left out.
    pub grace: u32,
    /// A note of an ornament that is left out: a short note without words that leads to a note at least twice as long.
    pub ornament: u32,
    /// The duration below which a note can be part of an ornament.
    pub ornament_ms: u32,
}
