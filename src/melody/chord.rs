//! Which notes a chord symbol means, read from its text.
//!
//! Chord symbols are no standard (common practice, no source): what is read here are the spellings that scores and song
//! sheets share. What is not understood is passed over, so that a triad at least is left.

use super::ChordSymbol;
use crate::pitch::PitchClass;

/// The notes of a chord without a bass note of its own, in order from the root up.
///
/// ```
/// use breathline::{melody::{ChordSymbol, chord}, pitch::PitchClass, time::Beats};
/// let chord = ChordSymbol { at: Beats::ZERO, root: PitchClass::new(2), text: "Dm7/C".to_owned() };
/// let notes: Vec<String> = chord::notes(&chord).iter().map(|note| note.to_string()).collect();
/// assert_eq!(notes, ["D", "F", "A", "C"]);
/// ```
pub fn notes(chord: &ChordSymbol) -> Vec<PitchClass> {
    let mut above = Shape::of(quality(&chord.text)).semitones();
    above.sort_unstable();
    above.dedup();
    above
        .into_iter()
        .map(|semitones| PitchClass::new(i16::from(chord.root.semitones() + semitones)))
        .collect()
}

/// What stands between the root's name and the bass: `m7` of `F#m7/C#`.
fn quality(text: &str) -> &str {
    let after_letter = text.trim().strip_prefix(|c: char| c.is_ascii_uppercase()).unwrap_or_default();
    let after_root = after_letter.trim_start_matches(['#', '♯', 'b', '♭']);
    match after_root.rsplit_once('/') {
        // `6/9` has no bass in it.
        Some((before, bass)) if bass.starts_with(|c: char| c.is_ascii_uppercase()) => before,
        _ => after_root,
    }
}

/// A chord on the way from its text to its notes, in semitones above the root.
struct Shape {
    third: Option<u8>,
    fifth: Option<u8>,
    /// The seventh that a 7, 9, 11 or 13 means.
    seventh: u8,
    others: Vec<u8>,
}

/// What a sign before a number says of it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Verb {
    /// Nothing: a 9 brings the seventh with it.
    Extend,
    Add,
    Omit,
    Suspend,
}

impl Shape {
    fn of(quality: &str) -> Shape {
        let mut shape = Shape { third: Some(4), fifth: Some(7), seventh: 10, others: Vec::new() };
        let (mut verb, mut alter) = (Verb::Extend, 0);
        let mut first = true;
        let mut rest = quality;
        while let Some(next) = rest.chars().next() {
            let digits = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit()).len();
            if digits > 0 {
                let (number, after) = rest.split_at(digits);
                shape.number(number, verb, alter, first);
                (verb, alter, rest, first) = (Verb::Extend, 0, after, false);
                continue;
            }
            let (word, length) = word(rest).unwrap_or((Word::Unknown, next.len_utf8()));
            rest = &rest[length..];
            // A plus is a raised fifth, or raises the number that follows.
            let number_follows = rest.starts_with(|c: char| c.is_ascii_digit());
            match word {
                Word::Major => shape.seventh = 11,
                Word::Minor if first => shape.third = Some(3),
                Word::Minor => alter = -1,
                Word::Diminished => {
                    (shape.third, shape.fifth, shape.seventh) = (Some(3), Some(6), 9);
                }
                Word::HalfDiminished => {
                    (shape.third, shape.fifth) = (Some(3), Some(6));
                    shape.others.push(10);
                }
                Word::Augmented if number_follows && !first => alter = 1,
                Word::Augmented => shape.fifth = Some(8),
                Word::Suspended => {
                    shape.third = None;
                    verb = Verb::Suspend;
                    if !number_follows {
                        shape.others.push(5);
                    }
                }
                Word::Add => verb = Verb::Add,
                Word::Omit => verb = Verb::Omit,
                Word::Flat => alter = -1,
                Word::Sharp => alter = 1,
                Word::Unknown => continue,
            }
            first = false;
        }
        shape
    }

    /// A number with what stood before it; `alone` if nothing did.
    fn number(&mut self, number: &str, verb: Verb, alter: i8, alone: bool) {
        if number == "69" {
            return ["6", "9"].into_iter().for_each(|number| self.number(number, Verb::Add, 0, false));
        }
        let degree: u8 = number.parse().unwrap_or(0);
        // The degrees of the major scale; the seventh is minor unless the chord says major.
        let natural = match degree {
            2 | 9 => 2,
            3 | 10 => 4,
            4 | 11 => 5,
            5 | 12 => 7,
            6 | 13 => 9,
            7 => self.seventh,
            _ => return,
        };
        let altered = natural.saturating_add_signed(alter);
        match (verb, degree) {
            (Verb::Omit, 3) => self.third = None,
            (Verb::Omit, 5) => self.fifth = None,
            (Verb::Omit, _) => self.others.retain(|&other| other != altered),
            // A power chord.
            (Verb::Extend, 5) if alone => self.third = None,
            (_, 5) => self.fifth = Some(altered),
            (Verb::Extend, 9 | 11 | 13) if alter == 0 => self.others.extend([self.seventh, altered]),
            _ => self.others.push(altered),
        }
    }

    fn semitones(self) -> Vec<u8> {
        [Some(0), self.third, self.fifth].into_iter().flatten().chain(self.others).collect()
    }
}

#[derive(Clone, Copy)]
enum Word {
    Major,
    Minor,
    Diminished,
    HalfDiminished,
    Augmented,
    Suspended,
    Add,
    Omit,
    Flat,
    Sharp,
    Unknown,
}

/// The word at the beginning of a text, and its length.
fn word(text: &str) -> Option<(Word, usize)> {
    /// Longer ones first.
    const WORDS: [(&str, Word); 27] = [
        ("major", Word::Major),
        ("minor", Word::Minor),
        ("maj", Word::Major),
        ("Maj", Word::Major),
        ("MAJ", Word::Major),
        ("min", Word::Minor),
        ("dim", Word::Diminished),
        ("aug", Word::Augmented),
        ("sus", Word::Suspended),
        ("add", Word::Add),
        ("omit", Word::Omit),
        ("no", Word::Omit),
        // As in `6/9`.
        ("/", Word::Add),
        ("ma", Word::Major),
        ("mi", Word::Minor),
        ("M", Word::Major),
        ("Δ", Word::Major),
        ("m", Word::Minor),
        ("-", Word::Minor),
        ("°", Word::Diminished),
        ("o", Word::Diminished),
        ("ø", Word::HalfDiminished),
        ("+", Word::Augmented),
        ("b", Word::Flat),
        ("♭", Word::Flat),
        ("#", Word::Sharp),
        ("♯", Word::Sharp),
    ];
    WORDS.iter().find(|(word, _)| text.starts_with(word)).map(|&(word, meaning)| (meaning, word.len()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Beats;

    #[test]
    fn the_usual_spellings_mean_the_usual_notes() {
        let table: [(&str, &[u8]); 33] = [
            ("", &[0, 4, 7]),
            ("m", &[0, 3, 7]),
            ("min", &[0, 3, 7]),
            ("-", &[0, 3, 7]),
            ("7", &[0, 4, 7, 10]),
            ("maj7", &[0, 4, 7, 11]),
            ("M7", &[0, 4, 7, 11]),
            ("Δ7", &[0, 4, 7, 11]),
            ("m7", &[0, 3, 7, 10]),
            ("m(maj7)", &[0, 3, 7, 11]),
            ("dim", &[0, 3, 6]),
            ("dim7", &[0, 3, 6, 9]),
            ("°7", &[0, 3, 6, 9]),
            ("m7b5", &[0, 3, 6, 10]),
            ("ø7", &[0, 3, 6, 10]),
            ("+", &[0, 4, 8]),
            ("+7", &[0, 4, 8, 10]),
            ("aug", &[0, 4, 8]),
            ("6", &[0, 4, 7, 9]),
            ("m6", &[0, 3, 7, 9]),
            ("69", &[0, 2, 4, 7, 9]),
            ("6/9", &[0, 2, 4, 7, 9]),
            ("9", &[0, 2, 4, 7, 10]),
            ("add9", &[0, 2, 4, 7]),
            ("(add9)", &[0, 2, 4, 7]),
            ("13", &[0, 4, 7, 9, 10]),
            ("7b9", &[0, 1, 4, 7, 10]),
            ("7#11", &[0, 4, 6, 7, 10]),
            ("sus4", &[0, 5, 7]),
            ("sus", &[0, 5, 7]),
            ("7sus2", &[0, 2, 7, 10]),
            ("5", &[0, 7]),
            ("(no3)", &[0, 7]),
        ];
        for (quality, expected) in table {
            for (name, root) in [("C", 0), ("Bb", 10), ("F#", 6)] {
                for bass in ["", "/E", "/Bb"] {
                    let text = format!("{name}{quality}{bass}");
                    let root = PitchClass::new(root);
                    let found = notes(&ChordSymbol { at: Beats::ZERO, root, text: text.clone() });
                    let above: Vec<u8> = found.iter().map(|note| note.above(root)).collect();
                    assert_eq!(above, expected, "{text}");
                }
            }
        }
    }

    #[test]
    fn what_is_no_chord_symbol_still_has_a_root() {
        for text in ["", "H", "C?!", "Cæ99999999999999", "C/", "/", "Cb-b-b-", "C7777", "Csus sus"] {
            let chord = ChordSymbol { at: Beats::ZERO, root: PitchClass::new(0), text: text.to_owned() };
            assert_eq!(notes(&chord)[0], PitchClass::new(0), "{text}");
        }
    }
}
