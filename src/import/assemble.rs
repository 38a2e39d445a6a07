//! Assembles the draft of a score: lays its bars end to end, numbers its voices and merges its tied notes.
//!
//! MusicXML and ABC share this step, because both write bars, voices and ties. If parts differ in the length of a bar,
//! the longest part determines it.

mod fillers;
mod layout;
mod ties;
mod voices;

use super::{
    ImportError, MAX_QUARTERS, Part, PartNote, PartWritten, Score, Warning,
    draft::{Draft, NoteDraft, OddityDraft, PartDraft, PartInfo, Spot},
};
use crate::{
    melody::{Bar, ChordSymbol, KeySignature, TempoWords},
    time::{Beats, Place, TempoMap},
};

/// How far the last bar may extend past the time limit, in quarters.
const LATER: i64 = 64;

/// Assembles the parts over their common bars.
pub(super) fn assemble(
    infos: Vec<PartInfo>,
    mut drafts: Vec<PartDraft<'_>>,
    mut draft: Draft<'_>,
) -> Result<Score, ImportError> {
    // A mark after the last bar may have added an empty bar.
    draft.bars.truncate(draft.count);
    fillers::cut(&mut draft, &mut drafts);
    let bars = layout::bars(&mut draft);
    let end: Beats = bars.last().map_or(Beats::ZERO, |bar| bar.start + bar.length);
    // The last bar may end a little later than the limit, as the last bar of the longest MIDI file does.
    if end >= Beats::new(MAX_QUARTERS + LATER, 1) {
        return Err(ImportError::TooLarge {
            what: "the score",
            limit: MAX_QUARTERS as usize,
            unit: "quarter notes of time",
        });
    }
    let mut oddities = std::mem::take(&mut draft.oddities);
    let at = |spot: Spot| bars.get(spot.bar).map_or(spot.offset, |bar| bar.start + spot.offset);
    for odd in &mut oddities {
        if let Some((_, spot)) = &mut odd.place {
            spot.offset = at(*spot);
        }
    }
    let mut parts = Vec::with_capacity(drafts.len());
    for (index, (info, part)) in infos.into_iter().zip(drafts).enumerate() {
        parts.push(finish_part(info, part, index, &bars, &mut oddities));
    }
    // At one place a sounding tempo overrides a printed one, and an earlier part's tempo overrides a later part's.
    draft.tempi.reverse();
    draft.tempi.sort_by_key(|tempo| (tempo.at, tempo.sound));
    let tempo = TempoMap::new(draft.tempi.iter().map(|tempo| (at(tempo.at), tempo.micros_per_quarter)));
    let tempo_words = std::mem::take(&mut draft.tempo_words).into_iter();
    let tempo_words = tempo_words.map(|(spot, text)| TempoWords { at: at(spot), text }).collect();
    let mut warnings: Vec<Warning> = oddities
        .into_iter()
        .map(|odd| Warning {
            oddity: odd.oddity,
            place: odd.place.map(|(part, spot)| place(part, spot, &bars)),
            text: odd.text,
        })
        .collect();
    warnings.sort_by(|a, b| (a.place, &a.oddity).cmp(&(b.place, &b.oddity)));
    Ok(Score { bars, tempo, tempo_words, parts, warnings, ..Score::default() })
}

/// Converts a spot, whose offset counts from the start of the score, into a musician's place.
fn place(part: usize, spot: Spot, bars: &[Bar]) -> Place {
    let part = u16::try_from(part + 1).unwrap_or(u16::MAX);
    match bars.get(spot.bar) {
        Some(bar) => Place { part, bar: bar.number, beat: bar.beat(spot.offset) },
        None => Place { part, bar: 0, beat: Beats::quarters(1) },
    }
}

fn finish_part(
    info: PartInfo,
    draft: PartDraft<'_>,
    index: usize,
    bars: &[Bar],
    oddities: &mut Vec<OddityDraft>,
) -> Part {
    let at = |spot: Spot| bars[spot.bar].start + spot.offset;
    let mut notes = draft.notes;
    for draft in &mut notes {
        let bar = &bars[draft.note.bar];
        // A bar that was rounded to its meter may be shorter than its notes by a tick or two.
        let room = bar.length - draft.note.onset;
        if draft.note.duration > room && room > Beats::ZERO {
            draft.note.duration = room;
        }
        draft.note.onset += bar.start;
    }
    let in_order =
        |a: &NoteDraft, b: &NoteDraft| (a.note.onset, !a.note.grace).cmp(&(b.note.onset, !b.note.grace));
    if !notes.is_sorted_by(|a, b| in_order(a, b).is_le()) {
        notes.sort_by(in_order);
    }
    let numbers = voices::number(&mut notes, &draft.voices);
    let written = draft.written.into_iter().filter_map(|written| {
        let voice = draft.voices.iter().position(|voice| *voice == written.voice)?;
        Some(PartWritten { bar: written.bar, voice: numbers[voice], written: written.written })
    });
    let written = written.collect();
    let mut notes = ties::merge(notes, index, bars, oddities);
    if !notes.is_sorted_by(|a, b| in_order(a, b).is_le()) {
        notes.sort_by(in_order);
    }
    let percussion = (draft.unpitched && notes.is_empty()) || info.percussion;
    let mut signatures: Vec<KeySignature> = Vec::new();
    let mut keys = draft.keys;
    keys.sort_by_key(|&(spot, ..)| at(spot));
    for (spot, sharps, mode) in keys {
        let last = signatures.last();
        if last.is_none_or(|last| (last.sharps, last.mode) != (sharps, mode)) {
            signatures.push(KeySignature { at: at(spot), sharps, mode });
        }
    }
    let chords = draft.chords.into_iter();
    let mut chords: Vec<ChordSymbol> =
        chords.map(|(spot, chord)| ChordSymbol { at: at(spot), ..chord }).collect();
    chords.sort_by_key(|chord| chord.at);
    let notes = notes.into_iter().map(|draft| PartNote { note: draft.note, voice: draft.voice }).collect();
    Part { name: info.name, instrument: None, notes, written, signatures, chords, percussion }
}
