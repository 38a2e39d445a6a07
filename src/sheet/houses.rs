//! Draws the tab of the sheet in breathline's own look. Blow notes are above the rail, each in an outlined house that
//! points up. Draw notes are below the rail, each in a solid house that points down. Shape, place, filling and colour
//! each show the direction of the breath, so any one of them is enough. Steps move the house of a bent note away from
//! the rail, one for each half step of the bend, so that the depth of the bend can be seen from afar. Overbends have no
//! steps.

use super::{
    draw::{Anchor, Bounds, Group, Item, Role},
    glyphs::Glyph,
    label,
    score::Tab,
    text::Face,
};
use crate::{
    harp::{Action, Bend, Breath},
    tab::BendMark,
};

/// Half the width of a black head. The tab and the words under a note are centred there.
pub(super) const HEAD_MIDDLE: i32 = 162;
/// The size of grace notes, in thousandths of the size of other notes.
pub(super) const GRACE: i32 = 640;
/// The size of the tab of grace notes, in thousandths of the size of other tab.
pub(super) const SMALL: i32 = 760;
/// The height of a house including its roof, and the height of the roof.
const HOUSE: i32 = 730;
const ROOF: i32 = 155;
/// The distances from the top of the blow row to the rail between the rows, and to the bottom of the draw row.
pub(super) const RAIL: i32 = HOUSE + 45;
pub(super) const HEIGHT: i32 = 2 * RAIL;
/// The height of a step between the rail and the house of a bent note, with the gap after the step and without.
pub(super) const STEP: i32 = 170;
const TREAD: i32 = 105;
/// The gap between a house and its frame.
pub(super) const FRAME: i32 = 60;
/// The width of the sign of an awkward breath turn, to the left of the house.
pub(super) const TURN_WIDTH: i32 = 210;
const FIGURES: i32 = 1280;
const PADDING: i32 = 95;
const NARROWEST: i32 = 560;
/// The distance that the sign of a breath turn extends to each side of the rail.
pub(super) const TURN: i32 = 560;
const NAME_SIZE: i32 = 540;

/// Returns the characters in the house of an action.
fn signs(action: Action, bend_mark: BendMark) -> String {
    let marks = match action.bend {
        Bend::None => String::new(),
        Bend::Down(semitones) => bend_mark.write(semitones),
        Bend::Over => "o".to_owned(),
    };
    format!("{}{marks}", action.hole)
}

fn name(tab: &Tab) -> String {
    match tab {
        Tab::Missing(name) => label::spelled(name),
        Tab::LeftOut | Tab::Action(_) => "×".to_owned(),
    }
}

/// Returns the width of a note's tab.
pub(super) fn width(tab: &Tab, bend_mark: BendMark, scale: i32) -> i32 {
    let full = match tab {
        Tab::Action(action) => {
            let figures: i32 = signs(*action, bend_mark).chars().map(|sign| Glyph::tab(sign).advance()).sum();
            (figures * FIGURES / 1000 + 2 * PADDING).max(NARROWEST)
        }
        Tab::Missing(_) | Tab::LeftOut => {
            (label::width(&name(tab), Face::Semibold, NAME_SIZE) + 2 * PADDING).max(NARROWEST)
        }
    };
    full * scale / 1000
}

/// Draws the tab of a note whose head is at `x`, in rows whose top is at `top`.
pub(super) fn draw(group: &mut Group, tab: &Tab, bend_mark: BendMark, x: i32, top: i32, scale: i32) {
    let middle = middle(x, scale);
    let width = width(tab, bend_mark, scale);
    let scaled = |length: i32| length * scale / 1000;
    match tab {
        Tab::Action(action) => {
            // A house or its steps begin a small distance from the rail.
            let foot = match action.breath {
                Breath::Blow => top + HOUSE,
                Breath::Draw => top + HEIGHT - HOUSE,
            };
            on_steps(group, *action, bend_mark, (middle, foot), width, scale);
        }
        Tab::Missing(_) | Tab::LeftOut => {
            let half = scaled(HOUSE / 2);
            let bounds = Bounds {
                left: middle - width / 2,
                top: top + RAIL - half,
                right: middle - width / 2 + width,
                bottom: top + RAIL + half,
            };
            group.push(Item::rectangle(bounds, Role::Shade));
            group.push(Item::dashed(bounds, Role::Missing));
            let size = scaled(NAME_SIZE);
            let at = (middle, top + RAIL + size / 3);
            let name = label::items(&name(tab), at, Anchor::Middle, Face::Semibold, size, Role::Missing);
            name.into_iter().for_each(|item| group.push(item));
        }
    }
}

/// Returns the look of a breath: the direction from the rail to the roof (-1 is up), the role of the shape, and the
/// role of the signs.
fn look(breath: Breath) -> (i32, Role, Role) {
    match breath {
        Breath::Blow => (-1, Role::BlowShape, Role::Blow),
        Breath::Draw => (1, Role::DrawShape, Role::Draw),
    }
}

/// Returns the number of steps under the house of an action.
fn steps(action: Action) -> i32 {
    match action.bend {
        Bend::Down(semitones) => i32::from(semitones),
        Bend::None | Bend::Over => 0,
    }
}

/// Returns the distance that the steps of a bent note move its house away from the rail.
pub(super) fn climb(tab: &Tab, scale: i32) -> i32 {
    match tab {
        Tab::Action(action) => steps(*action) * STEP * scale / 1000,
        Tab::Missing(_) | Tab::LeftOut => 0,
    }
}

/// Draws a house and the steps of its bend, starting from a foot line.
pub(super) fn on_steps(
    group: &mut Group,
    action: Action,
    bend_mark: BendMark,
    (middle, foot): (i32, i32),
    width: i32,
    scale: i32,
) {
    let (way, shape, _) = look(action.breath);
    let (left, right) = (middle - width / 2, middle - width / 2 + width);
    for step in 0..steps(action) {
        let low = foot + way * step * STEP * scale / 1000;
        let high = low + way * TREAD * scale / 1000;
        group.push(Item::polygon(vec![(left, low), (left, high), (right, high), (right, low)], shape));
    }
    let foot = foot + way * climb(&Tab::Action(action), scale);
    house(group, action, bend_mark, (middle, foot), width, scale);
}

/// Draws a house on a foot line, with the roof pointing away from the line.
pub(super) fn house(
    group: &mut Group,
    action: Action,
    bend_mark: BendMark,
    (middle, foot): (i32, i32),
    width: i32,
    scale: i32,
) {
    let scaled = |length: i32| length * scale / 1000;
    let (left, right) = (middle - width / 2, middle - width / 2 + width);
    let (way, shape, ink) = look(action.breath);
    let eaves = foot + way * scaled(HOUSE - ROOF);
    let ridge = foot + way * scaled(HOUSE);
    group.push(Item::polygon(
        vec![(left, foot), (left, eaves), (middle, ridge), (right, eaves), (right, foot)],
        shape,
    ));
    let signs: Vec<Glyph> = signs(action, bend_mark).chars().map(Glyph::tab).collect();
    let figures = FIGURES * scale / 1000;
    let advance: i32 = signs.iter().map(|sign| sign.advance()).sum();
    let mut at = middle - advance * figures / 2000;
    // Figures are 330 units high before scaling. They are slightly nearer to the eaves than to the foot.
    let base = (foot + eaves) / 2 + scaled(FIGURES * 164 / 1000) + way * scaled(8);
    for sign in signs {
        group.push(Item::scaled_glyph(sign, at, base, figures, ink));
        at += sign.advance() * figures / 1000;
    }
}

/// Draws a frame around the house of a note whose head is at `x`.
pub(super) fn frame(group: &mut Group, tab: &Tab, bend_mark: BendMark, x: i32, top: i32, scale: i32) {
    let middle = middle(x, scale);
    let half = width(tab, bend_mark, scale) / 2 + FRAME;
    let (climb, house) = (climb(tab, scale), HOUSE * scale / 1000);
    // Houses of any size have their feet at the same height: one height for blow notes, and one for draw notes.
    let (blow_foot, draw_foot) = (top + HOUSE, top + HEIGHT - HOUSE);
    let (above, below) = match breath(tab) {
        Some(Breath::Blow) => (blow_foot - climb - house, blow_foot),
        Some(Breath::Draw) => (draw_foot, draw_foot + climb + house),
        None => (top + RAIL - house / 2, top + RAIL + house / 2),
    };
    let bounds = Bounds {
        left: middle - half,
        top: above - FRAME * 2 / 3,
        right: middle + half,
        bottom: below + FRAME * 2 / 3,
    };
    group.push(Item::framed(bounds, Role::Frame));
}

/// Draws a star for a corrected note, on the side of the rail opposite its house.
pub(super) fn star(group: &mut Group, tab: &Tab, x: i32, top: i32, scale: i32) {
    let away = match breath(tab) {
        Some(Breath::Draw) => -HOUSE / 2,
        Some(Breath::Blow) => HOUSE / 2,
        None => return,
    };
    group.push(star_at(middle(x, scale), top + RAIL + away));
}

/// Returns a solid star around a point.
pub(super) fn star_at(x: i32, y: i32) -> Item {
    /// The distance from the middle of the star to a point, and to the corner between two points.
    const LONG: i32 = 200;
    const SHORT: i32 = 85;
    /// The directions of the five points, as unit vectors in thousandths; y points down.
    const POINTS: [(i32, i32); 5] = [(0, -1000), (951, -309), (588, 809), (-588, 809), (-951, -309)];
    let at = |(dx, dy): (i32, i32), far: i32| (x + dx * far / 1000, y + dy * far / 1000);
    // The corner opposite a point lies between the two points farthest from it.
    let opposite = |index: usize| {
        let (dx, dy) = POINTS[(index + 3) % 5];
        (-dx, -dy)
    };
    let points = (0..5).flat_map(|index| [at(POINTS[index], LONG), at(opposite(index), SHORT)]);
    Item::polygon(points.collect(), Role::Sign)
}

fn breath(tab: &Tab) -> Option<Breath> {
    match tab {
        Tab::Action(action) => Some(action.breath),
        Tab::Missing(_) | Tab::LeftOut => None,
    }
}

/// Returns the middle of the tab under a head.
fn middle(x: i32, scale: i32) -> i32 {
    x + if scale == 1000 { HEAD_MIDDLE } else { HEAD_MIDDLE * GRACE / 1000 }
}

/// Draws the sign of an awkward breath turn before a note: an arrow up and down, across the rail, to the left of the
/// house. The sign extends `tip` to both sides of the rail.
pub(super) fn turn(group: &mut Group, left: i32, top: i32, tip: i32) {
    let (middle, rail) = (left + TURN_WIDTH / 2 - 20, top + RAIL);
    let (head, wide, thin) = (190, 85, 26);
    let points = vec![
        (middle, rail - tip),
        (middle + wide, rail - tip + head),
        (middle + thin, rail - tip + head),
        (middle + thin, rail + tip - head),
        (middle + wide, rail + tip - head),
        (middle, rail + tip),
        (middle - wide, rail + tip - head),
        (middle - thin, rail + tip - head),
        (middle - thin, rail - tip + head),
        (middle - wide, rail - tip + head),
    ];
    group.push(Item::polygon(points, Role::Sign));
}
