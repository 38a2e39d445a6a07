//! The answer that lists the tunes of a file.

use serde::Serialize;

use super::{SCHEMA, print};
use crate::import::TuneEntry;

/// Returns the list of a file's tunes.
pub fn tunes(tunes: &[TuneEntry]) -> String {
    let tunes = tunes.iter().map(|tune| Tune {
        tune: tune.choice().to_string(),
        number: tune.number,
        title: tune.title.as_deref(),
        key: tune.key.map(|key| key.to_string()),
    });
    print(&Tunes { schema: SCHEMA, tunes: tunes.collect() })
}

#[derive(Serialize)]
struct Tunes<'a> {
    schema: u32,
    tunes: Vec<Tune<'a>>,
}

#[derive(Serialize)]
struct Tune<'a> {
    /// The word that chooses the tune: its number, as in `12`, or `12-2` for the second tune with that number.
    tune: String,
    number: u32,
    title: Option<&'a str>,
    key: Option<String>,
}
