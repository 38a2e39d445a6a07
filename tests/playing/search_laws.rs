//! Laws that the search obeys for every tune, every harp and every player.
//!
//! The oracles share with the search the prices of single steps ([`Weights::start`], `step`, `hold`, `missing`, `gap`),
//! and the times and phrases of the notes; they combine them with their own code.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a panic is how a test reports a failure")]

use crate::graph;
use crate::players;
use crate::random;
use crate::tunes;

use std::cmp::Reverse;

use breathline::{
    harp::{Action, Harp, Register, Technique, Tuning},
    melody::Melody,
    pitch::{Interval, PitchClass},
    search::{
        self, Approach, EditWeights, Pin, Playing, Ranking, Region, Request, Term, Twin, Wanted, Weights,
        effort::Way, search, search_for,
    },
    time::{Beats, TempoMap},
};
use graph::{Sounded, Step, breathing};
use petgraph::graph::NodeIndex;
use players::{each_number, improver, player};
use proptest::prelude::*;
use random::{Case, TECHNIQUES, case, harp, is_pitch};
use tunes::tune;

fn steps(case: &Case) -> Vec<Step> {
    graph::steps(&case.melody, &case.harp, case.technique, &case.weights, case.shift)
}

/// Returns the length of the shortest path, computed by a library that knows nothing about music, plus the price of the
/// missing notes.
fn shortest_path(weights: &Weights, steps: &[Step]) -> u64 {
    let graph = graph::Graph::new(weights, steps);
    let (edges, end) = (graph.petgraph(), NodeIndex::from(graph.end()));
    let lengths = petgraph::algo::dijkstra(&edges, NodeIndex::from(0), Some(end), |edge| *edge.weight());
    lengths[&end] + graph.missing
}

/// The order in which the search prefers playings: effort, breath changes, and then the easier action at the first
/// differing note.
type Preference = (u64, u32, Vec<Option<Action>>);

/// Builds every playing, adds up its effort, and returns the preference of the best one.
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
            None => effort += weights.missing(&step.heard).total(),
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

fn actions(playing: &Playing) -> Vec<Option<Action>> {
    playing.notes.iter().map(|note| note.action).collect()
}

/// Returns the harp whose key note is higher by the interval `by`, or `None` if no such harp is built.
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

/// Returns the effort of the first row.
fn least(ranking: &Ranking) -> Option<u64> {
    ranking.best().map(|best| best.playing.effort.total())
}

/// Fields that mean "longer than", "from" or "above": raising them makes fewer notes expensive.
const FALLING: [&str; 4] = ["bends.hold_ms", "bends.high_above", "breath.jump_holes", "register.high_above"];

/// Returns whether raising a field can change the effort in one direction only. Of the fields of the lungs, this is
/// true only of the prices: a larger capacity or flow may lower or raise the effort.
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

/// Makes pins from the ways to sound the notes, at most one for each note.
fn pins(case: &Case, seeds: &[(prop::sample::Index, prop::sample::Index)]) -> Vec<Pin> {
    let steps = steps(case);
    let mut pins: Vec<Pin> = Vec::new();
    for (note, way) in seeds {
        let note = note.index(steps.len());
        let ways = &steps[note].ways;
        if !ways.is_empty() && pins.iter().all(|pin| pin.note != note) {
            pins.push(Pin { note, action: ways[way.index(ways.len())].action });
        }
    }
    pins.sort();
    pins
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    #[test]
    fn around_pins_the_rest_is_solved_as_by_an_exhaustive_search(
        case in case(7),
        seeds in prop::collection::vec(any::<(prop::sample::Index, prop::sample::Index)>(), 1..4),
    ) {
        let (harps, pins) = (std::slice::from_ref(&case.harp), pins(&case, &seeds));
        let free = Request { any_key: true, ..case.request(harps) };
        let rows = search(&Request { pins: &pins, ..free.clone() }).approaches;
        for row in &rows {
            for pin in &pins {
                prop_assert_eq!(row.playing.notes[pin.note].action, Some(pin.action));
            }
        }
        // The oracle tries the player's technique and each lesser one that allows the pins and sounds a main note.
        let mut least: Option<u64> = None;
        for technique in TECHNIQUES.into_iter().filter(|&technique| technique <= case.technique) {
            let mut steps = steps(&Case { technique, ..case.clone() });
            for pin in &pins {
                steps[pin.note].ways.retain(|way| way.action == pin.action);
            }
            let sounds = steps.iter().any(|step| !step.ways.is_empty() && !step.held.grace);
            if sounds && pins.iter().all(|pin| !steps[pin.note].ways.is_empty()) {
                let (effort, ..) = exhaustive(&case.weights, &steps);
                least = Some(least.map_or(effort, |least| least.min(effort)));
            }
        }
        let row = rows.iter().find(|row| row.shift() == case.shift);
        let in_position = |row: &Approach| row.playing.effort[Term::Position];
        prop_assert_eq!(row.map(|row| row.playing.effort.total() - in_position(row)), least);
        for row in &rows {
            let adapted = search::adapt(&Request { pins: &pins, ..free.clone() }, row, &EditWeights::default());
            for pin in &pins {
                prop_assert_eq!(adapted.playing.notes[pin.note].action, Some(pin.action));
            }
        }
        // Without the pins the tune is never harder.
        let first = Wanted { top: 1, ..Wanted::ALL };
        let (with, without) = (search_for(&Request { pins: &pins, ..free.clone() }, &first), search_for(&free, &first));
        prop_assert_eq!(with.best(), rows.first());
        prop_assert!(least.is_none() || Some(without.best().unwrap().playing.effort.total()) <= self::least(&with));
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
            // Some harps are named twice.
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
        prop_assert_eq!(effort.total(), effort.terms().map(|(_, points)| points).sum::<u64>());
        for term in Term::ALL {
            let each = playing.notes.iter().map(|note| note.effort[term]);
            prop_assert_eq!(effort[term], each.sum::<u64>());
        }
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

    /// The register term and the air depend on the sounding pitch. Reeds below a certain pitch are slow and take more
    /// air; reeds above another pitch are stiff and take less. Apart from these, moving tune and harp together changes
    /// nothing.
    #[test]
    fn transposing_tune_and_harp_together_changes_neither_tab_nor_effort(case in case(12), by in -35..=35i16) {
        let by = Interval(by);
        let melody = case.melody.transposed(by);
        let (Some(harp), Some(melody)) = (moved(&case.harp, by), melody) else { return Ok(()) };
        // The difficulty of a bend depends on its pitch.
        let mut case = case;
        case.weights.bends.high = 0;
        let moved = Case { melody, harp, ..case.clone() };

        let (here, there) = (case.price(&actions(&case.best())), moved.price(&actions(&case.best())));
        for (here, there) in here.notes.iter().zip(&there.notes) {
            let same_register =
                there.effort.with(Term::Register, here.effort[Term::Register]).with(Term::Lungs, here.effort[Term::Lungs]);
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

    /// A path sounds every note that can be sounded, whatever the note costs, so the test first compares the notes.
    #[test]
    fn a_technique_more_never_sounds_less(case in case(12)) {
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

    /// In a row, a note that needs a hard technique may be left out for the price of a missing note.
    #[test]
    fn a_technique_more_never_makes_it_harder(case in case(12)) {
        let harps = Harp::standard_set(&Tuning::richter());
        let rows = TECHNIQUES.map(|technique| {
            let case = Case { technique, ..case.clone() };
            let rows = search(&case.request(&harps)).approaches.into_iter();
            rows.map(|row| ((row.harp.clone(), row.octave), row.playing.effort.total())).collect::<Vec<_>>()
        });
        for pair in rows.windows(2) {
            for (approach, less) in &pair[0] {
                let (_, more) = pair[1].iter().find(|(other, _)| other == approach).unwrap();
                prop_assert!(more <= less, "{:?}: {more} after {less}", approach);
            }
        }
    }

    /// The cost of a row is the least over the player's technique and each lesser one.
    #[test]
    fn a_row_costs_what_its_cheapest_playing_does(case in case(12)) {
        let harps = [case.harp.clone()];
        for row in search(&case.request(&harps)).approaches {
            let with = |technique| {
                let case = Case { technique, shift: row.shift(), ..case.clone() };
                let position = case.weights.in_position(row.position);
                let best = case.best().each_note(position);
                let mut notes = case.melody.notes.iter().zip(&best.notes);
                // Playing no note is cheap, but does not make a row.
                notes.any(|(note, played)| !note.grace && played.action.is_some()).then(|| best.effort.total())
            };
            let techniques = TECHNIQUES.into_iter().filter(|&technique| technique <= case.technique);
            prop_assert_eq!(Some(row.playing.effort.total()), techniques.filter_map(with).min());
            prop_assert_eq!(Some(row.playing.effort.total()), with(row.technique));
        }
    }

    #[test]
    fn a_harp_more_never_makes_it_harder(case in case(8), harps in prop::collection::vec(harp(), 1..5)) {
        let (few, all) = (&harps[1..], &harps[..]);
        let (few, all) = (least(&search(&case.request(few))), least(&search(&case.request(all))));
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
        // The comparison repeats with only a few notes played differently.
        let mut near = actions(&best);
        for (pick, other) in picks.iter().zip(actions(&other)).take(3) {
            let at = pick.index(near.len());
            if steps[at].ways.iter().any(|way| Some(way.action) == other) {
                near[at] = other;
            }
        }
        prop_assert!(best.effort.total() <= case.price(&near).effort.total());
    }

    /// A longer bend must be held in tune, a bend after a rest starts cold and anew, and longer notes take more air;
    /// nothing else costs more if there is more time.
    #[test]
    fn more_time_never_costs_more(case in case(12)) {
        let slow = Case { melody: slowed(&case.melody), ..case.clone() };
        let tab = actions(&case.best());
        for (fast, slow) in case.price(&tab).notes.iter().zip(slow.price(&tab).notes) {
            let (fast, slow) = (fast.effort, slow.effort);
            prop_assert!(slow[Term::Moves] <= fast[Term::Moves] && slow[Term::Breath] <= fast[Term::Breath]);
            prop_assert!(slow[Term::Register] <= fast[Term::Register] && slow[Term::Missing] == fast[Term::Missing]);
        }
        let mut weights = case.weights.clone();
        (weights.bends.hold, weights.bends.cold, weights.bends.repeated) = (0, 0, 100);
        (weights.lungs.uneasy, weights.lungs.strain, weights.lungs.gasp) = (0, 0, 0);
        let (case, slow) = (Case { weights: weights.clone(), ..case }, Case { weights, ..slow });
        for (fast, slow) in case.price(&tab).notes.iter().zip(slow.price(&tab).notes) {
            prop_assert!(slow.effort[Term::Bends] <= fast.effort[Term::Bends]);
        }
        prop_assert!(slow.best().effort.total() <= case.best().effort.total());
    }
}

/// Returns the melody at half its tempo.
fn slowed(melody: &Melody) -> Melody {
    // Tempos change only on quarters.
    let last = melody.notes.last().map_or(0, |note| note.end().as_f64() as i32 + 1);
    let tempo = TempoMap::new((0..=last).map(|quarter| {
        let length =
            melody.tempo.micros(Beats::quarters(quarter + 1)) - melody.tempo.micros(Beats::quarters(quarter));
        (Beats::quarters(quarter), 2 * length as u32)
    }));
    Melody { tempo, ..melody.clone() }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

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
            });
            let (mut before, mut after) =
                (before.clone(), Case { weights: player(&numbers), ..before.clone() });
            if raised == "rest_ms" {
                // Without the rest, a bend avoids its cold start, a repeated bend is cheaper, and the player may
                // breathe towards a volume that suits a longer stretch better. No other note gets cheaper.
                for weights in [&mut before.weights, &mut after.weights] {
                    (weights.bends.cold, weights.bends.repeated) = (0, 100);
                    (weights.lungs.uneasy, weights.lungs.strain, weights.lungs.gasp) = (0, 0, 0);
                }
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

/// A hostile file: nine thousand grace notes on one beat are searched like other notes.
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

/// The tune is not played in octaves in which only a grace note would sound.
#[test]
fn a_row_sounds_more_than_grace_notes() {
    let harps = Harp::standard_set(&Tuning::richter());
    let case = Case {
        melody: tune("G#5 ~E2 D5", 120),
        harp: harps[5].clone(),
        technique: Technique::Over,
        weights: Weights::default(),
        shift: Interval(0),
    };
    let rows = search(&case.request(&harps)).approaches;
    let sounding = |grace: bool| {
        let sounds = |playing: &Playing| {
            let mut notes = case.melody.notes.iter().zip(&playing.notes);
            notes.any(|(note, played)| note.grace == grace && played.action.is_some())
        };
        rows.iter().filter(|row| sounds(&row.playing)).count()
    };
    assert_eq!(sounding(false), rows.len());
    assert!(sounding(true) > 0);
}

/// Giving up early loses no row of the result: for any number of rows, the result equals the first rows of a search
/// that prices every approach to the end.
fn nothing_wanted_is_given_up(case: &Case, harps: &[Harp], any_key: bool) -> Result<(), TestCaseError> {
    let mut request = case.request(harps);
    request.any_key = any_key;
    let all = search(&request);
    prop_assert_eq!(all.tried, all.approaches.len());
    prop_assert!(all.approaches.is_sorted_by_key(|row| row.playing.effort.total()));
    for top in [0, 1, 2, 5, 1000] {
        let first = search_for(&request, &Wanted::first(top));
        prop_assert_eq!(first.tried, all.tried);
        prop_assert_eq!(&first.approaches[..], &all.approaches[..top.min(all.tried)]);
    }
    let Some(sample) = all.approaches.last() else { return Ok(()) };
    for (position, octave, region) in [
        (Some(sample.position), None, None),
        (Some(sample.position), Some(sample.octave), None),
        (None, Some(sample.octave), None),
        (None, None, Some(sample.counts.region())),
        (Some(sample.position), None, Some(Region::Low)),
    ] {
        let mut fit = all.approaches.clone();
        fit.retain(|row| position.is_none_or(|position| position == row.position));
        fit.retain(|row| octave.is_none_or(|octave| octave == row.octave));
        fit.retain(|row| region.is_none_or(|region| region == row.counts.region()));
        let first = search_for(&request, &Wanted { position, octave, region, ..Wanted::first(2) });
        prop_assert_eq!(first.tried, fit.len());
        prop_assert_eq!(&first.approaches[..], &fit[..fit.len().min(2)]);
    }
    let transposed = Some(sample.transposed);
    let in_key: Vec<_> = all.approaches.iter().filter(|row| Some(row.transposed) == transposed).collect();
    let found = search_for(&request, &Wanted { transposed, ..Wanted::ALL });
    prop_assert_eq!(found.approaches.iter().collect::<Vec<_>>(), in_key);
    // Rows with the same tab are joined in the same way, whether they store their notes or not.
    for top in [0, 1, 3, 1000] {
        let few = search_for(&request, &Wanted { twins: true, ..Wanted::first(top) });
        prop_assert_eq!(&few.approaches[..top.min(all.tried)], &all.approaches[..top.min(all.tried)]);
        let (tabs, expected) = (few.by_tab(top), all.by_tab(top));
        prop_assert_eq!(tabs.len(), expected.len());
        for ((row, others), (known, twins)) in tabs.iter().zip(&expected) {
            prop_assert_eq!(&few.approaches[*row], &all.approaches[*known]);
            let places = |twins: &[Twin]| {
                twins.iter().map(|twin| (twin.harp.to_string(), twin.shift)).collect::<Vec<_>>()
            };
            prop_assert_eq!(places(others), places(twins));
        }
    }
    let every_note = search_for(&request, &Wanted { every_note: true, ..Wanted::ALL });
    prop_assert_eq!(every_note.tried, all.tried);
    let place = |row: &Approach| (!row.counts.is_full(), row.playing.effort.total());
    prop_assert!(every_note.approaches.is_sorted_by_key(place));
    prop_assert!(every_note.approaches.iter().all(|row| row.technique == case.technique));
    let unbent = |row: &Approach| row.counts.bends() == 0;
    for top in [0, 1, 2, 5] {
        let wanted = Wanted { every_note: true, ..Wanted::first(top) };
        prop_assert_eq!(
            &search_for(&request, &wanted).approaches[..],
            &every_note.approaches[..top.min(all.tried)]
        );
        let wanted = Wanted { like: Some(unbent), every_note: true, ..Wanted::first(top) };
        let fit: Vec<_> = every_note.approaches.iter().filter(|row| unbent(row)).take(top).cloned().collect();
        prop_assert_eq!(search_for(&request, &wanted).approaches, fit);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn giving_up_early_changes_no_row_that_is_wanted(
        case in case(40),
        mut harps in prop::collection::vec(harp(), 1..5),
        any_key: bool,
    ) {
        harps.extend(Harp::standard_set(&Tuning::richter()));
        nothing_wanted_is_given_up(&case, &harps, any_key)?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 4, ..ProptestConfig::default() })]

    /// The tune is so long that all cores share the work.
    #[test]
    fn nor_does_sharing_the_work(case in case(1500)) {
        nothing_wanted_is_given_up(&case, &Harp::standard_set(&Tuning::richter()), false)?;
    }
}

/// The run has eighths without a rest, 600 choices between draw 2 and blow 3, and lungs that always matter. The choices
/// are too many to keep, so the search finds them again from the end.
#[test]
fn a_long_run_without_a_rest_is_exact() {
    let run = "G4:1/2 C5:1/2 E5:1/2 G4:1/2 D5:1/2 C5:1/2 G4:1/2 ".repeat(200);
    let harp = Harp::standard_set(&Tuning::richter()).remove(5);
    let weights = Weights::default();
    let case = Case { melody: tune(&run, 100), harp, technique: Technique::All, weights, shift: Interval(0) };
    let best = case.best();
    assert!(best.effort[Term::Lungs] > 0, "{:?}", best.effort);
    assert_eq!(best.effort.total(), shortest_path(&case.weights, &steps(&case)));
}

#[test]
fn a_melody_without_bars_has_no_hard_bars() {
    let mut melody = tune("C4 D4 E4:2 C5 G5", 100);
    melody.bars.clear();
    let harps = [Harp::parse("C", &[Tuning::richter()]).unwrap()];
    let weights = Weights::default();
    let key = breathline::melody::key::find(&melody).key;
    let request = search::Request {
        melody: &melody,
        key,
        harps: &harps,
        technique: Technique::All,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let ranking = search(&request);
    let playing = &ranking.best().unwrap().playing;
    assert_eq!(search::hard::hardest(&melody, playing, &weights, 3), []);
}
