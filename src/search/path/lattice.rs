//! The cheapest path through rows of ways to sound the notes, lungs included; [`super`] tells how.
//!
//! In a tune that is played as it is, one row follows the other. Where a phrase may be moved, its rows for each octave
//! stand side by side in *lanes*: a path enters one of them with the phrase and stays in it until the phrase ends.
//!
//! ```text
//! column   0    1    2    3    4    5
//!          a ── a ┬─ b ── b ── b ┬─ c      a, c: played as it is
//!                 └─ B ────── B ─┘         b, B: a phrase in two octaves, in one of which a note is left out
//! ```

use std::{collections::BTreeMap, ops::Range};

use super::{Line, Playing};
use crate::search::effort::{Gap, Way, Weights};

/// A note that is sounded, in one lane, and the ways to do it.
pub(in crate::search) struct Row<'a> {
    /// Its index in the line.
    pub(in crate::search) note: usize,
    /// The ways to sound it; at least one.
    pub(in crate::search) ways: &'a [Way],
    /// What each way costs besides the effort, since it changes the tune; empty where it does not.
    pub(in crate::search) edits: &'a [u64],
    /// The rows that may follow: the next one, or the first of each lane; where there are none,
    /// none follows.
    pub(in crate::search) next: Range<usize>,
    /// How many rows lie before it on the longest way from the beginning.
    pub(in crate::search) column: usize,
}

impl<'a> Row<'a> {
    /// A row of a tune that is played as it is.
    pub(super) fn in_line(index: usize, note: usize, ways: &'a [Way]) -> Row<'a> {
        Row { note, ways, edits: &[], next: index + 1..index + 2, column: index }
    }
}

/// A row, and one of its ways.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(in crate::search) struct Stop {
    /// The index of the row.
    pub(in crate::search) row: usize,
    /// The index of the way.
    pub(in crate::search) way: usize,
}

/// Rows in the order of their columns.
pub(in crate::search) struct Lattice<'a> {
    line: &'a Line,
    weights: &'a Weights,
    rows: Vec<Row<'a>>,
    /// How many lanes there are in the beginning: their first rows are the first of all.
    lanes: usize,
    /// What a step costs that goes up, down or along as the tune's does not.
    contour: u32,
}

/// Points, then breath changes.
type Cost = (u64, u32);

fn add(a: Cost, b: Cost) -> Cost {
    (a.0.saturating_add(b.0), a.1.saturating_add(b.1))
}

impl<'a> Lattice<'a> {
    /// Rows in the order of their columns, the first of them those with which a path can begin, one for each lane; and
    /// what a step costs that goes up, down or along as the tune's does not.
    pub(in crate::search) fn new(
        line: &'a Line,
        weights: &'a Weights,
        rows: Vec<Row<'a>>,
        lanes: usize,
        contour: u32,
    ) -> Lattice<'a> {
        Lattice { line, weights, lanes: lanes.min(rows.len()), rows, contour }
    }

    /// The path that costs least, and the playing that `price` makes of it. Of equals, as [`super`] says; where they differ
    /// in the lane, the first of the lanes.
    pub(in crate::search) fn cheapest(&self, price: impl Fn(&[Stop]) -> Playing) -> (Vec<Stop>, Playing) {
        let ahead = Ahead::new(self);
        let (cost, easiest) = ahead.easiest(self);
        let playing = price(&easiest);
        if playing.effort.lungs == 0 {
            return (easiest, playing);
        }
        // What it costs at most is known, but it may be far less: small bounds leave less to search.
        let bounds = [16, 4, 1].map(|part| add(cost, (playing.effort.lungs.div_ceil(part), 0)));
        let path = bounds.into_iter().find_map(|bound| self.with_lungs(&ahead, bound)).unwrap_or(easiest);
        let playing = price(&path);
        (path, playing)
    }

    /// How a path sounds each note of the line.
    pub(in crate::search) fn ways(&self, path: &[Stop]) -> Vec<Option<Way>> {
        let mut ways = vec![None; self.line.notes.len()];
        for &stop in path {
            ways[self.rows[stop.row].note] = Some(self.rows[stop.row].ways[stop.way]);
        }
        ways
    }

    /// What a step costs for going up, down or along as the tune's does not, from one note and the way in which it is
    /// sounded to another.
    pub(in crate::search) fn contour(&self, from: (usize, &Way), to: (usize, &Way)) -> u64 {
        if self.contour == 0 {
            return 0;
        }
        let tune = self.line.notes[from.0].pitch.cmp(&self.line.notes[to.0].pitch);
        if tune == from.1.pitch.cmp(&to.1.pitch) { 0 } else { self.contour.into() }
    }

    /// The rows that may follow a row.
    fn after(&self, row: usize) -> Range<usize> {
        let Range { start, end } = self.rows[row].next;
        start..end.min(self.rows.len())
    }

    /// Sounding a note without the lungs.
    fn hold(&self, stop: Stop) -> Cost {
        let row = &self.rows[stop.row];
        let hold = self.weights.hold(&row.ways[stop.way], self.line.notes[row.note].sounding_ms()).total();
        let edit = row.edits.get(stop.way).copied().unwrap_or(0);
        (hold.saturating_add(edit), 0)
    }

    /// Coming from one note to the next in the time between them.
    fn step(&self, from: (usize, &Way), to: (usize, &Way), gap: Gap) -> Cost {
        let (from_action, to_action) = (from.1.action, to.1.action);
        let effort = self.weights.step(from_action, to_action, gap).total();
        let change = u32::from(from_action.breath != to_action.breath);
        (effort.saturating_add(self.contour(from, to)), change)
    }
}

/// From each way of each row, what is to come without the lungs, and how.
struct Ahead {
    /// Row after row, way after way.
    entries: Vec<Entry>,
    /// Where each row starts in `entries`.
    starts: Vec<usize>,
}

#[derive(Clone, Copy)]
struct Entry {
    /// Sounding this way and all that follows.
    rest: Cost,
    /// What follows, if anything does.
    successor: Option<Stop>,
}

impl Ahead {
    fn new(lattice: &Lattice) -> Ahead {
        let rows = &lattice.rows;
        let mut starts = Vec::with_capacity(rows.len());
        let mut length = 0;
        for row in rows {
            starts.push(length);
            length += row.ways.len();
        }
        let mut ahead = Ahead { entries: vec![Entry { rest: (0, 0), successor: None }; length], starts };
        for (index, row) in rows.iter().enumerate().rev() {
            for (way, from) in row.ways.iter().enumerate() {
                let mut entry = Entry { rest: (0, 0), successor: None };
                for next in lattice.after(index) {
                    let to_row = &rows[next];
                    let gap = lattice.line.gap(row.note, to_row.note, lattice.weights);
                    for (to_way, to) in to_row.ways.iter().enumerate() {
                        let step = lattice.step((row.note, from), (to_row.note, to), gap);
                        let stop = Stop { row: next, way: to_way };
                        let rest = add(step, ahead.at(stop).rest);
                        // Of equals the first lane and the easiest way, which stand first.
                        if entry.successor.is_none() || rest < entry.rest {
                            entry = Entry { rest, successor: Some(stop) };
                        }
                    }
                }
                entry.rest = add(entry.rest, lattice.hold(Stop { row: index, way }));
                let at = ahead.starts[index] + way;
                ahead.entries[at] = entry;
            }
        }
        ahead
    }

    fn at(&self, stop: Stop) -> Entry {
        self.entries[self.starts[stop.row] + stop.way]
    }

    /// The path that costs least without the lungs, and what it costs.
    fn easiest(&self, lattice: &Lattice) -> (Cost, Vec<Stop>) {
        let firsts = (0..lattice.lanes).flat_map(|row| {
            let ways = lattice.rows[row].ways.iter().enumerate();
            ways.map(move |(index, way)| {
                let stop = Stop { row, way: index };
                (add((lattice.weights.start(way.action).total(), 0), self.at(stop).rest), stop)
            })
        });
        let Some((cost, first)) = firsts.min() else { return ((0, 0), Vec::new()) };
        let mut path = Vec::with_capacity(lattice.rows.len());
        path.extend(std::iter::successors(Some(first), |&stop| self.at(stop).successor));
        (cost, path)
    }
}

/// A way to have come so far.
#[derive(Clone, Copy)]
struct State {
    stop: Stop,
    level_ml: u32,
    cost: Cost,
    /// Whether this stop was one of several that could follow.
    chosen: bool,
    /// The last such stop before it, in the list of choices.
    choice: Option<usize>,
}

/// A stop that was one of several; the others leave no trace.
struct Choice {
    stop: Stop,
    before: Option<usize>,
}

/// The states of a column in the order of their paths, so that the first of equals is the one that differs first in having
/// the easier action; of those with the same stop and air only the best is kept.
#[derive(Default)]
struct Column {
    states: Vec<State>,
    /// Where the best state with a stop and a volume of air stands in `states`.
    standing: BTreeMap<(Stop, u32), usize>,
}

impl Column {
    fn with_room(room: usize) -> Column {
        Column { states: Vec::with_capacity(room), standing: BTreeMap::new() }
    }

    fn push(&mut self, state: State) {
        let key = (state.stop, state.level_ml);
        if self.standing.get(&key).is_some_and(|&other| self.states[other].cost <= state.cost) {
            return;
        }
        self.standing.insert(key, self.states.len());
        self.states.push(state);
    }

    fn into_states(self) -> Vec<State> {
        let mut kept: Vec<usize> = self.standing.into_values().collect();
        kept.sort_unstable();
        kept.into_iter().map(|at| self.states[at]).collect()
    }
}

impl Lattice<'_> {
    /// The path that costs least with the lungs. `bound` is the cost of some path, so what costs more is dropped.
    fn with_lungs(&self, ahead: &Ahead, bound: Cost) -> Option<Vec<Stop>> {
        let mut choices: Vec<Choice> = Vec::new();
        let mut states: Vec<State> = Vec::new();
        let columns = self.rows.last().map_or(0, |row| row.column + 1);
        for column in 0..columns {
            let mut here = Column::with_room(2 * states.len());
            if column == 0 {
                self.arrive(None, 0..self.lanes, ahead, bound, &mut here);
            }
            for from in &states {
                let next = self.after(from.stop.row);
                if self.rows.get(next.start).is_some_and(|row| row.column == column) {
                    self.arrive(Some(from), next, ahead, bound, &mut here);
                } else {
                    // Another lane is longer than this one, which waits for it.
                    here.push(*from);
                }
            }
            states = here.into_states();
            for state in states.iter_mut().filter(|state| state.chosen) {
                choices.push(Choice { stop: state.stop, before: state.choice });
                (state.chosen, state.choice) = (false, Some(choices.len() - 1));
            }
        }
        // `min_by_key` keeps the first of equals.
        let last = states.iter().min_by_key(|state| state.cost)?;
        let back = std::iter::successors(last.choice, |&choice| choices[choice].before);
        let mut chosen: Vec<Stop> = back.map(|choice| choices[choice].stop).collect();
        let mut path = Vec::with_capacity(self.rows.len());
        let mut next = 0..self.lanes;
        while !next.is_empty() {
            let choice = chosen.pop_if(|stop| next.contains(&stop.row));
            let stop = choice.unwrap_or(Stop { row: next.start, way: 0 });
            path.push(stop);
            next = self.after(stop.row);
        }
        Some(path)
    }

    /// The states of the rows that follow a state, or the beginning.
    fn arrive(
        &self,
        from: Option<&State>,
        next: Range<usize>,
        ahead: &Ahead,
        bound: Cost,
        here: &mut Column,
    ) {
        let weights = self.weights;
        let lanes = next.len();
        for index in next {
            let row = &self.rows[index];
            for (way_index, way) in row.ways.iter().enumerate() {
                let stop = Stop { row: index, way: way_index };
                let (arrival, level_ml) = match from {
                    None => ((weights.start(way.action).total(), 0), weights.lungs.middle()),
                    Some(from) => {
                        let before = &self.rows[from.stop.row];
                        let gap = self.line.gap(before.note, row.note, weights);
                        let before_way = &before.ways[from.stop.way];
                        let step = self.step((before.note, before_way), (row.note, way), gap);
                        let silence = self.line.silence(before.note, row.note, weights);
                        (add(from.cost, step), weights.lungs.rested(from.level_ml, silence))
                    }
                };
                let aired = weights.lungs.sounded(level_ml, way, self.line.notes[row.note].sounding_ms());
                let so_far = add(arrival, (aired.points, 0));
                // What is ahead counts the sounding of this note.
                if add(so_far, ahead.at(stop).rest) <= bound {
                    here.push(State {
                        stop,
                        level_ml: aired.level_ml,
                        cost: add(so_far, self.hold(stop)),
                        chosen: lanes > 1 || row.ways.len() > 1,
                        choice: from.and_then(|from| from.choice),
                    });
                }
            }
        }
    }
}
