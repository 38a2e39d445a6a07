//! Writes the text about the changes that make a tune playable.

use std::collections::BTreeMap;

use super::words;
use crate::{
    melody::Melody,
    search::{
        Approach, Change,
        adapt::{Fit, Why},
    },
};

/// Returns a line for each run of notes that move by the same number of octaves, then a line for each other change;
/// equal changes share a line.
pub(super) fn lines(melody: &Melody, approach: &Approach) -> Vec<String> {
    let moved = approach.changes.chunk_by(|a, b| a.octave == b.octave && a.note + 1 == b.note);
    let mut lines: Vec<String> =
        moved.filter(|run| run[0].octave != 0).map(|run| moved_run(melody, run)).collect();
    let mut alike: Vec<(String, Vec<String>)> = Vec::new();
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    for change in &approach.changes {
        let Some(what) = what(melody, approach, change) else { continue };
        let index = *known.entry(what.clone()).or_insert(alike.len());
        if index == alike.len() {
            alike.push((what, Vec::new()));
        }
        alike[index].1.push(place(melody, change.note));
    }
    lines.extend(alike.into_iter().map(|(what, places)| format!("{what}: {}", words::list(&places))));
    lines
}

/// Returns "an octave up: bar 5 beat 1 to bar 8 beat 3, nine notes".
fn moved_run(melody: &Melody, run: &[Change]) -> String {
    let places = [run[0], run[run.len() - 1]].map(|change| place(melody, change.note));
    format!(
        "{}: {} to {}, {}",
        words::octave(run[0].octave),
        places[0],
        places[1],
        words::plural(run.len() as u32, "note", "notes")
    )
}

/// Returns "E5, a note of the key, instead of F#5" or "without the grace note D5"; `None` for a note that only moves
/// with its phrase.
fn what(melody: &Melody, approach: &Approach, change: &Change) -> Option<String> {
    let from = from(melody, approach, change);
    Some(match change.why {
        Why::Moved => return None,
        Why::Replaced(fit) => {
            let to = to(melody, approach, change).unwrap_or_default();
            format!("{to}, {}, instead of {from}", fits(melody, approach, change, fit))
        }
        Why::Grace => format!("without the grace note {from}"),
        Why::Ornament => format!("without {from}, an ornament"),
    })
}

/// Returns why a note was changed: "cannot be sounded; a note of the key instead".
pub(crate) fn why(melody: &Melody, approach: &Approach, change: &Change) -> String {
    match change.why {
        Why::Moved => {
            let octave = words::octave(change.octave);
            format!("moved with its phrase, {octave}, where the harp has more notes of the phrase")
        }
        Why::Replaced(fit) => {
            let fits = fits(melody, approach, change, fit);
            format!("cannot be sounded; {fits} instead")
        }
        Why::Grace => "a grace note that cannot be sounded".to_owned(),
        Why::Ornament => "a note of an ornament that cannot be sounded".to_owned(),
    }
}

/// Returns "a note of the chord D7", with the chord named in the key in which the tune is played.
fn fits(melody: &Melody, approach: &Approach, change: &Change, fit: Fit) -> String {
    let chord = melody.chord_at(melody.notes[change.note].onset);
    match (fit, chord) {
        (Fit::Chord, Some(chord)) => {
            format!("a note of the chord {}", melody.moved_chord(chord, approach.transposed))
        }
        (Fit::Chord, None) => "a note of the chord".to_owned(),
        (Fit::Key, _) => "a note of the key".to_owned(),
    }
}

/// Returns the name of the note that the approach would sound if the tune were not changed.
pub(crate) fn from(melody: &Melody, approach: &Approach, change: &Change) -> String {
    approach.wanted_name(melody, &melody.notes[change.note])
}

/// Returns the name of the note that sounds after the change, if any.
pub(crate) fn to(melody: &Melody, approach: &Approach, change: &Change) -> Option<String> {
    approach.sounding(melody, change.note).map(|name| name.to_string())
}

/// Returns "bar 3 beat 2 1/2", or "the pickup".
pub(super) fn place(melody: &Melody, note: usize) -> String {
    let place = melody.place(note, 1);
    match place.bar {
        0 => "the pickup".to_owned(),
        bar => format!("bar {bar} beat {}", place.beat.rounded()),
    }
}
