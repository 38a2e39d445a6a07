//! Shades of a mode: how its notes go beyond the seven of the scale.

use std::fmt;

use super::Key;
use crate::melody::{
    Melody,
    key::{Mode, clues, shares},
};

/// A shade of a mode, shown by a note outside its scale.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Shade {
    /// Minor with the seventh raised: the leading note, a step and a half above the sixth.
    HarmonicMinor,
    /// Minor with the sixth and the seventh raised, most often on the way up.
    MelodicMinor,
    /// Flat thirds and a flat fifth beside the plain ones, over a flat seventh.
    Blues,
}

/// Writes `harmonic minor`, `melodic minor`, `blues`.
impl fmt::Display for Shade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Shade::HarmonicMinor => "harmonic minor",
            Shade::MelodicMinor => "melodic minor",
            Shade::Blues => "blues",
        })
    }
}

/// A note with a smaller share of the tune is an ornament and shows no shade: one per cent (our judgement).
const FAINT: i64 = shares::WHOLE / 100;

/// Returns the shade of a tune in a key, by how long the notes outside the scale sound; `None` where the mode says it
/// all.
///
/// - Harmonic and melodic minor: in minor the raised seventh sounds at least half as long as the flat one. If the
///   raised sixth also sounds at least half as long as the flat one, it is melodic, else harmonic. Dorian has the
///   raised sixth anyway: it is melodic minor where the raised seventh sounds longer than the flat one.
/// - Blues (the third flat, or both): a flat seventh, no raised one, a flat fifth beside the plain one, no flat second or
///   flat sixth.
///
/// The shares are our judgement; the scales are common knowledge.
pub fn shade(melody: &Melody, key: Key) -> Option<Shade> {
    let durations = clues(melody).whole.counts[shares::DURATIONS];
    let tonic = usize::from(key.tonic.semitones());
    let share = |semitones: usize| durations[(tonic + semitones) % 12];
    let sounds = |semitones: usize| share(semitones) >= FAINT;
    let is_raised = |flat: usize| sounds(flat + 1) && 2 * share(flat + 1) >= share(flat);
    match key.mode {
        Mode::Minor if is_raised(10) && is_raised(8) => return Some(Shade::MelodicMinor),
        Mode::Minor if is_raised(10) => return Some(Shade::HarmonicMinor),
        Mode::Dorian if sounds(11) && share(11) > share(10) => return Some(Shade::MelodicMinor),
        _ => {}
    }
    let is_blue = sounds(3) && sounds(6) && sounds(7) && sounds(10);
    (is_blue && ![1, 8, 11].into_iter().any(sounds)).then_some(Shade::Blues)
}
