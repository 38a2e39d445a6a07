//! The chords that a harp can play, and the chords of a tune with their holes, over the tab and in a list.

use itertools::Itertools;

use super::{Block, Column, Line, Page, Table, Tone, tab::TabChord, words};
use crate::{
    compare::choice::{self, TuneChord},
    harp::{
        Breath, Harp,
        chord::{self, Grip, Name, Offer},
    },
    melody::Melody,
    search::{Approach, Request},
};

/// Builds the page of `breathline harp --chords`.
pub fn page(harp: &Harp) -> Page {
    let mut page = Page::default();
    page.text(Tone::Strong.of(format!("Chords of the {}", words::harp(harp))));
    page.text(
        "A chord is holes next to each other, in one breath. If its lowest note is not the root, a / and that note \
         follow the name, as in C/E.",
    );
    let neighbours = chord::neighbours(harp);
    let chords = |grip: &&Grip| matches!(grip.name(), Name::Chord { .. });
    page.gap();
    page.blocks.push(Block::Table(table(harp, neighbours.iter().filter(chords))));
    page.heading(Tone::Strong.of("Two notes next to each other"));
    page.blocks.push(Block::Table(table(harp, neighbours.iter().filter(|grip| grip.pitches.len() == 2))));
    page.heading(Tone::Strong.of("Splits: the tongue blocks the holes between two notes"));
    page.blocks.push(Block::Table(table(harp, chord::splits(harp).iter())));
    page
}

/// Returns a table of grips: name, breath, holes and notes.
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

/// Returns "G7", "C/E", "minor third" or "octave".
pub(crate) fn name(grip: &Grip) -> String {
    match grip.name() {
        Name::Chord { root, quality, bass } => {
            format!("{root}{quality}{}", bass.map_or(String::new(), |bass| format!("/{bass}")))
        }
        Name::Interval(semitones) => interval(semitones),
        Name::Other => "no chord with a name".to_owned(),
    }
}

/// Returns the interval of two notes, as in "major tenth". The name of six semitones depends on the spelling, so the
/// interval is called a tritone; with an octave more, "octave and a tritone".
fn interval(semitones: u8) -> String {
    const NUMBERS: [&str; 16] = [
        "unison",
        "second",
        "third",
        "fourth",
        "fifth",
        "sixth",
        "seventh",
        "octave",
        "ninth",
        "tenth",
        "eleventh",
        "twelfth",
        "thirteenth",
        "fourteenth",
        "double octave",
        "sixteenth",
    ];
    // The quality of each interval smaller than an octave, and its index in `NUMBERS`, by semitones.
    const WITHIN: [(&str, usize); 12] = [
        ("", 0),
        ("minor ", 1),
        ("major ", 1),
        ("minor ", 2),
        ("major ", 2),
        ("", 3),
        ("tritone", 3),
        ("", 4),
        ("minor ", 5),
        ("major ", 5),
        ("minor ", 6),
        ("major ", 6),
    ];
    let octaves = usize::from(semitones / 12);
    match WITHIN[usize::from(semitones % 12)] {
        ("tritone", _) if octaves == 0 => "tritone".to_owned(),
        ("tritone", _) if octaves == 1 => "octave and a tritone".to_owned(),
        ("tritone", _) => format!("{} octaves and a tritone", words::number(octaves as u32)),
        (quality, number) => match NUMBERS.get(number + 7 * octaves) {
            Some(name) => format!("{quality}{name}"),
            None => format!("{semitones} half steps"),
        },
    }
}

/// Returns the chords of a tune's symbols as the harp of a row can play them, each chord once, in order of appearance.
/// A tune without chord symbols gives an empty list.
pub(super) fn of(request: &Request, row: &Approach) -> Vec<TuneChord> {
    if !request.melody.has_chords() {
        return Vec::new();
    }
    choice::tune_chords(request.melody, request.key, row.harp, row.transposed)
}

/// Returns the chords over the tab, one for each symbol of the tune, in order; none if `chords` is empty. `N.C.` is
/// kept, because it ends the chord before it.
pub(super) fn over_the_tab(melody: &Melody, chords: &[TuneChord]) -> Vec<TabChord> {
    let over = melody.chords.iter().enumerate().map(|(symbol, written)| {
        let chord = chords.iter().find(|chord| chord.at.contains(&symbol));
        TabChord {
            at: written.at,
            token: chord.map_or_else(|| written.to_string(), token),
            tone: match chord.map(|chord| &chord.offer) {
                Some(Offer::Whole(_)) => Tone::Strong,
                Some(Offer::Part(_)) => Tone::Plain,
                Some(Offer::Nothing) | None => Tone::Faint,
            },
        }
    });
    if chords.is_empty() { Vec::new() } else { over.collect() }
}

/// Returns "G" for a chord that the harp plays in one breath, "(Em)" for a chord that it plays in part, and "{D}" for
/// any other chord.
fn token(chord: &TuneChord) -> String {
    match chord.offer {
        Offer::Whole(_) => chord.name.clone(),
        Offer::Part(_) => format!("({})", chord.name),
        Offer::Nothing => format!("{{{}}}", chord.name),
    }
}

/// Explains the signs of the chords over the tab, with the first chord of each kind as the example; `None` without
/// chords.
pub(super) fn legend(chords: &[TuneChord]) -> Option<Line> {
    let meaning = |chord: &TuneChord| match chord.offer {
        Offer::Whole(_) => "playable in one breath",
        Offer::Part(_) => "playable in part",
        Offer::Nothing => "not playable in one breath",
    };
    let rank = |chord: &&TuneChord| match chord.offer {
        Offer::Whole(_) => 0,
        Offer::Part(_) => 1,
        Offer::Nothing => 2,
    };
    let firsts = chords.iter().unique_by(rank).sorted_by_key(rank);
    let meanings = firsts.map(|chord| format!("{} = {}", token(chord), meaning(chord))).join(", ");
    (!meanings.is_empty()).then(|| {
        Line::from(format!(
            "The chords are written over the notes, and each lasts until the next. {meanings}. Their holes are below."
        ))
    })
}

/// Returns a line for each chord of a tune: the holes that play it, and its bars.
pub(super) fn lines(melody: &Melody, chords: &[TuneChord]) -> Vec<String> {
    let lines = chords.iter().map(|chord| {
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
                let lacks = words::list(&chord.lacks.iter().map(ToString::to_string).collect::<Vec<_>>());
                format!("{}: in part, {} {}, without {lacks} ({bars})", chord.name, grip.breath, grip.holes())
            }
            Offer::Nothing => format!("{}: not in one breath ({bars})", chord.name),
        }
    });
    lines.collect()
}

#[cfg(test)]
mod tests {
    use super::interval;

    /// The names of intervals; that of six half steps depends on the spelling, so they are a tritone. From memory.
    #[test]
    fn intervals_have_their_names_in_every_octave() {
        let named = [0, 3, 6, 7, 12, 16, 18, 24, 30, 36].map(interval);
        let expected = [
            "unison",
            "minor third",
            "tritone",
            "fifth",
            "octave",
            "major tenth",
            "octave and a tritone",
            "double octave",
            "two octaves and a tritone",
            "36 half steps",
        ];
        assert_eq!(named, expected);
    }
}
