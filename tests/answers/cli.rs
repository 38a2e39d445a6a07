//! The command as its user sees it: arguments, files, standard input, output, errors and exit codes.

use crate::harness;

use std::{fs, path::Path};

use harness::{breathline, check_golden, files, home, scratch};

const TUNE: &str = "corpus/amazing-grace.musicxml";

/// The tunes whose whole answer is compared with a golden file: one with words and verses, a beginner's tune, one in
/// Dorian, one in minor, a chromatic one, a wide one, a song whose key is in doubt, and a jig with two strains.
const READ_WHOLE: [&str; 8] = [
    "amazing-grace",
    "au-clair-de-la-lune",
    "drunken-sailor",
    "greensleeves",
    "hall-of-the-mountain-king",
    "korobeiniki",
    "londonderry-air",
    "swallowtail-jig",
];

#[test]
fn answers_are_those_that_were_read_and_found_good() {
    for name in READ_WHOLE {
        let answer = breathline("suggest --why --ranking").arg(format!("corpus/{name}.musicxml")).answers();
        check_golden(&home().join(format!("tests/golden/{name}.txt")), &answer);
    }
}

/// At most 24 lines precede the tab, because a common terminal shows 24 lines.
#[test]
fn the_first_screen_is_the_answer() {
    let fixtures = ["musicxml", "mid", "mxl", "abc"].map(|kind| files("tests/fixtures", kind)).concat();
    let tunes =
        ["musicxml", "mid", "abc"].iter().flat_map(|kind| [files("corpus", kind), files("demo", kind)]);
    let mut seen = 0;
    for tune in tunes.flatten().chain(fixtures) {
        let page = breathline("suggest").arg(&tune).run().stdout;
        let before = page.lines().take_while(|line| !line.starts_with("Tab for the ")).count();
        if before == page.lines().count() {
            continue;
        }
        assert!(before <= 24, "{}: {before} lines\n{page}", tune.display());
        assert!(!page.contains("Ranking") && !page.contains("Effort"), "{page}");
        let (_, more) = page.trim_end().rsplit_once("\n\n").unwrap();
        assert!(more.contains("--why") && more.contains("--ranking"), "{page}");
        seen += 1;
    }
    assert!(seen > 100, "{seen}");
    let tune = "demo/lamps-along-the-row.musicxml";
    let page = breathline("suggest --why").arg(tune).answers();
    assert!(
        page.contains("The two hardest bars\n") && page.contains("Effort ") && !page.contains("Ranking"),
        "{page}"
    );
    for options in ["--ranking", "--top 5", "--tempo-range"] {
        let page = breathline(&format!("suggest {options}")).arg(tune).answers();
        assert!(page.contains("Ranking\n") && page.contains("Effort by its parts"), "{options}: {page}");
    }
}

#[test]
fn every_tune_has_the_harp_and_the_tab_that_were_read_and_found_good() {
    let tunes = files("corpus", "musicxml");
    assert!(tunes.len() >= 12, "{} tunes", tunes.len());
    let winners: Vec<String> = tunes.iter().map(|tune| winner(tune)).collect();
    check_golden(&home().join("tests/golden/winners.txt"), &winners.join("\n"));
}

/// Returns the important parts of the first row: the harp, the position, the octave and the key; the numbers of notes,
/// bends and breath changes; and the tab.
fn winner(tune: &Path) -> String {
    let answer: serde_json::Value =
        serde_json::from_str(&breathline("suggest --json").arg(tune).answers()).unwrap();
    let best = &answer["approaches"][0];
    let part = |part: &str, keys: &[&str]| {
        keys.iter().map(|key| format!("{} {key}", best[part][key])).collect::<Vec<_>>().join(", ")
    };
    let sign = |note: &serde_json::Value| {
        let Some(hole) = note["hole"].as_u64() else { return "[ ]".to_owned() };
        let draw = if note["breath"] == "draw" { "-" } else { "" };
        let over = if note["over"] == true { "o" } else { "" };
        format!("{draw}{hole}{}{over}", "'".repeat(note["bend"].as_u64().unwrap() as usize))
    };
    let tab: Vec<String> = best["tab"].as_array().unwrap().iter().map(sign).collect();
    let lines: Vec<String> = tab.chunks(24).map(|line| format!("  {}\n", line.join(" "))).collect();
    format!(
        "{}: {} harp, {}, position {}, {} octaves, key of {}\n  {} of {} notes; {}; breath: {}\n{}",
        tune.file_stem().unwrap().display(),
        best["harp"]["key"].as_str().unwrap(),
        best["harp"]["register"].as_str().unwrap(),
        best["position"],
        best["octave"],
        best["sounding_key"].as_str().unwrap(),
        best["playable"],
        best["notes"],
        part("bends", &["draw", "blow", "overblow", "overdraw"]),
        part("breath", &["changes", "awkward"]),
        lines.concat()
    )
}

#[test]
fn midi_and_musicxml_of_a_tune_give_the_same_ranking() {
    for tune in files("corpus", "mid") {
        let ranking = |path: &std::path::Path| {
            let answer: serde_json::Value =
                serde_json::from_str(&breathline("suggest --json").arg(path).answers()).unwrap();
            answer["approaches"].clone()
        };
        let (midi, xml) = (ranking(&tune), ranking(&tune.with_extension("musicxml")));
        let short = |approaches: &serde_json::Value| {
            let best = &approaches[0];
            (best["harp"].clone(), best["position"].clone(), best["tab"].clone())
        };
        assert_eq!(short(&midi), short(&xml), "{}", tune.display());
    }
}

#[test]
fn no_line_of_an_answer_is_wider_than_was_asked() {
    for tune in files("corpus", "musicxml") {
        for width in [40, 60, 80, 120] {
            for command in [
                "suggest",
                "suggest --any-key --top 12 --bends none",
                "notes --all-parts",
                "tab --harp C --bends over --tab-style letters",
            ] {
                let answer = breathline(&format!("{command} --width {width}")).arg(&tune).answers();
                for line in answer.lines() {
                    assert!(line.chars().count() <= width, "{}: {line:?}", tune.display());
                }
            }
        }
    }
    for width in [40, 60, 80, 120] {
        for command in
            ["positions", "positions --key E", "positions --harp C", "harp F#", "harp Dm:natural-minor"]
        {
            for line in breathline(&format!("{command} --width {width}")).answers().lines() {
                assert!(line.chars().count() <= width, "{command}: {line:?}");
            }
        }
    }
}

#[test]
fn changes_to_a_tune_are_marked_in_the_tab_and_listed() {
    let song = "tab demo/lamps-along-the-row.musicxml --harp C --bends none";
    let plain = breathline(song).answers();
    assert!(!plain.contains('*') && !plain.contains("Changes") && plain.contains("[F#5]"), "{plain}");
    let adapted = breathline(&format!("{song} --adapt")).answers();
    assert_eq!(adapted.lines().filter(|line| line.trim_matches([' ', ',']) == "*").count(), 3, "{adapted}");
    assert!(adapted.contains("* over a note: the tune is changed there") && !adapted.contains("[F#5]"));
    assert!(adapted.contains("A5, a note of the chord D, instead of F#5: bar 3 beat 6 and bar 15 beat 6"));
    // In 3rd position the tune is in D, so its chord C becomes G.
    let third = breathline(&format!("{song} --position 3 --adapt")).answers();
    assert!(third.contains("G5, a note of the chord G, instead of F#6: bar 9 beat 6"), "{third}");
    let full = breathline("tab demo/lamps-along-the-row.musicxml --harp G --adapt").answers();
    assert!(full.contains("None: every note is there") && !full.contains("* over"), "{full}");
}

#[test]
fn what_is_no_tune_gets_one_line_and_exit_code_2() {
    let folder = scratch();
    let midi = fs::read(home().join("corpus/amazing-grace.mid")).unwrap();
    let empty_score = r#"<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>A</part-name>
        </score-part></part-list><part id="P1"><measure number="1"/></part></score-partwise>"#;
    let cases: [(&str, &[u8], &str); 6] = [
        ("empty.mid", b"", "the file is empty"),
        ("picture.mid", b"\xFF\xD8\xFF\xE0\0\x10JFIF", "this is a JPEG picture, not a score"),
        ("cut.mid", &midi[..18], "the file is damaged"),
        ("no-notes.musicxml", empty_score.as_bytes(), "no notes with a pitch"),
        ("broken.musicxml", b"<score-partwise><part>", "the file is damaged at line 1, column"),
        ("page.xml", b"<html><body/></html>", "instead of a score"),
    ];
    for (name, bytes, expected) in cases {
        let path = folder.join(name);
        fs::write(&path, bytes).unwrap();
        let line = breathline("suggest").arg(&path).fails();
        assert!(line.contains(expected) && line.contains(name), "{line}");
    }
    let line = breathline("suggest corpus").fails();
    assert!(line.contains("corpus: this is a folder"), "{line}");
    let line = breathline("suggest nowhere.mid").fails();
    assert_eq!(
        line.trim_end(),
        "breathline: nowhere.mid: there is no such file; check the name and the folder"
    );
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_wrong_option_is_told_what_can_stand_there() {
    let cases = [
        (format!("suggest {TUNE} --harps C,H"), "`H` is not a harp"),
        (format!("suggest {TUNE} --harps C:blues"), "known are richter, paddy-richter"),
        (format!("suggest {TUNE} --harps C,,G"), "the list of harps has an empty item"),
        (format!("tab {TUNE} --harp C --tuning-file nowhere.toml"), "nowhere.toml: there is no such file"),
        (format!("tab {TUNE} --harp C --tuning-file corpus"), "corpus: this is a folder"),
        (
            format!("tab {TUNE} --harp C --player nobody"),
            "neither a player (improver, beginner, advanced) nor a file",
        ),
        (format!("suggest {TUNE} --part 3"), "there is no part 3; the file has 1"),
        (format!("suggest {TUNE} --voice 2"), "there is no voice 2 in part 1; it has only one"),
        (
            "positions --harp C --position 2 --key A".to_owned(),
            "the C harp in 2nd position plays in G; leave out the harp, the position or the key",
        ),
        ("harp C:country --tuning solo".to_owned(), "already names a tuning"),
        (format!("tab {TUNE} --harp C --tuning-file Cargo.toml"), "Cargo.toml: line "),
    ];
    for (arguments, expected) in cases {
        let line = breathline(&arguments).fails();
        assert!(line.contains(expected), "{line}");
    }
    for (arguments, expected) in [
        (format!("suggest {TUNE} --key 'H moll'"), "H moll"),
        (format!("tab {TUNE} --harp C --position 13"), "1 to 12"),
        (format!("tab {TUNE} --harp C --position 2banana"), "1 to 12, as in 2, 2nd or second"),
        // An option that would change nothing is refused.
        (format!("export {TUNE} --harp C -o target/tmp/refused.mid --format markdown"), "--format"),
        (format!("export {TUNE} --harp C -o target/tmp/refused.mid --width 60"), "--width"),
        (format!("export {TUNE} --harp C -o target/tmp/refused.mid --color never"), "--color"),
        (format!("suggest {TUNE} --bends some"), "--bends some: write one of none, draw, all, over"),
    ] {
        let finished = breathline(&arguments).run();
        assert_eq!(finished.code, Some(2));
        assert!(finished.stderr.contains(expected), "{}", finished.stderr);
    }
}

#[test]
fn a_tune_can_come_through_standard_input() {
    let bytes = fs::read(home().join(TUNE)).unwrap();
    let piped = breathline("suggest -").stdin(bytes).answers();
    assert_eq!(piped, breathline("suggest").arg(TUNE).answers());
    // A tune without a title is called by its file's name, and standard input has none.
    let nameless = fs::read(home().join("tests/fixtures/title_stopgap_only.musicxml")).unwrap();
    let answer = breathline("suggest -").stdin(nameless).answers();
    assert!(answer.starts_with("Untitled\n"), "{answer}");
}

const BOOK: &str = "demo/lantern-row.abc";

#[test]
fn a_file_of_many_tunes_is_listed_until_one_is_named() {
    let list = breathline("notes").arg(BOOK).answers();
    for line in ["demo/lantern-row.abc: 6 tunes", "       5  Three Gulls on a Rail  E Dorian", "--tune 1"] {
        assert!(list.contains(line), "{list}");
    }
    // The other commands need a single tune, so they fail, but they print the list of tunes.
    for command in ["suggest", "tab --harp C", "check --harp C", "export --harp C -o /nowhere/tune.mid"] {
        let finished = breathline(command).arg(BOOK).run();
        assert_eq!((finished.code, finished.stdout.as_str()), (Some(2), list.as_str()), "{command}");
        assert!(
            finished
                .stderr
                .ends_with("the file holds 6 tunes; name one by its number or a part of its title\n")
        );
    }
    let json: serde_json::Value =
        serde_json::from_str(&breathline("notes --json").arg(BOOK).answers()).unwrap();
    assert_eq!(json["tunes"][2]["title"], "Salt on the Step");
    assert_eq!((&json["tunes"][2]["tune"], &json["tunes"][2]["key"]), (&"3".into(), &"D mixolydian".into()));
    let some = breathline("suggest --tune the").arg(BOOK).run();
    assert!(
        some.stdout.contains("5 tunes match `the`") && some.stderr.contains("`the` matches 5 tunes"),
        "{}",
        some.stdout
    );
    let none = breathline("suggest --tune polka").arg(BOOK).fails();
    assert!(
        none.contains("none of the file's 6 tunes matches `polka`; `breathline notes FILE` lists them"),
        "{none}"
    );
    let only = breathline("suggest --tune 2").arg(TUNE).fails();
    assert!(only.contains("the file's only tune is not `2`"), "{only}");
}

#[test]
fn a_tune_of_a_book_is_the_tune_alone() {
    let alone = breathline("suggest demo/three-gulls-on-a-rail.musicxml").answers();
    for tune in ["5", "gulls", "\"GULLS on\""] {
        assert_eq!(breathline(&format!("suggest --tune {tune}")).arg(BOOK).answers(), alone);
    }
    let piped = breathline("suggest - --tune 5").stdin(fs::read(home().join(BOOK)).unwrap()).answers();
    assert_eq!(piped, alone);
}

#[test]
fn oddities_of_a_typed_tune_have_their_line_and_column() {
    let notes = |music: &str| {
        let answer = breathline("notes -").stdin(format!("X:1\nT:A\nK:C\n{music}\n")).answers();
        answer.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert!(notes("CDqE|").contains("ignored, because breathline cannot use it: `q` (line 4, column 3)"));
    assert!(notes("CqD|\nCqD|").contains("`q` (2 times, first in line 4, column 2)"));
}

#[test]
fn the_exit_code_tells_when_no_harp_reaches_the_tune() {
    // This harp sounds only A flats, and the tune has none.
    let folder = scratch();
    let path = folder.join("odd.toml");
    let offsets = "[0, 12, 24, 36, 0, 12, 24, 36, 0, 12]";
    fs::write(&path, format!("name = \"odd\"\ntitle = \"odd\"\nblow = {offsets}\ndraw = {offsets}\n"))
        .unwrap();
    let finished =
        breathline("suggest corpus/ode-to-joy.musicxml --harps Ab:odd --tuning-file").arg(&path).run();
    assert_eq!((finished.code, finished.stderr.as_str()), (Some(1), ""));
    assert!(finished.stdout.contains("None of the harps reaches a single note"), "{}", finished.stdout);
    // The same holds for one harp and for one octave, in text and in JSON.
    for json in ["", " --json"] {
        let odd = format!("tab corpus/ode-to-joy.musicxml --harp Ab:odd{json} --tuning-file");
        assert_eq!(breathline(&odd).arg(&path).run().code, Some(1));
        let octave = breathline(&format!("tab {TUNE} --harp C --octave 9{json}")).run();
        assert_eq!(octave.code, Some(1));
        assert_eq!(
            octave.stderr.contains("write --octave with a number from"),
            json.is_empty(),
            "{}",
            octave.stderr
        );
    }
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_position_or_register_that_the_tune_never_has_is_no_fault_of_the_command_line() {
    let never = format!("suggest {TUNE} --harps C --position 7");
    let finished = breathline(&never).run();
    assert_eq!((finished.code, finished.stdout.as_str()), (Some(1), ""));
    assert!(finished.stderr.contains("change --position, or --harps"), "{}", finished.stderr);
    let finished = breathline(&format!("{never} --json")).run();
    assert_eq!((finished.code, finished.stderr.as_str()), (Some(1), ""));
    assert!(finished.stdout.contains("\"approaches\": []"), "{}", finished.stdout);
}

#[test]
fn files_of_the_users_own_have_a_limit() {
    let folder = scratch();
    let path = folder.join("long.toml");
    fs::write(&path, " ".repeat(65_537)).unwrap();
    for command in ["harp C --tuning-file", "tab corpus/ode-to-joy.musicxml --harp C --player"] {
        let line = breathline(command).arg(&path).fails();
        assert!(line.contains("over the limit of 65536 bytes"), "{line}");
    }
    fs::write(&path, b"\xFF\xFEn").unwrap();
    let line = breathline("harp C --tuning-file").arg(&path).fails();
    assert!(line.contains("not plain text; save it as UTF-8"), "{line}");
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn a_harp_is_named_alike_in_every_command() {
    for command in ["harp Gm:natural-minor", "harp Gm --tuning natural-minor"] {
        assert_eq!(breathline(command).answers(), breathline("harp G --tuning minor").answers());
    }
    let positions = |options: &str| breathline(&format!("positions {options} --position 2")).answers();
    let expected = positions("--harp G --tuning natural-minor");
    assert!(expected.contains("Gm natural minor harp in 2nd position"), "{expected}");
    assert_eq!(positions("--harp Gm:natural-minor"), expected);
    assert_eq!(positions("--harp Gm --tuning minor"), expected);
    assert_eq!(positions("--harp Gm"), expected);
    let line = breathline("positions --harp Gm:solo").fails();
    assert!(line.contains("`Gm:solo` is not a harp"), "{line}");
    // A tuning file alone determines the tuning.
    let file = "--tuning-file src/harp/tunings/country.toml";
    for command in ["harp D", "positions --harp D --position 2"] {
        let named = breathline(&format!("{command} --tuning country")).answers();
        assert_eq!(breathline(&format!("{command} {file}")).answers(), named);
    }
    assert_eq!(breathline(&format!("harp D:solo {file}")).answers(), breathline("harp D:solo").answers());
}

#[test]
fn colours_are_only_where_they_are_wanted() {
    let escape = '\u{1b}';
    let suggest = |options: &str| breathline(&format!("suggest {TUNE} {options}"));
    assert!(!suggest("").answers().contains(escape), "not into a pipe");
    let coloured = suggest("--color always").answers();
    assert!(coloured.contains(escape));
    assert!(suggest("--color always").env("NO_COLOR", "1").answers().contains(escape), "an option outweighs");
    // Without the escape sequences the text is the same.
    let mut plain = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once(escape) {
        plain += before;
        rest = after.split_once('m').unwrap().1;
    }
    assert_eq!(plain + rest, suggest("").answers());
}

#[test]
fn control_characters_in_a_title_do_not_reach_the_terminal() {
    let score = fs::read_to_string(home().join(TUNE)).unwrap();
    // U+009B is the one-character form of the escape sequence introducer, and XML allows it.
    let score = score.replacen("Amazing Grace", "Amazing\u{9b}31m Grace", 1);
    let answer = breathline("suggest -").stdin(score).answers();
    assert!(answer.starts_with("Amazing31m Grace\n"), "{:?}", answer.lines().next());
}

#[test]
fn every_command_has_help_with_an_example() {
    for command in ["suggest", "tab", "check", "notes", "positions", "harp"] {
        let help = breathline(&format!("{command} --help")).answers();
        assert!(help.contains("Examples:\n") && help.contains(&format!("  breathline {command} ")), "{help}");
        for line in help.lines() {
            assert!(line.chars().count() <= 100, "{line}");
        }
    }
}
