//! Finds the best harp for a file and its tab, with the library alone.
//!
//!     cargo run --example best_harp -- corpus/amazing-grace.musicxml

#![allow(clippy::print_stdout, reason = "an example shows its answer")]

use std::error::Error;

use breathline::{
    harp::{Harp, Technique, Tuning},
    import::{self, ImportOptions},
    melody::key,
    search::{self, Request, Term, Weights},
    tab::Notation,
};

fn main() -> Result<(), Box<dyn Error>> {
    let file = std::env::args().nth(1).unwrap_or_else(|| "corpus/amazing-grace.musicxml".to_owned());
    let imported = import::import(&std::fs::read(file)?, &ImportOptions::default())?;
    let found = key::find(&imported.melody);
    let harps = Harp::standard_set(&Tuning::richter());
    let weights = Weights::default();
    let ranking = search::search(&Request {
        melody: &imported.melody,
        key: found.key,
        harps: &harps,
        technique: Technique::Draw,
        weights: &weights,
        any_key: false,
        pins: &[],
    });
    let best = ranking.best().ok_or("no harp can play the tune")?;
    let effort = best.playing.effort;
    println!("{} harp, {} position", best.harp, best.position);
    println!("effort {}, of which bends {}", effort.total(), effort[Term::Bends]);
    let notes = best.playing.notes.iter();
    let tab: Vec<String> = notes
        .map(|note| note.action.map_or("(missing)".to_owned(), |action| Notation::default().write(action)))
        .collect();
    println!("{}", tab.join(" "));
    Ok(())
}
