//! Arranges a typed tab: its notes one after another, a quarter each, because tab has no rhythm.

use super::{Arranged, Arrangement};
use crate::{
    harp::Harp,
    melody::{Bar, KeySignature, Melody, Note},
    pitch::Spelling,
    tab::{Notation, read::TabText},
    time::{Beats, Meter},
};

/// Arranges the notes of a tab as they sound on a harp, in 4/4, in the key of the harp's first position. If `performed`
/// is true, repeats are written out. Notes that the harp cannot sound are left out.
pub fn arrange(title: &str, harp: &Harp, text: &TabText, performed: bool, notation: Notation) -> Arrangement {
    let order = if performed { text.performed() } else { (0..text.notes.len()).collect() };
    let sounding = order.into_iter().filter_map(|note| {
        let action = text.notes[note].action;
        Some((action, harp.pitch(action)?))
    });
    let meter = Meter::COMMON;
    let per_bar = usize::from(meter.beats);
    let fifths = i16::from(7 * harp.first_position_key().semitones() % 12);
    let sharps = (if fifths > 6 { fifths - 12 } else { fifths }) as i8;
    let mut melody = Melody { title: Some(title.to_owned()), ..Melody::default() };
    let mut notes = Vec::new();
    for (index, (action, pitch)) in sounding.enumerate() {
        // The index fits, because a tab has at most `read::MAX_NOTES` notes.
        let onset = Beats::quarters(index as i32);
        if index % per_bar == 0 {
            melody.bars.push(Bar::full((index / per_bar) as u32 + 1, onset, meter));
        }
        let note = Note::new(onset, Beats::quarters(1), pitch, index / per_bar);
        melody.notes.push(Note { spelling: Some(Spelling::in_key(pitch, sharps)), ..note });
        notes.push(Arranged { action: Some(action), tab: notation.write(action), changed: false });
    }
    melody.signatures.push(KeySignature { at: Beats::ZERO, sharps, mode: None });
    if let Some(last) = melody.bars.last_mut() {
        last.marks.section_end = true;
    }
    Arrangement { melody, notes, harp: format!("{harp} harp") }
}
