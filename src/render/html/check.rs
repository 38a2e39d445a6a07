//! The page of a check: first the changes to make, then the ways one above the other, then the reasons. There are two
//! ways, or only one if it is the best. The page has no script.

use super::{Engraving, Sheets, blocks, document, element, escape, opening, paper, section};
use crate::pages::{Page, comparison::Comparison};

/// Draws the page of a check.
pub fn check(comparison: &Comparison, sheets: &Sheets) -> String {
    let verdict = [comparison.question.blocks.as_slice(), &comparison.verdict.blocks].concat();
    let head = opening(&comparison.title, &comparison.opening, &Page { blocks: verdict });
    let mut parts = Vec::new();
    if let Some(sheet) = sheets.rows.first().filter(|_| !comparison.sides.is_empty()) {
        parts.push(ways(comparison, sheet));
    }
    for part in &comparison.sections {
        parts.push(section("reasons", &part.title, &blocks::all(&part.page.blocks)));
    }
    let cautions = comparison.cautions.iter().map(|line| element("p", &[], &escape(line)));
    let foot = element("footer", &[], &cautions.collect::<String>());
    let body = vec![head, sheets.glyphs.clone(), element("main", &[], &parts.concat()), foot];
    document(&comparison.title, None, &sheets.letters, body)
}

/// Draws a check for a page that already shows the tune and can play it. The script of this page makes a button with
/// `data-hear` play the way with this index.
pub fn comparison(comparison: &Comparison, sheets: &Sheets) -> String {
    let result = blocks::all(&comparison.question.blocks) + &blocks::all(&comparison.verdict.blocks);
    let hear = comparison.sides.iter().enumerate().map(|(index, side)| {
        let index = index.to_string();
        let attributes = [("type", "button"), ("data-hear", index.as_str()), ("aria-pressed", "false")];
        element("button", &attributes, &escape(&format!("Hear {}", side.name)))
    });
    let hear = element("div", &[("class", "row")], &hear.collect::<String>());
    let sheet = sheets.rows.first().filter(|_| !comparison.sides.is_empty());
    let sheet = sheet.map(|sheet| sheets.glyphs.clone() + &hear + &ways(comparison, sheet));
    let sections = comparison.sections.iter();
    let sections =
        sections.map(|part| element("h3", &[], &escape(&part.title)) + &blocks::all(&part.page.blocks));
    result + &sheet.unwrap_or_default() + &sections.collect::<String>()
}

/// Draws the ways as one sheet, and each way as text.
fn ways(comparison: &Comparison, sheet: &Engraving) -> String {
    let title = if comparison.sides.len() > 1 { "One above the other" } else { "The sheet" };
    let ways = comparison.ways().into_iter().map(|way| element("p", &[], &escape(&way)));
    let ways = element("div", &[("class", "ways")], &ways.collect::<String>());
    let tabs = comparison
        .sides
        .iter()
        .map(|side| element("h3", &[], &escape(&side.heading)) + &blocks::all(&side.tab.blocks));
    let tabs = element("summary", &[], "The tab as text") + &tabs.collect::<String>();
    let content = [ways, paper(sheet), element("details", &[("class", "tab")], &tabs)];
    section("sheet", title, &content.concat())
}
