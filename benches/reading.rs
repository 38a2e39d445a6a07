//! Measures reading alone, from the bytes to the melody, for the check in `tests/outside/` that compares it with other
//! libraries: it starts no process and uses only the library.
//!
//! ```text
//! cargo bench --bench reading -- FILE...
//! ```
//!
//! Prints one JSON object: for each file the shortest time of many runs in nanoseconds, or null if the file has no
//! melody.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a benchmark panics at its first failure")]

mod timing;

use std::{env, fs, hint::black_box};

use breathline::import::{ImportOptions, import};
use serde_json::{Map, Value, json};

fn main() {
    // Cargo adds the argument `--bench`.
    let files = env::args().skip(1).filter(|argument| argument != "--bench");
    let times = files.map(|file| {
        let time = best_time(&fs::read(&file).unwrap());
        (file, json!(time))
    });
    println!("{}", Value::Object(times.collect::<Map<String, Value>>()));
}

/// Returns the shortest time from the bytes to the melody in nanoseconds, or `None` if the file has no melody.
fn best_time(bytes: &[u8]) -> Option<u64> {
    import(bytes, &ImportOptions::default()).ok()?;
    Some(timing::best_time(|| import(black_box(bytes), &ImportOptions::default())))
}
