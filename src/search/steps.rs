//! The prices of steps for the search. It prices many steps with the same gap: from every way to sound a note to every
//! way to sound the next, often with the gap of the notes before. The prices that depend only on the gap, the width of
//! the jump and the change of breath are therefore remembered.

use super::effort::{Gap, Way, Weights};
use crate::harp::HOLES;

/// The prices of the steps with one gap.
pub(super) struct Steps<'w> {
    weights: &'w Weights,
    gap: Gap,
    /// The price of each jump, without a change of breath and with one; [`UNKNOWN`] until it is needed.
    moved: [[u64; 2]; HOLES as usize],
}

/// Marks a price that is not known yet.
const UNKNOWN: u64 = u64::MAX;

impl<'w> Steps<'w> {
    /// Makes the prices for a player's weights. [`Steps::after`] sets the first gap.
    pub(super) fn new(weights: &'w Weights) -> Steps<'w> {
        let gap = Gap { time_ms: 0, rested: false, joined: false };
        Steps { weights, gap, moved: [[UNKNOWN; 2]; HOLES as usize] }
    }

    /// Sets the gap of the steps that follow.
    pub(super) fn after(&mut self, gap: Gap) {
        if self.gap != gap {
            (self.gap, self.moved) = (gap, [[UNKNOWN; 2]; HOLES as usize]);
        }
    }

    /// Returns the points of [`Weights::step`]; `anew` is the result of [`Weights::shaped_anew`] for `to`.
    #[inline]
    pub(super) fn price(&mut self, from: &Way, to: &Way, anew: u64) -> u64 {
        let bends = self.weights.bend_between(from, to, self.gap, anew);
        if self.gap.rested {
            return bends;
        }
        let jump = from.action.hole.abs_diff(to.action.hole);
        let turns = from.action.breath != to.action.breath;
        let known = &mut self.moved[usize::from(jump.min(HOLES - 1))][usize::from(turns)];
        if *known == UNKNOWN {
            *known = self.weights.jump(jump, turns, self.gap) + self.weights.turn(jump, turns, self.gap);
        }
        bends + *known + self.weights.turnover(from, to)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::harp::{Harp, Tuning};

    proptest! {
        /// Whatever gaps came before, the price is that of [`Weights::step`].
        #[test]
        fn remembered_prices_are_the_prices_of_the_model(
            gaps in prop::collection::vec((0..900u32, any::<bool>(), any::<bool>()), 1..4),
            key in 0..12usize,
        ) {
            let weights = Weights::default();
            let harp = Harp::standard_set(&Tuning::richter()).remove(key);
            let ways: Vec<Way> = harp.ways().map(|(pitch, action, traits)| Way { action, pitch, traits }).collect();
            let mut steps = Steps::new(&weights);
            for (time_ms, rested, joined) in gaps {
                let gap = Gap { time_ms, rested, joined };
                steps.after(gap);
                for (from, to) in ways.iter().flat_map(|from| ways.iter().map(move |to| (from, to))) {
                    let price = steps.price(from, to, weights.shaped_anew(to));
                    prop_assert_eq!(price, weights.step(from, to, gap).total());
                }
            }
        }
    }
}
