//! The player's air: blowing empties the lungs, drawing fills them, and in silence the volume moves towards a target.
//!
//! A harp player plays in both directions of the breath. The volume in the lungs is therefore a running sum that can
//! reach either end: out of air, or too full to draw. The model counts whole millilitres from note to note:
//!
//! 1. In the silence before a note, and in the catch breath at the end of a phrase, the player breathes in or out at
//!    [`LungWeights::recover_ml`] a second. The target is the volume that suits the coming stretch ([`aims`]). Before
//!    the tune there is unlimited time to breathe.
//! 2. While the note sounds, the volume falls (blow) or rises (draw) by the flow of its way of playing.
//! 3. Outside the comfortable range each note costs points; outside the range without strain it costs more. At the
//!    limits the player must gasp or let air out. Each note that reaches a limit costs extra and is reported, and the
//!    volume stays at the limit.
//!
//! Known: vital capacities (European Respiratory Society 1993, Quanjer et al.: 5.0 l for a man of 35 years and 178 cm,
//! 3.5 l for a woman of 35 years and 165 cm; other equations differ by 8 %). Singers begin phrases at about 70 % of the
//! capacity and end them at about 30 % (Thomasson and Sundberg). A harp player who is about to draw begins lower (our
//! judgement). The air that a harp note takes is not known. No published figure was found; the flows here are estimates
//! from the free area of a reed, and uncertain by a factor of two. The figures are not medical advice.

use super::effort::{LungWeights, Way, points};
use crate::harp::{Bend, Breath};

/// A note in its easiest way, and whether the player can breathe after it because a phrase ends there or a rest
/// follows.
#[derive(Clone, Copy, Debug)]
pub struct Demand<'a> {
    /// The way and its duration in milliseconds; `None` for a note that the harp cannot sound.
    pub sounding: Option<(&'a Way, u32)>,
    /// Whether the player can breathe after the note.
    pub breathes_after: bool,
}

/// Returns the volume, in millilitres, towards which the player breathes before each note. Starting from that volume,
/// the notes up to the next place to breathe stay as near the middle of the lungs as possible, within
/// [`LungWeights::start`].
///
/// Before a stretch of blow notes the target is a high volume, before a stretch of draw notes a low volume. Each note
/// is priced in its easiest way, so the target does not depend on the path that the search finds. Players breathe in
/// before a phrase, so no phrase begins at the resting volume. The resting volume is a quarter to a third of the
/// capacity (tables of the European Respiratory Society and their successors).
pub fn aims<'a>(lungs: &LungWeights, notes: impl DoubleEndedIterator<Item = Demand<'a>>) -> Vec<u32> {
    let capacity = i64::from(lungs.capacity());
    let [least, most] = lungs.start.map(|percent| capacity * i64::from(percent.min(100)) / 100);
    // The greatest fall and the greatest rise of the volume from here to the end of the stretch.
    let (mut down, mut up) = (0, 0);
    let mut aims: Vec<u32> = notes
        .rev()
        .map(|note| {
            if note.breathes_after {
                (down, up) = (0, 0);
            }
            if let Some((way, ms)) = note.sounding {
                let air = i64::from(lungs.air(way, ms));
                let by = if way.action.breath == Breath::Draw { air } else { -air };
                (down, up) = ((down + by).min(0), (up + by).max(0));
            }
            let aim = (capacity / 2 - (down + up) / 2).clamp(least.min(most), most);
            u32::try_from(aim).unwrap_or(0)
        })
        .collect();
    aims.reverse();
    aims
}

/// The limit of the lungs that was reached.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[non_exhaustive]
pub enum Limit {
    /// No air is left to blow.
    Empty,
    /// No room is left to draw.
    Full,
}

/// The effect of one note on the lungs.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Aired {
    /// The volume afterwards.
    pub level_ml: u32,
    /// The points for the term `lungs`.
    pub points: u64,
    /// The limit that the lungs reached, if any.
    pub limit: Option<Limit>,
}

impl LungWeights {
    /// The capacity of the lungs in the model; no volume exceeds it.
    pub(super) fn capacity(&self) -> u32 {
        self.capacity_ml.min(LungWeights::MOST_ML)
    }

    /// Returns the volume after the player has breathed towards a target volume for some milliseconds.
    pub fn rested(&self, level_ml: u32, aim_ml: u32, silence_ms: u32) -> u32 {
        recovered(level_ml, aim_ml, self.recovery(silence_ms))
    }

    /// Returns by how many millilitres the volume moves during some milliseconds of silence.
    pub(super) fn recovery(&self, silence_ms: u32) -> u32 {
        share(self.recover_ml, silence_ms, 1000)
    }

    /// Returns the time for a catch breath taken from a note of this length.
    pub fn catch(&self, sounding_ms: u32) -> u32 {
        self.catch_ms.min(sounding_ms / 3)
    }

    /// Returns the effect of sounding a note for this long, starting at a given volume.
    pub fn sounded(&self, level_ml: u32, way: &Way, sounding_ms: u32) -> Aired {
        self.draught(way, sounding_ms).from(level_ml)
    }

    /// Prepares the effect of sounding a note for this long, for any starting volume.
    pub(super) fn draught(&self, way: &Way, sounding_ms: u32) -> Draught {
        let at = |percent: u32| share(self.capacity(), percent.min(100), 100);
        Draught {
            breath: way.action.breath,
            air: self.air(way, sounding_ms),
            limits: self.limits.map(at),
            ranges: [(self.easy.map(at), self.uneasy), (self.strained.map(at), self.strain)],
            sounding_ms,
            tenth: u64::from(self.capacity() / 10).max(1),
            gasp: self.gasp,
        }
    }

    /// Returns the air that a note of this length takes or adds, in millilitres.
    pub fn air(&self, way: &Way, sounding_ms: u32) -> u32 {
        share(self.flow(way), sounding_ms, 1000)
    }

    /// Returns the flow in millilitres a second.
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

/// A note played in one way, with all the data for its air and its price except the volume.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Draught {
    breath: Breath,
    /// The air that the note takes or adds, in millilitres.
    air: u32,
    /// The lowest and the highest possible volume, in millilitres.
    limits: [u32; 2],
    /// The comfortable range and the range without strain, in millilitres, each with the price of leaving it.
    ranges: [([u32; 2], u32); 2],
    sounding_ms: u32,
    /// A tenth of the capacity, in millilitres.
    tenth: u64,
    gasp: u32,
}

impl Draught {
    /// Returns the effect of the note, starting at a volume.
    pub(super) fn from(&self, level_ml: u32) -> Aired {
        let ([least, most], air) = (self.limits, self.air);
        let (wanted, limit) = match self.breath {
            Breath::Blow if level_ml < least.saturating_add(air) => (least, Some(Limit::Empty)),
            Breath::Blow => (level_ml.saturating_sub(air), None),
            Breath::Draw if level_ml.saturating_add(air) > most => (most, Some(Limit::Full)),
            Breath::Draw => (level_ml.saturating_add(air), None),
        };
        // A volume already beyond a limit does not move back across it; checked weights never produce such a volume.
        let level = wanted.min(level_ml.max(most)).max(level_ml.min(least));
        let mut price = if limit.is_some() { u64::from(self.gasp) } else { 0 };
        for (range, each) in self.ranges {
            let outside =
                u64::from(range[0].saturating_sub(level)) + u64::from(level.saturating_sub(range[1]));
            // Most notes stay within the ranges, and a division takes time.
            if outside > 0 {
                let amount = outside * u64::from(self.sounding_ms);
                price = price.saturating_add(points(amount, each, self.tenth * 1000));
            }
        }
        Aired { level_ml: level, points: price, limit }
    }
}

/// Returns the volume after it has moved towards a target by `by`, but not beyond the target.
pub(super) fn recovered(level_ml: u32, aim_ml: u32, by: u32) -> u32 {
    if level_ml < aim_ml {
        level_ml.saturating_add(by).min(aim_ml)
    } else {
        level_ml.saturating_sub(by).max(aim_ml)
    }
}

/// Returns `amount * part / whole`, rounded down.
fn share(amount: u32, part: u32, whole: u32) -> u32 {
    u32::try_from(u64::from(amount) * u64::from(part) / u64::from(whole)).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        harp::{Action, Traits},
        pitch::Pitch,
        search::Weights,
    };

    fn lungs() -> LungWeights {
        Weights::default().lungs
    }

    fn way(action: Action) -> Way {
        Way { action, pitch: Pitch::MIDDLE_C, traits: Traits::default() }
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
        let middle = lungs.capacity_ml / 2;
        let blown = lungs.sounded(middle, &way(Action::blow(4)), 1000);
        assert_eq!((blown.level_ml, blown.points, blown.limit), (middle - lungs.flow_ml, 0, None));
        let drawn = lungs.sounded(blown.level_ml, &way(Action::draw(4)), 1000);
        assert_eq!(drawn.level_ml, middle);
        assert!(lungs.rested(blown.level_ml, middle, 10) < middle);
        assert_eq!(lungs.rested(blown.level_ml, middle, 60_000), middle);
        assert_eq!(lungs.rested(middle + 400, middle, 60_000), middle);
    }

    /// Before twenty seconds of blowing, the lungs are as full as the weights allow; before twenty seconds of drawing,
    /// as empty. Before one second of blowing, they are above the middle by half the air of this second; before a note
    /// that cannot be sounded, they are in the middle. A place to breathe ends the stretch.
    #[test]
    fn a_phrase_begins_with_the_air_that_it_wants() {
        let lungs = lungs();
        let (blow, draw) = (way(Action::blow(4)), way(Action::draw(4)));
        let note = |way, breathes_after| Demand { sounding: Some((way, 20_000)), breathes_after };
        let at = |percent: u32| lungs.capacity_ml * percent / 100;
        let [least, most] = lungs.start.map(at);
        assert_eq!(aims(&lungs, [note(&blow, true), note(&draw, false)].into_iter()), [most, least]);
        assert_eq!(aims(&lungs, [note(&draw, true), note(&blow, false)].into_iter()), [least, most]);
        let short = Demand { sounding: Some((&blow, 1000)), breathes_after: false };
        assert_eq!(aims(&lungs, [short].into_iter()), [at(50) + lungs.flow_ml / 2]);
        let silent = Demand { sounding: None, breathes_after: false };
        assert_eq!(aims(&lungs, [silent].into_iter()), [at(50)]);
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
