//! Collects a melody's clues: the facts on which the choice of a key is based, before any key is considered.

use super::{
    grid,
    shares::{self, Counts, Sound},
    strains,
    table::SIGNS,
};
use crate::{
    melody::{Bar, KeySignature, Melody, phrase},
    pitch::PitchClass,
    time::Beats,
};

/// The facts on which the choice of a key is based.
#[derive(Clone, Debug, Default)]
pub struct Clues {
    /// The whole tune.
    pub whole: View,
    /// The first strain, if the tune has several and the first is long enough to show its key ([`LONG_ENOUGH`] bars).
    pub opening: Option<View>,
    /// Whether the opening is only the first half of the tune, because nothing shows where its strains end.
    pub halved: bool,
    /// The last pitch class; `None` if nothing sounds.
    pub last: Option<PitchClass>,
    /// The signature at the start.
    pub signature: Option<KeySignature>,
    /// The roots of the first and the last chord symbol.
    pub chords: Option<(PitchClass, PitchClass)>,
}

/// The counts of a stretch of a tune.
#[derive(Clone, Copy, Debug, Default)]
pub struct View {
    /// The rows of shares.
    pub counts: Counts,
    /// The length in bars, rounded.
    pub bars: i64,
}

/// The number of bars from which a strain is long enough to count as a tune of its own. A shorter stretch is a
/// fragment, whose last note says little.
pub const LONG_ENOUGH: i64 = 8;

/// A bar shorter than three fourths of its meter is treated as a pickup; this is the number of fourths.
const FULL: i64 = 3;

/// Collects a melody's clues.
///
/// A strain is the music between repeat signs and double bars. Many tunes come to rest on the tonic at the end of the
/// first strain but end the last strain open, ready for another round. If the file has no such marks, the notes show
/// where strains end.
pub fn clues(melody: &Melody) -> Clues {
    let (mut sounds, bar) = sounds(melody);
    if melody.counted_bars {
        grid::count_bars(&mut sounds, bar);
    }
    let marked = sounds.iter().rev().skip(1).any(|sound| sound.ends_strain);
    let halved = !marked && strains::find(&mut sounds, bar);
    let end = sounds.iter().position(|sound| sound.ends_strain).map_or(sounds.len(), |end| end + 1);
    let opening = Some(view(&sounds[..end], bar));
    let mut roots = melody.chords.iter().filter_map(|chord| chord.root);
    let chords = roots.next().zip(roots.next_back()).map(|(first, last)| (first.class(), last.class()));
    Clues {
        whole: view(&sounds, bar),
        opening: opening.filter(|opening| end < sounds.len() && opening.bars >= LONG_ENOUGH),
        halved,
        last: sounds.last().map(|sound| PitchClass::new(i16::from(sound.pitch))),
        signature: melody.signatures.first().copied(),
        chords,
    }
}

/// Returns the possible pickups of a melody without barlines, shortest first: each in quarters, with the signs that
/// speak for it. The fitting program uses this function.
pub fn pickups(melody: &Melody) -> Vec<(Beats, [i64; SIGNS])> {
    let (sounds, bar) = sounds(melody);
    let candidates = grid::candidates(&sounds, bar).into_iter();
    candidates.map(|(pickup, signs)| (Beats::new(pickup, Beats::UNITS), signs)).collect()
}

fn view(sounds: &[Sound], bar: i64) -> View {
    let bars = match sounds {
        [first, .., last] => (last.onset + last.ticks - first.onset + bar / 2) / bar,
        _ => 0,
    };
    View { counts: shares::count(sounds), bars }
}

/// Returns the sounding notes and the length of a bar, both in ticks.
fn sounds(melody: &Melody) -> (Vec<Sound>, i64) {
    let full: Vec<bool> = melody.bars.iter().map(is_full).collect();
    let mut sounds: Vec<Sound> = Vec::with_capacity(melody.notes.len());
    for (index, note) in melody.notes.iter().enumerate() {
        // A grace note has no weight, but a strain may end after it.
        let ends_strain = phrase::ends_section(melody, index);
        let ticks = note.duration.units();
        if ticks > 0 && !note.grace {
            let onset = note.onset.units();
            let in_full_bar = full.get(note.bar).copied().unwrap_or(true);
            let starts_bar =
                in_full_bar && melody.bars.get(note.bar).is_some_and(|bar| bar.start.units() == onset);
            let (pitch, bar) = (note.pitch.midi(), note.bar as i64);
            sounds.push(Sound { pitch, onset, ticks, bar, in_full_bar, starts_bar, ends_strain });
        } else if let Some(last) = sounds.last_mut() {
            last.ends_strain |= ends_strain;
        }
    }
    let meter = melody.bars.iter().find_map(|bar| bar.meter).unwrap_or(crate::time::Meter::COMMON);
    (sounds, meter.bar().units().max(1))
}

fn is_full(bar: &Bar) -> bool {
    // The length of the meter's bar is 4 · UNITS · beats / unit.
    bar.meter.is_none_or(|meter| {
        let whole = 4 * Beats::UNITS * i64::from(meter.beats) / i64::from(meter.unit.max(1));
        4 * bar.length.units() >= FULL * whole
    })
}
