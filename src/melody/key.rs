//! Finds the tonic and mode of a melody, the confidence in both, and the evidence.
//!
//! The candidates are twelve tonics in major, minor, Dorian and Mixolydian, and also in the other three modes if there
//! is a key signature. Each key gets points from every clue ([`Clue`]). A difference of [`POINTS_PER_DOUBLING`] points
//! makes one key twice as likely as the other; the confidence follows from these odds. The tonic whose modes together
//! are likeliest wins. A key that the user names is accepted as it is.

mod clues;
mod grid;
mod model;
mod profile;
mod sections;
mod shade;
mod shares;
mod strains;
mod table;
mod weights;

use std::{fmt, str::FromStr};

use super::Melody;
use crate::{
    near,
    pitch::{Interval, Pitch, PitchClass, Spelling, fewest_accidentals},
};

pub use crate::mode::Mode;
pub use clues::{Clues, LONG_ENOUGH, View, clues, pickups};
pub use model::POINTS_PER_DOUBLING;
pub use sections::{Section, sections};
pub use shade::{Shade, shade};
pub use shares::{Counts, ROWS, Shares, WHOLE};
pub use table::SIGNS;

/// Finds the key of a melody from its notes, and from its key signature and chord symbols if it has any.
///
/// If the signature changes, the answer is the key of the music under the signature that applies to most of the tune
/// ([`sections()`] gives the key under each signature). A melody without notes gets the major key of its signature (C
/// if there is none) with no confidence.
pub fn find(melody: &Melody) -> KeyFinding {
    match sections::home(melody) {
        Some(home) => model::elect(&clues(&home)),
        None => model::elect(&clues(melody)),
    }
}

/// The key of a melody, with the reasons.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct KeyFinding {
    /// The key.
    pub key: Key,
    /// The source of the key.
    pub source: KeySource,
    /// The confidence in tonic and mode, in per cent: 0 to 99, or 100 for a key that the user named.
    pub confidence: u8,
    /// The confidence in the tonic alone, in per cent; higher than `confidence` if only the mode is in doubt.
    pub tonic_confidence: u8,
    /// The other keys of at least one per cent, likeliest first.
    pub others: Vec<KeyGuess>,
    /// The evidence of each clue, the most points for the key first.
    pub evidence: Vec<Evidence>,
}

impl KeyFinding {
    /// Makes the finding for a key that the user named.
    pub fn given(key: Key) -> KeyFinding {
        KeyFinding {
            key,
            source: KeySource::User,
            confidence: 100,
            tonic_confidence: 100,
            others: Vec::new(),
            evidence: Vec::new(),
        }
    }

    /// Returns the likeliest key on another tonic, with the total likelihood of that tonic in any mode; `None` if no
    /// other tonic reaches one per cent.
    pub fn rival(&self) -> Option<KeyGuess> {
        let elsewhere = || self.others.iter().filter(|guess| guess.key.tonic != self.key.tonic);
        let on_tonic = |tonic| -> u8 {
            // The shares are rounded, so their sum may slightly exceed a hundred.
            let shares = elsewhere().filter(|guess| guess.key.tonic == tonic).map(|guess| guess.confidence);
            shares.fold(0, u8::saturating_add).min(100)
        };
        // Among equal tonics the first wins, because it has the likelier key.
        let rivals =
            elsewhere().map(|guess| KeyGuess { key: guess.key, confidence: on_tonic(guess.key.tonic) });
        rivals.reduce(|best, guess| if guess.confidence > best.confidence { guess } else { best })
    }
}

/// The source of a key.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[non_exhaustive]
pub enum KeySource {
    /// The user named the key.
    User,
    /// The key has the file's signature, and the notes determined the tonic.
    Signature,
    /// The notes alone determined the key: the file has no signature, or one that the notes contradict.
    Notes,
}

/// Writes `user`, `signature` or `notes`.
impl fmt::Display for KeySource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            KeySource::User => "user",
            KeySource::Signature => "signature",
            KeySource::Notes => "notes",
        })
    }
}

/// A possible key.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct KeyGuess {
    /// The key.
    pub key: Key,
    /// The likelihood of the key in per cent, from 0 to 100.
    pub confidence: u8,
}

/// The evidence of one clue for the key that was found.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Evidence {
    /// The clue.
    pub clue: Clue,
    /// The points by which the clue prefers the key found to the best key on another tonic; negative if it prefers the
    /// other key.
    pub points: i32,
}

/// A feature of a melody that points to its key.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[non_exhaustive]
pub enum Clue {
    /// How well the total durations of the twelve notes fit the mode's published profiles.
    Profile,
    /// The total duration of each note.
    Durations,
    /// The notes that distinguish modes: each degree compared with its form a semitone away.
    ModeNotes,
    /// The first note on a first beat.
    FirstStress(PitchClass),
    /// The first bar of each strain.
    FirstBars,
    /// The last bar of each strain.
    LastBars,
    /// The last note.
    LastNote(PitchClass),
    /// The last notes of the strains.
    StrainEnds,
    /// The notes that lead to the ends of the strains.
    Approaches,
    /// The lowest note.
    Lowest,
    /// The highest note.
    Highest,
    /// The key signature, in sharps (negative for flats).
    Signature(i8),
    /// The mode that the file gives with its signature.
    SignatureMode(Mode),
    /// The roots of the first and the last chord symbol.
    Chords(PitchClass, PitchClass),
    /// How common the mode is.
    Habit,
}

/// A tonic with its mode.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Key {
    /// The tonic.
    pub tonic: PitchClass,
    /// The mode.
    pub mode: Mode,
}

impl Key {
    /// All 84 keys, by tonic from C upwards, then by mode.
    pub fn all() -> impl Iterator<Item = Key> {
        PitchClass::all().flat_map(|tonic| Mode::ALL.map(|mode| Key { tonic, mode }))
    }

    /// Returns the number of sharps in the key's signature, negative for flats, between -5 and 6. The enharmonic
    /// signature with more accidentals is never used.
    pub fn sharps(self) -> i8 {
        let major = 7 * i16::from(self.tonic.semitones());
        fewest_accidentals(major + i16::from(self.mode.sharps_from_major()))
    }

    /// Returns the tonic's name as a file with this signature (in sharps, negative for flats) spells it. Without a
    /// signature, returns the spelling with the fewest accidentals.
    ///
    /// ```
    /// use breathline::melody::key::Key;
    /// let name = |key: &str, signature| key.parse::<Key>().unwrap().tonic_name(signature);
    /// assert_eq!([name("Db minor", None), name("C# major", None)], ["C#", "Db"]);
    /// assert_eq!([name("F# major", None), name("F# major", Some(-6))], ["F#", "Gb"]);
    /// ```
    pub fn tonic_name(self, signature: Option<i8>) -> String {
        let own = self.sharps();
        let twins = [own, own - 12, own + 12].into_iter().filter(|sharps| (-7..=7).contains(sharps));
        // Among equals the first wins, which is the key's own signature.
        let near = twins.min_by_key(|&sharps| sharps.abs_diff(signature.unwrap_or(own)));
        let octave = Pitch::MIDDLE_C;
        let tonic = octave.transposed(Interval(self.tonic.semitones().into())).unwrap_or(octave);
        Spelling::in_key(tonic, near.unwrap_or(own)).name().to_string()
    }
}

/// Writes the key as in `D dorian`, `Bb major` or `C# minor`.
impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} {}", self.tonic_name(None), self.mode))
    }
}

/// Reads a key as musicians write it; a key without a mode is major.
///
/// ```
/// use breathline::melody::key::Key;
/// let names = ["D dorian", "Em", "Bb", "F sharp minor", "a mix"].map(|text| text.parse::<Key>().unwrap().to_string());
/// assert_eq!(names, ["D dorian", "E minor", "Bb major", "F# minor", "A mixolydian"]);
/// assert!("H major".parse::<Key>().is_err());
/// ```
impl FromStr for Key {
    type Err = UnknownKey;

    fn from_str(text: &str) -> Result<Key, UnknownKey> {
        let read = || {
            let text = text.trim();
            let letter = text.chars().next()?;
            let mut rest = &text[letter.len_utf8()..];
            let mut alter = "";
            for (sign, meaning) in
                [("#", "#"), ("♯", "#"), (" sharp", "#"), ("b", "b"), ("♭", "b"), (" flat", "b")]
            {
                let length = sign.len();
                if rest.get(..length).is_some_and(|start| start.eq_ignore_ascii_case(sign)) {
                    (alter, rest) = (meaning, &rest[length..]);
                    break;
                }
            }
            let tonic = PitchClass::parse(&format!("{letter}{alter}"))?;
            let mode = match rest.trim_start_matches(['-', '_']).trim() {
                "" => Mode::Major,
                name => Mode::parse(name)?,
            };
            Some(Key { tonic, mode })
        };
        read().ok_or_else(|| UnknownKey { text: text.chars().take(UnknownKey::SHOWN).collect() })
    }
}

/// A text that names no key.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct UnknownKey {
    /// The text, cut to [`UnknownKey::SHOWN`] characters.
    pub text: String,
}

impl UnknownKey {
    /// The number of characters of the text that are shown: more than any key's name has.
    pub const SHOWN: usize = 24;

    /// Returns the key with the mode whose name is nearest to the last word of the text.
    fn meant(&self) -> Option<Key> {
        let (tonic, mode) = self.text.trim().rsplit_once([' ', '-', '_'])?;
        let Key { tonic, .. } = tonic.parse().ok()?;
        let names = Mode::ALL.map(|mode| mode.to_string());
        let nearest = near::nearest(mode, names.iter().map(String::as_str))?;
        Some(Key { tonic, mode: Mode::parse(nearest)? })
    }
}

impl fmt::Display for UnknownKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?} is not a key; ", self.text)?;
        match (self.text.trim().chars().next(), self.meant()) {
            (Some('H' | 'h'), _) => write!(f, "write B, or Bb for the German B"),
            (_, Some(meant)) => write!(f, "write {meant}"),
            _ => write!(f, "write the tonic and the mode, such as G, Em, Bb major or D dorian"),
        }
    }
}

impl std::error::Error for UnknownKey {}

#[cfg(test)]
mod tests;
