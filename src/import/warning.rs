//! The oddities of a file, and what the import did about each, as data; `pages` puts them into words.

use super::TextPosition;
use crate::time::Place;

/// An oddity and its place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Warning {
    /// The oddity.
    pub oddity: Oddity,
    /// The oddity's place in the music; `None` if it concerns the whole file.
    pub place: Option<Place>,
    /// The oddity's place in the file, if the format is a text that musicians write by hand.
    pub text: Option<TextPosition>,
}

/// The oddities of a file that still gives a melody.
///
/// The doc comment of each variant says what was done about the oddity. Reports combine the same oddity at many places
/// into one line, so the fields of a variant never contain a place.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
#[non_exhaustive]
pub enum Oddity {
    /// Several notes at once: the top one was taken.
    ChordReduced,
    /// A note still sounds when the next one starts: it was cut there.
    OverlapCut,
    /// A note is held for longer than in any music: it was cut to the limit.
    HeldTooLong {
        /// The number of quarters that were kept.
        quarters: i32,
    },
    /// Several voices in the part: one was taken.
    VoiceChosen {
        /// The voice taken, counted from 1.
        voice: u16,
        /// The number of voices in the part.
        of: u16,
    },
    /// The chosen voice rests through whole bars while another voice plays in its range: the other voice was taken
    /// there.
    VoiceTakesOver {
        /// The voice that takes over, counted from 1.
        voice: u16,
    },
    /// The chosen voice rests through a whole bar while another voice plays far from its range: the other voice was
    /// left out.
    VoiceLeftOut {
        /// The voice left out, counted from 1.
        voice: u16,
    },
    /// The tune rests while a left hand in the same part plays on, as in piano music: the notes of the left hand were
    /// left out.
    AccompanimentAlone,
    /// A grace note without a main note: it was left out.
    GraceWithoutNote,
    /// The file ends in the middle of the music: the music before the break was kept.
    Truncated,
    /// A note never ends: it was ended at the end of the track.
    HangingNote,
    /// A note's pitch lies outside the MIDI range: it was left out.
    PitchOutOfRange,
    /// A pitch between two semitones: it was rounded.
    Microtone,
    /// A tie without an end: the note was kept as written.
    UnfinishedTie,
    /// A bar is longer or shorter than its time signature says: it was kept as written.
    BarLength {
        /// Whether the bar is longer.
        longer: bool,
    },
    /// A new time signature in the middle of a bar, in MIDI: the bar ends there, and the next begins.
    BarCut,
    /// Rests extend past the end of a bar that other parts fill correctly: the bar was kept to its time signature.
    RestTooLong,
    /// Notes without a pitch (percussion): they were left out.
    Unpitched,
    /// A cue note: it was left out.
    CueNote,
    /// A key signature that makes no sense: it was ignored.
    BadKeySignature,
    /// A value that cannot be read: its element was skipped.
    Unreadable {
        /// The unreadable part of the file in musicians' words, or its text in backticks.
        what: String,
    },
    /// A step back past the start of the bar: it was stopped there.
    BackupPastBar,
    /// A transposition in a score marked as being at concert pitch: only its octaves were applied.
    ConcertTranspose,
    /// The part is doubled in octaves, once as written and once an octave away: the written line was taken.
    OctavesDoubled {
        /// Whether the other line is an octave above.
        above: bool,
    },
    /// Pairs of notes are to be played unevenly: they were read as written.
    Swing {
        /// The length of the first note of each pair, relative to `second`.
        first: u8,
        /// The length of the second note of each pair.
        second: u8,
        /// Whether the pairs are sixteenths; otherwise they are eighths.
        sixteenths: bool,
    },
    /// A repeat or ending in the middle of a bar: it was moved to the start or the end of the bar.
    MidBarline,
    /// An octave clef and a transposition by the same octave, although the writer probably meant only one. Only the
    /// transposition was applied, as the format says, so the tune may be an octave off.
    OctaveTwice,
    /// A printed sharp or flat that the note's pitch does not have: the pitch was used, as the format says.
    AccidentalOnly,
    /// A sign that applies only to some passes of a repeated passage: it was applied to all passes.
    SomePasses,
    /// A repeat that begins but never ends: its sign was skipped.
    RepeatNotEnded,
    /// Endings that do not count up from 1, or do not lead back: all were played once, in their order.
    EndingsUnclear,
    /// A jump to a sign or a coda that does not exist: it was skipped.
    JumpNowhere,
    /// A "Fine" or "to coda" in a tune without a jump back, and thus without effect: it was skipped.
    SignUnused,
    /// The tune would exceed a limit in the order of performance: it was left as written.
    UnfoldedTooLong {
        /// The greatest length that is written out.
        limit: usize,
        /// The unit of the limit: "bars", "notes", "quarter notes" or "letters".
        unit: &'static str,
    },
    /// A key or time signature of another staff differs from the first staff's: it was ignored.
    StaffDiffers,
    /// An ending bracket that neither the file nor a barline closes: it was taken to end with the tune.
    OpenEnding,
    /// The text is not in the encoding that the file claims: it was read as Western European.
    WrongEncoding,
    /// MIDI time in frames per second has no bars: it was read as 120 quarters per minute in 4/4.
    NoBars,
    /// A pitch bend, with which the sounding pitch may differ from the note: the note was taken as written.
    PitchBend,
    /// A chunk is longer or shorter than its stated length: its content showed where it ends.
    ChunkLength,
    /// Bytes that belong to no chunk, before, between or after the tracks: they were skipped.
    StrayBytes,
    /// The header states a wrong number of tracks: all tracks of the file were read.
    TrackCount {
        /// The number in the header.
        stated: u16,
        /// The number of tracks found.
        found: u16,
    },
    /// An event lacks its status byte after a meta event: the last status was used.
    StatusMissing,
    /// The notes were played freely, off the beat: they were moved to the nearest likely positions in the bar.
    OffGrid {
        /// The mean distance of the moves, in milliseconds.
        mean_ms: u32,
    },
    /// Notes stop a little before their written end, as in playing: they were given their full length.
    CutShort,
    /// Chords of notes without length, used as silent chord symbols: they were left out.
    SilentChords,
    /// Words at a place where no note starts: they were left out.
    WordsWithoutNote,
    /// Typed notes without octaves: each note was taken to be the one nearest to the note before.
    OctavesAssumed,
}
