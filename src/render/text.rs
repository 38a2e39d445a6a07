//! Draws a page as lines of text for a terminal or a file, within a width, with or without colours.

mod bars;

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::{
    clean::visible,
    pages::{Block, Line, Page, Span, Table, Tone, tab::TabSheet},
};

/// Width and colour of the text.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Look {
    /// The most columns in a line.
    pub width: usize,
    /// Whether to use ANSI colours.
    pub colour: bool,
}

/// Draws a page; every line ends with a line break. Leaves out the hidden characters of text from files.
pub fn render(page: &Page, look: Look) -> String {
    let mut lines: Vec<Line> = Vec::new();
    for block in &page.blocks {
        match block {
            Block::Heading(line) => {
                lines.push(Line::default());
                lines.extend(wrap(line, look.width, "", "  "));
            }
            Block::Text(line) => lines.extend(wrap(line, look.width, "", "  ")),
            Block::Item(line) => lines.extend(wrap(line, look.width, "  ", "    ")),
            Block::Table(given) => lines.extend(table(given, look.width)),
            Block::Tab(sheet) => lines.extend(bars::lines(sheet, look.width)),
            Block::Pairs(given) => lines.extend(pairs(given, look.width)),
            Block::Gap => lines.push(Line::default()),
        }
    }
    let mut text = String::new();
    for line in &lines {
        draw(&within(line, look.width), look.colour, &mut text);
        text.push('\n');
    }
    text
}

/// Draws tab without colours, for a page in another format.
pub(super) fn tab_lines(sheet: &TabSheet, width: usize) -> Vec<String> {
    let lines = bars::lines(sheet, width).into_iter();
    lines.map(|line| visible(&within(&line, width).plain()).trim_end().to_owned()).collect()
}

/// Draws pairs of texts, each first text over its second, without colours, for a page in another format.
pub(super) fn pair_lines(given: &[[Span; 2]], width: usize) -> Vec<String> {
    pairs(given, width).iter().map(|line| visible(&line.plain()).trim_end().to_owned()).collect()
}

/// Returns a line within a width. An ellipsis replaces the part that was cut off.
fn within(line: &Line, limit: usize) -> Line {
    if line_width(line) <= limit {
        return line.clone();
    }
    let (mut cut, mut used) = (Line::default(), 0);
    for span in &line.spans {
        let text = clip(&span.text, limit - used);
        used += width(&text);
        let is_cut = text != visible(&span.text);
        cut.spans.push(Span { tone: span.tone, text });
        if is_cut || used >= limit {
            break;
        }
    }
    cut
}

/// Returns text within a width.
fn clip(text: &str, limit: usize) -> String {
    let text = visible(text);
    if text.width() <= limit {
        return text;
    }
    let (mut cut, mut used) = (String::new(), 1);
    for c in text.chars() {
        used += c.width().unwrap_or(0);
        if used > limit {
            break;
        }
        cut.push(c);
    }
    if limit > 0 { cut + "…" } else { cut }
}

fn draw(line: &Line, colour: bool, out: &mut String) {
    // A line never ends in spaces.
    let end = line.spans.iter().rposition(|span| !span.text.trim_end().is_empty()).map_or(0, |last| last + 1);
    for (index, span) in line.spans[..end].iter().enumerate() {
        let text = visible(&span.text);
        let text = if index + 1 == end { text.trim_end() } else { &text };
        match style(span.tone).filter(|_| colour) {
            Some(code) => out.push_str(&format!("\u{1b}[{code}m{text}\u{1b}[0m")),
            None => out.push_str(text),
        }
    }
}

/// Returns the code with which a terminal shows a tone (ECMA-48, 8.3.117, "select graphic rendition"): bold, faint or a
/// colour; `None` for plain text.
fn style(tone: Tone) -> Option<u8> {
    match tone {
        Tone::Plain => None,
        Tone::Strong => Some(1),
        Tone::Faint => Some(2),
        Tone::Warning => Some(31),
        Tone::Bent => Some(33),
        Tone::Draw => Some(35),
        Tone::Blow => Some(36),
    }
}

/// Returns the number of columns that a text takes on a terminal: two for a Chinese character, none for an accent on
/// the letter before it.
fn width(text: &str) -> usize {
    visible(text).width()
}

fn line_width(line: &Line) -> usize {
    line.spans.iter().map(|span| width(&span.text)).sum()
}

/// Wraps a line at spaces. The tone may change in the middle of a word. A word that is too long for a line is broken.
fn wrap(line: &Line, limit: usize, first: &str, further: &str) -> Vec<Line> {
    let mut lines = vec![Line::from(first)];
    let mut used = first.chars().count();
    let mut fresh = true;
    let room = limit.saturating_sub(further.chars().count()).max(1);
    for word in words(line).into_iter().flat_map(|word| broken(word, room)) {
        let needed = line_width(&word);
        if !fresh && used + 1 + needed > limit {
            lines.push(Line::from(further));
            (used, fresh) = (further.chars().count(), true);
        }
        let Some(last) = lines.last_mut() else { break };
        if !fresh {
            last.spans.push(Span { tone: Tone::Plain, text: " ".to_owned() });
            used += 1;
        }
        last.spans.extend(word.spans);
        (used, fresh) = (used + needed, false);
    }
    lines
}

/// Breaks a word into pieces that fit in a line.
fn broken(word: Line, room: usize) -> Vec<Line> {
    if line_width(&word) <= room {
        return vec![word];
    }
    let (mut pieces, mut used) = (vec![Line::default()], 0);
    for Span { tone, text } in &word.spans {
        for c in visible(text).chars() {
            let columns = c.width().unwrap_or(0);
            if used > 0 && used + columns > room {
                pieces.push(Line::default());
                used = 0;
            }
            used += columns;
            let Some(piece) = pieces.last_mut() else { break };
            match piece.spans.last_mut().filter(|span| span.tone == *tone) {
                Some(span) => span.text.push(c),
                None => piece.spans.push(Span { tone: *tone, text: c.to_string() }),
            }
        }
    }
    pieces
}

/// Returns the words of a line, each with its tones.
fn words(line: &Line) -> Vec<Line> {
    let mut words = vec![Line::default()];
    for Span { tone, text } in &line.spans {
        for (index, piece) in text.split(' ').enumerate() {
            if index > 0 {
                words.push(Line::default());
            }
            if let Some(word) = words.last_mut().filter(|_| !piece.is_empty()) {
                word.spans.push(Span { tone: *tone, text: piece.to_owned() });
            }
        }
    }
    words.retain(|word| !word.spans.is_empty());
    words
}

/// Draws pairs as two rows, one under the other, and begins two new rows when these rows are full.
fn pairs(pairs: &[[Span; 2]], limit: usize) -> Vec<Line> {
    let mut lines: Vec<Line> = Vec::new();
    let mut used = limit;
    for pair in pairs {
        let room = pair.iter().map(|span| width(&span.text)).max().unwrap_or(0) + 1;
        if used + room > limit {
            lines.extend([Line::default(), Line::default()]);
            used = 0;
        }
        let last = lines.len() - 2;
        for (line, span) in lines[last..].iter_mut().zip(pair) {
            line.spans.push(span.clone());
            let pad = " ".repeat(room - width(&span.text));
            line.spans.push(Span { tone: Tone::Plain, text: pad });
        }
        used += room;
    }
    lines
}

/// A shown column: its index and its width.
type Shown = (usize, usize);

/// Draws a table. If it is too wide, it loses its indent, then spare columns, until it fits. A table that is still too
/// wide is split into several tables that all begin with the first column.
fn table(table: &Table, limit: usize) -> Vec<Line> {
    let width_of = |column: usize| {
        let cells = table.rows.iter().map(|row| row.get(column).map_or(0, line_width));
        cells.chain([width(&table.columns[column].title)]).max().unwrap_or(0)
    };
    let mut shown: Vec<Shown> = (0..table.columns.len()).map(|column| (column, width_of(column))).collect();
    let room = |shown: &[Shown]| shown.iter().map(|(_, width)| width + GAP.len()).sum::<usize>();
    let indent = if room(&shown) <= limit { GAP } else { "" };
    let limit = limit + GAP.len() - indent.len();
    while room(&shown) > limit {
        let ease = |&(index, (column, _)): &(usize, &Shown)| (table.columns[*column].spare, index);
        let Some((index, (column, _))) = shown.iter().enumerate().max_by_key(ease) else { break };
        if table.columns[*column].spare == 0 {
            break;
        }
        shown.remove(index);
    }
    let Some((&first, others)) = shown.split_first() else { return Vec::new() };
    let mut tables: Vec<Vec<Shown>> = vec![vec![first]];
    for &column in others {
        match tables.last_mut() {
            Some(last) if last.len() == 1 || room(last) + column.1 + GAP.len() <= limit => last.push(column),
            _ => tables.push(vec![first, column]),
        }
    }
    let mut lines = Vec::new();
    for (index, shown) in tables.iter().enumerate() {
        if index > 0 {
            lines.push(Line::default());
        }
        lines.extend(rows(table, shown, indent));
    }
    lines
}

/// Draws the given columns of a table, with their headings.
fn rows(table: &Table, shown: &[Shown], indent: &str) -> Vec<Line> {
    let head = table.columns.iter().map(|column| Tone::Faint.of(column.title.as_str())).collect();
    let row = |row: &Vec<Line>| {
        let mut line = Line::default();
        for (index, &(column, width)) in shown.iter().enumerate() {
            let Some(cell) = row.get(column) else { continue };
            let gap = if index == 0 { indent } else { GAP };
            let pad = " ".repeat(width.saturating_sub(line_width(cell)));
            let (before, after) =
                if table.columns[column].numeric { (pad, String::new()) } else { (String::new(), pad) };
            line = line.and(Tone::Plain, format!("{gap}{before}"));
            line.spans.extend(cell.spans.iter().cloned());
            line = line.and(Tone::Plain, after);
        }
        line
    };
    std::iter::once(&head).chain(&table.rows).map(row).collect()
}

/// The space before each column of a table.
const GAP: &str = "  ";
