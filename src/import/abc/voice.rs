//! A voice: places its notes in bars, and keeps the state that lasts from note to note.

use std::ops::Range;

use super::key::{Key, Shift};
use crate::{
    import::{
        MAX_NOTES, Oddity,
        draft::{Draft, NoteDraft, PartDraft, Spot},
    },
    melody::{ChordSymbol, Note, Signs, transposed_sharps},
    pitch::{Interval, Pitch, Spelling, Step},
    time::{Beats, Meter},
};

/// The largest number of bars in a tune, far more than any music has.
pub(super) const MAX_BARS: usize = 100_000;
/// The names of a bar's overlays; further overlays share the last.
const OVERLAYS: [&str; 8] = ["1", "2", "3", "4", "5", "6", "7", "8"];

/// The notes of a bar to which an accidental in the bar applies (§11.3).
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) enum Reach {
    /// The accidental applies only to its own note.
    Note,
    /// The accidental applies to its letter in its own octave.
    Octave,
    /// The accidental applies to its letter in all octaves.
    #[default]
    Letter,
}

/// A note as written: its letter, its octave, and the accidental before it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Written {
    pub(super) step: Step,
    pub(super) octave: i8,
    pub(super) accidental: Option<i8>,
    pub(super) tied: bool,
}

/// The content of a barline.
#[derive(Clone, Default, PartialEq, Eq, Debug)]
pub(super) struct Barline {
    /// How often the passage that ends here is played; zero if no repeat ends here.
    pub(super) ends: u8,
    /// How often the passage that starts here is played; zero if no repeat starts here.
    pub(super) starts: u8,
    /// Whether the barline is double or final.
    pub(super) double: bool,
    /// The numbers of the ending that begins here.
    pub(super) ending: Vec<u8>,
}

/// A note or chord that can carry a syllable.
#[derive(Clone, Debug)]
pub(super) struct Sung {
    /// The range of its notes in the part's notes.
    pub(super) notes: Range<usize>,
    pub(super) spot: Spot,
}

/// A voice, which becomes a part.
pub(super) struct Voice {
    pub(super) name: Option<String>,
    pub(super) part: PartDraft<'static>,
    pub(super) unit: Beats,
    pub(super) key: Key,
    pub(super) shift: Shift,
    pub(super) meter: Option<Meter>,
    pub(super) bar: usize,
    pub(super) now: Beats,
    /// The latest point that an overlay of this bar has reached.
    furthest: Beats,
    sounding: Beats,
    overlay: u16,
    /// The accidentals in this bar, by octave and letter.
    accidentals: [[Option<i8>; 7]; 12],
    /// The notes with an open tie, with their alterations.
    tied: Vec<(Step, i8, i8)>,
    /// The range of the last note or chord in the part's notes.
    pub(super) last: Range<usize>,
    /// The written length of the last note or rest in units, and its duration in this bar.
    pub(super) last_units: (i64, i64),
    last_length: Beats,
    /// The factor by which a broken rhythm changes the next note.
    broken: (i64, i64),
    /// The open tuplet: its ratio, and the number of notes left.
    pub(super) tuplet: Option<((i64, i64), u32)>,
    /// Whether a breath mark is written before the next note; the place to breathe is after that note.
    pub(super) breathes: bool,
    /// The signs for the next note: the slurs that begin there, and a fermata.
    pub(super) signs: Signs,
    ending: Vec<u8>,
    /// The bar to which a repeat without a start sign goes back, and whether a double bar or a new part of the tune is
    /// there.
    section: (usize, bool),
    /// How often the open repeat is played; zero if none is open.
    open: u8,
    /// The notes of the last line that can carry words, and whether the line continues.
    pub(super) line: Vec<Sung>,
    pub(super) continues: bool,
    pub(super) verse: u8,
}

impl Voice {
    pub(super) fn new(unit: Beats, key: Key, shift: Shift, meter: Option<Meter>) -> Voice {
        let mut part = PartDraft::default();
        part.voices.push((OVERLAYS[0], 0));
        Voice {
            name: None,
            part,
            unit,
            key,
            shift,
            meter,
            bar: 0,
            now: Beats::ZERO,
            furthest: Beats::ZERO,
            sounding: Beats::ZERO,
            overlay: 0,
            accidentals: [[None; 7]; 12],
            tied: Vec::new(),
            last: 0..0,
            last_units: (1, 1),
            last_length: Beats::ZERO,
            broken: (1, 1),
            tuplet: None,
            breathes: false,
            signs: Signs::default(),
            ending: Vec::new(),
            section: (0, false),
            open: 0,
            line: Vec::new(),
            continues: false,
            verse: 0,
        }
    }

    pub(super) fn spot(&self) -> Spot {
        Spot { bar: self.bar, offset: self.now }
    }

    /// Records the key at this place.
    pub(super) fn state_key(&mut self) {
        if let Some(sharps) = self.key.sharps {
            let sounding = transposed_sharps(sharps, Interval(self.shift.semitones));
            self.part.keys.push((self.spot(), sounding, self.key.mode));
        }
    }

    /// Returns the length of a note or rest of `over / under` units under the current tuplet and broken rhythm, and
    /// advances both.
    pub(super) fn length(&mut self, (over, under): (i64, i64)) -> Beats {
        let broken = std::mem::replace(&mut self.broken, (1, 1));
        self.last_units = (over, under);
        let mut length = self.unit.times(over, under).times(broken.0, broken.1);
        if let Some((ratio, left)) = &mut self.tuplet {
            length = length.times(ratio.0, ratio.1);
            *left -= 1;
            if *left == 0 {
                self.tuplet = None;
            }
        }
        length
    }

    /// Applies a broken rhythm to the last note or rest of this bar and the next one, which has `next` units; returns
    /// false if this bar has no note or rest before the sign, or if the two lengths differ.
    pub(super) fn break_rhythm(&mut self, before: (i64, i64), after: (i64, i64), next: (i64, i64)) -> bool {
        let start = self.now - self.last_length;
        let are_equal = i128::from(self.last_units.0) * i128::from(next.1)
            == i128::from(next.0) * i128::from(self.last_units.1);
        if self.last_length == Beats::ZERO || start < Beats::ZERO || !are_equal {
            return false;
        }
        if self.sounding == self.now {
            self.sounding = start;
        }
        self.last_length = self.last_length.times(before.0, before.1);
        self.now = start + self.last_length;
        self.sounding = self.sounding.max(self.now);
        for draft in &mut self.part.notes[self.last.clone()] {
            draft.note.duration = self.last_length;
        }
        // Grace notes may come between the note and the sign.
        for draft in &mut self.part.notes[self.last.end..] {
            draft.note.onset = self.now;
        }
        self.broken = after;
        true
    }

    /// Whether the tune has reached a size limit.
    fn is_full(&self, draft: &Draft<'static>) -> bool {
        draft.notes > MAX_NOTES || self.bar >= MAX_BARS
    }

    /// Adds notes that sound together; a grace note has no length.
    pub(super) fn sound(
        &mut self,
        draft: &mut Draft<'static>,
        notes: &[Written],
        length: Beats,
        reach: Reach,
    ) -> Vec<Oddity> {
        let mut odd = Vec::new();
        let (first, grace) = (self.part.notes.len(), length == Beats::ZERO);
        let signs = if grace { Signs::default() } else { std::mem::take(&mut self.signs) };
        let tied = if grace { Vec::new() } else { std::mem::take(&mut self.tied) };
        for &written in notes {
            draft.notes += 1;
            if self.is_full(draft) {
                break;
            }
            let spelling = self.spelling(written, &tied, reach);
            if written.tied {
                self.tied.push((written.step, written.octave, spelling.alter));
            }
            let Some((pitch, spelling)) = self.sounds(spelling) else {
                odd.push(Oddity::PitchOutOfRange);
                continue;
            };
            let note = Note::new(self.now, length, pitch, self.bar);
            let breath_after = self.breathes && !grace;
            let note = Note { spelling: Some(spelling), grace, breath_after, signs, ..note };
            self.part.notes.push(NoteDraft {
                note,
                voice: self.overlay,
                tie_start: written.tied,
                tie_stop: false,
            });
        }
        self.breathes &= grace;
        if !grace {
            self.last = first..self.part.notes.len();
            if self.overlay == 0 {
                self.line.push(Sung { notes: self.last.clone(), spot: self.spot() });
            }
            self.now += length;
            self.last_length = length;
            self.sounding = self.sounding.max(self.now);
        }
        odd
    }

    /// Ties the last note or chord to the next.
    pub(super) fn tie(&mut self) {
        for draft in &mut self.part.notes[self.last.clone()] {
            draft.tie_start = true;
            if let Some(Spelling { step, alter, octave }) = draft.note.spelling
                && self.shift == Shift::default()
            {
                self.tied.push((step, octave, alter));
            }
        }
    }

    /// Returns the spelling of a note. The alteration comes from the note's own accidental, otherwise from a tie into
    /// the note, otherwise from the bar, otherwise from the key.
    fn spelling(&mut self, written: Written, tied: &[(Step, i8, i8)], reach: Reach) -> Spelling {
        let Written { step, octave, accidental, .. } = written;
        let row = match reach {
            Reach::Letter => 0,
            _ => usize::try_from(octave + 1).unwrap_or(0).min(11),
        };
        let before = &mut self.accidentals[row][step as usize];
        if reach != Reach::Note && accidental.is_some() {
            *before = accidental;
        }
        let through = || tied.iter().find(|tie| (tie.0, tie.1) == (step, octave)).map(|tie| tie.2);
        let alter = accidental.or_else(through).or(*before).unwrap_or(self.key.alters[step as usize]);
        Spelling { step, alter, octave }
    }

    /// Returns the sounding pitch and its spelling.
    fn sounds(&self, written: Spelling) -> Option<(Pitch, Spelling)> {
        let by = Interval(self.shift.total());
        if by == Interval(0) {
            return Some((written.pitch()?, written));
        }
        let midi = 12 * (i16::from(written.octave) + 1) + written.step.semitones() + i16::from(written.alter);
        let pitch = u8::try_from(midi + by.0).ok().and_then(Pitch::new)?;
        let before = self.key.sharps.unwrap_or(0);
        let after = transposed_sharps(before, by);
        Some((pitch, written.moved(after - before, pitch, after)))
    }

    /// Adds a chord symbol at this place.
    pub(super) fn chord(&mut self, text: &str) {
        self.chord_at(self.spot(), text);
    }

    pub(super) fn chord_at(&mut self, spot: Spot, text: &str) {
        let chord = ChordSymbol::parse(Beats::ZERO, text);
        let by = Interval(self.shift.semitones);
        let before = self.key.sharps.unwrap_or(0);
        let after = transposed_sharps(before, by);
        self.part.chords.push((spot, chord.moved(after - before, by, after)));
    }

    pub(super) fn rest(&mut self, length: Beats) {
        self.now += length;
        self.last_length = length;
        // A fermata over a rest is dropped.
        self.signs.fermata = false;
        self.tied.clear();
        self.last = self.part.notes.len()..self.part.notes.len();
    }

    /// Returns to the start of the bar for another line of notes.
    pub(super) fn overlay(&mut self) {
        self.furthest = self.furthest.max(self.now);
        (self.now, self.last_length) = (Beats::ZERO, Beats::ZERO);
        self.accidentals = [[None; 7]; 12];
        self.overlay = (self.overlay + 1).min(OVERLAYS.len() as u16 - 1);
        if self.part.voices.len() <= usize::from(self.overlay) {
            self.part.voices.push((OVERLAYS[usize::from(self.overlay)], 0));
        }
    }

    /// Ends the bar, if it has any content.
    pub(super) fn end_bar(&mut self, draft: &mut Draft<'static>, index: usize) {
        let filled = self.furthest.max(self.now);
        if filled == Beats::ZERO || self.is_full(draft) {
            return;
        }
        draft.count = draft.count.max(self.bar + 1);
        let shared = draft.bar(self.bar);
        shared.sounding = shared.sounding.max(self.sounding);
        shared.least_filled = Some(shared.least_filled.map_or(filled, |least| least.min(filled)));
        if filled > shared.filled {
            (shared.filled, shared.longest_part) = (filled, index);
        }
        if !self.ending.is_empty() {
            shared.marks.ending.clone_from(&self.ending);
        }
        self.bar += 1;
        self.last_length = Beats::ZERO;
        (self.now, self.furthest, self.sounding, self.overlay) = (Beats::ZERO, Beats::ZERO, Beats::ZERO, 0);
        self.accidentals = [[None; 7]; 12];
    }

    /// Reads a barline; returns an oddity for the end of a repeat before the first bar.
    pub(super) fn barline(
        &mut self,
        draft: &mut Draft<'static>,
        index: usize,
        line: Barline,
    ) -> Option<Oddity> {
        self.end_bar(draft, index);
        let mut odd = None;
        let Barline { ends, starts, double, ending } = line;
        if let Some(before) = self.bar.checked_sub(1) {
            let marks = &mut draft.bar(before).marks;
            marks.section_end |= double;
            if ends > 0 {
                marks.repeat_end = Some(ends.max(self.open));
            }
        } else if ends > 0 {
            odd = Some(Oddity::Unreadable { what: "a repeat without music".into() });
        }
        if ends > 0 && self.open == 0 && self.section.1 && self.section.0 < self.bar {
            // The repeat goes back to the double bar (§4.8).
            draft.bar(self.section.0).marks.repeat_start = true;
        }
        if ends > 0 || starts > 0 || double {
            self.ending.clear();
            // If these signs divide a bar, its second half shares the number of the first.
            draft.bar(self.bar).implicit = self.bar > 0;
        }
        if ends > 0 || double {
            self.section = (self.bar, double && ends == 0);
        }
        if ends > 0 {
            self.open = 0;
        }
        if starts > 0 {
            draft.bar(self.bar).marks.repeat_start = true;
            self.open = starts;
        }
        if !ending.is_empty() {
            draft.bar(self.bar).implicit = self.bar > 0;
            self.ending = ending;
        }
        odd
    }

    /// Begins a section of the tune, as at `P:`; a repeat without a start sign goes back here.
    pub(super) fn begin_section(&mut self) {
        if self.now == Beats::ZERO {
            self.section = (self.bar, true);
        }
    }
}
