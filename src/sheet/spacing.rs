//! Decides where lines break, and the place of each column in its line.
//!
//! **Placing.** A line is set with a *force*. The distance from each column to the next is its spring times the force,
//! or more where the lanes need more room. The width grows with the force, so a binary search finds the force that
//! fills a line.
//!
//! **Breaking.** All lines are chosen together, in the way that paragraphs are broken (Knuth and Plass, "Breaking
//! Paragraphs into Lines", Software: Practice and Experience 11, 1981, from memory): `cost(k)` for the first `k`
//! measures is the least `cost(j) + line(j, k)` over the lines that end there. A line costs about the square of its
//! stretch or squeeze, plus a cost for its end: inside a bar, a phrase, a tie or the endings of a repeat, or after an
//! uneven number of bars. A line that ends with its section earns a reward.

use std::ops::Range;

use super::{
    columns::{self, Extent, Measure, OPENING_GAP, What, lane},
    glyphs::Glyph,
    score::{Score, ScoreBar},
};
use crate::{notation::Tie, time::Meter};

/// A line of music with the places of its columns.
#[derive(Clone, Debug)]
pub(super) struct SystemLine {
    /// The indices of the line's measures.
    pub(super) measures: Range<usize>,
    /// The place of each column, measure by measure.
    pub(super) places: Vec<Vec<i32>>,
    /// The place at which the first bar begins.
    pub(super) start: i32,
    /// The right end of the line, after its last barline, an announced signature and all chords and words.
    pub(super) end: i32,
}

/// The force that gives every column its ideal room, in thousandths.
const NATURAL: i64 = 1000;
/// The greatest force of a line, in thousandths.
const STRONGEST: i64 = 6000;
/// The most measures in a line.
const MOST: usize = 24;
/// The cost of ending a line away from the end of a phrase, in squared per cent of stretch.
const TORN_PHRASE: i64 = 900;
/// The cost of ending a line in the middle of a tie.
const TIED: i64 = 600;
/// The reward for ending a line at the end of a section.
const SECTION: i64 = 3000;
/// The cost of ending a line after an odd number of bars of the section, and the cost after an even number that is not
/// a multiple of four. Tunes are made of groups of two and four bars, and readers expect lines of these lengths.
const ODD: i64 = 2500;
const TWOS: i64 = 400;
/// The fill, in per cent, below which a last line is too short, and the cost of a last line that is too short.
const SHORT: i64 = 45;
const SHORT_COST: i64 = 1200;
/// The number of columns that are measured first when a measure is cut. The number doubles while they fit.
const FEW: usize = 64;
/// The cost of a line that does not fit, which is the last resort.
const TOO_WIDE: i64 = 1_000_000_000;

/// Sets the measures in lines of a width. Scores one above the other have the same line breaks.
pub(super) fn lines(scores: &[Score], measures: &[Measure], width: i32) -> Vec<SystemLine> {
    let starts = breaks(scores, measures, width);
    let ends = starts.iter().skip(1).copied().chain([measures.len()]);
    let mut before: i64 = NATURAL;
    let ranges: Vec<Range<usize>> = starts.iter().zip(ends).map(|(&start, end)| start..end).collect();
    let last = ranges.len().saturating_sub(1);
    let mut lines = Vec::with_capacity(ranges.len());
    for (index, range) in ranges.into_iter().enumerate() {
        let setter = Setter::new(scores, measures, range.clone());
        let full = setter.force_for(width);
        // The last line is at most slightly looser than the line before it, or than its ideal if that line is tight.
        let loosest = before.max(NATURAL) * 115 / 100;
        let (force, fill) = if index == last && full > loosest { (loosest, false) } else { (full, true) };
        before = force;
        let mut line = setter.set(force);
        if fill {
            line.fill(width);
        }
        lines.push(line);
    }
    lines
}

/// Returns the number of lines that end inside a bar, or after an odd number of bars of a section that continues. The
/// last line is not counted.
pub(super) fn uneven(score: &Score, measures: &[Measure], lines: &[SystemLine]) -> usize {
    let passed = bars_of_sections(score);
    let ends = lines.iter().take(lines.len().saturating_sub(1)).map(|line| &measures[line.measures.end - 1]);
    ends.filter(|end| !end.ends || passed[end.bar] % 2 == 1 && !ends_section(score, end.bar)).count()
}

/// Cuts measures that are wider than a line into parts.
pub(super) fn cut(scores: &[Score], measures: Vec<Measure>, width: i32) -> Vec<Measure> {
    let mut cut = Vec::with_capacity(measures.len());
    for Measure { bar, columns, ends, mut begins } in measures {
        let mut coming = columns.into_iter();
        let mut columns = Vec::new();
        let mut wanted = FEW;
        loop {
            // Measures only as many columns as a line may need, because a bar may have thousands.
            columns.extend(coming.by_ref().take(wanted.saturating_sub(columns.len())));
            let is_rest = coming.len() == 0;
            let part = [Measure { bar, columns, ends: ends && is_rest, begins }];
            let setter = Setter::new(scores, &part, 0..1);
            let line = setter.set(0);
            let fits = if is_rest { line.end } else { line.places[0].last().copied().unwrap_or(0) } <= width;
            let places = if fits { Vec::new() } else { setter.set(NATURAL / 2).places };
            let [part] = part;
            if fits && !is_rest {
                columns = part.columns;
                wanted = 2 * columns.len();
                continue;
            }
            // Takes as many columns as fit in a line. Grace notes stay with their note if both fit in a line.
            let last = part.columns.len().saturating_sub(1);
            let fitting = places.iter().flatten().take_while(|&&place| place < width - 600).count().min(last);
            let may_end = |&count: &usize| !matches!(part.columns[count - 1].what, What::Grace(..));
            let count = (1..=fitting).rev().find(may_end).unwrap_or(fitting.max(1));
            if fits || count > last {
                cut.push(part);
                break;
            }
            let mut part = Measure { ends: false, ..part };
            wanted = FEW;
            columns = part.columns.split_off(count);
            // Splitting keeps the memory for all columns that were measured.
            part.columns.shrink_to_fit();
            begins = false;
            cut.push(part);
        }
    }
    cut
}

/// Returns the index of the first measure of each line.
fn breaks(scores: &[Score], measures: &[Measure], width: i32) -> Vec<usize> {
    #[derive(Clone, Copy)]
    struct Entry {
        cost: i64,
        start: usize,
    }
    let mut best: Vec<Option<Entry>> = vec![None; measures.len() + 1];
    best[0] = Some(Entry { cost: 0, start: 0 });
    let passed = bars_of_sections(&scores[0]);
    for start in 0..measures.len() {
        let Some(before) = best[start] else { continue };
        let stop = measures.len().min(start + MOST);
        let mut setter = Setter::new(scores, measures, start..stop);
        let tight = setter.ends(0, width);
        setter.range.end = start + tight.len();
        let natural = setter.ends(NATURAL, i32::MAX);
        for (index, (tight, natural)) in tight.into_iter().zip(natural).enumerate() {
            let end = start + index + 1;
            let (tight, natural) = (i64::from(tight), i64::from(natural));
            let fits = tight <= i64::from(width);
            if !fits && index > 0 {
                break;
            }
            let room = Room { tight, natural, start: i64::from(setter.start), width: i64::from(width) };
            let line = if fits { room.cost(end == measures.len()) } else { TOO_WIDE };
            let passed = passed[measures[end - 1].bar];
            let cost = before.cost + line + ending(&scores[0], measures, end, passed);
            let entry = &mut best[end];
            if entry.is_none_or(|known| cost < known.cost) {
                *entry = Some(Entry { cost, start });
            }
        }
    }
    let mut starts = Vec::new();
    let mut end = measures.len();
    while end > 0 {
        let Some(entry) = best[end] else { break };
        starts.push(entry.start);
        end = entry.start;
    }
    starts.reverse();
    starts
}

struct Room {
    tight: i64,
    natural: i64,
    start: i64,
    width: i64,
}

impl Room {
    /// Returns the cost of filling the width: the square of the stretch in per cent, or half the square of the squeeze.
    /// A last line need not fill the width, so it costs something only if it is squeezed or too short.
    fn cost(&self, last: bool) -> i64 {
        let music = (self.natural - self.start).max(1);
        if self.natural <= self.width {
            let over = (self.width - self.natural) * 100 / music;
            return match last {
                true if music * 100 < (self.width - self.start) * SHORT => SHORT_COST,
                true => 0,
                false => over * over,
            };
        }
        // Below the natural width, the squeeze is a share of the distance from the natural width to the tightest width.
        let under = (self.natural - self.width) * 100 / (self.natural - self.tight).max(1);
        under * under / 2
    }
}

/// Returns the cost of ending a line after the first `end` measures. `passed` is the number of bars of the section up
/// to the end of this line.
fn ending(score: &Score, measures: &[Measure], end: usize, passed: usize) -> i64 {
    let measure = &measures[end - 1];
    if end == measures.len() {
        return 0;
    }
    if !measure.ends {
        return 2 * TORN_PHRASE;
    }
    let bar = &score.bars[measure.bar];
    let section = ends_section(score, measure.bar);
    let torn = TORN_PHRASE * i64::from(100 - bar.phrase_end.min(100)) / 100;
    // A line should not break inside an ending or between two endings.
    let inside_endings = !bar.marks.ending.is_empty()
        && score.bars.get(measure.bar + 1).is_some_and(|next| !next.marks.ending.is_empty());
    let ending = if inside_endings { TORN_PHRASE } else { 0 };
    let uneven = match passed {
        bars if bars % 4 == 0 => 0,
        bars if bars % 2 == 0 => TWOS,
        _ => ODD,
    };
    let last = bar.events.last().and_then(|event| event.note.as_ref());
    let tied = if last.is_some_and(|note| note.tie == Tie::ToNext) { TIED } else { 0 };
    ending + tied + if section && !inside_endings { -SECTION } else { torn + uneven }
}

fn ends_section(score: &Score, bar: usize) -> bool {
    let marks = &score.bars[bar].marks;
    let next_starts = score.bars.get(bar + 1).is_some_and(|next| next.marks.repeat_start);
    marks.section_end || marks.repeat_end.is_some() || next_starts
}

/// Returns, for each bar, the number of bars of its section up to and including this bar. A pickup is not counted.
fn bars_of_sections(score: &Score) -> Vec<usize> {
    let mut passed = 0;
    let mut ended = true;
    let mut count = |bar: &ScoreBar| {
        if ended || bar.marks.repeat_start {
            passed = 0;
        }
        let full = bar.meter.map(Meter::bar);
        let is_pickup = passed == 0 && full.is_some_and(|full| bar.length + bar.length <= full);
        passed += if is_pickup { 0 } else { bar.silent };
        ended = bar.marks.section_end || bar.marks.repeat_end.is_some();
        passed
    };
    score.bars.iter().map(&mut count).collect()
}

struct Setter<'a> {
    scores: &'a [Score],
    measures: &'a [Measure],
    range: Range<usize>,
    start: i32,
}

impl<'a> Setter<'a> {
    fn new(scores: &'a [Score], measures: &'a [Measure], range: Range<usize>) -> Setter<'a> {
        let first = measures.get(range.start);
        let widths = scores.iter().filter_map(|score| first.map(|first| opening_width(score, first)));
        let start = widths.max().unwrap_or(0);
        Setter { scores, measures, range, start }
    }

    /// Places the columns.
    fn set(&self, force: i64) -> SystemLine {
        let measures = &self.measures[self.range.clone()];
        let mut places: Vec<Vec<i32>> =
            measures.iter().map(|measure| Vec::with_capacity(measure.columns.len())).collect();
        let end = self.run(force, |measure, place| places[measure].push(place), |_| true);
        SystemLine { measures: self.range.clone(), places, start: self.start, end }
    }

    /// Returns, for each measure, where the line would end if this measure were its last, up to the first end beyond
    /// the width.
    fn ends(&self, force: i64, width: i32) -> Vec<i32> {
        let mut ends = Vec::with_capacity(self.range.len());
        self.run(
            force,
            |_, _| {},
            |end| {
                ends.push(end);
                end <= width
            },
        );
        ends
    }

    /// Calls `placed` with the measure and the place of each column. After each measure, calls `ended` with the end
    /// that the line would have there, until `ended` returns false. Returns the last end. Measures are counted from the
    /// line's first.
    fn run(&self, force: i64, mut placed: impl FnMut(usize, i32), mut ended: impl FnMut(i32) -> bool) -> i32 {
        let lanes: usize = self.scores.iter().map(lane::count).sum();
        // The right edge of the last item in each lane, and the next free place in the lane.
        let mut filled = vec![0; lanes];
        let mut free = Vec::with_capacity(lanes);
        for score in self.scores {
            let verse_numbers = if score.verses > 1 { 420 } else { 0 };
            let of_sheet = free.len();
            free.resize(of_sheet + lane::count(score), verse_numbers);
            free[of_sheet + lane::MUSIC] = self.start;
            free[of_sheet + lane::TAB] = self.start - 100;
            free[of_sheet + lane::CHORD] = 0;
        }
        let mut at = self.start;
        let mut spring = 0;
        let mut end = self.start;
        for index in self.range.clone() {
            let measure = &self.measures[index];
            for column in &measure.columns {
                // The clef, signature and meter that open a line already show a change at its beginning.
                let opened = index == self.range.start && column.what == What::Change;
                let extents = if opened { &[] } else { column.extents.as_slice() };
                let mut place = at + (i64::from(spring) * force / NATURAL) as i32;
                for extent in extents {
                    place = place.max(free.get(extent.lane).copied().unwrap_or(0) + extent.left);
                }
                for &Extent { lane, right, gap, .. } in extents {
                    if let (Some(filled), Some(free)) = (filled.get_mut(lane), free.get_mut(lane)) {
                        (*filled, *free) = (place + right, place + right + gap);
                    }
                }
                placed(index - self.range.start, place);
                (at, spring) = (place, column.spring);
            }
            // The line would end here after the barline and an announced signature, and after all chords and words.
            let right = if measure.ends {
                let courtesies = self.scores.iter().map(|score| columns::courtesy_width(score, measure.bar));
                columns::Barline::after(&self.scores[0], measure.bar, true).extent().1
                    + courtesies.max().unwrap_or(0)
            } else {
                200
            };
            let mut lanes = filled.as_slice();
            let mut words = 0;
            for score in self.scores {
                let (of_sheet, others) = lanes.split_at(lane::count(score));
                words = of_sheet.iter().skip(lane::CHORD).fold(words, |words, &filled| words.max(filled));
                lanes = others;
            }
            end = (at + right).max(words);
            if !ended(end) {
                break;
            }
        }
        end
    }

    /// Returns the greatest force at which the line still fits the width.
    fn force_for(&self, width: i32) -> i64 {
        let (mut low, mut high) = (0, STRONGEST);
        while low < high {
            let middle = (low + high + 1) / 2;
            if self.run(middle, |_, _| {}, |_| true) <= width { low = middle } else { high = middle - 1 }
        }
        low
    }
}

impl SystemLine {
    /// Moves the columns apart so that the line is exactly this wide.
    fn fill(&mut self, width: i32) {
        let missing = i64::from(width - self.end);
        let count = self.places.iter().map(Vec::len).sum::<usize>() as i64;
        if missing <= 0 || count < 2 {
            return;
        }
        for (index, place) in self.places.iter_mut().flatten().enumerate() {
            *place += (missing * index as i64 / (count - 1)) as i32;
        }
        self.end = width;
    }
}

/// Returns the width of clef, signature, meter and repeat sign at the beginning of a line, including the gap after
/// them; without a staff, the width of the empty room and the repeat sign.
pub(super) fn opening_width(score: &Score, first: &Measure) -> i32 {
    let bar = &score.bars[first.bar];
    let repeat = if bar.marks.repeat_start && first.begins { 390 } else { 0 };
    if !score.staff {
        return columns::BARE_OPENING + repeat;
    }
    let mut width = 60 + Glyph::named("clef").width() + 130;
    if bar.sharps != 0 {
        width += columns::signature_width(bar.sharps, 0) + 100;
    }
    if shows_meter(score, first) {
        width += columns::meter_width(bar) + 100;
    }
    width + repeat + OPENING_GAP - 60
}

/// Returns whether a line that begins with a measure shows the meter, which it does at the beginning of the tune and at
/// a change.
pub(super) fn shows_meter(score: &Score, first: &Measure) -> bool {
    let meter = score.bars[first.bar].meter;
    let before = first.bar.checked_sub(1).and_then(|before| score.bars[before].meter);
    first.begins && meter.is_some() && meter != before
}
