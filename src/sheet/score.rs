//! The tune as it is written: bars of notes and rests with their values, accidentals, tab and words.
//!
//! How it is written says [`notation`]; what is played comes from the approach. A [`Score`] holds every musical decision; what
//! follows only places it.

use crate::{
    harp::Action,
    melody::{Bar, BarMarks, Lyric, Melody, phrase},
    notation::{self, Beam, Clef, Keys, Notation, Tie, Value},
    pages::{comparison::Side, lead},
    search::{Approach, Request, hard},
    time::{Beats, Meter},
};

/// How many bars are marked as hard at most: as many as the text names.
const HARD_BARS: usize = 3;

/// A tune as it is written.
#[derive(Clone, Debug)]
pub(super) struct Score {
    pub(super) bars: Vec<ScoreBar>,
    pub(super) clef: Clef,
    /// How many verses stand under the notes.
    pub(super) verses: u8,
    /// For each verse that ends before another verse, the note of its last syllable and the next note that another verse sings.
    /// The last syllable is held no further than that note.
    pub(super) last_sung: Vec<Option<(usize, usize)>>,
}

/// A bar.
#[derive(Clone, Debug)]
pub(super) struct ScoreBar {
    pub(super) index: usize,
    pub(super) number: u32,
    /// The sharps of the signature in force.
    pub(super) sharps: i8,
    pub(super) meter: Option<Meter>,
    pub(super) marks: BarMarks,
    /// The words that send the player elsewhere after it.
    pub(super) jumps: Vec<&'static str>,
    pub(super) length: Beats,
    pub(super) events: Vec<Event>,
    /// The tuplets: so many in the time of so many.
    pub(super) tuplets: Vec<(i64, i64)>,
    /// The events that share a beam, each group of two or more.
    pub(super) beams: Vec<Vec<usize>>,
    /// Chord symbols by their place in the bar.
    pub(super) chords: Vec<(Beats, String)>,
    /// Shaded: one of the hardest, or dearer than in the sheet that it is compared with.
    pub(super) shaded: bool,
    /// How clearly a phrase ends in it, 0 to 100.
    pub(super) phrase_end: u8,
}

/// A note or a rest.
#[derive(Clone, Debug)]
pub(super) struct Event {
    /// From the start of the bar.
    pub(super) at: Beats,
    /// How long it really lasts.
    pub(super) length: Beats,
    pub(super) value: Value,
    /// Index of its tuplet in the bar.
    pub(super) tuplet: Option<usize>,
    /// A rest that is not to be seen.
    pub(super) hidden: bool,
    /// Its part of the beam, from the beam of the eighths on.
    pub(super) beams: Vec<Beam>,
    /// `None` for a rest.
    pub(super) note: Option<NoteEvent>,
}

/// The note of an event.
#[derive(Clone, Debug)]
pub(super) struct NoteEvent {
    /// Index in the melody.
    pub(super) note: usize,
    /// Steps of the staff above its lowest line.
    pub(super) position: i32,
    pub(super) accidental: Option<i8>,
    /// Whether the note begins here, and is not a tied piece of one that began before.
    pub(super) begins: bool,
    /// Tied to the next event, or to nothing if the file ties it to nothing.
    pub(super) tie: Tie,
    /// A tie comes from nothing, as in a second ending.
    pub(super) hanging_in: bool,
    pub(super) tab: Tab,
    pub(super) awkward: bool,
    pub(super) changed: bool,
    /// Put right in a tab that was checked.
    pub(super) mended: bool,
    /// Another hole than in the sheet that it is compared with.
    pub(super) framed: bool,
    /// Breathe after it; only on the last piece.
    pub(super) breathe_after: bool,
    pub(super) lyrics: Vec<Lyric>,
    pub(super) graces: Vec<NoteEvent>,
    /// The flags or beams of a grace note, and whether a stroke goes through its flag.
    pub(super) flags: u8,
    pub(super) slashed: bool,
}

/// The tab of a note.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) enum Tab {
    Action(Action),
    /// The name of a note that cannot be sounded.
    Missing(String),
    /// Left out of the tune.
    LeftOut,
}

/// Writes a tune as an approach plays it.
pub(super) fn score(request: &Request, approach: &Approach) -> Score {
    let melody = &*request.melody.signed(request.key);
    let sounding = approach.moved(melody);
    let Notation { bars: written, clef } = notation::write(&sounding, Keys::AtBars);
    let hard = hard::hardest(melody, &approach.playing, request.weights, HARD_BARS);
    let mut phrase_ends = vec![0; melody.bars.len()];
    for end in phrase::ends(melody) {
        // In the bar in which its last note ends.
        let note = &melody.notes[end.note];
        let later = melody.bars.iter().skip(note.bar + 1).take_while(|bar| bar.start < note.end()).count();
        if let Some(known) = phrase_ends.get_mut(note.bar + later) {
            *known = end.strength.max(*known).max(1);
        }
    }
    let writer = ScoreWriter { sounding: &sounding, melody, approach, clef };
    let bars = sounding.bars.iter().zip(written).enumerate().map(|(index, (bar, written))| ScoreBar {
        index,
        number: bar.number,
        sharps: sounding.sharps_at(bar.start),
        meter: bar.meter,
        marks: bar.marks.clone(),
        jumps: notation::jumps(&sounding.bars, index),
        length: bar.length,
        events: written.events.into_iter().map(|event| writer.event(event)).collect(),
        tuplets: written.tuplets,
        beams: written.beams,
        chords: chords(&sounding, bar),
        shaded: hard.iter().any(|hard| hard.bar == index),
        phrase_end: phrase_ends[index],
    });
    let mut bars: Vec<ScoreBar> = bars.collect();
    // A file may have empty bars before and after the tune (an introduction, other parts' endings).
    let filled = |bar: &ScoreBar| bar.events.iter().any(|event| event.note.is_some());
    let last = bars.iter().rposition(filled).map_or(0, |last| last + 1);
    bars.truncate(last);
    let first = bars.iter().position(filled).unwrap_or(0);
    bars.drain(..first);
    let verses =
        melody.notes.iter().flat_map(|note| &note.lyrics).map(|lyric| lyric.verse).max().unwrap_or(0);
    let verses = verses.min(lead::VERSES_UNDER_NOTES);
    Score { bars, clef, verses, last_sung: last_sung(melody, verses) }
}

/// The chord symbols of a bar.
fn chords(melody: &Melody, bar: &Bar) -> Vec<(Beats, String)> {
    let first = melody.chords.partition_point(|chord| chord.at < bar.start);
    let chords = melody.chords[first..].iter().take_while(|chord| chord.at < bar.start + bar.length);
    chords.map(|chord| (chord.at - bar.start, chord.to_string())).collect()
}

/// See [`Score::last_sung`].
fn last_sung(melody: &Melody, verses: u8) -> Vec<Option<(usize, usize)>> {
    let mut last: Vec<Option<(usize, Option<usize>)>> = vec![None; usize::from(verses)];
    for (index, note) in melody.notes.iter().enumerate() {
        let sings = |verse: usize| {
            note.lyrics.iter().any(|lyric| usize::from(lyric.verse) == verse + 1 && !lyric.text.is_empty())
        };
        let any = (0..last.len()).any(sings);
        for (verse, last) in last.iter_mut().enumerate() {
            match last {
                _ if sings(verse) => *last = Some((index, None)),
                Some((_, next @ None)) if any => *next = Some(index),
                _ => {}
            }
        }
    }
    last.into_iter().map(|last| last.and_then(|(note, next)| Some((note, next?)))).collect()
}

/// Writes the ways of a comparison with what is marked in them. Words and chords stand over and under the first alone, which
/// is between the lines.
pub(super) fn sides(request: &Request, sides: &[Side]) -> Vec<Score> {
    let mut scores: Vec<Score> = sides.iter().map(|side| self::side(request, side)).collect();
    for score in scores.iter_mut().skip(1) {
        score.verses = 0;
        for bar in &mut score.bars {
            bar.chords.clear();
            for note in bar.events.iter_mut().filter_map(|event| event.note.as_mut()) {
                note.lyrics.clear();
                note.graces.iter_mut().for_each(|grace| grace.lyrics.clear());
            }
        }
    }
    scores
}

fn side(request: &Request, side: &Side) -> Score {
    let mut score = score(request, side.approach);
    let marked = |notes: &[usize], note: usize| notes.binary_search(&note).is_ok();
    for bar in &mut score.bars {
        bar.shaded = marked(&side.dearer, bar.index);
        let mark = |note: &mut NoteEvent| {
            let mended = note.begins && marked(&side.mended, note.note);
            // Where there is no house, the star stands over the note.
            note.mended = mended && matches!(note.tab, Tab::Action(_));
            note.changed |= mended && !note.mended;
            note.framed = note.begins && marked(&side.differs, note.note);
        };
        for note in bar.events.iter_mut().filter_map(|event| event.note.as_mut()) {
            mark(note);
            note.graces.iter_mut().for_each(mark);
        }
    }
    score
}

/// Adds the playing to the written notes.
struct ScoreWriter<'a> {
    melody: &'a Melody,
    /// The same as it sounds.
    sounding: &'a Melody,
    approach: &'a Approach<'a>,
    clef: Clef,
}

impl ScoreWriter<'_> {
    fn event(&self, event: notation::Event) -> Event {
        let notation::Event { at, length, value, tuplet, hidden, beams, note, .. } = event;
        Event { at, length, value, tuplet, hidden, beams, note: note.map(|note| self.note(note)) }
    }

    fn note(&self, written: notation::Note) -> NoteEvent {
        let notation::Note { note, accidental, begins, tie, hanging_in, graces, .. } = written;
        let played = &self.approach.playing.notes[note];
        let changed = begins && self.approach.is_changed(note);
        let graces =
            graces.into_iter().filter(|grace| self.approach.sounding(self.melody, grace.note).is_some());
        let ornament = |grace: notation::Grace| {
            let (note, accidental) = (grace.note, grace.accidental);
            let (courtesy, begins, tie, hanging_in) = (false, true, Tie::None, false);
            let main =
                notation::Note { note, accidental, courtesy, begins, tie, hanging_in, graces: Vec::new() };
            NoteEvent { flags: grace.value.flags(), slashed: grace.slashed, ..self.note(main) }
        };
        NoteEvent {
            note,
            // A note that is left out stands where it would have sounded.
            position: self.sounding.notes[note].spelling.map_or(4, |name| self.clef.position(name)),
            accidental,
            begins,
            tie,
            hanging_in,
            tab: self.tab(note),
            awkward: begins && played.awkward,
            changed,
            mended: false,
            framed: false,
            breathe_after: tie != Tie::ToNext && played.breathe_after,
            lyrics: if begins { self.melody.notes[note].lyrics.clone() } else { Vec::new() },
            graces: graces.map(ornament).collect(),
            flags: 0,
            slashed: false,
        }
    }

    fn tab(&self, note: usize) -> Tab {
        match self.approach.playing.notes[note].action {
            Some(action) => Tab::Action(action),
            None if self.approach.is_changed(note) => Tab::LeftOut,
            None => {
                let name = self.approach.sounding(self.melody, note);
                Tab::Missing(name.map_or_else(|| "?".to_owned(), |name| name.to_string()))
            }
        }
    }
}
