//! The data for the script of the page to practise from. The data is not part of the contract, because page and script
//! are written together.

use serde::Serialize;

use crate::{
    harp::{Bend, Breath},
    pages::practice::{Practice, PracticeChord, PracticeRow},
};

/// Returns the data of a practice page, as JSON for its script. The JSON contains no `<`, so it is safe in an HTML
/// `script` element.
pub fn practice(page: &Practice) -> String {
    let bars = page.bars.iter().map(|bar| Bar {
        label: &bar.label,
        at: bar.start_ms,
        to: bar.end_ms,
        beat: bar.beat_us as f64 / 1000.0,
        beats: bar.beats,
        lead: bar.count_in_us as f64 / 1000.0,
    });
    let data = Data {
        tempo: page.quarters_per_minute,
        end: page.end_ms,
        order: &page.order,
        bars: bars.collect(),
        notes: Notes {
            at: page.notes.iter().map(|note| note.start_ms).collect(),
            to: page.notes.iter().map(|note| note.end_ms).collect(),
            bar: page.notes.iter().map(|note| note.bar).collect(),
            place: page.notes.iter().map(|note| note.place.as_str()).collect(),
        },
        chords: page.chords.iter().map(chord).collect(),
        rows: page.rows.iter().map(row).collect(),
    };
    // These types cannot fail to serialise. `<` can occur only inside strings, where this escape is allowed.
    super::with_escapes(&serde_json::to_string(&data).unwrap_or_default()).replace('<', "\\u003c")
}

/// Returns rows that the page does not have, for the same script.
pub fn practice_rows(rows: &[PracticeRow]) -> String {
    let rows: Vec<RowData> = rows.iter().map(row).collect();
    super::with_escapes(&serde_json::to_string(&rows).unwrap_or_default()).replace('<', "\\u003c")
}

fn chord(chord: &PracticeChord) -> Chord<'_> {
    Chord { at: chord.start_ms, to: chord.end_ms, midi: &chord.midi }
}

fn row(row: &PracticeRow) -> RowData<'_> {
    let ways = row.ways.iter().map(|way| WayData {
        say: &way.say,
        midi: way.midi,
        hole: way.action.map(|action| action.hole),
        bend: way.action.map(|action| match action.bend {
            Bend::None => "0".to_owned(),
            Bend::Down(semitones) => semitones.to_string(),
            Bend::Over => "over".to_owned(),
        }),
        breath: way.action.map(|action| match action.breath {
            Breath::Blow => "blow",
            Breath::Draw => "draw",
        }),
    });
    RowData {
        name: format!("{}, {}", row.harp, row.place),
        moved: row.moved,
        drone: row.drone,
        ways: ways.collect(),
        notes: row.notes.iter().map(|note| note.way).collect(),
        awkward: (0..row.notes.len()).filter(|&note| row.notes[note].awkward).collect(),
    }
}

/// All times are milliseconds at the tune's own tempo.
#[derive(Serialize)]
struct Data<'a> {
    /// The tempo at the beginning, in quarters per minute.
    tempo: u64,
    end: u64,
    /// The stretches to play, in order, each with its start and its end.
    order: &'a [[u64; 2]],
    bars: Vec<Bar<'a>>,
    notes: Notes<'a>,
    chords: Vec<Chord<'a>>,
    rows: Vec<RowData<'a>>,
}

#[derive(Serialize)]
struct Bar<'a> {
    label: &'a str,
    at: u64,
    to: u64,
    beat: f64,
    beats: u32,
    /// The time to count in before the bar.
    lead: f64,
}

/// A chord, in the tune's own key.
#[derive(Serialize)]
struct Chord<'a> {
    at: u64,
    to: u64,
    midi: &'a [u8],
}

/// The notes, as one list for each field. One object for each note would take three times the size.
#[derive(Serialize)]
struct Notes<'a> {
    at: Vec<u64>,
    to: Vec<u64>,
    bar: Vec<usize>,
    place: Vec<&'a str>,
}

#[derive(Serialize)]
struct RowData<'a> {
    name: String,
    /// The transposition of the chords, in semitones.
    moved: i16,
    drone: u8,
    ways: Vec<WayData<'a>>,
    /// The index of each note's way, in `ways`.
    notes: Vec<usize>,
    /// The notes before which the breath changes direction awkwardly.
    awkward: Vec<usize>,
}

#[derive(Serialize)]
struct WayData<'a> {
    say: &'a str,
    midi: Option<u8>,
    hole: Option<u8>,
    breath: Option<&'static str>,
    /// The bend as in `data-bend` on the sheet's chart: the number of semitones, or `over`.
    bend: Option<String>,
}
