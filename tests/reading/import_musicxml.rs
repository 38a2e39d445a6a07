//! The MusicXML reader, tested on small files with one feature each; `fixtures/README.md` describes each file in one
//! line.
//!
//! A score is compared as text. The text leaves out the usual values, such as voice 1.

#![allow(clippy::unwrap_used, clippy::panic, reason = "clippy does not recognise these helpers as test code")]

use std::{fmt::Write, fs, io::Write as _, path::Path};

use breathline::{
    import::{self, ImportError, ImportOptions, Oddity, Part, PartNote, Score, TextPosition, musicxml, mxl},
    melody::{Bar, signs},
    time::Beats,
};
use proptest::prelude::*;

fn fixture(name: &str) -> Vec<u8> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures").join(format!("{name}.musicxml"));
    fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Compares the reading of a fixture with a text in the form of [`describe`]; indentation is ignored.
fn check(name: &str, expected: &str) {
    let score = musicxml::read(&fixture(name)).unwrap_or_else(|error| panic!("{name}: {error}"));
    let found = describe(&score);
    let expected: String =
        expected.lines().map(str::trim).filter(|line| !line.is_empty()).collect::<Vec<_>>().join("\n");
    assert!(found.trim() == expected, "\n--- {name}: expected\n{expected}\n--- found\n{found}");
}

/// Describes the score as text: title, makers and rights, unusual bars, tempos, parts with their notes, and warnings.
fn describe(score: &Score) -> String {
    let mut text = String::new();
    if let Some(title) = &score.title {
        writeln!(text, "title {title}").unwrap();
    }
    for creator in &score.credits.creators {
        writeln!(text, "{:?} {}", creator.role, creator.name).unwrap();
    }
    for rights in &score.credits.rights {
        writeln!(text, "rights {rights}").unwrap();
    }
    assert_invariants(score);
    let mut meter = None;
    for (index, bar) in score.bars.iter().enumerate() {
        let words = describe_bar(bar, meter != Some(bar.meter));
        meter = Some(bar.meter);
        if !words.is_empty() || bar.number as usize != index + 1 {
            writeln!(text, "bar {}{words}", bar.number).unwrap();
        }
    }
    if score.tempo.is_stated() {
        for (at, micros) in score.tempo.changes() {
            writeln!(text, "tempo {micros} @{at}").unwrap();
        }
    }
    for words in &score.tempo_words {
        writeln!(text, "words {} @{}", words.text, words.at).unwrap();
    }
    for (index, part) in score.parts.iter().enumerate() {
        if score.parts.len() > 1 || part.name.is_some() || part.percussion {
            let name = part.name.as_deref().unwrap_or("-");
            writeln!(text, "part {} {name}{}", index + 1, if part.percussion { " percussion" } else { "" })
                .unwrap();
        }
        describe_part(part, &mut text);
    }
    for warning in &score.warnings {
        match warning.place {
            Some(place) => writeln!(
                text,
                "{:?} in part {} bar {} beat {}",
                warning.oddity, place.part, place.bar, place.beat
            ),
            None => writeln!(text, "{:?}", warning.oddity),
        }
        .unwrap();
    }
    text
}

fn describe_bar(bar: &Bar, new_meter: bool) -> String {
    let mut words = String::new();
    match bar.meter {
        Some(meter) if new_meter => write!(words, " {meter}").unwrap(),
        None if new_meter => words.push_str(" unmetered"),
        _ => {}
    }
    if bar.meter.is_none_or(|meter| meter.bar() != bar.length) {
        write!(words, " length {}", bar.length).unwrap();
    }
    let marks = &bar.marks;
    for (set, word) in [
        (marks.repeat_start, "repeat-start"),
        (marks.section_end, "section-end"),
        (marks.segno, "segno"),
        (marks.coda, "coda"),
        (marks.to_coda, "to-coda"),
        (marks.fine, "fine"),
        (marks.da_capo, "da-capo"),
        (marks.dal_segno, "dal-segno"),
    ] {
        if set {
            write!(words, " {word}").unwrap();
        }
    }
    if let Some(times) = marks.repeat_end {
        let after_jump = if marks.repeat_after_jump { ", after-jump" } else { "" };
        write!(words, " repeat-end({times}{after_jump})").unwrap();
    }
    if !marks.ending.is_empty() {
        write!(words, " ending{:?}", marks.ending).unwrap();
    }
    words
}

/// Writes the keys and the chords, then each note on a line: onset, duration, name, and any further properties.
fn describe_part(part: &Part, text: &mut String) {
    for key in &part.signatures {
        let mode = key.mode.map_or_else(|| "?".to_owned(), |mode| mode.to_string());
        writeln!(text, "key {} {mode} @{}", key.sharps, key.at).unwrap();
    }
    for chord in &part.chords {
        let root = chord.root.map_or_else(|| "none".to_owned(), |root| root.class().to_string());
        writeln!(text, "chord {chord} ({root}) @{}", chord.at).unwrap();
    }
    for part_note in &part.notes {
        let note = &part_note.note;
        let name = match note.spelling {
            Some(spelling) => spelling.to_string(),
            None => format!("{} unspelled", note.pitch),
        };
        write!(text, "{}, {}: {name}", note.onset, note.duration).unwrap();
        if part_note.voice > 0 {
            write!(text, " voice {}", part_note.voice + 1).unwrap();
        }
        if note.grace {
            text.push_str(" grace");
        }
        if note.breath_after {
            text.push_str(" breath");
        }
        text.push_str(&" slur".repeat(note.signs.slurs_begin.into()));
        text.push_str(&" slurred".repeat(note.signs.slurs_end.into()));
        text.push_str(if note.signs.fermata { " fermata" } else { "" });
        for lyric in &note.lyrics {
            let end = if lyric.hyphen { "-" } else { "" };
            write!(text, " {}{:?}{end}{}", lyric.verse, lyric.text, if lyric.extend { "__" } else { "" })
                .unwrap();
        }
        text.push('\n');
    }
}
#[test]
fn a_whole_small_file_is_read() {
    check(
        "plain",
        "
        title Two Bars
        bar 1 2/4
        tempo 600000 @0
        words Allegro @0
        part 1 Voice
        key 1 major @0
        0, 1 1/2: G4
        1 1/2, 1/2: F#4
        3, 1: G4
        ",
    );
}

#[test]
fn a_timewise_score_reads_like_a_partwise_one() {
    check(
        "timewise",
        "
        bar 1 2/4
        part 1 Upper
        0, 2: E5
        2, 2: D5
        part 2 Lower
        2, 2: C3
        ",
    );
}

#[test]
fn the_title_is_found_wherever_it_stands() {
    check(
        "title_movement",
        "
        title The Second Title
        bar 1 4/4
        0, 4: C4
        ",
    );
    check(
        "title_credit",
        r#"
        title On the Page
        "composer" Trad.
        bar 1 4/4
        0, 4: C4
        "#,
    );
    // Neither a page number nor the name of a part counts as a title.
    check(
        "title_page_words",
        "
        title Over the Hill
        bar 1 4/4
        part 1 Canto
        0, 4: C4
        ",
    );
    check(
        "title_file_name",
        "
        title over-the-hill
        bar 1 4/4
        part 1 Canto
        0, 4: C4
        ",
    );
}

#[test]
fn what_stands_for_a_title_is_none() {
    check(
        "title_stopgap",
        r#"
        title Over the Hill
        "composer" A. Nonymous
        bar 1 4/4
        0, 4: C4
        "#,
    );
    check(
        "title_stopgap_only",
        "
        bar 1 4/4
        0, 4: C4
        ",
    );
}

/// MusicXML 4.0, elements `creator`, `rights` and `credit-type`.
#[test]
fn who_made_the_tune_and_whose_it_is_are_kept() {
    check(
        "credits",
        r#"
        title The Mill
        "composer" A. Nonymous
        "composer" B. Nonymous
        "lyricist" C. Nonymous
        "arranger" D. Nonymous
        "translator" E. Nonymous
        "" F. Nonymous
        rights Free for all
        rights By kind permission
        bar 1 4/4
        0, 4: C4
        "#,
    );
    check(
        "credits_page",
        r#"
        title The Mill
        "lyricist" C. Nonymous
        "composer" A. Nonymous and B. Nonymous
        rights Free for all
        bar 1 4/4
        0, 4: C4
        "#,
    );
    let credits = musicxml::read(&fixture("credits")).unwrap().credits;
    assert_eq!(credits.composer().as_deref(), Some("A. Nonymous, B. Nonymous"));
    assert_eq!(credits.lyricist().as_deref(), Some("C. Nonymous"));
    assert_eq!(credits.arranger().as_deref(), Some("D. Nonymous"));
}

#[test]
fn parts_are_named_by_their_identifier() {
    check(
        "part_names",
        "
        bar 1 4/4
        part 1 Two
        0, 4: C4
        part 2 One
        0, 4: E4
        part 3 -
        0, 4: G4
        ",
    );
}

#[test]
fn parts_without_identifiers_are_named_by_order_and_eleven_by_the_whole_identifier() {
    check(
        "part_ids_missing",
        "
        bar 1 1/4
        part 1 Upper
        0, 1: C5
        part 2 Lower
        0, 1: C4
        ",
    );
    let parts = musicxml::read(&fixture("parts_eleven")).unwrap().parts;
    let names: Vec<&str> = parts.iter().filter_map(|part| part.name.as_deref()).collect();
    let expected = "One Two Three Four Five Six Seven Eight Nine Ten Eleven";
    assert_eq!(names.join(" "), expected);
    assert_eq!((parts[1].notes[0].note.pitch.midi(), parts[9].notes[0].note.pitch.midi()), (62, 76));
}

#[test]
fn chord_notes_start_together() {
    check(
        "chord",
        "
        bar 1 3/4
        0, 2: C4
        0, 1: E4
        2, 1: D4
        ",
    );
}

#[test]
fn voices_are_numbered_in_order_of_appearance() {
    check(
        "voices",
        "
        bar 1 4/4
        0, 1: C5
        1, 1: D5
        2, 1: E5
        2, 2: A4 voice 2
        3, 1: F5
        ",
    );
    check(
        "voice_missing",
        "
        bar 1 2/4
        0, 1: C5
        0, 2: C4 voice 2
        1, 1: D5
        ",
    );
    check(
        "staves",
        "
        bar 1 4/4
        0, 4: C5
        0, 2: C3 voice 2
        2, 2: G3 voice 2
        ",
    );
    check(
        "staff_crossing",
        "
        bar 1 4/4
        0, 1: C5
        1, 1: G3
        2, 1: C4
        2, 1: C3
        3, 1: E4
        ",
    );
}

#[test]
fn time_is_exact_whatever_the_divisions() {
    check(
        "tuplet",
        "
        bar 1 2/4
        0, 1/3: C4
        1/3, 1/3: D4
        2/3, 1/3: E4
        1, 1/5: C4
        1 1/5, 1/5: D4
        1 2/5, 1/5: E4
        1 3/5, 1/5: F4
        1 4/5, 1/5: G4
        ",
    );
    check(
        "divisions_change",
        "
        bar 1 2/4
        0, 1: C5
        1/2, 1 1/2: C4 voice 2
        1, 1/2: D5
        1 1/2, 1/2: E5
        ",
    );
    check(
        "divisions_parts",
        "
        bar 1 1/4
        part 1 -
        0, 1: C5
        part 2 -
        0, 2/3: C4
        2/3, 1/3: D4
        ",
    );
    check(
        "divisions_decimal",
        "
        bar 1 2/4
        0, 1/2: C4
        1/2, 1/2: D4
        1, 1: E4
        ",
    );
}

#[test]
fn grace_notes_take_no_time() {
    check(
        "grace",
        "
        bar 1 2/4
        0, 0: D5 grace
        0, 0: E5 grace
        0, 1: C5
        1, 0: B4 grace
        1, 0: G4 grace
        1, 1: A4
        2, 0: B4 grace
        2, 2: C5
        ",
    );
    check(
        "grace_tied",
        "
        bar 1 1/4
        0, 1: C4
        ",
    );
}

#[test]
fn cue_notes_and_drums_are_left_out_but_take_their_time() {
    check(
        "cue",
        "
        bar 1 2/4
        1, 1: D4
        CueNote in part 1 bar 1 beat 1
        ",
    );
    check(
        "unpitched",
        "
        bar 1 3/4
        part 1 -
        0, 1: C4
        2, 1: D4
        part 2 Drums percussion
        Unpitched in part 1 bar 1 beat 2
        Unpitched in part 2 bar 1 beat 1
        ",
    );
    check(
        "drum_channel",
        "
        bar 1 4/4
        part 1 - percussion
        0, 4: C4
        ",
    );
}

#[test]
fn what_cannot_be_read_is_said() {
    check(
        "microtone",
        "
        bar 1 3/4
        0, 1: Cb4
        1, 1: D#4
        2, 1: E4
        Microtone in part 1 bar 1 beat 1
        Microtone in part 1 bar 1 beat 2
        ",
    );
    check(
        "no_duration",
        r#"
        bar 1 3/4
        0, 1 1/2: C4
        1 1/2, 0: D4 grace
        1 1/2, 0: F4 grace
        1 1/2, 1 1/2: E4
        Unreadable { what: "a length" } in part 1 bar 1 beat 1
        Unreadable { what: "a length" } in part 1 bar 1 beat 2 1/2
        Unreadable { what: "a length" } in part 1 bar 1 beat 2 1/2
        "#,
    );
    check(
        "unreadable",
        r#"
        bar 1 3/4
        2, 1: D4
        Unreadable { what: "a pitch" } in part 1 bar 1 beat 1
        PitchOutOfRange in part 1 bar 1 beat 2
        "#,
    );
    check(
        "accidental_only",
        "
        bar 1 2/4
        0, 1: F4
        1, 1: F#4
        AccidentalOnly in part 1 bar 1 beat 1
        ",
    );
}

#[test]
fn tied_notes_are_one() {
    check(
        "ties",
        "
        bar 1 4/4
        0, 2: C4
        2, 7: D4 breath
        9, 3: C4
        ",
    );
    check(
        "ties_file_order",
        "
        bar 1 4/4
        0, 4: D4 voice 2
        ",
    );
    check(
        "ties_by_sign",
        "
        bar 1 4/4
        0, 3: C4
        3, 1: C4
        4, 4: C4
        ",
    );
    check(
        "ties_chord",
        "
        bar 1 4/4
        0, 4: C4
        0, 2: E4
        2, 2: E4
        ",
    );
    check(
        "ties_voices",
        "
        bar 1 3/4
        0, 3: G4
        0, 2: G4 voice 2
        2, 1: C4 voice 2
        ",
    );
}

#[test]
fn ties_with_a_missing_half_are_mended_or_said() {
    check(
        "ties_missing_stop",
        r#"
        bar 1 4/4
        0, 4: C4 1"one two"
        "#,
    );
    check(
        "ties_other_voice",
        "
        bar 1 2/4
        0, 1: C4
        1, 1: D4
        1, 1: C4 voice 2
        UnfinishedTie in part 1 bar 1 beat 1
        ",
    );
    check(
        "ties_unfinished",
        "
        bar 1 4/4
        0, 2: C4
        2, 2: D4
        4, 2: E4
        6, 2: F4
        UnfinishedTie in part 1 bar 1 beat 1
        UnfinishedTie in part 1 bar 2 beat 3
        ",
    );
}

#[test]
fn transposing_parts_sound() {
    check(
        "transpose",
        "
        bar 1 4/4
        key 0 major @0
        chord C (C) @0
        0, 2: C5
        2, 2: B4
        ",
    );
    check(
        "transpose_octave",
        "
        bar 1 4/4
        key -1 ? @0
        0, 4: Bb5
        ",
    );
    check(
        "transpose_change",
        "
        bar 1 4/4
        key 0 ? @0
        key 3 ? @8
        0, 4: C5
        4, 4: C5
        8, 4: A4
        ",
    );
    check(
        "transpose_staff",
        "
        bar 1 4/4
        0, 4: C5
        0, 4: F4 voice 2
        4, 4: Eb5 voice 2
        ",
    );
    check(
        "concert_score",
        "
        bar 1 4/4
        0, 4: D4
        ConcertTranspose in part 1 bar 1 beat 1
        ",
    );
    // MusicXML 4.0, element `for-part`: it concerns parts that are extracted from the score.
    check(
        "for_part",
        "
        bar 1 4/4
        0, 4: C4
        ",
    );
}

/// MusicXML 4.0, element `double`: the part sounds both as written and an octave below or above.
#[test]
fn a_part_doubled_in_octaves_is_its_written_line() {
    check(
        "transpose_double",
        "
        bar 1 4/4
        0, 4: C4
        4, 4: C4
        OctavesDoubled { above: false } in part 1 bar 1 beat 1
        OctavesDoubled { above: true } in part 1 bar 2 beat 1
        ",
    );
}

#[test]
fn octave_clefs_and_lines_are_display_only() {
    check(
        "octave_clef",
        "
        bar 1 4/4
        0, 4: C4
        ",
    );
    check(
        "octave_twice",
        "
        bar 1 4/4
        0, 4: C4
        OctaveTwice in part 1 bar 1 beat 1
        ",
    );
}

#[test]
fn keys_are_hints() {
    check(
        "keys",
        "
        bar 1 4/4
        key -2 dorian @0
        0, 4: C4
        4, 4: C4
        8, 4: C4
        12, 4: C4
        BadKeySignature in part 1 bar 2 beat 1
        BadKeySignature in part 1 bar 3 beat 1
        ",
    );
    check(
        "modes",
        "
        bar 1 1/4
        key 0 major @0
        key 0 minor @1
        key 0 dorian @2
        key 0 phrygian @3
        key 0 lydian @4
        key 0 mixolydian @5
        key 0 minor @6
        key 0 major @7
        key 0 locrian @8
        key 0 ? @9
        0, 1: C4
        1, 1: C4
        2, 1: C4
        3, 1: C4
        4, 1: C4
        5, 1: C4
        6, 1: C4
        7, 1: C4
        8, 1: C4
        9, 1: C4
        10, 1: C4
        ",
    );
    check(
        "keys_order",
        "
        bar 1 4/4
        key -1 ? @0
        key 2 ? @2
        0, 2: C5
        0, 4: F4 voice 2
        2, 2: C#5
        ",
    );
    check(
        "key_staff",
        "
        bar 1 4/4
        key 1 ? @0
        0, 4: C4
        StaffDiffers in part 1 bar 1 beat 1
        ",
    );
    check(
        "staff_same",
        "
        bar 1 4/4
        key 1 ? @0
        0, 4: C4
        4, 4: D4
        StaffDiffers in part 1 bar 2 beat 1
        ",
    );
}

/// MusicXML 4.0, elements `key-octave` and `cancel`: they determine where accidentals and naturals are drawn.
#[test]
fn how_a_key_signature_is_drawn_makes_no_difference() {
    check(
        "key_octave",
        "
        bar 1 4/4
        key 2 major @0
        0, 2: F#5
        2, 2: F4
        4, 4: B4
        BadKeySignature in part 1 bar 2 beat 1
        ",
    );
    check(
        "key_cancel",
        "
        bar 1 4/4
        key -2 ? @0
        key -1 ? @4
        key 0 ? @8
        0, 4: Bb4
        4, 4: Bb4
        8, 4: B4
        ",
    );
}

#[test]
fn a_pickup_is_bar_0() {
    check(
        "pickup",
        "
        bar 0 3/4 length 1
        bar 1
        bar 2 length 2
        0, 1: C4
        1, 3: D4
        4, 2: E4
        ",
    );
    check(
        "pickup_zero",
        "
        bar 0 3/4 length 1
        bar 1
        0, 1: C4
        1, 3: D4
        ",
    );
    check(
        "counted_from_zero",
        "
        bar 1 1/4
        0, 1: C4
        1, 1: D4
        ",
    );
    check(
        "pickup_rest",
        "
        bar 0 3/4 length 1
        bar 1
        part 1 -
        0, 1: C4
        1, 3: D4
        part 2 -
        1, 3: E4
        ",
    );
}

#[test]
fn bars_are_counted_in_order_whatever_their_numbers() {
    check(
        "bar_numbers",
        "
        bar 1 1/4
        0, 1: C4
        1, 1: D4
        2, 1: E4
        3, 1: F4
        ",
    );
}

#[test]
fn a_split_bar_has_one_number() {
    check(
        "split_bar",
        "
        bar 1 4/4
        bar 2 length 3 repeat-end(2)
        bar 2 length 1
        bar 3
        0, 4: C4
        4, 3: D4
        7, 1: E4
        8, 4: F4
        ",
    );
}

#[test]
fn hidden_rests_beside_a_repeat_are_the_rest_of_a_split_bar() {
    let score = musicxml::read(&fixture("hidden_filler")).unwrap();
    let bars: Vec<(u32, Beats)> = score.bars.iter().map(|bar| (bar.number, bar.length)).collect();
    let quarters = Beats::quarters;
    let expected =
        [(0, 1), (1, 4), (2, 3), (2, 1), (3, 4), (4, 4), (5, 3)].map(|(n, length)| (n, quarters(length)));
    assert_eq!(bars, expected);
    let onsets: Vec<Beats> = score.parts[0].notes.iter().map(|note| note.note.onset).collect();
    assert_eq!(onsets, [0, 1, 5, 8, 9, 13, 16, 17].map(quarters));
    assert_eq!(score.warnings, []);
    // Rests are not cut if another part has visible content there.
    let text = String::from_utf8(fixture("hidden_filler")).unwrap();
    let second = text.find("  <part id").map(|start| text[start..].replace("P1", "P2")).unwrap();
    let second = second.replace(" print-object=\"no\"", "");
    let list = "<score-part id=\"P2\"><part-name></part-name></score-part>\n  </part-list>";
    let both = text.replace("  </part-list>", list);
    let both = both.replace("</score-partwise>", &second);
    let score = musicxml::read(both.as_bytes()).unwrap();
    assert!(score.bars.iter().all(|bar| bar.length == quarters(4)));
}

#[test]
fn a_split_bar_may_be_numbered_with_letters() {
    check(
        "split_bar_letter",
        "
        bar 1 3/4 length 2
        bar 1 length 1
        bar 2
        0, 2: C4
        2, 1: D4
        3, 3: E4
        ",
    );
}

#[test]
fn the_halves_of_a_bar_are_no_oddity_even_with_numbers_of_their_own() {
    let score = musicxml::read(&fixture("split_bar_numbered")).unwrap();
    assert_eq!(score.bars.iter().map(|bar| bar.number).collect::<Vec<_>>(), [1, 2, 3, 4]);
    assert_eq!(score.warnings, []);
}

#[test]
fn coarse_ticks_do_not_break_ties() {
    check(
        "ties_coarse",
        "
        bar 1 2/4
        0, 8/17: C4
        8/17, 8/17: D4
        16/17, 2 1/17: E4
        3, 1: F4
        ",
    );
}

#[test]
fn bars_of_odd_length_are_kept() {
    check(
        "bar_length",
        "
        bar 1 2/4
        bar 2 length 3
        bar 3 length 1
        0, 2: C4
        2, 3: D4
        5, 1: E4
        6, 2: F4
        8, 2: F4
        BarLength { longer: true } in part 1 bar 2 beat 1
        BarLength { longer: false } in part 1 bar 3 beat 1
        ",
    );
    check(
        "rests",
        "
        bar 1 2/4
        8, 2: C4
        ",
    );
    check(
        "rest_too_long",
        "
        bar 1 2/4
        bar 3 length 3
        bar 4 length 4
        part 1 -
        0, 1: C4
        1, 1: D4
        2, 2: E4
        4, 2: G4
        7, 1: A4
        part 2 -
        0, 1: C3
        2, 2: E3
        4, 3: G3
        7, 1: A3
        RestTooLong in part 2 bar 1 beat 1
        BarLength { longer: true } in part 2 bar 3 beat 1
        BarLength { longer: true } in part 2 bar 4 beat 1
        ",
    );
    check(
        "part_lengths",
        "
        bar 1 4/4
        part 1 -
        0, 4: C4
        4, 2: D4
        8, 4: E4
        part 2 -
        0, 4: C3
        4, 4: D3
        ",
    );
}

#[test]
fn meters_of_all_kinds() {
    check(
        "no_time",
        "
        bar 1 unmetered length 3
        bar 2 length 5
        bar 3 length 4
        bar 4 length 1
        0, 3: C4
        3, 5: D4
        12, 1: E4
        ",
    );
    check(
        "senza_misura",
        "
        bar 1 unmetered length 3 1/2
        bar 2 3/8
        bar 3 5/8
        0, 3 1/2: C4
        3 1/2, 1 1/2: D4
        5, 2 1/2: E4
        7 1/2, 2 1/2: F4
        ",
    );
    check(
        "changes_inside",
        "
        bar 1 2/4
        bar 2 3/4
        key 0 ? @0
        key -3 ? @1
        0, 1: C4
        1, 1: D4
        2, 3: Eb4
        ",
    );
}

#[test]
fn steps_back_and_sums_of_ticks_stay_inside_the_bar() {
    check(
        "backup_past_bar",
        "
        bar 1 2/4
        0, 2: C4
        2, 2: D4
        2, 2: E4 voice 2
        BackupPastBar in part 1 bar 2 beat 1
        ",
    );
    check(
        "rounding",
        "
        bar 1 1/4
        0, 23/160: C4
        0, 1: C3 voice 2
        23/160, 23/160: D4
        23/80, 23/160: E4
        69/160, 23/160: F4
        23/40, 23/160: G4
        23/32, 23/160: A4
        69/80, 11/80: B4
        1, 1: C5
        ",
    );
}

#[test]
fn tempo_comes_from_sounds_before_signs() {
    check(
        "tempo",
        "
        bar 1 4/4
        tempo 833333 @0
        tempo 500000 @4
        tempo 662983 @6
        tempo 800000 @8
        part 1 -
        0, 4: C4
        4, 2: D4
        6, 2: E4
        8, 4: F4
        part 2 -
        0, 4: C4
        ",
    );
}

/// MusicXML 4.0, element `swing`: a ratio for playback, of eighths unless it states otherwise, or `straight`.
#[test]
fn swing_is_said_and_leaves_notes_as_written() {
    check(
        "swing",
        r#"
        bar 1 2/4
        tempo 500000 @0
        words Swing @0
        0, 1/2: C4
        1/2, 1/2: D4
        1, 1: E4
        2, 1: F4
        3, 1: G4
        4, 2: A4
        6, 2: B4
        Swing { first: 2, second: 1, sixteenths: false } in part 1 bar 1 beat 1
        Swing { first: 3, second: 2, sixteenths: true } in part 1 bar 3 beat 1
        Unreadable { what: "a swing" } in part 1 bar 4 beat 1
        "#,
    );
}

#[test]
fn chord_symbols_are_kept_as_printed() {
    check(
        "harmony",
        r#"
        bar 1 4/4
        chord Am7 (A) @0
        chord BbMaj7 (Bb) @1
        chord D/F# (D) @2
        chord G7(b9) (G) @4
        chord N.C. (none) @4
        0, 1: A4
        1, 1: B4
        2, 1: C5
        3, 1: D5
        4, 4: C5
        Unreadable { what: "a chord symbol" } in part 1 bar 2 beat 1
        "#,
    );
}

#[test]
fn chord_symbols_sound_like_the_notes() {
    check(
        "harmony_transposed",
        "
        bar 1 2/4
        chord Em/G (E) @0
        chord Bb (Bb) @2
        0, 2: E4
        2, 2: Bb4 unspelled
        ",
    );
}

#[test]
fn a_program_is_no_maker() {
    let creator = |name: &str| format!("<creator type='composer'>{name}</creator>");
    let makers = [creator("Music21"), creator("Trad."), creator("Composer / arranger")].concat();
    let text = format!(
        "<score-partwise><identification>{makers}</identification>\
         <credit><credit-type>lyricist</credit-type><credit-words>Lyricist</credit-words></credit>\
         <part><measure/></part></score-partwise>"
    );
    let credits = musicxml::read(text.as_bytes()).unwrap().credits;
    let names: Vec<&str> = credits.creators.iter().map(|creator| creator.name.as_str()).collect();
    assert_eq!(names, ["Trad."]);
}

#[test]
fn names_stay_as_they_are_written() {
    check(
        "spelling",
        "
        bar 1 5/4
        part 1 Melody
        key 4 ? @0
        chord E (E) @0
        chord G#m (Ab) @1
        chord F#7/A# (F#) @2
        chord N.C. (none) @4
        0, 1: E4
        1, 1: G#4
        2, 1: E#4
        3, 1: B#4
        4, 1: E4
        ",
    );
}

#[test]
fn words_are_kept_by_verse() {
    check(
        "lyrics",
        r#"
        bar 1 4/4
        0, 1: C4 1"Hel"- 2"Good"
        1, 1: D4 1"lo"__ 2"day"
        2, 1: E4
        3, 1: F4 1"the‿old"-
        "#,
    );
}

#[test]
fn of_more_verses_than_any_song_has_the_rest_is_left_out_and_said() {
    let score = musicxml::read(&fixture("lyrics_many")).unwrap();
    let lyrics = &score.parts[0].notes[0].note.lyrics;
    assert_eq!((lyrics.len(), lyrics[31].text.as_str()), (32, "w32"));
    assert_eq!(
        score.warnings.iter().map(|warning| warning.oddity.clone()).collect::<Vec<_>>(),
        [Oddity::Unreadable { what: "words after verse 32".to_owned() }]
    );
}

#[test]
fn a_sum_of_beats_beyond_any_time_signature_is_passed_over() {
    let score = musicxml::read(&fixture("meter_too_long")).unwrap();
    assert_eq!(score.bars[0].meter, None);
    assert_eq!(score.warnings[0].oddity, Oddity::Unreadable { what: "a time signature".to_owned() });
}

#[test]
fn tab_under_the_notes_is_no_verse() {
    check(
        "lyrics_tab",
        r#"
        bar 1 1/4
        0, 1: C4 1"one"
        1, 1: D4
        "#,
    );
}

#[test]
fn words_belong_to_the_whole_chord() {
    check(
        "chord_words",
        r#"
        bar 1 1/4
        0, 1: C4 breath 1"both" 2"more"
        0, 1: E4 breath 1"both" 2"more"
        "#,
    );
}

#[test]
fn what_holds_only_for_some_passes_is_said() {
    check(
        "some_passes",
        "
        bar 1 1/4 repeat-end(2, after-jump)
        0, 1: C4
        SomePasses in part 1 bar 1 beat 1
        ",
    );
    check(
        "time_only",
        "
        bar 1 1/4 to-coda
        bar 2 da-capo
        bar 3 coda
        bar 5 da-capo
        tempo 666666 @0
        0, 1: C4
        1, 1: D4
        2, 1: E4
        3, 1: F4
        4, 1: G4
        SomePasses in part 1 bar 4 beat 1
        SomePasses in part 1 bar 5 beat 2
        ",
    );
}

/// The score keeps tempo words where the file has them; the melody has them over the next note.
#[test]
fn slurs_fermatas_and_words_of_tempo_are_kept() {
    check(
        "expression",
        "
        bar 1 4/4
        tempo 666666 @0
        words Mit Schwung @0
        words poco rit. @2
        words Getragen @4
        0, 1: C4 slur
        1, 1: D4 slur slurred
        2, 3: E4 slurred fermata
        5, 1: F4 fermata
        ",
    );
}

#[test]
fn places_to_breathe_are_kept() {
    check(
        "breath",
        "
        bar 1 6/4
        bar 2 3/4
        0, 1: C4 slur
        1, 1: D4 slur slurred
        2, 1: E4 slurred
        3, 1: F4 breath
        4, 1: G4 breath
        5, 0: B4 grace slur
        5, 1: A4 slurred
        6, 1: C4 slur slur
        7, 1: D4 slurred
        8, 1: E4 slurred
        ",
    );
    // The end of a slur inside another slur, or of a slur from a grace note, is not a place to breathe.
    let melody = import::import(&fixture("breath"), &ImportOptions::default()).unwrap().melody;
    let places = signs::places_to_breathe(&melody.notes);
    let places: Vec<usize> = (0..places.len()).filter(|&note| places[note]).collect();
    assert_eq!(places, [2, 3, 4, 9]);
}

#[test]
fn repeats_and_endings_are_marked() {
    check(
        "repeats",
        "
        bar 1 1/4 repeat-start
        bar 2 repeat-end(3)
        bar 4 ending[1, 2]
        bar 5 repeat-end(2) ending[1, 2]
        bar 6 ending[3]
        bar 7 section-end
        0, 1: C4
        1, 1: D4
        2, 1: E4
        3, 1: F4
        4, 1: G4
        5, 1: A4
        6, 1: B4
        ",
    );
    check(
        "endings_open",
        "
        bar 1 1/4
        bar 2 repeat-end(2) ending[1]
        bar 3 ending[2]
        bar 4 repeat-end(2) ending[1]
        bar 6 ending[1]
        bar 7 ending[1]
        0, 1: C4
        1, 1: D4
        2, 1: E4
        3, 1: F4
        4, 1: G4
        5, 1: A4
        6, 1: B4
        OpenEnding in part 1 bar 6 beat 1
        ",
    );
    check(
        "endings_strain",
        "
        bar 1 1/4
        bar 2 repeat-end(2) ending[1]
        bar 3 ending[2]
        bar 4 ending[2]
        bar 5 repeat-start
        bar 6 repeat-end(2) ending[1]
        bar 7 section-end ending[2]
        bar 9 repeat-end(2)
        bar 11 repeat-end(2) ending[1]
        bar 12 section-end ending[2]
        bar 13 ending[2]
        0, 1: C4
        1, 1: D4
        2, 1: E4
        3, 1: F4
        4, 1: G4
        5, 1: A4
        6, 1: B4
        7, 1: C5
        8, 1: D5
        9, 1: E5
        10, 1: F5
        11, 1: G5
        12, 1: A5
        13, 1: B5
        ",
    );
    check(
        "repeat_inside",
        "
        bar 1 2/4 repeat-end(2)
        0, 1: C4
        1, 1: D4
        2, 1: E4
        3, 1: F4
        MidBarline in part 1 bar 1 beat 2
        ",
    );
}

#[test]
fn jumps_are_found_in_sounds_words_and_signs() {
    check(
        "jumps_sound",
        "
        bar 1 1/4
        bar 2 segno
        bar 3 to-coda
        bar 4 dal-segno
        bar 5 coda
        0, 1: C4
        1, 1: D4
        2, 1: E4
        3, 1: F4
        4, 1: G4
        ",
    );
    check(
        "jumps_barlines",
        "
        bar 1 1/4
        bar 2 repeat-start segno repeat-end(2)
        bar 3 to-coda
        bar 4 section-end
        bar 5 repeat-start coda
        bar 6 segno coda
        0, 1: C4
        1, 1: D4
        2, 1: E4
        3, 1: F4
        4, 1: G4
        5, 1: A4
        ",
    );
    check(
        "jumps_one_sign",
        "
        bar 1 1/4
        bar 2 coda
        0, 1: C4
        1, 1: D4
        ",
    );
    check(
        "jumps_words",
        "
        bar 1 1/4 fine
        bar 2 da-capo
        0, 1: C4
        1, 1: D4
        ",
    );
    check(
        "jumps_signs",
        "
        bar 1 1/4
        bar 2 segno to-coda
        bar 3 dal-segno
        bar 4 coda
        0, 1: C4
        1, 1: D4
        2, 1: E4
        3, 1: F4
        ",
    );
}

#[test]
fn every_fixture_is_described_and_checked() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures");
    let readme = fs::read_to_string(folder.join("README.md")).unwrap();
    let tests = [
        include_str!("import_musicxml.rs"),
        include_str!("import_repeats.rs"),
        include_str!("../answers/notation.rs"),
    ]
    .concat();
    for entry in fs::read_dir(folder).unwrap() {
        let file = entry.unwrap().file_name().into_string().unwrap();
        let Some(name) = file.strip_suffix(".musicxml") else { continue };
        assert!(readme.contains(&format!("- `{file}` — ")), "{file} has no line in the README");
        assert!(tests.contains(&format!("\"{name}\"")), "{file} has no test");
    }
}

#[test]
fn encodings_make_no_difference() {
    let text = String::from_utf8(fixture("plain")).unwrap().replace("Voice", "Flöte");
    let utf8 = musicxml::read(text.as_bytes()).unwrap();
    assert_eq!(utf8.parts[0].name.as_deref(), Some("Flöte"));
    let utf16 = |unit: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(unit).collect::<Vec<u8>>();
    let latin = text.replace("UTF-8", "ISO-8859-1").chars().map(|c| c as u8).collect();
    let with_mark = |mark: &[u8], bytes: Vec<u8>| [mark, &bytes].concat();
    for bytes in [
        with_mark(b"\xEF\xBB\xBF", text.clone().into_bytes()),
        with_mark(b"\xFF\xFE", utf16(u16::to_le_bytes)),
        with_mark(b"\xFE\xFF", utf16(u16::to_be_bytes)),
        utf16(u16::to_le_bytes),
        latin,
    ] {
        assert_eq!(musicxml::read(&bytes).as_ref(), Ok(&utf8));
    }
    // Bytes in another encoding than the file claims are still read, with a warning.
    let wrong: Vec<u8> = text.chars().map(|c| c as u8).collect();
    let mended = musicxml::read(&wrong).unwrap();
    assert_eq!((&mended.parts, &mended.warnings[0].oddity), (&utf8.parts, &Oddity::WrongEncoding));
}

/// Returns the file with a comment after the score. The reader keeps all white space of a file with these characters.
fn with_white_space_kept(bytes: &[u8]) -> Vec<u8> {
    [bytes, b"<!-- <![CDATA[ -->\n"].concat()
}

#[test]
fn indentation_makes_no_difference() {
    let mut scores = 0;
    for folder in ["tests/fixtures", "corpus", "demo"] {
        for entry in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)).unwrap() {
            let path = entry.unwrap().path();
            let Ok(text) = fs::read_to_string(&path) else { continue };
            let Ok(score) = musicxml::read(text.as_bytes()) else { continue };
            for (how, written) in [
                ("white space kept", with_white_space_kept(text.as_bytes())),
                ("line ends of another system", text.replace('\n', "\r\n").into_bytes()),
                ("blank lines and tabs", text.replace(">\n", ">\n\n\t ").into_bytes()),
                ("no line ends between tags", text.replace(">\n", ">").into_bytes()),
            ] {
                assert_eq!(musicxml::read(&written).as_ref(), Ok(&score), "{}: {how}", path.display());
            }
            scores += 1;
        }
    }
    assert!(scores > 100, "{scores}");
}

#[test]
fn a_line_end_inside_a_text_is_kept() {
    let title = |text: &str| {
        let score = String::from_utf8(fixture("plain")).unwrap();
        musicxml::read(score.replace("Two\n    Bars", text).as_bytes()).unwrap().title
    };
    let expected = Some("a> <b".to_owned());
    assert_eq!(title("a&gt;\n  &lt;b"), expected);
    assert_eq!(title("<![CDATA[a>\n  <b]]>"), expected);
}

#[test]
fn errors_say_where_and_what() {
    let message = |bytes: &[u8]| musicxml::read(bytes).unwrap_err().to_string();
    let cut = &fixture("plain")[..900];
    assert!(matches!(
        musicxml::read(cut),
        Err(ImportError::Broken { at: Some(TextPosition::Line(_, _)), .. })
    ));
    assert_eq!(
        message(b"<score-partwise>\n <part></score-partwise>"),
        "the file is damaged at line 2, column 8: expected 'part' tag, not 'score-partwise'; \
         download it again, or save it from a notation program"
    );
    assert_eq!(
        message(b"<!DOCTYPE html><html><br></html>"),
        "found a web page instead of a score; export the tune as MusicXML, ABC or MIDI and try that file"
    );
    assert!(message(b"<opus/>").contains("an opus, which only lists other files"));
    assert!(message(b"<mei/>").contains("XML of the kind \"mei\""));
    // A bomb of nested entities: each level contains the level before ten times.
    let mut bomb = "<!DOCTYPE a [<!ENTITY e0 'ha'>".to_owned();
    for level in 1..10 {
        let inner = format!("&e{};", level - 1).repeat(10);
        write!(bomb, "<!ENTITY e{level} '{inner}'>").unwrap();
    }
    bomb.push_str("]><score-partwise>&e9;</score-partwise>");
    assert!(musicxml::read(bomb.as_bytes()).is_err());
    let outside =
        "<!DOCTYPE a [<!ENTITY x SYSTEM 'file:///etc/hostname'>]><score-partwise>&x;</score-partwise>";
    assert!(matches!(musicxml::read(outside.as_bytes()), Err(ImportError::Broken { .. })));
}

#[test]
fn the_least_numbers_are_out_of_range_like_others() {
    let score = |attributes: &str, more: &str| {
        let note = "<note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note>";
        let measure = format!("<measure><attributes>{attributes}</attributes>{more}{note}</measure>");
        musicxml::read(format!("<score-partwise><part>{measure}</part></score-partwise>").as_bytes()).unwrap()
    };
    let root = "<root><root-step>C</root-step><root-alter>-128</root-alter></root>";
    for (score, oddity) in [
        (score("<key><fifths>-128</fifths></key>", ""), Oddity::BadKeySignature),
        (
            score("<transpose><chromatic>-32768</chromatic></transpose>", ""),
            Oddity::Unreadable { what: "a transposition".into() },
        ),
        (
            score("", &format!("<harmony>{root}</harmony>")),
            Oddity::Unreadable { what: "a chord symbol".into() },
        ),
    ] {
        assert_eq!(score.warnings.iter().map(|warning| &warning.oddity).collect::<Vec<_>>(), [&oddity]);
    }
}

#[test]
fn limits_are_named() {
    let message = |text: String| musicxml::read(text.as_bytes()).unwrap_err().to_string();
    let parts = message(format!("<score-partwise>{}</score-partwise>", "<part/>".repeat(1001)));
    assert!(parts.starts_with("the score is over the limit of 1000 parts;"), "{parts}");
    let forward = "<measure><forward><duration>60000</duration></forward></measure>";
    let time = message(format!("<score-partwise><part>{forward}{forward}</part></score-partwise>"));
    assert!(time.starts_with("the score is over the limit of 100000 quarter notes of time;"), "{time}");
}

#[test]
fn damaged_files_never_panic() {
    // Every fixture is cut at every seventh byte, and has this byte changed in four ways.
    for entry in fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures")).unwrap() {
        let mut bytes = fs::read(entry.unwrap().path()).unwrap();
        for at in (0..bytes.len()).step_by(7) {
            let _ = musicxml::read(&bytes[..at]);
            for wrong in [b'9', b'-', b'<', 0xFF] {
                let right = std::mem::replace(&mut bytes[at], wrong);
                if let Ok(score) = musicxml::read(&bytes) {
                    assert_invariants(&score);
                    assert_eq!(musicxml::read(&with_white_space_kept(&bytes)), Ok(score));
                }
                bytes[at] = right;
            }
        }
    }
}

/// Makes a zip archive of files in order.
fn archive(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    for (name, bytes) in files {
        writer.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
        writer.write_all(bytes).unwrap();
    }
    writer.finish().unwrap().into_inner()
}

#[test]
fn the_container_names_the_score() {
    let container = br#"<container><rootfiles>
        <rootfile full-path="scores/tune.xml"/>
        <rootfile full-path="tune.pdf" media-type="application/pdf"/>
    </rootfiles></container>"#;
    let tune: &[u8] = b"<tune/>";
    let unpacked = |files: &[(&str, &[u8])]| mxl::unpack(&archive(files)).map(|bytes| bytes == tune);
    let named =
        [("a.xml", b"<other/>".as_slice()), ("META-INF/container.xml", container), ("scores/tune.xml", tune)];
    assert_eq!(unpacked(&named), Ok(true));
    // Without a container, or with one that names no existing file, the first file that looks like a score is taken.
    let mac = ("__MACOSX/tune.xml", b"x".as_slice());
    assert_eq!(unpacked(&[mac, ("picture.png", b"x"), ("tune.musicxml", tune), ("z.xml", b"x")]), Ok(true));
    assert_eq!(unpacked(&[("META-INF/container.xml", container), ("other.xml", tune)]), Ok(true));
    assert_eq!(unpacked(&[("META-INF/container.xml", b"<broken"), ("other.xml", tune)]), Ok(true));
    assert!(matches!(unpacked(&[mac, ("picture.png", b"x")]), Err(ImportError::NotAScore { .. })));
    // An opus in a container gives the same error as one outside.
    let opus =
        mxl::unpack(&archive(&[("META-INF/container.xml", container), ("scores/tune.xml", b"<opus/>")]))
            .unwrap();
    assert!(musicxml::read(&opus).unwrap_err().to_string().contains("an opus, which only lists other files"));
    let whole = archive(&named);
    assert!(matches!(mxl::unpack(&whole[..whole.len() / 2]), Err(ImportError::Broken { .. })));
}

#[test]
fn a_zip_bomb_is_not_unpacked() {
    let zeros = vec![b' '; breathline::import::MAX_BYTES + 1];
    let bomb = archive(&[("tune.xml", &zeros)]);
    assert!(bomb.len() < 1 << 20);
    assert!(matches!(mxl::unpack(&bomb), Err(ImportError::TooLarge { what: "the unpacked score", .. })));
}

/// A packed score that grows more than a hundredfold is refused, unless it is small: a repetitive tune of ten thousand
/// notes also grows that much. So the small score is unpacked, and only refused for its bars.
#[test]
fn a_score_is_unpacked_in_proportion() {
    let bars = |count: usize| {
        let bars = "<measure/>".repeat(count);
        format!("<score-partwise><part-list/><part id=\"P1\">{bars}</part></score-partwise>").into_bytes()
    };
    let small = archive(&[("tune.xml", &bars(1_000_000))]);
    let error =
        breathline::import::import(&small, &breathline::import::ImportOptions::default()).unwrap_err();
    assert!(matches!(error, ImportError::TooLarge { unit: "bars" | "XML nodes", .. }), "{error}");
    let large = archive(&[("tune.xml", &bars(5_000_000))]);
    assert!(matches!(mxl::unpack(&large), Err(ImportError::TooLarge { what: "the unpacked score", .. })));
}

/// Without these limits, files of a few kilobytes could take gigabytes of memory.
#[test]
fn what_grows_faster_than_its_size_is_refused() {
    let limit = |attributes: &str, bars: usize, spaces: &str| {
        let note = format!(
            "<note {attributes}><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note>"
        );
        let bars = "<measure/>".repeat(bars);
        let text = format!(
            "<score-partwise {spaces}><part-list/><part id=\"P1\"><measure number=\"1\"><attributes>\
             <divisions>4</divisions><time><beats>1</beats><beat-type>4</beat-type></time></attributes>{note}</measure>{bars}</part>\
             </score-partwise>"
        );
        match breathline::import::import(text.as_bytes(), &breathline::import::ImportOptions::default()) {
            Err(ImportError::TooLarge { limit, unit, .. }) => Some((limit, unit)),
            other => other.map(|_| None).unwrap(),
        }
    };
    let attributes = |count: usize| (0..count).map(|at| format!("a{at}=\"\" ")).collect::<String>();
    assert_eq!(limit(&attributes(64), 0, ""), None);
    assert_eq!(limit(&attributes(65), 0, ""), Some((64, "attributes")));
    let spaces = |count: usize| (0..count).map(|at| format!("xmlns:n{at}=\"u{at}\" ")).collect::<String>();
    assert_eq!(limit("", 0, &spaces(32)), None);
    assert_eq!(limit("", 0, &spaces(33)), Some((32, "name spaces")));
    assert_eq!(limit("", 49_999, ""), None);
    assert_eq!(limit("", 50_000, ""), Some((50_000, "bars")));
}

/// A text too long to read at a glance is cut, but the object that it names is kept.
#[test]
fn long_texts_are_cut() {
    let long = "é".repeat(100_000);
    let text = format!(
        "<score-partwise><work><work-title>{long}</work-title></work><part-list><score-part id=\"P1\">\
         <part-name>{long}</part-name></score-part></part-list><part id=\"P1\"><measure number=\"1\">\
         <attributes><divisions>1</divisions></attributes>\
         <harmony><root><root-step>C</root-step></root><kind text=\"{long}\">major</kind></harmony>\
         <note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration>\
         <lyric><text>{long}</text></lyric></note></measure></part></score-partwise>"
    );
    let imported =
        breathline::import::import(text.as_bytes(), &breathline::import::ImportOptions::default()).unwrap();
    let melody = &imported.melody;
    let texts = [
        melody.title.as_deref().unwrap(),
        imported.parts[0].name.as_deref().unwrap(),
        &melody.chords[0].quality,
        &melody.notes[0].lyrics[0].text,
    ];
    for text in texts {
        assert_eq!(text.chars().count(), breathline::import::MAX_SHOWN);
        assert!(text.starts_with('é') && text.ends_with('…'));
    }
}

/// Checks the invariants of every score, however odd its file was.
fn assert_invariants(score: &Score) {
    let mut start = Beats::ZERO;
    for bar in &score.bars {
        assert_eq!(bar.start, start, "bars lie end to end");
        assert!(bar.length > Beats::ZERO);
        start = bar.start + bar.length;
    }
    for part in &score.parts {
        let key = |part_note: &PartNote| (part_note.note.onset, !part_note.note.grace);
        assert!(part.notes.is_sorted_by_key(key), "notes are in order, ornaments first");
        assert!(part.signatures.is_sorted_by_key(|key| key.at));
        assert!(part.chords.is_sorted_by_key(|chord| chord.at));
        for PartNote { note, .. } in &part.notes {
            assert!(note.bar < score.bars.len());
            assert!(note.onset >= score.bars[note.bar].start);
            assert_eq!(note.grace, note.duration == Beats::ZERO, "only ornaments take no time");
            assert!(note.spelling.is_none_or(|spelling| spelling.pitch() == Some(note.pitch)));
        }
    }
    let places: Vec<_> = score.warnings.iter().map(|warning| warning.place).collect();
    assert!(places.is_sorted(), "warnings are in order of place");
}

/// Generates an element of a bar, meaningful or not.
fn element() -> impl Strategy<Value = String> {
    let number = prop_oneof![
        40 => (0i64..9).prop_map(|n| n.to_string()),
        5 => (-3i64..3).prop_map(|n| format!("{n}.5")),
        1 => Just("999999999999999".to_owned()),
        1 => Just("x".to_owned()),
    ];
    let word = |words: &'static [&'static str]| prop::sample::select(words);
    let note = (
        word(&["", "<chord/>", "<grace/>", "<cue/>", "<grace/><chord/>"]),
        word(&["C", "F", "B"]),
        number.clone(),
        number.clone(),
        word(&["", "<tie type='start'/>", "<tie type='stop'/>", "<tie type='stop'/><tie type='start'/>"]),
        word(&["", "<voice>2</voice>", "<voice>2</voice><staff>2</staff>", "<staff>3</staff>"]),
    )
        .prop_map(|(kind, step, octave, duration, tie, voice)| {
            format!(
                "<note>{kind}<pitch><step>{step}</step><octave>{octave}</octave></pitch>\
                 <duration>{duration}</duration>{tie}{voice}</note>"
            )
        });
    let with_number = |template: &'static str| number.clone().prop_map(move |n| template.replace('#', &n));
    prop_oneof![
        8 => note,
        1 => with_number("<note><rest measure='yes'/><duration>#</duration></note>"),
        1 => with_number("<backup><duration>#</duration></backup>"),
        1 => with_number("<forward><duration>#</duration></forward>"),
        1 => with_number("<attributes><divisions>#</divisions></attributes>"),
        1 => with_number("<attributes><key><fifths>#</fifths></key><transpose><chromatic>#</chromatic></transpose></attributes>"),
        1 => with_number("<attributes><time><beats>#</beats><beat-type>#</beat-type></time></attributes>"),
        1 => with_number("<barline location='left'><ending number='#' type='start'/></barline>"),
        1 => with_number("<barline><ending number='#' type='stop'/><repeat direction='backward' times='#'/></barline>"),
        1 => with_number("<sound tempo='#' tocoda='#' coda='#'/>"),
        1 => with_number("<harmony><root><root-step>C</root-step></root><offset>#</offset></harmony>"),
    ]
}

/// Generates a melody as pairs of a length in twelfths of a quarter and a MIDI pitch, or `None` for a rest.
fn melody() -> impl Strategy<Value = Vec<(i64, Option<u8>)>> {
    prop::collection::vec((1i64..60, prop::option::weighted(0.8, 40u8..90)), 1..30)
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_a_file_says_the_score_is_in_order(
        parts in prop::collection::vec(prop::collection::vec(prop::collection::vec(element(), 0..12), 1..5), 1..4)
    ) {
        let mut text = "<score-partwise>".to_owned();
        for bars in parts {
            text.push_str("<part>");
            for bar in bars {
                write!(text, "<measure number='1'>{}</measure>", bar.concat()).unwrap();
            }
            text.push_str("</part>");
        }
        text.push_str("</score-partwise>");
        match musicxml::read(text.as_bytes()) {
            Ok(score) => {
                assert_invariants(&score);
                prop_assert_eq!(musicxml::read(text.as_bytes()), Ok(score));
            }
            Err(error) => {
                let too_long = matches!(error, ImportError::TooLarge { unit: "quarter notes of time", .. });
                prop_assert!(too_long, "{error}");
            }
        }
    }

    /// The melody is cut at the barlines and tied over them, in any divisions, and must be read back unchanged.
    #[test]
    fn a_melody_written_down_reads_back(melody in melody(), fineness in 1i64..9, beats in 1i64..8) {
        let bar = beats * 12;
        let mut text = format!(
            "<score-partwise><part><measure><attributes><divisions>{}</divisions>\
             <time><beats>{beats}</beats><beat-type>4</beat-type></time></attributes>",
            12 * fineness
        );
        let (mut now, mut expected) = (0, Vec::new());
        for &(length, midi) in &melody {
            if let Some(midi) = midi {
                expected.push((Beats::new(now, 12), Beats::new(length, 12), midi));
            }
            let end = now + length;
            while now < end {
                if now % bar == 0 && now > 0 {
                    text.push_str("</measure><measure>");
                }
                let piece = (end - now).min(bar - now % bar);
                let (stop, start) = (now > end - length, now + piece < end);
                now += piece;
                let sound = match midi {
                    // Every note is written as a C with up to eleven sharps.
                    Some(midi) => format!(
                        "<pitch><step>C</step><alter>{}</alter><octave>{}</octave></pitch>",
                        midi % 12, i64::from(midi / 12) - 1
                    ),
                    None => "<rest/>".to_owned(),
                };
                let tie = |on: bool, kind| if on && midi.is_some() { format!("<tie type='{kind}'/>") } else { String::new() };
                write!(
                    text, "<note>{sound}<duration>{}</duration>{}{}</note>",
                    piece * fineness, tie(stop, "stop"), tie(start, "start")
                ).unwrap();
            }
        }
        text.push_str("</measure></part></score-partwise>");
        let score = musicxml::read(text.as_bytes()).unwrap();
        assert_invariants(&score);
        let found: Vec<_> = score.parts[0].notes.iter()
            .map(|PartNote { note, .. }| (note.onset, note.duration, note.pitch.midi()))
            .collect();
        prop_assert_eq!(found, expected);
    }
}
