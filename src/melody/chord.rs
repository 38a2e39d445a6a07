//! Chord symbols over a melody: their text, split into names and a quality, and the notes that they mean.
//!
//! Chord symbols follow no standard; this module reads the spellings that scores and song sheets share (common
//! practice, no source). The module skips signs that it does not understand, so that at least a triad remains.

use std::fmt;

use crate::{
    pitch::{Interval, Name, PitchClass},
    time::Beats,
};

/// A chord symbol at sounding pitch, such as `F#m7/C#`; its `Display` is the printed text.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ChordSymbol {
    /// The time from which the chord sounds, in quarters from the start of the tune.
    pub at: Beats,
    /// The root; `None` if no chord is to be played, as at `N.C.`.
    pub root: Option<Name>,
    /// The text between root and bass, such as `m7`; without a root, the whole text.
    pub quality: String,
    /// The bass, if the symbol names one after a slash.
    pub bass: Option<Name>,
}

impl ChordSymbol {
    /// Splits a text into root, quality and bass; a text that does not begin with a note's name has no root.
    ///
    /// ```
    /// use breathline::{melody::ChordSymbol, time::Beats};
    /// let chord = ChordSymbol::parse(Beats::ZERO, "F#m7/C#");
    /// assert_eq!((chord.root.unwrap().to_string(), chord.quality.as_str()), ("F#".to_owned(), "m7"));
    /// assert_eq!(chord.bass.unwrap().to_string(), "C#");
    /// ```
    pub fn parse(at: Beats, text: &str) -> ChordSymbol {
        let text = text.trim();
        let Some((root, rest)) = Name::leading(text) else {
            return ChordSymbol { at, root: None, quality: text.to_owned(), bass: None };
        };
        // In `6/9` no bass follows the slash.
        let bass = rest.rsplit_once('/').and_then(|(quality, bass)| match Name::leading(bass) {
            Some((bass, "")) => Some((quality, bass)),
            _ => None,
        });
        let (quality, bass) = bass.map_or((rest, None), |(quality, bass)| (quality, Some(bass)));
        ChordSymbol { at, root: Some(root), quality: quality.to_owned(), bass }
    }

    /// Returns the chord's notes from the root up, without the named bass; empty if there is no root.
    ///
    /// ```
    /// use breathline::{melody::ChordSymbol, time::Beats};
    /// let notes = ChordSymbol::parse(Beats::ZERO, "Dm7/C").notes();
    /// let names: Vec<String> = notes.iter().map(|note| note.to_string()).collect();
    /// assert_eq!(names, ["D", "F", "A", "C"]);
    /// ```
    pub fn notes(&self) -> Vec<PitchClass> {
        let Some(root) = self.root.map(Name::class) else { return Vec::new() };
        let mut above = Shape::of(&self.quality).semitones();
        above.sort_unstable();
        above.dedup();
        above.into_iter().map(|above| root.transposed(Interval(above.into()))).collect()
    }

    /// Moves the symbol by an interval, together with its key: the signature gains `sharps` sharps (negative for flats)
    /// and becomes `key`.
    pub fn moved(&self, sharps: i8, by: Interval, key: i8) -> ChordSymbol {
        if by == Interval(0) {
            return self.clone();
        }
        let moved = |name: Name| name.moved(sharps, by, key);
        ChordSymbol { root: self.root.map(moved), bass: self.bass.map(moved), ..self.clone() }
    }
}

impl fmt::Display for ChordSymbol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(root) = self.root {
            write!(f, "{root}")?;
        }
        write!(f, "{}", self.quality)?;
        self.bass.map_or(Ok(()), |bass| write!(f, "/{bass}"))
    }
}

/// Whether a text is entirely a chord symbol: `Fmaj7` and `N.C.` are, but `Fine` is not.
pub(crate) fn is_symbol(text: &str) -> bool {
    let text = text.trim();
    if ["N.C.", "NC", "N.C"].contains(&text) {
        return true;
    }
    let chord = ChordSymbol::parse(Beats::ZERO, text);
    let mut rest = chord.quality.as_str();
    while !rest.is_empty() {
        rest = rest.trim_start_matches(|c: char| c.is_ascii_digit() || "(), ".contains(c));
        match word(rest) {
            Some((_, length)) => rest = &rest[length..],
            None if rest.is_empty() => break,
            None => return false,
        }
    }
    chord.root.is_some()
}

/// A chord being built from its text, in semitones above the root.
struct Shape {
    third: Option<u8>,
    fifth: Option<u8>,
    /// The seventh that the number 7, 9, 11 or 13 adds.
    seventh: u8,
    others: Vec<u8>,
}

/// The effect of a word before a number, as in `add9`.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Verb {
    /// No word precedes the number, so that a 9, for example, also adds the seventh.
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
            // A plus raises the fifth, or the degree whose number follows.
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

    /// Applies a number, with the word and the accidental before it; `alone` is true if nothing precedes the number.
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
            // A power chord has no third.
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

/// Returns the word at the beginning of a text, and its length.
fn word(text: &str) -> Option<(Word, usize)> {
    /// The words, longer ones before their own beginnings: `major` before `maj` before `ma`.
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
        // For `6/9`.
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
                    let found = ChordSymbol::parse(Beats::ZERO, &text).notes();
                    let above: Vec<u8> = found.iter().map(|note| note.above(root)).collect();
                    assert_eq!(above, expected, "{text}");
                }
            }
        }
    }

    #[test]
    fn what_is_not_understood_is_passed_over_and_printed_again() {
        for text in ["C?!", "Cæ99999999999999", "C/", "Cb-b-b-", "C7777", "Csus sus"] {
            let chord = ChordSymbol::parse(Beats::ZERO, text);
            assert_eq!(chord.notes()[0], chord.root.unwrap().class(), "{text}");
            assert_eq!(chord.to_string(), text);
        }
        for text in ["", "H", "N.C.", "/"] {
            let chord = ChordSymbol::parse(Beats::ZERO, text);
            assert_eq!((chord.root, chord.notes(), chord.to_string().as_str()), (None, vec![], text));
        }
    }

    #[test]
    fn root_and_bass_move_with_their_key_and_nothing_else_does() {
        let table = [
            // The key goes up a fifth, from C to G.
            ("CMaj7", 1, 7, 1, "GMaj7"),
            ("FM7", 1, 7, 1, "CM7"),
            ("F#m7b5/A", 1, 7, 1, "C#m7b5/E"),
            ("N.C.", 1, 7, 1, "N.C."),
            // The key goes from D to E: A becomes B, and B flat becomes C.
            ("Bbadd9/F", 2, 2, 4, "Cadd9/G"),
            ("F#m", 2, 2, 4, "G#m"),
        ];
        for (text, sharps, by, key, moved) in table {
            let chord = ChordSymbol::parse(Beats::ZERO, text).moved(sharps, Interval(by), key);
            assert_eq!(chord.to_string(), moved, "{text}");
        }
    }
}
