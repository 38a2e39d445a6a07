//! Caches the grid positions of ticks. The position of a tick depends only on the remainder after whole quarters, and
//! music repeats a few remainders again and again.

use super::Grid;
use crate::time::Beats;

/// The size of the cache, a power of two.
const REMEMBERED: usize = 256;

/// The cached positions of a grid.
pub(in crate::import::midi) struct Places {
    grid: Grid,
    known: Vec<Known>,
    /// The last quarter looked up, and its first tick. The next tick nearly always lies in the same quarter or the one
    /// after it.
    last: (u64, u64),
}

/// A tick in musical time.
#[derive(Clone, Copy)]
pub(super) struct Slot {
    /// The unrounded time of the tick.
    pub(super) raw: Beats,
    /// The result of [`Grid::exact`] for the tick.
    pub(super) exact: Option<Beats>,
    /// The result of [`Grid::on`] for the tick.
    pub(super) on: u8,
}

/// A cached tick within the first quarter.
#[derive(Clone, Copy)]
struct Known {
    tick: u64,
    place: Slot,
}

impl Places {
    /// Makes an empty cache for a grid.
    pub(in crate::import::midi) fn on(grid: Grid) -> Places {
        // The tick `u64::MAX` marks an empty slot: no tick within a quarter is that large.
        let place = Slot { raw: Beats::ZERO, exact: None, on: 0 };
        Places { grid, known: vec![Known { tick: u64::MAX, place }; REMEMBERED], last: (0, 0) }
    }

    /// Returns the position of a tick.
    pub(super) fn of(&mut self, tick: u64) -> Slot {
        let (quarters, &Slot { raw, exact, on }) = self.look_up(tick);
        Slot { raw: raw.later(quarters), exact: exact.map(|exact| exact.later(quarters)), on }
    }

    /// Returns [`Grid::exact`] of a tick.
    pub(super) fn exact(&mut self, tick: u64) -> Option<Beats> {
        let (quarters, place) = self.look_up(tick);
        place.exact.map(|exact| exact.later(quarters))
    }

    /// Whether a tick has an exact position.
    pub(super) fn is_exact(&mut self, tick: u64) -> bool {
        self.look_up(tick).1.exact.is_some()
    }

    /// Returns the number of whole quarters before a tick, and the position of the remainder.
    fn look_up(&mut self, tick: u64) -> (u64, &Slot) {
        let (quarters, rest) = self.divide(tick);
        // Ticks are multiples of round numbers; the multiplication spreads them over the slots (Knuth, The Art of
        // Computer Programming 3, section 6.4).
        let slot = (rest.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> (u64::BITS - REMEMBERED.ilog2())) as usize;
        let known = &mut self.known[slot];
        if known.tick != rest {
            let grid = self.grid;
            let place = Slot { raw: grid.raw(rest), exact: grid.exact(rest), on: grid.on(rest) };
            *known = Known { tick: rest, place };
        }
        (quarters, &known.place)
    }

    /// Returns the number of whole quarters before a tick, and the remainder.
    fn divide(&mut self, tick: u64) -> (u64, u64) {
        let quarter = self.grid.quarter;
        let (quarters, start) = self.last;
        self.last = match tick.checked_sub(start) {
            Some(rest) if rest < quarter => return (quarters, rest),
            Some(rest) if rest < 2 * quarter => (quarters + 1, start + quarter),
            _ => (tick / quarter, tick - tick % quarter),
        };
        (self.last.0, tick - self.last.1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_remembered_is_what_the_grid_says() {
        for quarter in [1, 2, 24, 47, 48, 96, 100, 120, 480, 1_000, 1_024, 32_767] {
            let grid = Grid { quarter };
            let mut places = Places::on(grid);
            // The ticks come in order, then far ahead and back again, so that they share slots and replace each other.
            let ticks =
                (0..4 * quarter.min(3_000)).flat_map(|tick| [tick, tick * 7_919 % (100_000 * quarter), tick]);
            for tick in ticks {
                let place = places.of(tick);
                let expected = (grid.raw(tick), grid.exact(tick), grid.on(tick));
                assert_eq!((place.raw, place.exact, place.on), expected, "tick {tick} of {quarter}");
                assert_eq!((places.exact(tick), places.is_exact(tick)), (place.exact, place.exact.is_some()));
            }
        }
    }
}
