//! Transposes from written to sounding pitch.

use roxmltree::Node;

use super::value::{child_text, whole};
use crate::pitch::{Interval, Name, Pitch, Spelling, Step};

/// The content of a `<transpose>` element (MusicXML 4.0, element `transpose`).
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) struct Transposition {
    /// The scale steps from the written to the sounding note; `None` if the file leaves them out.
    diatonic: Option<i16>,
    /// The semitones, without the octaves.
    chromatic: i16,
    /// The octaves, in addition to `chromatic`.
    octaves: i16,
}

impl Transposition {
    /// Reads the element; `None` if one of its numbers makes no sense.
    pub(super) fn read(node: Node<'_, '_>) -> Option<Transposition> {
        let number = |name| match child_text(node, name) {
            Some(text) => whole::<i16>(text).filter(|n| n.unsigned_abs() < 100).map(Some),
            None => Some(None),
        };
        Some(Transposition {
            diatonic: number("diatonic")?,
            chromatic: number("chromatic")?.unwrap_or(0),
            octaves: number("octave-change")?.unwrap_or(0),
        })
    }

    /// Returns only the octaves of the transposition, which a score at concert pitch may still have.
    pub(super) fn octaves_only(self) -> Transposition {
        Transposition { diatonic: None, chromatic: 0, octaves: self.octaves }
    }

    /// Whether the transposition changes only the octave.
    pub(super) fn is_octaves_only(self) -> bool {
        self.chromatic == 0 && self.diatonic.unwrap_or(0) == 0
    }

    /// Returns the octaves of the transposition, apart from its semitones.
    pub(super) fn octaves(self) -> i16 {
        self.octaves
    }

    /// Returns the interval by which the transposition moves a pitch class.
    pub(super) fn interval(self) -> Interval {
        Interval(self.chromatic)
    }

    /// Returns the sounding pitch and its spelling; `None` if the pitch lies outside the MIDI range.
    pub(super) fn sound(self, written: Spelling) -> Option<(Pitch, Option<Spelling>)> {
        if self == Transposition::default() {
            return written.pitch().map(|pitch| (pitch, Some(written)));
        }
        let semitones = self.chromatic + 12 * self.octaves;
        let midi = 12 * (i16::from(written.octave) + 1) + written.step.semitones() + i16::from(written.alter);
        let pitch = u8::try_from(midi + semitones).ok().and_then(Pitch::new)?;
        Some((pitch, self.spell(written).filter(|sounding| sounding.pitch() == Some(pitch))))
    }

    /// Returns the sounding name for a written name, for chord symbols; `None` if the scale steps do not determine the
    /// name.
    pub(super) fn name(self, Name { step, alter }: Name) -> Option<Name> {
        Transposition { octaves: 0, ..self }.spell(Spelling { step, alter, octave: 4 }).map(Spelling::name)
    }

    fn spell(self, written: Spelling) -> Option<Spelling> {
        let diatonic = match self.diatonic {
            Some(steps) => steps,
            None if self.chromatic == 0 => 0,
            None => return None,
        };
        let steps = written.step as i16 + diatonic;
        let step = Step::ALL[steps.rem_euclid(7) as usize];
        let octaves = steps.div_euclid(7);
        // Letter and alteration must add up to the same semitone as the sound.
        let alter = i16::from(written.alter) + written.step.semitones() + self.chromatic
            - step.semitones()
            - 12 * octaves;
        Some(Spelling {
            step,
            alter: i8::try_from(alter).ok().filter(|alter| alter.unsigned_abs() <= 3)?,
            octave: i8::try_from(i16::from(written.octave) + octaves + self.octaves).ok()?,
        })
    }

    /// Returns the number of sharps in the sounding key signature for a written one.
    pub(super) fn sharps(self, written: i8) -> i8 {
        let sharps = match self.diatonic {
            // A semitone up adds seven sharps; a letter up removes twelve.
            Some(diatonic) => i16::from(written) + 7 * self.chromatic - 12 * diatonic,
            None => i16::from(written) + 7 * self.chromatic,
        };
        // Beyond seven accidentals, or without scale steps, the signature with the fewest accidentals is used.
        let folded = if sharps.abs() <= 7 && (self.diatonic.is_some() || self.chromatic == 0) {
            sharps
        } else {
            (sharps + 5).rem_euclid(12) - 5
        };
        folded as i8
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clarinet_in_b_flat_sounds_a_whole_tone_lower() {
        let clarinet = Transposition { diatonic: Some(-1), chromatic: -2, octaves: 0 };
        let written = Spelling { step: Step::C, alter: 1, octave: 5 };
        let (pitch, spelling) = clarinet.sound(written).unwrap();
        assert_eq!((pitch.midi(), spelling.unwrap().to_string()), (71, "B4".to_owned()));
        assert_eq!(clarinet.sharps(2), 0);
        assert_eq!(clarinet.sharps(-3), -5);
        // Transposed by this clarinet, D flat major becomes C flat major, not B major.
        assert_eq!(clarinet.sharps(-5), -7);
    }

    #[test]
    fn octaves_and_missing_letters_are_understood() {
        let tenor_saxophone = Transposition { diatonic: None, chromatic: -2, octaves: -1 };
        let written = Spelling { step: Step::D, alter: 0, octave: 5 };
        assert_eq!(tenor_saxophone.sound(written).unwrap().0.midi(), 60);
        assert_eq!(tenor_saxophone.sharps(2), 0);
        let piccolo = Transposition { octaves: 1, ..Transposition::default() };
        assert_eq!(piccolo.sound(written).unwrap().1.unwrap().to_string(), "D6");
        assert_eq!(piccolo.sound(Spelling { octave: 9, ..written }), None);
    }
}
