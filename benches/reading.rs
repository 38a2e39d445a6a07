//! Times reading alone, for the checks in `tests/outside/`, which compare it with other programs' libraries. No start
//! of a process counts.
//!
//! ```text
//! cargo bench --bench reading -- times FILE...    from the bytes to the melody, the best of many: nanoseconds by file
//! cargo bench --bench reading -- notes FILE...    every note of every part, in quarters: a list of parts by file
//! ```
//!
//! Both answer with one JSON object on stdout.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a benchmark stops at its first failure")]

mod timing;

use std::{env, fs, hint::black_box};

use breathline::{
    import::{ImportOptions, Oddity, Part, Score, import, midi},
    time::Beats,
};
use serde_json::{Map, Value, json};

fn main() {
    // Cargo adds an argument of its own.
    let arguments: Vec<String> = env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let Some((what, files)) = arguments.split_first() else { return };
    let answers = files.iter().map(|file| {
        let bytes = fs::read(file).unwrap();
        let answer = if what == "times" { json!(best_time(&bytes)) } else { notes(&bytes) };
        (file.clone(), answer)
    });
    println!("{}", Value::Object(answers.collect::<Map<String, Value>>()));
}

/// `None` if there is no melody.
fn best_time(bytes: &[u8]) -> Option<u64> {
    import(bytes, &ImportOptions::default()).ok()?;
    Some(timing::best_time(|| import(black_box(bytes), &ImportOptions::default())))
}

/// Lists the notes of each part as read, before one line is made of them, and the notes that were moved; prints an
/// error as text.
fn notes(bytes: &[u8]) -> Value {
    let score = match midi::read(bytes, None) {
        Ok(score) => score,
        Err(error) => return json!(error.to_string()),
    };
    (1..).zip(&score.parts).map(|(number, part)| part_notes(&score, number, part)).collect()
}

fn part_notes(score: &Score, number: u16, part: &Part) -> Value {
    let says = |is: fn(&Oddity) -> bool| {
        score
            .warnings
            .iter()
            .any(|odd| is(&odd.oddity) && odd.place.is_some_and(|place| place.part == number))
    };
    let quarters = |beats: Beats| beats.as_f64();
    let note = |note: &breathline::melody::Note| {
        json!([quarters(note.onset), quarters(note.end()), note.pitch.midi()])
    };
    json!({
        "percussion": part.percussion,
        "moved": says(|oddity| matches!(oddity, Oddity::OffGrid { .. })),
        "lengthened": says(|oddity| matches!(oddity, Oddity::CutShort)),
        "notes": part.notes.iter().map(|of_part| note(&of_part.note)).collect::<Vec<Value>>(),
    })
}
