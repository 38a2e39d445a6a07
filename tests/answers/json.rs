//! The JSON contract, read into types that this test declares from the contract's description, independently of the
//! program's own types.

use crate::harness;

use harness::breathline;
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Notes {
    schema: u32,
    title: String,
    composer: Option<String>,
    lyricist: Option<String>,
    arranger: Option<String>,
    rights: Vec<String>,
    unfolded: bool,
    tempo: Tempo,
    warnings: Vec<String>,
    part: ChosenPart,
    parts: Vec<Part>,
    key: Key,
    notes: Vec<Note>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ChosenPart {
    number: usize,
    name: Option<String>,
    why: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Part {
    number: usize,
    name: Option<String>,
    notes: usize,
    lowest: Option<u8>,
    highest: Option<u8>,
    percussion: bool,
}

#[derive(Deserialize, Debug, PartialEq)]
#[serde(deny_unknown_fields)]
struct Key {
    tonic: String,
    mode: String,
    shade: Option<String>,
    from: String,
    confidence: f64,
    tonic_confidence: f64,
    why: Vec<String>,
    others: Vec<OtherKey>,
    #[serde(default)]
    sections: Vec<KeySection>,
}

#[derive(Deserialize, Debug, PartialEq)]
#[serde(deny_unknown_fields)]
struct KeySection {
    bar: u32,
    tonic: String,
    mode: String,
    confidence: f64,
}

#[derive(Deserialize, Debug, PartialEq)]
#[serde(deny_unknown_fields)]
struct OtherKey {
    tonic: String,
    mode: String,
    confidence: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Note {
    onset: f64,
    duration: f64,
    midi: u8,
    name: String,
    bar: u32,
    beat: f64,
    seconds: f64,
    lyric: Option<String>,
    #[serde(default)]
    grace: bool,
    phrase_end: Option<u8>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(dead_code, reason = "tests/playing/keys.rs tests its content; this test only rejects unknown fields")]
struct Rival {
    tonic: String,
    mode: String,
    tonic_confidence: f64,
    approaches: Vec<serde_json::Value>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Suggest {
    schema: u32,
    tune: Tune,
    key: Key,
    player: Player,
    style: Option<String>,
    tried: usize,
    approaches: Vec<Approach>,
    ways: Vec<Way>,
    rival: Option<Rival>,
    unbent: Option<Unbent>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Way {
    way: String,
    approach: Approach,
    gives_up: Vec<String>,
    gains: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Unbent {
    harp: Harp,
    position: u8,
    octave: i8,
    sounding_key: String,
    transposed: i16,
    notes: usize,
    playable: usize,
    missing: Vec<Missing>,
    effort: u64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tune {
    title: String,
    notes: usize,
    part: usize,
    unfolded: bool,
    tempo: Tempo,
    warnings: Vec<String>,
}

#[derive(Deserialize, Debug, PartialEq)]
#[serde(deny_unknown_fields)]
struct Tempo {
    quarters_per_minute: u32,
    stated: bool,
    taken_as: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Player {
    name: String,
    technique: String,
    harps: Vec<Harp>,
}

#[derive(Deserialize, Debug, PartialEq)]
#[serde(deny_unknown_fields)]
struct Harp {
    key: String,
    register: String,
    tuning: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Approach {
    rank: usize,
    harp: Harp,
    position: u8,
    octave: i8,
    sounding_key: String,
    transposed: i16,
    notes: usize,
    playable: usize,
    missing: Vec<Missing>,
    bends: Bends,
    breath: Breath,
    register: String,
    comfortable_to: Option<u64>,
    holes: Option<Holes>,
    effort: Effort,
    changes: Option<Vec<Change>>,
    reasons: Vec<String>,
    tab: Vec<Option<Action>>,
    adapted: Option<Adapted>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Adapted {
    missing: Vec<Missing>,
    effort: Effort,
    tab: Vec<Option<Action>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Change {
    bar: u32,
    beat: f64,
    from: String,
    to: Option<String>,
    why: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Missing {
    bar: u32,
    beat: f64,
    name: String,
    #[serde(default)]
    grace: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Bends {
    draw: usize,
    blow: usize,
    overblow: usize,
    overdraw: usize,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Breath {
    changes: usize,
    awkward: usize,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Holes {
    lowest: u8,
    highest: u8,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Effort {
    total: u64,
    bends: u64,
    moves: u64,
    breath: u64,
    register: u64,
    lungs: u64,
    missing: u64,
    position: u64,
    changes: Option<u64>,
}

#[derive(Deserialize, Clone, PartialEq, Debug)]
#[serde(deny_unknown_fields)]
struct Action {
    hole: u8,
    breath: String,
    bend: u8,
    over: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tunes {
    schema: u32,
    tunes: Vec<ListedTune>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ListedTune {
    tune: String,
    number: u32,
    title: Option<String>,
    key: Option<String>,
}

fn ask<T: serde::de::DeserializeOwned>(arguments: &str) -> T {
    let answer = breathline(arguments).answers();
    serde_json::from_str(&answer).unwrap_or_else(|error| panic!("{arguments}: {error}"))
}

#[test]
fn notes_say_what_was_read() {
    let notes: Notes = ask("notes corpus/amazing-grace.musicxml --json");
    assert_eq!((notes.schema, notes.title.as_str()), (1, "Amazing Grace"));
    assert_eq!(
        (notes.composer.as_deref(), notes.lyricist, notes.arranger),
        (Some("Traditional"), None, None)
    );
    let credited: Notes = ask("notes tests/fixtures/credits.musicxml --json");
    assert_eq!(credited.composer.as_deref(), Some("A. Nonymous, B. Nonymous"));
    assert_eq!(credited.lyricist.as_deref(), Some("C. Nonymous"));
    assert_eq!(credited.arranger.as_deref(), Some("D. Nonymous"));
    assert_eq!(
        (notes.rights, credited.rights),
        (vec![], vec!["Free for all".to_owned(), "By kind permission".to_owned()])
    );
    assert_eq!(notes.tempo, Tempo { quarters_per_minute: 84, stated: true, taken_as: None });
    assert!(notes.warnings.is_empty(), "{:?}", notes.warnings);
    assert_eq!((notes.part.number, notes.unfolded), (1, false));
    assert!(!notes.part.why.is_empty());
    assert_eq!(notes.parts.len(), 1);
    let part = &notes.parts[0];
    assert_eq!((part.number, part.notes, part.percussion), (1, notes.notes.len(), false));
    assert_eq!(part.name, notes.part.name);
    assert_eq!((part.lowest, part.highest), (Some(62), Some(74)));
    assert_eq!((notes.key.tonic.as_str(), notes.key.mode.as_str()), ("G", "major"));
    assert!(["signature", "notes", "user"].contains(&notes.key.from.as_str()));
    assert!(notes.key.tonic_confidence >= notes.key.confidence && !notes.key.why.is_empty());
    assert_eq!(notes.notes.last().unwrap().phrase_end, Some(100));
    assert!(notes.notes.iter().filter(|note| note.phrase_end.is_some()).count() > 1);
    assert!((0.0..=1.0).contains(&notes.key.confidence));
    assert!(notes.key.others.iter().all(|other| other.confidence <= notes.key.confidence));

    // The tune is in 3/4 with a pickup of a quarter: D4 is on the third beat of bar 0.
    let first = &notes.notes[0];
    assert_eq!((first.onset, first.duration, first.midi, first.name.as_str()), (0.0, 1.0, 62, "D4"));
    assert_eq!((first.bar, first.beat, first.seconds), (0, 3.0, 0.0));
    assert_eq!(first.lyric.as_deref(), Some("A"));
    assert!(!first.grace);
    let second = &notes.notes[1];
    assert_eq!((second.onset, second.bar, second.beat), (1.0, 1, 1.0));
    assert!(second.seconds > 0.0);
}

#[test]
fn a_file_of_many_tunes_is_listed() {
    let list: Tunes = ask("notes demo/lantern-row.abc --json");
    assert_eq!((list.schema, list.tunes.len()), (1, 6));
    let third = &list.tunes[2];
    assert_eq!((third.tune.as_str(), third.number), ("3", 3));
    assert_eq!(third.title.as_deref(), Some("Salt on the Step"));
    assert_eq!(third.key.as_deref(), Some("D mixolydian"));
    // The field `tune` of the list selects that tune.
    let notes: Notes = ask(&format!("notes demo/lantern-row.abc --json --tune {}", third.tune));
    assert_eq!(notes.title, "Salt on the Step");
}

#[test]
fn the_order_of_performance_says_that_it_is_one() {
    let written: Notes = ask("notes demo/nets-on-the-railing.musicxml --json");
    let played: Notes = ask("notes demo/nets-on-the-railing.musicxml --unfold --json");
    assert!(played.unfolded && !written.unfolded);
    assert!(played.notes.len() > written.notes.len());
    // The bars keep their printed numbers.
    let bars = |notes: &Notes| notes.notes.iter().map(|note| note.bar).max();
    assert_eq!(bars(&played), bars(&written));
    for command in ["suggest", "tab --harp D"] {
        let answer: Suggest = ask(&format!("{command} demo/nets-on-the-railing.musicxml --unfold --json"));
        assert!(answer.tune.unfolded);
        assert_eq!(answer.tune.notes, played.notes.len());
    }
}

#[test]
fn a_key_that_is_named_is_taken() {
    let notes: Notes = ask("notes corpus/amazing-grace.musicxml --key 'E minor' --json");
    let expected = Key {
        tonic: "E".into(),
        mode: "minor".into(),
        shade: None,
        from: "user".into(),
        confidence: 1.0,
        tonic_confidence: 1.0,
        why: vec![],
        others: vec![],
        sections: vec![],
    };
    assert_eq!(notes.key, expected);
}

#[test]
fn a_style_changes_what_bends_cost() {
    // A waltz with G sharps, which must be bent.
    let tune = "suggest demo/the-far-light.musicxml --harps C --top 1";
    let efforts = |style: &str| {
        let answer: serde_json::Value = ask(&format!("{tune} --style {style} --json"));
        assert_eq!(answer["style"], style);
        let effort = &answer["approaches"][0]["effort"];
        effort["bends"].as_u64().unwrap()
    };
    let [blues, plain, folk] = ["blues", "plain", "folk"].map(efforts);
    assert!(blues < plain && plain < folk, "{blues} {plain} {folk}");
    let text = breathline("suggest corpus/auld-lang-syne.musicxml --style folk").answers();
    assert!(text.contains("Played as folk: half, full and unsteady bends"), "{text}");
}

#[test]
fn a_feel_says_which_harp_to_pick_up() {
    let answer: serde_json::Value = ask("positions --key E --style minor-blues --json");
    let first = &answer["positions"][0];
    assert_eq!((&first["harp"], &first["position"]), (&"D".into(), &3.into()));
    assert_eq!(first["feel"], serde_json::json!({"name": "minor-blues", "notes": 19, "natural": 14}));
    let line = breathline("positions --style folk").fails();
    assert!(line.contains("--key E"), "{line}");
}

#[test]
fn every_row_of_a_ranking_adds_up() {
    for options in ["", "--bends none", "--bends draw", "--bends over", "--any-key --harps A,low-F,D:country"]
    {
        for tune in ["drunken-sailor", "banish-misfortune", "stille-nacht"] {
            let answer: Suggest =
                ask(&format!("suggest corpus/{tune}.musicxml {options} --top 1000 --as-written --json"));
            assert_eq!((answer.schema, answer.tune.part), (1, 1));
            assert!(answer.tune.tempo.stated && answer.style.as_deref() == Some("plain"));
            assert!(!answer.tune.title.is_empty() && answer.tune.warnings.is_empty());
            assert_eq!(answer.player.name, "improver");
            assert!(!answer.player.technique.is_empty() && !answer.key.tonic.is_empty());
            // The rival key must have a different tonic.
            assert!(answer.rival.is_none_or(|rival| rival.tonic != answer.key.tonic));
            assert!(answer.approaches.len() >= answer.player.harps.len());
            assert_eq!(answer.approaches.len(), answer.tried);
            for (index, row) in answer.approaches.iter().enumerate() {
                row_adds_up(row, answer.tune.notes);
                assert!(row.changes.is_none(), "changed unasked");
                assert_eq!(row.rank, index + 1);
                assert!(answer.player.harps.contains(&row.harp));
                if !options.contains("any-key") {
                    assert_eq!((row.transposed, &row.sounding_key), (0, &answer.key.tonic));
                }
            }
        }
    }
}

#[test]
fn the_ways_worth_knowing_are_approaches_with_what_they_give_up_and_gain() {
    let mut kinds = std::collections::BTreeSet::new();
    for tune in
        ["deck-the-hall", "greensleeves", "irish-washerwoman", "ode-to-joy", "hall-of-the-mountain-king"]
    {
        for options in ["", "--player beginner", "--harps C", "--harps A,Bb,low-F", "--position 2"] {
            let answer: Suggest =
                ask(&format!("suggest corpus/{tune}.musicxml {options} --top 1 --as-written --json"));
            let best = &answer.ways[0];
            assert_eq!((best.way.as_str(), best.gives_up.len(), best.gains.len()), ("best", 0, 0));
            assert_eq!(best.approach.effort.total, answer.approaches[0].effort.total);
            for way in &answer.ways {
                row_adds_up(&way.approach, answer.tune.notes);
                assert!(
                    way.approach.effort.total >= best.approach.effort.total || way.way.starts_with("other-")
                );
                kinds.insert(way.way.clone());
            }
            let unbent = answer.ways.iter().find(|way| way.way == "no-bends");
            assert_eq!(answer.unbent.is_some(), unbent.is_some(), "{tune} {options}");
            if let Some((unbent, way)) = answer.unbent.zip(unbent) {
                let row = &way.approach;
                assert_eq!(
                    (&unbent.harp, unbent.position, unbent.octave),
                    (&row.harp, row.position, row.octave)
                );
                assert_eq!((&unbent.sounding_key, unbent.transposed), (&row.sounding_key, row.transposed));
                assert_eq!((unbent.notes, unbent.playable), (row.notes, row.playable));
                assert_eq!((unbent.missing.len(), unbent.effort), (row.missing.len(), row.effort.total));
            }
        }
    }
    let known =
        ["best", "every-note", "lower", "no-bends", "other-key", "other-register", "other-tuning", "own-key"];
    assert!(kinds.iter().all(|kind| known.contains(&kind.as_str())), "{kinds:?}");
    assert!(kinds.len() > 5, "{kinds:?}");
}

fn row_adds_up(row: &Approach, notes: usize) {
    assert_eq!((row.notes, row.tab.len()), (notes, notes));
    let played: Vec<&Action> = row.tab.iter().flatten().collect();
    assert_eq!(row.playable, played.len());
    assert_eq!(row.missing.len(), notes - played.len());
    assert_eq!(row.adapted.is_some(), row.changes.is_some());
    if let Some(adapted) = &row.adapted {
        let left_out = row.changes.iter().flatten().filter(|change| change.to.is_none()).count();
        let silent = adapted.tab.iter().filter(|action| action.is_none()).count();
        assert_eq!((adapted.tab.len(), adapted.missing.len() + left_out), (notes, silent));
        let Effort { total, bends, moves, breath, register, lungs, missing, position, changes } =
            adapted.effort;
        let playing = bends + moves + breath + register + lungs + position;
        assert_eq!(total, playing + missing + changes.unwrap());
    }
    assert!(row.missing.iter().all(|missing| missing.beat >= 1.0 && !missing.name.is_empty()));
    let count = |breath: &str, over: bool| {
        let bent = played.iter().filter(|action| action.over == over && (action.over || action.bend > 0));
        bent.filter(|action| action.breath == breath).count()
    };
    assert_eq!((row.bends.draw, row.bends.blow), (count("draw", false), count("blow", false)));
    assert_eq!((row.bends.overdraw, row.bends.overblow), (count("draw", true), count("blow", true)));
    let changes = played.windows(2).filter(|pair| pair[0].breath != pair[1].breath).count();
    assert_eq!(row.breath.changes, changes);
    assert!(row.breath.awkward <= changes);
    assert!(["low", "middle", "high"].contains(&row.register.as_str()));
    assert!(row.comfortable_to.is_none_or(|tempo| tempo > 0));
    let holes = row.holes.as_ref().unwrap();
    assert_eq!(Some(holes.lowest), played.iter().map(|action| action.hole).min());
    assert_eq!(Some(holes.highest), played.iter().map(|action| action.hole).max());
    let Effort { total, bends, moves, breath, register, lungs, missing, position, changes } = row.effort;
    let playing = bends + moves + breath + register + lungs;
    assert_eq!((total, changes), (playing + missing + position, None));
    assert!((1..=12).contains(&row.position) && row.octave.abs() <= 10 && !row.reasons.is_empty());
}

/// The answer has only the requested rows, because the tab of a long tune is long.
#[test]
fn the_first_five_rows_are_given_unless_another_number_is_asked_for() {
    let rows = |top: &str| {
        let answer: Suggest = ask(&format!("suggest corpus/amazing-grace.musicxml {top} --json"));
        let efforts = answer.approaches.iter().map(|row| row.effort.total);
        (answer.tried, efforts.collect::<Vec<u64>>())
    };
    let (tried, all) = rows("--top 1000");
    assert!(tried > 12 && all.len() == tried);
    assert_eq!(rows(""), (tried, all[..5].to_vec()));
    assert_eq!(rows("--top 2"), (tried, all[..2].to_vec()));
}

/// The answer has the approaches of `tab`, and the names of the files, so that a program need not guess the page
/// numbers.
#[cfg(feature = "sheet")]
#[test]
fn a_sheet_names_its_rows_and_its_files() {
    let folder = std::env::temp_dir().join(format!("breathline-json-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let asked = |name: &str| -> serde_json::Value {
        let at = folder.join(name);
        let tune = "corpus/banish-misfortune.musicxml --harp C";
        ask(&format!("sheet {tune} --size large --json -o {}", at.display()))
    };
    let sheet = asked("a.svg");
    let tab: serde_json::Value = ask("tab corpus/banish-misfortune.musicxml --harp C --json");
    assert_eq!(sheet["approaches"], tab["approaches"]);
    let files = sheet["files"].as_array().unwrap();
    assert!(files.len() > 1 && files[0].as_str().unwrap().ends_with("a-1.svg"));
    assert!(files.iter().all(|file| std::path::Path::new(file.as_str().unwrap()).exists()));
    let page = asked("b.html");
    assert!(page["approaches"].as_array().unwrap().len() > 1 && page["files"].as_array().unwrap().len() == 1);
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn tab_of_one_harp_is_the_row_of_the_ranking() {
    let all: Suggest = ask("suggest corpus/amazing-grace.musicxml --top 1000 --json");
    let one: Suggest = ask("tab corpus/amazing-grace.musicxml --harp C --json");
    assert_eq!(one.approaches.len(), 1);
    let row = all.approaches.iter().find(|row| row.harp.key == "C").unwrap();
    assert_eq!((one.approaches[0].position, one.approaches[0].octave), (row.position, row.octave));
    assert_eq!(one.approaches[0].tab, row.tab);
    // Another position on the same harp means another key.
    let third: Suggest = ask("tab corpus/amazing-grace.musicxml --harp C --position 3 --json");
    assert_eq!((third.approaches[0].position, third.approaches[0].sounding_key.as_str()), (3, "D"));
}

/// Makes a score of one part from the content of its bars.
fn score(bars: &[&str]) -> String {
    let bars: String = bars
        .iter()
        .enumerate()
        .map(|(i, bar)| format!("<measure number='{}'>{bar}</measure>", i + 1))
        .collect();
    format!(
        "<score-partwise><part-list><score-part id='P'><part-name>P</part-name></score-part></part-list>\
         <part id='P'>{bars}</part></score-partwise>"
    )
}

fn note(step: char, alter: i8, octave: u8) -> String {
    format!(
        "<note><pitch><step>{step}</step><alter>{alter}</alter><octave>{octave}</octave></pitch>\
         <duration>1</duration></note>"
    )
}

fn missing(score: String, options: &str) -> Vec<Missing> {
    let answer = breathline(&format!("tab - --harp C --bends none --json {options}")).stdin(score).answers();
    let mut answer: Suggest = serde_json::from_str(&answer).unwrap();
    answer.approaches.remove(0).missing
}

#[test]
fn a_missing_note_is_named_as_the_key_has_it_where_it_stands() {
    let key = |fifths: i8| {
        format!("<attributes><divisions>1</divisions><key><fifths>{fifths}</fifths></key></attributes>")
    };
    let names = |score: String| -> Vec<(u32, String)> {
        missing(score, "--octave 0").into_iter().map(|missing| (missing.bar, missing.name)).collect()
    };
    let (sharp, flat) = (key(4) + &note('C', 0, 5) + &note('G', 1, 5), key(-4) + &note('A', -1, 5));
    assert_eq!(names(score(&[&sharp, &flat])), [(1, "G#5".to_owned()), (2, "Ab5".to_owned())]);
    // A signature of six flats must not become one of six sharps.
    let six_flats = key(-6) + &note('C', 0, 5) + &note('G', -1, 5);
    assert_eq!(names(score(&[&six_flats])), [(1, "Gb5".to_owned())]);
}

#[test]
fn a_missing_grace_note_is_told_from_a_note_of_the_tune() {
    let grace = "<note><grace/><pitch><step>F</step><alter>1</alter><octave>5</octave></pitch></note>";
    let bar = format!(
        "<attributes><divisions>1</divisions></attributes>{grace}{}{}",
        note('G', 0, 5),
        note('F', 1, 5)
    );
    let missing = missing(score(&[&bar]), "--octave 0");
    assert_eq!(
        missing.iter().map(|note| (note.beat, note.grace)).collect::<Vec<_>>(),
        [(1.0, true), (2.0, false)]
    );
}

#[test]
fn a_missing_note_beyond_the_range_of_midi_is_counted_too() {
    let bar =
        format!("<attributes><divisions>1</divisions></attributes>{}{}", note('C', 0, 4), note('G', 0, 9));
    let missing = missing(score(&[&bar]), "--octave 1");
    assert_eq!(missing.iter().map(|note| (note.beat, note.name.as_str())).collect::<Vec<_>>(), [(2.0, "?")]);
}

#[test]
fn changes_stand_beside_what_is_written() {
    let song = "demo/lamps-along-the-row.musicxml --bends none --harps C,F";
    let plain: Suggest = ask(&format!("suggest {song} --as-written --json"));
    let adapted: Suggest = ask(&format!("suggest {song} --adapt --json"));
    assert_eq!(plain.approaches.len(), adapted.approaches.len());
    for (index, (plain, adapted)) in plain.approaches.iter().zip(&adapted.approaches).enumerate() {
        row_adds_up(adapted, 63);
        // The rows have the order of the ranking of the tune as written, and only the winner is adapted.
        assert_eq!(
            (&plain.harp, plain.position, plain.octave, plain.effort.total),
            (&adapted.harp, adapted.position, adapted.octave, adapted.effort.total)
        );
        assert_eq!(adapted.changes.is_some(), index == 0);
        assert!(plain.changes.is_none() && plain.adapted.is_none());
    }
    let best = &adapted.approaches[0];
    assert_eq!((best.playable, best.adapted.as_ref().unwrap().missing.len()), (60, 0));
    let changes: Vec<(u32, f64, &str, Option<&str>)> = best
        .changes
        .iter()
        .flatten()
        .map(|change| (change.bar, change.beat, change.from.as_str(), change.to.as_deref()))
        .collect();
    let expected = [(3, 6.0, "F#5", Some("A5")), (7, 6.0, "F#5", Some("D5")), (15, 6.0, "F#5", Some("A5"))];
    assert_eq!(changes, expected);
    assert!(best.changes.iter().flatten().all(|change| change.why.contains("a note of the chord D")));
    assert!(best.adapted.as_ref().unwrap().effort.total < best.effort.total);

    // A tune that can be played in full is not changed.
    let full: Suggest = ask("tab demo/lamps-along-the-row.musicxml --harp G --adapt --json");
    assert_eq!(full.approaches[0].changes.as_ref().map(Vec::len), Some(0));
}

#[test]
fn positions_and_harps_answer_as_data() {
    let positions: serde_json::Value = ask("positions --key E --position 2 --json");
    assert_eq!(positions["schema"], 1);
    let row = &positions["positions"][0];
    assert_eq!((row["harp"].as_str(), row["mode"].as_str()), (Some("A"), Some("mixolydian")));
    assert_eq!(row["tonic_at"], serde_json::json!(["-2", "3", "6", "9"]));
    let harp: serde_json::Value = ask("harp low-F --bends draw --json");
    assert_eq!(harp["harp"], serde_json::json!({"key": "F", "register": "low", "tuning": "richter"}));
    assert_eq!(harp["actions"].as_array().unwrap().len(), 28);
    assert_eq!(harp["actions"][0]["midi"], 53);
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Check {
    schema: u32,
    tune: Tune,
    key: Key,
    player: Player,
    style: String,
    given: Option<Approach>,
    best: Option<Approach>,
    easier: Option<Easier>,
    speaks_for: Option<SpeaksFor>,
    differences: Vec<Difference>,
    tab: Option<CheckedTab>,
    wrong: Vec<Wrong>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Easier {
    given: Vec<u32>,
    best: Vec<u32>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SpeaksFor {
    given: Vec<String>,
    best: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Difference {
    bar: u32,
    beat: f64,
    given: Option<Action>,
    best: Option<Action>,
    effort_given: Effort,
    effort_best: Effort,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CheckedTab {
    tab_style: String,
    notes: usize,
    right: usize,
    same_tune: bool,
    graces_left_out: usize,
    repeats_written_out: bool,
    arrows_turned: bool,
    in_key_on: Option<Harp>,
    other_tuning: Option<OtherTuning>,
    best_choice: Option<Approach>,
    warnings: Vec<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OtherTuning {
    harp: Harp,
    wrong: usize,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Wrong {
    kind: String,
    bar: u32,
    beat: f64,
    line: Option<u32>,
    column: Option<u32>,
    wants: Option<WrongSide>,
    has: Option<WrongSide>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrongSide {
    action: Option<Action>,
    midi: Option<u8>,
    name: Option<String>,
}

#[test]
fn a_choice_and_the_best_stand_side_by_side() {
    let check: Check = ask("check corpus/amazing-grace.musicxml --harp C --octave 0 --json");
    assert_eq!((check.schema, check.style.as_str(), check.wrong.len()), (1, "plain", 0));
    assert_eq!((check.tune.title.as_str(), check.key.tonic.as_str()), ("Amazing Grace", "G"));
    assert_eq!((check.player.name.as_str(), check.player.harps.len()), ("improver", 12));
    assert!(check.tab.is_none());
    let (given, best) = (check.given.unwrap(), check.best.unwrap());
    for row in [&given, &best] {
        row_adds_up(row, 32);
    }
    // The best row equals the result of a search, and the given row is in the ranking of that search.
    let all: Suggest = ask("suggest corpus/amazing-grace.musicxml --harps all --json");
    let same = |a: &Approach, b: &Approach| (&a.harp, a.octave, &a.tab) == (&b.harp, b.octave, &b.tab);
    assert!(same(&best, &all.approaches[0]));
    assert!(all.approaches.iter().any(|row| same(row, &given)));
    assert_eq!((given.harp.key.as_str(), given.octave), ("C", 0));
    let easier = check.easier.unwrap();
    assert!(!easier.given.is_empty() && easier.given.iter().all(|bar| !easier.best.contains(bar)));
    let speaks = check.speaks_for.unwrap();
    assert!(speaks.given.iter().any(|line| line.contains("it sounds an octave lower")), "{:?}", speaks.given);
    assert!(speaks.best.iter().any(|line| line.contains("four fewer bends")), "{:?}", speaks.best);
    let more =
        |difference: &Difference| difference.effort_given.total as i64 - difference.effort_best.total as i64;
    let sum: i64 = check.differences.iter().map(more).sum();
    assert_eq!(sum, given.effort.total as i64 - best.effort.total as i64);
    let first = &check.differences[0];
    assert_eq!((first.bar, first.beat), (0, 3.0));
    assert!(first.given.is_some() && first.given != first.best);
    // In blues, bends cost less, and so does the whole tune.
    let blues: Check = ask("check corpus/amazing-grace.musicxml --harp C --octave 0 --style blues --json");
    assert_eq!(blues.style, "blues");
    let blues = blues.given.unwrap();
    assert!(blues.effort.bends < given.effort.bends);
    assert!(blues.effort.total < given.effort.total);
}

#[test]
fn a_choice_that_sounds_no_note_is_answered_too() {
    let finished = breathline("check corpus/amazing-grace.musicxml --harp C --octave 9 --json").run();
    assert_eq!((finished.code, finished.stderr.as_str()), (Some(1), ""));
    let check: Check = serde_json::from_str(&finished.stdout).unwrap();
    assert!(check.given.is_none() && check.best.is_some() && check.differences.is_empty());
}

#[test]
fn what_is_wrong_in_a_tab_is_data() {
    let lesson = "tests/lessons/ode-to-joy.txt";
    let check: Check = ask(&format!("check corpus/ode-to-joy.musicxml --harp D --tab {lesson} --json"));
    let tab = check.tab.unwrap();
    assert_eq!((tab.tab_style.as_str(), tab.notes, tab.right, tab.graces_left_out), ("arrows", 62, 60, 0));
    assert!(tab.same_tune && !tab.repeats_written_out && !tab.arrows_turned && tab.warnings.is_empty());
    assert!(tab.in_key_on.is_none());
    assert!(tab.other_tuning.is_none_or(|other| other.wrong < 2 && other.harp.tuning != "richter"));
    row_adds_up(&tab.best_choice.unwrap(), 62);
    assert!(check.easier.is_none() && check.speaks_for.is_none());
    assert!(check.given.unwrap().effort.total >= check.best.unwrap().effort.total);
    let wrong = &check.wrong[1];
    assert_eq!((wrong.kind.as_str(), wrong.bar, wrong.beat), ("octave", 14, 2.0));
    assert!(wrong.line.is_some() && wrong.column.is_some());
    let (wants, has) = (wrong.wants.as_ref().unwrap(), wrong.has.as_ref().unwrap());
    assert_eq!((wants.name.as_deref(), has.name.as_deref()), (Some("G5"), Some("G6")));
    assert_eq!(wants.midi.map(|midi| midi + 12), has.midi);
    assert_eq!(wants.action.as_ref().map(|action| action.hole), Some(5));
    assert_eq!(has.action.as_ref().map(|action| action.hole), Some(9));
}

#[test]
fn typed_tab_and_chords_answer_as_data() {
    let tab: serde_json::Value = ask("tab tests/lessons/oh-susanna.txt --harp D --json");
    assert_eq!((tab["schema"].as_u64(), tab["tab_style"].as_str()), (Some(1), Some("letters")));
    assert_eq!(tab["notes"].as_array().unwrap().len(), tab["performed"].as_array().unwrap().len());
    let first = &tab["notes"][0];
    assert_eq!((first["line"].as_u64(), first["column"].as_u64()), (Some(4), Some(1)));
    assert!(first["midi"].is_u64() && first["name"].is_string() && first["hole"].is_u64());
    let chords: serde_json::Value = ask("harp C --chords --json");
    let named =
        |name: &str| chords["chords"].as_array().unwrap().iter().find(|grip| grip["chord"] == name).cloned();
    assert_eq!(named("G7").unwrap()["holes"], serde_json::json!([2, 3, 4, 5]));
    let octave = chords["chords"].as_array().unwrap().iter().find(|grip| grip["name"] == "octave").unwrap();
    assert_eq!((octave["split"].as_bool(), octave["holes"].clone()), (Some(true), serde_json::json!([1, 4])));
}
