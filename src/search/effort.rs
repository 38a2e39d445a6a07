//! The price of a playing: whole points, the sum of named terms, computed from one documented struct of weights.
//!
//! One point is a tenth of what a step to the neighbouring hole costs an improver with time to spare. We found no
//! published measurement of a harmonica player's effort, so every default is a judgement of common practice. The
//! *forms* follow work on other instruments: distance over time for moves (Fitts 1954, in Shannon's form), and effort
//! that falls with the time available (as for trills on the saxophone: Libřický et al., ISMIR 2025).
//!
//! Two properties hold for any weights, and tests check them:
//!
//! * More time never costs more, with two intended exceptions: a longer bend must be held in tune
//!   ([`BendWeights::hold`]), and a bend after a rest is reached cold ([`BendWeights::cold`])
//!   and gets no discount for repetition ([`BendWeights::repeated`]).
//! * A higher price never makes any playing cheaper. Some times, holes and pitches are thresholds from which a price is
//!   due. Raising a threshold lowers the effort if it means "longer than", "from" or "above": [`BendWeights::hold_ms`],
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

/// A way to sound a pitch, with the properties that its price depends on.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Way {
    /// The action.
    pub action: Action,
    /// The sounding pitch.
    pub pitch: Pitch,
    /// The properties of the action that its price depends on.
    pub traits: Traits,
}

impl Way {
    fn is_bent(&self) -> bool {
        self.action.bend != Bend::None
    }
}

/// The properties of a note of the tune that do not depend on how it is played.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Held {
    /// How long the note sounds, in milliseconds.
    pub ms: u32,
    /// Whether the tune comes to rest on the note: the note ends a phrase on the tune's last pitch class, which in
    /// nearly every tune is the tonic.
    pub home: bool,
    /// Whether the note is the tune's last.
    pub last: bool,
    /// Whether the note is a grace note. A grace note only touches its bend in passing, so its bend is never priced as
    /// hurried.
    pub grace: bool,
}

/// The time between two notes that are played in succession.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Gap {
    /// The time from onset to onset, in milliseconds.
    pub time_ms: u32,
    /// Whether a rest between the notes is long enough for the player to start afresh.
    pub rested: bool,
    /// Whether the second note starts as soon as the first one ends.
    pub joined: bool,
}

impl Gap {
    /// The longest time that affects a price: a minute. The limit keeps all sums small.
    const LONGEST_MS: u64 = 60_000;

    /// Caps milliseconds at the longest time that affects a price.
    pub(super) fn millis(ms: u64) -> u32 {
        ms.min(Gap::LONGEST_MS) as u32
    }
}

/// One player's prices of difficulty. All prices are points, all times milliseconds.
///
/// Any numbers are safe: sums that would overflow stop at the highest number. Each field's example assumes a player for
/// whom nothing else costs anything; `tests/playing/search_flips.rs` tests every field just below, at and above the
/// number at which the choice flips.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Weights {
    /// Notes that are not sounded.
    pub missing: MissingWeights,
    /// After a rest of this length, in milliseconds, the player finds the next note afresh: neither the move nor the
    /// change of breath costs anything. The player also breathes in the rest, so the volume before a note needs to suit
    /// only the notes up to the next such rest.
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
    /// The price of each note in 1st to 12th position: the fewer tunes a player knows in a position, the less familiar
    /// its scale is. Another position wins if it saves more than this price on each note.
    pub positions: [u32; 12],
}

/// Prices of bent notes.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BendWeights {
    /// A note bent by one semitone. For Bb4 a C harp (draw 3 bent) wins over a B flat harp (blow 4) if hole 4 costs
    /// more than this price; at equal effort the natural note wins.
    pub half_step: u32,
    /// Each further semitone.
    pub further: u32,
    /// A bend that is not the deepest of its hole: no reed stops it, so the ear must hold it in tune. Examples: draw 3
    /// bent by one or two semitones, draw 2 bent by one.
    pub unsteady: u32,
    /// A blow bend, in addition to the price of its depth: short reeds leave less room for error.
    pub blow: u32,
    /// The MIDI pitch above which a bend costs more, because the reeds are so short that they hardly bend. Blow bends
    /// that work on a G or A harp no longer work on an F harp.
    pub high_above: u8,
    /// Points for each semitone above `high_above`.
    pub high: u32,
    /// The price of an overblow or overdraw on hole 1 to 10. This price replaces `half_step`, `further`, `unsteady`,
    /// `blow`, `high` and `holes`. Hole 6 speaks most readily.
    pub overbends: [u32; HOLES as usize],
    /// Extra points for a bent note on hole 1 to 10, because reeds differ.
    pub holes: [u32; HOLES as usize],
    /// The price of repeating the same bend without a rest between, in per cent of the full price: the mouth keeps its
    /// shape.
    pub repeated: u32,
    /// A bend that ends the tune: listeners remember it, and no later note makes up for it.
    pub last: u32,
    /// Reaching a bend from another hole or breath, or from silence (the start of the tune or a rest), instead of
    /// sliding into it. Draw 3 followed by draw 3 bent does not cost this.
    pub cold: u32,
    /// Leaving a bend for another hole or breath instead of releasing it on the same reed.
    pub leave: u32,
    /// The duration below which a bend is hurried; grace notes are exempt.
    pub quick_ms: u32,
    /// Points for each 10 ms below `quick_ms`.
    pub quick: u32,
    /// The duration above which a bend must be held in tune.
    pub hold_ms: u32,
    /// Points for each 100 ms above `hold_ms`, up to two seconds in all.
    pub hold: u32,
}

/// Prices of moving along the harp. A jump of d holes is log2(d + 1) bits; beyond three holes, [`MoveWeights::far`] is
/// added.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MoveWeights {
    /// The price of one bit with time to spare; one bit is the distance to the neighbouring hole. On a C harp, E4 G4 is
    /// blow 2, blow 3 as long as a bit costs no more than [`BreathWeights::same_hole`]. If a bit costs more, the notes
    /// are blow 2, draw 2.
    pub bit: u32,
    /// The time that any move needs.
    pub base_ms: u32,
    /// The further time that each bit needs.
    pub bit_ms: u32,
    /// Points for each 10 ms that a move lacks. A step of one bit that needs 225 ms and has 125 ms costs ten times this
    /// price. If the change of breath costs less than that, draw 2 wins over blow 3 after blow 2.
    pub hurry: u32,
    /// Each hole of a jump beyond three holes: the mouth can no longer measure the distance and must aim.
    pub far: u32,
    /// A jump in one breath, without silence between the notes, over holes that would sound: the player must lift off
    /// or block those holes.
    pub over: u32,
    /// A move between a hole whose draw note is the higher and a hole whose draw note is the lower, on a Richter harp
    /// between holes 6 and 7. The order of blow and draw is reversed there, and the player has to think.
    pub turnover: u32,
}

/// Prices of changing the direction of the breath.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BreathWeights {
    /// A change of breath on one hole with time to spare. On a C harp, E4 G4 is blow 2, draw 2 if this is less than
    /// [`MoveWeights::bit`]; at equal effort blow 3 wins, because it needs no change.
    pub same_hole: u32,
    /// A change of breath to another hole with time to spare. On a C harp, C4 G4 is blow 1, draw 2 if this costs less
    /// than 0.58 bits, the difference between the jump to blow 3 and the step to draw 2.
    pub other_hole: u32,
    /// The time from which a change costs no more than `same_hole` or `other_hole`.
    pub free_ms: u32,
    /// Points for each 10 ms below `free_ms`.
    pub hurry: u32,
    /// The time below which a change gets very hard.
    pub hard_ms: u32,
    /// Further points for each 10 ms below `hard_ms`.
    pub hard: u32,
    /// The number of holes from which a jump makes the change harder.
    pub jump_holes: u32,
    /// Points for a jump together with a change of breath in less time than `fast_ms`. If a single hole counts as a
    /// jump, D5 G4 on a C harp is draw 4, blow 3 only while this costs less than 0.58 bits. Otherwise the notes are
    /// draw 4, draw 2: the jump is longer, but needs no change of breath.
    pub jump: u32,
    /// The time below which a change is called awkward. Awkward changes are counted and marked in the tab; of
    /// approaches that are equal in effort, notes and bends, the one with fewer awkward changes ranks first.
    pub awkward_ms: u32,
    /// The time below which a change of breath together with a jump is called awkward.
    pub fast_ms: u32,
}

/// Prices of the ends of the harp.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RegisterWeights {
    /// A note blown on hole 1 to 10. A tune moves up or down an octave if its notes cost less there in all.
    pub blow: [u32; HOLES as usize],
    /// A note drawn on hole 1 to 10, bent or not: for a beginner the long draw reeds of holes 2 and 3 are stubborn.
    pub draw: [u32; HOLES as usize],
    /// Coming to rest on a blow note (at the end of a phrase, on the tune's last pitch class) although a draw note
    /// sounds the same pitch. In 2nd position the tune rests on draw 2 rather than on blow 3, because the chord of the
    /// key lies there.
    pub rest_blown: u32,
    /// The MIDI pitch below which reeds are long and slow to speak.
    pub low_below: u8,
    /// The duration below which a slow reed makes a note harder.
    pub low_ms: u32,
    /// Points for each semitone below `low_below`, for notes shorter than `low_ms`.
    pub low: u32,
    /// The MIDI pitch above which reeds are short and stiff.
    pub high_above: u8,
    /// Points for each semitone above `high_above`.
    pub high: u32,
}

/// The size of a player's lungs, and the price of playing near their limits. Volumes are millilitres.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LungWeights {
    /// The vital capacity: from the deepest breath in to the deepest breath out.
    pub capacity_ml: u32,
    /// The air that a note takes in a second, in millilitres (an estimate).
    pub flow_ml: u32,
    /// The air of a bent note, in per cent of `flow_ml` (an estimate).
    pub bend_percent: u32,
    /// The MIDI pitch below which long reeds take more air.
    pub low_below: u8,
    /// The air of notes below `low_below`, in per cent of `flow_ml` (an estimate).
    pub low_percent: u32,
    /// The MIDI pitch above which short reeds take less air.
    pub high_above: u8,
    /// The air of notes above `high_above`, in per cent of `flow_ml` (an estimate).
    pub high_percent: u32,
    /// The lowest and highest volume, in per cent of the capacity, to which a player breathes before a phrase.
    pub start: [u32; 2],
    /// By how many millilitres a second of silence moves the volume towards the target.
    pub recover_ml: u32,
    /// The longest catch breath at the end of a phrase, in milliseconds. A catch breath takes its time from the last
    /// note, at most a third of the note.
    pub catch_ms: u32,
    /// The comfortable range, in per cent of the capacity.
    pub easy: [u32; 2],
    /// The range without strain, in per cent of the capacity.
    pub strained: [u32; 2],
    /// The lowest and highest possible volume, in per cent of the capacity.
    pub limits: [u32; 2],
    /// Points for each second at 10 % of the capacity outside the comfortable range.
    pub uneasy: u32,
    /// Further points for each second at 10 % of the capacity outside the range without strain.
    pub strain: u32,
    /// Points for each note in which the lungs reach a limit.
    pub gasp: u32,
}

impl LungWeights {
    /// The largest lungs in the model; a larger capacity is treated as this one. The model therefore has at most
    /// `MOST_ML + 1` volumes.
    pub const MOST_ML: u32 = Weights::HIGHEST as u32;
}

impl Weights {
    /// The highest price, time or percentage that a file may state: five times an improver's price of a missing
    /// note.
    pub(super) const HIGHEST: i64 = 10_000;

    /// Reads weights from TOML, which must have every field of this type.
    ///
    /// # Errors
    ///
    /// The error names the line or the field, and says what is expected there.
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
            return fault(format!("lungs.start is {start:?}; write two percentages, the lower one first"));
        }
        let inside = |inner: &[u32; 2], outer: &[u32; 2]| outer[0] <= inner[0] && inner[1] <= outer[1];
        for (name, range, outer) in
            [("limits", limits, &[0, 100]), ("strained", strained, limits), ("easy", easy, strained)]
        {
            if range[0] >= range[1] || !inside(range, outer) {
                return fault(format!(
                    "lungs.{name} is {range:?}; write two percentages, the lower one first, each range inside the \
                     next wider one"
                ));
            }
        }
        Ok(())
    }

    /// Returns the gap between two notes, given their starts and ends in milliseconds.
    pub fn gap(&self, from: (u64, u64), to: (u64, u64)) -> Gap {
        Gap {
            time_ms: Gap::millis(to.0.saturating_sub(from.0)),
            rested: to.0.saturating_sub(from.1) >= u64::from(self.rest_ms),
            joined: to.0 <= from.1,
        }
    }

    /// Returns the effort of a note that is not sounded.
    pub fn missing(&self, heard: &Heard) -> Effort {
        Effort::of(Term::Missing, heard.price(&self.missing))
    }

    /// Returns the effort that the position adds to each note.
    pub fn in_position(&self, position: Position) -> Effort {
        let price = self.positions[usize::from(position.number().clamp(1, 12) - 1)];
        Effort::of(Term::Position, price.into())
    }

    /// Returns the effort of sounding a note in a way, whatever the player did before.
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

    /// Returns the price of shaping a bend that does not repeat the previous bend.
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

    /// Returns the part of a bend's price that is due even when the bend repeats.
    fn repeating(&self, way: &Way) -> u64 {
        points(self.shaping(way), self.bends.repeated.min(100), 100)
    }

    /// Returns the part of a bend's price that is due only when the bend does not repeat.
    pub(super) fn shaped_anew(&self, way: &Way) -> u64 {
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

    /// Returns the effort of beginning the tune with a note.
    pub fn start(&self, to: &Way) -> Effort {
        let cold = if to.is_bent() { u64::from(self.bends.cold) } else { 0 };
        Effort::of(Term::Bends, cold + self.shaped_anew(to))
    }

    /// Returns the effort of going from one note to the next in the time between them.
    pub fn step(&self, from: &Way, to: &Way, gap: Gap) -> Effort {
        let bends = self.bend_between(from, to, gap, self.shaped_anew(to));
        if gap.rested {
            return Effort::of(Term::Bends, bends);
        }
        let jump = from.action.hole.abs_diff(to.action.hole);
        let turns = from.action.breath != to.action.breath;
        let moves = self.jump(jump, turns, gap) + self.turnover(from, to);
        let breath = self.turn(jump, turns, gap);
        Effort::of(Term::Bends, bends).with(Term::Moves, moves).with(Term::Breath, breath)
    }

    /// Returns the price of a jump, without [`Weights::turnover`].
    pub(super) fn jump(&self, jump: u8, turns: bool, gap: Gap) -> u64 {
        let over = if jump > 1 && !turns && gap.joined { self.moves.over } else { 0 };
        if jump == 0 { 0 } else { self.move_by(jump, gap.time_ms) + u64::from(over) }
    }

    /// Returns the price of moving between holes with a different order of blow and draw.
    pub(super) fn turnover(&self, from: &Way, to: &Way) -> u64 {
        let same = from.traits.upside_down == to.traits.upside_down || from.action.hole == to.action.hole;
        if same { 0 } else { self.moves.turnover.into() }
    }

    /// Returns the price of a change of breath, if the breath changes.
    pub(super) fn turn(&self, jump: u8, turns: bool, gap: Gap) -> u64 {
        if turns { self.breath_change(jump, gap.time_ms) } else { 0 }
    }

    /// Returns the price of reaching a bend and of leaving a bend; `anew` is [`Weights::shaped_anew`] of `to`.
    pub(super) fn bend_between(&self, from: &Way, to: &Way, gap: Gap, anew: u64) -> u64 {
        // Most steps involve no bend.
        if !from.is_bent() && !to.is_bent() {
            return 0;
        }
        let same_reed = from.action.hole == to.action.hole && from.action.breath == to.action.breath;
        let slides = same_reed && !gap.rested;
        let cold = if !to.is_bent() || slides { 0 } else { self.bends.cold };
        // After a rest there is no bend to leave.
        let leave = if !from.is_bent() || slides || gap.rested { 0 } else { self.bends.leave };
        let repeats = from.action == to.action && !gap.rested;
        let anew = if repeats { 0 } else { anew };
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

    /// Returns the time that a jump needs.
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

    /// Returns the time in which a step is comfortable: its jump is not hurried, and its change of breath is not
    /// awkward.
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

    /// Whether a change of breath has less time than is comfortable, or little time together with a jump.
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

/// The time after which holding a bend costs nothing more: a bend in tune for this long stays in tune.
const LONGEST_HELD_MS: u32 = 2000;

/// 100 · log2(d + 1) for a jump of d holes, rounded.
const HUNDREDTHS_OF_A_BIT: [u64; HOLES as usize] = [0, 100, 158, 200, 232, 258, 281, 300, 317, 332];

/// Returns by how many milliseconds a time falls short of the needed time.
fn lacking(time_ms: u32, wanted_ms: u64) -> u64 {
    wanted_ms.saturating_sub(time_ms.into())
}

/// Returns the points for an amount at `price` points for every `each` units, rounded down.
pub(super) fn points(amount: u64, price: u32, each: u64) -> u64 {
    amount.saturating_mul(price.into()) / each
}
