//! The sheets of the page to practise from: the lines of music one by one, long ones for a desk and for paper, short ones for
//! a phone, with the chart and the legend.

use super::{
    Page, SCREEN_GAP, SCREEN_MARGIN, chart,
    draw::{Group, SPACE},
    legend, score, sharps, svg, systems,
};
use crate::{
    report::{
        Tune,
        html::{Engraving, Sheets},
        lead,
    },
    search::{Approach, Request},
    tab::BendMark,
};

/// The lengths of lines in staff spaces. On A4, the long ones have a staff of 7 mm; on a phone of 390 pixels, the short ones
/// have one of 30.
const BROAD: i32 = 104;
const SLIM: i32 = 48;

/// The sheets of approaches, in their order.
pub fn sheets(tune: &Tune, request: &Request, approaches: &[&Approach], bend_mark: BendMark) -> Sheets {
    let mut pages = Vec::new();
    let mut draw = |drawn: Vec<Page>| {
        let text = drawn.iter().map(svg::bare).collect::<String>();
        pages.extend(drawn);
        text
    };
    let mut engrave = |approach: &Approach, spaces: i32| {
        let mut pages = lines(request, approach, spaces, bend_mark);
        pages.push(foot(tune, request, approach, spaces, bend_mark));
        draw(pages)
    };
    let engravings = approaches
        .iter()
        .map(|approach| Engraving { broad: engrave(approach, BROAD), slim: engrave(approach, SLIM) });
    let rows = engravings.collect();
    Sheets { glyphs: svg::definitions(&pages), rows }
}

/// The lines of music, each as a page of its own.
fn lines(request: &Request, approach: &Approach, spaces: i32, bend_mark: BendMark) -> Vec<Page> {
    let width = spaces * SPACE;
    let score = score::score(request, approach);
    let systems = systems(&score, width - 2 * SCREEN_MARGIN, bend_mark).into_iter();
    let pages = systems.map(|mut system| {
        system.group.shift(SCREEN_MARGIN, SCREEN_GAP / 2 - system.bounds.top);
        let height = system.bounds.bottom - system.bounds.top + SCREEN_GAP;
        Page { width, height, groups: vec![system.group] }
    });
    pages.collect()
}

/// The chart of the harp with the legend beside it, or under it where there is no room. It is as wide as the lines, or wider if
/// the chart is, so that all of it comes out in one size.
fn foot(tune: &Tune, request: &Request, approach: &Approach, spaces: i32, bend_mark: BendMark) -> Page {
    let gap = 3 * SCREEN_GAP;
    let mut chart = chart::draw(approach, sharps(request, approach), bend_mark);
    let mut legend = legend::draw(&lead::lead(tune, request, approach).legend, bend_mark);
    let corner = |group: &mut Group, left: i32, top: i32| {
        let Some(bounds) = group.bounds() else { return (left, top) };
        group.shift(left - bounds.left, top - bounds.top);
        (left + bounds.right - bounds.left, top + bounds.bottom - bounds.top)
    };
    let (right, bottom) = corner(&mut chart, SCREEN_MARGIN, SCREEN_GAP);
    let room = spaces * SPACE - SCREEN_MARGIN;
    let mut edge = corner(&mut legend, right + gap, SCREEN_GAP);
    if edge.0 > room {
        edge = corner(&mut legend, SCREEN_MARGIN, bottom + gap / 2);
    }
    Page {
        width: (spaces * SPACE).max(right.max(edge.0) + SCREEN_MARGIN),
        height: bottom.max(edge.1) + SCREEN_GAP,
        groups: vec![chart, legend],
    }
}
