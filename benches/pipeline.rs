//! Measures how long each stage takes, and the whole job: `cargo bench`.
//!
//! Compare only stages of the same run, because absolute times differ from machine to machine.

#![allow(clippy::unwrap_used, reason = "a benchmark panics at its first failure")]

#[cfg(feature = "sheet")]
use breathline::sheet::{Options, Sheet, svg};
use breathline::{
    harp::{Harp, Technique, Tuning},
    import::{self, ImportOptions},
    melody::{Melody, key},
    pages::{Tune, suggest},
    render::text,
    search::{self, Request, Style, Weights},
    tab::Notation,
};
use divan::{Bencher, black_box};

fn main() {
    divan::main();
}

const MUSICXML: &[u8] = include_bytes!("../corpus/irish-washerwoman.musicxml");
#[cfg(feature = "sheet")]
const SHEET: &[u8] = include_bytes!("../corpus/two-jigs.musicxml");
const MIDI: &[u8] = include_bytes!("../corpus/irish-washerwoman.mid");

fn melody() -> Melody {
    import::import(MUSICXML, &ImportOptions::default()).unwrap().melody
}

#[divan::bench(args = ["musicxml", "midi"])]
fn read(bencher: Bencher, format: &str) {
    let bytes = if format == "midi" { MIDI } else { MUSICXML };
    bencher.bench(|| import::import(black_box(bytes), &ImportOptions::default()).unwrap());
}

#[divan::bench]
fn find_the_key(bencher: Bencher) {
    let melody = melody();
    bencher.bench(|| key::find(black_box(&melody)));
}

#[divan::bench(args = ["key fixed", "any key"])]
fn search_twelve_harps(bencher: Bencher, scope: &str) {
    let melody = melody();
    let harps = Harp::standard_set(&Tuning::richter());
    let weights = Weights::default();
    let request = Request {
        melody: &melody,
        key: key::find(&melody).key,
        harps: &harps,
        technique: Technique::All,
        weights: &weights,
        any_key: scope == "any key",
        pins: &[],
    };
    bencher.bench(|| search::search(black_box(&request)));
}

/// Draws all pages of a sheet of at least 32 bars as SVG.
#[cfg(feature = "sheet")]
#[divan::bench]
fn draw_a_sheet(bencher: Bencher) {
    let imported = import::import(SHEET, &ImportOptions::default()).unwrap();
    assert!(imported.melody.bars.len() >= 32);
    let found = key::find(&imported.melody);
    let harps = Harp::standard_set(&Tuning::richter());
    let weights = Weights::default();
    let request = Request {
        melody: &imported.melody,
        key: found.key,
        harps: &harps,
        technique: Technique::All,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let ranking = search::search(&request);
    let best = ranking.best().unwrap();
    let tune = Tune { name: "tune", imported: &imported, key: &found };
    bencher.bench(|| {
        let sheet = Sheet::new(black_box(&tune), &request, best, Options::default());
        (0..sheet.pages.len()).map(|page| svg::document(&sheet, page).len()).sum::<usize>()
    });
}

#[divan::bench]
fn from_bytes_to_text(bencher: Bencher) {
    bencher.bench(|| {
        let imported = import::import(black_box(MUSICXML), &ImportOptions::default()).unwrap();
        let key = key::find(&imported.melody);
        let harps = Harp::standard_set(&Tuning::richter());
        let weights = Weights::default();
        let request = Request {
            melody: &imported.melody,
            key: key.key,
            harps: &harps,
            technique: Technique::All,
            weights: &weights,
            any_key: false,
            pins: &[],
        };
        let ranking = search::search(&request);
        let tune = Tune { name: "tune", imported: &imported, key: &key };
        let options = suggest::Options {
            ranking: Some(5),
            why: true,
            tempo_range: false,
            style: Style::Plain,
            notation: Notation::default(),
        };
        text::render(
            &suggest::page(&tune, &request, &ranking, options),
            text::Look { width: 80, colour: false },
        )
    });
}
