//! Lead sheets: their content, its position, and that nothing overlaps.

#![cfg(feature = "sheet")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "a panic is how a test reports a failure")]

use crate::geometry;
use crate::harness;
use crate::tunes;

use std::{collections::BTreeSet, fs, path::PathBuf};

use base64::{Engine, prelude::BASE64_STANDARD};
#[cfg(feature = "paper")]
use breathline::sheet::{pdf, png};
use breathline::{
    compare::{
        choice::{self, Question},
        lesson::{self, Stated},
    },
    export,
    harp::{Action, Bend, Breath, Harp, Technique, Tuning},
    import::{self, ImportOptions, Imported},
    melody::{ChordSymbol, Creator, KeySignature, Lyric, Melody, key, phrase},
    notation::{self, Keys},
    pages::{self, Tune, comparison::Comparison, lead::Sample},
    pitch::{Interval, Spelling, Step},
    search::{self, Approach, EditWeights, Request, Style, Weights},
    sheet::{
        self, Face, Options, Page, Paper, Sheet, Size,
        draw::{Bounds, Ink, Item, Owner, Role},
        svg,
    },
    tab::{BendMark, Notation, read},
    time::Beats,
};
use harness::{breathline, home};
use tunes::tune;

/// Calls `then` with the winner among a set of harps.
fn with_winner<T>(
    imported: &Imported,
    harps: &[Harp],
    adapt: bool,
    then: impl FnOnce(&Tune, &Request, &Approach) -> T,
) -> T {
    let found = key::find(&imported.melody);
    let weights = Weights::default();
    let request = Request {
        melody: &imported.melody,
        key: found.key,
        harps,
        technique: Technique::All,
        weights: &weights,
        any_key: false,
        pins: &[],
    };
    let mut ranking = search::search(&request);
    if adapt {
        ranking.adapt(&request, &EditWeights::default());
    }
    let approach = ranking.adapted.as_ref().or(ranking.best()).unwrap();
    then(&Tune { name: "tune", imported, key: &found }, &request, approach)
}

/// Calls `then` with the best approach in the octave in which the tune is written.
fn as_written<T>(
    imported: &Imported,
    harp_name: &str,
    adapt: bool,
    then: impl FnOnce(&Tune, &Request, &Approach) -> T,
) -> T {
    with_winner(imported, &harp(harp_name), false, |tune, request, _| {
        let ranking = search::search(request);
        let written = ranking.approaches.iter().find(|approach| approach.octave == 0).unwrap();
        if adapt {
            then(tune, request, &search::adapt(request, written, &EditWeights::default()))
        } else {
            then(tune, request, written)
        }
    })
}

fn imported(melody: Melody) -> Imported {
    let mut imported = import::import(
        &fs::read(home().join("corpus/frere-jacques.musicxml")).unwrap(),
        &ImportOptions::default(),
    )
    .unwrap();
    imported.melody = melody;
    imported
}

fn harp(name: &str) -> Vec<Harp> {
    vec![Harp::parse(name, Tuning::built_in()).unwrap()]
}

fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(home().join(folder))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|other| other == ending))
        .collect();
    files.sort();
    files
}

fn items(page: &Page) -> Vec<(Owner, Item)> {
    let mut items = Vec::new();
    for group in &page.groups {
        group.walk(&mut |owner, item| items.push((owner, item.clone())));
    }
    items
}

fn glyphs(page: &Page, start: &str) -> usize {
    let is = |item: &Item| matches!(&item.ink, Ink::Glyph(glyph, ..) if glyph.name().starts_with(start));
    items(page).iter().filter(|(_, item)| is(item)).count()
}

fn texts(page: &Page) -> Vec<String> {
    let text = |item: Item| match item.ink {
        Ink::Text(text) => Some(text.text),
        _ => None,
    };
    items(page).into_iter().filter_map(|(_, item)| text(item)).collect()
}

#[test]
fn nothing_lies_on_anything_else_in_the_corpus() {
    let standard = Harp::standard_set(&Tuning::richter());
    let looks = [
        (Paper::A4, Size::Normal),
        (Paper::Letter, Size::Large),
        (Paper::A4, Size::Fill),
        (Paper::Letter, Size::Fill),
    ];
    for path in files("corpus", "musicxml").into_iter().chain(files("corpus", "mid")) {
        let imported = import::import(&fs::read(&path).unwrap(), &ImportOptions::default()).unwrap();
        for (harps, adapt) in [(standard.clone(), false), (harp("C"), false), (harp("C"), true)] {
            with_winner(&imported, &harps, adapt, |tune, request, approach| {
                for (paper, size) in looks {
                    let sheet =
                        Sheet::new(tune, request, approach, Options { paper, size, ..Options::default() });
                    let faults = geometry::faults(&sheet, approach);
                    assert!(faults.is_empty(), "{}: {faults:#?}", path.display());
                    // SVG drops a space at the edge of a text.
                    let edges = |text: &String| text.trim() != text;
                    assert!(
                        !sheet.pages.iter().flat_map(texts).any(|text| edges(&text)),
                        "{}",
                        path.display()
                    );
                }
            });
        }
    }
}

#[test]
fn tab_alone_has_every_note_and_no_staff() {
    for path in files("corpus", "musicxml") {
        let imported = import::import(&fs::read(&path).unwrap(), &ImportOptions::default()).unwrap();
        with_winner(&imported, &harp("C"), false, |tune, request, approach| {
            for size in [Size::Normal, Size::Large, Size::Fill] {
                let options = Options { size, tab_only: true, ..Options::default() };
                let sheet = Sheet::new(tune, request, approach, options);
                let faults = geometry::faults_of_places(&sheet);
                assert!(faults.is_empty(), "{}: {faults:#?}", path.display());
                let all: Vec<(Owner, Item)> = sheet.pages.iter().flat_map(items).collect();
                let tabbed: BTreeSet<usize> = all
                    .iter()
                    .filter(|(_, item)| {
                        matches!(item.role, Role::BlowShape | Role::DrawShape | Role::Missing)
                    })
                    .filter_map(|(owner, _)| if let Owner::Note(note) = owner { Some(*note) } else { None })
                    .collect();
                assert_eq!(tabbed.len(), imported.melody.notes.len(), "{}", path.display());
                let heads: usize = sheet.pages.iter().map(|page| glyphs(page, "clef")).sum();
                assert_eq!(heads, 0, "{}", path.display());
                // The figures are larger than those beside a staff.
                let beside = Sheet::new(tune, request, approach, Options { size, ..Options::default() });
                assert!(sheet.unit_micrometres >= beside.unit_micrometres, "{}", path.display());
            }
        });
    }
}

/// Rests are on the rail of the tab, between the boxes of missing notes, which are wider than the heads of the notes.
#[test]
fn rests_of_tab_alone_touch_no_missing_note() {
    // The G sharp is below the A harp's lowest note, and has an accidental each time. Four of these bars fill a line.
    let bar = "G#3:1/4 r:1/4 A3:1/4 r:1/4 G#3:1/4 r:1/4 r:1/2 G#3:1/4 r:1/4 G#3:1/4 r:1/4 A3:1/2 r:1/2 ";
    let imported = imported(tune(&bar.repeat(12), 60));
    as_written(&imported, "A", false, |tune, request, approach| {
        assert!(approach.counts.missing > 0);
        for size in [Size::Normal, Size::Large, Size::Fill] {
            let options = Options { size, tab_only: true, ..Options::default() };
            let sheet = Sheet::new(tune, request, approach, options);
            assert_eq!(geometry::faults_of_places(&sheet), Vec::<String>::new(), "{size:?}");
        }
    });
}

#[test]
fn whatever_a_file_holds_its_sheet_is_drawn() {
    for path in files("tests/fixtures", "musicxml") {
        let Ok(imported) = import::import(&fs::read(&path).unwrap(), &ImportOptions::default()) else {
            continue;
        };
        with_winner(&imported, &harp("C"), false, |tune, request, approach| {
            let sheet = Sheet::new(tune, request, approach, Options::default());
            let faults = geometry::faults(&sheet, approach);
            assert!(faults.is_empty(), "{}: {faults:#?}", path.display());
        });
    }
}

/// The geometric test would be worthless if it could not fail.
#[test]
fn the_geometric_test_finds_what_is_wrong() {
    let imported = imported(tune("C4 D4 E4 F4 G4:4", 100));
    with_winner(&imported, &harp("C"), false, |tune, request, approach| {
        let good = Sheet::new(tune, request, approach, Options::default());
        assert_eq!(geometry::faults(&good, approach), Vec::<String>::new());
        fn note(group: &mut sheet::draw::Group) -> Option<&mut sheet::draw::Group> {
            if matches!(group.owner, Owner::Note(1)) {
                return Some(group);
            }
            group.groups.iter_mut().find_map(note)
        }
        let mut moved = good.clone();
        let second = moved.pages[0].groups.iter_mut().find_map(note).unwrap();
        // The head is moved onto the previous note.
        let first = items(&good.pages[0]).into_iter().find(|(owner, _)| *owner == Owner::Note(0)).unwrap().1;
        let by = second.items[0].bounds.left - first.bounds.left;
        second.items.iter_mut().for_each(|item| {
            item.bounds =
                Bounds { left: item.bounds.left - by, right: item.bounds.right - by, ..item.bounds };
        });
        assert!(!geometry::faults(&moved, approach).is_empty());
        let mut bare = good.clone();
        let second = bare.pages[0].groups.iter_mut().find_map(note).unwrap();
        second.items.retain(|item| item.role == Role::Note);
        assert!(
            geometry::faults(&bare, approach)
                .iter()
                .any(|fault| fault.contains("note 1: head true, tab false"))
        );
        let mut off = good;
        off.pages[0].width /= 2;
        assert!(geometry::faults(&off, approach).iter().any(|fault| fault.contains("off the page")));
    });
}

#[test]
fn values_that_are_drawn_fill_their_bars() {
    for path in files("corpus", "musicxml").into_iter().chain(files("tests/fixtures", "musicxml")) {
        let Ok(imported) = import::import(&fs::read(&path).unwrap(), &ImportOptions::default()) else {
            continue;
        };
        with_winner(&imported, &harp("C"), false, |_, request, approach| {
            let written = notation::write(&approach.moved(request.melody), Keys::AtBars);
            for (bar, written) in request.melody.bars.iter().zip(&written.bars) {
                let mut at = Beats::ZERO;
                for event in &written.events {
                    assert_eq!(event.at, at, "{}", path.display());
                    at += event.length;
                    // A whole rest also stands for a whole bar of any meter.
                    if event.is_whole_bar {
                        assert_eq!(written.events.len(), 1);
                        continue;
                    }
                    let (number, usual) = event.tuplet.map_or((1, 1), |tuplet| written.tuplets[tuplet]);
                    let value = event.value.duration().times(usual, number);
                    assert_eq!(value, event.length, "{}: {event:?}", path.display());
                }
                assert_eq!(at, bar.length, "{}", path.display());
            }
        });
    }
}

#[test]
fn tab_is_what_is_played() {
    let imported = imported(tune("C4 D4 Bb4 F4", 60));
    as_written(&imported, "C", false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        let figures = |note: usize| -> Vec<String> {
            let drawn = items(&sheet.pages[0]).into_iter().filter(|(owner, _)| *owner == Owner::Note(note));
            drawn
                .filter_map(|(_, item)| match (item.role, item.ink) {
                    (Role::Blow | Role::Draw, Ink::Glyph(glyph, ..)) => Some(glyph.name().to_owned()),
                    _ => None,
                })
                .collect()
        };
        let expected = [Action::blow(1), Action::draw(1), Action::draw(3).bent(1), Action::draw(2).bent(2)];
        let played: Vec<Action> = approach.playing.notes.iter().filter_map(|played| played.action).collect();
        assert_eq!(played, expected);
        assert_eq!(figures(0), ["tab_49"]);
        assert_eq!(figures(2), ["tab_51", "tab_39"]);
        assert_eq!(figures(3), ["tab_50", "tab_39", "tab_39"]);
    });
}

#[test]
fn blow_and_draw_differ_in_place_and_shape() {
    let imported = imported(tune("C4 D4 C4 D4", 60));
    as_written(&imported, "C", false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        let shapes = |role: Role| -> Vec<Bounds> {
            let notes =
                items(&sheet.pages[0]).into_iter().filter(|(owner, _)| matches!(owner, Owner::Note(_)));
            notes.filter(|(_, item)| item.role == role).map(|(_, item)| item.bounds).collect()
        };
        let (blow, draw) = (shapes(Role::BlowShape), shapes(Role::DrawShape));
        assert_eq!((blow.len(), draw.len()), (2, 2));
        assert!(blow.iter().all(|blow| draw.iter().all(|draw| blow.bottom < draw.top)));
    });
}

#[test]
fn accidentals_hold_for_their_bar_and_not_over_a_tie() {
    // In C, F sharp twice in a bar has one sharp; a following F has a natural; F sharp tied over the barline has no
    // accidental.
    let melody = tune("F#4 F#4 F4 G4 G4 G4 G4 F#4:5 F#4", 60);
    let imported = imported(Melody { signatures: signature(0), ..melody });
    as_written(&imported, "C", false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        let music: Vec<(Owner, Item)> =
            items(&sheet.pages[0]).into_iter().filter(|(owner, _)| matches!(owner, Owner::Note(_))).collect();
        let with = |name: &str| -> Vec<Owner> {
            let is = |item: &Item| matches!(&item.ink, Ink::Glyph(glyph, ..) if glyph.name() == name);
            music.iter().filter(|(_, item)| is(item)).map(|(owner, _)| *owner).collect()
        };
        assert_eq!(with("sharp"), [Owner::Note(0), Owner::Note(7), Owner::Note(8)]);
        assert_eq!(with("natural"), [Owner::Note(2)]);
    });
}

fn signature(sharps: i8) -> Vec<KeySignature> {
    vec![KeySignature { at: Beats::ZERO, sharps, mode: None }]
}

#[test]
fn high_and_low_tunes_have_a_clef_that_spares_ledger_lines() {
    for (text, harp_name, clef) in [
        ("C4 E4 G4 C5", "C", "clef"),
        ("G5 C6 E6 C6", "C", "clef_8_above"),
        ("F3 A3 C4 F3 F3 A3 F3 F3", "low-F", "clef_8_below"),
    ] {
        let imported = imported(tune(text, 60));
        as_written(&imported, harp_name, false, |tune, request, approach| {
            let sheet = Sheet::new(tune, request, approach, Options::default());
            let names: Vec<String> = items(&sheet.pages[0])
                .into_iter()
                .filter_map(|(_, item)| match item.ink {
                    Ink::Glyph(glyph, ..) if glyph.name().starts_with("clef") => {
                        Some(glyph.name().to_owned())
                    }
                    _ => None,
                })
                .collect();
            assert_eq!(names, [clef], "{text}");
        });
    }
}

#[test]
fn the_heading_names_every_key() {
    let read = |name: &str| {
        import::import(&fs::read(home().join(name)).unwrap(), &ImportOptions::default()).unwrap()
    };
    let heading = |name: &str, harp_name: &str| {
        as_written(&read(name), harp_name, false, |tune, request, approach| {
            pages::lead::lead(tune, request, approach).key
        })
    };
    assert_eq!(heading("corpus/two-jigs.musicxml", "G"), "G major, D major from bar 18");
    assert_eq!(heading("corpus/amazing-grace.musicxml", "G"), "G major");
}

#[test]
fn grace_notes_repeats_endings_and_dots_are_drawn() {
    let read = |name: &str| {
        import::import(&fs::read(home().join(name)).unwrap(), &ImportOptions::default()).unwrap()
    };
    with_winner(&read("corpus/two-jigs.musicxml"), &harp("C"), false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        let bars = &request.melody.bars;
        let signs = bars
            .iter()
            .map(|bar| usize::from(bar.marks.repeat_start) + usize::from(bar.marks.repeat_end.is_some()));
        let pages = || sheet.pages.iter();
        assert_eq!(pages().map(|page| glyphs(page, "repeat_dot")).sum::<usize>(), 2 * signs.sum::<usize>());
        let texts: Vec<String> = pages().flat_map(texts).collect();
        assert!(texts.contains(&"1.".to_owned()) && texts.contains(&"2.".to_owned()));
    });
    with_winner(&read("tests/fixtures/grace.musicxml"), &harp("C"), false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        let small = |item: &Item| matches!(&item.ink, Ink::Glyph(glyph, _, _, scale) if glyph.name() == "head_black" && *scale < 1000);
        let graces = request.melody.notes.iter().filter(|note| note.grace).count();
        assert!(graces > 0);
        assert_eq!(
            items(&sheet.pages[0])
                .iter()
                .filter(|(owner, item)| matches!(owner, Owner::Note(_)) && small(item))
                .count(),
            graces
        );
    });
    with_winner(&read("tests/fixtures/tuplet.musicxml"), &harp("C"), false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        assert!(glyphs(&sheet.pages[0], "tuplet_3") > 0);
    });
}

#[test]
fn changed_notes_are_marked_and_listed() {
    // No C harp has F#5 without overbends.
    let melody = tune("E5 F#5 G5 E5 D5 E5 C5:2", 60);
    let imported = imported(melody);
    as_written(&imported, "C", true, |tune, request, approach| {
        assert!(!approach.changes.is_empty());
        let sheet = Sheet::new(tune, request, approach, Options::default());
        let stars = items(&sheet.pages[0]).into_iter().filter(|(owner, item)| {
            matches!(owner, Owner::Note(_)) && matches!(&item.ink, Ink::Text(text) if text.text == "*")
        });
        assert_eq!(stars.count(), approach.changes.len());
        assert!(texts(&sheet.pages[0]).iter().any(|text| text.contains("instead of F#5")));
    });
}

#[test]
fn words_have_hyphens_and_lines_and_many_verses_go_below() {
    let mut melody = tune("C4 D4 E4 F4 G4 F4 E4 C4", 60);
    let verse = |verse: u8, text: &str, hyphen: bool, extend: bool| Lyric {
        verse,
        text: text.to_owned(),
        hyphen,
        extend,
    };
    melody.notes[0].lyrics = (1..=6).map(|number| verse(number, "morn", true, false)).collect();
    melody.notes[2].lyrics = (1..=6).map(|number| verse(number, "ing", false, true)).collect();
    melody.notes[6].lyrics = vec![verse(1, "light", false, false)];
    let imported = imported(melody);
    with_winner(&imported, &harp("C"), false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        assert_eq!(geometry::faults(&sheet, approach), Vec::<String>::new());
        let texts = texts(&sheet.pages[0]);
        assert_eq!(texts.iter().filter(|text| *text == "morn").count(), 4);
        assert!(texts.contains(&"5. morning".to_owned()) && texts.contains(&"6. morning".to_owned()));
        // Each of the four verses under the staff has a hyphen and a line.
        let strokes = items(&sheet.pages[0])
            .into_iter()
            .filter(|(owner, item)| matches!(owner, Owner::Bar(..)) && item.role == Role::Text);
        assert_eq!(strokes.filter(|(_, item)| matches!(item.ink, Ink::Line(..))).count(), 8);
    });
}

#[test]
fn chord_symbols_go_with_a_transposed_tune() {
    let mut melody = tune("C4 E4 G4 C5 G4:4", 60);
    melody.signatures = signature(0);
    let chord = |at: i32, text: &str| ChordSymbol::parse(Beats::quarters(at), text);
    melody.chords = vec![chord(0, "C"), chord(4, "Am7/G"), chord(6, "F#dim")];
    let imported = imported(melody);
    let found = key::find(&imported.melody);
    let weights = Weights::default();
    let harps = harp("D");
    let request = Request {
        melody: &imported.melody,
        key: key::KeyFinding::given("C".parse().unwrap()).key,
        harps: &harps,
        technique: Technique::All,
        weights: &weights,
        any_key: true,
        pins: &[],
    };
    let ranking = search::search(&request);
    let first = ranking.approaches.iter().find(|approach| approach.position.number() == 1).unwrap();
    let tune = Tune { name: "tune", imported: &imported, key: &found };
    let texts = texts(&Sheet::new(&tune, &request, first, Options::default()).pages[0]);
    for chord in ["D", "Bm7/A", "G"] {
        assert!(texts.contains(&chord.to_owned()), "{chord}: {texts:?}");
    }
}

#[test]
fn a_note_and_a_chord_have_one_spelling_on_staff_tab_chart_and_in_exports() {
    // The tune is in E major, in 2nd position on an A harp, and has the degrees that a simple table of names gets
    // wrong. F natural is written as E sharp, and is missing without bends.
    let score = fs::read_to_string(home().join("tests/fixtures/spelling.musicxml")).unwrap();
    let imported = import::import(score.as_bytes(), &ImportOptions::default()).unwrap();
    let weights = Weights::default();
    for (harp_name, position, octave, names, chords) in [
        ("A", 2, 0, ["E4", "G#4", "E#4", "B#4", "E4"], ["E", "G#m", "F#7/A#", "N.C."]),
        // A whole tone lower, in D, every name moves two places back on the circle of fifths.
        ("G", 2, 0, ["D4", "F#4", "D#4", "A#4", "D4"], ["D", "F#m", "E7/G#", "N.C."]),
    ] {
        let harps = harp(harp_name);
        let request = Request {
            melody: &imported.melody,
            key: "E".parse().unwrap(),
            harps: &harps,
            technique: Technique::None,
            weights: &weights,
            any_key: true,
            pins: &[],
        };
        let ranking = search::search(&request);
        let mut rows = ranking.approaches.iter();
        let row = rows.find(|row| (row.position.number(), row.octave) == (position, octave)).unwrap();
        let sounding: Vec<String> = (0..imported.melody.notes.len())
            .map(|note| row.sounding(&imported.melody, note).unwrap().to_string())
            .collect();
        assert_eq!(sounding, names);
        // The tab names the missing notes, and the export names all notes.
        let exported = export::arrange(&imported.melody, request.key, row, Notation::default());
        let spelled: Vec<String> =
            exported.melody.notes.iter().map(|note| note.spelling.unwrap().to_string()).collect();
        assert_eq!(spelled, names);
        let tab = pages::tab::sheet(&imported.melody, row, Notation::default());
        let tokens: Vec<&str> =
            tab.bars.iter().flat_map(|bar| &bar.notes).map(|note| note.token.as_str()).collect();
        for ((played, name), (token, exported)) in
            row.playing.notes.iter().zip(names).zip(tokens.iter().zip(&exported.notes))
        {
            assert_eq!(*token, exported.tab);
            if played.action.is_none() {
                assert_eq!(*token, format!("[{name}]"));
            }
        }
        let moved: Vec<String> = exported.melody.chords.iter().map(|chord| chord.to_string()).collect();
        assert_eq!(moved, chords);
        let found = key::KeyFinding::given(request.key);
        let tune = Tune { name: "tune", imported: &imported, key: &found };
        let sheet = Sheet::new(&tune, &request, row, Options::default());
        // On the sheet, sharps are glyphs and not letters.
        let letters = texts(&sheet.pages[0]).concat();
        for chord in chords {
            assert!(letters.contains(&chord.replace('#', "")), "{chord}: {letters}");
        }
        let on_page = choice::tune_chords(&imported.melody, request.key, row.harp, row.transposed);
        let named: Vec<&str> = on_page.iter().map(|chord| chord.name.as_str()).collect();
        assert_eq!(named, chords[..3]);
    }
}

#[test]
fn the_chart_spells_as_the_staff_does() {
    let mut melody = tune("C5 E5 F5 G5:4", 60);
    melody.signatures = signature(0);
    // F is written as E sharp.
    melody.notes[2].spelling = Some(Spelling { step: Step::E, alter: 1, octave: 5 });
    let imported = imported(melody);
    as_written(&imported, "C", false, |_, request, approach| {
        let chart = sheet::harp_chart(request, approach, BendMark::default());
        let letters: Vec<String> = texts(&chart).into_iter().filter(|text| text.len() == 1).collect();
        // Draw 5 is labelled E sharp. The other letters E are on the three blow reeds, and the letter F is on draw 9.
        assert_eq!(letters.iter().filter(|letter| *letter == "E").count(), 4, "{letters:?}");
        assert_eq!(letters.iter().filter(|letter| *letter == "F").count(), 1, "{letters:?}");
        assert_eq!(glyphs(&chart, "sharp"), 1);
    });
}

#[test]
fn most_lines_end_where_a_phrase_ends() {
    let (mut ends, mut lines) = (0, 0);
    for path in files("corpus", "musicxml") {
        let imported = import::import(&fs::read(&path).unwrap(), &ImportOptions::default()).unwrap();
        with_winner(&imported, &Harp::standard_set(&Tuning::richter()), false, |tune, request, approach| {
            let sheet = Sheet::new(tune, request, approach, Options::default());
            let melody = request.melody;
            let phrase_bars: Vec<usize> =
                phrase::ends(melody).iter().map(|end| melody.notes[end.note].bar).collect();
            let mut systems: Vec<usize> = Vec::new();
            for group in sheet.pages.iter().flat_map(|page| &page.groups) {
                if let Owner::System(_) = group.owner {
                    let bars = group.groups.iter().filter_map(|group| match group.owner {
                        Owner::Bar(index, _) => Some(index),
                        _ => None,
                    });
                    systems.extend(bars.max());
                }
            }
            // The last line ends where the tune ends, so it is not counted.
            systems.pop();
            lines += systems.len();
            ends += systems
                .iter()
                .filter(|bar| phrase_bars.contains(bar) || phrase_bars.contains(&(*bar - 1)))
                .count();
        });
    }
    assert!(lines > 50, "{lines}");
    assert!(ends * 100 >= lines * 85, "{ends} of {lines}");
}

#[test]
fn svg_is_sound_xml_with_groups_for_bars_and_notes_and_no_way_out() {
    let mut melody = tune("C4 D4 E4 F4 G4:4", 60);
    let evil = "<script>alert('&')</script>\u{0}";
    melody.title = Some(evil.to_owned());
    melody.notes[0].lyrics = vec![Lyric { verse: 1, text: evil.to_owned(), hyphen: false, extend: false }];
    melody.chords = vec![ChordSymbol::parse(Beats::ZERO, "C<b>")];
    let imported = imported(melody);
    with_winner(&imported, &harp("C"), false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        let text = svg::document(&sheet, 0);
        assert_eq!(text, svg::document(&Sheet::new(tune, request, approach, Options::default()), 0));
        let document = roxmltree::Document::parse(&text).unwrap();
        assert!(document.descendants().all(|node| !node.has_tag_name("script") && !node.has_tag_name("b")));
        let ids: Vec<&str> = document.descendants().filter_map(|node| node.attribute("id")).collect();
        for node in document.descendants() {
            if let Some(href) = node.attribute("href") {
                assert!(ids.contains(&href.strip_prefix('#').unwrap()), "{href}");
            }
        }
        let with = |name: &str| -> Vec<usize> {
            let found = document.descendants().filter_map(|node| node.attribute(name)?.parse().ok());
            found.collect()
        };
        assert_eq!(with("data-note"), [0, 1, 2, 3, 4]);
        assert_eq!(with("data-bar"), [0, 1]);
        // On a screen, the ids of the sheet have a prefix.
        let page = sheet::screen(request, approach, 60, BendMark::Quote);
        let look = svg::Look { prefix: "a-".to_owned(), ..svg::Look::default() };
        let text = svg::write(&page, &look);
        let document = roxmltree::Document::parse(&text).unwrap();
        assert!(
            document.descendants().filter_map(|node| node.attribute("id")).all(|id| id.starts_with("a-"))
        );
        let chart = svg::write(&sheet::harp_chart(request, approach, BendMark::Quote), &look);
        assert!(chart.contains("data-hole=\"10\" data-breath=\"draw\" data-bend=\"0\""));
    });
}

/// Returns the faces that an SVG embeds: the style of each and its font file.
fn faces(svg: &str) -> Vec<(String, Vec<u8>)> {
    let faces = svg.split("@font-face{").skip(1).map(|face| {
        let (look, rest) = face.split_once("src:url(data:font/otf;base64,").unwrap();
        let (data, _) = rest.split_once(')').unwrap();
        (look.to_owned(), BASE64_STANDARD.decode(data).unwrap())
    });
    faces.collect()
}

#[test]
fn an_svg_brings_the_letters_that_it_shows_and_no_more() {
    let mut melody = tune("C4 D4 E4 F4 G4:4", 100);
    melody.title = Some("AV".to_owned());
    let words = ["office", "Ve\u{301}", "\u{65e5}", "Ж"].iter().enumerate();
    for (note, word) in words {
        melody.notes[note].lyrics.push(Lyric {
            verse: 1,
            text: (*word).to_owned(),
            hyphen: false,
            extend: false,
        });
    }
    let imported = imported(melody);
    with_winner(&imported, &harp("C"), false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        let faces = faces(&svg::document(&sheet, 0));
        let page = &sheet.pages[0];
        for (look, font) in &faces {
            let face = match look.as_str() {
                look if look.contains("italic") => Face::Italic,
                look if look.contains("600") => Face::Semibold,
                _ => Face::Regular,
            };
            let shown: BTreeSet<char> = items(page)
                .into_iter()
                .filter_map(|(_, item)| match item.ink {
                    Ink::Text(text) if text.face == face => Some(text.text),
                    _ => None,
                })
                .flat_map(|text| text.chars().collect::<Vec<_>>())
                .collect();
            let font = ttf_parser::Face::parse(font, 0).unwrap();
            let cmap = font.tables().cmap.unwrap();
            let mut told = BTreeSet::new();
            for subtable in cmap.subtables {
                subtable.codepoints(|char| {
                    told.insert(char::from_u32(char).unwrap());
                });
            }
            // The typeface has no Chinese characters.
            let expected: BTreeSet<char> = shown.into_iter().filter(|char| *char != '\u{65e5}').collect();
            assert_eq!(told, expected, "{look}");
            for char in &told {
                let glyph = font.glyph_index(*char).unwrap();
                let mut outline = Reach(false);
                let drawn = font.outline_glyph(glyph, &mut outline).is_some() && outline.0;
                assert_eq!(drawn, *char != ' ', "{char}");
            }
            // The browser applies kerning and ligatures as the PDF does.
            let kern = font.tables().gpos.map_or(0, |table| table.lookups.len());
            let joins = font.tables().gsub.map_or(0, |table| table.lookups.len());
            match face {
                Face::Regular => assert_eq!(joins, 1),
                Face::Semibold => assert_eq!(kern, 1),
                Face::Italic => {}
            }
        }
        assert!(faces.len() >= 2, "{}", faces.len());
    });
}

/// Records whether an outline has a line or a curve.
struct Reach(bool);

impl ttf_parser::OutlineBuilder for Reach {
    fn move_to(&mut self, _: f32, _: f32) {}
    fn line_to(&mut self, _: f32, _: f32) {
        self.0 = true;
    }
    fn quad_to(&mut self, _: f32, _: f32, _: f32, _: f32) {
        self.0 = true;
    }
    fn curve_to(&mut self, _: f32, _: f32, _: f32, _: f32, _: f32, _: f32) {
        self.0 = true;
    }
    fn close(&mut self) {}
}

#[cfg(feature = "paper")]
#[test]
fn a_pdf_has_fonts_of_the_letters_that_it_shows_a_title_and_a_language() {
    for name in ["amazing-grace", "banish-misfortune", "stille-nacht"] {
        let path = home().join(format!("corpus/{name}.musicxml"));
        let imported = import::import(&fs::read(path).unwrap(), &ImportOptions::default()).unwrap();
        with_winner(&imported, &harp("C"), false, |tune, request, approach| {
            let sheet = Sheet::new(tune, request, approach, Options::default());
            let pdf = pdf::write(&sheet).unwrap();
            assert!(pdf.len() < 100_000 * sheet.pages.len(), "{name}: {} bytes", pdf.len());
            let text = String::from_utf8_lossy(&pdf);
            assert!(text.contains("/Lang (en)"), "{name}");
            assert!(text.contains(&format!("/Title ({})", sheet.title)), "{name}");
            // Each font has a font file and a table from its glyphs to characters, and its name says that it is a
            // subset of the typeface.
            let fonts = text.matches("/Subtype /Type0").count();
            assert!((2..=3).contains(&fonts), "{name}");
            for part in ["/FontFile3 ", "/ToUnicode ", "/CIDFontType0C"] {
                assert_eq!(text.matches(part).count(), fonts, "{name}: {part}");
            }
            let names = text.split("/FontName /").skip(1).map(|rest| rest.split_whitespace().next().unwrap());
            for name in names {
                let (tag, font) = name.split_once('+').unwrap();
                assert!(tag.len() == 6 && tag.chars().all(|c| c.is_ascii_uppercase()), "{name}");
                assert!(font.starts_with("LibertinusSerif-"), "{name}");
            }
        });
    }
}

#[cfg(feature = "paper")]
#[test]
fn pdf_and_png_hold_the_pages() {
    let path = home().join("corpus/banish-misfortune.musicxml");
    let imported = import::import(&fs::read(path).unwrap(), &ImportOptions::default()).unwrap();
    with_winner(&imported, &harp("C"), false, |tune, request, approach| {
        let options = Options { size: Size::Large, paper: Paper::Letter, ..Options::default() };
        let sheet = Sheet::new(tune, request, approach, options);
        assert!(sheet.pages.len() > 1);
        let pdf = pdf::write(&sheet).unwrap();
        assert!(pdf.starts_with(b"%PDF"));
        let text = String::from_utf8_lossy(&pdf);
        assert!(text.contains(&format!("/Count {}", sheet.pages.len())));
        // The PDF is identical each time, fonts included.
        assert!((0..5).all(|_| pdf::write(&sheet).unwrap() == pdf));
        // The page is 8.5 by 11 inches, in points.
        assert_eq!(text.matches("/MediaBox [0 0 612 792]").count(), sheet.pages.len());
        // The words can be searched for: they are text, not outlines.
        assert!(text.contains("/ToUnicode"));
        let png = png::write(&sheet, 1).unwrap();
        assert!(png.starts_with(b"\x89PNG"));
        assert!(png::write(&sheet, sheet.pages.len()).is_err());
        let side = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().unwrap());
        assert_eq!((side(16), side(20)), (1700, 2200));
    });
}

/// A signature that begins with a new line is announced at the end of the previous line.
#[test]
fn what_changes_at_a_new_line_is_announced() {
    // The tune has forty bars of quarters; every third bar begins a new signature.
    let melody = tune(&"C4 E4 G4 C5 ".repeat(40), 100);
    let changes = |bar: usize| bar > 0 && bar.is_multiple_of(3);
    let sharps = |bar: usize| i8::from(bar / 3 % 2 == 1) * 2;
    let signatures = (0..40).filter(|&bar| bar == 0 || changes(bar)).map(|bar| KeySignature {
        at: melody.bars[bar].start,
        sharps: sharps(bar),
        mode: None,
    });
    let imported = imported(Melody { signatures: signatures.collect(), ..melody.clone() });
    as_written(&imported, "C", false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        assert_eq!(geometry::faults(&sheet, approach), Vec::<String>::new());
        let mut before: Option<(usize, Vec<Item>)> = None;
        let mut announced = 0;
        for system in sheet.pages.iter().flat_map(|page| &page.groups) {
            let Owner::System(_) = system.owner else { continue };
            let bars: Vec<&sheet::draw::Group> =
                system.groups.iter().filter(|group| matches!(group.owner, Owner::Bar(..))).collect();
            let index = |group: &sheet::draw::Group| match group.owner {
                Owner::Bar(index, _) => index,
                _ => 0,
            };
            let first = index(bars[0]);
            if let Some((last, items)) = before.take() {
                assert_eq!(first, last + 1);
                // After the last barline of a line there are two sharps, or two naturals, if the signature changes
                // there.
                let barline = items.iter().rposition(|item| item.role == Role::Bar).unwrap();
                let right = items[barline].bounds.right;
                let after = |item: &&Item| {
                    matches!(&item.ink, Ink::Glyph(glyph, ..) if matches!(glyph.name(), "sharp" | "natural"))
                        && item.bounds.left > right
                };
                assert_eq!(items.iter().filter(after).count(), if changes(first) { 2 } else { 0 });
                announced += usize::from(changes(first));
            }
            let last = bars[bars.len() - 1];
            before = Some((index(last), last.items.clone()));
        }
        assert!(announced >= 2, "{announced}");
    });
}

/// Without the feature `paper`, the command lists the formats that it can write.
#[cfg(not(feature = "paper"))]
#[test]
fn without_paper_the_command_names_what_it_writes() {
    for name in ["a.pdf", "a.PNG"] {
        let error = breathline("sheet corpus/frere-jacques.mid -o").arg(name).fails();
        assert!(error.contains(name) && error.contains("without PDF and PNG"), "{error}");
        assert!(error.contains(".html or .svg") && error.trim_end().lines().count() == 1, "{error}");
    }
}

#[cfg(feature = "paper")]
#[test]
fn the_command_writes_sheets_by_their_ending() {
    let folder = std::env::temp_dir().join(format!("breathline-sheet-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    let tune = "corpus/banish-misfortune.musicxml";
    let at = |name: &str| folder.join(name);
    let said = breathline(&format!("sheet {tune} --harp C -o")).arg(at("a.pdf")).answers();
    assert_eq!(said, format!("{}\n", at("a.pdf").display()));
    assert!(fs::read(at("a.pdf")).unwrap().starts_with(b"%PDF"));
    let said = breathline(&format!("sheet {tune} --size large -o")).arg(at("a.svg")).answers();
    assert_eq!(said, format!("{}\n{}\n", at("a-1.svg").display(), at("a-2.svg").display()));
    assert!(fs::read_to_string(at("a-2.svg")).unwrap().contains("2 / 2"));
    breathline("sheet corpus/frere-jacques.mid --harp low-F --octave 0 -o").arg(at("b.png")).answers();
    assert!(fs::read(at("b.png")).unwrap().starts_with(b"\x89PNG"));
    let plain = breathline(&format!("suggest {tune}")).answers();
    let with_sheet = breathline(&format!("suggest {tune} --sheet")).arg(at("c.svg")).answers();
    assert_eq!(plain, with_sheet);
    assert!(at("c.svg").exists() || at("c-1.svg").exists());
    let error = breathline(&format!("sheet {tune} -o")).arg(at("a.doc")).fails();
    assert!(error.contains(".pdf, .svg or .png"), "{error}");
    let error = breathline(&format!("sheet {tune} -o")).arg(at("nowhere/a.svg")).fails();
    assert!(error.contains("nowhere"), "{error}");
    fs::remove_dir_all(&folder).unwrap();
}

#[cfg(feature = "paper")]
#[test]
fn the_command_writes_the_sheet_of_a_check_by_its_ending() {
    let folder = std::env::temp_dir().join(format!("breathline-check-{}", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    let at = |name: &str| folder.join(name);
    let choice = "check corpus/amazing-grace.musicxml --harp C";
    let lesson = &format!("{choice} --tab tests/lessons/amazing-grace-01.txt");
    for (command, name, start) in
        [(choice, "a.pdf", "%PDF"), (lesson, "b.html", "<!DOCTYPE html>"), (lesson, "c.svg", "<svg")]
    {
        let said = breathline(&format!("{command} --sheet")).arg(at(name)).answers();
        assert_eq!(said, breathline(command).answers());
        assert!(fs::read(at(name)).unwrap().starts_with(start.as_bytes()), "{name}");
    }
    // For the tab of another tune, there is nothing to compare on a sheet.
    let other = "check corpus/amazing-grace.musicxml --harp C --tab tests/lessons/yankee-doodle.txt --sheet";
    let finished = breathline(other).arg(at("d.svg")).run();
    assert!(finished.stdout.contains("does not look like tab of this tune"), "{}", finished.stdout);
    assert!(
        finished.stderr.contains("d.svg is not written, because the tab is of another tune"),
        "{}",
        finished.stderr
    );
    assert!(!at("d.svg").exists());
    let error = breathline(&format!("{lesson} --sheet")).arg(at("a.doc")).fails();
    assert!(error.contains(".html, .pdf, .svg or .png"), "{error}");
    fs::remove_dir_all(&folder).unwrap();
}

/// Calls `then` with the check of every lesson of the tests. For every tune of the corpus, it also calls `then` with
/// the comparison of a C harp with the best harp, and with the check of a tab for the C harp in which draw 2 and blow
/// 3, which have the same pitch, are exchanged.
fn with_every_comparison(then: impl Fn(&str, &Tune, &Request, &Comparison)) {
    let weights = Weights::default();
    let standard = Harp::standard_set(&Tuning::richter());
    let with = |name: &str, then: &dyn Fn(&Tune, &Request)| {
        let file = fs::read(home().join(format!("corpus/{name}.musicxml"))).unwrap();
        let imported = import::import(&file, &ImportOptions::default()).unwrap();
        let found = key::find(&imported.melody);
        let request = Request {
            melody: &imported.melody,
            key: found.key,
            harps: &standard,
            technique: Technique::Over,
            weights: &weights,
            any_key: false,
            pins: &[],
        };
        then(&Tune { name, imported: &imported, key: &found }, &request);
    };
    let check = |name: &str, tune: &Tune, request: &Request, harp: &Harp, text: &str| {
        let text = &read::read(text, None).unwrap();
        let stated = Stated { harp, transposed: Interval(0), octave: None };
        let lesson = &lesson::check(request, stated, text).unwrap();
        let (tune, best, notation) = (*tune, None, Notation::default());
        let checked = pages::lesson::Checked { tune, request, stated, text, lesson, best, notation };
        then(name, &tune, request, &pages::lesson::comparison(&checked));
    };
    let planted = fs::read_to_string(home().join("tests/lessons/planted.toml")).unwrap();
    let planted: toml::Table = planted.parse().unwrap();
    for planted in planted["lesson"].as_array().unwrap() {
        let named = |name: &str| planted[name].as_str().unwrap();
        with(named("tune"), &|tune, request| {
            let file = format!("tests/lessons/{}.txt", named("file"));
            let text = fs::read_to_string(home().join(&file)).unwrap();
            check(&file, tune, request, &harp(named("harp"))[0], &text);
        });
    }
    for path in files("corpus", "musicxml") {
        let name = path.file_stem().unwrap().to_str().unwrap();
        with(name, &|tune, request| {
            let ranking = search::search(request);
            let c_harp = Harp::parse("C", Tuning::built_in()).unwrap();
            let given = ranking.approaches.iter().find(|row| *row.harp == c_harp).unwrap();
            let question =
                Question { melody: request.melody, key: request.key, weights: &weights, blues: false };
            let choice = choice::compare(question, given.clone(), ranking.best().unwrap().clone());
            let comparison =
                pages::choice::comparison(tune, request, &choice, Style::Plain, Notation::default());
            then(name, tune, request, &comparison);
            // Exchanges draw 2 and blow 3, which have the same pitch.
            let other = |action: Action| match (action.breath, action.hole, action.bend) {
                (Breath::Draw, 2, Bend::None) => Action::blow(3),
                (Breath::Blow, 3, Bend::None) => Action::draw(2),
                _ => action,
            };
            let actions = given.playing.notes.iter().filter_map(|played| played.action).map(other);
            let text: Vec<String> = actions.map(|action| Notation::default().write(action)).collect();
            check(name, tune, request, &c_harp, &text.join(" "));
        });
    }
}

/// Returns the items of each way in all lines of music, with their owners.
fn ways(sheet: &Sheet, count: usize) -> Vec<Vec<(Owner, Item)>> {
    let mut ways = vec![Vec::new(); count];
    for group in sheet.pages.iter().flat_map(|page| &page.groups) {
        if let Owner::System(number) = group.owner {
            group.walk(&mut |owner, item| ways[number % count].push((owner, item.clone())));
        }
    }
    ways
}

#[test]
fn of_two_ways_each_is_whole_and_nothing_lies_on_anything_else() {
    let pairs = std::cell::Cell::new(0);
    with_every_comparison(|name, tune, request, comparison| {
        for (paper, size) in
            [(Paper::A4, Size::Normal), (Paper::Letter, Size::Large), (Paper::A4, Size::Fill)]
        {
            let options = Options { paper, size, ..Options::default() };
            let sheet = Sheet::compared(tune, request, comparison, options).unwrap();
            let count = comparison.sides.len();
            let ways = ways(&sheet, count);
            for (side, way) in comparison.sides.iter().zip(&ways) {
                let faults = geometry::faults(&sheet, side.approach);
                assert!(faults.is_empty(), "{name}: {faults:#?}");
                // Each way has as many notes and holes as on a separate sheet.
                let alone = Sheet::new(tune, request, side.approach, options);
                let kinds = |items: &[(Owner, Item)]| {
                    let of = |wanted: &dyn Fn(&Item) -> bool| {
                        let of_note = |owner: &Owner| matches!(owner, Owner::Note(_));
                        items.iter().filter(|(owner, item)| of_note(owner) && wanted(item)).count()
                    };
                    let glyph = |start: &'static str| {
                        of(
                            &|item| matches!(&item.ink, Ink::Glyph(glyph, ..) if glyph.name().starts_with(start)),
                        )
                    };
                    let role = |role: Role| of(&|item| item.role == role);
                    [
                        glyph("head"),
                        glyph("sharp"),
                        glyph("natural"),
                        role(Role::BlowShape),
                        role(Role::DrawShape),
                    ]
                };
                assert_eq!(kinds(way), kinds(&self::ways(&alone, 1)[0]), "{name}");
            }
            pairs.set(pairs.get() + usize::from(count == 2));
        }
    });
    assert!(pairs.get() > 60, "{}", pairs.get());
}

#[test]
fn two_ways_stand_note_above_note_on_the_same_page() {
    with_every_comparison(|name, tune, request, comparison| {
        let sheet = Sheet::compared(tune, request, comparison, Options::default()).unwrap();
        if comparison.sides.len() < 2 {
            return;
        }
        let heads = |page: &Page, way: usize| -> Vec<(Owner, i32, i32)> {
            let mut heads = Vec::new();
            for group in &page.groups {
                let Owner::System(number) = group.owner else { continue };
                group.walk(&mut |owner, item| {
                    if number % 2 == way
                        && matches!(&item.ink, Ink::Glyph(glyph, ..) if glyph.name().starts_with("head"))
                    {
                        heads.push((owner, item.bounds.left, item.bounds.top));
                    }
                });
            }
            heads
        };
        for page in &sheet.pages {
            let (upper, lower) = (heads(page, 0), heads(page, 1));
            assert_eq!(upper.len(), lower.len(), "{name}");
            for (upper, lower) in upper.iter().zip(&lower) {
                assert_eq!((upper.0, upper.1), (lower.0, lower.1), "{name}");
                assert!(upper.2 < lower.2, "{name}");
            }
        }
    });
}

#[test]
fn what_differs_is_framed_what_was_put_right_has_a_star_and_what_costs_more_a_shade() {
    let (frames, stars, shades) = (std::cell::Cell::new(0), std::cell::Cell::new(0), std::cell::Cell::new(0));
    with_every_comparison(|name, tune, request, comparison| {
        let sheet = Sheet::compared(tune, request, comparison, Options::default()).unwrap();
        let sides = &comparison.sides;
        for (side, drawn) in sides.iter().zip(ways(&sheet, sides.len())) {
            let notes = |wanted: &dyn Fn(&Item) -> bool| -> Vec<usize> {
                let mut notes: Vec<usize> = drawn
                    .iter()
                    .filter(|(_, item)| wanted(item))
                    .filter_map(|(owner, _)| match owner {
                        Owner::Note(note) => Some(*note),
                        _ => None,
                    })
                    .collect();
                notes.sort_unstable();
                notes.dedup();
                notes
            };
            let framed = notes(&|item| item.role == Role::Frame);
            // The tab has a star with ten corners; a note without tab has a printed asterisk.
            let star = |item: &Item| match &item.ink {
                Ink::Polygon(points) => {
                    item.role == Role::Sign
                        && points.len() == 10
                        && item.bounds.right - item.bounds.left > 200
                }
                Ink::Text(text) => text.text == "*",
                _ => false,
            };
            let starred = notes(&star);
            assert_eq!(framed, side.differs, "{name}");
            let legend = sheet.pages.iter().flat_map(items).filter(|(owner, _)| *owner == Owner::Legend);
            let explained = legend.filter(|(_, item)| star(item)).count();
            let any = sides.iter().any(|side| !side.mended.is_empty());
            assert_eq!(explained, usize::from(any), "{name}");
            let mended: Vec<usize> =
                side.mended.iter().copied().collect::<std::collections::BTreeSet<_>>().into_iter().collect();
            assert_eq!(starred, mended, "{name}");
            let shaded: Vec<usize> = drawn
                .iter()
                .filter(|(_, item)| item.role == Role::Shade)
                .filter_map(|(owner, _)| match owner {
                    Owner::Bar(bar, _) => Some(*bar),
                    _ => None,
                })
                .collect::<std::collections::BTreeSet<_>>()
                .into_iter()
                .collect();
            assert_eq!(shaded, side.dearer, "{name}");
            frames.set(frames.get() + framed.len());
            stars.set(stars.get() + starred.len());
            shades.set(shades.get() + shaded.len());
        }
    });
    assert!(frames.get() > 30 && stars.get() > 10 && shades.get() > 100, "{frames:?} {stars:?} {shades:?}");
}

#[test]
fn who_made_a_tune_and_whose_it_is_stands_on_its_sheet() {
    let mut melody = tune("C4 D4 E4 F4 G4:4", 100);
    let creator = |role: &str, name: &str| Creator { role: role.to_owned(), name: name.to_owned() };
    melody.credits.creators = vec![
        creator("composer", "Perla Quill"),
        creator("lyricist", "Odo Marsh"),
        creator("composer", "Traditional"),
    ];
    melody.credits.rights = vec!["Free for everyone".to_owned()];
    let imported = imported(melody);
    with_winner(&imported, &harp("C"), false, |tune, request, approach| {
        let sheet = Sheet::new(tune, request, approach, Options::default());
        assert_eq!(geometry::faults(&sheet, approach), Vec::<String>::new());
        let texts = texts(&sheet.pages[0]);
        assert!(
            texts.iter().any(|text| text.contains("Perla Quill") && text.contains("words by Odo Marsh")),
            "{texts:?}"
        );
        assert!(texts.contains(&"Free for everyone".to_owned()));
    });
}

/// If a verse ends before the others, its last syllable is held to the end of its note, not to the end of the tune.
#[test]
fn a_verse_that_has_ended_is_held_no_further() {
    let mut melody = tune("C4 D4 E4 F4 G4 A4 B4 C5", 100);
    let lyric = |verse: u8, extend: bool| Lyric { verse, text: "la".to_owned(), hyphen: false, extend };
    for note in 0..8 {
        melody.notes[note].lyrics.push(lyric(1, false));
    }
    melody.notes[1].lyrics.push(lyric(2, true));
    let held = |melody: Melody| {
        let imported = imported(melody);
        as_written(&imported, "C", false, |tune, request, approach| {
            let sheet = Sheet::new(tune, request, approach, Options::default());
            let line = |item: &Item| item.role == Role::Text && matches!(item.ink, Ink::Line(..));
            items(&sheet.pages[0]).iter().filter(|(_, item)| line(item)).count()
        })
    };
    assert_eq!(held(melody.clone()), 0);
    // If the verse continues later, the syllable is held until then.
    melody.notes[6].lyrics.push(lyric(2, false));
    assert_eq!(held(melody), 1);
}

#[test]
fn the_legend_explains_no_sign_that_is_not_drawn() {
    // On a C harp without overbends, Ab5 is neither a note nor a bend: the grace note is left out, and the sheet does
    // not draw it.
    let explained = |text: &str| {
        as_written(&imported(tune(text, 100)), "C", true, |tune, request, approach| {
            assert!(!approach.changes.is_empty(), "{text}");
            let words = pages::lead::lead(tune, request, approach);
            let signs = words.legend.into_iter().map(|(sample, _)| sample);
            let changes = signs.filter(|sample| matches!(sample, Sample::LeftOut | Sample::Changed));
            (changes.count(), words.changes.len())
        })
    };
    assert_eq!(explained("C5 E5 ~Ab5 G5 E5 G5 C5:2"), (0, 1));
    // Hole 5 has no bend between E5 and D5, so the sheet draws another note, with a star.
    assert_eq!(explained("C5 Eb5 D5 E5"), (1, 1));
}

/// A silence of any length is a single rest with a count.
#[test]
fn a_long_silence_is_one_rest() {
    let bars = |silent: usize| {
        let imported = imported(tune(&format!("C5:4 r:{} C5:4", 4 * silent), 100));
        with_winner(&imported, &harp("C"), false, |tune, request, approach| {
            let sheet = Sheet::new(tune, request, approach, Options::default());
            assert_eq!(sheet.pages.len(), 1);
            svg::document(&sheet, 0).matches("class=\"bar\"").count()
        })
    };
    assert_eq!([1, 2, 9, 20_000].map(bars), [3, 3, 3, 3]);
}

/// Makes the sheet of an ABC tune in C for a C harp, in the written octave.
fn sheet_of_abc(music: &str) -> Sheet {
    let text = format!("X:1\nT:A\nM:4/4\nL:1/8\nQ:\"Andante\" 1/4=80\nK:C\n{music}\n");
    let imported = import::import(text.as_bytes(), &ImportOptions::default()).unwrap();
    as_written(&imported, "C", false, |tune, request, approach| {
        Sheet::new(tune, request, approach, Options::default())
    })
}

#[test]
fn slurs_fermatas_and_words_of_tempo_of_the_file_are_drawn() {
    let ties = |sheet: &Sheet| {
        let all = sheet.pages.iter().flat_map(items);
        all.filter(|(_, item)| matches!(item.ink, Ink::Tie(..))).count()
    };
    let plain = sheet_of_abc("c d e f g a b c' | c'4 g4 |]");
    let signed = sheet_of_abc("(c d e f) (g a) b c' | \"^rit.\"c'4 Hg4 |]");
    assert_eq!((ties(&plain), ties(&signed)), (0, 2));
    assert_eq!([&plain, &signed].map(|sheet| glyphs(&sheet.pages[0], "fermata")), [0, 1]);
    assert!(texts(&signed.pages[0]).contains(&"rit.".to_owned()));
    assert!(texts(&plain.pages[0]).contains(&"Andante".to_owned()));
}

#[test]
fn a_slur_over_several_lines_is_drawn_in_each() {
    let sheet = sheet_of_abc(&format!("(c8 | {} c8) |]", "c d e f g f e d | ".repeat(40)));
    let mut lines = BTreeSet::new();
    let mut slurs = 0;
    for page in &sheet.pages {
        for group in page.groups.iter().filter(|group| matches!(group.owner, Owner::System(_))) {
            lines.insert(format!("{:?}", group.owner));
        }
        slurs += items(page).iter().filter(|(_, item)| matches!(item.ink, Ink::Tie(..))).count();
    }
    assert!(lines.len() > 3 && slurs == lines.len(), "{slurs} pieces in {} lines", lines.len());
}

#[test]
fn nobody_is_told_to_breathe_before_a_rest() {
    let breaths = |music: &str| glyphs(&sheet_of_abc(music).pages[0], "breath");
    let phrase = "c2 d2 e4 | c2 d2 e3";
    assert!(breaths(&format!("{phrase} d | {phrase} d | {phrase} d | {phrase} z |]")) > 0);
    assert_eq!(breaths(&format!("{phrase} z | {phrase} z | {phrase} z | {phrase} z |]")), 0);
}

/// The house of a bent note is on steps, one for each half step of the bend.
#[test]
fn a_bend_stands_on_as_many_steps_as_it_has_half_steps() {
    let polygons = |bend: Bend| {
        let imported = imported(tune("C4:4 G4:2 A4:2 Ab4:2 Bb4:2 B4:4 C5:4", 100));
        as_written(&imported, "C", false, |tune, request, approach| {
            let notes = &approach.playing.notes;
            let bent = (0..notes.len()).find(|&note| {
                notes[note].action.is_some_and(|action| (action.bend, action.breath) == (bend, Breath::Draw))
            });
            let bent = bent.unwrap_or_else(|| panic!("no note with {bend:?}"));
            let sheet = Sheet::new(tune, request, approach, Options::default());
            let of_note = items(&sheet.pages[0])
                .into_iter()
                .filter(|(owner, item)| *owner == Owner::Note(bent) && item.role == Role::DrawShape);
            of_note.map(|(_, item)| item.bounds.bottom - item.bounds.top).collect::<Vec<_>>()
        })
    };
    let [plain, half, whole, three] = [Bend::None, Bend::Down(1), Bend::Down(2), Bend::Down(3)].map(polygons);
    assert_eq!([plain.len(), half.len(), whole.len(), three.len()], [1, 2, 3, 4]);
}
