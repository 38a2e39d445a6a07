//! Draws the tune on the harp over time: a lane for each hole, below the lanes the direction of the breath, and below
//! the breath the air in the lungs.
//!
//! Blow and draw differ in shape and place as well as in colour. A blown note is hollow and points up; a drawn note is
//! solid and points down, as on the sheet. A bend sinks from its lane by its depth; an overbend rises from its lane and
//! ends in a ring.

use super::markup::{element, escape};
use crate::{
    harp::{Action, Bend, Breath, HOLES},
    pages::practice::{Played, Practice, PracticeNote, PracticeRow},
    search::breath::Limit,
};

/// The height of a lane. All heights and widths are in pixels.
const LANE: u64 = 19;
/// The height above the lanes, for bar numbers.
const HEAD: u64 = 22;
/// The height of the lane under hole 1, for silent notes.
const SILENT: u64 = 15;
/// The height of the ribbon that shows the breath.
const RIBBON: u64 = 11;
const RIBBON_TOP: u64 = HEAD + LANE * HOLES as u64 + SILENT + 16;
const LUNGS_TOP: u64 = RIBBON_TOP + RIBBON + 24;
const LUNGS: u64 = 80;
const HEIGHT: u64 = LUNGS_TOP + LUNGS + 10;
/// The width of the column of holes beside the strip.
const SIDE: u64 = 96;
/// The space before the first note.
const MARGIN: u64 = 12;
/// The least width of the shortest note, grace notes excepted.
const SHORTEST: u64 = 14;
/// Pixels a second, at least and at most.
const SPEED: [u64; 2] = [44, 140];
/// The widest strip that browsers still draw correctly.
const WIDEST: u64 = 60_000;

/// The least distance between two barlines. With this distance, a strip has at most five thousand barlines.
const BETWEEN_BARS: f64 = 12.0;

/// Converts time to width.
#[derive(Clone, Copy)]
struct Scale {
    per_second: u64,
}

impl Scale {
    fn of(page: &Practice) -> Scale {
        // A grace note takes a tenth of a second. Other notes as short as that are rare and may be narrow.
        let lengths = page.notes.iter().map(|note| note.end_ms - note.start_ms).filter(|&ms| ms > 100);
        let wanted = lengths.min().map_or(SPEED[0], |shortest| SHORTEST * 1000 / shortest);
        let fits = WIDEST * 1000 / page.end_ms.max(1);
        Scale { per_second: wanted.clamp(SPEED[0], SPEED[1]).min(fits.max(1)) }
    }

    /// Returns the horizontal place of a time, to a tenth of a pixel.
    fn x(self, ms: u64) -> f64 {
        MARGIN as f64 + (ms * self.per_second / 100) as f64 / 10.0
    }
}

/// Draws the strip, with the column of holes beside it.
pub(super) fn draw(page: &Practice, row: &PracticeRow) -> String {
    let scale = Scale::of(page);
    let width = scale.x(page.end_ms) + MARGIN as f64;
    let middle = scale.per_second.to_string();
    let content = [
        lanes(width),
        "<rect class=\"loop\" y=\"0\" width=\"0\" height=\"100%\"></rect>".to_owned(),
        bars(page, scale),
        breath(page, row, scale),
        lungs(page, row, scale, width),
        notes(page, row, scale),
        format!("<line class=\"playhead\" x1=\"{MARGIN}\" x2=\"{MARGIN}\" y1=\"0\" y2=\"{HEIGHT}\"></line>"),
    ];
    let (width, height) = (format!("{width:.0}"), HEIGHT.to_string());
    let view = format!("0 0 {width} {height}");
    let margin = MARGIN.to_string();
    let attributes = [
        ("class", "strip"),
        ("width", width.as_str()),
        ("height", &height),
        ("viewBox", &view),
        ("data-left", &margin),
        ("data-per-second", &middle),
        ("role", "img"),
        ("aria-label", "Where each note lies on the harp over time; the tab as text has the same notes"),
    ];
    let strip = element("svg", &attributes, &content.concat());
    let scroll = [
        ("class", "scroll"),
        ("tabindex", "0"),
        ("role", "region"),
        ("aria-label", "The tune on the harp over time"),
    ];
    let lane = element("div", &scroll, &strip);
    element("div", &[("class", "harp")], &(side(page, row) + &lane)) + &legend(row)
}

fn lane_middle(hole: u8) -> u64 {
    HEAD + LANE * u64::from(HOLES - hole.clamp(1, HOLES)) + LANE / 2
}

fn lanes(width: f64) -> String {
    let lanes = (1..=HOLES).filter(|hole| hole % 2 == 0).map(|hole| {
        let y = lane_middle(hole) - LANE / 2;
        format!("<rect class=\"lane\" y=\"{y}\" width=\"{width:.0}\" height=\"{LANE}\"></rect>")
    });
    lanes.collect()
}

/// Draws barlines that are not too close together, with the numbers of bars where they fit.
fn bars(page: &Practice, scale: Scale) -> String {
    let mut markup = String::new();
    let (mut free, mut next) = (0.0, 0.0);
    let mut before = "";
    for bar in &page.bars {
        let x = scale.x(bar.start_ms);
        if x < next {
            continue;
        }
        next = x + BETWEEN_BARS;
        markup
            .push_str(&format!("<path class=\"barline\" d=\"M{x:.1} {HEAD}V{}\"></path>", LUNGS_TOP + LUNGS));
        let number = bar.label.split(' ').next().unwrap_or_default();
        if x >= free && number != before {
            markup.push_str(&element(
                "text",
                &[("class", "number"), ("x", &format!("{:.1}", x + 2.0)), ("y", "14")],
                &escape(number),
            ));
            free = x + 9.0 * (number.chars().count() as f64 + 1.0);
            before = number;
        }
    }
    markup
}

fn notes(page: &Practice, row: &PracticeRow, scale: Scale) -> String {
    let notes = page.notes.iter().zip(&row.notes).enumerate();
    notes.map(|(index, (note, played))| self::note(index, note, played, row, scale)).collect()
}

fn note(index: usize, note: &PracticeNote, played: &Played, row: &PracticeRow, scale: Scale) -> String {
    let x = scale.x(note.start_ms);
    // A gap after each note keeps repeated notes apart.
    let end = (scale.x(note.end_ms) - 1.5).max(x + 3.0);
    let mut content = String::new();
    let action = row.ways.get(played.way).and_then(|way| way.action);
    let (class, top) = match action {
        Some(action) => {
            content.push_str(&shape(action, x, end));
            let bent = if action.bend == Bend::None { "" } else { " bent" };
            (format!("note {}{bent}", action.breath), lane_middle(action.hole))
        }
        None => {
            let y = HEAD + LANE * u64::from(HOLES) + SILENT / 2;
            content.push_str(&format!("<path d=\"M{:.1} {}l7 7m0 -7l-7 7\"></path>", x, y - 3));
            ("note silent".to_owned(), y)
        }
    };
    for (mark, set) in [("~", played.awkward), ("*", played.changed)] {
        if set {
            content.push_str(&format!(
                "<text class=\"mark\" x=\"{:.1}\" y=\"{}\">{mark}</text>",
                x - 1.0,
                top.saturating_sub(8)
            ));
        }
    }
    element("g", &[("class", &class), ("data-note", &index.to_string())], &content)
}

/// Returns the outline of a sounded note: a head that points in the direction of the breath, and a bar as long as the
/// note.
fn shape(action: Action, x: f64, end: f64) -> String {
    let y = lane_middle(action.hole) as f64;
    let head = (end - x).min(8.0);
    let peak = x + head / 2.0;
    // The end of the bar is lower for a bend and higher for an overbend.
    let slope = match action.bend {
        Bend::None => 0.0,
        Bend::Down(semitones) => 2.5 + 2.0 * f64::from(semitones),
        Bend::Over => -5.0,
    };
    let tip = match action.breath {
        Breath::Blow => {
            format!("M{x:.1} {:.1}L{peak:.1} {:.1}L{:.1} {:.1}", y - 3.0, y - 9.0, x + head, y - 3.0)
        }
        Breath::Draw => format!("M{x:.1} {:.1}L{:.1} {:.1}", y - 3.0, x + head, y - 3.0),
    };
    let back = match action.breath {
        Breath::Blow => format!("L{x:.1} {:.1}Z", y + 3.0),
        Breath::Draw => {
            format!("L{:.1} {:.1}L{peak:.1} {:.1}L{x:.1} {:.1}Z", x + head, y + 3.0, y + 9.0, y + 3.0)
        }
    };
    let (from, to) = (y - 3.0 + slope, y + 3.0 + slope);
    let bar = format!("L{end:.1} {from:.1}L{end:.1} {to:.1}");
    let outline = format!("<path d=\"{tip}{bar}{back}\"></path>");
    match action.bend {
        Bend::Over => {
            outline + &format!("<circle cx=\"{end:.1}\" cy=\"{:.1}\" r=\"3.5\"></circle>", y + slope)
        }
        Bend::None | Bend::Down(_) => outline,
    }
}

/// Draws the breath: blocks of one direction, places to breathe, and awkward breath turns.
fn breath(page: &Practice, row: &PracticeRow, scale: Scale) -> String {
    let mut runs: Vec<(Breath, u64, u64)> = Vec::new();
    let mut marks = String::new();
    for (note, played) in page.notes.iter().zip(&row.notes) {
        let Some(action) = row.ways.get(played.way).and_then(|way| way.action) else { continue };
        match runs.last_mut().filter(|(breath, ..)| *breath == action.breath) {
            Some((_, _, end)) => *end = note.end_ms,
            None => runs.push((action.breath, note.start_ms, note.end_ms)),
        }
        let mut mark = |class: &str, sign: &str, ms: u64| {
            marks.push_str(&format!(
                "<text class=\"{class}\" x=\"{:.1}\" y=\"{}\">{sign}</text>",
                scale.x(ms) - 3.0,
                RIBBON_TOP - 3
            ));
        };
        if played.awkward {
            mark("mark", "~", note.start_ms);
        }
        if played.breathe_after {
            mark("breathe", ",", note.end_ms);
        }
    }
    let runs = runs.into_iter().map(|(breath, start, end)| {
        let (x, width) = (scale.x(start), scale.x(end) - scale.x(start) - 1.0);
        format!(
            "<rect class=\"run {breath}\" x=\"{x:.1}\" y=\"{RIBBON_TOP}\" width=\"{:.1}\" height=\"{RIBBON}\"></rect>",
            width.max(2.0)
        )
    });
    runs.collect::<String>() + &marks
}

/// Draws the air in the lungs as a line, with the comfortable range behind it, and a mark where the lungs reach a
/// limit.
fn lungs(page: &Practice, row: &PracticeRow, scale: Scale, width: f64) -> String {
    let y = |ml: u32| level(page, ml);
    let [low, high] = page.lungs.easy_ml;
    let mut markup = format!(
        "<rect class=\"lungs\" y=\"{LUNGS_TOP}\" width=\"{width:.0}\" height=\"{LUNGS}\"></rect>\
         <rect class=\"easy\" y=\"{:.1}\" width=\"{width:.0}\" height=\"{:.1}\"></rect>",
        y(high),
        y(low) - y(high)
    );
    let points: Vec<String> =
        row.air.iter().map(|level| format!("{:.1},{:.1}", scale.x(level.ms), y(level.ml))).collect();
    markup.push_str(&format!("<polyline class=\"air\" points=\"{}\"></polyline>", points.join(" ")));
    for (note, played) in page.notes.iter().zip(&row.notes) {
        let y = match played.limit {
            Some(Limit::Full) => LUNGS_TOP + 10,
            Some(Limit::Empty) => LUNGS_TOP + LUNGS - 2,
            None => continue,
        };
        let x = scale.x(note.end_ms);
        markup.push_str(&format!("<text class=\"mark\" x=\"{x:.1}\" y=\"{y}\">!</text>"));
    }
    markup
}

fn level(page: &Practice, ml: u32) -> f64 {
    let part = f64::from(ml) / f64::from(page.lungs.capacity_ml.max(1));
    (LUNGS_TOP + LUNGS) as f64 - part.min(1.0) * LUNGS as f64
}

/// Draws the harp on its side with hole 10 at the top, its natural notes, and the names of the lanes below it.
fn side(page: &Practice, row: &PracticeRow) -> String {
    let mut markup = String::new();
    for reeds in &row.reeds {
        let y = lane_middle(reeds.hole);
        let top = y - LANE / 2;
        for (breath, name, x, anchor, text) in
            [("blow", &reeds.blow, 0, "start", 5), ("draw", &reeds.draw, SIDE / 2, "end", SIDE - 5)]
        {
            markup.push_str(&format!(
                "<rect class=\"reed {breath}\" data-hole=\"{}\" x=\"{x}\" y=\"{top}\" width=\"{}\" \
                 height=\"{LANE}\"></rect><text class=\"name\" x=\"{text}\" y=\"{}\" text-anchor=\"{anchor}\">{}</text>",
                reeds.hole,
                SIDE / 2,
                y + 4,
                escape(name)
            ));
        }
        markup.push_str(&format!(
            "<text class=\"hole\" x=\"{}\" y=\"{}\" text-anchor=\"middle\">{}</text>",
            SIDE / 2,
            y + 5,
            reeds.hole
        ));
    }
    let label = |y: f64, text: &str| {
        element("text", &[("class", "label"), ("x", "0"), ("y", &format!("{y:.1}"))], &escape(text))
    };
    let litres = |ml: u32| format!("{}.{} l", ml / 1000, ml % 1000 / 100);
    let [low, high] = page.lungs.easy_ml;
    markup.push_str(&label(14.0, "blow"));
    markup.push_str(&format!("<text class=\"label\" x=\"{SIDE}\" y=\"14\" text-anchor=\"end\">draw</text>"));
    if row.ways.iter().any(|way| way.action.is_none()) {
        markup.push_str(&label((HEAD + LANE * u64::from(HOLES) + SILENT - 3) as f64, "not sounded"));
    }
    markup.push_str(&label((RIBBON_TOP + RIBBON) as f64 - 1.0, "breath"));
    markup.push_str(&label(LUNGS_TOP as f64 + 8.0, &format!("lungs {}", litres(page.lungs.capacity_ml))));
    markup.push_str(&label(level(page, high) + 4.0, &format!("easy {}", litres(high))));
    markup.push_str(&label(level(page, low) + 4.0, &format!("to {}", litres(low))));
    markup.push_str(&label((LUNGS_TOP + LUNGS) as f64, "empty"));
    let (width, height) = (SIDE.to_string(), HEIGHT.to_string());
    let view = format!("0 0 {width} {height}");
    let attributes = [
        ("class", "side"),
        ("width", width.as_str()),
        ("height", &height),
        ("viewBox", &view),
        ("role", "img"),
        ("aria-label", "The harp: its holes with their blow and draw notes"),
    ];
    element("svg", &attributes, &markup)
}

/// Explains the shapes and the signs that occur on the strip.
fn legend(row: &PracticeRow) -> String {
    let mut items = Vec::new();
    let mut kind = |action: Action, text: &str, wanted: &dyn Fn(Action) -> bool| {
        if row.ways.iter().filter_map(|way| way.action).any(wanted) {
            let bent = if action.bend == Bend::None { "" } else { " bent" };
            let icon = element(
                "g",
                &[("class", &format!("note {}{bent}", action.breath))],
                &shape(action, 1.0, 26.0),
            );
            let top = lane_middle(10) - LANE / 2;
            let view = format!("0 {top} 32 {LANE}");
            let attributes = [
                ("class", "key"),
                ("width", "32"),
                ("height", "19"),
                ("viewBox", &view),
                ("aria-hidden", "true"),
            ];
            items.push(element("li", &[], &(element("svg", &attributes, &icon) + text)));
        }
    };
    kind(Action::blow(10), "blow", &|action| action.breath == Breath::Blow && action.bend == Bend::None);
    kind(Action::draw(10), "draw", &|action| action.breath == Breath::Draw && action.bend == Bend::None);
    kind(Action::blow(10).bent(2), "blow bend, lower by its depth", &|action| {
        action.breath == Breath::Blow && matches!(action.bend, Bend::Down(_))
    });
    kind(Action::draw(10).bent(2), "draw bend, lower by its depth", &|action| {
        action.breath == Breath::Draw && matches!(action.bend, Bend::Down(_))
    });
    kind(Action::blow(10).over(), "overblow", &|action| {
        action.breath == Breath::Blow && action.bend == Bend::Over
    });
    kind(Action::draw(10).over(), "overdraw", &|action| {
        action.breath == Breath::Draw && action.bend == Bend::Over
    });
    let signs = [
        ("~", "the breath turns fast, or together with a jump", row.notes.iter().any(|note| note.awkward)),
        (",", "a place to breathe", row.notes.iter().any(|note| note.breathe_after)),
        ("*", "changed from the tune", row.notes.iter().any(|note| note.changed)),
        ("\u{d7}", "not sounded", row.ways.iter().any(|way| way.action.is_none())),
        ("!", "the lungs reach their limit", row.notes.iter().any(|note| note.limit.is_some())),
    ];
    for (sign, meaning, used) in signs {
        if used {
            items.push(element("li", &[], &format!("<b>{sign}</b> {meaning}")));
        }
    }
    element("ul", &[("class", "legend")], &items.concat())
}
