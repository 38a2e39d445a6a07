//! For `fit_key.py` and `check_key.py`: counts the clues of many tunes and finds their keys, in one process.
//!
//! Reads a line of JSON for each tune, times in 20160ths of a quarter: `{"meter": [4, 4], "counted": false, "sharps":
//! 1, "bars": [[start, length, strain ends after it], …], "notes": [[onset, duration, MIDI number, bar], …]}`; `sharps`
//! may be null. It answers with a line for each tune: the length of the tune and of its first strain or half in bars,
//! the rows of shares of both, the possible pickups (if bars are only counted), and the key with its odds.
//!
//!     key_clues < TUNES

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the scripts read what this program prints")]

use std::{
    error::Error,
    io::{BufRead, BufWriter, Write, stdin, stdout},
    process::ExitCode,
};

use breathline::{
    melody::{
        Bar, KeySignature, Melody, Note,
        key::{self, Counts, View},
    },
    pitch::Pitch,
    time::{Beats, Meter},
};
use serde_json::{Value, json};

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
    let mut out = BufWriter::new(stdout().lock());
    for line in stdin().lock().lines() {
        let melody = melody(&serde_json::from_str(&line?)?).ok_or("a field of the tune is missing")?;
        writeln!(out, "{}", answer(&melody))?;
    }
    Ok(())
}

fn melody(tune: &Value) -> Option<Melody> {
    let list = |name: &str| tune[name].as_array();
    let time = |value: &Value| Some(Beats::new(value.as_i64()?, 20_160));
    let number = |value: &Value| value.as_u64();
    let meter = Meter { beats: number(&tune["meter"][0])? as u16, unit: number(&tune["meter"][1])? as u16 };
    let bars = list("bars")?.iter().map(|bar| {
        let mut read = Bar { length: time(&bar[1])?, ..Bar::full(1, time(&bar[0])?, meter) };
        read.marks.section_end = bar[2].as_bool()?;
        Some(read)
    });
    let notes = list("notes")?.iter().map(|note| {
        let pitch = Pitch::new(number(&note[2])? as u8)?;
        Some(Note::new(time(&note[0])?, time(&note[1])?, pitch, number(&note[3])? as usize))
    });
    let signature = |sharps| KeySignature { at: Beats::ZERO, sharps, mode: None };
    Some(Melody {
        notes: notes.collect::<Option<_>>()?,
        bars: bars.collect::<Option<_>>()?,
        counted_bars: tune["counted"].as_bool()?,
        signatures: tune["sharps"].as_i64().map(|sharps| signature(sharps as i8)).into_iter().collect(),
        ..Melody::default()
    })
}

fn answer(melody: &Melody) -> Value {
    let clues = key::clues(melody);
    let row = |view: &View| -> Vec<i64> { rows(&view.counts) };
    let pickups = if melody.counted_bars { key::pickups(melody) } else { Vec::new() };
    let pickups: Vec<Vec<i64>> = pickups
        .into_iter()
        .map(|(pickup, signs)| {
            let (above, below) = pickup.fraction();
            [above * 20_160 / below].into_iter().chain(signs).collect()
        })
        .collect();
    let found = key::find(melody);
    json!({
        "bars": [clues.whole.bars, clues.opening.map_or(0, |opening| opening.bars)],
        "halved": clues.halved,
        "whole": row(&clues.whole),
        "opening": clues.opening.as_ref().map(row),
        "pickups": pickups,
        "tonic": found.key.tonic.semitones(),
        "mode": found.key.mode.to_string(),
        "confidence": found.confidence,
        "tonic_confidence": found.tonic_confidence,
    })
}

fn rows(counts: &Counts) -> Vec<i64> {
    counts.iter().flatten().copied().collect()
}
