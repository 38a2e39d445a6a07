//! Tabs as people type them, with the first lines of `check`'s answer.

use crate::harness::{breathline, scratch};

/// "Lamps Along the Row" on a G harp, with every note right.
const RIGHT: &str = "3 4 4 5 -4 4 -4 -4 5 -4 -2
-3'' -3'' -2 -3 4 3
4 4 5 -5 6 5 4 4
-5 5 -4 -4 -3 4 5
-6 6 -6 6 5 6 5 6 5
-5 5 -4 5 -5 -4 3
4 4 5 -4 4 -4 -4 5 -4 -2
-3'' -3'' -2 -3 4
";

const ALL_RIGHT: &str = "On a G harp the tab is right: all 63 notes match the tune.";
const PLACE: &str = "It plays the tune in 1st position (straight harp), as written.";

/// Returns the lines of a check's answer after the opening, each paragraph as one line.
fn answer(tab: &str) -> Vec<String> {
    let folder = scratch();
    let path = folder.join("lesson.txt");
    std::fs::write(&path, tab).unwrap();
    let check = "check demo/lamps-along-the-row.musicxml --harp G --width 1000 --tab";
    let answer = breathline(check).arg(&path).answers();
    std::fs::remove_dir_all(folder).unwrap();
    let (_, after) = answer.split_once("\n\n").unwrap();
    after.lines().map(|line| line.trim().to_owned()).collect()
}

/// Applies `change` to each note of each line, and joins the notes of a line with `between`.
fn each(change: impl Fn(&str) -> String, between: &str) -> String {
    RIGHT.lines().map(|line| line.split(' ').map(&change).collect::<Vec<_>>().join(between) + "\n").collect()
}

#[test]
fn thirteen_tabs_as_people_type_them() {
    let with = |from: &str, to: &str| {
        assert!(RIGHT.contains(from));
        RIGHT.replacen(from, to, 1)
    };
    let mut lines: Vec<&str> = RIGHT.lines().collect();
    let verses = format!(
        "Verse 1:\n{}\n\nBridge 2\n{}\nEnding:\n{}\n",
        lines[..4].join("\n"),
        lines[4..6].join("\n"),
        lines[6..].join("\n")
    );
    let times = format!("{} x2\n{}\n(3x)\n", lines[..6].join("\n"), lines[6..].join("\n"));
    let chords: String = lines
        .iter()
        .map(|line| format!("G       D7      G\n{line}\nThe boats come home by the light\n"))
        .collect();
    let draw = |sign: &str| if sign.starts_with('-') { "D" } else { "B" };
    let mut rows: Vec<String> = lines
        .iter()
        .flat_map(|line| {
            let signs = line.split(' ');
            [
                signs.clone().map(|sign| sign.trim_start_matches('-')).collect::<Vec<_>>().join("   "),
                signs.map(draw).collect::<Vec<_>>().join(" "),
            ]
        })
        .collect();
    let spoilt = rows.join("\n");
    rows[1].pop();
    let short = rows.join("\n");
    lines[2] = "4 4 5 6 -5 6 5 4 4";
    let extra = lines.join("\n");
    let lost = |first: &str| {
        format!(
            "No note of the tab says draw, so its signs seem to be lost: 29 notes should be draw notes, the first in {first}, -4 instead of 4; type the signs again"
        )
    };
    let joined = |line: u32, text: &str| {
        format!(
            "Line {line}, column 1: `{text}` has no space between its notes; they are read one after another"
        )
    };
    let things =
        |right: u32, things: &str| format!("On a G harp {right} of 63 notes are right; {things} to change:");
    let dashes = "Its dashes are lines between the notes, not signs of draw notes.";

    let cases: [(&str, String, Vec<String>); 13] = [
        (
            "no spaces",
            with("3 4 4 5 -4 4 -4 -4 5 -4 -2", "3445-44-4-45-4-2"),
            vec![
                ALL_RIGHT.to_owned(),
                PLACE.to_owned(),
                String::new(),
                "How the text was read".to_owned(),
                joined(1, "3445-44-4-45-4-2"),
            ],
        ),
        (
            "a few without a space",
            with("4 4 5 -5 6", "445-5 6"),
            vec![
                ALL_RIGHT.to_owned(),
                PLACE.to_owned(),
                String::new(),
                "How the text was read".to_owned(),
                joined(3, "445-5"),
            ],
        ),
        (
            "lines between",
            with("3 4 4 5", "3 - 4 - 4 5"),
            vec![ALL_RIGHT.to_owned(), dashes.to_owned(), PLACE.to_owned()],
        ),
        (
            "lines everywhere",
            each(str::to_owned, "-"),
            vec![ALL_RIGHT.to_owned(), dashes.to_owned(), PLACE.to_owned()],
        ),
        ("headings", verses, vec![ALL_RIGHT.to_owned(), PLACE.to_owned()]),
        ("stray repeats", times, vec![ALL_RIGHT.to_owned(), PLACE.to_owned()]),
        ("chords and words", chords, vec![ALL_RIGHT.to_owned(), PLACE.to_owned()]),
        ("spoilt columns", spoilt, vec![ALL_RIGHT.to_owned(), PLACE.to_owned()]),
        ("a letter lost in a row", short, vec![things(58, "five things")]),
        (
            "no minus signs",
            RIGHT.replace('-', ""),
            vec![things(34, "one thing"), lost("line 1, column 9"), PLACE.to_owned()],
        ),
        (
            "arrows that a font lacks",
            each(|sign| sign.replace('-', "") + "□", " "),
            vec![things(34, "one thing"), lost("line 1, column 13")],
        ),
        (
            "two swapped",
            with("4 4 5 -5 6", "4 4 -5 5 6"),
            vec![
                things(61, "one thing"),
                "Line 3, column 5, bar 5 beat 4: two neighbours are swapped; play 5 (B4) and then -5"
                    .to_owned(),
                PLACE.to_owned(),
            ],
        ),
        (
            "one too many",
            extra,
            vec![
                things(63, "one thing"),
                "Line 3, column 7, bar 5 beat 6: 6 (D5) is not in the tune; leave it out".to_owned(),
                PLACE.to_owned(),
            ],
        ),
    ];
    for (name, tab, expected) in cases {
        let lines = answer(&tab);
        assert_eq!(lines[..expected.len().min(lines.len())], expected, "{name}:\n{tab}");
    }
}

#[test]
fn a_row_that_lacks_a_letter_is_told() {
    let tab = RIGHT.replacen("3 4 4 5 -4 4 -4 -4 5 -4 -2", "3 4 4 5 4 4 4 4 5 4 2\nB B B B D B D D B D", 1);
    let answer = answer(&tab).join("\n");
    assert!(answer.contains("Line 2, column 1: the row has 10 letters for 11 holes above it and is left out; write one letter under each hole"), "{answer}");
}

#[test]
fn a_note_too_many_has_a_mark_of_its_own() {
    let extra = answer(&RIGHT.replacen("4 4 5 -5 6", "4 4 5 6 -5 6", 1)).join("\n");
    assert!(
        extra.contains("+ before a note: the tab that was checked has a note too many there."),
        "{extra}"
    );
    assert!(
        extra.lines().any(|line| line.trim_matches([' ', ',']) == "+") && !extra.contains("* over"),
        "{extra}"
    );
    let wrong = answer(&RIGHT.replacen("4 4 5 -5 6", "4 4 5 -6 6", 1)).join("\n");
    assert!(wrong.contains("* over a note: corrected here") && !wrong.contains("+ before"), "{wrong}");
}

#[test]
fn a_page_of_ours_reads_back_however_an_editor_spoils_its_columns() {
    for style in ["signed", "rows", "letters"] {
        let tab = format!("tab demo/lamps-along-the-row.musicxml --harp G --tab-style {style}");
        let page = breathline(&tab).answers();
        let squeezed = page.lines().map(|line| line.split_whitespace().collect::<Vec<_>>().join(" ") + "\n");
        for (how, text) in [
            ("as it is", page.clone()),
            ("without columns", squeezed.collect()),
            ("with tabs", page.replace("    ", "\t")),
        ] {
            assert_eq!(answer(&text)[0], ALL_RIGHT, "{style}, {how}");
        }
    }
}
