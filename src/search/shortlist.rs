//! The rows that are wanted, without pricing all the others to the end.
//!
//! An approach is solved with all that the player can do, and where a bend is dear also with less: a row may leave out what
//! takes the harder techniques, at the price of the missing notes, and stands in the ranking with the cheapest of these
//! playings. So a technique more never makes a row dearer, and one hard note costs a tune no more than it is heard.
//!
//! What costs least comes first. So once as many rows are found as are wanted, the last of them is a bound, and a playing is
//! given up as soon as it is certain to stand behind it:
//!
//! 1. by the notes that it lacks, and by its position;
//! 2. by the sounding of its notes alone, each in its easiest way: bends and the ends of the harp;
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
        Mutex, OnceLock, PoisonError,
        atomic::{AtomicUsize, Ordering},
    },
    thread,
};

use super::{
    Approach, Counts, Ranking, Region, Request, Rival,
    effort::Held,
    octaves,
    path::{self, Playing, Reach, Timeline},
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
#[derive(Clone, Copy, Debug)]
pub struct Wanted {
    /// How many, from the first on.
    pub top: usize,
    /// Only in this position.
    pub position: Option<Position>,
    /// Only moved by so many octaves.
    pub octave: Option<i8>,
    /// Only where most of the notes lie in this part of the harp.
    pub region: Option<Region>,
    /// Only rows like this. What the notes of a playing say is not known yet when it is asked, its counts and effort are.
    pub like: Option<fn(&Approach) -> bool>,
    /// No note is left out that the player can sound, and rows that lack none (grace notes apart) come first.
    pub every_note: bool,
}

impl Wanted {
    /// Every row.
    pub const ALL: Wanted = Wanted::first(usize::MAX);

    /// The first rows.
    pub const fn first(top: usize) -> Wanted {
        Wanted { top, position: None, octave: None, region: None, like: None, every_note: false }
    }
}

/// Tries every approach and gives the rows that are wanted, the same as [`super::search`] has; the others are only priced as
/// far as it takes to know that they come later.
pub fn search_for<'a>(request: &Request<'a>, wanted: &Wanted) -> Ranking<'a> {
    let line = Timeline::new(request.melody);
    let harps = named_once(request.harps);
    let reaches: Vec<Reaches> = harps.iter().map(|harp| Reaches::of(harp)).collect();
    let mut tries = tries(request, wanted, &line, &reaches);
    let tried = tries.len();
    // How many lie in a part of the harp is only known when all are played.
    let top = if wanted.region.is_some() { usize::MAX } else { wanted.top };
    if top < tries.len() {
        promise(&mut tries, &line, request, wanted);
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
    let Search { rows, .. } = search;
    let mut rows = rows.into_inner().unwrap_or_else(PoisonError::into_inner);
    let tried = if wanted.region.is_some() { rows.len() } else { tried };
    rows.truncate(wanted.top);
    let approaches = rows.into_iter().map(|row| {
        let shift = row.approach.shift();
        let aims = line.aims(row.reach, shift, request.weights);
        let ways = line.chosen(row.reach, shift, &row.choices);
        let in_position = request.weights.in_position(row.approach.position);
        Approach { playing: line.price(ways, &aims, request.weights).each_note(in_position), ..row.approach }
    });
    Ranking { approaches: approaches.collect(), tried, ..Ranking::default() }
}

/// Puts those first that promise most.
fn promise(tries: &mut [Try], line: &Timeline, request: &Request, wanted: &Wanted) {
    // Only those that lack little are looked at more closely; what lacks a few notes more is hardly ever wanted.
    let near = tries.iter().map(|attempt| attempt.floor()).min().unwrap_or(0);
    let near = near.saturating_add(2 * u64::from(request.weights.missing.note));
    let kinds = line.kinds();
    for attempt in tries.iter_mut() {
        let shift = attempt.shift();
        for playing in &mut attempt.playings {
            if playing.floor <= near {
                let reach = attempt.reaches.with(playing.technique);
                playing.floor = playing.floor_of(&kinds, reach, shift, request);
            }
        }
        attempt.playings.sort_by_key(|playing| playing.floor);
    }
    tries.sort_by_key(|attempt| (wanted.every_note && !attempt.is_full(), attempt.floor()));
}

impl<'a> Ranking<'a> {
    /// Adds the rows that are wanted if the tune is in another key: on another tonic each harp is another position.
    pub fn rank_rival(&mut self, request: &Request<'a>, wanted: &Wanted, key: Key) {
        let approaches = search_for(&Request { key, ..request.clone() }, wanted).approaches;
        self.rival = Some(Rival { key, approaches });
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

/// What a player can sound on a harp with each technique, found out when it is asked.
struct Reaches<'a> {
    harp: &'a Harp,
    by_technique: [OnceLock<Reach>; Technique::ALL.len()],
}

impl<'a> Reaches<'a> {
    fn of(harp: &'a Harp) -> Reaches<'a> {
        Reaches { harp, by_technique: [const { OnceLock::new() }; Technique::ALL.len()] }
    }

    fn with(&self, technique: Technique) -> &Reach {
        self.by_technique[technique as usize].get_or_init(|| Reach::new(self.harp, technique))
    }
}

/// An approach that sounds at least one note.
struct Try<'s, 'a> {
    harp: &'a Harp,
    reaches: &'s Reaches<'a>,
    octave: i8,
    transposed: Interval,
    position: Position,
    /// With all that the player can do, and with less where that sounds fewer notes; at least one.
    playings: Vec<Attempt>,
}

/// An approach with one technique.
struct Attempt {
    technique: Technique,
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
    line: &Timeline,
    harps: &'s [Reaches<'a>],
) -> Vec<Try<'s, 'a>> {
    let pitches = pitches(request, line);
    let mut tries = Vec::new();
    for reaches in harps {
        let harp = reaches.harp;
        for transposed in transpositions(request) {
            let position = position(request, harp, transposed);
            if wanted.position.is_some_and(|wanted| wanted != position) {
                continue;
            }
            for octave in octaves(request.melody, harp, transposed) {
                if wanted.octave.is_none_or(|wanted| wanted == octave) {
                    let playings = Vec::new();
                    let mut attempt = Try { harp, reaches, octave, transposed, position, playings };
                    attempt.add_playings(request, wanted, &pitches);
                    tries.extend((!attempt.playings.is_empty()).then_some(attempt));
                }
            }
        }
    }
    tries
}

/// A pitch of the tune.
struct Sought {
    pitch: Pitch,
    /// How many notes have it, and how many of these are no grace notes.
    notes: u64,
    main: u64,
    /// What leaving all of them out costs.
    missing: u64,
}

/// What a technique sounds that a lesser one does not.
#[derive(Clone, Copy, Default)]
struct Added {
    pitches: u64,
    /// Notes that are no grace notes.
    main: u64,
    /// What leaving its notes out costs.
    missing: u64,
}

/// The pitches of the tune.
fn pitches(request: &Request, line: &Timeline) -> Vec<Sought> {
    let mut all: Vec<Option<Sought>> = (0..128).map(|_| None).collect();
    for (note, (pitch, missing)) in request.melody.notes.iter().zip(line.missing(request.weights)) {
        let sought =
            all[usize::from(pitch.midi())].get_or_insert(Sought { pitch, notes: 0, main: 0, missing: 0 });
        sought.notes += 1;
        sought.main += u64::from(!note.grace);
        sought.missing = sought.missing.saturating_add(missing);
    }
    all.into_iter().flatten().collect()
}

fn position(request: &Request, harp: &Harp, transposed: Interval) -> Position {
    Position::of(harp.first_position_key(), request.key.tonic.transposed(transposed))
}

impl Try<'_, '_> {
    fn add_playings(&mut self, request: &Request, wanted: &Wanted, pitches: &[Sought]) {
        // What each technique adds to the one before it, and last what none sounds.
        let mut added = [Added::default(); Technique::ALL.len() + 1];
        let (mut notes, shift) = (0u64, self.shift());
        for sought in pitches {
            let needed = sought.pitch.transposed(shift).and_then(|pitch| self.harp.technique_for(pitch));
            let added = &mut added[needed.map_or(Technique::ALL.len(), |needed| needed as usize)];
            added.pitches += 1;
            added.main += sought.main;
            added.missing = added.missing.saturating_add(sought.missing);
            notes += sought.notes;
        }
        let in_position = request.weights.in_position(self.position).total().saturating_mul(notes);
        let most = if wanted.every_note { 1 } else { Technique::ALL.len() };
        let techniques = Technique::ALL.into_iter().rev().filter(|&technique| technique <= request.technique);
        let mut before = None;
        for technique in techniques.take(most) {
            let (sounded, lacking) = added.split_at(technique as usize + 1);
            let pitches: u64 = sounded.iter().map(|added| added.pitches).sum();
            // Grace notes alone are no tune. A lesser technique that sounds the same notes has no way to play them that the
            // one before lacks.
            if sounded.iter().all(|added| added.main == 0) || before == Some(pitches) {
                continue;
            }
            before = Some(pitches);
            let certain = lacking.iter().map(|added| added.missing).fold(in_position, u64::saturating_add);
            let is_full = lacking.iter().all(|added| added.main == 0);
            self.playings.push(Attempt { technique, is_full, certain, floor: certain });
        }
    }

    fn shift(&self) -> Interval {
        Interval(Interval::octaves(self.octave).0 + self.transposed.0)
    }

    /// The effort of its cheapest playing is no less than this.
    fn floor(&self) -> u64 {
        self.playings.iter().map(|playing| playing.floor).min().unwrap_or(0)
    }

    fn is_full(&self) -> bool {
        self.playings.iter().any(|playing| playing.is_full)
    }
}

impl Attempt {
    /// What the notes cost at least, without what lies between them.
    fn floor_of(
        &self,
        kinds: &[((Pitch, Held), u32)],
        reach: &Reach,
        shift: Interval,
        request: &Request,
    ) -> u64 {
        let least = kinds.iter().map(|&((pitch, held), count)| {
            let ways = reach.ways(pitch, shift).iter();
            let hold = ways.map(|way| request.weights.hold(way, held).total()).min().unwrap_or(0);
            hold.saturating_mul(count.into())
        });
        least.fold(self.certain, u64::saturating_add)
    }
}

/// A row as long as the search lasts: without its notes, which are many.
struct Solved<'s, 'a> {
    approach: Approach<'a>,
    /// What makes its notes, and what they are chosen from.
    choices: Vec<u8>,
    reach: &'s Reach,
}

struct Search<'s, 'a> {
    request: &'s Request<'a>,
    wanted: &'s Wanted,
    line: &'s Timeline,
    /// How many rows are kept.
    top: usize,
    tries: Vec<Try<'s, 'a>>,
    /// The next of the tries.
    next: AtomicUsize,
    /// The rows that were found, in order.
    rows: Mutex<Vec<Solved<'s, 'a>>>,
}

impl<'s, 'a> Search<'s, 'a> {
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
            let Some(attempt) = self.tries.get(self.next.fetch_add(1, Ordering::Relaxed)) else { return };
            let Some(row) = self.row(attempt).filter(|row| self.fits(row)) else { continue };
            let mut rows = self.rows.lock().unwrap_or_else(PoisonError::into_inner);
            let at = rows.partition_point(|other| self.stands_before(other, &row));
            if at < self.top {
                rows.insert(at, row);
                rows.truncate(self.top);
            }
        }
    }

    fn stands_before(&self, row: &Solved, other: &Solved) -> bool {
        let every_note = self.wanted.every_note;
        rank::key(&row.approach, every_note) < rank::key(&other.approach, every_note)
    }

    /// Whether a row is one that is looked for.
    fn fits(&self, row: &Solved) -> bool {
        let counts = &row.approach.counts;
        self.wanted.region.is_none_or(|region| counts.region() == region)
            && self.wanted.like.is_none_or(|like| like(&row.approach))
    }

    /// The highest effort with which a playing can still be among the rows that are wanted; `None` if it cannot.
    fn limit(&self, is_full: bool) -> Option<u64> {
        let rows = self.rows.lock().unwrap_or_else(PoisonError::into_inner);
        let last = self.top.checked_sub(1).map(|last| rows.get(last))?;
        let Some(last) = last else { return Some(u64::MAX) };
        let effort = last.approach.playing.effort.total();
        match (self.wanted.every_note, last.approach.counts.is_full(), is_full) {
            (false, ..) | (_, true, true) | (_, false, false) => Some(effort),
            (_, true, false) => None,
            (_, false, true) => Some(u64::MAX),
        }
    }

    /// The cheapest of a try's playings, priced to the end, unless it is certain to come after the rows that are wanted.
    fn row(&self, attempt: &Try<'s, 'a>) -> Option<Solved<'s, 'a>> {
        let mut best: Option<Solved> = None;
        for playing in &attempt.playings {
            let Some(limit) = self.limit(playing.is_full) else { continue };
            let known = best.as_ref().map_or(u64::MAX, |best| best.approach.playing.effort.total());
            if let Some(row) = self.priced(attempt, playing, limit.min(known))
                && best.as_ref().is_none_or(|best| self.stands_before(&row, best))
            {
                best = Some(row);
            }
        }
        best
    }

    fn priced(&self, attempt: &Try<'s, 'a>, playing: &Attempt, limit: u64) -> Option<Solved<'s, 'a>> {
        if playing.floor > limit {
            return None;
        }
        let Request { melody, weights, key, .. } = self.request;
        let left = limit.checked_sub(playing.certain)?;
        let (reach, shift) = (attempt.reaches.with(playing.technique), attempt.shift());
        let aims = self.line.aims(reach, shift, weights);
        let choices = path::cheapest_within(self.line, &aims, reach, weights, shift, left)?;
        let mut counts = Counts { notes: melody.notes.len() as u32, ..Counts::default() };
        let mut effort = Playing::default();
        let &Try { harp, octave, transposed, position, .. } = attempt;
        let in_position = weights.in_position(position);
        let mut notes = melody.notes.iter();
        let ways = self.line.chosen(reach, shift, &choices);
        self.line.price_each(ways, &aims, weights, |played, _| {
            effort.effort += played.effort + in_position;
            counts.add(notes.next().is_some_and(|note| note.grace), &played);
        });
        let approach = Approach {
            harp,
            position,
            octave,
            transposed,
            tonic: key.tonic.transposed(transposed),
            technique: playing.technique,
            playing: effort,
            counts,
            changes: Vec::new(),
        };
        Some(Solved { approach, choices, reach })
    }
}
