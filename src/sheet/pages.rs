//! Lays a sheet out on pages: heading, lines of music, chart, legend, remarks and page feet.

use itertools::Itertools;

use super::{
    Page, Paper,
    draw::{Anchor, Bounds, Group, Item, Owner, Role},
    glyphs::Glyph,
    label,
    system::System,
    text::Face,
};
use crate::{
    clean::visible,
    melody::Melody,
    notation::Value,
    pages::lead::Lead,
    time::{Beats, Meter},
};

const TITLE_SIZE: i32 = 1000;
const LINE_SIZE: i32 = 540;
const FOOT_SIZE: i32 = 400;
/// The gaps to try between blocks. The widest gap that needs the fewest pages is used.
const GAPS: [i32; 3] = [560, 420, 280];
/// The most extra room between the lines of a full page, and between the lines of the last page.
const MORE: i32 = 1000;
const MORE_ON_LAST: i32 = 500;

/// The area of a page inside its margins.
#[derive(Clone, Copy)]
pub(super) struct Area {
    pub(super) width: i32,
    pub(super) height: i32,
    margin: i32,
    paper: (i32, i32),
}

impl Area {
    /// Returns the area of a sheet of paper, in units of `unit` micrometres.
    pub(super) fn of(paper: Paper, unit: i32) -> Area {
        let units = |micrometres: i32| micrometres / unit;
        let (width, height) = match paper {
            Paper::A4 => (210_000, 297_000),
            Paper::Letter => (215_900, 279_400),
        };
        let margin = units(14_000);
        let paper = (units(width), units(height));
        Area { width: paper.0 - 2 * margin, height: paper.1 - 2 * margin, margin, paper }
    }
}

/// Draws the heading of the first page. Its top is at 0.
pub(super) fn heading(lead: &Lead, tempo: Option<Tempo>, width: i32) -> Group {
    let mut heading = Group::new(Owner::Heading);
    let mut y = 0;
    for line in wrapped(&lead.title, Face::Semibold, TITLE_SIZE, width) {
        y += TITLE_SIZE * 12 / 10;
        heading.push(Item::text(
            line,
            (width / 2, y - 300),
            Anchor::Middle,
            Face::Semibold,
            TITLE_SIZE,
            Role::Text,
        ));
    }
    for line in lead.makers.iter().flat_map(|makers| wrapped(makers, Face::Italic, LINE_SIZE, width)) {
        y += LINE_SIZE * 13 / 10;
        let at = (width / 2, y - 300);
        heading.push(Item::text(line, at, Anchor::Middle, Face::Italic, LINE_SIZE, Role::Text));
    }
    y += 500;
    let left = key_and_tempo(&mut heading, &lead.key, tempo.as_ref(), width, &mut y);
    match lead.playing.as_slice() {
        [playing] => {
            let lines = wrapped(playing, Face::Semibold, LINE_SIZE, width);
            let widest =
                lines.iter().map(|line| label::width(&label::spelled(line), Face::Semibold, LINE_SIZE));
            if left + 400 + widest.max().unwrap_or(0) > width {
                y += NEXT_LINE;
            }
            for (index, line) in (0..).zip(&lines) {
                let (line, at) = (label::spelled(line), (width, y + index * NEXT_LINE));
                let items = label::items(&line, at, Anchor::End, Face::Semibold, LINE_SIZE, Role::Text);
                heading.items.extend(items);
            }
        }
        ways => {
            for line in ways.iter().flat_map(|way| wrapped(way, Face::Semibold, LINE_SIZE, width)) {
                y += NEXT_LINE;
                let line = label::spelled(&line);
                let (at, anchor) = ((0, y), Anchor::Start);
                heading.items.extend(label::items(&line, at, anchor, Face::Semibold, LINE_SIZE, Role::Text));
            }
        }
    }
    heading
}

/// The height from one line of the heading to the next.
const NEXT_LINE: i32 = LINE_SIZE * 14 / 10;

/// Draws the keys at the height `y`, and the tempo after them, or on the next line if the line of the keys has no room.
/// Returns the right edge of the last line, and sets `y` to the height of the last line.
fn key_and_tempo(heading: &mut Group, keys: &str, tempo: Option<&Tempo>, width: i32, y: &mut i32) -> i32 {
    let mut left = 0;
    for (index, line) in wrapped(keys, Face::Regular, LINE_SIZE, width).iter().enumerate() {
        *y += if index > 0 { NEXT_LINE } else { 0 };
        let line = label::spelled(line);
        let items = label::items(&line, (0, *y), Anchor::Start, Face::Regular, LINE_SIZE, Role::Text);
        heading.items.extend(items);
        left = label::width(&line, Face::Regular, LINE_SIZE);
    }
    let Some(tempo) = tempo else { return left };
    let mut drawn = Group::new(Owner::Heading);
    let end = tempo.draw_with_words(&mut drawn, left + 350, *y);
    if end <= width {
        heading.items.extend(drawn.items);
        return end;
    }
    *y += NEXT_LINE;
    tempo.draw_with_words(heading, 0, *y)
}

/// The tempo at the beginning of the tune.
pub(super) struct Tempo {
    /// The words of tempo at the beginning of the tune.
    words: String,
    /// The beat.
    beat: Value,
    /// Beats a minute.
    per_minute: u64,
    /// Whether the file gives the tempo.
    stated: bool,
}

impl Tempo {
    pub(super) fn of(melody: &Melody, meter: Option<Meter>) -> Option<Tempo> {
        let tempo = &melody.tempo;
        let words = visible(&melody.opening_words().join(", "));
        let beat = meter.unwrap_or(Meter::COMMON).felt_beat();
        let micros = u64::from(tempo.micros_per_quarter(Beats::ZERO));
        let (numerator, denominator) = beat.fraction();
        let beat_micros = micros * u64::try_from(numerator).ok()? / u64::try_from(denominator).ok()?;
        let per_minute = (60_000_000 + beat_micros / 2).checked_div(beat_micros)?;
        Some(Tempo { words, beat: Value::of(beat)?, per_minute, stated: tempo.is_stated() })
    }

    /// Draws the tempo words, if there are any, and the beats a minute. Returns the right edge of the drawing.
    fn draw_with_words(&self, group: &mut Group, left: i32, y: i32) -> i32 {
        let mut left = left;
        if !self.words.is_empty() {
            let words =
                Item::text(&*self.words, (left, y), Anchor::Start, Face::Semibold, LINE_SIZE, Role::Text);
            left = words.bounds.right + 200;
            group.push(words);
        }
        self.draw(group, left, y)
    }

    /// Draws "note = number", in brackets if breathline assumed the tempo. Returns the right edge of the drawing.
    fn draw(&self, group: &mut Group, x: i32, y: i32) -> i32 {
        const SCALE: i32 = 600;
        let open = if self.stated { "" } else { "(" };
        let mut x = x;
        if !self.stated {
            group.push(Item::text(open, (x, y), Anchor::Start, Face::Regular, LINE_SIZE, Role::Text));
            x += Face::Regular.width(open, LINE_SIZE) + 30;
        }
        let head = super::columns::head_glyph(self.beat);
        let scaled = |length: i32| length * SCALE / 1000;
        let base = y - 80;
        group.push(Item::scaled_glyph(head, x, base, SCALE, Role::Note));
        let mut right = x + scaled(head.width());
        if self.beat.halvings > 0 {
            let stem = right - 9;
            group.push(Item::line((stem, base), (stem, base - scaled(800)), 18, Role::Note));
            if self.beat.flags() > 0 {
                let flag = Glyph::named(&format!("flag_{}_up", self.beat.flags().min(5)));
                group.push(Item::scaled_glyph(flag, stem - 9, base - scaled(800), SCALE, Role::Note));
                right += scaled(flag.width());
            }
        }
        for _ in 0..self.beat.dots {
            group.push(Item::scaled_glyph(Glyph::named("dot"), right + 45, base, SCALE, Role::Note));
            right += 45 + scaled(100);
        }
        let close = if self.stated { "" } else { ")" };
        let text = format!("= {}{close}", self.per_minute);
        let end = right + 110 + Face::Regular.width(&text, LINE_SIZE);
        group.push(Item::text(text, (right + 110, y), Anchor::Start, Face::Regular, LINE_SIZE, Role::Text));
        end
    }
}

/// Breaks a text into lines within a width. A word that is too wide by itself is broken.
pub(super) fn wrapped(text: &str, face: Face, size: i32, width: i32) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let mut word = word;
        while face.width(word, size) > width {
            let fitting = (1..=word.chars().count()).rev().find(|&count| {
                let head: String = word.chars().take(count).collect();
                count == 1 || face.width(&head, size) <= width
            });
            let at = word.char_indices().nth(fitting.unwrap_or(1)).map_or(word.len(), |(at, _)| at);
            lines.push(word[..at].to_owned());
            word = &word[at..];
            if word.is_empty() {
                break;
            }
        }
        match lines.last_mut().filter(|line| face.width(&format!("{line} {word}"), size) <= width) {
            Some(line) => {
                line.push(' ');
                line.push_str(word);
            }
            None if word.is_empty() => {}
            None => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Lays everything out on pages: the heading, then the blocks.
pub(super) fn lay_out(heading: Group, blocks: Vec<Block>, area: Area, title: &str) -> Vec<Page> {
    let heading_height = heading.bounds().map_or(0, |bounds| bounds.bottom);
    let body = area.height - 3 * FOOT_SIZE;
    let pages = |gap: i32| fill(&blocks, heading_height, body, gap);
    let fewest = GAPS.into_iter().map(|gap| pages(gap).len()).min();
    let gap = GAPS.into_iter().find(|&gap| Some(pages(gap).len()) == fewest).unwrap_or(GAPS[0]);
    let counts = pages(gap);
    let mut blocks = blocks.into_iter();
    let mut drawn: Vec<Vec<Group>> = Vec::new();
    let mut heading = Some(heading);
    for (index, &count) in counts.iter().enumerate() {
        let mut groups: Vec<Group> = heading.take().into_iter().collect();
        let mut y = if index == 0 { heading_height + gap } else { 0 };
        let on_page: Vec<Block> = blocks.by_ref().take(count).collect();
        let lines = on_page.iter().filter(|block| block.kind == BlockKind::Music).count() as i32;
        let gaps: Vec<i32> = (0..on_page.len()).map(|block| gap_after(&on_page, block, gap)).collect();
        let heights = on_page.iter().map(Block::height);
        let used = y + heights.zip(&gaps).map(|(height, gap)| height + gap).sum::<i32>() - gap;
        // The remaining height of a page is spread between its lines of music, up to a limit.
        let is_last = index + 1 == counts.len();
        let most = if is_last { MORE_ON_LAST } else { MORE };
        let more = if lines < 2 { 0 } else { ((body - used) / lines).clamp(0, most) };
        for (mut block, gap) in on_page.into_iter().zip(gaps) {
            block.shift(0, y - block.top());
            y += block.height() + gap + if block.kind == BlockKind::Music { more } else { 0 };
            groups.append(&mut block.groups);
        }
        drawn.push(groups);
    }
    finish(drawn, area, title)
}

/// A group of drawings that stays on one page.
pub(super) struct Block {
    groups: Vec<Group>,
    bounds: Bounds,
    kind: BlockKind,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum BlockKind {
    Music,
    Chart,
    Remark,
    /// A heading, which stays on one page with the block after it.
    Heading,
}

/// The gap between lines of words.
const REMARKS_GAP: i32 = 130;
/// The gap between the ways to play a line.
pub(super) const WAYS_GAP: i32 = 240;

impl Block {
    /// Returns a block with a line of music in every way, the top way first.
    pub(super) fn music(ways: Vec<System>) -> Block {
        let mut block = Block { groups: Vec::new(), bounds: Bounds::new(0, 0, 0, 0), kind: BlockKind::Music };
        for mut way in ways {
            match block.groups.is_empty() {
                true => block.bounds = way.bounds,
                false => {
                    let down = block.bounds.bottom + WAYS_GAP - way.bounds.top;
                    way.group.shift(0, down);
                    block.bounds = block.bounds.around(way.bounds.shifted(0, down));
                }
            }
            block.groups.push(way.group);
        }
        block
    }

    /// Returns a block with charts, a legend, or both.
    pub(super) fn chart(group: Group) -> Block {
        let bounds = group.bounds().unwrap_or(Bounds::new(0, 0, 0, 0));
        Block { groups: vec![group], bounds, kind: BlockKind::Chart }
    }

    /// Returns a block with a line of words.
    pub(super) fn remark(line: String, face: Face, size: i32) -> Block {
        let mut group = Group::new(Owner::Legend);
        group.push(Item::text(line, (0, 0), Anchor::Start, face, size, Role::Text));
        Block { kind: BlockKind::Remark, ..Block::chart(group) }
    }

    /// Turns a line of words into the heading of the next block.
    pub(super) fn into_heading(self) -> Block {
        Block { kind: BlockKind::Heading, ..self }
    }

    pub(super) fn shift(&mut self, dx: i32, dy: i32) {
        self.groups.iter_mut().for_each(|group| group.shift(dx, dy));
        self.bounds = self.bounds.shifted(dx, dy);
    }

    pub(super) fn top(&self) -> i32 {
        self.bounds.top
    }

    pub(super) fn into_groups(self) -> Vec<Group> {
        self.groups
    }

    pub(super) fn height(&self) -> i32 {
        self.bounds.bottom - self.bounds.top
    }
}

/// Returns the number of blocks on each page.
fn fill(blocks: &[Block], heading: i32, body: i32, gap: i32) -> Vec<usize> {
    let mut counts = vec![0];
    let mut y = heading + gap;
    for (index, block) in blocks.iter().enumerate() {
        let (page, height) = (counts.len() - 1, block.height());
        let with_next = match blocks.get(index + 1).filter(|_| block.kind == BlockKind::Heading) {
            Some(next) => height + gap_after(blocks, index, gap) + next.height(),
            None => height,
        };
        // A block higher than a page gets a page to itself.
        if y + with_next > body && (counts[page] > 0 || page == 0) {
            counts.push(0);
            y = 0;
        }
        if let Some(count) = counts.last_mut() {
            *count += 1;
        }
        y += height + gap_after(blocks, index, gap);
    }
    counts
}

/// Returns the gap between a block and the next block. Lines of words are closer together.
fn gap_after(blocks: &[Block], index: usize, gap: i32) -> i32 {
    let kind = |index: usize| blocks.get(index).map(|block| block.kind);
    match (kind(index), kind(index + 1)) {
        (Some(BlockKind::Remark | BlockKind::Heading), Some(BlockKind::Remark)) => REMARKS_GAP,
        (Some(BlockKind::Remark), Some(BlockKind::Heading)) => 3 * REMARKS_GAP,
        _ => gap,
    }
}

/// Adds the margins and, if there are several pages, the page feet.
fn finish(pages: Vec<Vec<Group>>, area: Area, title: &str) -> Vec<Page> {
    let Area { width, height, margin, paper } = area;
    let count = pages.len();
    let mut finished = Vec::with_capacity(count);
    for (index, mut groups) in pages.into_iter().enumerate() {
        if count > 1 {
            let mut foot = Group::new(Owner::Heading);
            let number = format!("{} / {count}", index + 1);
            foot.push(Item::text(
                number,
                (width, height),
                Anchor::End,
                Face::Regular,
                FOOT_SIZE,
                Role::Faint,
            ));
            if index > 0 {
                let line = wrapped(title, Face::Italic, FOOT_SIZE, width - 1500).into_iter().next();
                let line = line.unwrap_or_default();
                foot.push(Item::text(line, (0, height), Anchor::Start, Face::Italic, FOOT_SIZE, Role::Faint));
            }
            groups.push(foot);
        }
        groups.iter_mut().for_each(|group| group.shift(margin, margin));
        finished.push(Page { width: paper.0, height: paper.1, groups });
    }
    finished
}
