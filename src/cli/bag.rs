//! `breathline bag` and `breathline set`: which harps to own, and which to bring.

use std::slice;

use anyhow::bail;
use breathline::{
    book::{
        Entry,
        bag::{self, Standard, Tunes},
        set as sets,
    },
    harp::Harp,
    json,
    pages::bag::{self as pages, BagFacts, SetTune},
    search::{Approach, Request, Wanted, search_for},
};
use itertools::Itertools;

use super::{
    args, kit,
    message::{self, Exit},
    progress, show, tries,
    tunes::{self, Found},
};

/// Returns the best way to play a tune on a harp.
fn best_on<'a>(request: &Request<'a>, harp: &'a Harp) -> Option<Approach<'a>> {
    let on_it = Request { harps: slice::from_ref(harp), ..request.clone() };
    search_for(&on_it, &Wanted::first(1)).approaches.pop()
}

pub(super) fn bag(args: &args::Bag) -> anyhow::Result<Exit> {
    let (player, harps) = tries(&args.player, &args.tries)?;
    let owned = match args.have.as_slice() {
        [] => Vec::new(),
        have => kit::harps(have, &[], &super::tunings(&args.player.tuning_file)?)?,
    };
    let harps: Vec<Harp> = harps.into_iter().filter(|harp| !owned.contains(harp)).collect();
    let standard =
        Standard { effort: args.effort, unbent: player.technique == breathline::harp::Technique::None };
    let found = tunes::each(&args.files, &player, |place, read| {
        let request = read.request(&player, &harps, args.tries.any_key);
        let rows: Vec<_> = harps.iter().chain(&owned).map(|harp| best_on(&request, harp)).collect();
        let well = rows.iter().map(|row| row.as_ref().is_some_and(|row| standard.is_met_by(&request, row)));
        let well: Vec<bool> = well.collect();
        let best = rows.iter().flatten().min_by_key(|row| row.playing.effort.total());
        (Entry::of(place, read.tune().title(), &read.key, &request, best), well)
    })?;
    let of_harp = |harp: usize| -> Tunes { found.tunes.iter().positions(|(_, well)| well[harp]).collect() };
    let sets: Vec<Tunes> = (0..harps.len()).map(of_harp).collect();
    let owned_tunes =
        (harps.len()..harps.len() + owned.len()).fold(Tunes::default(), |all, harp| all.with(&of_harp(harp)));
    let bags = progress::shown("choosing the harps", || bag::bags(&sets, &owned_tunes, args.most));
    let unplayable = found.tunes.iter().filter(|(_, well)| !well.contains(&true)).map(|(entry, _)| entry);
    let names = |harps: &[Harp]| harps.iter().map(Harp::to_string).collect::<Vec<_>>();
    let facts = BagFacts {
        harps: &names(&harps),
        owned: &names(&owned),
        owned_tunes: owned_tunes.count(),
        tunes: found.tunes.len(),
        bags: &bags,
        price: args.price,
        unplayable: &unplayable.collect::<Vec<_>>(),
        failures: &found.failures,
    };
    if args.output.json {
        message::answer(&json::bag::bag(&facts))?;
    } else {
        show(&pages::bag(&facts), &args.output)?;
    }
    Ok(found.exit(found.tunes.len()))
}

pub(super) fn set(args: &args::Set) -> anyhow::Result<Exit> {
    let (player, harps) = tries(&args.player, &args.tries)?;
    if let Some(folder) = args.files.iter().find(|path| path.is_dir()) {
        bail!("{}: this is a folder; name the tunes in the order in which they are played", folder.display());
    }
    let Found { tunes: read, failures } = tunes::each(&args.files, &player, |place, read| {
        let request = read.request(&player, &harps, args.tries.any_key);
        let entry =
            |best: Option<&Approach>| Entry::of(place, read.tune().title(), &read.key, &request, best);
        let ways: Vec<Option<Entry>> =
            harps.iter().map(|harp| best_on(&request, harp).map(|best| entry(Some(&best)))).collect();
        (entry(None), ways, read.imported.melody.silence_around())
    })?;
    let effort = |entry: &Option<Entry>| Some(entry.as_ref()?.best.as_ref()?.effort);
    let efforts: Vec<Vec<Option<u64>>> =
        read.iter().map(|(_, ways, _)| ways.iter().map(effort).collect()).collect();
    let chosen = sets::harps(&efforts, args.change);
    let mut hand = None;
    let mut silence = 0;
    let mut in_order = Vec::new();
    for ((unreached, mut ways, (before, after)), harp) in read.into_iter().zip(&chosen) {
        let entry = harp.and_then(|harp| ways[harp].take()).unwrap_or(unreached);
        let is_changed = harp.is_some() && hand.is_some() && hand != *harp;
        in_order.push(SetTune { entry, is_changed, silence_ms: silence + before });
        hand = harp.or(hand);
        silence = after;
    }
    let pack: Vec<String> = chosen.iter().flatten().unique().map(|&harp| harps[harp].to_string()).collect();
    let effort = in_order.iter().filter_map(|tune| Some(tune.entry.best.as_ref()?.effort)).sum();
    if args.output.json {
        message::answer(&json::bag::set(&in_order, &pack, effort, &failures))?;
    } else {
        show(&pages::set(&in_order, &pack, effort, &failures), &args.output)?;
    }
    Ok(Found { tunes: in_order, failures }.exit(pack.len()))
}
