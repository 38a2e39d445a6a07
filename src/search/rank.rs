//! The order of the approaches.

use std::cmp::Reverse;

use super::Approach;

/// Approaches, best first.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Ranking<'a> {
    /// The rows.
    pub approaches: Vec<Approach<'a>>,
    /// The winner with the tune adapted to it, where that was asked for. It does not count in the order.
    pub adapted: Option<Approach<'a>>,
}

impl<'a> Ranking<'a> {
    /// Puts approaches in order. It is a total order, so the result does not depend on the order given:
    ///
    /// 1. what falls less short of the tune: fewer notes missing (grace notes apart), where bends that are together as hard
    ///    as missing notes count as so many ([`super::Counts::shortfall`]). So what this player can play in full comes
    ///    first, and a harp that lacks one note comes before one that has it in return for a host of bends;
    /// 2. less effort;
    /// 3. more notes playable, then fewer bends, then fewer awkward breath changes, then fewer breath changes;
    /// 4. nearer to the written octave, and down rather than up; nearer to the written key;
    /// 5. the lower position, the lower harp, the tuning by name.
    ///
    /// A harp that is named twice stands there once.
    pub fn new(mut approaches: Vec<Approach<'a>>) -> Ranking<'a> {
        approaches.sort_by_cached_key(|approach| {
            let counts = &approach.counts;
            (
                (counts.shortfall(), approach.playing.effort.total(), Reverse(counts.playable)),
                (counts.bends(), counts.awkward, counts.breath_changes),
                (approach.octave.unsigned_abs(), approach.octave),
                (approach.transposed.0.unsigned_abs(), approach.transposed),
                (approach.position, approach.harp.root(), approach.harp.register()),
                approach.harp.tuning().clone(),
            )
        });
        approaches.dedup();
        Ranking { approaches, adapted: None }
    }

    /// The first `most` tabs, each as the approaches that have it, best first: their indices. The same tab on another harp
    /// sounds higher or lower; a player learns one tab, and takes the harp whose sound is wanted.
    pub fn by_tab(&self, most: usize) -> Vec<Vec<usize>> {
        let mut tabs: Vec<Vec<usize>> = Vec::new();
        for (index, approach) in self.approaches.iter().enumerate() {
            match tabs.iter().position(|tab| self.approaches[tab[0]].has_same_tab(approach)) {
                Some(known) => tabs[known].push(index),
                None if tabs.len() < most => tabs.push(vec![index]),
                None => {}
            }
        }
        tabs
    }

    /// Keeps only what the player wants to see.
    pub fn retain(&mut self, wanted: impl FnMut(&Approach<'a>) -> bool) {
        self.approaches.retain(wanted);
    }

    /// The winner, if any harp reaches the tune.
    pub fn best(&self) -> Option<&Approach<'a>> {
        self.approaches.first()
    }
}
