//! The second pass, for tunes whose best path without the lungs costs the lungs points: it goes forwards over states of
//! stop *and* air.
//!
//! **States.** The model counts whole millilitres. A tune with rests reaches few volumes, so it has few states. Eighths
//! without a rest reach thousands of volumes.
//!
//! **Comparing states.** Air alone cannot tell which of two states with the same stop is better. The lungs have a limit
//! at either end, so more air helps before blow notes and harms before draw notes. Points are rounded, so even the cost
//! of a volume between two others need not lie between the costs of these two volumes. Two states are therefore
//! compared only if they have the same stop and the same air.
//!
//! **Bounds.** The remaining cost without the lungs is a lower bound for the remaining cost, so a state that cannot end
//! within the cost of a known path is dropped. Of the remaining states, the sweep keeps only the [`NARROW`] most
//! promising in each column. If no column had more states, the answer is exact. Otherwise the sweep usually finds a
//! very good path, whose cost bounds the tables of all volumes ([`super::volumes`]).

use std::ops::Range;

use super::{Ahead, Cost, Lattice, Stop, add, volumes};
use crate::search::{
    breath::{Draught, recovered},
    steps::Steps,
};

/// The number of states in each column that the sweep keeps.
const NARROW: usize = 256;

/// The number of choices at which the sweep gives up; they take about 12 megabytes.
const MOST_CHOICES: usize = 1 << 20;

/// Returns the cheapest path, if it costs no more than `bound`.
pub(super) fn cheapest(lattice: &Lattice, ahead: &Ahead, bound: Cost) -> Option<Vec<Stop>> {
    let mut narrow = Sweep::new(lattice, ahead, bound, NARROW);
    let found = narrow.run();
    if narrow.narrowed {
        return volumes::cheapest(lattice, ahead, found.map_or(bound, |end| end.cost));
    }
    found.map(|end| narrow.path(end))
}

/// The end of a path through the columns so far.
#[derive(Clone, Copy)]
struct State {
    stop: Stop,
    level_ml: u32,
    cost: Cost,
    /// The last stop of the path that had alternatives, as an index into the choices; [`NONE`] if no stop since the
    /// settled part had alternatives.
    choice: u32,
    /// Whether the current stop had alternatives and is not yet in the list of choices.
    chosen: bool,
    /// Whether a later state of the column, with the same stop and air, is better.
    surpassed: bool,
}

const NONE: u32 = u32::MAX;

/// A stop that had alternatives; stops without alternatives are not recorded.
struct Chosen {
    stop: Stop,
    before: u32,
}

/// The states of a column in the order of their paths, so that among equals the path with the easier action at the
/// first difference comes first. Of the states with the same stop and air, only the best is kept.
#[derive(Default)]
struct Column {
    states: Vec<State>,
    /// A hash table: one more than the index in `states` of the best state with a stop and a volume; zero if there is
    /// none.
    slots: Vec<u32>,
}

impl Column {
    /// Empties the column and makes space for `most` states.
    fn clear(&mut self, most: usize) {
        self.states.clear();
        self.slots.clear();
        self.slots.resize((2 * most).next_power_of_two(), 0);
    }

    fn push(&mut self, state: State) {
        let mask = self.slots.len() - 1;
        let Stop { row, way } = state.stop;
        let key = u64::from(row) << 40 ^ u64::from(way) << 32 ^ u64::from(state.level_ml);
        // Fibonacci hashing: the middle bits of the product mix all bits of the key.
        let mut slot = (key.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 32) as usize & mask;
        while let Some(at) = self.slots[slot].checked_sub(1) {
            let other = &mut self.states[at as usize];
            if (other.stop, other.level_ml) == (state.stop, state.level_ml) {
                if other.cost <= state.cost {
                    return;
                }
                other.surpassed = true;
                break;
            }
            slot = (slot + 1) & mask;
        }
        self.states.push(state);
        self.slots[slot] = self.states.len() as u32;
    }
}

/// The data for the next step that all states at one stop share.
struct Source {
    stop: Stop,
    /// The range of possible steps in the list of legs; empty if the states wait for a longer lane.
    legs: Range<usize>,
}

/// A stop of the next column, with the data that all steps to it share.
struct Target {
    stop: Stop,
    aim_ml: u32,
    hold: Cost,
    /// The remaining cost without the lungs, including the sounding of this note.
    rest: Cost,
    draught: Draught,
    /// The result of [`Weights::shaped_anew`].
    anew: u64,
}

/// A step from a stop to a stop that may follow.
struct Leg {
    /// The index of the stop in the list of targets.
    to: usize,
    step: Cost,
    /// By how many millilitres the silence before the step moves the volume towards the target.
    back_ml: u32,
    /// Whether another leg starts at the same stop.
    chosen: bool,
}

struct Sweep<'s, 'a> {
    lattice: &'s Lattice<'a>,
    ahead: &'s Ahead,
    /// The cost above which states are dropped.
    bound: Cost,
    /// The number of states kept in a column.
    most: usize,
    /// Whether the sweep dropped states within the bound. The sweep's answer may then not be the best.
    narrowed: bool,
    /// The settled part of the path: its choices up to the last column with a single state.
    settled: Vec<Stop>,
    choices: Vec<Chosen>,
    // Buffers.
    next: Column,
    sources: Vec<Source>,
    /// The index of each state's source in `sources`.
    whose: Vec<usize>,
    targets: Vec<Target>,
    /// The first row of the targets.
    first: usize,
    legs: Vec<Leg>,
    steps: Steps<'a>,
}

impl<'s, 'a> Sweep<'s, 'a> {
    fn new(lattice: &'s Lattice<'a>, ahead: &'s Ahead, bound: Cost, most: usize) -> Sweep<'s, 'a> {
        Sweep {
            lattice,
            ahead,
            bound,
            most,
            narrowed: false,
            settled: Vec::new(),
            choices: Vec::new(),
            next: Column::default(),
            sources: Vec::new(),
            whose: Vec::new(),
            targets: Vec::new(),
            first: 0,
            legs: Vec::new(),
            steps: Steps::new(lattice.weights),
        }
    }

    /// Goes through all columns; returns the best final state, if any state is left.
    fn run(&mut self) -> Option<State> {
        let columns = self.lattice.rows.last().map_or(0, |row| row.column + 1);
        let mut states = Vec::new();
        for column in 0..columns {
            self.advance(column, &mut states);
            match states.as_mut_slice() {
                [] => return None,
                [only] => {
                    self.settle(only.choice);
                    only.choice = NONE;
                }
                _ => {}
            }
            if self.choices.len() > MOST_CHOICES {
                self.narrowed = true;
                return None;
            }
        }
        // `min_by_key` keeps the first of equal states.
        states.into_iter().min_by_key(|state| state.cost)
    }

    /// Returns the path to a final state.
    fn path(mut self, end: State) -> Vec<Stop> {
        self.settle(end.choice);
        whole(self.lattice, &self.settled)
    }

    /// Moves the chain of choices that ends with `last` to the settled part, in order.
    fn settle(&mut self, last: u32) {
        let choice = |index: u32| self.choices.get(index as usize);
        let start = self.settled.len();
        self.settled.extend(
            std::iter::successors(choice(last), |&later| choice(later.before)).map(|choice| choice.stop),
        );
        self.settled[start..].reverse();
        self.choices.clear();
    }

    /// Advances the states of a column to the next column.
    fn advance(&mut self, column: usize, states: &mut Vec<State>) {
        self.sources.clear();
        self.legs.clear();
        self.aim(column);
        let mut next = std::mem::take(&mut self.next);
        if column == 0 {
            let legs = self.add_legs(None, 0..self.lattice.lanes);
            next.clear(legs.len());
            for leg in &self.legs[legs] {
                self.arrive(leg, (0, 0), self.targets[leg.to].aim_ml, NONE, &mut next);
            }
        }
        let mut whose = std::mem::take(&mut self.whose);
        whose.clear();
        whose.extend(states.iter().map(|state| self.source(state.stop, column)));
        if column > 0 {
            next.clear(whose.iter().map(|&source| self.sources[source].legs.len().max(1)).sum());
        }
        for (from, &source) in states.iter().zip(&whose) {
            let legs = &self.legs[self.sources[source].legs.clone()];
            if legs.is_empty() {
                // Another lane is longer than this lane, whose states therefore wait.
                next.push(*from);
            }
            for leg in legs {
                self.arrive(leg, from.cost, from.level_ml, from.choice, &mut next);
            }
        }
        next.states.retain(|state| !state.surpassed);
        std::mem::swap(states, &mut next.states);
        (self.next, self.whose) = (next, whose);
        self.narrow(states);
        for state in states.iter_mut().filter(|state| state.chosen) {
            self.choices.push(Chosen { stop: state.stop, before: state.choice });
            (state.chosen, state.choice) = (false, self.choices.len() as u32 - 1);
        }
    }

    /// Lists the targets in a column. Columns are asked for in order.
    fn aim(&mut self, column: usize) {
        let Lattice { line, weights, rows, aims, .. } = self.lattice;
        self.first += rows[self.first..].iter().take_while(|row| row.column < column).count();
        self.targets.clear();
        let here = rows.iter().enumerate().skip(self.first).take_while(|(_, row)| row.column == column);
        for (index, row) in here {
            let sounding_ms = line.sounding_ms(row.note);
            self.targets.extend(row.ways.iter().enumerate().map(|(way_index, way)| {
                let stop = Stop::new(index, way_index);
                Target {
                    stop,
                    aim_ml: aims[row.note],
                    hold: self.lattice.hold(stop),
                    rest: self.ahead.at(stop).rest(),
                    draught: weights.lungs.draught(way, sounding_ms),
                    anew: weights.shaped_anew(way),
                }
            }));
        }
    }

    /// Returns the index of a stop in `sources`, where a new stop is added first. The legs of the stop lead to
    /// `column`. If its next row is in a later column, the stop has no legs, so its states wait.
    fn source(&mut self, stop: Stop, column: usize) -> usize {
        if let Some(known) = self.sources.iter().position(|source| source.stop == stop) {
            return known;
        }
        let next = self.lattice.after(stop.row());
        let goes_on = self.lattice.rows.get(next.start).is_some_and(|row| row.column == column);
        let legs = if goes_on { self.add_legs(Some(stop), next) } else { 0..0 };
        self.sources.push(Source { stop, legs });
        self.sources.len() - 1
    }

    /// Adds the legs from a stop, or from the beginning, to the rows that follow. Returns their range in `legs`.
    fn add_legs(&mut self, from: Option<Stop>, next: Range<usize>) -> Range<usize> {
        let Lattice { line, weights, rows, .. } = self.lattice;
        let start = self.legs.len();
        let lanes = next.len();
        for index in next {
            let row = &rows[index];
            let mut back_ml = 0;
            if let Some(from) = from {
                let before = rows[from.row()].note;
                self.steps.after(line.gap(before, row.note, weights));
                back_ml = weights.lungs.recovery(line.silence(before, row.note, weights));
            }
            let targets = self.ahead.starts[index] - self.ahead.starts[self.first]..;
            for (to, way) in targets.zip(row.ways) {
                let step = match from {
                    None => (weights.start(way).total(), 0),
                    Some(from) => {
                        let from = (rows[from.row()].note, self.lattice.way(from));
                        self.lattice.step(&mut self.steps, from, (row.note, way), self.targets[to].anew)
                    }
                };
                self.legs.push(Leg { to, step, back_ml, chosen: lanes > 1 || row.ways.len() > 1 });
            }
        }
        start..self.legs.len()
    }

    /// Stores the state at the end of a leg, unless it costs more than the bound; `choice` is the last choice before
    /// the leg.
    fn arrive(&self, leg: &Leg, cost: Cost, level_ml: u32, choice: u32, next: &mut Column) {
        let to = &self.targets[leg.to];
        let aired = to.draught.from(recovered(level_ml, to.aim_ml, leg.back_ml));
        let so_far = add(add(cost, leg.step), (aired.points, 0));
        if add(so_far, to.rest) > self.bound {
            return;
        }
        next.push(State {
            stop: to.stop,
            level_ml: aired.level_ml,
            cost: add(so_far, to.hold),
            choice,
            chosen: leg.chosen,
            surpassed: false,
        });
    }

    /// Keeps only the most promising states if there are too many.
    fn narrow(&mut self, states: &mut Vec<State>) {
        if states.len() <= self.most {
            return;
        }
        self.narrowed = true;
        // The cost and the remaining cost both include the hold, so it is subtracted once.
        let promise = |state: &State| {
            let (rest, hold) = (self.ahead.at(state.stop).rest(), self.lattice.hold(state.stop));
            (state.cost.0.saturating_add(rest.0 - hold.0), state.cost.1.saturating_add(rest.1))
        };
        let mut promises: Vec<(Cost, usize)> =
            states.iter().enumerate().map(|(index, state)| (promise(state), index)).collect();
        promises.select_nth_unstable(self.most);
        let mut kept: Vec<usize> = promises[..self.most].iter().map(|&(_, index)| index).collect();
        kept.sort_unstable();
        *states = kept.into_iter().map(|index| states[index]).collect();
    }
}

/// Returns the whole path, in order, given its choices.
fn whole(lattice: &Lattice, chosen: &[Stop]) -> Vec<Stop> {
    let mut chosen = chosen.iter().copied().peekable();
    let mut path = Vec::with_capacity(lattice.rows.len());
    let mut next = 0..lattice.lanes;
    while !next.is_empty() {
        let choice = chosen.next_if(|stop| next.contains(&stop.row()));
        let stop = choice.unwrap_or(Stop::new(next.start, 0));
        path.push(stop);
        next = lattice.after(stop.row());
    }
    path
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::{
        harp::{Harp, Technique, Tuning},
        melody::{Melody, Note},
        pitch::{Interval, Pitch},
        search::{
            Weights,
            path::{Reach, Timeline, lattice::Stage},
        },
        time::Beats,
    };

    /// Returns a melody. Each note is given by its half steps above G4, its length, and the rest after it; lengths and
    /// rests are in sixteenths.
    fn melody(notes: &[(u8, i64, i64)]) -> Melody {
        let mut melody = Melody::default();
        let mut onset = 0;
        for &(step, length, rest) in notes {
            let pitch = Pitch::new(67 + step).unwrap();
            melody.notes.push(Note::new(Beats::new(onset, 4), Beats::new(length, 4), pitch, 0));
            onset += length + rest;
        }
        melody
    }

    proptest! {
        /// The tables find the same path as a sweep that drops no state: with a bound or without, in one lane or two.
        #[test]
        fn all_volumes_and_all_states_give_the_same_path(
            notes in prop::collection::vec(
                (
                    prop::sample::select(vec![0, 0, 5, 9, 7, 4]),
                    1..6i64,
                    prop::sample::select(vec![0, 0, 0, 0, 0, 1, 9]),
                ),
                2..40,
            ),
            capacity_ml in 300..2000u32,
            second_lane in any::<bool>(),
        ) {
            let mut weights = Weights::default();
            weights.lungs.capacity_ml = capacity_ml;
            let harp = Harp::standard_set(&Tuning::richter()).remove(5);
            let (melody, reach) = (melody(&notes), Reach::new(&harp, Technique::All));
            let line = Timeline::new(&melody);
            let aims = line.aims(&reach, Interval(0), &weights);
            let ways = |note: usize, shift| reach.ways(melody.notes[note].pitch, Interval(shift));
            let rows: Vec<Stage> = if second_lane {
                let lanes = |note| [0, 12].map(|shift| ways(note, shift));
                let rows = (0..melody.notes.len()).flat_map(|note| lanes(note).map(|ways| (note, ways)));
                let count = 2 * melody.notes.len();
                rows.enumerate().map(|(row, (note, ways))| {
                    // Both lanes meet at every fifth note.
                    let next = if note % 5 == 4 { (row | 1) + 1..(row | 1) + 3 } else { row + 2..row + 3 };
                    Stage { note, ways, edits: &[], next: next.start.min(count)..next.end.min(count), column: note }
                }).collect()
            } else {
                (0..melody.notes.len()).map(|note| Stage::in_line(note, note, ways(note, 0))).collect()
            };
            let lattice = Lattice::new(&line, &aims, &weights, rows, 1 + usize::from(second_lane), 0);
            let ahead = Ahead::new(&lattice, u64::MAX).unwrap();
            let unbound = (u64::MAX, u32::MAX);
            let mut sweep = Sweep::new(&lattice, &ahead, unbound, usize::MAX);
            let end = sweep.run().unwrap();
            let path = sweep.path(end);
            prop_assert_eq!(volumes::cheapest(&lattice, &ahead, unbound), Some(path.clone()));
            prop_assert_eq!(volumes::cheapest(&lattice, &ahead, end.cost), Some(path));
            if let Some(less) = end.cost.0.checked_sub(1) {
                prop_assert_eq!(volumes::cheapest(&lattice, &ahead, (less, 0)), None);
            }
        }
    }
}
