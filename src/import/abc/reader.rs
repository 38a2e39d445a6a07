//! The state of reading a tune: its fields, its voices, and the settings for the next line.

use std::collections::BTreeMap;

use super::{
    field, key,
    key::{Key, Shift},
    macros::{MAX_MACROS, Macro},
    text,
    voice::{Barline, MAX_BARS, Reach, Voice, Written},
    words,
};
use crate::{
    import::{
        ImportError, MAX_NOTES, Oddity, Score, TextPosition, assemble,
        draft::{Draft, OddityDraft, PartInfo, Spot, TempoDraft},
        heading::{is_stopgap, one_line},
    },
    melody::{Creator, Credits},
    time::{Beats, Meter},
};

/// The largest number of voices in a tune, as many as parts in a score of another format.
const MAX_VOICES: usize = 1_000;
/// The largest number of makers, and of texts about rights.
const MAX_CREATORS: usize = 20;
/// The largest number of oddities that are reported.
const MAX_ODDITIES: usize = 1_000;

/// A tune, as far as it has been read.
#[derive(Default)]
pub(super) struct Reader {
    pub(super) draft: Draft<'static>,
    voices: Vec<Voice>,
    names: BTreeMap<String, usize>,
    current: usize,
    /// Whether the header has ended.
    in_body: bool,
    title: Option<String>,
    credits: Credits,
    rhythm: Option<String>,
    unit: Option<Beats>,
    meter: Option<Option<Meter>>,
    key: Key,
    shift: Shift,
    tempo: Option<String>,
    /// The order of parts.
    pub(super) order: Option<String>,
    reach: Reach,
    pub(super) symbols: BTreeMap<u8, String>,
    pub(super) macros: Vec<Macro>,
    /// The number of the line being read.
    pub(super) line: u32,
    /// Whether the lines being read are typeset text, and whether the next `w:` line contains tab.
    pub(super) in_text: bool,
    tab_follows: bool,
}

impl Reader {
    /// Reports an oddity in the line being read.
    pub(super) fn odd(&mut self, oddity: Oddity, column: usize) {
        let count = self.draft.oddities.len();
        if count > MAX_ODDITIES {
            return;
        }
        let what = || format!("warnings after the first {MAX_ODDITIES}");
        let oddity = if count < MAX_ODDITIES { oddity } else { Oddity::Unreadable { what: what() } };
        let place = self.voices.get(self.current).map(|voice| (self.current, voice.spot()));
        let column = u32::try_from(column).unwrap_or(u32::MAX);
        self.draft.oddities.push(OddityDraft {
            place,
            oddity,
            text: Some(TextPosition::Line(self.line, column)),
        });
    }

    /// Returns the current voice; adds one if the tune has none yet.
    pub(super) fn voice(&mut self) -> &mut Voice {
        if self.voices.is_empty() {
            self.add_voice("");
        }
        let current = self.current.min(self.voices.len() - 1);
        &mut self.voices[current]
    }

    /// Adds a voice and returns its index. Beyond the limit no voice is added, because [`Reader::finish`] will refuse the
    /// tune.
    fn add_voice(&mut self, name: &str) -> usize {
        if self.voices.len() < MAX_VOICES {
            let meter = self.meter.flatten();
            let unit = self.unit.unwrap_or_else(|| field::usual_unit(meter));
            let mut voice = Voice::new(unit, self.key, self.shift, meter);
            voice.state_key();
            self.voices.push(voice);
        }
        let index = self.voices.len() - 1;
        self.names.insert(name.to_owned(), index);
        index
    }

    /// Ends the header: its settings now apply to all voices.
    pub(super) fn begin_body(&mut self) {
        if std::mem::replace(&mut self.in_body, true) {
            return;
        }
        let meter = self.meter.flatten();
        self.draft.bar(0).meter = Some(meter);
        let unit = self.unit.unwrap_or_else(|| field::usual_unit(meter));
        self.unit = Some(unit);
        for voice in &mut self.voices {
            (voice.unit, voice.meter, voice.key) = (unit, meter, self.key);
            if voice.shift == Shift::default() {
                voice.shift = self.shift;
            }
            voice.state_key();
        }
        self.current = 0;
        if let Some(tempo) = self.tempo.take() {
            self.state_tempo(&tempo, 1);
        }
    }

    pub(super) fn begin_line(&mut self) {
        let voice = self.voice();
        if !std::mem::take(&mut voice.continues) {
            voice.line.clear();
            voice.verse = 0;
        }
    }

    pub(super) fn play(&mut self, notes: &[Written], length: Beats) -> Vec<Oddity> {
        let reach = self.reach;
        self.voice();
        let (draft, voice) = (&mut self.draft, &mut self.voices[self.current]);
        voice.sound(draft, notes, length, reach)
    }

    pub(super) fn barline(&mut self, line: Barline) -> Option<Oddity> {
        self.voice();
        let (draft, voice) = (&mut self.draft, &mut self.voices[self.current]);
        voice.barline(draft, self.current, line)
    }

    /// Adds rests for whole bars.
    pub(super) fn rest_bars(&mut self, bars: i64) {
        self.voice();
        let (draft, voice) = (&mut self.draft, &mut self.voices[self.current]);
        let full = voice.meter.unwrap_or(Meter::COMMON).bar();
        for bar in 0..bars.clamp(1, MAX_BARS as i64) {
            if voice.bar >= MAX_BARS {
                break;
            }
            if bar > 0 {
                voice.end_bar(draft, self.current);
            }
            voice.rest(full);
        }
    }

    /// Reads a field of the header, of the body, or inside a line.
    pub(super) fn field(&mut self, letter: u8, value: &str, column: usize) {
        let value = value.trim();
        let read = match letter {
            b'T' => {
                let title = one_line(&text::plain(value));
                if self.title.is_none() && !is_stopgap(&title) {
                    self.title = Some(title);
                }
                true
            }
            b'C' => {
                let name = one_line(&text::plain(value));
                if !name.is_empty() && self.credits.creators.len() < MAX_CREATORS {
                    self.credits.creators.push(Creator { role: "composer".to_owned(), name });
                }
                true
            }
            b'R' => {
                let rhythm = one_line(&text::plain(value));
                if self.rhythm.is_none() && !rhythm.is_empty() {
                    self.rhythm = Some(rhythm);
                }
                true
            }
            b'M' => field::meter(value).map(|meter| self.state_meter(meter)).is_some(),
            b'L' => field::unit(value).map(|unit| self.state_unit(unit)).is_some(),
            b'Q' if self.in_body => self.state_tempo(value, column),
            b'Q' => {
                self.tempo = Some(value.to_owned());
                true
            }
            b'K' => self.state_key(value),
            b'V' => self.switch_voice(value),
            b'P' if self.in_body => {
                self.voices.iter_mut().for_each(Voice::begin_section);
                true
            }
            b'P' => {
                self.order = Some(value.to_owned());
                true
            }
            b'I' => {
                self.directive(value);
                true
            }
            b'U' => self.define_symbol(value),
            b'm' => {
                let read = Macro::parse(value).filter(|_| self.macros.len() < MAX_MACROS);
                read.map(|read| self.macros.push(read)).is_some()
            }
            b'w' if std::mem::take(&mut self.tab_follows) => true,
            b'w' if !words::set(self.voice(), value) => {
                self.odd(Oddity::WordsWithoutNote, column);
                true
            }
            b'w' => true,
            b's' => words::symbols(self.voice(), value),
            // Fields about the tune or its book, and words below the tune, have no effect.
            b'A' | b'B' | b'D' | b'F' | b'G' | b'H' | b'N' | b'O' | b'S' | b'W' | b'X' | b'Z' | b'r' => true,
            _ => false,
        };
        if !read {
            self.odd(unreadable(&one_line(&format!("{}:{value}", letter as char))), column);
        }
    }

    fn state_meter(&mut self, meter: Option<Meter>) {
        if !self.in_body {
            self.meter = Some(meter);
            return;
        }
        let voice = self.voice();
        voice.meter = meter;
        let (bar, at_start) = (voice.bar, voice.now == Beats::ZERO);
        let bar = self.draft.bar(bar);
        let place = if at_start { &mut bar.meter } else { &mut bar.later_meter };
        *place = Some(meter);
    }

    fn state_unit(&mut self, unit: Beats) {
        if self.in_body {
            self.voice().unit = unit;
        } else {
            self.unit = Some(unit);
        }
    }

    fn state_tempo(&mut self, text: &str, column: usize) -> bool {
        let unit = self.voice().unit;
        let at = self.voice().spot();
        let words = field::tempo_words(text).map(|words| one_line(&words));
        self.draft.tempo_words.extend(words.filter(|words| !words.is_empty()).map(|words| (at, words)));
        match field::tempo(text, unit) {
            Some(Some(micros_per_quarter)) => {
                self.draft.tempi.push(TempoDraft { at, sound: true, micros_per_quarter })
            }
            Some(None) => {}
            None => self.odd(unreadable(&one_line(&format!("Q:{text}"))), column),
        }
        true
    }

    fn state_key(&mut self, value: &str) -> bool {
        if !self.in_body {
            let (key, odd) = key::read(value, &mut self.shift);
            let is_read = odd.is_none();
            self.key = key.unwrap_or_default();
            self.begin_body();
            return is_read;
        }
        let voice = self.voice();
        let (key, odd) = key::read(value, &mut voice.shift);
        if let Some(key) = key {
            voice.key = key;
            voice.state_key();
        }
        odd.is_none()
    }

    /// Switches to a voice (§7), which may be new.
    fn switch_voice(&mut self, value: &str) -> bool {
        let mut words = key::words(value);
        let Some(name) = words.next() else { return false };
        let index = match self.names.get(name) {
            Some(&index) => index,
            None => self.add_voice(name),
        };
        self.current = index;
        let voice = &mut self.voices[index];
        let mut is_read = true;
        for word in words {
            match word.split_once('=') {
                Some(("name" | "nm", name)) => {
                    voice.name =
                        Some(one_line(&text::plain(name.trim_matches('"')))).filter(|name| !name.is_empty());
                }
                _ => is_read &= voice.shift.property(word),
            }
        }
        if self.in_body {
            self.begin_line();
        }
        is_read
    }

    fn define_symbol(&mut self, value: &str) -> bool {
        let Some((letter, meaning)) = value.split_once('=') else { return false };
        let [letter] = letter.trim().as_bytes() else { return false };
        self.symbols.insert(*letter, meaning.trim().to_owned());
        true
    }

    /// Follows an instruction (§11) about notes, rights, tab or typeset text; ignores all other instructions, which
    /// affect only the display.
    pub(super) fn directive(&mut self, text: &str) {
        let mut words = text.split_whitespace();
        match (words.next().unwrap_or_default(), words.next()) {
            ("propagate-accidentals", Some(reach)) => {
                self.reach = match reach {
                    "not" => Reach::Note,
                    "octave" => Reach::Octave,
                    _ => Reach::Letter,
                };
            }
            // Without bars, an accidental applies only to its note.
            ("MIDI", Some("nobarlines")) => self.reach = Reach::Note,
            ("MIDI", Some("transpose")) => {
                let semitones = words.next().and_then(|number| number.parse().ok()).unwrap_or(0);
                let shift = if self.in_body { &mut self.voice().shift } else { &mut self.shift };
                shift.semitones = i16::clamp(semitones, -96, 96);
            }
            ("abc-copyright", Some(_)) if self.credits.rights.len() < MAX_CREATORS => {
                let rights = text.trim_start()["abc-copyright".len()..].trim();
                self.credits.rights.push(one_line(&text::plain(rights)));
            }
            ("breathline", Some("tab")) => self.tab_follows = true,
            (name, _) if name.starts_with("begin") => self.in_text = true,
            (name, _) if name.starts_with("end") => self.in_text = false,
            _ => {}
        }
    }

    /// Combines the voices into a score.
    pub(super) fn finish(mut self) -> Result<Score, ImportError> {
        let too_large = |limit, unit| Err(ImportError::TooLarge { what: "the tune", limit, unit });
        if self.names.len() > MAX_VOICES {
            return too_large(MAX_VOICES, "voices");
        }
        for (index, voice) in self.voices.iter_mut().enumerate() {
            voice.end_bar(&mut self.draft, index);
            if voice.bar >= MAX_BARS {
                return too_large(MAX_BARS, "bars");
            }
        }
        if self.draft.notes > MAX_NOTES {
            return too_large(MAX_NOTES, "notes");
        }
        self.draft.count = self.draft.count.max(1);
        let count = self.draft.count;
        for (index, voice) in self.voices.iter_mut().enumerate() {
            // Signs and grace notes after the last bar are dropped, because no music follows them.
            let part = &mut voice.part;
            part.keys.retain(|(spot, ..)| spot.bar < count);
            part.chords.retain(|(spot, _)| spot.bar < count);
            let notes = part.notes.len();
            part.notes.retain(|draft| draft.note.bar < count);
            if part.notes.len() < notes {
                let place = Some((index, Spot { bar: count - 1, offset: Beats::ZERO }));
                let oddity = Oddity::GraceWithoutNote;
                self.draft.oddities.push(OddityDraft { place, oddity, text: None });
            }
        }
        let infos = self.voices.iter().map(|voice| PartInfo { name: voice.name.clone(), percussion: false });
        let infos = infos.collect();
        let parts = self.voices.into_iter().map(|voice| voice.part).collect();
        let (title, credits, rhythm) = (self.title, self.credits, self.rhythm);
        Ok(Score { title, credits, rhythm, ..assemble::assemble(infos, parts, self.draft)? })
    }
}

/// Returns the oddity of a sign or line that cannot be read.
pub(super) fn unreadable(sign: &str) -> Oddity {
    Oddity::Unreadable { what: format!("`{sign}`") }
}
