//! What a playing costs: whole points, the sum of named terms, from one documented struct of weights.
//!
//! One point is a tenth of what a step to the neighbouring hole costs with time to spare. No measurement of a
//! harmonica player's effort was found in the literature, so every default is a judgement of common practice; the
//! *forms* follow work on other instruments: distance over time for moves (Fitts 1954, in Shannon's form), effort that
//! falls with the time available (as for trills on the saxophone: Libřický et al., ISMIR 2025).
//!
//! Two properties hold for any weights, and tests check them:
//!
//! * More time never costs more, with two exceptions that are meant: a longer bend must be held in tune
//!   ([`BendWeights::hold`]), and a bend after a rest starts cold and anew
//!   ([`BendWeights::cold`], [`BendWeights::repeated`]).
//! * A price that is raised never makes any playing cheaper. Of the times and places that say *when* a price is due,
//!   those that say "longer than", "from" or "above" work the other way: [`BendWeights::hold_ms`],
//!   [`BreathWeights::jump_holes`], [`BendWeights::high_above`], [`RegisterWeights::high_above`].

use serde::Deserialize;

use super::{
    heard::{Heard, MissingWeights},
    term::{Effort, Term},
};
use crate::{
    data::{self, DataError},
    harp::{Action, Bend, Breath, HOLES, Position, Traits},
    pitch::Pitch,
};

/// A way to sound a pitch, with what its price depends on.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Way {
    /// What is done.
    pub action: Action,
    /// What sounds.
    pub pitch: Pitch,
    /// What the player meets in it besides.
    pub traits: Traits,
}

impl Way {
    fn is_bent(&self) -> bool {
        self.action.bend != Bend::None
    }
}

/// How a note of the tune sounds, whichever way it is played.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Held {
    /// For how long, in milliseconds.
    pub ms: u32,
    /// Whether the tune comes to rest on it: it ends a phrase on the tune's last pitch class, in nearly every tune the
    /// tonic.
    pub home: bool,
    /// Whether the tune ends with it.
    pub last: bool,
    /// A grace note: a bend is dipped into on the way, so it does not hurry.
    pub grace: bool,
}

/// The time between two notes that are played one after the other.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Gap {
    /// From onset to onset, in milliseconds.
    pub time_ms: u32,
    /// Whether there is a rest between them that is long enough to start afresh.
    pub rested: bool,
    /// Whether there is no silence at all between them.
    pub joined: bool,
}

impl Gap {
    /// The longest time that makes a difference: a minute. Keeps all sums small.
    const LONGEST_MS: u64 = 60_000;

    /// Milliseconds, cut to what makes a difference.
    pub(super) fn millis(ms: u64) -> u32 {
        ms.min(Gap::LONGEST_MS) as u32
    }
}

/// What one player finds hard. All prices are points, all times milliseconds.
///
/// Any numbers are safe: sums that grow too large stop at the highest number. The choices told at the fields are what a
/// player makes to whom nothing else is hard; `tests/search_flips.rs` shows every field just below, at and above the
/// number where the choice flips.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Weights {
    /// Notes that are not sounded.
    pub missing: MissingWeights,
    /// A rest of this length lets the player find the next note afresh: neither the move nor the breath costs anything.
    pub rest_ms: u32,
    /// Bends and overbends.
    pub bends: BendWeights,
    /// Jumps from hole to hole.
    pub moves: MoveWeights,
    /// Changes of breath.
    pub breath: BreathWeights,
    /// The ends of the harp.
    pub register: RegisterWeights,
    /// Air.
    pub lungs: LungWeights,
    /// A note in 1st to 12th position: the fewer tunes a player knows in a position, the less its scale is in the ear and
    /// in the breath. Another position wins if it saves more than this for each note.
    pub positions: [u32; 12],
}

/// Prices of bent notes.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BendWeights {
    /// A note bent by one semitone. For Bb4 a C harp (draw 3 bent) wins over a B flat harp (blow 4) whose hole costs more
    /// than this; at equal effort the natural note wins.
    pub half_step: u32,
    /// Each further semitone.
    pub further: u32,
    /// A bend that is not the deepest of its hole: nothing stops it, the ear must hold it in tune. (Draw 3 bent by one or
    /// two semitones, draw 2 by one.)
    pub unsteady: u32,
    /// A blow bend, besides its depth: short reeds leave less room.
    pub blow: u32,
    /// Bends that sound above this MIDI pitch are on reeds so short that they hardly bend: blow bends that come on a G or A
    /// harp do not yet come on an F harp.
    pub high_above: u8,
    /// Points for each semitone above, for such bends.
    pub high: u32,
    /// An overblow or overdraw on hole 1 to 10: nothing else of a bend's price is added. Hole 6 speaks most readily.
    pub overbends: [u32; HOLES as usize],
    /// A bent note on hole 1 to 10, besides: the reeds differ.
    pub holes: [u32; HOLES as usize],
    /// The very same bend again, without a rest between, in per cent of its price so far: the mouth is set.
    pub repeated: u32,
    /// A bend that ends the tune: it is what listeners take home, and nothing follows to mend it.
    pub last: u32,
    /// Coming to a bend from another hole or breath, or out of silence (the beginning, a rest), instead of sliding into it:
    /// draw 3, then draw 3 bent, is free of it.
    pub cold: u32,
    /// Leaving a bend for another hole or breath instead of letting it go on the same reed.
    pub leave: u32,
    /// A bend that sounds for less than this is hurried, grace notes apart.
    pub quick_ms: u32,
    /// Points for each 10 ms that it is shorter.
    pub quick: u32,
    /// A bend that sounds for longer than this must be held in tune.
    pub hold_ms: u32,
    /// Points for each 100 ms that it is longer, up to two seconds in all.
    pub hold: u32,
}

/// Prices of moving along the harp. A jump of d holes is log2(d + 1) bits, and a little more beyond three holes.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MoveWeights {
    /// A bit with time to spare: one bit is the neighbouring hole. On a C harp, E4 G4 is blow 2, blow 3 as long as a bit
    /// costs no more than [`BreathWeights::same_hole`]; if it costs more, blow 2, draw 2.
    pub bit: u32,
    /// The time that any move wants.
    pub base_ms: u32,
    /// The time that each bit wants besides.
    pub bit_ms: u32,
    /// Points for each 10 ms that are lacking. A step of one bit in 125 ms that wants 225 costs ten times this: from there
    /// on, draw 2 wins after blow 2 if its change of breath costs less.
    pub hurry: u32,
    /// Each hole of a jump beyond three: there the mouth no longer measures the way, it aims.
    pub far: u32,
    /// A jump in one breath over holes that would sound, where no silence lies between the notes: the player must lift off or
    /// block them.
    pub over: u32,
    /// Going between holes whose draw note is the higher one and holes whose draw note is the lower one, on a Richter harp
    /// between hole 6 and hole 7: the order of the breath turns round, and the player has to think.
    pub turnover: u32,
}

/// Prices of turning the breath.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BreathWeights {
    /// A change on one hole with time to spare. On a C harp, E4 G4 is blow 2, draw 2 if this is less than
    /// [`MoveWeights::bit`]; at equal effort blow 3 wins, which needs no change.
    pub same_hole: u32,
    /// A change to another hole with time to spare. On a C harp, C4 G4 is blow 1, draw 2 if this is less than 0.58 bits,
    /// which is what the jump to blow 3 costs more than the step to draw 2.
    pub other_hole: u32,
    /// With this much time the change costs no more than that.
    pub free_ms: u32,
    /// Points for each 10 ms that are lacking.
    pub hurry: u32,
    /// Below this much time it gets very hard.
    pub hard_ms: u32,
    /// Points for each further 10 ms that are lacking.
    pub hard: u32,
    /// A jump of so many holes is felt together with the change.
    pub jump_holes: u32,
    /// Points for the two together, when there is less time than `fast_ms`. If a step counts as a jump, D5 G4 on a C harp is
    /// draw 4, blow 3 only while this is less than 0.58 bits; then draw 4, draw 2, further away in one breath.
    pub jump: u32,
    /// A change in less time is called awkward. That is counted and marked; it decides between approaches of equal effort.
    pub awkward_ms: u32,
    /// A change together with a jump is called awkward in less time than this.
    pub fast_ms: u32,
}

/// Prices of the ends of the harp.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RegisterWeights {
    /// A note blown on hole 1 to 10. A tune goes up or down an octave when the sum over its notes is less there.
    pub blow: [u32; HOLES as usize],
    /// A note drawn on hole 1 to 10, bent or not: for a beginner the long draw reeds of holes 2 and 3 are stubborn.
    pub draw: [u32; HOLES as usize],
    /// Coming to rest (the end of a phrase, on the pitch class with which the tune ends) on a blow note where a draw note
    /// sounds the same. In 2nd position the tune rests on draw 2 rather than on blow 3: there the chord of the key lies.
    pub rest_blown: u32,
    /// Reeds below this MIDI pitch are long and slow to speak.
    pub low_below: u8,
    /// Notes shorter than this feel it.
    pub low_ms: u32,
    /// Points for each semitone below, for such notes.
    pub low: u32,
    /// Reeds above this MIDI pitch are short and stiff.
    pub high_above: u8,
    /// Points for each semitone above.
    pub high: u32,
}

/// What a player's lungs hold, and what playing near their ends costs. Volumes are millilitres.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LungWeights {
    /// The vital capacity: from the deepest breath in to the deepest breath out.
    pub capacity_ml: u32,
    /// The air that a note takes in a second (an estimate).
    pub flow_ml: u32,
    /// What a bent note takes of that, in per cent (an estimate).
    pub bend_percent: u32,
    /// What the long reeds below this MIDI pitch take, in per cent.
    pub low_below: u8,
    /// See `low_below` (an estimate).
    pub low_percent: u32,
    /// What the short reeds above this MIDI pitch take, in per cent.
    pub high_above: u8,
    /// See `high_above` (an estimate).
    pub high_percent: u32,
    /// From how much to how much, in per cent of the capacity, a player breathes before a phrase, as it will want.
    pub start: [u32; 2],
    /// How much a second of silence moves the air towards that.
    pub recover_ml: u32,
    /// The most time for a catch breath at the end of a phrase, in milliseconds; it is taken from the last note, of which
    /// it is never more than a third.
    pub catch_ms: u32,
    /// The comfortable range, in per cent of the capacity.
    pub easy: [u32; 2],
    /// The range without strain, in per cent of the capacity.
    pub strained: [u32; 2],
    /// Where no more goes out or in, in per cent of the capacity.
    pub limits: [u32; 2],
    /// Points for a second at 10 % of the capacity outside the comfortable range.
    pub uneasy: u32,
    /// Points for a second at 10 % of the capacity outside the range without strain, besides.
    pub strain: u32,
    /// Points for a limit reached.
    pub gasp: u32,
}

impl LungWeights {
    /// The largest lungs that are modelled: what they would hold beyond that is not counted. So there are no more volumes
    /// than this, and one more.
    pub const MOST_ML: u32 = Weights::HIGHEST as u32;
}

impl Weights {
    /// The highest price, time or per cent in a file: five times a missing note.
    pub(super) const HIGHEST: i64 = 10_000;

    /// Reads weights from TOML: every field of this type.
    ///
    /// # Errors
    ///
    /// The line or the field, and what should stand there.
    pub fn parse(text: &str) -> Result<Weights, DataError> {
        let weights: Weights = data::read(text)?;
        data::check_heights(text, Weights::HIGHEST)?;
        weights.check()?;
        Ok(weights)
    }

    /// Checks that the numbers are consistent.
    pub(super) fn check(&self) -> Result<(), DataError> {
        let fault = |what: String| Err(DataError { line: None, what });
        let LungWeights { easy, strained, limits, start, .. } = &self.lungs;
        if start[0] > start[1] || start[1] > 100 {
            return fault(format!("lungs.start is {start:?}; write two per cents, the lower one first"));
        }
        let inside = |inner: &[u32; 2], outer: &[u32; 2]| outer[0] <= inner[0] && inner[1] <= outer[1];
        for (name, range, outer) in
            [("limits", limits, &[0, 100]), ("strained", strained, limits), ("easy", easy, strained)]
        {
            if range[0] >= range[1] || !inside(range, outer) {
                return fault(format!(
                    "lungs.{name} is {range:?}; write two per cents, the lower one first, each range inside the \
                     next wider one"
                ));
            }
        }
        Ok(())
    }

    /// The gap between two notes with their starts and ends in milliseconds.
    pub fn gap(&self, from: (u64, u64), to: (u64, u64)) -> Gap {
        Gap {
            time_ms: Gap::millis(to.0.saturating_sub(from.0)),
            rested: to.0.saturating_sub(from.1) >= u64::from(self.rest_ms),
            joined: to.0 <= from.1,
        }
    }

    /// A note that is not sounded.
    pub fn missing(&self, heard: &Heard) -> Effort {
        Effort::of(Term::Missing, heard.price(&self.missing))
    }

    /// A note in a position, besides what it takes to sound it.
    pub fn in_position(&self, position: Position) -> Effort {
        let price = self.positions[usize::from(position.number().clamp(1, 12) - 1)];
        Effort::of(Term::Position, price.into())
    }

    /// Sounding a note in a way, wherever it comes from.
    pub fn hold(&self, way: &Way, held: Held) -> Effort {
        Effort::of(Term::Bends, self.bend(way, held)).with(Term::Register, self.register(way, held))
    }

    fn bend(&self, way: &Way, held: Held) -> u64 {
        if !way.is_bent() {
            return 0;
        }
        let prices = &self.bends;
        let hurried = if held.grace { 0 } else { lacking(held.ms, prices.quick_ms.into()) };
        let quick = points(hurried, prices.quick, 10);
        let long = held.ms.min(LONGEST_HELD_MS).saturating_sub(prices.hold_ms);
        let last = if held.last { prices.last } else { 0 };
        self.repeating(way) + quick + points(long.into(), prices.hold, 100) + u64::from(last)
    }

    /// What shaping a bend costs, when it does not repeat.
    fn shaping(&self, way: &Way) -> u64 {
        let prices = &self.bends;
        let hole = usize::from(way.action.hole.clamp(1, HOLES) - 1);
        match (way.action.bend, way.action.breath) {
            (Bend::None, _) => 0,
            (Bend::Over, _) => prices.overbends[hole].into(),
            (Bend::Down(depth), breath) => {
                u64::from(prices.half_step)
                    + u64::from(prices.further) * u64::from(depth.saturating_sub(1))
                    + u64::from(if way.traits.deepest { 0 } else { prices.unsteady })
                    + u64::from(if breath == Breath::Blow { prices.blow } else { 0 })
                    + points(way.pitch.midi().saturating_sub(prices.high_above).into(), prices.high, 1)
                    + u64::from(prices.holes[hole])
            }
        }
    }

    /// What it costs each time, also when it repeats.
    fn repeating(&self, way: &Way) -> u64 {
        points(self.shaping(way), self.bends.repeated.min(100), 100)
    }

    /// What it costs to come to a bend that was not there before: the rest of its shape.
    fn shaped_anew(&self, way: &Way) -> u64 {
        if way.is_bent() { self.shaping(way) - self.repeating(way) } else { 0 }
    }

    fn register(&self, way: &Way, held: Held) -> u64 {
        let (prices, pitch) = (&self.register, way.pitch.midi());
        let holes = match way.action.breath {
            Breath::Blow => &prices.blow,
            Breath::Draw => &prices.draw,
        };
        let hole = holes[usize::from(way.action.hole.clamp(1, HOLES) - 1)];
        let below = if held.ms < prices.low_ms { prices.low_below.saturating_sub(pitch) } else { 0 };
        let above = pitch.saturating_sub(prices.high_above);
        let rest = if held.home && way.traits.also_drawn { prices.rest_blown } else { 0 };
        let ends = points(below.into(), prices.low, 1) + points(above.into(), prices.high, 1);
        u64::from(hole) + u64::from(rest) + ends
    }

    /// Beginning the tune with a note.
    pub fn start(&self, to: &Way) -> Effort {
        let cold = if to.is_bent() { u64::from(self.bends.cold) } else { 0 };
        Effort::of(Term::Bends, cold + self.shaped_anew(to))
    }

    /// Coming from one note to the next in the time between them.
    pub fn step(&self, from: &Way, to: &Way, gap: Gap) -> Effort {
        let bends = self.bend_between(from, to, gap);
        if gap.rested {
            return Effort::of(Term::Bends, bends);
        }
        let jump = from.action.hole.abs_diff(to.action.hole);
        let turns = from.action.breath != to.action.breath;
        let over = if jump > 1 && !turns && gap.joined { self.moves.over } else { 0 };
        let turnover = if from.traits.upside_down == to.traits.upside_down { 0 } else { self.moves.turnover };
        let moves = match jump {
            0 => 0,
            jump => self.move_by(jump, gap.time_ms) + u64::from(over) + u64::from(turnover),
        };
        let breath = if turns { self.breath_change(jump, gap.time_ms) } else { 0 };
        Effort::of(Term::Bends, bends).with(Term::Moves, moves).with(Term::Breath, breath)
    }

    /// Coming to a bend and leaving one.
    fn bend_between(&self, from: &Way, to: &Way, gap: Gap) -> u64 {
        // Most notes are not bent.
        if !from.is_bent() && !to.is_bent() {
            return 0;
        }
        let same_reed = from.action.hole == to.action.hole && from.action.breath == to.action.breath;
        let slides = same_reed && !gap.rested;
        let cold = if !to.is_bent() || slides { 0 } else { self.bends.cold };
        // After a rest there is nothing left to leave.
        let leave = if !from.is_bent() || slides || gap.rested { 0 } else { self.bends.leave };
        let repeats = from.action == to.action && !gap.rested;
        let anew = if repeats { 0 } else { self.shaped_anew(to) };
        u64::from(cold) + u64::from(leave) + anew
    }

    fn move_by(&self, jump: u8, time_ms: u32) -> u64 {
        let prices = &self.moves;
        let bits = HUNDREDTHS_OF_A_BIT[usize::from(jump.min(HOLES - 1))];
        let far = u64::from(jump.saturating_sub(NEAR));
        points(bits, prices.bit, 100)
            + points(far, prices.far, 1)
            + points(lacking(time_ms, self.wanted_ms(jump)), prices.hurry, 10)
    }

    /// The time that a jump wants.
    fn wanted_ms(&self, jump: u8) -> u64 {
        let bits = HUNDREDTHS_OF_A_BIT[usize::from(jump.min(HOLES - 1))];
        u64::from(self.moves.base_ms) + points(bits, self.moves.bit_ms, 100)
    }

    fn breath_change(&self, jump: u8, time_ms: u32) -> u64 {
        let prices = &self.breath;
        let base = if jump == 0 { prices.same_hole } else { prices.other_hole };
        let hurry = points(lacking(time_ms, prices.free_ms.into()), prices.hurry, 10);
        let hard = points(lacking(time_ms, prices.hard_ms.into()), prices.hard, 10);
        let together = u32::from(jump) >= prices.jump_holes && time_ms < prices.fast_ms;
        u64::from(base) + hurry + hard + u64::from(if together { prices.jump } else { 0 })
    }

    /// The time in which a step is comfortable: its jump does not hurry, and its breath does not turn awkwardly.
    pub fn comfortable_ms(&self, from: Action, to: Action) -> u32 {
        let jump = from.hole.abs_diff(to.hole);
        let moving = if jump == 0 { 0 } else { u32::try_from(self.wanted_ms(jump)).unwrap_or(u32::MAX) };
        let turning = match from.breath == to.breath {
            true => 0,
            false if u32::from(jump) >= self.breath.jump_holes => {
                self.breath.awkward_ms.max(self.breath.fast_ms)
            }
            false => self.breath.awkward_ms,
        };
        moving.max(turning)
    }

    /// Whether a change of breath must happen faster than is comfortable, or in little time together with a jump.
    pub fn is_awkward(&self, from: Action, to: Action, gap: Gap) -> bool {
        let jump = u32::from(from.hole.abs_diff(to.hole));
        let prices = &self.breath;
        from.breath != to.breath
            && !gap.rested
            && (gap.time_ms < prices.awkward_ms || jump >= prices.jump_holes && gap.time_ms < prices.fast_ms)
    }
}

/// The longest jump that the mouth measures without aiming, in holes.
const NEAR: u8 = 3;

/// A bend that is in tune for this long stays in tune.
const LONGEST_HELD_MS: u32 = 2000;

/// 100 · log2(d + 1) for a jump of d holes, rounded.
const HUNDREDTHS_OF_A_BIT: [u64; HOLES as usize] = [0, 100, 158, 200, 232, 258, 281, 300, 317, 332];

/// How much of the wanted time is lacking.
fn lacking(time_ms: u32, wanted_ms: u64) -> u64 {
    wanted_ms.saturating_sub(time_ms.into())
}

/// An amount at a price for each so many of it, rounded down.
pub(super) fn points(amount: u64, price: u32, each: u64) -> u64 {
    amount.saturating_mul(price.into()) / each
}
