//! The page of a tab that was read from text: its notes by name, line by line.

use super::{Block, Page, Span, Tone, tab, words};
use crate::{
    harp::Harp,
    tab::{
        Notation, Style,
        read::{TabText, TypedNote},
    },
};

/// Builds the page of `breathline tab` for a text.
pub fn page(name: &str, harp: &Harp, text: &TabText, notation: Notation) -> Page {
    let mut page = Page::default();
    page.text(Tone::Strong.of(name));
    page.text(format!(
        "{}, read as {}, for {} {}.",
        words::sentence(&words::plural(text.notes.len() as u32, "note", "notes")),
        style(text.style),
        words::article(harp),
        words::harp(harp)
    ));
    let pitches = text.notes.iter().filter_map(|note| harp.pitch(note.action));
    if let (Some(low), Some(high)) = (pitches.clone().min(), pitches.max()) {
        page.text(format!(
            "It sounds from {} to {}.",
            super::harp::name(harp, low),
            super::harp::name(harp, high)
        ));
    }
    let performed = text.performed().len();
    if performed > text.notes.len() {
        page.text(format!(
            "With its repeats it has {} in all.",
            words::plural(performed as u32, "note", "notes")
        ));
    }
    for oddity in &text.oddities {
        page.item(Tone::Warning.of(words::sentence(&oddity.to_string())));
    }
    for note in text.notes.iter().filter(|note| harp.pitch(note.action).is_none()) {
        page.item(Tone::Warning.of(format!(
            "{}: the {} has no {}",
            words::sentence(&note.at.to_string()),
            words::harp(harp),
            notation.write(note.action)
        )));
    }
    page.gap();
    for line in text.notes.chunk_by(|a, b| a.at.line == b.at.line) {
        page.blocks.push(Block::Pairs(line.iter().map(|note| cell(note, harp, notation)).collect()));
    }
    page
}

/// Returns the name of a style.
fn style(style: Style) -> &'static str {
    match style {
        Style::Signed => "signed tab (4 and -4)",
        Style::Plus => "tab with plus and minus (+4 and -4)",
        Style::Arrows => "tab with arrows (up is blow, down is draw)",
        Style::Letters => "tab with letters (4B and 4D)",
        Style::Parentheses => "tab with draw notes in brackets (4 and (4))",
        Style::Circled => "tab with draw notes in circles (4 and ④)",
        Style::Rows => "tab with B and D in a row under the holes",
    }
}

/// Returns the name of the pitch that a note sounds, or `?` if the harp cannot sound it.
pub(crate) fn name(harp: &Harp, note: &TypedNote) -> String {
    harp.pitch(note.action).map_or("?".to_owned(), |pitch| super::harp::name(harp, pitch))
}

/// Returns a note with its name under it.
fn cell(note: &TypedNote, harp: &Harp, notation: Notation) -> [Span; 2] {
    let token = Span { tone: tab::tone(note.action), text: notation.write(note.action) };
    [token, Span { tone: Tone::Faint, text: name(harp, note) }]
}
