//! What a reader of the text may rely on, at any width.

mod harness;

use harness::{breathline, files, home};
use serde_json::Value;

/// The tokens of a tab page from its heading to its legend, with the line that each stands in.
fn tokens(page: &str) -> Vec<(usize, String)> {
    let lines = page.lines().enumerate().skip_while(|(_, line)| !line.starts_with("Tab for"));
    let mut tokens = Vec::new();
    for (index, line) in lines.take_while(|(_, line)| !line.starts_with("How to read it")) {
        let Some(line) = line.get(5..) else { continue };
        let words = || line.split(['|', ':', ' ']).filter(|word| !["", "...", "rest", "hold"].contains(word));
        if words().all(is_token) {
            tokens.extend(words().map(|word| (index, word.to_owned())));
        }
    }
    tokens
}

/// "-3'", "10" or "[Eb5]".
fn is_token(word: &str) -> bool {
    let played = word.trim_start_matches('-').trim_end_matches(['\'', 'o']);
    played.parse().is_ok_and(|hole: u8| (1..=10).contains(&hole)) || word.starts_with('[')
}

/// Tab as JSON has it, in the style `signed`.
fn played(approach: &Value) -> Vec<Option<String>> {
    let notes = approach["tab"].as_array().unwrap().iter();
    notes
        .map(|note| {
            let breath = if note["breath"] == "draw" { "-" } else { "" };
            let over = if note["over"] == true { "o" } else { "" };
            let bend = "'".repeat(note["bend"].as_u64()? as usize);
            Some(format!("{breath}{}{bend}{over}", note["hole"]))
        })
        .collect()
}

fn json(command: &str, tune: &std::path::Path) -> Value {
    serde_json::from_str(&breathline(&format!("{command} --json")).arg(tune).answers()).unwrap()
}

#[test]
fn the_tab_holds_every_note_in_order_at_every_width() {
    let mut broken = 0;
    for tune in files("corpus", "musicxml") {
        let answer = json("tab --harp C", &tune);
        let wanted = played(&answer["approaches"][0]);
        for width in [40, 52, 80, 200] {
            let page = breathline(&format!("tab --harp C --width {width}")).arg(&tune).answers();
            let tokens = tokens(&page);
            assert_eq!(tokens.len(), wanted.len(), "{} at {width}", tune.display());
            for ((_, token), wanted) in tokens.iter().zip(&wanted) {
                match wanted {
                    Some(wanted) => assert_eq!(token, wanted, "{} at {width}", tune.display()),
                    None => assert!(token.starts_with('['), "{} at {width}: {token}", tune.display()),
                }
            }
            broken += goes_on(&page, &tokens);
        }
    }
    assert!(broken > 0, "some bar is wider than 40 columns");
}

/// How many lines of tab go on; one does if and only if the next begins without a bar.
fn goes_on(page: &str, tokens: &[(usize, String)]) -> usize {
    let page: Vec<&str> = page.lines().collect();
    let mut lines: Vec<usize> = tokens.iter().map(|&(index, _)| index).collect();
    lines.dedup();
    for pair in lines.windows(2) {
        assert_eq!(page[pair[0]].ends_with("..."), !begins(page[pair[1]]), "{}", page[pair[1]]);
    }
    lines.iter().filter(|&&index| page[index].ends_with("...")).count()
}

/// Whether a line of tab begins with a barline.
fn begins(line: &str) -> bool {
    line.get(5..6) == Some("|")
}

#[test]
fn nobody_is_told_that_a_key_that_was_found_is_certain() {
    for tune in files("corpus", "musicxml") {
        let page = breathline("suggest").arg(&tune).answers();
        assert!(!page.contains("100% sure"), "{}", tune.display());
        assert!(page.contains("% sure"), "{}", tune.display());
    }
}

#[test]
fn a_tab_is_one_row_however_many_harps_have_it() {
    for (tune, options) in [
        ("ode-to-joy", "--any-key"),
        ("greensleeves", "--any-key"),
        ("swallowtail-jig", "--any-key"),
        ("oh-susanna", "--harps all,low,high"),
        ("oh-susanna", ""),
    ] {
        let path = home().join(format!("corpus/{tune}.musicxml"));
        let answer = json(&format!("suggest {options}"), &path);
        // The tabs in the order of the ranking, each with the harps that have it.
        let mut tabs: Vec<(&Value, Vec<&Value>)> = Vec::new();
        for approach in answer["approaches"].as_array().unwrap() {
            match tabs.iter_mut().find(|(tab, _)| *tab == &approach["tab"]) {
                Some((_, harps)) => harps.push(&approach["harp"]["key"]),
                None => tabs.push((&approach["tab"], vec![&approach["harp"]["key"]])),
            }
        }
        let page = breathline(&format!("suggest {options} --width 200")).arg(&path).answers();
        let mut rows = page.lines().skip_while(|line| *line != "Ranking").skip(2);
        for (row, (_, harps)) in (1..=5).zip(&tabs) {
            let line = rows.next().unwrap();
            let mut cells = line.split_whitespace().filter(|cell| !["low", "high"].contains(cell));
            assert_eq!(cells.next(), Some(row.to_string().as_str()), "{tune}: {line}");
            assert_eq!(cells.next(), harps[0].as_str(), "{tune}: {line}");
            let said = page.lines().any(|line| {
                let rows = line.split_once(" the same tab on").map_or("", |(rows, _)| rows);
                let is_all = line.contains("all twelve keys") == (harps.len() >= 12);
                rows.starts_with("Row") && rows.contains(&row.to_string()) && is_all
            });
            assert_eq!(said, harps.len() > 1, "{tune}: row {row} {harps:?}\n{page}");
        }
    }
}

#[test]
fn a_low_harp_is_named_where_it_plays_the_tab_as_written() {
    let path = home().join("corpus/ode-to-joy.musicxml");
    let said = "A low D harp plays the same tab an octave lower, as written";
    assert!(breathline("suggest").arg(&path).answers().contains(said));
    let (best, low) = (json("suggest", &path), json("tab --harp low-D --octave 0", &path));
    assert_eq!(best["approaches"][0]["tab"], low["approaches"][0]["tab"]);
    // Nothing of it where low harps were tried, or where the tune stays in its octave.
    for options in ["--harps all,low", "--harps low-D", "--harps C"] {
        let page = breathline(&format!("suggest {options}")).arg(&path).answers();
        assert!(!page.contains("low D harp plays the same"), "{page}");
    }
}

#[test]
fn what_the_other_choice_would_lack_or_need_is_said() {
    // The winner lacks a note: what has it needs bends, and there is a way to change the tune.
    let page = breathline("suggest --player beginner --width 200 corpus/deck-the-hall.musicxml").answers();
    assert!(page.contains("Pick up an F harp in 1st position"), "{page}");
    let full = "An Eb harp in 3rd position as written has every note, but needs 20 bends, as hard together as ten missing";
    assert!(page.contains(full), "{page}");
    assert!(page.contains("changing the tune as little as possible (--adapt)"), "{page}");
    let adapted = breathline("suggest --player beginner --adapt corpus/deck-the-hall.musicxml").answers();
    assert!(!adapted.contains("(--adapt)"), "{adapted}");
    // The winner needs many bends: what it would lack without them.
    let path = home().join("corpus/what-child-is-this.musicxml");
    let page = breathline("suggest --width 200").arg(&path).answers();
    assert!(page.contains("Without bends it lacks ten notes (bars 3, 4, 7, 11, 12 and 15)"), "{page}");
    let natural = json("suggest --harps D --bends none --position 3", &path);
    let lacking = &natural["approaches"][0]["missing"];
    assert_eq!(lacking.as_array().unwrap().len(), 10, "{lacking}");
}

#[test]
fn the_first_table_of_positions_gives_the_harp_a_fifth_lower_for_each_position() {
    const KEYS: [&str; 12] = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"];
    let page = breathline("positions").answers();
    let mut rows = page.lines().skip_while(|line| !line.trim_start().starts_with("song in"));
    let head: Vec<&str> = rows.next().unwrap().split_whitespace().collect();
    assert_eq!(head[2..], ["1st", "2nd", "3rd", "4th", "5th", "12th"]);
    for (song, row) in rows.take(12).enumerate() {
        let cells: Vec<&str> = row.split_whitespace().collect();
        let fifths_down = [0, 1, 2, 3, 4, 11].map(|fifths| KEYS[(song + 12 * 7 - 7 * fifths) % 12]);
        assert_eq!((cells[0], &cells[1..]), (KEYS[song], &fifths_down[..]));
    }
}

/// The MIDI number of a name such as "F#4" or "Bb3".
fn midi(name: &str) -> i64 {
    let (letter, rest) = name.split_at(1);
    let octave = rest.trim_start_matches(['#', 'b']);
    let sign = &rest[..rest.len() - octave.len()];
    let natural = [("C", 0), ("D", 2), ("E", 4), ("F", 5), ("G", 7), ("A", 9), ("B", 11)];
    let natural = natural.into_iter().find(|&(name, _)| name == letter).unwrap().1;
    let alter = match sign {
        "" => 0,
        "#" => 1,
        "b" => -1,
        _ => panic!("{name} has a double accidental"),
    };
    12 * (octave.parse::<i64>().unwrap() + 1) + natural + alter
}

#[test]
fn the_notes_of_a_harp_are_named_plainly_and_right() {
    for key in ["G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#"] {
        for tuning in ["richter", "natural-minor", "harmonic-minor", "circular", "diminished"] {
            let answer = breathline(&format!("harp {key} --tuning {tuning} --json")).answers();
            let answer: Value = serde_json::from_str(&answer).unwrap();
            for action in answer["actions"].as_array().unwrap() {
                let name = action["name"].as_str().unwrap();
                assert_eq!(midi(name), action["midi"].as_i64().unwrap(), "{name} on {key} {tuning}");
            }
        }
    }
    let page = breathline("harp C").answers();
    let bends: Vec<&str> = page.lines().filter(|line| line.contains("draw bend")).collect();
    for (line, names) in bends.iter().zip([&["Db4", "F#4", "Bb4", "Db5", "Ab5"][..], &["F4", "A4"], &["Ab4"]])
    {
        assert_eq!(line.split_whitespace().skip(3).collect::<Vec<_>>(), names);
    }
}

#[test]
fn a_tune_without_effort_is_not_compared_in_per_cent() {
    let note = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note>";
    let score = format!(
        "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name/></score-part></part-list>\
         <part id='P1'><measure number='1'><attributes><divisions>1</divisions></attributes>{note}</measure>\
         <measure number='2'><note><rest/><duration>4</duration></note></measure>\
         <measure number='3'>{note}</measure></part></score-partwise>"
    );
    let answer = breathline("suggest - --harps C").stdin(score).answers();
    let numbers = answer.split_once("Effort by its parts").unwrap().1;
    assert!(!numbers.contains('%'), "{numbers}");
    assert!(answer.contains("rest"), "an empty bar says why: {answer}");
}
