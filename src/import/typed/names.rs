//! Reads notes given by their names: `G4 A4 Bb4 C#5`.
//!
//! - Digits are octaves, where C4 is middle C, if all of them are from 3 to 8, and if a name has a flat or a sharp, or
//!   all letters are capitals and the first note has a digit. Otherwise digits are lengths, as in ABC.
//! - Without octaves, small letters are an octave above capitals, as in ABC: `c` is C5.
//! - If all letters are capitals, they say nothing about octaves. Each note is then the one nearest to the note before,
//!   at most a fourth away by its letter, and the first note is from C4 to B4.
//! - A hyphen extends the previous note by one unit, `z` or `r` is a rest, and `|` is a barline.

use std::fmt::Write;

use super::{ImportError, Oddity, Word};
use crate::pitch::Step;

/// A word written in the form that this module reads.
enum Named<'a> {
    Note(Name),
    Rest,
    Hold,
    Bar(&'a str),
}

/// A note's name.
struct Name {
    step: Step,
    is_small: bool,
    /// The written alteration, with sharps positive; `None` if none is written.
    alter: Option<i8>,
    digit: Option<u8>,
}

/// Returns the notes as ABC, with the assumption that was made about octaves, if any; `None` if the notes are written
/// in plain ABC.
pub(super) fn read(words: &[Word]) -> Result<Option<(String, Option<Oddity>)>, ImportError> {
    let commas = is_list(words);
    let named: Option<Vec<Named>> = words.iter().map(|word| named(word.text, commas)).collect();
    let Some(named) = named else { return Ok(None) };
    let notes =
        || named.iter().filter_map(|word| if let Named::Note(name) = word { Some(name) } else { None });
    let small = notes().any(|name| name.is_small);
    let altered = notes().any(|name| name.alter.is_some());
    let digits = || notes().filter_map(|name| name.digit);
    let octaves = digits().count() > 0 && digits().all(|digit| (3..=8).contains(&digit));
    // ABC writes accidentals before the name, and its digits are lengths.
    let octaves = octaves && (altered || (!small && notes().next().is_some_and(|name| name.digit.is_some())));
    let lengths = digits().count() > 0 && !octaves;
    let nearest = !small && !lengths && notes().any(|name| name.digit.is_none());
    if !altered && !octaves && !nearest && !commas {
        return Ok(None);
    }
    let mut abc = Writer { octaves, small, ..Writer::default() };
    for (word, named) in words.iter().zip(&named) {
        abc.word(*word, named)?;
    }
    abc.flush();
    let assumed =
        (!small && notes().any(|name| name.digit.is_none() || lengths)).then_some(Oddity::OctavesAssumed);
    Ok(Some((abc.text, assumed)))
}

/// Whether commas separate names, as in `G, A, B`: in a list, a comma follows every name but the last.
fn is_list(words: &[Word]) -> bool {
    let names: Vec<&str> = words.iter().filter(|word| !word.is_bar()).map(|word| word.text).collect();
    match names.as_slice() {
        [before @ .., last] if before.len() > 1 => {
            before.iter().all(|name| name.ends_with(',') && !name.ends_with(",,")) && !last.ends_with(',')
        }
        _ => false,
    }
}

/// Reads a word; `None` for a word in plain ABC.
fn named(word: &str, commas: bool) -> Option<Named<'_>> {
    let bare = if commas { word.trim_end_matches(',') } else { word };
    match bare {
        "-" | "–" => return Some(Named::Hold),
        "z" | "r" | "R" | "x" => return Some(Named::Rest),
        _ if word.starts_with(super::is_bar) => return Some(Named::Bar(word)),
        _ => {}
    }
    let letter = bare.chars().next()?;
    let step = Step::parse(letter)?;
    let rest = &bare[1..];
    let signs = rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len());
    let alter = match &rest[..signs] {
        "" => None,
        "#" | "♯" => Some(1),
        "b" | "♭" => Some(-1),
        "##" | "x" => Some(2),
        "bb" => Some(-2),
        _ => return None,
    };
    let digit = match &rest[signs..] {
        "" => None,
        digit => Some(digit.parse().ok().filter(|digit| (1..10).contains(digit))?),
    };
    Some(Named::Note(Name { step, is_small: letter.is_ascii_lowercase(), alter, digit }))
}

/// Writes ABC note by note.
#[derive(Default)]
struct Writer {
    text: String,
    octaves: bool,
    small: bool,
    /// The note or rest that a hyphen may still extend, and its length.
    open: Option<(String, u32)>,
    /// The last note, in steps above C0.
    last: Option<i32>,
    /// The current alteration of each letter in this bar.
    alters: [i8; 7],
}

impl Writer {
    fn word(&mut self, word: Word, named: &Named) -> Result<(), ImportError> {
        match named {
            Named::Hold => match &mut self.open {
                Some((_, length)) => *length += 1,
                None => {
                    return Err(word.fault(0, "there is no note to hold here; write z for a rest".to_owned()));
                }
            },
            Named::Rest => self.open("z".to_owned(), 1),
            Named::Bar(bar) => {
                self.flush();
                self.alters = [0; 7];
                self.text.push_str(bar);
                self.text.push(' ');
            }
            Named::Note(name) => {
                let steps = self.steps(name);
                self.last = Some(steps);
                let sign = self.sign(name);
                let length = name.digit.filter(|_| !self.octaves).map_or(1, u32::from);
                self.open(sign + &letter(name.step, steps.div_euclid(7)), length);
            }
        }
        Ok(())
    }

    /// Returns a note's distance from C0 in steps.
    fn steps(&self, name: &Name) -> i32 {
        let step = name.step as i32;
        match (name.digit.filter(|_| self.octaves), self.last) {
            (Some(octave), _) => 7 * i32::from(octave) + step,
            (None, _) if self.small => 7 * (4 + i32::from(name.is_small)) + step,
            (None, None) => 7 * 4 + step,
            // The nearest note lies from three steps down to three steps up.
            (None, Some(last)) => (last - 3) + (step - (last - 3)).rem_euclid(7),
        }
    }

    /// Returns the accidental that the note needs in this bar, or an empty text.
    fn sign(&mut self, name: &Name) -> String {
        let alter = name.alter.unwrap_or(0);
        let known = std::mem::replace(&mut self.alters[name.step as usize], alter);
        if known == alter {
            return String::new();
        }
        match alter {
            2 => "^^",
            1 => "^",
            -1 => "_",
            -2 => "__",
            _ => "=",
        }
        .to_owned()
    }

    fn open(&mut self, sign: String, length: u32) {
        self.flush();
        self.open = Some((sign, length));
    }

    fn flush(&mut self) {
        if let Some((sign, length)) = self.open.take() {
            // Writing to a string cannot fail.
            let _ = write!(self.text, "{sign}{length} ");
        }
    }
}

/// Returns a note as ABC writes it: `C,` is C3, `C` is C4, `c` is C5.
fn letter(step: Step, octave: i32) -> String {
    let capital = ['C', 'D', 'E', 'F', 'G', 'A', 'B'][step as usize];
    match octave {
        5.. => capital.to_ascii_lowercase().to_string() + &"'".repeat((octave - 5) as usize),
        _ => capital.to_string() + &",".repeat((4 - octave).max(0) as usize),
    }
}
