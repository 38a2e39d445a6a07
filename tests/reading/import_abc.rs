//! ABC as musicians type it: each test has one feature or one kind of mistake in a few lines. Paragraph numbers refer
//! to the ABC standard 2.1 (December 2011); "common practice, no source" marks rules that the standard does not state.

#![allow(clippy::unwrap_used, reason = "test helpers fail by panicking too")]

use breathline::{
    import::{
        Book, Format, ImportError, ImportOptions, Imported, MAX_NOTES, Oddity, TextPosition, TuneChoice,
        import,
    },
    melody::{key::Mode, signs},
    time::{Beats, Meter},
};

/// Makes a tune in C from lines of music; the unit is an eighth.
fn tune(music: &str) -> String {
    format!("X:1\nT:A\nM:4/4\nL:1/8\nK:C\n{music}\n")
}

fn read_with(text: impl AsRef<[u8]>, options: &ImportOptions) -> Imported {
    import(text.as_ref(), options).unwrap()
}

fn read(text: impl AsRef<[u8]>) -> Imported {
    read_with(text, &ImportOptions::default())
}

fn unfolded(text: &str) -> Imported {
    read_with(text, &ImportOptions { unfold: true, ..ImportOptions::default() })
}

/// Writes the notes of a melody as names with their lengths in eighths; a grace note has no length.
fn notes(imported: &Imported) -> String {
    let note = |note: &breathline::melody::Note| {
        let name = note.spelling.unwrap().to_string();
        let length = note.duration.times(2, 1);
        if note.grace { format!("({name})") } else { format!("{name}:{length}") }
    };
    imported.melody.notes.iter().map(note).collect::<Vec<_>>().join(" ")
}

fn pitches(imported: &Imported) -> Vec<u8> {
    imported.melody.notes.iter().map(|note| note.pitch.midi()).collect()
}

/// Checks that the music gives these notes, and no warnings except those about the lengths of bars, which these lines
/// do not fill.
#[track_caller]
fn check(music: &str, expected: &str) {
    let imported = read(tune(music));
    assert_eq!(notes(&imported), expected, "{music}");
    let odd = imported.warnings.iter().filter(|warning| !matches!(warning.oddity, Oddity::BarLength { .. }));
    assert_eq!(odd.count(), 0, "{music}: {:?}", imported.warnings);
}

/// Checks that the music gives these notes, and that exactly these texts, each with its line and column, are reported
/// as unreadable.
#[track_caller]
fn check_odd(music: &str, expected: &str, odd: &[(&str, u32, u32)]) {
    let imported = read(tune(music));
    assert_eq!(notes(&imported), expected, "{music}");
    let found: Vec<(String, TextPosition)> = imported
        .warnings
        .iter()
        .filter_map(|warning| match &warning.oddity {
            Oddity::Unreadable { what } => Some((what.clone(), warning.text.unwrap())),
            _ => None,
        })
        .collect();
    let odd: Vec<(String, TextPosition)> =
        odd.iter().map(|&(what, line, column)| (what.to_owned(), TextPosition::Line(line, column))).collect();
    assert_eq!(found, odd, "{music}");
}

/// Checks the order in which an unfolded tune is played, by the letters of its notes.
#[track_caller]
fn check_order(music: &str, expected: &str) {
    let letters: String = unfolded(&tune(music))
        .melody
        .notes
        .iter()
        .map(|note| format!("{:?}", note.spelling.unwrap().step))
        .collect();
    assert_eq!(letters, expected, "{music}");
}

#[test]
fn a_tune_is_known_by_its_content() {
    let imported = read(tune("CDEF GABc|"));
    assert_eq!((imported.format, imported.warnings.len()), (Format::Abc, 0));
    assert_eq!(imported.melody.title.as_deref(), Some("A"));
    for text in ["T:A\nK:C\nC8|", "% a comment\n\nT:A\nK:C\nC8|", "\u{feff}X:1\nK:C\nC8|"] {
        assert_eq!(notes(&read(text)), "C4:8", "{text}");
    }
    // Neither a letter nor a picture that contains these characters is ABC.
    for bytes in ["Dear all,\nsee you\n".as_bytes(), b"\x89PNG\r\n\x1a\n\0\0\nK:C\nC8|"] {
        assert!(matches!(import(bytes, &ImportOptions::default()), Err(ImportError::Foreign { .. })));
    }
}

#[test]
fn loose_reading_is_the_rule_and_a_version_changes_nothing() {
    // §2.1, 12.
    for version in ["", "%abc\n", "%abc-1.6\n", "%abc-2.1\n"] {
        let imported = read(format!("{version}{}", tune("C2>D2!E4|F8")));
        assert_eq!((notes(&imported).as_str(), imported.warnings.len()), ("C4:3 D4:1 E4:4 F4:8", 0));
    }
}

#[test]
fn white_space_ends_a_tune_and_a_comment_does_not() {
    // §2.2.4, 2.2.5.
    check("C2|\n% a comment\nD2|", "C4:2 D4:2");
    check("C2|\n \t\nD2|", "C4:2");
    check("C2 % E2\n|D2", "C4:2 D4:2");
    // An empty line before the music does not end the tune: it is a mistake (common practice, no source).
    assert_eq!(notes(&read("X:1\nT:A\n\nL:1/8\nK:C\n\nC2|\n")), "C4:2");
}

#[test]
fn what_the_header_of_a_file_says_holds_for_each_of_its_tunes() {
    // §2.2.2.
    let text = "L:1/4\nM:3/4\n\nX:1\nL:1/8\nK:C\nC\n\nX:2\nK:C\nC\n";
    let book = Book::open(text.as_bytes()).unwrap();
    let of = |index| book.read(index, &ImportOptions::default()).unwrap();
    assert_eq!([notes(&of(0)), notes(&of(1))], ["C4:1", "C4:2"]);
    assert_eq!(of(1).melody.bars[0].meter, Some(Meter { beats: 3, unit: 4 }));
}

#[test]
fn every_end_of_a_line_is_one() {
    // §8.
    let text = tune("C2|\nD2|");
    for end in ["\r", "\r\n"] {
        assert_eq!(notes(&read(text.replace('\n', end))), "C4:2 D4:2");
    }
}

#[test]
fn the_first_key_ends_the_header() {
    // §3.1.14: fields after the key belong to the music.
    let imported = read("X:1\nL:1/8\nK:C\nC\nL:1/4\nK:D\nF\n");
    assert_eq!(notes(&imported), "C4:1 F#4:2");
    assert_eq!(imported.melody.signatures.len(), 2);
    // Headers as in the old standard (§10.5.1), and mistaken headers without a number or without a key.
    for text in ["X:\nL:1/8\nK:C\nC", "X:1\nL:1/8\nC\n", "X:x\nL:1/8\nK:\nC"] {
        assert_eq!(notes(&read(text)), "C4:1", "{text}");
    }
}

#[test]
fn an_unknown_field_is_passed_over() {
    // §3.
    check_odd("C\nE:9\nD", "C4:1 D4:1", &[("`E:9`", 7, 1)]);
    check_odd("C[E:9]D", "C4:1 D4:1", &[("`E:9`", 6, 2)]);
    // A line of music can begin like a field.
    check("C|D\nG:|A", "C4:1 D4:1 G4:1 A4:1");
}

#[test]
fn the_unit_follows_from_the_metre_until_the_tune_says_one() {
    // §3.1.7.
    let cases = [
        ("M:2/4\n", "1/2"),
        ("M:3/4\n", "1"),
        ("M:6/8\n", "1"),
        ("M:C\n", "1"),
        ("", "1"),
        ("M:none\n", "1"),
        ("M:2/4\nL:1/4\n", "2"),
        ("L:1/16\nM:4/4\n", "1/2"),
    ];
    for (header, length) in cases {
        assert_eq!(notes(&read(format!("X:1\n{header}K:C\nC\n"))), format!("C4:{length}"), "{header}");
    }
    assert_eq!(notes(&read("X:1\nM:4/4\nK:C\nC8|[M:2/4]C|\n")), "C4:8 C4:1");
}

#[test]
fn metres_in_all_their_forms() {
    // §3.1.6.
    let meter = |text: &str| read(format!("X:1\n{text}K:C\nC8|C8|\n")).melody.bars[0].meter;
    let of = |beats, unit| Some(Meter { beats, unit });
    let cases = [
        ("M:4/4\n", of(4, 4)),
        ("M:C\n", of(4, 4)),
        ("M:C|\n", of(2, 2)),
        ("M: 6/8 \n", of(6, 8)),
        ("", None),
        ("M:none\n", None),
        ("M:\n", None),
        ("M:(2+3+2)/8\n", of(7, 8)),
        ("M:2+3/8\n", of(5, 8)),
        ("M:3/4+2/8\n", of(8, 8)),
        ("M:9/0\n", None),
        ("M:waltz\n", None),
    ];
    for (text, expected) in cases {
        assert_eq!(meter(text), expected, "{text}");
    }
    let odd = read("X:1\nM:waltz\nK:C\nC\n").warnings;
    assert_eq!(odd[0].oddity, Oddity::Unreadable { what: "`M:waltz`".into() });
    assert_eq!(odd[0].text, Some(TextPosition::Line(2, 1)));
}

#[test]
fn tempo_in_all_its_forms() {
    // §3.1.8, 10.1.
    let tempo = |text: &str| read(format!("X:1\nL:1/8\nQ:{text}\nK:C\nC\n")).melody.tempo;
    let cases = [
        ("1/4=120", 500_000),
        ("3/8=60", 666_666),
        ("1/4 3/8 1/4 3/8=40", 300_000),
        ("\"Allegro\" 1/4=120", 500_000),
        ("1/4=120 \"Allegro\"", 500_000),
        ("120", 1_000_000),
        ("C=120", 1_000_000),
        ("C3=60", 666_666),
        ("1/4=99.5", 603_015),
        ("1/4=ca. 120", 500_000),
    ];
    for (text, micros) in cases {
        assert_eq!(tempo(text).micros_per_quarter(Beats::ZERO), micros, "{text}");
    }
    assert!(!tempo("\"Allegro\"").is_stated());
    let changes = read("X:1\nL:1/4\nQ:1/4=120\nK:C\nC4|[Q:1/4=60]C4|\n").melody.tempo;
    let changes: Vec<(Beats, u32)> = changes.changes().collect();
    assert_eq!(changes, [(Beats::ZERO, 500_000), (Beats::quarters(4), 1_000_000)]);
}

#[test]
fn keys_in_all_their_forms() {
    // §3.1.14.
    let key = |text: &str| {
        let signatures = read(format!("X:1\nK:{text}\nC\n")).melody.signatures;
        signatures.first().map(|first| (first.sharps, first.mode))
    };
    use Mode::{Dorian, Locrian, Lydian, Major, Minor, Mixolydian, Phrygian};
    let cases = [
        ("C", 0, Major),
        ("Gmaj", 1, Major),
        ("G major", 1, Major),
        ("Gion", 1, Major),
        ("Am", 0, Minor),
        ("A MINOR", 0, Minor),
        ("EM", 1, Minor),
        ("Aaeo", 0, Minor),
        ("D dor", 0, Dorian),
        ("DDorian", 0, Dorian),
        ("G mix", 0, Mixolydian),
        ("GMIXolydian", 0, Mixolydian),
        ("F lyd", 0, Lydian),
        ("E phr", 0, Phrygian),
        ("Bloc", 0, Locrian),
        ("Bb", -2, Major),
        ("F#m", 3, Minor),
        ("D clef=bass", 2, Major),
        ("D treble", 2, Major),
        ("D % two sharps", 2, Major),
        ("Gq", 1, Major),
    ];
    for (text, sharps, mode) in cases {
        assert_eq!(key(text), Some((sharps, Some(mode))), "{text}");
    }
    for text in ["", "none", "clef=bass", "HP"] {
        assert_eq!(key(text), None, "{text}");
    }
}

#[test]
fn accidentals_in_a_key_change_it_or_make_it() {
    // §3.1.14.
    let of = |key: &str| notes(&read(format!("X:1\nL:1/8\nK:{key}\nFBe\n")));
    assert_eq!(of("D Phr ^f"), "F#4:1 Bb4:1 Eb5:1");
    assert_eq!(of("D =f"), "F4:1 B4:1 E5:1");
    assert_eq!(of("D exp _b"), "F4:1 Bb4:1 E5:1");
    // The key of the pipes has no signature, but F and C are sharp.
    assert_eq!(notes(&read("X:1\nL:1/8\nK:HP\nFcg\n")), "F#4:1 C#5:1 G5:1");
}

#[test]
fn octaves_by_letter_and_marks() {
    // §4.1.
    check("C,, C, C c c' c''", "C2:1 C3:1 C4:1 C5:1 C6:1 C7:1");
    check("c, C' c,',", "C4:1 C5:1 C4:1");
}

#[test]
fn an_accidental_holds_to_the_barline_in_all_octaves() {
    // §4.2, 11.3.
    check("^Ff F,|F", "F#4:1 F#5:1 F#3:1 F4:1");
    check("^^F__B=B ^F_B", "F##4:1 Bbb4:1 B4:1 F#4:1 Bb4:1");
    let of = |reach: &str| notes(&read(tune(&format!("I:propagate-accidentals {reach}\n^FFf"))));
    assert_eq!(
        [of("not"), of("octave"), of("pitch")],
        ["F#4:1 F4:1 F5:1", "F#4:1 F#4:1 F5:1", "F#4:1 F#4:1 F#5:1"]
    );
}

#[test]
fn a_tie_takes_its_accidental_over_the_barline() {
    // §4.11; the rule that the second note needs no accidental is common practice, no source.
    let imported = read(tune("^F4-|F4 F4|"));
    assert_eq!(notes(&imported), "F#4:8 F4:4");
}

#[test]
fn lengths_in_all_their_forms() {
    // §4.3.
    check("C2 C C/2 C/ C// C/4 C3/2 C3/4", "C4:2 C4:1 C4:1/2 C4:1/2 C4:1/4 C4:1/4 C4:1 1/2 C4:3/4");
}

#[test]
fn broken_rhythm_of_any_depth() {
    // §4.4, 4.12.
    check("C>D C<D C>>D C<<<D", "C4:1 1/2 D4:1/2 C4:1/2 D4:1 1/2 C4:1 3/4 D4:1/4 C4:1/8 D4:1 7/8");
    check("C2>D2 C{E}>D C>{E}D", "C4:3 D4:1 C4:1 1/2 (E4) D4:1/2 C4:1 1/2 (E4) D4:1/2");
    check("C>D<E", "C4:1 1/2 D4:1/4 E4:1 1/2");
    check("(C>D) C->C \"4\"C\"4\">D", "C4:1 1/2 D4:1/2 C4:2 C4:1 1/2 D4:1/2");
    check_odd("[CE]>D", "E4:1 1/2 D4:1/2", &[]);
    check_odd("|>C", "C4:1", &[("`>`", 6, 2)]);
    // The standard does not define `>` between notes of unequal length, and the bar's length must not change.
    check_odd("C>D/E/ C<\"4\"{e}D3", "C4:1 D4:1/2 E4:1/2 C4:1 (E5) D4:3", &[("`>`", 6, 2), ("`<`", 6, 9)]);
}

#[test]
fn rests_and_spaces() {
    // §4.5, 6.1.2.
    let imported = read(tune("z2C x C y2C|Z2|C8|X|C8|"));
    let onsets: Vec<String> = imported.melody.notes.iter().map(|note| note.onset.to_string()).collect();
    assert_eq!(onsets, ["1", "2", "2 1/2", "11", "19"]);
    assert_eq!(imported.melody.bars.len(), 6);
}

#[test]
fn what_transposes_sounds_and_what_draws_does_not() {
    // §4.6.
    let cases = [
        ("C clef=treble", 60),
        ("C clef=treble-8", 48),
        ("C treble+8", 72),
        ("C bass", 60),
        ("C octave=-1", 48),
        ("C transpose=2", 62),
        ("C middle=d", 60),
        ("C clef=bass-8 octave=1", 60),
    ];
    for (key, midi) in cases {
        assert_eq!(pitches(&read(format!("X:1\nK:{key}\nC\n"))), [midi], "{key}");
    }
    let imported = read("X:1\nL:1/8\nK:C transpose=2\n\"Am\"CF^F\n");
    assert_eq!(notes(&imported), "D4:1 G4:1 G#4:1");
    assert_eq!(
        (imported.melody.signatures[0].sharps, imported.melody.chords[0].to_string()),
        (2, "Bm".to_owned())
    );
    assert_eq!(pitches(&read("X:1\n%%MIDI transpose -12\nK:C\nC\n")), [48]);
}

#[test]
fn back_quotes_and_reserved_signs_are_no_music() {
    // §4.7, 8.1.
    check("C``D#E*F;G?A@B$c", "C4:1 D4:1 E4:1 F4:1 G4:1 A4:1 B4:1 C5:1");
}

#[test]
fn bar_lines_of_all_kinds() {
    // §4.8.
    let bars = |music: &str| {
        let bars = read(tune(music)).melody.bars;
        let signs = bars.iter().map(|bar| {
            let start = if bar.marks.repeat_start { "start " } else { "" };
            let double = if bar.marks.section_end { " double" } else { "" };
            let end = bar.marks.repeat_end.map_or(String::new(), |times| format!(" {times} times"));
            format!("{start}bar{end}{double}")
        });
        signs.collect::<Vec<_>>().join(", ")
    };
    for lines in ["::", ":|:", ":||:", ":]|[:", "|::|"] {
        assert_eq!(
            bars(&format!("C8|:D8{lines}E8:|")),
            "bar, start bar 2 times, start bar 2 times",
            "{lines}"
        );
    }
    assert_eq!(bars("|:C8:|]"), "start bar 2 times");
    assert_eq!(bars("|:C8[|]:|"), "start bar 2 times");
    assert_eq!(bars("|::C8::|"), "start bar 3 times");
    assert_eq!(bars("C8||D8|]"), "bar double, bar double");
    assert_eq!(bars("C8[|]D8.|E8|"), "bar, bar, bar");
    assert_eq!(bars("|C8|\n|D8|"), "bar, bar");
    check_odd(":|C8|", "C4:8", &[("a repeat without music", 6, 3)]);
}

#[test]
fn a_repeat_without_a_start_goes_to_the_last_double_bar_repeat_or_beginning() {
    // §4.8.
    check_order("C8|D8:|E8|", "CDCDE");
    check_order("C8||D8:|E8:|", "CDDEE");
    check_order("|:C8:|D8|E8:|", "CCDEDE");
    check_order("|:C8||D8:|", "CDCD");
}

#[test]
fn endings_by_number() {
    // §4.9, 4.10.
    check_order("|:C8|1D8:|2E8|]", "CDCE");
    check_order("|:C8|[1D8:|[2E8|]", "CDCE");
    check_order("|:C8 [1D8:|[2 E8||F8|", "CDCEF");
    check_order("|:C8|1,3D8:|2,4E8:|F8|", "CDCECDCEF");
    check_order("|:C8|[1-3 D8:|4E8|]", "CDCDCDCE");
    // `| 1` does not begin an ending.
    check_odd("C8| 1D8|", "C4:8 D4:8", &[("`1`", 6, 5)]);
    let ended = read(tune("|:C8|1D8:|2E8|F8||G8|"));
    let endings: Vec<usize> = ended.melody.bars.iter().map(|bar| bar.marks.ending.len()).collect();
    assert_eq!(endings, [0, 1, 1, 1, 0]);
}

#[test]
fn ties_and_slurs_dotted_too() {
    // §4.11.
    check("C2-C2 C2-|C2", "C4:4 C4:4");
    check("C2.-C2 .(CD)", "C4:4 C4:1 D4:1");
    let imported = read(tune("(C(DE)F)GA"));
    let breaths = signs::places_to_breathe(&imported.melody.notes);
    assert_eq!(breaths, [false, false, false, true, false, false]);
}

#[test]
fn tuplets_by_their_three_numbers() {
    // §4.13.
    check("(3CDE", "C4:2/3 D4:2/3 E4:2/3");
    check("(2CD(4CDEF", "C4:1 1/2 D4:1 1/2 C4:3/4 D4:3/4 E4:3/4 F4:3/4");
    check("(5CDEFG", "C4:2/5 D4:2/5 E4:2/5 F4:2/5 G4:2/5");
    check("(3:2:2C4D2", "C4:2 2/3 D4:1 1/3");
    check("(3::4CDEFG", "C4:2/3 D4:2/3 E4:2/3 F4:2/3 G4:1");
    check("(3:4CDEF", "C4:1 1/3 D4:1 1/3 E4:1 1/3 F4:1");
    // Spaces, grace notes, rests and a broken rhythm may occur inside a tuplet.
    check("(3 C {E}D z C", "C4:2/3 (E4) D4:2/3 C4:1");
    check("(3C>DE", "C4:1 D4:1/3 E4:2/3");
    // In a compound metre, `(5` means five in the time of three.
    let imported = read("X:1\nM:6/8\nL:1/8\nK:C\n(5CDEFG\n");
    assert_eq!(notes(&imported), "C4:3/5 D4:3/5 E4:3/5 F4:3/5 G4:3/5");
}

#[test]
fn decorations_are_no_notes() {
    // §4.14, 4.16, 12.2.
    check("~C .D !trill!E TF uG vA !fermat:a!B +fermata+c", "C4:1 D4:1 E4:1 F4:1 G4:1 A4:1 B4:1 C5:1");
    // Older files use a single `!` as a line break.
    check("CD!EF|G", "C4:1 D4:1 E4:1 F4:1 G4:1");
    // `U:` gives a letter another meaning.
    let breath = read(tune("U:n=!breath!\nnCD"));
    assert!(breath.melody.notes[0].breath_after && breath.warnings.is_empty());
    check_odd("CqD", "C4:1 D4:1", &[("`q`", 6, 2)]);
    check_odd("C\u{e9}D", "C4:1 D4:1", &[("`\u{e9}`", 6, 2)]);
}

#[test]
fn graces_have_no_time_and_lead_to_their_note() {
    // §4.12.
    check("{cd}C {/e2}D", "(C5) (D5) C4:1 (E5) D4:1");
    check_odd("{cC", "C5:1 C4:1", &[("`{`", 6, 1)]);
}

#[test]
fn a_chord_lasts_as_its_first_note_and_its_top_is_the_melody() {
    // §4.17.
    let imported = read(tune("[CEG]2 [C2E4]2 [CE-]E [^F,C]/"));
    assert_eq!(notes(&imported), "G4:2 E4:4 E4:2 C4:1/2");
    check_odd("[CE|C", "E4:1 C4:1", &[("`[`", 6, 1)]);
}

#[test]
fn a_text_over_the_notes_is_a_chord_symbol_if_it_can_be_one() {
    // §4.18, 4.19; the rule that digits are fingerings is common practice, no source.
    let imported = read(tune("\"Am7/G\"C\"^slowly\"D\"4\"E\"F#\"F\"Fine\"G\"N.C.\"A\"Bb\"B\"^D.C.\"c"));
    let chords: Vec<String> = imported.melody.chords.iter().map(ToString::to_string).collect();
    assert_eq!(chords, ["Am7/G", "F#", "N.C.", "Bb"]);
    assert_eq!(imported.melody.chords[1].at, Beats::new(3, 2));
    assert!(imported.melody.bars[0].marks.fine && imported.melody.bars[0].marks.da_capo);
    assert_eq!(imported.warnings, []);
}

#[test]
fn jumps_by_their_signs() {
    // §4.14.
    check_order("C8|D8!fine!|E8!D.C.!|", "CDECD");
    check_order("C8|SD8|E8!D.S.!|", "CDEDE");
    check_order("C8|D8!dacoda!|E8!D.C.!|OF8|", "CDECDF");
}

/// Returns the syllables of a verse, with `-` after a syllable with a hyphen, `_` after a held one, and `*` for a note
/// without a syllable.
fn words(imported: &Imported, verse: u8) -> String {
    let sung = imported.melody.notes.iter().map(|note| {
        note.lyrics.iter().find(|lyric| lyric.verse == verse).map_or("*".to_owned(), |lyric| {
            format!(
                "{}{}{}",
                lyric.text,
                if lyric.hyphen { "-" } else { "" },
                if lyric.extend { "_" } else { "" }
            )
        })
    });
    sung.collect::<Vec<_>>().join(" ")
}

#[test]
fn words_under_notes() {
    // §5.1.
    let cases = [
        ("CDEF|\nw:A-ma-zing grace", "A- ma- zing grace"),
        ("CDEF|\nw:A - B C", "A * B C"),
        ("CDEF|\nw:time__ by", "time_ * * by"),
        ("CDEF|\nw:a * b c", "a * b c"),
        ("CDEF|\nw:of~the day\\-time", "of the day-time * *"),
        ("CD|EF|\nw:a|b c", "a * b c"),
        ("CD|EF|\nw:a b|c", "a b c *"),
        ("C{D}E z F|\nw:a b c", "a * b c"),
        ("[CE]D|\nw:a b", "a b"),
        ("CD|\nEF|\nw:a b", "* * a b"),
        ("CD\\\nEF|\nw:a b c d", "a b c d"),
        ("CDEF|\nw:a b\n+:c d", "a b c d"),
        ("CD|\nw:\\'et\\'e &eacute;t\\u00e9", "\u{e9}t\u{e9} \u{e9}t\u{e9}"),
    ];
    for (music, expected) in cases {
        let imported = read(tune(music));
        assert_eq!(words(&imported, 1), expected, "{music}");
        assert!(
            imported.warnings.iter().all(|warning| !matches!(warning.oddity, Oddity::WordsWithoutNote)),
            "{music}"
        );
    }
    // §5.2; each of the two halves of a tied note takes a syllable or a hold.
    let verses = read(tune("C2-C2 D4|\nw:a _ b\nw:c d e"));
    assert_eq!([words(&verses, 1), words(&verses, 2)], ["a_ b", "c d e"]);
    let odd = read(tune("C8|\nw:too ma-ny")).warnings;
    assert_eq!((&odd[0].oddity, odd[0].text), (&Oddity::WordsWithoutNote, Some(TextPosition::Line(7, 1))));
}

#[test]
fn symbols_under_notes_and_words_below_the_tune() {
    // §4.15; `W:` lines belong to no notes.
    let imported = read(tune("CDEF|\ns:\"Am\" * | \"G\"\nW:Once upon a time"));
    assert_eq!(imported.melody.chords.len(), 1);
    assert_eq!(imported.melody.chords[0].to_string(), "Am");
}

#[test]
fn a_line_goes_on_behind_a_backslash() {
    // §2.2.6.
    check("C2\\\nD2|\\\nE2", "C4:2 D4:2 E4:2");
}

#[test]
fn voices_are_parts_and_overlays_are_voices() {
    // §7, 7.4.
    let text = "X:1\nL:1/8\nM:4/4\nV:1 name=\"Tune\"\nV:2 name=\"Bass\" clef=bass octave=-1\nK:C\nV:1\nC8|\nV:2\nE8|\n[V:1]D8|\n[V:2]F8|\n";
    let imported = read(text);
    let names: Vec<_> = imported.parts.iter().map(|part| part.name.as_deref()).collect();
    assert_eq!(names, [Some("Tune"), Some("Bass")]);
    assert_eq!(notes(&imported), "C4:8 D4:8");
    let second = read_with(text, &ImportOptions { part: Some(2.into()), ..ImportOptions::default() });
    assert_eq!(notes(&second), "E3:8 F3:8");
    let overlay =
        read_with(tune("c8&C8|d8&D8|"), &ImportOptions { voice: Some(2), ..ImportOptions::default() });
    assert_eq!((overlay.parts[0].voices, notes(&overlay).as_str()), (2, "C4:8 D4:8"));
}

#[test]
fn macros_stand_for_longer_music() {
    // §9.
    let text = |lines: &str| format!("X:1\nL:1/8\n{lines}");
    assert_eq!(notes(&read(text("m:~g2={a}g{f}g\nK:C\n~g2 C\n"))), "(A5) G5:1 (F5) G5:1 C4:1");
    assert_eq!(notes(&read(text("m:~n2=n/o/m\nK:C\n~c2 ~B2\n"))), "C5:1/2 D5:1/2 B4:1 B4:1/2 C5:1/2 A4:1");
}

#[test]
fn parts_are_played_in_their_order_on_request() {
    // §3.1.9.
    let text = "X:1\nL:1/8\nP:A(AB)2C\nK:C\nP:A\nC8|\nP:B\nD8|\nP:C\nE8|\n";
    assert_eq!(notes(&read(text)), "C4:8 D4:8 E4:8");
    let played = unfolded(text);
    assert_eq!((notes(&played).as_str(), played.unfolded), ("C4:8 C4:8 D4:8 C4:8 D4:8 E4:8", true));
}

#[test]
fn text_between_tunes_and_text_to_be_set_is_no_music() {
    // §2.2.3.
    check("C8|\n%%begintext\nDEF\n%%endtext\nD8|", "C4:8 D4:8");
    let text = format!("A letter.\n\nCDEF is no tune\n\n{}\nGABc\n", tune("C8|"));
    assert_eq!(notes(&read(text)), "C4:8");
}

#[test]
fn letters_of_all_encodings() {
    // §8.2.
    let title = |bytes: &[u8]| read([b"X:1\nT:", bytes, b"\nK:C\nC\n"].concat()).melody.title.unwrap();
    for bytes in
        ["\u{e9}t\u{e9}".as_bytes(), b"\xe9t\xe9", b"\\'et\\'e", b"&eacute;t&#233;", b"\\u00e9t\\u00E9"]
    {
        assert_eq!(title(bytes), "\u{e9}t\u{e9}");
    }
    assert_eq!(title(b"50\\% A\\&B C&D"), "50% A&B C&D");
    let claimed = b"%%abc-charset iso-8859-2\nX:1\nT:\xb1\nK:C\nC\n";
    assert_eq!(read(claimed).melody.title.as_deref(), Some("\u{105}"));
}

#[test]
fn bars_are_counted_as_musicians_count_them() {
    let imported = read("X:1\nM:3/4\nL:1/4\nK:C\nC|CDE|CD:|\n|:E|CDE|CD|]\n");
    let numbers: Vec<u32> = imported.melody.bars.iter().map(|bar| bar.number).collect();
    assert_eq!(numbers, [0, 1, 2, 2, 3, 4]);
    assert_eq!(imported.warnings, []);
}

/// `corpus/scribe`, an independent ABC reader in another language, wrote the scores of the corpus and the demo from
/// these sources. So both readings must agree.
#[test]
fn each_source_reads_as_the_score_that_was_written_from_it() {
    let mut tunes = 0;
    for folder in ["corpus", "demo"] {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
        let mut sources: Vec<_> =
            std::fs::read_dir(folder.join("source")).unwrap().map(|entry| entry.unwrap().path()).collect();
        sources.sort();
        for source in sources {
            let name = source.file_stem().unwrap().to_str().unwrap();
            let score = read(std::fs::read(folder.join(format!("{name}.musicxml"))).unwrap());
            let abc = read(std::fs::read(&source).unwrap());
            assert_eq!(abc.warnings, [], "{name}");
            let mut expected = score.melody;
            expected.bars.iter_mut().for_each(|bar| bar.written.clear());
            if abc.melody.credits.creators.is_empty() {
                // The score of a tune without a maker states "Traditional".
                expected.credits.creators.clear();
            }
            for (index, (got, wanted)) in abc.melody.notes.iter().zip(&expected.notes).enumerate() {
                assert_eq!(got, wanted, "{name}: note {index}");
            }
            for (got, wanted) in abc.melody.bars.iter().zip(&expected.bars) {
                assert_eq!(got, wanted, "{name}");
            }
            // MusicXML has no element for the type of tune.
            expected.rhythm = abc.melody.rhythm.clone();
            assert_eq!(abc.melody, expected, "{name}");
            tunes += 1;
        }
    }
    assert!(tunes >= 40, "{tunes}");
}

const BOOK: &str = "X:1\nT:The First\nK:D\nd8|\n\nX:7\nT:L'\u{c9}t\u{e9}\nK:Gm\ng8|\n\nX:7\nT:Summer\nK:C\nc8|\n\nT:No number\nK:C\ne8|\n";

#[test]
fn a_file_of_many_tunes_wants_a_choice() {
    let choose = |tune: Option<&str>| {
        let tune = tune.map(|tune| tune.parse::<TuneChoice>().unwrap());
        import(BOOK.as_bytes(), &ImportOptions { tune, ..ImportOptions::default() })
    };
    let several = |result: Result<Imported, ImportError>| match result {
        Err(ImportError::SeveralTunes { tunes, .. }) => {
            let tunes = tunes.iter().map(|tune| {
                let key = tune.key.map_or("none".to_owned(), |key| key.to_string());
                format!("{} {} ({key})", tune.choice(), tune.title.as_deref().unwrap())
            });
            tunes.collect::<Vec<_>>()
        }
        other => vec![format!("{other:?}")],
    };
    let all = [
        "1 The First (D major)",
        "7-1 L'\u{c9}t\u{e9} (G minor)",
        "7-2 Summer (C major)",
        "4 No number (C major)",
    ];
    assert_eq!(several(choose(None)), all);
    for (tune, pitch) in [("1", 74), ("7-2", 72), ("4", 76), ("first", 74), ("l'ete", 79), ("SUMMER", 72)] {
        assert_eq!(pitches(&choose(Some(tune)).unwrap()), [pitch], "{tune}");
    }
    // Two tunes have the number 7, and three titles contain an r.
    assert_eq!(several(choose(Some("7"))), all[1..3]);
    assert_eq!(several(choose(Some("r"))).len(), 3);
    for tune in ["2", "7-3", "polka"] {
        assert!(matches!(choose(Some(tune)), Err(ImportError::NoSuchTune { tunes: 4, .. })), "{tune}");
    }
}

#[test]
fn a_tune_without_notes_is_an_error_and_no_other_is() {
    let result = import(b"X:1\nT:A\nK:C\n", &ImportOptions::default());
    assert_eq!(result, Err(ImportError::NoNotes));
    let only_odd = import(b"X:1\nK:C\nqqq\xff{[(((\n", &ImportOptions::default());
    assert_eq!(only_odd, Err(ImportError::NoNotes));
}

#[test]
fn limits_are_named_and_time_is_linear() {
    let header = "X:1\nM:none\nK:C\n";
    let too_large = |music: String| match import(music.as_bytes(), &ImportOptions::default()) {
        Err(ImportError::TooLarge { limit, unit, .. }) => (limit, unit),
        other => panic!("{:?}", other.map(|imported| imported.melody.notes.len())),
    };
    assert_eq!(too_large(format!("{header}{}", "C/256".repeat(MAX_NOTES + 1))), (MAX_NOTES, "notes"));
    assert_eq!(too_large(format!("{header}C{}", "z/256|".repeat(100_001))), (100_000, "bars"));
    assert_eq!(too_large(format!("{header}Z999999999|C")).0, 100_000);
    assert_eq!(too_large("X:1\nK:C\nC\n\n".repeat(100_001)), (100_000, "tunes"));
    let voices = |count: usize| (1..=count).map(|voice| format!("V:{voice}\nC\n")).collect::<String>();
    assert_eq!(too_large(format!("{header}{}", voices(1001))), (1000, "voices"));
    assert_eq!(unfolded(&format!("{header}{}", voices(1000))).parts.len(), 1000);
    // Some signs expand to long texts, and others require looking far ahead.
    for music in [
        "m:n=nnnnnnnnnnnnnnnnnnnn\nK:C\nC",
        "P:((((A9)9)9)9)9\nK:C\nP:A\nC8|",
        "K:C\nC(3(3(3(3>>>>>>>>>>>>>>>>>>>>>>>>>>>>>>>>>>C",
    ] {
        assert!(!unfolded(&format!("X:1\nL:1/8\n{music}\n")).melody.notes.is_empty());
    }
    for signs in [
        "[", "\"", "!", "{", "[K:", "(", "<", "&", "^", "_", "\\", "|:", "[1", "(3", "w:", "w:a\n", "V:2\n",
        "K:D\n", "P:A\n",
    ] {
        let music = format!("X:1\nK:C\nC\n{}\n", signs.repeat(20_000));
        assert!(!read(&music).melody.notes.is_empty(), "{signs}");
    }
}

#[test]
fn slurs_and_fermatas_are_kept() {
    // §4.11: slurs may be nested, and may begin and end at the same note.
    let slurs = |music: &str| signs::slurs(&read(tune(music)).melody.notes);
    assert_eq!(slurs("(C (D E F) G A)"), [(1, 3), (0, 5)]);
    assert_eq!(slurs("(C D (E) F G A)"), [(0, 2), (2, 5)]);
    assert_eq!(slurs("(A4- A2 B2) | ({g}c2 d2)"), [(0, 1), (3, 4)]);
    assert_eq!(slurs("(C D | E"), []);
    // §4.14; H is the usual short form of a fermata (§4.16). A fermata over a rest is dropped.
    let held = |music: &str| {
        let held = read(tune(music)).melody.notes.into_iter().map(|note| note.signs.fermata);
        held.collect::<Vec<_>>()
    };
    assert_eq!(held("C !fermata!D HE F"), [false, true, true, false]);
    assert_eq!(held("C !fermata!z D"), [false, false]);
}

#[test]
fn words_of_tempo_are_kept() {
    let words = |text: &str| {
        let melody = read(text).melody;
        let words = melody.tempo_words.iter().map(|words| format!("{} {}", words.at, words.text));
        words.collect::<Vec<_>>().join(", ")
    };
    // §3.1.8: a tempo may have a text. An annotation counts if it is a tempo word.
    assert_eq!(words("X:1\nT:A\nM:4/4\nL:1/8\nQ:\"Mit Schwung\" 1/4=100\nK:C\nC8|D8|]\n"), "0 Mit Schwung");
    let inside = "C4 \"^rit.\"D4 | \"^first\"E8 | [Q:\"Allegro\" 1/4=120] z4 F4 | \"Am\"G8";
    assert_eq!(words(&tune(inside)), "2 rit., 10 Allegro");
    let again =
        read_with(tune("|: C4 \"^rit.\"D4 :|"), &ImportOptions { unfold: true, ..ImportOptions::default() });
    let places: Vec<Beats> = again.melody.tempo_words.iter().map(|words| words.at).collect();
    assert_eq!(places, [Beats::quarters(2), Beats::quarters(6)]);
}

/// The words are those of the field `R:` in the header, the first if there are several.
#[test]
fn the_type_of_tune_is_kept() {
    let melody =
        |rhythm: &str| read(tune("CDEF GABc|").replace("M:4/4\n", &format!("{rhythm}M:4/4\n"))).melody;
    assert_eq!(melody("").rhythm, None);
    assert_eq!(melody("R:\n").rhythm, None);
    assert_eq!(melody("R:  Slip jig \nR:reel\n").rhythm.as_deref(), Some("Slip jig"));
    // An excess of characters is cut.
    let long = melody(&format!("R:{}\n", "reel ".repeat(100))).rhythm.unwrap();
    assert!(long.chars().count() <= 101, "{long}");
    let repeated = tune("|:CDEF GABc:|").replace("M:4/4\n", "R:reel\nM:4/4\n");
    assert_eq!(unfolded(&repeated).melody.rhythm.as_deref(), Some("reel"));
}
