//! The answer about the notes of a tune.

use serde::Serialize;

use super::{
    SCHEMA, print,
    tune::{KeyInfo, Tempo, key, tempo_info},
};
use crate::{
    melody::phrase,
    pages::{self, Tune, warnings},
};

/// Returns the answer of `breathline notes`.
pub fn notes(tune: &Tune) -> String {
    let imported = tune.imported;
    let melody = &imported.melody;
    let parts: Vec<Part> = imported
        .parts
        .iter()
        .enumerate()
        .map(|(index, part)| Part {
            number: index + 1,
            name: part.name.as_deref(),
            notes: part.notes,
            lowest: part.range.map(|(low, _)| low.midi()),
            highest: part.range.map(|(_, high)| high.midi()),
            percussion: part.percussion,
        })
        .collect();
    let chosen = &imported.choice;
    let mut phrase_end = vec![None; melody.notes.len()];
    for end in phrase::ends(melody) {
        phrase_end[end.note] = Some(end.strength);
    }
    let notes =
        melody.notes.iter().zip(melody.timing()).zip(phrase_end).map(|((note, sounding), phrase_end)| {
            let name = note.spelling.unwrap_or_else(|| melody.spelled(note.pitch, note.onset));
            Note {
                onset: note.onset.as_f64(),
                duration: note.duration.as_f64(),
                midi: note.pitch.midi(),
                name: name.to_string(),
                bar: melody.bars[note.bar].number,
                beat: melody.bars[note.bar].beat(note.onset).as_f64(),
                seconds: sounding.start as f64 / 1e6,
                lyric: note.lyrics.first().map(|lyric| lyric.text.as_str()),
                grace: note.grace,
                phrase_end,
            }
        });
    print(&Notes {
        schema: SCHEMA,
        title: tune.title(),
        composer: melody.credits.composer(),
        lyricist: melody.credits.lyricist(),
        arranger: melody.credits.arranger(),
        rights: &melody.credits.rights,
        unfolded: imported.unfolded,
        tempo: tempo_info(melody),
        warnings: warnings::lines(&imported.warnings),
        part: ChosenPart {
            number: chosen.part,
            name: imported.parts.get(chosen.part - 1).and_then(|part| part.name.as_deref()),
            why: pages::notes::part(tune),
        },
        parts,
        key: key(tune),
        notes: notes.collect(),
    })
}

#[derive(Serialize)]
pub(super) struct Notes<'a> {
    schema: u32,
    title: &'a str,
    composer: Option<String>,
    lyricist: Option<String>,
    arranger: Option<String>,
    rights: &'a [String],
    unfolded: bool,
    tempo: Tempo,
    warnings: Vec<String>,
    part: ChosenPart<'a>,
    parts: Vec<Part<'a>>,
    key: KeyInfo,
    notes: Vec<Note<'a>>,
}

#[derive(Serialize)]
pub(super) struct ChosenPart<'a> {
    number: usize,
    name: Option<&'a str>,
    why: String,
}

#[derive(Serialize)]
pub(super) struct Part<'a> {
    number: usize,
    name: Option<&'a str>,
    notes: usize,
    lowest: Option<u8>,
    highest: Option<u8>,
    percussion: bool,
}

/// A note. Times are in quarters; `seconds` is the start of the note at the tune's tempo.
#[derive(Serialize)]
pub(super) struct Note<'a> {
    onset: f64,
    duration: f64,
    midi: u8,
    name: String,
    bar: u32,
    beat: f64,
    seconds: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    lyric: Option<&'a str>,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    grace: bool,
    /// How clearly a phrase ends with this note, in per cent; absent if no phrase ends there.
    #[serde(skip_serializing_if = "Option::is_none")]
    phrase_end: Option<u8>,
}
