//! Laws that the search obeys on every tune, for every harp and every player.
//!
//! The oracles share with the search only the prices of single steps ([`Weights::start`], `step`, `hold`, `missing`,
//! `gap`); what they make of them is their own.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test says what fails by failing")]

mod players;
mod random;
mod tunes;

use std::{cmp::Reverse, collections::BTreeMap};

use breathline::{
    harp::{Action, Harp, Register, Technique, Tuning},
    melody::{Melody, phrase},
    pitch::{Interval, PitchClass},
    search::{Effort, Playing, Ranking, Weights, effort::Way, search},
    time::{Beats, TempoMap},
};
use petgraph::graph::{DiGraph, NodeIndex};
use players::{each_number, improver, player};
use proptest::prelude::*;
use random::{Case, TECHNIQUES, case, harp, is_pitch};
use tunes::tune;

/// A note as the oracles see it.
struct Step {
    ways: Vec<Way>,
    span: (u64, u64),
    sounding_ms: u32,
    grace: bool,
    phrase_end: bool,
}

fn steps(case: &Case) -> Vec<Step> {
    let ends: Vec<usize> = phrase::ends(&case.melody).iter().map(|end| end.note).collect();
    let notes = case.melody.notes.iter().zip(case.melody.timing()).enumerate();
    let notes = notes.map(|(index, (note, sounding))| {
        let span = (sounding.start / 1000, sounding.end / 1000);
        let pitch = note.pitch.transposed(case.shift);
        let actions: Vec<Action> =
            pitch.map(|pitch| case.harp.actions_for(pitch).collect()).unwrap_or_default();
        let way = |action| Way { action, pitch: pitch.unwrap(), deepest: case.harp.is_deepest(action) };
        Step {
            ways: actions.into_iter().filter(|&action| case.technique.allows(action)).map(way).collect(),
            span,
            sounding_ms: (span.1 - span.0).min(60_000) as u32,
            grace: note.grace,
            phrase_end: ends.contains(&index),
        }
    });
    notes.collect()
}

/// A sounded note, how it is played, and the air after it.
type Sounded<'a> = (&'a Step, &'a Way, u32);

/// What coming to a note and sounding it costs, lungs included, from a note and the air after it; and the air then.
fn breathing(weights: &Weights, from: Option<Sounded>, to: &Step, way: &Way) -> (u64, u32) {
    let lungs = &weights.lungs;
    let air = match from {
        None => lungs.middle(),
        Some((step, _, air)) => {
            let rest = to.span.0.saturating_sub(step.span.1).min(60_000) as u32;
            let catch = if step.phrase_end { lungs.catch(step.sounding_ms) } else { 0 };
            lungs.rested(air, rest + catch)
        }
    };
    let aired = lungs.sounded(air, way, to.sounding_ms);
    let coming = coming(weights, from.map(|(step, from, _)| (step, from)), to, way);
    (coming.saturating_add(aired.points), aired.level_ml)
}

fn coming(weights: &Weights, from: Option<(&Step, &Way)>, to: &Step, way: &Way) -> u64 {
    let arriving = match from {
        None => weights.start(way.action),
        Some((step, from)) => weights.step(from.action, way.action, weights.gap(step.span, to.span)),
    };
    arriving.total() + weights.hold(way, to.sounding_ms).total()
}

/// A playing by the order in which the search prefers them: effort, breath changes, and then, from the first note on,
/// the easier action.
type Preference = (u64, u32, Vec<Option<Action>>);

/// The most preferred of all playings, each of them built and summed.
fn exhaustive(weights: &Weights, steps: &[Step]) -> Preference {
    fn go<'a>(
        weights: &Weights,
        steps: &'a [Step],
        chosen: &mut Vec<Option<&'a Way>>,
        best: &mut Option<Preference>,
    ) {
        let Some(step) = steps.get(chosen.len()) else {
            let found = preference(weights, steps, chosen);
            if best.as_ref().is_none_or(|best| found < *best) {
                *best = Some(found);
            }
            return;
        };
        let left_out = step.ways.is_empty().then_some(None);
        for choice in step.ways.iter().map(Some).chain(left_out) {
            chosen.push(choice);
            go(weights, steps, chosen, best);
            chosen.pop();
        }
    }
    let mut best = None;
    go(weights, steps, &mut Vec::new(), &mut best);
    best.unwrap()
}

fn preference(weights: &Weights, steps: &[Step], chosen: &[Option<&Way>]) -> Preference {
    let (mut effort, mut changes, mut from) = (0, 0, None::<Sounded>);
    for (step, way) in steps.iter().zip(chosen) {
        match way {
            None => effort += weights.missing(step.grace).total(),
            Some(way) => {
                let (coming, air) = breathing(weights, from, step, way);
                effort += coming;
                changes +=
                    u32::from(from.is_some_and(|(_, from, _)| from.action.breath != way.action.breath));
                from = Some((step, way, air));
            }
        }
    }
    (effort, changes, chosen.iter().map(|way| way.map(|way| way.action)).collect())
}

fn preference_of(playing: &Playing) -> Preference {
    let changes = playing.notes.iter().filter(|note| note.breath_change).count() as u32;
    (playing.effort.total(), changes, actions(playing))
}

/// The length of the shortest path from before the first note to after the last, by a library that knows no music: a
/// node for every action and every volume of air that can be reached.
fn shortest_path(weights: &Weights, steps: &[Step]) -> u64 {
    let mut graph: DiGraph<(), u64> = DiGraph::new();
    let start = graph.add_node(());
    // How the last sounded note can have been played, with the air after it.
    let mut before: Vec<(NodeIndex, Option<Sounded>)> = vec![(start, None)];
    let mut missing = 0_u64;
    for step in steps {
        if step.ways.is_empty() {
            missing = missing.saturating_add(weights.missing(step.grace).total());
            continue;
        }
        let mut here: BTreeMap<(usize, u32), NodeIndex> = BTreeMap::new();
        for &(node, from) in &before {
            for (index, way) in step.ways.iter().enumerate() {
                let (coming, air) = breathing(weights, from, step, way);
                let to = *here.entry((index, air)).or_insert_with(|| graph.add_node(()));
                graph.add_edge(node, to, coming);
            }
        }
        before =
            here.into_iter().map(|((way, air), node)| (node, Some((step, &step.ways[way], air)))).collect();
    }
    let end = graph.add_node(());
    for (node, _) in before {
        graph.add_edge(node, end, 0);
    }
    petgraph::algo::dijkstra(&graph, start, Some(end), |edge| *edge.weight())[&end] + missing
}

fn actions(playing: &Playing) -> Vec<Option<Action>> {
    playing.notes.iter().map(|note| note.action).collect()
}

/// The harp with its key note so many semitones higher, or `None` where no such harp is built.
fn moved(harp: &Harp, by: Interval) -> Option<Harp> {
    let root = harp.root().transposed(by)?;
    let registers = [Register::Low, Register::Standard, Register::High];
    let all = registers.iter().flat_map(|&register| {
        PitchClass::all().map(move |key| Harp::new(key, register, harp.tuning().clone()))
    });
    all.into_iter().find(|harp| harp.root() == root)
}

fn without_ends(weights: &Weights) -> Weights {
    let mut weights = weights.clone();
    (weights.register.low, weights.register.high, weights.bends.high) = (0, 0, 0);
    (weights.lungs.low_percent, weights.lungs.high_percent) = (100, 100);
    weights
}

/// The row that is ranked first, by what decides it.
fn standing(ranking: &Ranking) -> Option<(u32, u64)> {
    ranking.best().map(|best| (best.counts.shortfall(), best.playing.effort.total()))
}

/// Fields that say "longer than", "from" or "above": raising them makes fewer notes dear.
const FALLING: [&str; 4] = ["bends.hold_ms", "bends.high_above", "breath.jump_holes", "register.high_above"];

/// Of the lungs only the prices: what they hold and take can help or hinder.
fn is_price(name: &str) -> bool {
    !name.starts_with("lungs.") || ["lungs.uneasy", "lungs.strain", "lungs.gasp"].contains(&name)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, ..ProptestConfig::default() })]

    #[test]
    fn the_optimum_is_that_of_an_exhaustive_search(case in case(7)) {
        prop_assert_eq!(preference_of(&case.best()), exhaustive(&case.weights, &steps(&case)));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn the_optimum_of_a_long_tune_is_a_shortest_path(case in case(400)) {
        prop_assert_eq!(case.best().effort.total(), shortest_path(&case.weights, &steps(&case)));
    }

    #[test]
    fn the_order_in_which_harps_are_named_does_not_change_the_ranking(
        case in case(12),
        (harps, shuffled) in prop::collection::vec(harp(), 2..8).prop_flat_map(|harps| {
            // Some are named twice.
            let mut named = harps.clone();
            named.extend_from_slice(&harps[..harps.len() / 2]);
            (Just(harps), Just(named).prop_shuffle())
        }),
        any_key: bool,
    ) {
        let (mut given, mut other) = (case.request(&harps), case.request(&shuffled));
        (given.any_key, other.any_key) = (any_key, any_key);
        prop_assert_eq!(search(&given), search(&other));
    }

    #[test]
    fn the_same_question_has_the_same_answer(case in case(60)) {
        let harps = Harp::standard_set(&Tuning::richter());
        let again = case.clone();
        prop_assert_eq!(search(&case.request(&harps)), search(&again.request(&harps)));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn the_total_is_the_sum_of_what_is_shown(case in case(30)) {
        let playing = case.best();
        let effort = playing.effort;
        prop_assert_eq!(playing.notes.len(), case.melody.notes.len());
        prop_assert_eq!(
            effort.total(),
            effort.bends + effort.moves + effort.breath + effort.register + effort.lungs + effort.missing
        );
        let sum = |term: fn(&Effort) -> u64| playing.notes.iter().map(|note| term(&note.effort)).sum::<u64>();
        prop_assert_eq!(effort.bends, sum(|effort| effort.bends));
        prop_assert_eq!(effort.moves, sum(|effort| effort.moves));
        prop_assert_eq!(effort.breath, sum(|effort| effort.breath));
        prop_assert_eq!(effort.register, sum(|effort| effort.register));
        prop_assert_eq!(effort.lungs, sum(|effort| effort.lungs));
        prop_assert_eq!(effort.missing, sum(|effort| effort.missing));
        prop_assert_eq!(&case.price(&actions(&playing)), &playing);
    }

    #[test]
    fn what_is_played_sounds_the_tune(case in case(30)) {
        for (note, played) in case.melody.notes.iter().zip(case.best().notes) {
            match played.action {
                Some(action) => {
                    prop_assert!(case.technique.allows(action));
                    prop_assert_eq!(case.harp.pitch(action), note.pitch.transposed(case.shift));
                }
                None => {
                    let pitch = note.pitch.transposed(case.shift);
                    let mut ways = pitch.into_iter().flat_map(|pitch| case.harp.actions_for(pitch));
                    prop_assert!(!ways.any(|action| case.technique.allows(action)), "left out without need");
                }
            }
        }
    }

    /// The register term and the air see the sounding pitch: reeds below a certain pitch are slow and take more, reeds
    /// above one are stiff and take less. But for that, a tune and a harp moved together stay as they are.
    #[test]
    fn transposing_tune_and_harp_together_changes_neither_tab_nor_effort(case in case(12), by in -35..=35i16) {
        let by = Interval(by);
        let melody = case.melody.transposed(by);
        let (Some(harp), Some(melody)) = (moved(&case.harp, by), melody) else { return Ok(()) };
        // How hard a bend is depends on how high it sounds.
        let mut case = case;
        case.weights.bends.high = 0;
        let moved = Case { melody, harp, ..case.clone() };

        let (here, there) = (case.price(&actions(&case.best())), moved.price(&actions(&case.best())));
        for (here, there) in here.notes.iter().zip(&there.notes) {
            let same_register =
                Effort { register: here.effort.register, lungs: here.effort.lungs, ..there.effort };
            prop_assert_eq!((here.action, here.effort, here.awkward), (there.action, same_register, there.awkward));
        }

        let case = Case { weights: without_ends(&case.weights), ..case };
        let moved = Case { weights: without_ends(&moved.weights), ..moved };
        prop_assert_eq!(case.best(), moved.best());
        let harps = (std::slice::from_ref(&case.harp), std::slice::from_ref(&moved.harp));
        let (here, mut there) = (case.request(harps.0), moved.request(harps.1));
        there.key.tonic = here.key.tonic.transposed(by);
        let (here, there) = (search(&here), search(&there));
        prop_assert_eq!(here.approaches.len(), there.approaches.len());
        for (here, there) in here.approaches.iter().zip(&there.approaches) {
            prop_assert_eq!((here.position, here.octave, &here.playing), (there.position, there.octave, &there.playing));
        }
    }

    /// A note that can be sounded must be, however dear, so the comparison is that of the ranking: notes first.
    #[test]
    fn a_technique_more_never_makes_it_harder(case in case(12)) {
        let standings = TECHNIQUES.map(|technique| {
            let case = Case { technique, ..case.clone() };
            let playing = case.best();
            let notes = playing.notes.iter().zip(&case.melody.notes);
            let missing = notes.filter(|(played, _)| played.action.is_none());
            let (graces, main): (Vec<_>, Vec<_>) = missing.partition(|(_, note)| note.grace);
            (main.len(), graces.len(), playing.effort.total())
        });
        prop_assert!(standings.is_sorted_by_key(|&standing| Reverse(standing)), "{:?}", standings);
    }

    #[test]
    fn a_harp_more_never_makes_it_harder(case in case(8), harps in prop::collection::vec(harp(), 1..5)) {
        let (few, all) = (&harps[1..], &harps[..]);
        let (few, all) = (standing(&search(&case.request(few))), standing(&search(&case.request(all))));
        prop_assert!(few.is_none() || all <= few, "{:?} {:?}", few, all);
    }

    #[test]
    fn no_other_playing_costs_less(case in case(40), picks in prop::collection::vec(any::<prop::sample::Index>(), 40)) {
        let best = case.best();
        let steps = steps(&case);
        let other: Vec<Option<Action>> = steps.iter().zip(&picks).map(|(step, pick)| {
            step.ways.get(pick.index(step.ways.len().max(1))).map(|way| way.action)
        }).collect();
        let other = case.price(&other);
        prop_assert!(best.effort.total() <= other.effort.total());
        // The same with only a few notes played differently.
        let mut near = actions(&best);
        for (pick, other) in picks.iter().zip(actions(&other)).take(3) {
            let at = pick.index(near.len());
            if steps[at].ways.iter().any(|way| Some(way.action) == other) {
                near[at] = other;
            }
        }
        prop_assert!(best.effort.total() <= case.price(&near).effort.total());
    }

    /// A longer bend must be held in tune, a bend after a rest starts cold, and longer notes take more air; nothing else
    /// likes haste.
    #[test]
    fn more_time_never_costs_more(case in case(12)) {
        let slow = Case { melody: slowed(&case.melody), ..case.clone() };
        let tab = actions(&case.best());
        for (fast, slow) in case.price(&tab).notes.iter().zip(slow.price(&tab).notes) {
            let (fast, slow) = (fast.effort, slow.effort);
            prop_assert!(slow.moves <= fast.moves && slow.breath <= fast.breath);
            prop_assert!(slow.register <= fast.register && slow.missing == fast.missing);
        }
        let mut weights = case.weights.clone();
        (weights.bends.hold, weights.bends.cold) = (0, 0);
        (weights.lungs.uneasy, weights.lungs.strain, weights.lungs.gasp) = (0, 0, 0);
        let (case, slow) = (Case { weights: weights.clone(), ..case }, Case { weights, ..slow });
        for (fast, slow) in case.price(&tab).notes.iter().zip(slow.price(&tab).notes) {
            prop_assert!(slow.effort.bends <= fast.effort.bends);
        }
        prop_assert!(slow.best().effort.total() <= case.best().effort.total());
    }
}

/// The melody at half its tempo.
fn slowed(melody: &Melody) -> Melody {
    // Tempi change on quarters only.
    let last = melody.notes.last().map_or(0, |note| note.end().as_f64() as i32 + 1);
    let tempo = TempoMap::new((0..=last).map(|quarter| {
        let length =
            melody.tempo.micros(Beats::quarters(quarter + 1)) - melody.tempo.micros(Beats::quarters(quarter));
        (Beats::quarters(quarter), 2 * length as u32)
    }));
    Melody { tempo, ..melody.clone() }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn raising_a_weight_never_lowers_the_optimum(case in case(12), raise in 1..200i64) {
        let mut names = Vec::new();
        each_number(&mut improver(), "", &mut |name, _| names.push(name.to_owned()));
        let before = Case { weights: Weights::default(), ..case };
        for raised in names.into_iter().filter(|name| is_price(name)) {
            let mut numbers = improver();
            each_number(&mut numbers, "", &mut |name, number| {
                if name == raised {
                    *number += if is_pitch(name) { raise % 30 } else { raise };
                }
                // A longer rest can spare a bend its cold start; everything else about a rest gets dearer.
                if raised == "rest_ms" && name == "bends.cold" {
                    *number = 0;
                }
            });
            let after = Case { weights: player(&numbers), ..before.clone() };
            let mut before = before.clone();
            if raised == "rest_ms" {
                before.weights.bends.cold = 0;
            }
            let (before, after) = (before.best().effort.total(), after.best().effort.total());
            let (cheap, dear) = if FALLING.contains(&raised.as_str()) { (after, before) } else { (before, after) };
            prop_assert!(cheap <= dear, "{raised}: {before} became {after}");
        }
    }
}

#[test]
fn no_number_is_too_large() {
    let mut numbers = improver();
    each_number(&mut numbers, "", &mut |name, number| {
        *number = if is_pitch(name) { 127 } else { i64::from(u32::MAX) };
    });
    let weights: Weights = toml::from_str(&toml::to_string(&numbers).unwrap()).unwrap();
    let melody = tune("C4 ~D4 Eb4:1/64 F4:1/64 G7:1/64 Ab4:1/64 C6 C#7:100 C2", 300);
    let harp = Harp::standard_set(&Tuning::richter()).remove(5);
    for shift in [0, -12, 36, i16::MAX, i16::MIN] {
        let case = Case {
            melody: melody.clone(),
            harp: harp.clone(),
            technique: Technique::Over,
            weights: weights.clone(),
            shift: Interval(shift),
        };
        assert!(case.best().effort.total() >= u64::from(u32::MAX));
    }
}

/// A hostile file: nine thousand grace notes on one beat are searched like any others.
#[test]
fn grace_notes_without_end_are_bounded() {
    let graces = "~G4 ~Bb4 ~A4 ".repeat(3000);
    let case = Case {
        melody: tune(&format!("C4 {graces} C5"), 120),
        harp: Harp::standard_set(&Tuning::richter()).remove(5),
        technique: Technique::Over,
        weights: Weights::default(),
        shift: Interval(0),
    };
    let best = case.best();
    assert_eq!(best.effort.total(), shortest_path(&case.weights, &steps(&case)));
    assert_eq!(best.notes.len(), 9002);
}
