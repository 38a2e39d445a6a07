//! Pinned holes: every output plays them, the answer prices them, a file beside the tune keeps them, and impossible
//! pins are refused in plain words.

use std::{
    fs,
    path::{Path, PathBuf},
};

use serde_json::Value;

use crate::harness::{breathline, home};

/// Makes a folder with a copy of a tune.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    fs::copy(home().join("demo/lamps-along-the-row.musicxml"), folder.join("lamps.musicxml")).unwrap();
    folder
}

fn asked(line: &str) -> Value {
    serde_json::from_str(&breathline(line).answers()).unwrap()
}

#[test]
fn a_pin_is_played_in_every_answer_and_priced() {
    let tune = "demo/lamps-along-the-row.musicxml";
    // On the G harp the note at bar 2, beat 6 can be draw 2 or blow 3, which sound the same D.
    let pinned = asked(&format!("tab {tune} --harp G --at 2:6=3 --json"));
    let free = asked(&format!("tab {tune} --harp G --json"));
    let at = free["approaches"][0]["tab"]
        .as_array()
        .unwrap()
        .iter()
        .zip(pinned["approaches"][0]["tab"].as_array().unwrap());
    let other: Vec<_> = at.filter(|(free, pinned)| free != pinned).collect();
    assert!(!other.is_empty() && free["pinned"].is_null());
    let told = &pinned["pinned"];
    assert_eq!(told["pins"][0]["action"]["hole"], 3);
    assert_eq!(told["pins"][0]["action"]["breath"], "blow");
    assert_eq!(told["pins"][0]["free"]["breath"], "draw");
    let effort = |answer: &Value| answer["approaches"][0]["effort"]["total"].as_u64().unwrap();
    assert_eq!((&told["effort"], &told["effort_free"]), (&effort(&pinned).into(), &effort(&free).into()));
    assert!(effort(&pinned) > effort(&free));
    let page = breathline(&format!("tab {tune} --harp G --at 2:6=3")).answers();
    let more = effort(&pinned) - effort(&free);
    assert!(page.contains("Pinned: blow 3 at bar 2 beat 6, where draw 2 would be chosen"), "{page}");
    assert!(page.contains(&format!("The pins cost {more} points: ")), "{page}");
    // The answer names the best harp that can keep the pin, and the harp that would be better without the pin.
    let page = breathline(&format!("suggest {tune} --at 1:1=-2")).answers();
    assert!(
        page.contains("Pick up a C harp in 2nd position")
            && page.split_whitespace().collect::<Vec<_>>().join(" ").contains("the choice would be a G harp"),
        "{page}"
    );
}

#[test]
fn pins_are_kept_beside_the_tune_and_honoured_by_every_output() {
    let folder = folder("pins");
    let tune = folder.join("lamps.musicxml");
    let run = |line: &str| breathline(line).arg(&tune).run();
    assert_eq!(run("tab --harp G --at 2:6=3,4:1=4 --keep").code, Some(0));
    let kept = fs::read_to_string(folder.join("lamps.pins")).unwrap();
    assert!(kept.ends_with("\n2:6=3\n4:1=4\n"), "{kept}");
    let actions = |run: &str| {
        let answer: Value = serde_json::from_str(run).unwrap();
        answer["approaches"][0]["tab"].clone()
    };
    let tab = run("tab --harp G --json");
    assert!(tab.stderr.contains("2 pinned holes from") && tab.stderr.contains("--free"), "{}", tab.stderr);
    let pinned = actions(&tab.stdout);
    let free = run("tab --harp G --free --json");
    assert!(free.stderr.is_empty() && actions(&free.stdout) != pinned, "{}", free.stderr);
    // The sheet has the same tab, and the pins change the export.
    let sheet = breathline("sheet --harp G --json -o").arg(folder.join("lamps.svg")).arg(&tune).run();
    assert_eq!(actions(&sheet.stdout), pinned);
    for ending in ["abc", "musicxml"] {
        let written = |name: &str, option: &str| {
            let path = folder.join(format!("{name}.{ending}"));
            breathline(&format!("export --harp G {option} -o")).arg(&path).arg(&tune).run();
            fs::read_to_string(path).unwrap()
        };
        assert_ne!(written("with", "--tempo 90"), written("without", "--tempo 90 --free"), "{ending}");
    }
    assert!(run("suggest --harps G").stdout.contains("Pinned: blow 3 at bar 2 beat 6"));
    // A later pin at the same place wins, both in this run and in the file.
    let page = run("tab --harp G --at 2:6=-2 --keep").stdout;
    assert!(page.contains("Pinned: draw 2 at bar 2 beat 6, the same as without the pin"), "{page}");
    assert!(fs::read_to_string(folder.join("lamps.pins")).unwrap().ends_with("\n2:6=-2\n4:1=4\n"));
}

#[test]
fn a_pin_that_cannot_be_kept_says_what_could_be() {
    let folder = folder("pins-refused");
    let tune = folder.join("lamps.musicxml");
    let first = |line: &str| {
        let run = breathline(line).arg(&tune).run();
        assert!(run.code != Some(0) && run.stdout.is_empty(), "{line}: {}", run.stdout);
        run.stderr.lines().next().unwrap().to_owned()
    };
    assert_eq!(
        first("tab --harp G --at 3:1=5"),
        "breathline: bar 3 beat 1 cannot be 5; it could be -6 or -10 or -3''"
    );
    // A pin that cannot be played is not saved.
    assert!(first("tab --harp G --at 3:1=5 --keep").contains("cannot be 5;"));
    assert!(!folder.join("lamps.pins").exists());
    assert_eq!(
        first("suggest --at 99:1=5"),
        "breathline: there is no note in bar 99; the tune has notes in bars 0 (the pickup) to 16"
    );
    assert_eq!(
        first("suggest --at 1:7=-2"),
        "breathline: no note starts at bar 1 beat 7; notes of this bar start at beat 1, 3, 4, 5, 6"
    );
    assert!(
        first("suggest --at 3-2=4")
            .contains("`3-2=4` is not a pin; write BAR:BEAT=HOLE, as in 3:2=-2 for draw 2")
    );
    let together = first("suggest --harps G --at 1:1=4,2:6=8");
    assert!(together.contains("cannot be 8;") || together.contains("keeps all pins together"), "{together}");
    // A file that is not a list of pins stops the command and is never overwritten.
    fs::write(folder.join("lamps.pins"), "my pins\n").unwrap();
    assert!(first("tab --harp G").contains("lamps.pins: line 1: `my pins` is not a pin"));
    fs::write(folder.join("lamps.pins"), "# mine\n2:6=3\n").unwrap();
    let run = breathline("tab --harp G --at 4:1=4 --keep").arg(&tune).run();
    assert!(run.code == Some(2) && run.stderr.contains("breathline did not write it"), "{}", run.stderr);
    let piped = breathline("tab - --harp G --at 2:6=3 --keep").stdin(fs::read(&tune).unwrap()).run();
    assert!(piped.stderr.contains("typed or piped notes have no place for the pins"), "{}", piped.stderr);
}

#[test]
fn a_pinned_hole_is_framed_on_the_sheet_and_explained() {
    let tune = "demo/lamps-along-the-row.musicxml";
    let folder = folder("framed");
    let sheet = |pins: &str| {
        let path = folder.join("sheet.svg");
        breathline(&format!("sheet {tune} --harp G {pins} -o {} --force", path.display())).answers();
        fs::read_to_string(path).unwrap()
    };
    let framed = |svg: &str| svg.matches("class=\"frame\"").count();
    let (free, pinned) = (sheet(""), sheet("--at 2:6=3 --at 0:6=-2"));
    // There is one frame for each pin, and one in the legend.
    assert_eq!((framed(&free), framed(&pinned)), (0, 3));
    assert!(pinned.contains(">this hole is pinned<") && !free.contains("pinned"));
}
