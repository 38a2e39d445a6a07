//! Reads one part, bar by bar: turns the elements, in the order of the file, into notes placed in their bars.

use roxmltree::Node;

use super::{
    clock::Clock,
    direction::{self, Direction},
    harmony,
    note::{self, NoteElement, Sounds},
    order::Order,
    transpose::Transposition,
    value::{Decimal, child, child_text, is, text, whole, yes},
};
use crate::{
    import::{
        ImportError, MAX_NOTES, Oddity,
        draft::{Draft, NoteDraft, OddityDraft, PartDraft, Spot, TempoDraft, WrittenDraft, rounding},
        jumps::{self, InBar, Jumps},
    },
    melody::{Lyric, Note, Signs, Written, WrittenKind, key::Mode},
    time::{Beats, Meter, Value},
};

/// The largest number of voices that are distinguished, and of notes in a chord that share their words.
const MAX_VOICES: usize = 128;
const MAX_CHORD: usize = 16;
/// The largest number of staves that can have transpositions of their own; an organ part has three.
const MAX_STAVES: usize = 64;

/// The reader of one part, with the state that lasts from bar to bar.
pub(super) struct PartReader<'a, 'd> {
    draft: &'d mut Draft<'a>,
    part: PartDraft<'a>,
    /// The index of the part, counted from 0.
    index: usize,
    bar: usize,
    clock: Clock,
    /// Whether the score is at concert pitch, so that only octave transpositions apply.
    concert: bool,
    transposition: Transposition,
    /// The staves with a transposition of their own.
    by_staff: Vec<(u16, Transposition)>,
    /// The key signature as written.
    written_key: Option<(i8, Option<Mode>)>,
    /// The time signature as this part writes it.
    meter: Option<Option<Meter>>,
    /// The onset and the voice of the last note that began a chord or was single.
    chord_onset: Beats,
    chord_voice: Option<u16>,
    /// The end of the last note in this bar.
    sounding: Beats,
    /// The index of the first note of the current chord.
    chord_first: usize,
    order: Order,
    /// The last bar in which a note without pitch was reported.
    unpitched_bar: Option<usize>,
}

impl<'a, 'd> PartReader<'a, 'd> {
    pub(super) fn new(draft: &'d mut Draft<'a>, index: usize, concert: bool) -> PartReader<'a, 'd> {
        PartReader {
            draft,
            part: PartDraft::default(),
            index,
            bar: 0,
            clock: Clock::new(),
            concert,
            transposition: Transposition::default(),
            by_staff: Vec::new(),
            written_key: None,
            meter: None,
            chord_onset: Beats::ZERO,
            sounding: Beats::ZERO,
            chord_voice: None,
            chord_first: 0,
            order: Order::default(),
            unpitched_bar: None,
        }
    }

    /// Finishes reading and returns the part.
    pub(super) fn finish(mut self) -> PartDraft<'a> {
        if let Some(bar) = self.order.finish(self.bar, self.draft) {
            self.odd_at(Spot { bar, offset: Beats::ZERO }, Oddity::OpenEnding);
        }
        self.part
    }

    /// Reads the content of a bar. `measure` is the element with the bar's number, and `content` the element with the
    /// notes. Only in a timewise score do they differ.
    pub(super) fn bar(
        &mut self,
        bar: usize,
        measure: Node<'a, '_>,
        content: Node<'a, '_>,
    ) -> Result<(), ImportError> {
        self.bar = bar;
        self.clock.start_bar();
        self.chord_onset = Beats::ZERO;
        self.chord_voice = None;
        self.sounding = Beats::ZERO;
        self.draft.count = self.draft.count.max(bar + 1);
        let shared = self.draft.bar(bar);
        shared.implicit |= yes(measure, "implicit");
        if shared.number.is_empty() {
            shared.number = measure.attribute("number").unwrap_or_default();
        }
        let mut rest = Beats::ZERO;
        for child in content.children() {
            match child.tag_name().name() {
                "note" => rest = rest.max(self.note(child)?),
                "backup" => self.shift(child, -1),
                "forward" => self.shift(child, 1),
                "attributes" => self.attributes(child),
                "direction" => {
                    let direction = direction::read(child);
                    self.direction(direction);
                }
                "sound" => {
                    let direction = direction::sound(child);
                    self.direction(direction);
                }
                "harmony" => self.harmony(child),
                "barline" => {
                    let at_start = self.clock.at_start();
                    for oddity in self.order.barline(child, bar, at_start, self.draft) {
                        self.odd(oddity);
                    }
                }
                _ => {}
            }
        }
        self.end_chord();
        let filled = self.clock.furthest();
        let index = self.index;
        let shared = self.draft.bar(bar);
        shared.rest = shared.rest.max(rest);
        shared.sounding = shared.sounding.max(self.sounding);
        if filled > Beats::ZERO {
            shared.least_filled = Some(shared.least_filled.map_or(filled, |least| least.min(filled)));
        }
        if filled > shared.filled {
            shared.filled = filled;
            shared.longest_part = index;
        }
        Ok(())
    }

    fn spot(&mut self) -> Spot {
        Spot { bar: self.bar, offset: self.clock.now() }
    }

    fn odd(&mut self, oddity: Oddity) {
        let spot = self.spot();
        self.odd_at(spot, oddity);
    }

    fn odd_at(&mut self, spot: Spot, oddity: Oddity) {
        self.draft.oddities.push(OddityDraft { place: Some((self.index, spot)), oddity, text: None });
    }

    /// Reads a note; returns the offset in the bar at which a whole-bar rest ends, or zero for any other note.
    fn note(&mut self, node: Node<'a, '_>) -> Result<Beats, ImportError> {
        let written = note::read(node);
        if node.has_attribute("time-only") {
            self.odd(Oddity::SomePasses);
        }
        if written.more_lyrics {
            self.odd(Oddity::Unreadable { what: format!("words after verse {}", note::MAX_LYRICS) });
        }
        let (ticks, duration) = self.duration(&written, node);
        let advance = if written.chord || written.grace { 0 } else { ticks };
        if !written.chord {
            self.chord_onset = self.clock.now();
            self.end_chord();
            self.chord_voice = None;
        }
        let onset = self.chord_onset;
        self.write(&written, onset, duration);
        let mut rest = Beats::ZERO;
        let odd = match &written.sounds {
            Sounds::Rest { whole_bar } => {
                if *whole_bar {
                    rest = onset + duration;
                }
                None
            }
            // A cue shows another part's note: it takes up time but is not played.
            _ if written.cue => Some(Oddity::CueNote),
            Sounds::Unpitched => {
                self.part.unpitched = true;
                // Notes without pitch are reported once a bar, because a drum part has little else.
                let said = self.unpitched_bar.replace(self.bar) == Some(self.bar);
                (!said).then_some(Oddity::Unpitched)
            }
            Sounds::Unreadable => Some(Oddity::Unreadable { what: "a pitch".into() }),
            Sounds::Pitch { written: spelling, exact } => {
                let transposition = self.transposition(written.staff);
                match transposition.sound(*spelling) {
                    None => Some(Oddity::PitchOutOfRange),
                    Some((pitch, sounding)) => {
                        let mut note = Note::new(onset, duration, pitch, self.bar);
                        note.spelling = sounding;
                        let odd = match *exact {
                            false => Some(Oddity::Microtone),
                            true => written.accidental_only.then_some(Oddity::AccidentalOnly),
                        };
                        self.keep(note, written)?;
                        odd
                    }
                }
            }
        };
        if let Some(oddity) = odd {
            self.odd_at(Spot { bar: self.bar, offset: onset }, oddity);
        }
        if rest > Beats::ZERO {
            self.clock.pass_over(advance);
        } else {
            self.clock.advance(advance);
        }
        Ok(rest)
    }

    /// Records the written form of a rest, of a grace note, or of a note that is alone or the first of its chord.
    fn write(&mut self, note: &NoteElement<'a>, at: Beats, length: Beats) {
        let is_rest = matches!(note.sounds, Sounds::Rest { .. });
        let shared = self.draft.bar(self.bar);
        if is_rest && note.hidden {
            shared.hidden = true;
        } else if !note.grace {
            let (from, to) = shared.seen.unwrap_or((at, at));
            shared.seen = Some((from.min(at), to.max(at + length)));
        }
        let whole = || Value::of(length).filter(|_| note.hidden && is_rest).map(|value| (value, None));
        let value = note.value().or_else(whole).filter(|_| !note.chord);
        let Some((value, ratio)) = value else { return };
        let kind = match note.sounds {
            Sounds::Pitch { .. } if note.grace && !note.cue => WrittenKind::Grace,
            _ if note.grace => return,
            Sounds::Pitch { .. } if !note.cue => WrittenKind::Note { courtesy: note.courtesy },
            _ if note.hidden => WrittenKind::HiddenRest,
            _ => WrittenKind::Rest,
        };
        let written = Written { at, length, value, ratio, tuplet: note.tuplet, beams: note.beams, kind };
        let voice = (note.voice, note.staff);
        self.part.written.push(WrittenDraft { bar: self.bar, voice, written });
    }

    /// Returns the duration of a note in ticks and in quarters.
    fn duration(&mut self, written: &NoteElement<'_>, node: Node<'_, '_>) -> (i64, Beats) {
        if written.grace {
            return (0, Beats::ZERO);
        }
        match written.duration {
            Some(duration) if duration.digits >= 0 => {
                if duration.digits == 0 && !matches!(written.sounds, Sounds::Rest { .. }) {
                    self.odd(Oddity::Unreadable { what: "a length".into() });
                }
                let ticks = self.clock.ticks(duration);
                (ticks, self.clock.beats(ticks))
            }
            _ => {
                if !matches!(written.sounds, Sounds::Rest { whole_bar: true }) {
                    self.odd(Oddity::Unreadable { what: "a length".into() });
                }
                let printed = note::printed_duration(node).unwrap_or(Beats::ZERO);
                let ticks = self.clock.nearest_ticks(printed);
                (ticks, self.clock.beats(ticks))
            }
        }
    }

    fn keep(&mut self, mut note: Note, written: NoteElement<'a>) -> Result<(), ImportError> {
        self.draft.notes += 1;
        if self.draft.notes > MAX_NOTES {
            return Err(ImportError::TooLarge { what: "the score", limit: MAX_NOTES, unit: "notes" });
        }
        self.sounding = self.sounding.max(note.end());
        // A chord belongs to one voice, even if it reaches into the other staff.
        let voice = match self.chord_voice {
            Some(voice) => voice,
            None => self.voice(written.voice, written.staff),
        };
        self.chord_voice = Some(voice);
        // A note without length must be an ornament.
        note.grace = written.grace || note.duration == Beats::ZERO;
        note.lyrics = written.lyrics;
        note.breath_after = written.breath;
        note.signs = written.signs;
        let (tie_start, tie_stop) = (written.tie_start, written.tie_stop);
        self.part.notes.push(NoteDraft { note, voice, tie_start, tie_stop });
        Ok(())
    }

    /// Ends a chord. Words and signs are written at one note of a chord but belong to all its notes, so every note gets
    /// them: the melody may take any of the notes.
    fn end_chord(&mut self) {
        let first = std::mem::replace(&mut self.chord_first, self.part.notes.len());
        let Some(chord) = self.part.notes.get_mut(first..) else { return };
        if !(2..=MAX_CHORD).contains(&chord.len()) {
            return;
        }
        let breath = chord.iter().any(|draft| draft.note.breath_after);
        let mut signs = Signs::default();
        chord.iter().for_each(|draft| signs.shared_with(draft.note.signs));
        let mut words: Vec<Lyric> = Vec::new();
        for lyric in chord.iter().flat_map(|draft| &draft.note.lyrics) {
            if words.iter().all(|known| known.verse != lyric.verse) {
                words.push(lyric.clone());
            }
        }
        for draft in chord {
            draft.note.breath_after = breath;
            draft.note.signs = signs;
            draft.note.lyrics.clone_from(&words);
        }
    }

    /// Returns the number of a voice; voices are numbered in order of appearance.
    fn voice(&mut self, name: &'a str, staff: u16) -> u16 {
        let voices = &mut self.part.voices;
        let known = voices.iter().position(|&voice| voice == (name, staff));
        let index = known.unwrap_or_else(|| {
            // Only a broken file has more voices; the further voices share the last number.
            if voices.len() < MAX_VOICES {
                voices.push((name, staff));
            }
            voices.len() - 1
        });
        index as u16
    }

    fn transposition(&self, staff: u16) -> Transposition {
        let own = self.by_staff.iter().find(|(number, _)| *number == staff);
        own.map_or(self.transposition, |&(_, transposition)| transposition)
    }

    /// Reads `<backup>` and `<forward>`.
    fn shift(&mut self, node: Node<'_, '_>, sign: i64) {
        let duration = child_text(node, "duration").and_then(Decimal::parse);
        let Some(duration) = duration.filter(|duration| duration.digits >= 0) else {
            let way = if sign < 0 { "back" } else { "forward" };
            return self.odd(Oddity::Unreadable { what: format!("a step {way} in the file") });
        };
        let ticks = self.clock.ticks(duration);
        if let Some(too_far) = self.clock.advance(sign * ticks)
            && too_far > rounding()
        {
            self.odd(Oddity::BackupPastBar);
        }
        if sign < 0 {
            self.clock.snap_to_start(rounding());
        }
    }

    fn attributes(&mut self, node: Node<'_, '_>) {
        let (mut key_changed, mut meter, mut octave_clef) = (false, None, 0);
        for child in node.children() {
            match child.tag_name().name() {
                "divisions" => {
                    let divisions = Decimal::parse(text(child));
                    if !divisions.is_some_and(|divisions| self.clock.set_divisions(divisions)) {
                        self.odd(Oddity::Unreadable { what: "the number of ticks a quarter".into() });
                    }
                }
                // A key or time signature on a staff other than the first belongs to the accompaniment.
                "key" if first_staff(child) => key_changed |= self.key(child),
                "time" if first_staff(child) => match read_meter(child) {
                    Some(read) => meter = Some(read),
                    None => self.odd(Oddity::Unreadable { what: "a time signature".into() }),
                },
                "clef" => {
                    octave_clef = child_text(child, "clef-octave-change").and_then(whole::<i16>).unwrap_or(0);
                }
                "transpose" => {
                    key_changed |= first_staff(child);
                    self.transpose(child);
                    if octave_clef != 0 && octave_clef == self.transposition(1).octaves() {
                        self.odd(Oddity::OctaveTwice);
                    }
                }
                _ => {}
            }
        }
        self.meter = meter.or(self.meter);
        if node.children().any(|child| self.differs_from_first_staff(child)) {
            self.odd(Oddity::StaffDiffers);
        }
        if let Some(meter) = meter {
            let at_start = self.clock.at_start();
            let bar = self.draft.bar(self.bar);
            let place = if at_start { &mut bar.meter } else { &mut bar.later_meter };
            // If parts state different time signatures for a bar, the first part's applies.
            *place = place.or(Some(meter));
        }
        if key_changed && let Some((written, mode)) = self.written_key {
            let sharps = self.transposition(1).sharps(written);
            let spot = self.spot();
            self.part.keys.push((spot, sharps, mode));
        }
    }

    /// Whether a key or time signature belongs to another staff and differs from the first staff's.
    fn differs_from_first_staff(&self, node: Node<'_, '_>) -> bool {
        if first_staff(node) {
            return false;
        }
        match node.tag_name().name() {
            "key" => {
                let sounding = |staff, written| self.transposition(staff).sharps(written);
                let staff = node.attribute("number").and_then(whole::<u16>).unwrap_or(1);
                let other = usual_key(node).map(|fifths| sounding(staff, fifths));
                other != self.written_key.map(|(written, _)| sounding(1, written))
            }
            "time" => read_meter(node) != self.meter,
            _ => false,
        }
    }

    /// Reads a key signature; returns true if it is one of the usual signatures.
    fn key(&mut self, node: Node<'_, '_>) -> bool {
        let fifths = usual_key(node);
        match fifths {
            Some(fifths) => {
                let mode = child_text(node, "mode").and_then(Mode::parse);
                self.written_key = Some((fifths, mode));
            }
            // The signature has an unusual mixture of accidentals, or makes no sense; the pitches do not depend on it.
            None => self.odd(Oddity::BadKeySignature),
        }
        fifths.is_some()
    }

    fn transpose(&mut self, node: Node<'_, '_>) {
        let Some(read) = Transposition::read(node) else {
            return self.odd(Oddity::Unreadable { what: "a transposition".into() });
        };
        let transposition = if self.concert { read.octaves_only() } else { read };
        if transposition != read && !read.is_octaves_only() {
            self.odd(Oddity::ConcertTranspose);
        }
        // Only the written line is kept; its octave doubling is reported.
        if let Some(double) = child(node, "double") {
            self.odd(Oddity::OctavesDoubled { above: yes(double, "above") });
        }
        match node.attribute("number").and_then(whole::<u16>) {
            None => {
                self.transposition = transposition;
                self.by_staff.clear();
            }
            Some(staff) => {
                self.by_staff.retain(|(number, _)| *number != staff);
                if self.by_staff.len() < MAX_STAVES {
                    self.by_staff.push((staff, transposition));
                }
            }
        }
    }

    fn direction(&mut self, direction: Direction) {
        if let Some(swing) = direction.swing {
            self.odd(swing);
        }
        if direction.some_passes {
            self.odd(Oddity::SomePasses);
        }
        if let Some(micros_per_quarter) = direction.tempo {
            let at = self.spot();
            self.draft.tempi.push(TempoDraft { at, sound: direction.tempo_is_sound, micros_per_quarter });
        }
        if let Some(words) = direction.words {
            let at = self.spot();
            self.draft.tempo_words.push((at, words));
        }
        if direction.jumps != Jumps::default() {
            let position = self.position();
            jumps::mark(direction.jumps, self.bar, position, self.draft);
        }
    }

    /// Returns the reader's position in the bar: at the start, in the middle or at the end.
    fn position(&mut self) -> InBar {
        match self.clock.at_start() {
            true => InBar::Start,
            false if self.clock.now() >= self.clock.furthest() => InBar::End,
            false => InBar::Inside,
        }
    }

    fn harmony(&mut self, node: Node<'_, '_>) {
        match harmony::read(node, self.transposition(1)) {
            Some(chord) => {
                let offset = child_text(node, "offset").and_then(Decimal::parse);
                let ticks = offset.map_or(0, |offset| self.clock.ticks(offset));
                let spot = Spot { bar: self.bar, offset: self.clock.after(ticks).max(Beats::ZERO) };
                self.part.chords.push((spot, chord));
            }
            None => self.odd(Oddity::Unreadable { what: "a chord symbol".into() }),
        }
    }
}

/// Returns the number of sharps in a key signature, negative for flats, if the signature lies on the circle of fifths.
fn usual_key(node: Node<'_, '_>) -> Option<i8> {
    child_text(node, "fifths").and_then(whole::<i8>).filter(|fifths| fifths.unsigned_abs() <= 7)
}

/// Whether an attribute applies to the first staff, or to all staves.
fn first_staff(node: Node<'_, '_>) -> bool {
    matches!(node.attribute("number"), None | Some("1"))
}

/// Reads a time signature; `Some(None)` for unmetered music, `None` if the signature cannot be read.
fn read_meter(node: Node<'_, '_>) -> Option<Option<Meter>> {
    if node.children().any(|child| is(child, "senza-misura")) {
        return Some(None);
    }
    // Composite meters such as 3/8 + 2/4 are counted in the smallest unit.
    let (mut total, mut beats) = (Beats::ZERO, None);
    let mut smallest = 1u16;
    for child in node.children() {
        match child.tag_name().name() {
            "beats" => {
                let mut terms = text(child).split('+').map(whole::<u16>);
                beats = terms.try_fold(0_u16, |sum, term| sum.checked_add(term?));
            }
            "beat-type" => {
                let unit = whole::<u16>(text(child)).filter(|&unit| (1..=128).contains(&unit))?;
                let beats = beats.take().filter(|&beats| (1..=1000).contains(&beats))?;
                total += Meter { beats, unit }.bar();
                smallest = smallest.max(unit);
            }
            _ => {}
        }
    }
    let (count, rest) = total.times(i64::from(smallest), 4).fraction();
    let beats = u16::try_from(count).ok().filter(|&beats| beats > 0 && rest == 1)?;
    Some(Some(Meter { beats, unit: smallest }))
}
