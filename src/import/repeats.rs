//! The order of performance: a melody with its repeats, endings and jumps written out.
//!
//! 1. `form` finds the repeats, each with its start, its passes and its endings, and the targets of the jumps.
//! 2. `walk` lists the bars in the order in which a player plays them.
//! 3. [`unfold`] lays the bars out in that order; `verses` picks the words of each pass.
//!
//! After a jump back, repeats are not taken again and the last ending is played (common practice, no source). A repeat
//! that the file marks to be taken after the jump is the exception. Signs that make no sense cause a warning, and their
//! bars are played once, as written.

mod form;
mod verses;
mod walk;

use super::{MAX_QUARTERS, Oddity, Warning};
use crate::{
    melody::{Bar, BarMarks, ChordSymbol, KeySignature, Melody, Note, TempoWords},
    time::{Beats, Place, TempoMap},
};
use walk::Played;

/// The largest number of bars in a tune that is written out; marches with all their repeats have a few hundred bars.
const MAX_BARS: usize = 10_000;
const MAX_NOTES: usize = 100_000;

/// Writes a melody out in the order of performance; `part` is the number of the melody's part, used for the places of
/// warnings.
///
/// Bars keep their printed numbers, so a number may occur more than once. All marks are removed except the ends of
/// sections. Keys, chords and tempo are those that apply where the bar is written. A note tied over a barline stays one
/// note if the bar played next continues it; otherwise the note ends with its bar. A bar played several times gets the
/// words of verse n on the nth pass, or of its first verse if it has no verse n. These words become verse 1.
///
/// A melody without repeats and jumps only loses its marks. A result longer than ten thousand bars, or than a hundred
/// thousand notes or quarters, is discarded: the melody stays as written, with a warning.
pub fn unfold(melody: &Melody, part: u16) -> (Melody, Vec<Warning>) {
    let form = form::Form::of(&melody.bars);
    let warn = |bar: usize, oddity: Oddity| {
        let place =
            melody.bars.get(bar).map(|bar| Place { part, bar: bar.number, beat: bar.beat(bar.start) });
        Warning { oddity, place, text: None }
    };
    let mut warnings: Vec<Warning> =
        form.oddities.iter().map(|(bar, oddity)| warn(*bar, oddity.clone())).collect();
    let pieces = pieces(melody);
    let cost = |bar: usize| (pieces[bar].len(), melody.bars[bar].length);
    match walk::order(&form, cost) {
        Ok(order) => (written_out(melody, &pieces, &order), warnings),
        Err((limit, unit)) => {
            warnings.push(Warning {
                oddity: Oddity::UnfoldedTooLong { limit, unit },
                place: None,
                text: None,
            });
            (melody.clone(), warnings)
        }
    }
}

/// Returns the indices of a melody's bars in the order of performance, or as written if the result would exceed the
/// limits of [`unfold`].
pub fn order(melody: &Melody) -> Vec<usize> {
    let form = form::Form::of(&melody.bars);
    let mut notes = vec![0; melody.bars.len()];
    for note in &melody.notes {
        notes[note.bar] += 1;
    }
    let cost = |bar: usize| (notes[bar], melody.bars[bar].length);
    match walk::order(&form, cost) {
        Ok(order) => order.into_iter().map(|played| played.bar).collect(),
        Err(_) => (0..melody.bars.len()).collect(),
    }
}

/// The piece of a note that sounds within one bar.
#[derive(Clone, Copy)]
struct Piece<'a> {
    note: &'a Note,
    /// The time from the start of the bar.
    offset: Beats,
    duration: Beats,
    /// Whether the note began before this bar, or is written as the end of a tie.
    tie_in: bool,
    /// Whether the note continues after this bar, or is written as the start of a tie.
    tie_out: bool,
}

/// Returns the notes of each bar, cut at the end of the bar.
fn pieces(melody: &Melody) -> Vec<Vec<Piece<'_>>> {
    let mut pieces: Vec<Vec<Piece>> = vec![Vec::new(); melody.bars.len()];
    for note in &melody.notes {
        let mut onset = note.onset;
        for (index, bar) in melody.bars.iter().enumerate().skip(note.bar) {
            let last = index + 1 == melody.bars.len() || note.end() <= bar.start + bar.length;
            let end = if last { note.end() } else { bar.start + bar.length };
            // A bar without length gets no piece of a longer note.
            if end > onset || note.duration == Beats::ZERO {
                pieces[index].push(Piece {
                    note,
                    offset: onset - bar.start,
                    duration: end - onset,
                    tie_in: index > note.bar || note.tie_in,
                    tie_out: !last || note.tie_out,
                });
            }
            onset = end;
            if last {
                break;
            }
        }
    }
    pieces
}

/// One performance of a bar: its written place and its new place.
#[derive(Clone, Copy)]
struct Span {
    written: Beats,
    played: Beats,
    length: Beats,
    /// Whether the bar played just before is not the one written just before.
    jumped: bool,
}

fn written_out(melody: &Melody, pieces: &[Vec<Piece>], order: &[Played]) -> Melody {
    if order.iter().map(|played| played.bar).eq(0..melody.bars.len()) {
        return without_marks(melody);
    }
    let mut unfolded = Melody {
        title: melody.title.clone(),
        credits: melody.credits.clone(),
        rhythm: melody.rhythm.clone(),
        counted_bars: melody.counted_bars,
        ..Melody::default()
    };
    let mut spans: Vec<Span> = Vec::with_capacity(order.len());
    let mut start = Beats::ZERO;
    // Whether the last note is tied to the next one.
    let mut tied = false;
    for (index, played) in order.iter().enumerate() {
        let bar = &melody.bars[played.bar];
        let jumped = index > 0 && order[index - 1].bar + 1 != played.bar;
        spans.push(Span { written: bar.start, played: start, length: bar.length, jumped });
        let verse = played.verse.map(|verse| verses::sung(verse, &pieces[played.bar]));
        for piece in &pieces[played.bar] {
            let onset = start + piece.offset;
            match unfolded.notes.last_mut() {
                Some(before)
                    if tied
                        && piece.tie_in
                        && before.pitch == piece.note.pitch
                        && before.end() == onset
                        && before.grace == piece.note.grace =>
                {
                    before.duration += piece.duration;
                    before.breath_after = piece.note.breath_after && !piece.tie_out;
                }
                _ => unfolded.notes.push(sounding(piece, onset, index, verse)),
            }
            tied = piece.tie_out;
        }
        let section_end = ends_section(melody, played.bar, order.get(index + 1).map(|next| next.bar));
        let marks = BarMarks { section_end, ..BarMarks::default() };
        unfolded.bars.push(Bar { start, marks, ..bar.clone() });
        start += bar.length;
    }
    let signatures = melody.signatures.iter().map(|key| (key.at, (key.sharps, key.mode))).collect();
    let signatures = carried(signatures, &spans).into_iter();
    unfolded.signatures = signatures.map(|(at, (sharps, mode))| KeySignature { at, sharps, mode }).collect();
    let placeless = |chord: &ChordSymbol| ChordSymbol { at: Beats::ZERO, ..chord.clone() };
    let chords = melody.chords.iter().map(|chord| (chord.at, placeless(chord))).collect();
    let chords = carried(chords, &spans).into_iter();
    unfolded.chords = chords.map(|(at, chord)| ChordSymbol { at, ..chord }).collect();
    if melody.tempo.is_stated() {
        unfolded.tempo = TempoMap::new(carried(melody.tempo.changes().collect(), &spans));
    }
    for span in &spans {
        let first = melody.tempo_words.partition_point(|words| words.at < span.written);
        let within = melody.tempo_words[first..].iter();
        let within = within.take_while(|words| words.at < span.written + span.length);
        unfolded.tempo_words.extend(
            within.map(|words| TempoWords { at: span.played + (words.at - span.written), ..words.clone() }),
        );
    }
    unfolded
}

/// Returns a melody that is played as written, without any marks except the ends of sections.
fn without_marks(melody: &Melody) -> Melody {
    let mut plain = melody.clone();
    for (index, bar) in plain.bars.iter_mut().enumerate() {
        let section_end = ends_section(melody, index, Some(index + 1));
        bar.marks = BarMarks { section_end, ..BarMarks::default() };
    }
    plain
}

/// Makes a separate note from a piece, at the place where the piece is played.
fn sounding(piece: &Piece, onset: Beats, bar: usize, verse: Option<Option<u8>>) -> Note {
    let begins = !piece.tie_in || piece.note.tie_in;
    let mut note = Note {
        onset,
        duration: piece.duration,
        bar,
        breath_after: piece.note.breath_after && !piece.tie_out,
        lyrics: Vec::new(),
        tie_in: false,
        tie_out: false,
        ..piece.note.clone()
    };
    if begins {
        note.lyrics = match verse {
            Some(verse) => verses::pick(&piece.note.lyrics, verse),
            None => piece.note.lyrics.clone(),
        };
    }
    note
}

/// Whether a strain ends after this bar when the bar `next` is played after it.
fn ends_section(melody: &Melody, bar: usize, next: Option<usize>) -> bool {
    let marks = &melody.bars[bar].marks;
    let starts = next.and_then(|next| melody.bars.get(next)).is_some_and(|next| next.marks.repeat_start);
    marks.section_end
        || marks.repeat_end.is_some()
        || marks.fine
        || marks.da_capo
        || marks.dal_segno
        || next.is_some_and(|next| next != bar + 1)
        || starts
}

/// Rearranges entries that apply until the next entry (keys, chords, tempos) into the order of performance. The result
/// has the entries within each bar and, after a jump, the entry that applies at the jump's target.
fn carried<T: Clone + PartialEq>(entries: Vec<(Beats, T)>, spans: &[Span]) -> Vec<(Beats, T)> {
    let mut carried: Vec<(Beats, T)> = Vec::new();
    for span in spans {
        let mut first = entries.partition_point(|(at, _)| *at < span.written);
        if span.jumped {
            first = entries.partition_point(|(at, _)| *at <= span.written);
            let held = entries[..first].last().map(|(_, held)| held);
            if let Some(held) = held.filter(|held| carried.last().map(|(_, last)| last) != Some(held)) {
                carried.push((span.played, held.clone()));
            }
        }
        let within = entries[first..].iter().take_while(|(at, _)| *at < span.written + span.length);
        carried.extend(within.map(|(at, entry)| (span.played + (*at - span.written), entry.clone())));
    }
    carried
}
