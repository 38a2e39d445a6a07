//! The sheets of the page to practise from: the lines of music one by one, long ones for a desk and for paper, short ones for
//! a phone, with the chart and the legend.

use super::{Page, SCREEN_GAP, SCREEN_MARGIN, draw, harp_chart, legend, score, svg, systems};
use crate::{
    report::{
        Tune,
        html::{Engraving, Sheets},
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
    let engravings = approaches.iter().map(|approach| Engraving {
        broad: draw(lines(request, approach, BROAD, bend_mark)),
        slim: draw(lines(request, approach, SLIM, bend_mark)),
        chart: draw(vec![harp_chart(request, approach, bend_mark)]),
        legend: draw(vec![legend(tune, request, approach, bend_mark)]),
    });
    let rows = engravings.collect();
    Sheets { glyphs: svg::definitions(&pages), rows }
}

/// The lines of music, each as a page of its own.
fn lines(request: &Request, approach: &Approach, spaces: i32, bend_mark: BendMark) -> Vec<Page> {
    let width = spaces * draw::SPACE;
    let score = score::score(request, approach);
    let systems = systems(&score, width - 2 * SCREEN_MARGIN, bend_mark).into_iter();
    let pages = systems.map(|mut system| {
        system.group.shift(SCREEN_MARGIN, SCREEN_GAP / 2 - system.bounds.top);
        let height = system.bounds.bottom - system.bounds.top + SCREEN_GAP;
        Page { width, height, groups: vec![system.group] }
    });
    pages.collect()
}
