//! The ways worth knowing beside the best: each has the properties of its kind, appears when it should, and never
//! otherwise.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a panic is how a test reports a failure")]

use crate::tunes;

use std::{fs, path::Path};

use breathline::{
    harp::{Bend, Harp, Register, Technique, Tuning},
    import::{ImportOptions, import},
    melody::{Melody, key},
    search::{
        Approach, Player, Request, Wanted, search_for,
        ways::{self, Kind, loses_little},
    },
};
use tunes::tune;

/// Returns the tunes of the corpus, each with its file's name.
fn corpus() -> Vec<(String, Melody)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("corpus");
    let mut files: Vec<_> = fs::read_dir(folder).unwrap().map(|file| file.unwrap().path()).collect();
    files.retain(|file| file.extension().is_some_and(|ending| ending == "musicxml"));
    files.sort();
    let read = |file: &Path| import(&fs::read(file).unwrap(), &ImportOptions::default()).unwrap().melody;
    files.iter().map(|file| (file.file_stem().unwrap().to_string_lossy().into_owned(), read(file))).collect()
}

fn harps(names: &str) -> Vec<Harp> {
    match names {
        "all" => Harp::standard_set(&Tuning::richter()),
        names => names.split(',').map(|name| Harp::parse(name, Tuning::built_in()).unwrap()).collect(),
    }
}

fn request<'a>(melody: &'a Melody, harps: &'a [Harp], player: &'a Player) -> Request<'a> {
    Request {
        melody,
        key: key::find(melody).key,
        harps,
        technique: player.technique,
        weights: &player.weights,
        any_key: false,
        pins: &[],
    }
}

fn bent(row: &Approach) -> usize {
    let actions = row.playing.notes.iter().filter_map(|note| note.action);
    actions.filter(|action| action.bend != Bend::None).count()
}

fn high(row: &Approach) -> usize {
    row.playing.notes.iter().filter_map(|note| note.action).filter(|action| action.hole >= 8).count()
}

fn silent(row: &Approach, melody: &Melody) -> usize {
    let notes = row.playing.notes.iter().zip(&melody.notes);
    notes.filter(|(played, note)| played.action.is_none() && !note.grace).count()
}

#[test]
fn each_way_is_what_it_says_and_is_there_when_it_should_be() {
    let mut seen = [0; 7];
    for (name, melody) in corpus() {
        for player in Player::built_in() {
            for kit in ["all", "C,G", "A,D,F,Bb"] {
                let harps = harps(kit);
                let asked = request(&melody, &harps, player);
                let (asked, ranking) = ways::answer(&asked, &Wanted::first(3));
                let best = ranking.best().unwrap();
                let of = |kind| ranking.ways.iter().find(|way| way.kind == kind).map(|way| &way.approach);
                let said = format!("{name}, {}, {kit}", player.name);
                let kinds: Vec<Kind> = ranking.ways.iter().map(|way| way.kind).collect();
                assert!(
                    kinds.is_sorted() && kinds.windows(2).all(|pair| pair[0] != pair[1]),
                    "{said}: {kinds:?}"
                );
                for kind in &kinds {
                    seen[*kind as usize - 1] += 1;
                }

                let every_note = Wanted { every_note: true, ..Wanted::first(1) };
                let full = search_for(&asked, &every_note).approaches.remove(0);
                let worth_it = silent(best, &melody) > 0 && silent(&full, &melody) == 0;
                assert_eq!(of(Kind::EveryNote), worth_it.then_some(&full), "{said}");

                let natural = Request { technique: Technique::None, ..asked.clone() };
                let unbent = search_for(&natural, &Wanted::first(1)).approaches.into_iter().next();
                let unbent = unbent.filter(|row| bent(best) > 0 && loses_little(&asked, row));
                // The best row without bends may be the row that plays every note, and is then listed only as that row.
                let told = of(Kind::EveryNote).is_some_and(|row| unbent.as_ref() == Some(row));
                if !told {
                    assert_eq!(of(Kind::NoBends), unbent.as_ref(), "{said}");
                }
                if let Some(row) = of(Kind::NoBends) {
                    assert_eq!(bent(row), 0, "{said}");
                }

                let sounded = |row: &Approach| row.playing.notes.len() - silent(row, &melody);
                if let Some(row) = of(Kind::Lower) {
                    assert!(high(best) * 3 > sounded(best) - melody.notes.len() / 4, "{said}");
                    assert!(high(row) * 4 <= sounded(row) && loses_little(&asked, row), "{said}");
                }
                if let Some(row) = of(Kind::OtherRegister) {
                    assert!(row.has_same_tab(best) && row.octave.abs() < best.octave.abs(), "{said}");
                    assert_ne!(row.harp.register(), Register::Standard, "{said}");
                }
                if let Some(row) = of(Kind::OtherTuning) {
                    assert_eq!((bent(row), silent(row, &melody)), (0, 0), "{said}");
                    assert!(high(row) * 4 <= sounded(row) && row.harp.tuning().name() != "richter", "{said}");
                }
                let any_key = Request { any_key: true, ..asked.clone() };
                let moved = search_for(&any_key, &Wanted::first(1)).approaches.remove(0);
                let total = |row: &Approach| row.playing.effort.total();
                let worth_it = kit != "all" && !asked.any_key && silent(best, &melody) > 0;
                let worth_it = worth_it && silent(&moved, &melody) == 0 && 2 * total(&moved) < total(best);
                assert_eq!(of(Kind::OtherKey), worth_it.then_some(&moved), "{said}");
                // The tune may leave its own key only if the kit lacks some key.
                assert!(kit != "all" || !asked.any_key, "{said}");
                assert_eq!(of(Kind::OwnKey).is_some(), asked.any_key, "{said}");
            }
        }
    }
    assert!(seen.iter().all(|&times| times > 0), "{seen:?}");
}

#[test]
fn what_the_kit_does_not_fit_is_led_by_another_key() {
    // A tune in B flat, for a player who has only a C harp: eleventh position, or a transposition to C.
    let melody = tune("Bb4 C5 D5 Eb5 F5 G5 A5 Bb5 F5 D5 Eb5 C5 D5 Bb4:2", 100);
    let (harps, player) = (harps("C"), Player::default());
    let mut asked = request(&melody, &harps, &player);
    asked.key = "Bb".parse().unwrap();
    let (answered, ranking) = ways::answer(&asked, &Wanted::first(5));
    let best = ranking.best().unwrap();
    assert!(answered.any_key);
    assert_eq!((best.position.number(), best.transposed.0, bent(best)), (1, 2, 0));
    let own = ranking.ways.iter().find(|way| way.kind == Kind::OwnKey).unwrap();
    assert_eq!((own.approach.position.number(), own.approach.transposed.0), (11, 0));
    // A harp that fits keeps the tune in its key.
    let fitting = self::harps("C,Bb");
    let (answered, ranking) = ways::answer(&Request { harps: &fitting, ..asked }, &Wanted::first(5));
    assert!(!answered.any_key);
    assert_eq!(ranking.best().unwrap().harp.to_string(), "Bb");
}

/// A note that needs a costly bend in an easy tune is left out and reported, and is played if the user asks for every
/// note.
#[test]
fn a_dear_bend_is_left_out_and_said_unless_every_note_is_wanted() {
    // E flat 6 is a passing note: blow 8 bent on a C harp.
    let melody = tune("C5 D5 E5 F5 G5 F5 E5 D5 C5 D5 E5 D6:1/2 Eb6:1/4 D6:1/4 G5 F5 E5 D5 C5:2", 100);
    let harps = harps("C");
    let mut player = Player::default();
    player.weights.bends.blow = 4000;
    let asked = request(&melody, &harps, &player);
    let best = search_for(&asked, &Wanted::first(1)).approaches.remove(0);
    assert_eq!((best.spared(&asked), best.counts.missing), (vec![12], 1));
    assert!(best.technique < asked.technique);
    let whole = search_for(&asked, &Wanted { every_note: true, ..Wanted::first(1) }).approaches.remove(0);
    assert_eq!((whole.spared(&asked), whole.counts.missing), (vec![], 0));
    assert!(best.playing.effort.total() < whole.playing.effort.total());
    // A note that the player's technique cannot sound does not count as left out to save effort.
    player.technique = Technique::None;
    let asked = request(&melody, &harps, &player);
    let best = search_for(&asked, &Wanted::first(1)).approaches.remove(0);
    assert_eq!((best.spared(&asked), best.counts.missing), (vec![], 1));
}

/// Without `--adapt`, only a tune that lacks few notes is changed.
#[test]
fn a_tune_that_lacks_little_is_adapted_and_one_that_lacks_much_is_not() {
    let (harps, player) = (harps("C"), Player { technique: Technique::None, ..Player::default() });
    for (text, is_little) in [
        ("C5 D5 E5 F5 G5 F5 E5 F#5:1/4 G5:3/4 C5 D5 E5 F5 G5 F5 E5 D5 C5:2", true),
        ("C5 C#5 D5 D#5 E5 F#5 G#5 A#5 C#6 C5:2", false),
        ("C5 D5 E5 F5 G5 F5 E5 D5 C5:2", false),
    ] {
        let melody = tune(text, 100);
        let asked = Request { key: "C".parse().unwrap(), ..request(&melody, &harps, &player) };
        let mut ranking = search_for(&asked, &Wanted::first(1));
        ranking.adapt_if_little(&asked, &player.edits);
        assert_eq!(ranking.adapted.is_some(), is_little, "{text}");
    }
}

/// For a row that bends more than every fourth note, `--adapt` may change the notes that force the bends.
#[test]
fn adapting_a_row_that_is_mostly_bent_may_change_what_forces_the_bends() {
    let (harps, player) = (harps("C"), Player::find("beginner").unwrap());
    let melody = tune("C4 E4 A4 G4 A4 G4 A4 G4 E4 A4 G4 A4 C4:2", 100);
    let asked = Request { key: "C".parse().unwrap(), ..request(&melody, &harps, player) };
    let wanted = Wanted { every_note: true, octave: Some(0), ..Wanted::first(1) };
    let mut ranking = search_for(&asked, &wanted);
    let best = ranking.best().unwrap().clone();
    assert!(bent(&best) * 4 > melody.notes.len());
    ranking.adapt(&asked, &player.edits);
    let adapted = ranking.adapted.as_ref().unwrap();
    assert!(adapted.playing.effort.total() <= best.playing.effort.total());
}
