//! The page of a set for the music stand. It has no script: the style derives the size of the letters from a few
//! measures.

use unicode_width::UnicodeWidthStr;

use super::{document, element, escape};
use crate::pages::set::{Stand, StandRow};

/// Draws the page of a set.
pub fn set(stand: &Stand) -> String {
    let verdict = element("p", &[], &escape(&stand.verdict));
    let head = element("h1", &[], &escape(&stand.title)) + &element("div", &[("class", "verdict")], &verdict);
    let rows: String = (1..).zip(&stand.rows).map(|(number, row)| self::row(number, row)).collect();
    let table = element("table", &[], &(heading() + &element("tbody", &[], &rows)));
    let remarks = stand.remarks.iter().map(|remark| element("p", &[], &escape(remark)));
    let body = vec![
        element("header", &[], &head),
        element("main", &[("class", "stand")], &element("section", &[], &table)),
        element("footer", &[], &remarks.collect::<String>()),
    ];
    document(&stand.title, None, &measures(stand), body)
}

/// Returns the measures for the size of the letters: the numbers of lines, and the columns that the widest texts need.
fn measures(stand: &Stand) -> String {
    /// On paper, a longer title is cut.
    const TITLE: usize = 36;
    /// The number of letters of a remark that fit in a line.
    const REMARK: usize = 100;
    let changes = stand.rows.iter().filter(|row| row.change.is_some()).count();
    let longest =
        |text: fn(&StandRow) -> &str| stand.rows.iter().map(|row| text(row).width()).max().unwrap_or(0);
    let measures = [
        ("tunes", stand.rows.len()),
        ("changes", changes),
        ("remarks", stand.remarks.iter().map(|remark| remark.width().div_ceil(REMARK)).sum()),
        ("harp", longest(|row| &row.harp)),
        ("title", longest(|row| &row.title).min(TITLE)),
        ("about", longest(|row| &row.about)),
    ];
    let measures = measures.map(|(name, value)| format!("--set-{name}: {value};"));
    format!(":root {{ {} }}\n", measures.join(" "))
}

/// Returns the headings, which only screen readers use.
fn heading() -> String {
    let cells = ["Harp", "Number", "Tune", "Position and key"];
    let cells = cells.map(|cell| element("th", &[("scope", "col")], cell));
    element("thead", &[], &element("tr", &[], &cells.concat()))
}

fn row(number: usize, row: &StandRow) -> String {
    let cell = |class, text: &str| element("td", &[("class", class)], &escape(text));
    let change = row.change.as_ref().map_or_else(String::new, |change| {
        let cell = element("td", &[("colspan", "4")], &escape(change));
        element("tr", &[("class", "change")], &cell)
    });
    let number = number.to_string();
    let cells = [
        cell("take", &row.harp),
        cell("rank", &number),
        cell("title", &row.title),
        cell("position", &row.about),
    ];
    change + &element("tr", &[], &cells.concat())
}
