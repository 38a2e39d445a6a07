//! Draws a page as Markdown (CommonMark with the tables of GitHub Flavored Markdown), for documents that another
//! program renders.
//!
//! Tab is written as a code block, because its columns matter. Tab tokens in running text are code too. Outside code,
//! every character that Markdown would interpret is escaped.

use super::text;
use crate::{
    clean::visible,
    pages::{Block, Line, Page, Span, Table, Tone},
};

/// Draws a page whose tab is no wider than `width`.
pub fn render(page: &Page, width: usize) -> String {
    let mut out = String::new();
    let mut in_list = false;
    for (index, block) in page.blocks.iter().enumerate() {
        let is_item = matches!(block, Block::Item(_));
        if in_list && !is_item {
            out.push('\n');
        }
        in_list = is_item;
        match block {
            Block::Text(line) if index == 0 => out += &format!("# {}\n\n", inline(&plain(line))),
            Block::Heading(line) => out += &format!("## {}\n\n", inline(&plain(line))),
            Block::Text(line) => out += &format!("{}\n\n", paragraph(line)),
            Block::Item(line) => out += &format!("- {}\n", paragraph(line)),
            Block::Table(given) => out += &table(given),
            Block::Pairs(pairs) => {
                let lines = text::pair_lines(pairs, width);
                out += &format!("```text\n{}\n```\n\n", lines.join("\n"));
            }
            Block::Tab(sheet) => {
                let lines = text::tab_lines(sheet, width);
                // Blank lines at both ends of the code block are dropped.
                let filled = |line: &String| !line.is_empty();
                let first = lines.iter().position(filled).unwrap_or(0);
                let last = lines.iter().rposition(filled).map_or(0, |last| last + 1);
                out += "```text\n";
                lines[first..last.max(first)].iter().for_each(|line| out += &format!("{line}\n"));
                out += "```\n\n";
            }
            Block::Gap => {}
        }
    }
    let end = out.trim_end().len();
    out.truncate(end);
    out.push('\n');
    out
}

/// Returns a line without tones, for headings, which are already strong.
fn plain(line: &Line) -> Line {
    let spans = line.spans.iter().map(|span| Span { tone: Tone::Plain, text: span.text.clone() });
    Line { spans: spans.collect() }
}

fn inline(line: &Line) -> String {
    let mut out = String::new();
    for Span { tone, text } in &line.spans {
        let cleaned = visible(text);
        let bare = cleaned.trim();
        if bare.is_empty() {
            out += &cleaned;
            continue;
        }
        // Markers of emphasis must touch the text that they emphasise.
        let before = &cleaned[..cleaned.len() - cleaned.trim_start().len()];
        let after = &cleaned[cleaned.trim_end().len()..];
        out += before;
        match tone {
            Tone::Strong => out += &format!("**{}**", escaped(bare)),
            Tone::Blow | Tone::Draw | Tone::Bent => out += &code(bare),
            Tone::Plain | Tone::Faint | Tone::Warning => out += &escaped(bare),
        }
        out += after;
    }
    out
}

/// Draws a paragraph. Escapes a sign at its beginning that would make it a list, a definition or the underline of a
/// heading.
fn paragraph(line: &Line) -> String {
    let text = inline(line);
    let digits = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    match text[digits..].chars().next() {
        Some('.' | ')') if digits > 0 => format!("{}\\{}", &text[..digits], &text[digits..]),
        Some('-' | '+' | '=' | ':') if digits == 0 => format!("\\{text}"),
        _ => text,
    }
}

fn code(text: &str) -> String {
    if text.contains('`') { escaped(text) } else { format!("`{}`", text.replace('|', "\\|")) }
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if matches!(c, '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|' | '~' | '&' | '$' | '!') {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

fn table(table: &Table) -> String {
    if table.columns.is_empty() {
        return String::new();
    }
    let row = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
    let mut out = row(table.columns.iter().map(|column| escaped(&visible(&column.title))).collect());
    let rules = table.columns.iter().map(|column| if column.numeric { "---:" } else { "---" }.to_owned());
    out += &row(rules.collect());
    for cells in &table.rows {
        out += &row(cells.iter().map(inline).collect());
    }
    out + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pages::Column;

    #[test]
    fn what_markdown_would_take_for_its_own_is_escaped() {
        let mut page = Page::default();
        page.text("*Title* & <b>\u{202e}[x](y)");
        page.text("1. not a list");
        page.text("- nor this");
        page.item(Line::from("play ").and(Tone::Draw, "-3'").and(Tone::Strong, " loud "));
        page.blocks.push(Block::Table(Table {
            columns: vec![Column::words("a|b"), Column::numbers("n")],
            rows: vec![vec![Line::from("c|d"), Line::from("1")]],
        }));
        let expected = [
            r"# \*Title\* \& \<b\>\[x\](y)",
            "",
            r"1\. not a list",
            "",
            r"\- nor this",
            "",
            "- play `-3'` **loud** ",
            "",
            r"| a\|b | n |",
            "| --- | ---: |",
            r"| c\|d | 1 |",
            "",
        ];
        assert_eq!(render(&page, 80), expected.join("\n"));
    }
}
