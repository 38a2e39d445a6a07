//! The player's air: blowing empties the lungs, drawing fills them, silence brings them back to the middle.
//!
//! A harp player plays on both ways of the breath, so the volume in the lungs is a running sum that can end either way:
//! out of air, or so full that no more goes in. The model counts whole millilitres from note to note:
//!
//! 1. in the silence before a note, and in the catch breath at the end of a phrase, the volume goes back towards the
//!    middle at [`LungWeights::recover_ml`] a second and stops there;
//! 2. while the note sounds, it goes down (blow) or up (draw) by the flow of its way of playing;
//! 3. outside the comfortable range each note costs points, more outside the range that is strained, and at the limits
//!    the player must gasp or let air out: that costs a price of its own, is reported, and the volume stays at the limit.
//!
//! What is known: vital capacities (European Respiratory Society 1993, Quanjer et al.: 5.0 l for a man of 35 and 178 cm,
//! 3.5 l for a woman of 35 and 165 cm; other equations differ by 8 %), and that singers begin phrases at about 70 % and end
//! them at about 30 % of it (Thomasson and Sundberg). Not known: the air that a harp note takes. No published figure was
//! found; the flows here are estimates from the free area of a reed, and uncertain by a factor of two. Nobody should take
//! medical advice from them.

use super::effort::{LungWeights, Way, points};
use crate::harp::{Bend, Breath};

/// Which limit of the lungs was reached.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Limit {
    /// Nothing left to blow.
    Empty,
    /// No room left to draw.
    Full,
}

/// What a note does to the lungs.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Aired {
    /// The volume afterwards.
    pub level_ml: u32,
    /// What it costs.
    pub points: u64,
    /// The limit that was reached, if one was.
    pub limit: Option<Limit>,
}

impl LungWeights {
    /// The volume at rest, where every tune begins.
    pub fn middle(&self) -> u32 {
        self.capacity() / 2
    }

    /// What the lungs hold, as far as it is counted. No volume is larger.
    pub(super) fn capacity(&self) -> u32 {
        self.capacity_ml.min(LungWeights::MOST_ML)
    }

    /// The volume after some milliseconds of silence.
    pub fn rested(&self, level_ml: u32, silence_ms: u32) -> u32 {
        self.recovered(level_ml, self.recovery(silence_ms))
    }

    /// What some milliseconds of silence bring back.
    pub(super) fn recovery(&self, silence_ms: u32) -> u32 {
        share(self.recover_ml, silence_ms, 1000)
    }

    /// The volume after it went back towards the middle by so much.
    pub(super) fn recovered(&self, level_ml: u32, back: u32) -> u32 {
        let middle = self.middle();
        if level_ml < middle {
            level_ml.saturating_add(back).min(middle)
        } else {
            level_ml.saturating_sub(back).max(middle)
        }
    }

    /// The time for a catch breath within a note of this length.
    pub fn catch(&self, sounding_ms: u32) -> u32 {
        self.catch_ms.min(sounding_ms / 3)
    }

    /// What sounding a note for so long does from a volume.
    pub fn sounded(&self, level_ml: u32, way: &Way, sounding_ms: u32) -> Aired {
        self.draught(way, sounding_ms).from(level_ml)
    }

    /// What sounding a note for so long does from any volume.
    pub(super) fn draught(&self, way: &Way, sounding_ms: u32) -> Draught {
        let at = |percent: u32| share(self.capacity(), percent.min(100), 100);
        Draught {
            breath: way.action.breath,
            air: share(self.flow(way), sounding_ms, 1000),
            limits: self.limits.map(at),
            ranges: [(self.easy.map(at), self.uneasy), (self.strained.map(at), self.strain)],
            sounding_ms,
            tenth: u64::from(self.capacity() / 10).max(1),
            gasp: self.gasp,
        }
    }

    /// Millilitres a second.
    fn flow(&self, way: &Way) -> u32 {
        let pitch = way.pitch.midi();
        let reed = match pitch {
            _ if pitch < self.low_below => self.low_percent,
            _ if pitch > self.high_above => self.high_percent,
            _ => 100,
        };
        let bend = if way.action.bend == Bend::None { 100 } else { self.bend_percent };
        share(share(self.flow_ml, reed, 100), bend, 100)
    }
}

/// A note that is about to be sounded in a way: what its air and its price depend on, but for the volume.
#[derive(Clone, Copy, Debug)]
pub(super) struct Draught {
    breath: Breath,
    /// What it takes or brings.
    air: u32,
    /// The volumes where no more goes out or in.
    limits: [u32; 2],
    /// The comfortable range and the one without strain, as volumes, and the price outside of each.
    ranges: [([u32; 2], u32); 2],
    sounding_ms: u32,
    /// A tenth of the capacity.
    tenth: u64,
    gasp: u32,
}

impl Draught {
    /// What it does from a volume.
    pub(super) fn from(&self, level_ml: u32) -> Aired {
        let ([least, most], air) = (self.limits, self.air);
        let (wanted, limit) = match self.breath {
            Breath::Blow if level_ml < least.saturating_add(air) => (least, Some(Limit::Empty)),
            Breath::Blow => (level_ml.saturating_sub(air), None),
            Breath::Draw if level_ml.saturating_add(air) > most => (most, Some(Limit::Full)),
            Breath::Draw => (level_ml.saturating_add(air), None),
        };
        // A limit that was passed before (no file of weights should allow it) is not passed backwards.
        let level = wanted.min(level_ml.max(most)).max(level_ml.min(least));
        let mut price = if limit.is_some() { u64::from(self.gasp) } else { 0 };
        for (range, each) in self.ranges {
            let outside =
                u64::from(range[0].saturating_sub(level)) + u64::from(level.saturating_sub(range[1]));
            // Most notes are inside, and dividing takes time.
            if outside > 0 {
                let amount = outside * u64::from(self.sounding_ms);
                price = price.saturating_add(points(amount, each, self.tenth * 1000));
            }
        }
        Aired { level_ml: level, points: price, limit }
    }
}

/// A part of an amount, rounded down.
fn share(amount: u32, part: u32, whole: u32) -> u32 {
    u32::try_from(u64::from(amount) * u64::from(part) / u64::from(whole)).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{harp::Action, pitch::Pitch, search::Weights};

    fn lungs() -> LungWeights {
        Weights::default().lungs
    }

    fn way(action: Action) -> Way {
        Way { action, pitch: Pitch::MIDDLE_C, deepest: false }
    }

    /// Vital capacity by the equations of the European Respiratory Society (Quanjer et al. 1993), in millilitres:
    /// men 57.6 H - 26 A - 4340, women 44.3 H - 26 A - 2890, with H in cm and A in years.
    #[test]
    fn the_default_capacity_is_that_of_a_published_equation() {
        let woman = (443 * 165 - 260 * 35 - 28_900) / 10;
        assert_eq!(woman, 3509);
        assert!(lungs().capacity_ml.abs_diff(woman) < 100);
    }

    #[test]
    fn blowing_empties_drawing_fills_and_silence_brings_back() {
        let lungs = lungs();
        let middle = lungs.middle();
        let blown = lungs.sounded(middle, &way(Action::blow(4)), 1000);
        assert_eq!((blown.level_ml, blown.points, blown.limit), (middle - lungs.flow_ml, 0, None));
        let drawn = lungs.sounded(blown.level_ml, &way(Action::draw(4)), 1000);
        assert_eq!(drawn.level_ml, middle);
        assert!(lungs.rested(blown.level_ml, 10) < middle);
        assert_eq!(lungs.rested(blown.level_ml, 60_000), middle);
        assert_eq!(lungs.rested(middle + 400, 60_000), middle);
    }

    #[test]
    fn the_lungs_end_at_their_limits_and_it_costs() {
        let lungs = lungs();
        let full = lungs.sounded(lungs.capacity_ml * 94 / 100, &way(Action::draw(2)), 10_000);
        assert_eq!((full.level_ml, full.limit), (lungs.capacity_ml * 95 / 100, Some(Limit::Full)));
        assert!(full.points > u64::from(lungs.gasp));
        let empty = lungs.sounded(lungs.capacity_ml * 6 / 100, &way(Action::blow(2)), 10_000);
        assert_eq!((empty.level_ml, empty.limit), (lungs.capacity_ml * 5 / 100, Some(Limit::Empty)));
    }
}
