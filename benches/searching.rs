//! Measures the search and the whole job, for the checks in `tests/outside/` that compare them with other libraries: it
//! starts no process and uses only the library, and petgraph for comparison.
//!
//! ```text
//! cargo bench --bench searching -- times FILE...   nanoseconds by file: the job, the search, petgraph on the winner's graph
//! cargo bench --bench searching -- graph FILE      the edges of the winner's graph: from, to, price
//! cargo bench --bench searching -- long NOTES...   a run of NOTES eighths: milliseconds of all cores, KiB of memory, effort of the lungs
//! cargo bench --bench searching -- breathless NOTES...   the same for lungs so small that the air always matters
//! ```
//!
//! The search uses twelve Richter harps and the default player; the whole job goes from the bytes to the best row and
//! its tab. All commands answer with one JSON object on stdout.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a benchmark panics at its first failure")]

#[path = "../tests/graph/mod.rs"]
mod graph;
mod timing;

use std::{
    env, fs,
    hint::black_box,
    time::{Duration, Instant},
};

use breathline::{
    harp::{Harp, Technique, Tuning},
    import::{self, ImportOptions},
    melody::{
        Bar, Melody, Note,
        key::{self, Key, Mode},
    },
    pitch::{Pitch, PitchClass},
    search::{
        Ranking, Request, Term, Wanted, Weights,
        path::{self, Reach, Timeline},
        search_for,
    },
    tab::Notation,
    time::{Beats, Meter},
};
use petgraph::graph::NodeIndex;
use serde_json::{Map, Value, json};
use timing::best_time;

fn main() {
    // Cargo adds the argument `--bench`.
    let arguments: Vec<String> = env::args().skip(1).filter(|argument| argument != "--bench").collect();
    let Some((what, rest)) = arguments.split_first() else { return };
    let answer = |argument: &String| match what.as_str() {
        "times" => times(&fs::read(argument).unwrap()),
        "graph" => json!(Player::new().graph(&melody(&fs::read(argument).unwrap())).edges),
        "breathless" => long(argument.parse().unwrap(), 700),
        _ => long(argument.parse().unwrap(), Weights::default().lungs.capacity_ml),
    };
    let answers = rest.iter().map(|argument| (argument.clone(), answer(argument)));
    println!("{}", Value::Object(answers.collect::<Map<String, Value>>()));
}

fn melody(bytes: &[u8]) -> Melody {
    import::import(bytes, &ImportOptions::default()).unwrap().melody
}

/// A player with the default weights, and the twelve standard harps.
struct Player {
    harps: Vec<Harp>,
    weights: Weights,
}

impl Player {
    fn new() -> Player {
        Player { harps: Harp::standard_set(&Tuning::richter()), weights: Weights::default() }
    }

    fn request<'a>(&'a self, melody: &'a Melody, key: Key) -> Request<'a> {
        let technique = Technique::All;
        Request {
            melody,
            key,
            harps: &self.harps,
            technique,
            weights: &self.weights,
            any_key: false,
            pins: &[],
        }
    }

    /// Returns the graph of the best row.
    fn graph(&self, melody: &Melody) -> graph::Graph {
        let request = self.request(melody, key::find(melody).key);
        let ranking = search_for(&request, &Wanted::first(1));
        let best = ranking.best().unwrap();
        let steps = graph::steps(melody, best.harp, best.technique, &self.weights, best.shift());
        graph::Graph::new(&self.weights, &steps)
    }
}

fn job(bytes: &[u8], player: &Player) -> String {
    let melody = melody(bytes);
    let request = player.request(&melody, key::find(&melody).key);
    let ranking = search_for(&request, &Wanted::first(1));
    tab(&ranking)
}

fn tab(ranking: &Ranking) -> String {
    let notation = Notation::default();
    let mut tab = String::new();
    for played in &ranking.best().unwrap().playing.notes {
        tab += &played.action.map_or_else(String::new, |action| notation.write(action));
        tab.push(' ');
    }
    tab
}

fn times(bytes: &[u8]) -> Value {
    let player = Player::new();
    let melody = melody(bytes);
    let request = player.request(&melody, key::find(&melody).key);
    let first = |top| best_time(|| search_for(black_box(&request), &Wanted::first(top)));
    let ranking = search_for(&request, &Wanted::ALL);
    let best = ranking.best().unwrap();
    let graph = player.graph(&melody);
    let (edges, end) = (graph.petgraph(), NodeIndex::from(graph.end()));
    let (line, reach) = (Timeline::new(&melody), Reach::new(best.harp, best.technique));
    let dijkstra =
        || petgraph::algo::dijkstra(&edges, NodeIndex::from(0), Some(end), |edge| *edge.weight())[&end];
    // The price of the position is the same on every path.
    assert_eq!(dijkstra() + graph.missing + best.playing.effort[Term::Position], best.playing.effort.total());
    json!({
        "notes": melody.notes.len(),
        "approaches": ranking.tried,
        "full": ranking.approaches.iter().filter(|row| row.counts.is_full()).count(),
        "lungs": ranking.approaches.iter().filter(|row| row.playing.effort[Term::Lungs] > 0).count(),
        "relaxed": relaxed(&request, &ranking),
        "job": best_time(|| job(black_box(bytes), &player)),
        "search first": first(1),
        "search five": first(5),
        "search all": first(usize::MAX),
        "line": best_time(|| Timeline::new(black_box(&melody))),
        "edges": edges.edge_count(),
        "petgraph": best_time(dijkstra),
        "best": best_time(|| path::best(&line, &reach, &player.weights, black_box(best.shift()))),
    })
}

/// Returns the number of edges from note to note over all approaches, without the lungs.
fn relaxed(request: &Request, ranking: &Ranking) -> usize {
    let edges = ranking.approaches.iter().map(|row| {
        let steps = graph::steps(request.melody, row.harp, row.technique, request.weights, row.shift());
        let ways: Vec<usize> = steps.iter().map(|step| step.ways.len()).filter(|&ways| ways > 0).collect();
        ways.windows(2).map(|pair| pair[0] * pair[1]).sum::<usize>()
    });
    edges.sum()
}

/// Searches a run of eighths up and down the scale of D major, with leaps and without a rest, for lungs of the given
/// capacity. The run is the same on every machine.
fn long(notes: usize, capacity_ml: u32) -> Value {
    let scale = [0, 2, 4, 5, 7, 9, 11];
    let (mut degree, mut state) = (4_i32, 1_u32);
    let bar_length = 8;
    let mut run = Melody::default();
    for index in 0..notes {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let step = [-2, -1, -1, 1, 1, 2, 3, -3][(state >> 29) as usize];
        degree = if (0..=12).contains(&(degree + step)) { degree + step } else { degree - step };
        let pitch = Pitch::new(62 + 12 * (degree / 7) as u8 + scale[degree as usize % 7]).unwrap();
        let eighth = Beats::new(1, 2);
        run.notes.push(Note::new(eighth.times(index as i64, 1), eighth, pitch, index / bar_length));
    }
    let bar = |bar: usize| Bar::full(bar as u32 + 1, Meter::COMMON.bar().times(bar as i64, 1), Meter::COMMON);
    run.bars = (0..=notes / bar_length).map(bar).collect();
    let mut player = Player::new();
    player.weights.lungs.capacity_ml = capacity_ml;
    let request = player.request(&run, Key { tonic: PitchClass::new(2), mode: Mode::Major });
    let before = memory();
    let ranking = search_for(&request, &Wanted::first(5));
    let after = memory();
    json!({
        "milliseconds": mean_milliseconds(|| search_for(&request, &Wanted::first(5))),
        "kibibytes": after.zip(before).map(|(after, before)| after - before),
        "lungs": ranking.approaches.iter().map(|row| row.playing.effort[Term::Lungs]).collect::<Vec<u64>>(),
    })
}

/// Returns the processor time of one run, whatever else the machine does; the elapsed time if the system does not
/// report processor time. The system counts in hundredths of a second, so runs are repeated for at least a second, and
/// the mean is returned.
fn mean_milliseconds<T>(mut run: impl FnMut() -> T) -> f64 {
    let (start, ticks_before) = (Instant::now(), ticks());
    let mut runs = 0;
    while runs == 0 || start.elapsed() < Duration::from_secs(1) {
        black_box(run());
        runs += 1;
    }
    let elapsed = start.elapsed().as_secs_f64() * 1000.0;
    ticks().zip(ticks_before).map_or(elapsed, |(after, before)| 10.0 * (after - before) as f64)
        / f64::from(runs)
}

/// Returns the processor time of all threads of this process so far, in hundredths of a second, if the system reports
/// it (Linux).
fn ticks() -> Option<u64> {
    let stat = fs::read_to_string("/proc/self/stat").ok()?;
    let fields = stat.rsplit(')').next()?.split_whitespace();
    fields.skip(11).take(2).map(|ticks| ticks.parse::<u64>().ok()).sum()
}

/// Returns the peak memory of this process so far in kibibytes, if the system reports it (Linux).
fn memory() -> Option<u64> {
    let status = fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}
