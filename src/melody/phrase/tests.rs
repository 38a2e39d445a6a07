use proptest::prelude::*;

use super::*;
use crate::{
    melody::Lyric,
    pitch::Pitch,
    time::{Beats, Meter},
};

/// Makes a tune of notes with these lengths in eighths, in bars of 2/4; a negative number is a rest.
fn tune(eighths: &[i32]) -> Melody {
    let mut melody = Melody::default();
    let mut at = 0;
    for &length in eighths {
        if length > 0 {
            let duration = Beats::new(i64::from(length), 2);
            let bar = (at / 4) as usize;
            melody.notes.push(Note::new(Beats::new(i64::from(at), 2), duration, Pitch::MIDDLE_C, bar));
        }
        at += length.abs();
    }
    let meter = Meter { beats: 2, unit: 4 };
    melody.bars = (0..(at + 3) / 4).map(|i| Bar::full(i as u32 + 1, Beats::quarters(2 * i), meter)).collect();
    melody
}

/// Returns the same tune in longer note values and bars.
fn slower(melody: &Melody, times: i64) -> Melody {
    let mut slower = melody.clone();
    for note in &mut slower.notes {
        (note.onset, note.duration) = (note.onset.times(times, 1), note.duration.times(times, 1));
    }
    for bar in &mut slower.bars {
        (bar.start, bar.length) = (bar.start.times(times, 1), bar.length.times(times, 1));
        bar.meter = Some(Meter { beats: 2 * times as u16, unit: 4 });
    }
    slower
}

/// A random tune whose average wait is not a whole number of ticks; with a rounded average, one strength differed by
/// one.
#[test]
fn note_values_twice_as_long_change_no_strength() {
    let eighths = [
        7, -1, 5, 1, -1, 5, 6, 4, -4, 5, 5, -4, -4, 3, 1, 3, -4, 5, 5, -1, 6, -2, 4, 4, -3, 3, 8, 3, -4, -2,
        2, 7, 4, 7, 2, 1, -1, -2, 4, 2, 3, -4, -4, -2, 8, 2, 5, -2, 2, -4, -1, 2, 5, 5, 2, 7, 4, -2, -4, 1,
        6, 5, -1, 5, 8, -4, -4, 6, -2, -2, 4, 4, 8, 7, 1, 5, 3, 2, 5, 7, 5, 6, -1, 5, 6, 5, 4, 2, 2, 1, 3, 8,
        8, 2, -4, -1, 6, 4, 8, 4, 6, 8, 5, 8, 3, -1, -2, -3, -3, 5, -4, -4, -2, 2, -4, -1, 5, 6, 2, 2, 1, 3,
        5, 2, 3, 1, 6, 2, 7, 4, -1, 5, -1, 1, 5, 3, 7, -1, 2, 8, -2, 4, 8, -1, 7, 2, -1, -1, -1, 2, 1,
    ];
    let melody = tune(&eighths);
    assert_eq!(ends(&slower(&melody, 2)), ends(&melody));
}

fn places_of(melody: &Melody) -> Vec<usize> {
    ends(melody).iter().map(|end| end.note).collect()
}

fn why(melody: &Melody, note: usize) -> Vec<Sign> {
    ends(melody).into_iter().find(|end| end.note == note).map(|end| end.why).unwrap_or_default()
}

#[test]
fn nothing_has_no_phrases_and_one_note_is_one() {
    assert_eq!(places_of(&Melody::default()), [0; 0]);
    let end = PhraseEnd { note: 0, strength: 100, why: vec![Sign::End] };
    assert_eq!(ends(&tune(&[1])), [end]);
}

#[test]
fn held_notes_and_rests_end_phrases() {
    let held = tune(&[1, 1, 1, 1, 4, 1, 1, 1, 1, 4]);
    assert_eq!(places_of(&held), [4, 9]);
    assert!(why(&held, 4).contains(&Sign::LongNote));
    let rests = tune(&[1, 1, 1, 1, 1, -3, 1, 1, 1, 1, 1, -3]);
    assert_eq!(places_of(&rests), [4, 9]);
    assert!(why(&rests, 4).contains(&Sign::Rest));
    let strength = |melody: &Melody| ends(melody)[0].strength;
    assert!(strength(&rests) > strength(&held), "a rest is clearer than a held note");
}

#[test]
fn even_notes_are_grouped_by_the_bars() {
    // The tune has only eighths, so the bars are the only signs.
    let even = tune(&[1; 32]);
    assert_eq!(places_of(&even), [7, 15, 23, 31]);
    assert_eq!(why(&even, 7), [Sign::Bars]);
}

#[test]
fn breath_marks_words_and_double_bars_are_heeded() {
    let plain = tune(&[1; 32]);
    let mut marked = plain.clone();
    marked.notes[9].breath_after = true;
    assert!(why(&marked, 9).contains(&Sign::Breath) && why(&plain, 9).is_empty());
    let mut sung = plain.clone();
    for note in &mut sung.notes {
        note.lyrics.push(Lyric { verse: 1, text: "la".into(), hyphen: false, extend: false });
    }
    sung.notes[9].lyrics[0].text = "day,”".into();
    assert_eq!(why(&sung, 9), [Sign::Words]);
    let mut parted = plain;
    parted.bars[2].marks.section_end = true;
    let end = ends(&parted).into_iter().find(|end| end.note == 11);
    assert!(end.is_some_and(|end| end.strength == 100 && end.why == [Sign::Section]));
}

#[test]
fn slurs_on_every_pair_are_bowing() {
    let mut bowed = tune(&[1; 32]);
    bowed.notes.iter_mut().step_by(2).for_each(|note| note.signs.slurs_begin = 1);
    bowed.notes.iter_mut().skip(1).step_by(2).for_each(|note| note.signs.slurs_end = 1);
    assert_eq!(places_of(&bowed), places_of(&tune(&[1; 32])));
}

#[test]
fn grace_notes_go_with_the_note_they_lead_to() {
    let mut melody = tune(&[1, 1, 1, 1, 4, 1, 1, 1, 1, 4]);
    let grace = Note { grace: true, duration: Beats::ZERO, ..melody.notes[5].clone() };
    melody.notes.insert(5, grace);
    assert_eq!(places_of(&melody), [4, 10]);
}

proptest! {
    #[test]
    fn no_other_division_is_worth_more(points in prop::collection::vec(0i64..600, 0..11), usual in 2usize..9) {
        let worth = |ends: &[usize]| {
            let mut start = 0;
            let mut sum = 0;
            for end in ends.iter().copied().chain([points.len()]) {
                sum += points.get(end).copied().unwrap_or(0) - PRICE - unusual(end + 1 - start, usual);
                start = end + 1;
            }
            sum
        };
        let best = (0..1u32 << points.len())
            .map(|set| (0..points.len()).filter(|i| set >> i & 1 == 1).collect::<Vec<_>>())
            .map(|ends| worth(&ends))
            .max();
        prop_assert_eq!(Some(worth(&divide(&points, usual))), best);
    }

    #[test]
    fn the_last_note_ends_a_phrase_and_ends_are_in_order(
        eighths in prop::collection::vec(-4i32..9, 1..200),
        slow in 1i64..5,
    ) {
        let melody = tune(&eighths);
        let found = ends(&melody);
        prop_assert_eq!(found.last().map(|end| end.note + 1), (!melody.notes.is_empty()).then_some(melody.notes.len()));
        prop_assert!(found.is_sorted_by(|a, b| a.note < b.note));
        // The same tune in longer note values and bars must have the same phrases.
        prop_assert_eq!(ends(&slower(&melody, slow)), found);
    }
}
