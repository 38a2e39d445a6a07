//! An export is the tune: read back, it gives the same melody; and the file has the elements that the format requires.

use crate::harness;
#[allow(dead_code, reason = "this file uses only its tunes")]
use crate::random;
use crate::tunes;

use breathline::{
    export::{
        Arrangement, abc, arrange, midi,
        musicxml::{self, TabAs},
    },
    harp::{Harp, Technique, Tuning},
    import::{ImportError, ImportOptions, Imported, Oddity, Warning, import, repeats},
    melody::{
        Bar, BarMarks, ChordSymbol, Creator, KeySignature, Lyric, Melody, Note, Signs, TempoWords,
        key::{self, Key, Mode},
    },
    notation::{self, Keys},
    pitch::{Interval, Pitch, PitchClass, Spelling},
    search::{self, EditWeights, Request, Weights},
    tab::Notation,
    time::{Beats, Meter, TempoMap},
};
use harness::{breathline, files, home};
use proptest::prelude::*;

fn read(bytes: &[u8]) -> Imported {
    import(bytes, &ImportOptions::default()).unwrap()
}

/// Arranges the tune for its best approaches on a C, an A and a low F harp, in its own key and in any key, both as
/// written and with its changes if there are any.
fn arrangements(melody: &Melody) -> Vec<Arrangement> {
    let key = key::find(melody).key;
    let harps = ["C", "A", "low-F"].map(|name| Harp::parse(name, &[Tuning::richter()]).unwrap());
    let weights = Weights::default();
    let mut all = Vec::new();
    for harp in &harps {
        for any_key in [false, true] {
            let harps = std::slice::from_ref(harp);
            let request = Request {
                melody,
                key,
                harps,
                technique: Technique::All,
                weights: &weights,
                any_key,
                pins: &[],
            };
            let mut ranking = search::search(&request);
            ranking.adapt(&request, &EditWeights::default());
            let chosen = [ranking.best(), ranking.adapted.as_ref()];
            all.extend(
                chosen.into_iter().flatten().map(|best| arrange(melody, key, best, Notation::default())),
            );
        }
    }
    all
}

/// Returns the melody that is read back from the MusicXML of an arrangement. The export numbers the bars of a tune with
/// written-out repeats anew, so these bars get their original numbers.
fn same_as_read(arrangement: &Arrangement, written_out: bool) -> Melody {
    let bytes = musicxml::write(arrangement, TabAs::Lyrics);
    let mut again = read(&bytes);
    assert_eq!(again.warnings, [], "{}", String::from_utf8_lossy(&bytes));
    if written_out {
        for (bar, original) in again.melody.bars.iter_mut().zip(&arrangement.melody.bars) {
            bar.number = original.number;
        }
    }
    again.melody
}

/// Returns the tune without the written form of its notes.
fn sound(melody: &Melody) -> Melody {
    let bars = melody.bars.iter().map(|bar| Bar { written: Vec::new(), ..bar.clone() }).collect();
    Melody { bars, ..melody.clone() }
}

#[track_caller]
fn assert_same(read: &Melody, written: &Melody, what: &str) {
    let (read, written) = (&sound(read), &sound(written));
    assert_eq!(read.title, written.title, "{what}");
    for (index, (read, written)) in read.notes.iter().zip(&written.notes).enumerate() {
        assert_eq!(read, written, "{what}: note {index}");
    }
    assert_eq!(read.notes.len(), written.notes.len(), "{what}");
    for (read, written) in read.bars.iter().zip(&written.bars) {
        assert_eq!(read, written, "{what}");
    }
    // A tune from MIDI has no barlines, but its score has them.
    assert!(!read.counted_bars, "{what}");
    assert_eq!(read, &Melody { counted_bars: false, ..written.clone() }, "{what}");
}

#[test]
fn musicxml_of_every_tune_reads_back_to_the_same_melody() {
    for folder in ["corpus", "demo"] {
        for file in [files(folder, "musicxml"), files(folder, "mid")].concat() {
            let melody = read(&std::fs::read(&file).unwrap()).melody;
            let unfolded = repeats::unfold(&melody, 1).0;
            for (melody, written_out) in [(&melody, false), (&unfolded, true)] {
                let all = arrangements(melody);
                assert!(!all.is_empty(), "{}", file.display());
                for arrangement in all {
                    let what = format!("{}, {}", file.display(), arrangement.harp);
                    let read = same_as_read(&arrangement, written_out);
                    assert_same(&read, &arrangement.melody, &what);
                    let [again, first] =
                        [&read, &arrangement.melody].map(|melody| notation::write(melody, Keys::Anywhere));
                    assert_eq!(again, first, "{what}: the second export differs from the first");
                }
            }
        }
    }
}

/// Reduces a tune to the data that ABC can express. It removes the rest: the written form of the notes, bar numbers,
/// start signs of repeats, end signs of strains that are played only once, double bars where a repeat ends, orders to
/// repeat after a jump, ties, held syllables, creators other than composers, and the words, breath marks and signs of
/// grace notes. A signature without a mode becomes major, syllables are sorted by verse, the last bar of an ending gets
/// a double bar unless a repeat ends there, and a slur from a grace note begins at the main note.
fn carried(melody: &Melody) -> Melody {
    let mut carried = sound(melody);
    carried.counted_bars = false;
    carried.credits.creators.retain(|creator| creator.role == "composer");
    for key in &mut carried.signatures {
        key.mode = key.mode.or(Some(Mode::Major));
    }
    let endings: Vec<bool> = carried.bars.iter().map(|bar| bar.marks.ending.is_empty()).collect();
    for (index, bar) in carried.bars.iter_mut().enumerate() {
        bar.number = 0;
        let closes = !endings[index] && endings.get(index + 1).is_none_or(|open| *open);
        let marks = &mut bar.marks;
        marks.repeat_end = marks.repeat_end.filter(|&times| times > 1);
        marks.repeat_after_jump = false;
        marks.repeat_start = false;
        marks.section_end = (marks.section_end || closes) && marks.repeat_end.is_none();
    }
    for note in &mut carried.notes {
        note.lyrics.retain(|_| !note.grace);
        note.lyrics.sort_by_key(|lyric| lyric.verse);
        note.lyrics.iter_mut().for_each(|lyric| lyric.extend = false);
        note.breath_after &= !note.grace;
        (note.tie_in, note.tie_out) = (false, false);
    }
    let mut begin = 0;
    for note in &mut carried.notes {
        if note.grace {
            begin += std::mem::take(&mut note.signs).slurs_begin;
        } else {
            note.signs.slurs_begin += std::mem::take(&mut begin);
        }
    }
    carried
}

/// Whether a repeat begins inside another. ABC 2.1 has no nested repeats: readers go back to the last start sign or double
/// bar, so they may play such a tune in another order.
fn has_nested_repeats(melody: &Melody) -> bool {
    let mut open = false;
    melody.bars.iter().any(|bar| {
        let nested = open && bar.marks.repeat_start;
        open = (open || bar.marks.repeat_start) && bar.marks.repeat_end.is_none();
        nested
    })
}

#[track_caller]
fn assert_abc(arrangement: &Arrangement, what: &str) {
    let bytes = abc::write(arrangement);
    let text = String::from_utf8_lossy(&bytes);
    let again = read(&bytes);
    let odd = again.warnings.iter().filter(|warning| warning.text.is_some());
    assert_eq!(odd.count(), 0, "{what}: {:?}\n{text}", again.warnings);
    let (read, written) = (carried(&again.melody), carried(&arrangement.melody));
    for (index, (read, written)) in read.notes.iter().zip(&written.notes).enumerate() {
        assert_eq!(read, written, "{what}: note {index}\n{text}");
    }
    for (read, written) in read.bars.iter().zip(&written.bars) {
        assert_eq!(read, written, "{what}\n{text}");
    }
    assert_eq!(read, written, "{what}\n{text}");
    if has_nested_repeats(&arrangement.melody) {
        return;
    }
    // The order of performance is the same even if the repeat signs differ.
    let mut played = arrangement.melody.clone();
    played.bars.iter_mut().for_each(|bar| bar.marks.repeat_after_jump = false);
    assert_eq!(repeats::order(&again.melody), repeats::order(&played), "{what}\n{text}");
}

#[test]
fn abc_of_every_tune_reads_back_to_the_same_melody() {
    for folder in ["corpus", "demo"] {
        for file in [files(folder, "musicxml"), files(folder, "mid")].concat() {
            let melody = read(&std::fs::read(&file).unwrap()).melody;
            for arrangement in arrangements(&melody) {
                assert_abc(&arrangement, &format!("{}, {}", file.display(), arrangement.harp));
            }
        }
    }
}

#[test]
fn midi_of_every_tune_reads_back_to_the_same_notes_and_words() {
    for file in [files("corpus", "musicxml"), files("demo", "musicxml")].concat() {
        let melody = repeats::unfold(&read(&std::fs::read(&file).unwrap()).melody, 1).0;
        for arrangement in arrangements(&melody) {
            let again = read(&midi::write(&arrangement));
            let what = format!("{}, {}", file.display(), arrangement.harp);
            // The words of the notes that the harp lacks are in the file too.
            let odd = again.warnings.iter().filter(|warning| warning.oddity != Oddity::WordsWithoutNote);
            assert_eq!(odd.collect::<Vec<_>>(), Vec::<&Warning>::new(), "{what}");
            assert_midi(&again.melody, &arrangement, &what);
        }
    }
}

/// Checks the data that MIDI carries: title, rights, notes with their words, tempo, signatures, and bars as far as the
/// notes reach. Grace notes become thirty-seconds, taken from the next note; before a short note they are shorter, so
/// that they take at most half of it. The file is silent wherever the harp has no note.
#[track_caller]
fn assert_midi(read: &Melody, arrangement: &Arrangement, what: &str) {
    let written = &arrangement.melody;
    // A track's name that could name a part, such as one with the word "Air", is not taken as the title.
    assert!(read.title.is_none() || read.title == written.title, "{what}");
    assert_eq!(read.credits.rights, written.credits.rights, "{what}");
    // A MIDI file whose tempo is 120 from start to end states no tempo.
    let is_default =
        written.tempo.changes().all(|(_, micros)| micros == TempoMap::DEFAULT_MICROS_PER_QUARTER);
    let tempo = if is_default { TempoMap::default() } else { written.tempo.clone() };
    assert_eq!(read.tempo, tempo, "{what}");
    let sung = |note: &Note| note.lyrics.first().map(|lyric| (lyric.text.clone(), lyric.hyphen));
    let mut expected = Vec::new();
    let mut graces: Vec<&Note> = Vec::new();
    for (note, arranged) in written.notes.iter().zip(&arrangement.notes) {
        let sounds = arranged.action.is_some();
        if note.grace {
            graces.extend(sounds.then_some(note));
            continue;
        }
        let count = graces.len().max(1) as i64;
        let each = note.duration.times(1, 2 * count).min(Beats::new(1, 8));
        let mut start = note.onset;
        for grace in graces.drain(..) {
            expected.push((start, each, grace.pitch, sung(grace)));
            start += each;
        }
        if sounds {
            expected.push((start, note.end() - start, note.pitch, sung(note)));
        }
    }
    let got: Vec<_> =
        read.notes.iter().map(|note| (note.onset, note.duration, note.pitch, sung(note))).collect();
    for (got, expected) in got.iter().zip(&expected) {
        assert_eq!(got, expected, "{what}");
    }
    assert_eq!(got.len(), expected.len(), "{what}");
    let shape = |melody: &Melody| -> Vec<(Beats, Beats)> {
        melody.bars.iter().map(|bar| (bar.start, bar.length)).collect()
    };
    let (got, wanted) = (shape(read), shape(written));
    // The last bar that is read has its full length.
    let count = got.len().min(wanted.len()) - 1;
    assert_eq!(got[..count], wanted[..count], "{what}");
    let keys = |melody: &Melody| -> Vec<(Beats, i8)> {
        melody.signatures.iter().map(|signature| (signature.at, signature.sharps)).collect()
    };
    assert_eq!(keys(read), keys(written), "{what}");
}

/// Generates a tune with a random choice of features: pickup, meters, marks of the bars, tuplets, grace notes, words,
/// signs, key signatures, chords, tempi and words of tempo.
fn melody() -> impl Strategy<Value = Melody> {
    let meters = [(2, 4), (3, 4), (4, 4), (5, 4), (6, 8), (9, 8), (2, 2), (7, 8), (3, 8)];
    let meters = prop::sample::select(meters.map(|(beats, unit)| Meter { beats, unit }).to_vec());
    let bars = prop::collection::vec((meters, prop::bool::weighted(0.8), marks()), 1..6);
    let lengths =
        [(1, 4), (1, 3), (1, 2), (2, 3), (3, 4), (1, 1), (3, 2), (2, 1), (5, 2), (1, 5), (2, 7), (1, 8)];
    let length = prop::sample::select(lengths.map(|(over, under)| Beats::new(over, under)).to_vec());
    let note = (
        length,
        40..100u8,
        prop::bool::weighted(0.15),
        prop::bool::weighted(0.1),
        words(),
        -1..=1i8,
        signs(),
    );
    let pickup =
        prop::option::weighted(0.3, prop::sample::select(vec![Beats::new(1, 2), Beats::quarters(1)]));
    let keys = prop::collection::vec((0..12i32, -7..=7i8), 0..3);
    let chords = prop::collection::vec((0..40i64, 0..12i16, prop::sample::select(CHORDS.to_vec())), 0..6);
    let tempi = prop::collection::vec((0..12i32, 200_000..2_000_000u32), 0..3);
    let spoken = prop::sample::select(vec!["Andante", "rit.", "Mit Schwung", "A <b> & c"]);
    let spoken = prop::collection::vec((0..40i64, spoken), 0..3);
    let notes = prop::collection::vec(note, 1..40);
    let all = (bars, pickup, notes, keys, chords, tempi, spoken);
    all.prop_map(|(bars, pickup, notes, keys, chords, tempi, spoken)| {
        let mut melody = build(&bars, pickup, &notes, &keys, &chords, &tempi);
        let words = |(at, text): (i64, &str)| TempoWords { at: Beats::new(at, 2), text: text.to_owned() };
        melody.tempo_words = spoken.into_iter().map(words).collect();
        melody
    })
}

/// Generates slurs and fermatas, whether they are consistent or not.
fn signs() -> impl Strategy<Value = Signs> {
    let count = || prop_oneof![6 => Just(0), 2 => Just(1), 1 => Just(2)];
    (count(), count(), prop::bool::weighted(0.1)).prop_map(|(slurs_begin, slurs_end, fermata)| {
        let mut signs = Signs::default();
        (signs.slurs_begin, signs.slurs_end, signs.fermata) = (slurs_begin, slurs_end, fermata);
        signs
    })
}

const CHORDS: [&str; 9] = ["", "m", "7", "maj7", "m7b5", "sus4", "(add9)", "6/9", "Maj7/Bb"];

fn words() -> impl Strategy<Value = Vec<Lyric>> {
    let syllable = (
        prop::sample::select(vec!["la", "lo & <b>", "n\u{2019}est", "l\u{e9}"]),
        any::<bool>(),
        any::<bool>(),
    );
    prop::collection::vec(prop::option::of(syllable), 0..3).prop_map(|verses| {
        let sung = verses.into_iter().enumerate();
        sung.filter_map(|(verse, syllable)| {
            let (text, hyphen, extend) = syllable?;
            Some(Lyric { verse: 2 * verse as u8 + 1, text: text.to_owned(), hyphen, extend })
        })
        .collect()
    })
}

fn marks() -> impl Strategy<Value = BarMarks> {
    let flag = || prop::bool::weighted(0.1);
    let ending = prop_oneof![6 => Just(vec![]), 1 => Just(vec![1]), 1 => Just(vec![1, 2])];
    let times = prop_oneof![5 => Just(None), 1 => Just(Some(2)), 1 => Just(Some(3))];
    (flag(), times, ending, (flag(), flag(), flag(), flag(), flag(), flag(), flag())).prop_map(
        |(
            repeat_start,
            repeat_end,
            ending,
            (section_end, segno, to_coda, fine, da_capo, dal_segno, after),
        )| {
            BarMarks {
                repeat_start,
                repeat_end,
                repeat_after_jump: after && repeat_end.is_some(),
                ending,
                section_end: section_end && repeat_end.is_none(),
                segno,
                coda: false,
                to_coda,
                fine,
                da_capo,
                dal_segno,
            }
        },
    )
}

type NoteSeed = (Beats, u8, bool, bool, Vec<Lyric>, i8, Signs);

fn build(
    bars: &[(Meter, bool, BarMarks)],
    pickup: Option<Beats>,
    notes: &[NoteSeed],
    keys: &[(i32, i8)],
    chords: &[(i64, i16, &str)],
    tempi: &[(i32, u32)],
) -> Melody {
    let mut melody = Melody { title: Some("A & B <\u{201c}C\u{201d}>".into()), ..Melody::default() };
    let creator = |role: &str, name: &str| Creator { role: role.to_owned(), name: name.to_owned() };
    melody.credits.creators =
        vec![creator("composer", "A. <Nonymous>"), creator("", "B. & C."), creator("\"x\"", "D")];
    melody.credits.rights = vec!["\u{a9} <nobody>".to_owned(), "Free & easy".to_owned()];
    melody.rhythm = Some("slip jig & <b>".to_owned());
    let (mut start, mut meter) = (Beats::ZERO, bars[0].0);
    if let Some(length) = pickup.filter(|length| *length < meter.bar()) {
        melody.bars.push(Bar { length, ..Bar::full(0, start, meter) });
        start += length;
    }
    // The bars are long enough for all notes.
    let total: Beats = notes.iter().map(|note| note.0 + Beats::quarters(1)).sum();
    for (number, (new_meter, keeps, marks)) in (1..).zip(bars.iter().cycle()) {
        meter = if *keeps { meter } else { *new_meter };
        melody.bars.push(Bar { marks: marks.clone(), ..Bar::full(number, start, meter) });
        start += meter.bar();
        if start >= total {
            break;
        }
    }
    // A key signature after the last bar would be lost.
    let whole = i32::try_from(start.fraction().0 / start.fraction().1).unwrap();
    let mut keys = keys.to_vec();
    keys.retain(|key| key.0 < whole);
    keys.sort_unstable();
    keys.dedup_by_key(|key| key.0);
    keys.dedup_by_key(|key| key.1);
    for (at, sharps) in keys {
        melody.signatures.push(KeySignature { at: Beats::quarters(at), sharps, mode: Some(Mode::Major) });
    }
    let mut now = Beats::ZERO;
    for (index, (length, midi, grace, rest, lyrics, raised, signs)) in notes.iter().enumerate() {
        let pitch = Pitch::new(*midi).unwrap();
        let before_is_grace = melody.notes.last().is_some_and(|note| note.grace);
        if *rest && !before_is_grace {
            now += Beats::new(1, 2);
        }
        let grace = *grace && index + 1 < notes.len();
        let duration = if grace { Beats::ZERO } else { *length };
        let bar = melody.bars.iter().rposition(|bar| bar.start <= now).unwrap();
        let spelling = Spelling::in_key(pitch, raised * 4);
        melody.notes.push(Note {
            spelling: Some(spelling),
            grace,
            lyrics: lyrics.clone(),
            signs: *signs,
            ..Note::new(now, duration, pitch, bar)
        });
        now += duration;
    }
    let mut chords = chords.to_vec();
    chords.retain(|chord| chord.0 < i64::from(2 * whole));
    chords.sort_unstable();
    for (at, root, quality) in chords {
        let text = format!("{}{quality}", PitchClass::new(root));
        melody.chords.push(ChordSymbol::parse(Beats::new(at, 2), &text));
    }
    melody.tempo = TempoMap::new(
        tempi.iter().filter(|tempo| tempo.0 < whole).map(|&(at, micros)| (Beats::quarters(at), micros)),
    );
    melody
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn abc_of_random_tunes_reads_back_to_the_same_melody(melody in melody(), fifths in 0..12i16) {
        let key = Key { tonic: PitchClass::new(7 * fifths), mode: Mode::Dorian };
        let harps = [Harp::new(PitchClass::new(0), breathline::harp::Register::Standard, Tuning::richter())];
        let weights = Weights::default();
        let request = Request { melody: &melody, key, harps: &harps, technique: Technique::All, weights: &weights, any_key: true, pins: &[] };
        for approach in search::search(&request).approaches.iter().step_by(17) {
            let arrangement = arrange(&melody, key, approach, Notation::default());
            if !arrangement.melody.notes.is_empty() {
                assert_abc(&arrangement, "a random tune");
            }
        }
    }

    #[test]
    fn musicxml_of_random_tunes_reads_back_to_the_same_melody(melody in melody(), fifths in 0..12i16) {
        let key = Key { tonic: PitchClass::new(7 * fifths), mode: Mode::Dorian };
        let harps = [Harp::new(PitchClass::new(0), breathline::harp::Register::Standard, Tuning::richter())];
        let weights = Weights::default();
        let request = Request { melody: &melody, key, harps: &harps, technique: Technique::All, weights: &weights, any_key: true, pins: &[] };
        for approach in search::search(&request).approaches.iter().step_by(17) {
            let arrangement = arrange(&melody, key, approach, Notation::default());
            let score = musicxml::write(&arrangement, TabAs::Lyrics);
            // A tune of few notes may lie entirely outside MIDI's range after a move by octaves.
            if arrangement.melody.notes.is_empty() {
                prop_assert_eq!(import(&score, &ImportOptions::default()), Err(ImportError::NoNotes));
                continue;
            }
            // MusicXML has no element for the type of tune.
            assert_same(&read(&score).melody, &Melody { rhythm: None, ..arrangement.melody }, "random");
        }
    }

    #[test]
    fn random_tunes_are_exported_whole(case in random::case(60)) {
        let harps = [case.harp.clone()];
        let request = case.request(&harps);
        for approach in search::search(&request).approaches.iter().take(3) {
            let arrangement = arrange(&case.melody, request.key, approach, Notation::default());
            let pitches = |melody: &Melody| -> Vec<Pitch> { melody.notes.iter().map(|note| note.pitch).collect() };
            // A tune whose main notes all lie below C0 after the move has no notes left.
            prop_assume!(!arrangement.melody.notes.is_empty());
            let again = read(&musicxml::write(&arrangement, TabAs::Lyrics)).melody;
            prop_assert_eq!(pitches(&again), pitches(&arrangement.melody));
            let played = arrangement.melody.notes.iter().zip(&arrangement.notes);
            let sounding: Vec<Pitch> =
                played.filter(|(_, how)| how.action.is_some()).map(|(note, _)| note.pitch).collect();
            prop_assert_eq!(struck(&midi::write(&arrangement)), sounding);
        }
    }
}

/// Returns the pitch of every note-on event in a file, in order. The import cannot be used, because it moves notes that
/// are shorter than any note value.
fn struck(bytes: &[u8]) -> Vec<Pitch> {
    use midly::{MidiMessage, Smf, TrackEventKind};
    let file = Smf::parse(bytes).unwrap();
    let events = file.tracks.iter().flatten();
    let keys = events.filter_map(|event| match event.kind {
        TrackEventKind::Midi { message: MidiMessage::NoteOn { key, .. }, .. } => Some(key.as_int()),
        _ => None,
    });
    keys.map(|key| Pitch::new(key).unwrap()).collect()
}

/// Arranges a tune in C major for a harp, moved into a position.
fn arranged(melody: &Melody, harp: &str, position: u8, adapted: bool) -> Arrangement {
    let key = Key { tonic: PitchClass::new(0), mode: Mode::Major };
    let harps = [Harp::parse(harp, &[Tuning::richter()]).unwrap()];
    let weights = Weights::default();
    let any_key = true;
    let request = Request {
        melody,
        key,
        harps: &harps,
        technique: Technique::All,
        weights: &weights,
        any_key,
        pins: &[],
    };
    let mut ranking = search::search(&request);
    ranking.approaches.retain(|approach| approach.position.number() == position && approach.octave == 0);
    if adapted {
        ranking.adapt(&request, &EditWeights::default());
    }
    let chosen = ranking.adapted.as_ref().or(ranking.best()).unwrap();
    arrange(melody, key, chosen, Notation::default())
}

#[test]
fn a_transposed_tune_has_its_new_key_its_right_names_and_its_chords() {
    let mut melody = tunes::tune("C5 E5 F#5 G5", 100);
    let names = [(0, "CMaj7"), (1, "Am7"), (2, "D7/F#"), (3, "N.C.")];
    melody.chords = names.map(|(at, text)| ChordSymbol::parse(Beats::quarters(at), text)).to_vec();
    // On a B flat harp in 2nd position the tune is in F.
    let arrangement = arranged(&melody, "Bb", 2, false);
    let melody = &arrangement.melody;
    assert_eq!(melody.signatures[0].sharps, -1);
    let spelled: Vec<String> = melody.notes.iter().map(|note| note.spelling.unwrap().to_string()).collect();
    let names: Vec<&str> = spelled.iter().map(|name| name.trim_end_matches(char::is_numeric)).collect();
    assert_eq!(names, ["F", "A", "B", "C"]);
    let chords: Vec<String> = melody.chords.iter().map(|chord| chord.to_string()).collect();
    assert_eq!(chords, ["FMaj7", "Dm7", "G7/B", "N.C."]);
}

fn count(text: &str, of: &str) -> usize {
    text.matches(of).count()
}

#[test]
fn tab_stands_in_the_file_once() {
    let melody = tunes::tune("C4 D4 Bb4 E4:4", 100);
    let arrangement = arranged(&melody, "C", 1, false);
    for (tab_as, fingering, lyrics) in [(TabAs::Lyrics, 0, 1), (TabAs::Fingering, 1, 0)] {
        let text = String::from_utf8(musicxml::write(&arrangement, tab_as)).unwrap();
        for (what, expected) in [
            ("<fingering>1</fingering>", 2 * fingering),
            ("<arrow-direction>up</arrow-direction>", 2 * fingering),
            ("<arrow-direction>down</arrow-direction>", 2 * fingering),
            ("<other-technical>-3'</other-technical>", fingering),
            ("<technical>", 4 * fingering),
            ("<text>-3'</text>", lyrics),
            ("name=\"tab\"", 4 * lyrics),
            ("<tied type=\"start\"/>", 1),
            ("<midi-program>23</midi-program>", 1),
            ("<instrument-sound>wind.reed.harmonica</instrument-sound>", 1),
            ("C harp, 1st position", 2),
            ("<words>*</words>", 0),
            ("parentheses", 0),
        ] {
            assert_eq!(count(&text, what), expected, "{what} in {text}");
        }
        assert_same(&read(text.as_bytes()).melody, &arrangement.melody, "tab as lyrics or fingering");
    }
}

#[test]
fn a_jump_is_written_in_full() {
    let mut melody = tunes::tune("C4:4 D4:4 E4:4 F4:4", 100);
    melody.bars[0].marks.segno = true;
    melody.bars[1].marks.to_coda = true;
    melody.bars[2].marks.dal_segno = true;
    melody.bars[3].marks.coda = true;
    melody.bars[3].marks.fine = true;
    let arrangement = arranged(&melody, "C", 1, false);
    let text = String::from_utf8(musicxml::write(&arrangement, TabAs::Lyrics)).unwrap();
    for words in ["To Coda", "D.S. al Coda", "Fine"] {
        assert_eq!(count(&text, &format!("<words>{words}</words>")), 1, "{text}");
    }
    assert_eq!(sound(&read(text.as_bytes()).melody).bars, arrangement.melody.bars);
}

#[test]
fn what_is_missing_or_changed_is_marked() {
    // Hole 5 has no bend between E5 and D5.
    let melody = tunes::tune("C5 Eb5 D5 E5", 100);
    let plain = String::from_utf8(musicxml::write(&arranged(&melody, "C", 1, false), TabAs::Lyrics)).unwrap();
    assert_eq!(count(&plain, "<notehead parentheses=\"yes\">normal</notehead>"), 1, "{plain}");
    assert!(plain.contains("<text>[Eb5]</text>"), "{plain}");
    let adapted =
        String::from_utf8(musicxml::write(&arranged(&melody, "C", 1, true), TabAs::Lyrics)).unwrap();
    assert_eq!((count(&adapted, "<words>*</words>"), count(&adapted, "parentheses")), (1, 0), "{adapted}");
    assert!(adapted.contains("(* the tune is changed)"), "{adapted}");
}

#[test]
fn midi_is_silent_where_the_harp_is() {
    // Hole 5 has no bend between E5 and D5, but the word of that note is still sung.
    let mut melody = tune_with_words();
    melody.notes[1].lyrics[0].text = "o".into();
    let bytes = midi::write(&arranged(&melody, "C", 1, false));
    assert_eq!(struck(&bytes).iter().map(|pitch| pitch.midi()).collect::<Vec<_>>(), [72, 74, 76]);
    assert!(bytes.windows(2).any(|text| text == b"o "));
}

fn tune_with_words() -> Melody {
    let mut melody = tunes::tune("C5 Eb5 D5 E5", 100);
    for note in &mut melody.notes {
        note.lyrics = vec![Lyric { verse: 1, text: "la".into(), hyphen: false, extend: false }];
    }
    melody
}

#[test]
fn the_tab_has_a_lyric_line_after_the_last_verse() {
    let mut melody = tunes::tune("C5 D5", 100);
    let lyric = |verse: u8| Lyric { verse, text: "la".into(), hyphen: false, extend: false };
    melody.notes[0].lyrics = vec![lyric(1), lyric(255)];
    let text = String::from_utf8(musicxml::write(&arranged(&melody, "C", 1, false), TabAs::Lyrics)).unwrap();
    assert_eq!(count(&text, "<lyric number=\"256\" name=\"tab\">"), 2, "{text}");
}

#[test]
fn a_tune_far_above_the_staff_gets_a_clef_in_which_it_can_be_read() {
    let mut arrangement = arranged(&tunes::tune("C5 E5 G5", 100), "C", 1, false);
    for (octaves, clef) in [(-2, Some("-1")), (0, None), (1, Some("1"))] {
        let middle = Pitch::new(76).unwrap().transposed(Interval::octaves(octaves)).unwrap();
        for note in &mut arrangement.melody.notes {
            (note.pitch, note.spelling) = (middle, None);
        }
        let text = String::from_utf8(musicxml::write(&arrangement, TabAs::Lyrics)).unwrap();
        let written = text.split_once("<clef-octave-change>").and_then(|(_, rest)| rest.split('<').next());
        assert_eq!(written, clef, "{text}");
        // The clef changes only the display.
        assert_eq!(read(text.as_bytes()).melody.notes[0].pitch, middle);
    }
}

#[test]
fn text_that_no_document_may_hold_is_left_out() {
    let melody = Melody { title: Some("A\u{1b}[31m\u{0}B]]>".into()), ..tunes::tune("C5 D5", 100) };
    let bytes = musicxml::write(&arranged(&melody, "C", 1, false), TabAs::Lyrics);
    assert_eq!(read(&bytes).melody.title.as_deref(), Some("A[31mB]]>"));
}

#[test]
fn the_command_writes_each_format_and_says_what_it_wrote() {
    let folder = home().join("target/tmp/export");
    std::fs::create_dir_all(&folder).unwrap();
    let tune = "corpus/banish-misfortune.musicxml";
    let formats =
        [("musicxml", &b"<?xml"[..]), ("mxl", b"PK\x03\x04"), ("mid", b"MThd"), ("abc", b"%abc-2.1\n")];
    for (ending, begins) in formats {
        let out = folder.join(format!("tune.{ending}"));
        let said = breathline(&format!("export {tune} --harp C -o")).arg(&out).answers();
        assert!(said.contains("Banish Misfortune, C harp, "), "{said}");
        let bytes = std::fs::read(&out).unwrap();
        assert!(bytes.starts_with(begins), "{ending}");
        let notes = read(&bytes).melody.notes.len();
        let written = read(&std::fs::read(home().join(tune)).unwrap()).melody;
        let played = breathline(&format!("tab {tune} --harp C --unfold --json")).answers();
        let played: serde_json::Value = serde_json::from_str(&played).unwrap();
        let sounding = played["approaches"][0]["playable"].as_u64().unwrap() as usize;
        let expected = if ending == "mid" { sounding } else { written.notes.len() };
        assert_eq!(notes, expected, "{ending}");
    }
    let fingered =
        breathline(&format!("export {tune} --harp C --tab-as fingering -o target/tmp/export/tune.xml"));
    fingered.answers();
    let score = std::fs::read_to_string(folder.join("tune.xml")).unwrap();
    assert!(score.contains("<fingering>") && !score.contains("name=\"tab\""), "{score}");
    for other in ["mid", "abc"] {
        let options = format!("--harp C --tab-as fingering -o target/tmp/tune.{other}");
        let refused = breathline(&format!("export {tune} {options}")).fails();
        assert!(refused.contains("--tab-as is for MusicXML"), "{refused}");
    }
    let unknown = breathline(&format!("export {tune} --harp C -o target/tmp/tune.pdf")).fails();
    assert!(
        unknown
            .contains("`breathline sheet` writes this format; export writes .musicxml, .mxl, .abc or .mid"),
        "{unknown}"
    );
    let nowhere = breathline(&format!("export {tune} --harp C -o target/tmp/no/such/folder.mid")).fails();
    assert!(nowhere.contains("folder.mid"), "{nowhere}");
}
