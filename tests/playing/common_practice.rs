//! Players' habits compared with the search's answers: statements of common practice, each checked on an invented or a
//! traditional melody. All of them are common practice, without a source.
//!
//! `cargo test --test playing common_practice -- --nocapture` prints which statements hold and which do not. If a
//! statement is listed with a reason why it does not hold, the test fails as soon as it holds, so that a better model
//! is noticed.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a panic is how a test reports a failure"
)]

use crate::tunes;

use breathline::{
    harp::{Action, Harp, Position, Technique, Tuning, position},
    import::{ImportOptions, import},
    melody::{
        Melody,
        key::{self, Key},
    },
    pitch::Interval,
    search::{Approach, Player, Request, Term, Weights, search},
    tab::Notation,
};
use tunes::tune;

/// The best approach, as owned data.
struct Best {
    harp: String,
    position: u8,
    bends: u32,
    missing: u32,
    awkward: u32,
    /// The number of notes in which the lungs reach a limit.
    limits: u32,
    holes: (u8, u8),
    /// The actions as signed tab, with a dot for a missing note.
    tab: String,
}

impl Best {
    fn has(&self, action: &str) -> bool {
        self.tab.split(' ').any(|one| one == action)
    }

    fn written(&self) -> String {
        format!("{} {}: {}", self.harp, self.position, self.tab)
    }
}

fn best(melody: &Melody, key: Key, harps: &[Harp], technique: Technique) -> Best {
    best_of(melody, key, harps, technique, &Weights::default(), false)
}

fn best_of(
    melody: &Melody,
    key: Key,
    harps: &[Harp],
    technique: Technique,
    weights: &Weights,
    any_key: bool,
) -> Best {
    let ranking = search(&Request { melody, key, harps, technique, weights, any_key, pins: &[] });
    let best: &Approach = ranking.best().unwrap();
    let write = |action| Notation::default().write(action);
    let tab: Vec<String> =
        best.playing.notes.iter().map(|note| note.action.map_or(".".to_owned(), write)).collect();
    Best {
        harp: best.harp.to_string(),
        position: best.position.number(),
        bends: best.counts.bends(),
        missing: best.counts.missing,
        awkward: best.counts.awkward,
        limits: best.counts.limits,
        holes: best.counts.holes.unwrap(),
        tab: tab.join(" "),
    }
}

fn harps(names: &str) -> Vec<Harp> {
    if names == "all" {
        return Harp::standard_set(&Tuning::richter());
    }
    names.split(", ").map(|name| Harp::parse(name, Tuning::built_in()).unwrap()).collect()
}

/// Tunes that use every note of their scale, and the position that has these notes without a bend.
const MODES: [(&str, &str, u8); 12] = [
    ("C major", "C4 D4 E4 F4 G4 A4 B4 C5 G4 E4 C4:2", 1),
    ("C major", "G4 C5 D5 E5 F5 E5 D5 C5 B4 A4 G4 A4 B4 C5:2", 1),
    ("G mixolydian", "G4 A4 B4 C5 D5 E5 F5 G5 F5 D5 B4 G4:2", 2),
    ("G mixolydian", "D4 E4 F4 G4 A4 B4 C5 D5 C5 B4 A4 F4 G4:2", 2),
    ("D dorian", "D4 E4 F4 G4 A4 B4 C5 D5 C5 A4 F4 D4:2", 3),
    ("D dorian", "C4 D4 E4 F4 G4 A4 B4 A4 G4 E4 C4 D4:2", 3),
    ("A minor", "A4 B4 C5 D5 E5 F5 G5 A5 G5 E5 C5 A4:2", 4),
    ("A minor", "E4 F4 G4 A4 B4 C5 D5 E5 D5 C5 B4 G4 A4:2", 4),
    ("E phrygian", "E4 F4 G4 A4 B4 C5 D5 E5 D5 B4 G4 F4 E4:2", 5),
    ("E phrygian", "D4 E4 F4 G4 A4 B4 C5 B4 G4 F4 D4 E4:2", 5),
    ("F lydian", "F4 G4 A4 B4 C5 D5 E5 F5 E5 C5 B4 A4 F4:2", 12),
    ("F lydian", "E4 F4 G4 A4 B4 C5 D5 C5 B4 G4 E4 F4:2", 12),
];

#[test]
fn a_mode_lands_on_its_position_without_bends_in_all_twelve_keys() {
    let set = Harp::standard_set(&Tuning::richter());
    for (key, text, position) in MODES {
        let (key, melody): (Key, Melody) = (key.parse().unwrap(), tune(text, 120));
        for semitones in (-5..=6).map(Interval) {
            let key = Key { tonic: key.tonic.transposed(semitones), ..key };
            let melody = melody.transposed(semitones).unwrap();
            // A player who can bend makes the same choice.
            for technique in [Technique::None, Technique::All, Technique::Over] {
                let best = best(&melody, key, &set, technique);
                assert_eq!((best.position, best.bends), (position, 0), "{key}, {technique:?}: {}", best.tab);
                let harp = Position::new(position).unwrap().harp_key(key.tonic);
                assert_eq!(best.harp, harp.to_string());
            }
        }
    }
}

#[test]
fn a_major_tune_within_an_octave_of_its_tonic_is_played_on_holes_4_to_7_in_all_twelve_keys() {
    let set = Harp::standard_set(&Tuning::richter());
    let tunes = [
        "C4 D4 E4 F4 G4 A4 B4 C5 G4 E4 C4:2",
        "C4:1/2 D4:1/2 E4:1/2 F4:1/2 G4:1/2 A4:1/2 B4:1/2 C5:1/2 A4:1/2 G4:1/2 F4:1/2 D4:1/2 C4",
        "E4 G4 C5 B4 A4 F4 D4 B4 C5:2",
    ];
    for (text, tempo) in tunes.into_iter().flat_map(|text| [40, 120, 240].map(|tempo| (text, tempo))) {
        for semitones in (-5..=6).map(Interval) {
            let key: Key = "C".parse().unwrap();
            let key = Key { tonic: key.tonic.transposed(semitones), ..key };
            let best = best(&tune(text, tempo).transposed(semitones).unwrap(), key, &set, Technique::All);
            assert_eq!((best.position, best.bends), (1, 0), "{key} at {tempo}: {}", best.tab);
            assert!(4 <= best.holes.0 && best.holes.1 <= 7, "{key} at {tempo}: {}", best.tab);
        }
    }
}

/// The columns: the statement, key, tune, tempo, harps, and the expected harp and tab.
const CHOICES: &[(&str, &str, &str, u32, &str, &str)] = &[
    (
        "a tune of the chord alone can be played in all three octaves: the middle octave is played",
        "C",
        "C4 E4 G4 C5 G4 E4 C4:2",
        120,
        "C",
        "C 1: 4 5 6 7 6 5 4",
    ),
    (
        "raising blow 3 gives the low sixth, which is a bend on Richter",
        "C",
        "C5 D5 E5 G5 E5 D5 C5 A4 C5 D5 E5 C5:2",
        120,
        "C, C:paddy-richter",
        "C Paddy Richter 1: 4 -4 5 6 5 -4 4 3 4 -4 5 4",
    ),
    (
        "a tune that needs the fifth and the sixth below the tonic, and so the bend of draw 3, moves up an octave",
        "C",
        "G4 C5 D5 E5 F5 E5 D5 C5 B4 A4 G4 A4 B4 C5:2",
        120,
        "C",
        "C 1: 6 7 -8 8 -9 8 -8 7 -7 -6 6 -6 -7 7",
    ),
    (
        "a minor tune on a natural minor harp: second position, whose key is stamped on the harp",
        "G minor",
        "D5 G5 A5 Bb5 C6 D6 C6 Bb5 A5 F5 Eb5 D5 G5:2",
        120,
        "C, F, Bb, Gm:natural-minor",
        "Gm natural minor 2: -4 6 -6 -7 7 -8 7 -7 -6 -5 5 -4 6",
    ),
    (
        "a minor tune with its leading note on a harmonic minor harp: first position",
        "A minor",
        "A4 B4 C5 D5 E5 F5 G#5 A5 E5 C5 A4:2",
        120,
        "A, C, G, D, Am:natural-minor, Am:harmonic-minor",
        "Am harmonic minor 1: 4 -4 5 -5 6 -6 -7 7 6 5 4",
    ),
    (
        "the major seventh of second position is draw 5 on the country tuning",
        "G",
        "D5 G5 F#5 E5 D5 B5 A5 G5 F#5 G5:2",
        120,
        "C, C:country",
        "C country 2: -4 6 -5 5 -4 -7 -6 6 -5 6",
    ),
    (
        "the upper major seventh of second position is draw 9 on the major-seventh tuning only",
        "G",
        "G5 A5 B5 C6 D6 E6 F#6 G6 D6 B5 G5:2",
        120,
        "C, C:country, C:major-seventh",
        "C major seventh 2: 6 -6 -7 7 -8 8 -9 9 -8 -7 6",
    ),
    (
        "in a run of draw notes G is draw 2",
        "G",
        "B4:1/2 G4:1/2 D4:1/2 G4:1/2 B4",
        120,
        "C",
        "C 2: -3 -2 -1 -2 -3",
    ),
    ("the same, slowly", "G", "B4 G4 D4 G4 B4", 60, "C", "C 2: -3 -2 -1 -2 -3"),
    (
        "in a run of blow notes G is blow 3; C7 prevents the tune from moving up",
        "C",
        "E4:1/2 G4:1/2 C5:1/2 G4:1/2 E4 r C7",
        120,
        "C",
        "C 1: 2 3 4 3 2 10",
    ),
    (
        "draw 2 bent is released to draw 2, not left for blow 3",
        "G",
        "D4 F4 F#4 G4 B4:2",
        120,
        "C",
        "C 2: -1 -2'' -2' -2 -3",
    ),
    (
        "a blues line that slides from the major to the minor third: cross harp, low",
        "G mixolydian",
        "D4 G4 B4 Bb4 G4 D4 F5 D5 B4 Bb4 G4 D4 G4:2",
        120,
        "G, A, Bb, C, D, Eb, F",
        "C 2: -1 -2 -3 -3' -2 -1 -5 -4 -3 -3' -2 -1 -2",
    ),
    (
        "a reel in running eighths stays in first position, despite its changes of breath",
        "D",
        "F#4:1/2 A4:1/2 A4:1/2 B4:1/2 A4:1/2 F#4:1/2 E4:1/2 D4:1/2 C#4:1/2 D4:1/2 E4:1/2 F#4:1/2 G4:1/2 B4:1/2 A4",
        220,
        "G, A, C, D, F",
        "D 1: 5 6 6 -6 6 5 -4 4 -3 4 -4 5 -5 -6 6",
    ),
    (
        "a grace note is played as written, even if it is bent",
        "C",
        "C5 ~Db5 D5 E5 G5 F5 D5 C5:2",
        120,
        "C",
        "C 1: 4 -4' -4 5 6 -5 -4 4",
    ),
    (
        "in second position the tonic is draw 2",
        "G mixolydian",
        "G4 B4 D5 E5 F5 E5 D5 B4 G4:2",
        120,
        "G, A, C, D, F",
        "C 2: -2 -3 -4 5 -5 5 -4 -3 -2",
    ),
    (
        "a quick reel is played in first position",
        "D",
        "F#4:1/2 A4:1/2 A4:1/2 B4:1/2 A4:1/2 F#4:1/2 E4:1/2 D4:1/2 C#4:1/2 D4:1/2 E4:1/2 F#4:1/2 G4:1/2 B4:1/2 A4",
        280,
        "G, A, C, D, F",
        "D 1: 5 6 6 -6 6 5 -4 4 -3 4 -4 5 -5 -6 6",
    ),
    ("a grace note that is within reach is played", "G", "D4 ~G4 B4 D4:2", 120, "C", "C 2: -1 -2 -3 -1"),
];

/// A statement of common practice, and whether it holds.
struct Statement {
    says: &'static str,
    /// Returns the answer that was found, and whether it agrees with the statement.
    check: fn() -> (Best, bool),
    /// The reason, for a statement that does not hold.
    apart: Option<&'static str>,
}

/// Finds the best approach to an invented tune for the improver on all twelve harps.
fn made(key: &str, text: &str, tempo: u32) -> Best {
    on("all", key, text, tempo)
}

/// Finds the best approach to an invented tune for the improver on these harps.
fn on(names: &str, key: &str, text: &str, tempo: u32) -> Best {
    best(&tune(text, tempo), key.parse().unwrap(), &harps(names), Technique::All)
}

/// Finds the best approach to an invented tune on a C harp with this technique.
fn with(technique: Technique, text: &str) -> Best {
    best(&tune(text, 120), "C".parse().unwrap(), &harps("C"), technique)
}

/// Finds the best approach to an invented tune for a player.
fn for_player(name: &str, key: &str, text: &str, tempo: u32) -> Best {
    let player = Player::find(name).unwrap();
    best_of(&tune(text, tempo), key.parse().unwrap(), &harps("all"), player.technique, &player.weights, false)
}

/// Finds the best approach to a tune of the corpus for a player on all twelve harps.
fn traditional(name: &str, player: &str) -> Best {
    let bytes = std::fs::read(format!("{}/corpus/{name}.musicxml", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let melody = import(&bytes, &ImportOptions::default()).unwrap().melody;
    let player = Player::find(player).unwrap();
    let key = key::find(&melody).key;
    best_of(&melody, key, &harps("all"), player.technique, &player.weights, false)
}

/// Makes a statement about a tune: `is` is a condition on the answer `it`.
macro_rules! statement {
    ($says:literal, $found:expr, $it:ident => $is:expr) => {
        Statement {
            says: $says,
            check: || {
                let $it = $found;
                let is = $is;
                ($it, is)
            },
            apart: None,
        }
    };
    ($says:literal, $found:expr, $it:ident => $is:expr, apart: $why:literal) => {
        Statement {
            says: $says,
            check: || {
                let $it = $found;
                let is = $is;
                ($it, is)
            },
            apart: Some($why),
        }
    };
}

const STATEMENTS: &[Statement] = &[
    // Positions.
    statement!(
        "a major tune from tonic to tonic is played in 1st position",
        made("G", "G4 A4 B4 C5 D5 E5 F#5 G5 D5 B4 G4:2", 120),
        it => it.position == 1 && it.bends == 0
    ),
    statement!(
        "a Mixolydian tune is played in 2nd position",
        made("A mixolydian", "A4 B4 C#5 D5 E5 F#5 G5 A5 G5 E5 C#5 A4:2", 120),
        it => it.position == 2 && it.bends == 0
    ),
    statement!(
        "a Dorian tune is played in 3rd position",
        made("E dorian", "E4 F#4 G4 A4 B4 C#5 D5 E5 D5 B4 G4 E4:2", 120),
        it => it.position == 3 && it.bends == 0
    ),
    statement!(
        "a natural minor tune is played in 4th position",
        made("E minor", "E4 F#4 G4 A4 B4 C5 D5 E5 D5 B4 G4 E4:2", 120),
        it => it.position == 4 && it.bends == 0
    ),
    statement!(
        "a Phrygian tune is played in 5th position",
        made("B phrygian", "B4 C5 D5 E5 F#5 G5 A5 B5 A5 F#5 D5 C5 B4:2", 120),
        it => it.position == 5 && it.bends == 0
    ),
    statement!(
        "a Lydian tune is played in 12th position",
        made("G lydian", "G4 A4 B4 C#5 D5 E5 F#5 G5 F#5 D5 C#5 B4 G4:2", 120),
        it => it.position == 12 && it.bends == 0
    ),
    statement!(
        "a hymn of five notes is played in 2nd or 1st position, which are learnt first",
        made("G", "D4 G4:2 B4:1/2 G4:1/2 B4:2 A4 G4:2 E4 D4:2", 120),
        it => [1, 2].contains(&it.position)
    ),
    statement!(
        "a major tune without its fourth that goes down to the sixth is played in 1st position",
        made("C", "G4 C5 D5 E5 C5 B4 A4 G4 A4 B4 C5:2", 120),
        it => it.position == 1
    ),
    statement!(
        "a tune of the tonic chord alone is played in 1st position",
        made("A", "A4 C#5 E5 A5 E5 C#5 A4:2", 120),
        it => it.position == 1 && it.bends == 0
    ),
    statement!(
        "a beginner plays a major tune in 1st position on the middle holes",
        for_player("beginner", "D", "D4 F#4 A4 G4 F#4 E4 D4:2 A4 B4 A4 F#4 D4:2", 90),
        it => it.position == 1 && 4 <= it.holes.0 && it.holes.1 <= 7 && it.bends == 0
    ),
    statement!(
        "in any key a beginner's major tune moves to the middle of the harp in 1st position",
        {
            let player = Player::find("beginner").unwrap();
            let melody = tune("E4 E4 F4 G4 G4 F4 E4 D4 C4 C4 D4 E4 E4 D4 D4:2", 100);
            best_of(&melody, "C".parse().unwrap(), &harps("all"), player.technique, &player.weights, true)
        },
        it => it.position == 1 && 4 <= it.holes.0 && it.holes.1 <= 7
    ),
    // Statements about holes that need care.
    statement!(
        "in 2nd position a major tune avoids draw 5 and draw 9",
        made("G", "G4 B4 D5 E5 D5 B4 A4 G4 E4 G4 A4 B4 G4:2", 120),
        it => careful(2, 0) == [Action::draw(5), Action::draw(9)] && !(it.position == 2 && (it.has("-5") || it.has("-9")))
    ),
    statement!(
        "in 3rd position a natural minor tune avoids draw 3 and draw 7",
        made("D minor", "D4 F4 A4 Bb4 A4 G4 F4 E4 D4:2", 120),
        it => careful(3, 1) == [Action::draw(3), Action::draw(7)] && !(it.position == 3 && (it.has("-3") || it.has("-7")))
    ),
    statement!(
        "4th position has no reeds to be careful with in a natural minor tune",
        made("A minor", "E4 F4 G4 A4 B4 C5 D5 E5 D5 C5 B4 G4 A4:2", 120),
        it => careful(4, 1).is_empty() && it.position == 4
    ),
    statement!(
        "in 12th position the fourth of a major tune is a bend, so such a tune is not played there",
        made("F", "F4 A4 Bb4 C5 D5 C5 Bb4 A4 G4 F4:2", 120),
        it => careful(12, 0) == [Action::draw(3), Action::draw(7)] && it.position == 1
    ),
    // Statements about the notes of the harp.
    statement!(
        "the scale blows first on holes 4 to 6 and draws first from 7 up",
        on("C", "C", "C5 D5 E5 F5 G5 A5 B5 C6 D6 E6 F6 G6 A6 C7:2", 90),
        it => it.tab == "4 -4 5 -5 6 -6 -7 7 -8 8 -9 9 -10 10"
    ),
    statement!(
        "the bottom octave lacks the fourth and the sixth without bends",
        with(Technique::None, "C4 D4 E4 F4 G4 A4 B4 C5 E5 G5 C6 E6 G6 C7:2"),
        it => it.tab == "1 -1 2 . -2 . -3 4 5 6 7 8 9 10" || it.tab == "1 -1 2 . 3 . -3 4 5 6 7 8 9 10"
    ),
    statement!(
        "draw 2 and draw 3 bent by a whole step fill the bottom octave",
        with(Technique::Draw, "C4 D4 E4 F4 G4 A4 B4 C5 E5 G5 C6 E6 G6 C7:2"),
        it => it.missing == 0 && it.has("-2''") && it.has("-3''")
    ),
    statement!(
        "the top octave lacks the seventh without blow bends",
        with(Technique::Draw, "C4 E4 G4 C5 E5 G5 C6 D6 E6 F6 G6 A6 B6 C7:2"),
        it => it.missing == 1 && it.tab.ends_with("-10 . 10")
    ),
    statement!(
        "blow 10 bent by a half step is the seventh of the top octave",
        with(Technique::All, "C4 E4 G4 C5 E5 G5 C6 D6 E6 F6 G6 A6 B6 C7:2"),
        it => it.tab.ends_with("-10 10' 10")
    ),
    statement!(
        "the sharp fourth of the middle octave is not a bend: it is overblow 5",
        with(Technique::Over, "C4 E4 G4 C5 E5 F#5 G5 C6 E6 G6 C7:2"),
        it => it.has("5o") && with(Technique::All, "C4 E4 G4 C5 E5 F#5 G5 C6 E6 G6 C7:2").missing == 1
    ),
    // Statements about the place on the harp.
    statement!(
        "nobody climbs to hole 10 of an F harp and bends there for a single note",
        traditional("deck-the-hall", "improver"),
        it => it.harp == "F" && it.position == 1 && it.holes.1 <= 7 && it.missing == 1
    ),
    statement!(
        "one missing note is better than a tune full of bends for a beginner",
        traditional("deck-the-hall", "beginner"),
        it => it.harp == "F" && it.position == 1 && it.bends == 0 && it.missing == 1
    ),
    // Traditional tunes.
    statement!(
        "Amazing Grace is played in 2nd or 1st position",
        traditional("amazing-grace", "improver"),
        it => [1, 2].contains(&it.position) && it.bends == 0
    ),
    statement!(
        "Au clair de la lune is a beginner's tune in 1st position without bends",
        traditional("au-clair-de-la-lune", "beginner"),
        it => it.position == 1 && it.bends == 0,
        apart: "the second strain goes below the tonic: on a G harp that is a whole-step bend, and an octave up half of the tune \
                lies on holes 8 to 10; a C harp in 2nd position lacks one note in the middle of the harp"
    ),
    statement!(
        "Oh Susanna is played in 1st position on the middle holes",
        traditional("oh-susanna", "improver"),
        it => it.position == 1 && 4 <= it.holes.0 && it.holes.1 <= 7
    ),
    statement!(
        "Ode to Joy is played in 1st position in the middle",
        traditional("ode-to-joy", "beginner"),
        it => it.position == 1 && it.holes.1 <= 7 && it.bends == 0
    ),
    statement!(
        "Drunken Sailor, a Dorian tune, is played in 3rd position",
        traditional("drunken-sailor", "improver"),
        it => it.harp == "C" && it.position == 3 && it.bends == 0
    ),
    statement!(
        "Swallowtail Jig in E Dorian is played on a D harp, 3rd position",
        traditional("swallowtail-jig", "improver"),
        it => it.harp == "D" && it.position == 3 && it.bends == 0
    ),
    statement!(
        "Banish Misfortune in D Mixolydian is played on a G harp, 2nd position",
        traditional("banish-misfortune", "improver"),
        it => it.harp == "G" && it.position == 2
    ),
    statement!(
        "Three Little Drummers in A Mixolydian is played on a D harp, 2nd position",
        traditional("three-little-drummers", "improver"),
        it => it.harp == "D" && it.position == 2 && it.bends == 0
    ),
    statement!(
        "Korobeiniki in A minor is played on a C harp, 4th position",
        traditional("korobeiniki", "improver"),
        it => it.harp == "C" && it.position == 4 && it.bends == 0
    ),
    statement!(
        "God Rest You Merry in E minor is played on a G harp, 4th position",
        traditional("god-rest-you-merry", "improver"),
        it => it.harp == "G" && it.position == 4 && it.bends == 0
    ),
    statement!(
        "What Child Is This in E Dorian is played on a D harp, 3rd position, with a few bends",
        traditional("what-child-is-this", "improver"),
        it => it.harp == "D" && it.position == 3 && it.missing == 0
    ),
    statement!(
        "a jig in G is played on a G harp in 1st position, with the one bend that it needs",
        traditional("irish-washerwoman", "improver"),
        it => it.harp == "G" && it.position == 1 && it.bends == 1
    ),
    statement!(
        "a hornpipe in D is played on a D harp in 1st position",
        traditional("boys-of-bluehill", "improver"),
        it => it.harp == "D" && it.position == 1,
        apart: "the fourth of the harp below is the seventh that this tune has as a passing note; on a G harp in 2nd position \
                every note is there on holes 2 to 8, where the D harp goes up to 9 and turns the breath more often"
    ),
    statement!(
        "a tune of chromatic steps does not suit a diatonic harp: there are bends or gaps",
        traditional("hall-of-the-mountain-king", "improver"),
        it => it.bends + it.missing >= 10
    ),
    // Statements about bends and the blues.
    statement!(
        "a minor blues is played on cross harp for the sound of its bends",
        made("G minor", "G4 Bb4 C5 Db5 D5 F5 G5 F5 D5 C5 Bb4 G4:2", 120),
        it => it.position == 2,
        apart: "effort ignores sound: the natural notes of 3rd position are easier, and minor blues is played there too"
    ),
    statement!(
        "a bend that is slid into on its own reed is easier than one that starts from silence",
        on("C", "G", "B4 Bb4", 120),
        it => it.tab == "-3 -3'" && bends_of("B4 Bb4") < bends_of("Bb4")
    ),
    statement!(
        "draw 4 bent by a half step is easier than draw 3 bent by a whole step",
        on("C", "C", "Db5", 120),
        it => it.tab == "-4'" && bends_of("Db5") < bends_of("A4")
    ),
    statement!(
        "the half-step bend of draw 3 is harder to hold in tune than that of draw 4",
        on("C", "C", "Bb4", 120),
        it => it.tab == "-3'" && bends_of("Bb4") > bends_of("Db5")
    ),
    statement!(
        "an overblow is the last resort: another harp with a plain bend is preferred",
        best(
            &tune("C5 D5 Eb5 G5 Eb5 D5 C5:2", 120),
            "C minor".parse().unwrap(),
            &harps("C, Bb, Eb"),
            Technique::Over,
        ),
        it => !it.tab.contains('o')
    ),
    statement!(
        "a beginner's first row has few bends",
        traditional("banish-misfortune", "beginner"),
        it => it.bends <= 3
    ),
    // Breath and speed.
    statement!(
        "quick turns of the breath are awkward, slow ones are not",
        on("C", "C", "C5:1/4 D5:1/4 E5:1/4 F5:1/4 G5:1/4 A5:1/4 G5:1/4 F5:1/4 E5:1/4 D5:1/4 C5", 180),
        it => it.awkward > 0 && on("C", "C", "C5 D5 E5 F5 G5 A5 G5 F5 E5 D5 C5", 80).awkward == 0
    ),
    statement!(
        "long draw notes without a rest fill the lungs; with rests they do not",
        on("C", "G", &"D5:8 B4:8 ".repeat(6), 60),
        it => it.limits > 0 && on("C", "G", &"D5:2 r:4 B4:2 r:4 ".repeat(6), 60).limits == 0
    ),
];

fn careful(number: u8, mode: usize) -> Vec<Action> {
    let harp = &harps("C")[0];
    let offer = position::offer(harp, Position::new(number).unwrap());
    offer.careful[mode].iter().map(|careful| careful.action).collect()
}

/// Returns the price of a tune's bends for the improver on a C harp at the written pitch.
fn bends_of(text: &str) -> u64 {
    let (melody, harps, weights) = (tune(text, 120), harps("C"), Weights::default());
    let (key, technique) = ("C".parse().unwrap(), Technique::All);
    let ranking = search(&Request {
        melody: &melody,
        key,
        harps: &harps,
        technique,
        weights: &weights,
        any_key: false,
        pins: &[],
    });
    ranking.approaches.iter().find(|row| row.octave == 0).unwrap().playing.effort[Term::Bends]
}

#[test]
fn the_judgement_is_that_of_the_trade() {
    let mut wrong = String::new();
    let mut held = 0;
    let mut apart = String::new();
    for statement in STATEMENTS {
        let (found, holds) = (statement.check)();
        let found = found.written();
        held += usize::from(holds);
        println!("{} {}", if holds { "holds:         " } else { "does not hold: " }, statement.says);
        match (holds, statement.apart) {
            (false, Some(why)) => {
                let found: String = found.chars().take(60).collect();
                apart += &format!("  {}\n    found: {found}\n    {why}\n", statement.says);
            }
            (false, None) => wrong += &format!("{}: {found}\n", statement.says),
            (true, Some(_)) => wrong += &format!("{} holds now: {found}\n", statement.says),
            (true, None) => {}
        }
    }
    for &(rule, key, text, tempo, names, expected) in CHOICES {
        let found = on(names, key, text, tempo).written();
        held += usize::from(found == expected);
        println!("{} {rule}", if found == expected { "holds:         " } else { "does not hold: " });
        if found != expected {
            wrong += &format!("{rule}: {found}, not {expected}\n");
        }
    }
    let all = STATEMENTS.len() + CHOICES.len();
    println!("{held} of {all} statements of common practice hold; those that do not:\n{apart}");
    assert!(held >= 40 && wrong.is_empty(), "\n{wrong}");
}
