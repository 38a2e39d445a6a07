//! Parses bytes into a tree of XML nodes: finds the encoding, and refuses hostile files, which would take far more time
//! or memory than other files of their size.

use std::borrow::Cow;

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
use memchr::{memchr_iter, memrchr};
use roxmltree::{Document, Error, ParsingOptions};

use super::indent;
use crate::import::{ImportError, MAX_BYTES, TextPosition};

/// The largest number of nodes in a tree; a note has about twenty, because the white space between tags has none. In a
/// score a node takes ten bytes or more, so the limit is a million nodes plus one for every eight bytes.
const MAX_NODES: usize = 16_000_000;
const FREE_NODES: usize = 1_000_000;
/// The largest number of attributes in one tag. The parser compares the attributes of a tag with one another, so the
/// time grows with the square of their number.
const MAX_ATTRIBUTES: usize = 64;
/// The largest number of name spaces that a file declares. The limit is needed because each element copies the name
/// spaces of its parent.
const MAX_NAMESPACES: usize = 32;

/// The text of an XML file.
pub(crate) struct Source<'a> {
    text: Cow<'a, str>,
    /// The text without its indentation, from which the parser makes fewer nodes.
    joined: Option<String>,
    /// Whether the text is in the encoding that the file claims.
    pub(super) as_claimed: bool,
}

impl<'a> Source<'a> {
    /// Decodes the text of a file.
    pub(crate) fn decode(bytes: &'a [u8]) -> Source<'a> {
        let (text, as_claimed) = decode(bytes);
        let joined = indent::without(&text);
        Source { text, joined, as_claimed }
    }

    /// Parses the text into a tree.
    ///
    /// A DOCTYPE is skipped, never fetched. Nesting has no limit: neither the parser nor the reader recurses.
    pub(crate) fn document(&self) -> Result<Document<'_>, ImportError> {
        refuse_bombs(&self.text)?;
        let parse = |text| {
            let nodes_limit = most_nodes(&self.text) as u32;
            Document::parse_with_options(
                text,
                ParsingOptions { allow_dtd: true, nodes_limit, entity_resolver: None },
            )
        };
        if let Some(Ok(document)) = self.joined.as_deref().map(|joined| parse(joined.trim_start())) {
            return Ok(document);
        }
        // An error states a line and column of the text as it is in the file. Some programs that join files leave blank
        // lines before the declaration, where XML forbids them.
        let trimmed = self.text.trim_start();
        let lines_before = self.text[..self.text.len() - trimmed.len()].matches('\n').count();
        parse(trimmed).map_err(|error| failure(&error, trimmed, lines_before))
    }
}

/// Decodes a text; also returns whether the text is in the encoding that the file claims.
///
/// The encoding follows from the byte order mark; without a mark, from the two bytes of a UTF-16 `<`; otherwise from
/// the XML declaration. Text that wrongly claims UTF-8 is read as Windows-1252, in which every sequence of bytes is
/// valid.
fn decode(bytes: &[u8]) -> (Cow<'_, str>, bool) {
    if let Some((encoding, bom)) = Encoding::for_bom(bytes) {
        if encoding == UTF_8 {
            return decode_utf8(&bytes[bom..]);
        }
        let (text, wrong) = encoding.decode_without_bom_handling(&bytes[bom..]);
        return (text, !wrong);
    }
    let encoding = match bytes {
        [b'<', 0, ..] => UTF_16LE,
        [0, b'<', ..] => UTF_16BE,
        _ => match declared_encoding(bytes) {
            // A declaration of UTF-16 must be wrong here: text in UTF-16 would not be readable byte by byte.
            Some(encoding) if encoding != UTF_16LE && encoding != UTF_16BE => encoding,
            _ => UTF_8,
        },
    };
    if encoding == UTF_8 {
        return decode_utf8(bytes);
    }
    let (text, wrong) = encoding.decode_without_bom_handling(bytes);
    (text, !wrong)
}

fn decode_utf8(bytes: &[u8]) -> (Cow<'_, str>, bool) {
    match std::str::from_utf8(bytes) {
        Ok(text) => (Cow::Borrowed(text), true),
        Err(_) => (WINDOWS_1252.decode_without_bom_handling(bytes).0, false),
    }
}

/// Returns the encoding named in `<?xml … encoding="…"?>`.
fn declared_encoding(bytes: &[u8]) -> Option<&'static Encoding> {
    // The declaration comes first and is plain ASCII in all encodings except UTF-16.
    let start = &bytes[..bytes.len().min(256)];
    let end = start.windows(2).position(|pair| pair == b"?>")?;
    let declaration = std::str::from_utf8(&start[..end]).ok()?;
    let value = declaration.split_once("encoding")?.1.trim_start().strip_prefix('=')?.trim_start();
    let quote = value.chars().next().filter(|c| matches!(c, '"' | '\''))?;
    let label = value[1..].split(quote).next()?;
    Encoding::for_label(label.as_bytes())
}

/// Returns the kind of XML file that has this root element.
pub(super) fn kind(root: &str) -> String {
    match root {
        "html" => "a web page".into(),
        "svg" => "an SVG picture".into(),
        other => format!("XML of the kind \"{}\"", other.chars().take(40).collect::<String>()),
    }
}

/// Refuses text for which the parser would need more than linear time or space.
fn refuse_bombs(text: &str) -> Result<(), ImportError> {
    // A tag with more attributes than the limit is longer than two windows, and none of its bytes may be a `<`.
    const WINDOW: usize = 2 * MAX_ATTRIBUTES;
    let bytes = text.as_bytes();
    let mut tag = None;
    let mut checked = None;
    for (number, window) in bytes.chunks(WINDOW).enumerate() {
        match memrchr(b'<', window) {
            Some(at) => tag = Some(number * WINDOW + at),
            None if tag != checked => {
                checked = tag;
                if tag.is_some_and(|tag| attributes(&bytes[tag..]) > MAX_ATTRIBUTES) {
                    return Err(ImportError::TooLarge {
                        what: "one tag",
                        limit: MAX_ATTRIBUTES,
                        unit: "attributes",
                    });
                }
            }
            None => {}
        }
    }
    // Scores contain few colons, and counting bytes is much faster than counting words.
    let colons = memchr_iter(b':', bytes).count();
    if colons > MAX_NAMESPACES && text.matches("xmlns").count() > MAX_NAMESPACES {
        return Err(ImportError::TooLarge { what: "the score", limit: MAX_NAMESPACES, unit: "name spaces" });
    }
    if expanded_entities(text) > MAX_BYTES {
        return Err(ImportError::TooLarge {
            what: "the text with its entities written out",
            limit: MAX_BYTES,
            unit: "bytes",
        });
    }
    Ok(())
}

/// Returns the number of quoted values, and thus of attributes, in the start tag at the beginning of `tag`. Counting
/// stops just above the limit. Returns 0 if no start tag begins there.
fn attributes(tag: &[u8]) -> usize {
    if !tag.get(1).is_some_and(|byte| byte.is_ascii_alphabetic() || *byte == b'_' || *byte >= 0x80) {
        return 0;
    }
    let (mut count, mut quote) = (0, None);
    for &byte in tag {
        match quote {
            Some(open) if byte == open => quote = None,
            Some(_) => {}
            None if byte == b'"' || byte == b'\'' => {
                quote = Some(byte);
                count += 1;
            }
            None if byte == b'>' || count > MAX_ATTRIBUTES => break,
            None => {}
        }
    }
    count
}

/// Returns an upper bound of the size in bytes to which a file's own entities can expand.
///
/// The parser roxmltree allows 255 references inside one reference. The text of each entity is shorter than the
/// DOCTYPE, which ends before the last `<score-`.
fn expanded_entities(text: &str) -> usize {
    const REFERENCES: usize = 256;
    let Some(first_tag) = text.find("<score-") else { return own_entities(text, text.len(), REFERENCES) };
    if !text[..first_tag].contains("<!ENTITY") {
        return 0;
    }
    own_entities(text, text.rfind("<score-").unwrap_or(text.len()), REFERENCES)
}

fn own_entities(text: &str, doctype: usize, references: usize) -> usize {
    if !text.contains("<!ENTITY") {
        return 0;
    }
    let uses = text.bytes().filter(|&byte| byte == b'&').count();
    uses.saturating_mul(doctype).saturating_mul(references)
}

/// Returns the largest number of nodes that a text of this size may have.
fn most_nodes(text: &str) -> usize {
    MAX_NODES.min(FREE_NODES + text.len() / 8)
}

fn failure(error: &Error, text: &str, lines_before: usize) -> ImportError {
    let limit = |unit| ImportError::TooLarge { what: "the score", limit: most_nodes(text), unit };
    match error {
        Error::NodesLimitReached => return limit("XML nodes"),
        Error::AttributesLimitReached => return limit("XML attributes"),
        Error::NamespacesLimitReached => {
            return ImportError::TooLarge { what: "the score", limit: MAX_NAMESPACES, unit: "name spaces" };
        }
        Error::NoRootNode => return ImportError::NotAScore { found: "XML without any content".into() },
        _ => {}
    }
    // Web pages are rarely well-formed XML; naming them as web pages tells the user more than the place of the error.
    let start: String = text.chars().take(14).collect::<String>().to_ascii_lowercase();
    if start.starts_with("<!doctype html") || start.starts_with("<html") {
        return ImportError::NotAScore { found: kind("html") };
    }
    let place = error.pos();
    let (row, column, what) = match error {
        // These errors have no position, because they occur where the text stops.
        Error::UnclosedRootNode | Error::UnexpectedEndOfStream => {
            let row = text.matches('\n').count() + 1;
            let last_line = text.rsplit('\n').next().unwrap_or_default();
            let what = "the text stops in the middle of the score";
            (row as u32, last_line.chars().count() as u32 + 1, what.to_owned())
        }
        _ => (place.row, place.col, one_line(&error.to_string().replace(&format!(" at {place}"), ""))),
    };
    ImportError::Broken { at: Some(TextPosition::Line(row + lines_before as u32, column)), what }
}

/// Turns a message that quotes the file into one line: line ends and other control characters become escapes.
fn one_line(message: &str) -> String {
    let mut line = String::with_capacity(message.len());
    for c in message.chars() {
        if c.is_control() { line.extend(c.escape_default()) } else { line.push(c) }
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn encodings_are_told_from_mark_bytes_and_declaration() {
        let text = "<?xml version='1.0' encoding='ISO-8859-1'?><a>é</a>";
        let latin: Vec<u8> = text.chars().map(|c| c as u8).collect();
        assert_eq!(decode(&latin), (text.into(), true));
        let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        assert_eq!(decode(&little), (text.into(), true));
        let big: Vec<u8> =
            [0xFE, 0xFF].into_iter().chain(text.encode_utf16().flat_map(u16::to_be_bytes)).collect();
        assert_eq!(decode(&big), (text.into(), true));
        assert_eq!(decode(b"\xEF\xBB\xBF<a/>"), ("<a/>".into(), true));
        assert_eq!(decode(b"<a>\xE9</a>"), ("<a>é</a>".into(), false));
        // A file that was converted from UTF-16 may keep its old declaration.
        let stale = b"<?xml version=\"1.0\" encoding=\"UTF-16\"?><a/>";
        assert_eq!(decode(stale).0.as_bytes(), stale);
    }

    #[test]
    fn what_grows_faster_than_its_size_is_refused() {
        let attributes: String = (0..2000).map(|i| format!(" a{i}='>'")).collect();
        let many_names: String = (0..3000).map(|i| format!("<a xmlns:n{i}='u'>")).collect();
        let entity = format!(
            "<!DOCTYPE a [<!ENTITY e '{}'>]><score-partwise>{}</score-partwise>",
            "x".repeat(9000),
            "&e;".repeat(9000)
        );
        for bomb in [format!("<a{attributes}/>"), many_names, entity] {
            let source = Source::decode(bomb.as_bytes());
            assert!(matches!(source.document(), Err(ImportError::TooLarge { .. })), "{}", &bomb[..60]);
        }
        let long_text = format!("<a>{}</a>", "word 'word' ".repeat(1000));
        assert!(Source::decode(long_text.as_bytes()).document().is_ok());
    }

    #[test]
    fn an_error_names_line_and_column() {
        let at = |text: &str| match Source::decode(text.as_bytes()).document() {
            Err(ImportError::Broken { at, .. }) => at,
            other => panic!("{other:?}"),
        };
        assert_eq!(at("<a>\n <b></c></a>"), Some(TextPosition::Line(2, 5)));
        assert_eq!(at("<a>\n<b>"), Some(TextPosition::Line(2, 4)));
        assert_eq!(at("\n<?xml version='1.0'?><a>\n</b>"), Some(TextPosition::Line(3, 1)));
        // The error quotes the file without breaking its line.
        let error = Source::decode(b"<a b='1' /\n>").document().unwrap_err().to_string();
        assert!(!error.contains('\n') && error.contains("'\\n'"), "{error}");
    }
}
