//! Chord symbols: a `<harmony>` element to its root and the text that is printed.

use roxmltree::Node;

use super::{
    transpose::Transposition,
    value::{child, child_text, is, text, whole},
};
use crate::pitch::{PitchClass, Step};

/// What a `<harmony>` says.
pub(super) enum Harmony {
    /// A chord at sounding pitch.
    Chord(PitchClass, String),
    /// "No chord" is written there.
    NoChord,
    /// It names a degree of the key, or its root cannot be read.
    Unreadable,
}

/// Reads the first chord of the element.
pub(super) fn read(node: Node<'_, '_>, transposition: Transposition) -> Harmony {
    let kind = child(node, "kind");
    let kind_name = kind.map(text).unwrap_or_default();
    if kind_name == "none" {
        return Harmony::NoChord;
    }
    let Some((root, root_text)) = child(node, "root").and_then(|root| name(root, "root", transposition))
    else {
        return Harmony::Unreadable;
    };
    let mut printed = root_text;
    // The file's own text for the quality is what the musician has seen.
    match kind.and_then(|kind| kind.attribute("text")) {
        Some(quality) => printed.push_str(quality.trim()),
        None => printed.push_str(quality(kind_name)),
    }
    for degree in node.children().filter(|child| is(*child, "degree")) {
        push_degree(&mut printed, degree);
    }
    if let Some((_, bass)) = child(node, "bass").and_then(|bass| name(bass, "bass", transposition)) {
        printed.push('/');
        printed.push_str(&bass);
    }
    Harmony::Chord(root, printed)
}

/// The note of `<root>` or `<bass>`.
fn name(node: Node<'_, '_>, prefix: &str, transposition: Transposition) -> Option<(PitchClass, String)> {
    let part = |suffix| {
        node.children().find(|child| {
            child.tag_name().name().strip_prefix(prefix).and_then(|rest| rest.strip_prefix('-'))
                == Some(suffix)
        })
    };
    let step = part("step").and_then(|step| text(step).chars().next()).and_then(Step::parse)?;
    let alter =
        part("alter").map_or(Some(0), |alter| whole::<i8>(text(alter))).filter(|a| a.unsigned_abs() <= 2)?;
    let class = PitchClass::new(step.semitones() + i16::from(alter));
    Some(match transposition.root(step, alter) {
        Some((step, alter)) => {
            let sign = if alter < 0 { "b" } else { "#" };
            let text = format!("{step:?}{}", sign.repeat(usize::from(alter.unsigned_abs())));
            (PitchClass::new(step.semitones() + i16::from(alter)), text)
        }
        None => {
            let sounding = class.transposed(transposition.interval());
            (sounding, sounding.to_string())
        }
    })
}

/// How a quality is usually printed (MusicXML 4.0, type `kind-value`; the signs are common practice, no source).
fn quality(kind: &str) -> &'static str {
    match kind {
        "minor" => "m",
        "augmented" => "+",
        "diminished" => "dim",
        "dominant" => "7",
        "major-seventh" => "maj7",
        "minor-seventh" => "m7",
        "diminished-seventh" => "dim7",
        "augmented-seventh" => "+7",
        "half-diminished" => "m7b5",
        "major-minor" => "m(maj7)",
        "major-sixth" => "6",
        "minor-sixth" => "m6",
        "dominant-ninth" => "9",
        "major-ninth" => "maj9",
        "minor-ninth" => "m9",
        "dominant-11th" => "11",
        "major-11th" => "maj11",
        "minor-11th" => "m11",
        "dominant-13th" => "13",
        "major-13th" => "maj13",
        "minor-13th" => "m13",
        "suspended-second" => "sus2",
        "suspended-fourth" => "sus4",
        "power" => "5",
        _ => "",
    }
}

/// An added, altered or omitted note of the chord.
fn push_degree(printed: &mut String, node: Node<'_, '_>) {
    if node.attribute("print-object") == Some("no") {
        return;
    }
    let Some(degree) = child_text(node, "degree-value").and_then(whole::<u8>) else { return };
    let sign = match child_text(node, "degree-alter").and_then(whole::<i8>) {
        Some(alter) if alter < 0 => "b",
        Some(alter) if alter > 0 => "#",
        _ => "",
    };
    let verb = match child_text(node, "degree-type") {
        Some("subtract") => "no",
        Some("add") if sign.is_empty() => "add",
        _ => "",
    };
    printed.push_str(&format!("({verb}{sign}{degree})"));
}
