//! The answers of `bag` and `set`.

use serde::Serialize;

use super::{SCHEMA, print};
use crate::{
    book::Entry,
    pages::bag::{BagFacts, SetTune},
};

/// Returns the answer of `breathline bag`.
pub fn bag(facts: &BagFacts) -> String {
    let name = |harp: usize| facts.harps[harp].as_str();
    let bags = facts.bags.iter().map(|bag| BagInfo {
        harps: bag.harps.iter().map(|&harp| name(harp)).collect(),
        price: facts.priced.then_some(bag.price),
        tunes_total: bag.tunes,
        at_most: bag.at_most,
    });
    let unplayable = facts.unplayable.iter().map(|entry| TuneName::of(entry));
    print(&BagAnswer {
        schema: SCHEMA,
        tunes: facts.tunes,
        owned: facts.owned,
        owned_tunes: facts.owned_tunes,
        bags: bags.collect(),
        unplayable: unplayable.collect(),
        failures: failures(facts.failures),
    })
}

/// Returns the answer of `breathline set`.
pub fn set(tunes: &[SetTune], pack: &[String], effort: u64, failed: &[(String, String)]) -> String {
    let rows = tunes.iter().map(|tune| {
        let best = tune.entry.best.as_ref();
        SetRow {
            tune: TuneName::of(&tune.entry),
            harp: best.map(|best| best.harp.as_str()),
            position: best.map(|best| best.position.number()),
            octave: best.map(|best| best.octave),
            transposed: best.map(|best| best.transposed),
            effort: best.map(|best| best.effort),
            change: tune.is_changed,
            silence_ms: tune.silence_ms,
        }
    });
    let changes = tunes.iter().filter(|tune| tune.is_changed).count();
    print(&SetAnswer {
        schema: SCHEMA,
        tunes: rows.collect(),
        changes,
        pack,
        effort,
        failures: failures(failed),
    })
}

fn failures(failures: &[(String, String)]) -> Vec<Unread<'_>> {
    failures.iter().map(|(file, error)| Unread { file, error }).collect()
}

#[derive(Serialize)]
struct BagAnswer<'a> {
    schema: u32,
    tunes: usize,
    owned: &'a [String],
    /// The number of tunes that the player's own harps play well.
    owned_tunes: usize,
    /// The best bags beyond the player's own harps: at most one for each size or, with prices, for each price; the
    /// cheapest comes first.
    bags: Vec<BagInfo<'a>>,
    unplayable: Vec<TuneName<'a>>,
    failures: Vec<Unread<'a>>,
}

#[derive(Serialize)]
struct BagInfo<'a> {
    /// The harps to add, in order: each harp adds the most tunes to the tunes of the harps before it.
    harps: Vec<&'a str>,
    /// The price of the bag; null without prices.
    price: Option<u64>,
    tunes_total: usize,
    /// An upper bound on the tunes that any bag of this price (or of this size, without prices) plays; the same as
    /// `tunes_total`, unless the search stopped early.
    at_most: usize,
}

#[derive(Serialize)]
struct TuneName<'a> {
    file: &'a str,
    number: u32,
    title: &'a str,
}

impl TuneName<'_> {
    fn of(entry: &Entry) -> TuneName<'_> {
        TuneName { file: &entry.file, number: entry.number, title: &entry.title }
    }
}

#[derive(Serialize)]
struct Unread<'a> {
    file: &'a str,
    error: &'a str,
}

#[derive(Serialize)]
struct SetAnswer<'a> {
    schema: u32,
    tunes: Vec<SetRow<'a>>,
    changes: usize,
    pack: &'a [String],
    effort: u64,
    failures: Vec<Unread<'a>>,
}

#[derive(Serialize)]
struct SetRow<'a> {
    #[serde(flatten)]
    tune: TuneName<'a>,
    /// Null if no harp can play the tune.
    harp: Option<&'a str>,
    position: Option<u8>,
    octave: Option<i8>,
    transposed: Option<i16>,
    effort: Option<u64>,
    /// Whether the player changes harps before the tune.
    change: bool,
    silence_ms: u64,
}
