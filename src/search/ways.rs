//! A few alternatives to the best way; each gives up an advantage of the best way and gains another.
//!
//! | way | when | what |
//! |---|---|---|
//! | every note | the best leaves out notes | the least effort that plays all notes |
//! | no bends | the best bends | the least effort without bends |
//! | lower | over a third of the notes lie on holes 8 to 10 | the least effort with at most a quarter there |
//! | another register | the tune is moved by octaves | the same tab on a low or high harp, nearer to the written pitch |
//! | another tuning | the best bends more than every twentieth note, lacks notes or lies high | a harp of a built-in tuning that plays the whole tune unbent and low |
//! | another key | the harps at hand lack notes of the tune | the whole tune on one of them in another key, for less than half the effort |
//! | its own key | the harps at hand suit the tune's key badly, so the best is in another key | the best in the tune's own key |
//!
//! A way is left out if it loses more than [`MOST_LOST`] per cent of the tune, weighted by how much the notes are
//! heard. The limits are judgements of common practice, without a source.

use std::sync::LazyLock;

use super::{
    Approach, Ranking, Request,
    path::{self, Reach, Timeline},
    price,
    shortlist::{Wanted, search_for},
    term::Term,
};
use crate::{
    harp::{Harp, Register, Technique, Tuning},
    pitch::Interval,
};

/// The largest part of the tune that a way may leave out, in per cent, weighted by how much the notes are heard. With
/// more notes missing, listeners would hear another tune.
pub const MOST_LOST: u64 = 10;

/// The effort up to which another octave is worth mentioning, in per cent of the effort in the chosen octave (a
/// judgement).
const EASIER: u64 = 67;

/// The kinds of ways, in the order in which answers list them.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[non_exhaustive]
pub enum Kind {
    /// The first row of the ranking.
    Best,
    /// The best row that lacks no notes except grace notes.
    EveryNote,
    /// The best row without bends.
    NoBends,
    /// A row that lies lower on the harp.
    Lower,
    /// A row on a low or high harp.
    OtherRegister,
    /// A row on a harp of another tuning.
    OtherTuning,
    /// A row in another key, because the harps at hand lack notes in this key.
    OtherKey,
    /// A row in the tune's own key, because the best row is in another key.
    OwnKey,
}

impl Kind {
    /// Returns the word for JSON.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Best => "best",
            Kind::EveryNote => "every-note",
            Kind::NoBends => "no-bends",
            Kind::Lower => "lower",
            Kind::OtherRegister => "other-register",
            Kind::OtherTuning => "other-tuning",
            Kind::OtherKey => "other-key",
            Kind::OwnKey => "own-key",
        }
    }
}

/// A way worth knowing.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Alternative<'a> {
    /// The kind, which says what the alternative gains.
    pub kind: Kind,
    /// The approach: its harp, position and playing.
    pub approach: Approach<'a>,
}

/// The results of a search without the request's pins.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Free<'a> {
    /// The winner on any of the harps.
    pub best: Approach<'a>,
    /// The best approach without pins on the same harp, in the same octave and in the same key as the winner with pins.
    pub alike: Approach<'a>,
}

impl<'a> Ranking<'a> {
    /// Adds the result of a search without the pins, if there are pins.
    pub fn compare_with_free(&mut self, request: &Request<'a>, wanted: &Wanted) {
        let Some(pinned) = self.best().filter(|_| !request.pins.is_empty()) else { return };
        let free = Request { pins: &[], ..request.clone() };
        let best =
            search_for(&free, &Wanted { top: 1, twins: false, ..*wanted }).approaches.into_iter().next();
        let alike = alike(&free, wanted, pinned);
        self.free = best.zip(alike).map(|(best, alike)| Free { best, alike });
    }
}

/// Returns the best approach to a request with the harp, octave and key of `row`. `None` if this harp cannot keep the
/// request's pins.
pub fn alike<'a>(request: &Request<'a>, wanted: &Wanted, row: &Approach<'a>) -> Option<Approach<'a>> {
    let harp = Request { harps: std::slice::from_ref(row.harp), ..request.clone() };
    let (octave, transposed) = (Some(row.octave), Some(row.transposed));
    let wanted = Wanted { top: 1, twins: false, octave, transposed, ..*wanted };
    search_for(&harp, &wanted).approaches.into_iter().next()
}

/// Returns the request that the rows answer, as [`rows`] does, and the ranking with the ways worth knowing beside the
/// first row.
pub fn answer<'a>(request: &Request<'a>, wanted: &Wanted) -> (Request<'a>, Ranking<'a>) {
    let (asked, mut ranking) = rows(request, wanted);
    let own = std::mem::take(&mut ranking.ways);
    ranking.ways = ways(&asked, wanted, &ranking);
    ranking.ways.extend(own);
    (asked, ranking)
}

/// Returns the wanted rows and the request that they answer. If the tune is hard in its own key on the harps at hand,
/// and another key costs less than half, the returned request allows any key. The `ways` of the ranking then have only
/// the best row in the tune's own key.
pub fn rows<'a>(request: &Request<'a>, wanted: &Wanted) -> (Request<'a>, Ranking<'a>) {
    let mut ranking = search_for(request, wanted);
    let mut asked = request.clone();
    if !wanted.own_key
        && lacks_keys(request)
        && let Some(best) = ranking.best().filter(|best| is_hard(request, best))
    {
        let any_key = Request { any_key: true, ..request.clone() };
        let moved = search_for(&any_key, wanted);
        let half =
            |moved: &Approach| moved.playing.effort.total().saturating_mul(2) < best.playing.effort.total();
        if moved.best().is_some_and(half) {
            let own = Alternative { kind: Kind::OwnKey, approach: best.clone() };
            (ranking, asked) = (Ranking { ways: vec![own], ..moved }, any_key);
        }
    }
    (asked, ranking)
}

/// Returns the best row in another octave than `row`, on the same harp and in the same key, if it costs much less and
/// loses little of the tune. A row that plays every note may lie in an octave that needs many bends.
pub fn easier_octave<'a>(request: &Request<'a>, wanted: &Wanted, row: &Approach<'a>) -> Option<Approach<'a>> {
    let harp = Request { harps: std::slice::from_ref(row.harp), ..request.clone() };
    let transposed = Some(row.transposed);
    let anywhere = Wanted { top: 1, twins: false, octave: None, transposed, every_note: false, ..*wanted };
    let easiest = search_for(&harp, &anywhere).approaches.into_iter().next()?;
    let other = alike(request, wanted, &easiest).filter(|other| other.octave != row.octave)?;
    let effort = |row: &Approach| row.playing.effort.total();
    let is_easier = effort(&other).saturating_mul(100) <= effort(row).saturating_mul(EASIER);
    (is_easier && loses_little(request, &other)).then_some(other)
}

fn ways<'a>(request: &Request<'a>, wanted: &Wanted, ranking: &Ranking<'a>) -> Vec<Alternative<'a>> {
    let Some(best) = ranking.best() else { return Vec::new() };
    let loses_little = |approach: &Approach| self::loses_little(request, approach);
    let one = Wanted { top: 1, twins: false, ..*wanted };
    let first =
        |request: &Request<'a>, wanted: &Wanted| search_for(request, wanted).approaches.into_iter().next();
    let counts = &best.counts;
    let mut ways: Vec<Alternative> = Vec::new();
    let mut add = |kind, approach: Option<Approach<'a>>| {
        let is_new = |approach: &Approach| {
            let known = std::iter::once(best).chain(ways.iter().map(|way: &Alternative| &way.approach));
            !known.into_iter().any(|known| is_same(known, approach))
        };
        let new = approach.filter(is_new);
        ways.extend(new.map(|approach| Alternative { kind, approach }));
    };
    if !counts.is_full() {
        let full = first(request, &Wanted { every_note: true, ..one });
        add(Kind::EveryNote, full.filter(|full| full.counts.is_full()));
    }
    if counts.bends() > 0 {
        let unbent = Request { technique: Technique::None, ..request.clone() };
        add(Kind::NoBends, first(&unbent, &one).filter(loses_little));
    }
    if counts.lies_high() {
        let lower = first(request, &Wanted { like: Some(|row| row.counts.lies_low()), ..one });
        add(Kind::Lower, lower.filter(loses_little));
    }
    add(Kind::OtherRegister, other_register(request, best));
    // One or two bends do not justify buying a harp.
    let bends_often = counts.bends() * 20 > counts.notes;
    if wanted.position.is_none()
        && !request.any_key
        && (bends_often || !counts.is_full() || counts.lies_high())
    {
        add(Kind::OtherTuning, other_tuning(request));
    }
    if !counts.is_full() && lacks_keys(request) && wanted.position.is_none() {
        let any_key = Request { any_key: true, ..request.clone() };
        let is_worth_it = |other: &Approach| {
            other.counts.is_full()
                && other.playing.effort.total().saturating_mul(2) < best.playing.effort.total()
        };
        add(Kind::OtherKey, first(&any_key, &one).filter(is_worth_it));
    }
    ways
}

fn is_same(approach: &Approach, other: &Approach) -> bool {
    let place = |approach: &Approach| (approach.shift(), approach.harp.to_string());
    place(approach) == place(other) && approach.has_same_tab(other)
}

/// Whether an approach leaves out at most [`MOST_LOST`] per cent of the tune, weighted by how much its notes are heard.
pub fn loses_little(request: &Request, approach: &Approach) -> bool {
    lost_permille(request, approach) <= MOST_LOST * 10
}

/// Returns the part of the tune that an approach leaves out, weighted by how much its notes are heard: in thousandths,
/// rounded up.
pub fn lost_permille(request: &Request, approach: &Approach) -> u64 {
    let line = Timeline::new(request.melody);
    let whole = line.missing(request.weights).map(|(_, points)| points).fold(0, u64::saturating_add);
    approach.playing.effort[Term::Missing].saturating_mul(1000).div_ceil(whole.max(1))
}

/// Whether the request keeps the tune's key, and the harps lack some of the twelve keys.
fn lacks_keys(request: &Request) -> bool {
    let mut keys: Vec<_> = request.harps.iter().map(|harp| harp.first_position_key()).collect();
    keys.sort_unstable();
    keys.dedup();
    !request.any_key && keys.len() < 12
}

/// Whether an approach is so hard that another key is worth trying: it loses much of the tune, or bends more than every
/// sixth note.
fn is_hard(request: &Request, approach: &Approach) -> bool {
    !loses_little(request, approach) || approach.counts.bends() * 6 > approach.counts.notes
}

/// Returns the low and the high Richter harps in every key.
fn registers() -> &'static [Harp] {
    static HARPS: LazyLock<Vec<Harp>> = LazyLock::new(|| {
        let richter = Tuning::richter();
        [Register::Low, Register::High]
            .into_iter()
            .flat_map(|register| Harp::set(register, &richter))
            .collect()
    });
    &HARPS
}

/// Returns the standard harps of every other built-in tuning.
fn tunings() -> &'static [Harp] {
    static HARPS: LazyLock<Vec<Harp>> = LazyLock::new(|| {
        let others = Tuning::built_in().iter().filter(|tuning| tuning.name() != "richter");
        others.flat_map(Harp::standard_set).collect()
    });
    &HARPS
}

/// Returns the same tab on a low harp if the best row sounds higher than written, or on a high harp if it sounds lower.
fn other_register<'a>(request: &Request<'a>, best: &Approach<'a>) -> Option<Approach<'a>> {
    let (register, back) = match best.octave {
        1.. => (Register::Low, -1),
        ..=-1 => (Register::High, 1),
        0 => return None,
    };
    let is_tried = request.harps.iter().any(|harp| harp.register() == register);
    if is_tried || best.harp.register() != Register::Standard || best.transposed != Interval(0) {
        return None;
    }
    let harp = registers().iter().find(|harp| {
        (harp.register(), harp.key(), harp.tuning()) == (register, best.harp.key(), best.harp.tuning())
    })?;
    let octave = best.octave + back;
    let actions: Vec<_> = best.playing.notes.iter().map(|played| played.action).collect();
    let (line, reach) = (Timeline::new(request.melody), Reach::new(harp, best.technique));
    let playing = path::price(&line, &actions, &reach, request.weights, Interval::octaves(octave));
    Some(Approach {
        technique: best.technique,
        ..price::approach(request, harp, (octave, Interval(0)), playing)
    })
}

/// Returns the best approach on a harp of another built-in tuning that plays the whole tune unbent and low.
fn other_tuning<'a>(request: &Request<'a>) -> Option<Approach<'a>> {
    if request.harps.iter().any(|harp| harp.tuning().name() != "richter") {
        return None;
    }
    let others = Request { harps: tunings(), technique: Technique::None, ..request.clone() };
    let fits = |row: &Approach| row.counts.playable == row.counts.notes && row.counts.lies_low();
    let wanted = Wanted { every_note: true, like: Some(fits), ..Wanted::first(1) };
    search_for(&others, &wanted).approaches.into_iter().next()
}
