//! Draws the legend: the signs on the sheet, each with its meaning.

use super::{
    draw::{Anchor, Bounds, Group, Item, Owner, Role},
    glyphs::Glyph,
    houses, label,
    score::Tab,
    text::Face,
};
use crate::{harp::Breath, pages::lead::Sample, tab::BendMark};

const ROW: i32 = 640;
const SIZE: i32 = 430;
/// The left edge of the words.
const WORDS: i32 = 1200;

/// Draws the legend with its upper left corner at 0, 0.
pub(super) fn draw(entries: &[(Sample, String)], bend_mark: BendMark) -> Group {
    let mut legend = Group::new(Owner::Legend);
    for (index, (sample, text)) in entries.iter().enumerate() {
        let top = index as i32 * ROW;
        let middle = top + ROW / 2;
        sign(&mut legend, *sample, bend_mark, middle);
        let at = (WORDS, middle + SIZE / 3);
        legend.push(Item::text(text.clone(), at, Anchor::Start, Face::Regular, SIZE, Role::Text));
    }
    legend
}

/// The greatest size of a house in the legend, in thousandths of its size in the tab: a line of the legend has less
/// height than the tab.
const HOUSE: i32 = 666;
/// The height available for a house with its steps.
const HIGHEST: i32 = 570;

fn sign(legend: &mut Group, sample: Sample, bend_mark: BendMark, middle: i32) {
    let x = WORDS / 2;
    match sample {
        Sample::Action(action) => {
            let tab = Tab::Action(action);
            // At this size, a house with its steps fits into a line of the legend.
            let scale = HOUSE.min(HIGHEST * 1000 / (houses::RAIL + houses::climb(&tab, 1000)));
            let half = (houses::RAIL + houses::climb(&tab, 1000)) * scale / 2000;
            let foot = match action.breath {
                Breath::Blow => middle + half,
                Breath::Draw => middle - half,
            };
            let width = houses::width(&tab, bend_mark, scale);
            houses::on_steps(legend, action, bend_mark, (x, foot), width, scale);
        }
        Sample::Missing(_) | Sample::LeftOut => {
            let tab = match sample {
                Sample::Missing(name) => Tab::Missing(name.to_string()),
                _ => Tab::LeftOut,
            };
            houses::draw(
                legend,
                &tab,
                bend_mark,
                x - super::columns::HEAD_MIDDLE * houses::GRACE / 1000,
                middle - houses::RAIL,
                HOUSE,
            );
        }
        Sample::Changed => legend.push(label::star(x, middle + 130)),
        Sample::Mended => legend.push(houses::star_at(x, middle)),
        Sample::Turn => {
            // The arrow is shorter than in the tab, because a line of the legend has less height.
            houses::turn(legend, x - houses::TURN_WIDTH / 2, middle - houses::RAIL, 270);
        }
        Sample::Breathe => {
            let glyph = Glyph::named("breath");
            legend.push(Item::glyph(glyph, x - glyph.width() / 2, middle + 150, Role::Sign));
        }
        Sample::Differs | Sample::Pinned => {
            let frame = Bounds { left: x - 260, top: middle - 230, right: x + 260, bottom: middle + 230 };
            legend.push(Item::framed(frame, Role::Frame));
        }
        Sample::Shaded => {
            let shade = Bounds { left: x - 300, top: middle - 220, right: x + 300, bottom: middle + 220 };
            legend.push(Item::rectangle(shade, Role::Shade));
        }
    }
}
