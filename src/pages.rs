//! Writes the text of every answer once and leaves the drawing to the renderers. Most answers are a [`Page`] of blocks;
//! lead sheets, the page to practise from and the page of a set have types of their own.
//!
//! A search result contains no words, and a renderer makes no musical decision. This module decides order, words and
//! rounding. [`crate::render`] draws a page as text, Markdown or HTML; [`crate::json`] gives the same answers as data,
//! with its own types.

pub(crate) mod alternatives;
pub mod bag;
pub mod book;
pub(crate) mod changes;
pub mod choice;
pub mod chords;
pub mod comparison;
pub mod harp;
pub mod key;
pub mod kit;
pub mod lead;
pub mod lesson;
pub mod levels;
pub mod notes;
pub mod pins;
pub mod positions;
pub mod practice;
pub(crate) mod ranking;
pub(crate) mod reasons;
pub mod set;
pub mod suggest;
pub mod tab;
pub mod tunes;
pub mod typed;
pub(crate) mod warnings;
pub(crate) mod words;

use crate::{import::Imported, melody::key::KeyFinding};

/// An imported tune with its key.
#[derive(Clone, Copy, Debug)]
pub struct Tune<'a> {
    /// The name to show when the file has no title.
    pub name: &'a str,
    /// The file as imported.
    pub imported: &'a Imported,
    /// The tune's key, with the evidence.
    pub key: &'a KeyFinding,
}

impl Tune<'_> {
    /// Returns the title, or the name if the title is missing or blank.
    pub fn title(&self) -> &str {
        let title = self.imported.melody.title.as_deref().map(str::trim);
        title.filter(|title| !title.is_empty()).unwrap_or(self.name)
    }
}

/// An answer, ready to be drawn.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Page {
    /// The blocks from top to bottom.
    pub blocks: Vec<Block>,
}

/// A piece of a page.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub enum Block {
    /// A heading with a blank line before it. Renderers wrap it.
    Heading(Line),
    /// A paragraph. Renderers wrap it.
    Text(Line),
    /// A list item. Renderers wrap and indent it.
    Item(Line),
    /// A table.
    Table(Table),
    /// Tab, bar by bar.
    Tab(tab::TabSheet),
    /// Pairs of a text and the text below it, as many side by side as fit on a line.
    Pairs(Vec<[Span; 2]>),
    /// An empty line.
    Gap,
}

/// A run of text in one or more tones.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Line {
    /// The pieces from left to right.
    pub spans: Vec<Span>,
}

/// Text in one tone.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Span {
    /// The tone.
    pub tone: Tone,
    /// The text, possibly from a file: renderers make it safe for their medium.
    pub text: String,
}

/// The role of a piece of text, for renderers that have colours. Colour is never the only carrier of meaning: the text
/// says the same without it.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub enum Tone {
    /// No special role.
    #[default]
    Plain,
    /// A title, or the main result.
    Strong,
    /// Secondary.
    Faint,
    /// A blow note.
    Blow,
    /// A draw note.
    Draw,
    /// A bent or overbent note.
    Bent,
    /// A note that cannot be sounded, or an oddity.
    Warning,
}

/// A table. Cells of numbers are aligned right. If the page is too narrow for it, the text renderer leaves out spare
/// columns. If the rest is still too wide, it becomes several tables, one below the other.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Table {
    /// Headings.
    pub columns: Vec<Column>,
    /// The rows. Each has one cell for each column.
    pub rows: Vec<Vec<Line>>,
}

/// A column of a table.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Column {
    /// The heading.
    pub title: String,
    /// Whether its cells are numbers.
    pub numeric: bool,
    /// How easily the table can spare the column: zero means never, and the column with the highest number is left out
    /// first.
    pub spare: u8,
}

impl Column {
    pub(crate) fn words(title: impl Into<String>) -> Column {
        Column { title: title.into(), numeric: false, spare: 0 }
    }

    pub(crate) fn numbers(title: impl Into<String>) -> Column {
        Column { numeric: true, ..Column::words(title) }
    }

    pub(crate) fn spare(self, ease: u8) -> Column {
        Column { spare: ease, ..self }
    }
}

/// Returns the heading over the answer for one of several files; `follows` adds space below the previous answer.
pub fn file(name: &str, follows: bool) -> Page {
    let mut page = Page::default();
    if follows {
        page.gap();
        page.gap();
    }
    page.text(Tone::Strong.of(name));
    page.text(Tone::Faint.of("=".repeat(name.chars().count())));
    page
}

impl Page {
    pub(crate) fn heading(&mut self, line: impl Into<Line>) {
        self.blocks.push(Block::Heading(line.into()));
    }

    pub(crate) fn text(&mut self, line: impl Into<Line>) {
        self.blocks.push(Block::Text(line.into()));
    }

    pub(crate) fn item(&mut self, line: impl Into<Line>) {
        self.blocks.push(Block::Item(line.into()));
    }

    pub(crate) fn gap(&mut self) {
        self.blocks.push(Block::Gap);
    }
}

impl Line {
    pub(crate) fn and(mut self, tone: Tone, text: impl Into<String>) -> Line {
        self.spans.push(Span { tone, text: text.into() });
        self
    }

    /// Returns the line without the command-line options in brackets, as in "(--key D)", for readers who type no
    /// commands. The brackets are removed with the option. An option outside brackets stays.
    pub(crate) fn without_options(&self) -> Line {
        let spans = self.spans.iter().map(|span| Span { tone: span.tone, text: without_options(&span.text) });
        Line { spans: spans.collect() }
    }

    /// Returns the text without its tones.
    pub fn plain(&self) -> String {
        self.spans.iter().map(|span| span.text.as_str()).collect()
    }
}

/// Removes brackets that contain options of the command line.
fn without_options(text: &str) -> String {
    let mut rest = text;
    let mut kept = String::with_capacity(text.len());
    while let Some((before, after)) = rest.split_once(" (") {
        let (inside, behind) = after.split_once(')').unwrap_or((after, ""));
        kept.push_str(before);
        if inside.contains("--") && after.contains(')') {
            rest = behind;
        } else {
            kept.push_str(" (");
            rest = after;
        }
    }
    kept + rest
}

/// Makes a line in the plain tone.
impl<S: Into<String>> From<S> for Line {
    fn from(text: S) -> Line {
        Line::default().and(Tone::Plain, text)
    }
}

impl Tone {
    pub(crate) fn of(self, text: impl Into<String>) -> Line {
        Line::default().and(self, text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn options_in_brackets_are_left_out_and_no_other_brackets() {
        for (text, kept) in [
            ("D major is 14% likely (--key D)", "D major is 14% likely"),
            ("try draw bends (--bends draw) or another key (--any-key).", "try draw bends or another key."),
            ("the harp (without --harps), F#5 (bars 3 and 7)", "the harp, F#5 (bars 3 and 7)"),
            ("an end that is (not closed", "an end that is (not closed"),
        ] {
            assert_eq!(without_options(text), kept);
        }
    }
}
