//! Oddities of a file, and what the import did about each, as data; `pages` puts them into words.

use super::TextPosition;
use crate::time::Place;

/// An oddity with its place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Warning {
    /// The oddity.
    pub oddity: Oddity,
    /// Its place in the music; `None` where it concerns the whole file.
    pub place: Option<Place>,
    /// Its place in the file, where the format is a text that musicians write themselves.
    pub text: Option<TextPosition>,
}

/// Oddities of a file that still gives a melody.
///
/// The doc line of each variant says what was done about it. Reports put the same oddity at many places into one line,
/// so a variant carries only differences of kind, not of place.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
#[non_exhaustive]
pub enum Oddity {
    /// Several notes at once: the top one was taken.
    ChordReduced,
    /// A note still sounds when the next one starts: it was cut there.
    OverlapCut,
    /// A note that is held for longer than any music: it was cut there.
    HeldTooLong {
        /// How many quarters were kept.
        quarters: i32,
    },
    /// Several voices in the part: one was taken.
    VoiceChosen {
        /// The voice taken, from 1.
        voice: u16,
        /// How many voices there are.
        of: u16,
    },
    /// The chosen voice rests through whole bars while another plays in its range: the other was taken there.
    VoiceTakesOver {
        /// The voice that takes over, from 1.
        voice: u16,
    },
    /// The chosen voice rests through a whole bar while another plays far from its range: the other was left out.
    VoiceLeftOut {
        /// The voice left out, from 1.
        voice: u16,
    },
    /// The tune rests while a lower hand in the same part plays on, as in piano music: its notes were left out.
    AccompanimentAlone,
    /// A grace note without a main note: it was left out.
    GraceWithoutNote,
    /// The file ends in the middle: what came before was kept.
    Truncated,
    /// A note was never ended: it was ended at the end of the track.
    HangingNote,
    /// A note's pitch lies outside the MIDI range: it was left out.
    PitchOutOfRange,
    /// A pitch between two semitones: it was rounded.
    Microtone,
    /// A tie without an end: the note was kept as written.
    UnfinishedTie,
    /// A bar is longer or shorter than its time signature says: it was kept as written.
    BarLength,
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
        /// The element or event, as the format names it.
        what: String,
    },
    /// A step back past the start of the bar: it stops there.
    BackupPastBar,
    /// A transposition in a score that says it is at concert pitch: only its octaves were applied.
    ConcertTranspose,
    /// The part is played in octaves, once as written and once an octave away: the line as written was taken.
    OctavesDoubled {
        /// Whether the other line is an octave above.
        above: bool,
    },
    /// Pairs of notes are to be played unevenly: they were read as written.
    Swing {
        /// How long the first of two lasts, beside `second`.
        first: u8,
        /// How long the second lasts.
        second: u8,
        /// Whether this applies to sixteenths; otherwise to eighths.
        sixteenths: bool,
    },
    /// A repeat or ending in the middle of a bar: it was moved to the bar's end, or its start.
    MidBarline,
    /// An octave clef and a transposition by the same octave, one of which was probably meant: only the transposition was
    /// followed, as the format says, so the tune may be an octave off.
    OctaveTwice,
    /// A printed sharp or flat that the note's pitch does not have: the pitch was followed, as the format says.
    AccidentalOnly,
    /// A sign for only some of the passes of a repeated passage: it was read for all of them.
    SomePasses,
    /// A repeat that begins but never ends: its sign was skipped.
    RepeatNotEnded,
    /// Endings that do not count up from 1, or do not lead back: all were played once, in their order.
    EndingsUnclear,
    /// A jump to a sign or a coda that does not exist: it was skipped.
    JumpNowhere,
    /// A "Fine" or "to coda" without a jump back to make it count: it was skipped.
    SignUnused,
    /// The tune would be too long in the order of performance: it was left as written.
    UnfoldedTooLong {
        /// The longest tune that is written out.
        limit: usize,
        /// The unit: "bars", "notes" or "quarter notes".
        unit: &'static str,
    },
    /// A key or time signature of another staff differs from the first staff's: the first staff's was taken.
    StaffDiffers,
    /// An ending bracket that neither the file nor a barline closes: it was taken to end with the tune.
    OpenEnding,
    /// The text is not in the encoding that the file claims: it was read as Western European.
    WrongEncoding,
    /// MIDI time in frames a second has no bars: it was read as 120 quarters a minute in 4/4.
    NoBars,
    /// Pitch bend is used, so the sounding pitch may differ from the note: the note was taken.
    PitchBend,
    /// A chunk is longer or shorter than it says: its content showed where it ends.
    ChunkLength,
    /// Bytes that belong to no chunk, before, between or after the tracks: they were skipped.
    StrayBytes,
    /// The header states another number of tracks than the file has: all tracks were read.
    TrackCount {
        /// What the header says.
        stated: u16,
        /// How many there are.
        found: u16,
    },
    /// An event lacks its status byte after a meta event: the last status was used.
    StatusMissing,
    /// Played freely, off the beat: the notes were moved to the nearest likely place in the bar.
    OffGrid {
        /// The mean distance moved, in milliseconds.
        mean_ms: u32,
    },
    /// Notes stop a little before their written end, as in playing: they were given their full length.
    CutShort,
    /// Chords of notes without length, used as silent chord symbols: they were left out.
    SilentChords,
    /// Words at a place where no note starts: they were left out.
    WordsWithoutNote,
    /// Typed notes that do not say their octaves: each was taken to be the one nearest to the note before.
    OctavesAssumed,
}
