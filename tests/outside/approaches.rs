//! For `long_collections.py`: finds which of many tunes can be played, in one process. Reads a line of JSON for each
//! tune, `{"key": "D dorian", "xml": "<score-partwise …"}`, and answers with a line for each. The line tells, for each
//! of three techniques, whether the twelve standard harps play the tune in full, in which positions, and which position
//! wins for an improver; and in which positions a harp plays the tune unbent in some key.
//!
//!     approaches < TUNES

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the check reads what this program prints")]

use std::{
    error::Error,
    io::{BufRead, Write, stdin, stdout},
    process::ExitCode,
};

use breathline::{
    harp::{Harp, Technique, Tuning},
    import::{ImportOptions, import},
    melody::{Melody, key::Key, tempo},
    search::{Approach, Ranking, Request, Wanted, Weights, search_for},
};
use serde_json::{Value, json};

const TECHNIQUES: [Technique; 3] = [Technique::None, Technique::All, Technique::Over];

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}

fn run() -> Result<(), Box<dyn Error>> {
    let harps = Harp::standard_set(&Tuning::richter());
    let weights = Weights::default();
    let mut out = stdout().lock();
    for line in stdin().lock().lines() {
        let tune: Value = serde_json::from_str(&line?)?;
        let field = |name: &str| tune[name].as_str().unwrap_or_default().to_owned();
        let key: Key = field("key").parse()?;
        let mut melody = import(field("xml").as_bytes(), &ImportOptions::default())?.melody;
        tempo::assume(&mut melody, 100);
        writeln!(out, "{}", answer(&melody, key, &harps, &weights))?;
    }
    Ok(())
}

fn answer(melody: &Melody, key: Key, harps: &[Harp], weights: &Weights) -> Value {
    let request =
        |harps, technique, any_key| Request { melody, key, harps, technique, weights, any_key, pins: &[] };
    let every_note = Wanted { every_note: true, ..Wanted::ALL };
    let rankings = TECHNIQUES.map(|technique| search_for(&request(harps, technique, false), &every_note));
    // In any key, a single harp can play the tune in every position, so one harp represents all twelve.
    let unbent = search_for(&request(&harps[..1], Technique::None, true), &every_note);
    let winners = TECHNIQUES.map(|technique| {
        let first = search_for(&request(harps, technique, false), &Wanted::first(1));
        first.best().map(|best| best.position.number())
    });
    json!({
        "written": rankings.each_ref().map(|ranking| is_played(ranking, |row| row.octave == 0)),
        "octave": rankings.each_ref().map(|ranking| is_played(ranking, |row| row.octave.abs() <= 1)),
        "positions": rankings.each_ref().map(positions),
        "unbent_in_any_key": positions(&unbent),
        "winners": winners,
    })
}

fn is_played(ranking: &Ranking, which: impl Fn(&Approach) -> bool) -> bool {
    ranking.approaches.iter().any(|row| row.counts.is_full() && which(row))
}

/// Returns the positions in which the whole tune can be played in some octave.
fn positions(ranking: &Ranking) -> Vec<u8> {
    let full = ranking.approaches.iter().filter(|row| row.counts.is_full());
    let mut positions: Vec<u8> = full.map(|row| row.position.number()).collect();
    positions.sort_unstable();
    positions.dedup();
    positions
}
