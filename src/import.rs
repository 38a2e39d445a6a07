//! Turns a file's bytes into a [`Melody`] and reports every oddity of the file as a typed warning.
//!
//! 1. [`Book`] recognises the format from the content, never from a file's name, and finds the tunes of the file.
//! 2. [`midi`], [`musicxml`], `abc` or `typed` reads a tune into a [`Score`]: all parts, at sounding pitch, with tied
//!    notes merged.
//! 3. [`pick`] chooses one part, reduces it to one note at a time, and gives its reasons.
//! 4. [`repeats`] writes the melody out in the order of performance, if the user asks for it.
//!
//! `src/import/POLICY.md` describes how every case is handled. The import knows nothing about harps, does no I/O and
//! never panics, whatever bytes it reads.

mod abc;
mod assemble;
mod book;
mod draft;
mod entry;
mod heading;
mod jumps;
pub mod midi;
pub mod musicxml;
pub mod mxl;
pub mod pick;
pub mod repeats;
mod typed;
pub mod warning;

use std::fmt;

use crate::{
    melody::{Bar, ChordSymbol, Credits, KeySignature, Melody, Note, TempoWords, Written},
    time::TempoMap,
};
pub use book::Book;
pub use entry::{AskedPart, TuneChoice, TuneEntry};
pub use pick::{ChoiceReason, PartChoice};
pub use warning::{Oddity, Warning};

/// The largest file that is read, in bytes; a full orchestral score is far smaller.
pub const MAX_BYTES: usize = 64 << 20;
/// The largest number of notes in a file; the longest operas have a few hundred thousand.
pub const MAX_NOTES: usize = 1_000_000;

/// The largest number of characters in a title, a name, a chord symbol, a syllable or tempo words; a longer text is cut
/// there and ends in an ellipsis.
pub const MAX_SHOWN: usize = 100;

/// The longest tune, in quarters: 24 hours at 69 quarters a minute. The limit is needed because even an empty bar takes
/// memory.
pub const MAX_QUARTERS: i64 = 100_000;

/// The user's choices for the import.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct ImportOptions {
    /// The tune to read from a file of several tunes; `None` for a file's only tune.
    pub tune: Option<TuneChoice>,
    /// The part to take as the melody; `None` lets [`pick`] choose.
    pub part: Option<AskedPart>,
    /// The voice to take from the part, counted from 1 in order of appearance; `None` lets [`pick`] choose.
    pub voice: Option<usize>,
    /// Whether to write the melody out in the order of performance.
    pub unfold: bool,
}

/// The result of reading a file.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Imported {
    /// The format of the file.
    pub format: Format,
    /// The melody.
    pub melody: Melody,
    /// Every part of the file, in order.
    pub parts: Vec<PartSummary>,
    /// The part that became the melody, and the reason for the choice.
    pub choice: PartChoice,
    /// Whether the melody is written out in the order of performance.
    pub unfolded: bool,
    /// The oddities of the file, in order of place.
    pub warnings: Vec<Warning>,
}

/// A file format that can be read.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum Format {
    /// A Standard MIDI File.
    Midi,
    /// MusicXML as text.
    MusicXml,
    /// MusicXML in its zip container.
    CompressedMusicXml,
    /// ABC.
    Abc,
    /// Note names that somebody typed.
    Typed,
}

/// The whole musical content of a file, as the reader of each format returns it to [`pick`].
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Score {
    /// The title, if the file has one.
    pub title: Option<String>,
    /// The makers and rights, as the file states them.
    pub credits: Credits,
    /// The type of tune: see [`Melody::rhythm`].
    pub rhythm: Option<String>,
    /// The bars that all parts share.
    pub bars: Vec<Bar>,
    /// Whether the bars are merely counted off from the start of the file: see [`Melody::counted_bars`].
    pub counted_bars: bool,
    /// The tempo.
    pub tempo: TempoMap,
    /// The tempo words, such as "Allegro".
    pub tempo_words: Vec<TempoWords>,
    /// The parts, in the order of the file.
    pub parts: Vec<Part>,
    /// The oddities found in the file.
    pub warnings: Vec<Warning>,
}

/// One part (a `<part>` in MusicXML, a voice in ABC, or a track and channel in MIDI), whose notes may overlap.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Part {
    /// The name of the part, if the file gives one.
    pub name: Option<String>,
    /// The instrument, if the file names one and the part has no name that distinguishes it.
    pub instrument: Option<&'static str>,
    /// The notes in order of onset, grace notes before their main note; includes all notes of chords and all voices.
    pub notes: Vec<PartNote>,
    /// How the notes and rests are written, if the format says so: bar by bar, in order within each voice.
    pub written: Vec<PartWritten>,
    /// The key signatures at sounding pitch.
    pub signatures: Vec<KeySignature>,
    /// The chord symbols at sounding pitch.
    pub chords: Vec<ChordSymbol>,
    /// Whether the part is for drums or other sounds without pitch. A percussion part never becomes the melody.
    pub percussion: bool,
}

/// A note of a part, with its voice.
#[derive(Clone, PartialEq, Debug)]
pub struct PartNote {
    /// The note.
    pub note: Note,
    /// The voice, numbered in order of appearance within the part, from 0.
    pub voice: u16,
}

/// The written form of a note or rest of a part, with its voice.
#[derive(Clone, PartialEq, Debug)]
pub struct PartWritten {
    /// The index of the bar.
    pub bar: usize,
    /// The voice, numbered as in [`PartNote`].
    pub voice: u16,
    /// The written form.
    pub written: Written,
}

/// The summary of a part, for the list of parts.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct PartSummary {
    /// The name of the part, its instrument, or both: the name, with the instrument in parentheses.
    pub name: Option<String>,
    /// The number of notes, including all voices and chord notes.
    pub notes: usize,
    /// The number of voices.
    pub voices: usize,
    /// The lowest and the highest sounding pitch; `None` for a part without pitched notes.
    pub range: Option<(crate::pitch::Pitch, crate::pitch::Pitch)>,
    /// Whether the part is a percussion part.
    pub percussion: bool,
}

/// Reads a file's bytes in any of the known formats.
///
/// # Errors
///
/// Returns an [`ImportError`], which says what was found and what to do, if the file yields no melody. Lesser damage is
/// repaired and reported in [`Imported::warnings`].
pub fn import(bytes: &[u8], options: &ImportOptions) -> Result<Imported, ImportError> {
    let book = Book::open(bytes)?;
    book.read(book.choose(options.tune.as_ref())?, options)
}

/// Reads note names as a user types a melody from memory: `G A B d | e2 d2`, or `G4 A4 Bb4 C#5`.
///
/// # Errors
///
/// Returns [`ImportError::NotNotes`], with the place of the first character that is not a note and the text to type
/// instead, or one of the errors of [`import`].
pub fn import_notes(text: &str, options: &ImportOptions) -> Result<Imported, ImportError> {
    let book = Book::of_notes(text);
    book.read(book.choose(options.tune.as_ref())?, options)
}

/// Whether the bytes have a format that can be read.
pub fn is_known(bytes: &[u8]) -> bool {
    recognise(bytes).is_ok()
}

/// Cuts a text to [`MAX_SHOWN`] characters.
fn cut(text: &mut String) {
    if let Some((end, _)) = text.char_indices().nth(MAX_SHOWN)
        && let Some((last, _)) = text[..end].char_indices().next_back()
    {
        text.truncate(last);
        text.push('…');
    }
}

/// Recognises the format from the content.
fn recognise(bytes: &[u8]) -> Result<Format, ImportError> {
    let text = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let first = text.iter().copied().find(|byte| !byte.is_ascii_whitespace());
    match bytes {
        [] => Err(ImportError::Empty),
        [b'M', b'T', b'h', b'd', ..] => Ok(Format::Midi),
        [b'R', b'I', b'F', b'F', ..] if bytes.get(8..12) == Some(b"RMID") => Ok(Format::Midi),
        [b'P', b'K', 3, 4, ..] => Ok(Format::CompressedMusicXml),
        [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] | [b'<', 0, ..] | [0, b'<', ..] => Ok(Format::MusicXml),
        _ if first == Some(b'<') => Ok(Format::MusicXml),
        _ if first.is_none() => Err(ImportError::Empty),
        _ if abc::is_abc(bytes) => Ok(Format::Abc),
        _ if typed::is_notes(bytes) => Ok(Format::Typed),
        _ => Err(ImportError::Foreign { looks_like: foreign_kind(bytes) }),
    }
}

/// Returns the kind of the file, if it is one of a few kinds that people open by mistake.
fn foreign_kind(bytes: &[u8]) -> Option<&'static str> {
    const KINDS: [(&[u8], &str); 9] = [
        (b"\xFF\xD8\xFF", "a JPEG picture"),
        (b"\x89PNG", "a PNG picture"),
        (b"GIF8", "a GIF picture"),
        (b"%PDF", "a PDF"),
        (b"ID3", "an MP3 recording"),
        (b"\xFF\xFB", "an MP3 recording"),
        (b"RIFF", "a WAV recording"),
        (b"OggS", "an Ogg recording"),
        (b"fLaC", "a FLAC recording"),
    ];
    KINDS.iter().find(|(magic, _)| bytes.starts_with(magic)).map(|&(_, kind)| kind)
}

/// The reason why a file yields no melody.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum ImportError {
    /// The file has no bytes, or only white space.
    Empty,
    /// The format is not supported; `looks_like` names the likely format, if it is known.
    Foreign {
        /// A few words, such as "a JPEG picture".
        looks_like: Option<&'static str>,
    },
    /// A limit was exceeded.
    TooLarge {
        /// The object that exceeds the limit, for example "the file" or "the unpacked score".
        what: &'static str,
        /// The limit.
        limit: usize,
        /// The unit of the limit.
        unit: &'static str,
    },
    /// The file breaks off, or is too damaged to be read.
    Broken {
        /// The byte offset, or the line and column.
        at: Option<TextPosition>,
        /// What was found and what was expected.
        what: String,
    },
    /// The file is XML or a zip, but not a score.
    NotAScore {
        /// The kind of file that was found.
        found: String,
    },
    /// A character among typed notes is not a note.
    NotNotes {
        /// The line and column in the text.
        at: TextPosition,
        /// What was found, and what to type.
        what: String,
    },
    /// The score has no notes with a pitch.
    NoNotes,
    /// The file contains several tunes, and the user chose none of them, or several match the user's choice.
    SeveralTunes {
        /// The tune that the user asked for.
        asked: Option<TuneChoice>,
        /// The matching tunes, in the order of the file; at least two.
        tunes: Vec<TuneEntry>,
    },
    /// No tune of the file matches the user's choice.
    NoSuchTune {
        /// The tune that the user asked for.
        asked: TuneChoice,
        /// The number of tunes in the file.
        tunes: usize,
    },
    /// The part that the user asked for does not exist or has no notes.
    NoSuchPart {
        /// The number asked for.
        asked: usize,
        /// The number of parts.
        parts: usize,
        /// Whether the part exists but has no notes.
        empty: bool,
    },
    /// The name that the user asked for belongs to no part with notes, or to more than one.
    NoSuchName {
        /// The name asked for.
        asked: String,
        /// The parts to choose from, each with its number and its name: the matching parts, or all parts with notes if
        /// none matches.
        parts: Vec<(usize, String)>,
        /// Whether `parts` lists the matching parts.
        fit: bool,
    },
    /// The voice that the user asked for does not exist, or has no notes except grace notes.
    NoSuchVoice {
        /// The number asked for.
        asked: usize,
        /// The number of the part, counted from 1.
        part: usize,
        /// The number of voices in the part.
        voices: usize,
    },
}

/// A place in a file.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum TextPosition {
    /// A byte offset from the start of the file.
    Byte(usize),
    /// A line and a column, both counted from 1.
    Line(u32, u32),
}

impl fmt::Display for TextPosition {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TextPosition::Byte(at) => write!(f, "byte {at}"),
            TextPosition::Line(line, column) => write!(f, "line {line}, column {column}"),
        }
    }
}

/// One line for a musician: what was found, and what to do.
impl fmt::Display for ImportError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const EXPORT: &str = "export the tune as MusicXML, ABC or MIDI and try that file";
        match self {
            ImportError::Empty => write!(f, "the file is empty; {EXPORT}"),
            ImportError::Foreign { looks_like: Some(kind) } => {
                write!(f, "this is {kind}, not a score; {EXPORT}")
            }
            ImportError::Foreign { looks_like: None } => {
                write!(f, "this is neither MIDI nor MusicXML nor ABC, nor a line of notes; {EXPORT}")
            }
            ImportError::TooLarge { what, limit, unit } if unit.starts_with("quarter") => write!(
                f,
                "{what} is over the limit of {limit} {unit}; a note or rest must be far too long: correct it and try again"
            ),
            ImportError::TooLarge { what, limit, unit } => write!(
                f,
                "{what} is over the limit of {limit} {unit}; save only the tune's part and try that file"
            ),
            ImportError::Broken { at: Some(at), what } => write!(
                f,
                "the file is damaged at {at}: {what}; download it again, or save it from a notation program"
            ),
            ImportError::Broken { at: None, what } => write!(
                f,
                "the file is damaged: {what}; download it again, or save it from a notation program"
            ),
            ImportError::NotNotes { at: TextPosition::Line(1, column), what } => {
                write!(f, "column {column}: {what}")
            }
            ImportError::NotNotes { at, what } => write!(f, "{at}: {what}"),
            ImportError::NotAScore { found } => write!(f, "found {found} instead of a score; {EXPORT}"),
            ImportError::NoNotes => write!(
                f,
                "the score has no notes with a pitch; check in a notation program that the tune is in it"
            ),
            ImportError::SeveralTunes { asked: None, tunes } => {
                write!(
                    f,
                    "the file holds {} tunes; name one by its number or a part of its title",
                    tunes.len()
                )
            }
            ImportError::SeveralTunes { asked: Some(asked), tunes } => {
                write!(f, "`{asked}` matches {} tunes; name one of them by its number", tunes.len())
            }
            ImportError::NoSuchTune { asked, tunes: 1 } => {
                write!(f, "the file's only tune is not `{asked}`; leave out the choice of a tune")
            }
            ImportError::NoSuchTune { asked, tunes } => {
                write!(f, "none of the file's {tunes} tunes matches `{asked}`")
            }
            ImportError::NoSuchPart { asked, parts, empty: true } => {
                write!(f, "part {asked} of {parts} has no notes with a pitch")
            }
            ImportError::NoSuchPart { asked, parts, empty: false } => {
                write!(f, "there is no part {asked}; the file has {parts}")
            }
            ImportError::NoSuchName { asked, parts, fit } => {
                let listed = parts.iter().take(8).map(|(number, name)| format!("{number} {name}"));
                let listed = listed.collect::<Vec<_>>().join(", ");
                let more = if parts.len() > 8 { " and more" } else { "" };
                if *fit {
                    write!(
                        f,
                        "`{asked}` matches {} parts; name one by its number: {listed}{more}",
                        parts.len()
                    )
                } else {
                    write!(f, "no part is called `{asked}`; the parts are {listed}{more}")
                }
            }
            ImportError::NoSuchVoice { asked, part, voices: 1 } => {
                write!(f, "there is no voice {asked} in part {part}; it has only one")
            }
            ImportError::NoSuchVoice { asked, part, voices } => {
                write!(f, "there is no voice {asked} in part {part}; it has {voices}")
            }
        }
    }
}

impl std::error::Error for ImportError {}
