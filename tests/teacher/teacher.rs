//! For `check_teacher.py`: would a teacher refuse the first row? Reads a line of JSON for each tune, `{"name": "reel", "xml":
//! "<score-partwise …"}`, and answers with a line for each: for every built-in player the first row of `breathline suggest`
//! with its defaults, the codes by which it is refused ([`refusal`]), and the codes after each of three one-note edits.
//!
//!     teacher < TUNES

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a program for a check")]

mod heard;
mod refusal;

use std::{
    error::Error,
    io::{BufRead, Write, stdin, stdout},
    process::ExitCode,
};

use breathline::{
    harp::{Harp, Technique, Tuning},
    import::{ImportOptions, import},
    melody::{Melody, key, tempo},
    pitch::Interval,
    search::{Approach, Player, Ranking, Request, search},
};
use serde_json::{Map, Value, json};

use heard::Heard;
use refusal::{Level, Row};

/// One-note edits of each tune.
const EDITS: usize = 3;

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
    let mut out = stdout().lock();
    for (number, line) in stdin().lock().lines().enumerate() {
        let tune: Value = serde_json::from_str(&line?)?;
        let name = tune["name"].as_str().unwrap_or_default();
        let xml = tune["xml"].as_str().unwrap_or_default();
        let melody =
            import(xml.as_bytes(), &ImportOptions::default()).map_err(|error| format!("{name}: {error}"))?;
        writeln!(out, "{}", answer(name, &melody.melody, &harps, number as u64))?;
    }
    Ok(())
}

fn answer(name: &str, melody: &Melody, harps: &[Harp], seed: u64) -> Value {
    let edited = edits(melody, seed);
    let levels: Map<String, Value> = Level::ALL
        .into_iter()
        .map(|level| {
            let asked = Asked::new(melody, harps, level);
            let edits: Vec<Vec<&str>> = edited
                .iter()
                .map(|edit| Asked::new(edit, harps, level).refusals.into_iter().map(|it| it.0).collect())
                .collect();
            let refusals: Vec<Value> = asked
                .refusals
                .iter()
                .map(|(code, rather)| json!({"code": code, "rather": asked.said(*rather)}))
                .collect();
            (level.word().to_owned(), json!({"first": asked.said(0), "refusals": refusals, "edits": edits}))
        })
        .collect();
    json!({"name": name, "key": key::find(melody).key.to_string(), "notes": melody.notes.len(), "levels": levels})
}

/// A question that a player asked, with all rows that a teacher may compare.
struct Asked {
    /// In words, the first row first.
    said: Vec<String>,
    /// Codes, and the indices of the rows that are better.
    refusals: Vec<(&'static str, usize)>,
}

impl Asked {
    fn new(melody: &Melody, harps: &[Harp], level: Level) -> Asked {
        let player = Player::find(level.word()).expect("a built-in player");
        let mut melody = melody.clone();
        tempo::assume(&mut melody, player.tempo_percent);
        let melody = &melody;
        let heard = Heard::of(melody);
        let key = key::find(melody).key;
        let (mut said, mut rows) = (Vec::new(), Vec::new());
        // The player's own rows come first. Who can bend can also leave bends alone: rows played with fewer techniques are rows
        // that a teacher may choose.
        let fewer = Technique::ALL.into_iter().rev().filter(|&technique| technique <= player.technique);
        for technique in fewer {
            let request = Request { melody, key, harps, technique, weights: &player.weights, any_key: false };
            let Ranking { approaches, .. } = search(&request);
            for approach in approaches {
                let row = Row::of(&approach, &heard);
                said.push(in_words(&approach, &row));
                rows.push(row);
            }
        }
        let refusals = match rows.split_first() {
            Some((first, others)) => refusal::refusals(first, others, level),
            None => Vec::new(),
        };
        let refusals = refusals.into_iter().map(|(code, other)| (code, other + 1)).collect();
        Asked { said, refusals }
    }

    fn said(&self, row: usize) -> &str {
        self.said.get(row).map_or("nothing can be played", String::as_str)
    }
}

fn in_words(approach: &Approach, row: &Row) -> String {
    let Row { position, sounded, bent, blow_bends, overbends, high, missing, lost, .. } = row;
    let mut said = format!("{} pos {position} oct {:+}: {sounded} sounded", approach.harp, approach.octave);
    for (count, what) in [
        (bent, "bent"),
        (blow_bends, "blow bends"),
        (overbends, "overbends"),
        (high, "high"),
        (missing, "missing"),
    ] {
        if *count > 0 {
            said += &format!(", {count} {what}");
        }
    }
    if *lost > 0 {
        said += &format!(" ({}.{:02} % of the weight)", lost / 100, lost % 100);
    }
    said + &format!(", effort {}", approach.playing.effort.total())
}

/// The tune with one note a semitone higher, a few times; grace notes are left alone.
fn edits(melody: &Melody, seed: u64) -> Vec<Melody> {
    let main: Vec<usize> = (0..melody.notes.len()).filter(|&note| !melody.notes[note].grace).collect();
    let mut random = Random(seed);
    let mut edits = Vec::new();
    while edits.len() < EDITS && !main.is_empty() {
        let mut edit = melody.clone();
        let note = &mut edit.notes[main[random.below(main.len())]];
        let Some(higher) = note.pitch.transposed(Interval(1)) else { continue };
        note.pitch = higher;
        note.spelling = note.spelling.map(|mut spelling| {
            spelling.alter += 1;
            spelling
        });
        edits.push(edit);
    }
    edits
}

/// The same numbers every time: splitmix64 (Steele, Lea and Flood 2014; constants from memory).
struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((mixed ^ (mixed >> 31)) % limit as u64) as usize
    }
}
