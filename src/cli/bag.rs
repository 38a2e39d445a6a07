//! `breathline bag` and `breathline set`: which harps to own, and which harps to bring.

use std::{num::NonZeroU32, path::Path, slice, sync::Arc};

use anyhow::{Context, bail};
use breathline::{
    book::{
        Entry,
        bag::{self, Offer, Standard, Tunes},
        prices::Prices,
        set as sets,
    },
    harp::{Harp, Tuning},
    json,
    pages::{
        bag::{self as pages, BagFacts, SetTune},
        set as stand,
    },
    render::html,
    search::{Approach, Request, Wanted, search_for},
};
use itertools::Itertools;

use super::{
    args, files, kit,
    message::{self, Exit},
    progress,
    save::{self, Guard},
    show, tries,
    tunes::{self, Found},
    tunings, viewer,
};

/// Returns the best way to play a tune on a harp.
fn best_on<'a>(request: &Request<'a>, harp: &'a Harp) -> Option<Approach<'a>> {
    let on_it = Request { harps: slice::from_ref(harp), ..request.clone() };
    search_for(&on_it, &Wanted::first(1)).approaches.pop()
}

/// Returns the price of each harp, or the same price for all harps if the user gave no prices.
fn costs(price: Option<&str>, harps: &[Harp], tunings: &[Arc<Tuning>]) -> anyhow::Result<Vec<NonZeroU32>> {
    let Some(price) = price else { return Ok(vec![NonZeroU32::MIN; harps.len()]) };
    // A text that begins like a number is a price, unless a file has that name.
    let is_number = price.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
    let prices =
        if is_number && !Path::new(price).exists() {
            let number = price.parse().ok();
            Prices::every(number.with_context(|| {
                format!("--price {price}: write a whole number from 1 up, or name a file")
            })?)
        } else {
            Prices::parse(&files::read_text(Path::new(price))?, tunings).with_context(|| price.to_owned())?
        };
    let cost = |harp: &Harp| {
        let missing =
            || format!("{price}: no price for the {harp} harp; add every = 40 for all harps without one");
        prices.of(harp).with_context(missing)
    };
    harps.iter().map(cost).collect()
}

pub(super) fn bag(args: &args::Bag) -> anyhow::Result<Exit> {
    let (player, harps) = tries(&args.player, &args.tries)?;
    let tunings = tunings(&args.player.tuning_file)?;
    let owned = match args.have.as_slice() {
        [] => Vec::new(),
        have => kit::harps(have, &[], &tunings)?,
    };
    let harps: Vec<Harp> = harps.into_iter().filter(|harp| !owned.contains(harp)).collect();
    let costs = costs(args.price.as_deref(), &harps, &tunings)?;
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
    let offers = (0..harps.len()).map(|harp| Offer { tunes: of_harp(harp), price: costs[harp] });
    let offers: Vec<Offer> = offers.collect();
    let owned_tunes =
        (harps.len()..harps.len() + owned.len()).fold(Tunes::default(), |all, harp| all.with(&of_harp(harp)));
    let bags = progress::shown("choosing the harps", || bag::bags(&offers, &owned_tunes, args.most));
    let unplayable = found.tunes.iter().filter(|(_, well)| !well.contains(&true)).map(|(entry, _)| entry);
    let names = |harps: &[Harp]| harps.iter().map(Harp::to_string).collect::<Vec<_>>();
    let facts = BagFacts {
        harps: &names(&harps),
        owned: &names(&owned),
        owned_tunes: owned_tunes.count(),
        tunes: found.tunes.len(),
        bags: &bags,
        priced: args.price.is_some(),
        standard,
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

fn is_html(path: &Path) -> bool {
    path.extension()
        .is_some_and(|ending| ["html", "htm"].iter().any(|html| ending.eq_ignore_ascii_case(html)))
}

pub(super) fn set(args: &args::Set) -> anyhow::Result<Exit> {
    let (player, harps) = tries(&args.player, &args.tries)?;
    if let Some(folder) = args.files.iter().find(|path| path.is_dir()) {
        bail!("{}: this is a folder; name the tunes in the order in which they are played", folder.display());
    }
    if let Some(path) = args.to.as_ref().filter(|path| !is_html(path)) {
        bail!("{}: the page of a set is for a browser; name a file that ends in .html", path.display());
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
    if let Some(path) = &args.to {
        let page = html::set(&stand::stand(&in_order, &pack, &failures)).into_bytes();
        save::save(&[(path.clone(), page)], &Guard::of(&args.files, &args.player, args.force))?;
        if args.open {
            viewer::open(path);
        }
    }
    let effort = in_order.iter().filter_map(|tune| Some(tune.entry.best.as_ref()?.effort)).sum();
    if args.output.json {
        message::answer(&json::bag::set(&in_order, &pack, effort, &failures))?;
    } else {
        show(&pages::set(&in_order, &pack, effort, &failures), &args.output)?;
    }
    Ok(Found { tunes: in_order, failures }.exit(pack.len()))
}
