//! Reads one `<note>` element as it is written.

use roxmltree::Node;

use super::value::{Decimal, child, child_text, is, text, whole, yes};
use crate::{
    melody::{Beam, Ends, Lyric, Signs},
    pitch::{Spelling, Step},
    time::{Beats, Value},
};

/// The contents of a `<note>` element.
pub(super) struct NoteElement<'a> {
    pub(super) sounds: Sounds,
    /// Whether the note starts together with the previous note.
    pub(super) chord: bool,
    pub(super) grace: bool,
    pub(super) cue: bool,
    pub(super) duration: Option<Decimal>,
    pub(super) voice: &'a str,
    pub(super) staff: u16,
    pub(super) tie_start: bool,
    pub(super) tie_stop: bool,
    pub(super) signs: Signs,
    /// Whether a sharp or flat is printed although the pitch has no alteration.
    pub(super) accidental_only: bool,
    /// Whether the printed accidental is a reminder.
    pub(super) courtesy: bool,
    /// Whether the note is not printed.
    pub(super) hidden: bool,
    /// The name of the note value, and the number of dots.
    kind: &'a str,
    dots: usize,
    /// The tuplet's ratio: the number of notes, and the number of notes in whose time they are played. The inner `None`
    /// means that the ratio cannot be read.
    ratio: Option<Option<(u8, u8)>>,
    /// Whether a tuplet begins or ends here.
    pub(super) tuplet: Ends,
    /// The note's part of each beam, level by level.
    pub(super) beams: [Option<Beam>; Beam::LEVELS],
    /// Whether the note has a breath mark or caesura.
    pub(super) breath: bool,
    pub(super) lyrics: Vec<Lyric>,
    /// Whether the note has more than [`MAX_LYRICS`] syllables; the further syllables are left out.
    pub(super) more_lyrics: bool,
}

/// The largest number of syllables that is read from one note; a hymn has some ten verses.
pub(super) const MAX_LYRICS: usize = 32;

/// The sound of a note.
pub(super) enum Sounds {
    /// A pitch; `exact` is false if the pitch lay between two semitones and was rounded.
    Pitch { written: Spelling, exact: bool },
    /// A pitch that could not be read.
    Unreadable,
    /// A sound without pitch.
    Unpitched,
    /// Silence, either for the whole bar or for a part of it.
    Rest { whole_bar: bool },
}

/// Reads the element in one pass over its children.
pub(super) fn read<'a>(node: Node<'a, '_>) -> NoteElement<'a> {
    let mut note = NoteElement {
        sounds: Sounds::Unreadable,
        chord: false,
        grace: false,
        cue: false,
        duration: None,
        voice: "1",
        staff: 1,
        tie_start: false,
        tie_stop: false,
        signs: Signs::default(),
        accidental_only: false,
        courtesy: false,
        hidden: node.attribute("print-object") == Some("no"),
        kind: "",
        dots: 0,
        ratio: None,
        tuplet: Ends::default(),
        beams: [None; Beam::LEVELS],
        breath: false,
        lyrics: Vec::new(),
        more_lyrics: false,
    };
    for child in node.children() {
        match child.tag_name().name() {
            "pitch" => note.sounds = pitch(child),
            "rest" => note.sounds = Sounds::Rest { whole_bar: yes(child, "measure") },
            "unpitched" => note.sounds = Sounds::Unpitched,
            "chord" => note.chord = true,
            "grace" => note.grace = true,
            "cue" => note.cue = true,
            "duration" => note.duration = Decimal::parse(text(child)),
            "voice" => note.voice = text(child),
            "staff" => note.staff = whole(text(child)).unwrap_or(1),
            "tie" => note.tie(child),
            "accidental" => {
                note.accidental_only = matches!(text(child), "sharp" | "flat");
                note.courtesy = yes(child, "cautionary") || yes(child, "parentheses");
            }
            "type" => note.kind = text(child),
            "dot" => note.dots += 1,
            "time-modification" => note.ratio = Some(ratio(child)),
            "beam" => {
                let level = child.attribute("number").map_or(Some(1), whole::<usize>).unwrap_or(0);
                if let Some(beam) = level.checked_sub(1).and_then(|level| note.beams.get_mut(level)) {
                    *beam = Beam::named(text(child));
                }
            }
            "notations" => note.notations(child),
            "lyric" if note.lyrics.len() == MAX_LYRICS => note.more_lyrics = true,
            "lyric" => note.lyrics.extend(lyric(child, note.lyrics.len())),
            _ => {}
        }
    }
    if let Sounds::Pitch { written, .. } = note.sounds {
        note.accidental_only &= written.alter == 0;
    }
    note
}

/// Computes the duration, in quarters, of a note that states none, from its value, dots and tuplet.
pub(super) fn printed_duration(node: Node<'_, '_>) -> Option<Beats> {
    const VALUES: [&str; 11] =
        ["128th", "64th", "32nd", "16th", "eighth", "quarter", "half", "whole", "breve", "long", "maxima"];
    let value = child_text(node, "type")?;
    let plain = Beats::new(1 << VALUES.iter().position(|name| *name == value)?, 32);
    let dots = node.children().filter(|child| is(*child, "dot")).count().min(4);
    let dotted = plain.times((2 << dots) - 1, 1 << dots);
    let Some(tuplet) = child(node, "time-modification") else { return Some(dotted) };
    let number = |name| child_text(tuplet, name).and_then(whole::<i64>).filter(|n| (1..=1000).contains(n));
    Some(dotted.times(number("normal-notes")?, number("actual-notes")?))
}

/// Reads a tuplet's ratio: the number of notes, and the number of notes in whose time they are played.
fn ratio(node: Node<'_, '_>) -> Option<(u8, u8)> {
    let number = |name| child_text(node, name).and_then(whole::<u8>).filter(|&number| number > 0);
    Some((number("actual-notes")?, number("normal-notes")?))
}

impl NoteElement<'_> {
    /// Returns the note value and the tuplet, if they are printed and the notation can write them.
    pub(super) fn value(&self) -> Option<(Value, Option<(u8, u8)>)> {
        let value = Value::named(self.kind, self.dots)?;
        match self.ratio {
            None => Some((value, None)),
            Some(ratio) => Some((value, Some(ratio?))),
        }
    }

    /// Reads a tie. `<tie>` is the sound and `<tied>` the printed sign; a file with only one of them means both.
    fn tie(&mut self, node: Node<'_, '_>) {
        match node.attribute("type") {
            Some("start") => self.tie_start = true,
            Some("stop") => self.tie_stop = true,
            Some("continue") => (self.tie_start, self.tie_stop) = (true, true),
            // `let-ring` is not a tie.
            _ => {}
        }
    }

    fn notations(&mut self, node: Node<'_, '_>) {
        for child in node.children() {
            match child.tag_name().name() {
                "tied" => self.tie(child),
                "slur" => {
                    let Signs { slurs_begin, slurs_end, .. } = &mut self.signs;
                    match child.attribute("type") {
                        Some("start") => *slurs_begin = slurs_begin.saturating_add(1),
                        Some("stop") => *slurs_end = slurs_end.saturating_add(1),
                        _ => {}
                    }
                }
                "tuplet" => match child.attribute("type") {
                    Some("start") => self.tuplet.begins = true,
                    Some("stop") => self.tuplet.ends = true,
                    _ => {}
                },
                "fermata" => self.signs.fermata = true,
                "articulations" => {
                    self.breath |=
                        child.children().any(|mark| is(mark, "breath-mark") || is(mark, "caesura"));
                }
                _ => {}
            }
        }
    }
}

fn pitch(node: Node<'_, '_>) -> Sounds {
    let (mut step, mut alter, mut octave) = (None, Decimal { digits: 0, scale: 1 }, None);
    for child in node.children() {
        match child.tag_name().name() {
            "step" => step = text(child).chars().next().and_then(Step::parse),
            "alter" => match Decimal::parse(text(child)) {
                Some(number) => alter = number,
                None => return Sounds::Unreadable,
            },
            "octave" => octave = whole::<i8>(text(child)),
            _ => {}
        }
    }
    match (step, octave, i8::try_from(alter.rounded())) {
        (Some(step), Some(octave), Ok(semitones)) => {
            Sounds::Pitch { written: Spelling { step, alter: semitones, octave }, exact: alter.is_whole() }
        }
        _ => Sounds::Unreadable,
    }
}

/// Reads a syllable; `None` if the lyric has no words (laughing, humming, the middle of a held syllable).
fn lyric(node: Node<'_, '_>, before: usize) -> Option<Lyric> {
    // A lyric line with playing instructions is not a verse.
    if node.attribute("name") == Some("tab") {
        return None;
    }
    let (mut words, mut hyphen, mut extend, mut elision) = (String::new(), false, false, "");
    for child in node.children() {
        match child.tag_name().name() {
            "syllabic" => hyphen = matches!(text(child), "begin" | "middle"),
            "text" => {
                if !words.is_empty() {
                    words.push_str(if elision.is_empty() { " " } else { elision });
                }
                words.push_str(text(child));
            }
            "elision" => elision = text(child),
            "extend" => extend = true,
            _ => {}
        }
    }
    // Most programs number the verses; some write "part1verse2". Verses without numbers are numbered in order.
    let number = node.attribute("number").unwrap_or_default().rsplit(|c: char| !c.is_ascii_digit()).next();
    let verse = number.and_then(whole::<u8>).filter(|&verse| verse > 0);
    let verse = verse.unwrap_or_else(|| u8::try_from(before + 1).unwrap_or(u8::MAX));
    (!words.is_empty()).then_some(Lyric { verse, text: words, hyphen, extend })
}
