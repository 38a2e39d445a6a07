//! Draws a line of music: staff, notes, tab, words, and the signs above the staff. The top line of the staff is at
//! height 0.

mod above;
mod bare;
mod notes;
mod lyrics;
mod slurs;

use super::{
    columns::{self, Barline, GRACE, HEAD_MIDDLE, Measure, What},
    draw::{Anchor, Bounds, Group, Item, Owner, Role, SPACE},
    glyphs::Glyph,
    houses,
    score::{Event, NoteEvent, Score, ScoreBar, Tab},
    spacing::{self, SystemLine},
    text::Face,
};
use crate::{harp::Breath, tab::BendMark};

/// Thicknesses of lines.
const STAFF_LINE: i32 = 28;
const BAR_LINE: i32 = 40;
const THICK_LINE: i32 = 125;
/// The height of the staff.
const STAFF: i32 = 4 * SPACE;
/// The distance from the music, or from just below the staff, down to the tab.
const ABOVE_TAB: i32 = 190;
/// The distance from the tab down to the baseline of the first line of words.
const ABOVE_WORDS: i32 = 480;
const NUMBER_SIZE: i32 = 400;

/// A drawn line of music in one way.
pub(super) struct System {
    pub(super) group: Group,
    pub(super) bounds: Bounds,
}

/// The state that one line passes to the next.
#[derive(Clone, Debug, Default)]
pub(super) struct Carry {
    /// For each verse, whether a syllable is held into the next line.
    held: Vec<bool>,
}

/// Draws a line. If several ways are drawn one above the other, the line has the name of its way.
pub(super) fn draw(
    score: &Score,
    measures: &[Measure],
    line: &SystemLine,
    (number, name): (usize, Option<&str>),
    bend_mark: BendMark,
    carry: &mut Carry,
) -> System {
    let mut drawer = Drawer {
        score,
        line,
        bend_mark,
        spots: Vec::new(),
        bars: Vec::new(),
        ink: Vec::new(),
        group: Group::new(Owner::System(number)),
    };
    let measures = &measures[line.measures.clone()];
    drawer.place(measures);
    let steps = drawer.steps();
    let tab_top = if score.staff {
        drawer.staff();
        drawer.opening(measures);
        for (index, measure) in measures.iter().enumerate() {
            drawer.measure(measure, index, index + 1 == measures.len());
        }
        drawer.ties(measures);
        drawer.slurs(measures);
        drawer.bottom().max(STAFF + 60) + ABOVE_TAB + steps.above
    } else {
        drawer.bare(measures, steps.above);
        steps.above
    };
    drawer.tab(measures, tab_top, steps);
    drawer.words(tab_top + houses::HEIGHT + steps.below + ABOVE_WORDS, carry);
    drawer.above(measures);
    drawer.number(measures, name);
    drawer.group.groups.append(&mut drawer.bars);
    let empty = Bounds { left: 0, top: 0, right: line.end, bottom: STAFF };
    let bounds = drawer.group.bounds().map_or(empty, |bounds| bounds.around(empty));
    System { group: drawer.group, bounds }
}

/// A note or rest, with its place in the line.
#[derive(Clone, Copy)]
struct Spot<'a> {
    measure: usize,
    event: usize,
    grace: Option<usize>,
    x: i32,
    what: &'a Event,
    note: Option<&'a NoteEvent>,
}

/// The room that the steps of bends in the line need above and below the tab.
#[derive(Clone, Copy)]
struct Steps {
    above: i32,
    below: i32,
}

struct Drawer<'a> {
    score: &'a Score,
    line: &'a SystemLine,
    bend_mark: BendMark,
    spots: Vec<Spot<'a>>,
    bars: Vec<Group>,
    /// The extents on and around the staff that signs above and below must not touch.
    ink: Vec<Bounds>,
    group: Group,
}

impl<'a> Drawer<'a> {
    fn place(&mut self, measures: &[Measure]) {
        for (index, measure) in measures.iter().enumerate() {
            let bar = &self.score.bars[measure.bar];
            self.bars.push(Group::new(Owner::Bar(bar.index, bar.number)));
            for (column, &x) in measure.columns.iter().zip(&self.line.places[index]) {
                let (event, grace) = match column.what {
                    What::Event(event) => (event, None),
                    What::Grace(event, grace) => (event, Some(grace)),
                    What::Change | What::Chord | What::Barline => continue,
                };
                // The column may belong only to another way.
                let Some(what) = bar.events.get(event) else { continue };
                let main = what.note.as_ref();
                let note = match grace {
                    Some(grace) => main.and_then(|main| main.graces.get(grace)),
                    None => main,
                };
                if grace.is_some() && note.is_none() {
                    continue;
                }
                self.spots.push(Spot { measure: index, event, grace, x, what, note });
            }
        }
    }

    /// Adds an item to the group of a note inside a measure, or to the measure's own group. Later signs must not touch
    /// the item.
    fn add(&mut self, measure: usize, note: Option<usize>, item: Item) {
        self.ink.push(item.bounds);
        self.add_quietly(measure, note, item);
    }

    /// Adds an item that other signs may touch.
    fn add_quietly(&mut self, measure: usize, note: Option<usize>, item: Item) {
        self.note_group(measure, note).push(item);
    }

    fn note_group(&mut self, measure: usize, note: Option<usize>) -> &mut Group {
        let bar = &mut self.bars[measure];
        let Some(note) = note else { return bar };
        let owner = Owner::Note(note);
        let index = bar.groups.iter().rposition(|group| group.owner == owner).unwrap_or_else(|| {
            bar.groups.push(Group::new(owner));
            bar.groups.len() - 1
        });
        &mut bar.groups[index]
    }

    fn staff(&mut self) {
        for index in 0..5 {
            let y = index * SPACE;
            self.group.push(Item::line((0, y), (self.line.end, y), STAFF_LINE, Role::Staff));
        }
        self.ink.push(Bounds { left: 0, top: 0, right: self.line.end, bottom: STAFF });
    }

    fn opening(&mut self, measures: &[Measure]) {
        let Some(first) = measures.first() else { return };
        let bar = &self.score.bars[first.bar];
        let mut opening = Group::new(Owner::Opening);
        let clef = Glyph::named(match self.score.clef.octaves {
            i8::MIN..=-1 => "clef_8_below",
            0 => "clef",
            1 => "clef_8_above",
            2..=i8::MAX => "clef_15_above",
        });
        opening.push(Item::glyph(clef, 60, 3 * SPACE, Role::Note));
        let mut x = 60 + clef.width() + 130;
        if bar.sharps != 0 {
            signature(&mut opening, bar.sharps, 0, x);
            x += columns::signature_width(bar.sharps, 0) + 100;
        }
        if spacing::shows_meter(self.score, first) {
            meter(&mut opening, bar, x);
            x += columns::meter_width(bar) + 100;
        }
        if bar.marks.repeat_start && first.begins {
            let barline = Barline { repeat_start: true, repeat_end: false, section: false, end: false };
            barline_items(barline, x + 100, 0, STAFF).into_iter().for_each(|item| opening.push(item));
        }
        if let Some(bounds) = opening.bounds() {
            self.ink.push(bounds);
        }
        self.group.groups.push(opening);
    }

    /// Draws the number of the line's first bar, if the bar begins here and its number is above 1, and the name of the
    /// line, if it has one.
    fn number(&mut self, measures: &[Measure], name: Option<&str>) {
        let first =
            measures.first().filter(|first| first.begins).map(|first| self.score.bars[first.bar].number);
        let number = first.filter(|&number| number > 1).map(|number| number.to_string());
        // The number fits over the clef. Without a clef, or with a name, the text may extend over the first notes.
        let name_width = name.map(|name| Face::Italic.width(name, NUMBER_SIZE));
        let over = match name_width.or((!self.score.staff).then_some(0)) {
            Some(width) => self.top_between(0, 800 + width),
            None => 0,
        };
        let Some(opening) = self.group.groups.iter_mut().find(|group| group.owner == Owner::Opening) else {
            return;
        };
        let top = opening.bounds().map_or(0, |bounds| bounds.top).min(-SPACE).min(over) - 120;
        let mut write = |text: &str, at: (i32, i32), role: Role| {
            let item = Item::text(text, at, Anchor::Start, Face::Italic, NUMBER_SIZE, role);
            let right = item.bounds.right;
            opening.push(item);
            right
        };
        let left = number.map_or(0, |number| write(&number, (0, top), Role::Faint) + 200);
        if let Some(name) = name {
            write(name, (left, top), Role::Text);
        }
    }

    fn measure(&mut self, measure: &Measure, index: usize, ends_line: bool) {
        let bar = &self.score.bars[measure.bar];
        for (column, &x) in measure.columns.iter().zip(&self.line.places[index]) {
            match column.what {
                What::Change if index > 0 => self.change(measure.bar, index, x),
                What::Barline => {
                    let barline = Barline::after(self.score, measure.bar, ends_line);
                    for item in barline_items(barline, x, 0, STAFF) {
                        self.add(index, None, item);
                    }
                    if ends_line && columns::courtesy_width(self.score, measure.bar) > 0 {
                        self.change(measure.bar + 1, index, x + barline.extent().1 + columns::COURTESY_GAP);
                    }
                }
                What::Change | What::Grace(..) | What::Event(_) | What::Chord => {}
            }
        }
        let spots: Vec<Spot> = self.spots.iter().filter(|spot| spot.measure == index).copied().collect();
        // A part of a long bar has only some of the bar's beams.
        let (first, last) =
            (spots.first().map_or(0, |spot| spot.event), spots.last().map_or(0, |spot| spot.event));
        let beams = &bar.beams[bar.beams.partition_point(|group| group.last() < Some(&first))..];
        let groups: Vec<Vec<usize>> = beams
            .iter()
            .take_while(|group| group.first() <= Some(&last))
            .map(|group| {
                let here = group.iter().copied();
                here.filter(|event| spots.iter().any(|spot| spot.event == *event)).collect()
            })
            .filter(|group: &Vec<usize>| group.len() > 1)
            .collect();
        for spot in &spots {
            match (spot.note, spot.grace) {
                (None, _) if bar.silent > 1 => self.long_rest(spot, bar.silent),
                (None, _) => self.rest(spot, bar),
                (Some(note), Some(_)) => self.grace_head(spot, note),
                (Some(note), None) => {
                    self.head(spot, note);
                    if !groups.iter().any(|group| group.contains(&spot.event)) {
                        self.stem(spot, note);
                    }
                }
            }
        }
        for group in &groups {
            let main = |event: &usize| spots.iter().find(|spot| spot.event == *event && spot.grace.is_none());
            let members: Vec<Spot> = group.iter().filter_map(main).copied().collect();
            self.beam(&members);
        }
        let mut before = 0;
        while before < spots.len() {
            let run = spots[before..].iter().take_while(|spot| spot.grace.is_some()).count();
            if run > 0 {
                let graces = spots[before..before + run].to_vec();
                self.grace_stems(&graces);
            }
            before += run.max(1);
        }
        let of_tuplet = |spot: &Spot| spot.what.tuplet.filter(|_| spot.grace.is_none());
        let mut tuplets: Vec<usize> = spots.iter().filter_map(of_tuplet).collect();
        tuplets.sort_unstable();
        tuplets.dedup();
        for tuplet in tuplets {
            let members: Vec<Spot> =
                spots.iter().filter(|spot| of_tuplet(spot) == Some(tuplet)).copied().collect();
            let beamed = groups.iter().any(|group| members.iter().all(|spot| group.contains(&spot.event)));
            self.tuplet(&members, bar.tuplets[tuplet].0, beamed);
        }
    }

    /// Draws a change of signature or meter before a bar. `index` is the index of the measure in the line.
    fn change(&mut self, bar: usize, index: usize, x: i32) {
        let Some(before) = bar.checked_sub(1).map(|before| &self.score.bars[before]) else { return };
        let bar = &self.score.bars[bar];
        let mut change = Group::new(Owner::Opening);
        let mut x = x;
        if bar.sharps != before.sharps {
            signature(&mut change, bar.sharps, before.sharps, x);
            x += columns::signature_width(bar.sharps, before.sharps) + 100;
        }
        if bar.meter != before.meter {
            meter(&mut change, bar, x);
        }
        for item in change.items {
            self.add(index, None, item);
        }
    }

    /// Returns the place of a measure's last column, which is its barline unless the bar continues in the next line.
    fn end_of(&self, measure: usize) -> i32 {
        self.line.places[measure].last().copied().unwrap_or(self.line.end)
    }

    fn top_between(&self, left: i32, right: i32) -> i32 {
        let inside = self.ink.iter().filter(|ink| ink.left < right && left < ink.right);
        inside.map(|ink| ink.top).min().unwrap_or(0)
    }

    fn bottom_between(&self, left: i32, right: i32) -> i32 {
        let inside = self.ink.iter().filter(|ink| ink.left < right && left < ink.right);
        inside.map(|ink| ink.bottom).max().unwrap_or(STAFF)
    }

    fn bottom(&self) -> i32 {
        self.ink.iter().map(|ink| ink.bottom).max().unwrap_or(STAFF)
    }

    /// Returns, for each side of the rail, the greatest distance by which the steps of a bend move a house away from
    /// it.
    fn steps(&self) -> Steps {
        let mut steps = Steps { above: 0, below: 0 };
        for spot in &self.spots {
            let Some((note, Tab::Action(action))) = spot.note.map(|note| (note, &note.tab)) else { continue };
            let side = match action.breath {
                Breath::Blow => &mut steps.above,
                Breath::Draw => &mut steps.below,
            };
            *side = houses::climb(&note.tab, tab_scale(spot)).max(*side);
        }
        steps
    }

    fn tab(&mut self, measures: &[Measure], top: i32, steps: Steps) {
        let rail = top + houses::RAIL;
        self.group.push(Item::line((0, rail), (self.line.end, rail), STAFF_LINE, Role::Staff));
        for (measure, bar) in measures.iter().map(|measure| &self.score.bars[measure.bar]).enumerate() {
            let shaded = bar.shaded;
            let left = match measure.checked_sub(1) {
                Some(before) => self.end_of(before),
                None => self.line.start - 150,
            };
            let right = self.end_of(measure);
            if shaded {
                let shade = Bounds {
                    left: left + 40,
                    top: top - 60 - steps.above,
                    right: right - 40,
                    bottom: top + houses::HEIGHT + 60 + steps.below,
                };
                self.bars[measure].items.insert(0, Item::rectangle(shade, Role::Shade));
            }
            if self.score.staff {
                let tick = Item::line((right, rail - 130), (right, rail + 130), STAFF_LINE, Role::Staff);
                self.add_quietly(measure, None, tick);
            }
        }
        for spot in self.spots.clone() {
            let Some(note) = spot.note.filter(|note| note.begins) else { continue };
            let scale = tab_scale(&spot);
            let bend_mark = self.bend_mark;
            let group = self.note_group(spot.measure, Some(note.note));
            houses::draw(group, &note.tab, bend_mark, spot.x, top, scale);
            if note.mended {
                houses::star(group, &note.tab, spot.x, top, scale);
            }
            if note.framed {
                houses::frame(group, &note.tab, bend_mark, spot.x, top, scale);
            }
            if note.awkward {
                let middle =
                    spot.x + if spot.grace.is_some() { HEAD_MIDDLE * GRACE / 1000 } else { HEAD_MIDDLE };
                let frame = if note.framed { houses::FRAME } else { 0 };
                let left =
                    middle - houses::width(&note.tab, bend_mark, scale) / 2 - frame - houses::TURN_WIDTH;
                houses::turn(group, left, top, houses::TURN);
            }
        }
    }
}

/// Returns the size of a note's tab, in thousandths.
fn tab_scale(spot: &Spot) -> i32 {
    if spot.grace.is_some() { houses::SMALL } else { 1000 }
}

/// Returns the vertical place of a staff position.
fn height(position: i32) -> i32 {
    STAFF - position * SPACE / 2
}

fn signature(group: &mut Group, sharps: i8, before: i8, x: i32) {
    /// The staff positions of the accidentals, in the order of the signature.
    const SHARPS: [i32; 7] = [8, 5, 9, 6, 3, 7, 4];
    const FLATS: [i32; 7] = [4, 7, 3, 6, 2, 5, 1];
    let shown = if sharps == 0 { before } else { sharps };
    let glyph = Glyph::named(if sharps == 0 {
        "natural"
    } else if sharps > 0 {
        "sharp"
    } else {
        "flat"
    });
    let positions = if shown > 0 { SHARPS } else { FLATS };
    for (index, position) in positions.into_iter().take(usize::from(shown.unsigned_abs())).enumerate() {
        let x = x + index as i32 * columns::SIGNATURE_STEP;
        group.push(Item::glyph(glyph, x, height(position), Role::Note));
    }
}

fn meter(group: &mut Group, bar: &ScoreBar, x: i32) {
    let Some(meter) = bar.meter else { return };
    let width = columns::meter_width(bar);
    for (number, y) in [(meter.beats, SPACE), (meter.unit, 3 * SPACE)] {
        let mut at = x + (width - columns::meter_number_width(number)) / 2;
        for digit in number.to_string().chars() {
            let digit = Glyph::named(&format!("time_{digit}"));
            group.push(Item::glyph(digit, at, y, Role::Note));
            at += digit.advance();
        }
    }
}

fn barline_items(barline: Barline, x: i32, top: i32, bottom: i32) -> Vec<Item> {
    let line = |x: i32, width: i32| Item::line((x, top), (x, bottom), width, Role::Bar);
    let dots = |x: i32| {
        [3 * SPACE / 2, 5 * SPACE / 2]
            .map(|y| Item::glyph(Glyph::named("repeat_dot"), x - 52, top + y, Role::Bar))
    };
    let mut items = Vec::new();
    let thick = barline.repeat_end || barline.repeat_start || barline.end;
    if thick {
        let x = x + THICK_LINE / 2 - 20;
        items.push(line(x, THICK_LINE));
        if barline.repeat_end || barline.end {
            items.push(line(x - 160, BAR_LINE));
        }
        if barline.repeat_end {
            items.extend(dots(x - 280));
        }
        if barline.repeat_start {
            items.push(line(x + 160, BAR_LINE));
            items.extend(dots(x + 280));
        }
    } else if barline.section {
        items.push(line(x - 130, BAR_LINE));
        items.push(line(x, BAR_LINE));
    } else {
        items.push(line(x, BAR_LINE));
    }
    items
}
