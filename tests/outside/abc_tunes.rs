//! For `check_abc.py` and `long_abc.py`: reads every tune of the files, before the choice of a voice. Prints a line of
//! JSON for each tune: `{"file": number, "tune": number, "written": [[onset, duration, midi], …], "played": […],
//! "warnings": […]}`, without grace notes; `played` is the melody in the order of performance. With `--best`, it finds
//! the best row of each tune instead, on all cores, and prints the numbers of tunes and of best rows, and the seconds.
//! A file or a tune that cannot be read has an `error` instead of its notes; if only `played` fails, it is the error.
//!
//!     abc_tunes [--best] FILE…

#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the check reads what this program prints")]

use std::{
    process::ExitCode,
    sync::atomic::{AtomicUsize, Ordering},
    thread,
    time::Instant,
};

use breathline::{
    harp::{Harp, Technique, Tuning},
    import::{Book, ImportOptions},
    melody::{Note, key},
    search::{self, Request, Wanted, Weights},
};
use serde_json::{Value, json};

fn main() -> ExitCode {
    let mut paths: Vec<_> = std::env::args_os().skip(1).collect();
    let best = paths.first().is_some_and(|path| path == "--best");
    let files: Vec<Vec<u8>> =
        paths.drain(usize::from(best)..).map(|path| std::fs::read(path).unwrap_or_default()).collect();
    if best {
        let start = Instant::now();
        let next = AtomicUsize::new(0);
        let (tunes, rows) = (AtomicUsize::new(0), AtomicUsize::new(0));
        thread::scope(|scope| {
            for _ in 0..thread::available_parallelism().map_or(2, usize::from) {
                scope.spawn(|| {
                    while let Some(bytes) = files.get(next.fetch_add(1, Ordering::Relaxed)) {
                        let (read, found) = best_rows(bytes);
                        tunes.fetch_add(read, Ordering::Relaxed);
                        rows.fetch_add(found, Ordering::Relaxed);
                    }
                });
            }
        });
        let seconds = start.elapsed().as_secs_f64();
        println!("{}", json!({"tunes": tunes.into_inner(), "rows": rows.into_inner(), "seconds": seconds}));
        return ExitCode::SUCCESS;
    }
    for (file, bytes) in files.iter().enumerate() {
        let book = match Book::open(bytes) {
            Ok(book) => book,
            Err(error) => {
                println!("{}", json!({"file": file, "error": error.to_string()}));
                continue;
            }
        };
        for index in 0..book.tunes().len() {
            println!("{}", tune(&book, file, index));
        }
    }
    ExitCode::SUCCESS
}

fn tune(book: &Book, file: usize, index: usize) -> Value {
    let number = book.tunes()[index].number;
    let score = match book.score(index, false) {
        Ok(score) => score,
        Err(error) => return json!({"file": file, "tune": number, "error": error.to_string()}),
    };
    let mut written: Vec<Note> =
        score.parts.iter().flat_map(|part| &part.notes).map(|note| note.note.clone()).collect();
    written.sort_by_key(|note| (note.onset, note.pitch));
    let played = book.read(index, &ImportOptions { unfold: true, ..ImportOptions::default() });
    let played = match &played {
        Ok(played) => list(&played.melody.notes),
        Err(error) => json!(error.to_string()),
    };
    let warnings: Vec<String> = score
        .warnings
        .iter()
        .map(|warning| {
            let place = warning.text.map(|place| format!(" {place}")).unwrap_or_default();
            format!("{:?}{place}", warning.oddity)
        })
        .collect();
    json!({"file": file, "tune": number, "written": list(&written), "played": played, "warnings": warnings})
}

fn list(notes: &[Note]) -> Value {
    let notes = notes.iter().filter(|note| !note.grace);
    notes.map(|note| json!([note.onset.as_f64(), note.duration.as_f64(), note.pitch.midi()])).collect()
}

/// Returns the number of tunes in a file, and the number of those that have a best row on the twelve standard harps.
fn best_rows(bytes: &[u8]) -> (usize, usize) {
    let Ok(book) = Book::open(bytes) else { return (0, 0) };
    let (harps, weights) = (Harp::standard_set(&Tuning::richter()), Weights::default());
    let found = (0..book.tunes().len()).filter(|&index| {
        let Ok(read) = book.read(index, &ImportOptions::default()) else { return false };
        let key = key::find(&read.melody).key;
        let request = Request {
            melody: &read.melody,
            key,
            harps: &harps,
            technique: Technique::All,
            weights: &weights,
            any_key: false,
            pins: &[],
        };
        search::search_for(&request, &Wanted::first(1)).best().is_some()
    });
    (book.tunes().len(), found.count())
}
