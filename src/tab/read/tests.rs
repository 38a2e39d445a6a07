use super::*;
use crate::tab::{BendMark, Notation, OverMark};

fn written(tab: &TabText) -> String {
    let tokens: Vec<String> = tab.notes.iter().map(|note| Notation::default().write(note.action)).collect();
    tokens.join(" ")
}

/// Returns the notes read, in the signed style.
fn reads(text: &str) -> String {
    written(&read(text, None).unwrap())
}

/// Returns the notes read, after checking that there are no oddities.
fn reads_well(text: &str) -> String {
    let tab = read(text, None).unwrap();
    let odd: Vec<String> = tab.oddities.iter().map(Oddity::to_string).collect();
    assert!(odd.is_empty(), "{odd:?}");
    written(&tab)
}

fn oddities(text: &str) -> Vec<String> {
    read(text, None).unwrap().oddities.iter().map(Oddity::to_string).collect()
}

#[test]
fn every_convention_is_read_without_being_named() {
    let same = "4 -4 5 -3'' -2' 8' 10 -10 6o -7o";
    for text in [
        "4 -4 5 -3'' -2' 8' 10 -10 6o -7o",
        "+4 -4 +5 -3'' -2' +8' +10 -10 +6o -7o",
        "4 -4 5 -3bb -2b 8b 10 -10 6o -7o",
        "4 -4 5 -3// -2/ 8/ 10 -10 6ob -7od",
        "4 -4 5 -3** -2* 8* 10 -10 6OB -7OD",
        "4 -4 5 -3\" -2' 8' 10 -10 6° -7°",
        "4↑ 4↓ 5↑ 3↓'' 2↓' 8↑' 10↑ 10↓ 6↑o 7↓o",
        "↑4 ↓4 ↑5 ↓3'' ↓2' ↑8' ↑10 ↓10 ↑6o ↓7o",
        "4^ 4v 5^ 3v'' 2v' 8^' 10^ 10v 6^o 7vo",
        "4B 4D 5B 3D'' 2D' 8B' 10B 10D 6Bo 7Do",
        "4b 4d 5b 3dbb 2db 8bb 10b 10d 6ob 7od",
        "B4 D4 B5 D3'' D2' B8' B10 D10 OB6 OD7",
        "4 (4) 5 (3'') (2') 8' 10 (10) 6o (7o)",
        "4 (4) 5 (3)'' (2)' 8' 10 (10) 6o (7)o",
        "4 ④ 5 ③'' ②' 8' 10 ⑩ 6o ⑦o",
        "4 ④ 5 ③¹ ②½ 8½ 10 ⑩ 6OB ⑦OD",
        "4 4 5 3'' 2' 8' 10 10 6o 7o\nB D B D D B B D B D",
        "4 [4] 5 [3''] [2'] 8' 10 [10] 6o [7o]",
    ] {
        assert_eq!(reads_well(text), same, "{text}");
    }
}

#[test]
fn every_notation_that_is_written_is_read_back() {
    let harp = crate::harp::Harp::parse("C", crate::harp::Tuning::built_in()).unwrap();
    let actions: Vec<Action> = harp.actions().iter().map(|&(_, action)| action).collect();
    for style in Style::ALL {
        for (bend_mark, over_mark) in
            BendMark::ALL.into_iter().flat_map(|bend| OverMark::ALL.map(|over| (bend, over)))
        {
            let notation = Notation { style, bend_mark, over_mark };
            let (above, under): (Vec<String>, Vec<&str>) =
                actions.iter().map(|&action| notation.rows(action)).unzip();
            let in_a_line: Vec<String> = actions.iter().map(|&action| notation.write(action)).collect();
            for text in [format!("{}\n{}", above.join(" "), under.join(" ")), in_a_line.join(" ")] {
                for named in [None, Some(style)] {
                    let tab = read(&text, named).unwrap();
                    let found: Vec<Action> = tab.notes.iter().map(|note| note.action).collect();
                    assert_eq!(found, actions, "{notation:?} {text}");
                    assert_eq!(tab.oddities, [], "{notation:?} {text}");
                }
            }
        }
    }
}

#[test]
fn the_small_sloppiness_of_a_learner_is_understood() {
    assert_eq!(reads_well("\u{feff}4 –4 5 −5\r\n\r\n6 —6\r7"), "4 -4 5 -5 6 -6 7");
    assert_eq!(reads_well("４ －４ ５"), "4 -4 5");
    assert_eq!(reads_well("  4\t-4\u{a0}\u{a0}5  "), "4 -4 5");
    assert_eq!(reads_well("-3’ -3′′ -3” 4"), "-3' -3'' -3'' 4");
    assert_eq!(reads_well("⬆\u{fe0f}4 ⬇\u{fe0f}4 4▲ 4▼"), "4 -4 4 -4");
    assert_eq!(reads_well("4, -4, 5; 6"), "4 -4 5 6");
    assert_eq!(reads_well("4 -4~ 5... 6-- 7_ -- 7 - - 8"), "4 -4 5 6 7 7 8");
}

/// A line that has only bent notes is tab too, whatever its marks look like.
#[test]
fn a_line_of_bent_notes_is_tab() {
    assert_eq!(reads_well("4 ④ 5\n④½ ④½"), "4 -4 5 -4' -4'");
    assert_eq!(reads_well("4 (4) 5\n(4)b (4)b"), "4 -4 5 -4' -4'");
}

#[test]
fn words_labels_and_comments_are_no_notes() {
    let song = "Amazing Grace (trad.)\nHarp: C, 2nd position\nTempo 84\n3/4\n\n# my own\n; also\n% and\n\
        Verse 1:\n4 | 5 6 5 | 6 // hold it\nA-maz-ing grace how\n1. 4 -4\n2) 5 -5\nA: 6 -6 [slow] (softly) #5\n";
    assert_eq!(reads_well(song), "4 5 6 5 6 4 -4 5 -5 6 -6");
    assert_eq!(read("no tab here\n2nd try, in 1900\n", None), Err(TabError::NoNotes));
    assert_eq!(read("", None), Err(TabError::NoNotes));
}

#[test]
fn chord_names_over_the_tab_are_no_notes() {
    for chords in ["G D7 G", "D7 | A", "xD7 (Em) G", "Bb7 F/A Bdim7", "D7 F#m7", "G xB7 (D7)"] {
        assert_eq!(reads_well(&format!("{chords}\n4 -4 5\n")), "4 -4 5", "{chords}");
    }
    // Words that could be holes with their letters are notes, except above the tab on a page of our own.
    assert_eq!(reads_well("B4 D4 B5\n"), "4 -4 5");
    let own = "       D7   B7\n        ,\n  1  | 4    -4 ...\n\n       D9\n       5 |\n";
    let page = format!("Tab for the C harp, 2nd position\n\n{own}\nHow to read it: 4 = blow hole 4\n");
    assert_eq!(reads_well(&page), "4 -4 5");
}

#[test]
fn numbers_before_bar_lines_are_those_of_bars() {
    assert_eq!(reads_well("1 | 4 -4 | 5\n3 | 6 -6 | 7\n"), "4 -4 5 6 -6 7");
    assert_eq!(reads_well("  1  | 4 -4 |\n"), "4 -4");
    // The text is as this crate prints it, with a pickup and a bar that continues on the next line.
    let pasted = "     | 4   |\n         1.~\n  2  | -4 ...\n     5 | 6\n  4  | -6 |\n";
    assert_eq!(reads_well(pasted), "4 -4 5 6 -6");
    assert_eq!(reads_well("4 | 4 -4 | 5\n3 | 6 -6 | 7\n"), "4 4 -4 5 3 6 -6 7");
    assert_eq!(oddities("1 | 4 -4 |").len(), 1);
}

#[test]
fn repeats_are_known_and_can_be_written_out() {
    let performed = |text: &str| -> String {
        let tab = read(text, None).unwrap();
        assert_eq!(tab.oddities, [], "{text}");
        let order = tab.performed();
        let tokens: Vec<String> =
            order.iter().map(|&note| Notation::default().write(tab.notes[note].action)).collect();
        tokens.join(" ")
    };
    assert_eq!(performed("4 |: 5 -5 | 6 :| 7"), "4 5 -5 6 5 -5 6 7");
    assert_eq!(performed("4 5 :| 6 :|"), "4 5 4 5 6 6");
    assert_eq!(performed("||: 4 5 |1. 6 :|2. 7 ||"), "4 5 6 4 5 7");
    assert_eq!(performed("4 5 x2\n6 (x3)\n7\nx2"), "4 5 4 5 6 6 6 7 7");
    assert_eq!(performed("4 5"), "4 5");
}

#[test]
fn chords_and_splits_keep_the_top_hole_and_say_so() {
    for (text, top) in [
        ("4 -4 234 5", "4 -4 4 5"),
        ("4 -4 -234", "4 -4 -4"),
        ("4 -4 (2 3 4)", "4 -4 4"),
        ("4 -4 (-2 -3 -4)", "4 -4 -4"),
        ("4 -4 -(2 3 4)", "4 -4 -4"),
        ("4 -4 1/4", "4 -4 4"),
        ("4 -4 1-4", "4 -4 4"),
        ("4 -4 -1-4", "4 -4 -4"),
        ("4 -4 8910", "4 -4 10"),
        ("4B 4D 234D", "4 -4 -4"),
    ] {
        assert_eq!(reads(text), top, "{text}");
        let odd = oddities(text);
        assert!(odd.len() == 1 && odd[0].contains("only the highest is kept"), "{text}: {odd:?}");
    }
}

#[test]
fn what_is_doubtful_is_read_and_told() {
    for (text, expected, told) in [
        (
            "4 - 4 5 -5",
            "4 -4 5 -5",
            "line 1, column 3: `- 4` is apart from its hole; the two are read as draw 4",
        ),
        (
            "4 -3 '' 5",
            "4 -3'' 5",
            "line 1, column 6: `''` is apart from its hole; the two are read as draw 3 with a whole-step bend",
        ),
        ("4-4 5 -5", "4 -4 5 -5", "line 1, column 1: `4-4` has no space between its notes"),
        ("4455 -5", "4 4 5 5 -5", "line 1, column 1: `4455` has no space between its notes"),
        ("4↑ 4 ↓ 5↑", "4 -4 5", "line 1, column 6: `↓` is apart from its hole"),
        ("4↑ 4↓ 5", "4 -4 5", "line 1, column 7: `5` does not say blow or draw; it is read as blow 5"),
        ("4B 4D 5 D", "4 -4 -5", "line 1, column 9: `D` is apart from its hole"),
        (
            "4↑ 5↑ -4",
            "4 5 -4",
            "line 1, column 7: `-4` is written in another style than the rest; it is read as draw 4",
        ),
        ("4 -4 5D", "4 -4 -5", "line 1, column 6: `5D` is written in another style than the rest"),
        ("4 4- 5", "4 -4 5", "line 1, column 3: `4-` has its sign after the hole; it is read as draw 4"),
        ("1 | 4 -4", "4 -4", "line 1, column 1: `1` before the bar line is read as the number of the bar"),
        ("4 4 4 4 4 4 4 4 4 4 4 4", "4 4 4 4 4 4 4 4 4 4 4 4", "line 1, column 1: there is no draw note"),
        (
            "4 5\nthe -4 comes late",
            "4 5",
            "line 2, column 5: the line looks like words, so `-4` in it is not a note",
        ),
    ] {
        assert_eq!(reads(text), expected, "{text}");
        let odd = oddities(text);
        assert!(odd.len() == 1 && odd[0].contains(told), "{text}: {odd:?}");
    }
}

#[test]
fn what_is_not_understood_has_its_line_its_column_and_a_hint() {
    for (text, told) in [
        (
            "4 -4\n 5 60 6",
            "line 2, column 4: `60` is not understood and is left out; holes go from 1 to 10; an overblow",
        ),
        ("4 -4 0", "line 1, column 6: `0` is not understood and is left out; holes go from 1 to 10"),
        (
            "4 -4 12345678910",
            "column 6: `12345678910` is not understood and is left out; holes go from 1 to 10",
        ),
        ("4 -4 4< 5", "column 6: `4<` is not understood and is left out; that is the slide of a chromatic"),
        ("4 -4 (5 6", "column 6: `(` is not understood and is left out; close the bracket"),
        (
            "4 -4 -3'o",
            "column 6: `-3'o` is not understood and is left out; write one mark for each half step",
        ),
        ("' 4 -4 5", "column 1: `'` is not understood and is left out; write a sign right before its hole"),
        ("4 -4 5 what?", "column 8: `what?` is not understood and is left out; write a note as 4, -4"),
        ("4 -4 5 [6]", "column 8: `[6]` is not understood and is left out; write a note as 4, -4"),
    ] {
        let odd = oddities(text);
        assert!(odd.iter().any(|odd| odd.contains(told)), "{text}: {odd:?}");
    }
}

#[test]
fn other_encodings_are_read() {
    assert_eq!(decode(b"4 \x964 5\x92"), "4 –4 5’");
    assert_eq!(decode("4 ↓".as_bytes()), "4 ↓");
    let wide: Vec<u8> =
        [0xFF, 0xFE].into_iter().chain("4 -4".encode_utf16().flat_map(u16::to_le_bytes)).collect();
    assert_eq!(decode(&wide), "4 -4");
}

#[test]
fn length_is_bounded() {
    assert_eq!(read(&"4 ".repeat(MAX_NOTES), None).unwrap().performed().len(), MAX_NOTES);
    assert_eq!(read(&"4 ".repeat(MAX_NOTES + 1), None), Err(TabError::TooManyNotes));
    assert_eq!(read(&" ".repeat(MAX_BYTES + 1), None), Err(TabError::TooLong));
    // The repeats multiply, but the result must stay within the limit.
    let many = format!("{}x9", "4 ".repeat(MAX_NOTES - 1));
    assert_eq!(read(&many, None), Err(TabError::TooManyNotes));
    // A line of opening brackets must be searched only once.
    let brackets = format!("4 -4 {}", "( ".repeat(500_000));
    assert!(read(&brackets, None).unwrap().oddities.len() <= MAX_ODDITIES);
}

#[test]
fn breath_in_words_is_understood() {
    for text in [
        "4 blow 4 draw 5 blow 10 draw",
        "Blow 4 Draw 4 Blow 5 Draw 10",
        "o4 i4 o5 i10",
        "blow 4, draw 4 | blow 5, draw 10",
    ] {
        assert_eq!(reads_well(text), "4 -4 5 -10", "{text}");
    }
    assert_eq!(reads_well("4 -4 5\nblow the man down\n6"), "4 -4 5 6");
}

#[test]
fn a_number_past_ten_says_how_far_holes_go() {
    for (text, odd) in [("4 11 5", "`11`"), ("4 -12 5", "`-12`")] {
        let [only] = oddities(text).try_into().unwrap();
        assert!(only.contains(odd) && only.ends_with("(holes go from 1 to 10)"), "{only}");
    }
    assert!(!oddities("4 44 5")[0].contains("from 1 to 10"));
}

#[test]
fn an_arrow_head_is_no_markup() {
    assert!(is_text(b"<5 <4 5 4") && !is_text(b"<score-partwise>") && !is_text(b"<?xml"));
}
