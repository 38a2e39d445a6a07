//! `sheet --levels`: each level uses only its own techniques, has the effort of `suggest` and `tab`, and is drawn note
//! under note with the level above.

#![cfg(feature = "sheet")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a panic is how a test reports a failure")]

use crate::geometry;
use crate::harness::{breathline, check_golden, files, home, scratch};

use std::{fs, path::Path};

use breathline::{
    harp::{Harp, Technique, Tuning},
    import::{self, ImportOptions},
    pages::levels,
    question::{ReadTune, Said},
    search::{self, Level, Player, Request, Wanted},
    sheet::{
        Options, Page, Paper, Sheet, Size,
        draw::{Ink, Owner},
    },
};

/// Calls `then` with the levels of each demo tune and of one in `every` tunes of the corpus, on each of three harps.
fn with_levels(every: usize, then: impl Fn(&str, &ReadTune, &Request, &[Level])) {
    let player = Player::default();
    for path in files("corpus", "musicxml").into_iter().step_by(every).chain(files("demo", "musicxml")) {
        let imported = import::import(&fs::read(&path).unwrap(), &ImportOptions::default()).unwrap();
        let read = ReadTune::new("tune".into(), imported, &player, Said::default());
        for name in ["C", "G", "low-F"] {
            let harps = Harp::parse_list(&[name.to_owned()], Tuning::built_in()).unwrap();
            let request = Request { technique: Technique::Over, ..read.request(&player, &harps, false) };
            let levels = search::levels(&request, &Wanted::first(1), &player.edits);
            let name = format!("{} on {name}", path.file_stem().unwrap().display());
            then(&name, &read, &request, &levels);
        }
    }
}

#[test]
fn each_level_plays_the_tune_with_what_it_allows() {
    let (seen, several) = (std::cell::Cell::new(0), std::cell::Cell::new(0));
    with_levels(2, |name, _, request, levels| {
        let techniques: Vec<Technique> =
            levels.iter().flat_map(|level| level.techniques.iter().copied()).collect();
        assert_eq!(techniques, [Technique::None, Technique::All, Technique::Over], "{name}");
        for level in levels {
            let playing = level.playing();
            for (note, played) in playing.playing.notes.iter().enumerate() {
                let Some(action) = played.action else { continue };
                assert!(level.techniques[0].allows(action), "{name}: {action:?}");
                let change = playing.changes.iter().find(|change| change.note == note);
                let wanted = match change {
                    Some(change) => change.to,
                    None => request.melody.notes[note].pitch.transposed(playing.shift()),
                };
                assert_eq!(playing.harp.pitch(action), wanted, "{name}: note {note}");
            }
            assert!(level.techniques[0] > Technique::None || playing.counts.bends() == 0, "{name}");
            // A level has changes if and only if it is adapted, and only a level that lacks notes has changes.
            assert_eq!(level.adapted.is_some(), !playing.changes.is_empty(), "{name}");
            assert!(
                playing.changes.is_empty() || level.row.counts.playable < level.row.counts.notes,
                "{name}"
            );
        }
        let plays = |level: &Level| level.row.counts.playable;
        assert!(levels.is_sorted_by(|lower, upper| plays(lower) <= plays(upper)), "{name}");
        seen.set(seen.get() + 1);
        several.set(several.get() + usize::from(levels.len() > 1));
    });
    assert!(seen.get() > 70 && several.get() * 2 > seen.get(), "{} of {}", several.get(), seen.get());
}

/// Asks the command for the effort of the first row, and for the effort of the changed tune if there is one. Returns
/// `None` if the row is not in the tune's key.
fn efforts(arguments: &str) -> Option<(i64, Option<i64>)> {
    let answer: serde_json::Value = serde_json::from_str(&breathline(arguments).answers()).unwrap();
    let row = &answer["approaches"][0];
    let in_key = row["transposed"] == 0;
    in_key.then(|| (row["effort"]["total"].as_i64().unwrap(), row["adapted"]["effort"]["total"].as_i64()))
}

#[test]
fn the_effort_of_a_level_is_that_of_suggest_and_tab_with_the_same_bends() {
    let mut suggested = 0;
    for (tune, harp) in [("salt-on-the-step", "G"), ("the-ropewalk", "A"), ("lamps-along-the-row", "C")] {
        let tune = format!("demo/{tune}.musicxml");
        let folder = scratch();
        let line = format!("sheet {tune} --levels --harp {harp} --json -o");
        let answer = breathline(&line).arg(folder.join("sheet.svg")).answers();
        let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
        for level in answer["sheets"][0]["levels"].as_array().unwrap() {
            let row = &level["approach"];
            let ours = (row["effort"]["total"].as_i64().unwrap(), row["adapted"]["effort"]["total"].as_i64());
            for bends in level["bends"].as_array().unwrap() {
                let bends = bends.as_str().unwrap();
                // With bends, `--adapt` may also change notes that can be played, to spare the player a bend.
                let adapt = if bends == "none" { "--adapt" } else { "" };
                let line = format!("{tune} --bends {bends} {adapt} --json");
                let tab = efforts(&format!("tab {line} --harp {harp}")).unwrap();
                assert_eq!(tab.0, ours.0, "{tune} on {harp}, {bends}");
                if bends == "none" {
                    assert_eq!(tab.1.filter(|_| ours.1.is_some()), ours.1, "{tune} on {harp}, {bends}");
                }
                // With few harps, `suggest` may transpose the tune to another key.
                if let Some(suggest) = efforts(&format!("suggest {line} --harps {harp} --every-note")) {
                    assert_eq!(suggest.0, ours.0, "{tune} on {harp}, {bends}");
                    suggested += 1;
                }
            }
        }
        fs::remove_dir_all(folder).unwrap();
    }
    assert!(suggested > 2, "{suggested}");
}

/// Returns the note and the place of each note head of a way on a page.
fn heads(page: &Page, way: usize, count: usize) -> Vec<(Owner, i32, i32)> {
    let mut heads = Vec::new();
    for group in &page.groups {
        let Owner::System(number) = group.owner else { continue };
        group.walk(&mut |owner, item| {
            let is_head = matches!(&item.ink, Ink::Glyph(glyph, ..) if glyph.name().starts_with("head"));
            if number % count == way && is_head {
                heads.push((owner, item.bounds.left, item.bounds.top));
            }
        });
    }
    heads
}

#[test]
fn levels_stand_note_over_note_and_nothing_lies_on_anything_else() {
    with_levels(6, |name, read, request, levels| {
        let count = levels.len();
        let found = [(request.clone(), levels.to_vec())];
        for (paper, size) in [(Paper::A4, Size::Normal), (Paper::Letter, Size::Large)] {
            let options = Options { paper, size, ..Options::default() };
            let sheet = Sheet::levels(&read.tune(), &found, options).unwrap();
            for level in levels {
                let faults = geometry::faults(&sheet, level.playing());
                assert!(faults.is_empty(), "{name}: {faults:#?}");
            }
            for page in &sheet.pages {
                for way in 1..count {
                    let (upper, lower) = (heads(page, way - 1, count), heads(page, way, count));
                    let left = |heads: &[(Owner, i32, i32)]| -> Vec<(Owner, i32)> {
                        // A level does not draw a grace note that it leaves out.
                        let shared = heads.iter().filter(|head| {
                            let is_there =
                                |other: &[(Owner, i32, i32)]| other.iter().any(|it| it.0 == head.0);
                            is_there(&upper) && is_there(&lower)
                        });
                        shared.map(|head| (head.0, head.1)).collect()
                    };
                    assert_eq!(left(&upper), left(&lower), "{name}");
                    assert!(upper.is_empty() == lower.is_empty(), "{name}");
                }
            }
        }
    });
}

#[test]
fn frames_mark_what_differs_from_the_line_above() {
    let (marked, unmarked) = (std::cell::Cell::new(0), std::cell::Cell::new(0));
    with_levels(2, |name, _, request, levels| {
        let sides = levels::sides(request, levels);
        assert!(sides[0].differs.is_empty(), "{name}");
        for pair in sides.windows(2) {
            let [above, below] = [&pair[0], &pair[1]].map(|side| &side.approach.playing.notes);
            let differ = (0..above.len()).filter(|&note| above[note].action != below[note].action);
            let differ: Vec<usize> = differ.collect();
            match differ.len() * 2 > above.len() {
                true => unmarked.set(unmarked.get() + usize::from(pair[1].differs.is_empty())),
                false => {
                    assert_eq!(pair[1].differs, differ, "{name}");
                    marked.set(marked.get() + 1);
                }
            }
        }
    });
    assert!(marked.get() > 20 && unmarked.get() > 20, "{} and {}", marked.get(), unmarked.get());
}

#[test]
fn the_words_of_levels_are_golden() {
    let folder = scratch();
    let mut golden = String::new();
    for path in files("demo", "musicxml") {
        let tune = path.strip_prefix(home()).unwrap().display().to_string();
        let line = format!("sheet {tune} --levels --harps C,G,A --json --force -o");
        let answer = breathline(&line).arg(folder.join("sheet.svg")).run();
        let answer: serde_json::Value = serde_json::from_str(&answer.stdout).unwrap();
        golden += &format!("{tune}\n");
        for sheet in answer["sheets"].as_array().unwrap() {
            golden += &format!("  {} harp\n", sheet["harp"]["key"].as_str().unwrap());
            for level in sheet["levels"].as_array().unwrap() {
                let row = &level["approach"];
                let names: Vec<&str> =
                    level["names"].as_array().unwrap().iter().map(|name| name.as_str().unwrap()).collect();
                let changes = row["changes"].as_array().map_or(0, Vec::len);
                let effort = row["adapted"]["effort"]["total"].as_i64().or(row["effort"]["total"].as_i64());
                golden += &format!(
                    "    {}: octave {}, {changes} changed, effort {}\n",
                    names.join(" = "),
                    row["octave"],
                    effort.unwrap()
                );
            }
            for line in sheet["to_learn"].as_array().unwrap() {
                golden += &format!("    {}\n", line.as_str().unwrap());
            }
        }
    }
    fs::remove_dir_all(folder).unwrap();
    check_golden(&home().join("tests/golden/levels.txt"), &golden);
}

/// Returns the number of pages of a PDF.
#[cfg(feature = "paper")]
fn pages(pdf: &Path) -> usize {
    let text = String::from_utf8_lossy(&fs::read(pdf).unwrap()).into_owned();
    text.matches("/Type /Page\n").count()
}

#[cfg(feature = "paper")]
#[test]
fn a_class_gets_the_pages_of_each_harp_in_one_pdf_or_numbered() {
    let folder = scratch();
    let write = |harps: &str, name: &str| {
        let line = format!("sheet demo/three-gulls-on-a-rail.musicxml --levels --harps {harps} -o");
        breathline(&line).arg(folder.join(name)).answers().lines().count()
    };
    let each = write("C", "c.svg") + write("G", "g.svg");
    assert!(each >= 2);
    assert_eq!(write("C,G", "class.pdf"), 1);
    assert_eq!(pages(&folder.join("class.pdf")), each);
    assert_eq!(write("C,G", "class.svg"), each);
    for page in 1..=each {
        assert!(folder.join(format!("class-{page}.svg")).is_file());
    }
    let size = |page: usize| {
        let svg = fs::read_to_string(folder.join(format!("class-{page}.svg"))).unwrap();
        svg.split("viewBox=\"").nth(1).unwrap().split('"').next().unwrap().to_owned()
    };
    assert!((2..=each).all(|page| size(page) == size(1)), "one size of print");
    fs::remove_dir_all(folder).unwrap();
}

#[test]
fn bends_set_the_highest_level() {
    let names = |bends: &str| -> Vec<String> {
        let folder = scratch();
        let line = format!("sheet demo/salt-on-the-step.musicxml --levels --harp G {bends} --json -o");
        let answer = breathline(&line).arg(folder.join("sheet.svg")).answers();
        let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
        fs::remove_dir_all(folder).unwrap();
        let levels = answer["sheets"][0]["levels"].as_array().unwrap();
        levels.iter().flat_map(|level| level["names"].as_array().unwrap()).map(ToString::to_string).collect()
    };
    assert_eq!(names(""), [r#""plain""#, r#""with bends""#, r#""full""#]);
    assert_eq!(names("--bends all"), [r#""plain""#, r#""with bends""#]);
    assert_eq!(names("--bends draw"), [r#""plain""#, r#""with draw bends""#]);
    assert_eq!(names("--bends none"), [r#""plain""#]);
}

#[test]
fn mistakes_have_a_remedy() {
    let sheet = |rest: &str| breathline(&format!("sheet demo/salt-on-the-step.musicxml {rest}")).fails();
    let page = sheet("--levels --harps C -o class.html");
    assert!(page.contains("--levels is for paper; name a .pdf, .svg or .png"), "{page}");
    let several = sheet("--harps C,A -o class.pdf");
    assert!(several.contains("a sheet is for one harp: write --harp C, or add --levels"), "{several}");
    let pinned = sheet("--levels --at 1:1=-2 -o class.pdf");
    assert!(pinned.contains("--levels") && pinned.contains("--at"), "{pinned}");
    let unknown = sheet("--levels --harps C,Q -o class.pdf");
    assert!(unknown.contains("`Q`"), "{unknown}");
}

#[test]
fn a_harp_without_a_level_says_so_and_stops_no_other() {
    let folder = scratch();
    let ask = |harps: &str| {
        let line = format!("sheet demo/salt-on-the-step.musicxml --levels --harps {harps} --octave 3 -o");
        breathline(&line).arg(folder.join("class.svg")).run()
    };
    let (nothing, one) = (ask("G"), ask("C,G"));
    let why = "breathline: the G harp has no note of the tune in this octave; write --octave with a \
               number from -2 to 2\n";
    assert_eq!((nothing.code, nothing.stdout.as_str(), nothing.stderr.as_str()), (Some(1), "", why));
    assert_eq!((one.code, one.stdout.is_empty(), one.stderr.as_str()), (Some(0), false, why));
    fs::remove_dir_all(folder).unwrap();
}
