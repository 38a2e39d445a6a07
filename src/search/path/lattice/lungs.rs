//! The second pass, for tunes whose best path without the lungs costs the lungs points: it goes forwards over states of
//! stop *and* air.
//!
//! **States.** The model counts whole millilitres from zero to at most [`LungWeights::MOST_ML`]. A column therefore has
//! at most ways times volumes states, however long the tune is. Real tunes have far fewer states: eighths without a
//! rest, the worst case found, have some hundreds.
//!
//! **Comparing states.** Air alone cannot tell which of two states with the same stop is better. Both ends of the lungs
//! are limits, so more air helps before blow notes and harms before draw notes. Points are rounded, so even the cost of
//! a volume between two others need not lie between the costs of those two. Two states are therefore compared only if
//! they have the same stop and the same air.
//!
//! **Bounds.** The remaining cost is no less than it is without the lungs, so a state that cannot end within the cost
//! of a known path is dropped. A first sweep keeps only the [`NARROW`] most promising states of each column. If no
//! column had more states, the answer of the first sweep is exact. Otherwise the sweep finds a path, usually a very
//! good one, whose cost bounds a second sweep; the second sweep drops only states above the bound.
//!
//! **Memory.** The choices that lead to the states form a tree. Where a column has a single state, all choices before
//! it are settled. Elsewhere, when the choices take more memory than the states saved so far, the sweep forgets the
//! choices and saves the states of the column. The sweep then finds the path from the end, by repeating each stretch
//! from the states saved before it. So memory grows with the square root of the length, and time at most doubles (as in
//! Griewank's checkpoints for differentiating programs backwards, 1992, from memory).

use std::ops::Range;

use super::{Ahead, Cost, Lattice, Stop, add};
use crate::search::breath::{Draught, recovered};
#[cfg(doc)]
use crate::search::effort::LungWeights;

/// The number of states in each column that the first sweep keeps.
const NARROW: usize = 16;

/// The number of choices that the sweep always keeps before it saves states: about a megabyte.
const FEW_CHOICES: usize = 1 << 16;

/// Returns the cheapest path, if it costs no more than `bound`.
pub(super) fn cheapest(lattice: &Lattice, ahead: &Ahead, bound: Cost) -> Option<Vec<Stop>> {
    let mut narrow = Sweep::new(lattice, ahead, bound, NARROW);
    let found = narrow.run();
    if !narrow.narrowed {
        return found.map(|end| narrow.path(end));
    }
    let bound = found.map_or(bound, |end| end.cost);
    let mut wide = Sweep::new(lattice, ahead, bound, usize::MAX);
    let found = wide.run();
    found.map(|end| wide.path(end))
}

/// The end of a path through the columns so far.
#[derive(Clone, Copy)]
struct State {
    stop: Stop,
    level_ml: u32,
    cost: Cost,
    /// The last stop of the path that had alternatives, as an index into the choices; [`NONE`] if no stop of this
    /// stretch had any.
    choice: u32,
    /// The index of the path's state at the beginning of this stretch.
    origin: u32,
    /// Whether the current stop had alternatives and is not yet in the list of choices.
    chosen: bool,
    /// Whether a later state in the column is better.
    surpassed: bool,
}

const NONE: u32 = u32::MAX;

/// A stop that had alternatives; stops without alternatives are not recorded.
struct Chosen {
    stop: Stop,
    before: u32,
}

/// The saved states before a column.
struct Cut {
    column: usize,
    states: Vec<State>,
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
    /// Makes room for `most` states.
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
    /// The range of possible steps in the list of legs; empty if the states wait.
    legs: Range<usize>,
}

/// A step from a stop to a stop that may follow.
#[derive(Clone, Copy)]
struct Leg {
    to: Stop,
    step: Cost,
    /// How far the silence before the step moves the volume towards the target.
    back_ml: u32,
    aim_ml: u32,
    hold: Cost,
    /// The remaining cost without the lungs, including the sounding of this note.
    rest: Cost,
    draught: Draught,
    chosen: bool,
}

struct Sweep<'s, 'a> {
    lattice: &'s Lattice<'a>,
    ahead: &'s Ahead,
    /// The cost above which states are dropped.
    bound: Cost,
    /// The number of states kept in a column.
    most: usize,
    /// The number of choices that the sweep always keeps.
    few_choices: usize,
    /// Whether a column had more states than `most`, so some were dropped.
    narrowed: bool,
    /// The settled part of the path: its choices up to the last column that had a single state before any states were
    /// saved.
    settled: Vec<Stop>,
    choices: Vec<Chosen>,
    cuts: Vec<Cut>,
    // Buffers.
    next: Column,
    sources: Vec<Source>,
    /// The index of each state's source in `sources`.
    whose: Vec<usize>,
    legs: Vec<Leg>,
}

impl<'s, 'a> Sweep<'s, 'a> {
    fn new(lattice: &'s Lattice<'a>, ahead: &'s Ahead, bound: Cost, most: usize) -> Sweep<'s, 'a> {
        Sweep {
            lattice,
            ahead,
            bound,
            most,
            few_choices: FEW_CHOICES,
            narrowed: false,
            settled: Vec::new(),
            choices: Vec::new(),
            cuts: Vec::new(),
            next: Column::default(),
            sources: Vec::new(),
            whose: Vec::new(),
            legs: Vec::new(),
        }
    }

    /// Goes through all columns; returns the best final state, if any state is left.
    fn run(&mut self) -> Option<State> {
        let columns = self.lattice.rows.last().map_or(0, |row| row.column + 1);
        let mut states = Vec::new();
        let mut aside = 0;
        self.cuts.push(Cut { column: 0, states: Vec::new() });
        for column in 0..columns {
            self.advance(column, &mut states);
            match states.as_mut_slice() {
                [] => return None,
                [only] if self.cuts.len() == 1 => {
                    self.settle(only.choice);
                    only.choice = NONE;
                    let start = &mut self.cuts[0];
                    start.column = column + 1;
                    start.states.clear();
                    start.states.push(*only);
                }
                several => {
                    let kept = self.few_choices.max(aside * size_of::<State>() / size_of::<Chosen>());
                    if self.choices.len() > kept {
                        (0..)
                            .zip(several)
                            .for_each(|(index, state)| (state.choice, state.origin) = (NONE, index));
                        self.choices.clear();
                        aside += states.len();
                        self.cuts.push(Cut { column: column + 1, states: states.clone() });
                    }
                }
            }
        }
        // `min_by_key` keeps the first of equal states.
        states.into_iter().min_by_key(|state| state.cost)
    }

    /// Returns the path to a final state.
    fn path(mut self, end: State) -> Vec<Stop> {
        let mut stretches = vec![self.chain(end.choice)];
        let mut origin = end.origin;
        while let Some(cut) = self.cuts.pop()
            && let Some(start) = self.cuts.last()
        {
            let goal = cut.states[origin as usize];
            let (columns, mut states) = (start.column..cut.column, start.states.clone());
            (0..).zip(&mut states).for_each(|(index, state)| state.origin = index);
            self.choices.clear();
            columns.for_each(|column| self.advance(column, &mut states));
            let same = |state: &&State| (state.stop, state.level_ml) == (goal.stop, goal.level_ml);
            // Repeating the sweep reaches the same states.
            let Some(state) = states.iter().find(same) else { break };
            origin = state.origin;
            stretches.push(self.chain(state.choice));
        }
        let mut chosen = self.settled;
        chosen.extend(stretches.into_iter().rev().flatten());
        whole(self.lattice, &chosen)
    }

    /// Returns the stops of the chain of choices that ends with `last`, in order.
    fn chain(&self, last: u32) -> Vec<Stop> {
        let choice = |index: u32| self.choices.get(index as usize);
        let back = std::iter::successors(choice(last), |&before| choice(before.before));
        let mut chain: Vec<Stop> = back.map(|choice| choice.stop).collect();
        chain.reverse();
        chain
    }

    fn settle(&mut self, last: u32) {
        if !self.choices.is_empty() {
            let chain = self.chain(last);
            self.settled.extend(chain);
            self.choices.clear();
        }
    }

    /// Advances the states of a column to the next column.
    fn advance(&mut self, column: usize, states: &mut Vec<State>) {
        self.sources.clear();
        self.legs.clear();
        let mut next = std::mem::take(&mut self.next);
        if column == 0 {
            let legs = self.add_legs(None, 0..self.lattice.lanes);
            next.clear(legs.len());
            for leg in &self.legs[legs] {
                self.arrive(leg, (0, 0), leg.aim_ml, (NONE, 0), &mut next);
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
                // Another lane is longer than this one, so this one waits for it.
                next.push(*from);
            }
            for leg in legs {
                self.arrive(leg, from.cost, from.level_ml, (from.choice, from.origin), &mut next);
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

    /// Returns the index in `sources` of a stop whose states go on to a column, or wait.
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

    /// Adds the legs from a stop, or from the beginning, to the rows that follow.
    fn add_legs(&mut self, from: Option<Stop>, next: Range<usize>) -> Range<usize> {
        let Lattice { line, weights, rows, .. } = self.lattice;
        let start = self.legs.len();
        let lanes = next.len();
        for index in next {
            let row = &rows[index];
            let sounding_ms = line.sounding_ms(row.note);
            let silence = from.map(|from| line.silence(rows[from.row()].note, row.note, weights));
            for (way_index, way) in row.ways.iter().enumerate() {
                let to = Stop::new(index, way_index);
                let step = match from {
                    None => (weights.start(way).total(), 0),
                    Some(from) => {
                        let before = rows[from.row()].note;
                        let gap = line.gap(before, row.note, weights);
                        self.lattice.step((before, self.lattice.way(from)), (row.note, way), gap)
                    }
                };
                self.legs.push(Leg {
                    to,
                    step,
                    aim_ml: self.lattice.aims[row.note],
                    back_ml: silence.map_or(0, |silence| weights.lungs.recovery(silence)),
                    hold: self.lattice.hold(to),
                    rest: self.ahead.at(to).rest(),
                    draught: weights.lungs.draught(way, sounding_ms),
                    chosen: lanes > 1 || row.ways.len() > 1,
                });
            }
        }
        start..self.legs.len()
    }

    /// Stores the state at the end of a leg, unless it costs more than the bound; `come` holds the state's choice and
    /// origin so far.
    fn arrive(&self, leg: &Leg, cost: Cost, level_ml: u32, come: (u32, u32), next: &mut Column) {
        let level_ml = recovered(level_ml, leg.aim_ml, leg.back_ml);
        let aired = leg.draught.from(level_ml);
        let so_far = add(add(cost, leg.step), (aired.points, 0));
        if add(so_far, leg.rest) > self.bound {
            return;
        }
        next.push(State {
            stop: leg.to,
            level_ml: aired.level_ml,
            cost: add(so_far, leg.hold),
            choice: come.0,
            origin: come.1,
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
        // The comparison leaves out the price of the hold, which both states share.
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

    /// The path does not depend on how often states are saved and found again.
    #[test]
    fn what_is_forgotten_is_found_again() {
        let mut run = Melody::default();
        for index in 0..600 {
            // Mostly G4, which is draw 2 or blow 3, between blow notes; a rest after each hundred notes.
            let midi = [67, 72, 76, 67, 74, 72, 67][index % 7];
            let onset = Beats::new(index as i64 / 100 * 10 + index as i64, 2);
            run.notes.push(Note::new(onset, Beats::new(1, 2), Pitch::new(midi).unwrap(), 0));
        }
        let harp = Harp::standard_set(&Tuning::richter()).remove(5);
        let (line, reach, weights) =
            (Timeline::new(&run), Reach::new(&harp, Technique::All), Weights::default());
        let ways = run.notes.iter().map(|note| reach.ways(note.pitch, Interval(0)));
        let rows = ways.enumerate().map(|(index, ways)| Stage::in_line(index, index, ways)).collect();
        let aims = line.aims(&reach, Interval(0), &weights);
        let lattice = Lattice::new(&line, &aims, &weights, rows, 1, 0);
        let ahead = Ahead::new(&lattice, u64::MAX).unwrap();
        let paths = [0, 7, 100, usize::MAX].map(|few_choices| {
            let mut sweep = Sweep { few_choices, ..Sweep::new(&lattice, &ahead, (u64::MAX, 0), usize::MAX) };
            let end = sweep.run().unwrap();
            let cuts = sweep.cuts.len();
            (sweep.path(end), cuts)
        });
        let [often, ..] = &paths;
        assert!(often.1 > 10 && paths[3].1 == 1, "{} times", often.1);
        assert!(lattice.lungs(&often.0) > 0);
        assert!(paths.iter().all(|(path, _)| path == &often.0));
    }
}
