//! Properties of the text output that a reader may rely on, at any width.

use crate::harness;

use std::fs;

use breathline::{
    compare::choice,
    harp::{Harp, Technique, Tuning, chord::Offer},
    import,
    melody::{Melody, key},
    pitch::Interval,
    search::{self, Request, Weights},
    time::Beats,
};
use harness::{breathline, files, home};
use serde_json::Value;

/// Returns the tokens of a tab page from its heading to its legend, with the line of each.
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

/// Whether a word is tab, such as "-3'", "10" or "[Eb5]".
fn is_token(word: &str) -> bool {
    let played = word.trim_start_matches('-').trim_end_matches(['\'', 'o']);
    played.parse().is_ok_and(|hole: u8| (1..=10).contains(&hole)) || word.starts_with('[')
}

/// Returns the tab from the JSON answer, in the style `signed`.
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

/// Returns the number of tab lines that continue. Checks that a line continues if and only if the next line begins
/// without a barline.
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
fn tab_in_every_convention_reads_back_from_the_page() {
    use breathline::tab::{BendMark, Notation, OverMark, Style};
    let styles = [
        ("signed", Style::Signed),
        ("plus", Style::Plus),
        ("arrows", Style::Arrows),
        ("letters", Style::Letters),
        ("parentheses", Style::Parentheses),
        ("circled", Style::Circled),
        ("rows", Style::Rows),
    ];
    let marks = [
        ("\"'\"", BendMark::Quote, "o", OverMark::Letter),
        ("/", BendMark::Slash, "degree", OverMark::Degree),
        ("steps", BendMark::Steps, "names", OverMark::Names),
    ];
    let tune = home().join("demo/lamps-along-the-row.musicxml");
    let command = "tab --harp C --bends over --octave 1";
    let wanted = json(command, &tune)["approaches"][0]["tab"].as_array().unwrap().clone();
    for (name, style) in styles {
        for (bend, bend_mark, over, over_mark) in marks {
            let notation = Notation { style, bend_mark, over_mark };
            let options = format!("{command} --tab-style {name} --bend-mark {bend} --over-mark {over}");
            let page = breathline(&options).arg(&tune).answers();
            let tab = page.lines().skip_while(|line| !line.starts_with("Tab for"));
            let lines: Vec<Vec<char>> = tab
                .take_while(|line| !line.starts_with("How to"))
                .map(|line| line.chars().collect())
                .collect();
            let mut read = Vec::new();
            for (line, chars) in lines.iter().enumerate().filter(|(_, chars)| chars.get(5) == Some(&'|')) {
                let mut column = 5;
                while column < chars.len() {
                    let end = (column..chars.len()).find(|&at| chars[at] == ' ').unwrap_or(chars.len());
                    let mut word: String = chars[column..end].iter().collect();
                    if style == Style::Rows && !word.is_empty() && !word.contains('|') {
                        word.push(lines[line + 1][column]);
                    }
                    read.extend(notation.read(&word));
                    column = end + 1;
                }
            }
            assert_eq!(read.len(), wanted.len(), "{options}\n{page}");
            for (action, wanted) in read.iter().zip(&wanted) {
                let shown = (u64::from(action.hole), action.breath.to_string());
                assert_eq!(
                    shown,
                    (wanted["hole"].as_u64().unwrap(), wanted["breath"].as_str().unwrap().to_owned())
                );
            }
        }
    }
}

/// Makes a score of one bar, with a title and a note that carries the given words.
fn score(title: &str, words: &str, verse: u8) -> String {
    let pitch = "<pitch><step>C</step><octave>5</octave></pitch><duration>4</duration>";
    format!(
        "<score-partwise version='4.0'><work><work-title>{title}</work-title></work><part-list>\
         <score-part id='P1'><part-name>{words}</part-name></score-part></part-list><part id='P1'>\
         <measure number='1'><attributes><divisions>1</divisions></attributes><note>{pitch}\
         <lyric number='{verse}'><text>{words}</text></lyric></note></measure></part></score-partwise>"
    )
}

#[test]
fn who_made_a_tune_is_said_as_one_would_say_it() {
    let page = breathline("notes tests/fixtures/credits.musicxml --width 200").answers();
    let lines: Vec<&str> = page.lines().skip(1).take(3).collect();
    let made = "by A. Nonymous, B. Nonymous, words by C. Nonymous, arranged by D. Nonymous, translator: E. Nonymous, F. Nonymous";
    assert_eq!(lines, [made, "Free for all", "By kind permission"]);
    let said = |creators: &str| {
        let creators = format!("<identification>{creators}</identification><part-list>");
        let tune = score("A", "la", 1).replacen("<part-list>", &creators, 1);
        let page = breathline("notes -").stdin(tune).answers();
        page.lines().nth(1).unwrap().to_owned()
    };
    for (composer, expected) in [
        ("B. Nonymous", "by B. Nonymous"),
        ("Traditional", "Traditional"),
        ("Trad. Irish", "Trad. Irish"),
        ("Leipzig, 1838", "Leipzig, 1838"),
        ("Music by A. Nonymous", "Music by A. Nonymous"),
        ("Music: A. Nonymous", "Music: A. Nonymous"),
        ("Tradescant Nonymous", "by Tradescant Nonymous"),
    ] {
        assert_eq!(said(&format!("<creator type='composer'>{composer}</creator>")), expected);
    }
    let unknown = "<creator type='lyricist'>Traditional</creator><creator type='arranger'>anon.</creator>";
    assert_eq!(said(unknown), "words: Traditional, arrangement: anon.");
}

#[test]
fn signs_that_turn_or_hide_text_do_not_reach_the_terminal() {
    let hidden =
        ["\u{202e}", "\u{2067}", "\u{200b}", "\u{feff}", "\u{ad}", "\u{200e}", "\u{e0041}", "\u{7f}"];
    let tune = score(&format!("A{}B", hidden.concat()), &format!("l{}a", hidden.concat()), 1);
    for command in ["tab - --harp C", "notes -", "suggest - --harps C", "tab - --harp C --format markdown"] {
        let page = breathline(command).stdin(tune.clone()).answers();
        assert!(page.contains("AB") && page.contains("la"), "{page}");
        for sign in hidden {
            assert!(!page.contains(sign), "{command}: {sign:?}");
        }
    }
}

#[test]
fn nothing_a_file_holds_makes_a_line_too_wide() {
    for (long, wide) in [("la".repeat(200), false), ("\u{6b4c}".repeat(100), true)] {
        let tune = score(&long, &long, 1);
        for command in ["tab - --harp C", "notes - --all-parts", "suggest - --harps C"] {
            for width in [40, 80] {
                let page = breathline(&format!("{command} --width {width}")).stdin(tune.clone()).answers();
                for line in page.lines() {
                    let wide_signs = line.chars().filter(|c| *c == '\u{6b4c}').count();
                    assert!(line.chars().count() + wide_signs <= width, "{command}: {line:?}");
                    assert!(wide || wide_signs == 0);
                }
                assert!(page.contains('…'), "cut text is marked: {page}");
            }
        }
    }
}

#[test]
fn a_verse_of_any_number_has_one_line() {
    let page = breathline("tab - --harp C").stdin(score("T", "la", 255)).answers();
    let lines: Vec<&str> = page.lines().collect();
    let tab = lines.iter().position(|line| line.starts_with("  1  |")).unwrap();
    assert_eq!(lines[tab + 1].trim(), "la", "{page}");
}

#[test]
fn the_page_of_a_file_shows_its_notes_bar_by_bar() {
    for tune in files("corpus", "musicxml") {
        let names: Vec<String> = json("notes", &tune)["notes"]
            .as_array()
            .unwrap()
            .iter()
            .map(|note| note["name"].as_str().unwrap().to_owned())
            .collect();
        for width in [40, 80] {
            let page = breathline(&format!("notes --width {width}")).arg(&tune).answers();
            let (_, notes) = page.split_once("The notes\n").unwrap();
            let shown: Vec<String> = notes
                .lines()
                .filter(|line| line.get(5..6).is_some_and(|at| at == "|") || line.ends_with("..."))
                .flat_map(|line| {
                    line[5.min(line.len())..].split(['|', ':', ' ']).map(str::to_owned).collect::<Vec<_>>()
                })
                .filter(|word| names.contains(word))
                .collect();
            assert!(shown.len() <= names.len(), "{}", tune.display());
            if width == 80 {
                assert_eq!(shown, names, "{}", tune.display());
            }
        }
    }
}

#[test]
fn a_page_in_markdown_has_headings_tables_and_the_tab_as_code() {
    let tune = home().join("demo/lamps-along-the-row.musicxml");
    let page = breathline("suggest --why --ranking --format markdown").arg(&tune).answers();
    assert!(page.starts_with("# Lamps Along the Row\n\n16 bars of 6/8"), "{page}");
    for part in [
        "## Ranking\n\n",
        "| ---: |",
        "```text\n",
        "\n  1  |  3",
        "= blow hole 3, `-4` = draw hole 4",
        "- Bar 3: ",
    ] {
        assert!(page.contains(part), "{part}: {page}");
    }
    // The tab is the same as on the terminal.
    let text = breathline("suggest").arg(&tune).answers();
    let code = page.split("```").nth(1).unwrap().strip_prefix("text\n").unwrap();
    assert!(text.contains(code), "{code}");
    let both = breathline("suggest --json --format markdown").arg(&tune).run();
    assert!(both.code == Some(2) && both.stderr.contains("--format"), "{}", both.stderr);
}

#[test]
fn the_legend_tells_every_depth_of_bend() {
    let folder = home().join("target/tmp");
    fs::create_dir_all(&folder).unwrap();
    let file = folder.join("deep.toml");
    let richter = fs::read_to_string(home().join("src/harp/tunings/richter.toml")).unwrap();
    // In this tuning draw 4 is a fifth above blow 4, so it bends by up to six semitones. D5 is five semitones below
    // draw 4.
    let deep = richter.replace("\"richter\"", "\"deep\"").replace("11, 14, 17", "11, 19, 17");
    fs::write(&file, deep).unwrap();
    let tune = score("T", "la", 1).replace("<step>C", "<step>D");
    let page = breathline("tab - --harp C:deep --octave 0 --tuning-file").arg(&file).stdin(tune).answers();
    assert!(page.contains("-4''''' = draw 4 with a bend of 5 half steps"), "{page}");
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
        let answer = json(&format!("suggest {options} --top 1000"), &path);
        // The tabs in the order of the ranking, each with the harps on which it appears.
        let mut tabs: Vec<(&Value, Vec<&Value>)> = Vec::new();
        for approach in answer["approaches"].as_array().unwrap() {
            match tabs.iter_mut().find(|(tab, _)| *tab == &approach["tab"]) {
                Some((_, harps)) => harps.push(&approach["harp"]["key"]),
                None => tabs.push((&approach["tab"], vec![&approach["harp"]["key"]])),
            }
        }
        let page = breathline(&format!("suggest {options} --ranking --width 200")).arg(&path).answers();
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
    let said = "Low harp: a low D harp in 1st position as written; the same tab sounds an octave lower, but it needs another harp";
    let whole = breathline("suggest --width 200").arg(&path).answers();
    assert!(whole.contains(said), "{whole}");
    let (best, low) = (json("suggest", &path), json("tab --harp low-D --octave 0", &path));
    assert_eq!(best["approaches"][0]["tab"], low["approaches"][0]["tab"]);
    // The line is absent if low harps were tried, or if the tune stays in its octave.
    for options in ["--harps all,low", "--harps low-D", "--harps C"] {
        let page = breathline(&format!("suggest {options}")).arg(&path).answers();
        assert!(!page.contains("Low harp"), "{page}");
    }
}

/// `tab` prefers an octave in which the harp has every note. If another octave is much easier, a line names it, with
/// the efforts of both.
#[test]
fn tab_says_where_another_octave_lies_much_easier() {
    let effort = |answer: &Value| answer["approaches"][0]["effort"]["total"].as_u64().unwrap();
    let (mut said, mut silent) = (0, 0);
    for tune in files("corpus", "musicxml").iter().step_by(2) {
        for harp in ["C", "G"] {
            let on_harp = format!("tab --harp {harp} --width 400");
            let page = breathline(&on_harp).arg(tune).answers();
            let chosen = json(&on_harp, tune);
            let Some(line) = page.lines().find(|line| line.starts_with("  Easier ")) else {
                silent += 1;
                continue;
            };
            let (_, octave) = line.rsplit_once(" (--octave ").unwrap();
            let octave = octave.trim_end_matches(')');
            let there = json(&format!("{on_harp} --octave {octave}"), tune);
            let numbers = format!("effort {} instead of {} (", effort(&there), effort(&chosen));
            assert!(line.contains(&numbers) && 3 * effort(&there) < 2 * effort(&chosen) + 100, "{line}");
            // In the easier octave, the page has no such line.
            let page = breathline(&format!("{on_harp} --octave {octave}")).arg(tune).answers();
            assert!(!page.contains("Easier "), "{page}");
            said += 1;
        }
    }
    assert!(said > 2 && silent > 20, "{said}, {silent}");
    let page = breathline("tab --harp C --width 200 corpus/greensleeves.musicxml").answers();
    let line = "Easier an octave up: it has 20 fewer bends, but it lacks two notes (bars 7 and 15)";
    assert!(page.contains(line), "{page}");
    #[cfg(feature = "sheet")]
    {
        let sheet = harness::scratch().join("sheet.svg");
        let drawn = breathline("sheet --harp C corpus/greensleeves.musicxml -o").arg(sheet).run();
        assert!(drawn.stderr.contains("easier an octave up: "), "{}", drawn.stderr);
    }
}

/// If the first row and the next row with another tab are on different harps and their efforts are nearly equal, a line
/// names that next row and the differences, unless the row is already among the other ways.
#[test]
fn what_is_as_good_as_equal_is_said_once() {
    let mut said = 0;
    for tune in files("corpus", "musicxml") {
        for options in ["", "--player advanced", "--player beginner --harps C,A,D,G,low-F"] {
            let answer = json(&format!("suggest {options}"), &tune);
            let page = breathline(&format!("suggest {options} --width 400")).arg(&tune).answers();
            let rows = answer["approaches"].as_array().unwrap();
            let effort = |row: &Value| row["effort"]["total"].as_u64().unwrap();
            let next = rows.iter().find(|row| row["tab"] != rows[0]["tab"]);
            let near = next.filter(|next| 100 * effort(next) < 103 * effort(&rows[0]));
            let other = near.filter(|next| next["harp"] != rows[0]["harp"]);
            let is_way = |row: &Value| {
                let ways = answer["ways"].as_array().unwrap().iter().map(|way| &way["approach"]);
                ways.into_iter().any(|way| way["harp"] == row["harp"] && way["tab"] == row["tab"])
            };
            let expected = other.is_some_and(|row| !is_way(row));
            assert_eq!(page.matches("\nAs good as equal: ").count(), usize::from(expected), "{page}");
            said += usize::from(expected);
        }
    }
    assert!(said > 1, "{said}");
    let page = breathline("suggest --player advanced --width 200 corpus/amazing-grace.musicxml").answers();
    let line = "As good as equal: a C harp in 2nd position; it has four more breath turns; its position is more often \
                played; it uses holes 4 to 8, mostly the middle.";
    assert!(page.contains(line), "{page}");
}

/// If the harps do not fit the tune's key, the tune moves to another key. The page says why, and how to keep the key.
#[test]
fn a_tune_that_is_moved_says_why_and_can_stay() {
    let mut moved = 0;
    for tune in files("corpus", "musicxml").iter().step_by(2) {
        let answer = json("suggest --harps C", tune);
        let page = breathline("suggest --harps C --width 400").arg(tune).answers();
        let own = answer["ways"].as_array().unwrap().iter().find(|way| way["way"] == "own-key");
        let line = page.lines().find(|line| line.contains("--own-key keeps it in "));
        assert_eq!(own.is_some(), line.is_some(), "{page}");
        let kept = json("suggest --harps C --own-key", tune);
        for row in kept["approaches"].as_array().unwrap() {
            assert_eq!(row["transposed"], 0, "{row}");
        }
        let Some((own, line)) = own.zip(line) else {
            assert_eq!(kept["approaches"], answer["approaches"]);
            continue;
        };
        assert_eq!(kept["approaches"][0]["tab"], own["approach"]["tab"]);
        assert!(line.contains(&format!("of {} notes would be ", own["approach"]["notes"])), "{line}");
        moved += 1;
    }
    assert!(moved > 3, "{moved}");
    let refused = breathline("suggest --any-key --own-key corpus/ode-to-joy.musicxml").fails();
    assert!(refused.contains("--own-key"), "{refused}");
    let book = breathline("book corpus/ode-to-joy.musicxml --harps C --own-key --json").answers();
    assert!(book.contains("\"transposed\":0,"), "{book}");
}

/// Each of the other ways appears once, on a separate line, after the answer and before the tab.
#[test]
fn the_ways_worth_knowing_stand_between_the_answer_and_the_tab() {
    let mut said = 0;
    for (path, options) in files("corpus", "musicxml")
        .iter()
        .flat_map(|path| ["", "--harps C", "--player beginner"].map(|options| (path, options)))
    {
        let answer = json(&format!("suggest {options}"), path);
        let page = breathline(&format!("suggest {options} --ranking --width 400")).arg(path).answers();
        let ways: Vec<&Value> = answer["ways"].as_array().unwrap().iter().collect();
        assert_eq!(ways[0]["way"], "best");
        assert_eq!(ways[0]["approach"]["tab"], answer["approaches"][0]["tab"]);
        let told = page.lines().skip_while(|line| *line != "Other ways worth knowing:").skip(1);
        let told: Vec<&str> = told.take_while(|line| line.starts_with("  ")).collect();
        assert_eq!(told.len(), ways.len() - 1, "{page}");
        for (line, way) in told.iter().zip(&ways[1..]) {
            let balance = [&way["gains"], &way["gives_up"]];
            let phrases = balance.iter().flat_map(|list| list.as_array().unwrap());
            for phrase in phrases {
                assert!(line.contains(phrase.as_str().unwrap()), "{line}: {phrase}");
            }
            // "It uses holes 4 to 9, mostly the high end" contains a comma, so it comes last in its list.
            for list in balance.map(|list| list.as_array().unwrap()) {
                let places = list.iter().position(|phrase| phrase.as_str().unwrap().starts_with("it uses"));
                assert!(places.into_iter().all(|place| place + 1 == list.len()), "{line}");
            }
            said += 1;
        }
        let at = |text: &str| page.lines().position(|line| line.starts_with(text));
        if !told.is_empty() {
            assert!(at("Other ways") < at("Tab for the ") && at("Tab for the ") < at("Ranking"), "{page}");
        }
    }
    assert!(said > 100, "{said}");
}

/// A pickup leads into the first bar, so it is in the line of that bar if the two fit into one line.
#[test]
fn a_pickup_stands_in_the_line_of_its_first_bar() {
    let mut pickups = 0;
    for tune in files("corpus", "musicxml").into_iter().chain(files("demo", "musicxml")) {
        let page = breathline("tab --harp C").arg(&tune).answers();
        let (_, tab) = page.split_once("\nTab for the ").unwrap();
        let (tab, _) = tab.split_once("\nHow to read it").unwrap();
        let bars: Vec<&str> = tab.lines().skip(1).filter(|line| line.contains('|')).collect();
        for pair in bars.windows(2) {
            // In front of a line is the number of its first full bar; a line with only a pickup has no number.
            let alone = pair[0].starts_with("     ");
            let first_bar = pair[1].split('|').nth(1).unwrap();
            let together = pair[0].trim_end().len() + first_bar.len() + 1;
            assert!(!alone || together > 80, "{}: {tab}", tune.display());
        }
        let read = json("notes", &tune);
        pickups += usize::from(read["notes"].as_array().unwrap().iter().any(|note| note["bar"] == 0));
    }
    assert!(pickups > 10, "{pickups}");
}

#[test]
fn the_effort_stands_with_the_reasons_that_it_sums_up() {
    for command in ["suggest --why", "tab --harp G --why"] {
        let page = breathline(&format!("{command} demo/lamps-along-the-row.musicxml")).answers();
        let (before, tab) = page.split_once("\nTab for the ").unwrap();
        assert!(before.contains("\n  Effort ") && !tab.contains("\n  Effort "), "{page}");
    }
}

#[test]
fn what_a_player_gives_up_who_does_not_bend_is_said() {
    let page = breathline("suggest --width 200 demo/lamps-along-the-row.musicxml").answers();
    let said = "No bends: a G harp in 1st position an octave up; nothing is bent, but it uses holes 6 to 10";
    assert!(page.contains("four notes bent") && page.contains(said), "{page}");
    // The line is absent if the winner does not bend, or if the player never bends.
    for options in ["corpus/ode-to-joy.musicxml", "corpus/deck-the-hall.musicxml --bends none"] {
        let page = breathline(&format!("suggest {options}")).answers();
        assert!(!page.contains("No bends: "), "{page}");
    }
}

/// Missing main notes and missing grace notes each have one line, if the JSON answer has any.
#[test]
fn grace_notes_that_are_missing_are_told_apart() {
    let mut graces = 0;
    let harps = ["C", "D", "G", "A", "F", "Bb"];
    for (path, harp) in files("corpus", "musicxml").iter().flat_map(|path| harps.map(|harp| (path, harp))) {
        let command = format!("tab --harp {harp} --bends none --width 400");
        let answer = json(&command, path);
        let missing = answer["approaches"][0]["missing"].as_array().unwrap();
        let (grace, main): (Vec<&Value>, Vec<&Value>) =
            missing.iter().partition(|note| note["grace"] == true);
        graces += grace.len();
        let page = breathline(&command).arg(path).answers();
        let cannot = page.lines().filter(|line| line.contains("cannot be sounded")).count();
        assert_eq!(cannot, usize::from(!main.is_empty()), "{page}");
        let apart =
            page.lines().filter(|line| line.contains("missing too") || line.contains("but for ")).count();
        assert_eq!(apart, usize::from(!grace.is_empty()), "{page}");
    }
    assert!(graces > 0);
}

/// A few missing notes are replaced, unless the player asks for gaps; JSON has both.
#[test]
fn the_smallest_change_is_shown_by_default_and_gaps_on_request() {
    let tune = "corpus/greensleeves.musicxml --player beginner";
    let page = breathline(&format!("suggest {tune}")).answers();
    assert!(page.contains("Changes to the tune") && page.contains("* over a note"), "{page}");
    let gaps = breathline(&format!("suggest {tune} --as-written")).answers();
    assert!(!gaps.contains("Changes to the tune") && gaps.contains("[F#5]"), "{gaps}");
    let path = home().join("corpus/greensleeves.musicxml");
    let answer = json("suggest --player beginner", &path);
    let best = &answer["approaches"][0];
    let nulls = |tab: &Value| tab.as_array().unwrap().iter().filter(|action| action.is_null()).count();
    assert_eq!((nulls(&best["tab"]), nulls(&best["adapted"]["tab"])), (2, 0));
    assert_eq!(best["changes"].as_array().unwrap().len(), 2);
    let written = json("suggest --player beginner --as-written", &path);
    assert!(written["approaches"][0]["adapted"].is_null());
}

#[test]
fn to_change_the_tune_is_advised_where_it_was_not_done() {
    let ask = |options: &str| {
        breathline(&format!("suggest --bends none --width 200 corpus/deck-the-hall.musicxml {options}"))
            .answers()
    };
    assert!(ask("--as-written").contains("changing the tune as little as possible (--adapt)"));
    assert!(!ask("").contains("(--adapt)") && !ask("--adapt").contains("(--adapt)"));
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

/// Returns the MIDI number of a name such as "F#4" or "Bb3".
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
    let answer = breathline("suggest - --harps C --ranking").stdin(score).answers();
    let numbers = answer.split_once("Effort by its parts").unwrap().1.split("If the key is").next().unwrap();
    assert!(!numbers.contains('%'), "{numbers}");
    assert!(answer.contains("rest"), "an empty bar says why: {answer}");
}

/// The notes and the chords in the tab of a page.
#[derive(Default)]
struct Tabbed {
    notes: Vec<At>,
    chords: Vec<At>,
}

#[derive(Clone, Debug)]
struct At {
    word: String,
    /// The bar, counted from the first bar that is shown.
    bar: usize,
    line: usize,
    column: usize,
}

fn with_chords(page: &str, names: &[String]) -> Tabbed {
    // The heading may span two lines.
    let tab =
        page.lines().skip_while(|line| !line.starts_with("Tab for")).skip_while(|line| !line.is_empty());
    let tab: Vec<&str> = tab.take_while(|line| !line.starts_with("How to read it")).collect();
    let (mut found, mut bars) = (Tabbed::default(), 0);
    for (index, system) in tab.split(|line| line.is_empty()).enumerate() {
        let Some(row) = system.iter().position(|line| line.ends_with(['|', '.']) && is_tab_row(line)) else {
            assert!(system.is_empty(), "{system:?}");
            continue;
        };
        let begun_before = bars;
        let mut begins = Vec::new();
        for (column, word) in words(system[row]).into_iter().filter(|&(column, _)| column >= 5) {
            let end = column + word.len() == system[row].len();
            if word.chars().all(|c| "|:".contains(c)) {
                begins.extend((!end).then_some(column));
                bars += usize::from(!end);
            } else if !["...", "rest", "hold"].contains(&word.as_str()) {
                found.notes.push(At { word, bar: bars.saturating_sub(1), line: index, column });
            }
        }
        for (column, word) in system[..row].iter().take(1).flat_map(|line| words(line)) {
            if names.contains(&word) {
                let begun = begins.iter().filter(|&&begin| begin <= column).count();
                found.chords.push(At { word, bar: begun_before + begun - 1, line: index, column });
            }
        }
    }
    found
}

fn is_tab_row(line: &str) -> bool {
    words(line).iter().all(|(column, word)| {
        *column < 5
            || word.chars().all(|c| "|:.".contains(c))
            || ["rest", "hold"].contains(&word.as_str())
            || is_token(word)
    })
}

/// Returns the words of a line with their columns.
fn words(line: &str) -> Vec<(usize, String)> {
    let starts = line.char_indices().filter(|&(at, c)| c != ' ' && !line[..at].ends_with(|c| c != ' '));
    let words = starts.map(|(at, _)| (at, line[at..].split(' ').next().unwrap_or_default().to_owned()));
    words.collect()
}

/// Returns the symbols of a file as a tab should show them, each with its bar and its time.
fn symbols(melody: &Melody, approach: &Value, harp: &Harp) -> Vec<(String, usize, Beats)> {
    let by = Interval(approach["transposed"].as_i64().unwrap() as i16);
    let chords = choice::tune_chords(melody, key::find(melody).key, harp, by);
    let mut symbols = Vec::new();
    for chord in &chords {
        let name = match chord.offer {
            Offer::Whole(_) => chord.name.clone(),
            Offer::Part(_) => format!("({})", chord.name),
            Offer::Nothing => format!("{{{}}}", chord.name),
        };
        symbols.extend(chord.at.iter().map(|&symbol| {
            let at = melody.chords[symbol].at;
            let bar = melody.bars.iter().rposition(|bar| bar.start <= at).unwrap();
            (symbol, (name.clone(), bar, at))
        }));
    }
    symbols.sort_by_key(|&(symbol, _)| symbol);
    symbols.into_iter().map(|(_, symbol)| symbol).collect()
}

/// Checks that a page shows the symbols of its tune in order, each over the right bar. A symbol must be over the note
/// that begins with it, or between the notes before and after it.
fn check_chords(page: &str, melody: &Melody, symbols: &[(String, usize, Beats)]) {
    let names: Vec<String> = symbols.iter().map(|symbol| symbol.0.clone()).collect();
    let found = with_chords(page, &names);
    assert_eq!(found.notes.len(), melody.notes.len(), "{page}");
    let shown: Vec<_> = found.chords.iter().map(|chord| (chord.word.clone(), chord.bar)).collect();
    let wanted: Vec<_> = symbols.iter().map(|(name, bar, _)| (name.clone(), *bar)).collect();
    assert_eq!(shown, wanted, "{page}");
    for (chord, (_, _, at)) in found.chords.iter().zip(symbols) {
        let over = melody.notes.iter().rposition(|note| note.onset == *at);
        if let Some(note) = over.map(|note| &found.notes[note]) {
            assert_eq!((chord.line, chord.column), (note.line, note.column), "{chord:?} {page}");
            continue;
        }
        let in_line = found.notes.iter().zip(&melody.notes).filter(|(note, _)| note.line == chord.line);
        for (shown, note) in in_line {
            let before = shown.column + shown.word.len() <= chord.column;
            assert_eq!(before, note.onset < *at, "{chord:?} {shown:?} {page}");
        }
    }
}

fn read(bytes: &[u8]) -> Melody {
    import::import(bytes, &import::ImportOptions::default()).unwrap().melody
}

#[test]
fn every_chord_symbol_stands_over_its_note_and_says_whether_the_harp_has_it() {
    let mut kinds = [0; 3];
    let harp = Harp::parse("C", Tuning::built_in()).unwrap();
    let tunes = files("corpus", "musicxml").into_iter().chain(files("demo", "musicxml"));
    for (tune, position) in tunes.flat_map(|tune| [(tune.clone(), ""), (tune, " --position 3")]) {
        let melody = read(&fs::read(&tune).unwrap());
        let command = format!("tab --harp C{position}");
        let symbols = symbols(&melody, &json(&command, &tune)["approaches"][0], &harp);
        for (name, ..) in &symbols {
            kinds[if name.starts_with('{') { 2 } else { usize::from(name.starts_with('(')) }] += 1;
        }
        for width in [40, 80, 120] {
            let page = breathline(&format!("{command} --width {width}")).arg(&tune).answers();
            let told = page.replace("\n  ", " ").contains("The chords are written over the notes");
            assert_eq!(told, !symbols.is_empty(), "{page}");
            if !symbols.is_empty() {
                check_chords(&page, &melody, &symbols);
            }
        }
    }
    assert!(kinds.iter().all(|&count| count > 50), "{kinds:?}");
    // The chords appear only if the user asks for the tab of a harp.
    let page = breathline("suggest corpus/amazing-grace.musicxml").answers();
    assert!(!page.contains("The chords are written over the notes"), "{page}");
}

/// Makes a score in 4/4. Each bar lists its lengths in quarters, with `-` before a rest and `_` after a tied note, and
/// its chords with their places in quarters.
fn chorded(bars: &[(&str, &str)]) -> String {
    let mut measures = String::new();
    let mut tied = false;
    for (number, (notes, chords)) in (1..).zip(bars) {
        let mut measure = String::new();
        for (chord, at) in chords.split_whitespace().filter_map(|chord| chord.split_once('@')) {
            let (root, quality) = chord.split_at(1);
            measure += &format!(
                "<harmony><root><root-step>{root}</root-step></root><kind text='{quality}'>major</kind>\
                 <offset>{at}</offset></harmony>"
            );
        }
        for length in notes.split_whitespace() {
            let (pitch, length) = match length.strip_prefix('-') {
                Some(length) => ("<rest/>", length),
                None => ("<pitch><step>C</step><octave>5</octave></pitch>", length),
            };
            let from = if tied { "<tie type='stop'/>" } else { "" };
            tied = length.ends_with('_');
            let to = if tied { "<tie type='start'/>" } else { "" };
            let length = length.trim_end_matches('_');
            measure += &format!("<note>{pitch}<duration>{length}</duration>{from}{to}</note>");
        }
        measures += &format!(
            "<measure number='{number}'><attributes><divisions>1</divisions><time><beats>4</beats>\
             <beat-type>4</beat-type></time></attributes>{measure}</measure>"
        );
    }
    format!(
        "<score-partwise version='4.0'><part-list><score-part id='P1'><part-name/></score-part></part-list>\
         <part id='P1'>{measures}</part></score-partwise>"
    )
}

#[test]
fn chords_stand_over_held_notes_over_rests_and_in_bars_without_notes() {
    let long = "maj7(add9)(no5)(add13)/G#";
    let crowded = format!("C{long}@0 F{long}@1 A{long}@2 D{long}@3");
    let bars = [
        // Bars without notes at both ends are left out if they have no chords either.
        ("-4", ""),
        ("-4", "C@0 F@2"),
        ("4", "C@0 G7@1 Am@2 Dm@3"),
        ("1 1 1 1", "Cmaj7@0 Fmaj7@1 Gsus4@2 Cadd9@3"),
        ("-4", "E@0 C@0 G@3"),
        ("-2 2_", "D@1"),
        ("4_", "C@2"),
        ("1 3", "G@0 Am@3"),
        ("2 2", &crowded),
        ("-4", "C@1"),
        ("-4", ""),
    ];
    let score = chorded(&bars);
    let melody = read(score.as_bytes());
    assert_eq!(melody.chords.len(), 22);
    let harp = Harp::parse("C", Tuning::built_in()).unwrap();
    let mut symbols = symbols(&melody, &serde_json::json!({"transposed": 0}), &harp);
    symbols.iter_mut().for_each(|(_, bar, _)| *bar -= 1);
    for width in [40, 80, 120] {
        let page = breathline(&format!("tab - --harp C --width {width}")).stdin(score.as_str()).answers();
        check_chords(&page, &melody, &symbols);
        assert!(page.lines().all(|line| line.chars().count() <= width), "{page}");
        assert!(page.contains("hold"), "{page}");
    }
}

/// The line about the hardest bars names the bar that costs most, its jumps as the tab shows them, and no more.
#[test]
fn the_hardest_bar_costs_most_and_its_jumps_are_those_of_the_tab() {
    let (mut told, mut jumping, mut stepping) = (0, 0, 0);
    for tune in files("corpus", "musicxml") {
        let page = breathline("suggest --width 400").arg(&tune).answers();
        let Some(line) = page.lines().find_map(|line| line.trim_start().strip_prefix("Hardest in ")) else {
            continue;
        };
        let imported = import::import(&fs::read(&tune).unwrap(), &import::ImportOptions::default()).unwrap();
        let melody = &imported.melody;
        let harps = Harp::standard_set(&Tuning::built_in()[0]);
        let weights = Weights::default();
        let request = Request {
            melody,
            key: key::find(melody).key,
            harps: &harps,
            technique: Technique::All,
            weights: &weights,
            any_key: false,
            pins: &[],
        };
        let mut ranking = search::search(&request);
        ranking.adapt(&request, &search::EditWeights::default());
        let best = ranking.best().unwrap();
        if best.counts.missing > 0 {
            continue;
        }
        let mut bars = vec![0; melody.bars.len()];
        let mut jumps = vec![Vec::new(); melody.bars.len()];
        let mut before = None;
        for (note, played) in melody.notes.iter().zip(&best.playing.notes) {
            bars[note.bar] += played.effort.with(search::Term::Position, 0).total();
            let hole = played.action.unwrap().hole;
            if let Some(before) = before.filter(|&before| hole.abs_diff(before) > 1) {
                jumps[note.bar].push(hole.abs_diff(before));
            }
            before = Some(hole);
        }
        let most = *bars.iter().max().unwrap();
        let dearest = bars.iter().position(|&cost| cost == most).unwrap();
        let (named, why) = line.split_once(": ").unwrap();
        let number = melody.bars[dearest].number.to_string();
        let named: Vec<&str> = named.split(|c: char| !c.is_alphanumeric()).collect();
        assert!(named.contains(&number.as_str()) || number == "0", "{}: {line}", tune.display());
        let jumps = &jumps[dearest];
        if why.contains("moves to the next hole") {
            assert!(jumps.is_empty(), "{}: {line}", tune.display());
            stepping += 1;
        }
        if why.contains("jump") {
            let one = jumps.len() == 1;
            assert!(one == why.contains("one jump of") && !jumps.is_empty(), "{}: {line}", tune.display());
            jumping += 1;
        }
        told += 1;
    }
    assert!(told > 20 && jumping > 2 && stepping > 2, "{told}, {jumping}, {stepping}");
}

/// No harp and no bend helps a tune that is wider than a harp, so the advice names only a change of the tune.
#[test]
fn a_tune_wider_than_a_harp_is_told_what_helps() {
    let wide = breathline("suggest --as-written --width 400 --notes").arg("C,, C D E F G A c c''").answers();
    let line = "The range of the tune is five octaves, wider than any harp that was tried (three octaves and one \
                half step): try changing the tune as little as possible (--adapt)";
    assert!(wide.contains(line) && !wide.contains("--any-key"), "{wide}");
    let narrow =
        breathline("suggest --as-written --bends none --width 400 --notes").arg("C ^C D ^D E").answers();
    assert!(!narrow.contains("The range of the tune") && narrow.contains("--any-key"), "{narrow}");
}
