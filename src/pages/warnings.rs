//! Writes the text about the oddities of a file: one line for each kind, with its places.

use std::collections::BTreeMap;

use super::words;
use crate::import::{Oddity, Warning};

/// Returns a line for each kind of oddity.
pub(crate) fn lines(warnings: &[Warning]) -> Vec<String> {
    let mut by_kind: BTreeMap<&Oddity, Vec<&Warning>> = BTreeMap::new();
    for warning in warnings {
        by_kind.entry(&warning.oddity).or_default().push(warning);
    }
    by_kind.into_iter().map(|(oddity, warnings)| format!("{}{}", what(oddity), places(&warnings))).collect()
}

/// Returns the places of one kind of oddity, in brackets: lines if the file is text, bars if not.
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
                            counts; try another octave if the tune is too high or too low";

const ENDINGS_UNCLEAR: &str = "the endings are not numbered in order, or no repeat sign leads back from them: \
                               each ending is played once, in order";

const BACKUP_PAST_BAR: &str =
    "the file steps back past the start of a bar: breathline goes back only to the start";

const STAFF_DIFFERS: &str =
    "another staff has a different key or time signature: the first staff's signature is used";

const PITCH_BEND: &str = "the file bends the pitch of some notes: the notes are taken without the bends";

fn bar_length(longer: bool) -> String {
    let than = if longer { "longer" } else { "shorter" };
    format!("the bar is {than} than its time signature: it is kept as written")
}

fn what(oddity: &Oddity) -> String {
    match oddity {
        Oddity::ChordReduced => "several notes sound at once: only the top one is kept".to_owned(),
        Oddity::OverlapCut => "a note still sounds when the next begins: it is cut there".to_owned(),
        Oddity::HeldTooLong { quarters } => {
            format!("a note is held for more than {quarters} quarters: it is cut there")
        }
        Oddity::VoiceChosen { voice, of } => {
            format!("the part has {of} voices: breathline takes voice {voice} (--voice takes another)")
        }
        Oddity::VoiceTakesOver { voice } => {
            format!("the chosen voice rests while voice {voice} sings: voice {voice} takes its place there")
        }
        Oddity::AccompanimentAlone => {
            "the accompaniment plays alone while the tune rests: it is left out".to_owned()
        }
        Oddity::VoiceLeftOut { voice } => {
            format!(
                "while the tune rests, voice {voice} fills in far above or below it: these notes are left out"
            )
        }
        Oddity::GraceWithoutNote => "a grace note has no main note after it: it is left out".to_owned(),
        Oddity::Truncated => "the file breaks off: everything before the break is kept".to_owned(),
        Oddity::HangingNote => "a note has no end: it ends with its track".to_owned(),
        Oddity::PitchOutOfRange => "a pitch is outside the MIDI range: the note is left out".to_owned(),
        Oddity::Microtone => "a pitch lies between two semitones: it is rounded".to_owned(),
        Oddity::UnfinishedTie => "half of a tie is missing: the note is kept as written".to_owned(),
        Oddity::BarLength { longer } => bar_length(*longer),
        Oddity::BarCut => {
            "a new time signature comes in the middle of the bar: the bar ends there".to_owned()
        }
        Oddity::Unpitched => "notes have no pitch: they are left out".to_owned(),
        Oddity::CueNote => "a cue note is left out".to_owned(),
        Oddity::BadKeySignature => "a key signature has an impossible value: it is ignored".to_owned(),
        Oddity::Unreadable { what } => format!("ignored, because breathline cannot use it: {what}"),
        Oddity::BackupPastBar => BACKUP_PAST_BAR.to_owned(),
        Oddity::ConcertTranspose => {
            "a score at concert pitch states a transposition: only its octaves count".to_owned()
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
            "the file draws an accidental that the pitch does not have: the pitch is kept".to_owned()
        }
        Oddity::RestTooLong => "a rest is too long for its bar: it is cut at the barline".to_owned(),
        Oddity::SomePasses => "a mark for some passes of a repeat is applied to all passes".to_owned(),
        Oddity::RepeatNotEnded => "a repeat never ends: its sign is ignored".to_owned(),
        Oddity::EndingsUnclear => ENDINGS_UNCLEAR.to_owned(),
        Oddity::JumpNowhere => "a jump leads to a sign or coda that the file lacks: it is ignored".to_owned(),
        Oddity::SignUnused => {
            "a \"Fine\" or \"to coda\" has no jump back before it: it is ignored".to_owned()
        }
        Oddity::UnfoldedTooLong { limit, unit } => {
            format!("with its repeats the tune is over the limit of {limit} {unit}: it is left as written")
        }
        Oddity::StaffDiffers => STAFF_DIFFERS.to_owned(),
        Oddity::MidBarline => {
            "a repeat or ending begins in the middle of a bar: it is moved to the barline".to_owned()
        }
        Oddity::OpenEnding => "an ending is never closed: it is assumed to last to the end".to_owned(),
        Oddity::WrongEncoding => {
            "the text is not in the encoding that the file claims: it is read as Western European".to_owned()
        }
        Oddity::NoBars => {
            "the file counts frames, not beats: breathline guesses the bars at 120 quarters a minute"
                .to_owned()
        }
        Oddity::PitchBend => PITCH_BEND.to_owned(),
        Oddity::ChunkLength => "a track states a wrong length: its contents show where it ends".to_owned(),
        Oddity::StrayBytes => "the file has data outside its tracks: it is ignored".to_owned(),
        Oddity::TrackCount { stated, found } => {
            format!("the file states {stated} tracks and has {found}: breathline reads all of them")
        }
        Oddity::StatusMissing => {
            "a MIDI event does not say its kind: it is read as the kind of the event before it".to_owned()
        }
        Oddity::OffGrid { mean_ms } => format!(
            "played freely: notes are moved to the nearest likely place in the bar, by {mean_ms} ms on average"
        ),
        Oddity::CutShort => {
            "notes stop a little before their written end: they are lengthened to it".to_owned()
        }
        Oddity::SilentChords => {
            "chords have no length, as if they were chord symbols: they are left out".to_owned()
        }
        Oddity::OctavesAssumed => OCTAVES_ASSUMED.to_owned(),

        Oddity::WordsWithoutNote => "words come where no note starts: they are left out".to_owned(),
    }
}
