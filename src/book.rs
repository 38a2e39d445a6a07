//! Many tunes: one entry for each, with the best way to play it, as in a table of contents.
//!
//! [`Entry::of`] takes the facts that a player wants to know about one tune from the answer for that tune. The list of
//! the tunes and the [`ladder`] use only entries, so a book may be read in parts, on several machines, and combined
//! afterwards.

pub mod bag;
pub mod ladder;
pub mod prices;
pub mod set;

use std::{cmp::Ordering, path::Path};

use crate::{
    harp::{Action, Position},
    import::{TuneChoice, TuneEntry},
    melody::{
        Melody,
        key::{Key, KeyFinding},
    },
    search::{Approach, Playing, Request, hard},
};

/// A tune in a book, with its answer.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Entry {
    /// The file of the tune, as the caller named it.
    pub file: String,
    /// The number of the tune in that file.
    pub number: u32,
    /// The tune's place among the tunes with the same number, counted from 1; `None` if no other tune has this number.
    pub nth: Option<u32>,
    /// Whether the file contains no other tune.
    pub alone: bool,
    /// The title of the tune, or the name of its file.
    pub title: String,
    /// The key of the tune.
    pub key: Key,
    /// The name of the tonic, spelled as in the tune's signature.
    pub tonic: String,
    /// The confidence in the key, in per cent.
    pub sure: u8,
    /// The best way to play the tune; `None` if no harp reaches the tune.
    pub best: Option<Way>,
}

/// The best way to play a tune, without the details of its effort.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Way {
    /// The harp in words: "low F".
    pub harp: String,
    /// The position.
    pub position: Position,
    /// The octaves by which the tune is moved.
    pub octave: i8,
    /// The semitones by which the tune is transposed, in addition to the octaves.
    pub transposed: i16,
    /// The number of notes in the tune, grace notes included.
    pub notes: u32,
    /// The names of the missing notes, in order.
    pub missing: Vec<String>,
    /// Whether all missing notes are grace notes.
    pub is_full: bool,
    /// The number of bent or overbent notes.
    pub bends: u32,
    /// The number of awkward changes of breath.
    pub awkward: u32,
    /// The effort.
    pub effort: u64,
    /// The fastest comfortable tempo, in quarters per minute; `None` if any tempo is comfortable.
    pub tempo: Option<u64>,
    /// The demands of the steps from note to note.
    pub steps: Steps,
    /// The action of each note; `None` for a missing note.
    pub tab: Vec<Option<Action>>,
    /// The number of each note's bar.
    pub bars: Vec<u32>,
}

/// The demands of the steps from note to note. A step across a rest makes no demands.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Steps {
    /// The widest jump, in holes.
    pub jump: u8,
    /// The shortest time for a change of breath, in milliseconds; `None` if no step changes the breath.
    pub turn_ms: Option<u32>,
}

impl Steps {
    fn of(request: &Request, playing: &Playing) -> Steps {
        let mut steps = Steps::default();
        for step in hard::times(request.melody, playing, request.weights) {
            let (Some(from), Some(to)) = (step.from, playing.notes[step.note].action) else { continue };
            steps.jump = steps.jump.max(from.hole.abs_diff(to.hole));
            if from.breath != to.breath {
                steps.turn_ms = Some(steps.turn_ms.map_or(step.has_ms, |least| least.min(step.has_ms)));
            }
        }
        steps
    }
}

impl Entry {
    /// Returns the entry of a tune: its place, its title, its key, and the best way to play it.
    pub fn of(
        (file, tunes, index): (&Path, &[TuneEntry], usize),
        title: &str,
        key: &KeyFinding,
        request: &Request,
        best: Option<&Approach>,
    ) -> Entry {
        let melody = request.melody;
        let signature = melody.signatures.first().map(|signature| signature.sharps);
        Entry {
            file: file.display().to_string(),
            number: tunes[index].number,
            nth: tunes[index].nth,
            alone: tunes.len() == 1,
            title: title.to_owned(),
            key: key.key,
            tonic: key.key.tonic_name(signature),
            sure: key.confidence,
            best: best.map(|best| Way::of(request, best)),
        }
    }

    /// Returns the choice that selects this tune in its file.
    pub fn choice(&self) -> TuneChoice {
        TuneChoice::Number(self.number, self.nth)
    }

    /// Returns the effort per note, rounded down, which makes tunes of different lengths comparable; `None` if no harp
    /// reaches the tune.
    pub fn effort_per_note(&self) -> Option<u64> {
        self.best.as_ref().map(|best| best.effort / u64::from(best.notes.max(1)))
    }

    /// Orders entries by exact effort per note; tunes that no harp reaches come last.
    pub fn by_ease(&self, other: &Entry) -> Ordering {
        let ease = |entry: &Entry, other: &Entry| {
            let (best, notes) = (entry.best.as_ref(), other.best.as_ref().map_or(1, |best| best.notes));
            best.map_or(u128::MAX, |best| u128::from(best.effort) * u128::from(notes))
        };
        ease(self, other).cmp(&ease(other, self))
    }
}

impl Way {
    fn of(request: &Request, approach: &Approach) -> Way {
        let melody = request.melody;
        let counts = &approach.counts;
        let missing = approach.missing().map(|note| approach.wanted_name(melody, &melody.notes[note]));
        Way {
            harp: approach.harp.to_string(),
            position: approach.position,
            octave: approach.octave,
            transposed: approach.transposed.0,
            notes: counts.notes,
            missing: missing.collect(),
            is_full: counts.is_full(),
            bends: counts.bends(),
            awkward: counts.awkward,
            effort: approach.playing.effort.total(),
            tempo: hard::comfortable_tempo(request, approach),
            steps: Steps::of(request, &approach.playing),
            tab: approach.playing.notes.iter().map(|played| played.action).collect(),
            bars: bars(melody),
        }
    }
}

/// Returns the bar number of each note.
pub(crate) fn bars(melody: &Melody) -> Vec<u32> {
    melody.notes.iter().map(|note| melody.bars[note.bar].number).collect()
}
