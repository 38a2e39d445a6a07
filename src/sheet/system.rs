//! A line of music, drawn: staff, notes, tab, words and what stands above. The top line of the staff is at height 0.

use super::{
    beams,
    columns::{self, Barline, CHORD_SIZE, GRACE, HEAD_MIDDLE, Measure, WORD_SIZE, What},
    draw::{Anchor, Bounds, Group, Item, Owner, Role, SPACE},
    glyphs::Glyph,
    label,
    score::{Event, NoteEvent, Score, ScoreBar, Tie, ledger_lines},
    spacing::{self, Line},
    stems::{self, BEAM, BEAM_STEP, BeamLine, STEM},
    tab,
    text::Face,
    values::Value,
};
use crate::tab::BendMark;

/// Thicknesses of lines.
const STAFF_LINE: i32 = 28;
const LEDGER_LINE: i32 = 40;
const BAR_LINE: i32 = 40;
const THICK_LINE: i32 = 125;
const BRACKET_LINE: i32 = 30;
/// The height of the staff.
const STAFF: i32 = 4 * SPACE;
/// From the music down to the tab, at least.
const ABOVE_TAB: i32 = 190;
/// From line to line of words, and from the tab to the first.
const WORD_STEP: i32 = 570;
const ABOVE_WORDS: i32 = 480;
const NUMBER_SIZE: i32 = 400;
const JUMP_SIZE: i32 = 470;

/// A drawn line.
pub(super) struct System {
    pub(super) group: Group,
    pub(super) bounds: Bounds,
}

/// What goes on from one line into the next.
#[derive(Clone, Debug, Default)]
pub(super) struct Carry {
    /// For each verse, whether a syllable is held.
    held: Vec<bool>,
}

/// Draws a line.
pub(super) fn draw(
    score: &Score,
    measures: &[Measure],
    line: &Line,
    number: usize,
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
    drawer.staff();
    drawer.opening(measures);
    for (index, measure) in measures.iter().enumerate() {
        drawer.measure(measure, index, index + 1 == measures.len());
    }
    drawer.ties(measures);
    let tab_top = drawer.bottom().max(STAFF + 60) + ABOVE_TAB;
    drawer.tab(tab_top);
    drawer.words(tab_top + tab::HEIGHT + ABOVE_WORDS, carry);
    drawer.above(measures);
    drawer.group.groups.append(&mut drawer.bars);
    let empty = Bounds { left: 0, top: 0, right: line.end, bottom: STAFF };
    let bounds = drawer.group.bounds().map_or(empty, |bounds| bounds.around(empty));
    System { group: drawer.group, bounds }
}

/// A note or rest with its place in the line.
#[derive(Clone, Copy)]
struct Spot<'a> {
    measure: usize,
    event: usize,
    grace: Option<usize>,
    x: i32,
    what: &'a Event,
    note: Option<&'a NoteEvent>,
}

struct Drawer<'a> {
    score: &'a Score,
    line: &'a Line,
    bend_mark: BendMark,
    spots: Vec<Spot<'a>>,
    bars: Vec<Group>,
    /// What is drawn on and around the staff, so that what stands above and below keeps clear of it.
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
                let what = &bar.events[event];
                let main = what.note.as_ref();
                let note = match grace {
                    Some(grace) => main.and_then(|main| main.graces.get(grace)),
                    None => main,
                };
                self.spots.push(Spot { measure: index, event, grace, x, what, note });
            }
        }
    }

    /// Adds an item to a note, in the group of its bar.
    fn add(&mut self, measure: usize, note: Option<usize>, item: Item) {
        self.ink.push(item.bounds);
        self.add_quietly(measure, note, item);
    }

    /// The same for what nothing must keep clear of.
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
        let size = NUMBER_SIZE;
        let top = opening.bounds().map_or(0, |bounds| bounds.top);
        if first.begins && bar.number > 1 {
            let at = (0, top.min(-SPACE) - 120);
            opening.push(Item::text(
                bar.number.to_string(),
                at,
                Anchor::Start,
                Face::Italic,
                size,
                Role::Faint,
            ));
        }
        self.group.groups.push(opening);
    }

    fn measure(&mut self, measure: &Measure, index: usize, ends_line: bool) {
        let bar = &self.score.bars[measure.bar];
        for (column, &x) in measure.columns.iter().zip(&self.line.places[index]) {
            match column.what {
                What::Change if index > 0 => self.change(measure, index, x),
                What::Barline => {
                    let barline = Barline::after(self.score, measure.bar, ends_line);
                    for item in barline_items(barline, x, 0, STAFF) {
                        self.add(index, None, item);
                    }
                }
                What::Change | What::Grace(..) | What::Event(_) | What::Chord => {}
            }
        }
        let spots: Vec<Spot> = self.spots.iter().filter(|spot| spot.measure == index).copied().collect();
        let groups: Vec<Vec<usize>> = beams::groups(bar)
            .into_iter()
            .map(|group| {
                group.into_iter().filter(|event| spots.iter().any(|spot| spot.event == *event)).collect()
            })
            .filter(|group: &Vec<usize>| group.len() > 1)
            .collect();
        for spot in &spots {
            match (spot.note, spot.grace) {
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
        for tuplet in 0..bar.tuplets.len() {
            let inside = |spot: &&Spot| spot.grace.is_none() && spot.what.tuplet == Some(tuplet);
            let members: Vec<Spot> = spots.iter().filter(inside).copied().collect();
            let beamed = groups.iter().any(|group| members.iter().all(|spot| group.contains(&spot.event)));
            self.tuplet(&members, bar.tuplets[tuplet].0, beamed);
        }
    }

    fn change(&mut self, measure: &Measure, index: usize, x: i32) {
        let bar = &self.score.bars[measure.bar];
        let Some(before) = measure.bar.checked_sub(1).map(|before| &self.score.bars[before]) else { return };
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

    fn rest(&mut self, spot: &Spot, bar: &ScoreBar) {
        let value = spot.what.value;
        let glyph = columns::rest_glyph(value);
        // A whole rest hangs from its line, a half rest sits on one.
        let y = if value.halvings == 0 { SPACE } else { 2 * SPACE };
        let x = match spot.what.length == bar.length && bar.events.len() == 1 {
            // The rest of a whole bar stands in its middle.
            true => spot.x + (self.end_of(spot.measure) - spot.x - glyph.width()) / 2,
            false => spot.x,
        };
        self.add(spot.measure, None, Item::glyph(glyph, x, y, Role::Note));
        self.dots(spot.measure, None, value, x + glyph.width(), 3 * SPACE / 2);
    }

    /// Where a bar's barline stands.
    fn end_of(&self, measure: usize) -> i32 {
        self.line.places[measure].last().copied().unwrap_or(self.line.end)
    }

    fn dots(&mut self, measure: usize, note: Option<usize>, value: Value, right: i32, y: i32) {
        for dot in 0..i32::from(value.dots) {
            let x = right + columns::DOT_GAP + dot * columns::DOT_STEP;
            self.add(measure, note, Item::glyph(Glyph::named("dot"), x, y, Role::Note));
        }
    }

    fn head(&mut self, spot: &Spot, note: &NoteEvent) {
        let (measure, owner) = (spot.measure, Some(note.note));
        let y = height(note.position);
        let glyph = columns::head_glyph(spot.what.value);
        self.ledger(spot, note, glyph.width(), columns::LEDGER);
        self.add(measure, owner, Item::glyph(glyph, spot.x, y, Role::Note));
        if let Some(alter) = note.accidental {
            let accidental = columns::accidental_glyph(alter);
            let x = spot.x - columns::ACCIDENTAL_GAP - accidental.width();
            self.add(measure, owner, Item::glyph(accidental, x, y, Role::Note));
        }
        // Dots stand in spaces.
        let dot_y = if note.position % 2 == 0 { y - SPACE / 2 } else { y };
        self.dots(measure, owner, spot.what.value, spot.x + glyph.width(), dot_y);
    }

    fn ledger(&mut self, spot: &Spot, note: &NoteEvent, width: i32, beyond: i32) {
        let lines = ledger_lines(note.position);
        for line in 1..=lines.abs() {
            let y = if lines > 0 { -line * SPACE } else { STAFF + line * SPACE };
            let ends = ((spot.x - beyond, y), (spot.x + width + beyond, y));
            self.add(spot.measure, Some(note.note), Item::line(ends.0, ends.1, LEDGER_LINE, Role::Staff));
        }
    }

    /// The stem of a note without a beam, with its flag.
    fn stem(&mut self, spot: &Spot, note: &NoteEvent) {
        let value = spot.what.value;
        if value.halvings < 1 {
            return;
        }
        let up = beams::stem_up(std::iter::once(note));
        let y = height(note.position);
        let end = stems::end(y, up, value.flags());
        let x = stem_x(spot.x, up, 1000);
        self.add(spot.measure, Some(note.note), Item::line((x, y), (x, end), STEM, Role::Note));
        if value.flags() > 0 {
            let flag =
                Glyph::named(&format!("flag_{}_{}", value.flags().min(5), if up { "up" } else { "down" }));
            self.add(spot.measure, Some(note.note), Item::glyph(flag, x - STEM / 2, end, Role::Note));
        }
    }

    fn beam(&mut self, members: &[Spot]) {
        let up = beams::stem_up(members.iter().filter_map(|spot| spot.note));
        let way = if up { 1 } else { -1 };
        let stems: Vec<(i32, i32, u8)> = members
            .iter()
            .filter_map(|spot| {
                let y = height(spot.note?.position);
                Some((stem_x(spot.x, up, 1000), y, spot.what.value.flags()))
            })
            .collect();
        let line = BeamLine::new(&stems, up);
        for (spot, &(x, y, _)) in members.iter().zip(&stems) {
            let owner = spot.note.map(|note| note.note);
            self.add(spot.measure, owner, Item::line((x, y), (x, line.at(x)), STEM, Role::Note));
        }
        let measure = members[0].measure;
        let deepest = stems.iter().map(|stem| stem.2).max().unwrap_or(1);
        for level in 0..deepest {
            let offset = i32::from(level) * BEAM_STEP * way;
            let mut index = 0;
            while index < stems.len() {
                let run = stems[index..].iter().take_while(|stem| stem.2 > level).count();
                if run == 0 {
                    index += 1;
                    continue;
                }
                let (mut from, mut to) = (stems[index].0, stems[index + run - 1].0);
                if run == 1 {
                    // A stub points to the note that it makes a beat with: back, but for the first.
                    if index == 0 { to += STUB } else { from -= STUB }
                }
                let (from, to) = (from - STEM / 2, to + STEM / 2);
                let edge = |x: i32| line.at(x) + offset;
                let points = vec![
                    (from, edge(from)),
                    (to, edge(to)),
                    (to, edge(to) + way * BEAM),
                    (from, edge(from) + way * BEAM),
                ];
                self.add(measure, None, Item::polygon(points, Role::Span));
                index += run;
            }
        }
    }

    fn grace_head(&mut self, spot: &Spot, note: &NoteEvent) {
        let y = height(note.position);
        let glyph = Glyph::named("head_black");
        let owner = Some(note.note);
        self.ledger(spot, note, glyph.width() * GRACE / 1000, columns::LEDGER / 2);
        self.add(spot.measure, owner, Item::scaled_glyph(glyph, spot.x, y, GRACE, Role::Note));
        if let Some(alter) = note.accidental {
            let accidental = columns::accidental_glyph(alter);
            let x = spot.x - columns::ACCIDENTAL_GAP / 2 - accidental.width() * GRACE / 1000;
            self.add(spot.measure, owner, Item::scaled_glyph(accidental, x, y, GRACE, Role::Note));
        }
    }

    /// Stems of grace notes go up: one has a flag with a stroke through it, more have two beams.
    fn grace_stems(&mut self, graces: &[Spot]) {
        let heads: Vec<(&Spot, usize, i32)> = graces
            .iter()
            .filter_map(|spot| spot.note.map(|note| (spot, note.note, height(note.position))))
            .collect();
        let top = heads.iter().map(|head| head.2).min().unwrap_or(0) - 9 * SPACE / 4;
        let thin = STEM * 3 / 4;
        for &(spot, note, y) in &heads {
            let x = stem_x(spot.x, true, GRACE);
            self.add(spot.measure, Some(note), Item::line((x, y), (x, top), thin, Role::Note));
        }
        match heads.as_slice() {
            [] => {}
            [(spot, note, _)] => {
                let x = stem_x(spot.x, true, GRACE);
                let flag =
                    Item::scaled_glyph(Glyph::named("flag_1_up"), x - thin / 2, top, GRACE, Role::Note);
                self.add(spot.measure, Some(*note), flag);
                let stroke = Item::line((x - 110, top + 330), (x + 170, top + 100), thin, Role::Note);
                self.add(spot.measure, Some(*note), stroke);
            }
            [first, .., last] => {
                let (from, to) =
                    (stem_x(first.0.x, true, GRACE) - thin / 2, stem_x(last.0.x, true, GRACE) + thin / 2);
                for level in 0..2 {
                    let y = top + level * 120;
                    let beam = Bounds { left: from, top: y, right: to, bottom: y + 75 };
                    self.add(first.0.measure, None, Item::rectangle(beam, Role::Span));
                }
            }
        }
    }

    /// The number of a tuplet, with a bracket where no beam holds it together.
    fn tuplet(&mut self, members: &[Spot], number: i64, beamed: bool) {
        let (Some(first), Some(last)) = (members.first(), members.last()) else { return };
        let up = beams::stem_up(members.iter().filter_map(|spot| spot.note))
            || members.iter().all(|s| s.note.is_none());
        let (left, right) = (first.x - 20, last.x + 2 * HEAD_MIDDLE + 20);
        let digits: Vec<Glyph> =
            number.to_string().chars().map(|digit| Glyph::named(&format!("tuplet_{digit}"))).collect();
        let width: i32 = digits.iter().map(|digit| digit.advance()).sum();
        let middle = (left + right) / 2;
        // The number stands at the beam, which is above where stems go up.
        let edge =
            if up { self.top_between(left, right) - 60 } else { self.bottom_between(left, right) + 60 };
        // Figures are 363 high.
        let (base, bracket) = if up { (edge, edge - 180) } else { (edge + 363, edge + 180) };
        let mut x = middle - width / 2;
        for digit in digits {
            self.add(first.measure, None, Item::glyph(digit, x, base, Role::Span));
            x += digit.advance();
        }
        if !beamed {
            let hook = if up { bracket + 150 } else { bracket - 150 };
            let gap = width / 2 + 80;
            for (outer, inner) in [(left, middle - gap), (right, middle + gap)] {
                self.add(
                    first.measure,
                    None,
                    Item::line((outer, hook), (outer, bracket), BRACKET_LINE, Role::Span),
                );
                self.add(
                    first.measure,
                    None,
                    Item::line((outer, bracket), (inner, bracket), BRACKET_LINE, Role::Span),
                );
            }
        }
    }

    fn ties(&mut self, measures: &[Measure]) {
        let spots: Vec<Spot> = self.spots.iter().filter(|spot| spot.grace.is_none()).copied().collect();
        for (index, spot) in spots.iter().enumerate() {
            let Some(note) = spot.note else { continue };
            let up = beams::stem_up(std::iter::once(note));
            // On the side of the head, away from the stem.
            let y = height(note.position) + if up { 170 } else { -170 };
            let next =
                spots.get(index + 1).filter(|next| next.note.is_some_and(|next| next.note == note.note));
            let from = spot.x + HEAD_MIDDLE + 90;
            let hanging = (from + 700).min(self.end_of(spot.measure) - 40).max(from + 200);
            let to = match (note.tie, next) {
                (Tie::None, _) => None,
                (Tie::ToNext, Some(next)) => Some(next.x + HEAD_MIDDLE - 90),
                (Tie::ToNext, None) => Some(self.line.end - 20),
                (Tie::Hanging, _) => Some(hanging),
            };
            let starts_line =
                index == 0 && !note.begins && measures.first().is_some_and(|_| spot.measure == 0);
            let start = self.line.start - 130;
            let incoming = if starts_line {
                Some(start.min(spot.x - 150))
            } else if note.hanging_in {
                Some(spot.x - 350)
            } else {
                None
            };
            let way = if up { 1 } else { -1 };
            for (from, to) in
                [incoming.map(|from| (from, spot.x + 70)), to.map(|to| (from, to))].into_iter().flatten()
            {
                let height = way * ((to - from) / 6).clamp(90, 260);
                self.add(spot.measure, Some(note.note), Item::tie((from, y), (to, y), height, Role::Span));
            }
        }
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

    fn tab(&mut self, top: i32) {
        let rail = top + tab::RAIL;
        self.group.push(Item::line((0, rail), (self.line.end, rail), STAFF_LINE, Role::Staff));
        for measure in 0..self.bars.len() {
            let Owner::Bar(index, _) = self.bars[measure].owner else { continue };
            let hard = self.score.bars.iter().any(|bar| bar.index == index && bar.hard);
            let left = match measure.checked_sub(1) {
                Some(before) => self.end_of(before),
                None => self.line.start - 150,
            };
            let right = self.end_of(measure);
            if hard {
                let shade = Bounds {
                    left: left + 40,
                    top: top - 60,
                    right: right - 40,
                    bottom: top + tab::HEIGHT + 60,
                };
                self.bars[measure].items.insert(0, Item::rectangle(shade, Role::Shade));
            }
            let tick = Item::line((right, rail - 130), (right, rail + 130), STAFF_LINE, Role::Staff);
            self.add_quietly(measure, None, tick);
        }
        for spot in self.spots.clone() {
            let Some(note) = spot.note.filter(|note| note.begins) else { continue };
            let scale = if spot.grace.is_some() { tab::SMALL } else { 1000 };
            let bend_mark = self.bend_mark;
            let group = self.note_group(spot.measure, Some(note.note));
            tab::draw(group, &note.tab, bend_mark, spot.x, top, scale);
            if note.awkward {
                let middle =
                    spot.x + if spot.grace.is_some() { HEAD_MIDDLE * GRACE / 1000 } else { HEAD_MIDDLE };
                let left = middle - tab::width(&note.tab, bend_mark, scale) / 2 - tab::TURN_WIDTH;
                tab::turn(group, left, top, tab::TURN);
            }
        }
    }

    fn words(&mut self, top: i32, carry: &mut Carry) {
        let verses = usize::from(self.score.verses);
        carry.held.resize(verses, false);
        for verse in 0..verses {
            let y = top + verse as i32 * WORD_STEP;
            let spots = self.spots.clone();
            let of = |spot: &Spot<'a>| {
                let lyrics = &spot.note?.lyrics;
                lyrics.iter().find(|lyric| usize::from(lyric.verse) == verse + 1 && !lyric.text.is_empty())
            };
            if self.score.verses > 1 && spots.iter().any(|spot| of(spot).is_some()) {
                let number = format!("{}.", verse + 1);
                self.group.push(Item::text(
                    number,
                    (0, y),
                    Anchor::Start,
                    Face::Regular,
                    WORD_SIZE,
                    Role::Faint,
                ));
            }
            // What is held from the line before.
            let mut held_from = carry.held[verse].then_some((self.line.start - 100, 0));
            for (index, spot) in spots.iter().enumerate() {
                let Some(lyric) = of(spot) else { continue };
                self.extend(held_from.take(), &spots[..index], y);
                let note = spot.note.map(|note| note.note);
                let (start, width) = columns::word_place(&lyric.text, lyric.extend);
                let (left, right) = (spot.x + start, spot.x + start + width);
                let item = Item::text(
                    lyric.text.clone(),
                    (left, y),
                    Anchor::Start,
                    Face::Regular,
                    WORD_SIZE,
                    Role::Text,
                );
                self.add_quietly(spot.measure, note, item);
                let next = spots[index + 1..].iter().find_map(|next| {
                    let lyric = of(next)?;
                    Some(next.x + columns::word_place(&lyric.text, lyric.extend).0)
                });
                if lyric.hyphen {
                    self.hyphens(spot.measure, right, next, y);
                } else if lyric.extend {
                    held_from = Some((right + 50, index));
                }
            }
            let last_held = held_from.is_some();
            self.extend(held_from, &spots, y);
            let sings = spots.iter().rev().any(|spot| of(spot).is_some());
            carry.held[verse] = if sings { last_held } else { carry.held[verse] };
        }
    }

    fn hyphens(&mut self, measure: usize, from: i32, to: Option<i32>, y: i32) {
        const WIDTH: i32 = 150;
        let to = to.unwrap_or((from + 500).min(self.line.end));
        let room = to - from;
        if room < WIDTH + 40 {
            return;
        }
        let count = (room / 2400).max(1);
        for index in 0..count {
            let middle = from + room * (2 * index + 1) / (2 * count);
            let y = y - WORD_SIZE / 4;
            let item = Item::line((middle - WIDTH / 2, y), (middle + WIDTH / 2, y), 35, Role::Text);
            self.add_quietly(measure, None, item);
        }
    }

    /// The line after a syllable that is held, as far as the last of these notes.
    fn extend(&mut self, held: Option<(i32, usize)>, spots: &[Spot], y: i32) {
        let Some((from, index)) = held else { return };
        let last = spots.get(index..).unwrap_or_default().iter().rev().find(|spot| spot.note.is_some());
        let Some(last) = last else { return };
        let to = last.x + 2 * HEAD_MIDDLE;
        if to - from > 150 {
            let item = Item::line((from, y - 10), (to, y - 10), 24, Role::Text);
            self.add_quietly(last.measure, None, item);
        }
    }

    /// What stands above the staff: signs, chords, endings, words about the order of playing.
    fn above(&mut self, measures: &[Measure]) {
        self.signs();
        self.chords(measures);
        self.endings(measures);
        self.jumps(measures);
    }

    fn signs(&mut self) {
        let spots = self.spots.clone();
        for (index, spot) in spots.iter().enumerate() {
            let Some(note) = spot.note else { continue };
            if note.changed {
                let x = spot.x + HEAD_MIDDLE;
                let y = self.top_between(x - 130, x + 130) + 40;
                let star = Item::text("*", (x, y), Anchor::Middle, Face::Semibold, 620, Role::Sign);
                // Of its line's height only the star itself is ink.
                let bounds = Bounds { top: y - 460, bottom: y - 120, ..star.bounds };
                self.add(spot.measure, Some(note.note), Item { bounds, ..star });
            }
            if note.breathe_after && spot.grace.is_none() {
                let glyph = Glyph::named("breath");
                let next = spots.get(index + 1).filter(|next| next.measure == spot.measure);
                let until = next.map_or(self.end_of(spot.measure), |next| next.x) - 60;
                let x = (until - glyph.width()).max(spot.x + 2 * HEAD_MIDDLE);
                let y = self.top_between(x - 20, x + glyph.width() + 20).min(0) - 70;
                self.add(spot.measure, Some(note.note), Item::glyph(glyph, x, y, Role::Sign));
            }
        }
    }

    fn chords(&mut self, measures: &[Measure]) {
        let mut texts = Vec::new();
        for (index, measure) in measures.iter().enumerate() {
            let bar = &self.score.bars[measure.bar];
            for (column, &x) in measure.columns.iter().zip(&self.line.places[index]) {
                let here = bar
                    .chords
                    .iter()
                    .find(|(at, _)| *at == column.at && matches!(column.what, What::Event(_) | What::Chord));
                if let Some((_, text)) = here {
                    texts.push((index, x, label::spelled(text)));
                }
            }
        }
        let tops = texts
            .iter()
            .map(|(_, x, text)| self.top_between(*x, x + label::width(text, Face::Semibold, CHORD_SIZE)));
        let Some(top) = tops.min() else { return };
        let y = top.min(-SPACE / 2) - 250;
        for (index, x, text) in texts {
            for item in label::items(&text, (x, y), Anchor::Start, Face::Semibold, CHORD_SIZE, Role::Text) {
                self.add(index, None, item);
            }
        }
    }

    fn endings(&mut self, measures: &[Measure]) {
        let bars: Vec<&ScoreBar> = measures.iter().map(|measure| &self.score.bars[measure.bar]).collect();
        let mut from = 0;
        let mut brackets = Vec::new();
        while from < bars.len() {
            let ending = &bars[from].marks.ending;
            let run = bars[from..].iter().take_while(|bar| &bar.marks.ending == ending).count();
            if !ending.is_empty() {
                let left = match from.checked_sub(1) {
                    Some(before) => self.end_of(before),
                    None => self.line.start - 150,
                };
                let begins = self.begins_ending(measures[from].bar);
                brackets.push((from, left + 50, self.end_of(from + run - 1) - 30, ending.clone(), begins));
            }
            from += run;
        }
        let Some(top) = brackets.iter().map(|&(_, left, right, ..)| self.top_between(left, right)).min()
        else {
            return;
        };
        let (line, foot) = (top.min(-SPACE / 2) - 560, top.min(-SPACE / 2) - 90);
        for (measure, left, right, ending, begins) in brackets {
            self.add(measure, None, Item::line((left, line), (right, line), BRACKET_LINE, Role::Bar));
            if begins {
                self.add(measure, None, Item::line((left, line), (left, foot), BRACKET_LINE, Role::Bar));
                let numbers: Vec<String> = ending.iter().map(|number| format!("{number}.")).collect();
                let at = (left + 100, foot - 60);
                let text = numbers.join(" ");
                self.add(measure, None, Item::text(text, at, Anchor::Start, Face::Regular, 430, Role::Text));
            }
        }
    }

    fn begins_ending(&self, bar: usize) -> bool {
        let before = bar.checked_sub(1).map(|before| &self.score.bars[before].marks.ending);
        before != Some(&self.score.bars[bar].marks.ending)
    }

    fn jumps(&mut self, measures: &[Measure]) {
        for (index, measure) in measures.iter().enumerate() {
            let marks = &self.score.bars[measure.bar].marks;
            let left = match index.checked_sub(1) {
                Some(before) => self.end_of(before),
                None => self.line.start - 150,
            };
            let mut x = left;
            for (set, glyph) in [(marks.segno, "segno"), (marks.coda, "coda")] {
                if set && measure.begins {
                    let glyph = Glyph::named(glyph);
                    let width = glyph.width() * 800 / 1000;
                    let y = self.top_between(x, x + width).min(-SPACE / 2) - 200;
                    self.add(index, None, Item::scaled_glyph(glyph, x, y, 800, Role::Text));
                    x += width + 150;
                }
            }
            let mut words = Vec::new();
            if let Some(times) = marks.repeat_end.filter(|&times| times != 2) {
                words.push(format!("{times} times"));
            }
            let jumps = [
                (marks.to_coda, "to coda"),
                (marks.fine, "Fine"),
                (marks.da_capo, "D.C."),
                (marks.dal_segno, "D.S."),
            ];
            words.extend(jumps.into_iter().filter(|(set, _)| *set).map(|(_, word)| word.to_owned()));
            if words.is_empty() || !measure.ends {
                continue;
            }
            let text = words.join(", ");
            let right = self.end_of(index) - 20;
            let width = Face::Italic.width(&text, JUMP_SIZE);
            let y = self.top_between(right - width, right).min(-SPACE / 2) - 180;
            self.add(
                index,
                None,
                Item::text(text, (right, y), Anchor::End, Face::Italic, JUMP_SIZE, Role::Text),
            );
        }
    }
}

/// How long a stub of a beam is.
const STUB: i32 = 270;

/// The height of a position: of its line or space.
fn height(position: i32) -> i32 {
    STAFF - position * SPACE / 2
}

/// Where the stem of a head stands.
fn stem_x(head: i32, up: bool, scale: i32) -> i32 {
    let width = Glyph::named("head_black").width() * scale / 1000;
    if up { head + width - STEM / 2 } else { head + STEM / 2 }
}

fn signature(group: &mut Group, sharps: i8, before: i8, x: i32) {
    /// Positions in the order of the signature.
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
