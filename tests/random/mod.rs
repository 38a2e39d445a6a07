//! Random short and long tunes with every property that a price depends on: rests, grace notes, meters, tempos,
//! tunings, techniques and weights.

use breathline::{
    harp::{Harp, Register, Technique, Tuning},
    melody::{
        Bar, Melody, Note,
        key::{Key, Mode},
    },
    pitch::{Interval, Pitch, PitchClass},
    search::{
        Playing, Request, Weights,
        path::{self, Reach, Timeline},
    },
    time::{Beats, Meter, TempoMap},
};
use proptest::prelude::*;

use crate::players::{each_number, improver, player};

/// A tune for a harp and a player.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    pub(crate) melody: Melody,
    pub(crate) harp: Harp,
    pub(crate) technique: Technique,
    pub(crate) weights: Weights,
    /// The interval by which the tune is moved to fit the harp.
    pub(crate) shift: Interval,
}

impl Case {
    pub(crate) fn best(&self) -> Playing {
        path::best(
            &Timeline::new(&self.melody),
            &Reach::new(&self.harp, self.technique),
            &self.weights,
            self.shift,
        )
    }

    pub(crate) fn price(&self, actions: &[Option<breathline::harp::Action>]) -> Playing {
        let (line, reach) = (Timeline::new(&self.melody), Reach::new(&self.harp, self.technique));
        path::price(&line, actions, &reach, &self.weights, self.shift)
    }

    pub(crate) fn request<'a>(&'a self, harps: &'a [Harp]) -> Request<'a> {
        Request {
            melody: &self.melody,
            key: Key { tonic: PitchClass::new(2), mode: Mode::Dorian },
            harps,
            technique: self.technique,
            weights: &self.weights,
            any_key: false,
            pins: &[],
        }
    }
}

/// Every technique.
pub(crate) const TECHNIQUES: [Technique; 4] =
    [Technique::None, Technique::Draw, Technique::All, Technique::Over];

/// Generates a case of at most `most_notes` notes.
pub(crate) fn case(most_notes: usize) -> impl Strategy<Value = Case> {
    let fewest = if most_notes > 10 { most_notes / 2 } else { 1 };
    let notes = prop::collection::vec(note_seed(), fewest..=most_notes);
    (notes, harp(), prop::sample::select(&TECHNIQUES[..]), weights(), tempo(), meter(), -14..=14i16).prop_map(
        |(seeds, harp, technique, weights, tempo, meter, shift)| {
            let shift = Interval(shift);
            let melody = melody(&seeds, &harp, technique, tempo, meter, shift);
            Case { melody, harp, technique, weights, shift }
        },
    )
}

/// The random choices that determine a note.
#[derive(Clone, Debug)]
struct NoteSeed {
    pick: prop::sample::Index,
    pitch: PitchKind,
    length: Beats,
    rest_before: Beats,
    grace: bool,
}

#[derive(Clone, Copy, Debug)]
enum PitchKind {
    /// A note that can be sounded in several ways, if the harp has such notes.
    Ambiguous,
    /// A note that the harp can sound if every technique is allowed.
    OnHarp,
    /// Any pitch that MIDI has.
    Any,
}

fn note_seed() -> impl Strategy<Value = NoteSeed> {
    let pitch = prop_oneof![
        5 => Just(PitchKind::Ambiguous),
        4 => Just(PitchKind::OnHarp),
        1 => Just(PitchKind::Any),
    ];
    let lengths = [(1, 16), (1, 8), (1, 4), (1, 3), (1, 2), (3, 4), (1, 1), (3, 2), (4, 1)];
    let length = prop::sample::select(lengths.to_vec()).prop_map(|(over, under)| Beats::new(over, under));
    let rest_before = prop_oneof![
        8 => Just(Beats::ZERO),
        1 => Just(Beats::new(1, 4)),
        1 => Just(Beats::new(1, 2)),
        1 => Just(Beats::quarters(2)),
    ];
    (any::<prop::sample::Index>(), pitch, length, rest_before, prop::bool::weighted(0.2)).prop_map(
        |(pick, pitch, length, rest_before, grace)| NoteSeed { pick, pitch, length, rest_before, grace },
    )
}

pub(crate) fn harp() -> impl Strategy<Value = Harp> {
    let registers = [Register::Low, Register::Standard, Register::High];
    (0..12i16, prop::sample::select(registers.to_vec()), prop::sample::select(Tuning::built_in()))
        .prop_map(|(key, register, tuning)| Harp::new(PitchClass::new(key), register, tuning))
}

/// Generates one or two tempos, from 40 to 240 quarters per minute.
fn tempo() -> impl Strategy<Value = TempoMap> {
    let micros = 250_000..=1_500_000u32;
    (micros.clone(), micros, 0..8i32)
        .prop_map(|(first, then, at)| TempoMap::new([(Beats::ZERO, first), (Beats::quarters(at), then)]))
}

fn meter() -> impl Strategy<Value = Meter> {
    let meters = [(2, 4), (3, 4), (4, 4), (6, 8), (9, 8), (5, 4)];
    prop::sample::select(meters.to_vec()).prop_map(|(beats, unit)| Meter { beats, unit })
}

/// Generates the default player, players with other numbers, players with small lungs, and players for whom so few
/// things have a price that many playings are equally good.
pub(crate) fn weights() -> impl Strategy<Value = Weights> {
    let factors = |factor| prop::collection::vec(factor, 130);
    prop_oneof![
        2 => Just(Weights::default()),
        3 => factors((0..=300i64).boxed()).prop_map(|factors| scaled(&factors)),
        3 => factors(prop_oneof![4 => Just(0i64), 1 => Just(100)].boxed()).prop_map(|factors| scaled(&factors)),
        // Lungs so small that they matter within a few notes.
        3 => (factors((0..=300i64).boxed()), 50..900u32).prop_map(|(factors, capacity)| {
            let mut weights = scaled(&factors);
            weights.lungs.capacity_ml = capacity;
            weights
        }),
        1 => Just(scaled(&[0; 130])),
    ]
}

/// Returns the default player's numbers, each except the ranges of the lungs multiplied by its factor in per cent.
fn scaled(factors: &[i64]) -> Weights {
    let mut numbers = improver();
    let mut factors = factors.iter().cycle();
    each_number(&mut numbers, "", &mut |name, number| {
        let highest = if is_pitch(name) { 127 } else { 10_000 };
        let factor = factors.next().unwrap();
        // Each range of the lungs must stay inside the next wider one.
        if !["lungs.start", "lungs.easy", "lungs.strained", "lungs.limits"]
            .iter()
            .any(|range| name.starts_with(range))
        {
            *number = (*number * factor / 100).min(highest);
        }
    });
    player(&numbers)
}

/// Whether a field of the weights is a MIDI pitch.
pub(crate) fn is_pitch(name: &str) -> bool {
    name.ends_with("low_below") || name.ends_with("high_above")
}

fn melody(
    seeds: &[NoteSeed],
    harp: &Harp,
    technique: Technique,
    tempo: TempoMap,
    meter: Meter,
    shift: Interval,
) -> Melody {
    /// The most grace notes before one note: more than any ornament has.
    const MOST_GRACES_IN_A_ROW: usize = 4;
    let on_harp: Vec<Pitch> = harp.actions().iter().map(|&(pitch, _)| pitch).collect();
    let ways = |pitch: Pitch| harp.actions_for(pitch).filter(|&action| technique.allows(action)).count();
    let ambiguous: Vec<Pitch> = on_harp.iter().copied().filter(|&pitch| ways(pitch) > 1).collect();

    let mut notes: Vec<Note> = Vec::new();
    let mut now = Beats::ZERO;
    let mut graces = 0;
    for (index, seed) in seeds.iter().enumerate() {
        let pitch = match seed.pitch {
            PitchKind::Ambiguous if !ambiguous.is_empty() => *seed.pick.get(&ambiguous),
            PitchKind::Ambiguous | PitchKind::OnHarp => *seed.pick.get(&on_harp),
            PitchKind::Any => Pitch::new(seed.pick.index(128) as u8).unwrap(),
        };
        // If the move back would leave the MIDI range, the pitch itself is used.
        let pitch = pitch.transposed(Interval(-shift.0)).unwrap_or(pitch);
        // A grace note leads to another note, without a rest between.
        let grace = seed.grace && index + 1 < seeds.len() && graces < MOST_GRACES_IN_A_ROW;
        if graces == 0 {
            now += seed.rest_before;
        }
        graces = if grace { graces + 1 } else { 0 };
        let duration = if grace { Beats::ZERO } else { seed.length };
        notes.push(Note { grace, ..Note::new(now, duration, pitch, 0) });
        now += duration;
    }

    let mut bars = vec![Bar::full(1, Beats::ZERO, meter)];
    for note in &mut notes {
        while let Some(bar) = bars.last().filter(|bar| bar.start + bar.length <= note.onset) {
            bars.push(Bar::full(bar.number + 1, bar.start + bar.length, meter));
        }
        note.bar = bars.len() - 1;
    }
    Melody { notes, bars, tempo, ..Melody::default() }
}
