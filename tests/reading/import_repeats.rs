//! The order of performance: fixtures with one feature each, laws, and random forms compared with their definition.

#![allow(clippy::unwrap_used, clippy::panic, reason = "clippy does not recognise these helpers as test code")]

use std::{fmt::Write, fs, path::Path};

use breathline::{
    import::{ImportOptions, Imported, Oddity, Warning, import, repeats::unfold},
    melody::{Bar, BarMarks, Lyric, Melody, Note},
    pitch::Pitch,
    time::{Beats, Meter},
};
use proptest::prelude::*;

fn read(name: &str, unfold: bool) -> Imported {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures").join(format!("{name}.musicxml"));
    let bytes = fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    import(&bytes, &ImportOptions { unfold, ..ImportOptions::default() }).unwrap()
}

/// Compares the unfolded fixture with a text in the form of [`describe`]; indentation is ignored.
fn check(name: &str, expected: &str) {
    let imported = read(name, true);
    assert!(imported.unfolded, "{name}");
    let found = describe(&imported.melody, &imported.warnings);
    let expected: String =
        expected.lines().map(str::trim).filter(|line| !line.is_empty()).collect::<Vec<_>>().join("\n");
    assert!(found.trim() == expected, "\n--- {name}: expected\n{expected}\n--- found\n{found}");
    assert_sound(&imported.melody);
}

/// Writes the numbers of the bars in one line, then the notes, then the changes of key, chord and tempo. Each note has
/// its words, and its length in quarters unless the length is one.
fn describe(melody: &Melody, warnings: &[Warning]) -> String {
    let mut text = String::from("bars");
    for bar in &melody.bars {
        write!(text, " {}", bar.number).unwrap();
    }
    text.push_str("\nnotes");
    for note in &melody.notes {
        write!(text, " {}", note.spelling.unwrap()).unwrap();
        if note.duration != Beats::quarters(1) {
            write!(text, ":{}", note.duration).unwrap();
        }
        for lyric in &note.lyrics {
            write!(
                text,
                "={}{}",
                if lyric.verse > 1 { format!("{} ", lyric.verse) } else { String::new() },
                lyric.text
            )
            .unwrap();
        }
    }
    text.push('\n');
    for key in &melody.signatures {
        writeln!(text, "key {} @{}", key.sharps, key.at).unwrap();
    }
    for chord in &melody.chords {
        writeln!(text, "chord {chord} @{}", chord.at).unwrap();
    }
    if melody.tempo.is_stated() {
        for (at, micros) in melody.tempo.changes() {
            writeln!(text, "tempo {} @{at}", 60_000_000 / micros).unwrap();
        }
    }
    for warning in warnings {
        let place = warning.place.map_or_else(String::new, |place| format!(" bar {}", place.bar));
        writeln!(text, "{:?}{place}", warning.oddity).unwrap();
    }
    text
}

/// Checks the invariants of every melody, and that no repeat sign or jump is left.
fn assert_sound(melody: &Melody) {
    let mut end = Beats::ZERO;
    for bar in &melody.bars {
        assert_eq!(bar.start, end);
        end = bar.start + bar.length;
        let plain = BarMarks { section_end: bar.marks.section_end, ..BarMarks::default() };
        assert_eq!(bar.marks, plain);
    }
    for pair in melody.notes.windows(2) {
        assert!(pair[0].end() <= pair[1].onset && pair[0].bar <= pair[1].bar);
    }
    for note in &melody.notes {
        let bar = &melody.bars[note.bar];
        assert!(bar.start <= note.onset && note.onset < bar.start + bar.length && note.end() <= end);
    }
}

#[test]
fn a_repeated_passage_is_played_twice_or_as_often_as_it_says() {
    check("unfold_times", "bars 1 2 2 2 3 \n notes C4 D4 D4 D4 E4");
    check("unfold_no_start", "bars 1 2 1 2 3 4 3 4 5 \n notes C4 D4 C4 D4 E4 F4 E4 F4 G4");
    check("unfold_nested", "bars 1 2 2 3 1 2 2 3 4 \n notes C4 D4 D4 E4 C4 D4 D4 E4 F4");
}

#[test]
fn endings_are_played_on_their_passes() {
    check("unfold_endings", "bars 1 2 3 2 4 5 6 \n notes C4 D4 E4 D4 F4 G4 A4");
    check("unfold_three_endings", "bars 1 2 1 2 1 3 \n notes C4 D4 C4 D4 C4 E4");
    check("unfold_one_ending", "bars 1 2 1 3 \n notes C4 D4 C4 E4");
}

#[test]
fn a_jump_back_takes_no_repeats_again_unless_the_file_says_so() {
    check("unfold_da_capo", "bars 1 2 1 2 3 3 4 1 2 \n notes C4 D4 C4 D4 E4 E4 F4 C4 D4");
    check("unfold_da_capo_endings", "bars 1 2 1 3 4 1 3 \n notes C4 D4 C4 E4 F4 C4 E4");
    check("unfold_da_capo_repeat", "bars 1 1 2 2 3 4 1 1 2 3 \n notes C4 C4 D4 D4 E4 F4 C4 C4 D4 E4");
    // The coda has not been played, so its repeat is taken.
    check("unfold_dal_segno", "bars 1 2 3 3 4 2 3 5 5 6 \n notes C4 D4 E4 E4 F4 D4 E4 G4 G4 A4");
}

#[test]
fn pickups_and_split_bars_keep_their_numbers_and_lengths() {
    check("unfold_pickup", "bars 0 1 2 1 2 3 \n notes C4 D4 E4 F4 G4 A4 D4 E4 F4 G4 A4 B4 C5 D5");
    check(
        "unfold_split_bar",
        "bars 1 2 1 2 2 3 2 3 \n notes C4 D4 E4 F4 G4 C4 D4 E4 F4 G4 A4 B4 C5 A4 B4 C5",
    );
}

#[test]
fn a_tie_over_a_barline_goes_on_where_the_next_bar_does() {
    // Ties lead from the pickup into the repeat, over a barline within it, into the first ending and into the second;
    // none leads back to the start of the repeat.
    check(
        "unfold_ties",
        "
        bars 0 1 2 1 3
        notes C4:2 D4:3 E4 E4 C4 D4:3 F4 F4
        ",
    );
}

#[test]
fn each_pass_has_the_words_of_its_verse() {
    // Bar 3 has one line of words for both passes; all words of the last bar, which is played once, stay.
    check(
        "unfold_verses",
        "
        bars 1 2 3 4 1 2 3 5 6
        notes C4=one D4 E4=sing F4=home C4=two D4 E4=sing G4=away A4=end=2 last
        ",
    );
}

#[test]
fn key_chord_and_tempo_are_those_of_the_bar() {
    check(
        "unfold_changes",
        "
        bars 1 2 3 2 3 4
        notes D4 D4 F4 D4 F4 C4
        key 2 @0
        key -1 @2
        key 2 @3
        key -1 @4
        chord D @0
        chord F @2
        chord D @3
        chord F @4
        tempo 120 @0
        tempo 60 @2
        tempo 120 @3
        tempo 60 @4
        ",
    );
}

#[test]
fn what_makes_no_sense_is_played_as_written_and_said() {
    check(
        "unfold_bad_repeat",
        "
        bars 1 2 3 2 3
        notes C4 D4 E4 D4 E4
        RepeatNotEnded bar 1
        ",
    );
    check(
        "unfold_bad_endings",
        "
        bars 1 2 3 4 5
        notes C4 D4 E4 F4 G4
        EndingsUnclear bar 2
        EndingsUnclear bar 4
        ",
    );
    check(
        "unfold_bad_jumps",
        "
        bars 1 2 3
        notes C4 D4 E4
        SignUnused bar 1
        JumpNowhere bar 2
        SignUnused bar 3
        ",
    );
}

/// Makes bars of a quarter, with one note each.
fn tune(marks: &[BarMarks]) -> Melody {
    let meter = Meter { beats: 1, unit: 4 };
    let bars = marks.iter().enumerate().map(|(index, marks)| {
        let bar = Bar::full(index as u32 + 1, Beats::quarters(index as i32), meter);
        Bar { marks: marks.clone(), ..bar }
    });
    let notes = (0..marks.len()).map(|index| {
        let pitch = Pitch::new(40 + (index % 50) as u8).unwrap();
        Note::new(Beats::quarters(index as i32), Beats::quarters(1), pitch, index)
    });
    Melody { notes: notes.collect(), bars: bars.collect(), ..Melody::default() }
}

/// Returns the indices of the bars that are played, found from their numbers.
fn order(melody: &Melody) -> Vec<usize> {
    melody.bars.iter().map(|bar| bar.number as usize - 1).collect()
}

/// The inner repeat, in the ending, goes back first. The inner repeat must not move the start of the outer repeat,
/// which has no sign of its own, to the end of the tune.
#[test]
fn an_ending_may_be_repeated_inside_itself() {
    let under = |number| BarMarks { ending: vec![number], ..BarMarks::default() };
    let repeated = |number| BarMarks { repeat_start: true, repeat_end: Some(2), ..under(number) };
    for (marks, expected) in [
        // In the first case, one ending has two bars, and the second bar has repeat signs around it. In the second
        // case, the second ending has a single bar, which has repeat signs around it.
        (vec![under(1), repeated(1)], vec![0, 1, 1]),
        (vec![BarMarks { repeat_end: Some(2), ..under(1) }, repeated(2)], vec![0, 1, 1]),
    ] {
        let (melody, warnings) = unfold(&tune(&marks), 1);
        assert_eq!((order(&melody), warnings), (expected, Vec::new()));
        assert_sound(&melody);
    }
}

#[test]
fn the_length_is_bounded_and_the_limit_named() {
    let mut marks = vec![BarMarks::default(); 40];
    for (index, bar) in marks.iter_mut().enumerate() {
        bar.repeat_start = index < 20;
        bar.repeat_end = (index >= 20).then_some(3);
    }
    let written = tune(&marks);
    let (melody, warnings) = unfold(&written, 1);
    assert_eq!(melody, written);
    assert_eq!(
        warnings,
        [Warning {
            oddity: Oddity::UnfoldedTooLong { limit: 10_000, unit: "bars" },
            place: None,
            text: None
        }]
    );
    // A tune that is long as written, without repeats, is not refused.
    let long = tune(&vec![BarMarks::default(); 20_000]);
    assert_eq!(unfold(&long, 1), (long, Vec::new()));
}

#[test]
fn title_and_names_stay_when_a_melody_is_written_out() {
    let mut written = tune(&[BarMarks { repeat_end: Some(2), ..BarMarks::default() }]);
    written.title = Some("The Mill".to_owned());
    written.credits.rights = vec!["Free for all".to_owned()];
    let (melody, _) = unfold(&written, 1);
    assert_eq!(order(&melody), [0, 0]);
    assert_eq!((melody.title, melody.credits), (written.title, written.credits));
}

#[test]
fn a_melody_in_several_verses_without_repeats_keeps_all_of_them() {
    let mut melody = tune(&vec![BarMarks::default(); 3]);
    let lyric = |verse| Lyric { verse, text: "la".to_owned(), hyphen: false, extend: false };
    melody.notes[1].lyrics = vec![lyric(1), lyric(2)];
    assert_eq!(unfold(&melody, 1), (melody, Vec::new()));
}

/// A piece of a form, which defines its own order of performance.
#[derive(Clone, Debug)]
enum Form {
    Bars(usize),
    Repeat(Vec<Form>, u8),
    /// The bars before the endings, and the bars of each ending with its number of passes.
    Endings(Vec<Form>, Vec<(usize, u8)>),
}

fn form() -> impl Strategy<Value = Form> {
    let bars = (1..3usize).prop_map(Form::Bars);
    bars.prop_recursive(3, 12, 3, |inner| {
        // A piece begins with a bar of its own, so that no two repeats start together.
        let pieces = prop::collection::vec(inner, 0..3).prop_map(|mut pieces| {
            pieces.insert(0, Form::Bars(1));
            pieces
        });
        let endings = prop::collection::vec((1..3usize, 1..3u8), 2..4);
        prop_oneof![
            (pieces.clone(), 2..4u8).prop_map(|(pieces, times)| Form::Repeat(
                // A repeat ends with a bar of its own, so that no two repeats end together.
                [pieces, vec![Form::Bars(1)]].concat(),
                times
            )),
            (pieces, endings).prop_map(|(pieces, mut endings)| {
                endings.last_mut().unwrap().1 = 1;
                Form::Endings(pieces, endings)
            }),
        ]
    })
}

/// Writes a form as marks; returns the order in which its bars are played.
fn write(form: &Form, marks: &mut Vec<BarMarks>) -> Vec<usize> {
    match form {
        Form::Bars(count) => {
            let first = marks.len();
            marks.resize(first + count, BarMarks::default());
            (first..first + count).collect()
        }
        Form::Repeat(pieces, times) => {
            let first = marks.len();
            let once: Vec<usize> = pieces.iter().flat_map(|piece| write(piece, marks)).collect();
            marks[first].repeat_start = true;
            marks.last_mut().unwrap().repeat_end = Some(*times);
            once.repeat(usize::from(*times))
        }
        Form::Endings(pieces, endings) => {
            let first = marks.len();
            let body: Vec<usize> = pieces.iter().flat_map(|piece| write(piece, marks)).collect();
            marks[first].repeat_start = true;
            let (mut order, mut number) = (Vec::new(), 0);
            for (index, &(bars, passes)) in endings.iter().enumerate() {
                let numbers: Vec<u8> = (number + 1..=number + passes).collect();
                number += passes;
                let start = marks.len();
                marks.resize(start + bars, BarMarks { ending: numbers, ..BarMarks::default() });
                if index + 1 < endings.len() {
                    marks.last_mut().unwrap().repeat_end = Some(2);
                }
                for _ in 0..passes {
                    order.extend(&body);
                    order.extend(start..start + bars);
                }
            }
            order
        }
    }
}

/// Returns the order in which the bars are played if only the last pass of each repeat is taken.
fn last_pass(form: &Form, marks: &mut Vec<BarMarks>) -> Vec<usize> {
    match form {
        Form::Bars(_) => write(form, marks),
        Form::Repeat(pieces, _) => pieces.iter().flat_map(|piece| last_pass(piece, marks)).collect(),
        Form::Endings(pieces, endings) => {
            let mut order: Vec<usize> = pieces.iter().flat_map(|piece| last_pass(piece, marks)).collect();
            for (index, &(bars, _)) in endings.iter().enumerate() {
                let start = marks.len();
                marks.resize(start + bars, BarMarks::default());
                if index + 1 == endings.len() {
                    order.extend(start..start + bars);
                }
            }
            order
        }
    }
}

/// Generates any combination of marks.
fn mess() -> impl Strategy<Value = Vec<BarMarks>> {
    let bar =
        (any::<u16>(), 0..4u8, prop::collection::vec(0..5u8, 0..3)).prop_map(|(bits, times, ending)| {
            let bit = |n: u16| bits >> n & 3 == 0;
            BarMarks {
                repeat_start: bit(0),
                repeat_end: bit(2).then_some(times),
                repeat_after_jump: bit(1),
                ending: if bit(4) { ending } else { Vec::new() },
                section_end: bit(5),
                segno: bit(6),
                coda: bit(8),
                to_coda: bit(9),
                fine: bit(10),
                da_capo: bit(11) && bit(13),
                dal_segno: bit(12) && bit(14),
            }
        });
    prop::collection::vec(bar, 1..30)
}

proptest! {
    #[test]
    fn every_form_is_played_as_it_is_defined(forms in prop::collection::vec(form(), 1..4)) {
        let mut marks = Vec::new();
        let expected: Vec<usize> = forms.iter().flat_map(|form| write(form, &mut marks)).collect();
        let (melody, warnings) = unfold(&tune(&marks), 1);
        prop_assert_eq!(warnings, []);
        assert_sound(&melody);
        prop_assert_eq!(order(&melody), expected);
    }

    #[test]
    fn after_da_capo_each_repeat_is_played_its_last_time(forms in prop::collection::vec(form(), 1..4), fine in any::<prop::sample::Index>()) {
        let mut marks = Vec::new();
        let mut expected: Vec<usize> = forms.iter().flat_map(|form| write(form, &mut marks)).collect();
        let mut again = Vec::new();
        let again: Vec<usize> = forms.iter().flat_map(|form| last_pass(form, &mut again)).collect();
        // "Fine" is at a bar that is played again; the jump is in a separate bar at the end.
        let fine = fine.index(again.len());
        marks[again[fine]].fine = true;
        expected.push(marks.len());
        expected.extend(&again[..=fine]);
        marks.push(BarMarks { da_capo: true, ..BarMarks::default() });
        let (melody, warnings) = unfold(&tune(&marks), 1);
        prop_assert_eq!(warnings, []);
        prop_assert_eq!(order(&melody), expected);
    }

    #[test]
    fn whatever_the_marks_the_answer_is_sound_and_bounded(marks in mess()) {
        let written = tune(&marks);
        let (melody, warnings) = unfold(&written, 1);
        if warnings.iter().any(|warning| matches!(warning.oddity, Oddity::UnfoldedTooLong { .. })) {
            prop_assert_eq!(melody, written);
        } else {
            assert_sound(&melody);
            let end = |melody: &Melody| melody.bars.last().map_or(Beats::ZERO, |bar| bar.start + bar.length);
            let played: Beats = order(&melody).into_iter().map(|bar| written.bars[bar].length).sum();
            prop_assert_eq!(end(&melody), played);
            prop_assert_eq!(melody.notes.len(), melody.bars.len());
            // A melody already in the order of performance stays unchanged.
            prop_assert_eq!(unfold(&melody, 1), (melody.clone(), Vec::new()));
        }
    }

    #[test]
    fn a_melody_without_marks_stays_as_it_is(bars in 1..20usize, long in 0..20usize, verse in 0..4u8) {
        let mut written = tune(&vec![BarMarks::default(); bars]);
        let long = long.min(bars - 1);
        // One note lasts several bars.
        written.notes.drain(long + 1..(long + 3).min(bars));
        let next = written.notes.get(long + 1).map_or(Beats::quarters(bars as i32), |next| next.onset);
        written.notes[long].duration = next - written.notes[long].onset;
        if verse > 0 {
            written.notes[long].lyrics = vec![Lyric { verse, text: "la".to_owned(), hyphen: false, extend: true }];
        }
        prop_assert_eq!(unfold(&written, 1), (written.clone(), Vec::new()));
    }
}
