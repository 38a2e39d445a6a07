//! The last pass, for tunes that are short of air for long: it fills a table of *all* volumes within reach for each
//! stop, backwards.
//!
//! Let `after(a, v)` be the least cost of everything after action `a` has left the volume `v` in the lungs. Then
//!
//! ```text
//! sounded(a, v) = hold(a) + lungs(a, v) + after(a, v after sounding a)
//! after(a, v)   = min over the actions b of the next note of step(a, b) + sounded(b, v after the silence)
//! ```
//!
//! **Ties.** Of equal choices, the table keeps the first, which is the easier action. Following the choices forwards
//! therefore gives the path with the easier action at the first difference from an equal path.
//!
//! **Time.** The model counts whole millilitres, at most [`LungWeights::MOST_ML`]. The time for a stop is at most
//! proportional to the number of its steps times this maximum. In practice the tables are narrower, and a stop that no
//! path within the bound goes through has none.
//!
//! **Memory.** A table of costs is dropped as soon as all rows before it have theirs. The choices are kept as runs of
//! neighbouring volumes with the same choice. A stop has few runs, because a little more air rarely changes the choice.

use std::{collections::BTreeMap, ops::RangeInclusive};

use super::{Ahead, Cost, Lattice, Stage, Stop, add};
#[cfg(doc)]
use crate::search::effort::{LungWeights, Weights};
use crate::search::{
    breath::{Draught, recovered},
    steps::Steps,
};

/// Returns the path that costs least, if it costs no more than `bound`.
pub(super) fn cheapest(lattice: &Lattice, ahead: &Ahead, bound: Cost) -> Option<Vec<Stop>> {
    let mut table = Table::new(lattice, ahead, bound);
    let every_path_meets_every_row = lattice.lanes == 1 && lattice.rows.iter().all(|row| row.next.len() <= 1);
    for row in (0..lattice.rows.len()).rev() {
        table.add(row);
        if every_path_meets_every_row && table.exceeds(row, bound) {
            return None;
        }
    }
    table.path(bound)
}

/// A [`Cost`] as one number, which is faster to compare: the points in the high bits, then the breath changes. Costs
/// above [`MOST`] count as equal. For 100,000 notes these are costs of more than 17 trillion points. A path that costs
/// as much needs weights above [`Weights::HIGHEST`].
type Sum = u64;

/// The largest sum in a table. Three of them can be added without an overflow.
const MOST: Sum = 1 << 61;

/// The volumes within reach of a stop, and the cost of a path to it.
#[derive(Clone)]
struct Reached {
    /// The least and the most air that a path can have before the stop sounds, in millilitres.
    least_ml: u32,
    most_ml: u32,
    /// The least cost of a path to the stop, without the lungs.
    cost: Cost,
}

/// Marks a stop that no path within the bound goes through.
const BEYOND: Reached = Reached { least_ml: u32::MAX, most_ml: 0, cost: (u64::MAX, u32::MAX) };

impl Reached {
    fn is_beyond(&self) -> bool {
        self.least_ml > self.most_ml
    }
}

/// A step to a stop.
struct Leg {
    /// The stop, as an index into the lists of stops.
    to: usize,
    step: Cost,
    /// By how many millilitres the silence before the stop moves the volume towards the target.
    back_ml: u32,
    aim_ml: u32,
}

impl Leg {
    fn recovered(&self, level_ml: u32) -> u32 {
        recovered(level_ml, self.aim_ml, self.back_ml)
    }
}

/// Neighbouring volumes from which the same leg is best.
struct Run {
    /// One more than the largest volume, in millilitres. No volume exceeds [`LungWeights::MOST_ML`].
    to_ml: u16,
    leg: u16,
}

/// The effects of one draught from neighbouring volumes.
struct Effects {
    draught: Draught,
    /// The least of the volumes, in millilitres.
    least_ml: u32,
    /// For each volume, the volume afterwards in millilitres, and the points for the lungs.
    from: Vec<(u32, Sum)>,
}

/// The number of draughts whose effects are remembered. A long run of equal notes needs few: for two actions, and for
/// lengths that differ by a millisecond because of rounding.
const DRAUGHTS: usize = 16;

struct Table<'s, 'a> {
    lattice: &'s Lattice<'a>,
    /// Where the stops of each row start in the lists of stops.
    starts: &'s [usize],
    /// The number of low bits in a [`Sum`] that count the breath changes.
    change_bits: u32,
    reached: Vec<Reached>,
    /// The first row that each row may follow.
    first_before: Vec<usize>,
    /// The tables of the stops that earlier rows still need: the cost of sounding the stop and of everything after it,
    /// for each volume from the least within reach.
    sounded: BTreeMap<usize, Vec<Sum>>,
    /// The choices after all stops, in the order in which the tables were filled.
    runs: Vec<Run>,
    /// Where the runs of each stop begin and end.
    choices: Vec<(u32, u32)>,
    /// The effects that were needed last, because computing them takes half of the time.
    effects: Vec<Effects>,
    // Buffers for one stop: for each volume, the least cost of everything after the stop, and the first leg of the path
    // with this cost.
    after: Vec<Sum>,
    chosen: Vec<u16>,
}

impl<'s, 'a> Table<'s, 'a> {
    fn new(lattice: &'s Lattice<'a>, ahead: &'s Ahead, bound: Cost) -> Table<'s, 'a> {
        let stops = ahead.entries.len();
        let mut table = Table {
            lattice,
            starts: &ahead.starts,
            // A path has fewer breath changes than rows.
            change_bits: usize::BITS - lattice.rows.len().leading_zeros(),
            reached: vec![BEYOND; stops],
            first_before: vec![usize::MAX; lattice.rows.len()],
            sounded: BTreeMap::new(),
            runs: Vec::new(),
            choices: vec![(0, 0); stops],
            effects: Vec::new(),
            after: Vec::new(),
            chosen: Vec::new(),
        };
        table.reach(ahead, bound);
        table
    }

    /// Finds the volumes within reach of each stop, and the least cost of a path to it without the lungs. Marks the
    /// stops that no path within the bound goes through.
    fn reach(&mut self, ahead: &Ahead, bound: Cost) {
        let lattice = self.lattice;
        for (row, stage) in lattice.rows.iter().take(lattice.lanes).enumerate() {
            let aim_ml = lattice.aims[stage.note];
            for (index, way) in stage.ways.iter().enumerate() {
                let cost = (lattice.weights.start(way).total(), 0);
                self.reached[self.starts[row] + index] = Reached { least_ml: aim_ml, most_ml: aim_ml, cost };
            }
        }
        for row in 0..lattice.rows.len() {
            for next in lattice.after(row) {
                self.first_before[next] = self.first_before[next].min(row);
            }
            for way in 0..lattice.rows[row].ways.len() {
                let stop = Stop::new(row, way);
                let index = self.index(stop);
                if add(self.reached[index].cost, ahead.at(stop).rest()) > bound {
                    self.reached[index] = BEYOND;
                    continue;
                }
                let cost = add(self.reached[index].cost, lattice.hold(stop));
                let levels = self.levels(stop);
                for leg in self.legs(stop) {
                    let reached = &mut self.reached[leg.to];
                    reached.least_ml = reached.least_ml.min(leg.recovered(*levels.start()));
                    reached.most_ml = reached.most_ml.max(leg.recovered(*levels.end()));
                    reached.cost = reached.cost.min(add(cost, leg.step));
                }
            }
        }
    }

    fn sum(&self, (points, changes): Cost) -> Sum {
        let most_changes = (1 << self.change_bits) - 1;
        points.min(MOST >> self.change_bits) << self.change_bits | Sum::from(changes).min(most_changes)
    }

    fn index(&self, stop: Stop) -> usize {
        self.starts[stop.row()] + stop.way()
    }

    fn draught(&self, stop: Stop) -> Draught {
        let sounding_ms = self.lattice.line.sounding_ms(self.lattice.rows[stop.row()].note);
        self.lattice.weights.lungs.draught(self.lattice.way(stop), sounding_ms)
    }

    /// Returns the volumes within reach after a stop. More air before a note never leaves less air after it, so the ends
    /// of the range before the note lead to the ends of the range after it.
    fn levels(&self, stop: Stop) -> RangeInclusive<u32> {
        let (draught, reached) = (self.draught(stop), &self.reached[self.index(stop)]);
        draught.from(reached.least_ml).level_ml..=draught.from(reached.most_ml).level_ml
    }

    /// Returns the steps from a stop: the first lane first, and within a lane the easiest action first.
    fn legs(&self, stop: Stop) -> impl Iterator<Item = Leg> + 's {
        let (lattice, starts) = (self.lattice, self.starts);
        let (from, from_way) = (lattice.rows[stop.row()].note, lattice.way(stop));
        lattice.after(stop.row()).flat_map(move |row| {
            let Stage { note, ways, .. } = lattice.rows[row];
            let mut steps = Steps::new(lattice.weights);
            steps.after(lattice.line.gap(from, note, lattice.weights));
            let silence = lattice.line.silence(from, note, lattice.weights);
            let (back_ml, aim_ml) = (lattice.weights.lungs.recovery(silence), lattice.aims[note]);
            ways.iter().enumerate().map(move |(index, way)| Leg {
                to: starts[row] + index,
                step: lattice.step(
                    &mut steps,
                    (from, from_way),
                    (note, way),
                    lattice.weights.shaped_anew(way),
                ),
                back_ml,
                aim_ml,
            })
        })
    }

    /// Fills the tables of a row. The tables of all rows that may follow it must already be filled.
    fn add(&mut self, row: usize) {
        for way in 0..self.lattice.rows[row].ways.len() {
            let stop = Stop::new(row, way);
            if !self.reached[self.index(stop)].is_beyond() {
                self.add_stop(stop);
            }
        }
        for next in self.lattice.after(row).filter(|&next| self.first_before[next] == row) {
            for way in 0..self.lattice.rows[next].ways.len() {
                self.sounded.remove(&(self.starts[next] + way));
            }
        }
    }

    fn add_stop(&mut self, stop: Stop) {
        let (levels, draught) = (self.levels(stop), self.draught(stop));
        let least_ml = *levels.start();
        self.choose(stop, &levels);
        let begin = self.runs.len() as u32;
        let mut to_ml = least_ml;
        for run in self.chosen.chunk_by(|a, b| a == b) {
            to_ml += run.len() as u32;
            self.runs.push(Run { to_ml: to_ml as u16, leg: run[0] });
        }
        let index = self.index(stop);
        self.choices[index] = (begin, self.runs.len() as u32);
        let Reached { least_ml: from_ml, most_ml: to_ml, .. } = self.reached[index];
        let hold = self.sum(self.lattice.hold(stop));
        let effects = self.effects(&draught, from_ml..=to_ml);
        let from = &self.effects[effects].from[(from_ml - self.effects[effects].least_ml) as usize..];
        let sounded = from[..=(to_ml - from_ml) as usize].iter().map(|&(level_ml, points)| {
            (hold + points + self.after[(level_ml - least_ml) as usize]).min(MOST)
        });
        self.sounded.insert(index, sounded.collect());
    }

    /// Returns the index of the effects of a draught from a range that includes these volumes.
    fn effects(&mut self, draught: &Draught, volumes: RangeInclusive<u32>) -> usize {
        let has_all = |known: &Effects| {
            let last = known.least_ml as usize + known.from.len() - 1;
            known.draught == *draught && known.least_ml <= *volumes.start() && *volumes.end() as usize <= last
        };
        if let Some(known) = self.effects.iter().position(has_all) {
            return known;
        }
        if self.effects.len() == DRAUGHTS {
            self.effects.remove(0);
        }
        let effect = |air_ml: u32| {
            let aired = draught.from(air_ml);
            (aired.level_ml, self.sum((aired.points, 0)))
        };
        let (least_ml, from) = (*volumes.start(), volumes.map(effect).collect());
        self.effects.push(Effects { draught: *draught, least_ml, from });
        self.effects.len() - 1
    }

    /// Finds the best leg from each volume after a stop, and its cost.
    fn choose(&mut self, stop: Stop, levels: &RangeInclusive<u32>) {
        let count = levels.clone().count();
        let mut legs = self.legs(stop).peekable();
        self.chosen.clear();
        self.chosen.resize(count, 0);
        self.after.clear();
        self.after.resize(count, if legs.peek().is_some() { MOST } else { 0 });
        for (leg, index) in legs.zip(0..) {
            // A stop that no path within the bound goes through has no table.
            let Some(sounded) = self.sounded.get(&leg.to) else { continue };
            let least_ml = self.reached[leg.to].least_ml;
            let step = self.sum(leg.step);
            let take = |((after, chosen), sounded): ((&mut Sum, &mut u16), &Sum)| {
                // Of equal legs the first wins.
                if step + sounded < *after {
                    (*after, *chosen) = (step + sounded, index);
                }
            };
            let best = self.after.iter_mut().zip(&mut self.chosen);
            let at = |level_ml: u32| (leg.recovered(level_ml) - least_ml) as usize;
            if leg.back_ml == 0 {
                best.zip(&sounded[at(*levels.start())..]).for_each(take);
            } else {
                best.zip(levels.clone().map(|level_ml| &sounded[at(level_ml)])).for_each(take);
            }
        }
    }

    /// Whether every path through the row that was added last costs more than the bound.
    fn exceeds(&self, row: usize, bound: Cost) -> bool {
        let stops = self.starts[row]..self.starts[row] + self.lattice.rows[row].ways.len();
        let mut least = stops.filter_map(|stop| {
            let least = self.sounded.get(&stop)?.iter().min()?;
            Some(least + self.sum(self.reached[stop].cost))
        });
        least.all(|least| least.min(MOST) > self.sum(bound))
    }

    /// Follows the choices from the cheapest beginning, if its path costs no more than the bound.
    fn path(&self, bound: Cost) -> Option<Vec<Stop>> {
        let firsts = (0..self.lattice.lanes)
            .flat_map(|row| (0..self.lattice.rows[row].ways.len()).map(move |way| Stop::new(row, way)));
        let cost = |stop: Stop| {
            let sounded = self.sounded.get(&self.index(stop))?.first()?;
            Some((self.sum(self.reached[self.index(stop)].cost) + sounded, stop))
        };
        let (cost, mut stop) = firsts.filter_map(cost).min()?;
        if cost.min(MOST) > self.sum(bound) {
            return None;
        }
        let mut air_ml = self.reached[self.index(stop)].least_ml;
        let mut path = vec![stop];
        loop {
            let level_ml = self.draught(stop).from(air_ml).level_ml;
            let (begin, end) = self.choices[self.index(stop)];
            let runs = &self.runs[begin as usize..end as usize];
            let run = runs.partition_point(|run| u32::from(run.to_ml) <= level_ml);
            let Some(leg) = self.legs(stop).nth(runs.get(run)?.leg.into()) else { return Some(path) };
            air_ml = leg.recovered(level_ml);
            let row = self.starts.partition_point(|&start| start <= leg.to) - 1;
            stop = Stop::new(row, leg.to - self.starts[row]);
            path.push(stop);
        }
    }
}
