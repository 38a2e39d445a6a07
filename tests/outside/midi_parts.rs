//! For `check_midi.py`: reads the notes of each part of MIDI files (a track and a channel), before one part becomes the
//! melody.
//!
//!     midi_parts FILE...
//!
//! Prints one JSON object: the parts by file, or the error as text. Times are in quarters.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "run this program from its check")]

use breathline::{
    import::{Oddity, Part, Score, midi},
    time::Beats,
};
use serde_json::{Map, Value, json};

fn main() {
    let files = std::env::args().skip(1);
    let read = files.map(|file| {
        let parts = parts(&std::fs::read(&file).unwrap());
        (file, parts)
    });
    println!("{}", Value::Object(read.collect::<Map<String, Value>>()));
}

fn parts(bytes: &[u8]) -> Value {
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
