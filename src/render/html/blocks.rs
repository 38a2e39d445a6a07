//! Draws the blocks of a page as HTML.

use super::markup::{element, escape};
use crate::{
    pages::{Block, Line, Page, Table, Tone},
    render::text,
};

/// The width of the tab in characters. A phone shows half of it without scrolling; a sheet of paper could hold more.
const TAB_WIDTH: usize = 76;

/// Draws blocks from top to bottom. Consecutive items form one list.
pub(super) fn all(blocks: &[Block]) -> String {
    let mut html = String::new();
    for run in blocks.chunk_by(|a, b| matches!((a, b), (Block::Item(_), Block::Item(_)))) {
        let list = matches!(run, [Block::Item(_), ..]);
        let run: String = run.iter().map(block).collect();
        html.push_str(&if list { element("ul", &[], &run) } else { run });
    }
    html
}

fn block(block: &Block) -> String {
    match block {
        Block::Heading(text) => element("h3", &[], &line(text)),
        Block::Text(text) => element("p", &[], &line(text)),
        Block::Item(text) => element("li", &[], &line(text)),
        Block::Table(table) => self::table(table),
        Block::Tab(_) | Block::Pairs(_) => {
            let page = Page { blocks: vec![block.clone()] };
            let lines = text::render(&page, text::Look { width: TAB_WIDTH, colour: false });
            let lines: Vec<String> = lines.lines().map(escape).collect();
            let frame = [("tabindex", "0"), ("role", "region"), ("aria-label", "Tab as text")];
            element("pre", &frame, &lines.join("\n"))
        }
        Block::Gap => String::new(),
    }
}

/// Draws a line with its tones and without its options, for readers who type no commands.
pub(super) fn line(line: &Line) -> String {
    let line = line.without_options();
    let spans = line.spans.iter().map(|span| match tone(span.tone) {
        "" => escape(&span.text),
        "strong" => element("strong", &[], &escape(&span.text)),
        class => element("span", &[("class", class)], &escape(&span.text)),
    });
    spans.collect()
}

fn tone(tone: Tone) -> &'static str {
    match tone {
        Tone::Plain => "",
        Tone::Strong => "strong",
        Tone::Faint => "faint",
        Tone::Blow => "blow",
        Tone::Draw => "draw",
        Tone::Bent => "bent",
        Tone::Warning => "warning",
    }
}

fn table(table: &Table) -> String {
    let class = |column: usize| match table.columns.get(column) {
        Some(column) if column.numeric => vec![("class", "number")],
        _ => Vec::new(),
    };
    let head = table.columns.iter().enumerate().map(|(index, column)| {
        let attributes = [vec![("scope", "col")], class(index)].concat();
        // A column with an empty heading has the ranks or the names of the rows.
        match (column.title.as_str(), column.numeric) {
            ("", false) => element("td", &[], ""),
            ("", true) => element("th", &attributes, "rank"),
            (title, _) => element("th", &attributes, &escape(title)),
        }
    });
    let head = element("thead", &[], &element("tr", &[], &head.collect::<String>()));
    let rows = table.rows.iter().map(|row| {
        let cells = row.iter().enumerate().map(|(index, cell)| element("td", &class(index), &line(cell)));
        element("tr", &[], &cells.collect::<String>())
    });
    let body = element("tbody", &[], &rows.collect::<String>());
    let frame = [("class", "table"), ("tabindex", "0"), ("role", "region"), ("aria-label", "Table")];
    element("div", &frame, &element("table", &[], &(head + &body)))
}
