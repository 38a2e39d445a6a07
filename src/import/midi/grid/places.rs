//! What is asked of a tick, remembered: it depends only on what is left of it after whole quarters, and in music that is
//! one of a few numbers that come again and again.

use super::Grid;
use crate::time::Beats;

/// How many are remembered, a power of two.
const REMEMBERED: usize = 256;

/// The places of a grid.
pub(in crate::import::midi) struct Places {
    grid: Grid,
    known: Vec<Known>,
}

/// A tick in musical time.
#[derive(Clone, Copy)]
pub(super) struct Place {
    /// As it stands.
    pub(super) raw: Beats,
    /// [`Grid::exact`].
    pub(super) exact: Option<Beats>,
    /// [`Grid::on`].
    pub(super) on: u8,
}

/// The place of a tick within the first quarter.
#[derive(Clone, Copy)]
struct Known {
    tick: u64,
    place: Place,
}

impl Places {
    /// Nothing remembered yet.
    pub(in crate::import::midi) fn on(grid: Grid) -> Places {
        // No tick within a quarter is as large as that.
        let place = Place { raw: Beats::ZERO, exact: None, on: 0 };
        Places { grid, known: vec![Known { tick: u64::MAX, place }; REMEMBERED] }
    }

    /// The place of a tick.
    pub(super) fn of(&mut self, tick: u64) -> Place {
        let (quarters, rest) = (tick / self.grid.quarter, tick % self.grid.quarter);
        // Ticks are multiples of round numbers, which a multiplication spreads (Knuth, The Art of Computer Programming 3,
        // section 6.4).
        let slot = (rest.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> (u64::BITS - REMEMBERED.ilog2())) as usize;
        let known = &mut self.known[slot];
        if known.tick != rest {
            let grid = self.grid;
            let place = Place { raw: grid.raw(rest), exact: grid.exact(rest), on: grid.on(rest) };
            *known = Known { tick: rest, place };
        }
        let Place { raw, exact, on } = known.place;
        Place { raw: raw.later(quarters), exact: exact.map(|exact| exact.later(quarters)), on }
    }
}
