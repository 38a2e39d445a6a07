//! Finds which harps to own: the bags of a few harps that play the most tunes of a book well for their price.
//!
//! A bag is worth showing if no other bag of the same price or less plays as many tunes. These bags form a curve: the
//! higher the price, the more tunes. If all harps have the same price, the curve has at most one bag of each size. This
//! problem is called maximum coverage; branch and bound solves it exactly.
//!
//! **State.** The chosen harps, their price, and the tunes that they play. **Branch.** The harp that adds the most
//! tunes for its price is taken first; the second branch leaves that harp out. **Bound.** The number of tunes that a
//! harp adds never grows as other harps are taken. So, for any remaining money, the best additions for their price (the
//! last of them in part, Dantzig 1957) bound the number of further tunes. The greatest gains among as many harps as may
//! still be taken give a second bound. A branch is searched only if its bound exceeds the curve at some price.
//! **Order.** First bags of one harp, then of up to two, and so on: small bags are settled before large ones. **Ties.**
//! Of bags with the same price and the same number of tunes, the one found first wins. Of two harps that cost the same
//! and add equally many tunes, the search takes the earlier one first.
//!
//! **Cost.** A search among twelve harps takes microseconds. With many harps, the search for each size of bag stops
//! after [`MOST_STEPS`], and the answer states how many tunes the best bag can play at most.

use std::{cmp::Reverse, num::NonZeroU32};

use itertools::Itertools;

use crate::search::{Approach, Request, ways};

/// The largest number of branches that are searched for each size of bag: about ten seconds for a thousand tunes.
pub const MOST_STEPS: u64 = 20_000_000;

/// The conditions for playing a tune well.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Standard {
    /// The highest effort per note.
    pub effort: u64,
    /// Whether bent notes are excluded.
    pub unbent: bool,
}

impl Standard {
    /// The largest part of a tune that may be missing, in thousandths, weighted by how clearly its notes are heard; it
    /// allows one or two passing notes.
    const MOST_LOST: u64 = 15;

    /// Whether an approach meets the standard.
    pub fn is_met_by(self, request: &Request, approach: &Approach) -> bool {
        let notes = u64::from(approach.counts.notes);
        approach.playing.effort.total() <= self.effort.saturating_mul(notes)
            && (!self.unbent || approach.counts.bends() == 0)
            && ways::lost_permille(request, approach) <= Standard::MOST_LOST
    }
}

/// A set of tunes, by index.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Tunes {
    words: Vec<u64>,
}

impl Tunes {
    /// Adds the tune with this index.
    pub fn insert(&mut self, tune: usize) {
        if self.words.len() <= tune / 64 {
            self.words.resize(tune / 64 + 1, 0);
        }
        self.words[tune / 64] |= 1 << (tune % 64);
    }

    /// Whether the set contains a tune.
    pub fn contains(&self, tune: usize) -> bool {
        self.words.get(tune / 64).is_some_and(|word| word >> (tune % 64) & 1 == 1)
    }

    /// Returns the number of tunes.
    pub fn count(&self) -> usize {
        self.words.iter().map(|word| word.count_ones() as usize).sum()
    }

    /// Returns the union of two sets.
    pub fn with(&self, other: &Tunes) -> Tunes {
        let (long, short) = if self.words.len() < other.words.len() { (other, self) } else { (self, other) };
        let mut both = long.clone();
        both.words.iter_mut().zip(&short.words).for_each(|(word, other)| *word |= other);
        both
    }

    /// Returns the number of tunes that `other` would add to this set.
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

/// A harp that can be bought.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Offer {
    /// The tunes that the harp plays well.
    pub tunes: Tunes,
    /// The price in any unit; 1 if only the number of harps matters.
    pub price: NonZeroU32,
}

impl Offer {
    fn money(&self) -> u64 {
        u64::from(self.price.get())
    }
}

/// A bag that plays more tunes than any other bag of its price or less.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Bag {
    /// The indices of the harps, ordered so that each adds the most tunes to the harps before it.
    pub harps: Vec<usize>,
    /// The total price of the harps.
    pub price: u64,
    /// The number of tunes that the bag plays together with the harps already owned.
    pub tunes: usize,
    /// An upper bound on the tunes that any bag of this price can play: equal to `tunes`, unless the search stopped
    /// early.
    pub at_most: usize,
}

/// Returns the best bags of up to `most` harps for their price, from the cheapest up, given the tunes that the harps
/// already owned play. Unless the search stopped early, the last bag plays as many tunes as any bag of up to `most`
/// harps can.
pub fn bags(offers: &[Offer], owned: &Tunes, most: usize) -> Vec<Bag> {
    let none = Bag { harps: Vec::new(), price: 0, tunes: owned.count(), at_most: owned.count() };
    let playable = offers.iter().fold(owned.clone(), |all, offer| all.with(&offer.tunes)).count();
    let mut search = Search { offers, playable, curve: vec![none], settled: 0, steps: 0, open: Vec::new() };
    let cheapest = offers.iter().map(Offer::money).min().unwrap_or(0);
    for size in 1..=most.min(offers.len()) {
        search.steps = MOST_STEPS;
        search.open.clear();
        search.branch(owned, 0, &mut Vec::new(), (0..offers.len()).collect(), size);
        if search.open.is_empty() {
            search.settled = cheapest * (size as u64 + 1);
        }
    }
    let Search { curve, settled, open, .. } = search;
    let bags = curve.into_iter().skip(1).map(|bag| {
        let reached = |&&(price, _): &&(u64, usize)| settled <= bag.price && price <= bag.price;
        let at_most = open.iter().filter(reached).map(|&(_, tunes)| tunes).max();
        let at_most = at_most.unwrap_or(0).max(bag.tunes);
        Bag { harps: by_gain(offers, owned, bag.harps), at_most, ..bag }
    });
    bags.collect()
}

/// Sorts harps so that each adds the most tunes to the harps before it.
fn by_gain(offers: &[Offer], owned: &Tunes, mut left: Vec<usize>) -> Vec<usize> {
    let mut played = owned.clone();
    let mut sorted = Vec::new();
    left.sort_unstable();
    while let Some(at) = (0..left.len()).max_by_key(|&at| (played.gain(&offers[left[at]].tunes), Reverse(at)))
    {
        let harp = left.remove(at);
        played = played.with(&offers[harp].tunes);
        sorted.push(harp);
    }
    sorted
}

/// The number of tunes that a harp adds to the tunes of the chosen harps, with the harp's price.
#[derive(Clone, Copy)]
struct Gain {
    tunes: u64,
    price: u64,
    harp: usize,
}

struct Search<'a> {
    offers: &'a [Offer],
    /// The number of tunes that all harps together play.
    playable: usize,
    /// The best bags so far, starting with no harp: the higher the price, the more tunes.
    curve: Vec<Bag>,
    /// The price below which the curve is final.
    settled: u64,
    /// The number of branches that may still be searched.
    steps: u64,
    /// Bounds for the branches skipped for lack of steps: a price, and the most tunes that a branch could play from this
    /// price on.
    open: Vec<(u64, usize)>,
}

impl Search<'_> {
    /// Searches every bag that has the chosen harps and up to `left` further candidates, unless none of these bags can
    /// be better.
    fn branch(
        &mut self,
        played: &Tunes,
        spent: u64,
        chosen: &mut Vec<usize>,
        candidates: Vec<usize>,
        left: usize,
    ) {
        let count = played.count();
        self.record(chosen, spent, count);
        if left == 0 {
            return;
        }
        let gains = self.gains(played, candidates);
        for first in 0..gains.len() {
            let bound = Bound { count, spent, gains: &gains[first..], left, playable: self.playable };
            if !self.is_passed_by(&bound) {
                return;
            }
            if self.steps == 0 {
                self.open.extend(bound.steps());
                return;
            }
            self.steps -= 1;
            let Gain { price, harp, .. } = gains[first];
            chosen.push(harp);
            let others = gains[first + 1..].iter().map(|gain| gain.harp).collect();
            self.branch(&played.with(&self.offers[harp].tunes), spent + price, chosen, others, left - 1);
            chosen.pop();
        }
    }

    /// Puts a bag on the curve if no bag of its price or less plays as many tunes.
    fn record(&mut self, harps: &[usize], price: u64, tunes: usize) {
        let after = self.curve.partition_point(|bag| bag.price <= price);
        if self.curve[after - 1].tunes >= tunes {
            return;
        }
        let from = self.curve.partition_point(|bag| bag.price < price);
        let to = self.curve.partition_point(|bag| bag.price < price || bag.tunes <= tunes);
        let bag = Bag { harps: harps.to_vec(), price, tunes, at_most: tunes };
        self.curve.splice(from..to, [bag]);
    }

    /// Returns the gains of the given harps, the most tunes for their price first, without harps that add nothing.
    fn gains(&self, played: &Tunes, harps: Vec<usize>) -> Vec<Gain> {
        let gain = |harp: usize| {
            let offer = &self.offers[harp];
            Gain { tunes: played.gain(&offer.tunes) as u64, price: offer.money(), harp }
        };
        let mut gains: Vec<Gain> = harps.into_iter().map(gain).filter(|gain| gain.tunes > 0).collect();
        gains.sort_unstable_by(|a, b| {
            let by_price = (b.tunes * a.price).cmp(&(a.tunes * b.price));
            by_price.then(b.tunes.cmp(&a.tunes)).then(a.harp.cmp(&b.harp))
        });
        gains
    }

    /// Whether a bound exceeds the curve at a price that is not settled.
    fn is_passed_by(&self, bound: &Bound) -> bool {
        let ends = self.curve.iter().skip(1).map(|next| next.price - 1).chain([u64::MAX]);
        let mut reached = ends.zip(&self.curve).filter(|&(end, _)| end >= self.settled && end >= bound.spent);
        let most = bound.of_size();
        let is_passed =
            |(end, bag): (u64, &Bag)| bound.for_money(end - bound.spent).min(most) > bag.tunes as u64;
        reached.any(is_passed)
    }
}

/// An upper bound on the tunes that a branch can play.
struct Bound<'a> {
    /// The number of tunes played so far, and the price of the harps that play them.
    count: usize,
    spent: u64,
    /// The gains of the candidates, the most tunes for their price first; at most `left` of them may be taken.
    gains: &'a [Gain],
    left: usize,
    playable: usize,
}

impl Bound<'_> {
    /// Returns the bound for any amount of money.
    fn of_size(&self) -> u64 {
        let most: u64 = self.gains.iter().map(|gain| gain.tunes).k_largest(self.left).sum();
        (self.count as u64 + most).min(self.playable as u64)
    }

    /// Returns the bound if at most `money` more may be spent.
    fn for_money(&self, mut money: u64) -> u64 {
        let mut tunes = self.count as u64;
        for gain in self.gains {
            if gain.price > money {
                return tunes + gain.tunes * money / gain.price;
            }
            money -= gain.price;
            tunes += gain.tunes;
        }
        tunes
    }

    /// Returns the bounds on the number of tunes, each with the price from which it applies.
    fn steps(&self) -> Vec<(u64, usize)> {
        let most = self.of_size();
        let (mut price, mut tunes) = (self.spent, self.count as u64);
        let steps = self.gains.iter().map(|gain| {
            // In a bound, a fraction of a harp costs the same fraction of its price, so the bound rises from here on.
            let from = price + 1;
            price += gain.price;
            tunes += gain.tunes;
            (from, tunes.min(most) as usize)
        });
        steps.collect()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Finds the prices and tunes of all bags that no other bag beats, by trying all bags.
    fn exhaustive(offers: &[Offer], owned: &Tunes, most: usize) -> Vec<(u64, usize)> {
        let mut all: Vec<(u64, Reverse<usize>)> = (0..1_usize << offers.len())
            .filter(|bag| bag.count_ones() as usize <= most)
            .map(|bag| {
                let chosen = || (0..offers.len()).filter(move |harp| bag >> harp & 1 == 1);
                let tunes = chosen().fold(owned.clone(), |all, harp| all.with(&offers[harp].tunes));
                (chosen().map(|harp| offers[harp].money()).sum(), Reverse(tunes.count()))
            })
            .collect();
        all.sort_unstable();
        let mut best = owned.count();
        all.retain(|&(_, Reverse(tunes))| {
            let is_more = tunes > best;
            best = best.max(tunes);
            is_more
        });
        all.into_iter().map(|(price, Reverse(tunes))| (price, tunes)).collect()
    }

    fn offers(books: Vec<Vec<usize>>, prices: &[u32]) -> Vec<Offer> {
        let offer = |(tunes, &price): (Vec<usize>, &u32)| Offer {
            tunes: tunes.into_iter().collect(),
            price: NonZeroU32::new(price).unwrap(),
        };
        books.into_iter().zip(prices).map(offer).collect()
    }

    fn check(offers: &[Offer], owned: &Tunes, most: usize) -> Result<(), TestCaseError> {
        let bags = bags(offers, owned, most);
        let curve: Vec<(u64, usize)> = bags.iter().map(|bag| (bag.price, bag.tunes)).collect();
        prop_assert_eq!(curve, exhaustive(offers, owned, most));
        for bag in bags {
            prop_assert_eq!(bag.at_most, bag.tunes);
            let played = bag.harps.iter().fold(owned.clone(), |all, &harp| all.with(&offers[harp].tunes));
            let price: u64 = bag.harps.iter().map(|&harp| offers[harp].money()).sum();
            prop_assert_eq!((played.count(), price), (bag.tunes, bag.price));
            prop_assert!(bag.harps.len() <= most);
        }
        Ok(())
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 100, ..ProptestConfig::default() })]

        #[test]
        fn no_bag_of_the_price_plays_more(
            books in prop::collection::vec(prop::collection::vec(0..130usize, 0..40), 11),
            prices in prop::collection::vec(1..60u32, 11),
            few_prices in prop::collection::vec(3..5u32, 11),
            owned in prop::collection::vec(0..130usize, 0..20),
            most in 1..7usize,
        ) {
            let owned: Tunes = owned.into_iter().collect();
            for prices in [prices, few_prices, vec![1; 11]] {
                check(&offers(books.clone(), &prices), &owned, most)?;
            }
        }
    }

    #[test]
    fn it_ends_when_every_tune_is_played() {
        let offers = offers(vec![vec![0, 1], vec![1, 2], vec![2]], &[1; 3]);
        let sizes = |owned: Tunes| bags(&offers, &owned, 3).len();
        assert_eq!(sizes(Tunes::default()), 2);
        assert_eq!(sizes([0].into_iter().collect()), 1);
        assert_eq!(sizes([0, 1, 2].into_iter().collect()), 0);
    }

    #[test]
    fn two_cheap_harps_may_be_better_than_a_dear_one() {
        let offers = offers(vec![vec![0, 1, 2], vec![0, 1], vec![2, 3]], &[50, 20, 25]);
        let found: Vec<_> =
            bags(&offers, &Tunes::default(), 3).into_iter().map(|bag| (bag.price, bag.harps)).collect();
        assert_eq!(found, [(20, vec![1]), (45, vec![1, 2])]);
    }
}
