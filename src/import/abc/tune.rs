//! Reads one tune: its lines in order, or its parts in the order of its header.

use std::{borrow::Cow, collections::BTreeMap};

use super::{macros, music::Music, reader::Reader, text};
use crate::import::{ImportError, Oddity, Score};

/// The largest number of letters that an order of parts may add to a tune.
const MAX_GROWTH: usize = 1 << 20;

/// A line with its number in the file.
pub(super) type Numbered<'t> = (u32, Cow<'t, str>);

/// Reads the lines of a tune, after the lines of the file's header. With `perform`, the parts of the tune follow the
/// order in `P:`.
pub(super) fn read(
    header: &[Numbered<'_>],
    tune: &[Numbered<'_>],
    perform: bool,
) -> Result<Score, ImportError> {
    let mut reader = Reader::default();
    for line in header {
        // Only these lines of a file's header concern its tunes; other lines are text.
        let says = line.1.starts_with("%%")
            || matches!(text::field(&line.1), Some((b'M' | b'L' | b'Q' | b'I' | b'U' | b'm' | b'C', _)));
        if says {
            read_line(&mut reader, line);
        }
    }
    let is_part = |line: &Numbered<'_>| label(&line.1).is_some();
    let body = tune.iter().position(|line| matches!(text::field(&line.1), Some((b'K', _)))).unwrap_or(0);
    let head = tune[body..].iter().position(is_part).map_or(tune.len(), |first| body + first);
    tune[..head].iter().for_each(|line| read_line(&mut reader, line));
    let order = reader.order.as_deref().map(macros::order).filter(|order| perform && !order.is_empty());
    let Some(order) = order else {
        tune[head..].iter().for_each(|line| read_line(&mut reader, line));
        return reader.finish();
    };
    let mut parts: BTreeMap<u8, &[Numbered<'_>]> = BTreeMap::new();
    for part in tune[head..].chunk_by(|_, next| !is_part(next)) {
        if let Some(letter) = part.first().and_then(|line| label(&line.1)) {
            parts.entry(letter).or_insert(part);
        }
    }
    let mut length = 0;
    for letter in order {
        let part = parts.get(&letter).copied().unwrap_or_default();
        length += part.iter().map(|line| line.1.len()).sum::<usize>();
        if length > MAX_GROWTH {
            let oddity = Oddity::UnfoldedTooLong { limit: MAX_GROWTH, unit: "letters" };
            reader.odd(oddity, 1);
            break;
        }
        if part.is_empty() {
            reader.odd(Oddity::Unreadable { what: format!("part {}", letter as char) }, 1);
        }
        part.iter().for_each(|line| read_line(&mut reader, line));
    }
    reader.finish()
}

/// Returns the letter of the part that begins at a line, if one begins there.
fn label(line: &str) -> Option<u8> {
    let value = match text::field(line) {
        Some((b'P', value)) => value,
        _ => line.strip_prefix("[P:")?,
    };
    value.trim().bytes().next().filter(u8::is_ascii_alphabetic)
}

fn read_line(reader: &mut Reader, (number, line): &Numbered<'_>) {
    reader.line = *number;
    if let Some(directive) = line.strip_prefix("%%") {
        return reader.directive(directive);
    }
    let line = text::without_comment(line);
    if reader.in_text || line.trim().is_empty() {
        return;
    }
    if let Some((letter, value)) = text::field(line) {
        return reader.field(letter, value, 1);
    }
    reader.begin_body();
    reader.begin_line();
    let expanded = reader.macros.iter().fold(Cow::Borrowed(line), |line, each| match each.expand(&line) {
        Some(expanded) => Cow::Owned(expanded),
        None => line,
    });
    Music::new(reader, &expanded).read();
}
