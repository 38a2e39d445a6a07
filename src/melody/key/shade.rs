//! Shades of a mode: its notes beyond the seven of the scale.

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
    /// A flat third, with or without the major third; a flat fifth beside the perfect fifth; and a flat seventh.
    Blues,
}

/// Writes `harmonic minor`, `melodic minor` or `blues`.
impl fmt::Display for Shade {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Shade::HarmonicMinor => "harmonic minor",
            Shade::MelodicMinor => "melodic minor",
            Shade::Blues => "blues",
        })
    }
}

/// The share below which a note is an ornament and shows no shade: one per cent (our judgement).
const FAINT: i64 = shares::WHOLE / 100;

/// Returns the shade of a tune in a key, from the total durations of the notes outside the scale; `None` if the mode
/// describes the tune fully.
///
/// - Harmonic and melodic minor: in minor, the raised seventh sounds at least half as long as the flat seventh. If the
///   raised sixth also sounds at least half as long as the flat sixth, the shade is melodic, otherwise harmonic. Dorian
///   always has the raised sixth, so a Dorian tune is melodic minor if the raised seventh sounds longer than the flat
///   seventh.
/// - Blues (with a flat third, or both thirds): a flat seventh and no raised one, a flat fifth beside the perfect
///   fifth, and no flat second or flat sixth.
///
/// The thresholds are our judgement; the scales are common knowledge.
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
