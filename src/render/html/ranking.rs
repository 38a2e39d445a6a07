//! Draws the ranking as a picture: a bar for each row, made of the terms of its effort. A row is a radio button, so
//! that keyboards and screen readers can choose it.

use super::{
    blocks,
    markup::{element, escape},
};
use crate::{
    pages::practice::{PICTURED, Practice, PracticeRow, meaning},
    search::Term,
};

/// Draws the picture with its legend, and the same figures in numbers. The row `chosen` is checked.
pub(super) fn picture(page: &Practice, chosen: usize) -> String {
    let rows =
        page.rows.iter().enumerate().map(|(index, row)| self::row(page, (index, index == chosen), row));
    let rows: String = rows.collect();
    let used = |term: &Term| page.rows.iter().any(|row| row.effort[*term] > 0);
    let legend = PICTURED.into_iter().filter(used).map(|term| {
        let swatch = svg("swatch", &rect(term, 0.0, 100.0));
        let text = format!("{swatch}<b>{}</b> {}", term.name(), escape(meaning(term)));
        element("li", &[], &text)
    });
    let legend = element("ul", &[("class", "legend")], &legend.collect::<String>());
    let cut = page.rows.iter().any(|row| row.effort.total() > page.axis);
    let cut =
        if cut { "<p class=\"faint\">Bars with a jagged end go on beyond the picture.</p>" } else { "" };
    let numbers = element("summary", &[], "The same in numbers") + &blocks::all(&page.numbers.blocks);
    let numbers = element("details", &[("class", "numbers")], &numbers);
    let choice = element("legend", &[], "Ways to play it, best first");
    let fieldset = element("fieldset", &[("id", "ranking")], &(choice + &rows));
    let content = format!("{}{fieldset}{legend}{cut}{numbers}", textures());
    element("section", &[("class", "ranking"), ("aria-label", "Ranking")], &content)
}

fn row(page: &Practice, (index, chosen): (usize, bool), row: &PracticeRow) -> String {
    let mut at = 0;
    let mut bar = String::new();
    let share = |points: u64| points.min(page.axis) as f64 * 100.0 / page.axis.max(1) as f64;
    let costs = PICTURED.map(|term| (term, row.effort[term]));
    for (term, points) in costs.into_iter().filter(|&(_, points)| points > 0) {
        let (from, to) = (share(at), share(at.saturating_add(points)));
        if to > from {
            bar.push_str(&rect(term, from, to - from));
        }
        at = at.saturating_add(points);
    }
    let class = if row.effort.total() > page.axis { "bar cut" } else { "bar" };
    let value = index.to_string();
    let checked = if chosen { " checked" } else { "" };
    let rank = (index + 1).to_string();
    let name = format!(
        "<span class=\"rank\">{rank}</span><span class=\"name\"><b>{}</b> {}</span>",
        escape(&row.harp),
        escape(&row.place)
    );
    let plays = element(
        "span",
        &[("class", if row.plays_all { "plays" } else { "plays lacks" })],
        &escape(&row.plays),
    );
    let total = element(
        "span",
        &[("class", "total")],
        &format!("<span class=\"quiet\">effort </span>{}", row.effort.total()),
    );
    element(
        "label",
        &[],
        &format!(
            "<input type=\"radio\" name=\"row\" value=\"{value}\"{checked}>{name}{plays}{}{total}",
            svg(class, &bar)
        ),
    )
}

fn svg(class: &str, content: &str) -> String {
    element("svg", &[("class", class), ("aria-hidden", "true"), ("focusable", "false")], content)
}

/// Draws a piece of a bar. Besides its colour, a texture distinguishes it from its neighbours; only the breath is
/// plain.
fn rect(term: Term, from: f64, width: f64) -> String {
    let (x, width) = (format!("{from:.2}%"), format!("{width:.2}%"));
    let place = [("x", x.as_str()), ("width", &width), ("height", "100%")];
    let colour = format!("part {}", term.name());
    let plain = element("rect", &[&place[..], &[("class", &colour)]].concat(), "");
    match texture(term) {
        Some(texture) => plain + &element("rect", &[&place[..], &[("fill", texture)]].concat(), ""),
        None => plain,
    }
}

fn texture(term: Term) -> Option<&'static str> {
    match term {
        Term::Missing => Some("url(#crosses)"),
        Term::Bends => Some("url(#falling)"),
        Term::Breath => None,
        Term::Moves => Some("url(#dots)"),
        Term::Register => Some("url(#upright)"),
        Term::Lungs => Some("url(#rising)"),
        Term::Position => Some("url(#rings)"),
        Term::Changes => Some("url(#lying)"),
    }
}

fn textures() -> String {
    let pattern = |id: &str, path: &str| {
        let tile = [("id", id), ("width", "6"), ("height", "6"), ("patternUnits", "userSpaceOnUse")];
        element("pattern", &tile, &element("path", &[("class", "texture"), ("d", path)], ""))
    };
    let patterns = [
        pattern("crosses", "M0 0L6 6M6 0L0 6"),
        pattern("falling", "M0 0L6 6M-1 5L1 7M5 -1L7 1"),
        pattern("rising", "M0 6L6 0M-1 1L1 -1M5 7L7 5"),
        pattern("dots", "M2 3h1.5M5 0h1.5M5 6h1.5"),
        pattern("upright", "M2 0V6"),
        pattern("lying", "M0 2H6"),
        pattern("rings", "M1.5 3a1.5 1.5 0 1 0 3 0a1.5 1.5 0 1 0 -3 0"),
    ];
    svg("textures", &element("defs", &[], &patterns.concat()))
}
