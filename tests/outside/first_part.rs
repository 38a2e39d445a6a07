//! For `check_musicxml_suite.py`: reads the notes of a MusicXML file's first part, before the choice of a voice for the
//! melody. Prints `{"notes": [{"onset": quarters, "midi": number, "grace": bool}, …]}`, or prints the error and exits
//! with 2.
//!
//!     first_part FILE

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the check reads what this program prints")]

use std::process::ExitCode;

use breathline::import::{musicxml, mxl};

fn main() -> ExitCode {
    let Some(path) = std::env::args_os().nth(1) else {
        eprintln!("first_part FILE");
        return ExitCode::from(2);
    };
    let bytes = match std::fs::read(&path) {
        Ok(bytes) => bytes,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::from(2);
        }
    };
    let score = if bytes.starts_with(b"PK") {
        mxl::unpack(&bytes).and_then(|xml| musicxml::read(&xml))
    } else {
        musicxml::read(&bytes)
    };
    let score = match score {
        Ok(score) => score,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::from(2);
        }
    };
    let notes: Vec<serde_json::Value> = score
        .parts
        .first()
        .map_or(&[][..], |part| &part.notes)
        .iter()
        .map(|part_note| {
            let note = &part_note.note;
            serde_json::json!({"onset": note.onset.as_f64(), "midi": note.pitch.midi(), "grace": note.grace})
        })
        .collect();
    println!("{}", serde_json::json!({ "notes": notes }));
    ExitCode::SUCCESS
}
