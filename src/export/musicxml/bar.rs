//! One bar after the other.

use std::collections::BTreeMap;

use super::{
    super::{Arrangement, xml::Xml},
    Grid, chord,
    rhythm::{self, Measure, Piece, Span, Tuplet},
};
use crate::{
    harp::Breath,
    melody::{Bar, BarMarks, ChordSymbol, Note},
    pitch::{Name, Spelling, Step},
    time::{Beats, Meter},
};

/// Writes bars, and keeps what must survive from one to the next.
pub(super) struct BarWriter<'a> {
    arrangement: &'a Arrangement,
    grid: Grid,
    /// The number of the tab's line among the lyrics: after the last verse.
    tab_line: String,
    /// The next note that does not start before the bar, and the one that sounds on into it.
    next_note: usize,
    held: Option<usize>,
    next_chord: usize,
    next_signature: usize,
    next_tempo: usize,
    tempi: Vec<(Beats, u32)>,
    meter: Option<Option<Meter>>,
    /// The sharps of the key signature.
    sharps: i8,
    /// For each verse whether its last syllable joins the next.
    open_words: BTreeMap<u8, bool>,
    /// What accidentals of this bar say, by letter and octave.
    accidentals: BTreeMap<(u8, i8), i8>,
}

/// Something that stands at a point of a bar and takes no time.
enum Mark {
    Key(i8, Option<crate::mode::Mode>),
    Tempo(u32),
    Chord(usize),
}

impl<'a> BarWriter<'a> {
    pub(super) fn new(arrangement: &'a Arrangement, grid: Grid) -> BarWriter<'a> {
        let melody = &arrangement.melody;
        let verses = melody.notes.iter().flat_map(|note| &note.lyrics).map(|lyric| lyric.verse);
        let tempi = if melody.tempo.is_stated() { melody.tempo.changes().collect() } else { Vec::new() };
        BarWriter {
            arrangement,
            grid,
            tab_line: (u16::from(verses.max().unwrap_or(0)) + 1).to_string(),
            next_note: 0,
            held: None,
            next_chord: 0,
            next_signature: 0,
            next_tempo: 0,
            tempi,
            meter: None,
            sharps: 0,
            open_words: BTreeMap::new(),
            accidentals: BTreeMap::new(),
        }
    }

    /// Writes the bar of that index.
    pub(super) fn bar(&mut self, xml: &mut Xml, index: usize) {
        let arrangement = self.arrangement;
        let bars = &arrangement.melody.bars;
        let bar = &bars[index];
        let before = index.checked_sub(1).map(|before| &bars[before]);
        let after = bars.get(index + 1);
        let completes = before.is_some_and(|before| completes(before, bar));
        // Numbers name bars, so the second half of one has a name of its own; as it is implicit, it is not shown.
        let number = format!("{}{}", if completes { "X" } else { "" }, bar.number);
        let mut attributes = vec![("number", number.as_str())];
        if bar.number == 0 || completes {
            attributes.push(("implicit", "yes"));
        }
        self.accidentals.clear();
        let marks = &bar.marks;
        xml.element("measure", &attributes, |xml| {
            let opens_ending = !marks.ending.is_empty()
                && before.is_none_or(|before| {
                    before.marks.ending != marks.ending || before.marks.repeat_end.is_some()
                });
            let closes_ending = !marks.ending.is_empty()
                && (marks.repeat_end.is_some()
                    || after.is_none_or(|after| after.marks.ending != marks.ending));
            left_barline(xml, marks, opens_ending);
            self.content(xml, index);
            self.jumps_at_the_end(xml, marks);
            right_barline(xml, marks, closes_ending, after.is_none());
        });
    }

    fn content(&mut self, xml: &mut Xml, index: usize) {
        let (arrangement, grid) = (self.arrangement, self.grid);
        let melody = &arrangement.melody;
        let bar = &melody.bars[index];
        let ticks = |at: Beats| grid.ticks(at) - grid.ticks(bar.start);
        let is_last = index + 1 == melody.bars.len();
        let length = ticks(bar.start + bar.length);
        let marks = self.marks_within(bar, is_last);
        let measure = measure(bar, self.grid, length);
        let cuts: Vec<i64> = marks
            .iter()
            .filter(|(_, mark)| !matches!(mark, Mark::Chord(_)))
            .map(|&(at, _)| ticks(at))
            .filter(|&at| at > 0)
            .collect();
        let (graces, spans) = self.spans(index, length, is_last);
        let spans: Vec<Span> = spans.into_iter().flat_map(|span| cut_at(span, &cuts)).collect();
        let pieces = rhythm::pieces(&spans, measure);
        let beams = rhythm::beams(&pieces, measure);

        self.attributes(xml, bar, &marks, index == 0);
        targets(xml, &bar.marks);
        let mut marks = marks.into_iter().peekable();
        let mut graces = graces.into_iter().peekable();
        let mut seen: Vec<usize> = Vec::new();
        for (piece, beams) in pieces.iter().zip(&beams) {
            while let Some((at, mark)) = marks.next_if(|&(at, _)| ticks(at) < piece.span.to) {
                let from_here = ticks(at) - piece.span.from;
                self.mark(xml, &mark, from_here, ticks(at) > 0, bar);
            }
            while let Some((_, grace)) = graces.next_if(|&(at, _)| at <= piece.span.from) {
                self.grace(xml, grace);
            }
            match piece.span.note {
                None => self.rest(xml, piece, measure),
                Some(note) => {
                    let starts = self.starts_here(note, &mut seen, bar);
                    self.note(xml, note, piece, starts, beams, bar);
                }
            }
        }
        for (at, mark) in marks {
            self.mark(xml, &mark, 0, ticks(at) > 0, bar);
        }
        for (_, grace) in graces {
            self.grace(xml, grace);
        }
    }

    /// Whether a note begins with this piece of it: it is the first in its bar, and no bar before had one.
    fn starts_here(&self, note: usize, seen: &mut Vec<usize>, bar: &Bar) -> bool {
        let fresh = !seen.contains(&note) && self.arrangement.melody.notes[note].onset >= bar.start;
        if fresh {
            seen.clear();
            seen.push(note);
        }
        fresh
    }

    /// What stands in a bar besides notes, in order of place; the last bar has all that is left.
    fn marks_within(&mut self, bar: &Bar, is_last: bool) -> Vec<(Beats, Mark)> {
        let melody = &self.arrangement.melody;
        let end = bar.start + bar.length;
        let mut marks = Vec::new();
        let within = |at: Beats| is_last || at < end;
        while let Some(signature) = melody.signatures.get(self.next_signature).filter(|s| within(s.at)) {
            marks.push((signature.at, Mark::Key(signature.sharps, signature.mode)));
            self.next_signature += 1;
        }
        while let Some(&(at, micros)) = self.tempi.get(self.next_tempo).filter(|(at, _)| within(*at)) {
            marks.push((at, Mark::Tempo(micros)));
            self.next_tempo += 1;
        }
        while let Some(chord) = melody.chords.get(self.next_chord).filter(|chord| within(chord.at)) {
            marks.push((chord.at, Mark::Chord(self.next_chord)));
            self.next_chord += 1;
        }
        // What stands before the first bar, as a file may have it, is moved into it.
        marks.iter_mut().for_each(|(at, _)| *at = (*at).max(bar.start));
        marks.sort_by_key(|&(at, _)| at);
        marks
    }

    /// The grace notes of a bar with their places, and its notes and rests without gap; what sounds beyond it is held.
    fn spans(&mut self, index: usize, length: i64, is_last: bool) -> (Vec<(i64, usize)>, Vec<Span>) {
        let (arrangement, grid) = (self.arrangement, self.grid);
        let melody = &arrangement.melody;
        let start = grid.ticks(melody.bars[index].start);
        let ticks = |at: Beats| grid.ticks(at) - start;
        let (mut graces, mut spans, mut now) = (Vec::new(), Vec::new(), 0);
        let sound = |note: usize, now: &mut i64, spans: &mut Vec<Span>| {
            let (from, to) = (ticks(melody.notes[note].onset).max(*now), ticks(melody.notes[note].end()));
            // The last bar has all that is left of the last note.
            let to = if is_last { to } else { to.min(length) };
            if from > *now {
                spans.push(Span { from: *now, to: from, note: None });
            }
            if to > from {
                spans.push(Span { from, to, note: Some(note) });
                *now = to;
            }
        };
        if let Some(held) = self.held.take() {
            sound(held, &mut now, &mut spans);
            self.held = self.goes_on(held, start + length);
        }
        while let Some(note) = melody.notes.get(self.next_note).filter(|note| note.bar <= index || is_last) {
            if note.grace || note.duration <= Beats::ZERO {
                graces.push((ticks(note.onset), self.next_note));
            } else {
                sound(self.next_note, &mut now, &mut spans);
                self.held = self.goes_on(self.next_note, start + length);
            }
            self.next_note += 1;
        }
        if now < length {
            spans.push(Span { from: now, to: length, note: None });
        }
        (graces, spans)
    }

    fn goes_on(&self, note: usize, after: i64) -> Option<usize> {
        (self.grid.ticks(self.arrangement.melody.notes[note].end()) > after).then_some(note)
    }

    /// Divisions, key, time and clef, as far as they begin here.
    fn attributes(&mut self, xml: &mut Xml, bar: &Bar, marks: &[(Beats, Mark)], first: bool) {
        let key = marks.iter().rev().find_map(|(at, mark)| match mark {
            Mark::Key(sharps, mode) if *at == bar.start => Some((*sharps, *mode)),
            _ => None,
        });
        let meter_changes = self.meter != Some(bar.meter);
        if !first && key.is_none() && !meter_changes {
            return;
        }
        self.meter = Some(bar.meter);
        let octaves = clef_octaves(self.arrangement);
        xml.element("attributes", &[], |xml| {
            if first {
                xml.text("divisions", self.grid.quarter);
            }
            if let Some((sharps, mode)) = key {
                self.sharps = sharps;
                write_key(xml, sharps, mode);
            }
            if meter_changes {
                xml.element("time", &[], |xml| match bar.meter {
                    Some(Meter { beats, unit }) => {
                        xml.text("beats", beats);
                        xml.text("beat-type", unit);
                    }
                    None => xml.empty("senza-misura", &[]),
                });
            }
            if first {
                xml.element("clef", &[], |xml| {
                    xml.text("sign", "G");
                    xml.text("line", 2);
                    if octaves != 0 {
                        xml.text("clef-octave-change", octaves);
                    }
                });
            }
        });
    }

    /// A key inside a bar, a tempo, a chord symbol.
    fn mark(&mut self, xml: &mut Xml, mark: &Mark, from_here: i64, inside: bool, bar: &Bar) {
        match mark {
            Mark::Key(sharps, mode) if inside => {
                self.sharps = *sharps;
                xml.element("attributes", &[], |xml| write_key(xml, *sharps, *mode));
            }
            // Stands among the attributes.
            Mark::Key(..) => {}
            Mark::Tempo(micros) => tempo(xml, *micros, bar.meter),
            Mark::Chord(index) => harmony(xml, &self.arrangement.melody.chords[*index], from_here),
        }
    }

    fn rest(&mut self, xml: &mut Xml, piece: &Piece, measure: Measure) {
        let whole = measure.full && piece.span.from == 0 && piece.span.to == measure.length;
        xml.element("note", &[], |xml| {
            xml.empty("rest", if whole { &[("measure", "yes")] } else { &[] });
            xml.text("duration", piece.span.to - piece.span.from);
            xml.text("voice", 1);
            if !whole {
                value(xml, piece, None);
            }
            if piece.opens_tuplet || piece.closes_tuplet {
                tuplet_notations(xml, piece, |_| {});
            }
        });
    }

    fn grace(&mut self, xml: &mut Xml, index: usize) {
        let note = &self.arrangement.melody.notes[index];
        self.changed(xml, index);
        let accidental = self.accidental(note, true);
        xml.element("note", &[], |xml| {
            xml.empty("grace", &[("slash", "yes")]);
            self.pitch(xml, note);
            xml.text("voice", 1);
            xml.text("type", "eighth");
            if let Some(accidental) = accidental {
                xml.text("accidental", accidental);
            }
            self.notehead(xml, index);
            xml.element("notations", &[], |xml| {
                self.technical(xml, index);
                if note.breath_after {
                    breath_mark(xml);
                }
            });
            self.words(xml, index);
        });
    }

    fn note(&mut self, xml: &mut Xml, index: usize, piece: &Piece, starts: bool, beams: &[&str], bar: &Bar) {
        let note = &self.arrangement.melody.notes[index];
        if starts {
            self.changed(xml, index);
        }
        let ends = self.grid.ticks(bar.start) + piece.span.to >= self.grid.ticks(note.end());
        // A tie whose other half stands elsewhere, as before a repeat, is only in the sound: drawn, programs would lead it to
        // whatever note comes next.
        let ties = [("stop", !starts, note.tie_in), ("start", !ends, note.tie_out)];
        let accidental = self.accidental(note, starts && !note.tie_in);
        xml.element("note", &[], |xml| {
            self.pitch(xml, note);
            xml.text("duration", piece.span.to - piece.span.from);
            for (kind, ..) in ties.iter().filter(|(_, drawn, sounds)| *drawn || *sounds) {
                xml.empty("tie", &[("type", kind)]);
            }
            xml.text("voice", 1);
            value(xml, piece, accidental);
            self.notehead(xml, index);
            for (level, sign) in beams.iter().enumerate() {
                xml.text_with("beam", &[("number", &(level + 1).to_string())], sign);
            }
            let breathes = ends && note.breath_after;
            let drawn = || ties.iter().filter(|(_, drawn, _)| *drawn);
            if starts || breathes || drawn().next().is_some() || piece.opens_tuplet || piece.closes_tuplet {
                tuplet_notations(xml, piece, |xml| {
                    for (kind, ..) in drawn() {
                        xml.empty("tied", &[("type", kind)]);
                    }
                    if starts {
                        self.technical(xml, index);
                    }
                    if breathes {
                        breath_mark(xml);
                    }
                });
            }
            if starts {
                self.words(xml, index);
            }
        });
    }

    /// An asterisk over a note that the tune does not have here.
    fn changed(&self, xml: &mut Xml, index: usize) {
        if self.arrangement.notes.get(index).is_some_and(|note| note.changed) {
            xml.element("direction", &[("placement", "above")], |xml| {
                xml.element("direction-type", &[], |xml| xml.text("words", "*"));
            });
        }
    }

    fn pitch(&self, xml: &mut Xml, note: &Note) {
        let Spelling { step, alter, octave } = spelling(note);
        xml.element("pitch", &[], |xml| {
            xml.text("step", format!("{step:?}"));
            if alter != 0 {
                xml.text("alter", alter);
            }
            xml.text("octave", octave);
        });
    }

    /// The sign that must be printed, by the key and what stands before it in the bar.
    fn accidental(&mut self, note: &Note, shown: bool) -> Option<&'static str> {
        let Spelling { step, alter, octave } = spelling(note);
        let place = (step as u8, octave);
        let valid = self.accidentals.get(&place).copied().unwrap_or_else(|| by_key(step, self.sharps));
        if !shown || valid == alter {
            return None;
        }
        self.accidentals.insert(place, alter);
        Some(match alter {
            ..=-2 => "flat-flat",
            -1 => "flat",
            0 => "natural",
            1 => "sharp",
            2.. => "double-sharp",
        })
    }

    /// The head of a note that is not on the harp is in parentheses.
    fn notehead(&self, xml: &mut Xml, index: usize) {
        if self.arrangement.notes.get(index).is_some_and(|note| note.action.is_none()) {
            xml.text_with("notehead", &[("parentheses", "yes")], "normal");
        }
    }

    fn technical(&self, xml: &mut Xml, index: usize) {
        let Some(arranged) = self.arrangement.notes.get(index) else { return };
        xml.element("technical", &[], |xml| {
            if let Some(action) = arranged.action {
                let direction = match action.breath {
                    Breath::Blow => "up",
                    Breath::Draw => "down",
                };
                xml.text("fingering", action.hole);
                xml.element("arrow", &[], |xml| xml.text("arrow-direction", direction));
            }
            xml.text("other-technical", &arranged.tab);
        });
    }

    /// The syllables of a note, and its tab as a line of its own.
    fn words(&mut self, xml: &mut Xml, index: usize) {
        let note = &self.arrangement.melody.notes[index];
        for lyric in &note.lyrics {
            let open = self.open_words.insert(lyric.verse, lyric.hyphen).unwrap_or(false);
            let syllabic = match (open, lyric.hyphen) {
                (false, false) => "single",
                (false, true) => "begin",
                (true, true) => "middle",
                (true, false) => "end",
            };
            xml.element("lyric", &[("number", &lyric.verse.to_string())], |xml| {
                xml.text("syllabic", syllabic);
                xml.text("text", &lyric.text);
                if lyric.extend {
                    xml.empty("extend", &[]);
                }
            });
        }
        let Some(arranged) = self.arrangement.notes.get(index) else { return };
        xml.element("lyric", &[("number", &self.tab_line), ("name", "tab")], |xml| {
            xml.text("syllabic", "single");
            xml.text("text", &arranged.tab);
        });
    }

    /// Words and sounds that send the player elsewhere.
    fn jumps_at_the_end(&self, xml: &mut Xml, marks: &BarMarks) {
        let bars = &self.arrangement.melody.bars;
        let how_far = if bars.iter().any(|bar| bar.marks.fine) {
            " al Fine"
        } else if bars.iter().any(|bar| bar.marks.to_coda) {
            " al Coda"
        } else {
            ""
        };
        let (capo, segno) = (format!("D.C.{how_far}"), format!("D.S.{how_far}"));
        let jumps = [
            (marks.to_coda, "To Coda", "tocoda", "coda"),
            (marks.fine, "Fine", "fine", "yes"),
            (marks.da_capo, capo.as_str(), "dacapo", "yes"),
            (marks.dal_segno, segno.as_str(), "dalsegno", "segno"),
        ];
        for (_, words, sound, value) in jumps.into_iter().filter(|jump| jump.0) {
            xml.element("direction", &[("placement", "above")], |xml| {
                xml.element("direction-type", &[], |xml| xml.text("words", words));
                xml.empty("sound", &[(sound, value)]);
            });
        }
    }
}

/// Whether a bar is the rest of the one before, split at a repeat.
fn completes(before: &Bar, bar: &Bar) -> bool {
    before.number == bar.number && bar.meter.is_some_and(|meter| before.length + bar.length <= meter.bar())
}

/// The name of a note; every note of an arrangement has one.
fn spelling(note: &Note) -> Spelling {
    note.spelling.unwrap_or_else(|| Spelling::in_key(note.pitch, 0))
}

/// The alteration of a letter by a key signature.
fn by_key(step: Step, sharps: i8) -> i8 {
    const ORDER: [Step; 7] = [Step::F, Step::C, Step::G, Step::D, Step::A, Step::E, Step::B];
    let place = ORDER.iter().position(|&letter| letter == step).unwrap_or_default() as i8;
    if place < sharps {
        1
    } else if 6 - place < -sharps {
        -1
    } else {
        0
    }
}

/// The beats of a bar: those of a pickup are counted from its end.
fn measure(bar: &Bar, grid: Grid, length: i64) -> Measure {
    let meter = bar.meter.unwrap_or(Meter { beats: 4, unit: 4 });
    let beat = grid.ticks(meter.felt_beat()).max(1);
    let compound = meter.felt_beat() != meter.written_beat();
    let full = grid.ticks(meter.bar());
    let origin = if bar.number == 0 && length < full { length.rem_euclid(beat) } else { 0 };
    let full = bar.meter.is_none() || length == full;
    Measure { quarter: grid.quarter, beat, compound, origin, length, full }
}

/// A span in pieces that begin at the cuts.
fn cut_at(span: Span, cuts: &[i64]) -> Vec<Span> {
    let inside = cuts.iter().copied().filter(|&cut| span.from < cut && cut < span.to);
    let mut edges: Vec<i64> = std::iter::once(span.from).chain(inside).chain([span.to]).collect();
    edges.dedup();
    edges.windows(2).map(|edge| Span { from: edge[0], to: edge[1], ..span }).collect()
}

/// By how many octaves the clef moves what is printed, so that a tune far above or below the staff can be read.
fn clef_octaves(arrangement: &Arrangement) -> i8 {
    // The staff's middle line is B4; in the clef an octave higher it is B5. Where half the tune lies nearer to the other
    // clef's middle and beyond the first ledger lines, that one is easier to read (our judgement).
    const HIGH: u8 = 81;
    const LOW: u8 = 57;
    let mut pitches: Vec<u8> = arrangement.melody.notes.iter().map(|note| note.pitch.midi()).collect();
    pitches.sort_unstable();
    match pitches.get(pitches.len() / 2).copied() {
        Some(HIGH..) => 1,
        Some(..LOW) => -1,
        _ => 0,
    }
}

fn write_key(xml: &mut Xml, sharps: i8, mode: Option<crate::mode::Mode>) {
    xml.element("key", &[], |xml| {
        xml.text("fifths", sharps);
        if let Some(mode) = mode {
            xml.text("mode", mode);
        }
    });
}

fn breath_mark(xml: &mut Xml) {
    xml.element("articulations", &[], |xml| xml.text("breath-mark", "comma"));
}

/// The signs that a jump goes to.
fn targets(xml: &mut Xml, marks: &BarMarks) {
    for (_, sign) in [(marks.segno, "segno"), (marks.coda, "coda")].into_iter().filter(|sign| sign.0) {
        xml.element("direction", &[("placement", "above")], |xml| {
            xml.element("direction-type", &[], |xml| xml.empty(sign, &[]));
            xml.empty("sound", &[(sign, sign)]);
        });
    }
}

fn left_barline(xml: &mut Xml, marks: &BarMarks, opens_ending: bool) {
    if !marks.repeat_start && !opens_ending {
        return;
    }
    xml.element("barline", &[("location", "left")], |xml| {
        if marks.repeat_start {
            xml.text("bar-style", "heavy-light");
        }
        if opens_ending {
            xml.empty("ending", &[("number", &numbers(&marks.ending)), ("type", "start")]);
        }
        if marks.repeat_start {
            xml.empty("repeat", &[("direction", "forward")]);
        }
    });
}

fn right_barline(xml: &mut Xml, marks: &BarMarks, closes_ending: bool, last: bool) {
    if marks.repeat_end.is_none() && !marks.section_end && !closes_ending {
        return;
    }
    xml.element("barline", &[("location", "right")], |xml| {
        if marks.repeat_end.is_some() || (marks.section_end && last) {
            xml.text("bar-style", "light-heavy");
        } else if marks.section_end {
            xml.text("bar-style", "light-light");
        }
        if closes_ending {
            // Without a repeat the bracket stays open at its end.
            let kind = if marks.repeat_end.is_some() { "stop" } else { "discontinue" };
            xml.empty("ending", &[("number", &numbers(&marks.ending)), ("type", kind)]);
        }
        if let Some(times) = marks.repeat_end {
            let times = times.to_string();
            let mut attributes = vec![("direction", "backward")];
            if times != "2" {
                attributes.push(("times", &times));
            }
            if marks.repeat_after_jump {
                attributes.push(("after-jump", "yes"));
            }
            xml.empty("repeat", &attributes);
        }
    });
}

/// "1, 2".
fn numbers(endings: &[u8]) -> String {
    let numbers: Vec<String> = endings.iter().map(u8::to_string).collect();
    numbers.join(", ")
}

/// Value, dots, accidental and tuplet of a note, in the order of the format.
fn value(xml: &mut Xml, piece: &Piece, accidental: Option<&str>) {
    if let Some(value) = piece.value {
        xml.text("type", value.name());
        for _ in 0..value.dots {
            xml.empty("dot", &[]);
        }
    }
    if let Some(accidental) = accidental {
        xml.text("accidental", accidental);
    }
    if let Some(Tuplet { actual, normal }) = piece.tuplet {
        xml.element("time-modification", &[], |xml| {
            xml.text("actual-notes", actual);
            xml.text("normal-notes", normal);
        });
    }
}

/// `<notations>` with the bracket of a tuplet, and what else belongs there.
fn tuplet_notations(xml: &mut Xml, piece: &Piece, others: impl FnOnce(&mut Xml)) {
    let signs = [(piece.opens_tuplet, "start"), (piece.closes_tuplet, "stop")];
    xml.element("notations", &[], |xml| {
        for (_, kind) in signs.into_iter().filter(|sign| sign.0) {
            xml.empty("tuplet", &[("type", kind)]);
        }
        others(xml);
    });
}

/// A metronome mark in felt beats, and the sound in quarters that means exactly so many microseconds.
fn tempo(xml: &mut Xml, micros: u32, meter: Option<Meter>) {
    let micros = u64::from(micros.max(1));
    let meter = meter.unwrap_or(Meter::COMMON);
    let dotted = meter.felt_beat() == Beats::new(3, 2);
    let beat_micros = if dotted { micros * 3 / 2 } else { micros };
    xml.element("direction", &[("placement", "above")], |xml| {
        xml.element("direction-type", &[], |xml| {
            xml.element("metronome", &[], |xml| {
                xml.text("beat-unit", "quarter");
                if dotted {
                    xml.empty("beat-unit-dot", &[]);
                }
                xml.text("per-minute", (60_000_000 + beat_micros / 2) / beat_micros);
            });
        });
        xml.empty("sound", &[("tempo", &per_minute(micros))]);
    });
}

/// Quarters a minute with as few decimals as give back the microseconds.
fn per_minute(micros: u64) -> String {
    const MINUTE: u64 = 60_000_000;
    let scales = (0..=6).map(|decimals| (decimals, 10u64.pow(decimals)));
    let exact = |&(_, scale): &(u32, u64)| {
        let digits = MINUTE * scale / micros;
        digits > 0 && MINUTE * scale / digits == micros
    };
    let (decimals, scale) = scales.into_iter().find(exact).unwrap_or((6, 1_000_000));
    let digits = (MINUTE * scale / micros).max(1);
    if decimals == 0 {
        return digits.to_string();
    }
    format!("{}.{:0width$}", digits / scale, digits % scale, width = decimals as usize)
}

fn harmony(xml: &mut Xml, symbol: &ChordSymbol, offset: i64) {
    let write = |xml: &mut Xml, kind: &str, name: Name, text: &[(&str, &str)]| {
        xml.element(kind, &[], |xml| {
            xml.text_with(&format!("{kind}-step"), text, format!("{:?}", name.step));
            if name.alter != 0 {
                xml.text(&format!("{kind}-alter"), name.alter);
            }
        });
    };
    xml.element("harmony", &[], |xml| {
        // The format wants a root also where there is no chord; it is not to be printed.
        match symbol.root {
            Some(root) => write(xml, "root", root, &[]),
            None => write(xml, "root", Name { step: Step::C, alter: 0 }, &[("text", "")]),
        }
        xml.text_with("kind", &[("text", &symbol.quality)], chord::kind(symbol));
        if let Some(bass) = symbol.bass {
            write(xml, "bass", bass, &[]);
        }
        if offset > 0 {
            xml.text("offset", offset);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tempo_is_written_so_that_it_reads_back_to_the_microsecond() {
        assert_eq!([500_000, 606_060, 857_143].map(per_minute), ["120", "99", "69.99998"].map(str::to_owned));
        for micros in (1_000..4_000_000).step_by(997) {
            let text = per_minute(micros);
            let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
            let scale = 10u64.pow(part.len() as u32);
            let digits: u64 = format!("{whole}{part}").parse().unwrap();
            assert_eq!(60_000_000 * scale / digits, micros, "{text}");
        }
    }

    #[test]
    fn a_signature_alters_the_letters_in_its_order() {
        let altered = |sharps| Step::ALL.map(|step| by_key(step, sharps));
        assert_eq!(altered(2), [1, 0, 0, 1, 0, 0, 0]);
        assert_eq!(altered(-3), [0, 0, -1, 0, 0, -1, -1]);
        assert_eq!((altered(7), altered(-7)), ([1; 7], [-1; 7]));
    }
}
