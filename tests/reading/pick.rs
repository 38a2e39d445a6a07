//! The choice of the part that becomes the melody, and its reduction to one note at a time.

#![allow(clippy::unwrap_used, reason = "test helpers fail by panicking too")]

use breathline::{
    import::{
        ChoiceReason, Format, ImportError, ImportOptions, Imported, Oddity, Part, PartNote, Score,
        pick::{self, Fact},
    },
    melody::{Bar, ChordSymbol, KeySignature, Lyric, Note},
    pitch::Pitch,
    time::{Beats, Meter},
};
use proptest::prelude::*;

/// Makes a note from pitch, onset and duration in eighths, in voice 0.
fn note(midi: u8, onset: i64, duration: i64) -> PartNote {
    let (onset, duration) = (Beats::new(onset, 2), Beats::new(duration, 2));
    let bar = usize::try_from(onset.fraction().0 / onset.fraction().1 / 4).unwrap();
    PartNote { note: Note::new(onset, duration, Pitch::new(midi).unwrap(), bar), voice: 0 }
}

fn sung(midi: u8, onset: i64, duration: i64, word: &str) -> PartNote {
    let mut note = note(midi, onset, duration);
    note.note.lyrics = vec![Lyric { verse: 1, text: word.to_owned(), hyphen: false, extend: false }];
    note
}

fn grace(midi: u8, onset: i64) -> PartNote {
    let mut note = note(midi, onset, 0);
    note.note.grace = true;
    note
}

fn in_voice(voice: u16, notes: &[(u8, i64, i64)]) -> Vec<PartNote> {
    notes.iter().map(|&(midi, onset, duration)| PartNote { voice, ..note(midi, onset, duration) }).collect()
}

fn part(name: Option<&str>, notes: Vec<PartNote>) -> Part {
    Part { name: name.map(str::to_owned), notes, ..Part::default() }
}

/// Makes a score in 4/4 and sorts the notes of each part by onset.
fn score(mut parts: Vec<Part>) -> Score {
    for part in &mut parts {
        part.notes.sort_by_key(|note| note.note.onset);
    }
    let end = parts.iter().flat_map(|part| &part.notes).map(|note| note.note.end()).max();
    let bars = end.map_or(1, |end| end.fraction().0 / end.fraction().1 / 4 + 1);
    let bars = (0..i32::try_from(bars).unwrap())
        .map(|bar| Bar::full(bar.unsigned_abs() + 1, Beats::quarters(4 * bar), Meter::COMMON))
        .collect();
    Score { bars, parts, ..Score::default() }
}

fn pick(parts: Vec<Part>) -> Imported {
    pick::melody(score(parts), Format::Midi, &ImportOptions::default()).unwrap()
}

/// Returns the pitch, onset and duration in eighths of each note.
fn line(imported: &Imported) -> Vec<(u8, i64, i64)> {
    let eighths = |time: Beats| {
        let (numerator, denominator) = time.times(2, 1).fraction();
        assert_eq!(denominator, 1);
        numerator
    };
    let notes = imported.melody.notes.iter();
    notes.map(|note| (note.pitch.midi(), eighths(note.onset), eighths(note.duration))).collect()
}

/// Returns each oddity with its bar and beat.
fn odd(imported: &Imported) -> Vec<(Oddity, u32, Beats)> {
    let with_place = imported.warnings.iter().map(|warning| (warning.oddity.clone(), warning.place.unwrap()));
    with_place.map(|(oddity, place)| (oddity, place.bar, place.beat)).collect()
}

/// Makes eight bars of a varied tune in D.
fn tune() -> Vec<PartNote> {
    let steps = [0, 2, 4, 5, 7, 9, 11, 12, 14];
    let shape = [0, 2, 1, 3, 4, 3, 2, 4, 5, 7, 6, 5, 4, 2, 3, 1];
    (0..32)
        .map(|i| note(62 + steps[(shape[i % 16] + i / 16) % 9], 2 * i as i64, if i % 4 == 3 { 1 } else { 2 }))
        .collect()
}

fn chords() -> Vec<PartNote> {
    (0..32).flat_map(|beat| [57, 60, 64].map(|midi| note(midi, 2 * beat, 1))).collect()
}

fn bass() -> Vec<PartNote> {
    (0..16).map(|half| note(38 + 7 * (half % 2) as u8, 4 * half, 4)).collect()
}

fn drums() -> Part {
    Part { percussion: true, ..part(Some("Melody"), (0..64).map(|i| note(76, i, 1)).collect()) }
}

#[test]
fn the_tune_of_a_band_is_found_wherever_it_stands() {
    for place in 0..4 {
        let mut parts = vec![part(None, chords()), part(None, bass()), drums()];
        parts.insert(place, part(None, tune()));
        let imported = pick(parts);
        assert_eq!(imported.choice.part, place + 1);
        assert!(matches!(imported.choice.reason, ChoiceReason::Evidence { lead: 1.., .. }));
        assert_eq!(imported.choice.evidence.len(), 3, "percussion is no candidate");
    }
}

#[test]
fn the_reason_names_the_runner_up_and_what_the_choice_is_ahead_in() {
    let imported = pick(vec![part(None, chords()), part(None, tune()), part(None, bass())]);
    let ChoiceReason::Evidence { ahead_in, runner_up, lead } = imported.choice.reason else {
        panic!("{:?}", imported.choice.reason)
    };
    assert_ne!(runner_up, 2);
    let points = |part: usize| imported.choice.evidence[part - 1].points();
    assert_eq!(lead, points(2) - points(runner_up));
    assert!(points(runner_up) >= points(4 - runner_up));
    assert!(ahead_in.iter().any(|fact| matches!(fact, Fact::OnTop { .. })), "{ahead_in:?}");
}

#[test]
fn a_name_that_says_melody_decides_between_equals() {
    for (name, chosen) in [("Melodie", 2), ("Gesang", 2), ("主旋律", 2), ("Harmony", 1), ("Begleitung", 1)]
    {
        let imported = pick(vec![part(None, tune()), part(Some(name), tune())]);
        assert_eq!(imported.choice.part, chosen, "{name}");
    }
}

#[test]
fn words_decide_between_equals() {
    let words = tune().into_iter().map(|note| {
        let mut note = note;
        note.note.lyrics = vec![Lyric { verse: 1, text: "la".into(), hyphen: false, extend: false }];
        note
    });
    assert_eq!(pick(vec![part(None, tune()), part(None, words.collect())]).choice.part, 2);
}

#[test]
fn of_equal_parts_the_first_is_taken() {
    let imported = pick(vec![part(None, tune()), part(None, tune())]);
    // Of equal pitches, the earlier part counts as the top one.
    assert_eq!(imported.choice.part, 1);
}

#[test]
fn the_part_that_was_asked_for_is_taken() {
    let parts = vec![part(None, tune()), part(None, bass())];
    let options = ImportOptions { part: Some(2.into()), ..ImportOptions::default() };
    let imported = pick::melody(score(parts), Format::Midi, &options).unwrap();
    assert_eq!((imported.choice.part, imported.choice.reason), (2, ChoiceReason::Asked));
    assert_eq!(imported.melody.notes[0].pitch.midi(), 38);
}

#[test]
fn a_part_that_is_missing_or_empty_cannot_be_asked_for() {
    let parts = vec![part(None, tune()), part(Some("Tacet"), vec![]), drums()];
    for (asked, empty) in [(0, false), (2, true), (3, true), (4, false)] {
        let options = ImportOptions { part: Some(asked.into()), ..ImportOptions::default() };
        let error = pick::melody(score(parts.clone()), Format::Midi, &options).unwrap_err();
        assert_eq!(error, ImportError::NoSuchPart { asked, parts: 3, empty });
    }
}

#[test]
fn the_only_part_with_notes_is_taken_whatever_it_is() {
    let imported = pick(vec![part(None, vec![]), drums(), part(Some("Bass"), bass())]);
    assert_eq!((imported.choice.part, imported.choice.reason), (3, ChoiceReason::OnlyPart));
}

#[test]
fn drums_alone_are_no_melody() {
    let error = pick::melody(score(vec![drums()]), Format::Midi, &ImportOptions::default());
    assert_eq!(error.unwrap_err(), ImportError::NoNotes);
}

#[test]
fn parts_are_summed_up_with_their_range() {
    let imported = pick(vec![part(Some("Fiddle"), tune()), drums()]);
    let range = imported.parts[0].range.map(|(low, high)| (low.midi(), high.midi()));
    assert_eq!((imported.parts[0].name.as_deref(), imported.parts[0].notes), (Some("Fiddle"), 32));
    assert_eq!(range, Some((62, 76)));
    assert_eq!((imported.parts[1].range, imported.parts[1].percussion), (None, true));
}

#[test]
fn of_a_chord_the_top_note_is_taken_with_a_warning_at_its_place() {
    let imported = pick(vec![part(None, vec![note(60, 0, 2), note(64, 0, 2), note(67, 2, 2)])]);
    assert_eq!(line(&imported), [(64, 0, 2), (67, 2, 2)]);
    assert_eq!(odd(&imported), [(Oddity::ChordReduced, 1, Beats::quarters(1))]);
}

#[test]
fn a_note_doubled_at_the_same_pitch_is_one_note() {
    let imported = pick(vec![part(None, vec![note(60, 0, 2), note(60, 0, 4)])]);
    assert_eq!((line(&imported), odd(&imported)), (vec![(60, 0, 4)], vec![]));
}

#[test]
fn words_and_breath_marks_on_a_lower_chord_note_are_kept() {
    let mut low = sung(60, 0, 2, "Sing");
    low.note.breath_after = true;
    let imported = pick(vec![part(None, vec![low, note(64, 0, 2)])]);
    let kept = &imported.melody.notes[0];
    assert_eq!((kept.lyrics[0].text.as_str(), kept.breath_after), ("Sing", true));
}

#[test]
fn a_note_held_into_the_next_is_cut_where_that_begins() {
    let imported = pick(vec![part(None, vec![note(60, 8, 4), note(64, 10, 2)])]);
    assert_eq!(line(&imported), [(60, 8, 2), (64, 10, 2)]);
    assert_eq!(odd(&imported), [(Oddity::OverlapCut, 2, Beats::quarters(1))]);
}

#[test]
fn a_little_overlap_into_a_lower_note_is_legato() {
    let imported = pick(vec![part(None, vec![note(64, 0, 9), note(60, 8, 8)])]);
    assert_eq!(line(&imported), [(64, 0, 8), (60, 8, 8)]);
}

#[test]
fn notes_under_a_held_note_are_not_the_tune() {
    let imported =
        pick(vec![part(None, vec![note(72, 0, 8), note(60, 2, 2), note(62, 4, 2), note(74, 8, 2)])]);
    assert_eq!(line(&imported), [(72, 0, 8), (74, 8, 2)]);
    let beats = odd(&imported).into_iter().map(|(oddity, _, beat)| (oddity, beat)).collect::<Vec<_>>();
    assert_eq!(
        beats,
        [(Oddity::ChordReduced, Beats::quarters(2)), (Oddity::ChordReduced, Beats::quarters(3))]
    );
}

#[test]
fn a_lower_hand_that_plays_on_while_the_tune_rests_is_left_out() {
    // Only the bass plays in the third bar.
    let tune: Vec<_> = (0..16).filter(|i| i / 4 != 2).map(|i| (72 + i as u8 % 5, 2 * i, 2)).collect();
    let bass = (0..16).map(|beat| note(43 + beat as u8 % 3, 2 * beat, 2));
    let notes = tune.iter().map(|&(midi, onset, duration)| note(midi, onset, duration)).chain(bass);
    let imported = pick(vec![part(None, notes.collect())]);
    assert_eq!(line(&imported), tune);
    let alone = odd(&imported).into_iter().filter(|(oddity, ..)| *oddity == Oddity::AccompanimentAlone);
    assert_eq!(alone.map(|(_, bar, _)| bar).collect::<Vec<_>>(), [3, 3, 3, 3]);
}

#[test]
fn low_notes_of_a_voice_with_a_few_double_stops_are_its_own() {
    let notes = vec![note(74, 0, 2), note(65, 0, 2), note(57, 2, 2), note(76, 4, 2), note(60, 6, 2)];
    assert_eq!(line(&pick(vec![part(None, notes)])), [(74, 0, 2), (57, 2, 2), (76, 4, 2), (60, 6, 2)]);
}

#[test]
fn grace_notes_stand_before_their_main_note_in_their_order() {
    let notes = vec![note(67, 0, 2), note(62, 2, 2), grace(64, 2), grace(65, 2)];
    assert_eq!(line(&pick(vec![part(None, notes)])), [(67, 0, 2), (64, 2, 0), (65, 2, 0), (62, 2, 2)]);
}

#[test]
fn a_grace_note_without_a_main_note_is_left_out_with_a_warning() {
    let imported = pick(vec![part(None, vec![note(67, 0, 2), grace(69, 4)])]);
    assert_eq!(line(&imported), [(67, 0, 2)]);
    assert_eq!(odd(&imported), [(Oddity::GraceWithoutNote, 1, Beats::quarters(3))]);
}

#[test]
fn of_two_voices_the_upper_is_taken_whatever_its_number() {
    let (upper, lower) = ([(72, 0, 4), (74, 4, 4), (76, 8, 8)], [(60, 0, 2), (62, 2, 6), (64, 8, 8)]);
    for (top, other) in [(0, 1), (1, 0)] {
        let notes = [in_voice(top, &upper), in_voice(other, &lower)].concat();
        let imported = pick(vec![part(None, notes)]);
        assert_eq!(line(&imported), upper);
        let oddity = Oddity::VoiceChosen { voice: top + 1, of: 2 };
        assert_eq!(odd(&imported), [(oddity, 1, Beats::quarters(1))]);
    }
}

#[test]
fn a_voice_of_ornaments_alone_is_not_taken() {
    // The other voice's only note is too short to count as sounding time.
    let short = Note::new(Beats::ZERO, Beats::new(1, 1_000_000), Pitch::new(62).unwrap(), 0);
    let notes = vec![grace(72, 0), PartNote { note: short, voice: 1 }];
    let imported = pick(vec![part(None, notes)]);
    assert_eq!(imported.melody.notes.iter().map(|note| note.pitch.midi()).collect::<Vec<_>>(), [62]);
}

#[test]
fn the_voice_that_was_asked_for_is_taken() {
    let (upper, lower) = ([(72, 0, 4), (74, 4, 4), (76, 8, 8)], [(60, 0, 2), (62, 2, 6), (64, 24, 8)]);
    let parts = || vec![part(None, [in_voice(0, &upper), in_voice(1, &lower)].concat())];
    for (voice, expected) in [(1, upper), (2, lower)] {
        let options = ImportOptions { voice: Some(voice), ..ImportOptions::default() };
        let imported = pick::melody(score(parts()), Format::MusicXml, &options).unwrap();
        assert_eq!(line(&imported), expected);
        // The user asked for this voice, so there is no warning, and the other voice does not take over.
        assert_eq!((imported.choice.voice, imported.warnings.len()), (Some(voice), 0));
    }
}

#[test]
fn a_voice_that_is_missing_or_has_no_notes_cannot_be_asked_for() {
    let mut notes = tune();
    notes.extend([grace(72, 0)].map(|grace| PartNote { voice: 1, ..grace }));
    let parts = vec![part(None, bass()), part(None, notes)];
    for asked in [0, 2, 3, 70_000] {
        let options = ImportOptions { part: Some(2.into()), voice: Some(asked), ..ImportOptions::default() };
        let error = pick::melody(score(parts.clone()), Format::MusicXml, &options).unwrap_err();
        assert_eq!(error, ImportError::NoSuchVoice { asked, part: 2, voices: 2 });
        assert!(error.to_string().contains(&format!("no voice {asked} in part 2; it has 2")), "{error}");
    }
}

#[test]
fn a_voice_takes_over_through_bars_in_which_the_chosen_one_rests() {
    let first = in_voice(0, &[(72, 0, 8), (74, 8, 8), (72, 32, 8)]);
    let second = in_voice(1, &[(71, 16, 8), (69, 24, 4), (67, 28, 4)]);
    let imported = pick(vec![part(None, [first, second].concat())]);
    assert_eq!(line(&imported), [(72, 0, 8), (74, 8, 8), (71, 16, 8), (69, 24, 4), (67, 28, 4), (72, 32, 8)]);
    assert_eq!(odd(&imported), [(Oddity::VoiceTakesOver { voice: 2 }, 3, Beats::quarters(1))]);
}

#[test]
fn a_left_hand_alone_does_not_take_over_and_is_reported() {
    let right = in_voice(0, &[(72, 8, 8), (74, 16, 8)]);
    let left = in_voice(1, &[(41, 0, 8), (48, 8, 8)]);
    let imported = pick(vec![part(None, [right, left].concat())]);
    assert_eq!(line(&imported), [(72, 8, 8), (74, 16, 8)]);
    let start = Beats::quarters(1);
    let expected =
        [(Oddity::VoiceLeftOut { voice: 2 }, 1, start), (Oddity::VoiceChosen { voice: 1, of: 2 }, 1, start)];
    assert_eq!(odd(&imported), expected);
}

#[test]
fn words_from_another_part_are_carried_over_to_the_notes_at_the_same_time() {
    let words = vec![sung(55, 0, 2, "Row"), sung(55, 2, 2, "row"), sung(55, 5, 2, "lost")];
    let imported = pick(vec![part(Some("Melody"), vec![note(72, 0, 2), note(74, 2, 2)]), part(None, words)]);
    let found: Vec<_> = imported.melody.notes.iter().map(|note| note.lyrics[0].text.as_str()).collect();
    assert_eq!(found, ["Row", "row"]);
}

#[test]
fn words_that_fit_few_notes_are_not_carried_over() {
    let words = vec![sung(55, 0, 2, "Other"), sung(55, 3, 2, "song"), sung(55, 5, 2, "here")];
    let imported = pick(vec![part(Some("Melody"), vec![note(72, 0, 2), note(74, 2, 2)]), part(None, words)]);
    assert!(imported.melody.notes.iter().all(|note| note.lyrics.is_empty()));
}

#[test]
fn chord_symbols_and_key_come_from_another_part_if_the_chosen_has_none() {
    let chord = ChordSymbol::parse(Beats::ZERO, "D");
    let signature = KeySignature { at: Beats::ZERO, sharps: 2, mode: None };
    let mut other = part(None, bass());
    other.chords = vec![chord.clone()];
    other.signatures = vec![signature];
    let imported = pick(vec![part(Some("Melody"), tune()), other]);
    assert_eq!((imported.melody.chords, imported.melody.signatures), (vec![chord], vec![signature]));
}

#[test]
fn warnings_about_other_parts_are_not_the_melodys() {
    let mut score = score(vec![part(Some("Melody"), tune()), part(None, bass())]);
    let place = |part| Some(breathline::time::Place { part, bar: 1, beat: Beats::quarters(1) });
    let warning = |oddity, place| breathline::import::Warning { oddity, place, text: None };
    score.warnings = vec![
        warning(Oddity::HangingNote, place(2)),
        warning(Oddity::HangingNote, place(1)),
        warning(Oddity::Truncated, None),
    ];
    let imported = pick::melody(score, Format::Midi, &ImportOptions::default()).unwrap();
    assert_eq!(imported.warnings, [warning(Oddity::Truncated, None), warning(Oddity::HangingNote, place(1))]);
}

fn any_note() -> impl Strategy<Value = PartNote> {
    (40_u8..90, 0_i64..64, 0_i64..12, 0_u16..3).prop_map(|(midi, onset, duration, voice)| {
        let mut note = if duration == 0 { grace(midi, onset) } else { note(midi, onset, duration) };
        note.voice = voice;
        note
    })
}

proptest! {
    /// The invariants of [`breathline::melody::Melody`] hold, whatever the notes.
    #[test]
    fn a_melody_is_one_note_at_a_time_in_order(
        parts in proptest::collection::vec(proptest::collection::vec(any_note(), 0..40), 1..4),
    ) {
        let parts: Vec<Part> = parts.into_iter().map(|notes| part(None, notes)).collect();
        let all = parts.clone();
        let Ok(imported) = pick::melody(score(parts), Format::Midi, &ImportOptions::default()) else {
            let mains = all.iter().flat_map(|part| &part.notes).filter(|note| !note.note.grace).count();
            prop_assert_eq!(mains, 0);
            return Ok(());
        };
        let melody = &imported.melody;
        for pair in melody.notes.windows(2) {
            prop_assert!(pair[0].onset <= pair[1].onset && pair[0].end() <= pair[1].onset);
            prop_assert!(!pair[0].grace || pair[0].onset == pair[1].onset);
        }
        prop_assert!(melody.notes.last().is_some_and(|note| !note.grace));
        for note in &melody.notes {
            prop_assert!(note.grace == (note.duration == Beats::ZERO));
            prop_assert!(melody.bars[note.bar].start <= note.onset);
        }
        // A dropped note is reported, unless it only doubles another note.
        let chosen = &all[imported.choice.part - 1];
        if melody.notes.len() < chosen.notes.len() {
            let distinct = chosen.notes.iter().map(|note| (note.note.onset, note.note.pitch, note.note.grace));
            let distinct: std::collections::BTreeSet<_> = distinct.collect();
            prop_assert!(!imported.warnings.is_empty() || distinct.len() == melody.notes.len());
        }
    }

    /// Moving every part by the same interval does not change the choice, as long as no part leaves the range of tunes.
    #[test]
    fn the_choice_does_not_depend_on_the_key(shift in -3_i16..=8) {
        let moved = |notes: Vec<PartNote>| {
            let up = breathline::pitch::Interval(shift);
            let notes = notes.into_iter().map(|mut note| {
                note.note.pitch = note.note.pitch.transposed(up).unwrap();
                note
            });
            part(None, notes.collect())
        };
        prop_assert_eq!(pick(vec![moved(chords()), moved(tune()), moved(bass())]).choice.part, 2);
    }
}

#[test]
fn a_note_that_is_held_for_ages_is_cut() {
    let imported = pick(vec![part(None, vec![note(60, 0, 600), note(64, 600, 512), note(65, 1112, 2)])]);
    assert_eq!(line(&imported), [(60, 0, 512), (64, 600, 512), (65, 1112, 2)]);
    assert_eq!(odd(&imported), [(Oddity::HeldTooLong { quarters: 256 }, 1, Beats::quarters(1))]);
}
