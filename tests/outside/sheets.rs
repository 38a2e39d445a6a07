//! For `check_sheets.py`, `check_written.py` and `long_sheet_speed.py`: reads tunes and makes the sheet of each winner.
//! Prints one JSON object a line with the faults that the geometric test finds, the written notes of the bars, and the
//! export of the same notes.
//!
//!     sheets [--harp HARP] FILE…
//!
//! `micros` is the shortest time of several runs from the melody and its winner to the SVG of all pages.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the checks read what this program prints")]

#[path = "../geometry/mod.rs"]
mod geometry;

use std::process::ExitCode;

use breathline::{
    export::{
        arrange,
        musicxml::{self, TabAs},
    },
    harp::{Harp, Technique, Tuning},
    import::{self, ImportOptions},
    melody::key,
    notation::{self, Keys, Tie},
    pages::Tune,
    search::{self, Request, Weights},
    sheet::{Options, Sheet, svg},
    time::Beats,
};

fn main() -> ExitCode {
    let mut files: Vec<String> = std::env::args().skip(1).collect();
    let mut harps = Harp::standard_set(&Tuning::richter());
    if files.first().is_some_and(|first| first == "--harp") && files.len() > 1 {
        match Harp::parse(&files[1], Tuning::built_in()) {
            Ok(harp) => harps = vec![harp],
            Err(error) => {
                eprintln!("{error}");
                return ExitCode::from(2);
            }
        }
        files.drain(..2);
    }
    for file in files {
        match told(&file, &harps) {
            Ok(told) => println!("{told}"),
            Err(error) => {
                eprintln!("{file}: {error}");
                return ExitCode::from(2);
            }
        }
    }
    ExitCode::SUCCESS
}

fn told(file: &str, harps: &[Harp]) -> Result<serde_json::Value, Box<dyn std::error::Error>> {
    let imported = import::import(&std::fs::read(file)?, &ImportOptions::default())?;
    let found = key::find(&imported.melody);
    let weights = Weights::default();
    let request = Request {
        melody: &imported.melody,
        key: found.key,
        harps,
        technique: Technique::All,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let ranking = search::search(&request);
    let approach = ranking.best().ok_or("no harp can play the tune")?;
    let tune = Tune { name: file, imported: &imported, key: &found };
    let sheet = Sheet::new(&tune, &request, approach, Options::default());
    let exact = |beats: Beats| {
        let (numerator, denominator) = beats.fraction();
        format!("{numerator}/{denominator}")
    };
    let written = notation::write(&approach.moved(&imported.melody.signed(found.key)), Keys::AtBars).bars;
    // A sheet begins and ends with a bar that has notes.
    let filled = |bar: &notation::Bar| bar.events.iter().any(|event| event.note.is_some());
    let first = written.iter().position(filled).unwrap_or(0);
    let last = written.iter().rposition(filled).unwrap_or(0);
    let bars: Vec<serde_json::Value> = (first..=last)
        .map(|index| {
            let bar = &imported.melody.bars[index];
            let events: Vec<serde_json::Value> = written[index]
                .events
                .iter()
                .map(|event| {
                    let note = event.note.as_ref();
                    let graces = note.iter().flat_map(|note| &note.graces);
                    serde_json::json!({
                        "at": exact(event.at), "length": exact(event.length), "halvings": event.value.halvings,
                        "dots": event.value.dots, "tuplet": event.tuplet.map(|tuplet| written[index].tuplets[tuplet]),
                        "tied": note.is_some_and(|note| note.tie == Tie::ToNext), "rest": note.is_none(),
                        "hidden": event.hidden, "whole": event.is_whole_bar, "value": event.value.name(),
                        "sign": note.and_then(|note| note.accidental), "beams": event.beams.iter().map(|beam| beam.name()).collect::<Vec<_>>(),
                        "graces": graces
                            .map(|grace| {
                                let beams: Vec<&str> = grace.beams.iter().map(|beam| beam.name()).collect();
                                serde_json::json!({ "value": grace.value.name(), "sign": grace.accidental, "beams": beams })
                            })
                            .collect::<Vec<_>>(),
                    })
                })
                .collect();
            serde_json::json!({ "number": bar.number, "length": exact(bar.length), "events": events })
        })
        .collect();
    let fastest = (0..20)
        .map(|_| {
            let start = std::time::Instant::now();
            let sheet = Sheet::new(&tune, &request, approach, Options::default());
            let bytes: usize = (0..sheet.pages.len()).map(|page| svg::document(&sheet, page).len()).sum();
            (start.elapsed().as_micros(), bytes)
        })
        .min();
    let (micros, bytes) = fastest.ok_or("no run")?;
    Ok(serde_json::json!({
        "micros": micros,
        "bytes": bytes,
        "file": file,
        "pages": sheet.pages.len(),
        "notes": imported.melody.notes.len(),
        "faults": geometry::faults(&sheet, approach),
        "bars": bars,
        "first": first,
        "musicxml": String::from_utf8(musicxml::write(&arrange(&imported.melody, found.key, approach, Default::default()), TabAs::Lyrics))?,
    }))
}
