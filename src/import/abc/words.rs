//! Sets the lines of words and of symbols that follow a line of music (ABC 2.1, §5 and 4.15).

use super::{key, text, voice::Voice};
use crate::melody::Lyric;

/// The largest number of verses under a line; no song has more.
pub(super) const MAX_VERSES: u8 = 32;

/// The position in a line of music while its words are set.
struct Setting<'v> {
    voice: &'v mut Voice,
    at: usize,
    bar: usize,
    /// The last note that got a syllable.
    last: Option<usize>,
}

impl Setting<'_> {
    /// Returns the next note; `None` after the last note.
    fn take(&mut self) -> Option<usize> {
        let note = self.at;
        self.bar = self.voice.line.get(note)?.spot.bar;
        self.at += 1;
        Some(note)
    }

    fn next_bar(&mut self) {
        self.bar += 1;
        while self.voice.line.get(self.at).is_some_and(|sung| sung.spot.bar < self.bar) {
            self.at += 1;
        }
    }

    /// Sets a syllable; returns false if no note is left.
    fn set(&mut self, syllable: &mut String, hyphen: bool) -> bool {
        let text = std::mem::take(syllable);
        if text.is_empty() {
            return true;
        }
        let Some(note) = self.take() else { return false };
        self.last = Some(note);
        let verse = self.voice.verse;
        for draft in &mut self.voice.part.notes[self.voice.line[note].notes.clone()] {
            draft.note.add_lyric(Lyric { verse, text: text.clone(), hyphen, extend: false });
        }
        true
    }

    /// Extends the last syllable over one more note.
    fn hold(&mut self) {
        if let Some(last) = self.last {
            let verse = self.voice.verse;
            for draft in &mut self.voice.part.notes[self.voice.line[last].notes.clone()] {
                let sung = draft.note.lyrics.iter_mut().filter(|lyric| lyric.verse == verse);
                sung.for_each(|lyric| lyric.extend = true);
            }
        }
        self.take();
    }
}

/// Sets a line of words under the last line of music, as its next verse. Returns false if words are left over.
pub(super) fn set(voice: &mut Voice, words: &str) -> bool {
    voice.verse = voice.verse.saturating_add(1);
    if voice.verse > MAX_VERSES {
        return words.trim().is_empty();
    }
    let bar = voice.line.first().map_or(0, |sung| sung.spot.bar);
    let mut setting = Setting { voice, at: 0, bar, last: None };
    let (mut syllable, mut fits) = (String::new(), true);
    let mut rest = words;
    while let Some(sign) = rest.chars().next() {
        let mut length = sign.len_utf8();
        match sign {
            '\\' if rest[1..].starts_with('-') => {
                syllable.push('-');
                length = 2;
            }
            '\\' | '&' => {
                let (letter, escaped) = text::escape(rest).unwrap_or((sign, 1));
                syllable.push(letter);
                length = escaped;
            }
            '~' => syllable.push(' '),
            // A hyphen that ends no syllable extends the syllable before it over one more note.
            '-' if syllable.is_empty() => drop(setting.take()),
            '-' => fits &= setting.set(&mut syllable, true),
            '_' => {
                fits &= setting.set(&mut syllable, false);
                setting.hold();
            }
            '*' => {
                fits &= setting.set(&mut syllable, false);
                setting.take();
            }
            '|' => {
                fits &= setting.set(&mut syllable, false);
                setting.next_bar();
            }
            _ if sign.is_whitespace() => fits &= setting.set(&mut syllable, false),
            _ => syllable.push(sign),
        }
        rest = &rest[length..];
    }
    setting.set(&mut syllable, false) && fits
}

/// Sets a line of symbols as chord symbols over the notes of the last line. Returns false if a symbol is neither a
/// chord symbol nor a decoration, or if no note is left for it.
pub(super) fn symbols(voice: &mut Voice, line: &str) -> bool {
    let bar = voice.line.first().map_or(0, |sung| sung.spot.bar);
    let mut setting = Setting { voice, at: 0, bar, last: None };
    let mut known = true;
    for word in key::words(line) {
        match word {
            "|" => setting.next_bar(),
            "*" => drop(setting.take()),
            _ => {
                let Some(note) = setting.take() else { return false };
                let spot = setting.voice.line[note].spot;
                match word.strip_prefix('"').and_then(|word| word.strip_suffix('"')) {
                    Some(chord) => setting.voice.chord_at(spot, chord),
                    None => known &= word.starts_with('!'),
                }
            }
        }
    }
    known
}
