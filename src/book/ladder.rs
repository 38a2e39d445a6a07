//! Finds which tunes to learn next: a ladder through a book.
//!
//! Each rung is the tune that adds the least to the rungs before it: new bends, a wider jump, a faster change of
//! breath. Of tunes that add equally little, the easier comes first. Above the first rung, a tune that adds nothing is
//! not a rung: the player can play it once the rung below it is learned, and the `opens` of that rung counts it.

use std::collections::BTreeSet;

use super::{Entry, Way};
use crate::harp::{Action, Bend, Breath};

/// The time, in milliseconds, from which a change of breath makes no demand.
const SLOW_TURN_MS: u32 = 1000;

/// A step of the ladder.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Rung {
    /// The index of the tune's entry.
    pub entry: usize,
    /// The demands that are new in the tune.
    pub adds: Vec<Demand>,
    /// The number of other tunes that remain before this rung and make no new demand after it.
    pub opens: usize,
}

/// A demand of a tune that no earlier tune made.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Demand {
    /// A bend or overbend.
    Bend(Action),
    /// A jump over this many holes.
    Jump(u8),
    /// A change of breath in this many milliseconds.
    Turn(u32),
}

impl Demand {
    /// Returns how much the demand adds to the player's known skills. A bend adds two to nine, a wider jump adds one
    /// for each further hole, and a faster change of breath adds one for each shortening by a fifth that it begins. The
    /// prices are our judgement.
    fn price(self, known: &Known) -> u32 {
        match self {
            Demand::Bend(Action { bend: Bend::Over, .. }) => 9,
            Demand::Bend(Action { bend: Bend::Down(depth), breath, .. }) => {
                u32::from(depth) + if breath == Breath::Blow { 4 } else { 1 }
            }
            Demand::Bend(_) => 0,
            Demand::Jump(holes) => u32::from(holes.saturating_sub(known.jump)),
            Demand::Turn(ms) => {
                let fifths = std::iter::successors(Some(known.turn_ms), |&time| Some(time * 4 / 5));
                fifths.take_while(|&time| time > ms).count() as u32
            }
        }
    }
}

/// The skills of a player who has learned some rungs.
struct Known {
    bends: BTreeSet<Action>,
    jump: u8,
    turn_ms: u32,
}

impl Known {
    /// Returns the demands of a way that exceed the known skills.
    fn lacks(&self, way: &Way) -> Vec<Demand> {
        let bends: BTreeSet<Action> =
            way.tab.iter().flatten().copied().filter(|action| action.bend != Bend::None).collect();
        let mut lacks: Vec<Demand> = bends.difference(&self.bends).copied().map(Demand::Bend).collect();
        lacks.extend((way.steps.jump > self.jump).then_some(Demand::Jump(way.steps.jump)));
        lacks.extend(way.steps.turn_ms.filter(|&ms| ms < self.turn_ms).map(Demand::Turn));
        lacks
    }

    fn learn(&mut self, adds: &[Demand]) {
        for &demand in adds {
            match demand {
                Demand::Bend(action) => drop(self.bends.insert(action)),
                Demand::Jump(holes) => self.jump = holes,
                Demand::Turn(ms) => self.turn_ms = ms,
            }
        }
    }
}

/// Returns the first `most` rungs of a ladder through the tunes that can be played in full.
pub fn ladder(entries: &[Entry], most: usize) -> Vec<Rung> {
    let full = entries.iter().enumerate().filter_map(|(index, entry)| Some((index, entry.best.as_ref()?)));
    let mut above: Vec<(usize, &Way)> = full.filter(|(_, way)| way.is_full).collect();
    above.sort_by(|a, b| entries[a.0].by_ease(&entries[b.0]));
    let mut known = Known { bends: BTreeSet::new(), jump: 0, turn_ms: SLOW_TURN_MS };
    let mut rungs = Vec::new();
    while rungs.len() < most {
        let step = |(index, way): &(usize, &Way)| {
            let adds = known.lacks(way);
            let price = adds.iter().map(|demand| demand.price(&known)).sum::<u32>();
            (price, *index, adds)
        };
        // Of equal tunes `min_by_key` takes the first, which is the easiest.
        let Some((_, entry, adds)) = above.iter().map(step).min_by_key(|(price, ..)| *price) else { break };
        known.learn(&adds);
        let before = above.len();
        above.retain(|(index, way)| *index != entry && !known.lacks(way).is_empty());
        rungs.push(Rung { entry, adds, opens: before - above.len() - 1 });
    }
    rungs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        book::Steps,
        harp::Position,
        melody::key::{Key, Mode},
        pitch::PitchClass,
    };

    fn entry(tab: &[Action], jump: u8, turn_ms: u32, effort: u64) -> Entry {
        let way = Way {
            harp: "C".to_owned(),
            position: Position::new(1).unwrap(),
            octave: 0,
            transposed: 0,
            notes: 1,
            missing: Vec::new(),
            is_full: true,
            bends: 0,
            awkward: 0,
            effort,
            tempo: None,
            steps: Steps { jump, turn_ms: Some(turn_ms) },
            tab: tab.iter().copied().map(Some).collect(),
            bars: vec![1; tab.len()],
        };
        let key = Key { tonic: PitchClass::new(0), mode: Mode::Major };
        Entry {
            file: String::new(),
            number: 1,
            nth: None,
            alone: true,
            title: String::new(),
            key,
            tonic: "C".to_owned(),
            sure: 100,
            best: Some(way),
        }
    }

    fn draw(hole: u8, bend: Bend) -> Action {
        Action { hole, breath: Breath::Draw, bend }
    }

    #[test]
    fn each_rung_adds_the_least_and_opens_what_needs_no_more() {
        let bend = draw(4, Bend::Down(1));
        let entries = [
            entry(&[bend, draw(3, Bend::Down(3))], 4, 300, 1),
            entry(&[draw(4, Bend::None)], 2, 500, 30),
            entry(&[draw(4, Bend::None)], 2, 600, 40),
            entry(&[bend], 2, 500, 20),
            entry(&[draw(4, Bend::None)], 2, 500, 50),
        ];
        let rungs = ladder(&entries, 10);
        let order: Vec<usize> = rungs.iter().map(|rung| rung.entry).collect();
        // The tune with slower changes of breath is a separate rung, although it is dearer.
        assert_eq!(order, [2, 1, 3, 0]);
        assert_eq!(rungs.iter().map(|rung| rung.opens).collect::<Vec<_>>(), [0, 1, 0, 0]);
        assert_eq!(rungs[1].adds, [Demand::Turn(500)]);
        assert_eq!(rungs[2].adds, [Demand::Bend(bend)]);
        assert_eq!(ladder(&entries, 2), rungs[..2]);
    }
}
