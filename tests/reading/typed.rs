//! Typed notes: ABC without its header and names with octaves, the metre from the bars, how such a text is recognised,
//! and the errors about characters that are not notes.

use breathline::import::{self, Format, ImportError, ImportOptions, Imported, Oddity, TextPosition};

fn read(text: &str) -> Imported {
    import::import_notes(text, &ImportOptions::default()).unwrap_or_else(|error| panic!("{text}: {error}"))
}

/// Returns the MIDI pitches of the notes, with their lengths in quarters unless the length is one.
fn described(text: &str) -> String {
    let notes = read(text).melody.notes;
    let one = |note: &breathline::melody::Note| match note.duration.to_string().as_str() {
        "1" => note.pitch.midi().to_string(),
        length => format!("{}x{length}", note.pitch.midi()),
    };
    notes.iter().map(one).collect::<Vec<_>>().join(" ")
}

#[test]
fn abc_needs_no_header() {
    for (typed, meant) in [
        ("G A B d | e2 d2", "67 69 71 74 76x2 74x2"),
        ("GABd|e2d2|", "67 69 71 74 76x2 74x2"),
        ("c d e f g a b c'", "72 74 76 77 79 81 83 84"),
        ("C, D, c' z c", "48 50 84 72"),
        ("^f _b =f", "78 82 77"),
        ("G A\n\nB d", "67 69 71 74"),
        ("G2 A2 B2", "67x2 69x2 71x2"),
        ("L:1/8\nc2 d2", "72 74"),
    ] {
        assert_eq!(described(typed), meant, "{typed}");
    }
}

#[test]
fn names_have_octaves_flats_and_sharps() {
    for (typed, meant) in [
        ("G4 A4 Bb4 C#5", "67 69 70 73"),
        ("C4 D4 E4 F4 G4 A4 B4 C5", "60 62 64 65 67 69 71 72"),
        // Small letters are an octave above capitals, as in ABC.
        ("G A Bb d", "67 69 70 74"),
        // An accidental applies only to its own note.
        ("F# F F# | F", "66 65 66 65"),
        ("Bb2 C2 D2", "70x2 72x2 74x2"),
        ("G4 - A4 z B4 - -", "67x2 69 71x3"),
        ("F♯4 B♭4", "66 70"),
    ] {
        assert_eq!(described(typed), meant, "{typed}");
    }
}

#[test]
fn capitals_alone_are_each_the_nearest_to_the_one_before() {
    for (typed, meant) in [
        ("G A B D E D", "67 69 71 74 76 74"),
        ("C D E F G A B C", "60 62 64 65 67 69 71 72"),
        ("C G C", "60 55 60"),
        ("C F B", "60 65 71"),
        ("G, A, B, D", "67 69 71 74"),
    ] {
        assert_eq!(described(typed), meant, "{typed}");
        let warnings = read(typed).warnings;
        assert_eq!(warnings.len(), 1, "{typed}");
        assert_eq!(warnings[0].oddity, Oddity::OctavesAssumed);
    }
    for says_all in ["G A B d", "G4 A4 B4 D5", "g a b d'"] {
        assert_eq!(read(says_all).warnings, [], "{says_all}");
    }
}

#[test]
fn equal_bars_give_the_metre() {
    for (typed, metre) in [
        ("G A B d | e2 d2", Some("4/4")),
        ("d | G2 B | A2 c | B2", Some("3/4")),
        ("GAB dBG | ABc ABc | G6", Some("6/8")),
        ("GABc dedB | dedB dedB", Some("4/4")),
        ("G A B d", None),
        ("G A | B | d e f | G", None),
        ("M:2/4\nG A B d | e2 d2", Some("2/4")),
    ] {
        let found = read(typed).melody.bars.last().and_then(|bar| bar.meter);
        assert_eq!(found.map(|meter| meter.to_string()).as_deref(), metre, "{typed}");
    }
}

#[test]
fn what_is_no_note_is_told_with_its_column_and_what_to_type() {
    for (typed, line, column, words) in [
        ("G A H d", 1, 5, "write B, or Bb for the German B"),
        ("G A #F d", 1, 5, "comes after the name"),
        ("do re mi", 1, 2, "`o` is not a note; write A to G"),
        ("G A\nB q", 2, 3, "`q` is not a note"),
        ("- G4 A4", 1, 1, "no note to hold"),
        ("4 -4 5", 1, 1, "`4` is a hole, not a note"),
        ("", 1, 1, "there are no notes; write their names"),
        (" | ", 1, 1, "there are no notes; write their names"),
    ] {
        let error = import::import_notes(typed, &ImportOptions::default()).unwrap_err();
        let ImportError::NotNotes { at, what } = &error else { panic!("{typed}: {error}") };
        assert_eq!(*at, TextPosition::Line(line, column), "{typed}");
        assert!(what.contains(words), "{typed}: {what}");
    }
}

#[test]
fn a_text_of_notes_is_known_as_such_and_tab_is_not() {
    let options = ImportOptions::default();
    for notes in ["G A B d | e2 d2\n", "G4 A4 Bb4\n", "G A B H\n", "\u{FEFF}G A B d"] {
        assert!(import::is_known(notes.as_bytes()), "{notes}");
    }
    assert_eq!(import::import(b"G A B d\n", &options).unwrap().format, Format::Typed);
    for other in [
        "4 -4 5\n",
        "4B 4D 5B\n",
        "-3 b\n",
        "This is a text about a tune.\n",
        "+4 -4 +5",
        "B D B\n4 4 5\n",
        "(4) 4",
        "-",
        "|",
    ] {
        assert!(!import::is_known(other.as_bytes()), "{other}");
    }
}

#[test]
fn any_text_is_read_or_refused() {
    // The test tries every pair and some triples of the characters with a meaning.
    let signs: Vec<char> = "AgHz#b♭',^_=|:[](){}\"!4-\n X".chars().collect();
    for &a in &signs {
        for &b in &signs {
            for c in ["", "c", "|", "4"] {
                let text = format!("{a}{b}{c}");
                let _ = import::import_notes(&text, &ImportOptions::default());
                let _ = import::import(text.as_bytes(), &ImportOptions::default());
            }
        }
    }
}
