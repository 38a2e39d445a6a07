//! Draws the page to practise from as one HTML file that needs no network, no other file and no server.
//!
//! Style and script are part of the file. Its security policy names both by their hashes, so no title or lyric can run
//! a script or change the style. Every text is escaped as well. The document opens with the first approach. The other
//! approaches stay compressed in templates until the reader chooses them, so a page of ten sheets opens as quickly as a
//! page with a single sheet.

mod blocks;
mod book;
mod check;
mod holes;
mod markup;
mod packed;
mod ranking;
mod set;
mod strip;

use base64::{Engine, prelude::BASE64_STANDARD};
use sha2::{Digest, Sha256};

use crate::{
    json,
    pages::{
        Page,
        practice::{Practice, PracticeRow},
    },
};
pub use book::book;
pub use check::{check, comparison};
pub use holes::{choice, pins};
use markup::{element, escape};
pub use set::set;

const STYLE: &str = include_str!("html/page.css");
/// The player, and the script that starts it in this page.
const SCRIPT: &str = concat!(
    include_str!("html/sound.js"),
    include_str!("html/stand.js"),
    include_str!("html/drag.js"),
    include_str!("html/player.js"),
    include_str!("html/page.js")
);

/// The sheets of the rows, in the order of the rows, and the glyph outlines and the fonts that they share.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Sheets {
    /// An invisible SVG with the outlines.
    pub glyphs: String,
    /// Style rules with the fonts of all sheets, as data in the page.
    pub letters: String,
    /// One engraving for each row.
    pub rows: Vec<Engraving>,
}

/// The engraving of a row, as SVG that relies on the style of the page. The group of each note has `data-note` with the
/// note's index.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Engraving {
    /// The music in long lines, for a desk and for paper.
    pub broad: String,
    /// The music in short lines, for a phone.
    pub slim: String,
}

/// The pieces of the page with one of its approaches, for another page that has our style and our player.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Pieces {
    /// The answer in one line.
    pub headline: String,
    /// Remarks on the answer.
    pub verdict: String,
    /// The tune as read, and its oddities.
    pub facts: String,
    /// The ranking as a picture. A radio button chooses a row.
    pub ranking: String,
    /// The approach: the reasons why it is good or hard, and its hard bars.
    pub about: String,
    /// The sheet of the approach, and its tab as text.
    pub sheet: String,
    /// The notes on the harp over time.
    pub strip: String,
    /// The player.
    pub player: String,
    /// Cautions, and the keys that work the player.
    pub foot: String,
}

/// Draws the pieces of the page with the approach at `row`. If there is no such row, only headline and facts have
/// content.
pub fn pieces(page: &Practice, row: usize, sheet: &Engraving) -> Pieces {
    let (headline, rest) = page.verdict.blocks.split_at(1.min(page.verdict.blocks.len()));
    let (headline, facts) =
        (blocks::all(headline), blocks::all(page.opening.blocks.get(1..).unwrap_or_default()));
    let Some(shown) = page.rows.get(row) else { return Pieces { headline, facts, ..Pieces::default() } };
    Pieces {
        headline,
        verdict: blocks::all(rest),
        facts,
        ranking: ranking::picture(page, row),
        about: about(shown),
        sheet: music(shown, sheet),
        strip: on_the_harp(page, shown),
        player: player(page),
        foot: foot(page, true),
    }
}

/// Draws the page.
pub fn render(page: &Practice, sheets: &Sheets) -> String {
    let mut body = vec![opening(&page.title, &page.opening, &page.verdict)];
    if let Some((first, others)) = page.rows.split_first() {
        let none = Engraving::default();
        let sheet = |index: usize| sheets.rows.get(index).unwrap_or(&none);
        body.push(sheets.glyphs.clone());
        body.push(ranking::picture(page, 0));
        // Every browser can show the long lines. The short lines, for phones, stay compressed until the script unpacks
        // them.
        let slim = element("template", &[], &packed::packed(&sheet(0).slim));
        let shown = Engraving { broad: sheet(0).broad.clone(), slim };
        body.push(element("main", &[("id", "approach")], &approach(page, first, &shown)));
        for (index, row) in others.iter().enumerate() {
            let row = packed::packed(&approach(page, row, sheet(index + 1)));
            body.push(element("template", &[("data-row", &(index + 1).to_string())], &row));
        }
        body.push(player(page));
        body.push(element("footer", &[], &foot(page, false)));
        body.push(format!("<script type=\"application/json\" id=\"data\">{}</script>", json::practice(page)));
        body.push(format!("<script>{SCRIPT}</script>"));
    }
    document(&page.title, Some(SCRIPT), &sheets.letters, body)
}

/// Returns a document with our style. `letters` are the rules before our style, such as the fonts of the document's
/// sheets. The document's security policy allows these styles and the script, if there is one.
fn document(title: &str, script: Option<&str>, letters: &str, body: Vec<String>) -> String {
    let style = format!("{letters}{STYLE}");
    let scripts = script.map_or_else(|| "'none'".to_owned(), |script| format!("'{}'", hash(script)));
    let policy = format!(
        "default-src 'none'; script-src {scripts}; style-src '{}'; font-src data:; base-uri 'none'; \
         form-action 'none'",
        hash(&style)
    );
    let head = [
        "<meta charset=\"utf-8\">".to_owned(),
        format!("<meta http-equiv=\"Content-Security-Policy\" content=\"{}\">", escape(&policy)),
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">".to_owned(),
        "<meta name=\"color-scheme\" content=\"light dark\">".to_owned(),
        concat!("<meta name=\"generator\" content=\"breathline ", env!("CARGO_PKG_VERSION"), "\">")
            .to_owned(),
        element("title", &[], &escape(title)),
        format!("<style>{style}</style>"),
    ];
    let mut html =
        String::with_capacity(body.iter().chain(&head).map(|part| part.len() + 1).sum::<usize>() + 100);
    html += "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n";
    html += &head.join("\n");
    html += "\n</head>\n<body>\n";
    // Each part is dropped as soon as it is copied: together they may be as large as the page.
    for part in body {
        html += &part;
        html.push('\n');
    }
    html + "</body>\n</html>\n"
}

/// Returns the source of an inline style or script, as a security policy names it.
fn hash(text: &str) -> String {
    format!("sha256-{}", BASE64_STANDARD.encode(Sha256::digest(text.as_bytes())))
}

/// Draws the head of a page: the tune and the result.
fn opening(title: &str, opening: &Page, verdict: &Page) -> String {
    // On a terminal the title is the first block. Here it is the heading.
    let rest = opening.blocks.get(1..).unwrap_or_default();
    let title = element("h1", &[], &escape(title));
    let facts = element("div", &[("class", "facts")], &blocks::all(rest));
    let verdict = element("div", &[("class", "verdict")], &blocks::all(&verdict.blocks));
    element("header", &[], &format!("{title}{facts}{verdict}"))
}

/// Draws one approach: its reasons and hard bars, its sheet, and its notes on the harp over time.
fn approach(page: &Practice, row: &PracticeRow, sheet: &Engraving) -> String {
    [about(row), music(row, sheet), on_the_harp(page, row)].concat()
}

fn about(row: &PracticeRow) -> String {
    let about = element("div", &[("class", "why")], &blocks::all(&row.about.blocks));
    let place = [("class", "about"), ("aria-label", "This way to play the tune")];
    element("section", &place, &(about + &hard_bars(row)))
}

fn on_the_harp(page: &Practice, row: &PracticeRow) -> String {
    section("where", "The tune on the harp, over time", &strip::draw(page, row))
}

fn music(row: &PracticeRow, sheet: &Engraving) -> String {
    let tab = element("details", &[("class", "tab")], &{
        element("summary", &[], "The tab as text") + &blocks::all(&row.tab.blocks)
    });
    section("sheet", "The sheet", &(paper(sheet) + &tab))
}

/// Draws the engraving. The style shows either the long lines or the short lines.
fn paper(sheet: &Engraving) -> String {
    let parts = [("broad", &sheet.broad), ("slim", &sheet.slim)].into_iter();
    let parts = parts.map(|(class, drawn)| element("div", &[("class", class)], drawn));
    let frame = [
        ("class", "paper"),
        ("tabindex", "0"),
        ("role", "region"),
        ("aria-label", "Sheet music; the tab as text has the same notes"),
    ];
    element("div", &frame, &parts.collect::<String>())
}

fn section(class: &str, title: &str, content: &str) -> String {
    element("section", &[("class", class)], &(element("h2", &[], &escape(title)) + content))
}

/// Draws the hard bars, each with a button that moves the player there and sets a tempo for practice.
fn hard_bars(row: &PracticeRow) -> String {
    if row.hard.is_empty() {
        return String::new();
    }
    let items = row.hard.iter().map(|hard| {
        let percent = hard.percent.map_or(String::new(), |percent| percent.to_string());
        let bar = hard.bar.to_string();
        let mut attributes = vec![("type", "button"), ("class", "practise"), ("data-bar", &bar)];
        if hard.percent.is_some() {
            attributes.push(("data-percent", &percent));
        }
        let button = element("button", &attributes, "Practise it");
        element("li", &[], &format!("{} {button}", blocks::line(&hard.text)))
    });
    let title = crate::pages::reasons::hard_title(row.hard.len());
    let list = element("ul", &[], &items.collect::<String>());
    element("div", &[("class", "hard")], &(element("h3", &[], &title) + &list))
}

/// Draws the player, which stays at the lower edge while the rest of the page scrolls.
fn player(page: &Practice) -> String {
    let bars = |chosen: usize| {
        let options = page.bars.iter().enumerate().map(|(index, bar)| {
            let value = index.to_string();
            let mut attributes = vec![("value", value.as_str())];
            if index == chosen {
                attributes.push(("selected", ""));
            }
            element("option", &attributes, &escape(&bar.label))
        });
        options.collect::<String>()
    };
    let last = page.bars.len().saturating_sub(1);
    let most = page.notes.len().saturating_sub(1);
    format!(
        include_str!("html/player.html"),
        most = most,
        first = bars(0),
        last = bars(last),
        tempo = page.quarters_per_minute,
        dotted = if page.counts_dotted { " data-dotted" } else { "" },
        train_from = percents(30, 100, 60),
        train_to = percents(50, 150, 100),
        chords = if page.chords.is_empty() { "" } else { "<option value=\"chords\">the chords</option>" },
        hidden = if page.order.len() > 1 { "" } else { " hidden" }
    )
}

/// Returns tempos as options to choose from, in steps of the tempo slider.
fn percents(from: usize, to: usize, chosen: usize) -> String {
    let options = (from..=to).step_by(5).map(|percent| {
        let selected = if percent == chosen { " selected" } else { "" };
        format!("<option value=\"{percent}\"{selected}>{percent} %</option>")
    });
    options.collect()
}

/// Draws the cautions and the list of keys. `asks` is true if the page can ask the library for another answer, such as
/// another hole for a note.
fn foot(page: &Practice, asks: bool) -> String {
    let cautions = page.cautions.iter().map(|line| element("p", &[], &blocks::line(line)));
    let (more, clicked) = if asks {
        (
            "<dt><kbd>h</kbd></dt><dd>the other holes for this note</dd>\n",
            "Click a note on the strip to start there. Click a note on the sheet to see its other holes or, while the \
             tune plays, to continue from there.",
        )
    } else {
        ("", "Click a note on the sheet or on the strip to start there.")
    };
    cautions.collect::<String>() + &format!(include_str!("html/keys.html"), more = more, clicked = clicked)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The SHA-256 of "abc" is an example of FIPS 180-2; both hashes are in the base64 of RFC 4648.
    #[test]
    fn a_policy_names_a_text_by_its_hash() {
        assert_eq!(hash("abc"), "sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0=");
        assert_eq!(hash(""), "sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU=");
    }

    /// Neither text contains the sequence that would close its element early.
    #[test]
    fn style_and_script_stay_inside_their_elements() {
        assert!(!STYLE.to_lowercase().contains("</style") && !STYLE.contains("<!--"));
        assert!(!SCRIPT.to_lowercase().contains("</script") && !SCRIPT.contains("<!--"));
    }
}
