//! Sounding pitches, intervals in semitones, and the spelling of a pitch on paper.
//!
//! Three types separate three concepts that are easily confused in transposition. A [`Pitch`] is a sounding note in a
//! known octave. A [`PitchClass`] is a note name without octave. A [`Spelling`] is the note as the score writes it (C
//! sharp and D flat are one pitch with two spellings).

use std::fmt;

/// A sounding pitch as a MIDI note number: 60 is C4, 127 is the highest pitch.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Pitch(u8);

impl Pitch {
    /// C4, the C in the middle of the keyboard.
    pub const MIDDLE_C: Pitch = Pitch(60);

    /// Returns the pitch with this MIDI note number, or `None` above 127.
    pub const fn new(midi: u8) -> Option<Pitch> {
        if midi <= 127 { Some(Pitch(midi)) } else { None }
    }

    /// Returns the MIDI note number, 0 to 127.
    pub const fn midi(self) -> u8 {
        self.0
    }

    /// Returns the pitch class.
    pub const fn class(self) -> PitchClass {
        PitchClass(self.0 % 12)
    }

    /// Returns this pitch moved by an interval, or `None` if the result is outside the MIDI range.
    pub fn transposed(self, by: Interval) -> Option<Pitch> {
        let moved = i16::from(self.0).checked_add(by.0)?;
        u8::try_from(moved).ok().and_then(Pitch::new)
    }

    /// Returns the interval from `other` up to this pitch.
    pub fn above(self, other: Pitch) -> Interval {
        Interval(i16::from(self.0) - i16::from(other.0))
    }
}

/// Writes the pitch as it is spelled in C major, as in `F#4` and `Bb4`; if the key is known, use [`Spelling::in_key`].
impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Spelling::in_key(*self, 0).fmt(f)
    }
}

/// A difference in pitch, in semitones; positive is up.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
pub struct Interval(pub i16);

impl Interval {
    /// Returns the interval of `n` octaves.
    pub const fn octaves(n: i8) -> Interval {
        Interval(12 * n as i16)
    }
}

/// A note name without an octave: 0 is C, 11 is B.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct PitchClass(u8);

impl PitchClass {
    /// Returns the class of the note `semitones` semitones above a C (negative for below).
    pub const fn new(semitones: i16) -> PitchClass {
        PitchClass(semitones.rem_euclid(12) as u8)
    }

    /// Returns the semitones above C, 0 to 11.
    pub const fn semitones(self) -> u8 {
        self.0
    }

    /// Returns all twelve classes, from C upwards.
    pub fn all() -> impl Iterator<Item = PitchClass> {
        (0..12).map(PitchClass)
    }

    /// Returns the class that is higher by the interval `by`.
    pub const fn transposed(self, by: Interval) -> PitchClass {
        PitchClass::new(self.0 as i16 + by.0 % 12)
    }

    /// Returns the semitones from `other` up to this class, 0 to 11.
    pub const fn above(self, other: PitchClass) -> u8 {
        (self.0 + 12 - other.0) % 12
    }

    /// Reads a note name: `C`, `f#`, `Bb`, `E♭`, `C♯`.
    ///
    /// ```
    /// use breathline::pitch::PitchClass;
    /// assert_eq!(PitchClass::parse("Bb"), Some(PitchClass::new(10)));
    /// assert_eq!(PitchClass::parse("e♭"), Some(PitchClass::new(3)));
    /// assert_eq!(PitchClass::parse("H"), None);
    /// ```
    pub fn parse(text: &str) -> Option<PitchClass> {
        let mut chars = text.chars();
        let step = Step::parse(chars.next()?)?;
        let alter = match chars.as_str() {
            "" => 0,
            "#" | "♯" => 1,
            "b" | "♭" => -1,
            _ => return None,
        };
        Some(PitchClass::new(step.semitones() + alter))
    }
}

/// Writes the name that players use for a key on this note: `Db`, `Eb`, `F#`, `Ab`, `Bb`.
impl fmt::Display for PitchClass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        const NAMES: [&str; 12] = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
        f.pad(NAMES[usize::from(self.0)])
    }
}

/// A letter of the scale.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[allow(missing_docs, reason = "the letters need no explanation")]
pub enum Step {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

impl Step {
    /// The seven letters from C upwards.
    pub const ALL: [Step; 7] = [Step::C, Step::D, Step::E, Step::F, Step::G, Step::A, Step::B];

    /// Reads one letter, in upper or lower case.
    pub fn parse(letter: char) -> Option<Step> {
        let index = match letter.to_ascii_uppercase() {
            'C' => 0,
            'D' => 1,
            'E' => 2,
            'F' => 3,
            'G' => 4,
            'A' => 5,
            'B' => 6,
            _ => return None,
        };
        Some(Step::ALL[index])
    }

    /// Returns the semitones of the unaltered letter above C.
    pub const fn semitones(self) -> i16 {
        [0, 2, 4, 5, 7, 9, 11][self as usize]
    }
}

/// A note's name without an octave, as in chord symbols: `Bb`, `F#`.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Name {
    /// The letter.
    pub step: Step,
    /// The alteration: sharps are positive, flats negative.
    pub alter: i8,
}

impl Name {
    /// Returns the pitch class that the name stands for.
    pub const fn class(self) -> PitchClass {
        PitchClass::new(self.step.semitones() + self.alter as i16)
    }

    /// Returns the usual name of a class under a key signature of `sharps` sharps (negative for flats); see
    /// [`Spelling::in_key`].
    pub fn in_key(class: PitchClass, sharps: i8) -> Name {
        Spelling::in_key(Pitch(class.0), sharps).name()
    }

    /// Returns the name moved by an interval together with its key; see [`Spelling::moved`].
    pub fn moved(self, sharps: i8, by: Interval, key: i8) -> Name {
        let Name { step, alter } = self;
        let pitch = Pitch(self.class().transposed(by).0);
        Spelling { step, alter, octave: 0 }.moved(sharps, pitch, key).name()
    }

    /// Splits a text into the note name at its beginning and the remaining text; `None` if it does not begin with a
    /// note name. The letter must be a capital, so that the `b` of `Bb` is a flat.
    pub fn leading(text: &str) -> Option<(Name, &str)> {
        let step = text.chars().next().filter(char::is_ascii_uppercase).and_then(Step::parse)?;
        let rest = &text[1..];
        let signs = |set: [char; 2]| rest.chars().take_while(|c| set.contains(c)).take(2).count();
        let (sharps, flats) = (signs(['#', '♯']), signs(['b', '♭']));
        let after: usize = rest.chars().take(sharps + flats).map(char::len_utf8).sum();
        Some((Name { step, alter: sharps as i8 - flats as i8 }, &rest[after..]))
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let accidental = match self.alter {
            -2 => "bb",
            -1 => "b",
            0 => "",
            1 => "#",
            2 => "##",
            alter => return f.pad(&format!("{:?}({alter:+})", self.step)),
        };
        f.pad(&format!("{:?}{accidental}", self.step))
    }
}

/// A pitch as written: letter, alteration in semitones, and octave (4 is the octave of middle C).
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Spelling {
    /// The letter.
    pub step: Step,
    /// The alteration: sharps are positive, flats negative.
    pub alter: i8,
    /// The octave of the letter: B sharp 3 sounds as C4.
    pub octave: i8,
}

impl Spelling {
    /// Returns the name without its octave.
    pub const fn name(self) -> Name {
        Name { step: self.step, alter: self.alter }
    }

    /// Returns the sounding pitch, or `None` outside the MIDI range.
    pub fn pitch(self) -> Option<Pitch> {
        let midi = 12 * (i16::from(self.octave) + 1) + self.step.semitones() + i16::from(self.alter);
        u8::try_from(midi).ok().and_then(Pitch::new)
    }

    /// Returns the usual spelling of a pitch under a key signature of `sharps` sharps (negative for flats).
    ///
    /// The names lie on the line of fifths (Bb F C G D A E B F# and so on in both directions). The key signature
    /// selects twelve neighbours on this line, from the minor third to the raised fifth of its major key.
    ///
    /// ```
    /// use breathline::pitch::{Pitch, Spelling};
    /// let b_flat = Pitch::new(70).unwrap();
    /// assert_eq!(Spelling::in_key(b_flat, 0).to_string(), "Bb4");
    /// assert_eq!(Spelling::in_key(b_flat, 5).to_string(), "A#4");
    /// ```
    pub fn in_key(pitch: Pitch, sharps: i8) -> Spelling {
        let sharps = i16::from(sharps.clamp(-7, 7));
        // The number of fifths from C to the pitch class (7 is its own inverse modulo 12), moved into the window.
        let lowest = sharps - 3;
        let fifths = lowest + (7 * i16::from(pitch.class().semitones()) - lowest).rem_euclid(12);
        Spelling::on_fifths(pitch, fifths)
    }

    /// Moves the spelling along the line of fifths together with its key, by `sharps` sharps (negative for flats), to
    /// spell `pitch`. A name that would not sound as `pitch`, or would need more than a double accidental, becomes the
    /// usual name in `key`, the new signature.
    ///
    /// ```
    /// use breathline::pitch::{Pitch, Spelling};
    /// // The raised fourth of G major, moved to F major, which has two sharps fewer.
    /// let c_sharp = Spelling::in_key(Pitch::new(61).unwrap(), 1);
    /// assert_eq!(c_sharp.moved(-2, Pitch::new(59).unwrap(), -1).to_string(), "B3");
    /// ```
    pub fn moved(self, sharps: i8, pitch: Pitch, key: i8) -> Spelling {
        let letter = LETTERS.iter().position(|&step| step == self.step).unwrap_or_default() as i16 - 1;
        let fifths = letter + 7 * i16::from(self.alter) + i16::from(sharps);
        let sounds = (7 * fifths).rem_euclid(12) == i16::from(pitch.class().semitones());
        let moved = Spelling::on_fifths(pitch, fifths);
        if sounds && moved.alter.unsigned_abs() <= 2 { moved } else { Spelling::in_key(pitch, key) }
    }

    /// Spells a pitch with the name that lies `fifths` fifths above C.
    fn on_fifths(pitch: Pitch, fifths: i16) -> Spelling {
        let step = LETTERS[(fifths + 1).rem_euclid(7) as usize];
        let alter = (fifths + 1).div_euclid(7);
        let octave = (i16::from(pitch.midi()) - step.semitones() - alter).div_euclid(12) - 1;
        Spelling { step, alter: alter as i8, octave: octave as i8 }
    }
}

/// The letters in fifths, starting one fifth below C.
const LETTERS: [Step; 7] = [Step::F, Step::C, Step::G, Step::D, Step::A, Step::E, Step::B];

impl fmt::Display for Spelling {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{}{}", self.name(), self.octave))
    }
}

/// Returns the key signature `fifths` fifths up from C, between five flats and six sharps. The enharmonic signature
/// with more accidentals is never used.
pub(crate) fn fewest_accidentals(fifths: i16) -> i8 {
    let around = fifths.rem_euclid(12);
    (if around > 6 { around - 12 } else { around }) as i8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pitch_spelled_in_any_key_still_sounds_the_same() {
        for midi in 0..=127 {
            for sharps in -7..=7 {
                let pitch = Pitch(midi);
                assert_eq!(Spelling::in_key(pitch, sharps).pitch(), Some(pitch));
            }
        }
    }

    #[test]
    fn no_move_is_too_far() {
        for by in [Interval(i16::MIN), Interval(i16::MAX)] {
            assert_eq!(Pitch(127).transposed(by), None);
            assert_eq!(PitchClass(11).transposed(by), PitchClass::new(11 + by.0 % 12));
        }
    }

    #[test]
    fn the_seven_notes_of_a_key_are_spelled_as_its_signature_says() {
        // D flat major has five flats: D flat, E flat, F, G flat, A flat, B flat, C.
        let names: Vec<String> =
            [61, 63, 65, 66, 68, 70, 72].map(|midi| Spelling::in_key(Pitch(midi), -5).to_string()).into();
        assert_eq!(names, ["Db4", "Eb4", "F4", "Gb4", "Ab4", "Bb4", "C5"]);
    }
}
