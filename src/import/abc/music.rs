//! Reads a line of music, sign by sign (ABC 2.1, §4).

use super::{
    field::{fraction, number},
    key,
    reader::{Reader, unreadable},
    voice::{Barline, Written},
};
use crate::{
    import::{
        Oddity,
        heading::one_line,
        jumps::{self, InBar, Jumps},
    },
    melody::{chord, tempo_words::is_tempo},
    pitch::Step,
    time::{Beats, Meter},
};

/// The greatest length of a decoration's name.
const MAX_NAME: usize = 32;
/// The largest number of signs in a broken rhythm and of slashes in a length: far more than any music needs.
const MAX_DEPTH: usize = 8;
/// The largest number of numbers on an ending.
const MAX_ENDINGS: usize = 32;

/// Reads a length in units at the beginning of a text (§4.3); also returns the remaining text.
fn units(text: &str) -> ((i64, i64), &str) {
    let (over, rest) = number(text).unwrap_or((1, text));
    let after = rest.trim_start_matches('/');
    let slashes = rest.len() - after.len();
    let halves = |times: usize| 1_i64 << times.min(MAX_DEPTH);
    match number(after).filter(|_| slashes > 0) {
        Some((under, rest)) => ((over, under.max(1) * halves(slashes - 1)), rest),
        None => ((over, halves(slashes)), after),
    }
}

/// Returns the length of the next note or rest of a text, if only signs without time precede it.
fn next_units(text: &str) -> Option<(i64, i64)> {
    let mut rest = text;
    loop {
        rest = rest.trim_start_matches(|c: char| " `(.~uv".contains(c));
        let closing = match rest.chars().next()? {
            sign @ ('"' | '!') => sign,
            '{' => '}',
            _ => break,
        };
        rest = rest[1..].split_once(closing)?.1;
    }
    let note = rest.trim_start_matches(['^', '_', '=']);
    let letter = note.chars().next().filter(|c| matches!(c, 'A'..='G' | 'a'..='g' | 'x' | 'z'))?;
    Some(units(note[letter.len_utf8()..].trim_start_matches([',', '\''])).0)
}

/// Reads the signs of a line in order.
pub(super) struct Music<'r, 't> {
    pub(super) reader: &'r mut Reader,
    text: &'t str,
    at: usize,
}

impl<'r, 't> Music<'r, 't> {
    pub(super) fn new(reader: &'r mut Reader, text: &'t str) -> Music<'r, 't> {
        Music { reader, text, at: 0 }
    }

    fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }

    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    fn odd(&mut self, oddity: Oddity) {
        let column = self.text[..self.at].chars().count() + 1;
        self.reader.odd(oddity, column);
    }

    /// Reports `length` characters that have no meaning here, and skips them.
    fn skip_odd(&mut self, length: usize) {
        let sign: String = self.rest().chars().take(length).collect();
        self.odd(unreadable(&sign));
        self.at += sign.len();
    }

    /// Reads the whole line.
    pub(super) fn read(mut self) {
        while let Some(sign) = self.peek() {
            match sign {
                // White space divides beams; the other signs are reserved or affect only the display (§4.7, 8.1).
                b' ' | b'\t' | b'`' | b'#' | b'*' | b';' | b'?' | b'@' | b'$' | 0x0C => self.at += 1,
                b'A'..=b'G' | b'a'..=b'g' | b'^' | b'_' | b'=' => self.note(),
                b'z' | b'x' | b'Z' | b'X' | b'y' => self.silence(sign),
                b'|' | b':' => self.barline(),
                b'.' => self.at += 1,
                b'[' => self.bracket(),
                b'(' => self.tuplet_or_slur(),
                b')' => self.end_slur(),
                b'{' => self.graces(),
                b'-' => {
                    self.reader.voice().tie();
                    self.at += 1;
                }
                b'<' | b'>' => self.broken(sign as char),
                b'"' => self.quoted(),
                b'!' | b'+' => self.decoration(sign),
                b'&' => {
                    self.reader.voice().overlay();
                    self.at += 1;
                }
                b'\\' if self.rest()[1..].trim().is_empty() => {
                    self.reader.voice().continues = true;
                    return;
                }
                b'~' | b'H'..=b'W' | b'h'..=b'w' => self.symbol(sign),
                _ => self.skip_odd(1),
            }
        }
    }

    /// Reads an accidental, a letter and octave marks (§4.1, 4.2).
    fn written(&mut self) -> Option<Written> {
        let mut rest = self.rest();
        let mut accidental = None;
        if let Some((alter, after)) = key::accidental(rest) {
            accidental = Some(alter);
            rest = after;
            // A quarter tone, as in `^/` or `^3/2`, is rounded away from the natural note.
            let digits = if rest.starts_with('/') {
                Some(((1, 2), rest.trim_start_matches(['/', '2'])))
            } else {
                fraction(rest)
            };
            if let Some(((over, under), after)) = digits {
                accidental =
                    Some(alter * (over.min(4 * under) + under - 1).div_euclid(under).clamp(0, 2) as i8);
                self.odd(Oddity::Microtone);
                rest = after;
            }
        }
        let letter = rest.chars().next().filter(|c| matches!(c, 'A'..='G' | 'a'..='g'))?;
        let marks = rest[1..].bytes().take_while(|byte| matches!(byte, b',' | b'\'')).count();
        let ups = rest[1..=marks].bytes().filter(|&byte| byte == b'\'').count().min(10) as i8;
        let downs = marks.min(10) as i8 - ups;
        let octave = if letter.is_ascii_lowercase() { 5 } else { 4 } + ups - downs;
        self.at = self.text.len() - rest.len() + 1 + marks;
        Some(Written { step: Step::parse(letter)?, octave, accidental, tied: false })
    }

    /// Reads a length (§4.3).
    fn length(&mut self) -> (i64, i64) {
        let ((over, under), rest) = units(self.rest());
        if over == 0 {
            self.odd(unreadable("0"));
        }
        self.at = self.text.len() - rest.len();
        (over.max(1), under)
    }

    /// Reads a broken rhythm (§4.4), which changes the note before it and the note after it. Between notes of unequal
    /// length a broken rhythm would change the length of the bar, so it is reported and skipped.
    fn broken(&mut self, sign: char) {
        let length = self.rest().len() - self.rest().trim_start_matches(sign).len();
        let whole = 1_i64 << length.min(MAX_DEPTH);
        let (long, short) = ((2 * whole - 1, whole), (1, whole));
        let (before, after) = if sign == '>' { (long, short) } else { (short, long) };
        let next = next_units(&self.rest()[length..]).unwrap_or(self.reader.voice().last_units);
        if !self.reader.voice().break_rhythm(before, after, next) {
            return self.skip_odd(1);
        }
        self.at += length;
    }

    fn note(&mut self) {
        let Some(written) = self.written() else { return self.skip_odd(1) };
        let length = self.length();
        self.sound(&[written], length);
    }

    /// Adds notes of this length in units.
    fn sound(&mut self, notes: &[Written], length: (i64, i64)) {
        let length = self.reader.voice().length(length);
        if length <= Beats::ZERO {
            return self.odd(Oddity::Unreadable { what: "a length".into() });
        }
        self.play(notes, length);
    }

    fn play(&mut self, notes: &[Written], length: Beats) {
        for oddity in self.reader.play(notes, length) {
            self.odd(oddity);
        }
    }

    /// Reads a rest, rests for whole bars, or a space (§4.5, 6.1.2).
    fn silence(&mut self, sign: u8) {
        self.at += 1;
        let length = self.length();
        match sign {
            b'y' => {}
            b'z' | b'x' => {
                let voice = self.reader.voice();
                let length = voice.length(length);
                voice.rest(length.max(Beats::ZERO));
            }
            _ => self.reader.rest_bars(length.0 / length.1.max(1)),
        }
    }

    /// Reads a bar line with its repeats (§4.8) and the number of an ending (§4.9).
    fn barline(&mut self) {
        let bytes = self.rest().as_bytes();
        let mut length = 0;
        while let Some(&byte) = bytes.get(length) {
            let opens = byte == b'[' && matches!(bytes.get(length + 1), Some(b'|' | b']' | b':'));
            if !matches!(byte, b'|' | b':' | b']') && !opens {
                break;
            }
            length += 1;
        }
        let signs = &self.rest()[..length];
        let colons = |part: &str| part.bytes().filter(|&byte| byte == b':').count().min(250) as u8;
        let (ends, starts) = match (signs.find(['|', '[', ']']), signs.rfind(['|', '[', ']'])) {
            // A colon between two lines, as in `[|]:|`, ends a repeat; two colons, as in `|::|`, also start the next
            // repeat.
            (Some(first), Some(last))
                if colons(signs) > 0 && colons(&signs[first..=last]) == colons(signs) =>
            {
                (1, u8::from(colons(signs) > 1))
            }
            (Some(first), Some(last)) => (colons(&signs[..first]), colons(&signs[last..])),
            _ if length > 1 => (1, 1),
            _ => return self.skip_odd(1),
        };
        let played = |colons: u8| if colons > 0 { colons + 1 } else { 0 };
        let heavy = ["||", "|]", "[|"].iter().any(|sign| signs.contains(sign)) && signs != "[|]";
        self.at += length;
        let ending = self.ending();
        let (ends, starts) = (played(ends), played(starts));
        self.bar(Barline { ends, starts, double: heavy && ends == 0, ending });
    }

    fn bar(&mut self, line: Barline) {
        if let Some(oddity) = self.reader.barline(line) {
            self.odd(oddity);
        }
    }

    /// Reads the numbers of an ending: `1`, `1,3`, `1-3` (§4.10).
    fn ending(&mut self) -> Vec<u8> {
        let mut numbers: Vec<u8> = Vec::new();
        let mut range = false;
        while let Some((number, rest)) = number(self.rest()).filter(|_| numbers.len() < MAX_ENDINGS) {
            let number = number.min(250) as u8;
            let from = if range { numbers.last().map_or(number, |last| last + 1) } else { number };
            numbers.extend((from..=number).take(MAX_ENDINGS));
            let more =
                rest.strip_prefix([',', '-']).filter(|more| more.starts_with(|c: char| c.is_ascii_digit()));
            range = rest.starts_with('-');
            self.at = self.text.len() - more.unwrap_or(rest).len();
            if more.is_none() {
                break;
            }
        }
        if !numbers.is_empty() && self.peek() == Some(b'.') {
            self.at += 1;
        }
        numbers
    }

    /// Reads the element that a bracket opens: a bar line, an ending, a field, or a chord.
    fn bracket(&mut self) {
        match self.rest().as_bytes() {
            [_, b'|' | b']' | b':', ..] => self.barline(),
            [_, b'0'..=b'9', ..] => {
                self.at += 1;
                let ending = self.ending();
                self.bar(Barline { ending, ..Barline::default() });
            }
            [_, letter, b':', ..] if letter.is_ascii_alphabetic() => {
                let Some(end) = self.rest().find(']') else { return self.skip_odd(3) };
                let value = &self.rest()[3..end];
                let column = self.text[..self.at].chars().count() + 1;
                self.reader.field(*letter, value, column);
                self.at += end + 1;
            }
            _ => self.chord(),
        }
    }

    /// Reads a chord (§4.17): it lasts as long as its first note, times the length written after the chord.
    fn chord(&mut self) {
        let start = self.at;
        self.at += 1;
        let (mut notes, mut first): (Vec<Written>, (i64, i64)) = (Vec::new(), (1, 1));
        loop {
            match self.peek() {
                Some(b']') => {
                    self.at += 1;
                    break;
                }
                Some(b'A'..=b'G' | b'a'..=b'g' | b'^' | b'_' | b'=') => match self.written() {
                    Some(written) => {
                        let length = self.length();
                        if notes.is_empty() {
                            first = length;
                        }
                        notes.push(written);
                    }
                    None => self.skip_odd(1),
                },
                Some(b'-') => {
                    if let Some(last) = notes.last_mut() {
                        last.tied = true;
                    }
                    self.at += 1;
                }
                Some(b'"') => self.quoted(),
                Some(sign @ (b'!' | b'+')) => self.decoration(sign),
                Some(b'|') | None => {
                    // The bracket is never closed.
                    let end = std::mem::replace(&mut self.at, start);
                    self.odd(unreadable("["));
                    self.at = end;
                    break;
                }
                Some(byte) if byte.is_ascii() => self.at += 1,
                Some(_) => self.skip_odd(1),
            }
        }
        let outer = self.length();
        if !notes.is_empty() {
            self.sound(&notes, (first.0.saturating_mul(outer.0), first.1.saturating_mul(outer.1)));
        }
    }

    /// Reads grace notes (§4.12), whose lengths are ignored.
    fn graces(&mut self) {
        let Some(length) = self.rest().find('}') else { return self.skip_odd(1) };
        let end = self.at + length;
        while self.at < end {
            match self.written() {
                Some(written) => self.play(&[written], Beats::ZERO),
                None => self.at += self.rest().chars().next().map_or(1, char::len_utf8),
            }
        }
        self.at = end + 1;
    }

    /// Reads a tuplet `(p:q:r` (§4.13), or the beginning of a slur.
    fn tuplet_or_slur(&mut self) {
        self.at += 1;
        let Some((p, mut rest)) = number(self.rest()) else {
            // `(&` begins an overlay of several bars.
            if self.peek() != Some(b'&') {
                let voice = self.reader.voice();
                voice.signs.slurs_begin = voice.signs.slurs_begin.saturating_add(1);
            }
            return;
        };
        let mut values = [None, None];
        for value in &mut values {
            let Some(after) = rest.strip_prefix(':') else { break };
            let read = number(after);
            *value = read.map(|read| read.0);
            rest = read.map_or(after, |read| read.1);
        }
        self.at = self.text.len() - rest.len();
        let compound = |meter: Meter| meter.unit == 8 && meter.beats > 3 && meter.beats.is_multiple_of(3);
        let usual = match p {
            2 | 4 | 8 => 3,
            5 | 7 | 9 if self.reader.voice().meter.is_some_and(compound) => 3,
            3 | 6 | 5 | 7 | 9 => 2,
            _ => p,
        };
        let q = values[0].filter(|&q| q > 0).unwrap_or(usual);
        let r = values[1].filter(|&r| r > 0).unwrap_or(p);
        if !(2..=64).contains(&p) || q > 64 {
            self.odd(unreadable(&format!("({p}")));
            return;
        }
        self.reader.voice().tuplet = Some(((q, p), r as u32));
    }

    /// Ends a slur.
    fn end_slur(&mut self) {
        self.at += 1;
        let voice = self.reader.voice();
        for draft in &mut voice.part.notes[voice.last.clone()] {
            draft.note.signs.slurs_end = draft.note.signs.slurs_end.saturating_add(1);
        }
    }

    /// Reads a text in quotation marks: a chord symbol, an annotation or a fingering (§4.18, 4.19).
    fn quoted(&mut self) {
        let Some(length) = self.rest()[1..].find('"') else { return self.skip_odd(1) };
        let text = &self.rest()[1..=length];
        self.at += length + 2;
        self.words(text);
    }

    fn words(&mut self, text: &str) {
        let text = super::text::plain(text);
        let placed = text.strip_prefix(['^', '_', '<', '>', '@']);
        match placed {
            None if chord::is_symbol(&text) => self.reader.voice().chord(&text),
            _ => {
                let words = placed.unwrap_or(&text);
                self.jump(jumps::in_words(words));
                if is_tempo(words) {
                    let at = self.reader.voice().spot();
                    self.reader.draft.tempo_words.push((at, one_line(words)));
                }
            }
        }
    }

    fn jump(&mut self, jumps: Jumps) {
        let voice = self.reader.voice();
        let position = if voice.now == Beats::ZERO { InBar::Start } else { InBar::Inside };
        let bar = voice.bar;
        if jumps != Jumps::default() {
            jumps::mark(jumps, bar, position, &mut self.reader.draft);
        }
    }

    /// Reads a decoration such as `!trill!` (§4.14), or a single `!`, which older files use as a line break (§12.2).
    fn decoration(&mut self, sign: u8) {
        let rest = &self.rest()[1..];
        let name = rest.split_once(sign as char).map(|(name, _)| name);
        let is_name = |name: &&str| {
            (1..=MAX_NAME).contains(&name.len())
                && !name.contains(|c: char| c.is_whitespace() || "|[]{}\"".contains(c))
        };
        match name.filter(is_name) {
            Some(name) => {
                self.at += name.len() + 2;
                self.decorate(name);
            }
            None if sign == b'!' => self.at += 1,
            None => self.skip_odd(1),
        }
    }

    fn decorate(&mut self, name: &str) {
        match name {
            "breath" | "caesura" => self.reader.voice().breathes = true,
            "fermata" | "invertedfermata" => self.reader.voice().signs.fermata = true,
            "dacoda" => self.jump(Jumps { to_coda: true, ..Jumps::default() }),
            _ => self.jump(jumps::in_words(name)),
        }
    }

    /// Reads a letter that stands for a decoration (§4.14, 4.16).
    fn symbol(&mut self, letter: u8) {
        let usual = match letter {
            b'S' => "!segno!",
            b'O' => "!coda!",
            b'H' => "!fermata!",
            b'~' | b'L' | b'M' | b'P' | b'T' | b'u' | b'v' => "",
            _ => "?",
        };
        let meaning = self.reader.symbols.get(&letter).map_or(usual, String::as_str).to_owned();
        match meaning.as_bytes() {
            [b'!', .., b'!'] => self.decorate(&meaning[1..meaning.len() - 1]),
            [b'"', .., b'"'] => self.words(&meaning[1..meaning.len() - 1]),
            b"?" => return self.skip_odd(1),
            _ => {}
        }
        self.at += 1;
    }
}
