//! The key field with its clef and transposition (ABC 2.1, §3.1.14 and 4.6).

use crate::{
    melody::key::Mode,
    pitch::{Name, Step},
};

/// A key: its signature, and its alteration of each letter.
#[derive(Clone, Copy, Default, PartialEq, Eq, Debug)]
pub(super) struct Key {
    pub(super) tonic: Option<Name>,
    pub(super) mode: Option<Mode>,
    /// The number of sharps, negative for flats; `None` for music without a key signature, and for a signature of more
    /// than seven sharps or flats.
    pub(super) sharps: Option<i8>,
    pub(super) alters: [i8; 7],
}

/// The distance between a voice's written notes and their sound.
#[derive(Clone, Copy, Default, PartialEq, Eq, Debug)]
pub(super) struct Shift {
    pub(super) clef: i8,
    pub(super) octave: i8,
    pub(super) semitones: i16,
}

/// The letters in the order in which sharps are added; flats are added in reverse order.
const ORDER: [Step; 7] = [Step::F, Step::C, Step::G, Step::D, Step::A, Step::E, Step::B];

/// Returns the alteration of each letter under a signature.
fn signature(sharps: i8) -> [i8; 7] {
    let mut alters = [0; 7];
    for index in 0..usize::from(sharps.unsigned_abs()) {
        if sharps > 0 {
            alters[ORDER[index % 7] as usize] += 1;
        } else {
            alters[ORDER[6 - index % 7] as usize] -= 1;
        }
    }
    alters
}

impl Key {
    fn of(tonic: Name, mode: Mode) -> Key {
        let fifths = ORDER.iter().position(|&step| step == tonic.step).unwrap_or(0) as i8 - 1;
        let sharps = fifths + 7 * tonic.alter + mode.sharps_from_major();
        let shown = Some(sharps).filter(|sharps| sharps.abs() <= 7);
        Key { tonic: Some(tonic), mode: Some(mode), sharps: shown, alters: signature(sharps) }
    }

    /// Applies the accidentals that the field lists, as in `^f_b`; returns `None` at the first text that is not an
    /// accidental.
    fn altered(&mut self, mut signs: &str) -> Option<()> {
        while !signs.is_empty() {
            let (alter, rest) = accidental(signs)?;
            let step = rest.chars().next().and_then(Step::parse)?;
            self.alters[step as usize] = alter;
            signs = &rest[1..];
        }
        let is_it = |sharps: &i8| signature(*sharps) == self.alters;
        self.sharps = (-7..=7).find(is_it).or(self.sharps);
        Some(())
    }
}

/// Reads an accidental; also returns the remaining text.
pub(super) fn accidental(text: &str) -> Option<(i8, &str)> {
    let signs = [("^^", 2), ("^", 1), ("__", -2), ("_", -1), ("=", 0)];
    signs.iter().find_map(|(sign, alter)| Some((*alter, text.strip_prefix(sign)?)))
}

/// Reads a mode by its name or by its first three letters, regardless of case; a missing mode is major. Also returns
/// the remaining text.
fn mode(text: &str) -> Option<(Mode, &str)> {
    let length = text.bytes().take_while(u8::is_ascii_alphabetic).count();
    let (word, rest) = text.split_at(length);
    // Case does not matter, so `K:EM` is E minor.
    let known = Mode::parse(&word.to_ascii_lowercase()).or_else(|| Mode::parse(word.get(..3)?));
    if word.is_empty() { Some((Mode::Major, rest)) } else { Some((known?, rest)) }
}

/// Reads the tonic and the mode at the beginning of a text; also returns the remaining text.
fn tonic(text: &str) -> Option<(Key, &str)> {
    let letter = text.chars().next()?;
    let step = Step::parse(letter)?;
    let (alter, rest) = match text.as_bytes().get(1) {
        Some(b'#') => (1, &text[2..]),
        Some(b'b') => (-1, &text[2..]),
        _ => (0, &text[1..]),
    };
    let name = Name { step, alter };
    let (found, after) = mode(rest)?;
    if !after.is_empty() && !after.starts_with(|c: char| c.is_whitespace() || "^_=".contains(c)) {
        return None;
    }
    // `K:G minor` and `K:G Mix` name a mode; `K:D bass` and `K:A exp` do not.
    let (found, after) = match mode(after.trim_start()) {
        Some((later, beyond)) if rest.len() == after.len() && beyond.len() < after.trim_start().len() => {
            (later, beyond)
        }
        _ => (found, after),
    };
    // A small letter is a key only if nothing or a mode follows it.
    (letter.is_ascii_uppercase() || rest.trim().is_empty() || after.len() < rest.len())
        .then(|| (Key::of(name, found), after))
}

/// Reads the key field: returns the key, if the field names one, and changes `shift`. The second value is the first
/// word without meaning, if there is one.
pub(super) fn read<'a>(text: &'a str, shift: &mut Shift) -> (Option<Key>, Option<&'a str>) {
    let text = text.trim();
    let first = text.split_whitespace().next().unwrap_or_default();
    let bagpipes = Key { sharps: None, ..Key::of(Name { step: Step::D, alter: 0 }, Mode::Major) };
    let (mut key, mut rest) = match first {
        "" => (Some(Key::default()), text),
        "HP" | "Hp" => (Some(Key { mode: None, tonic: None, ..bagpipes }), &text[2..]),
        _ if first.eq_ignore_ascii_case("none") => (Some(Key::default()), &text[4..]),
        _ => tonic(text).map_or((None, text), |(key, rest)| (Some(key), rest)),
    };
    let mut odd = None;
    if key.is_none() && first.starts_with(|c: char| c.is_ascii_uppercase()) && !shift.property(first) {
        // The tonic is followed by letters that name no mode.
        (odd, rest) = (Some(first), &text[first.len()..]);
        let (name, _) = Name::leading(first).unzip();
        key = name.map(|name| Key::of(name, Mode::Major));
    }
    for word in words(rest) {
        if word == "exp" {
            key = Some(Key::default());
        } else if word.starts_with(['^', '_', '=']) {
            let read = key.get_or_insert_default().altered(word);
            odd = odd.or(if read.is_none() { Some(word) } else { None });
        } else if !shift.property(word) {
            odd = odd.or(Some(word));
        }
    }
    (key, odd)
}

/// Returns the words of a field; a text in quotation marks is one word.
pub(super) fn words(text: &str) -> impl Iterator<Item = &str> {
    let mut quoted = false;
    let ends = move |c: char| {
        quoted ^= c == '"';
        c.is_whitespace() && !quoted
    };
    text.split(ends).filter(|word| !word.is_empty())
}

impl Shift {
    /// Reads a property of a key or a voice; returns false for any other word.
    pub(super) fn property(&mut self, word: &str) -> bool {
        let (name, value) = word.split_once('=').unwrap_or(("clef", word));
        let value = value.trim_matches('"');
        let number = || value.parse::<i16>().ok().filter(|number| number.abs() <= 96);
        match name {
            "clef" => {
                let ends = [("-8", -1), ("+8", 1), ("-15", -2), ("+15", 2)];
                let octaves = ends.iter().find(|(end, _)| value.ends_with(end)).map(|&(_, octaves)| octaves);
                self.clef = octaves.unwrap_or(0);
                let plain = value.trim_end_matches(|c: char| "+-^_0123456789".contains(c));
                [
                    "treble",
                    "bass",
                    "alto",
                    "tenor",
                    "baritone",
                    "soprano",
                    "mezzosoprano",
                    "perc",
                    "none",
                    "auto",
                    "G",
                    "F",
                    "C",
                    "P",
                    "",
                ]
                .contains(&plain)
            }
            "octave" => number().map(|number| self.octave = (number as i8).clamp(-8, 8)).is_some(),
            "transpose" | "t" => number().map(|number| self.semitones = number).is_some(),
            // Any other property affects only the display or a program's playback.
            _ => name.bytes().all(|byte| byte.is_ascii_alphabetic()),
        }
    }

    /// Returns the semitones, octaves included, from the written note to its sound.
    pub(super) fn total(self) -> i16 {
        12 * i16::from(self.clef + self.octave) + self.semitones
    }
}
