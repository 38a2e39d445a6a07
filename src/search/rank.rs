//! The order of the approaches.

use std::cmp::Reverse;

use super::Approach;
use crate::{harp::Position, melody::key::Key};

/// Approaches, best first.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Ranking<'a> {
    /// The rows.
    pub approaches: Vec<Approach<'a>>,
    /// The winner with the tune adapted to it, where that was asked for. It does not count in the order.
    pub adapted: Option<Approach<'a>>,
    /// The rows under another key that the tune may be in, where that was asked for. They do not count in the order.
    pub rival: Option<Rival<'a>>,
}

/// The approaches if the tune is in another key.
#[derive(Clone, PartialEq, Debug)]
pub struct Rival<'a> {
    /// That key.
    pub key: Key,
    /// Its rows, best first.
    pub approaches: Vec<Approach<'a>>,
}

impl<'a> Ranking<'a> {
    /// Puts approaches in order. It is a total order, so the result does not depend on the order given:
    ///
    /// 1. what can be played in full (grace notes apart) before what cannot;
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
                (!counts.is_full(), approach.playing.effort.total(), Reverse(counts.playable)),
                (counts.bends(), counts.awkward, counts.breath_changes),
                (approach.octave.unsigned_abs(), approach.octave),
                (approach.transposed.0.unsigned_abs(), approach.transposed),
                (approach.position, approach.harp.root(), approach.harp.register()),
                approach.harp.tuning().clone(),
            )
        });
        approaches.dedup();
        Ranking { approaches, adapted: None, rival: None }
    }

    /// Ranks the same rows for another key too: what is played stays, but on another tonic it is another position.
    pub fn rank_rival(&mut self, key: Key) {
        let rows = self.approaches.iter().map(|approach| {
            let tonic = key.tonic.transposed(approach.transposed);
            let position = Position::of(approach.harp.first_position_key(), tonic);
            Approach { tonic, position, ..approach.clone() }
        });
        let approaches = Ranking::new(rows.collect()).approaches;
        self.rival = Some(Rival { key, approaches });
    }

    /// Keeps only what the player wants to see.
    pub fn retain(&mut self, mut wanted: impl FnMut(&Approach<'a>) -> bool) {
        self.approaches.retain(&mut wanted);
        if let Some(rival) = &mut self.rival {
            rival.approaches.retain(wanted);
        }
    }

    /// The winner, if any harp reaches the tune.
    pub fn best(&self) -> Option<&Approach<'a>> {
        self.approaches.first()
    }
}
