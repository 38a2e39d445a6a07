//! Checking a given choice: tabs with planted faults, the laws of the comparison, and the content of the first screen.

#![allow(clippy::unwrap_used, reason = "a panic is how a test reports a failure")]

use crate::harness;
use crate::random;

use std::{collections::BTreeSet, fs};

use breathline::{
    compare::{
        self,
        lesson::{self, Fault, FaultKind, Stated},
    },
    harp::{Action, Harp, Technique, Tuning},
    import,
    melody::{Melody, key},
    pages::{self, Tune},
    pitch::Interval,
    render::text,
    search::{self, Playing, Request, Weights},
    tab::{BendMark, Notation, OverMark, Style, read},
};
use harness::{breathline, files, home};
use proptest::prelude::*;
use random::{Case, case};
use serde_json::Value;

/// Returns an action in the signed style, given its JSON; an empty text for none.
fn hole(action: &Value) -> String {
    if action.is_null() {
        return String::new();
    }
    let number = |name: &str| action[name].as_u64().unwrap() as usize;
    let sign = if action["breath"] == "draw" { "-" } else { "" };
    let over = if action["over"] == true { "o" } else { "" };
    format!("{sign}{}{}{over}", number("hole"), "'".repeat(number("bend")))
}

/// Every planted fault is found and named with its bar, its beat, the right hole and the typed hole, and no other fault
/// is reported.
#[test]
fn every_planted_fault_is_found_and_nothing_else() {
    let planted = fs::read_to_string(home().join("tests/lessons/planted.toml")).unwrap();
    let planted: toml::Table = planted.parse().unwrap();
    let lessons = planted["lesson"].as_array().unwrap();
    let tunes: BTreeSet<&str> = lessons.iter().map(|lesson| lesson["tune"].as_str().unwrap()).collect();
    assert!(tunes.len() >= 20, "{} tunes", tunes.len());
    let (mut kinds, mut faults) = (BTreeSet::new(), 0);
    for lesson in lessons {
        let text = |name: &str| lesson.get(name).and_then(toml::Value::as_str).unwrap_or_default();
        let file = text("file");
        let command = format!(
            "check corpus/{}.musicxml --harp {} --tab tests/lessons/{file}.txt --bends over --json",
            text("tune"),
            text("harp")
        );
        let answer: Value = serde_json::from_str(&breathline(&command).answers()).unwrap();
        let found: Vec<_> = answer["wrong"]
            .as_array()
            .unwrap()
            .iter()
            .map(|wrong| {
                let side = |name: &str| hole(&wrong[name]["action"]);
                let kind = wrong["kind"].as_str().unwrap().to_owned();
                (
                    wrong["bar"].as_i64().unwrap(),
                    wrong["beat"].as_f64().unwrap(),
                    kind,
                    side("wants"),
                    side("has"),
                )
            })
            .collect();
        let expected: Vec<_> = lesson["wrong"]
            .as_array()
            .unwrap()
            .iter()
            .map(|wrong| {
                let side = |name: &str| wrong[name].as_str().unwrap().to_owned();
                let kind = side("kind");
                kinds.insert(kind.clone());
                (
                    wrong["bar"].as_integer().unwrap(),
                    wrong["beat"].as_float().unwrap(),
                    kind,
                    side("wants"),
                    side("has"),
                )
            })
            .collect();
        assert_eq!(found, expected, "{file}");
        faults += expected.len();
        let meant = answer["tab"]["in_key_on"]["key"].as_str().unwrap_or_default();
        assert_eq!(meant, text("in_key_on"), "{file}");
        assert_eq!(answer["tab"]["warnings"].as_array().unwrap().len(), 0, "{file}");
        assert_eq!(answer["tab"]["other_tuning"], Value::Null, "{file}");
    }
    let all = ["added", "bend", "breath", "hole", "left out", "octave"].map(str::to_owned);
    assert_eq!(kinds, BTreeSet::from(all));
    assert!(faults >= 25, "{faults}");
}

/// Calls back with a tune of the corpus and its ranking on two harps, with overbends allowed.
fn with_best(path: &std::path::Path, then: impl Fn(&Tune, &Request, &search::Ranking)) {
    let imported = import::import(&fs::read(path).unwrap(), &import::ImportOptions::default()).unwrap();
    let key = key::find(&imported.melody);
    let (harps, weights) = (Harp::standard_set(&Tuning::richter()), Weights::default());
    let request = Request {
        melody: &imported.melody,
        key: key.key,
        harps: &harps[5..7],
        technique: Technique::Over,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let ranking = search::search(&request);
    then(&Tune { name: "tune", imported: &imported, key: &key }, &request, &ranking);
}

/// The tab on a page, with its words, bar numbers and legend, is read back in three widths.
#[test]
fn every_tab_style_reads_back_for_every_tune_of_the_corpus() {
    for path in files("corpus", "musicxml") {
        with_best(&path, |tune, request, ranking| {
            let best = ranking.best().unwrap();
            let expected: Vec<Action> =
                best.playing.notes.iter().filter_map(|played| played.action).collect();
            for style in Style::ALL {
                for (bend_mark, over_mark) in
                    BendMark::ALL.into_iter().flat_map(|bend| OverMark::ALL.map(|over| (bend, over)))
                {
                    let notation = Notation { style, bend_mark, over_mark };
                    let page = pages::suggest::tab_page(tune, request, ranking, notation, true);
                    for width in [40, 80, 120] {
                        let page = text::render(&page, text::Look { width, colour: false });
                        let tab = read::read(&page, None).unwrap();
                        let found: Vec<Action> = tab.notes.iter().map(|note| note.action).collect();
                        assert_eq!(found, expected, "{} {notation:?} {width}", path.display());
                        // The names of missing notes, in square brackets, are no oddities.
                        assert_eq!(tab.oddities, [], "{} {notation:?} {width}", path.display());
                    }
                }
            }
        });
    }
}

/// The tab that `tab` prints has no mistakes when `check` reads it.
#[test]
fn the_tab_that_is_written_is_found_right() {
    for path in files("corpus", "musicxml") {
        let tune = path.file_name().unwrap().to_str().unwrap();
        let page =
            breathline(&format!("tab corpus/{tune} --harp C --bends over --tab-style letters")).answers();
        let check = format!("check corpus/{tune} --harp C --bends over --tab - --json");
        let answer: Value = serde_json::from_str(&breathline(&check).stdin(page).answers()).unwrap();
        let wrong = answer["wrong"].as_array().unwrap();
        // Notes that the harp does not have are left out.
        assert!(
            wrong.iter().all(|wrong| wrong["kind"] == "left out" && wrong["wants"]["action"].is_null()),
            "{tune}"
        );
        assert_eq!(answer["given"]["effort"], answer["best"]["effort"], "{tune}");
        assert_eq!(answer["differences"].as_array().unwrap().len(), 0, "{tune}");
    }
}

/// Makes a tab for a random tune: each note in a random way, and some notes wrong, left out or added. The tab ends with
/// blow 4, so it is never empty.
fn tab_of(case: &Case, picks: &[(prop::sample::Index, u8)]) -> read::TabText {
    let mut actions: Vec<Action> = Vec::new();
    for (note, (pick, chance)) in case.melody.notes.iter().zip(picks) {
        let pitch = note.pitch.transposed(case.shift);
        let ways: Vec<Action> = pitch.into_iter().flat_map(|pitch| case.harp.actions_for(pitch)).collect();
        let any = || pick.get(case.harp.actions()).1;
        match chance {
            0..=9 => {}
            10..=19 => actions.push(any()),
            20..=29 => actions.extend([any(), any()]),
            _ if ways.is_empty() => {}
            _ => actions.push(*pick.get(&ways)),
        }
    }
    actions.push(Action::blow(4));
    let written: Vec<String> = actions.iter().map(|&action| Notation::default().write(action)).collect();
    read::read(&written.join(" "), Some(Style::Signed)).unwrap()
}

/// Returns the number of the tune's notes that a fault concerns.
fn notes_of(fault: &Fault) -> usize {
    match fault.kind {
        FaultKind::Added => 0,
        FaultKind::Swapped => 2,
        _ => 1,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 10_000, ..ProptestConfig::default() })]

    /// In ten thousand random tabs, no tab costs less than the least effort, correct notes stay as they are typed, and
    /// the costs of the differences sum to the difference of the efforts.
    #[test]
    fn no_tab_costs_less_than_the_least(
        case in case(24),
        picks in prop::collection::vec((any::<prop::sample::Index>(), 0..=255_u8), 24),
    ) {
        let text = tab_of(&case, &picks);
        let harps = [case.harp.clone()];
        let request = case.request(&harps);
        let stated = Stated { harp: &case.harp, transposed: Interval(0), octave: None };
        let Some(found) = lesson::check(&request, stated, &text) else {
            prop_assert!(case.melody.notes.is_empty());
            return Ok(());
        };
        let (given, least) = (&found.given, &found.least);
        prop_assert!(given.playing.effort.total() >= least.playing.effort.total());
        prop_assert_eq!(given.counts.playable, least.counts.playable);
        let more: i64 = found.differences.iter().map(compare::Difference::more).sum();
        let by_sum = given.playing.effort.total() as i64 - least.playing.effort.total() as i64;
        prop_assert_eq!(more, by_sum);
        // Both playings are priced as the search prices them, with the player's technique unless the tab needs a harder
        // one.
        if given.shift() == case.shift {
            let actions: Vec<Option<Action>> = given.playing.notes.iter().map(|note| note.action).collect();
            let able = |action: &Option<Action>| action.is_none_or(|action| case.technique.allows(action));
            if actions.iter().all(able) && least.playing.notes.iter().all(|note| able(&note.action)) {
                // The price of a position is the same for every playing in it.
                let there = |playing: Playing| playing.each_note(case.weights.in_position(given.position));
                prop_assert!(there(case.price(&actions)) == given.playing);
                prop_assert!(least.playing.effort.total() <= there(case.best()).effort.total());
            }
        }
        let mut right = 0;
        for step in &found.steps {
            if let compare::align::Step::Pair { note, typed } = *step {
                let typed = found.typed[typed].action;
                let wanted = case.melody.notes[note].pitch.transposed(given.shift());
                if wanted.is_some() && case.harp.pitch(typed) == wanted {
                    prop_assert_eq!(given.playing.notes[note].action, Some(typed));
                    right += 1;
                }
            }
        }
        prop_assert_eq!(right, found.right);
        let missed: usize = found.faults.iter().map(notes_of).sum();
        prop_assert_eq!(right + missed + found.graces_left_out, case.melody.notes.len());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, ..ProptestConfig::default() })]

    /// Any text gives an answer or an error. The answer has at most five notes for each character, and at most
    /// `MAX_NOTES` with the repeats.
    #[test]
    fn no_text_is_too_odd_to_be_read(text in any::<String>(), style in prop::option::of(prop::sample::select(Style::ALL.to_vec()))) {
        if let Ok(tab) = read::read(&text, style) {
            prop_assert!(tab.notes.len() <= 5 * text.chars().count());
            prop_assert!(tab.performed().len() <= read::MAX_NOTES);
        }
    }

    /// A text that is nearly tab gives an answer or an error too. Every note and every oddity has a line and a column
    /// of the text.
    #[test]
    fn no_tab_is_too_odd_to_be_read(
        text in "([0-9+'/\"*bBdDoO↑↓↓v()\\[\\]|:.,;x#~_ \r\n\t①⑩–−’°-]|10|[|]:|:[|]|x2|Verse 1:|-4|4D|[(]5[)]){0,60}",
        style in prop::option::of(prop::sample::select(Style::ALL.to_vec())),
    ) {
        let Ok(tab) = read::read(&text, style) else { return Ok(()) };
        let lines: Vec<usize> = text.replace("\r\n", "\n").replace('\r', "\n").split('\n').map(|line| line.chars().count()).collect();
        let places = tab.notes.iter().map(|note| note.at).chain(tab.oddities.iter().map(|odd| odd.at));
        for at in places {
            let length = lines.get(at.line as usize - 1);
            prop_assert!(length.is_some_and(|&length| 1 <= at.column && at.column as usize <= length), "{:?}", at);
        }
        prop_assert!(tab.notes.is_sorted_by_key(|note| note.at));
        for note in &tab.notes {
            prop_assert!((1..=10).contains(&note.action.hole));
        }
        for repeat in &tab.repeats {
            prop_assert!(repeat.from < repeat.to && repeat.to <= tab.notes.len());
        }
        prop_assert!(tab.repeats.is_sorted_by(|a, b| a.to <= b.from));
    }

    /// Any bytes can be decoded as some text.
    #[test]
    fn no_bytes_are_too_odd_to_be_decoded(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = read::is_text(&bytes);
        let _ = read::read(&read::decode(&bytes), None);
    }
}

/// A tab that is almost as long as the limit is compared with a short and with a long tune; a tab beyond the limit gets
/// an error.
#[test]
fn a_tab_is_too_long_only_beyond_what_is_read() {
    let check = |tune: &str, notes: usize| {
        let command = format!("check corpus/{tune} --harp G --tab - --json");
        breathline(&command).stdin("4 ".repeat(notes)).run()
    };
    assert_eq!(check("good-king-wenceslas.musicxml", read::MAX_NOTES - 1).code, Some(0));
    let line = check("good-king-wenceslas.musicxml", read::MAX_NOTES + 1).stderr;
    assert!(line.contains("more than 20000 notes"), "{line}");
    assert_eq!(check("two-jigs.musicxml --unfold", read::MAX_NOTES - 1).code, Some(0));
}

/// A mistake in the command line or the file is reported in one line. A mark without a meaning and a chord do not stop
/// the answer, which reports them.
#[test]
fn what_is_no_lesson_is_said() {
    let check = "check corpus/amazing-grace.musicxml --harp C --tab";
    let line = breathline(&format!("{check} corpus/amazing-grace.mid")).fails();
    assert!(line.contains("amazing-grace.mid: this is not text"), "{line}");
    let line = breathline(&format!("{check} README-nowhere.txt")).fails();
    assert!(line.contains("README-nowhere.txt: "), "{line}");
    let line = breathline(&format!("{check} -")).stdin("only words here\n").fails();
    assert!(
        line.contains("-: there is no tab in this text; write the holes in lines, as in 4 -4 5"),
        "{line}"
    );
    let line = breathline("tab - --harp C --position 2").stdin("4 -4 5").fails();
    assert!(line.contains("--position is for a tune, but - is already tab"), "{line}");
    for option in ["--at 1:1=4", "--free", "--tune 2", "--part 2"] {
        let line = breathline(&format!("tab - --harp C {option}")).stdin("4 -4 5").fails();
        let name = option.split(' ').next().unwrap();
        assert!(line.contains(&format!("{name} is for a tune, but - is already tab")), "{line}");
    }
    let malformed = breathline("tab - --harp C").stdin("4 -4\n5 60 5,,\n").answers();
    assert!(
        malformed.contains("Line 2, column 3: `60` is not understood and is left out; holes go"),
        "{malformed}"
    );
    let chord = breathline("tab - --harp C").stdin("4 -4 (2 3 4)").answers();
    assert!(chord.contains("`(2 3 4)` sounds several holes at once; only the highest is"), "{chord}");
}

/// A typed tab becomes a file for other programs that has the same notes.
#[test]
fn typed_tab_is_exported() {
    let folder = std::env::temp_dir().join(format!("breathline-check-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    for name in ["a.mid", "a.musicxml", "a.mxl"] {
        let path = folder.join(name);
        breathline("export - --harp C -o").arg(&path).stdin("4 -4 | 5 -3''\n").answers();
        let back: Value = serde_json::from_str(&breathline("notes --json").arg(&path).answers()).unwrap();
        let midi: Vec<u64> =
            back["notes"].as_array().unwrap().iter().map(|note| note["midi"].as_u64().unwrap()).collect();
        assert_eq!(midi, [72, 74, 76, 69], "{name}");
    }
    // A format without repeat signs gets its repeats written out.
    let path = folder.join("b.mid");
    breathline("export - --harp C -o").arg(&path).stdin("|: 4 -4 :| 5").answers();
    let back: Value = serde_json::from_str(&breathline("notes --json").arg(&path).answers()).unwrap();
    assert_eq!(back["notes"].as_array().unwrap().len(), 5);
    fs::remove_dir_all(folder).unwrap();
}

/// In blues, the prices of half, deeper and unsteady bends and of the moves to and from bends are halved, and no other
/// prices change.
#[test]
fn blues_halves_five_prices_of_bends_and_no_other() {
    let plain = Weights::default();
    let blues = search::Style::Blues.weights(&plain);
    let bends = [
        (plain.bends.half_step, blues.bends.half_step),
        (plain.bends.further, blues.bends.further),
        (plain.bends.unsteady, blues.bends.unsteady),
        (plain.bends.cold, blues.bends.cold),
        (plain.bends.leave, blues.bends.leave),
    ];
    assert!(bends.iter().all(|(before, after)| *before > 0 && *after == before / 2), "{bends:?}");
    let mut back = blues;
    (back.bends.half_step, back.bends.further, back.bends.unsteady) =
        (plain.bends.half_step, plain.bends.further, plain.bends.unsteady);
    (back.bends.cold, back.bends.leave) = (plain.bends.cold, plain.bends.leave);
    assert_eq!(back, plain);
}

/// For a tab typed by hand, as a learner types it, the first screen says what to change, with the place in the text.
#[test]
fn the_first_screen_says_what_to_change() {
    let typed = "Amazing grace   (C harp, cross harp - typed from memory)\n\n\
        −4 | 6  -7 6 | -7  -6 | 6 5 | -4 - 4\nA-  maz-   ing\n6 -7 6 -7 -6 -8      –7\n-8 -7 6 7 -6 6 5 -4\n\
        4 6 -7 6 -7 -6 3\n";
    let check = |options: &str| {
        let command = format!("check corpus/amazing-grace.musicxml --tab - {options}");
        breathline(&command).stdin(typed).answers()
    };
    let page = check("--harp C");
    let screen: Vec<&str> = page.lines().take(24).collect();
    let screen = screen.join("\n");
    for line in [
        "On a C harp 29 of 32 notes are right; three things to change:",
        "  Line 6, column 9, bar 10 beat 1: play -7 (B5) instead of 7 (C6); change the",
        "  Line 7, column 1, bar 12 beat 3: play -4 (D5) instead of 4 (C5); change the",
        "  Line 7, column 16, bar 15 beat 1: play 6 (G5) instead of 3 (G4); the typed",
        "  Line 3, column 34: `- 4` is apart from its hole; the two are read as draw 4",
    ] {
        assert!(screen.contains(line), "{line}\n{screen}");
    }
    // If the tab is for another harp, the page says so first.
    let page = check("--harp A");
    let harp =
        page.find("\n\nOn the A harp the tab sounds in E, three half steps down; on a C harp").unwrap();
    assert!(harp < page.find("On an A harp 29 of 32 notes are right; three things to change:").unwrap());
    assert!(page.contains("(cross harp), nine half steps up from what is\n  written."), "{page}");
    // A tab of the same tune whose arrows are reversed is right.
    let turned =
        "4↑ 6↓ 7↑ 6↓ 7↑ 6↑ 6↓ 5↓ 4↑ 4↑ 6↓ 7↑ 6↓ 7↑ 6↑ 8↑ 7↑ 8↑ 7↑ 6↓ 7↑ 6↑ 6↓ 5↓ 4↑ 4↑ 6↓ 7↑ 6↓ 7↑ 6↑ 6↓";
    let page = breathline("check corpus/amazing-grace.musicxml --harp C --tab -").stdin(turned).answers();
    assert!(page.contains("On a C harp the tab is right: all 32 notes match the tune."), "{page}");
    assert!(page.contains("Its arrows mean the opposite of those in most books"), "{page}");
    // A tab of another tune is recognised as one.
    let page = breathline("check corpus/ode-to-joy.musicxml --harp A --tab -").stdin(typed).answers();
    assert!(page.contains("This does not look like tab of this tune for an A harp"), "{page}");
    assert!(!page.contains("The cost of the holes"), "{page}");
}

/// The same oddity at several places is reported once: notes without a letter among notes with a letter.
#[test]
fn what_is_odd_in_the_same_way_is_said_once() {
    let letters = "6 6 6D 6 6 5 6D 5D 5 6 6 6D 6 6D 7D 7 6 6D 6 6D 7D 7";
    let page = breathline("check corpus/ode-to-joy.musicxml --harp C --tab -").stdin(letters).answers();
    let bare = page.matches("does not say blow or draw").count();
    assert_eq!(bare, 1, "{page}");
    assert!(page.contains("more (--json"), "{page}");
}

/// Signs after the hole, strokes between phrases, and repeat counts are understood.
#[test]
fn what_people_type_besides_holes_is_understood() {
    let page = breathline("tab - --harp C").stdin("6+ 6- 5+ / 6- (2x)\n").answers();
    assert!(page.contains("Four notes, read as signed tab"), "{page}");
    assert!(page.contains("With its repeats it has eight notes in all."), "{page}");
    assert!(page.contains("G5 A5 E5 A5") && !page.contains("not understood"), "{page}");
    // If strokes mark bends, a separate stroke is a bend too.
    let page = breathline("tab - --harp C").stdin("-3/ -4 -3 /\n").answers();
    assert!(page.contains("A#4 D5 A#4") || page.contains("Bb4 D5 Bb4"), "{page}");
}

/// No choice is easier than the best; if it is equally easy, the page does not call the best easier.
#[test]
fn what_is_not_easier_is_not_called_so() {
    let mut easier = 0;
    for harp in ["A", "C", "G", "D", "F", "E"] {
        for path in files("corpus", "musicxml") {
            let page = breathline(&format!("check --harp {harp} --width 200")).arg(&path).run().stdout;
            let more = page.contains("yours costs") && page.contains("points more");
            assert!(!page.contains("points less"), "{} {harp}", path.display());
            assert_eq!(page.contains("The easiest: "), more, "{} {harp}", path.display());
            easier += usize::from(more);
        }
    }
    assert!(easier > 0);
}

/// A tune in G that circles around B and ends on B; a reader might call it B minor or Phrygian.
const CIRCULAR: &str = "G4 A4 B4 D5 G5 F#5 E5 D5 C5 B4 A4 G4 G4 B4 D5 B4 C5 A4 F#4 A4 G4:2 B4:2";

/// Writes a tune as MusicXML in 4/4 with a signature of one sharp. Its notes are quarters, or halves marked `:2`.
fn musicxml(tune: &str) -> String {
    let note = |token: &str| {
        let (name, length) = token.split_once(':').unwrap_or((token, "1"));
        let (step, octave) = (&name[..1], &name[name.len() - 1..]);
        let alter = if name.contains('#') { "<alter>1</alter>" } else { "" };
        format!(
            "<note><pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch><duration>{length}</duration></note>"
        )
    };
    let notes: Vec<String> = tune.split_whitespace().map(note).collect();
    let attributes = "<attributes><divisions>1</divisions><key><fifths>1</fifths></key><time><beats>4</beats>\
                      <beat-type>4</beat-type></time></attributes>";
    // The last bar has two half notes.
    let bars = notes.chunks(4).enumerate().map(|(index, notes)| {
        let first = if index == 0 { attributes } else { "" };
        format!("<measure number=\"{}\">{first}{}</measure>", index + 1, notes.concat())
    });
    format!(
        "<score-partwise><part-list><score-part id=\"P1\"><part-name>Tune</part-name></score-part></part-list>\
         <part id=\"P1\">{}</part></score-partwise>",
        bars.collect::<String>()
    )
}

/// A harp and a position imply a key. If the tune may be in that key, it is not moved; otherwise the page first says to
/// which key it moves.
#[test]
fn a_choice_is_moved_only_where_the_tune_cannot_be_in_its_key() {
    let tune = musicxml(CIRCULAR);
    for key in ["", "--key \"B phrygian\""] {
        let command = format!("check - --harp G --position 1 {key} --width 200");
        let page = breathline(&command).stdin(tune.clone()).answers();
        let choice = page.lines().find(|line| line.starts_with("Your choice: ")).unwrap();
        assert!(!choice.contains("sounding in") && !page.contains("lacks"), "{key}: {page}");
    }
    let page = breathline("check - --harp C --position 1 --key G --width 200").stdin(tune).answers();
    let said = page.find("your harp and position move it to C, five half steps up").unwrap();
    assert!(said < page.find("Your choice: ").unwrap(), "{page}");
}

/// A tab with bends is judged with bends, whatever technique the player has. If the player lacks the bends, the page
/// says so.
#[test]
fn a_tab_that_bends_is_judged_with_bends() {
    let tab = breathline("tab corpus/amazing-grace.musicxml --harp C --octave 0 --bends draw").answers();
    let command = "check corpus/amazing-grace.musicxml --harp C --tab -";
    let page = breathline(&format!("{command} --bends none")).stdin(tab.clone()).answers();
    assert!(page.contains("It needs draw bends, so the check assumes that you can play them."), "{page}");
    let page = breathline(&format!("{command} --bends draw")).stdin(tab).answers();
    assert!(!page.contains("the check assumes"), "{page}");
}

/// For a tab of another tune, the page says only that the tab does not look like this tune. It suggests no other harp
/// and no other reading.
#[test]
fn a_tab_of_another_tune_is_only_said_to_be_one() {
    let command = "check corpus/greensleeves.musicxml --harp C --tab - --width 200";
    let ode = breathline("tab corpus/ode-to-joy.musicxml --harp D").answers();
    for other in [ode.as_str(), "6 6 5 6 7 -7 6 -6 -5 -5 - 5 -4 4\n5 -5 6 -5 5 -4 4\n"] {
        let page = breathline(command).stdin(other).answers();
        assert!(page.contains("This does not look like tab of this tune for a C harp: "), "{page}");
        assert!(page.contains("\nCheck these: the tune, "), "{page}");
        assert!(!page.contains("is that the harp") && !page.contains("Its dashes"), "{page}");
    }
}

/// The check names a harp of another tuning if the tab fits that harp better.
#[test]
fn a_tab_for_another_tuning_is_recognised() {
    let page = breathline("tab corpus/amazing-grace.musicxml --harp C:country --octave 1").answers();
    let scale = tune_of("C5 D5 E5 F#5 G5 F#5 E5 F#5 G5");
    let (harps, weights) = (Harp::standard_set(&Tuning::richter()), Weights::default());
    let request = Request {
        melody: &scale,
        key: "G".parse().unwrap(),
        harps: &harps,
        technique: Technique::All,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let c = &harps[5];
    assert_eq!(c.to_string(), "C");
    let text = read::read("4 -4 5 -5 6 -5 5 -5 6", None).unwrap();
    let stated = Stated { harp: c, transposed: Interval(0), octave: None };
    let found = lesson::check(&request, stated, &text).unwrap();
    let (harp, faults) = found.other_tuning.unwrap();
    assert_eq!((harp.to_string().as_str(), faults), ("C country", 0));
    assert!(page.contains("C country harp"));
}

fn tune_of(notes: &str) -> Melody {
    tunes::tune(notes, 120)
}

use crate::tunes;

/// Of two tabs without a fault, only one has the least effort, and the check of the other tab lists the differences.
#[test]
fn what_each_hole_costs_is_told() {
    let melody = tune_of("E4 G4 E4 G4 C4");
    let (harps, weights) = (Harp::standard_set(&Tuning::richter()), Weights::default());
    let request = Request {
        melody: &melody,
        key: "C".parse().unwrap(),
        harps: &harps,
        technique: Technique::All,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let stated = Stated { harp: &harps[5], transposed: Interval(0), octave: None };
    let notes = |text: &str| lesson::check(&request, stated, &read::read(text, None).unwrap()).unwrap();
    let easy = notes("2 3 2 3 1");
    let hard = notes("2 -2 2 3 1");
    let (easiest, other) = if easy.differences.is_empty() { (easy, hard) } else { (hard, easy) };
    assert!(easiest.faults.is_empty() && other.faults.is_empty());
    assert!(!other.differences.is_empty());
    assert_eq!(other.least.playing, easiest.given.playing);
}
