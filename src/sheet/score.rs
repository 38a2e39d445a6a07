//! The tune as it is written: bars of notes and rests with their values, accidentals, tab and words.
//!
//! From the melody and the approach comes a [`Score`], which holds every musical decision; what follows only places it.

use super::{
    tuplets::{self, Stretch},
    values::{Tree, Value},
};
use crate::{
    harp::Action,
    melody::{Bar, BarMarks, Lyric, Melody, Note, phrase, transposed_sharps},
    pitch::{Spelling, Step},
    report::{comparison::Side, lead},
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
    /// Of each verse that ends before another one does, the note of its last syllable, and the next one that another verse
    /// sings: it is held no further.
    pub(super) last_sung: Vec<Option<(usize, usize)>>,
}

/// The treble clef, as written or for sounds some octaves higher.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Clef {
    /// By how many octaves the notes sound higher than they stand.
    pub(super) octaves: i8,
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
    pub(super) length: Beats,
    pub(super) events: Vec<Event>,
    /// The tuplets: so many in the time of so many.
    pub(super) tuplets: Vec<(i64, i64)>,
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
    /// The beat that it belongs to, for beams: events with the same number may share one.
    pub(super) beat: usize,
    /// `None` for a rest.
    pub(super) note: Option<NoteEvent>,
}

/// What makes an event a note.
#[derive(Clone, Debug)]
pub(super) struct NoteEvent {
    /// Index in the melody.
    pub(super) note: usize,
    /// Steps of the staff above its lowest line.
    pub(super) position: i32,
    pub(super) accidental: Option<i8>,
    /// Whether the note begins here, and is not a tied piece of one that began before.
    pub(super) begins: bool,
    /// Tied to the next event, or to nothing where the file says so.
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
}

/// A tie to the right.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Tie {
    None,
    ToNext,
    Hanging,
}

/// What stands under a note.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) enum Tab {
    Action(Action),
    /// The name of a note that cannot be sounded.
    Missing(String),
    /// Left out of the tune.
    LeftOut,
}

impl Clef {
    /// The middle line of C4's octave: the lowest line is E4.
    const LOWEST_LINE: i32 = 4 * 7 + 2;

    fn position(self, spelling: Spelling) -> i32 {
        let octave = i32::from(spelling.octave) - i32::from(self.octaves);
        7 * octave + spelling.step as i32 - Clef::LOWEST_LINE
    }

    /// The clef that needs the fewest ledger lines; another one than the plain only where it spares one a note.
    fn best(spellings: &[Spelling]) -> Clef {
        let cost = |clef: &Clef| {
            let lines: i32 =
                spellings.iter().map(|&spelling| ledger_lines(clef.position(spelling)).abs()).sum();
            lines + if clef.octaves == 0 { 0 } else { spellings.len() as i32 }
        };
        let clefs = [0, 1, -1, 2].map(|octaves| Clef { octaves });
        clefs.into_iter().min_by_key(cost).unwrap_or(Clef { octaves: 0 })
    }
}

/// How many ledger lines a position needs; negative below the staff.
pub(super) fn ledger_lines(position: i32) -> i32 {
    if position > 9 {
        (position - 8) / 2
    } else if position < -1 {
        position / 2
    } else {
        0
    }
}

/// How far a signature of sharps (negative: flats) alters a letter.
fn altered(sharps: i8, step: Step) -> i8 {
    const ORDER: [Step; 7] = [Step::F, Step::C, Step::G, Step::D, Step::A, Step::E, Step::B];
    let place = ORDER.iter().position(|&letter| letter == step).unwrap_or(0) as i8;
    if sharps > place {
        1
    } else if -sharps > 6 - place {
        -1
    } else {
        0
    }
}

/// Writes a tune as an approach plays it.
pub(super) fn score(request: &Request, approach: &Approach) -> Score {
    let melody = &request.melody.signed(request.key);
    let writer = Writer { request, melody, approach };
    let spellings: Vec<Spelling> =
        (0..melody.notes.len()).filter_map(|note| approach.sounding(melody, note)).collect();
    let clef = Clef::best(&spellings);
    let mut bars = writer.bars(clef);
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

struct Writer<'a> {
    request: &'a Request<'a>,
    melody: &'a Melody,
    approach: &'a Approach<'a>,
}

/// A note, or a piece of it, in a bar.
#[derive(Clone, Copy)]
struct Slice {
    note: usize,
    first: bool,
    last: bool,
}

impl Writer<'_> {
    fn sharps(&self, at: Beats) -> i8 {
        transposed_sharps(self.melody.sharps_at(at), self.approach.transposed)
    }

    fn bars(&self, clef: Clef) -> Vec<ScoreBar> {
        let melody = self.melody;
        let mut slices: Vec<Vec<(Stretch, Slice)>> = vec![Vec::new(); melody.bars.len()];
        // Grace notes by the main note that they lead to.
        let mut graces: Vec<Vec<usize>> = vec![Vec::new(); melody.notes.len()];
        let mut waiting = Vec::new();
        let mut last_main = None;
        for (index, note) in melody.notes.iter().enumerate() {
            if note.duration <= Beats::ZERO {
                waiting.push(index);
                continue;
            }
            graces[index] = std::mem::take(&mut waiting);
            last_main = Some(index);
            for (bar_index, bar) in melody.bars.iter().enumerate().skip(note.bar) {
                let bar_end = bar.start + bar.length;
                if bar.start >= note.end() && bar_index > note.bar {
                    break;
                }
                let (from, to) = (note.onset.max(bar.start), note.end().min(bar_end));
                if from < to {
                    let (first, last) = (from == note.onset, to == note.end());
                    slices[bar_index]
                        .push(((from - bar.start, to - bar.start), Slice { note: index, first, last }));
                }
            }
        }
        if let Some(last) = last_main {
            // Ornaments after the last note stand with it.
            graces[last].append(&mut waiting);
        }
        let hard: Vec<usize> = hard::hardest(melody, &self.approach.playing, self.request.weights, HARD_BARS)
            .into_iter()
            .map(|hard| hard.bar)
            .collect();
        let mut phrase_ends = vec![0; melody.bars.len()];
        for end in phrase::ends(melody) {
            // In the bar in which its last note ends.
            let note = &melody.notes[end.note];
            let later =
                melody.bars[note.bar..].iter().skip(1).take_while(|bar| bar.start < note.end()).count();
            let bar = note.bar + later;
            phrase_ends[bar] = end.strength.max(phrase_ends[bar]).max(1);
        }
        let mut bars: Vec<ScoreBar> = Vec::with_capacity(melody.bars.len());
        let mut offset = Beats::ZERO;
        for (index, (bar, slices)) in melody.bars.iter().zip(slices).enumerate() {
            offset = offset_of(bar, index.checked_sub(1).map(|before| (&melody.bars[before], offset)));
            let mut score_bar = ScoreBar {
                index,
                number: bar.number,
                sharps: self.sharps(bar.start),
                meter: bar.meter,
                marks: bar.marks.clone(),
                length: bar.length,
                events: Vec::new(),
                tuplets: Vec::new(),
                chords: self.chords(bar),
                shaded: hard.contains(&index),
                phrase_end: phrase_ends[index],
            };
            self.fill(&mut score_bar, bar, offset, slices, &graces, clef);
            bars.push(score_bar);
        }
        self.accidentals(&mut bars);
        bars
    }

    /// Fills a bar with its notes and rests.
    fn fill(
        &self,
        target: &mut ScoreBar,
        bar: &Bar,
        offset: Beats,
        slices: Vec<(Stretch, Slice)>,
        graces: &[Vec<usize>],
        clef: Clef,
    ) {
        // A silent bar has the whole rest, whatever its meter; a part of a bar has rests of its length.
        if slices.is_empty() && bar.meter.is_none_or(|meter| meter.bar() == bar.length) {
            let value = Value { halvings: 0, dots: 0 };
            let beat = 0;
            target.events.push(Event {
                at: Beats::ZERO,
                length: bar.length,
                value,
                tuplet: None,
                beat,
                note: None,
            });
            return;
        }
        // With rests between the notes, from the beginning to the end of the bar.
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut owners: Vec<Option<Slice>> = Vec::new();
        let mut at = Beats::ZERO;
        for (stretch, slice) in slices {
            if stretch.0 > at {
                stretches.push((at, stretch.0));
                owners.push(None);
            }
            stretches.push(stretch);
            owners.push(Some(slice));
            at = stretch.1;
        }
        if at < bar.length {
            stretches.push((at, bar.length));
            owners.push(None);
        }
        let metered = bar.meter.filter(|meter| bar.length <= meter.bar() && Tree::has(*meter));
        let (tree, chunk) = match metered {
            Some(meter) => (Tree::bar(meter), meter.bar()),
            // Without a meter, in one that note values cannot fill, or longer than it: as if in common time.
            None => (Tree::bar(Meter::COMMON), Meter::COMMON.bar()),
        };
        let offset = if metered.is_some() { offset } else { Beats::ZERO };
        // Cut at the ends of the chunks; a bar of its meter's length is one.
        let mut chunk_start = Beats::ZERO - offset;
        let mut beats_before = 0;
        let mut next = 0;
        let mut dropped: Vec<usize> = Vec::new();
        while next < stretches.len() {
            let chunk_end = chunk_start + chunk;
            let inside: Vec<(Stretch, Option<Slice>, bool)> = stretches[next..]
                .iter()
                .zip(&owners[next..])
                .take_while(|(stretch, _)| stretch.0 < chunk_end)
                .map(|(&(from, to), &owner)| {
                    let cut = (from.max(chunk_start) - chunk_start, to.min(chunk_end) - chunk_start);
                    (cut, owner, to > chunk_end)
                })
                .collect();
            next += inside.iter().filter(|(_, _, goes_on)| !goes_on).count();
            self.write_chunk(target, (chunk_start, &tree, beats_before), &inside, &mut dropped);
            chunk_start = chunk_end;
            beats_before += tree.beats().len();
        }
        self.dress(target, graces, dropped, clef);
    }

    /// Writes the stretches of a chunk as values. Notes that are too short to be written are handed back.
    fn write_chunk(
        &self,
        target: &mut ScoreBar,
        (chunk_start, tree, beats_before): (Beats, &Tree, usize),
        inside: &[(Stretch, Option<Slice>, bool)],
        dropped: &mut Vec<usize>,
    ) {
        let mut stretches: Vec<Stretch> = inside.iter().map(|&(stretch, ..)| stretch).collect();
        let regions = tuplets::find(&mut stretches, tree);
        let beats = tree.beats();
        let first_tuplet = target.tuplets.len();
        target.tuplets.extend(regions.iter().map(|region| region.ratio));
        for (&(from, to), &(_, owner, _)) in stretches.iter().zip(inside) {
            if from >= to {
                dropped.extend(owner.map(|slice| slice.note));
                continue;
            }
            let mut cuts = vec![from];
            for region in &regions {
                let edges = [region.start, region.start + region.length];
                cuts.extend(edges.into_iter().filter(|&edge| from < edge && edge < to));
            }
            cuts.push(to);
            let mut pieces: Vec<Event> = Vec::new();
            for pair in cuts.windows(2) {
                let (from, to) = (pair[0], pair[1]);
                let region = regions
                    .iter()
                    .position(|region| region.start <= from && to <= region.start + region.length);
                let split = match region.map(|index| (index, regions[index])) {
                    Some((index, region)) => {
                        let (n, m) = region.ratio;
                        let written = |at: Beats| (at - region.start).times(n, m);
                        let real = |at: Beats| region.start + at.times(m, n);
                        let unit = region.length.times(1, m);
                        let split = Tree::tuplet(n, unit).split(written(from), written(to), owner.is_none());
                        let pieces = split.into_iter().map(|(from, to)| (real(from), real(to), to - from));
                        pieces.map(|piece| (piece, Some(first_tuplet + index))).collect::<Vec<_>>()
                    }
                    None => {
                        let split = tree.split(from, to, owner.is_none()).into_iter();
                        split.map(|(from, to)| ((from, to, to - from), None)).collect()
                    }
                };
                for ((from, to, written), tuplet) in split {
                    let beat = beats.partition_point(|&(start, ..)| start <= from).saturating_sub(1);
                    pieces.push(Event {
                        at: chunk_start + from,
                        length: to - from,
                        value: Value::of(written).unwrap_or_else(|| Value::near(written)),
                        tuplet,
                        beat: beats_before + beat,
                        note: None,
                    });
                }
            }
            let count = pieces.len();
            let before = target.events.last().and_then(|event| event.note.as_ref()).map(|before| before.note);
            for (index, piece) in pieces.iter_mut().enumerate() {
                piece.note = owner.map(|slice| {
                    let Slice { note, first, last } = slice;
                    let goes_on = inside
                        .iter()
                        .any(|&(_, other, goes_on)| goes_on && other.is_some_and(|other| other.note == note));
                    let begins = first && index == 0 && before != Some(note);
                    let ends = last && index + 1 == count && !goes_on;
                    self.note_event(note, begins, ends)
                });
            }
            target.events.append(&mut pieces);
        }
    }

    fn note_event(&self, index: usize, begins: bool, ends: bool) -> NoteEvent {
        let note: &Note = &self.melody.notes[index];
        let played = &self.approach.playing.notes[index];
        let changed = self.approach.is_changed(index);
        let tab = match played.action {
            Some(action) => Tab::Action(action),
            None if changed => Tab::LeftOut,
            None => Tab::Missing(
                self.approach
                    .sounding(self.melody, index)
                    .map_or_else(|| "?".to_owned(), |name| name.to_string()),
            ),
        };
        // A tie to or from nothing is meant where the order of playing goes on elsewhere; within a bar it is a slip of the file.
        let bars = &self.melody.bars;
        let leaves = bars
            .get(note.bar + 1)
            .is_none_or(|next| !next.marks.ending.is_empty() || next.marks.repeat_start)
            || bars[note.bar].marks.repeat_end.is_some();
        let last_in_bar = self.melody.notes.get(index + 1).is_none_or(|next| next.bar != note.bar);
        let arrives = !bars[note.bar].marks.ending.is_empty() || bars[note.bar].marks.repeat_start;
        let first_in_bar =
            index.checked_sub(1).is_none_or(|before| self.melody.notes[before].bar != note.bar);
        let tie = match (ends, note.tie_out && leaves && last_in_bar) {
            (false, _) => Tie::ToNext,
            (true, true) => Tie::Hanging,
            (true, false) => Tie::None,
        };
        NoteEvent {
            note: index,
            position: 0,
            accidental: None,
            begins,
            tie,
            hanging_in: begins && note.tie_in && arrives && first_in_bar,
            tab,
            awkward: begins && played.awkward,
            changed: begins && changed,
            mended: false,
            framed: false,
            breathe_after: ends && played.breathe_after,
            lyrics: if begins { note.lyrics.clone() } else { Vec::new() },
            graces: Vec::new(),
        }
    }

    /// Puts grace notes before their main notes, and every note on its line.
    fn dress(&self, bar: &mut ScoreBar, graces: &[Vec<usize>], dropped: Vec<usize>, clef: Clef) {
        let mut dropped = dropped.into_iter().peekable();
        for event in &mut bar.events {
            let Some(note) = &mut event.note else { continue };
            if !note.begins {
                continue;
            }
            let mut before = Vec::new();
            while let Some(lost) = dropped.next_if(|&lost| lost < note.note) {
                before.push(lost);
            }
            before.extend(&graces[note.note]);
            let sounded =
                before.into_iter().filter(|&grace| self.approach.sounding(self.melody, grace).is_some());
            note.graces = sounded.map(|grace| self.note_event(grace, true, true)).collect();
        }
        if let Some(note) = bar.events.iter_mut().rev().find_map(|event| event.note.as_mut()) {
            note.graces.extend(dropped.map(|lost| self.note_event(lost, true, true)));
        }
        let notes = bar.events.iter_mut().filter_map(|event| event.note.as_mut());
        for note in notes {
            note.position = self.position(note.note, clef);
            for grace in &mut note.graces {
                grace.position = self.position(grace.note, clef);
            }
        }
    }

    fn position(&self, note: usize, clef: Clef) -> i32 {
        // A note that is left out stands where it would have sounded.
        let sounding = self.approach.sounding(self.melody, note);
        let spelling = sounding.or_else(|| self.approach.wanted(self.melody, &self.melody.notes[note]));
        spelling.map_or(4, |spelling| clef.position(spelling))
    }

    /// Accidentals hold for the rest of their bar, on their line; a tied note has none of its own.
    fn accidentals(&self, bars: &mut [ScoreBar]) {
        for bar in bars {
            let mut in_force: Vec<(i32, i8)> = Vec::new();
            let sharps = bar.sharps;
            let mut mark = |note: &mut NoteEvent| {
                if !note.begins {
                    return;
                }
                let Some(spelling) = self.approach.sounding(self.melody, note.note) else { return };
                let line = 7 * i32::from(spelling.octave) + spelling.step as i32;
                let known = in_force.iter_mut().find(|(known, _)| *known == line);
                let expected = known.as_ref().map_or(altered(sharps, spelling.step), |known| known.1);
                if expected != spelling.alter {
                    note.accidental = Some(spelling.alter);
                    match known {
                        Some(known) => known.1 = spelling.alter,
                        None => in_force.push((line, spelling.alter)),
                    }
                }
            };
            for event in &mut bar.events {
                let Some(note) = &mut event.note else { continue };
                note.graces.iter_mut().for_each(&mut mark);
                mark(note);
            }
        }
    }

    /// The chord symbols of a bar, moved with the tune.
    fn chords(&self, bar: &Bar) -> Vec<(Beats, String)> {
        let end = bar.start + bar.length;
        let first = self.melody.chords.partition_point(|chord| chord.at < bar.start);
        let chords = self.melody.chords[first..].iter().take_while(|chord| chord.at < end);
        chords
            .map(|chord| {
                (chord.at - bar.start, self.melody.moved_chord(chord, self.approach.transposed).to_string())
            })
            .collect()
    }
}

/// How much of its meter lies before the beginning of a bar that is shorter than it: a pickup ends with its bar, and the second
/// part of a bar that a repeat divides goes on where the first ended.
fn offset_of(bar: &Bar, before: Option<(&Bar, Beats)>) -> Beats {
    let Some(meter) = bar.meter.filter(|meter| bar.length < meter.bar()) else { return Beats::ZERO };
    let missing = meter.bar() - bar.length;
    match before {
        _ if bar.number == 0 => missing,
        None => missing,
        Some((before, offset)) if before.number == bar.number => (offset + before.length).min(missing),
        Some(_) => Beats::ZERO,
    }
}
