//! Measures the shortest time of many runs, which comes closest to the time on an idle machine.

use std::{
    hint::black_box,
    time::{Duration, Instant},
};

/// Returns the shortest time of a run, in nanoseconds. Makes at least five runs, and more until a fiftieth of a second
/// has passed.
pub(crate) fn best_time<T>(mut run: impl FnMut() -> T) -> u64 {
    const FEWEST: usize = 5;
    const ENOUGH: Duration = Duration::from_millis(20);
    let begin = Instant::now();
    let (mut runs, mut least) = (0, u64::MAX);
    while runs < FEWEST || begin.elapsed() < ENOUGH {
        let start = Instant::now();
        black_box(run());
        least = least.min(start.elapsed().as_nanos() as u64);
        runs += 1;
    }
    least
}
