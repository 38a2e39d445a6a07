//! Writes the words and the tab under a line of music (§5).

use super::super::Arrangement;

/// A note, or a tied piece of a note, that takes a place in a line of words.
pub(super) struct Slot {
    /// The index of the note in the melody.
    pub(super) note: usize,
    pub(super) begins: bool,
}

/// Writes the verses under a line of music, then the tab.
pub(super) fn write(text: &mut String, arrangement: &Arrangement, slots: &[Slot]) {
    let notes = &arrangement.melody.notes;
    let lyrics = |slot: &Slot| if slot.begins { notes[slot.note].lyrics.as_slice() } else { &[] };
    let verses = slots.iter().flat_map(lyrics).map(|lyric| lyric.verse).max().unwrap_or(0);
    for verse in 1..=verses {
        let mut held = false;
        let words = slots.iter().map(|slot| match lyrics(slot).iter().find(|lyric| lyric.verse == verse) {
            Some(lyric) => {
                held = lyric.extend;
                format!("{}{}", syllable(&lyric.text), if lyric.hyphen { "-" } else { "" })
            }
            None if held => "_".to_owned(),
            None => "*".to_owned(),
        });
        line(text, words);
    }
    if !slots.is_empty() {
        text.push_str("%%breathline tab\n");
        let tab = |slot: &Slot| arrangement.notes.get(slot.note).filter(|_| slot.begins);
        line(
            text,
            slots
                .iter()
                .map(|slot| tab(slot).map_or_else(|| "*".to_owned(), |arranged| syllable(&arranged.tab))),
        );
    }
}

fn line(text: &mut String, words: impl Iterator<Item = String>) {
    text.push_str("w:");
    for word in words {
        text.push(' ');
        text.push_str(&word);
    }
    text.push('\n');
}

/// Returns a syllable in which signs with a special meaning are escaped.
fn syllable(text: &str) -> String {
    let mut syllable = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '-' => syllable.push_str("\\-"),
            _ if letter.is_whitespace() => syllable.push('~'),
            '_' | '*' | '~' | '|' => syllable.push_str(&format!("\\u{:04x}", u32::from(letter))),
            _ => push(&mut syllable, letter),
        }
    }
    syllable
}

/// Returns a text in which signs that would begin an escape or a comment (§8.2) are escaped.
pub(super) fn escaped(text: &str) -> String {
    let mut escaped = String::with_capacity(text.len());
    text.chars().for_each(|letter| push(&mut escaped, letter));
    escaped
}

fn push(text: &mut String, letter: char) {
    if matches!(letter, '\\' | '%' | '&') {
        text.push('\\');
    }
    text.push(letter);
}
