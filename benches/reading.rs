//! Measures reading alone, for the checks in `tests/outside/` that compare it with other libraries: it starts no
//! process and uses only the library.
//!
//! ```text
//! cargo bench --bench reading -- times FILE...    from the bytes to the melody, the best of many: nanoseconds by file
//! cargo bench --bench reading -- notes FILE...    every note of every part, in quarters: a list of parts by file
//! ```
//!
//! Both commands answer with one JSON object on stdout.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a benchmark panics at its first failure")]

mod timing;

use std::{env, fs, hint::black_box};

use breathline::{
    import::{ImportOptions, Oddity, Part, Score, import, midi},
    time::Beats,
};
use serde_json::{Map, Value, json};

fn main() {
    // Cargo adds the argument `--bench`.
    let arguments: Vec<String> = env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let Some((what, files)) = arguments.split_first() else { return };
    let answers = files.iter().map(|file| {
        let bytes = fs::read(file).unwrap();
        let answer = if what == "times" { json!(best_time(&bytes)) } else { notes(&bytes) };
        (file.clone(), answer)
    });
    println!("{}", Value::Object(answers.collect::<Map<String, Value>>()));
}

/// Returns the shortest time from the bytes to the melody in nanoseconds, or `None` if the file has no melody.
fn best_time(bytes: &[u8]) -> Option<u64> {
    import(bytes, &ImportOptions::default()).ok()?;
    Some(timing::best_time(|| import(black_box(bytes), &ImportOptions::default())))
}

/// Returns the notes of each part as they are read, before they are reduced to one line, with flags for moved and for
/// lengthened notes; an error is returned as text.
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
