//! Finds the wanted rows without pricing every approach to the end.
//!
//! An approach is solved with all of the player's technique, and also with each lesser technique that sounds fewer
//! notes; the other notes are then priced as missing. The cheapest of these playings becomes the approach's row in the
//! ranking. More technique therefore never makes a row dearer, and one hard note never costs a tune more than its price
//! as a missing note.
//!
//! Rows that cost the least come first. As soon as enough rows are found, the last row sets a bound. A playing is
//! abandoned when one of these lower bounds of its effort exceeds that bound:
//!
//! 1. the price of the notes that it lacks, and of its position;
//! 2. the cost of sounding its notes alone, each in its easiest way: bends and the ends of the harp;
//! 3. in the pass without the lungs, which goes backwards, the cost of the notes priced so far;
//! 4. in the pass with the lungs, the cost of its states: those above the bound are dropped.
//!
//! A playing equal to the bound is priced to the end, for the ties. The rows are therefore the same as if no playing
//! were abandoned. The approaches with the lowest bound in step 2 are tried first.
//!
//! Large searches run on all cores. The threads share the bound, so they may abandon different approaches from run to
//! run, but never a wanted approach.

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
    rank::{self, Twin},
    transpositions,
};
use crate::{
    harp::{Harp, Position, Technique},
    melody::key::Key,
    pitch::{Interval, Pitch},
};

/// Below this many notes, over all approaches that are tried, threads cost more than they save: starting and ending one
/// takes as long as trying a few thousand notes.
const WORTH_THREADS: usize = 1 << 15;

/// The most notes in memory at once, over all threads; each thread has the whole tune. A note takes 0.1 kB for each
/// thread, besides 0.35 kB for the tune and the rows that are kept. The search of 100,000 notes must stay below 64 MiB: it
/// takes 45 MiB with one thread (`searching long` in benches/, measured) and would take 55 MiB with two.
const NOTES_AT_ONCE: usize = 190_000;

/// The rows of the ranking that the caller wants.
#[derive(Clone, Copy, Debug)]
pub struct Wanted {
    /// The number of rows, from the first.
    pub top: usize,
    /// Only rows in this position.
    pub position: Option<Position>,
    /// Only rows transposed by this interval, octaves aside.
    pub transposed: Option<Interval>,
    /// Only rows moved by this number of octaves.
    pub octave: Option<i8>,
    /// Only rows with more notes in this part of the harp than in any other part.
    pub region: Option<Region>,
    /// Only rows that pass this test. The test runs before the playing has its notes, so it may use only counts and
    /// effort.
    pub like: Option<fn(&Approach) -> bool>,
    /// Keeps every note that the player can sound, and puts rows that lack no note (grace notes aside) first.
    pub every_note: bool,
    /// Keeps the tune in its own key, however hard it lies there on the harps at hand ([`super::ways::rows`]).
    pub own_key: bool,
    /// Adds the first row of each of the first `top` tabs, and a [`Twin`] for every further row with one of these tabs.
    pub twins: bool,
}

impl Wanted {
    /// Every row.
    pub const ALL: Wanted = Wanted::first(usize::MAX);

    /// Asks for the first `top` rows.
    pub const fn first(top: usize) -> Wanted {
        Wanted {
            top,
            position: None,
            transposed: None,
            octave: None,
            region: None,
            like: None,
            every_note: false,
            own_key: false,
            twins: false,
        }
    }
}

/// Tries every approach and returns the wanted rows, the same rows as [`super::search`] has. The other approaches are
/// priced only until they are certain to rank lower.
pub fn search_for<'a>(request: &Request<'a>, wanted: &Wanted) -> Ranking<'a> {
    let line = Timeline::new(request.melody);
    let harps = named_once(request.harps);
    let reaches: Vec<Reaches> = harps.iter().map(|harp| Reaches::of(harp)).collect();
    let mut tries = tries(request, wanted, &line, &reaches);
    let tried = tries.len();
    // The rows in a part of the harp, and the rows with the same tab, can be counted only after all approaches have
    // been solved.
    let top = if wanted.region.is_some() || wanted.twins { usize::MAX } else { wanted.top };
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
    let mut twins = Vec::new();
    if wanted.twins {
        (rows, twins) = by_tab(rows, &line, wanted.top);
    } else {
        rows.truncate(wanted.top);
    }
    let approaches = rows.into_iter().map(|row| {
        let shift = row.approach.shift();
        let aims = line.aims(row.reach, shift, request.weights);
        let ways = line.chosen(row.reach, shift, &row.choices);
        let in_position = request.weights.in_position(row.approach.position);
        Approach { playing: line.price(ways, &aims, request.weights).each_note(in_position), ..row.approach }
    });
    Ranking { approaches: approaches.collect(), twins, tried, ..Ranking::default() }
}

/// Returns the rows to show, and the twins of the first `top` tabs among them.
fn by_tab<'s, 'a>(
    rows: Vec<Solved<'s, 'a>>,
    line: &Timeline,
    top: usize,
) -> (Vec<Solved<'s, 'a>>, Vec<Twin<'a>>) {
    let (mut shown, mut firsts, mut twins) = (Vec::new(), Vec::new(), Vec::new());
    for (index, row) in rows.into_iter().enumerate() {
        let known = firsts.iter().copied().find(|&first: &usize| row.has_same_tab(&shown[first], line));
        match known {
            Some(row_of_tab) if index >= top => {
                twins.push(Twin { row: row_of_tab, harp: row.approach.harp, shift: row.approach.shift() });
                continue;
            }
            None if firsts.len() < top => firsts.push(shown.len()),
            None => continue,
            Some(_) => {}
        }
        shown.push(row);
    }
    (shown, twins)
}

/// Sorts the tries, the most promising first.
fn promise(tries: &mut [Try], line: &Timeline, request: &Request, wanted: &Wanted) {
    // Only tries that lack few notes are estimated more closely; tries that lack more are hardly ever wanted.
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
    /// Adds the wanted rows for the tune in another key, whose tonic has another position on each harp.
    pub fn rank_rival(&mut self, request: &Request<'a>, wanted: &Wanted, key: Key) {
        let approaches = search_for(&Request { key, ..request.clone() }, wanted).approaches;
        self.rival = Some(Rival { key, approaches });
    }
}

/// Returns the harps without duplicates.
fn named_once(harps: &[Harp]) -> Vec<&Harp> {
    let mut once: Vec<&Harp> = Vec::with_capacity(harps.len());
    for harp in harps {
        if !once.contains(&harp) {
            once.push(harp);
        }
    }
    once
}

/// The reach of a player on a harp for each technique, computed on demand.
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

/// An approach that sounds at least one note other than a grace note.
struct Try<'s, 'a> {
    harp: &'a Harp,
    reaches: &'s Reaches<'a>,
    octave: i8,
    transposed: Interval,
    position: Position,
    /// The playings to try: one with all of the player's technique, and one with each lesser technique that sounds
    /// fewer notes; there is at least one.
    playings: Vec<Attempt>,
}

/// An approach with one technique.
struct Attempt {
    technique: Technique,
    /// Whether the attempt lacks at most grace notes.
    is_full: bool,
    /// The part of the attempt's effort that the pitches alone determine: missing notes and position.
    certain: u64,
    /// A lower bound of the attempt's effort.
    floor: u64,
}

/// Lists the approaches that match the wanted rows.
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
            if wanted.position.is_some_and(|wanted| wanted != position)
                || wanted.transposed.is_some_and(|wanted| wanted != transposed)
            {
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
    /// The number of notes with this pitch, and the number of those that are not grace notes.
    notes: u64,
    main: u64,
    /// The price of leaving all of these notes out.
    missing: u64,
}

/// The pitches that a technique sounds and a lesser one does not.
#[derive(Clone, Copy, Default)]
struct Added {
    pitches: u64,
    /// The number of notes with these pitches that are not grace notes.
    main: u64,
    /// The price of leaving all notes with these pitches out.
    missing: u64,
}

/// Collects the pitches of the tune.
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
        // For each technique, the pitches that it adds to the previous technique; the last entry is for pitches that no
        // technique sounds.
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
            // An attempt must sound a note that is not a grace note. If a lesser technique sounds the same notes, its
            // attempt is redundant: the greater technique has all of its ways.
            if sounded.iter().all(|added| added.main == 0) || before == Some(pitches) {
                continue;
            }
            before = Some(pitches);
            let pins = request.pins;
            if !pins.is_empty() && !self.reaches.with(technique).sounds(pins, request.melody, shift) {
                continue;
            }
            let certain = lacking.iter().map(|added| added.missing).fold(in_position, u64::saturating_add);
            let is_full = lacking.iter().all(|added| added.main == 0);
            self.playings.push(Attempt { technique, is_full, certain, floor: certain });
        }
    }

    fn shift(&self) -> Interval {
        Interval(Interval::octaves(self.octave).0 + self.transposed.0)
    }

    /// Returns a lower bound of the effort of the cheapest playing.
    fn floor(&self) -> u64 {
        self.playings.iter().map(|playing| playing.floor).min().unwrap_or(0)
    }

    fn is_full(&self) -> bool {
        self.playings.iter().any(|playing| playing.is_full)
    }
}

impl Attempt {
    /// Returns a lower bound of the cost of the notes, without the steps between them.
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

/// A row during the search, stored without its notes to save memory.
struct Solved<'s, 'a> {
    approach: Approach<'a>,
    /// The index of each note's way in `reach`.
    choices: Vec<u8>,
    reach: &'s Reach,
}

impl Solved<'_, '_> {
    fn has_same_tab(&self, other: &Solved, line: &Timeline) -> bool {
        let [ours, theirs] = [self, other].map(|row| {
            let ways = line.chosen(row.reach, row.approach.shift(), &row.choices);
            ways.map(|way| way.map(|way| way.action))
        });
        ours.eq(theirs)
    }
}

struct Search<'s, 'a> {
    request: &'s Request<'a>,
    wanted: &'s Wanted,
    line: &'s Timeline,
    /// The number of rows that are kept.
    top: usize,
    tries: Vec<Try<'s, 'a>>,
    /// The index of the next try.
    next: AtomicUsize,
    /// The rows found so far, in order.
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

    /// Works on one try after another until none is left.
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

    /// Whether a row is wanted.
    fn fits(&self, row: &Solved) -> bool {
        let counts = &row.approach.counts;
        self.wanted.region.is_none_or(|region| counts.region() == region)
            && self.wanted.like.is_none_or(|like| like(&row.approach))
    }

    /// Returns the highest effort with which a row can still be among the wanted rows; `None` if no effort is low
    /// enough.
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

    /// Prices a try to the end and returns its cheapest playing, unless the try is certain to rank below the wanted
    /// rows.
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
        let Request { melody, weights, key, pins, .. } = *self.request;
        let left = limit.checked_sub(playing.certain)?;
        let (reach, shift) = (attempt.reaches.with(playing.technique), attempt.shift());
        let aims = self.line.aims(reach, shift, weights);
        let choices = path::cheapest_within(self.line, &aims, (reach, pins), weights, shift, left)?;
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
