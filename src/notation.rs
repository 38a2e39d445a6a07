//! Decides how a tune is written: note values, ties, tuplets, beams, accidentals, the clef, and the words of jumps.
//!
//! A [`Melody`] gives the time and the name of each note. [`write()`] turns the melody into the notation that a
//! musician reads, bar by bar. Sheets and exports draw this notation.
//!
//! 1. `kept` keeps a bar as its file writes it, if the file's note values match the sound.
//! 2. `tuplets` finds where a bar departs from the plain divisions of its beats.
//! 3. `value` splits a stretch that has no single value, or that would hide the beat, and ties the pieces.
//! 4. Notes get the accidentals that neither the signature nor the bar implies; `beams` joins the notes of a beat.
//!
//! `clef` chooses the clef; `jumps` words the jumps at the end of a bar.

mod beams;
mod clef;
mod jumps;
mod kept;
mod tuplets;
mod value;

pub use crate::{melody::Beam, time::Value};
pub use clef::{Clef, ledger_lines};
pub use jumps::jumps;

use crate::{
    melody::{self, Melody, WrittenKind},
    pitch::{Spelling, Step},
    time::{Beats, Meter},
};
use kept::Kept;
use tuplets::Stretch;
use value::Tree;

/// A tune in notation.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Notation {
    /// The bars of the notation, one for each bar of the melody.
    pub bars: Vec<Bar>,
    /// The clef of the whole tune, chosen for few ledger lines.
    pub clef: Clef,
}

/// A bar.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Bar {
    /// The time signature that applies.
    pub meter: Option<Meter>,
    /// The notes and rests of the bar.
    pub events: Vec<Event>,
    /// The tuplets, each as (number of notes, number in whose time they are played).
    pub tuplets: Vec<(i64, i64)>,
    /// The events that share a beam, in groups of two or more.
    pub beams: Vec<Vec<usize>>,
    /// The notes too short or too long for any note value. The bar in which a note begins shows it as a grace note, if
    /// the bar has other notes.
    pub lost: Vec<Lost>,
}

/// A note, or a piece of a note, too short or too long for any note value.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Lost {
    /// The index of the note in the melody.
    pub note: usize,
    /// The times at which the note or piece begins and ends, from the start of the bar.
    pub real: (Beats, Beats),
    /// Whether the note itself begins here, and not only a piece of it.
    pub begins: bool,
    /// Whether the note itself ends here.
    pub ends: bool,
}

/// A note, a rest, or a tied piece of a note.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Event {
    /// The place according to the written values, from the start of the bar.
    pub at: Beats,
    /// The written length.
    pub length: Beats,
    /// The real beginning and end, from the start of the bar. They differ from the written times only if the file's
    /// times are rounded or cannot be written.
    pub real: (Beats, Beats),
    /// The note value and its dots.
    pub value: Value,
    /// Whether the event is a whole-bar rest, which looks the same in every meter.
    pub is_whole_bar: bool,
    /// The index of the event's tuplet in the bar.
    pub tuplet: Option<usize>,
    /// The beat to which the event belongs, counted from 0.
    pub beat: usize,
    /// Whether the event is a rest that is not drawn.
    pub hidden: bool,
    /// The event's part of each beam, from the eighths' beam on.
    pub beams: Vec<Beam>,
    /// The note; `None` for a rest.
    pub note: Option<Note>,
}

/// The note of an event.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Note {
    /// The index of the note in the melody.
    pub note: usize,
    /// The accidental to draw before the note; sharps are positive.
    pub accidental: Option<i8>,
    /// Whether the file has a courtesy accidental before the note.
    pub courtesy: bool,
    /// Whether the note begins here; false for a tied piece of a note that began earlier.
    pub begins: bool,
    /// The tie to the next event; it hangs if the file ties the note to nothing, as before a repeat.
    pub tie: Tie,
    /// Whether a tie leads into the note from nothing, as in a second ending.
    pub hanging_in: bool,
    /// The grace notes before the note.
    pub graces: Vec<Grace>,
}

/// A grace note, or a note that no note value can express.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Grace {
    /// The index of the note in the melody.
    pub note: usize,
    /// The note value.
    pub value: Value,
    /// The grace note's part of the beams that it shares with neighbouring grace notes.
    pub beams: Vec<Beam>,
    /// Whether the grace note is drawn with a stroke through its flag, as a single eighth is.
    pub slashed: bool,
    /// The accidental to draw before the grace note.
    pub accidental: Option<i8>,
}

/// The tie from a note onwards.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[allow(missing_docs, reason = "the three names explain themselves")]
pub enum Tie {
    None,
    ToNext,
    Hanging,
}

/// Returns the alteration of a letter under a signature of `sharps` sharps (negative for flats).
pub(crate) fn altered(sharps: i8, step: Step) -> i8 {
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

/// The point from which a key signature inside a bar takes effect.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Keys {
    /// From its own place in the bar.
    Anywhere,
    /// From the next bar, the first place where it can be drawn.
    AtBars,
}

/// Writes a melody. A note without a spelling is spelled by the key signature.
pub fn write(melody: &Melody, keys: Keys) -> Notation {
    let names: Vec<Spelling> = melody
        .notes
        .iter()
        .map(|note| note.spelling.unwrap_or_else(|| melody.spelled(note.pitch, note.onset)))
        .collect();
    let clef = Clef::best(&names);
    let has_beams = melody.bars.iter().flat_map(|bar| &bar.written).any(|written| written.beams[0].is_some());
    let writer = Writer { melody, names, keys, has_beams };
    Notation { bars: writer.bars(), clef }
}

/// The longest stretch that is written as note values, in quarters: 64 bars of 4/4.
const LONGEST: i32 = 256;

struct Writer<'a> {
    melody: &'a Melody,
    names: Vec<Spelling>,
    keys: Keys,
    /// Whether the file states beams, so that a note without a beam is meant to have none.
    has_beams: bool,
}

/// A note, or a piece of a note, in a bar.
#[derive(Clone, Copy)]
struct Slice {
    note: usize,
    first: bool,
    last: bool,
}

impl Writer<'_> {
    fn bars(&self) -> Vec<Bar> {
        let melody = self.melody;
        let mut slices: Vec<Vec<(Stretch, Slice)>> = vec![Vec::new(); melody.bars.len()];
        // The grace notes, by the index of the main note after them.
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
                if bar.start >= note.end() && bar_index > note.bar {
                    break;
                }
                // The last bar takes all notes up to the end of the melody.
                let is_last = bar_index + 1 == melody.bars.len();
                let bar_end = if is_last { note.end() } else { bar.start + bar.length };
                let (from, to) = (note.onset.max(bar.start), note.end().min(bar_end));
                if from < to {
                    let (first, last) = (from == note.onset, to == note.end());
                    slices[bar_index]
                        .push(((from - bar.start, to - bar.start), Slice { note: index, first, last }));
                }
            }
        }
        if let Some(last) = last_main {
            // Grace notes after the last main note are written at that note.
            graces[last].append(&mut waiting);
        }
        let mut bars: Vec<Bar> = Vec::with_capacity(melody.bars.len());
        let mut offset = Beats::ZERO;
        for (index, (bar, slices)) in melody.bars.iter().zip(slices).enumerate() {
            offset = offset_of(bar, index.checked_sub(1).map(|before| (&melody.bars[before], offset)));
            let mut written = Bar {
                meter: bar.meter,
                events: Vec::new(),
                tuplets: Vec::new(),
                beams: Vec::new(),
                lost: Vec::new(),
            };
            self.fill(&mut written, bar, offset, slices);
            dress(&mut written, bar, &graces);
            self.accidentals(&mut written, bar);
            bars.push(written);
        }
        bars
    }

    /// Fills a bar with its notes and rests.
    fn fill(&self, target: &mut Bar, bar: &melody::Bar, offset: Beats, slices: Vec<(Stretch, Slice)>) {
        let hides = bar.written.iter().any(|written| written.kind == WrittenKind::HiddenRest);
        let kept = if slices.is_empty() && !hides { None } else { kept::events(bar, &slices) };
        if let Some(kept) = kept {
            self.keep(target, (bar, offset), &kept, &slices);
            return;
        }
        // A silent bar of full length gets the whole-bar rest in any meter; a shorter or longer one gets rests of its
        // length.
        if slices.is_empty() && bar.meter.is_none_or(|meter| meter.bar() == bar.length) {
            target.events.push(Event {
                at: Beats::ZERO,
                length: bar.length,
                real: (Beats::ZERO, bar.length),
                value: Value::WHOLE,
                is_whole_bar: true,
                tuplet: None,
                beat: 0,
                hidden: false,
                beams: Vec::new(),
                note: None,
            });
            return;
        }
        // Rests fill the gaps between the notes and at both ends of the bar.
        let mut stretches: Vec<(Stretch, Option<Slice>)> = Vec::new();
        let mut at = Beats::ZERO;
        for (stretch, slice) in slices {
            if stretch.0 > at {
                stretches.push(((at, stretch.0), None));
            }
            stretches.push((stretch, Some(slice)));
            at = stretch.1;
        }
        if at < bar.length {
            stretches.push(((at, bar.length), None));
        }
        // A stretch longer than `LONGEST` gets no note value; its note is added to `lost`.
        let (stretches, endless): (Vec<_>, Vec<_>) =
            stretches.into_iter().partition(|((from, to), _)| *to - *from <= Beats::quarters(LONGEST));
        target.lost.extend(endless.into_iter().filter_map(|(real, owner)| {
            let Slice { note, first, last } = owner?;
            Some(Lost { note, real, begins: first, ends: last })
        }));
        let (tree, chunk, offset) = division(bar, offset);
        // The bar is written in chunks of the division's length; a bar as long as its meter is a single chunk.
        let mut start = Beats::ZERO - offset;
        let mut beats_before = 0;
        let mut next = 0;
        while next < stretches.len() {
            let end = start + chunk;
            let inside: Vec<Inside> = stretches[next..]
                .iter()
                .take_while(|(stretch, _)| stretch.0 < end)
                .map(|&((from, to), owner)| Inside {
                    stretch: (from.max(start) - start, to.min(end) - start),
                    owner,
                    goes_on: to > end,
                })
                .collect();
            if inside.is_empty() {
                start = end;
                continue;
            }
            next += inside.iter().filter(|inside| !inside.goes_on).count();
            self.write_chunk(target, (start, &tree, beats_before), &inside);
            start = end;
            beats_before += tree.beats().len();
        }
        target.beams = beams::groups(target);
        for group in &target.beams {
            beams::join(&mut target.events, group, |_| Vec::new());
        }
    }

    /// Fills a bar as its file writes it.
    fn keep(
        &self,
        target: &mut Bar,
        (bar, offset): (&melody::Bar, Beats),
        kept: &[Kept],
        slices: &[(Stretch, Slice)],
    ) {
        let (tree, chunk, offset) = division(bar, offset);
        let beats = tree.beats();
        let (tuplets, ratios) = kept::tuplets(kept);
        for (index, (&Kept { written, at, slice }, tuplet)) in kept.iter().zip(tuplets).enumerate() {
            let (numerator, denominator) = (at + offset).fraction();
            let (n, d) = chunk.fraction();
            let chunks = numerator * d / (denominator * n).max(1);
            let inside = at + offset - chunk.times(chunks, 1);
            let beat = beats.partition_point(|&(start, ..)| start <= inside).saturating_sub(1);
            // If the file rounds its durations, the note's own duration determines when it sounds.
            let start = |kept: &Kept| match kept.slice {
                Some((slice, true, _)) => slices[slice].0.0,
                _ => kept.written.at,
            };
            let end = match slice {
                Some((slice, _, true)) => slices[slice].0.1,
                _ => kept.get(index + 1).map_or(bar.length, start),
            };
            let note = slice.map(|(slice, is_first, is_last)| {
                let Slice { note, first, last } = slices[slice].1;
                let courtesy = written.kind == WrittenKind::Note { courtesy: true };
                Note { courtesy, ..self.note(note, first && is_first, last && is_last) }
            });
            target.events.push(Event {
                at,
                length: written.exact(),
                real: (start(&kept[index]), end),
                value: written.value,
                is_whole_bar: false,
                tuplet,
                beat: chunks as usize * beats.len() + beat,
                hidden: written.kind == WrittenKind::HiddenRest,
                beams: Vec::new(),
                note,
            });
        }
        target.tuplets = ratios;
        target.beams = if self.has_beams { kept::groups(kept) } else { beams::groups(target) };
        for group in &target.beams {
            beams::join(&mut target.events, group, |event| kept::signs(&kept[event]));
        }
    }

    /// Writes the stretches of a chunk as note values.
    fn write_chunk(
        &self,
        target: &mut Bar,
        (chunk_start, tree, beats_before): (Beats, &Tree, usize),
        inside: &[Inside],
    ) {
        let mut stretches: Vec<Stretch> = inside.iter().map(|inside| inside.stretch).collect();
        let regions = tuplets::find(&mut stretches, tree);
        let beats = tree.beats();
        let first_tuplet = target.tuplets.len();
        target.tuplets.extend(regions.iter().map(|region| region.ratio));
        for (&(from, to), &Inside { stretch: real, owner, .. }) in stretches.iter().zip(inside) {
            let is_it =
                |note: usize| move |other: &Inside| other.owner.is_some_and(|other| other.note == note);
            let goes_on = |note: usize| inside.iter().filter(|other| other.goes_on).any(is_it(note));
            let written = target.events.last().and_then(|event| event.note.as_ref()).map(|note| note.note);
            let before = [written, target.lost.last().map(|lost| lost.note)];
            let has_begun = |note: usize| before.contains(&Some(note));
            if from >= to {
                target.lost.extend(owner.map(|Slice { note, first, last }| Lost {
                    note,
                    real: (chunk_start + real.0, chunk_start + real.1),
                    begins: first && !has_begun(note),
                    ends: last && !goes_on(note),
                }));
                continue;
            }
            // Maps a place in the moved stretch back to its real time.
            let really = |at: Beats| {
                let (n, d) = (to - from).fraction();
                let (share, of) = (at - from).fraction();
                let inside = (real.1 - real.0).times(share, of).times(d, n);
                chunk_start + if (from, to) == real { at } else { real.0 + inside }
            };
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
                        real: (really(from), really(to)),
                        value: Value::of(written).unwrap_or_else(|| Value::near(written)),
                        is_whole_bar: false,
                        tuplet,
                        beat: beats_before + beat,
                        hidden: false,
                        beams: Vec::new(),
                        note: None,
                    });
                }
            }
            let count = pieces.len();
            for (index, piece) in pieces.iter_mut().enumerate() {
                piece.note = owner.map(|Slice { note, first, last }| {
                    let begins = first && index == 0 && !has_begun(note);
                    let ends = last && index + 1 == count && !goes_on(note);
                    self.note(note, begins, ends)
                });
            }
            target.events.append(&mut pieces);
        }
    }

    fn note(&self, index: usize, begins: bool, ends: bool) -> Note {
        let note = &self.melody.notes[index];
        // The file may tie to or from nothing at a jump. Within a bar, a tie to nothing is a mistake in the file.
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
        let hanging_in = begins && note.tie_in && arrives && first_in_bar;
        let (accidental, courtesy, graces) = (None, false, Vec::new());
        Note { note: index, accidental, courtesy, begins, tie, hanging_in, graces }
    }

    /// Sets accidentals. An accidental applies to its letter and octave up to the end of the bar; a tied piece has
    /// none.
    fn accidentals(&self, written: &mut Bar, bar: &melody::Bar) {
        let mut in_force: Vec<((Step, i8), i8)> = Vec::new();
        let mut sign = |note: usize| {
            let at = match self.keys {
                Keys::Anywhere => self.melody.notes[note].onset,
                Keys::AtBars => bar.start,
            };
            let Spelling { step, alter, octave } = self.names[note];
            let known = in_force.iter_mut().find(|(known, _)| *known == (step, octave));
            let said =
                known.as_ref().map_or_else(|| altered(self.melody.sharps_at(at), step), |known| known.1);
            if said == alter {
                return None;
            }
            match known {
                Some(known) => known.1 = alter,
                None => in_force.push(((step, octave), alter)),
            }
            Some(alter)
        };
        for note in written.events.iter_mut().filter_map(|event| event.note.as_mut()) {
            for grace in &mut note.graces {
                grace.accidental = sign(grace.note);
            }
            if note.begins {
                let reminder = note.courtesy.then(|| self.names[note.note].alter);
                note.accidental = sign(note.note).or(reminder);
            }
        }
    }
}

/// Returns the division of a bar, the length of that division, and how much of it lies before the bar.
fn division(bar: &melody::Bar, offset: Beats) -> (Tree, Beats, Beats) {
    match bar.meter.filter(|meter| bar.length <= meter.bar() && Tree::has(*meter)) {
        Some(meter) => (Tree::bar(meter), meter.bar(), offset),
        // Common time is used if the bar has no meter, exceeds its meter, or cannot be filled with note values.
        None => (Tree::bar(Meter::COMMON), Meter::COMMON.bar(), Beats::ZERO),
    }
}

/// A stretch of a chunk, with its note.
struct Inside {
    stretch: Stretch,
    owner: Option<Slice>,
    /// Whether the stretch continues in the next chunk.
    goes_on: bool,
}

/// Puts grace notes before their main notes, and lost notes before the note that follows them. All of these get the
/// file's note values if the file's bar has as many grace notes; otherwise a single grace note is an eighth, and
/// several are sixteenths.
fn dress(bar: &mut Bar, file: &melody::Bar, graces: &[Vec<usize>]) {
    const EIGHTH: Value = Value { halvings: 3, dots: 0 };
    let plain =
        |note: usize| Grace { note, value: EIGHTH, beams: Vec::new(), slashed: false, accidental: None };
    let lost: Vec<usize> = bar.lost.iter().filter(|lost| lost.begins).map(|lost| lost.note).collect();
    let mut lost = lost.into_iter().peekable();
    for note in bar.events.iter_mut().filter_map(|event| event.note.as_mut()).filter(|note| note.begins) {
        while let Some(lost) = lost.next_if(|&lost| lost < note.note) {
            note.graces.extend(graces[lost].iter().chain([&lost]).map(|&grace| plain(grace)));
        }
        note.graces.extend(graces[note.note].iter().map(|&grace| plain(grace)));
    }
    if let Some(note) = bar.events.iter_mut().rev().find_map(|event| event.note.as_mut()) {
        for lost in lost {
            note.graces.extend(graces[lost].iter().chain([&lost]).map(|&grace| plain(grace)));
        }
    }
    let values: Vec<Value> =
        file.written.iter().filter(|w| w.kind == WrittenKind::Grace).map(|written| written.value).collect();
    let notes = || bar.events.iter().filter_map(|event| event.note.as_ref());
    let said = values.len() == notes().map(|note| note.graces.len()).sum::<usize>();
    let mut values = values.into_iter();
    for note in bar.events.iter_mut().filter_map(|event| event.note.as_mut()) {
        let several = note.graces.len() > 1;
        for grace in &mut note.graces {
            match values.next().filter(|_| said) {
                Some(value) => grace.value = value,
                None => grace.value.halvings += i8::from(several),
            }
            grace.slashed = !several && grace.value == EIGHTH;
        }
        let flags: Vec<u8> = note.graces.iter().map(|grace| grace.value.flags()).collect();
        if several && flags.iter().all(|&flags| flags > 0) {
            for (grace, signs) in note.graces.iter_mut().zip(beams::signs(&flags)) {
                grace.beams = signs;
            }
        }
    }
}

/// Returns how much of its meter lies before a bar, if the bar is shorter than its meter. A pickup or a short first bar
/// ends together with its meter. The second part of a bar that a repeat divides continues where the first part ended.
/// Any other bar begins with its meter.
fn offset_of(bar: &melody::Bar, before: Option<(&melody::Bar, Beats)>) -> Beats {
    let Some(meter) = bar.meter.filter(|meter| bar.length < meter.bar()) else { return Beats::ZERO };
    let missing = meter.bar() - bar.length;
    match before {
        _ if bar.number == 0 => missing,
        None => missing,
        Some((before, offset)) if before.number == bar.number => (offset + before.length).min(missing),
        Some(_) => Beats::ZERO,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_signature_alters_the_letters_in_its_order() {
        let all = |sharps| Step::ALL.map(|step| altered(sharps, step));
        assert_eq!(all(2), [1, 0, 0, 1, 0, 0, 0]);
        assert_eq!(all(-3), [0, 0, -1, 0, 0, -1, -1]);
        assert_eq!((all(7), all(-7)), ([1; 7], [-1; 7]));
    }
}
