//! Reads `<direction>` and `<sound>`: tempo, swing, and the signs and words for the order of the bars.

use roxmltree::Node;

use super::value::{Decimal, child, child_text, is, text, whole};
use crate::{
    import::{
        Oddity,
        heading::one_line,
        jumps::{self, Jumps},
    },
    melody::tempo_words::is_tempo,
};

/// The tempo, the swing and the jumps that a direction states.
#[derive(Default)]
pub(super) struct Direction {
    pub(super) jumps: Jumps,
    /// Tempo words, such as "Allegro" or "rit.".
    pub(super) words: Option<String>,
    /// The tempo in microseconds per quarter.
    pub(super) tempo: Option<u32>,
    /// Whether the tempo comes from a `<sound>` and not only from a printed mark.
    pub(super) tempo_is_sound: bool,
    /// The oddity to report if notes are to be played unevenly.
    pub(super) swing: Option<Oddity>,
    /// Whether the file limits the direction to certain passes, and these are not its usual passes.
    pub(super) some_passes: bool,
}

/// Reads a `<direction>`.
pub(super) fn read(node: Node<'_, '_>) -> Direction {
    let mut direction = Direction::default();
    let mut words = String::new();
    for child in node.children() {
        match child.tag_name().name() {
            "direction-type" => {
                for sign in child.children() {
                    match sign.tag_name().name() {
                        "words" => words.push_str(text(sign)),
                        "segno" => words.push('𝄋'),
                        "coda" => words.push('𝄌'),
                        "metronome" => direction.tempo = direction.tempo.or(metronome(sign)),
                        _ => {}
                    }
                }
            }
            "sound" => {
                let sound = sound(child);
                direction.jumps = sound.jumps;
                (direction.swing, direction.some_passes) = (sound.swing, sound.some_passes);
                if sound.tempo.is_some() {
                    (direction.tempo, direction.tempo_is_sound) = (sound.tempo, true);
                }
            }
            _ => {}
        }
    }
    // If the file states the jumps as attributes of `<sound>`, the words only repeat them.
    if direction.jumps == Jumps::default() && !words.is_empty() {
        direction.jumps = jumps::in_words(&words);
    }
    // Words beside a tempo, and words that the file marks as a directive, are tempo words (MusicXML 4.0).
    let marked = direction.tempo.is_some() || node.attribute("directive") == Some("yes");
    if direction.jumps == Jumps::default() && (marked || is_tempo(&words)) {
        direction.words = Some(one_line(&words)).filter(|words| words.chars().any(char::is_alphabetic));
    }
    direction
}

/// Reads a `<sound>`, inside a direction or alone.
pub(super) fn sound(node: Node<'_, '_>) -> Direction {
    let mut direction = Direction { tempo_is_sound: true, ..Direction::default() };
    for attribute in node.attributes() {
        let no = attribute.value() == "no";
        let jumps = &mut direction.jumps;
        match attribute.name() {
            "tempo" => direction.tempo = Decimal::parse(attribute.value()).and_then(micros),
            "segno" => jumps.segno = true,
            "coda" => jumps.coda = true,
            "tocoda" => (jumps.to_coda, jumps.exact) = (true, true),
            "dalsegno" => jumps.dal_segno = true,
            "dacapo" => jumps.da_capo = !no,
            "fine" => jumps.fine = !no,
            "forward-repeat" => jumps.repeat_start = !no,
            _ => {}
        }
    }
    direction.swing = child(node, "swing").and_then(swing);
    direction.some_passes = node.attribute("time-only").is_some_and(|passes| direction.differs_on(passes));
    direction
}

impl Direction {
    /// Whether following the direction on these passes differs from the usual order. Usually a jump back is made on the
    /// first pass; a jump to the coda or an end at "Fine" is made on the second (MusicXML 4.0, element `sound`).
    fn differs_on(&self, passes: &str) -> bool {
        let Jumps { segno, coda, to_coda, fine, da_capo, dal_segno, repeat_start, .. } = self.jumps;
        let places = segno || coda || repeat_start || self.tempo.is_some() || self.swing.is_some();
        let back = da_capo || dal_segno;
        let passes = passes.trim();
        places || (back && passes != "1") || ((to_coda || fine) && passes != "2")
    }
}

/// Reads a `<swing>` (MusicXML 4.0, element `swing`); `None` if notes are even, or become even again.
fn swing(node: Node<'_, '_>) -> Option<Oddity> {
    if child(node, "straight").is_some() {
        return None;
    }
    let share = |name| child_text(node, name).and_then(whole::<u8>).filter(|&share| share > 0);
    match (share("first"), share("second")) {
        (Some(first), Some(second)) if first == second => None,
        (Some(first), Some(second)) => {
            let sixteenths = child_text(node, "swing-type") == Some("16th");
            Some(Oddity::Swing { first, second, sixteenths })
        }
        _ => Some(Oddity::Unreadable { what: "a swing".into() }),
    }
}

/// Converts quarters per minute to microseconds per quarter.
fn micros(per_minute: Decimal) -> Option<u32> {
    if per_minute.digits <= 0 {
        return None;
    }
    u32::try_from(60_000_000 * per_minute.scale / per_minute.digits).ok().filter(|&micros| micros > 0)
}

/// Reads a metronome mark in microseconds per quarter, if the mark gives a number of beats per minute.
fn metronome(node: Node<'_, '_>) -> Option<u32> {
    let per_minute = child_text(node, "per-minute")?;
    // In "c. 96" and "92-96", the first number is used.
    let number = per_minute
        .split(|c: char| !c.is_ascii_digit() && c != '.')
        .find_map(|piece| Decimal::parse(piece.trim_matches('.')))?;
    let unit = child(node, "beat-unit").map(text)?;
    let dots = node.children().filter(|child| is(*child, "beat-unit-dot")).count().min(3);
    // The beat units, each twice as long as the one before it. The first, a 128th, is 1/32 of a quarter.
    const UNITS: [&str; 9] = ["128th", "64th", "32nd", "16th", "eighth", "quarter", "half", "whole", "breve"];
    let thirty_seconds = 1i64 << UNITS.iter().position(|name| *name == unit)?;
    let (numerator, denominator) = (thirty_seconds * ((2 << dots) - 1), 32i64 << dots);
    let quarters = Decimal {
        digits: number.digits.checked_mul(numerator)?,
        scale: number.scale.checked_mul(denominator)?,
    };
    micros(quarters)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn metronome_marks_count_in_quarters() {
        let tempo = |text: &str| {
            let document = roxmltree::Document::parse(text).unwrap();
            metronome(document.root_element())
        };
        let mark = |unit, number| {
            format!("<m><beat-unit>{unit}</beat-unit><beat-unit-dot/><per-minute>{number}</per-minute></m>")
        };
        assert_eq!(tempo(&mark("quarter", "80")), Some(500_000));
        assert_eq!(tempo(&mark("eighth", "c. 160-170")), Some(500_000));
        assert_eq!(tempo(&mark("quarter", "fast")), None);
    }
}
