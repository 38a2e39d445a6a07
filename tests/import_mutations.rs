//! Whatever the bytes, the library gives an answer or an error: no panic, no long wait, no unlimited memory.
//!
//! Valid files (the corpus, the demo, the fixtures, MIDI and ABC files built here) are damaged in all the ways of
//! `mutate` and then read. Every tenth damaged file goes through the whole library to its text and JSON, to a check,
//! and to an export, a sheet or a page. Every run is the same, because a case is determined by its number. This command
//! runs a single case: `MUTATION=number cargo test --release --test import_mutations`.

#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a panic is how a test reports a failure"
)]

#[path = "support/midi.rs"]
mod midi;
mod mutate;

use std::{
    env, fs,
    panic::{AssertUnwindSafe, catch_unwind},
    path::Path,
    thread,
    time::{Duration, Instant},
};

use breathline::{
    compare::choice::{self, Question},
    export,
    harp::{Harp, Register, Technique, Tuning},
    import::{self, ImportOptions, Imported},
    json,
    melody::key,
    pages::{self, Tune},
    pitch::PitchClass,
    render::text,
    search::{self, Request, Style, Weights},
    tab::Notation,
};
#[cfg(feature = "sheet")]
use breathline::{
    render::html,
    sheet::{self, Sheet, screen, svg},
};
use midi::Track;
use mutate::{Random, mutated};

/// The number of files, unless `MUTATIONS` overrides it; fewer in debug builds, whose extra checks make them slower.
const CASES: usize = if cfg!(debug_assertions) { 40_000 } else { 200_000 };
/// A case goes through the whole library if its number is a multiple of this number.
const WHOLE_WAY: usize = 10;
/// The longest time for one file in a release build. Reading a valid file takes less than a thousandth of this time.
const LONGEST: Duration = Duration::from_secs(1);
/// The largest sheet or page of any file in this test, in bytes: no file has more than a few thousand notes.
#[cfg(feature = "sheet")]
const MOST_WRITTEN: usize = 64 << 20;
/// The memory of the whole test, with its own files and all threads, in KiB.
const MOST_MEMORY: usize = 256 << 10;

/// Returns valid files of each kind. A case chooses a kind and then a file of the kind, so that the many fixtures do
/// not outweigh the tunes.
fn kinds() -> Vec<Vec<Vec<u8>>> {
    let read = |folder: &str, ending: &str| -> Vec<Vec<u8>> {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
        let paths = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
        let mut paths: Vec<_> =
            paths.filter(|path| path.extension().is_some_and(|found| found == ending)).collect();
        paths.sort();
        paths.iter().map(|path| fs::read(path).unwrap()).collect()
    };
    let scores = [read("corpus", "musicxml"), read("demo", "musicxml")].concat();
    let files = [read("corpus", "mid"), read("demo", "mid")].concat();
    // Kinds of small files are listed twice, because they have every feature and are quick to read.
    let fixtures = read("tests/fixtures", "musicxml");
    vec![fixtures.clone(), fixtures, built(), built(), files, scores, read("demo", "mxl"), typed(), typed()]
}

/// Returns MIDI files with features that the corpus lacks.
fn built() -> Vec<Vec<u8>> {
    let line = [(60, 480), (62, 240), (64, 240), (65, 120), (67, 360), (67, 480)];
    let band = |channel: u8| {
        let chords =
            (0..8).fold(Track::new().name("Guitar").event(0, &[0xC0 | channel, 25]), |track, step| {
                let track =
                    track.on(0, channel, 40 + step).on(0, channel, 44 + step).on(0, channel, 47 + step);
                track.off(480, channel, 40 + step).off(0, channel, 44 + step).off(0, channel, 47 + step)
            });
        chords.on(0, 9, 36).off(240, 9, 36)
    };
    let running = line.iter().fold(Track::new().event(0, &[0x90, 60, 80]), |track, &(key, length)| {
        track.event(length, &[key, 0]).event(0, &[key + 1, 70])
    });
    let words = ["A", "ma", "zing ", "grace"]
        .iter()
        .fold(Track::new(), |track, word| track.meta(0, 5, word.as_bytes()).on(0, 0, 67).off(480, 0, 67));
    let meters =
        Track::new().time(0, 1, 2).time(480, 3, 2).meta(0, 0x59, &[2, 0]).meta(0, 0x51, &[7, 0xA1, 0x20]);
    let played =
        line.iter().cycle().take(40).enumerate().fold(Track::new(), |track, (index, &(key, length))| {
            track.on(index as u32 % 13, 0, key).off(length - 17, 0, key)
        });
    let rests = Track::new().notes(&line).event(100_000, &[0x90, 72, 80]).off(480, 0, 72);
    let mut frames = midi::file(1, &[Track::new().notes(&line)]);
    frames[12..14].copy_from_slice(&[0xE7, 40]);
    vec![
        midi::file(0, &[Track::new().notes(&line)]),
        midi::file(1, &[meters, Track::new().name("Voice").notes(&line), band(2), band(3)]),
        midi::file(0, &[band(1)]),
        midi::file(2, &[Track::new().notes(&line), band(0)]),
        midi::file(1, &[running, words]),
        midi::file(1, &[played, rests]),
        frames,
    ]
}

/// Returns ABC texts that together use most features of the format.
fn typed() -> Vec<Vec<u8>> {
    let tunes = [
        "X:1\nT:A \\'etude\nC:A. Nonymous\nM:6/8\nL:1/8\nQ:3/8=100\nK:D Phr ^f\n|:{a}d>e^f (3gab|[K:G]c'2-c'[1 B,,3:|2 [GBd]6|]\n\
         w:A-ma-zing grace_ * how~sweet\nw:second|verse\n",
        "%abc-2.1\nM:C|\n\nX:1\nT:The First\nU:n=!breath!\nm:~n2=(3o/n/m/ n\nP:A(AB)2\nV:1 name=\"Tune\" clef=treble-8\nV:2 transpose=-2\n\
         K:Em\nP:A\n[V:1]\"Am7/G\"e2 ~g2 nA/B//c/4 d3/2|z4 Z|\nV:2\nE8&B,4|\nP:B\n[V:1]!segno!a8!D.C.!|\n\nX:2\nT:Another\nK:none\nCDEF|\n",
        "X:7\nT:Free\nM:none\nL:1/16\nK:HP\n%%propagate-accidentals octave\n(5abcde ::f4<<g2::\\\n a4.-a4 \"4\"b+trill+c !x !y|[1,3 d:|[2-4 e::|||\n\
         s:\"G\"*|!f!\n+:\"D\"\nW:words &amp; more\n%%begintext\ntext\n%%endtext\nI:MIDI transpose -12\nQ:\"slow\" 1/4 1/8=60.5\n^/c_3/2d x4 y X2|\n",
        "T:No number\r\nK:Amix\r\nA2 c2|e4:|\r\n\r\nX:3\rK:C\rc8|\r",
    ];
    tunes.iter().map(|tune| tune.as_bytes().to_vec()).collect()
}

/// Makes the case with the given number and runs it; returns whether its bytes contain a melody.
fn case(number: usize, kinds: &[Vec<Vec<u8>>], harps: &[Harp]) -> bool {
    let mut random = Random::new(number as u64);
    let kind = random.pick(kinds);
    let (file, other) = (random.pick(kind), random.pick(kind));
    let bytes = mutated(file, other, &mut random);
    let options = ImportOptions {
        // A file of many tunes needs a choice; other files have only their first tune.
        tune: import::Book::open(&bytes).ok().filter(|book| book.tunes().len() > 1 && !random.one_in(8)).map(
            |book| {
                let tune = random.pick(book.tunes());
                tune.choice()
            },
        ),
        part: random.one_in(8).then(|| random.below(4).into()),
        voice: random.one_in(8).then(|| random.below(3)),
        unfold: random.one_in(2),
    };
    if let Ok(path) = env::var("MUTATION_FILE") {
        fs::write(path, &bytes).unwrap();
    }
    match import::import(&bytes, &options) {
        Ok(imported) => {
            assert_sound(&imported);
            if number.is_multiple_of(WHOLE_WAY) {
                answer(&imported, harps, &mut random);
            }
            true
        }
        Err(error) => {
            let line = error.to_string();
            assert!(!line.is_empty() && !line.contains('\n'), "{line:?}");
            false
        }
    }
}

/// Checks the invariants of a melody.
fn assert_sound(imported: &Imported) {
    let melody = &imported.melody;
    assert!(!melody.bars.is_empty() && !melody.notes.is_empty());
    for pair in melody.bars.windows(2) {
        assert!(pair[0].start + pair[0].length == pair[1].start, "bars are without gaps");
    }
    for pair in melody.notes.windows(2) {
        assert!(pair[0].end() <= pair[1].onset && pair[0].bar <= pair[1].bar, "one note at a time, in order");
    }
    for note in &melody.notes {
        assert!(note.bar < melody.bars.len());
        assert!(note.grace == (note.duration == breathline::time::Beats::ZERO));
    }
}

/// Runs the whole library, from the melody to the text, the JSON and a check, and to an export, a sheet or a page.
fn answer(imported: &Imported, harps: &[Harp], random: &mut Random) {
    let weights = Weights::default();
    let first = random.below(harps.len());
    let techniques = [Technique::None, Technique::Draw, Technique::All, Technique::Over];
    let key = key::find(&imported.melody);
    let request = Request {
        melody: &imported.melody,
        key: key.key,
        harps: &harps[first..=first],
        technique: *random.pick(&techniques),
        weights: &weights,
        any_key: random.one_in(16),
        pins: &[],
    };
    let mut ranking = search::search(&request);
    if let Some(rival) = pages::key::rival(&key) {
        ranking.rank_rival(&request, &search::Wanted::first(3), rival.key);
    }
    let tune = Tune { name: "a tune", imported, key: &key };
    let options = pages::suggest::Options {
        ranking: random.one_in(2).then_some(5),
        why: random.one_in(2),
        tempo_range: random.one_in(8),
        style: Style::Plain,
        notation: Notation::default(),
    };
    let look = text::Look { width: 40 + random.below(80), colour: random.one_in(2) };
    let pages = [pages::suggest::page(&tune, &request, &ranking, options), pages::notes::page(&tune, true)];
    for page in pages {
        assert!(!text::render(&page, look).is_empty());
    }
    let on_paper = random.below(4);
    if let Some(approach) = ranking.best() {
        let arrangement = export::arrange(&imported.melody, key.key, approach, Notation::default());
        match on_paper {
            0 => {
                let written = export::musicxml::write(&arrangement, export::musicxml::TabAs::Lyrics);
                assert!(import::import(&written, &ImportOptions::default()).is_ok());
            }
            1 => {
                assert!(import::import(&export::midi::write(&arrangement), &ImportOptions::default()).is_ok())
            }
            #[cfg(feature = "sheet")]
            2 => {
                let sheet = Sheet::new(&tune, &request, approach, sheet::Options::default());
                let bytes: usize = (0..sheet.pages.len()).map(|page| svg::document(&sheet, page).len()).sum();
                assert!(bytes < MOST_WRITTEN, "{bytes} bytes of SVG");
            }
            #[cfg(feature = "sheet")]
            _ => {
                let practice = pages::practice::practice(&tune, &request, &ranking, Notation::default());
                let shown = pages::practice::shown(&ranking);
                let sheets = screen::sheets(&tune, &request, &shown, Notation::default().bend_mark);
                let bytes = html::render(&practice, &sheets).len();
                assert!(bytes < MOST_WRITTEN, "{bytes} bytes of HTML");
            }
            #[cfg(not(feature = "sheet"))]
            _ => {}
        }
        let given = ranking.approaches.last().unwrap_or(approach);
        let question = Question { melody: &imported.melody, key: key.key, weights: &weights, blues: false };
        let choice = choice::compare(question, given.clone(), approach.clone());
        let checked =
            pages::choice::comparison(&tune, &request, &choice, Style::Plain, Notation::default()).page();
        assert!(!text::render(&checked, look).is_empty());
    }
    for text in [json::suggest(&tune, "improver", &request, &ranking, 3, Style::Plain), json::notes(&tune)] {
        assert!(serde_json::from_str::<serde_json::Value>(&text).is_ok());
    }
}

#[test]
fn no_file_makes_it_panic_hang_or_grow() {
    let kinds = kinds();
    assert!(kinds.iter().all(|kind| !kind.is_empty()));
    let harps: Vec<Harp> = Tuning::built_in()
        .iter()
        .map(|tuning| Harp::new(PitchClass::new(2), Register::Standard, tuning.clone()))
        .collect();
    let run = |number: usize| {
        // Unoptimised code may take longer.
        let limit = if cfg!(debug_assertions) { 10 * LONGEST } else { LONGEST };
        let timed = || {
            let start = Instant::now();
            let outcome = catch_unwind(AssertUnwindSafe(|| case(number, &kinds, &harps)));
            (outcome, start.elapsed())
        };
        let (outcome, mut took) = timed();
        // Other processes may occupy the core, so a slow case is measured four times and the best run counts.
        for _ in 0..3 {
            if took >= limit && outcome.is_ok() {
                took = took.min(timed().1);
            }
        }
        if outcome.is_err() {
            eprintln!("that was MUTATION={number}");
        }
        let in_time = took < limit;
        if !in_time {
            eprintln!("MUTATION={number} took {took:?}");
        }
        Sums {
            failed: usize::from(outcome.is_err() || !in_time),
            melodies: usize::from(outcome.is_ok_and(|melody| melody)),
            slowest: (took, number),
        }
    };
    if let Some(number) = env::var("MUTATION").ok().and_then(|number| number.parse().ok()) {
        assert_eq!(run(number).failed, 0);
        return;
    }
    let cases = env::var("MUTATIONS").ok().and_then(|cases| cases.parse().ok()).unwrap_or(CASES);
    let workers = thread::available_parallelism().map_or(2, usize::from);
    let sums = thread::scope(|scope| {
        let work = |worker: usize| {
            let run = &run;
            scope.spawn(move || (worker..cases).step_by(workers).map(run).fold(Sums::default(), Sums::and))
        };
        let workers: Vec<_> = (0..workers).map(work).collect();
        workers.into_iter().map(|worker| worker.join().unwrap()).fold(Sums::default(), Sums::and)
    });
    let memory = peak_memory();
    eprintln!("{cases} files with {} melodies; slowest {:?}; {memory:?} KiB", sums.melodies, sums.slowest);
    assert_eq!(sums.failed, 0, "of {cases} cases");
    // Files damaged beyond reading test only the first stage, so at least half of the files must still have a melody.
    assert!(sums.melodies * 2 > cases, "{} of {cases}", sums.melodies);
    assert!(memory.is_none_or(|memory| memory < MOST_MEMORY), "{memory:?} KiB");
}

/// The results of some cases taken together.
#[derive(Default)]
struct Sums {
    failed: usize,
    melodies: usize,
    slowest: (Duration, usize),
}

impl Sums {
    fn and(self, other: Sums) -> Sums {
        Sums {
            failed: self.failed + other.failed,
            melodies: self.melodies + other.melodies,
            slowest: self.slowest.max(other.slowest),
        }
    }
}

/// Returns the peak memory of this process in KiB, if the system reports it.
fn peak_memory() -> Option<usize> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?.split_whitespace().next()?.parse().ok()
}
