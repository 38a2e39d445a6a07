//! Writes an arrangement as ABC 2.1 (December 2011; its paragraphs are named below).
//!
//! 1. [`notation`] decides how the tune is written: values, tuplets, ties, beams.
//! 2. `header` writes the fields. `Writer` writes the bars, four in a line, without spaces between notes under one
//!    beam.
//! 3. `words` writes the verses under each line, and the tab below the verses as one more line of words. An instruction
//!    precedes the tab: other programs ignore it, and it tells our own reader that these words are not a verse.
//!
//! The format has no sign for words under grace notes, for the second half of a tie whose first half is elsewhere, or
//! for repeats that are taken after a jump. A note that is not played has its name in brackets as its tab; a changed
//! note has an asterisk over it.

mod words;

use std::{iter::Peekable, vec::IntoIter};

use super::{Arrangement, per_minute};
use crate::{
    melody::{Bar, BarMarks, Melody, Note, key::Mode},
    notation::{self, Keys, Tie},
    pitch::{Spelling, Step},
    time::{Beats, Meter},
};
use words::{Slot, escaped};

/// The number of bars in a line.
const BARS: usize = 4;

/// Returns the tune as ABC text.
pub fn write(arrangement: &Arrangement) -> Vec<u8> {
    let melody = &arrangement.melody;
    let notation = notation::write(melody, Keys::Anywhere);
    let marks = marks(melody).into_iter().peekable();
    let mut writer = Writer {
        arrangement,
        text: String::new(),
        slots: Vec::new(),
        sharps: 0,
        accidentals: Vec::new(),
        marks,
    };
    writer.header();
    for (index, written) in notation.bars.iter().enumerate() {
        writer.bar(index, written);
        let is_last = index + 1 == melody.bars.len();
        writer.barline(index);
        if is_last || (index + 1) % BARS == 0 {
            writer.text.push('\n');
            words::write(&mut writer.text, arrangement, &std::mem::take(&mut writer.slots));
        }
    }
    writer.text.into_bytes()
}

/// A note, a tied piece of a note, or a rest, in a bar.
#[derive(Clone, Copy)]
struct Piece {
    from: Beats,
    to: Beats,
    note: Option<usize>,
    begins: bool,
    tied: bool,
    tuplet: Option<usize>,
    /// Whether the beam continues to the next piece.
    beamed: bool,
}

/// A sign that takes no time.
enum Mark {
    Key(i8, Option<Mode>),
    Tempo(u32),
    Chord(String),
    TempoWords(String),
}

/// The writer of the tune, with the state that lasts from bar to bar.
struct Writer<'a> {
    arrangement: &'a Arrangement,
    text: String,
    /// The notes of the line, and the tied pieces of notes, that take a place in the lines of words.
    slots: Vec<Slot>,
    /// The sharps of the current key, and the accidentals in the bar.
    sharps: i8,
    accidentals: Vec<(Step, i8, i8)>,
    /// The marks that have not been written yet.
    marks: Peekable<IntoIter<(Beats, Mark)>>,
}

impl Writer<'_> {
    fn field(&mut self, letter: &str, value: &str) {
        self.text.push_str(&format!("{letter}{}\n", escaped(value)));
    }

    fn header(&mut self) {
        let Arrangement { melody, harp, .. } = self.arrangement;
        self.text.push_str(concat!(
            "%abc-2.1\n%%abc-creator breathline ",
            env!("CARGO_PKG_VERSION"),
            "\nX:1\n"
        ));
        match &melody.title {
            Some(title) => {
                self.field("T:", title);
                self.field("T:", harp);
            }
            None => self.field("N:", harp),
        }
        for creator in &melody.credits.creators {
            match creator.role.as_str() {
                "composer" => self.field("C:", &creator.name),
                "" => self.field("N:", &creator.name),
                role => self.field("N:", &format!("{role}: {}", creator.name)),
            }
        }
        for rights in &melody.credits.rights {
            self.field("%%abc-copyright ", rights);
        }
        if let Some(rhythm) = &melody.rhythm {
            self.field("R:", rhythm);
        }
        let meter = melody.bars.first().and_then(|bar| bar.meter);
        self.text.push_str(&format!("M:{}\nL:1/8\n", self::meter(meter)));
        let words = melody.opening_words().map(quoted).collect::<Vec<_>>().join(" ");
        let micros = u64::from(melody.tempo.micros_per_quarter(Beats::ZERO));
        match (words.as_str(), melody.tempo.is_known()) {
            ("", false) => {}
            ("", true) => self.text.push_str(&format!("Q:1/4={}\n", per_minute(micros))),
            (words, false) => self.text.push_str(&format!("Q:{words}\n")),
            (words, true) => self.text.push_str(&format!("Q:{words} 1/4={}\n", per_minute(micros))),
        }
        let first = melody.signatures.first().filter(|first| first.at <= Beats::ZERO);
        self.sharps = first.map_or(0, |first| first.sharps);
        let key = first.map_or_else(|| "none".to_owned(), |first| key(first.sharps, first.mode));
        self.text.push_str(&format!("K:{key}\n"));
        if melody.bars.first().is_some_and(|bar| bar.marks.repeat_start) || starts_implied(&melody.bars, 0) {
            self.text.push_str("|:");
        }
    }

    /// Writes the content of a bar.
    fn bar(&mut self, index: usize, written: &notation::Bar) {
        let bars = &self.arrangement.melody.bars;
        let bar = &bars[index];
        self.accidentals.clear();
        let before = index.checked_sub(1).map(|before| &bars[before]);
        if opens_ending(before, bar) {
            let numbers: Vec<String> = bar.marks.ending.iter().map(u8::to_string).collect();
            self.text.push_str(&format!("[{} ", numbers.join(",")));
        }
        if before.is_some_and(|before| before.meter != bar.meter) {
            self.text.push_str(&format!("[M:{}]", meter(bar.meter)));
        }
        for (is_there, sign) in [(bar.marks.segno, "!segno!"), (bar.marks.coda, "!coda!")] {
            self.text.push_str(if is_there { sign } else { "" });
        }
        let end = bar.start + bar.length;
        let is_last = index + 1 == bars.len();
        let mut marks: Vec<(Beats, Mark)> = Vec::new();
        while let Some((at, mark)) = self.marks.next_if(|(at, _)| is_last || *at < end) {
            marks.push(((at - bar.start).max(Beats::ZERO), mark));
        }
        let places: Vec<Beats> = marks.iter().map(|(at, _)| *at).collect();
        let pieces = cut(pieces(bar, written), &places);
        let mut marks = marks.into_iter().peekable();
        let mut open = None;
        for (place, piece) in pieces.iter().enumerate() {
            while let Some((_, mark)) = marks.next_if(|(at, _)| *at <= piece.from) {
                self.mark(&mark);
            }
            if piece.tuplet != open
                && let Some((p, q)) = piece.tuplet.and_then(|tuplet| ratio(&written.tuplets, tuplet))
            {
                let count = pieces[place..].iter().take_while(|other| other.tuplet == piece.tuplet).count();
                self.text.push_str(&format!("({p}:{q}:{count}"));
            }
            open = piece.tuplet;
            self.piece(piece, &written.tuplets);
            if !piece.beamed {
                self.text.push(' ');
            }
        }
        for (_, mark) in marks {
            self.mark(&mark);
        }
    }

    fn mark(&mut self, mark: &Mark) {
        match mark {
            Mark::Chord(text) => self.text.push_str(&format!("\"{}\"", escaped(text).replace('"', "''"))),
            Mark::Key(sharps, mode) => {
                self.sharps = *sharps;
                self.text.push_str(&format!("[K:{}]", key(*sharps, *mode)));
            }
            Mark::TempoWords(text) => self.text.push_str(&format!("[Q:{}]", quoted(text))),
            Mark::Tempo(micros) => self.text.push_str(&format!("[Q:1/4={}]", per_minute(u64::from(*micros)))),
        }
    }

    fn piece(&mut self, piece: &Piece, tuplets: &[(i64, i64)]) {
        let mut length = (piece.to - piece.from).times(2, 1);
        if let Some((p, q)) = piece.tuplet.and_then(|tuplet| ratio(tuplets, tuplet)) {
            length = length.times(p, q);
        }
        let length = self::length(length);
        let Some(index) = piece.note else {
            self.text.push_str(&format!("z{length}"));
            return;
        };
        let melody = &self.arrangement.melody;
        let note = &melody.notes[index];
        if piece.begins {
            let graces =
                melody.notes[..index].iter().rev().take_while(|note| note.duration <= Beats::ZERO).count();
            let graces = &melody.notes[index - graces..index];
            // A slur that begins at a grace note is written before the grace notes.
            let slurs = graces.iter().chain([note]).map(|note| note.signs.slurs_begin).sum();
            (0..slurs).for_each(|_: u8| self.text.push('('));
            if !graces.is_empty() {
                self.text.push('{');
                for grace in graces {
                    self.pitch(grace, true);
                }
                self.text.push('}');
            }
            if self.arrangement.notes.get(index).is_some_and(|arranged| arranged.changed) {
                self.text.push_str("\"^*\"");
            }
        }
        if note.signs.fermata && !piece.tied {
            self.text.push_str("!fermata!");
        }
        if note.breath_after && !piece.tied {
            self.text.push_str("!breath!");
        }
        self.pitch(note, piece.begins);
        self.text.push_str(&length);
        if piece.tied {
            self.text.push('-');
        }
        if !piece.tied {
            (0..note.signs.slurs_end).for_each(|_| self.text.push(')'));
        }
        self.slots.push(Slot { note: index, begins: piece.begins });
    }

    /// Writes a note's accidental, letter and octave. A tied piece needs no accidental.
    fn pitch(&mut self, note: &Note, begins: bool) {
        let Spelling { step, alter, octave } = spelling(note);
        // Readers disagree about whether an accidental applies in all octaves (§11.3), so both readings must give the
        // right note.
        let by_key = notation::altered(self.sharps, step);
        let said = self.accidentals.iter().rev();
        let nearest = said.clone().find(|said| said.0 == step).map_or(by_key, |said| said.2);
        let own = said.clone().find(|said| (said.0, said.1) == (step, octave)).map_or(by_key, |said| said.2);
        if begins && (nearest != alter || own != alter) {
            self.text.push_str(["__", "_", "=", "^", "^^"][usize::try_from(alter + 2).unwrap_or(2).min(4)]);
            self.accidentals.retain(|said| (said.0, said.1) != (step, octave));
            self.accidentals.push((step, octave, alter));
        }
        let letter = format!("{step:?}");
        if octave >= 5 {
            self.text.push_str(&letter.to_ascii_lowercase());
            (5..octave).for_each(|_| self.text.push('\''));
        } else {
            self.text.push_str(&letter);
            (octave..4).for_each(|_| self.text.push(','));
        }
    }

    /// Writes the barline after a bar, with the words that send the player to another place.
    fn barline(&mut self, index: usize) {
        let bars = &self.arrangement.melody.bars;
        let (bar, next) = (&bars[index], bars.get(index + 1));
        let BarMarks { to_coda, fine, da_capo, dal_segno, .. } = bar.marks;
        let jumps = [(to_coda, "!dacoda!"), (fine, "!fine!"), (da_capo, "!D.C.!"), (dal_segno, "!D.S.!")];
        jumps.iter().filter(|jump| jump.0).for_each(|jump| self.text.push_str(jump.1));
        let starts = next.is_some_and(|next| next.marks.repeat_start) || starts_implied(bars, index + 1);
        match bar.marks.repeat_end.filter(|&times| times > 1) {
            Some(times) => {
                (1..times).for_each(|_| self.text.push(':'));
                self.text.push('|');
            }
            None if next.is_none() && bar.marks.section_end => self.text.push_str("|]"),
            None if is_double(bars, index) => self.text.push_str("||"),
            None => self.text.push('|'),
        }
        self.text.push_str(if starts { ":" } else { "" });
        if next.is_some() {
            self.text.push(' ');
        }
    }
}

/// Returns the keys, tempos, tempo words and chord symbols of a tune, by place. The key, tempo and words at the start
/// are left out, because they are in the header.
fn marks(melody: &Melody) -> Vec<(Beats, Mark)> {
    let is_later = |at: Beats| at > Beats::ZERO;
    let keys = melody.signatures.iter().filter(|key| is_later(key.at));
    let mut marks: Vec<(Beats, Mark)> = keys.map(|key| (key.at, Mark::Key(key.sharps, key.mode))).collect();
    if melody.tempo.is_known() {
        let changes = melody.tempo.changes().filter(|&(at, _)| is_later(at));
        marks.extend(changes.map(|(at, micros)| (at, Mark::Tempo(micros))));
    }
    let words = melody.later_words().map(|words| (words.at, Mark::TempoWords(words.text.clone())));
    marks.extend(words);
    marks.extend(melody.chords.iter().map(|chord| (chord.at, Mark::Chord(chord.to_string()))));
    marks.sort_by_key(|(at, _)| *at);
    marks
}

/// Returns tempo words in quotation marks. A bracket in the words would end the field.
fn quoted(words: &str) -> String {
    format!("\"{}\"", escaped(words).replace('"', "''").replace(']', ")"))
}

fn spelling(note: &Note) -> Spelling {
    let usual = Spelling::in_key(note.pitch, 0);
    note.spelling.filter(|spelling| spelling.alter.abs() <= 2).unwrap_or(usual)
}

/// Whether an ending bracket begins with a bar.
fn opens_ending(before: Option<&Bar>, bar: &Bar) -> bool {
    let goes_on = |before: &Bar| {
        let closed = before.marks.repeat_end.is_some() || before.marks.section_end || bar.marks.repeat_start;
        before.marks.ending == bar.marks.ending && !closed
    };
    !bar.marks.ending.is_empty() && !before.is_some_and(goes_on)
}

/// Whether a start sign must be added before a bar. A repeat without a start sign begins at the beginning of the tune,
/// or after the last repeat. It needs a sign if a double bar follows before its end, because readers would go back to
/// that double bar (§4.8). ABC has no repeats inside repeats: the end of an outer repeat sends readers back to the
/// last start sign or double bar inside it, and no added sign can mend that.
fn starts_implied(bars: &[Bar], index: usize) -> bool {
    let before = index.checked_sub(1).and_then(|before| bars.get(before));
    if before.is_some_and(|before| before.marks.repeat_end.is_none()) {
        return false;
    }
    let mut double = false;
    for (index, bar) in bars.iter().enumerate().skip(index) {
        if bar.marks.repeat_start {
            return false;
        }
        if bar.marks.repeat_end.is_some() {
            return double;
        }
        double |= is_double(bars, index);
    }
    false
}

/// Whether a double bar is written after a bar: at the end of a section, and at the end of the last ending.
fn is_double(bars: &[Bar], index: usize) -> bool {
    let marks = &bars[index].marks;
    let goes_on = bars.get(index + 1).is_some_and(|next| !next.marks.ending.is_empty());
    marks.section_end || (!marks.ending.is_empty() && !goes_on)
}

/// Returns the notes and rests of a bar, in order, with a rest in each gap and for the remaining time.
fn pieces(bar: &Bar, written: &notation::Bar) -> Vec<Piece> {
    let silent =
        |from, to| Piece { from, to, note: None, begins: false, tied: false, tuplet: None, beamed: false };
    let mut pieces: Vec<Piece> = Vec::with_capacity(written.events.len());
    let mut beamed = vec![false; written.events.len()];
    for group in &written.beams {
        group.iter().rev().skip(1).for_each(|&event| beamed[event] = true);
    }
    for (index, event) in written.events.iter().enumerate() {
        let note = event.note.as_ref();
        pieces.push(Piece {
            note: note.map(|note| note.note),
            begins: note.is_some_and(|note| note.begins),
            tied: note.is_some_and(|note| note.tie != Tie::None),
            tuplet: event.tuplet,
            beamed: beamed[index],
            ..silent(event.real.0, event.real.1)
        });
    }
    pieces.extend(written.lost.iter().map(|lost| Piece {
        note: Some(lost.note),
        begins: lost.begins,
        tied: !lost.ends,
        ..silent(lost.real.0, lost.real.1)
    }));
    pieces.retain(|piece| piece.from < piece.to);
    pieces.sort_by_key(|piece| piece.from);
    let mut now = Beats::ZERO;
    let mut filled: Vec<Piece> = Vec::with_capacity(pieces.len());
    for piece in pieces {
        filled.extend((piece.from > now).then(|| silent(now, piece.from)));
        now = piece.to;
        filled.push(piece);
    }
    filled.extend((now < bar.length).then(|| silent(now, bar.length)));
    filled
}

/// Cuts notes at the places of marks inside them; the pieces are tied.
fn cut(pieces: Vec<Piece>, places: &[Beats]) -> Vec<Piece> {
    let mut cut: Vec<Piece> = Vec::with_capacity(pieces.len());
    for mut piece in pieces {
        for &place in places {
            if piece.from < place && place < piece.to {
                cut.push(Piece { to: place, tied: piece.note.is_some(), ..piece });
                piece = Piece { from: place, begins: false, ..piece };
            }
        }
        cut.push(piece);
    }
    cut
}

/// Returns a tuplet's ratio, if the format can express it.
fn ratio(tuplets: &[(i64, i64)], index: usize) -> Option<(i64, i64)> {
    tuplets.get(index).copied().filter(|(p, q)| (2..=64).contains(p) && (1..=64).contains(q))
}

/// Returns a length in units, as the format writes it (§4.3).
fn length(units: Beats) -> String {
    match units.fraction() {
        (1, 1) => String::new(),
        (over, 1) => over.to_string(),
        (1, 2) => "/".to_owned(),
        (over, 2) => format!("{over}/"),
        (1, under) => format!("/{under}"),
        (over, under) => format!("{over}/{under}"),
    }
}

fn meter(meter: Option<Meter>) -> String {
    meter.map_or_else(|| "none".to_owned(), |meter| meter.to_string())
}

/// Returns the key for a signature: the tonic of its mode, or of the major key if the mode is unknown.
fn key(sharps: i8, mode: Option<Mode>) -> String {
    const LETTERS: [char; 7] = ['F', 'C', 'G', 'D', 'A', 'E', 'B'];
    let mode = mode.unwrap_or(Mode::Major);
    let place = sharps - mode.sharps_from_major() + 1;
    let accidental = match place.div_euclid(7) {
        0 => "",
        1.. => "#",
        _ => "b",
    };
    let name = match mode {
        Mode::Major => String::new(),
        mode => mode.to_string()[..3].to_owned(),
    };
    format!("{}{accidental}{name}", LETTERS[place.rem_euclid(7) as usize])
}
