//! ABC, the tune format that musicians type: takes bytes, returns a [`Score`] for each tune of the file.
//!
//! Follows the ABC standard 2.1 (December 2011) for pitch, time, order and words, and understands the signs of older
//! files. Paragraph numbers in these modules refer to that standard.
//!
//! 1. `text` decodes the bytes and handles lines, fields, comments and escapes; this module finds the tunes.
//! 2. `tune` reads the lines of a tune in order; `reader` reads its fields and keeps their content (`field` and `key`
//!    read single fields, `macros` expands letters that stand for longer texts).
//! 3. `music` reads a line of music sign by sign; `voice` places its notes in bars; `words` sets words under them.
//! 4. [`assemble`](super::assemble) lays the bars, which all voices share, end to end, and merges tied notes.
//!
//! A meaningless sign is skipped with a warning, and reading continues. Signs that affect only the display
//! (decorations, annotations, beams, line breaks, style) are ignored.

mod field;
mod key;
mod macros;
mod music;
mod reader;
pub(super) mod text;
mod tune;
mod voice;
mod words;

use std::{borrow::Cow, ops::Range};

use super::{ImportError, Score, entry::TuneEntry, heading::one_line};
use crate::melody::key::Key;
use text::{Line, lines};
use tune::Numbered;

/// The largest number of tunes in a file; the largest collections have some ten thousand.
const MAX_TUNES: usize = 100_000;

/// Whether the bytes are ABC: a text in which at least one line starts with `X:` or `K:`.
pub(super) fn is_abc(bytes: &[u8]) -> bool {
    /// The number of bytes that are checked for control characters, which no ABC file contains.
    const START: usize = 4096;
    let is_control = |byte: &u8| byte.is_ascii_control() && !byte.is_ascii_whitespace() && *byte != 0x0B;
    let begins = |line: &[u8]| line.starts_with(b"X:") || line.starts_with(b"K:");
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    !bytes.iter().take(START).any(is_control) && bytes.split(|byte| matches!(byte, b'\n' | b'\r')).any(begins)
}

/// A file of tunes.
pub(super) struct Tunes<'a> {
    text: Cow<'a, str>,
    /// The header of the file, whose fields apply to all tunes (§2.2.2).
    header: Range<usize>,
    /// The byte range of each tune, and the number of its first line.
    places: Vec<(Range<usize>, u32)>,
}

/// Finds the tunes of a file, in linear time, and the entry of each for the list of tunes.
///
/// A tune begins with `X:` or, if `X:` is missing, with the first line of a paragraph that has a `K:`. A tune ends with
/// a blank line after its music, or where the next tune begins.
///
/// # Errors
///
/// Returns [`ImportError::TooLarge`] if there are more than [`MAX_TUNES`] tunes.
pub(super) fn find(bytes: &[u8]) -> Result<(Tunes<'_>, Vec<TuneEntry>), ImportError> {
    let text = text::decode(bytes);
    let (mut places, mut entries, mut header) = (Vec::<(Range<usize>, u32)>::new(), Vec::new(), 0..0);
    // Whether a tune is open, whether the open tune has music, and the paragraph between tunes, which may turn out to
    // be a tune.
    let (mut open, mut has_music) = (false, false);
    let mut paragraph: Option<(usize, u32, TuneEntry)> = None;
    for (Line { start, text: line, end }, number) in lines(&text).zip(1..) {
        if line.trim().is_empty() {
            open &= !has_music;
            if let Some((first, ..)) = paragraph.take().filter(|_| places.is_empty() && header.is_empty()) {
                header = first..start;
            }
            continue;
        }
        let field = text::field(line);
        let (mut from, mut entry) = ((start, number), TuneEntry::default());
        let begins = match field {
            Some((b'X', _)) => true,
            _ if open => false,
            _ => {
                let paragraph = paragraph.get_or_insert((start, number, TuneEntry::default()));
                note(&mut paragraph.2, field);
                (from, entry) = ((paragraph.0, paragraph.1), paragraph.2.clone());
                matches!(field, Some((b'K', _)))
            }
        };
        if begins {
            if places.len() == MAX_TUNES {
                return Err(ImportError::TooLarge { what: "the file", limit: MAX_TUNES, unit: "tunes" });
            }
            if let Some((first, ..)) = paragraph.take().filter(|_| places.is_empty() && header.is_empty()) {
                header = first..from.0;
            }
            places.push((from.0..end, from.1));
            entries.push(entry);
            (open, has_music) = (true, false);
        }
        if open && let (Some(place), Some(entry)) = (places.last_mut(), entries.last_mut()) {
            place.0.end = end;
            has_music |= field.is_none() && !line.starts_with('%');
            note(entry, field);
        }
    }
    for (entry, number) in entries.iter_mut().zip(1..) {
        // A tune without a number is numbered by its place.
        entry.number = if entry.number == 0 { number } else { entry.number };
    }
    Ok((Tunes { text, header, places }, entries))
}

/// Copies a number, title or key from its field to the tune's entry in the list.
fn note(entry: &mut TuneEntry, field: Option<(u8, &str)>) {
    let Some((letter, value)) = field else { return };
    let value = text::without_comment(value).trim();
    match letter {
        b'X' => entry.number = value.parse().unwrap_or(0),
        b'T' if entry.title.is_none() => {
            entry.title = Some(one_line(&text::plain(value))).filter(|title| !title.is_empty());
        }
        b'K' if entry.key.is_none() => {
            let key = key::read(value, &mut key::Shift::default()).0;
            entry.key = key.and_then(|key| Some(Key { tonic: key.tonic?.class(), mode: key.mode? }));
        }
        _ => {}
    }
}

impl Tunes<'_> {
    /// Reads the tune with this index. With `perform`, the tune's sections follow the order that its header gives in
    /// `P:`.
    ///
    /// # Errors
    ///
    /// Returns [`ImportError::TooLarge`] if a limit is exceeded.
    pub(super) fn read(&self, index: usize, perform: bool) -> Result<Score, ImportError> {
        let Some((place, first)) = self.places.get(index) else { return Ok(Score::default()) };
        let header = numbered(&self.text[self.header.clone()], 1);
        tune::read(&header, &numbered(&self.text[place.clone()], *first), perform)
    }
}

/// Returns the lines of a text with their numbers; a field continued with `+:` is one line (§3.3).
fn numbered(text: &str, first: u32) -> Vec<Numbered<'_>> {
    let mut numbered: Vec<Numbered<'_>> = Vec::new();
    for (line, number) in lines(text).zip(first..) {
        match (text::field(line.text), numbered.last_mut()) {
            (Some((b'+', more)), Some((_, before))) => {
                let before = before.to_mut();
                before.push(' ');
                before.push_str(more);
            }
            _ => numbered.push((number, Cow::Borrowed(line.text))),
        }
    }
    numbered
}
