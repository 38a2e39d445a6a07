//! The text of a file: encodings, lines, fields, comments, and letters written as escapes (ABC 2.1, §8.2).

use std::borrow::Cow;

/// The accents: for each, the sign after the backslash, the name in an HTML entity, then pairs of a plain and an
/// accented letter (ABC 2.1, §8.2).
const ACCENTS: [(&str, &str, &str); 11] = [
    ("`", "grave", "AÀEÈIÌOÒUÙaàeèiìoòuù"),
    ("'", "acute", "AÁEÉIÍOÓUÚYÝaáeéiíoóuúyý"),
    ("^", "circ", "AÂEÊIÎOÔUÛYŶaâeêiîoôuûyŷ"),
    ("\"", "uml", "AÄEËIÏOÖUÜYŸaäeëiïoöuüyÿ"),
    ("~", "tilde", "AÃNÑOÕaãnñoõ"),
    ("c", "cedil", "CÇSŞcçsş"),
    ("o", "ring", "AÅaå"),
    ("/", "slash", "OØoø"),
    ("v", "caron", "CČSŠZŽcčsšzžeěEĚrřRŘ"),
    ("u", "breve", "AĂEĔaăeĕ"),
    ("=", "macr", "DĐdđ"),
];

/// Ligatures (ABC 2.1, §8.2), and entities with names of their own.
const LIGATURES: [(&str, &str); 6] =
    [("\\AE", "Æ"), ("\\ae", "æ"), ("\\OE", "Œ"), ("\\oe", "œ"), ("\\ss", "ß"), ("\\TH", "Þ")];
const ENTITIES: [(&str, char); 14] = [
    ("amp", '&'),
    ("lt", '<'),
    ("gt", '>'),
    ("quot", '"'),
    ("nbsp", ' '),
    ("copy", '©'),
    ("flat", '♭'),
    ("sharp", '♯'),
    ("natural", '♮'),
    ("AElig", 'Æ'),
    ("aelig", 'æ'),
    ("szlig", 'ß'),
    ("aring", 'å'),
    ("Aring", 'Å'),
];

/// Decodes a file by its byte order mark; otherwise as UTF-8 if the bytes are valid UTF-8; otherwise in the encoding
/// that the file names; otherwise as Western European, the encoding of many old files.
pub(super) fn decode(bytes: &[u8]) -> Cow<'_, str> {
    if let Some((encoding, mark)) = encoding_rs::Encoding::for_bom(bytes) {
        return encoding.decode_without_bom_handling(&bytes[mark..]).0;
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Cow::Borrowed(text);
    }
    const CLAIM: &[u8] = b"abc-charset";
    let label = bytes.windows(CLAIM.len()).position(|window| window == CLAIM).map(|at| {
        let rest = bytes[at + CLAIM.len()..].trim_ascii_start();
        rest.split(u8::is_ascii_whitespace).next().unwrap_or_default()
    });
    let claimed = label.and_then(encoding_rs::Encoding::for_label);
    // A file may claim UTF-8 wrongly.
    let encoding = claimed.filter(|claimed| *claimed != encoding_rs::UTF_8);
    encoding.unwrap_or(encoding_rs::WINDOWS_1252).decode_without_bom_handling(bytes).0
}

/// A line without its line end, with its start and the start of the next line in the text.
#[derive(Clone, Copy)]
pub(super) struct Line<'a> {
    pub(super) start: usize,
    pub(super) text: &'a str,
    pub(super) end: usize,
}

/// Returns the lines of a text, which end with CR, LF or both (ABC 2.1, §8).
pub(super) fn lines(text: &str) -> impl Iterator<Item = Line<'_>> {
    let mut start = 0;
    std::iter::from_fn(move || {
        let rest = text.get(start..).filter(|rest| !rest.is_empty())?;
        let length = rest.bytes().position(|byte| byte == b'\n' || byte == b'\r').unwrap_or(rest.len());
        let stop = match &rest.as_bytes()[length..] {
            [b'\r', b'\n', ..] => 2,
            [] => 0,
            _ => 1,
        };
        let line = Line { start, text: &rest[..length], end: start + length + stop };
        start = line.end;
        Some(line)
    })
}

/// Splits a field such as `T:Title` into its letter and its value; `None` for a line of music or text.
pub(in crate::import) fn field(line: &str) -> Option<(u8, &str)> {
    let &[letter, b':', ref rest @ ..] = line.as_bytes() else { return None };
    // `d:|` is music.
    let is_music = letter.is_ascii()
        && "ABCDEFGabcdefgz".contains(letter as char)
        && matches!(rest.first(), Some(b'|' | b':'));
    let is_field = (letter.is_ascii_alphabetic() || letter == b'+') && !is_music;
    is_field.then(|| (letter, &line[2..]))
}

/// Cuts off a comment (ABC 2.1, §2.2.5); `\%` is a per cent sign.
pub(super) fn without_comment(line: &str) -> &str {
    let ends = |&(at, _): &(usize, &str)| at == 0 || line.as_bytes()[at - 1] != b'\\';
    line.match_indices('%').find(ends).map_or(line, |(at, _)| &line[..at])
}

/// Reads one escape at the beginning of a text; returns its letter and its length.
pub(super) fn escape(text: &str) -> Option<(char, usize)> {
    if let Some(rest) = text.strip_prefix('\\') {
        if let Some(hex) = rest.strip_prefix('u').and_then(|hex| hex.get(..4))
            && let Some(letter) = u32::from_str_radix(hex, 16).ok().and_then(char::from_u32)
        {
            return Some((letter, 6));
        }
        if let Some((written, letter)) = LIGATURES.iter().find(|(written, _)| text.starts_with(written)) {
            return Some((letter.chars().next()?, written.len()));
        }
        if let Some(letter) = rest.chars().next().filter(|c| matches!(c, '\\' | '%' | '&')) {
            return Some((letter, 2));
        }
        let (sign, after) = rest.split_at_checked(1)?;
        let plain = after.chars().next()?;
        return Some((accented(plain, |accent| accent.0 == sign)?, 3));
    }
    let name = text.strip_prefix('&')?.split(';').next().filter(|name| name.len() < 10)?;
    let length = name.len() + 2;
    if text.len() < length {
        return None;
    }
    if let Some(number) = name.strip_prefix('#') {
        return Some((char::from_u32(number.parse().ok()?)?, length));
    }
    if let Some(&(_, letter)) = ENTITIES.iter().find(|(known, _)| *known == name) {
        return Some((letter, length));
    }
    let plain = name.chars().next()?;
    Some((accented(plain, |accent| &name[plain.len_utf8()..] == accent.1)?, length))
}

fn accented(plain: char, is_it: impl Fn(&(&str, &str, &str)) -> bool) -> Option<char> {
    let (.., letters) = ACCENTS.iter().find(|accent| is_it(accent))?;
    pairs(letters).find(|pair| pair.0 == plain).map(|pair| pair.1)
}

fn pairs(letters: &str) -> impl Iterator<Item = (char, char)> {
    letters.chars().zip(letters.chars().skip(1)).step_by(2)
}

/// Returns a text with each escape replaced by its letter.
pub(super) fn plain(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(next) = rest.chars().next() {
        let (letter, length) = Some(next)
            .filter(|c| matches!(c, '\\' | '&'))
            .and_then(|_| escape(rest))
            .unwrap_or((next, next.len_utf8()));
        plain.push(letter);
        rest = &rest[length..];
    }
    plain
}

/// Returns a text prepared for comparison: in lower case, without accents.
pub(in crate::import) fn folded(text: &str) -> String {
    let bare = |letter: char| {
        if letter.is_ascii() {
            return letter;
        }
        let all = || ACCENTS.iter().flat_map(|accent| pairs(accent.2));
        all().find(|pair| pair.1 == letter).map_or(letter, |pair| pair.0)
    };
    text.chars().map(bare).flat_map(char::to_lowercase).collect()
}
