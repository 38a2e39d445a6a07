//! The ranking as a picture: one bar a row, made of the parts of its effort; a row is a radio button, so that keyboards and
//! screen readers know how to choose it.

use super::{
    blocks,
    markup::{element, escape},
};
use crate::report::practice::{Part, Practice, Row};

/// The picture with its legend, and the same in numbers.
pub(super) fn picture(page: &Practice) -> String {
    let rows: String = page.rows.iter().enumerate().map(|(index, row)| self::row(page, index, row)).collect();
    let used = |part: &Part| {
        page.rows.iter().flat_map(|row| row.parts).any(|(of, points)| of == *part && points > 0)
    };
    let legend = Part::ALL.into_iter().filter(used).map(|part| {
        let swatch = svg("swatch", &rect(part, 0.0, 100.0));
        let text = format!("{swatch}<b>{}</b> {}", part.word(), escape(part.meaning()));
        element("li", &[], &text)
    });
    let legend = element("ul", &[("class", "legend")], &legend.collect::<String>());
    let cut = page.rows.iter().any(|row| row.total > page.axis);
    let cut =
        if cut { "<p class=\"faint\">Bars with a jagged end go on beyond the picture.</p>" } else { "" };
    let numbers = element("summary", &[], "The same in numbers") + &blocks::all(&page.numbers.blocks);
    let numbers = element("details", &[("class", "numbers")], &numbers);
    let choice = element("legend", &[], "Ways to play it, best first");
    let fieldset = element("fieldset", &[("id", "ranking")], &(choice + &rows));
    let content = format!("{}{fieldset}{legend}{cut}{numbers}", textures());
    element("section", &[("class", "ranking"), ("aria-label", "Ranking")], &content)
}

fn row(page: &Practice, index: usize, row: &Row) -> String {
    let mut at = 0;
    let mut bar = String::new();
    let share = |points: u64| points.min(page.axis) as f64 * 100.0 / page.axis.max(1) as f64;
    for (part, points) in row.parts.into_iter().filter(|&(_, points)| points > 0) {
        let (from, to) = (share(at), share(at.saturating_add(points)));
        if to > from {
            bar.push_str(&rect(part, from, to - from));
        }
        at = at.saturating_add(points);
    }
    let class = if row.total > page.axis { "bar cut" } else { "bar" };
    let value = index.to_string();
    let checked = if index == 0 { " checked" } else { "" };
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
    let total =
        element("span", &[("class", "total")], &format!("<span class=\"quiet\">effort </span>{}", row.total));
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

/// A piece of a bar: its colour, and a texture that tells it from its neighbours without colour.
fn rect(part: Part, from: f64, width: f64) -> String {
    let (x, width) = (format!("{from:.2}%"), format!("{width:.2}%"));
    let place = [("x", x.as_str()), ("width", &width), ("height", "100%")];
    let colour = format!("part {}", part.word());
    let plain = element("rect", &[&place[..], &[("class", &colour)]].concat(), "");
    match texture(part) {
        Some(texture) => plain + &element("rect", &[&place[..], &[("fill", texture)]].concat(), ""),
        None => plain,
    }
}

fn texture(part: Part) -> Option<&'static str> {
    match part {
        Part::Missing => Some("url(#crosses)"),
        Part::Bends => Some("url(#falling)"),
        Part::Breath => None,
        Part::Moves => Some("url(#dots)"),
        Part::Register => Some("url(#upright)"),
        Part::Lungs => Some("url(#rising)"),
        Part::Position => Some("url(#rings)"),
        Part::Changes => Some("url(#lying)"),
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
