//! Builds bars from time signatures.

use crate::{
    melody::Bar,
    time::{Beats, Meter},
};

/// The largest number of bars: enough for [`MAX_QUARTERS`](super::super::MAX_QUARTERS) in 2/4. If a file would have
/// more bars, the last bar lasts to the end of the music.
const MAX_BARS: usize = 50_000;

/// Returns the bars from the start to the end of the music, with the last bar whole, and the indices of the bars that a
/// new meter cuts short.
///
/// The changes are in order of place; of several at one place, the last applies. MIDI has no sign for a pickup, but a
/// first bar that is shorter than a bar of the next meter is almost certainly a pickup. It becomes bar 0 of the next
/// meter.
pub(super) fn build(changes: &[(Beats, Meter)], end: Beats) -> (Vec<Bar>, Vec<usize>) {
    let changes = in_force(changes);
    let (mut bars, mut cut): (Vec<Bar>, Vec<usize>) = (Vec::new(), Vec::new());
    let mut number = 1;
    if let [(_, first), (at, second), ..] = changes[..]
        && at <= first.bar()
        && at < second.bar()
    {
        bars.push(Bar { length: at, ..Bar::full(0, Beats::ZERO, second) });
    }
    for (index, &(from, meter)) in changes.iter().enumerate() {
        let until = changes.get(index + 1).map(|&(at, _)| at);
        let mut at = bars.last().map_or(from, |bar| bar.start + bar.length);
        while until.map_or(at < end, |until| at < until.min(end)) {
            let length = until.map_or(meter.bar(), |until| meter.bar().min(until - at));
            if bars.len() + 1 >= MAX_BARS {
                let rest = (end - at).max(length);
                bars.push(Bar { length: rest, ..Bar::full(number, at, meter) });
                return (bars, cut);
            }
            if length < meter.bar() {
                cut.push(bars.len());
            }
            bars.push(Bar { length, ..Bar::full(number, at, meter) });
            number += 1;
            at += length;
        }
    }
    if bars.is_empty() {
        bars.push(Bar::full(1, Beats::ZERO, changes[0].1));
    }
    (bars, cut)
}

/// Whether all bars are counted off from the start in a single meter. A change of meter or a pickup would show where a
/// bar begins.
pub(super) fn are_counted(bars: &[Bar]) -> bool {
    bars.windows(2).all(|pair| pair[0].meter == pair[1].meter)
        && bars.first().is_some_and(|bar| bar.meter.is_some_and(|meter| bar.length >= meter.bar()))
}

/// Returns the changes of meter that have an effect; the first one is at the start.
fn in_force(changes: &[(Beats, Meter)]) -> Vec<(Beats, Meter)> {
    let mut kept = vec![(Beats::ZERO, Meter::COMMON)];
    for &(at, meter) in changes {
        if kept.last().is_some_and(|&(before, _)| before == at) {
            kept.pop();
        }
        if kept.last().is_none_or(|&(_, before)| before != meter) {
            kept.push((at, meter));
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    const WALTZ: Meter = Meter { beats: 3, unit: 4 };

    fn shape(bars: &[Bar]) -> Vec<(u32, Beats, Beats)> {
        bars.iter().map(|bar| (bar.number, bar.start, bar.length)).collect()
    }

    #[test]
    fn bars_follow_the_time_signatures_and_the_last_is_whole() {
        let changes = [(Beats::ZERO, Meter::COMMON), (Beats::quarters(8), WALTZ)];
        let (bars, cut) = build(&changes, Beats::quarters(12));
        assert!(cut.is_empty());
        let starts = [(1, 0, 4), (2, 4, 4), (3, 8, 3), (4, 11, 3)]
            .map(|(number, at, length)| (number, Beats::quarters(at), Beats::quarters(length)));
        assert_eq!(shape(&bars), starts);
    }

    #[test]
    fn a_new_meter_in_the_middle_of_a_bar_cuts_it_short() {
        let (bars, cut) =
            build(&[(Beats::ZERO, Meter::COMMON), (Beats::quarters(6), WALTZ)], Beats::quarters(9));
        let expected = [(1, 0, 4), (2, 4, 2), (3, 6, 3)]
            .map(|(n, at, length)| (n, Beats::quarters(at), Beats::quarters(length)));
        assert_eq!((shape(&bars), cut), (expected.to_vec(), vec![1]));
    }

    #[test]
    fn a_short_first_bar_is_a_pickup_of_the_meter_that_follows() {
        let changes = [(Beats::ZERO, Meter { beats: 1, unit: 4 }), (Beats::quarters(1), Meter::COMMON)];
        let (bars, cut) = build(&changes, Beats::quarters(3));
        assert!(cut.is_empty());
        assert_eq!(
            shape(&bars),
            [(0, Beats::ZERO, Beats::quarters(1)), (1, Beats::quarters(1), Beats::quarters(4))]
        );
        assert_eq!(bars[0].beat(Beats::ZERO), Beats::quarters(4));
    }

    #[test]
    fn the_longest_piece_in_the_shortest_bars_stays_bounded() {
        let tiny = Meter { beats: 1, unit: 128 };
        let end = Beats::new(Beats::LONGEST, 1);
        let (bars, _) = build(&[(Beats::ZERO, tiny)], end);
        assert_eq!(bars.len(), MAX_BARS);
        assert_eq!(bars.last().map(|bar| bar.start + bar.length), Some(end));
    }
}
