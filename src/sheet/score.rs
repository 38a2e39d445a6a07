//! The tune as written: bars of notes and rests with their values, accidentals, tab and words.
//!
//! [`notation`] decides how the tune is written, and the approach decides how it is played. A [`Score`] combines these
//! decisions. Later steps place its parts, and choose line breaks and the directions of stems, ties and slurs.

use itertools::Itertools;

use crate::{
    harp::Action,
    melody::{Bar, BarMarks, Lyric, Melody, phrase, signs},
    notation::{self, Beam, Clef, Keys, Notation, Tie, Value},
    pages::{comparison::Side, lead},
    search::{Approach, Request, hard},
    time::{Beats, Meter},
};

/// The most bars that are marked as hard: as many as the text names.
const HARD_BARS: usize = 3;

/// A tune as written.
#[derive(Clone, Debug)]
pub(super) struct Score {
    pub(super) bars: Vec<ScoreBar>,
    pub(super) clef: Clef,
    /// Whether the notes are drawn on a staff. If not, the sheet has only tab.
    pub(super) staff: bool,
    /// The number of verses written under the notes.
    pub(super) verses: u8,
    /// For each verse that ends before another verse: the note of its last syllable, and the next note that another
    /// verse sings. The last syllable is held at most up to the note before that note.
    pub(super) last_sung: Vec<Option<(usize, usize)>>,
    /// The slurs, each from a note of the melody to a later note.
    pub(super) slurs: Vec<(usize, usize)>,
}

impl Score {
    /// Returns whether the score has a sign for a breath.
    pub(super) fn has_breaths(&self) -> bool {
        let events = self.bars.iter().flat_map(|bar| &bar.events);
        events.filter_map(|event| event.note.as_ref()).any(|note| note.breathe_after)
    }
}

/// A bar.
#[derive(Clone, Debug)]
pub(super) struct ScoreBar {
    pub(super) index: usize,
    pub(super) number: u32,
    /// The number of sharps in the signature that applies; negative for flats.
    pub(super) sharps: i8,
    pub(super) meter: Option<Meter>,
    pub(super) marks: BarMarks,
    /// The words after the bar that send the player to another place.
    pub(super) jumps: Vec<&'static str>,
    pub(super) length: Beats,
    pub(super) events: Vec<Event>,
    /// The tuplets, as (number of notes, number of notes whose time they take).
    pub(super) tuplets: Vec<(i64, i64)>,
    /// The events that share a beam, in groups of two or more.
    pub(super) beams: Vec<Vec<usize>>,
    /// The chord symbols, by their place in the bar.
    pub(super) chords: Vec<(Beats, String)>,
    /// The words of tempo, by their place in the bar. The heading has the words at the beginning of the tune.
    pub(super) tempo_words: Vec<(Beats, String)>,
    /// Whether the bar is shaded: one of the hardest bars, or a bar that costs more than in the other way of a check.
    pub(super) shaded: bool,
    /// How clearly a phrase ends in the bar, from 0 to 100.
    pub(super) phrase_end: u8,
    /// The number of silent bars of the tune that the bar represents; 1 if the bar is not silent.
    pub(super) silent: usize,
}

/// A note or a rest.
#[derive(Clone, Debug)]
pub(super) struct Event {
    /// The event's place, from the start of the bar.
    pub(super) at: Beats,
    /// The real duration of the event.
    pub(super) length: Beats,
    pub(super) value: Value,
    /// The index of the event's tuplet in the bar.
    pub(super) tuplet: Option<usize>,
    /// Whether the event is a rest that is not drawn.
    pub(super) hidden: bool,
    /// The event's part of each beam, beginning with the beam of eighths.
    pub(super) beams: Vec<Beam>,
    /// `None` for a rest.
    pub(super) note: Option<NoteEvent>,
}

/// The note of an event.
#[derive(Clone, Debug)]
pub(super) struct NoteEvent {
    /// The index of the note in the melody.
    pub(super) note: usize,
    /// The note's height on the staff, in steps above the lowest line.
    pub(super) position: i32,
    pub(super) accidental: Option<i8>,
    /// Whether the note begins here; false for a tied piece of a note that began earlier.
    pub(super) begins: bool,
    /// The tie after the note: to the next event, or to nothing if the file writes a tie without an end.
    pub(super) tie: Tie,
    /// Whether a tie without a beginning leads to the note, as in a second ending.
    pub(super) hanging_in: bool,
    pub(super) tab: Tab,
    pub(super) awkward: bool,
    pub(super) changed: bool,
    /// Whether the check corrected the note, and the note has a house. A corrected note without a house is `changed`.
    pub(super) mended: bool,
    /// Whether the note has a frame, because its hole is pinned or differs from the hole in another way on the sheet.
    pub(super) framed: bool,
    /// Whether to breathe after the note; only on its last piece.
    pub(super) breathe_after: bool,
    /// Whether a fermata holds the note; only on its last piece.
    pub(super) fermata: bool,
    pub(super) lyrics: Vec<Lyric>,
    pub(super) graces: Vec<NoteEvent>,
    /// For a grace note: how many flags or beams it has, and whether a stroke crosses its flag.
    pub(super) flags: u8,
    pub(super) slashed: bool,
}

/// The tab under a note.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) enum Tab {
    Action(Action),
    /// The name of a note that cannot be sounded.
    Missing(String),
    /// A note that the adapted tune leaves out.
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
        // The phrase belongs to the bar in which its last note ends.
        let note = &melody.notes[end.note];
        let later = melody.bars.iter().skip(note.bar + 1).take_while(|bar| bar.start < note.end()).count();
        if let Some(known) = phrase_ends.get_mut(note.bar + later) {
            *known = end.strength.max(*known).max(1);
        }
    }
    let writer = ScoreWriter { sounding: &sounding, melody, request, approach, clef };
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
        tempo_words: tempo_words(&sounding, bar),
        shaded: hard.iter().any(|hard| hard.bar == index),
        phrase_end: phrase_ends[index],
        silent: 1,
    });
    let mut bars: Vec<ScoreBar> = bars.collect();
    // A file may have empty bars before and after the tune, for an introduction or for the ends of other parts. The
    // score leaves them out.
    let filled = |bar: &ScoreBar| bar.events.iter().any(|event| event.note.is_some());
    let last = bars.iter().rposition(filled).map_or(0, |last| last + 1);
    bars.truncate(last);
    let first = bars.iter().position(filled).unwrap_or(0);
    bars.drain(..first);
    without_breaths_before_rests(&mut bars);
    let bars = with_long_rests(bars);
    let verses =
        melody.notes.iter().flat_map(|note| &note.lyrics).map(|lyric| lyric.verse).max().unwrap_or(0);
    let verses = verses.min(lead::VERSES_UNDER_NOTES);
    let slurs = signs::slurs(&sounding.notes);
    Score { bars, clef, staff: true, verses, last_sung: last_sung(melody, verses), slurs }
}

/// Removes the signs for a breath before rests, because every player breathes in a rest.
fn without_breaths_before_rests(bars: &mut [ScoreBar]) {
    let mut rest_follows = false;
    for event in bars.iter_mut().rev().flat_map(|bar| bar.events.iter_mut().rev()) {
        match &mut event.note {
            Some(note) => {
                note.breathe_after &= !rest_follows;
                rest_follows = false;
            }
            None => rest_follows |= !event.hidden,
        }
    }
}

/// Merges consecutive silent bars into one bar with their count. Bars with marks, jumps, chords or words, and bars with
/// different signatures or meters, are not merged.
fn with_long_rests(bars: Vec<ScoreBar>) -> Vec<ScoreBar> {
    let is_silent = |bar: &ScoreBar| {
        bar.events.iter().all(|event| event.note.is_none())
            && bar.chords.is_empty()
            && bar.tempo_words.is_empty()
            && bar.jumps.is_empty()
            && bar.marks == BarMarks::default()
    };
    let mut merged: Vec<ScoreBar> = Vec::with_capacity(bars.len());
    for run in bars.into_iter().chunk_by(|bar| (is_silent(bar), bar.sharps, bar.meter)).into_iter() {
        let ((silent, ..), run) = run;
        let mut run: Vec<ScoreBar> = run.collect();
        if !silent || run.len() == 1 {
            merged.append(&mut run);
            continue;
        }
        let length = run.iter().fold(Beats::ZERO, |sum, bar| sum + bar.length);
        let (count, phrase_end) = (run.len(), run.iter().map(|bar| bar.phrase_end).max().unwrap_or(0));
        run.truncate(1);
        merged.extend(run.into_iter().map(|bar| {
            let rest = Event {
                at: Beats::ZERO,
                length,
                value: Value::WHOLE,
                tuplet: None,
                hidden: false,
                beams: Vec::new(),
                note: None,
            };
            let (events, tuplets, beams) = (vec![rest], Vec::new(), Vec::new());
            ScoreBar { length, events, tuplets, beams, phrase_end, silent: count, ..bar }
        }));
    }
    merged
}

/// Returns the chord symbols of a bar.
fn chords(melody: &Melody, bar: &Bar) -> Vec<(Beats, String)> {
    let first = melody.chords.partition_point(|chord| chord.at < bar.start);
    let chords = melody.chords[first..].iter().take_while(|chord| chord.at < bar.start + bar.length);
    chords.map(|chord| (chord.at - bar.start, chord.to_string())).collect()
}

/// Returns the words of tempo in a bar.
fn tempo_words(melody: &Melody, bar: &Bar) -> Vec<(Beats, String)> {
    let words =
        melody.later_words().filter(|words| bar.start <= words.at && words.at < bar.start + bar.length);
    words.map(|words| (words.at - bar.start, words.text.clone())).collect()
}

/// Returns [`Score::last_sung`].
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

/// Returns the scores of several ways, one above the other, with their marks. Only the first score has chords, lyrics
/// and words of tempo, so the lyrics are between the first line and the second.
pub(super) fn sides(request: &Request, sides: &[Side]) -> Vec<Score> {
    let mut scores: Vec<Score> = sides.iter().map(|side| self::side(request, side)).collect();
    for score in scores.iter_mut().skip(1) {
        score.verses = 0;
        for bar in &mut score.bars {
            bar.chords.clear();
            bar.tempo_words.clear();
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
            // A note without a house has its star over the note.
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

/// Adds the playing to the notation.
struct ScoreWriter<'a> {
    melody: &'a Melody,
    /// The melody with its sounding pitches.
    sounding: &'a Melody,
    request: &'a Request<'a>,
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
            // A left-out note is drawn at its original pitch.
            position: self.sounding.notes[note].spelling.map_or(4, |name| self.clef.position(name)),
            accidental,
            begins,
            tie,
            hanging_in,
            tab: self.tab(note),
            awkward: begins && played.awkward,
            changed,
            mended: false,
            framed: begins && self.request.pins.binary_search_by_key(&note, |pin| pin.note).is_ok(),
            breathe_after: tie != Tie::ToNext && played.breathe_after,
            fermata: tie != Tie::ToNext && self.melody.notes[note].signs.fermata,
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
