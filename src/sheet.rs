//! Draws a tune on paper: staff, tab, words and the chart of the harp, as pages of placed glyphs, texts, lines and
//! shapes.
//!
//! 1. `score` takes the melody as [`crate::notation`] writes it, and adds the words of the tune, and the tab and the
//!    signs of an approach.
//! 2. `columns` measures the room that each note needs; `spacing` breaks lines, if possible at the ends of phrases, and
//!    spreads the columns.
//! 3. `system` draws a line of music (with `stems` and `houses`); `pages` puts heading, lines, `chart`, `legend` and
//!    remarks on pages. [`mod@screen`] draws the lines for the page to practise from instead.
//! 4. [`mod@svg`] writes a page as SVG. `paint` turns an item of a page into outlines or a text. From these,
//!    [`mod@pdf`] makes one PDF and [`mod@png`] a picture of each page, both behind the feature `paper`. `letters`
//!    extracts from the font the letters that a document uses.
//!
//! A drawing is a tree of [`draw::Group`]s, each with its owner. Its numbers are whole, so a sheet is the same on every
//! machine. The words of heading, legend and remarks come from [`crate::pages::lead`].

mod bounds;
mod chart;
mod columns;
pub mod draw;
mod glyphs;
mod label;
mod legend;
mod letters;
#[cfg(feature = "paper")]
mod outline;
mod pages;
#[cfg(feature = "paper")]
mod paint;
#[cfg(feature = "paper")]
pub mod pdf;
#[cfg(feature = "paper")]
pub mod png;
mod score;
pub mod screen;
mod spacing;
mod stems;
mod style;
pub mod svg;
mod system;
mod houses;
mod text;
mod webfont;

use std::borrow::Cow;

use crate::{
    clean::visible,
    melody::Melody,
    pages::{
        Tune,
        comparison::{Comparison, Side},
        lead::{self, Lead, Sample},
        levels,
    },
    search::{Approach, Level, Request},
    tab::BendMark,
};
use draw::{Bounds, Group, Owner};
pub use glyphs::Glyph;
use score::Score;
pub use text::Face;

/// The options of a sheet.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Options {
    /// The paper.
    pub paper: Paper,
    /// The size of the print.
    pub size: Size,
    /// The mark for each half step of a bend.
    pub bend_mark: BendMark,
    /// Whether to draw large tab with words, without the staff.
    pub tab_only: bool,
}

/// A size of paper, upright.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Paper {
    /// 210 by 297 mm.
    #[default]
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

/// The size of the print.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Size {
    /// A staff of 7 mm.
    Normal,
    /// A staff of 10 mm, for a music stand or weak eyes.
    Large,
    /// The largest staff from 7 to 14 mm (10 mm for several ways) that needs no more pages than a staff of 7 mm would
    /// need, or a staff slightly smaller if its lines are more even. A sheet of more than four pages keeps 7 mm.
    #[default]
    Fill,
}

/// The size of a unit on paper, in micrometres. A staff is a thousand units high.
const NORMAL_UNIT: i32 = 7;
const LARGE_UNIT: i32 = 10;
/// The unit for the largest staff that fills a page, 14 mm high.
const FULLEST_UNIT: i32 = 14;
/// The size of tab without a staff, in thousandths of the size of tab with a staff.
const TAB_ONLY: i32 = 1400;
/// A sheet that has more pages than this in the normal size is not tried in larger sizes.
const MOST_FILLED: usize = 4;

/// The reason why a page could not be drawn as PDF or PNG.
#[cfg(feature = "paper")]
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct DrawError(String);

#[cfg(feature = "paper")]
impl std::fmt::Display for DrawError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the sheet could not be drawn ({}); write it as .svg instead", self.0)
    }
}

#[cfg(feature = "paper")]
impl std::error::Error for DrawError {}

/// A page with its drawing, in units of 1/250 of a staff space.
#[derive(Clone, PartialEq, Debug)]
pub struct Page {
    /// The width.
    pub width: i32,
    /// The height.
    pub height: i32,
    /// The groups of its drawing.
    pub groups: Vec<Group>,
}

/// A lead sheet.
#[derive(Clone, PartialEq, Debug)]
pub struct Sheet {
    /// The pages; at least one.
    pub pages: Vec<Page>,
    /// The size of a unit on paper, in micrometres.
    pub unit_micrometres: i32,
    /// The title.
    pub title: String,
}

impl Sheet {
    /// Returns the sheet of a tune as an approach plays it.
    pub fn new(tune: &Tune, request: &Request, approach: &Approach, options: Options) -> Sheet {
        Sheet::of(&Music::alone(tune, request, approach).with(options), request, options)
    }

    /// Returns the sheet of a check: its ways one above the other, line by line, with the same note at the same place.
    /// `None` if the check has no way.
    pub fn compared(
        tune: &Tune,
        request: &Request,
        comparison: &Comparison,
        options: Options,
    ) -> Option<Sheet> {
        Some(Sheet::of(&Music::compared(tune, request, comparison)?.with(options), request, options))
    }

    /// Returns the sheet of a tune at several levels, one above the other, for each harp in turn. All pages have one
    /// size of print. `None` if no harp has a level.
    pub fn levels(tune: &Tune, harps: &[(Request, Vec<Level>)], options: Options) -> Option<Sheet> {
        let sides: Vec<Vec<Side>> =
            harps.iter().map(|(request, levels)| levels::sides(request, levels)).collect();
        let music = harps.iter().zip(&sides).filter_map(|((request, levels), sides)| {
            let lead = lead::levels(tune, request, levels)?;
            let charted = levels_charted(sides);
            Some((Music { charted, ..Music::stacked(request, sides, lead).with(options) }, request))
        });
        let music: Vec<(Music, &Request)> = music.collect();
        let sheets = music.iter().map(|(music, request)| Sheet::of(music, request, options));
        let sheets: Vec<Sheet> = sheets.collect();
        let unit = sheets.iter().map(|sheet| sheet.unit_micrometres).min()?;
        let pages = sheets.into_iter().zip(&music).flat_map(|(sheet, (music, request))| {
            let same = if sheet.unit_micrometres == unit {
                sheet
            } else {
                Sheet::set(music, request, options, unit).0
            };
            same.pages
        });
        Some(Sheet { pages: pages.collect(), unit_micrometres: unit, title: visible(tune.title()) })
    }

    fn of(music: &Music, request: &Request, options: Options) -> Sheet {
        let larger = |unit: i32| if options.tab_only { unit * TAB_ONLY / 1000 } else { unit };
        let set = |unit: i32| Sheet::set(music, request, options, unit);
        match options.size {
            Size::Normal => set(larger(NORMAL_UNIT)).0,
            Size::Large => set(larger(LARGE_UNIT)).0,
            Size::Fill => {
                // In a larger size, the headings of several ways would be too long for one line.
                let fullest = if music.names.is_empty() { FULLEST_UNIT } else { LARGE_UNIT };
                fullest_of(set, larger(NORMAL_UNIT), larger(fullest))
            }
        }
    }

    /// Sets a sheet in units of this many micrometres. Returns the sheet and the number of its uneven lines.
    fn set(music: &Music, request: &Request, options: Options, unit: i32) -> (Sheet, usize) {
        let (area, lead) = (pages::Area::of(options.paper, unit), &music.lead);
        let meter = music.scores.first().and_then(|score| score.bars.first()).and_then(|bar| bar.meter);
        let tempo = pages::Tempo::of(request.melody, meter);
        let heading = pages::heading(lead, tempo, area.width);
        let (lines, uneven) = music.lines(area.width, options.bend_mark);
        let plain = |lines: &[String]| remarks(lines, Face::Regular, area.width);
        let reasons = lead.reasons.iter().flat_map(|(title, lines)| {
            let title = remarks(std::slice::from_ref(title), Face::Semibold, area.width);
            title.into_iter().map(pages::Block::into_heading).chain(plain(lines)).collect::<Vec<_>>()
        });
        // If the sheet fills its pages, chart and legend keep their normal size. In units larger than [`LARGE_UNIT`],
        // the chart would be wider than a page.
        let chart_unit = if options.size == Size::Fill { NORMAL_UNIT } else { unit.min(LARGE_UNIT) };
        let charts = music.charts(area.width * unit / chart_unit, options.bend_mark).into_iter();
        let charts = charts.map(|chart| pages::Block::chart(chart.scaled(1000 * chart_unit / unit)));
        let blocks = plain(&lead.verdict).into_iter().chain(lines.into_iter().map(pages::Block::music));
        let blocks = blocks.chain(charts).chain(plain(&lead.verses)).chain(plain(&lead.changes));
        let blocks = blocks.chain(reasons).chain(plain(&lead.cautions)).chain(plain(&lead.rights)).collect();
        let pages = pages::lay_out(heading, blocks, area, &lead.title);
        (Sheet { pages, unit_micrometres: unit, title: visible(&lead.title) }, uneven)
    }
}

/// Returns the sheet in the largest unit, up to `fullest`, that needs no more pages than the `normal` unit. The next
/// smaller unit wins if its lines are more even, which is worth a millimetre of size. A sheet of more than
/// [`MOST_FILLED`] pages keeps the normal unit.
fn fullest_of(set: impl Fn(i32) -> (Sheet, usize), normal: i32, fullest: i32) -> Sheet {
    let mut best = set(normal);
    let pages = best.0.pages.len();
    if pages > MOST_FILLED {
        return best.0;
    }
    let fits = |(sheet, _): &(Sheet, usize)| sheet.pages.len() <= pages;
    let (mut fitting, mut too_large) = (normal, fullest + 1);
    while too_large - fitting > 1 {
        let middle = (fitting + too_large) / 2;
        let sheet = set(middle);
        if fits(&sheet) {
            (best, fitting) = (sheet, middle);
        } else {
            too_large = middle;
        }
    }
    if best.1 > 0 && fitting > normal {
        let below = set(fitting - 1);
        if fits(&below) && below.1 < best.1 {
            best = below;
        }
    }
    best.0
}

/// The content of a sheet: one way to play a tune, or several one above the other.
struct Music<'a> {
    melody: Cow<'a, Melody>,
    lead: Lead,
    scores: Vec<Score>,
    /// The name of each way, if there are several.
    names: Vec<&'a str>,
    charted: Vec<Charted<'a>>,
}

/// The chart of a harp, with a caption over it if there are several charts.
struct Charted<'a> {
    caption: Option<String>,
    approach: &'a Approach<'a>,
}

impl<'a> Charted<'a> {
    fn alone(approach: &'a Approach<'a>) -> Charted<'a> {
        Charted { caption: None, approach }
    }
}

/// Returns a chart for each pitch at which the levels play the tune. Levels at the same pitch share the chart of the
/// last of them, whose technique allows the most bends.
fn levels_charted<'a>(sides: &'a [Side<'a>]) -> Vec<Charted<'a>> {
    let mut places: Vec<(Vec<&str>, &Approach)> = Vec::new();
    for side in sides {
        match places.iter_mut().find(|(_, approach)| approach.shift() == side.approach.shift()) {
            Some((names, approach)) => {
                names.push(side.name);
                *approach = side.approach;
            }
            None => places.push((vec![side.name], side.approach)),
        }
    }
    let several = places.len() > 1;
    let charted = places.into_iter().map(|(names, approach)| Charted {
        caption: several.then(|| format!("{} harp, {}", approach.harp, names.join(" and "))),
        approach,
    });
    charted.collect()
}

impl<'a> Music<'a> {
    fn alone(tune: &Tune, request: &'a Request<'a>, approach: &'a Approach<'a>) -> Music<'a> {
        let scores = vec![score::score(request, approach)];
        Music {
            melody: request.melody.signed(request.key),
            lead: without_signs_not_drawn(lead::lead(tune, request, approach), &scores),
            scores,
            names: Vec::new(),
            charted: vec![Charted::alone(approach)],
        }
    }

    fn compared(tune: &Tune, request: &'a Request<'a>, comparison: &'a Comparison<'a>) -> Option<Music<'a>> {
        let lead = lead::compared(tune, request, comparison)?;
        Some(Music::stacked(request, &comparison.sides, lead))
    }

    /// Sets whether the sheet shows a staff, according to the options.
    fn with(mut self, options: Options) -> Self {
        self.scores.iter_mut().for_each(|score| score.staff = !options.tab_only);
        self
    }

    /// Returns the music of several ways, one above the other.
    fn stacked(request: &'a Request<'a>, sides: &'a [Side<'a>], lead: Lead) -> Music<'a> {
        let scores = score::sides(request, sides);
        let several = sides.iter().any(|side| side.approach.harp != sides[0].approach.harp);
        let charted = sides.iter().map(|side| Charted {
            caption: several.then(|| format!("{} harp, {}", side.approach.harp, side.name)),
            approach: side.approach,
        });
        Music {
            melody: request.melody.signed(request.key),
            lead: without_signs_not_drawn(lead, &scores),
            scores,
            names: sides.iter().map(|side| side.name).filter(|_| sides.len() > 1).collect(),
            // A second chart of the same harp would show almost the same.
            charted: charted.take(if several { sides.len() } else { 1 }).collect(),
        }
    }

    /// Draws each line of music once for every way, the top way first. Returns the lines and the number of uneven
    /// lines.
    fn lines(&self, width: i32, bend_mark: BendMark) -> (Vec<Vec<system::System>>, usize) {
        let scores = &self.scores;
        if scores.iter().any(|score| score.bars.is_empty()) {
            return (Vec::new(), 0);
        }
        let measures = spacing::cut(scores, columns::measures(scores, bend_mark), width);
        let lines = spacing::lines(scores, &measures, width);
        let mut carried = vec![system::Carry::default(); scores.len()];
        let mut draw = |(number, line): (usize, &spacing::SystemLine)| {
            let each = scores.iter().zip(&mut carried).enumerate();
            let each = each.map(|(way, (score, carry))| {
                let number = number * scores.len() + way;
                let name = self.names.get(way).copied();
                system::draw(score, &measures, line, (number, name), bend_mark, carry)
            });
            each.collect()
        };
        let uneven = spacing::uneven(&scores[0], &measures, &lines);
        (lines.iter().enumerate().map(&mut draw).collect(), uneven)
    }

    /// Draws the charts one below the other, with the legend beside them if it fits there. If not, the legend is a
    /// second group, which the caller places below the charts.
    fn charts(&self, width: i32, bend_mark: BendMark) -> Vec<Group> {
        const GAP: i32 = 900;
        let corner = |group: &Group| group.bounds().map_or((0, 0), |bounds| (bounds.right, bounds.bottom));
        let mut charts = Group::new(Owner::Chart);
        for (index, Charted { caption, approach }) in self.charted.iter().enumerate() {
            let mut chart = chart::draw(&self.melody, approach, bend_mark);
            if let Some(caption) = caption {
                chart::caption(&mut chart, &label::spelled(caption));
            }
            if index > 0 {
                let top = chart.bounds().map_or(0, |bounds| bounds.top);
                chart.shift(0, corner(&charts).1 + GAP / 2 - top);
            }
            charts.groups.push(chart);
        }
        let mut legend = legend::draw(&self.lead.legend, bend_mark);
        let right = corner(&charts).0;
        let groups = if right + GAP + corner(&legend).0 <= width {
            legend.shift(right + GAP, 0);
            charts.groups.push(legend);
            vec![charts]
        } else {
            vec![charts, legend]
        };
        groups.into_iter().filter(|group| group.bounds().is_some()).collect()
    }
}

/// Removes the sign for a breath from the legend if no score has this sign.
fn without_signs_not_drawn(mut lead: Lead, scores: &[Score]) -> Lead {
    let breathes = scores.iter().any(Score::has_breaths);
    lead.legend.retain(|(sample, _)| breathes || *sample != Sample::Breathe);
    lead
}

/// Splits remarks into lines, so that long remarks can continue on the next page.
fn remarks(remarks: &[String], face: Face, width: i32) -> Vec<pages::Block> {
    let lines = remarks.iter().flat_map(|remark| pages::wrapped(remark, face, REMARK_SIZE, width));
    lines.map(|line| pages::Block::remark(line, face, REMARK_SIZE)).collect()
}

/// Returns the music alone, without page breaks, for a screen as wide as this number of staff spaces, which is limited
/// to the range from 30 to 1000. At 8 pixels a space, a hundred spaces are 800 pixels.
pub fn screen(request: &Request, approach: &Approach, spaces: u16, bend_mark: BendMark) -> Page {
    let width = i32::from(spaces.clamp(30, 1000)) * draw::SPACE;
    let scores = vec![score::score(request, approach)];
    let melody = request.melody.signed(request.key);
    let music = Music {
        melody,
        lead: Lead::default(),
        scores,
        names: Vec::new(),
        charted: vec![Charted::alone(approach)],
    };
    let mut page = Page { width, height: 0, groups: Vec::new() };
    let mut y = SCREEN_GAP;
    for mut system in music.lines(width - 2 * SCREEN_MARGIN, bend_mark).0.into_iter().flatten() {
        system.group.shift(SCREEN_MARGIN, y - system.bounds.top);
        y += system.bounds.bottom - system.bounds.top + SCREEN_GAP;
        page.groups.push(system.group);
    }
    page.height = y;
    page
}

/// Returns the chart of the harp alone.
pub fn harp_chart(request: &Request, approach: &Approach, bend_mark: BendMark) -> Page {
    alone(chart::draw(&request.melody.signed(request.key), approach, bend_mark))
}

/// Returns the legend alone.
pub fn legend(tune: &Tune, request: &Request, approach: &Approach, bend_mark: BendMark) -> Page {
    alone(legend::draw(&Music::alone(tune, request, approach).lead.legend, bend_mark))
}

const SCREEN_MARGIN: i32 = 60;
const SCREEN_GAP: i32 = 300;

/// Returns a page with this group alone, inside margins.
fn alone(mut group: Group) -> Page {
    let empty = Bounds { left: 0, top: 0, right: 0, bottom: 0 };
    let bounds = group.bounds().unwrap_or(empty);
    group.shift(SCREEN_MARGIN - bounds.left, SCREEN_MARGIN - bounds.top);
    Page {
        width: bounds.right - bounds.left + 2 * SCREEN_MARGIN,
        height: bounds.bottom - bounds.top + 2 * SCREEN_MARGIN,
        groups: vec![group],
    }
}

const REMARK_SIZE: i32 = 430;
