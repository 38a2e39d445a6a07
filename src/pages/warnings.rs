//! Words the oddities of a file: one line a kind, with the places.

use std::collections::BTreeMap;

use super::words;
use crate::import::{Oddity, Warning};

/// Returns a line for each kind of oddity, by kind.
pub(crate) fn lines(warnings: &[Warning]) -> Vec<String> {
    let mut by_kind: BTreeMap<&Oddity, Vec<&Warning>> = BTreeMap::new();
    for warning in warnings {
        by_kind.entry(&warning.oddity).or_default().push(warning);
    }
    by_kind.into_iter().map(|(oddity, warnings)| format!("{}{}", what(oddity), places(&warnings))).collect()
}

/// Returns the places of one kind of oddity, in brackets: in the text of a file that has lines, else in bars.
fn places(warnings: &[&Warning]) -> String {
    if let Some(first) = warnings.iter().filter_map(|warning| warning.text).min() {
        return match warnings.len() {
            1 => format!(" ({first})"),
            times => format!(" ({times} times, first in {first})"),
        };
    }
    let mut bars: Vec<u32> =
        warnings.iter().filter_map(|warning| warning.place).map(|place| place.bar).collect();
    let times = bars.len();
    bars.sort_unstable();
    bars.dedup();
    match bars.as_slice() {
        [] => String::new(),
        bars if times > bars.len() => format!(" ({times} times, {})", words::bar_numbers(bars)),
        bars => format!(" ({})", words::bar_numbers(bars)),
    }
}

const OCTAVES_ASSUMED: &str = "the notes have no octaves: each is the one nearest to the note before; write d for the \
                               octave above D, or D4 and D5";

const OCTAVE_TWICE: &str = "the clef and the transposition both move the part by an octave: the transposition alone \
                            counts; try another octave if the tune lies wrong";

fn what(oddity: &Oddity) -> String {
    match oddity {
        Oddity::ChordReduced => "several notes at once: the top one is taken".to_owned(),
        Oddity::OverlapCut => "a note still sounds when the next begins: it is cut there".to_owned(),
        Oddity::HeldTooLong { quarters } => {
            format!("a note is held for more than {quarters} quarters: it is cut there")
        }
        Oddity::VoiceChosen { voice, of } => {
            format!("the part has {of} voices: voice {voice} is taken (--voice takes another)")
        }
        Oddity::VoiceTakesOver { voice } => {
            format!("the chosen voice rests while voice {voice} sings: voice {voice} is taken there")
        }
        Oddity::AccompanimentAlone => {
            "the accompaniment plays alone while the tune rests: it is left out".to_owned()
        }
        Oddity::VoiceLeftOut { voice } => {
            format!("while the tune rests, voice {voice} fills in far above or below it: that is left out")
        }
        Oddity::GraceWithoutNote => "a grace note that leads to no note: it is left out".to_owned(),
        Oddity::Truncated => "the file breaks off: what came before is kept".to_owned(),
        Oddity::HangingNote => "a note has no end: it ends with its track".to_owned(),
        Oddity::PitchOutOfRange => "a pitch beyond the MIDI range: the note is left out".to_owned(),
        Oddity::Microtone => "a pitch between two semitones: it is rounded".to_owned(),
        Oddity::UnfinishedTie => "a tie that leads nowhere: the note is kept as written".to_owned(),
        Oddity::BarLength => {
            "the bar does not add up to its time signature: it is kept as written".to_owned()
        }
        Oddity::BarCut => "a new time signature in the middle of the bar: the bar ends there".to_owned(),
        Oddity::Unpitched => "notes without a pitch: they are left out".to_owned(),
        Oddity::CueNote => "a cue note: it is left out".to_owned(),
        Oddity::BadKeySignature => "a key signature that makes no sense: it is ignored".to_owned(),
        Oddity::Unreadable { what } => format!("`{what}` could not be read: it is ignored"),
        Oddity::BackupPastBar => "a step back past the start of the bar: it stops there".to_owned(),
        Oddity::ConcertTranspose => {
            "a transposition in a score at concert pitch: only its octaves count".to_owned()
        }
        Oddity::OctaveTwice => OCTAVE_TWICE.to_owned(),
        Oddity::OctavesDoubled { above } => format!(
            "the part is doubled an octave {}: the line is taken as it is written",
            if *above { "higher" } else { "lower" }
        ),
        Oddity::Swing { first, second, sixteenths } => format!(
            "{} swing, {first} to {second}: they are taken as written",
            if *sixteenths { "sixteenths" } else { "eighths" }
        ),
        Oddity::AccidentalOnly => {
            "an accidental is drawn that the pitch does not have: the pitch is taken as it is".to_owned()
        }
        Oddity::RestTooLong => "a rest is longer than its bar has room for: it is cut there".to_owned(),
        Oddity::SomePasses => "a mark for only some passes of a repeat is applied to all of them".to_owned(),
        Oddity::RepeatNotEnded => "a repeat that never ends: its sign is passed over".to_owned(),
        Oddity::EndingsUnclear => {
            "endings that do not count up or lead back: each is played once, in its order".to_owned()
        }
        Oddity::JumpNowhere => "a jump to a sign or coda that is not there: it is ignored".to_owned(),
        Oddity::SignUnused => {
            "a \"Fine\" or \"to coda\" without a jump back before it: it is ignored".to_owned()
        }
        Oddity::UnfoldedTooLong { limit, unit } => {
            format!("with its repeats the tune is over the limit of {limit} {unit}: it is left as written")
        }
        Oddity::StaffDiffers => {
            "another staff has another key or time signature: that of the first staff is taken".to_owned()
        }
        Oddity::MidBarline => {
            "a repeat or ending in the middle of a bar: it is moved to the barline".to_owned()
        }
        Oddity::OpenEnding => "an ending that is never closed: it is taken to last to the end".to_owned(),
        Oddity::WrongEncoding => {
            "the text is not in the encoding that the file claims: it is read as Western European".to_owned()
        }
        Oddity::NoBars => {
            "the file counts frames, not beats: bars are guessed at 120 quarters a minute".to_owned()
        }
        Oddity::PitchBend => "pitch bends in the file may sound other pitches than its notes say".to_owned(),
        Oddity::ChunkLength => {
            "a track is not as long as it says: its end is found by what stands in it".to_owned()
        }
        Oddity::StrayBytes => "bytes that belong to no track: they are ignored".to_owned(),
        Oddity::TrackCount { stated, found } => {
            format!("the file says that it has {stated} tracks and has {found}: all of them are read")
        }
        Oddity::StatusMissing => {
            "an event lacks its kind: it is taken to be of the kind before it".to_owned()
        }
        Oddity::OffGrid { mean_ms } => format!(
            "played freely: notes are moved to the nearest likely place in the bar, by {mean_ms} ms on average"
        ),
        Oddity::CutShort => "notes stop a little before their written end: they are made whole".to_owned(),
        Oddity::SilentChords => "chords that take no time, as of chord symbols: they are left out".to_owned(),
        Oddity::OctavesAssumed => OCTAVES_ASSUMED.to_owned(),

        Oddity::WordsWithoutNote => "words where no note starts: they are left out".to_owned(),
    }
}
