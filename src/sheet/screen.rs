//! Draws the sheets of the page to practise from, line by line, with the chart and the legend. Long lines are for a
//! desk and for paper, and short lines are for a phone.

use super::{Music, Page, SCREEN_GAP, SCREEN_MARGIN, draw::SPACE, pages::Block, svg};
use crate::{
    pages::{Tune, comparison::Comparison},
    render::html::{Engraving, Sheets},
    search::{Approach, Request},
    tab::BendMark,
};

/// The lengths of lines, in staff spaces. On A4 paper, long lines give a staff of 7 mm; on a phone of 390 pixels, short
/// lines give a staff of 30 pixels.
const BROAD: i32 = 104;
const SLIM: i32 = 48;

/// Returns the sheets of the approaches, in the same order.
pub fn sheets(tune: &Tune, request: &Request, approaches: &[&Approach], bend_mark: BendMark) -> Sheets {
    engrave(approaches.iter().map(|approach| Music::alone(tune, request, approach)), bend_mark)
}

/// Returns the sheet of a check, with its ways one above the other, line by line; empty if the check has no way.
pub fn compared(tune: &Tune, request: &Request, comparison: &Comparison, bend_mark: BendMark) -> Sheets {
    engrave(Music::compared(tune, request, comparison).into_iter(), bend_mark)
}

fn engrave<'a>(music: impl Iterator<Item = Music<'a>>, bend_mark: BendMark) -> Sheets {
    let mut pages = Vec::new();
    let mut draw = |music: &Music, spaces: i32| {
        let mut drawn = lines(music, spaces, bend_mark);
        drawn.push(foot(music, spaces, bend_mark));
        let text = drawn.iter().map(svg::bare).collect::<String>();
        pages.append(&mut drawn);
        text
    };
    let rows =
        music.map(|music| Engraving { broad: draw(&music, BROAD), slim: draw(&music, SLIM) }).collect();
    Sheets { glyphs: svg::definitions(&pages), letters: svg::letters(&pages), rows }
}

/// Returns the lines of music as pages. Each page has one line of music, once for each way.
fn lines(music: &Music, spaces: i32, bend_mark: BendMark) -> Vec<Page> {
    let width = spaces * SPACE;
    let lines = music.lines(width - 2 * SCREEN_MARGIN, bend_mark).0.into_iter();
    let pages = lines.map(|ways| {
        let mut block = Block::music(ways);
        block.shift(SCREEN_MARGIN, SCREEN_GAP / 2 - block.top());
        let height = block.height() + SCREEN_GAP;
        Page { width, height, groups: block.into_groups() }
    });
    pages.collect()
}

/// Returns the charts of the harps one below the other, with the legend beside them, or below them if there is no room
/// beside them. The page is as wide as the lines of music, so that everything has the same scale, or wider if the
/// charts need more room.
fn foot(music: &Music, spaces: i32, bend_mark: BendMark) -> Page {
    let room = spaces * SPACE - 2 * SCREEN_MARGIN;
    let mut groups = music.charts(room, bend_mark);
    let (mut top, mut right) = (SCREEN_GAP, 0);
    for group in &mut groups {
        let Some(bounds) = group.bounds() else { continue };
        group.shift(SCREEN_MARGIN - bounds.left, top - bounds.top);
        top += bounds.bottom - bounds.top + BETWEEN;
        right = right.max(SCREEN_MARGIN + bounds.right - bounds.left);
    }
    let width = (spaces * SPACE).max(right + SCREEN_MARGIN);
    Page { width, height: top - BETWEEN + SCREEN_GAP, groups }
}

/// The gap between charts and legend, one below the other.
const BETWEEN: i32 = 450;
