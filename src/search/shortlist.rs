//! The rows that are wanted, without pricing all the others to the end.
//!
//! What can be played in full comes first, then what costs least. So once as many rows are found as are wanted, the last of
//! them is a bound, and an approach is given up as soon as it is certain to stand behind it:
//!
//! 1. by the notes it lacks: if enough approaches lack none, the others are not looked at;
//! 2. by the sounding of its notes alone, each in its easiest way: bends and the ends of the harp; and by its position;
//! 3. in the pass without the lungs, which goes backwards: what is to come never costs less than so far;
//! 4. in the pass with the lungs, whose states are dropped above the bound.
//!
//! All four are less than or equal to the effort, and what is equal to the bound is priced to the end, for the ties. So the
//! rows are those that stand first when nothing is given up. The approaches that promise most by 2 are tried first.
//!
//! Where there is enough to do it is done on all cores. They share the bound, so they may give up different approaches from run to
//! run, but never one that is wanted.

use std::{
    num::NonZeroUsize,
    sync::{
        Mutex, PoisonError,
        atomic::{AtomicUsize, Ordering},
    },
    thread,
};

use super::{
    Approach, Counts, Ranking, Region, Request, Rival, octaves,
    path::{self, Line, Playing, Reach},
    rank, transpositions,
};
use crate::{
    harp::{Harp, Position, Technique},
    melody::key::Key,
    pitch::{Interval, Pitch},
};

/// So many notes, over all approaches that are tried, are worth a thread for each core: to start and end one takes as long as
/// trying a few thousand.
const WORTH_THREADS: usize = 1 << 15;

/// So many notes are worked on at the same time, each thread counting all of the tune. A note takes 0.1 kB for each thread
/// beside 0.4 kB for the tune and the rows that are kept, and a tune of 100,000 notes is to stay well below 64 MiB: it takes
/// 51 MiB with one thread and would take 61 MiB with two (peak memory of `suggest`, measured).
const NOTES_AT_ONCE: usize = 190_000;

/// Which rows of the ranking are wanted.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Wanted {
    /// How many, from the first on.
    pub top: usize,
    /// Only in this position.
    pub position: Option<Position>,
    /// Only moved by so many octaves.
    pub octave: Option<i8>,
    /// Only where most of the notes lie in this part of the harp.
    pub region: Option<Region>,
}

impl Wanted {
    /// Every row.
    pub const ALL: Wanted = Wanted::first(usize::MAX);

    /// The first rows.
    pub const fn first(top: usize) -> Wanted {
        Wanted { top, position: None, octave: None, region: None }
    }
}

/// Tries every approach and gives the rows that are wanted, the same as [`super::search`] has; the others are only priced as
/// far as it takes to know that they come later.
pub fn search_for<'a>(request: &Request<'a>, wanted: &Wanted) -> Ranking<'a> {
    let line = Line::new(request.melody);
    let harps = named_once(request.harps);
    let reaches: Vec<Reach> = harps.iter().map(|harp| Reach::new(harp, request.technique)).collect();
    let mut tries = tries(request, wanted, &harps, &reaches);
    let tried = tries.len();
    // How many lie in a part of the harp is only known when all are played.
    let top = if wanted.region.is_some() { usize::MAX } else { wanted.top };
    if tries.iter().filter(|attempt| attempt.is_full).count() >= top {
        tries.retain(|attempt| attempt.is_full);
    }
    if top < tries.len() {
        let kinds = line.kinds();
        for attempt in &mut tries {
            attempt.floor = attempt.floor(&kinds, request);
        }
        tries.sort_by_key(|attempt| (!attempt.is_full, attempt.floor));
    }
    let search = Search {
        request,
        wanted,
        line: &line,
        top,
        tries,
        next: AtomicUsize::new(0),
        rows: Mutex::default(),
    };
    search.on_all_cores();
    let Search { tries, rows, .. } = search;
    let mut rows = rows.into_inner().unwrap_or_else(PoisonError::into_inner);
    let tried = if wanted.region.is_some() { rows.len() } else { tried };
    rows.truncate(wanted.top);
    let approaches = rows.into_iter().map(|row| {
        let attempt = &tries[row.attempt];
        let ways = line.chosen(attempt.reach, attempt.shift(), &row.choices);
        let in_position = request.weights.in_position(row.approach.position);
        Approach { playing: line.price(ways, request.weights).each_note(in_position), ..row.approach }
    });
    Ranking { approaches: approaches.collect(), tried, adapted: None, rival: None, unbent: None }
}

impl<'a> Ranking<'a> {
    /// Adds the rows that are wanted if the tune is in another key: on another tonic each harp is another position.
    pub fn rank_rival(&mut self, request: &Request<'a>, wanted: &Wanted, key: Key) {
        let approaches = search_for(&Request { key, ..request.clone() }, wanted).approaches;
        self.rival = Some(Rival { key, approaches });
    }

    /// Adds the best of what is wanted without bends, where the winner bends or lacks notes and that is another playing of
    /// which at most every fourth note, grace notes apart, is lacking: with more it is no tune (a judgement, no source).
    /// Beside a winner that does not bend itself, it is only worth a word if it lacks fewer.
    pub fn rank_unbent(&mut self, request: &Request<'a>, wanted: &Wanted) {
        let Some(best) = self.best().filter(|best| best.counts.bends() > 0 || !best.counts.is_full()) else {
            return;
        };
        let natural = Request { technique: Technique::None, ..request.clone() };
        let unbent = search_for(&natural, &Wanted { top: 1, ..*wanted }).approaches.into_iter().next();
        self.unbent = unbent.filter(|unbent| {
            let is_worth_it = best.counts.bends() > 0 || unbent.counts.missing < best.counts.missing;
            let graces = request.melody.notes.iter().filter(|note| note.grace).count() as u32;
            is_worth_it && unbent.counts.missing <= (unbent.counts.notes - graces) / 4
        });
    }
}

/// The harps, each of them once.
fn named_once(harps: &[Harp]) -> Vec<&Harp> {
    let mut once: Vec<&Harp> = Vec::with_capacity(harps.len());
    for harp in harps {
        if !once.contains(&harp) {
            once.push(harp);
        }
    }
    once
}

/// An approach that sounds at least one note.
struct Try<'s, 'a> {
    harp: &'a Harp,
    reach: &'s Reach,
    octave: i8,
    transposed: Interval,
    /// Whether it lacks grace notes at most.
    is_full: bool,
    /// What is certain from the pitches alone: the notes that it lacks, and its position.
    certain: u64,
    /// Its effort is no less than this.
    floor: u64,
}

/// The approaches that fit what is wanted.
fn tries<'s, 'a>(
    request: &Request<'a>,
    wanted: &Wanted,
    harps: &[&'a Harp],
    reaches: &'s [Reach],
) -> Vec<Try<'s, 'a>> {
    let pitches = pitches(request);
    let mut tries = Vec::new();
    for (&harp, reach) in harps.iter().zip(reaches) {
        for transposed in transpositions(request) {
            if wanted.position.is_some_and(|wanted| wanted != position(request, harp, transposed)) {
                continue;
            }
            for octave in octaves(request.melody, harp, transposed) {
                if wanted.octave.is_none_or(|wanted| wanted == octave) {
                    tries.extend(Try::new(request, (harp, reach), (octave, transposed), &pitches));
                }
            }
        }
    }
    tries
}

/// The pitches of the tune, with the number of main notes and of grace notes of each.
fn pitches(request: &Request) -> Vec<(Pitch, [u64; 2])> {
    let mut counts = [[0; 2]; 128];
    for note in &request.melody.notes {
        counts[usize::from(note.pitch.midi())][usize::from(note.grace)] += 1;
    }
    let sounding = (0..).zip(counts).filter(|&(_, counts)| counts != [0; 2]);
    sounding.filter_map(|(midi, counts)| Some((Pitch::new(midi)?, counts))).collect()
}

fn position(request: &Request, harp: &Harp, transposed: Interval) -> Position {
    Position::of(harp.first_position_key(), request.key.tonic.transposed(transposed))
}

impl<'s, 'a> Try<'s, 'a> {
    fn new(
        request: &Request<'a>,
        (harp, reach): (&'a Harp, &'s Reach),
        (octave, transposed): (i8, Interval),
        pitches: &[(Pitch, [u64; 2])],
    ) -> Option<Try<'s, 'a>> {
        let mut attempt = Try { harp, reach, octave, transposed, is_full: true, certain: 0, floor: 0 };
        let shift = attempt.shift();
        let in_position = request.weights.in_position(position(request, harp, transposed)).total();
        let mut sounds = false;
        for &(pitch, [main, graces]) in pitches {
            attempt.certain += (main + graces) * in_position;
            if reach.ways(pitch, shift).is_empty() {
                let price = |grace| request.weights.missing(grace).total();
                attempt.is_full &= main == 0;
                attempt.certain += main * price(false) + graces * price(true);
            } else {
                // Grace notes alone are no tune.
                sounds |= main > 0;
            }
        }
        sounds.then_some(attempt)
    }

    fn shift(&self) -> Interval {
        Interval(Interval::octaves(self.octave).0 + self.transposed.0)
    }

    /// What the notes cost at least, without what lies between them.
    fn floor(&self, kinds: &[((Pitch, u32, bool), u32)], request: &Request) -> u64 {
        let least = kinds.iter().map(|&((pitch, sounding_ms, _), count)| {
            let ways = self.reach.ways(pitch, self.shift()).iter();
            let hold = ways.map(|way| request.weights.hold(way, sounding_ms).total()).min().unwrap_or(0);
            hold.saturating_mul(count.into())
        });
        least.fold(self.certain, u64::saturating_add)
    }
}

/// A row as long as the search lasts: without its notes, which are many.
struct Row<'a> {
    approach: Approach<'a>,
    /// What makes its notes.
    choices: Vec<u8>,
    /// Its index in the tries.
    attempt: usize,
}

struct Search<'s, 'a> {
    request: &'s Request<'a>,
    wanted: &'s Wanted,
    line: &'s Line,
    /// How many rows are kept.
    top: usize,
    tries: Vec<Try<'s, 'a>>,
    /// The next of the tries.
    next: AtomicUsize,
    /// The rows that were found, in order.
    rows: Mutex<Vec<Row<'a>>>,
}

impl<'a> Search<'_, 'a> {
    fn on_all_cores(&self) {
        let notes = self.request.melody.notes.len();
        let cores = if notes.saturating_mul(self.tries.len()) < WORTH_THREADS {
            1
        } else {
            let most = (NOTES_AT_ONCE / notes.max(1)).max(1);
            thread::available_parallelism().map_or(1, NonZeroUsize::get).min(most)
        };
        thread::scope(|scope| {
            for _ in 1..cores.min(self.tries.len()) {
                scope.spawn(|| self.work());
            }
            self.work();
        });
    }

    /// Takes one try after the other until none is left.
    fn work(&self) {
        loop {
            let index = self.next.fetch_add(1, Ordering::Relaxed);
            let Some(attempt) = self.tries.get(index) else { return };
            let row = self.row(index, attempt);
            if let Some(row) = row
                .filter(|row| self.wanted.region.is_none_or(|region| row.approach.counts.region() == region))
            {
                let mut rows = self.rows.lock().unwrap_or_else(PoisonError::into_inner);
                let at = rows.partition_point(|other| rank::key(&other.approach) < rank::key(&row.approach));
                if at < self.top {
                    rows.insert(at, row);
                    rows.truncate(self.top);
                }
            }
        }
    }

    /// The highest effort with which a try can still be among the rows that are wanted; `None` if it cannot.
    fn limit(&self, attempt: &Try) -> Option<u64> {
        let rows = self.rows.lock().unwrap_or_else(PoisonError::into_inner);
        let last = self.top.checked_sub(1).map(|last| rows.get(last))?;
        match last.map(|row| (row.approach.counts.is_full(), row.approach.playing.effort.total())) {
            Some((is_full, effort)) if is_full == attempt.is_full => Some(effort),
            Some((true, _)) => None,
            Some((false, _)) | None => Some(u64::MAX),
        }
    }

    /// The try, priced to the end, unless it is certain to come after the rows that are wanted.
    fn row(&self, index: usize, attempt: &Try<'_, 'a>) -> Option<Row<'a>> {
        let limit = self.limit(attempt)?;
        if attempt.floor > limit {
            return None;
        }
        let Request { melody, weights, key, .. } = self.request;
        let left = limit.checked_sub(attempt.certain)?;
        let choices = path::cheapest_within(self.line, attempt.reach, weights, attempt.shift(), left)?;
        let mut counts = Counts { notes: melody.notes.len() as u32, ..Counts::default() };
        let mut playing = Playing::default();
        let &Try { harp, octave, transposed, .. } = attempt;
        let position = position(self.request, harp, transposed);
        let in_position = weights.in_position(position);
        let mut notes = melody.notes.iter();
        let ways = self.line.chosen(attempt.reach, attempt.shift(), &choices);
        self.line.price_each(ways, weights, |played, _| {
            playing.effort += played.effort + in_position;
            counts.add(notes.next().is_some_and(|note| note.grace), &played);
        });
        let approach = Approach {
            harp,
            position,
            octave,
            transposed,
            tonic: key.tonic.transposed(transposed),
            playing,
            counts,
            changes: Vec::new(),
        };
        Some(Row { approach, choices, attempt: index })
    }
}
