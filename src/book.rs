//! Many tunes: a line for each, with the best way to play it, as in a list of contents.
//!
//! [`Entry::of`] takes what a player wants to know of one tune out of its answer. The rest looks at entries alone, so a
//! book may be read in parts, on several machines, and put together afterwards.

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

/// A tune in a book.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Entry {
    /// Its file, as named by the caller.
    pub file: String,
    /// Its number in that file.
    pub number: u32,
    /// Which of several tunes with this number it is, from 1; `None` for a number of its own.
    pub nth: Option<u32>,
    /// Whether its file holds no other tune.
    pub alone: bool,
    /// Its title, or its file's name.
    pub title: String,
    /// Its key.
    pub key: Key,
    /// The name of its tonic, spelled as in its signature.
    pub tonic: String,
    /// The confidence in its key, in per cent.
    pub sure: u8,
    /// The best way to play it; `None` if no harp reaches it.
    pub best: Option<Way>,
}

/// The best way to play a tune, without its effort in detail.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Way {
    /// The harp in words: "low F".
    pub harp: String,
    /// The position.
    pub position: Position,
    /// The octaves by which the tune is moved.
    pub octave: i8,
    /// The semitones by which it is also transposed.
    pub transposed: i16,
    /// The notes of the tune, grace notes included.
    pub notes: u32,
    /// The names of the notes that are missing, in order.
    pub missing: Vec<String>,
    /// Whether all of these are grace notes.
    pub is_full: bool,
    /// How many notes are bent or overbent.
    pub bends: u32,
    /// Awkward changes of breath.
    pub awkward: u32,
    /// The effort.
    pub effort: u64,
    /// The fastest comfortable tempo, in quarters a minute; `None` for any tempo.
    pub tempo: Option<u64>,
    /// What its steps demand.
    pub steps: Steps,
    /// The action of each note; `None` where it is missing.
    pub tab: Vec<Option<Action>>,
    /// The number of each note's bar.
    pub bars: Vec<u32>,
}

/// What the steps from note to note demand. Steps over a rest demand nothing.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Steps {
    /// The widest jump, in holes.
    pub jump: u8,
    /// The shortest time for a change of breath, in milliseconds; `None` without one.
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
    /// Returns a tune's entry: where it stands, its title, its key, and the best way to play it.
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

    /// What chooses the tune in its file.
    pub fn choice(&self) -> TuneChoice {
        TuneChoice::Number(self.number, self.nth)
    }

    /// The effort for each note, rounded; it compares tunes of different lengths.
    pub fn effort_per_note(&self) -> Option<u64> {
        self.best.as_ref().map(|best| best.effort / u64::from(best.notes.max(1)))
    }

    /// Orders by effort for each note, exactly; tunes that no harp reaches come last.
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

/// Returns the number of each note's bar.
pub(crate) fn bars(melody: &Melody) -> Vec<u32> {
    melody.notes.iter().map(|note| melody.bars[note.bar].number).collect()
}
