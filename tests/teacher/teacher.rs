//! A helper of `check_teacher.py`: would a teacher refuse the first row? Reads a line of JSON for each tune, `{"name":
//! "reel", "xml": "<score-partwise …"}`, and answers with a line for each. The line gives, for every built-in player,
//! the first row of `breathline suggest` with its defaults, the codes by which a teacher refuses it ([`refusal`]), and
//! the codes after each of three one-note edits.
//!
//!     teacher [PLAYERS] < TUNES
//!
//! With a folder that contains beginner.toml, improver.toml and advanced.toml, the players are read from there, so that
//! other weights can be tried.

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a program that prints its answer")]

mod heard;
mod refusal;

use std::{
    env,
    error::Error,
    fs,
    io::{BufRead, Write, stdin, stdout},
    process::ExitCode,
};

use breathline::{
    harp::{Harp, Technique, Tuning},
    import::{ImportOptions, import},
    melody::{Melody, key, tempo},
    pitch::Interval,
    search::{Approach, Player, Request, Wanted, search_for},
};
use serde_json::{Map, Value, json};

use heard::Heard;
use refusal::{Level, Row};

/// The number of one-note edits of each tune.
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
    let players = players(env::args().nth(1))?;
    let mut out = stdout().lock();
    for (number, line) in stdin().lock().lines().enumerate() {
        let tune: Value = serde_json::from_str(&line?)?;
        let name = tune["name"].as_str().unwrap_or_default();
        let xml = tune["xml"].as_str().unwrap_or_default();
        let melody =
            import(xml.as_bytes(), &ImportOptions::default()).map_err(|error| format!("{name}: {error}"))?;
        writeln!(out, "{}", answer(name, &melody.melody, &harps, &players, number as u64))?;
    }
    Ok(())
}

/// Returns the players of the levels, built in or from a folder.
fn players(folder: Option<String>) -> Result<Vec<(Level, Player)>, Box<dyn Error>> {
    let player = |level: Level| -> Result<Player, Box<dyn Error>> {
        match &folder {
            None => Ok(Player::find(level.word()).ok_or("a built-in player")?.clone()),
            Some(folder) => {
                Ok(Player::parse(&fs::read_to_string(format!("{folder}/{}.toml", level.word()))?)?)
            }
        }
    };
    Level::ALL.into_iter().map(|level| Ok((level, player(level)?))).collect()
}

fn answer(name: &str, melody: &Melody, harps: &[Harp], players: &[(Level, Player)], seed: u64) -> Value {
    let edited = edits(melody, seed);
    let levels: Map<String, Value> = players
        .iter()
        .map(|&(level, ref player)| {
            let asked = Asked::new(melody, harps, level, player);
            let edits: Vec<Vec<&str>> = edited
                .iter()
                .map(|edit| {
                    Asked::new(edit, harps, level, player).refusals.into_iter().map(|it| it.0).collect()
                })
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

/// A player's question, with all rows that a teacher may compare.
struct Asked {
    /// The rows in words, the first row first.
    said: Vec<String>,
    /// The codes, and the indices of the better rows.
    refusals: Vec<(&'static str, usize)>,
}

impl Asked {
    fn new(melody: &Melody, harps: &[Harp], level: Level, player: &Player) -> Asked {
        let mut melody = melody.clone();
        tempo::assume(&mut melody, player.tempo_percent);
        let melody = &melody;
        let heard = Heard::of(melody);
        let request = Request {
            melody,
            key: key::find(melody).key,
            harps,
            technique: player.technique,
            weights: &player.weights,
            any_key: false,
            pins: &[],
        };
        // The player's own answer comes first. A player who can bend may also avoid bends, so a teacher may choose each
        // harp with every technique that the player has.
        let mut approaches = search_for(&request, &Wanted::first(1)).approaches;
        for technique in Technique::ALL.into_iter().rev().filter(|&technique| technique <= player.technique) {
            let wanted = Wanted { every_note: true, ..Wanted::ALL };
            approaches.extend(search_for(&Request { technique, ..request.clone() }, &wanted).approaches);
        }
        let rows: Vec<Row> = approaches.iter().map(|approach| Row::of(approach, &heard)).collect();
        let said = approaches.iter().zip(&rows).map(|(approach, row)| in_words(approach, row)).collect();
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

/// Returns copies of the tune with one note a semitone higher; grace notes are left alone.
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

/// Gives the same numbers every time: splitmix64 (Steele, Lea and Flood 2014; constants from memory).
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
