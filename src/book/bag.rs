//! Which harps to own: the few that together play the most tunes of a book well.
//!
//! This is the problem of maximum coverage, solved exactly by branch and bound. **State.** The harps chosen and the tunes
//! that they play. **Branch.** The harp that adds the most tunes is taken first; afterwards it is left out. **Bound.** What a
//! harp adds never grows as others are taken, so the tunes played and the greatest additions of the harps still to be
//! taken bound what can follow. **Ties.** Of bags that play equally many tunes the one found first counts, which takes
//! the earlier harp of two that add equally many.
//!
//! **Cost.** Twelve harps take microseconds. With many harps the search stops after [`MOST_STEPS`], and the answer says
//! how many tunes the best bag can play at most.

use std::cmp::Reverse;

use crate::search::{Approach, Request, ways};

/// So many branches are looked at: about ten seconds for a thousand tunes.
pub const MOST_STEPS: u64 = 20_000_000;

/// What it means to play a tune well.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Standard {
    /// The most effort for each note.
    pub effort: u64,
    /// Whether no note may be bent.
    pub unbent: bool,
}

impl Standard {
    /// The most of a tune that may be missing, in thousandths by how much its notes are heard: a passing note or two.
    const MOST_LOST: u64 = 15;

    /// Whether an approach meets it.
    pub fn is_met_by(self, request: &Request, approach: &Approach) -> bool {
        let notes = u64::from(approach.counts.notes);
        approach.playing.effort.total() <= self.effort.saturating_mul(notes)
            && (!self.unbent || approach.counts.bends() == 0)
            && ways::lost_permille(request, approach) <= Standard::MOST_LOST
    }
}

/// A set of tunes.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Tunes {
    words: Vec<u64>,
}

impl Tunes {
    /// Adds a tune by its index.
    pub fn insert(&mut self, tune: usize) {
        if self.words.len() <= tune / 64 {
            self.words.resize(tune / 64 + 1, 0);
        }
        self.words[tune / 64] |= 1 << (tune % 64);
    }

    /// Whether a tune is in it.
    pub fn contains(&self, tune: usize) -> bool {
        self.words.get(tune / 64).is_some_and(|word| word >> (tune % 64) & 1 == 1)
    }

    /// The number of tunes.
    pub fn count(&self) -> usize {
        self.words.iter().map(|word| word.count_ones() as usize).sum()
    }

    /// The tunes of either.
    pub fn with(&self, other: &Tunes) -> Tunes {
        let (long, short) = if self.words.len() < other.words.len() { (other, self) } else { (self, other) };
        let mut both = long.clone();
        both.words.iter_mut().zip(&short.words).for_each(|(word, other)| *word |= other);
        both
    }

    /// How many tunes the other set would add.
    pub fn gain(&self, other: &Tunes) -> usize {
        let known = self.words.iter().chain(std::iter::repeat(&0));
        other.words.iter().zip(known).map(|(word, known)| (word & !known).count_ones() as usize).sum()
    }
}

impl FromIterator<usize> for Tunes {
    fn from_iter<I: IntoIterator<Item = usize>>(tunes: I) -> Tunes {
        let mut set = Tunes::default();
        tunes.into_iter().for_each(|tune| set.insert(tune));
        set
    }
}

/// The best bag of a size.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Bag {
    /// The indices of its harps, each one the harp that adds the most to the ones before.
    pub harps: Vec<usize>,
    /// How many tunes it plays, together with the harps owned already.
    pub tunes: usize,
    /// How many tunes any bag of this size can play at most: the same, unless the search stopped early.
    pub at_most: usize,
}

/// Returns the best bags of one, two and up to `most` harps, given the tunes of each harp and the tunes that harps owned
/// already play. It ends with the first bag that plays every tune that can be played.
pub fn bags(harps: &[Tunes], owned: &Tunes, most: usize) -> Vec<Bag> {
    let playable = harps.iter().fold(owned.clone(), |all, tunes| all.with(tunes)).count();
    let mut bags: Vec<Bag> = Vec::new();
    for size in 1..=most.min(harps.len()) {
        if bags.last().map_or(owned.count(), |bag| bag.tunes) == playable {
            break;
        }
        let mut search = Search { harps, best: Vec::new(), most: 0, steps: MOST_STEPS, open: 0 };
        search.branch(owned, &mut Vec::new(), (0..harps.len()).collect(), size);
        let chosen = by_gain(harps, owned, search.best);
        bags.push(Bag { harps: chosen, tunes: search.most, at_most: search.most.max(search.open) });
    }
    bags
}

/// Sorts harps so that each adds the most to the ones before.
fn by_gain(harps: &[Tunes], owned: &Tunes, mut left: Vec<usize>) -> Vec<usize> {
    let mut played = owned.clone();
    let mut sorted = Vec::new();
    left.sort_unstable();
    while let Some(at) = (0..left.len()).max_by_key(|&at| (played.gain(&harps[left[at]]), Reverse(at))) {
        let harp = left.remove(at);
        played = played.with(&harps[harp]);
        sorted.push(harp);
    }
    sorted
}

struct Search<'a> {
    harps: &'a [Tunes],
    /// The best bag so far, and the number of its tunes.
    best: Vec<usize>,
    most: usize,
    /// The branches that may still be looked at.
    steps: u64,
    /// The highest bound of a branch that was not looked at for lack of steps.
    open: usize,
}

impl Search<'_> {
    /// Looks at every bag that has the chosen harps and `left` of the candidates besides, unless it cannot be better.
    fn branch(&mut self, played: &Tunes, chosen: &mut Vec<usize>, candidates: Vec<usize>, left: usize) {
        let count = played.count();
        if left == 0 || candidates.is_empty() {
            if count > self.most || self.best.is_empty() {
                (self.most, self.best) = (count, chosen.clone());
            }
            return;
        }
        let mut gains: Vec<(usize, usize)> =
            candidates.into_iter().map(|harp| (played.gain(&self.harps[harp]), harp)).collect();
        gains.sort_unstable_by_key(|&(gain, harp)| (Reverse(gain), harp));
        for first in 0..gains.len() {
            let bound = count + gains[first..].iter().take(left).map(|(gain, _)| gain).sum::<usize>();
            if bound <= self.most && !self.best.is_empty() {
                return;
            }
            if self.steps == 0 {
                self.open = self.open.max(bound);
                return;
            }
            self.steps -= 1;
            let harp = gains[first].1;
            chosen.push(harp);
            let others = gains[first + 1..].iter().map(|&(_, harp)| harp).collect();
            self.branch(&played.with(&self.harps[harp]), chosen, others, left - 1);
            chosen.pop();
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The most tunes that any `size` harps play, by trying all.
    fn exhaustive(harps: &[Tunes], owned: &Tunes, size: usize) -> usize {
        let Some((first, others)) = harps.split_first().filter(|_| size > 0) else { return owned.count() };
        exhaustive(others, &owned.with(first), size - 1).max(exhaustive(others, owned, size))
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 200, ..ProptestConfig::default() })]

        #[test]
        fn no_bag_of_the_size_plays_more(
            books in prop::collection::vec(prop::collection::vec(0..130usize, 0..40), 12),
            owned in prop::collection::vec(0..130usize, 0..20),
        ) {
            let harps: Vec<Tunes> = books.into_iter().map(|tunes| tunes.into_iter().collect()).collect();
            let owned: Tunes = owned.into_iter().collect();
            for (size, bag) in (1..).zip(bags(&harps, &owned, 5)) {
                prop_assert_eq!(bag.tunes, exhaustive(&harps, &owned, size));
                prop_assert_eq!(bag.at_most, bag.tunes);
                let played = bag.harps.iter().fold(owned.clone(), |all, &harp| all.with(&harps[harp]));
                prop_assert_eq!((played.count(), bag.harps.len()), (bag.tunes, size));
            }
        }
    }

    #[test]
    fn it_ends_when_every_tune_is_played() {
        let harps: Vec<Tunes> = [vec![0, 1], vec![1, 2], vec![2]].into_iter().map(Tunes::from_iter).collect();
        let sizes = |owned: Tunes| bags(&harps, &owned, 3).len();
        assert_eq!(sizes(Tunes::default()), 2);
        assert_eq!(sizes([0].into_iter().collect()), 1);
        assert_eq!(sizes([0, 1, 2].into_iter().collect()), 0);
    }
}
