//! Interprets the barlines of a tune as a whole: the repeats with their endings, and the targets of jumps.

use std::ops::Range;

use super::Oddity;
use crate::melody::Bar;

/// The form of a tune.
#[derive(Default)]
pub(super) struct Form {
    /// The repeats that make sense. Any two repeats are nested or apart, and no two begin with the same bar.
    pub(super) repeats: Vec<Repeat>,
    /// The events at each bar.
    pub(super) bars: Vec<Turn>,
    /// The signs that make no sense, and their bars.
    pub(super) oddities: Vec<(usize, Oddity)>,
}

/// A passage that is played more than once.
pub(super) struct Repeat {
    pub(super) first: usize,
    pub(super) last: usize,
    /// The total number of times that the passage is played.
    pub(super) passes: u32,
    /// Whether the repeat is taken again after a jump.
    pub(super) after_jump: bool,
}

impl Repeat {
    /// Returns the pass that is played after a jump back: the last pass, unless the repeat is taken again.
    pub(super) fn pass_after_jump(&self) -> u32 {
        if self.after_jump { 1 } else { self.passes }
    }
}

/// The events before and after a bar. Repeats are given by their indices.
#[derive(Clone, Default)]
pub(super) struct Turn {
    /// The innermost repeat that the bar belongs to.
    pub(super) within: Option<usize>,
    /// The repeat that begins with the bar.
    pub(super) begins: Option<usize>,
    /// An ending that begins with the bar.
    pub(super) ending: Option<Ending>,
    /// The repeat to whose start the player goes back after the bar.
    pub(super) back: Option<usize>,
    /// The bar to which a jump after this bar goes back.
    pub(super) jump: Option<usize>,
    /// The bar with the coda, to which the player goes after this bar if a jump back was made before.
    pub(super) coda: Option<usize>,
    /// Whether the tune ends with this bar, after a jump back.
    pub(super) fine: bool,
}

/// An ending bracket.
#[derive(Clone)]
pub(super) struct Ending {
    pub(super) repeat: usize,
    /// The passes on which the ending is played.
    pub(super) numbers: Vec<u8>,
    /// The bar after the ending.
    pub(super) after: usize,
}

/// A run of bars under one bracket.
struct Bracket<'a> {
    bars: Range<usize>,
    numbers: &'a [u8],
}

impl Form {
    /// Interprets the marks, in linear time.
    ///
    /// The end of a repeat goes back to the nearest open start sign before it. If there is none, it goes back to the
    /// end of the last repeat, or to the beginning (common practice, no source).
    pub(super) fn of(bars: &[Bar]) -> Form {
        let mut form = Form { bars: vec![Turn::default(); bars.len()], ..Form::default() };
        form.find_repeats(bars);
        form.find_jumps(bars);
        form.oddities.sort();
        form
    }

    fn find_repeats(&mut self, bars: &[Bar]) {
        let brackets = brackets(bars);
        let mut groups = brackets.chunk_by(|before, next| follows(before, next)).peekable();
        let mut open: Vec<usize> = Vec::new();
        // The bar at which a repeat without a start sign begins.
        let mut implied = 0;
        for (index, bar) in bars.iter().enumerate() {
            if bar.marks.repeat_start {
                open.push(index);
            }
            let group = groups.peek().copied().filter(|group| group[0].bars.start <= index);
            let start = group.map(|group| group[0].bars.start);
            let is_inside = start.is_some_and(|start| open.last().is_some_and(|&open| open > start));
            if bar.marks.repeat_end.is_some() && (group.is_none() || is_inside) {
                let first = open.pop().unwrap_or(implied);
                self.add(bars, first, index, &[]);
                // A repeat inside an ending does not change where the outer repeat began.
                if group.is_none() {
                    implied = index + 1;
                }
            }
            if let Some(group) = group.filter(|group| group[group.len() - 1].bars.end == index + 1) {
                let start = group[0].bars.start;
                while let Some(unended) = open.pop_if(|open| *open > start) {
                    self.oddities.push((unended, Oddity::RepeatNotEnded));
                }
                let first = open.pop().unwrap_or(implied);
                self.add(bars, first, index, group);
                implied = index + 1;
                groups.next();
            }
        }
        self.oddities.extend(open.into_iter().map(|unended| (unended, Oddity::RepeatNotEnded)));
        self.find_innermost();
    }

    /// Adds a repeat from `first` to `last` with its endings. If the endings make no sense, reports them and adds
    /// nothing.
    fn add(&mut self, bars: &[Bar], first: usize, last: usize, endings: &[Bracket]) {
        if !endings.is_empty() && !make_sense(bars, endings) {
            self.oddities.push((endings[0].bars.start, Oddity::EndingsUnclear));
            return;
        }
        let index = self.repeats.len();
        let ends: Vec<usize> = match endings {
            [] => vec![last],
            endings => endings.iter().map(|bracket| bracket.bars.end - 1).collect(),
        };
        let (mut times, mut after_jump) = (0, false);
        for end in ends {
            let marks = &bars[end].marks;
            if let Some(played) = marks.repeat_end {
                times = times.max(u32::from(played));
                after_jump |= marks.repeat_after_jump;
                // A repeat inside an ending may go back from the same bar; the inner repeat comes first.
                self.bars[end].back.get_or_insert(index);
            }
        }
        let highest = endings.iter().flat_map(|bracket| bracket.numbers).copied().max().map_or(0, u32::from);
        let passes = match endings {
            [] => times,
            // A single ending is left out once its own passes are over.
            [_] => times.max(highest + u32::from(times == 0)),
            _ => highest,
        };
        for bracket in endings {
            let (numbers, after) = (bracket.numbers.to_vec(), bracket.bars.end);
            self.bars[bracket.bars.start].ending = Some(Ending { repeat: index, numbers, after });
        }
        self.bars[first].begins = Some(index);
        self.repeats.push(Repeat { first, last, passes, after_jump });
    }

    /// Records the innermost repeat of each bar.
    fn find_innermost(&mut self) {
        let mut around: Vec<usize> = Vec::new();
        for (index, turn) in self.bars.iter_mut().enumerate() {
            while around.pop_if(|repeat| self.repeats[*repeat].last < index).is_some() {}
            around.extend(turn.begins);
            turn.within = around.last().copied();
        }
    }

    fn find_jumps(&mut self, bars: &[Bar]) {
        let mut segno = None;
        for (index, bar) in bars.iter().enumerate() {
            if bar.marks.segno {
                segno = Some(index);
            }
            if bar.marks.da_capo {
                self.bars[index].jump = Some(0);
            } else if bar.marks.dal_segno {
                self.bars[index].jump = segno;
                if segno.is_none() {
                    self.oddities.push((index, Oddity::JumpNowhere));
                }
            }
        }
        let jumps = self.bars.iter().any(|turn| turn.jump.is_some());
        let mut coda = None;
        for (index, bar) in bars.iter().enumerate().rev() {
            let is_last = index + 1 == bars.len();
            if (bar.marks.to_coda || bar.marks.fine && !is_last) && !jumps {
                self.oddities.push((index, Oddity::SignUnused));
            } else {
                self.bars[index].fine = bar.marks.fine;
                if bar.marks.to_coda {
                    self.bars[index].coda = coda;
                    if coda.is_none() {
                        self.oddities.push((index, Oddity::JumpNowhere));
                    }
                }
            }
            if bar.marks.coda {
                coda = Some(index);
            }
        }
    }
}

/// Returns the ending brackets of a tune; the end of a repeat also ends its bracket.
fn brackets(bars: &[Bar]) -> Vec<Bracket<'_>> {
    let mut brackets: Vec<Bracket> = Vec::new();
    for (index, bar) in bars.iter().enumerate().filter(|(_, bar)| !bar.marks.ending.is_empty()) {
        match brackets.last_mut() {
            Some(bracket)
                if bracket.bars.end == index
                    && bracket.numbers == bar.marks.ending
                    && bars[index - 1].marks.repeat_end.is_none() =>
            {
                bracket.bars.end = index + 1;
            }
            _ => brackets.push(Bracket { bars: index..index + 1, numbers: &bar.marks.ending }),
        }
    }
    brackets
}

/// Whether a bracket belongs to the same repeat as the previous bracket: it follows immediately, its lowest number is
/// higher, and the two share no number. The numbers may interleave, as in 1 and 3, then 2 and 4.
fn follows(before: &Bracket, next: &Bracket) -> bool {
    before.bars.end == next.bars.start
        && before.numbers.iter().min() < next.numbers.iter().min()
        && !next.numbers.iter().any(|number| before.numbers.contains(number))
}

/// Whether the numbers of the endings count up from 1, and whether every ending leads back to the start; the last of
/// several endings need not.
fn make_sense(bars: &[Bar], endings: &[Bracket]) -> bool {
    let mut numbers: Vec<u8> = endings.iter().flat_map(|bracket| bracket.numbers).copied().collect();
    numbers.sort_unstable();
    let counts = numbers.iter().enumerate().all(|(index, &number)| usize::from(number) == index + 1);
    let leads_back = |bracket: &Bracket| {
        let marks = &bars[bracket.bars.end - 1].marks;
        marks.repeat_end.is_some() || marks.da_capo || marks.dal_segno
    };
    let (last, before) = match endings {
        [only] => (None, std::slice::from_ref(only)),
        [before @ .., last] => (Some(last), before),
        [] => (None, endings),
    };
    // The last ending may be played several times only if it leads back too.
    let last_is_sound = last.is_none_or(|last| last.numbers.len() == 1 || leads_back(last));
    counts && before.iter().all(leads_back) && last_is_sound
}
