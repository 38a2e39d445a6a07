//! Chooses the harp for each tune of a set: the least total effort, with a price for each change of harp between
//! neighbouring tunes.
//!
//! The optimum is exact. **State.** The harp of the last tune. **Step.** The next tune is played on the same harp or,
//! for the price of a change, on another harp. **Ties.** Fewer changes, then the earlier harp. **Cost.** Time in
//! proportion to the number of tunes times the number of harps.

/// The best way to reach a tune on a harp: the cost, the number of changes so far, and the previous harp.
type Entry = Option<((u64, u32), Option<usize>)>;

/// Returns the index of the harp for each tune, or `None` for a tune that no harp reaches. Such a tune costs nothing
/// and needs no change of harp. `efforts` gives the effort of each tune on each harp.
pub fn harps(efforts: &[Vec<Option<u64>>], change: u64) -> Vec<Option<usize>> {
    let reached: Vec<&Vec<Option<u64>>> =
        efforts.iter().filter(|tune| tune.iter().any(Option::is_some)).collect();
    let mut table: Vec<Vec<Entry>> = Vec::new();
    for tune in &reached {
        let before = table.last();
        let cheapest = before.and_then(|entries| cheapest(entries));
        let entry = |(harp, effort): (usize, &Option<u64>)| {
            let effort = (*effort)?;
            let Some(before) = before else { return Some(((effort, 0), None)) };
            let stay = before[harp].map(|(cost, _)| (cost, harp));
            let swap =
                cheapest.map(|((cost, changes), from)| ((cost.saturating_add(change), changes + 1), from));
            let ((cost, changes), from) =
                stay.into_iter().chain(swap.filter(|&(_, from)| from != harp)).min()?;
            Some(((cost.saturating_add(effort), changes), Some(from)))
        };
        let entries = tune.iter().enumerate().map(entry).collect();
        table.push(entries);
    }
    let mut last = table.last().and_then(|entries| cheapest(entries)).map(|(_, harp)| harp);
    let mut chosen: Vec<Option<usize>> = table
        .iter()
        .rev()
        .map(|entries| {
            let harp = last?;
            last = entries[harp].and_then(|(_, from)| from);
            Some(harp)
        })
        .collect();
    let mut next = || chosen.pop().flatten();
    efforts.iter().map(|tune| if tune.iter().any(Option::is_some) { next() } else { None }).collect()
}

/// Returns the cheapest entry of a tune, with its harp.
fn cheapest(entries: &[Entry]) -> Option<((u64, u32), usize)> {
    let known = entries.iter().enumerate().filter_map(|(harp, entry)| Some((entry.as_ref()?.0, harp)));
    known.min()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn cost(efforts: &[Vec<Option<u64>>], chosen: &[Option<usize>], change: u64) -> Option<u64> {
        let mut hand = None;
        let mut cost = 0;
        for (tune, harp) in efforts.iter().zip(chosen) {
            let Some(harp) = harp else { continue };
            cost += tune[*harp]? + if hand.is_some_and(|hand| hand != harp) { change } else { 0 };
            hand = Some(harp);
        }
        Some(cost)
    }

    proptest! {
        #[test]
        fn no_other_choice_costs_less(
            efforts in prop::collection::vec(prop::collection::vec(prop::option::weighted(0.8, 0..1000u64), 3), 1..6),
            change in 0..500u64,
        ) {
            let chosen = harps(&efforts, change);
            let reached: Vec<bool> = efforts.iter().map(|tune| tune.iter().any(Option::is_some)).collect();
            prop_assert!(chosen.iter().zip(&reached).all(|(harp, reached)| harp.is_some() == *reached));
            let ours = cost(&efforts, &chosen, change).unwrap();
            for number in 0..3usize.pow(efforts.len() as u32) {
                let other = (0..efforts.len()).map(|tune| reached[tune].then_some(number / 3usize.pow(tune as u32) % 3));
                let other: Vec<Option<usize>> = other.collect();
                prop_assert!(cost(&efforts, &other, change).is_none_or(|theirs| ours <= theirs));
            }
        }
    }
}
