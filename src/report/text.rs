//! A page as lines of text for a terminal or a file, within a width, with colours where they are wanted.

mod tab;

use super::{Block, Line, Page, Span, Table, Tone};

/// How wide and how colourful.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Look {
    /// The most characters in a line.
    pub width: usize,
    /// Whether to use ANSI colours.
    pub colour: bool,
}

/// Draws a page; the text ends with a line break. Control characters of foreign text are left out.
pub fn render(page: &Page, look: Look) -> String {
    let mut lines: Vec<Line> = Vec::new();
    for block in &page.blocks {
        match block {
            Block::Heading(line) => lines.extend([Line::default(), line.clone()]),
            Block::Text(line) => lines.extend(wrap(line, look.width, "", "  ")),
            Block::Item(line) => lines.extend(wrap(line, look.width, "  ", "    ")),
            Block::Table(given) => lines.extend(table(given)),
            Block::Tab(sheet) => lines.extend(tab::lines(sheet, look.width)),
            Block::Gap => lines.push(Line::default()),
        }
    }
    let mut text = String::new();
    for line in &lines {
        draw(line, look.colour, &mut text);
        text.push('\n');
    }
    text
}

fn draw(line: &Line, colour: bool, out: &mut String) {
    // Nothing but space at the end of a line.
    let end = line.spans.iter().rposition(|span| !span.text.trim_end().is_empty()).map_or(0, |last| last + 1);
    for (index, span) in line.spans[..end].iter().enumerate() {
        let text = clean(&span.text);
        let text = if index + 1 == end { text.trim_end() } else { &text };
        let style = if colour { style(span.tone) } else { anstyle::Style::new() };
        out.push_str(&format!("{style}{text}{style:#}"));
    }
}

/// Text from a file may hold control characters, among them escape sequences for the terminal.
fn clean(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).collect()
}

fn style(tone: Tone) -> anstyle::Style {
    use anstyle::{AnsiColor, Style};
    match tone {
        Tone::Plain => Style::new(),
        Tone::Strong => Style::new().bold(),
        Tone::Faint => Style::new().dimmed(),
        Tone::Blow => AnsiColor::Cyan.on_default(),
        Tone::Draw => AnsiColor::Magenta.on_default(),
        Tone::Bent => AnsiColor::Yellow.on_default(),
        Tone::Warning => AnsiColor::Red.on_default(),
    }
}

/// How many columns a text takes. Every character counts as one: names of notes, tab and Western lyrics do.
fn width(text: &str) -> usize {
    clean(text).chars().count()
}

fn line_width(line: &Line) -> usize {
    line.spans.iter().map(|span| width(&span.text)).sum()
}

/// Wraps at spaces; words keep their tone. A word that is too long stands alone and sticks out.
fn wrap(line: &Line, limit: usize, first: &str, further: &str) -> Vec<Line> {
    let mut lines = vec![Line::from(first)];
    let mut used = first.chars().count();
    let mut fresh = true;
    let mut space = false;
    for Span { tone, text } in &line.spans {
        for piece in text.split_inclusive(' ') {
            let word = piece.trim_end_matches(' ');
            // A word may go on over a change of tone, so the space before it is only known from what was seen.
            let needed = width(word) + usize::from(space && !fresh);
            if used + needed > limit && !fresh && (space || word.is_empty()) {
                lines.push(Line::from(further));
                used = further.chars().count();
                (fresh, space) = (true, false);
            }
            if let Some(last) = lines.last_mut() {
                if space && !fresh {
                    last.spans.push(Span { tone: Tone::Plain, text: " ".to_owned() });
                    used += 1;
                }
                if !word.is_empty() {
                    last.spans.push(Span { tone: *tone, text: word.to_owned() });
                    used += width(word);
                    fresh = false;
                    space = false;
                }
            }
            if piece.ends_with(' ') {
                space = !fresh;
            }
        }
    }
    lines
}

fn table(table: &Table) -> Vec<Line> {
    let widths: Vec<usize> = (0..table.columns.len())
        .map(|column| {
            let cells = table.rows.iter().map(|row| row.get(column).map_or(0, line_width));
            cells.chain([width(&table.columns[column].title)]).max().unwrap_or(0)
        })
        .collect();
    let head = table.columns.iter().map(|column| Tone::Faint.of(column.title.as_str())).collect();
    let rows = std::iter::once(&head).chain(&table.rows);
    rows.map(|row: &Vec<Line>| {
        let mut line = Line::default();
        for (index, (cell, column)) in row.iter().zip(&table.columns).enumerate() {
            let pad = " ".repeat(widths[index].saturating_sub(line_width(cell)));
            line = line.and(Tone::Plain, "  ");
            if column.numeric {
                line = line.and(Tone::Plain, pad);
                line.spans.extend(cell.spans.iter().cloned());
            } else {
                line.spans.extend(cell.spans.iter().cloned());
                line = line.and(Tone::Plain, pad);
            }
        }
        line
    })
    .collect()
}
