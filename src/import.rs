//! Turns a file's bytes into a [`Melody`]; reports everything odd about the file as typed warnings.
//!
//! 1. [`Book`] recognises the format from the content, never from a file's name, and finds the tunes of the file;
//! 2. [`midi`], [`musicxml`] or `abc` reads a tune into a [`Score`]: all parts, at sounding pitch, with tied notes merged;
//! 3. [`pick`] chooses one part and reduces it to one note at a time, and says why;
//! 4. [`repeats`] writes the melody out in the order of performance, if the user wants that.
//!
//! `src/import/POLICY.md` describes how every case is handled. Import knows nothing of harps. It does no I/O and never
//! panics, whatever the bytes.

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

/// The largest file that is read; a full orchestral score is far smaller.
pub const MAX_BYTES: usize = 64 << 20;
/// The most notes that are kept; the longest operas have some hundred thousand.
pub const MAX_NOTES: usize = 1_000_000;

/// The most characters of a title, a name, a chord symbol or a syllable; longer ones end in an ellipsis there.
pub const MAX_SHOWN: usize = 100;

/// The longest tune in quarters: a day and a night at a walking tempo. Every bar takes memory, even an empty one.
pub const MAX_QUARTERS: i64 = 100_000;

/// The user's choices for the import.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct ImportOptions {
    /// Which tune of a file of several; `None` for the only one.
    pub tune: Option<TuneChoice>,
    /// The part that holds the melody; `None` lets the program pick.
    pub part: Option<AskedPart>,
    /// The voice of the part, counted from 1 in order of appearance; `None` lets the program pick.
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
    /// Which part became the melody, and why.
    pub choice: PartChoice,
    /// Whether the melody is written out in the order of performance.
    pub unfolded: bool,
    /// Oddities of the file, in order of place.
    pub warnings: Vec<Warning>,
}

/// A format that can be read.
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

/// A file's whole content as music: what the format readers return and [`pick`] takes.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Score {
    /// The title, where the file has one.
    pub title: Option<String>,
    /// Makers and rights, as in the file.
    pub credits: Credits,
    /// The bars that all parts share.
    pub bars: Vec<Bar>,
    /// Whether the bars are only counted off from the start: see [`Melody::counted_bars`].
    pub counted_bars: bool,
    /// The tempo.
    pub tempo: TempoMap,
    /// The words of tempo.
    pub tempo_words: Vec<TempoWords>,
    /// The parts, in order of the file.
    pub parts: Vec<Part>,
    /// Oddities found.
    pub warnings: Vec<Warning>,
}

/// One part (a staff, a player, a MIDI track and channel): notes may overlap.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Part {
    /// Its name, where the file has one.
    pub name: Option<String>,
    /// Its instrument, where the file names one and the part has no name that tells it apart.
    pub instrument: Option<&'static str>,
    /// Its notes in order of onset, grace notes before their main note; includes all notes of chords and all voices.
    pub notes: Vec<PartNote>,
    /// How its notes and rests are written, where the format says so: bar by bar, in order within each voice.
    pub written: Vec<PartWritten>,
    /// Its key signatures at sounding pitch.
    pub signatures: Vec<KeySignature>,
    /// Its chord symbols at sounding pitch.
    pub chords: Vec<ChordSymbol>,
    /// Drums and other sounds without pitch: never the melody.
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

/// How a note or rest of a part is written, with its voice.
#[derive(Clone, PartialEq, Debug)]
pub struct PartWritten {
    /// Index of its bar.
    pub bar: usize,
    /// The voice, numbered as in [`PartNote`].
    pub voice: u16,
    /// How it is written.
    pub written: Written,
}

/// A part's summary, for the list of parts.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct PartSummary {
    /// Its name, or its instrument if the file has no name for it.
    pub name: Option<String>,
    /// How many notes it has, including all voices and chord notes.
    pub notes: usize,
    /// How many voices it has.
    pub voices: usize,
    /// Lowest and highest sounding pitch; `None` for a part without pitched notes.
    pub range: Option<(crate::pitch::Pitch, crate::pitch::Pitch)>,
    /// Whether it is a percussion part.
    pub percussion: bool,
}

/// Reads a file's bytes in any of the known formats.
///
/// # Errors
///
/// An [`ImportError`] says what was found and what to do, when the file yields no melody. Lesser damage is mended and
/// reported in [`Imported::warnings`].
pub fn import(bytes: &[u8], options: &ImportOptions) -> Result<Imported, ImportError> {
    let book = Book::open(bytes)?;
    book.read(book.choose(options.tune.as_ref())?, options)
}

/// Reads note names, as somebody types them who has the melody only in the head: `G A B d | e2 d2`, or `G4 A4 Bb4 C#5`.
///
/// # Errors
///
/// [`ImportError::NotNotes`] with the place of the first sign that is no note, and what to type; otherwise as [`import`].
pub fn import_notes(text: &str, options: &ImportOptions) -> Result<Imported, ImportError> {
    let book = Book::of_notes(text);
    book.read(book.choose(options.tune.as_ref())?, options)
}

/// Whether the bytes are of a format that can be read.
pub fn is_known(bytes: &[u8]) -> bool {
    recognise(bytes).is_ok()
}

/// Cuts a text that is longer than any that is shown.
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

/// Names a few kinds of file that people open by mistake.
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

/// Why a file yields no melody.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum ImportError {
    /// No bytes, or nothing but white space.
    Empty,
    /// Not a supported format; says what it looks like, if that is known.
    Foreign {
        /// A few words, such as "a JPEG picture".
        looks_like: Option<&'static str>,
    },
    /// A limit was exceeded.
    TooLarge {
        /// What is too large: "the file", "the unpacked score".
        what: &'static str,
        /// The limit.
        limit: usize,
        /// Its unit.
        unit: &'static str,
    },
    /// The file breaks off or is so damaged that nothing can be read.
    Broken {
        /// Byte offset, or line and column.
        at: Option<TextPosition>,
        /// What was found and what was expected.
        what: String,
    },
    /// The file is XML or a zip, but not a score.
    NotAScore {
        /// What the file is instead.
        found: String,
    },
    /// A sign among typed notes is no note.
    NotNotes {
        /// Line and column of the text.
        at: TextPosition,
        /// What was found, and what to type.
        what: String,
    },
    /// The score has no notes with a pitch.
    NoNotes,
    /// The file holds several tunes, and none was asked for, or several fit.
    SeveralTunes {
        /// What was asked for.
        asked: Option<TuneChoice>,
        /// The tunes that fit, in order of the file; at least two.
        tunes: Vec<TuneEntry>,
    },
    /// No tune of the file is the one that was asked for.
    NoSuchTune {
        /// What was asked for.
        asked: TuneChoice,
        /// How many tunes the file has.
        tunes: usize,
    },
    /// The part that was asked for does not exist or has no notes.
    NoSuchPart {
        /// The number asked for.
        asked: usize,
        /// How many parts there are.
        parts: usize,
        /// Whether the part exists but is empty.
        empty: bool,
    },
    /// No part with notes, or more than one, has the name that was asked for.
    NoSuchName {
        /// The name asked for.
        asked: String,
        /// The parts to choose from, each by its number and its name: those that fit, or all with notes where none fits.
        parts: Vec<(usize, String)>,
        /// Whether these fit.
        fit: bool,
    },
    /// The voice that was asked for does not exist, or has no notes of its own.
    NoSuchVoice {
        /// The number asked for.
        asked: usize,
        /// The part.
        part: usize,
        /// How many voices the part has.
        voices: usize,
    },
}

/// A place in a broken file.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum TextPosition {
    /// Bytes from the start.
    Byte(usize),
    /// Line and column, from 1.
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

/// One line for a musician: what was found and what to do.
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
                "the file is damaged at {at}: {what}; get it again or open it in a notation program and save it anew"
            ),
            ImportError::Broken { at: None, what } => write!(
                f,
                "the file is damaged: {what}; get it again or open it in a notation program and save it anew"
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
                write!(f, "`{asked}` fits {} tunes; name one of them by its number", tunes.len())
            }
            ImportError::NoSuchTune { asked, tunes: 1 } => {
                write!(f, "the file's only tune is not `{asked}`; leave out the choice of a tune")
            }
            ImportError::NoSuchTune { asked, tunes } => {
                write!(f, "none of the {tunes} tunes of the file is `{asked}`")
            }
            ImportError::NoSuchPart { asked, parts, empty: true } => {
                write!(f, "part {asked} of {parts} has no notes with a pitch")
            }
            ImportError::NoSuchPart { asked, parts, empty: false } => {
                write!(f, "there is no part {asked}, the file has {parts}")
            }
            ImportError::NoSuchName { asked, parts, fit } => {
                let listed = parts.iter().take(8).map(|(number, name)| format!("{number} {name}"));
                let listed = listed.collect::<Vec<_>>().join(", ");
                let more = if parts.len() > 8 { " and more" } else { "" };
                if *fit {
                    write!(f, "`{asked}` fits {} parts; name one by its number: {listed}{more}", parts.len())
                } else {
                    write!(f, "no part is called `{asked}`; the parts are {listed}{more}")
                }
            }
            ImportError::NoSuchVoice { asked, part, voices: 1 } => {
                write!(f, "there is no voice {asked} in part {part}, it has only one")
            }
            ImportError::NoSuchVoice { asked, part, voices } => {
                write!(f, "there is no voice {asked} in part {part}, it has {voices}")
            }
        }
    }
}

impl std::error::Error for ImportError {}
