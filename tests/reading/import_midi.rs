//! Standard MIDI Files as they occur in practice: each test builds files with one defect or one feature.

#![allow(clippy::unwrap_used, reason = "test helpers fail by panicking too")]

use crate::support;

use breathline::{
    import::{ImportError, ImportOptions, Imported, MAX_QUARTERS, Oddity, TextPosition, import},
    melody::{Melody, key::Mode},
    time::{Beats, Meter},
};
use proptest::prelude::*;
use support::{QUARTER, Track, file, header};

fn read(bytes: &[u8]) -> Imported {
    import(bytes, &ImportOptions::default()).unwrap()
}

fn error(bytes: &[u8]) -> ImportError {
    import(bytes, &ImportOptions::default()).unwrap_err()
}

/// Returns the pitch of each note, and its onset and duration in quarters as text.
fn notes(imported: &Imported) -> Vec<(u8, String, String)> {
    let notes = imported.melody.notes.iter();
    notes.map(|note| (note.pitch.midi(), note.onset.to_string(), note.duration.to_string())).collect()
}

fn oddities(imported: &Imported) -> Vec<Oddity> {
    imported.warnings.iter().map(|warning| warning.oddity.clone()).collect()
}

#[track_caller]
fn check(bytes: &[u8], expected: &[(u8, &str, &str)], odd: &[Oddity]) {
    let imported = read(bytes);
    let expected: Vec<(u8, String, String)> =
        expected.iter().map(|&(midi, onset, length)| (midi, onset.to_owned(), length.to_owned())).collect();
    assert_eq!(notes(&imported), expected);
    assert_eq!(oddities(&imported), odd);
}

/// Makes the tune of most tests: two quarters, C and D.
fn tune() -> Track {
    Track::new().notes(&[(60, QUARTER), (62, QUARTER)])
}

const TUNE: [(u8, &str, &str); 2] = [(60, "0", "1"), (62, "1", "1")];

#[test]
fn a_sound_file_is_read_without_a_warning() {
    check(&file(1, &[tune()]), &TUNE, &[]);
}

#[test]
fn a_note_on_without_velocity_ends_the_note() {
    let track = Track::new().event(0, &[0x90, 60, 80]).event(QUARTER, &[60, 0]).event(0, &[62, 80]);
    check(&file(0, &[track.event(QUARTER, &[62, 0])]), &TUNE, &[]);
}

#[test]
fn running_status_goes_on_after_a_meta_event_with_a_warning() {
    let track = Track::new().event(0, &[0x90, 60, 80]).event(QUARTER, &[60, 0]);
    let track = track.meta(0, 0x06, b"verse").event(0, &[62, 80]).event(QUARTER, &[62, 0]);
    check(&file(0, &[track]), &TUNE, &[Oddity::StatusMissing]);
}

#[test]
fn running_status_goes_on_after_a_system_exclusive_event_with_a_warning() {
    let track = Track::new().event(0, &[0x90, 60, 80]).event(QUARTER, &[60, 0]);
    let track = track.event(0, &[0xF0, 3, 0x43, 0x10, 0xF7]).event(0, &[62, 80]).event(QUARTER, &[62, 0]);
    check(&file(0, &[track]), &TUNE, &[Oddity::StatusMissing]);
}

#[test]
fn a_note_that_starts_anew_before_its_end_is_paired_first_in_first_out() {
    let track = Track::new().on(0, 0, 60).on(QUARTER, 0, 60).off(QUARTER / 2, 0, 60).off(QUARTER / 2, 0, 60);
    // The first note lasts from 0 to 1 1/2 and is cut where the second one starts.
    check(&file(0, &[track]), &[(60, "0", "1"), (60, "1", "1")], &[Oddity::OverlapCut]);
}

#[test]
fn a_repeated_note_may_start_before_the_end_of_the_last_at_the_same_tick() {
    let track = Track::new().on(0, 0, 60).on(QUARTER, 0, 60).off(0, 0, 60).off(QUARTER, 0, 60);
    check(&file(0, &[track]), &[(60, "0", "1"), (60, "1", "1")], &[]);
}

#[test]
fn a_note_without_length_is_an_ornament_whichever_of_its_events_comes_first() {
    for ends_first in [false, true] {
        let track = Track::new().notes(&[(60, QUARTER)]);
        let track =
            if ends_first { track.off(0, 0, 64).on(0, 0, 64) } else { track.on(0, 0, 64).off(0, 0, 64) };
        let track = track.notes(&[(62, QUARTER), (64, QUARTER)]);
        let expected = [(60, "0", "1"), (64, "1", "0"), (62, "1", "1"), (64, "2", "1")];
        check(&file(0, &[track]), &expected, &[]);
    }
}

#[test]
fn chords_without_length_are_no_ornaments() {
    for ends_first in [false, true] {
        let chord = |track: Track, keys: &[u8]| {
            let on = |track: Track| keys.iter().fold(track, |track, &key| track.on(0, 0, key));
            let off = |track: Track| keys.iter().fold(track, |track, &key| track.off(0, 0, key));
            if ends_first { on(off(track)) } else { off(on(track)) }
        };
        let track = chord(Track::new(), &[48, 52, 55]).notes(&[(60, QUARTER)]);
        let track = chord(track, &[64, 65, 67]).notes(&[(62, QUARTER)]);
        // Three notes in a narrow span are an ornament, and so are two notes in any span.
        let track = chord(track, &[64, 72]).notes(&[(60, QUARTER)]);
        let track = chord(track, &[45, 48, 52, 55]).notes(&[(62, QUARTER)]);
        let ornaments = |at, keys: &[u8]| keys.iter().map(|&key| (key, at, "0")).collect::<Vec<_>>();
        let expected = [
            vec![(60, "0", "1")],
            ornaments("1", &[64, 65, 67]),
            vec![(62, "1", "1")],
            ornaments("2", &[64, 72]),
            vec![(60, "2", "1"), (62, "3", "1")],
        ];
        check(&file(0, &[track]), &expected.concat(), &[Oddity::SilentChords]);
    }
}

#[test]
fn an_end_without_a_note_does_not_shorten_the_note_that_starts_there() {
    let track = Track::new().notes(&[(60, QUARTER)]).off(0, 0, 62).notes(&[(62, QUARTER), (64, QUARTER)]);
    check(&file(0, &[track]), &[(60, "0", "1"), (62, "1", "1"), (64, "2", "1")], &[]);
}

#[test]
fn a_note_that_is_never_ended_lasts_to_the_end_of_the_track() {
    let track = Track::new().notes(&[(60, QUARTER)]).on(0, 0, 62).meta(2 * QUARTER, 0x06, b"end");
    check(&file(0, &[track]), &[(60, "0", "1"), (62, "1", "2")], &[Oddity::HangingNote]);
}

#[test]
fn a_channel_that_is_silenced_ends_its_notes() {
    let track = Track::new().on(0, 0, 60).event(QUARTER, &[0xB0, 123, 0]).notes(&[(62, QUARTER)]);
    check(&file(0, &[track]), &TUNE, &[]);
}

#[test]
fn a_missing_end_of_track_is_no_harm() {
    let bytes = [header(1, 1, QUARTER as u16), tune().chunk()].concat();
    check(&bytes, &TUNE, &[]);
}

#[test]
fn a_track_that_breaks_off_keeps_what_was_read() {
    let whole = file(1, &[tune()]);
    let odd = [Oddity::Truncated, Oddity::HangingNote];
    // The file is cut in the middle of the event that ends the second note.
    check(&whole[..whole.len() - 6], &TUNE, &odd);
}

#[test]
fn every_cut_of_a_file_gives_a_melody_with_a_warning_or_a_place() {
    let whole = file(1, &[Track::new().name("Tune").time(0, 3, 2), tune()]);
    for length in 1..whole.len() {
        match import(&whole[..length], &ImportOptions::default()) {
            Ok(imported) => assert!(!imported.warnings.is_empty(), "cut at {length} of {}", whole.len()),
            Err(ImportError::Broken { at: Some(TextPosition::Byte(at)), .. }) => assert!(at <= length),
            Err(ImportError::Foreign { .. }) if length < 4 => {}
            Err(other) => panic!("cut at {length}: {other:?}"),
        }
    }
}

#[test]
fn a_file_that_breaks_off_before_any_note_is_broken_at_a_byte() {
    let bytes = [header(1, 1, QUARTER as u16), Track::new().name("Tune").chunk_of(500)].concat();
    let expected = ImportError::Broken {
        at: Some(TextPosition::Byte(bytes.len())),
        what: "it breaks off in track 1, before the first note".to_owned(),
    };
    assert_eq!(error(&bytes), expected);
}

#[test]
fn a_header_that_breaks_off_is_broken_at_a_byte() {
    let at = Some(TextPosition::Byte(11));
    let what = "it ends in the middle of the MIDI header".to_owned();
    assert_eq!(error(&header(1, 1, 480)[..11]), ImportError::Broken { at, what });
}

#[test]
fn a_file_without_notes_says_so() {
    assert_eq!(error(&file(1, &[Track::new().name("Tune")])), ImportError::NoNotes);
}

#[test]
fn a_chunk_length_that_is_too_long_is_mended_by_the_end_mark() {
    let track = tune().end();
    let length = track.0.len() as u32 + 100;
    let bytes = [header(1, 1, QUARTER as u16), track.chunk_of(length)].concat();
    check(&bytes, &TUNE, &[Oddity::ChunkLength]);
}

#[test]
fn a_chunk_length_that_runs_into_the_next_track_is_mended() {
    let first = Track::new().name("Tune").end();
    let length = first.0.len() as u32 + 5;
    let bytes = [header(1, 2, QUARTER as u16), first.chunk_of(length), tune().end().chunk()].concat();
    check(&bytes, &TUNE, &[Oddity::ChunkLength]);
}

#[test]
fn a_chunk_length_that_is_too_short_is_mended_by_the_end_mark() {
    let bytes = [header(1, 1, QUARTER as u16), tune().end().chunk_of(5)].concat();
    check(&bytes, &TUNE, &[Oddity::ChunkLength]);
}

#[test]
fn a_chunk_length_of_zero_is_mended_by_the_end_mark() {
    let bytes = [header(1, 2, QUARTER as u16), tune().end().chunk_of(0), tune().end().chunk_of(0)].concat();
    let imported = read(&bytes);
    assert_eq!((imported.parts.len(), imported.melody.notes.len()), (2, 2));
    assert_eq!(oddities(&imported), [Oddity::ChunkLength]);
}

#[test]
fn a_wrong_number_of_tracks_in_the_header_is_ignored() {
    for stated in [0, 7] {
        let bytes = [header(1, stated, QUARTER as u16), tune().end().chunk()].concat();
        check(&bytes, &TUNE, &[Oddity::TrackCount { stated, found: 1 }]);
    }
}

#[test]
fn alien_chunks_are_passed_over() {
    let alien = [b"XFIH", &4_u32.to_be_bytes()[..], b"data"].concat();
    let bytes = [header(1, 1, QUARTER as u16), alien.clone(), tune().end().chunk(), alien].concat();
    check(&bytes, &TUNE, &[]);
}

#[test]
fn an_empty_track_chunk_is_no_harm() {
    let bytes = [header(1, 2, QUARTER as u16), Track::new().chunk(), tune().end().chunk()].concat();
    check(&bytes, &TUNE, &[]);
}

#[test]
fn a_header_chunk_may_be_longer_than_six_bytes() {
    let mut bytes = header(1, 1, QUARTER as u16);
    bytes[7] = 8;
    bytes.extend([0, 0]);
    bytes.extend(tune().end().chunk());
    check(&bytes, &TUNE, &[]);
}

#[test]
fn bytes_after_the_last_track_are_passed_over_with_a_warning() {
    let bytes = [file(1, &[tune()]), vec![0x00, 0x1A, 0xFF, 0x90, 0x3C]].concat();
    check(&bytes, &TUNE, &[Oddity::StrayBytes]);
}

#[test]
fn bytes_between_two_tracks_are_passed_over_with_a_warning() {
    let first = Track::new().name("Tune").end().chunk();
    let bytes = [header(1, 2, QUARTER as u16), first, vec![0, 1, 2], tune().end().chunk()].concat();
    check(&bytes, &TUNE, &[Oddity::StrayBytes]);
}

#[test]
fn a_riff_wrapper_is_taken_off() {
    let smf = file(1, &[tune()]);
    let size = (smf.len() as u32).to_le_bytes();
    let body = [b"RMIDdata", &size[..], &smf].concat();
    let list = [b"LIST", &4_u32.to_le_bytes()[..], b"INFO"].concat();
    let total = ((body.len() + list.len()) as u32).to_le_bytes();
    check(&[b"RIFF", &total[..], &body, &list].concat(), &TUNE, &[]);
}

#[test]
fn an_event_that_makes_no_sense_loses_the_rest_of_its_track_only() {
    // A data byte appears where a status byte must be, and no status precedes it.
    let broken = Track::new().event(0, &[0x3C, 0x50]).end();
    let at = 14 + 8;
    let bytes = [header(1, 2, QUARTER as u16), broken.chunk(), tune().end().chunk()].concat();
    let what = format!("the rest of track 1 from byte {at} on");
    check(&bytes, &TUNE, &[Oddity::Unreadable { what }]);
}

#[test]
fn a_meta_event_of_the_wrong_length_is_passed_over() {
    let track = Track::new().meta(0, 0x59, &[1]).meta(0, 0x51, &[7]).meta(0, 0x54, &[99, 99, 99, 99, 99]);
    let bytes = file(1, &[Track(track.0), tune()]);
    check(&bytes, &TUNE, &[Oddity::Unreadable { what: "a meta event in track 1".to_owned() }]);
}

#[test]
fn events_of_no_length_are_no_harm() {
    // Each file has one kind of meta event without data; every kind except the end mark is tried.
    for kind in (0..0x80).filter(|kind| *kind != 0x2F) {
        let imported = read(&file(1, &[Track::new().meta(0, kind, &[]), tune()]));
        assert_eq!((notes(&imported).len(), imported.melody.title.clone()), (2, None), "{kind:#x}");
        // Events that need data are skipped with a warning; the other kinds are texts or unknown.
        let wants_data = [0x51, 0x58, 0x59].contains(&kind);
        assert!(!wants_data || !imported.warnings.is_empty(), "{kind:#x}");
    }
}

#[test]
fn a_pedal_makes_no_note_longer() {
    let track = Track::new().event(0, &[0xB0, 64, 127]).notes(&[(60, QUARTER)]);
    let track = track.event(QUARTER, &[0xB0, 64, 0]).notes(&[(62, QUARTER)]);
    check(&file(0, &[track]), &[(60, "0", "1"), (62, "2", "1")], &[]);
}

#[test]
fn a_real_time_event_between_notes_is_passed_over() {
    let track = Track::new().notes(&[(60, QUARTER)]).event(0, &[0xF8]).notes(&[(62, QUARTER)]);
    check(&file(0, &[track]), &TUNE, &[Oddity::Unreadable { what: "a system event in track 1".to_owned() }]);
}

#[test]
fn a_division_of_zero_is_read_as_the_usual_one() {
    let bytes = [header(1, 1, 0), tune().end().chunk()].concat();
    let what = "the number of ticks a quarter".to_owned();
    check(&bytes, &TUNE, &[Oddity::Unreadable { what }]);
}

#[test]
fn time_in_frames_is_read_as_seconds() {
    // The division is 25 frames per second, of 40 ticks each: 1000 ticks per second, so 500 per quarter at 120 quarters
    // per minute.
    let track = Track::new().meta(0, 0x51, &[0x0F, 0x42, 0x40]).notes(&[(60, 500), (62, 250)]);
    let bytes = [header(1, 1, 0xE728), track.end().chunk()].concat();
    check(&bytes, &[(60, "0", "1"), (62, "1", "1/2")], &[Oddity::NoBars]);
    assert_eq!(read(&bytes).melody.tempo.micros(Beats::quarters(1)), 500_000);
    // The divisions are 24 and 30 frames per second, of 100 ticks each.
    for (division, second) in [(0xE864, 2_400), (0xE264, 3_000)] {
        let bytes = [header(1, 1, division), Track::new().notes(&[(60, second)]).end().chunk()].concat();
        check(&bytes, &[(60, "0", "2")], &[Oddity::NoBars]);
    }
    // A division of 29 frames means 30000/1001 frames per second.
    let bytes = [header(1, 1, 0xE364), Track::new().notes(&[(60, 3_000)]).end().chunk()].concat();
    assert_eq!(read(&bytes).melody.notes[0].duration, Beats::new(2 * 1001, 1000));
}

#[test]
fn of_independent_patterns_one_is_chosen() {
    let patterns = |names: &[&str]| {
        let named =
            names.iter().zip(60..).map(|(name, key)| Track::new().name(name).notes(&[(key, QUARTER)]));
        file(2, &[vec![Track::new().name("Empty")], named.collect()].concat())
    };
    // The only pattern with notes is the tune.
    let imported = read(&patterns(&["Verse"]));
    assert_eq!((notes(&imported), imported.parts.len()), (vec![(60, "0".to_owned(), "1".to_owned())], 1));
    assert_eq!(oddities(&imported), []);
    let two = patterns(&["Verse", "Chorus"]);
    let ImportError::SeveralTunes { asked: None, tunes } = error(&two) else { panic!("there are two") };
    let listed: Vec<_> = tunes.iter().map(|tune| (tune.number, tune.title.as_deref())).collect();
    assert_eq!(listed, [(1, Some("Verse")), (2, Some("Chorus"))]);
    for tune in ["2", "chorus"] {
        let options = ImportOptions { tune: Some(tune.parse().unwrap()), ..ImportOptions::default() };
        assert_eq!(notes(&import(&two, &options).unwrap()), [(61, "0".to_owned(), "1".to_owned())]);
    }
}

#[test]
fn an_unknown_format_is_read_as_tracks_at_once() {
    let what = "the format number in the header".to_owned();
    check(&file(9, &[tune()]), &TUNE, &[Oddity::Unreadable { what }]);
}

#[test]
fn every_pair_of_track_and_channel_is_a_part_in_order() {
    let band = Track::new().on(0, 3, 50).on(0, 1, 60).on(0, 9, 36).off(QUARTER, 3, 50);
    let band = band.off(0, 1, 60).off(0, 9, 36);
    let imported = read(&file(1, &[band, tune()]));
    let ranges: Vec<_> = imported.parts.iter().map(|part| part.range.map(|(low, _)| low.midi())).collect();
    assert_eq!(ranges, [Some(60), Some(50), None, Some(60)]);
    let percussion: Vec<bool> = imported.parts.iter().map(|part| part.percussion).collect();
    assert_eq!(percussion, [false, false, true, false]);
}

#[test]
fn the_tempo_counts_for_all_tracks_and_the_last_at_a_place_wins() {
    let conductor = Track::new().meta(0, 0x51, &[0x03, 0xD0, 0x90]);
    let late = Track::new().meta(0, 0x51, &[0x0F, 0x42, 0x40]).meta(QUARTER, 0x51, &[0x07, 0xA1, 0x20]);
    let tempo = read(&file(1, &[conductor, tune(), late])).melody.tempo;
    assert_eq!(tempo.micros(Beats::quarters(1)), 1_000_000);
    assert_eq!(tempo.micros(Beats::quarters(2)), 1_500_000);
}

#[test]
fn a_file_without_a_tempo_states_none() {
    assert!(!read(&file(1, &[tune()])).melody.tempo.is_stated());
    // The default tempo counts as unstated if it is the only tempo of the file, and as stated if another one follows.
    let default = || Track::new().meta(0, 0x51, &[0x07, 0xA1, 0x20]);
    assert!(!read(&file(1, &[default(), tune()])).melody.tempo.is_stated());
    let change = Track::new().meta(QUARTER, 0x51, &[0x0F, 0x42, 0x40]);
    let changed = read(&file(1, &[default(), tune(), change])).melody.tempo;
    assert!(changed.is_stated());
    assert_eq!(changed.micros(Beats::quarters(1)), 500_000);
}

#[test]
fn key_signatures_count_for_all_tracks() {
    let conductor = Track::new().meta(0, 0x59, &[2, 0]).meta(QUARTER, 0x59, &[0xFF, 1]);
    let signatures = read(&file(1, &[conductor, tune()])).melody.signatures;
    let found: Vec<_> = signatures.iter().map(|s| (s.at, s.sharps, s.mode)).collect();
    let expected = [(Beats::ZERO, 2, Some(Mode::Major)), (Beats::quarters(1), -1, Some(Mode::Minor))];
    assert_eq!(found, expected);
}

#[test]
fn key_signatures_that_make_no_sense_are_ignored_with_a_warning() {
    for bad in [[8, 0], [0xFE, 255], [0xEE, 0]] {
        let bytes = file(1, &[Track::new().meta(0, 0x59, &bad), tune()]);
        check(&bytes, &TUNE, &[Oddity::BadKeySignature]);
        assert_eq!(read(&bytes).melody.signatures, []);
    }
}

#[test]
fn a_time_signature_of_two_bytes_is_read() {
    let bytes = file(1, &[Track::new().meta(0, 0x58, &[6, 3]), tune()]);
    check(&bytes, &TUNE, &[]);
    assert_eq!(read(&bytes).melody.bars[0].meter, Some(Meter { beats: 6, unit: 8 }));
}

#[test]
fn a_time_signature_that_makes_no_sense_is_ignored_with_a_warning() {
    for (beats, power) in [(0, 2), (4, 60)] {
        let bytes = file(1, &[Track::new().time(0, beats, power), tune()]);
        check(&bytes, &TUNE, &[Oddity::Unreadable { what: "a time signature".to_owned() }]);
        assert_eq!(read(&bytes).melody.bars[0].meter, Some(Meter::COMMON));
    }
}

/// Bars of a 128th, and a thousand time signatures in one beat, must not produce thousands of bars.
#[test]
fn time_signatures_that_only_multiply_bars_are_passed_over() {
    let passed = |what: &str| [Oddity::Unreadable { what: what.to_owned() }];
    let bytes = file(1, &[Track::new().time(0, 1, 7), tune()]);
    check(&bytes, &TUNE, &passed("a time signature of less than a sixteenth"));
    assert_eq!(read(&bytes).melody.bars[0].meter, Some(Meter::COMMON));
    let crowd = (0..1000).fold(Track::new().time(0, 2, 2), |track, index| {
        let delta = u32::from(index % 20 == 0);
        track.time(delta, 2 + (index % 3) as u8, 2)
    });
    let bytes = file(1, &[crowd, tune()]);
    check(&bytes, &TUNE, &passed("a time signature less than a sixteenth before the next"));
    assert_eq!(read(&bytes).melody.bars[0].meter, Some(Meter { beats: 2, unit: 4 }));
}

#[test]
fn bars_are_built_from_the_time_signatures_of_any_track() {
    let track = Track::new().notes(&[(60, 4 * QUARTER), (62, 3 * QUARTER), (64, QUARTER)]);
    let late = Track::new().time(0, 4, 2).time(4 * QUARTER, 3, 2);
    let melody = read(&file(1, &[track, late])).melody;
    let bars: Vec<_> = melody.bars.iter().map(|bar| (bar.number, bar.start.to_string())).collect();
    assert_eq!(bars, [(1, "0".to_owned()), (2, "4".to_owned()), (3, "7".to_owned())]);
    assert_eq!(melody.notes.iter().map(|note| note.bar).collect::<Vec<_>>(), [0, 1, 2]);
    // The last bar is filled to its full length.
    assert_eq!(melody.bars[2].length, Beats::quarters(3));
}

#[test]
fn a_short_first_time_signature_is_a_pickup() {
    let track = Track::new().notes(&[(60, QUARTER), (62, 4 * QUARTER)]);
    let melody = read(&file(1, &[Track::new().time(0, 1, 2).time(QUARTER, 4, 2), track])).melody;
    let places: Vec<_> = (0..2).map(|note| melody.place(note, 1)).map(|p| (p.bar, p.beat)).collect();
    assert_eq!(places, [(0, Beats::quarters(4)), (1, Beats::quarters(1))]);
}

#[test]
fn the_first_track_without_notes_names_the_piece() {
    let imported = read(&file(1, &[Track::new().name("The Blue Bird"), tune().name("Fiddle")]));
    assert_eq!(imported.melody.title.as_deref(), Some("The Blue Bird"));
    assert_eq!(imported.parts[0].name.as_deref(), Some("Fiddle"));
}

#[test]
fn the_name_of_a_single_track_is_the_title_unless_it_is_an_instrument_or_a_role() {
    let imported = read(&file(0, &[Track::new().name("The Blue Bird").notes(&[(60, QUARTER)])]));
    assert_eq!((imported.melody.title.as_deref(), &imported.parts[0].name), (Some("The Blue Bird"), &None));
    for name in ["Melody", "Acoustic Grand Piano", "Track 1", "Voice"] {
        let imported = read(&file(0, &[Track::new().name(name).notes(&[(60, QUARTER)])]));
        assert_eq!((imported.melody.title, imported.parts[0].name.as_deref()), (None, Some(name)));
    }
}

#[test]
fn a_stopgap_for_a_name_is_no_title_in_midi() {
    for name in ["Score", "untitled_2", "Title", "Sheet music"] {
        assert_eq!(read(&file(1, &[Track::new().name(name), tune()])).melody.title, None, "{name}");
    }
    let texts = ["@KMIDI KARAOKE FILE", "@TUntitled", "@TThe Blue Bird", "@TA. Nonymous"];
    let words = texts.iter().fold(Track::new(), |track, text| track.meta(0, 0x01, text.as_bytes()));
    let title = read(&file(1, &[words, tune()])).melody.title;
    assert_eq!(title.as_deref(), Some("The Blue Bird"));
}

/// MMA RP-026: lyrics may have readings in brackets, tags in braces, and literal signs after a backslash.
#[test]
fn readings_and_tags_in_lyrics_are_not_sung() {
    let words = |texts: [&str; 4]| {
        let [first, second, third, fourth] = texts.map(str::as_bytes);
        let track = Track::new().meta(0, 0x05, first).meta(0, 0x05, second);
        let track = track.meta(0, 0x05, third).on(0, 0, 60).off(QUARTER, 0, 60);
        read(&file(0, &[track.meta(0, 0x05, fourth).on(0, 0, 62).off(QUARTER, 0, 62)])).melody
    };
    let melody = words(["{@LATIN}{#Title=The Mill}", "{#Composer=A. Nonymous}{#}", r"ca[ho]\r", r"\[sa\] "]);
    assert_eq!(melody.title.as_deref(), Some("The Mill"));
    assert_eq!(melody.credits.composer().as_deref(), Some("A. Nonymous"));
    let sung = |melody: &Melody| -> Vec<String> {
        melody.notes.iter().flat_map(|note| &note.lyrics).map(|lyric| lyric.text.clone()).collect()
    };
    assert_eq!(sung(&melody), ["ca", "[sa]"]);
    // Without a tag these signs have no special meaning.
    assert_eq!(sung(&words([" ", " ", "ca[ho] ", r"sa\t "])), ["ca[ho]", r"sa\t"]);
}

/// MMA RP-001, meta event 02: the copyright text, which every track may repeat.
#[test]
fn whose_a_midi_file_is_is_kept_once() {
    let (first, second) = (b"\xA9 1890\x1b A. Nonymous".as_slice(), b"Free\r\nfor all".as_slice());
    let track = || tune().meta(0, 0x02, first);
    let credits = read(&file(1, &[track(), track().meta(0, 0x02, second)])).melody.credits;
    assert_eq!(
        (credits.rights, credits.creators),
        (["© 1890 A. Nonymous", "Free for all"].map(str::to_owned).to_vec(), Vec::new())
    );
    // The file has more copyright texts than any real file.
    let many = (0..50).fold(tune(), |track, n: u8| track.meta(0, 0x02, &[b'a', b'0' + n]));
    assert_eq!(read(&file(0, &[many])).melody.credits.rights.len(), 20);
}

#[test]
fn a_part_without_a_name_is_called_by_its_instrument() {
    let flute = || Track::new().event(0, &[0xC0, 73]).notes(&[(60, QUARTER)]);
    assert_eq!(read(&file(1, &[flute()])).parts[0].name.as_deref(), Some("Flute"));
    // The first program, the last one, and one whose General MIDI family would surprise a musician.
    for (program, name) in [(0, "Acoustic Grand Piano"), (127, "Gunshot"), (110, "Fiddle")] {
        let track = Track::new().event(0, &[0xC0, program]).notes(&[(60, QUARTER)]);
        assert_eq!(read(&file(1, &[track])).parts[0].name.as_deref(), Some(name));
    }
    // Two channels of one track have its name, each with its instrument.
    let track = Track::new().name("Strings").event(0, &[0xC0, 40]).event(0, &[0xC1, 42]);
    let both = track.notes(&[(72, QUARTER)]).on(0, 1, 48).off(QUARTER, 1, 48);
    let names: Vec<_> =
        read(&file(1, &[tune(), both])).parts.into_iter().filter_map(|part| part.name).collect();
    assert_eq!(names[names.len() - 2..], ["Strings (Violin)", "Strings (Cello)"]);
}

#[test]
fn the_instrument_alone_makes_no_lead_but_may_make_a_bass() {
    let parts = |program: u8| {
        let track = |program| Track::new().event(0, &[0xC0, program]).notes(&[(60, QUARTER), (62, QUARTER)]);
        read(&file(1, &[track(0), track(program)])).choice
    };
    // The parts are equal except for their instruments. An instrument called "lead" or "melodic" gives no points; a
    // bass loses some.
    for program in [80, 85, 117] {
        assert_eq!(parts(program).evidence[1].points(), parts(0).evidence[1].points(), "{program}");
    }
    assert!(parts(32).evidence[1].points() < parts(0).evidence[1].points());
}

#[test]
fn texts_are_utf_8_or_what_their_tag_says_or_latin_1() {
    let cases: [(&[u8], &str); 4] = [
        ("Für Élise’s Tanz".as_bytes(), "Für Élise’s Tanz"),
        (b"F\xFCr \xC9lise", "Für Élise"),
        (b"{@JP}\x89\xD4\x89\xCC", "花歌"),
        (b"{@LATIN}Caf\xE9 waltz\0", "Café waltz"),
    ];
    for (bytes, expected) in cases {
        let title = read(&file(1, &[Track::new().meta(0, 0x03, bytes), tune()])).melody.title;
        assert_eq!(title.as_deref(), Some(expected));
    }
}

#[test]
fn lyrics_stand_under_the_notes_they_start_with() {
    let track = Track::new().meta(0, 0x05, b"Ro-").on(0, 0, 60).off(QUARTER, 0, 60);
    let track = track.meta(0, 0x05, b"se").on(0, 0, 62).off(QUARTER, 0, 62);
    let melody = read(&file(0, &[track])).melody;
    let words: Vec<_> =
        melody.notes.iter().flat_map(|note| &note.lyrics).map(|l| (l.text.as_str(), l.hyphen)).collect();
    assert_eq!(words, [("Ro", true), ("se", false)]);
}

#[test]
fn karaoke_words_in_a_track_of_their_own_find_the_part_they_fit() {
    let words = Track::new().meta(0, 0x01, b"@KMIDI KARAOKE FILE").meta(0, 0x01, b"@TThe Blue Bird");
    let words = words.meta(QUARTER, 0x01, b"\\Blue").meta(QUARTER, 0x01, b" bi").meta(QUARTER, 0x01, b"rd");
    let song = Track::new().on(QUARTER, 0, 60).off(QUARTER, 0, 60).notes(&[(62, QUARTER), (64, QUARTER)]);
    let pulse = (0..16).fold(Track::new(), |track, _| track.on(0, 1, 76).off(QUARTER / 4, 1, 76));
    let imported = read(&file(1, &[words, pulse, song]));
    assert_eq!(imported.choice.part, 2);
    assert_eq!(imported.melody.title.as_deref(), Some("The Blue Bird"));
    let sung: Vec<_> = imported
        .melody
        .notes
        .iter()
        .map(|note| (note.lyrics[0].text.as_str(), note.lyrics[0].hyphen))
        .collect();
    assert_eq!(sung, [("Blue", false), ("bi", true), ("rd", false)]);
}

/// Returns the syllables of each note, with their verses and whether the word continues.
fn sung(imported: &Imported) -> Vec<Vec<(u8, &str, bool)>> {
    let notes = imported.melody.notes.iter();
    notes.map(|note| note.lyrics.iter().map(|l| (l.verse, l.text.as_str(), l.hyphen)).collect()).collect()
}

#[test]
fn several_words_at_one_place_are_verses_where_most_places_have_them() {
    let lyric = |track: Track, delta, text: &str| track.meta(delta, 0x05, text.as_bytes());
    let track = lyric(lyric(Track::new(), 0, "Ro-"), 0, "Lil-").on(0, 0, 60).off(QUARTER, 0, 60);
    let track = lyric(lyric(track, 0, "se"), 0, "y").on(0, 0, 62).off(QUARTER, 0, 62);
    let imported = read(&file(0, &[track]));
    let expected = [[(1, "Ro", true), (2, "Lil", true)], [(1, "se", false), (2, "y", false)]];
    assert_eq!(sung(&imported), expected);
}

#[test]
fn several_words_at_one_place_alone_are_one_syllable() {
    let lyric = |track: Track, delta, text: &str| track.meta(delta, 0x05, text.as_bytes());
    let mut track = lyric(Track::new(), 0, "hap-");
    for (key, text) in [(60, "py "), (62, "is "), (64, "he ")] {
        track = lyric(track, 0, text).on(0, 0, key).off(QUARTER, 0, key);
    }
    let imported = read(&file(0, &[track]));
    assert_eq!(sung(&imported)[0], [(1, "happy", false)]);
}

#[test]
fn lines_of_one_text_are_verses() {
    let mut track = Track::new();
    for (key, text) in [(60, &b"dream\nlong"[..]), (62, b"of\r\nfor"), (64, b"me\n")] {
        track = track.meta(0, 0x05, text).on(0, 0, key).off(QUARTER, 0, key);
    }
    let imported = read(&file(0, &[track]));
    let found: Vec<Vec<(u8, &str)>> = sung(&imported)
        .iter()
        .map(|note| note.iter().map(|&(verse, text, _)| (verse, text)).collect())
        .collect();
    assert_eq!(found, [vec![(1, "dream"), (2, "long")], vec![(1, "of"), (2, "for")], vec![(1, "me")]]);
}

#[test]
fn the_same_words_for_several_parts_in_one_track_count_once() {
    let mut track = Track::new();
    for (key, text) in [(60, &b"Ar-"[..]), (62, b"mi"), (64, b"ger")] {
        track = track.meta(0, 0x05, text).meta(0, 0x05, text).on(0, 0, key).off(QUARTER, 0, key);
    }
    let imported = read(&file(0, &[track]));
    assert_eq!(sung(&imported), [[(1, "Ar", true)], [(1, "mi", false)], [(1, "ger", false)]]);
}

#[test]
fn words_in_several_tracks_of_their_own_are_verses() {
    let words = |first: &[u8], second: &[u8]| Track::new().meta(0, 0x05, first).meta(QUARTER, 0x05, second);
    let imported = read(&file(1, &[words(b"one", b"two"), words(b"un", b"deux"), tune()]));
    assert_eq!(
        sung(&imported),
        [[(1, "one", false), (2, "un", false)], [(1, "two", false), (2, "deux", false)]]
    );
}

#[test]
fn a_new_time_signature_inside_a_bar_is_said() {
    let track =
        Track::new().time(0, 4, 2).notes(&[(60, 2 * QUARTER)]).time(0, 3, 2).notes(&[(62, 3 * QUARTER)]);
    let track = track.time(QUARTER, 4, 2).notes(&[(64, QUARTER)]);
    let imported = read(&file(0, &[track]));
    let places: Vec<_> =
        imported.warnings.iter().map(|w| (w.oddity.clone(), w.place.map(|p| p.bar))).collect();
    // The first two quarters are a pickup to the waltz, so only the second change is inside a bar.
    assert_eq!(places, [(Oddity::BarCut, Some(2))]);
}

#[test]
fn words_where_no_note_starts_are_left_out_with_a_warning() {
    let track = Track::new().meta(0, 0x05, b"La").on(0, 0, 60).meta(QUARTER / 2, 0x05, b"lost");
    let track = track.off(QUARTER / 2, 0, 60);
    let imported = read(&file(0, &[track]));
    assert_eq!(oddities(&imported), [Oddity::WordsWithoutNote]);
    assert_eq!(imported.warnings[0].place.map(|place| place.beat), Some(Beats::new(3, 2)));
}

#[test]
fn a_bend_during_a_note_is_reported_at_the_note() {
    let bend = |track: Track, delta, value: u8| track.event(delta, &[0xE0, 0, value]);
    let track = Track::new().notes(&[(60, QUARTER)]).on(0, 0, 62);
    let track = bend(bend(track, QUARTER / 2, 0x50), QUARTER / 4, 0x40).off(QUARTER / 4, 0, 62);
    let imported = read(&file(0, &[track.notes(&[(64, QUARTER)])]));
    let bent: Vec<_> = imported
        .warnings
        .iter()
        .map(|warning| (warning.oddity.clone(), warning.place.map(|place| place.beat)))
        .collect();
    assert_eq!(bent, [(Oddity::PitchBend, Some(Beats::quarters(2)))]);
}

#[test]
fn written_notes_that_stop_early_get_their_full_value() {
    // Eighths, a quarter and a half note at 95 % of their length, as sequencers play them.
    let gate = |track: Track, key, full: u32| {
        track.on(0, 0, key).off(full * 95 / 100, 0, key).meta(full / 20, 0x06, b"")
    };
    let track = gate(gate(gate(gate(Track::new(), 60, 240), 62, 240), 64, 480), 65, 960);
    let expected = [(60, "0", "1/2"), (62, "1/2", "1/2"), (64, "1", "1"), (65, "2", "2")];
    check(&file(0, &[track]), &expected, &[Oddity::CutShort]);
}

#[test]
fn written_rests_and_staccato_stay_as_they_are() {
    // A note of half its value, then a dotted eighth followed by a rest.
    let track = Track::new().on(0, 0, 60).off(240, 0, 60).on(240, 0, 62).off(360, 0, 62).on(120, 0, 64);
    let expected = [(60, "0", "1/2"), (62, "1", "3/4"), (64, "2", "1")];
    check(&file(0, &[track.off(480, 0, 64)]), &expected, &[]);
}

#[test]
fn triplets_in_a_file_with_too_few_ticks_are_exact() {
    // A third of 100 ticks is not a whole number.
    let track = Track::new().notes(&[(60, 33), (62, 34), (64, 33), (65, 100)]);
    let bytes = [header(0, 1, 100), track.end().chunk()].concat();
    let expected = [(60, "0", "1/3"), (62, "1/3", "1/3"), (64, "2/3", "1/3"), (65, "1", "1")];
    check(&bytes, &expected, &[]);
}

#[test]
fn quintuplets_and_septuplets_stay_exact() {
    let track = Track::new().notes(&[(60, 96), (62, 96), (64, 96), (65, 96), (67, 96), (69, 480)]);
    let expected = [
        (60, "0", "1/5"),
        (62, "1/5", "1/5"),
        (64, "2/5", "1/5"),
        (65, "3/5", "1/5"),
        (67, "4/5", "1/5"),
        (69, "1", "1"),
    ];
    check(&file(0, &[track]), &expected, &[]);
}

#[test]
fn a_free_performance_is_moved_to_the_beat_and_says_by_how_much() {
    // Quarters, eighths and a triplet, each a few hundredths of a second early or late.
    let played = [
        (10, 450),
        (505, 400),
        (930, 240),
        (1_225, 200),
        (1_410, 150),
        (1_622, 120),
        (1_745, 170),
        (1_950, 900),
    ];
    let mut events: Vec<(u32, bool, u8)> = Vec::new();
    for (index, &(onset, length)) in played.iter().enumerate() {
        let key = 60 + index as u8;
        events.extend([(onset, true, key), (onset + length, false, key)]);
    }
    events.sort();
    let (mut track, mut now) = (Track::new(), 0);
    for (at, on, key) in events {
        track = if on { track.on(at - now, 0, key) } else { track.off(at - now, 0, key) };
        now = at;
    }
    let imported = read(&file(0, &[track]));
    let onsets: Vec<String> = imported.melody.notes.iter().map(|note| note.onset.to_string()).collect();
    assert_eq!(onsets, ["0", "1", "2", "2 1/2", "3", "3 1/3", "3 2/3", "4"]);
    let odd: Vec<_> = oddities(&imported);
    assert!(matches!(odd[..], [Oddity::OffGrid { mean_ms: 20..=35 }]), "{odd:?}");
}

#[test]
fn more_time_than_any_music_takes_is_an_error() {
    let track = (0..5).fold(Track::new(), |track, _| track.meta(0x0FFF_FFFF, 0x06, b""));
    assert!(matches!(error(&file(0, &[track.notes(&[(60, 1)])])), ImportError::TooLarge { .. }));
}

#[test]
fn a_note_that_hangs_through_endless_time_is_cut_at_the_longest() {
    let track = (0..5).fold(tune().on(0, 0, 64), |track, _| track.meta(0x0FFF_FFFF, 0x06, b""));
    let imported = read(&file(0, &[track]));
    assert_eq!(
        imported.melody.bars.last().map(|bar| bar.start + bar.length),
        Some(Beats::new(MAX_QUARTERS, 1))
    );
    // No player holds a note for hours.
    assert_eq!(imported.melody.notes[2].duration, Beats::quarters(256));
}

proptest! {
    #[test]
    fn no_bytes_after_a_header_panic(
        body in proptest::collection::vec(any::<u8>(), 0..300), format in 0_u16..4, division: u16,
    ) {
        let bytes = [header(format, 1, division), b"MTrk\0\0\x01\0".to_vec(), body].concat();
        let _ = import(&bytes, &ImportOptions::default());
    }

    #[test]
    fn a_damaged_byte_never_panics_and_the_melody_stays_one_note_at_a_time(
        at in 0_usize..400, value: u8, other in 0_usize..400, second: u8,
    ) {
        let voice = Track::new().meta(0, 0x05, b"la").notes(&[(60, 480), (64, 240), (62, 240), (65, 960)]);
        let band = Track::new().on(0, 1, 48).on(0, 1, 55).off(960, 1, 48).off(0, 1, 55);
        let band = band.event(0, &[0xE1, 0, 0x50]);
        let conductor = Track::new().name("Tune").time(0, 3, 2).meta(0, 0x59, &[1, 0]);
        let mut bytes = file(1, &[conductor, voice, band]);
        let length = bytes.len();
        bytes[4 + at % (length - 4)] = value;
        bytes[4 + other % (length - 4)] = second;
        if let Ok(imported) = import(&bytes, &ImportOptions::default()) {
            let melody = imported.melody;
            for pair in melody.notes.windows(2) {
                prop_assert!(pair[0].end() <= pair[1].onset);
            }
            for note in &melody.notes {
                let bar = &melody.bars[note.bar];
                prop_assert!(bar.start <= note.onset && note.onset < bar.start + bar.length);
                prop_assert_eq!(note.grace, note.duration == Beats::ZERO);
            }
        }
    }
}
