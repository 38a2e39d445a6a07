//! The seven diatonic modes.

use std::fmt;

/// One of the seven diatonic modes.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[allow(missing_docs, reason = "the names explain themselves; Major is Ionian, Minor is Aeolian")]
pub enum Mode {
    Major,
    Dorian,
    Phrygian,
    Lydian,
    Mixolydian,
    Minor,
    Locrian,
}

impl Mode {
    /// All seven modes, in the order of their degrees in the major scale.
    pub const ALL: [Mode; 7] = [
        Mode::Major,
        Mode::Dorian,
        Mode::Phrygian,
        Mode::Lydian,
        Mode::Mixolydian,
        Mode::Minor,
        Mode::Locrian,
    ];

    /// Returns the seven notes of the scale, in semitones above the tonic.
    pub fn scale(self) -> [u8; 7] {
        const MAJOR: [u8; 7] = [0, 2, 4, 5, 7, 9, 11];
        let degree = self as usize;
        std::array::from_fn(|i| (MAJOR[(degree + i) % 7] + 12 - MAJOR[degree]) % 12)
    }

    /// Returns the number of sharps in the key signature relative to the major key on the same tonic: minor has three
    /// sharps fewer than major.
    pub fn sharps_from_major(self) -> i8 {
        match self {
            Mode::Lydian => 1,
            Mode::Major => 0,
            Mode::Mixolydian => -1,
            Mode::Dorian => -2,
            Mode::Minor => -3,
            Mode::Phrygian => -4,
            Mode::Locrian => -5,
        }
    }

    /// Reads a mode from its name, another of its names, or a usual short form. A single `M` means major, a single `m`
    /// minor.
    pub fn parse(text: &str) -> Option<Mode> {
        if text == "M" {
            return Some(Mode::Major);
        }
        Some(match text.to_ascii_lowercase().as_str() {
            "major" | "maj" | "ionian" | "ion" => Mode::Major,
            "dorian" | "dor" => Mode::Dorian,
            "phrygian" | "phr" => Mode::Phrygian,
            "lydian" | "lyd" => Mode::Lydian,
            "mixolydian" | "mix" => Mode::Mixolydian,
            "minor" | "min" | "m" | "aeolian" | "aeo" => Mode::Minor,
            // Harmonic and melodic minor have the signature of minor; accidentals write their raised notes.
            "natural minor" | "harmonic minor" | "melodic minor" => Mode::Minor,
            "locrian" | "loc" => Mode::Locrian,
            _ => return None,
        })
    }
}

impl fmt::Display for Mode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Mode::Major => "major",
            Mode::Dorian => "dorian",
            Mode::Phrygian => "phrygian",
            Mode::Lydian => "lydian",
            Mode::Mixolydian => "mixolydian",
            Mode::Minor => "minor",
            Mode::Locrian => "locrian",
        })
    }
}
