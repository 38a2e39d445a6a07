//! Reads typed notes: a line of note names without a header, typed by a user who knows the melody by heart.
//!
//! Two forms: ABC without its header (`G A B d | e2 d2`), and names with octaves, flats and sharps (`G4 A4 Bb4 C#5`;
//! see [`names`]). Both forms become a tune in ABC, which [`abc`] reads.
//!
//! 1. A text is read as notes if more than half of its words are notes and none is tab.
//! 2. A character that is not a note ends the reading with an error, which gives the line and column and says what to
//!    type.
//! 3. A note without a length is a quarter, or an eighth in bars as long as 6, 8, 9 or 12 such notes; if the bars have
//!    equal length, they give the metre.

mod names;

use super::{ImportError, Oddity, Score, TextPosition, Warning, abc};
use crate::time::Beats;

/// A word or a run of barlines, with its position.
#[derive(Clone, Copy)]
struct Word<'a> {
    text: &'a str,
    /// Line and column, counted from 1.
    at: (u32, u32),
}

impl Word<'_> {
    fn is_bar(self) -> bool {
        self.text.starts_with(is_bar)
    }

    /// Makes an error about the character with index `sign` in the word.
    fn fault(self, sign: usize, what: String) -> ImportError {
        let (line, column) = self.at;
        ImportError::NotNotes { at: TextPosition::Line(line, column + sign as u32), what }
    }
}

fn is_bar(c: char) -> bool {
    matches!(c, '|' | ':' | ']')
}

/// Splits a text into words and barlines, with their positions. Lines that are ABC fields or comments are left out.
fn words(text: &str) -> Vec<Word<'_>> {
    let mut words = Vec::new();
    for (line, number) in text.lines().zip(1..) {
        if abc::text::field(line).is_some() || line.starts_with('%') {
            continue;
        }
        let mut start = None;
        let mut last: Option<char> = None;
        for ((at, c), column) in line.char_indices().zip(1..).chain([((line.len(), ' '), u32::MAX)]) {
            let ends = c.is_whitespace()
                || last.is_some_and(|last| is_bar(last) != is_bar(c) && !last.is_ascii_digit());
            if let Some((from, column)) = start.filter(|_| ends) {
                words.push(Word { text: &line[from..at], at: (number, column) });
                start = None;
            }
            if !c.is_whitespace() && start.is_none() {
                start = Some((at, column));
            }
            last = Some(c).filter(|c| !c.is_whitespace());
        }
    }
    words
}

/// Whether the bytes look like typed notes.
pub(super) fn is_notes(bytes: &[u8]) -> bool {
    /// The length in bytes above which a text is not read as typed notes.
    const LONGEST: usize = 1 << 16;
    let Some(text) = std::str::from_utf8(bytes).ok().filter(|text| text.len() <= LONGEST) else {
        return false;
    };
    let words = words(text.trim_start_matches('\u{FEFF}'));
    let words: Vec<&Word> = words.iter().filter(|word| !word.is_bar()).collect();
    let notes = words.iter().filter(|word| could_be_notes(word.text)).count();
    // In tab, numbers are separate words or come first in a word.
    let tab = words
        .iter()
        .any(|word| word.text.trim_start_matches(['-', '+', '(']).starts_with(|c: char| c.is_ascii_digit()));
    notes * 2 > words.len() && !tab
}

/// Whether a word consists of the letters and signs of notes, and its first letter names a note.
fn could_be_notes(word: &str) -> bool {
    let is_sign = |c: char| "ABCDEFGabcdefgzx,'0123456789/^_=#♯♭()<>~.".contains(c);
    let letter = word.chars().find(|c| c.is_alphabetic());
    word.chars().all(is_sign) && letter.is_some_and(|c| "ABCDEFGabcdefg".contains(c))
}

/// Reads typed notes.
///
/// # Errors
///
/// Returns [`ImportError::NotNotes`] with the position of the first character that is not a note, and with the text to
/// type instead.
pub(super) fn read(bytes: &[u8]) -> Result<Score, ImportError> {
    let text = String::from_utf8_lossy(bytes);
    let text = text.trim_start_matches('\u{FEFF}');
    let words = words(text);
    if words.iter().all(|word| word.is_bar()) {
        let what = "there are no notes; write their names, as in G A B d".to_owned();
        return Err(ImportError::NotNotes { at: TextPosition::Line(1, 1), what });
    }
    let (tune, assumed) = match names::read(&words)? {
        Some((tune, assumed)) => {
            let fields = text.lines().filter(|line| abc::text::field(line).is_some());
            (fields.map(|field| format!("{field}\n")).collect::<String>() + &tune, assumed)
        }
        None => {
            words.iter().try_for_each(|word| check(*word))?;
            (text.to_owned(), None)
        }
    };
    let mut score = in_metre(&tune)?;
    for warning in &mut score.warnings {
        if let Some(TextPosition::Line(line, _)) = &mut warning.text {
            *line = line.saturating_sub(HEADER_LINES);
        }
    }
    score.warnings.extend(assumed.map(|oddity| Warning { oddity, place: None, text: None }));
    Ok(score)
}

const HEADER_LINES: u32 = 4;

/// Reads a tune in ABC without a header, in the metre that its bars suggest.
fn in_metre(tune: &str) -> Result<Score, ImportError> {
    // An empty line would end the tune.
    let body: Vec<&str> = tune.lines().map(|line| if line.trim().is_empty() { "%" } else { line }).collect();
    let body = body.join("\n");
    let with = |metre: &str, unit: &str| {
        let whole = format!("X:1\nM:{metre}\nL:{unit}\nK:none\n{body}\n");
        let (tunes, _) = abc::find(whole.as_bytes())?;
        tunes.read(0, false)
    };
    let free = with("none", "1/4")?;
    let says = |letter: u8| tune.lines().filter_map(abc::text::field).any(|(field, _)| field == letter);
    if says(b'M') || says(b'L') {
        return Ok(free);
    }
    let lengths: Vec<Beats> = free.bars.iter().map(|bar| bar.length).collect();
    let inner = match lengths.as_slice() {
        [first, second] if first == second => &lengths[..1],
        [_, inner @ .., _] => inner,
        _ => return Ok(free),
    };
    let Some(length) = inner.first().filter(|first| inner.iter().all(|length| length == *first)) else {
        return Ok(free);
    };
    // If a bar is as long as 6, 8, 9 or 12 notes without a length, each of them is an eighth.
    let metres = [(2, "2/4"), (3, "3/4"), (4, "4/4"), (6, "6/8"), (8, "4/4"), (9, "9/8"), (12, "12/8")];
    match metres.iter().find(|(notes, _)| *length == Beats::quarters(*notes)) {
        Some((notes, metre)) => with(metre, if *notes < 6 { "1/4" } else { "1/8" }),
        None => Ok(free),
    }
}

/// Checks that a word does not begin with a number, as tab does, and that every character of it is valid in ABC.
fn check(word: Word) -> Result<(), ImportError> {
    const SIGNS: &str = "ABCDEFGabcdefgzxZ,'/^_=[](){}<>-~.|:0123456789\"!*&\\$+@y";
    // Playing instructions and chord symbols are written in quotation marks.
    if word.text.contains(['"', '!']) {
        return Ok(());
    }
    let starts_with_a_number = |text: &str| text.starts_with(|c: char| c.is_ascii_digit());
    if starts_with_a_number(word.text.trim_start_matches('-')) {
        let what = format!("`{}` is a hole, not a note; tab is read from a separate file", word.text);
        return Err(word.fault(0, what));
    }
    match word.text.chars().enumerate().find(|(_, c)| !SIGNS.contains(*c)) {
        Some((place, c)) => Err(word.fault(place, instead(c))),
        None => Ok(()),
    }
}

/// Returns what to type instead of a character that is not a note.
fn instead(c: char) -> String {
    match c {
        'H' | 'h' => format!("`{c}` is not a note here; write B, or Bb for the German B"),
        '#' | '♯' => {
            format!("`{c}` comes after the name, with spaces between notes, as in F# A, or write ^F")
        }
        '♭' => format!("`{c}` comes after the name, with spaces between notes, as in Bb A, or write _B"),
        c => {
            format!(
                "`{c}` is not a note; write A to G, a to g an octave higher, z for a rest, | for a barline"
            )
        }
    }
}
