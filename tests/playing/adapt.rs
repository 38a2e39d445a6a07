//! Tunes changed so that they can be played, checked against exhaustive searches, laws, the point at which each price
//! flips a choice, and a teacher's judgement.
//!
//! The oracles share with the program the prices of single steps, the times and phrases of a melody, and the notes of
//! chord symbols and modes; they do not share the search.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a panic is how a test reports a failure")]

#[allow(dead_code, reason = "only the search's own tests use all of it")]
use crate::graph;
use crate::players;
#[allow(dead_code, reason = "only the search's own tests use all of it")]
use crate::random;
use crate::tunes;

use std::collections::BTreeMap;

use breathline::{
    harp::{Action, Harp, Technique, Tuning},
    melody::{ChordSymbol, KeySignature, Melody, key::Key, phrase},
    pitch::{Interval, Pitch, PitchClass},
    search::{
        Approach, EditWeights, Effort, Request, Term, Wanted, Weights,
        adapt::{self, Fit, Why},
        effort::Way,
        search, search_for,
    },
    tab::Notation,
    time::Beats,
};
use graph::Step;
use players::{each_number, improver, player};
use proptest::prelude::*;
use random::{Case, TECHNIQUES, case};
use tunes::tune;

/// A random tune with chords and a key, and the prices of changes.
#[derive(Clone, Debug)]
struct Question {
    case: Case,
    key: Key,
    edits: EditWeights,
}

fn question(most_notes: usize) -> impl Strategy<Value = Question> {
    let qualities = ["", "m", "7", "m7b5", "sus4", "+", "dim7", "?"];
    let chord = (0..24i32, 0..12i16, prop::sample::select(qualities.to_vec()));
    let chords = prop_oneof![
        1 => Just(Vec::new()),
        2 => prop::collection::vec(chord, 1..6),
    ];
    let keys: Vec<Key> = Key::all().collect();
    (case(most_notes), chords, prop::sample::select(keys), edits()).prop_map(
        |(mut case, chords, key, edits)| {
            case.melody.chords = chords
                .into_iter()
                .map(|(at, root, quality)| {
                    let root = PitchClass::new(root);
                    ChordSymbol::parse(Beats::quarters(at), &format!("{root}{quality}"))
                })
                .collect();
            case.melody.chords.sort_by_key(|chord| chord.at);
            Question { case, key, edits }
        },
    )
}

fn edits() -> impl Strategy<Value = EditWeights> {
    let prices = prop::array::uniform8(prop_oneof![1 => Just(0), 4 => 0..400u32]);
    prop_oneof![
        1 => Just(EditWeights::default()),
        4 => (prices, 0..400u32).prop_map(|(prices, ornament_ms)| {
            let [octave, replace, second, semitone, off_chord, contour, grace, ornament] = prices;
            EditWeights { octave, replace, second, semitone, off_chord, contour, grace, ornament, ornament_ms }
        }),
    ]
}

impl Question {
    fn request<'a>(&'a self, harps: &'a [Harp]) -> Request<'a> {
        Request { key: self.key, any_key: true, ..self.case.request(harps) }
    }

    /// Returns the approach of the case before and after its adaptation, if it sounds any note.
    fn answer<'a>(&'a self, harps: &'a [Harp]) -> Option<(Approach<'a>, Approach<'a>)> {
        let request = self.request(harps);
        // The search uses the player's full technique, as the oracle does.
        let ranking = search_for(&request, &Wanted { every_note: true, ..Wanted::ALL });
        let given = ranking.approaches.iter().find(|row| row.shift() == self.case.shift)?.clone();
        let adapted = adapt::adapt(&request, &given, &self.edits);
        Some((given, adapted))
    }

    fn harps(&self) -> [Harp; 1] {
        [self.case.harp.clone()]
    }

    fn wanted(&self, note: usize, octave: i16) -> Option<Pitch> {
        self.case.melody.notes[note].pitch.transposed(Interval(self.case.shift.0 + 12 * octave))
    }

    fn ways(&self, pitch: Option<Pitch>) -> Vec<Way> {
        let ways =
            self.case.harp.ways().filter(|way| Some(way.0) == pitch && self.case.technique.allows(way.1));
        ways.map(|(pitch, action, traits)| Way { action, pitch, traits }).collect()
    }

    /// Returns the notes as written, for facts that do not depend on how the notes are changed.
    fn steps(&self) -> Vec<Step> {
        let Case { melody, harp, technique, weights, shift } = &self.case;
        graph::steps(melody, harp, *technique, weights, *shift)
    }

    /// Returns the start and end of each note, in milliseconds from the start.
    fn spans(&self) -> Vec<(u64, u64)> {
        self.case
            .melody
            .timing()
            .iter()
            .map(|sounding| (sounding.start / 1000, sounding.end / 1000))
            .collect()
    }

    fn sounding_ms(&self, note: usize) -> u32 {
        let (start, end) = self.spans()[note];
        (end - start).min(60_000) as u32
    }

    fn is_ornament(&self, note: usize) -> bool {
        let notes = &self.case.melody.notes;
        let next = (note + 1..notes.len()).find(|&next| !notes[next].grace);
        !notes[note].grace
            && notes[note].lyrics.is_empty()
            && self.sounding_ms(note) < self.edits.ornament_ms
            && next.is_some_and(|next| self.sounding_ms(next) / 2 >= self.sounding_ms(note))
    }

    /// Returns the indices of the notes in each phrase.
    fn phrases(&self) -> Vec<Vec<usize>> {
        let ends: Vec<usize> = phrase::ends(&self.case.melody).iter().map(|end| end.note).collect();
        let mut phrases = vec![Vec::new(); ends.len().max(1)];
        for note in 0..self.case.melody.notes.len() {
            let phrase = ends.iter().filter(|&&end| end < note).count();
            let last = phrases.len() - 1;
            phrases[phrase.min(last)].push(note);
        }
        phrases
    }

    /// Counts the main notes that are not ornaments and cannot be sounded in the given octave.
    fn lacking(&self, notes: &[usize], octave: i16) -> usize {
        let lacks = |&&note: &&usize| {
            !self.case.melody.notes[note].grace
                && !self.is_ornament(note)
                && self.ways(self.wanted(note, octave)).is_empty()
        };
        notes.iter().filter(lacks).count()
    }

    /// Returns the octaves in which a phrase may be played, relative to the written octave.
    fn octaves(&self, notes: &[usize]) -> Vec<i16> {
        let here = self.lacking(notes, 0);
        let better: Vec<i16> = [-1, 1].into_iter().filter(|&to| self.lacking(notes, to) < here).collect();
        let silent =
            notes.iter().all(|&note| self.choices(note, 0).iter().all(|choice| choice.way.is_none()));
        let stay = if silent && !better.is_empty() { vec![] } else { vec![0] };
        [stay, better].concat()
    }

    /// Returns every way to treat a note in an octave.
    fn choices(&self, note: usize, octave: i16) -> Vec<Choice> {
        let here = self.ways(self.wanted(note, octave));
        if !here.is_empty() {
            return here.into_iter().map(|way| Choice { way: Some(way), price: 0 }).collect();
        }
        let left_out = |price: u64| vec![Choice { way: None, price }];
        let missing = || left_out(self.case.weights.missing(&self.steps()[note].heard).total());
        if self.case.melody.notes[note].grace {
            return left_out(self.edits.grace.into());
        }
        if self.is_ornament(note) {
            return left_out(self.edits.ornament.into());
        }
        let Some(wanted) = self.wanted(note, octave) else { return missing() };
        let mut choices = Vec::new();
        for midi in 0..=127 {
            let pitch = Pitch::new(midi).unwrap();
            let distance = u64::from(wanted.midi().abs_diff(midi));
            let Some(off_chord) = self.off_chord(note, pitch) else { continue };
            if distance <= 4 {
                let price = u64::from(self.edits.replace)
                    + u64::from(self.sounding_ms(note)) * u64::from(self.edits.second) / 1000
                    + distance * u64::from(self.edits.semitone)
                    + if off_chord { u64::from(self.edits.off_chord) } else { 0 };
                let ways = self.ways(Some(pitch)).into_iter();
                choices.extend(ways.map(|way| Choice { way: Some(way), price }));
            }
        }
        if choices.is_empty() { missing() } else { choices }
    }

    /// Whether a pitch lies outside the current chord; `None` if it fits neither the chord nor the key.
    fn off_chord(&self, note: usize, pitch: Pitch) -> Option<bool> {
        let melody = &self.case.melody;
        let sounding = melody.chords.iter().rfind(|chord| chord.at <= melody.notes[note].onset);
        let moved = |class: PitchClass| class.transposed(self.case.shift);
        let in_chord =
            sounding.map(|chord| chord.notes().into_iter().any(|class| moved(class) == pitch.class()));
        let tonic = moved(self.key.tonic);
        let in_key = self.key.mode.scale().contains(&pitch.class().above(tonic));
        match in_chord {
            Some(true) => Some(false),
            Some(false) => in_key.then_some(true),
            None => in_key.then_some(false),
        }
    }

    /// Returns the points and breath changes of reaching a note and sounding it, and the air afterwards.
    fn arriving(&self, from: Option<Sounded>, note: usize, way: &Way) -> (u64, u32, u32) {
        let (weights, spans) = (&self.case.weights, self.spans());
        let lungs = &weights.lungs;
        let step = &self.steps()[note];
        let (coming, turns, air) = match from {
            None => (weights.start(way).total(), 0, step.aim),
            Some(from) => {
                let gap = weights.gap(spans[from.note], spans[note]);
                let notes = &self.case.melody.notes;
                let tune = notes[from.note].pitch.cmp(&notes[note].pitch);
                let contour = if tune == from.way.pitch.cmp(&way.pitch) { 0 } else { self.edits.contour };
                let ends = phrase::ends(&self.case.melody).iter().any(|end| end.note == from.note);
                let catch = if ends { lungs.catch(self.sounding_ms(from.note)) } else { 0 };
                let rest = spans[note].0.saturating_sub(spans[from.note].1).min(60_000) as u32;
                (
                    weights.step(&from.way, way, gap).total() + u64::from(contour),
                    u32::from(from.way.action.breath != way.action.breath),
                    lungs.rested(from.air, step.aim, rest + catch),
                )
            }
        };
        let sounding_ms = self.sounding_ms(note);
        let aired = lungs.sounded(air, way, sounding_ms);
        (coming + aired.points + weights.hold(way, step.held).total(), turns, aired.level_ml)
    }

    /// Returns the least points over every way to change and play the tune, and the fewest breath changes with these
    /// points.
    fn exhaustive(&self) -> (u64, u32) {
        let mut best = (u64::MAX, u32::MAX);
        let octaves: Vec<Vec<i16>> = self.phrases().iter().map(|notes| self.octaves(notes)).collect();
        let mut combinations = vec![Vec::new()];
        for octaves in &octaves {
            let longer = |before: &Vec<i16>| {
                octaves.iter().map(|&octave| [&before[..], &[octave]].concat()).collect::<Vec<_>>()
            };
            combinations = combinations.iter().flat_map(longer).collect();
        }
        for octaves in combinations {
            let moved = octaves.iter().filter(|&&octave| octave != 0).count() as u64;
            let choices: Vec<Vec<Choice>> = self
                .phrases()
                .iter()
                .zip(&octaves)
                .flat_map(|(notes, &octave)| notes.iter().map(move |&note| self.choices(note, octave)))
                .collect();
            self.go(&choices, 0, None, (moved * u64::from(self.edits.octave), 0), &mut best);
        }
        best
    }

    fn go(
        &self,
        choices: &[Vec<Choice>],
        note: usize,
        from: Option<Sounded>,
        cost: (u64, u32),
        best: &mut (u64, u32),
    ) {
        // Costs never decrease, so a partial playing that already costs more cannot win.
        if cost >= *best {
            return;
        }
        let Some(here) = choices.get(note) else {
            *best = cost;
            return;
        };
        for choice in here {
            let (next, cost) = self.chosen(from, note, choice, cost);
            self.go(choices, note + 1, next, cost, best);
        }
    }

    fn chosen(
        &self,
        from: Option<Sounded>,
        note: usize,
        choice: &Choice,
        cost: (u64, u32),
    ) -> (Option<Sounded>, (u64, u32)) {
        match choice.way {
            None => (from, (cost.0 + choice.price, cost.1)),
            Some(way) => {
                let (points, turns, air) = self.arriving(from, note, &way);
                (Some(Sounded { note, way, air }), (cost.0 + points + choice.price, cost.1 + turns))
            }
        }
    }

    /// Returns the same minimum as `exhaustive`, but fast enough for long tunes. It goes forwards note by note, and
    /// keeps the least cost for every possible last sounded note.
    fn forwards(&self) -> (u64, u32) {
        type States = BTreeMap<Option<Sounded>, (u64, u32)>;
        fn arrive(states: &mut States, state: Option<Sounded>, cost: (u64, u32)) {
            let least = states.entry(state).or_insert(cost);
            *least = cost.min(*least);
        }
        let mut states = States::from([(None, (0, 0))]);
        for notes in self.phrases() {
            let mut after = States::new();
            for octave in self.octaves(&notes) {
                let moved = if octave == 0 { 0 } else { u64::from(self.edits.octave) };
                let mut lane: States =
                    states.iter().map(|(state, cost)| (*state, (cost.0 + moved, cost.1))).collect();
                for &note in &notes {
                    let mut next = States::new();
                    for choice in self.choices(note, octave) {
                        for (&from, &cost) in &lane {
                            let (state, cost) = self.chosen(from, note, &choice, cost);
                            arrive(&mut next, state, cost);
                        }
                    }
                    lane = next;
                }
                lane.into_iter().for_each(|(state, cost)| arrive(&mut after, state, cost));
            }
            states = after;
        }
        states.into_values().min().unwrap()
    }
}

/// One way to treat a note: to sound it in a way, or to leave it out (`None`), at a price.
#[derive(Clone, Copy)]
struct Choice {
    way: Option<Way>,
    price: u64,
}

/// The last sounded note, and the air after it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Sounded {
    note: usize,
    way: Way,
    air: u32,
}

/// Returns the cost without the position, which costs the same whatever is changed.
fn cost(approach: &Approach) -> (u64, u32) {
    let effort = approach.playing.effort;
    (effort.total() - effort[Term::Position], approach.counts.breath_changes)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, ..ProptestConfig::default() })]

    #[test]
    fn no_other_change_of_a_short_tune_costs_less(question in question(6)) {
        let harps = question.harps();
        if let Some((_, adapted)) = question.answer(&harps) {
            prop_assert_eq!(cost(&adapted), question.exhaustive());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]

    #[test]
    fn no_other_change_of_a_long_tune_costs_less(question in question(60)) {
        let harps = question.harps();
        if let Some((_, adapted)) = question.answer(&harps) {
            prop_assert_eq!(cost(&adapted), question.forwards());
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, ..ProptestConfig::default() })]

    #[test]
    fn what_can_be_played_is_left_alone(question in question(40)) {
        let harps = question.harps();
        let Some((given, adapted)) = question.answer(&harps) else { return Ok(()) };
        if given.counts.playable == given.counts.notes {
            prop_assert_eq!(&adapted, &given);
        }
        prop_assert!(given.changes.is_empty());
        for notes in question.phrases() {
            let lacks = notes.iter().any(|&note| given.playing.notes[note].action.is_none());
            let changed = adapted.changes.iter().any(|change| notes.contains(&change.note));
            prop_assert!(lacks || !changed, "a phrase that lacks no note was changed");
        }
    }

    #[test]
    fn every_note_sounds_as_written_or_is_listed_or_missing(question in question(40)) {
        let harps = question.harps();
        let Some((_, adapted)) = question.answer(&harps) else { return Ok(()) };
        let (mut left_out, mut missing) = ([0, 0], [0, 0]);
        for (note, played) in adapted.playing.notes.iter().enumerate() {
            let mut changes = adapted.changes.iter().filter(|change| change.note == note);
            let (change, grace) = (changes.next(), question.case.melody.notes[note].grace);
            prop_assert!(changes.next().is_none());
            let sounds = played.action.and_then(|action| question.case.harp.pitch(action));
            prop_assert_eq!(sounds.is_some(), played.action.is_some(), "the harp has no such action");
            prop_assert!(played.action.is_none_or(|action| question.case.technique.allows(action)));
            match (change, sounds) {
                (None, None) => missing[usize::from(grace)] += 1,
                (None, sounds) => prop_assert_eq!(sounds, question.wanted(note, 0)),
                (Some(change), sounds) => {
                    prop_assert_eq!(change.to, sounds);
                    let wanted = question.wanted(note, change.octave.into());
                    match change.why {
                        Why::Moved => prop_assert!(change.octave != 0 && sounds.is_some() && sounds == wanted),
                        Why::Replaced(fit) => {
                            prop_assert!(question.ways(wanted).is_empty(), "replaced without need");
                            let (wanted, sounds) = (wanted.unwrap(), sounds.unwrap());
                            prop_assert!((1..=4).contains(&wanted.midi().abs_diff(sounds.midi())));
                            let off_chord = question.off_chord(note, sounds);
                            prop_assert!(off_chord.is_some() && (fit == Fit::Key || off_chord == Some(false)));
                        }
                        Why::Grace => {
                            prop_assert!(grace && sounds.is_none() && question.ways(wanted).is_empty());
                            left_out[1] += 1;
                        }
                        Why::Ornament => {
                            prop_assert!(!grace && sounds.is_none() && question.ways(wanted).is_empty());
                            left_out[0] += 1;
                        }
                        why => prop_assert!(false, "an unknown reason: {why:?}"),
                    }
                }
            }
        }
        prop_assert!(adapted.changes.is_sorted_by_key(|change| change.note));
        let counts = adapted.counts;
        prop_assert_eq!([counts.missing, counts.missing_graces], missing);
        prop_assert_eq!(counts.playable + missing.iter().sum::<u32>() + left_out.iter().sum::<u32>(), counts.notes);
        // All notes of a phrase move together.
        for notes in question.phrases() {
            let octaves: Vec<i8> = adapted.changes.iter().filter(|change| notes.contains(&change.note)).map(|change| change.octave).collect();
            prop_assert!(octaves.windows(2).all(|pair| pair[0] == pair[1]));
        }
    }

    #[test]
    fn the_total_is_the_sum_of_what_is_shown(question in question(40)) {
        let harps = question.harps();
        let Some((_, adapted)) = question.answer(&harps) else { return Ok(()) };
        let sum = adapted.playing.notes.iter().fold(Effort::default(), |sum, note| sum + note.effort);
        prop_assert_eq!(sum, adapted.playing.effort);
        prop_assert_eq!(sum.total(), sum.terms().map(|(_, points)| points).sum::<u64>());
    }

    /// A phrase that is complete as written stays complete for every player with more technique. (The number of changes
    /// may grow: a player who can bend plays the bend, and a phrase that was patched without the bend may then be
    /// moved.)
    #[test]
    fn a_technique_more_changes_no_other_phrase(question in question(30)) {
        let harps = question.harps();
        let untouched = TECHNIQUES.map(|technique| {
            let question = Question { case: Case { technique, ..question.case.clone() }, ..question.clone() };
            let Some((_, adapted)) = question.answer(&harps) else { return Vec::new() };
            let complete = |notes: &Vec<usize>| {
                notes.iter().all(|&note| {
                    let listed = adapted.changes.iter().any(|change| change.note == note);
                    !listed && adapted.playing.notes[note].action.is_some()
                })
            };
            question.phrases().into_iter().filter(complete).collect()
        });
        for (fewer, more) in untouched.iter().zip(&untouched[1..]) {
            prop_assert!(fewer.iter().all(|notes| more.contains(notes)));
        }
    }

    #[test]
    fn a_dearer_change_never_makes_the_answer_cheaper(question in question(30), raise in 1..200u32) {
        let harps = question.harps();
        let Some((_, before)) = question.answer(&harps) else { return Ok(()) };
        let raises: [fn(&mut EditWeights) -> &mut u32; 8] = [
            |edits| &mut edits.octave, |edits| &mut edits.replace, |edits| &mut edits.second, |edits| &mut edits.semitone,
            |edits| &mut edits.off_chord, |edits| &mut edits.contour, |edits| &mut edits.grace, |edits| &mut edits.ornament,
        ];
        for field in raises {
            let mut dearer = question.clone();
            *field(&mut dearer.edits) += raise;
            let (_, after) = dearer.answer(&harps).unwrap();
            prop_assert!(before.playing.effort.total() <= after.playing.effort.total());
        }
    }
}

/// Returns the prices of changes for the default player, as the player's file states them.
fn prices() -> toml::Value {
    let file: toml::Table = include_str!("../../src/search/players/improver.toml").parse().unwrap();
    file["edits"].clone()
}

/// Makes a player for whom no playing costs anything, so that only the prices of changes matter.
fn easy_going() -> Weights {
    let mut numbers = improver();
    each_number(&mut numbers, "", &mut |name, number| {
        *number = match name {
            "lungs.capacity_ml" => 3500,
            name if ["lungs.easy", "lungs.strained", "lungs.limits"]
                .iter()
                .any(|range| name.starts_with(range)) =>
            {
                *number
            }
            _ => 0,
        }
    });
    player(&numbers)
}

/// Returns the adapted playing of a tune in its written octave on a C harp, with `*` after each changed note.
fn adapted(
    melody: &Melody,
    key: &str,
    weights: &Weights,
    edits: &EditWeights,
    technique: Technique,
) -> String {
    let harps = [Harp::parse("C", Tuning::built_in()).unwrap()];
    let key = key.parse().unwrap();
    let request = Request { melody, key, harps: &harps, technique, weights, any_key: false, pins: &[] };
    let ranking = search(&request);
    let row = ranking.approaches.iter().find(|row| row.octave == 0).unwrap();
    let row = adapt::adapt(&request, row, edits);
    let write =
        |action: Option<Action>| action.map_or(".".to_owned(), |action| Notation::default().write(action));
    let notes = row.playing.notes.iter().enumerate().map(|(note, played)| {
        let changed = row.changes.iter().any(|change| change.note == note);
        format!("{}{}", write(played.action), if changed { "*" } else { "" })
    });
    notes.collect::<Vec<_>>().join(" ")
}

/// Makes a tune at 120 quarters per minute with chords: `D@0` is the chord D from the first quarter on.
fn with_chords(text: &str, chords: &str) -> Melody {
    let mut melody = tune(text, 120);
    melody.chords = chords
        .split_whitespace()
        .map(|chord| {
            let (name, at) = chord.split_once('@').unwrap();
            ChordSymbol::parse(Beats::quarters(at.parse().unwrap()), name)
        })
        .collect();
    melody
}

/// A field of the prices, and the effect of its value on the answer.
struct Flip {
    field: &'static str,
    /// The reason why the answer flips at this value of the field.
    sum: &'static str,
    others: &'static [(&'static str, i64)],
    key: &'static str,
    tune: &'static str,
    chords: &'static str,
    choices: [(i64, &'static str); 3],
}

const FLIPS: &[Flip] = &[
    Flip {
        field: "octave",
        sum: "A4 is missing: the phrase moves for this price, or the note is replaced for 100; at the tie the phrase stays",
        others: &[("replace", 100)],
        key: "C",
        tune: "C5 D5 A4 C5",
        chords: "",
        choices: [(99, "7* -8* -6* 7*"), (100, "4 -4 -2* 4"), (101, "4 -4 -2* 4")],
    },
    Flip {
        field: "replace",
        sum: "two notes are replaced, or the phrase moves for 200; at the tie fewer breath changes win",
        others: &[("octave", 200)],
        key: "C",
        tune: "C5 A4 C5 A4 C5",
        chords: "",
        choices: [(99, "4 3* 4 3* 4"), (100, "4 3* 4 3* 4"), (101, "7* -6* 7* -6* 7*")],
    },
    Flip {
        field: "second",
        sum: "a note of half a second is replaced, or the phrase moves for 100",
        others: &[("octave", 100)],
        key: "C",
        tune: "C5 A4 C5",
        chords: "",
        choices: [(198, "4 3* 4"), (200, "4 3* 4"), (202, "7* -6* 7*")],
    },
    Flip {
        field: "semitone",
        sum: "a note is replaced by one two semitones away, or the phrase moves for 100",
        others: &[("octave", 100)],
        key: "C",
        tune: "C5 A4 C5",
        chords: "",
        choices: [(49, "4 3* 4"), (50, "4 3* 4"), (51, "7* -6* 7*")],
    },
    Flip {
        field: "off_chord",
        sum: "G5 is one semitone away but outside the chord D; A5 is three semitones away, for 50 each, and in the chord",
        others: &[("semitone", 50)],
        key: "G",
        tune: "D5 F#5 G5",
        chords: "D@0",
        choices: [(99, "-4 6* 6"), (100, "-4 6* 6"), (101, "-4 -6* 6")],
    },
    Flip {
        field: "contour",
        sum: "G5 is one semitone away but makes the tune repeat a note; E5 is two semitones away, for 50 each",
        others: &[("semitone", 50)],
        key: "G",
        tune: "D5 F#5 G5",
        chords: "",
        choices: [(49, "-4 6* 6"), (50, "-4 6* 6"), (51, "-4 5* 6")],
    },
    Flip {
        field: "grace",
        sum: "the grace note is left out and the other replaced for nothing, or the phrase moves for 100",
        others: &[("octave", 100)],
        key: "C",
        tune: "C5 ~A4 A4 C5",
        chords: "",
        choices: [(99, "4 .* 3* 4"), (100, "4 .* 3* 4"), (101, "7* -6* -6* 7*")],
    },
    Flip {
        field: "ornament",
        sum: "a note of 63 ms is left out and the other replaced for nothing, or the phrase moves for 100",
        others: &[("octave", 100), ("ornament_ms", 90)],
        key: "C",
        tune: "C5:7/8 A4:1/8 A4 C5",
        chords: "",
        choices: [(99, "4 .* 3* 4"), (100, "4 .* 3* 4"), (101, "7* -6* -6* 7*")],
    },
    Flip {
        field: "ornament_ms",
        sum: "a note of 63 ms is left out as an ornament if this time is longer, otherwise replaced",
        others: &[("octave", 1000)],
        key: "C",
        tune: "C5:7/8 A4:1/8 A4 C5",
        chords: "",
        choices: [(62, "4 3* 3* 4"), (63, "4 3* 3* 4"), (64, "4 .* 3* 4")],
    },
];

#[test]
fn each_choice_flips_where_the_sum_says() {
    let mut wrong = String::new();
    for flip in FLIPS {
        for (value, expected) in flip.choices {
            let mut numbers = prices();
            each_number(&mut numbers, "", &mut |name, number| {
                let other = flip.others.iter().find(|(field, _)| *field == name);
                *number = if name == flip.field { value } else { other.map_or(0, |&(_, price)| price) };
            });
            let edits: EditWeights = toml::from_str(&toml::to_string(&numbers).unwrap()).unwrap();
            let melody = with_chords(flip.tune, flip.chords);
            let found = adapted(&melody, flip.key, &easy_going(), &edits, Technique::None);
            if found != expected {
                wrong += &format!("{} = {value}: {found}, not {expected} ({})\n", flip.field, flip.sum);
            }
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn no_price_is_without_its_flip() {
    each_number(&mut prices(), "", &mut |name, _| {
        let flips = |flip: &Flip| flip.field == name && flip.choices[0].1 != flip.choices[2].1;
        assert!(FLIPS.iter().any(flips), "{name}");
    });
}

/// Hostile tunes: up to nine thousand notes, most of them missing, and long enough to run out of air.
#[test]
fn a_long_tune_full_of_holes_is_adapted_like_any_other() {
    let weights = Weights::default();
    let harps = [Harp::parse("C", Tuning::built_in()).unwrap()];
    for (text, times) in [
        ("F#5 Ab5 Bb5 C#6 D#6 C5 F#5 Ab5 A4 F4 ", 900),
        ("C5:4 Bb4:3 F#5:2 Ab5:6 ~A4 ~C5 A4:1/2 F4 ", 900),
        ("~A4 ~F4 ", 2000),
        ("C5 F4:1/2 Ab4:1/3 Bb4:3/4 C#5:7/8 A4:11/16 ", 60),
    ] {
        let melody = tune(&format!("{}C5", text.repeat(times)), 120);
        let key = "C".parse().unwrap();
        let request = Request {
            melody: &melody,
            key,
            harps: &harps,
            technique: Technique::None,
            weights: &weights,
            any_key: false,
            pins: &[],
        };
        for row in search(&request).approaches {
            let adapted = adapt::adapt(&request, &row, &EditWeights::default());
            assert!(adapted.counts.missing <= row.counts.missing);
            assert!(adapted.playing.effort.total() <= row.playing.effort.total());
        }
    }
}

/// The columns: the statement, technique, key, chords, tune, and the expected tab. Common practice, no source.
const PRACTICE: &[(&str, Technique, &str, &str, &str, &str)] = &[
    (
        "the low sixth is a bend: a single one is replaced by the fifth, its neighbour on the harp",
        Technique::None,
        "C",
        "",
        "G4 C5 D5 E5 C5 A4 C5:2",
        "3 4 -4 5 4 3* 4",
    ),
    (
        "a low sixth in passing is replaced in the same way",
        Technique::None,
        "C",
        "",
        "C5 D5 E5 G5 E5 D5 C5 A4 C5 D5 E5 C5:2",
        "4 -4 5 6 5 -4 4 3* 4 -4 5 4",
    ),
    (
        "a line that goes down through the low octave lacks too many notes: it moves up",
        Technique::None,
        "C",
        "",
        "C5 B4 A4 G4 A4 B4 C5:2",
        "7* -7* -6* 6* -6* -7* 7*",
    ),
    (
        "only the phrase that lies too low moves up, and the phrases around it stay",
        Technique::None,
        "C",
        "",
        "C5 D5 E5 F5 G5 E5 C5:4 C5 B4 A4 G4 A4 F4 G4:4 C5 D5 E5 F5 G5 E5 C5:4",
        "4 -4 5 -5 6 5 4 7* -7* -6* 6* -6* -5* 6* 4 -4 5 -5 6 5 4",
    ),
    (
        "with draw bends the low notes can be played, and nothing is changed",
        Technique::Draw,
        "C",
        "",
        "C5 B4 A4 G4 A4 B4 C5:2",
        "4 -3 -3'' -2 -3'' -3 4",
    ),
    (
        "a leading note in the chord on the fifth is replaced by that chord's root",
        Technique::None,
        "G",
        "G@0 D@3 G@4",
        "G5 A5 A5 F#5 G5:4",
        "6 -6 -6 -4* 6",
    ),
    (
        "without chords, a leading note reached from above is replaced by the sixth below",
        Technique::None,
        "G",
        "",
        "B5 A5 G5 F#5 G5:4",
        "-7 -6 6 5* 6",
    ),
    (
        "the raised seventh of a minor tune is replaced by the natural seventh",
        Technique::None,
        "A minor",
        "E7@4",
        "A5 C6 B5 A5 G#5 B5 A5:2",
        "-6 7 -7 -6 6* -7 -6",
    ),
    (
        "grace notes that would be bends are left out",
        Technique::None,
        "C",
        "",
        "C5 ~A4 G4 E4 ~F4 E4 C4:2",
        "4 .* 3 2 .* 2 1",
    ),
];

#[test]
fn a_tune_is_changed_as_a_teacher_would() {
    let mut wrong = String::new();
    for &(rule, technique, key, chords, text, expected) in PRACTICE {
        let melody = with_chords(text, chords);
        let found = adapted(&melody, key, &Weights::default(), &EditWeights::default(), technique);
        if found != expected {
            wrong += &format!("{rule}: {found}, not {expected}\n");
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

/// If the signature changes, a replacement must be in the section's key: in C minor nobody plays E natural for F.
#[test]
fn what_replaces_a_note_is_in_the_key_of_its_section() {
    let mut melody = tune(&"C4 E4 F4 G4 C7 C4 G4 F4 G4 C7 ".repeat(4), 100);
    let signature = |at: i32, sharps: i8| KeySignature { at: Beats::quarters(at), sharps, mode: None };
    melody.signatures = vec![signature(0, 0), signature(20, -3)];
    let harps = [Harp::parse("C", Tuning::built_in()).unwrap()];
    let weights = Weights::default();
    let request = Request {
        melody: &melody,
        key: "C".parse().unwrap(),
        harps: &harps,
        technique: Technique::None,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let found = search(&request);
    let written = found.approaches.iter().find(|row| row.octave == 0).unwrap();
    let adapted = adapt::adapt(&request, written, &EditWeights::default());
    let (mut major, mut minor) = (0, 0);
    for change in adapted.changes.iter().filter(|change| matches!(change.why, Why::Replaced(Fit::Key))) {
        let class = change.to.unwrap().class().semitones();
        let is_minor = melody.notes[change.note].onset >= Beats::quarters(20);
        let scale = if is_minor { [0, 2, 3, 5, 7, 8, 10] } else { [0, 2, 4, 5, 7, 9, 11] };
        assert!(scale.contains(&class), "{change:?}");
        (major, minor) = (major + usize::from(!is_minor), minor + usize::from(is_minor));
    }
    assert!(major > 0 && minor > 0, "{major} {minor}: {:?}", adapted.changes);
}
