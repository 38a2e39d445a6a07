//! Chord symbols: splits a `<harmony>` element into note names and the text between them.

use roxmltree::Node;

use super::{
    transpose::Transposition,
    value::{child, child_text, is, text, whole},
};
use crate::{
    melody::ChordSymbol,
    pitch::{Name, Step},
    time::Beats,
};

/// Reads the first chord of the element, at sounding pitch; the caller sets the chord's place. Returns `None` if the
/// element names a degree of the key, or if its root cannot be read.
pub(super) fn read(node: Node<'_, '_>, transposition: Transposition) -> Option<ChordSymbol> {
    let kind = child(node, "kind");
    let kind_name = kind.map(text).unwrap_or_default();
    // The file's own text for the quality is preferred, because the musician has seen it in print.
    let printed = kind.and_then(|kind| kind.attribute("text")).map(str::trim);
    if kind_name == "none" {
        let quality = printed.filter(|printed| !printed.is_empty()).unwrap_or("N.C.").to_owned();
        return Some(ChordSymbol { at: Beats::ZERO, root: None, quality, bass: None });
    }
    let root = child(node, "root").and_then(|root| name(root, "root", transposition))?;
    let mut quality = printed.unwrap_or_else(|| quality(kind_name)).to_owned();
    for degree in node.children().filter(|child| is(*child, "degree")) {
        push_degree(&mut quality, degree);
    }
    let bass = child(node, "bass").and_then(|bass| name(bass, "bass", transposition));
    Some(ChordSymbol { at: Beats::ZERO, root: Some(root), quality, bass })
}

/// Reads the note of `<root>` or `<bass>`.
fn name(node: Node<'_, '_>, prefix: &str, transposition: Transposition) -> Option<Name> {
    let part = |suffix| {
        node.children().find(|child| {
            child.tag_name().name().strip_prefix(prefix).and_then(|rest| rest.strip_prefix('-'))
                == Some(suffix)
        })
    };
    let step = part("step").and_then(|step| text(step).chars().next()).and_then(Step::parse)?;
    let alter =
        part("alter").map_or(Some(0), |alter| whole::<i8>(text(alter))).filter(|a| a.unsigned_abs() <= 2)?;
    let written = Name { step, alter };
    Some(transposition.name(written).unwrap_or_else(|| {
        let sounding = written.class().transposed(transposition.interval());
        // Without scale steps, the note gets its most usual spelling.
        Name::leading(&sounding.to_string()).map_or(written, |(name, _)| name)
    }))
}

/// Returns the usual printed form of a quality (MusicXML 4.0, type `kind-value`; the signs are common practice, no
/// source).
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

/// Appends an added, altered or omitted note of the chord.
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
