//! Measures how much a part looks like a melody.
//!
//! Each [`Fact`] is a measured property with its points; the part with the highest sum wins. The literature on melody
//! finders measures the same properties (Rizo, Ponce de León, Pérez-Sancho, Pertusa and Iñesta, ISMIR 2006: monophony,
//! pitch, share of notes and of time, intervals). The share of time on top is from the top line of Uitdenbogerd and
//! Zobel (ACM Multimedia 1998). The points are our own, chosen so that the tune wins in generated band scores.

use std::cmp::{Ordering, Reverse};

use super::{
    super::{Part, PartNote},
    names::{Role, instrument_role, role},
    sweep,
};
use crate::melody::Note;

/// The evidence for and against taking one part as the melody.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Evidence {
    /// The part's number, counted from 1.
    pub part: usize,
    /// The clues, always in the same order; clues about a name or words only if the part has them.
    pub clues: Vec<Clue>,
}

/// A fact about a part and its points.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Clue {
    /// The fact.
    pub fact: Fact,
    /// The points; negative if the fact speaks against the part.
    pub points: i32,
}

/// A fact about a part. Shares are in percent, 0 to 100.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum Fact {
    /// The part's name has a word for a melody, such as "vocal" or "tune".
    NamedMelody {
        /// The word or stem found.
        word: &'static str,
    },
    /// The part's name has a word for an accompaniment, such as "bass" or "chord".
    NamedAccompaniment {
        /// The word or stem found.
        word: &'static str,
    },
    /// Onsets of the part at which a note has words.
    Words {
        /// The share of the part's onsets.
        share: u8,
    },
    /// Time in which the part sounds a single note.
    OneNoteAtATime {
        /// The share of the part's sounding time.
        share: u8,
    },
    /// Notes within the range of tunes, from C3 to C7.
    TuneRange {
        /// The share of the part's notes.
        share: u8,
    },
    /// Time in which no other part sounds above this part.
    OnTop {
        /// The share of the part's sounding time.
        share: u8,
    },
    /// Time in which the part sounds.
    Sounds {
        /// The share of the piece's length.
        share: u8,
    },
    /// Moves that are steps or small leaps, up to a major third.
    Steps {
        /// The share of the moves from note to note.
        share: u8,
    },
    /// Moves that only repeat the note.
    Repeats {
        /// The share of the moves from note to note.
        share: u8,
    },
    /// Bars that equal the bar before, as in an accompaniment's pattern.
    Pattern {
        /// The share of the bars with notes.
        share: u8,
    },
    /// The number of onsets in the part, compared with the number in the part that has the most.
    Activity {
        /// The share of the busiest part's onsets.
        share: u8,
    },
}

/// The points for a name such as "Melody" or "Soprano": only a much better rival beats a part with such a name.
const NAMED_MELODY: i32 = 60;
/// The points for a name such as "Lead", "Solo" or "Voice".
const NAMED_LEAD: i32 = 30;
/// The points for a name such as "Bass" or "Chords".
const NAMED_ACCOMPANIMENT: i32 = -40;
/// The points for each measured share at 100 %; a smaller share gets proportionally fewer points.
const WORDS: i32 = 50;
const ONE_NOTE: i32 = 25;
const RANGE: i32 = 20;
const ON_TOP: i32 = 30;
const SOUNDS: i32 = 10;
const STEPS: i32 = 30;
const REPEATS: i32 = -20;
const PATTERN: i32 = -30;
const ACTIVITY: i32 = 20;

impl Evidence {
    /// Returns the sum of the points of all clues.
    pub fn points(&self) -> i32 {
        self.clues.iter().map(|clue| clue.points).sum()
    }

    /// Returns the facts in which this part has more points than another, the greatest difference first.
    pub(super) fn ahead_of(&self, other: &Evidence) -> Vec<Fact> {
        let rival = |fact: &Fact| {
            let same = |clue: &&Clue| std::mem::discriminant(&clue.fact) == std::mem::discriminant(fact);
            other.clues.iter().find(same).map_or(0, |clue| clue.points)
        };
        let mut ahead: Vec<(i32, Fact)> = self
            .clues
            .iter()
            .map(|clue| (clue.points - rival(&clue.fact), clue.fact))
            .filter(|&(difference, _)| difference > 0)
            .collect();
        ahead.sort_by_key(|&(difference, _)| Reverse(difference));
        ahead.into_iter().map(|(_, fact)| fact).collect()
    }
}

/// Returns the evidence on each part with pitched notes, in order of the file. A single part has no clues, because
/// there is nothing to compare.
pub(super) fn weigh(parts: &[Part]) -> Vec<Evidence> {
    let pitched: Vec<usize> = (0..parts.len())
        .filter(|&index| !parts[index].percussion && parts[index].notes.iter().any(|note| !note.note.grace))
        .collect();
    if let &[only] = pitched.as_slice() {
        return vec![Evidence { part: only + 1, clues: Vec::new() }];
    }
    let count = pitched.iter().map(|&index| parts[index].notes.len()).sum();
    let (times, end) = sweep::times(notes_of(parts, &pitched), count, pitched.len());
    let shapes: Vec<Shape> = pitched.iter().map(|&index| Shape::of(&parts[index].notes)).collect();
    let busiest = shapes.iter().map(|shape| shape.onsets).max().unwrap_or(0);
    pitched
        .iter()
        .zip(&shapes)
        .zip(times)
        .map(|((&index, shape), time)| {
            let mut clues: Vec<Clue> = name_clue(&parts[index]).into_iter().collect();
            let mut add = |fact: Fact, share: u8, most: i32| {
                clues.push(Clue { fact, points: most * i32::from(share) / 100 });
            };
            if let share @ 1.. = percent(shape.with_words, shape.onsets) {
                add(Fact::Words { share }, share, WORDS);
            }
            let share = percent(time.one_note, time.sounding);
            add(Fact::OneNoteAtATime { share }, share, ONE_NOTE);
            let share = percent(shape.in_range, shape.notes);
            add(Fact::TuneRange { share }, share, RANGE);
            let share = percent(time.on_top, time.sounding);
            add(Fact::OnTop { share }, share, ON_TOP);
            let share = percent(time.sounding, end);
            add(Fact::Sounds { share }, share, SOUNDS);
            let share = percent(shape.steps, shape.moves);
            add(Fact::Steps { share }, share, STEPS);
            let share = percent(shape.repeats, shape.moves);
            add(Fact::Repeats { share }, share, REPEATS);
            let share = percent(shape.bars_like_before, shape.bars);
            add(Fact::Pattern { share }, share, PATTERN);
            let share = percent(shape.onsets, busiest);
            add(Fact::Activity { share }, share, ACTIVITY);
            Evidence { part: index + 1, clues }
        })
        .collect()
}

fn name_clue(part: &Part) -> Option<Clue> {
    let by_name = part.name.as_deref().and_then(role);
    let (role, word) = by_name.or_else(|| part.instrument.and_then(instrument_role))?;
    Some(match role {
        Role::Melody => Clue { fact: Fact::NamedMelody { word }, points: NAMED_MELODY },
        Role::Lead => Clue { fact: Fact::NamedMelody { word }, points: NAMED_LEAD },
        Role::Accompaniment => Clue { fact: Fact::NamedAccompaniment { word }, points: NAMED_ACCOMPANIMENT },
    })
}

/// Returns all notes except grace notes, each with the index of its part in `pitched`.
fn notes_of<'a>(parts: &'a [Part], pitched: &'a [usize]) -> impl Iterator<Item = (usize, &'a Note)> {
    pitched.iter().enumerate().flat_map(|(line, &index)| {
        parts[index].notes.iter().filter(|note| !note.note.grace).map(move |note| (line, &note.note))
    })
}

/// The counts about one part.
#[derive(Default)]
struct Shape {
    notes: u64,
    onsets: u64,
    in_range: u64,
    with_words: u64,
    /// The moves of the top line from onset to onset.
    moves: u64,
    steps: u64,
    repeats: u64,
    bars: u64,
    bars_like_before: u64,
}

impl Shape {
    /// Counts a part's notes, in n log n steps.
    fn of(notes: &[PartNote]) -> Shape {
        let mut shape = Shape::default();
        let mut sorted: Vec<&Note> = notes.iter().map(|note| &note.note).filter(|note| !note.grace).collect();
        sorted.sort_by_key(|note| (note.onset, Reverse(note.pitch)));
        shape.notes = sorted.len() as u64;
        shape.in_range = sorted.iter().filter(|note| (48..=96).contains(&note.pitch.midi())).count() as u64;
        let chords: Vec<&[&Note]> = sorted.chunk_by(|a, b| a.onset == b.onset).collect();
        shape.onsets = chords.len() as u64;
        shape.with_words =
            chords.iter().filter(|chord| chord.iter().any(|note| !note.lyrics.is_empty())).count() as u64;
        for pair in chords.windows(2) {
            shape.moves += 1;
            match pair[0][0].pitch.midi().abs_diff(pair[1][0].pitch.midi()) {
                0 => shape.repeats += 1,
                1..=4 => shape.steps += 1,
                _ => {}
            }
        }
        shape.count_bars(&chords);
        shape
    }

    /// Compares each bar with the previous bar, by rhythm and by whether the line rises or falls: an accompaniment
    /// keeps its figure while the chords change.
    fn count_bars(&mut self, chords: &[&[&Note]]) {
        let mut before: Vec<(i64, Ordering)> = Vec::new();
        let mut figure = Vec::new();
        for bar in chords.chunk_by(|a, b| a[0].bar == b[0].bar) {
            let mut last = bar[0][0];
            let start = last.onset.units();
            figure.clear();
            figure.extend(bar.iter().map(|chord| {
                let step = (chord[0].onset.units() - start, chord[0].pitch.cmp(&last.pitch));
                last = chord[0];
                step
            }));
            self.bars += 1;
            // `before` is empty at first, but no figure is empty, so the first bar never counts as a repetition.
            if before == figure {
                self.bars_like_before += 1;
            }
            std::mem::swap(&mut before, &mut figure);
        }
    }
}

fn percent(part: u64, whole: u64) -> u8 {
    (u128::from(part) * 100).checked_div(u128::from(whole)).map_or(0, |share| share.min(100) as u8)
}
