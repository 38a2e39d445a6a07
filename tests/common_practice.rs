//! What players do, against what the default player's search finds. Every tune here is made up for its row, and every
//! expectation is common practice, no source.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test says what fails by failing")]

mod tunes;

use breathline::{
    harp::{Harp, Position, Technique, Tuning},
    melody::{Melody, key::Key},
    pitch::Interval,
    search::{Approach, Request, Weights, search},
    tab::Notation,
};
use tunes::tune;

/// The best approach, without its harp borrowed.
struct Best {
    harp: String,
    position: u8,
    bends: u32,
    holes: (u8, u8),
    tab: String,
}

fn best(melody: &Melody, key: Key, harps: &[Harp], technique: Technique) -> Best {
    let weights = Weights::default();
    let ranking = search(&Request { melody, key, harps, technique, weights: &weights, any_key: false });
    let best: &Approach = ranking.best().unwrap();
    let write = |action| Notation::default().write(action);
    let tab: Vec<String> =
        best.playing.notes.iter().map(|note| note.action.map_or(".".to_owned(), write)).collect();
    Best {
        harp: best.harp.to_string(),
        position: best.position.number(),
        bends: best.counts.bends(),
        holes: best.counts.holes.unwrap(),
        tab: tab.join(" "),
    }
}

fn harps(names: &str) -> Vec<Harp> {
    names.split(", ").map(|name| Harp::parse(name, Tuning::built_in()).unwrap()).collect()
}

/// Tunes that have every note of their scale, and the position that has these notes without a bend.
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
            // A player who can bend chooses the same.
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

/// What is asked, key, tune, tempo, harps, and the harp and tab expected.
const CHOICES: &[(&str, &str, &str, u32, &str, &str)] = &[
    (
        "a tune of the chord alone lies in all three octaves: the middle one is played",
        "C",
        "C4 E4 G4 C5 G4 E4 C4:2",
        120,
        "C",
        "C 1: 4 5 6 7 6 5 4",
    ),
    (
        "a raised blow 3 gives the low sixth that is a bend on Richter",
        "C",
        "C5 D5 E5 G5 E5 D5 C5 A4 C5 D5 E5 C5:2",
        120,
        "C, C:paddy-richter",
        "C Paddy Richter 1: 4 -4 5 6 5 -4 4 3 4 -4 5 4",
    ),
    (
        "with the fifth and sixth below the tonic and the bend of draw 3 in the way, the tune goes an octave up",
        "C",
        "G4 C5 D5 E5 F5 E5 D5 C5 B4 A4 G4 A4 B4 C5:2",
        120,
        "C",
        "C 1: 6 7 -8 8 -9 8 -8 7 -7 -6 6 -6 -7 7",
    ),
    (
        "a minor tune on a natural minor harp: second position, whose key it is stamped with",
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
        "in a run of blow notes G is blow 3; C7 keeps the tune from going up",
        "C",
        "E4:1/2 G4:1/2 C5:1/2 G4:1/2 E4 r C7",
        120,
        "C",
        "C 1: 2 3 4 3 2 10",
    ),
    (
        "draw 2 bent is let go to draw 2, not left for blow 3",
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
        "a reel in running eighths stays in first position, changes of breath and all",
        "D",
        "F#4:1/2 A4:1/2 A4:1/2 B4:1/2 A4:1/2 F#4:1/2 E4:1/2 D4:1/2 C#4:1/2 D4:1/2 E4:1/2 F#4:1/2 G4:1/2 B4:1/2 A4",
        220,
        "G, A, C, D, F",
        "D 1: 5 6 6 -6 6 5 -4 4 -3 4 -4 5 -5 -6 6",
    ),
    (
        "a grace note is played as written, also where it is bent",
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
    ("a grace note that lies on the way is played", "G", "D4 ~G4 B4 D4:2", 120, "C", "C 2: -1 -2 -3 -1"),
];

#[test]
fn the_choice_is_that_of_players() {
    let mut wrong = String::new();
    for &(rule, key, text, tempo, names, expected) in CHOICES {
        let found = best(&tune(text, tempo), key.parse().unwrap(), &harps(names), Technique::All);
        let found = format!("{} {}: {}", found.harp, found.position, found.tab);
        if found != expected {
            wrong += &format!("{rule}: {found}, not {expected}\n");
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

/// Where the search and players part: why, key, tune, tempo, and what is found with all twelve harps.
const APART: &[(&str, &str, &str, u32, &str)] = &[
    (
        "a hymn of five notes is played in second or first position; twelfth is seldom learnt, but it has the tune on \
         holes 4 to 6 without a bend, where second and first go higher",
        "G",
        "D4 G4:2 B4:1/2 G4:1/2 B4:2 A4 G4:2 E4 D4:2",
        120,
        "D 12: 4 -5 -6 -5 -6 6 -5 -4 4",
    ),
    (
        "a major tune without its fourth that goes down to the sixth is played in first position",
        "C",
        "G4 C5 D5 E5 C5 B4 A4 G4 A4 B4 C5:2",
        120,
        "G 12: 4 -5 6 -6 -5 5 -4 4 -4 5 -5",
    ),
    (
        "a minor blues is played on cross harp for the sound of its bends; effort likes the natural notes of third position",
        "G minor",
        "G4 Bb4 C5 Db5 D5 F5 G5 F5 D5 C5 Bb4 G4:2",
        120,
        "F 3: -4 -5 6 -6' -6 7 -8 7 -6 6 -5 -4",
    ),
];

/// These answers are wrong, or at least not those of players. They are kept in sight: a better model changes them.
#[test]
fn where_the_search_and_players_part_is_known() {
    let set = Harp::standard_set(&Tuning::richter());
    for &(practice, key, text, tempo, found) in APART {
        let best = best(&tune(text, tempo), key.parse().unwrap(), &set, Technique::All);
        assert_eq!(format!("{} {}: {}", best.harp, best.position, best.tab), found, "{practice}");
    }
}
