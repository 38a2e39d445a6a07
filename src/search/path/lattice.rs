//! The cheapest path through rows of ways to sound the notes, lungs included; [`super`] explains the method.
//!
//! In a tune that is not adapted, the rows follow one another. The rows of a phrase that may be moved lie side by side
//! in *lanes*, one lane for each octave. A path enters one lane at the start of the phrase and stays in it until the
//! phrase ends.
//!
//! ```text
//! column   0    1    2    3    4    5
//!          a ── a ┬─ b ── b ── b ┬─ c      a, c: played as it is
//!                 └─ B ────── B ─┘         b, B: a phrase in two octaves, in one of which a note is left out
//! ```

mod lungs;
mod volumes;

use std::ops::Range;

use super::Timeline;
use crate::search::{
    effort::{Way, Weights},
    steps::Steps,
};

/// A sounded note in one lane, with the ways to sound it.
pub(in crate::search) struct Stage<'a> {
    /// The index of the note in the line.
    pub(in crate::search) note: usize,
    /// The ways to sound the note; there is at least one.
    pub(in crate::search) ways: &'a [Way],
    /// The price of changing the tune for each way, in addition to the effort; empty if no way changes the tune.
    pub(in crate::search) edits: &'a [u64],
    /// The rows that may follow: the next row, or the first row of each lane; empty at the end of the tune.
    pub(in crate::search) next: Range<usize>,
    /// The number of rows before this one on the longest path from the beginning.
    pub(in crate::search) column: usize,
}

impl<'a> Stage<'a> {
    /// Makes a row of a tune that is not adapted.
    pub(super) fn in_line(index: usize, note: usize, ways: &'a [Way]) -> Stage<'a> {
        Stage { note, ways, edits: &[], next: index + 1..index + 2, column: index }
    }
}

/// A row and one of its ways.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(in crate::search) struct Stop {
    // These types take half the space of two `usize` indices: there are as many stops as notes, and many times as many
    // in the pass with the lungs.
    row: u32,
    way: u16,
}

impl Stop {
    fn new(row: usize, way: usize) -> Stop {
        // The casts lose nothing: a melody has fewer notes, and a harp far fewer ways, than these types can count.
        Stop { row: row as u32, way: way as u16 }
    }

    /// Returns the index of the row.
    pub(in crate::search) fn row(self) -> usize {
        self.row as usize
    }

    /// Returns the index of the way.
    pub(in crate::search) fn way(self) -> usize {
        self.way.into()
    }
}

/// Rows in the order of their columns.
pub(in crate::search) struct Lattice<'a> {
    line: &'a Timeline,
    /// The volume that the player breathes towards before each note of the line.
    aims: &'a [u32],
    weights: &'a Weights,
    rows: Vec<Stage<'a>>,
    /// The number of lanes at the beginning; their first rows come first in `rows`.
    lanes: usize,
    /// The price of a step whose direction (up, down, level) differs from the tune's.
    contour: u32,
}

/// Points, then the number of breath changes.
type Cost = (u64, u32);

fn add(a: Cost, b: Cost) -> Cost {
    (a.0.saturating_add(b.0), a.1.saturating_add(b.1))
}

impl<'a> Lattice<'a> {
    /// Makes a lattice. `rows` are in the order of their columns. A path begins at one of the first rows; there is one
    /// for each lane. `contour` is the price of a step whose direction differs from the tune's.
    pub(in crate::search) fn new(
        line: &'a Timeline,
        aims: &'a [u32],
        weights: &'a Weights,
        rows: Vec<Stage<'a>>,
        lanes: usize,
        contour: u32,
    ) -> Lattice<'a> {
        Lattice { line, aims, weights, lanes: lanes.min(rows.len()), rows, contour }
    }

    /// Returns the cheapest path. [`super`] gives the order of equally cheap paths; where they differ in the lane, the
    /// first lane wins.
    pub(in crate::search) fn cheapest(&self) -> Vec<Stop> {
        self.cheapest_within(u64::MAX).unwrap_or_default()
    }

    /// Returns the cheapest path, if it costs no more than `limit`; gives up as soon as every path is certain to cost
    /// more.
    pub(in crate::search) fn cheapest_within(&self, limit: u64) -> Option<Vec<Stop>> {
        let ahead = Ahead::new(self, limit)?;
        let (cost, easiest) = ahead.easiest(self);
        if cost.0 > limit {
            return None;
        }
        match self.lungs(&easiest) {
            0 => Some(easiest),
            lungs => lungs::cheapest(self, &ahead, add(cost, (lungs, 0)).min((limit, u32::MAX))),
        }
    }

    /// Returns the way in which a path sounds each note of the line.
    pub(in crate::search) fn ways(&self, path: &[Stop]) -> Vec<Option<Way>> {
        let mut ways = vec![None; self.line.notes.len()];
        for &stop in path {
            ways[self.rows[stop.row()].note] = Some(*self.way(stop));
        }
        ways
    }

    /// Returns the price of a step's direction: zero if the tune steps in the same direction.
    pub(in crate::search) fn contour(&self, from: (usize, &Way), to: (usize, &Way)) -> u64 {
        if self.contour == 0 {
            return 0;
        }
        let tune = self.line.notes[from.0].pitch.cmp(&self.line.notes[to.0].pitch);
        if tune == from.1.pitch.cmp(&to.1.pitch) { 0 } else { self.contour.into() }
    }

    fn way(&self, stop: Stop) -> &Way {
        &self.rows[stop.row()].ways[stop.way()]
    }

    /// Returns the rows that may follow a row.
    fn after(&self, row: usize) -> Range<usize> {
        let Range { start, end } = self.rows[row].next;
        start..end.min(self.rows.len())
    }

    /// Returns the cost of sounding a note, without the lungs.
    fn hold(&self, stop: Stop) -> Cost {
        let row = &self.rows[stop.row()];
        let hold = self.weights.hold(&row.ways[stop.way()], self.line.held(row.note)).total();
        let edit = row.edits.get(stop.way()).copied().unwrap_or(0);
        (hold.saturating_add(edit), 0)
    }

    /// Returns the cost of going from one note to the next.
    #[inline]
    fn step(&self, steps: &mut Steps, from: (usize, &Way), to: (usize, &Way), anew: u64) -> Cost {
        let effort = steps.price(from.1, to.1, anew);
        let change = u32::from(from.1.action.breath != to.1.action.breath);
        (effort.saturating_add(self.contour(from, to)), change)
    }

    /// Returns the points that a path costs for the lungs.
    fn lungs(&self, path: &[Stop]) -> u64 {
        let lungs = &self.weights.lungs;
        let (mut level_ml, mut points) = (0, 0u64);
        let mut before = None;
        for &stop in path {
            let note = self.rows[stop.row()].note;
            level_ml = match before {
                None => self.aims[note],
                Some(before) => {
                    lungs.rested(level_ml, self.aims[note], self.line.silence(before, note, self.weights))
                }
            };
            let aired = lungs.sounded(level_ml, self.way(stop), self.line.notes[note].sounding_ms());
            (level_ml, points) = (aired.level_ml, points.saturating_add(aired.points));
            before = Some(note);
        }
        points
    }
}

/// For each way of each row, the least remaining cost without the lungs, and the path to it.
struct Ahead {
    /// The entries, row after row, and within a row way after way.
    entries: Vec<Entry>,
    /// Where each row starts in `entries`.
    starts: Vec<usize>,
}

#[derive(Clone, Copy, Default)]
struct Entry {
    /// The points for sounding this way and all later notes.
    points: u64,
    changes: u32,
    /// The next stop, if there is one: its lane among the rows that may follow, and its way.
    lane: u16,
    way: u16,
}

impl Entry {
    fn rest(&self) -> Cost {
        (self.points, self.changes)
    }
}

impl Ahead {
    /// Computes the remaining costs, last row first. With a single lane, gives up as soon as they exceed `limit`.
    fn new(lattice: &Lattice, limit: u64) -> Option<Ahead> {
        let rows = &lattice.rows;
        let mut starts = Vec::with_capacity(rows.len());
        let mut length = 0;
        for row in rows {
            starts.push(length);
            length += row.ways.len();
        }
        let mut entries = vec![Entry::default(); length];
        let mut steps = Steps::new(lattice.weights);
        for (index, row) in rows.iter().enumerate().rev() {
            let after = lattice.after(index);
            let is_last = after.is_empty();
            let (before, later) = entries.split_at_mut(starts[index] + row.ways.len());
            let these = &mut before[starts[index]..];
            if !is_last {
                these.fill(Entry { points: u64::MAX, changes: u32::MAX, ..Entry::default() });
            }
            // The first lane and the easiest way come first, and win among equals.
            for (lane, next) in after.clone().enumerate() {
                let to_row = &rows[next];
                steps.after(lattice.line.gap(row.note, to_row.note, lattice.weights));
                let rests = &later[starts[next] - starts[index] - row.ways.len()..];
                for ((way, to), rest) in to_row.ways.iter().enumerate().zip(rests) {
                    let anew = lattice.weights.shaped_anew(to);
                    for (entry, from) in these.iter_mut().zip(row.ways) {
                        let step = lattice.step(&mut steps, (row.note, from), (to_row.note, to), anew);
                        let (points, changes) = add(step, rest.rest());
                        if (points, changes) < entry.rest() {
                            *entry = Entry { points, changes, lane: lane as u16, way: way as u16 };
                        }
                    }
                }
            }
            let mut least = u64::MAX;
            for (way, entry) in these.iter_mut().enumerate() {
                (entry.points, entry.changes) = add(entry.rest(), lattice.hold(Stop::new(index, way)));
                least = least.min(entry.points);
            }
            // With a single lane, every path goes through this row.
            if least > limit && lattice.lanes == 1 && after.len() <= 1 {
                return None;
            }
        }
        Some(Ahead { entries, starts })
    }

    fn at(&self, stop: Stop) -> &Entry {
        &self.entries[self.starts[stop.row()] + stop.way()]
    }

    /// Returns the path that is cheapest without the lungs, and its cost.
    fn easiest(&self, lattice: &Lattice) -> (Cost, Vec<Stop>) {
        let firsts = (0..lattice.lanes).flat_map(|row| {
            let ways = lattice.rows[row].ways.iter().enumerate();
            ways.map(move |(index, way)| {
                let stop = Stop::new(row, index);
                (add((lattice.weights.start(way).total(), 0), self.at(stop).rest()), stop)
            })
        });
        let Some((cost, first)) = firsts.min() else { return ((0, 0), Vec::new()) };
        let mut path = Vec::with_capacity(lattice.rows.len());
        path.extend(std::iter::successors(Some(first), |&stop| {
            let (entry, after) = (self.at(stop), lattice.after(stop.row()));
            (!after.is_empty()).then(|| Stop::new(after.start + usize::from(entry.lane), entry.way.into()))
        }));
        (cost, path)
    }
}
