use super::*;
use crate::{
    melody::{Bar, ChordSymbol, KeySignature, Note},
    pitch::Pitch,
    time::{Beats, Meter},
};

/// Makes a tune of quarters in 4/4 from MIDI numbers; a negative number doubles the length of the previous note.
fn tune(midi: &[i16]) -> Melody {
    let mut melody = Melody::default();
    let mut at = Beats::ZERO;
    for &midi in midi {
        let quarter = Beats::quarters(1);
        match (u8::try_from(midi).ok().and_then(Pitch::new), melody.notes.last_mut()) {
            (Some(pitch), _) => {
                let bar = (at.as_f64() / 4.0) as usize;
                melody.notes.push(Note::new(at, quarter, pitch, bar));
            }
            (None, Some(last)) => last.duration += quarter,
            (None, None) => {}
        }
        at += quarter;
    }
    let bars = (at.as_f64() / 4.0).ceil() as i32;
    melody.bars = (0..bars).map(|i| Bar::full(i as u32 + 1, Beats::quarters(4 * i), Meter::COMMON)).collect();
    melody
}

#[test]
fn keys_are_read_as_they_are_written() {
    for key in Key::all() {
        assert_eq!(key.to_string().parse(), Ok(key));
    }
    for (text, key) in [
        ("em", "E minor"),
        ("CM", "C major"),
        (" b flat minor ", "Bb minor"),
        ("F♯ lyd", "Gb lydian"),
        ("a harmonic minor", "A minor"),
    ] {
        assert_eq!(text.parse::<Key>().unwrap().to_string(), key);
    }
    for text in ["", "H", "D dor x", "#", "é", "B#b"] {
        assert!(text.parse::<Key>().is_err(), "{text}");
    }
}

#[test]
fn a_key_has_the_signature_of_its_scale() {
    for (key, sharps) in [("D dorian", 0), ("A", 3), ("E minor", 1), ("Bb", -2), ("F mixolydian", -2)] {
        assert_eq!(key.parse::<Key>().unwrap().sharps(), sharps, "{key}");
    }
}

const TWINKLE: [i16; 16] = [60, 60, 67, 67, 69, 69, 67, -1, 65, 65, 64, 64, 62, 62, 60, -1];

/// Two strains on D; the second ends open on the fifth, ready for another round.
const OPEN: [i16; 16] = [62, 66, 69, 66, 67, 64, 62, -1, 69, 66, 69, 74, 73, 71, 69, -1];

/// A tune of eight bars that shows every degree of a mode on D and begins, rests and ends like most tunes.
fn on_d(mode: Mode) -> Melody {
    let degree = |n: usize| 62 + i16::from(mode.scale()[n % 7]) + 12 * (n / 7) as i16;
    let line =
        [0, 2, 4, 2, 3, 5, 4, 2, 0, 2, 4, 6, 4, 3, 2, 1, 0, 2, 4, 7, 6, 5, 4, 3, 2, 3, 4, 6, 2, 1, 0, 0];
    tune(&line.map(degree))
}

fn signed(mut melody: Melody, sharps: i8, mode: Option<Mode>) -> Melody {
    melody.signatures.push(KeySignature { at: Beats::ZERO, sharps, mode });
    melody
}

#[test]
fn twinkle_is_in_c_with_and_without_its_signature() {
    let found = find(&tune(&TWINKLE));
    assert_eq!((found.key.to_string().as_str(), found.source), ("C major", KeySource::Notes));
    assert!(found.tonic_confidence > 90, "{found:?}");
    let found = find(&signed(tune(&TWINKLE), 0, None));
    assert_eq!((found.key.to_string().as_str(), found.source), ("C major", KeySource::Signature));
    assert!(found.confidence > 95, "{found:?}");
}

#[test]
fn the_common_modes_are_told_from_the_notes_alone_and_the_rare_ones_never() {
    for mode in Mode::ALL {
        let found = find(&on_d(mode));
        let is_common = matches!(mode, Mode::Major | Mode::Minor | Mode::Dorian | Mode::Mixolydian);
        if is_common {
            assert_eq!(found.key.to_string(), format!("D {mode}"), "{found:?}");
        }
        let named = found.others.iter().map(|guess| guess.key.mode).chain([found.key.mode]);
        for rare in [Mode::Phrygian, Mode::Lydian, Mode::Locrian] {
            assert!(named.clone().all(|mode| mode != rare), "{found:?}");
        }
    }
}

#[test]
fn a_tune_in_major_that_ends_on_its_third_is_not_phrygian() {
    let melody = tune(&[
        60, 64, 67, 72, 71, 67, 69, 67, 65, 69, 67, 64, 62, 67, 65, 64, 60, 64, 67, 72, 71, 67, 69, 65, 64,
        67, 65, 62, 64, -1, -1, -1,
    ]);
    assert_eq!(find(&melody).key.to_string(), "C major");
    let found = find(&signed(melody, 0, None));
    assert_eq!(found.key.to_string(), "C major", "{found:?}");
}

#[test]
fn under_one_signature_the_tonic_decides_the_mode() {
    for mode in Mode::ALL {
        let key = Key { tonic: PitchClass::new(2), mode };
        let found = find(&signed(on_d(mode), key.sharps(), Some(mode)));
        assert_eq!((found.key, found.source), (key, KeySource::Signature), "{found:?}");
    }
}

#[test]
fn a_signature_that_the_notes_contradict_does_not_win() {
    let in_e = tune(&TWINKLE).transposed(crate::pitch::Interval(4)).unwrap();
    let found = find(&signed(in_e, 0, Some(Mode::Major)));
    assert_eq!((found.key.to_string().as_str(), found.source), ("E major", KeySource::Notes), "{found:?}");
}

#[test]
fn a_tune_that_stops_on_the_way_back_has_the_tonic_of_its_first_strain() {
    let mut melody = tune(&OPEN);
    let open = points(&melody, Clue::StrainEnds);
    melody.bars[1].marks.repeat_end = Some(2);
    assert_eq!(find(&melody).key.tonic, PitchClass::new(2));
    assert!(points(&melody, Clue::StrainEnds) > open);
}

#[test]
fn the_roots_of_the_chords_speak_for_a_tonic() {
    // The tune begins in A minor and ends in C, so its tonic is in doubt.
    let mut melody = tune(&[64, 69, 71, 72, 71, 69, 64, -1, 67, 72, 74, 76, 74, 72, 67, -1]);
    let before = find(&melody);
    let (tonic, other) = (before.key.tonic, before.rival().unwrap().key.tonic);
    let chord = |at, root: PitchClass| ChordSymbol::parse(Beats::quarters(at), &root.to_string());
    melody.chords = vec![chord(0, other), chord(15, other)];
    let against = find(&melody);
    assert!(against.key.tonic == other || against.tonic_confidence < before.tonic_confidence);
    melody.chords = vec![chord(0, tonic), chord(15, tonic)];
    assert!(find(&melody).tonic_confidence > before.tonic_confidence);
}

#[test]
fn the_key_moves_with_the_melody() {
    for melody in [tune(&TWINKLE), on_d(Mode::Dorian), signed(on_d(Mode::Mixolydian), 1, None)] {
        let found = find(&melody);
        for semitones in -14..=14 {
            let by = crate::pitch::Interval(semitones);
            let mut moved = melody.transposed(by).unwrap();
            // A signature without sharps may mean C or no signature, so only signatures with sharps or flats are
            // compared.
            moved.signatures.retain(|signature| signature.sharps != 0);
            if moved.signatures.len() < melody.signatures.len() {
                continue;
            }
            let again = find(&moved);
            let expected = Key { tonic: found.key.tonic.transposed(by), ..found.key };
            assert_eq!((again.key, again.confidence), (expected, found.confidence));
        }
    }
}

#[test]
fn what_the_user_says_is_certain() {
    let given = KeyFinding::given("A mixolydian".parse().unwrap());
    assert_eq!((given.source, given.confidence, given.others.len()), (KeySource::User, 100, 0));
}

#[test]
fn silence_has_the_key_of_its_signature_and_no_confidence() {
    let found = find(&signed(Melody::default(), 2, None));
    assert_eq!((found.key.to_string().as_str(), found.confidence), ("D major", 0));
    assert_eq!(find(&Melody::default()).key.to_string(), "C major");
}

#[test]
fn confidences_are_shares_of_one_whole_and_evidence_names_what_decided() {
    let found = find(&signed(on_d(Mode::Dorian), 0, None));
    let sum: u32 = found.others.iter().map(|guess| u32::from(guess.confidence)).sum();
    assert!(sum + u32::from(found.confidence) <= 105);
    assert!(found.others.is_sorted_by_key(|guess| std::cmp::Reverse(guess.confidence)));
    assert!(found.evidence.is_sorted_by_key(|evidence| std::cmp::Reverse(evidence.points)));
    let ends = found.evidence.iter().find(|evidence| evidence.clue == Clue::LastNote(PitchClass::new(2)));
    assert!(ends.is_some_and(|evidence| evidence.points > 0), "{found:?}");
}

#[test]
fn a_key_is_spelled_after_the_nearest_signature_of_its_notes() {
    let name = |key: &str, signature| key.parse::<Key>().unwrap().tonic_name(signature);
    for (key, signature, tonic) in [
        ("Db minor", None, "C#"),
        ("Ab minor", None, "G#"),
        ("Eb minor", Some(-6), "Eb"),
        ("Eb minor", Some(6), "D#"),
        ("F#", Some(-6), "Gb"),
        // Under the signature of another key, the signature's own accidentals determine the spelling.
        ("F#", Some(-5), "Gb"),
        ("F#", Some(5), "F#"),
        ("C#", Some(7), "C#"),
        ("C#", Some(0), "Db"),
        ("B", Some(-7), "Cb"),
    ] {
        assert_eq!(name(key, signature), tonic, "{key} under {signature:?}");
    }
    for key in Key::all() {
        for signature in -7..=7 {
            assert_eq!(PitchClass::parse(&key.tonic_name(Some(signature))), Some(key.tonic));
        }
    }
}

#[test]
fn the_rival_is_the_likeliest_other_tonic_whatever_its_mode() {
    let guess = |key: &str, confidence| KeyGuess { key: key.parse().unwrap(), confidence };
    let others = vec![guess("E dorian", 20), guess("G", 18), guess("A minor", 12), guess("A dorian", 9)];
    let finding = KeyFinding { confidence: 35, others, ..KeyFinding::given("E minor".parse().unwrap()) };
    assert_eq!(finding.rival(), Some(guess("A minor", 21)));
    assert_eq!(KeyFinding::given("E minor".parse().unwrap()).rival(), None);
}

#[test]
fn each_signature_is_a_section_and_the_longest_is_home() {
    let [c, d] = [0, 2].map(|up| tune(&TWINKLE).transposed(crate::pitch::Interval(up)).unwrap());
    let mut both = c.clone();
    let end = Beats::quarters(16);
    for note in &d.notes {
        both.notes.push(Note { onset: note.onset + end, bar: note.bar + 4, ..note.clone() });
    }
    both.bars.extend(d.bars.iter().map(|bar| Bar { start: bar.start + end, ..bar.clone() }));
    let sign = |at, sharps| KeySignature { at, sharps, mode: None };
    both.signatures = vec![sign(Beats::ZERO, 0), sign(end, 2)];
    let names = |melody: &Melody| {
        let sections = sections(melody).into_iter();
        sections.map(|section| (section.note, section.finding.key.to_string())).collect::<Vec<_>>()
    };
    assert_eq!(names(&both), [(0, "C major".to_owned()), (14, "D major".to_owned())]);
    // Among equals the first wins.
    assert_eq!(find(&both).key.to_string(), "C major");
    assert_eq!(find(&both).confidence, find(&signed(c, 0, None)).confidence);
    if let Some(last) = both.notes.last_mut() {
        last.duration += Beats::quarters(1);
    }
    assert_eq!(find(&both).key.to_string(), "D major");
    // A signature after the last note, or one that repeats the previous signature, is no change of key.
    let mut still = signed(tune(&TWINKLE), 0, None);
    still.signatures.extend([sign(Beats::quarters(8), 0), sign(end, 3)]);
    assert_eq!((names(&still).len(), find(&still).key.to_string()), (0, "C major".to_owned()));
}

#[test]
fn a_tune_with_more_signatures_than_sections_has_no_sections_but_a_home() {
    let mut melody = tune(&TWINKLE.repeat(6));
    melody.signatures =
        (0..90).map(|i| KeySignature { at: Beats::quarters(i), sharps: (i % 2) as i8, mode: None }).collect();
    assert!(sections(&melody).is_empty());
    assert_eq!(find(&melody).key.to_string(), "C major");
}

/// Returns the melody as MIDI would give it, with bars counted off from the first note.
fn counted(melody: &Melody, bar: Beats) -> Melody {
    let mut bare = Melody { counted_bars: true, ..Melody::default() };
    let start = melody.notes[0].onset;
    for note in &melody.notes {
        let onset = note.onset - start;
        let bar = (onset.as_f64() / bar.as_f64()) as usize;
        bare.notes.push(Note::new(onset, note.duration, note.pitch, bar));
    }
    let meter = melody.bars[0].meter.unwrap();
    let bars = bare.notes.last().unwrap().bar + 1;
    bare.bars = (0..bars).map(|i| Bar::full(i as u32 + 1, bar.times(i as i64, 1), meter)).collect();
    bare
}

#[test]
fn a_pickup_is_found_where_no_barlines_are() {
    // A waltz: a half and a quarter in each bar, after a pickup of a quarter.
    let pitches = [67, 60, 64, 67, 64, 65, 62, 67, 65, 64, 62, 60, 64, 67, 72, 67, 65];
    let waltz = Meter { beats: 3, unit: 4 };
    let mut melody = Melody::default();
    let mut at = Beats::ZERO;
    for (index, pitch) in pitches.into_iter().enumerate() {
        let length = Beats::quarters(if index % 2 == 1 { 2 } else { 1 });
        melody.notes.push(Note::new(at, length, Pitch::new(pitch).unwrap(), index.div_ceil(2)));
        at += length;
    }
    melody.bars.push(Bar { length: Beats::quarters(1), ..Bar::full(0, Beats::ZERO, waltz) });
    melody.bars.extend((0..8).map(|i| Bar::full(i as u32 + 1, Beats::quarters(1 + 3 * i), waltz)));
    let bare = counted(&melody, Beats::quarters(3));
    assert_eq!(clues(&bare).whole.counts, clues(&melody).whole.counts);
    assert_eq!(find(&bare), find(&melody));
    // Without the search for a pickup, the bars begin with the pickup and give different clues.
    assert_ne!(clues(&Melody { counted_bars: false, ..bare }).whole.counts, clues(&melody).whole.counts);
}

#[test]
fn repeats_that_are_written_out_count_once() {
    let a: Vec<i16> = OPEN[..16].iter().chain(&TWINKLE).copied().collect();
    let b: Vec<i16> = a.iter().rev().map(|&pitch| if pitch < 0 { 62 } else { pitch + 2 }).collect();
    let mut once = tune(&[a.as_slice(), &b].concat());
    let end = once.bars.len() / 2 - 1;
    once.bars[end].marks.repeat_end = Some(2);
    once.bars.last_mut().unwrap().marks.repeat_end = Some(2);
    let out = tune(&[a.as_slice(), &a, &b, &b].concat());
    assert_eq!(clues(&out).whole.counts, clues(&once).whole.counts);
    assert_eq!(find(&out), find(&once));
    assert!(!clues(&out).halved && clues(&tune(&a)).halved);
}

#[test]
fn the_last_note_of_a_fragment_says_little() {
    let melody = on_d(Mode::Major);
    let part = Melody { notes: melody.notes[16..].to_vec(), bars: melody.bars.clone(), ..Melody::default() };
    assert!(clues(&part).whole.bars < LONG_ENOUGH && clues(&melody).whole.bars >= LONG_ENOUGH);
    assert!(
        points(&part, Clue::LastNote(PitchClass::new(2)))
            < points(&melody, Clue::LastNote(PitchClass::new(2)))
    );
}

/// Returns the points that a clue gives to the key found.
fn points(melody: &Melody, clue: Clue) -> i32 {
    find(melody).evidence.iter().find(|evidence| evidence.clue == clue).unwrap().points
}
