//! The kit: its settings apply to every command that has their options, unless the command line overrides them.

use std::{
    fs,
    path::{Path, PathBuf},
};

use serde_json::Value;

use crate::harness::{Run, breathline};

/// Makes an empty folder for settings.
fn settings(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn with(folder: &Path, command: &str) -> Run {
    breathline(command).env("XDG_CONFIG_HOME", folder.to_str().unwrap())
}

#[test]
fn what_is_kept_counts_in_every_command() {
    let folder = settings("kit");
    assert!(with(&folder, "kit").answers().starts_with("Your kit is empty"));
    let page = with(&folder, "kit --save --harps C,low-F --player beginner").answers();
    assert!(page.contains("harps: C,low-F") && page.contains("player: beginner"), "{page}");
    // A second save keeps the settings that it does not name.
    with(&folder, "kit --save --tab-style arrows --bends draw").answers();
    let kit: Value = serde_json::from_str(&with(&folder, "kit --json").answers()).unwrap();
    let kept = serde_json::json!({"harps": ["C", "low-F"], "player": "beginner", "bends": "draw", "tab_style": "arrows"});
    assert_eq!(kit, kept);

    const TUNE: &str = "corpus/clementine.mid";
    let player = |command: &str| {
        let answer: Value = serde_json::from_str(&with(&folder, command).answers()).unwrap();
        let player = &answer["player"];
        (
            player["name"].to_string(),
            player["technique"].to_string(),
            player["harps"].as_array().unwrap().len(),
        )
    };
    let own = |harps| ("\"beginner\"".to_owned(), "\"draw\"".to_owned(), harps);
    assert_eq!(player(&format!("suggest {TUNE} --json")), own(2));
    assert_eq!(player(&format!("tab {TUNE} --harp G --json")), own(1));
    // Without a named harp, the sheet shows the first row.
    let drawn = format!("sheet {TUNE} -o target/tmp/kit.svg --force --json");
    assert_eq!(player(&drawn), own(2));
    // If the kit leads to another key, the sheet is in that key, like the first row.
    let key = |command: &str| {
        let answer: Value = serde_json::from_str(&with(&folder, command).answers()).unwrap();
        let first = &answer["approaches"][0];
        (first["transposed"].clone(), first["harp"].clone(), first["tab"].clone())
    };
    let moved = "corpus/londonderry-air.musicxml";
    let suggested = key(&format!("suggest {moved} --json"));
    assert_ne!(suggested.0, 0);
    assert_eq!(key(&format!("sheet {moved} -o target/tmp/kit.svg --force --json")), suggested);
    // The command line overrides the kit.
    let line = format!("suggest {TUNE} --player advanced --bends over --harps G --json");
    assert_eq!(player(&line), ("\"advanced\"".to_owned(), "\"over\"".to_owned(), 1));
    assert!(with(&folder, &format!("tab {TUNE} --harp C")).answers().contains('↑'));
    assert!(!with(&folder, &format!("tab {TUNE} --harp C --tab-style signed")).answers().contains('↑'));
    // The notes of a harp do not depend on the player's technique.
    assert_eq!(with(&folder, "harp C").answers(), breathline("harp C").answers());
    assert!(with(&folder, "tab --help").answers().contains("[default: arrows]"));
}

/// The letters of keys are written as capitals, however they were typed.
#[test]
fn a_kit_names_its_harps_as_every_answer_does() {
    let folder = settings("kit-capitals");
    let page = with(&folder, "kit --save --harps 'g, low-f,bb,dm:natural-minor,all'").answers();
    assert!(page.contains("harps: G,low-F,Bb,Dm:natural-minor,all"), "{page}");
    for command in ["suggest", "notes"] {
        let help = breathline(&format!("{command} --help")).answers();
        assert!(help.contains(&format!("Usage: breathline {command} [OPTIONS] [FILE]...\n")), "{help}");
    }
}

#[test]
fn a_kit_that_cannot_be_kept_or_read_is_told() {
    let folder = settings("bad-kit");
    assert!(with(&folder, "kit --harps C").fails().contains("add --save"));
    assert!(with(&folder, "kit --save --harps H").fails().contains("`H` is not a harp"));
    assert!(!folder.join("breathline").exists());
    fs::create_dir(folder.join("breathline")).unwrap();
    fs::write(folder.join("breathline/kit.toml"), "bends = \"some of them\"\n").unwrap();
    let error = with(&folder, "suggest corpus/clementine.mid").fails();
    assert!(
        error.contains("kit.toml: bends is `some of them`; write one of none, draw, all, over"),
        "{error}"
    );
    // The help works even with a broken kit.
    assert!(with(&folder, "suggest --help").answers().contains("--harps"));
}
