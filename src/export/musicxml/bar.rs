//! Writes the bars of a score one after another.

use std::collections::BTreeMap;

use super::{
    super::{Arrangement, per_minute, xml::Xml},
    Divisions, TabAs,
    barlines::{completes, jumps, left_barline, right_barline, targets},
    chord,
};
use crate::{
    harp::Breath,
    melody::{Bar, ChordSymbol, Note, Signs},
    notation::{self, Beam, Event, Grace, Lost, Notation, Tie},
    pitch::{Name, Spelling, Step},
    time::{Beats, Meter},
};

/// The writer of bars, with the state that lasts from bar to bar.
pub(super) struct BarWriter<'a> {
    arrangement: &'a Arrangement,
    notation: &'a Notation,
    grid: Divisions,
    tab_as: TabAs,
    /// The number of the tab's line among the lyrics, which follows the last verse.
    tab_line: String,
    next_chord: usize,
    next_signature: usize,
    next_tempo: usize,
    next_words: usize,
    tempi: Vec<(Beats, u32)>,
    meter: Option<Option<Meter>>,
    /// For each verse, whether its last syllable joins the next syllable.
    open_words: BTreeMap<u8, bool>,
    /// The number of open slurs. Each slur is numbered by its depth.
    open_slurs: u8,
}

/// A key, a tempo, a chord symbol or tempo words at a point of a bar; none of them takes time.
enum Mark {
    Key(i8, Option<crate::mode::Mode>),
    Tempo(u32),
    Chord(usize),
    TempoWords(usize),
}

/// A note or rest, placed in its bar.
#[derive(Default)]
struct Piece<'a> {
    from: i64,
    to: i64,
    note: Option<usize>,
    /// The event of the notation; `None` for a grace note, for a note that no note value expresses, and for a gap.
    event: Option<&'a Event>,
    /// The written form of a grace note.
    grace: Option<&'a Grace>,
    accidental: Option<i8>,
    begins: bool,
    ends: bool,
    beams: &'a [Beam],
    tuplet: Option<(i64, i64)>,
    /// If the note's tuplet begins here, whether its bracket is drawn.
    opens: Option<bool>,
    /// Whether the note's tuplet ends here.
    closes: bool,
}

impl<'a> BarWriter<'a> {
    pub(super) fn new(
        arrangement: &'a Arrangement,
        notation: &'a Notation,
        grid: Divisions,
        tab_as: TabAs,
    ) -> BarWriter<'a> {
        let melody = &arrangement.melody;
        let verses = melody.notes.iter().flat_map(|note| &note.lyrics).map(|lyric| lyric.verse);
        let tempi = if melody.tempo.is_known() { melody.tempo.changes().collect() } else { Vec::new() };
        BarWriter {
            arrangement,
            notation,
            grid,
            tab_as,
            tab_line: (u16::from(verses.max().unwrap_or(0)) + 1).to_string(),
            next_chord: 0,
            next_signature: 0,
            next_tempo: 0,
            next_words: 0,
            tempi,
            meter: None,
            open_words: BTreeMap::new(),
            open_slurs: 0,
        }
    }

    /// Writes the bar with this index.
    pub(super) fn bar(&mut self, xml: &mut Xml, index: usize) {
        let arrangement = self.arrangement;
        let bars = &arrangement.melody.bars;
        let bar = &bars[index];
        let before = index.checked_sub(1).map(|before| &bars[before]);
        let after = bars.get(index + 1);
        let completes = before.is_some_and(|before| completes(before, bar));
        // Programs identify bars by their numbers, so the second part of a split bar gets a different number. This part
        // is marked as implicit, so that programs do not show its number.
        let number = format!("{}{}", if completes { "X" } else { "" }, bar.number);
        let mut attributes = vec![("number", number.as_str())];
        if bar.number == 0 || completes {
            attributes.push(("implicit", "yes"));
        }
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
            jumps(xml, bars, index);
            right_barline(xml, marks, closes_ending, after.is_none());
        });
    }

    fn content(&mut self, xml: &mut Xml, index: usize) {
        let (arrangement, grid) = (self.arrangement, self.grid);
        let melody = &arrangement.melody;
        let bar = &melody.bars[index];
        let ticks = |at: Beats| grid.ticks(at) - grid.ticks(bar.start);
        let is_last = index + 1 == melody.bars.len();
        let marks = self.marks_within(bar, is_last);
        self.attributes(xml, bar, &marks, index == 0);
        targets(xml, &bar.marks);
        let mut marks = marks.into_iter().peekable();
        let mut now = 0;
        let silent_to = |to: i64, now: i64| Piece { from: now, to, ..Piece::default() };
        let pieces = self.pieces(bar, &self.notation.bars[index]);
        for piece in pieces {
            let piece = Piece { from: piece.from.max(now), to: piece.to.max(now), ..piece };
            let gap = (piece.from > now).then(|| silent_to(piece.from, now));
            for piece in gap.into_iter().chain([piece]) {
                // A key or tempo inside a note or rest is written after it, with a step back in time; a chord symbol
                // has an offset instead.
                let mut later: Vec<(i64, Mark)> = Vec::new();
                while let Some((at, mark)) = marks.next_if(|&(at, _)| ticks(at) < piece.to) {
                    let from_here = ticks(at) - piece.from;
                    match mark {
                        Mark::Key(..) | Mark::Tempo(_) if from_here > 0 => later.push((ticks(at), mark)),
                        mark => self.mark(xml, &mark, from_here, ticks(at) > 0, bar),
                    }
                }
                match piece.note {
                    None => rest(xml, &piece),
                    Some(note) if piece.from == piece.to => self.grace(xml, note, &piece),
                    Some(note) => self.note(xml, note, &piece),
                }
                for (at, mark) in later {
                    let back = (piece.to - at).to_string();
                    xml.element("backup", &[], |xml| xml.text("duration", &back));
                    self.mark(xml, &mark, 0, true, bar);
                    xml.element("forward", &[], |xml| xml.text("duration", &back));
                }
                now = piece.to;
            }
        }
        for (at, mark) in marks {
            self.mark(xml, &mark, 0, ticks(at) > 0, bar);
        }
        let length = ticks(bar.start + bar.length);
        if now < length {
            rest(xml, &silent_to(length, now));
        }
    }

    /// Returns the notes and rests of a bar in order, in ticks.
    fn pieces(&self, bar: &Bar, written: &'a notation::Bar) -> Vec<Piece<'a>> {
        let start = self.grid.ticks(bar.start);
        let ticks = |at: Beats| self.grid.ticks(bar.start + at) - start;
        let is_beamed = |tuplet: Option<usize>| {
            let mut members =
                (0..written.events.len()).filter(|&event| written.events[event].tuplet == tuplet);
            let first = members.next();
            let group = written.beams.iter().find(|group| first.is_some_and(|first| group.contains(&first)));
            group.is_some_and(|group| members.all(|event| group.contains(&event)))
        };
        let mut pieces = Vec::with_capacity(written.events.len());
        for (index, event) in written.events.iter().enumerate() {
            let (from, to) = (ticks(event.real.0), ticks(event.real.1));
            let other =
                |index: Option<usize>| index.and_then(|index| Some(written.events.get(index)?.tuplet));
            let alone = |side: Option<Option<usize>>| event.tuplet.is_some() && side != Some(event.tuplet);
            let opens = alone(other(index.checked_sub(1))).then(|| !is_beamed(event.tuplet));
            let closes = alone(other(Some(index + 1)));
            let note = event.note.as_ref();
            pieces.push(Piece {
                from,
                to,
                note: note.map(|note| note.note),
                event: Some(event),
                grace: None,
                accidental: note.and_then(|note| note.accidental),
                begins: note.is_some_and(|note| note.begins),
                ends: note.is_some_and(|note| note.tie != Tie::ToNext),
                beams: &event.beams,
                tuplet: event.tuplet.and_then(|tuplet| written.tuplets.get(tuplet).copied()),
                opens,
                closes,
            });
        }
        // Grace notes precede their main note, whether the main note has a note value or not.
        let written_notes = written.events.iter().filter_map(|event| event.note.as_ref());
        let begun = written_notes.clone().filter(|note| note.begins).map(|note| note.note);
        let graces: Vec<&Grace> = written_notes.flat_map(|note| &note.graces).collect();
        let notes = &self.arrangement.melody.notes;
        for main in begun.chain(written.lost.iter().filter(|lost| lost.begins).map(|lost| lost.note)) {
            for note in (0..main).rev().take_while(|&note| notes[note].duration <= Beats::ZERO) {
                let from = ticks(notes[main].onset - bar.start);
                let grace = graces.iter().find(|grace| grace.note == note).copied();
                let accidental = grace.and_then(|grace| grace.accidental);
                let (to, note, begins, ends) = (from, Some(note), true, true);
                pieces.push(Piece { from, to, note, grace, accidental, begins, ends, ..Piece::default() });
            }
        }
        for &Lost { note, real, begins, ends } in &written.lost {
            let (from, to, note) = (ticks(real.0), ticks(real.1), Some(note));
            pieces.push(Piece { from, to, note, begins, ends, ..Piece::default() });
        }
        // A piece that rounding leaves with no ticks is dropped, unless it is a grace note, or begins a note that no
        // note value expresses.
        pieces.retain(|piece| piece.from < piece.to || (piece.event.is_none() && piece.begins));
        pieces.sort_by_key(|piece| (piece.from, piece.note));
        pieces
    }

    /// Returns the marks in a bar by place; the last bar takes all remaining marks.
    fn marks_within(&mut self, bar: &Bar, is_last: bool) -> Vec<(Beats, Mark)> {
        let melody = &self.arrangement.melody;
        let end = bar.start + bar.length;
        let mut marks = Vec::new();
        let within = |at: Beats| is_last || at < end;
        while let Some(signature) = melody.signatures.get(self.next_signature).filter(|s| within(s.at)) {
            marks.push((signature.at, Mark::Key(signature.sharps, signature.mode)));
            self.next_signature += 1;
        }
        while let Some(words) = melody.tempo_words.get(self.next_words).filter(|words| within(words.at)) {
            marks.push((words.at, Mark::TempoWords(self.next_words)));
            self.next_words += 1;
        }
        while let Some(&(at, micros)) = self.tempi.get(self.next_tempo).filter(|(at, _)| within(*at)) {
            marks.push((at, Mark::Tempo(micros)));
            self.next_tempo += 1;
        }
        while let Some(chord) = melody.chords.get(self.next_chord).filter(|chord| within(chord.at)) {
            marks.push((chord.at, Mark::Chord(self.next_chord)));
            self.next_chord += 1;
        }
        // A mark before the first bar, which a file may have, is moved into that bar.
        marks.iter_mut().for_each(|(at, _)| *at = (*at).max(bar.start));
        marks.sort_by_key(|&(at, _)| at);
        marks
    }

    /// Writes divisions, key, time and clef, if they begin or change with this bar.
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
        let octaves = self.notation.clef.octaves;
        xml.element("attributes", &[], |xml| {
            if first {
                xml.text("divisions", self.grid.quarter);
            }
            if let Some((sharps, mode)) = key {
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

    /// Writes a key inside a bar, tempo words, a tempo or a chord symbol.
    fn mark(&self, xml: &mut Xml, mark: &Mark, from_here: i64, inside: bool, bar: &Bar) {
        match mark {
            Mark::Key(sharps, mode) if inside => {
                xml.element("attributes", &[], |xml| write_key(xml, *sharps, *mode));
            }
            // The key is already written among the attributes.
            Mark::Key(..) => {}
            Mark::TempoWords(index) => tempo_words(xml, &self.arrangement.melody.tempo_words[*index].text),
            Mark::Tempo(micros) => tempo(xml, *micros, bar.meter),
            Mark::Chord(index) => harmony(xml, &self.arrangement.melody.chords[*index], from_here),
        }
    }

    fn grace(&mut self, xml: &mut Xml, index: usize, piece: &Piece) {
        let note = &self.arrangement.melody.notes[index];
        self.changed(xml, index);
        xml.element("note", &[], |xml| {
            let slashed = piece.grace.is_none_or(|grace| grace.slashed);
            xml.empty("grace", if slashed { &[("slash", "yes")] } else { &[] });
            pitch(xml, note);
            xml.text("voice", 1);
            xml.text("type", piece.grace.map_or("eighth", |grace| grace.value.name()));
            accidental(xml, piece.accidental);
            self.notehead(xml, index);
            beams(xml, piece.grace.map_or(&[], |grace| &grace.beams));
            if note.breath_after || note.signs != Signs::default() || self.tab_as == TabAs::Fingering {
                xml.element("notations", &[], |xml| {
                    self.slurs(xml, note.signs, (true, true));
                    self.technical(xml, index);
                    if note.breath_after {
                        breath_mark(xml);
                    }
                    fermata(xml, note.signs);
                });
            }
            self.words(xml, index);
        });
    }

    fn note(&mut self, xml: &mut Xml, index: usize, piece: &Piece) {
        let note = &self.arrangement.melody.notes[index];
        let &Piece { begins, ends, .. } = piece;
        if begins {
            self.changed(xml, index);
        }
        // A tie whose other half is elsewhere, as before a repeat, is written only as sound. If it were drawn, programs
        // would connect it to whatever note comes next.
        let ties = [("stop", !begins, note.tie_in), ("start", !ends, note.tie_out)];
        xml.element("note", &[], |xml| {
            pitch(xml, note);
            xml.text("duration", piece.to - piece.from);
            for (kind, ..) in ties.iter().filter(|(_, drawn, sounds)| *drawn || *sounds) {
                xml.empty("tie", &[("type", kind)]);
            }
            xml.text("voice", 1);
            value(xml, piece);
            self.notehead(xml, index);
            beams(xml, piece.beams);
            let breathes = ends && note.breath_after;
            let fingered = begins && self.tab_as == TabAs::Fingering;
            let drawn = || ties.iter().filter(|(_, drawn, _)| *drawn);
            let signs = note.signs;
            let signed = begins && signs.slurs_begin > 0 || ends && (signs.slurs_end > 0 || signs.fermata);
            if fingered
                || breathes
                || signed
                || drawn().next().is_some()
                || piece.opens.is_some()
                || piece.closes
            {
                tuplet_notations(xml, piece, |xml| {
                    for (kind, ..) in drawn() {
                        xml.empty("tied", &[("type", kind)]);
                    }
                    self.slurs(xml, signs, (begins, ends));
                    if fingered {
                        self.technical(xml, index);
                    }
                    if breathes {
                        breath_mark(xml);
                    }
                    if ends {
                        fermata(xml, signs);
                    }
                });
            }
            if begins {
                self.words(xml, index);
            }
        });
    }

    /// Writes the ends and the beginnings of slurs at a piece of a note; the flags say whether the piece begins and
    /// whether it ends the note.
    fn slurs(&mut self, xml: &mut Xml, signs: Signs, (begins, ends): (bool, bool)) {
        let mut slur = |kind: &str, number: u8| {
            xml.empty("slur", &[("type", kind), ("number", &number.to_string())]);
        };
        for _ in 0..if ends { signs.slurs_end.min(self.open_slurs) } else { 0 } {
            slur("stop", self.open_slurs);
            self.open_slurs -= 1;
        }
        for _ in 0..if begins { signs.slurs_begin } else { 0 } {
            self.open_slurs += 1;
            slur("start", self.open_slurs);
        }
    }

    /// Writes an asterisk over a note that was changed.
    fn changed(&self, xml: &mut Xml, index: usize) {
        if self.arrangement.notes.get(index).is_some_and(|note| note.changed) {
            xml.element("direction", &[("placement", "above")], |xml| {
                xml.element("direction-type", &[], |xml| xml.text("words", "*"));
            });
        }
    }

    /// Puts the head of a note that is not played in parentheses.
    fn notehead(&self, xml: &mut Xml, index: usize) {
        if self.arrangement.notes.get(index).is_some_and(|note| note.action.is_none()) {
            xml.text_with("notehead", &[("parentheses", "yes")], "normal");
        }
    }

    /// Writes the hole and the direction of the breath, if the caller asked for them, with the full tab for programs
    /// that support the element.
    fn technical(&self, xml: &mut Xml, index: usize) {
        let arranged = self.arrangement.notes.get(index).filter(|_| self.tab_as == TabAs::Fingering);
        let Some(arranged) = arranged else { return };
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

    /// Writes the syllables of a note, and its tab as a lyric line if the caller asked for that line.
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
        let arranged = self.arrangement.notes.get(index).filter(|_| self.tab_as == TabAs::Lyrics);
        let Some(arranged) = arranged else { return };
        xml.element("lyric", &[("number", &self.tab_line), ("name", "tab")], |xml| {
            xml.text("syllabic", "single");
            xml.text("text", &arranged.tab);
        });
    }
}

/// Returns the name of a note; every note of an arrangement has one.
fn spelling(note: &Note) -> Spelling {
    note.spelling.unwrap_or_else(|| Spelling::in_key(note.pitch, 0))
}

fn pitch(xml: &mut Xml, note: &Note) {
    let Spelling { step, alter, octave } = spelling(note);
    xml.element("pitch", &[], |xml| {
        xml.text("step", format!("{step:?}"));
        if alter != 0 {
            xml.text("alter", alter);
        }
        xml.text("octave", octave);
    });
}

fn accidental(xml: &mut Xml, alter: Option<i8>) {
    let Some(alter) = alter else { return };
    xml.text(
        "accidental",
        match alter {
            ..=-2 => "flat-flat",
            -1 => "flat",
            0 => "natural",
            1 => "sharp",
            2.. => "double-sharp",
        },
    );
}

fn rest(xml: &mut Xml, piece: &Piece) {
    // The whole-bar rest looks the same in every meter.
    let whole = piece.event.is_some_and(|event| event.is_whole_bar);
    let hidden = piece.event.is_some_and(|event| event.hidden);
    xml.element("note", if hidden { &[("print-object", "no")] } else { &[] }, |xml| {
        xml.empty("rest", if whole { &[("measure", "yes")] } else { &[] });
        xml.text("duration", piece.to - piece.from);
        xml.text("voice", 1);
        if !whole {
            value(xml, piece);
        }
        if piece.opens.is_some() || piece.closes {
            tuplet_notations(xml, piece, |_| {});
        }
    });
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

/// Writes a note's part of each beam, from the eighths' beam on.
fn beams(xml: &mut Xml, beams: &[Beam]) {
    for (level, beam) in (1..).zip(beams) {
        xml.text_with("beam", &[("number", &i32::to_string(&level))], beam.name());
    }
}

/// Writes a note's value, dots, accidental and tuplet, in the order that the format requires.
fn value(xml: &mut Xml, piece: &Piece) {
    if let Some(event) = piece.event {
        xml.text("type", event.value.name());
        for _ in 0..event.value.dots {
            xml.empty("dot", &[]);
        }
    }
    accidental(xml, piece.accidental);
    if let Some((actual, normal)) = piece.tuplet {
        xml.element("time-modification", &[], |xml| {
            xml.text("actual-notes", actual);
            xml.text("normal-notes", normal);
        });
    }
}

/// Writes `<notations>` with the bracket of a tuplet and `others`.
fn tuplet_notations(xml: &mut Xml, piece: &Piece, others: impl FnOnce(&mut Xml)) {
    xml.element("notations", &[], |xml| {
        if let Some(bracket) = piece.opens {
            xml.empty("tuplet", &[("type", "start"), ("bracket", if bracket { "yes" } else { "no" })]);
        }
        if piece.closes {
            xml.empty("tuplet", &[("type", "stop")]);
        }
        others(xml);
    });
}

fn fermata(xml: &mut Xml, signs: Signs) {
    if signs.fermata {
        xml.empty("fermata", &[("type", "upright")]);
    }
}

/// Writes tempo words, which MusicXML marks with an attribute (4.0, `directive`).
fn tempo_words(xml: &mut Xml, words: &str) {
    xml.element("direction", &[("placement", "above"), ("directive", "yes")], |xml| {
        xml.element("direction-type", &[], |xml| xml.text("words", words));
    });
}

/// Writes a metronome mark in dotted quarters if these are the felt beats of the meter, otherwise in quarters, and a
/// sound tempo in quarters per minute that reads back as the same microseconds.
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
        // The format requires a root even if no chord is played; the empty text hides it.
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
