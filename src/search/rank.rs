//! The order of the approaches.

use std::cmp::Reverse;

use super::{Alternative, Approach, Free};
use crate::{harp::Harp, melody::key::Key, pitch::Interval};

/// Approaches, best first.
#[derive(Clone, PartialEq, Debug, Default)]
#[non_exhaustive]
pub struct Ranking<'a> {
    /// The rows.
    pub approaches: Vec<Approach<'a>>,
    /// Further rows that share the tab of one of the approaches, if the caller asked for them
    /// ([`super::Wanted::twins`]).
    pub twins: Vec<Twin<'a>>,
    /// The number of approaches that were tried, which may exceed the number of rows.
    pub tried: usize,
    /// The winner with the tune adapted to it, if the caller asked for the adaptation. It is not part of the ranking.
    pub adapted: Option<Approach<'a>>,
    /// The rows under another key that the tune may be in, if the caller asked for those rows. They are not part of the
    /// ranking.
    pub rival: Option<Rival<'a>>,
    /// Other ways worth knowing, if the caller asked for them ([`super::ways::answer`]). They are not part of the
    /// ranking.
    pub ways: Vec<Alternative<'a>>,
    /// The result of a search without the pins, if the caller asked for it. It is not part of the ranking.
    pub free: Option<Free<'a>>,
    /// The best row in another octave, if it is much easier than the first row and the caller asked for it
    /// ([`super::ways::easier_octave`]). It is not part of the ranking.
    pub easier: Option<Approach<'a>>,
}

/// A row stored without its notes because another row has the same tab; on this harp the tab sounds higher or lower. A
/// player learns the tab once and picks the harp that sounds right.
#[derive(Clone, Copy, PartialEq, Debug)]
#[non_exhaustive]
pub struct Twin<'a> {
    /// The index of the row that has the tab.
    pub row: usize,
    /// The harp.
    pub harp: &'a Harp,
    /// The interval by which the tune is moved.
    pub shift: Interval,
}

/// The approaches if the tune is in another key than assumed.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Rival<'a> {
    /// The other key.
    pub key: Key,
    /// The rows under that key, best first.
    pub approaches: Vec<Approach<'a>>,
}

impl<'a> Ranking<'a> {
    /// Sorts approaches into a total order, so the result does not depend on the order given:
    ///
    /// 1. less effort;
    /// 2. more notes playable, then fewer bends, then fewer awkward breath changes, then fewer breath changes;
    /// 3. nearer to the written octave, and down rather than up; nearer to the written key;
    /// 4. the lower position, the lower harp, the tuning by name.
    ///
    /// A harp that is named twice appears once.
    pub fn new(mut approaches: Vec<Approach<'a>>) -> Ranking<'a> {
        approaches.sort_by(|a, b| key(a, false).cmp(&key(b, false)));
        approaches.dedup();
        Ranking { tried: approaches.len(), approaches, ..Ranking::default() }
    }

    /// Returns, for each of the first `most` tabs, the index of its first row, and a twin for each further row with
    /// this tab.
    pub fn by_tab(&self, most: usize) -> Vec<(usize, Vec<Twin<'a>>)> {
        let mut tabs: Vec<(usize, Vec<Twin>)> = Vec::new();
        for (index, approach) in self.approaches.iter().enumerate() {
            match tabs.iter().position(|(first, _)| self.approaches[*first].has_same_tab(approach)) {
                Some(known) => {
                    let (row, others) = &mut tabs[known];
                    others.push(Twin { row: *row, harp: approach.harp, shift: approach.shift() });
                }
                None if tabs.len() < most => tabs.push((index, Vec::new())),
                None => {}
            }
        }
        for (first, others) in &mut tabs {
            others.extend(self.twins.iter().filter(|twin| twin.row == *first).copied());
        }
        tabs
    }
    /// Returns the winner, or `None` if the ranking has no rows.
    pub fn best(&self) -> Option<&Approach<'a>> {
        self.approaches.first()
    }
}

/// Returns the sort key; with `every_note`, approaches that play every note come first. Only facts known from the
/// pitches alone may precede the effort: [`super::shortlist`] relies on this.
pub(super) fn key<'k>(approach: &'k Approach, every_note: bool) -> impl Ord + use<'k> {
    let counts = &approach.counts;
    (
        (every_note && !counts.is_full(), approach.playing.effort.total(), Reverse(counts.playable)),
        (counts.bends(), counts.awkward, counts.breath_changes),
        (approach.octave.unsigned_abs(), approach.octave),
        (approach.transposed.0.unsigned_abs(), approach.transposed),
        (approach.position, approach.harp.root(), approach.harp.register()),
        approach.harp.tuning().as_ref(),
    )
}
