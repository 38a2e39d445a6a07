//! Texts in MIDI files: their encoding, and whether a track's name is the title of the tune.

use encoding_rs::SHIFT_JIS;

use super::super::{heading, pick::names_a_role};

/// The number of bytes at which a text is cut; no title or syllable is that long.
const LONGEST_TEXT: usize = 1_000;

/// The text encoding that a file states with a tag (MIDI Manufacturers Association, RP-026).
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) enum Encoding {
    /// No stated encoding, or `{@LATIN}`.
    #[default]
    Latin,
    /// `{@JP}`.
    Japanese,
}

/// Returns a text without its tag and control characters; line ends are kept.
///
/// UTF-8 is recognised by its bytes. Other text has the encoding of the tag, or Latin-1 if there is no tag. The tag
/// also applies to later texts, so it changes `encoding`.
pub(super) fn decode(bytes: &[u8], encoding: &mut Encoding) -> String {
    let mut bytes = &bytes[..bytes.len().min(LONGEST_TEXT)];
    for (tag, stated) in [
        (&b"{@LATIN}"[..], Encoding::Latin),
        (b"{@LATIN-1}", Encoding::Latin),
        (b"{@JP}", Encoding::Japanese),
    ] {
        if let Some(rest) = bytes.strip_prefix(tag) {
            (bytes, *encoding) = (rest, stated);
        }
    }
    let text = std::str::from_utf8(bytes).map(str::to_owned).ok();
    let text = text.or_else(|| {
        let japanese = SHIFT_JIS.decode_without_bom_handling_and_without_replacement(bytes);
        japanese.filter(|_| *encoding == Encoding::Japanese).map(String::from)
    });
    let text = text.unwrap_or_else(|| bytes.iter().copied().map(char::from).collect());
    text.chars().filter(|c| !c.is_control() || matches!(c, '\r' | '\n')).collect()
}

/// Returns a name as one line, or `None` if no text remains.
pub(super) fn name(bytes: &[u8]) -> Option<String> {
    let line = heading::one_line(&decode(bytes, &mut Encoding::default()));
    (!line.is_empty()).then_some(line)
}

/// Whether the name of the first track can be the title: it must not be a role ("Melody"), an instrument or a
/// placeholder.
pub(super) fn can_be_title(name: &str) -> bool {
    /// Instruments and placeholders, in lower case (common practice, no source).
    const NO_TITLES: [&str; 54] = [
        "accordion",
        "acoustic",
        "banjo",
        "bass",
        "bassoon",
        "brass",
        "cello",
        "channel",
        "clarinet",
        "conductor",
        "default",
        "drums",
        "electric",
        "ensemble",
        "fiddle",
        "flute",
        "grand",
        "guitar",
        "harmonica",
        "harp",
        "hi",
        "horn",
        "inst",
        "instrument",
        "keyboard",
        "lo",
        "main",
        "mandolin",
        "master",
        "midi",
        "new",
        "oboe",
        "organ",
        "part",
        "percussion",
        "piano",
        "pipe",
        "recorder",
        "reed",
        "sax",
        "saxophone",
        "sequence",
        "staff",
        "strings",
        "synth",
        "track",
        "trombone",
        "trumpet",
        "tuba",
        "unnamed",
        "untitled",
        "viola",
        "violin",
        "voices",
    ];
    /// The largest number of words in the name of a role or an instrument. A longer name is a title, even if it names
    /// an instrument.
    const LONGEST_ROLE: usize = 3;
    let lower = name.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty()).collect();
    words.len() > LONGEST_ROLE
        || (!heading::is_stopgap(name)
            && !names_a_role(name)
            && words.iter().any(|word| !NO_TITLES.contains(word) && word.chars().count() > 1))
}
