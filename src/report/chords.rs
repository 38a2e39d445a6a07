//! The chords and intervals of a harp, and where a tune's chords are on it.

use itertools::Itertools;

use super::{Block, Column, Line, Page, Table, Tone, words};
use crate::{
    compare::choice,
    harp::{
        Breath, Harp,
        chord::{self, Grip, Name, Offer},
    },
    melody::Melody,
    search::{Approach, Request},
};

/// The page of `breathline harp --chords`.
pub fn page(harp: &Harp) -> Page {
    let mut page = Page::default();
    page.text(Tone::Strong.of(format!("Chords of the {}", words::harp(harp))));
    page.text("Holes next to each other in one breath; the lowest note is named after a / where it is not the root.");
    let neighbours = chord::neighbours(harp);
    let chords = |grip: &&Grip| matches!(grip.name(), Name::Chord { .. });
    page.gap();
    page.blocks.push(Block::Table(table(harp, neighbours.iter().filter(chords))));
    page.heading(Tone::Strong.of("Two notes next to each other"));
    page.blocks.push(Block::Table(table(harp, neighbours.iter().filter(|grip| grip.pitches.len() == 2))));
    page.heading(Tone::Strong.of("Splits: the tongue blocks the holes between the two"));
    page.blocks.push(Block::Table(table(harp, chord::splits(harp).iter())));
    page
}

/// Grips of one kind: the name, then where it is blown and drawn.
fn table<'a>(harp: &Harp, grips: impl Iterator<Item = &'a Grip>) -> Table {
    let columns = vec![
        Column::words("name"),
        Column::words("breath"),
        Column::words("holes"),
        Column::words("notes").spare(1),
    ];
    let mut table = Table { columns, rows: Vec::new() };
    for grip in grips {
        let tone = if grip.breath == Breath::Blow { Tone::Blow } else { Tone::Draw };
        let notes = grip.pitches.iter().map(|&pitch| super::harp::name(harp, pitch)).join(" ");
        table.rows.push(vec![
            Line::from(name(grip)),
            Line::from(grip.breath.to_string()),
            tone.of(grip.holes()),
            Line::from(notes),
        ]);
    }
    table
}

/// "G7", "C/E", "minor third", "octave".
pub(super) fn name(grip: &Grip) -> String {
    match grip.name() {
        Name::Chord { root, quality, bass } => {
            format!("{root}{quality}{}", bass.map_or(String::new(), |bass| format!("/{bass}")))
        }
        Name::Interval(semitones) => interval(semitones, grip).to_owned(),
        Name::Other => "no chord with a name".to_owned(),
    }
}

/// Two notes; wider than an octave they are named by the interval within it, as a tenth is a third.
fn interval(semitones: u8, grip: &Grip) -> &'static str {
    const NAMES: [&str; 13] = [
        "unison",
        "minor second",
        "major second",
        "minor third",
        "major third",
        "fourth",
        "tritone",
        "fifth",
        "minor sixth",
        "major sixth",
        "minor seventh",
        "major seventh",
        "octave",
    ];
    let same = grip.pitches.iter().all_equal();
    if same { NAMES[0] } else { NAMES[usize::from(semitones).min(12)] }
}

/// Where the chord symbols of a tune can be played on the harp of a row: one line each, in order of appearance, with the
/// bars. Nothing for a tune without symbols.
pub fn lines(request: &Request, row: &Approach) -> Vec<String> {
    let melody: &Melody = request.melody;
    if melody.chords.is_empty() {
        return Vec::new();
    }
    let found = choice::tune_chords(melody, request.key, row.harp, row.transposed);
    found
        .iter()
        .map(|chord| {
            let mut bars: Vec<u32> = chord
                .at
                .iter()
                .filter_map(|&symbol| {
                    let at = melody.chords[symbol].at;
                    let bar = melody.bars.partition_point(|bar| bar.start <= at).checked_sub(1)?;
                    Some(melody.bars[bar].number)
                })
                .collect();
            bars.sort_unstable();
            bars.dedup();
            let bars = words::bar_numbers(&bars);
            match &chord.offer {
                Offer::Whole(grip) => format!("{}: {} {} ({bars})", chord.name, grip.breath, grip.holes()),
                Offer::Part(grip) => {
                    format!("{}: in part, {} {} ({bars})", chord.name, grip.breath, grip.holes())
                }
                Offer::Nothing => format!("{}: not in one breath ({bars})", chord.name),
            }
        })
        .collect()
}
