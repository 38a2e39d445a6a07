//! How tunes are written: the sheet and the MusicXML export show the same notes, with the values that the file states.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a panic is how a test reports a failure")]

use crate::harness;

use std::{fs, path::PathBuf};

use breathline::{
    export::{
        arrange,
        musicxml::{self, TabAs},
    },
    harp::{Harp, Technique, Tuning},
    import::{ImportOptions, import},
    melody::{Melody, key},
    notation::{self, Keys, Notation, Tie},
    search::{self, Request, Weights},
    tab::Notation as Style,
    time::Beats,
};
use harness::{files, home};

/// The visible properties of a note or a rest, on a sheet or in a file.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
struct Seen {
    rest: bool,
    hidden: bool,
    grace: bool,
    /// The name of the value, with its dots; `bar` is the whole-bar rest.
    value: String,
    tuplet: Option<(i64, i64)>,
    accidental: Option<String>,
    beams: Vec<String>,
    tied: bool,
}

/// Returns the notes of a MusicXML file, bar by bar.
fn in_file(bytes: &[u8]) -> Vec<Vec<Seen>> {
    let text = std::str::from_utf8(bytes).unwrap();
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let document = roxmltree::Document::parse_with_options(text, options).unwrap();
    let measures = document.descendants().filter(|node| node.has_tag_name("measure"));
    let of = |measure: roxmltree::Node| {
        measure.children().filter(|node| node.has_tag_name("note")).map(|note| seen_in_file(note)).collect()
    };
    measures.map(of).collect()
}

fn seen_in_file(note: roxmltree::Node) -> Seen {
    let child = |name| note.children().find(|child| child.has_tag_name(name));
    let text = |name| child(name).and_then(|child| child.text()).map(str::to_owned);
    let number = |name| {
        let tuplet = child("time-modification")?;
        tuplet.children().find(|child| child.has_tag_name(name))?.text()?.parse().ok()
    };
    let dots = note.children().filter(|child| child.has_tag_name("dot")).count();
    let whole = child("rest").is_some_and(|rest| rest.attribute("measure") == Some("yes"));
    let value = text("type").map_or_else(String::new, |value| value + &".".repeat(dots));
    Seen {
        rest: child("rest").is_some(),
        hidden: note.attribute("print-object") == Some("no"),
        grace: child("grace").is_some(),
        value: if whole { "bar".to_owned() } else { value },
        tuplet: number("actual-notes").zip(number("normal-notes")),
        accidental: text("accidental"),
        beams: note
            .children()
            .filter(|child| child.has_tag_name("beam"))
            .map(|beam| beam.text().unwrap().to_owned())
            .collect(),
        tied: note
            .descendants()
            .any(|node| node.has_tag_name("tied") && node.attribute("type") == Some("start")),
    }
}

/// Returns the notes on the staff of a sheet, bar by bar.
fn on_sheet(notation: &Notation) -> Vec<Vec<Seen>> {
    let sign = |alter: i8| match alter {
        ..=-2 => "flat-flat",
        -1 => "flat",
        0 => "natural",
        1 => "sharp",
        2.. => "double-sharp",
    };
    let accidental = |alter: Option<i8>| alter.map(|alter| sign(alter).to_owned());
    let of = |bar: &notation::Bar| {
        let mut seen = Vec::new();
        for event in &bar.events {
            let note = event.note.as_ref();
            for grace in note.iter().flat_map(|note| &note.graces) {
                let value = grace.value.name().to_owned();
                let beams = grace.beams.iter().map(|beam| beam.name().to_owned()).collect();
                let accidental = accidental(grace.accidental);
                seen.push(Seen { grace: true, value, beams, accidental, ..Seen::default() });
            }
            let value = event.value.name().to_owned() + &".".repeat(event.value.dots.into());
            seen.push(Seen {
                rest: note.is_none(),
                hidden: event.hidden,
                grace: false,
                value: if event.is_whole_bar { "bar".to_owned() } else { value },
                tuplet: event.tuplet.map(|tuplet| bar.tuplets[tuplet]),
                accidental: accidental(note.and_then(|note| note.accidental)),
                beams: event.beams.iter().map(|beam| beam.name().to_owned()).collect(),
                tied: note.is_some_and(|note| note.tie == Tie::ToNext),
            });
        }
        seen
    };
    notation.bars.iter().map(of).collect()
}

/// Compares the sheet and the export of a tune for the best of the twelve harps, and for a C harp in second position.
fn both(melody: &Melody, mut compare: impl FnMut(Vec<Vec<Seen>>, Vec<Vec<Seen>>)) {
    let key = key::find(melody).key;
    let weights = Weights::default();
    let c = [Harp::parse("C", Tuning::built_in()).unwrap()];
    for (harps, position) in [(&Harp::standard_set(&Tuning::richter())[..], None), (&c[..], Some(2))] {
        let any_key = position.is_some();
        let technique = Technique::All;
        let request = Request { melody, key, harps, technique, weights: &weights, any_key, pins: &[] };
        let ranking = search::search(&request);
        let mut rows = ranking.approaches.iter();
        let row = rows.find(|row| position.is_none_or(|wanted| row.position.number() == wanted)).unwrap();
        let sounding = row.moved(&melody.signed(key));
        let sheet = on_sheet(&notation::write(&sounding, Keys::AtBars));
        let arrangement = arrange(melody, key, row, Style::default());
        compare(sheet, in_file(&musicxml::write(&arrangement, TabAs::Lyrics)));
    }
}

fn tunes() -> Vec<PathBuf> {
    ["corpus", "demo"]
        .iter()
        .flat_map(|folder| [files(folder, "musicxml"), files(folder, "mid")].concat())
        .collect()
}

#[test]
fn sheet_and_export_show_the_same_written_notes() {
    let fixtures = [
        "rounding",
        "tuplet",
        "grace",
        "split_bar",
        "ties_coarse",
        "changes_inside",
        "senza_misura",
        "spelling",
        "written_values",
        "hidden_filler",
    ];
    let fixtures = fixtures.map(|name| home().join(format!("tests/fixtures/{name}.musicxml")));
    let mut notes = 0;
    for path in tunes().into_iter().chain(fixtures) {
        let melody = import(&fs::read(&path).unwrap(), &ImportOptions::default()).unwrap().melody;
        both(&melody, |sheet, export| {
            assert_eq!(sheet.len(), export.len());
            for (bar, (sheet, export)) in sheet.iter().zip(&export).enumerate() {
                assert_eq!(sheet, export, "{}, bar index {bar}", path.display());
                notes += sheet.len();
            }
        });
    }
    assert!(notes > 10_000, "{notes}");
}

#[test]
fn notes_are_written_as_the_file_writes_them() {
    let seen = |bars: Vec<Vec<Seen>>| {
        // Accidentals depend on the key, and beams depend on the publisher of the file.
        let plain = |seen: Seen| Seen { accidental: None, beams: Vec::new(), ..seen };
        bars.into_iter().map(|bar| bar.into_iter().map(plain).collect()).collect::<Vec<Vec<Seen>>>()
    };
    for path in tunes().into_iter().filter(|path| path.extension().unwrap() == "musicxml") {
        let bytes = fs::read(&path).unwrap();
        let melody = import(&bytes, &ImportOptions::default()).unwrap().melody;
        let source = seen(in_file(&bytes));
        both(&melody, |_, export| {
            for (bar, (export, source)) in seen(export).iter().zip(&source).enumerate() {
                assert_eq!(export, source, "{}, bar index {bar}", path.display());
            }
        });
    }
}

fn fixture(name: &str) -> Vec<u8> {
    fs::read(home().join(format!("tests/fixtures/{name}.musicxml"))).unwrap()
}

#[test]
fn seven_in_a_quarter_that_are_rounded_to_ticks_are_seven() {
    let bytes = fixture("rounding");
    let melody = import(&bytes, &ImportOptions::default()).unwrap().melody;
    both(&melody, |_, export| {
        let values: Vec<(&str, Option<(i64, i64)>)> =
            export.iter().flatten().map(|seen| (seen.value.as_str(), seen.tuplet)).collect();
        assert_eq!(values[..7], [("16th", Some((7, 4))); 7]);
        assert_eq!(values[7..], [("quarter", None)]);
    });
}

/// Writes the values of a bar, with `rest` before the value of a rest, a tuplet's numbers and then `_` for a tie after
/// a value, and brackets around a hidden rest.
fn values(bar: &[Seen]) -> String {
    let value = |seen: &Seen| {
        let tuplet = seen.tuplet.map_or_else(String::new, |(n, m)| format!("{n}:{m}"));
        let rest = if seen.rest { "rest " } else { "" };
        let text = format!("{rest}{}{tuplet}{}", seen.value, if seen.tied { "_" } else { "" });
        if seen.hidden { format!("[{text}]") } else { text }
    };
    bar.iter().map(value).collect::<Vec<_>>().join(" ")
}

#[test]
fn a_bar_is_kept_as_its_file_writes_it_where_that_is_what_sounds() {
    let bytes = fixture("written_values");
    let melody = import(&bytes, &ImportOptions::default()).unwrap().melody;
    let source = in_file(&bytes);
    both(&melody, |sheet, export| {
        let kept: Vec<String> = sheet.iter().map(|bar| values(bar)).collect();
        assert_eq!(
            kept,
            [
                "quarter_ quarter [rest quarter] rest eighth rest eighth",
                "rest eighth3:2 eighth3:2 eighth3:2 16th6:4 16th6:4 16th6:4 16th6:4 16th6:4 16th6:4 \
                 eighth eighth eighth eighth",
                "quarter. quarter quarter.",
                "quarter quarter half",
                // The written values of the file fill only half of the bar.
                "half half",
            ]
        );
        fn first_beam(bars: &[Vec<Seen>]) -> Vec<&str> {
            bars[1].iter().map(|seen| seen.beams.first().map_or("", String::as_str)).collect()
        }
        assert_eq!(first_beam(&sheet), first_beam(&source));
        assert_eq!(first_beam(&export), first_beam(&source));
        // The courtesy accidental is kept, and no accidental is added where none is needed.
        let signs: Vec<bool> = sheet[3].iter().map(|seen| seen.accidental.is_some()).collect();
        assert_eq!(signs, [true, false, false]);
    });
}

#[test]
fn a_changed_tune_has_values_of_its_own() {
    // The first note sounds a quarter shorter than the file writes it.
    let bytes = fixture("written_values");
    let mut melody = import(&bytes, &ImportOptions::default()).unwrap().melody;
    let shorter = melody.notes[0].duration - Beats::quarters(1);
    melody.notes[0].duration = shorter;
    let written = notation::write(&melody, Keys::AtBars);
    let values: Vec<&str> = written.bars[0].events.iter().map(|event| event.value.name()).collect();
    assert_eq!(values, ["quarter", "quarter", "half"]);
}
