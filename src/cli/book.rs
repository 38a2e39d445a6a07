//! `breathline book`: reads many tunes on all cores, or joins earlier answers, and shows which tunes suit the harps and
//! the player.

use std::{
    fs,
    io::{BufRead, BufReader},
    path::PathBuf,
};

use anyhow::{Context, bail};
use breathline::{
    book::{Entry, ladder},
    json::book::{self as lines, Read},
    pages::book as pages,
    render::{csv, html},
    search::{Wanted, ways},
};

use super::{
    args, files,
    message::{self, Exit},
    progress,
    save::{self, Guard},
    show, tries,
    tunes::{self, Found},
    viewer,
};

pub(super) fn book(args: &args::Book) -> anyhow::Result<Exit> {
    let mut found = if args.merge { merge(&args.files)? } else { survey(args)? };
    let (entries, json): (Vec<Entry>, Vec<String>) = std::mem::take(&mut found.tunes).into_iter().unzip();
    let failures = &found.failures;
    let is_full = |entry: &&Entry| entry.best.as_ref().is_some_and(|best| best.is_full);
    let (tunes, full) = (entries.len(), entries.iter().filter(is_full).count());
    // The indices of the tunes to show, in order; `json` has the line of a tune at the same index.
    let mut chosen: Vec<usize> = (0..tunes).filter(|&tune| wanted(args, &entries[tune])).collect();
    sort(args, &entries, &mut chosen);
    let shown: Vec<&Entry> = chosen.iter().map(|&tune| &entries[tune]).collect();
    let facts = pages::Chosen { shown: &shown, tunes, full, failures };
    let notation = (&args.notation).into();
    if let Some(path) = &args.page {
        let tab = |entry: &&Entry| {
            entry.best.as_ref().map_or_else(String::new, |best| pages::tab_line(best, notation))
        };
        let tabs: Vec<String> = shown.iter().map(tab).collect();
        let page = html::book("Tunes", &pages::broad_page(facts), &tabs).into_bytes();
        save::save(&[(path.clone(), page)], &Guard::of(&args.files, &args.player, args.force))?;
        if args.open {
            viewer::open(path);
        }
    }
    let failed = || failures.iter().map(|(file, error)| lines::failure(file, error));
    if let Some(most) = args.next {
        let choice: Vec<Entry> = shown.iter().map(|&entry| entry.clone()).collect();
        let rungs = progress::shown("choosing the next tunes", || ladder::ladder(&choice, most));
        if args.output.json {
            let rungs = rungs.iter().map(|rung| lines::rung(rung, &choice[rung.entry]));
            message::answer(&rungs.chain(failed()).collect::<String>())?;
        } else {
            show(&pages::ladder_page(facts, &choice, &rungs, notation), &args.output)?;
        }
    } else if args.output.json {
        let lines = chosen.iter().map(|&tune| json[tune].clone());
        message::answer(&lines.chain(failed()).collect::<String>())?;
    } else if args.csv {
        message::answer(&csv::render(&pages::facts(&shown)))?;
        failures.iter().for_each(|(file, error)| message::complain(&format!("{file}: {error}")));
    } else {
        show(&pages::page(facts), &args.output)?;
    }
    Ok(found.exit(shown.len()))
}

/// Whether a tune passes the user's filters.
fn wanted(args: &args::Book, entry: &Entry) -> bool {
    let best = entry.best.as_ref();
    (!args.playable || best.is_some_and(|best| best.is_full))
        && (!args.no_bends || best.is_some_and(|best| best.bends == 0))
        && args.position.is_none_or(|position| best.is_some_and(|best| best.position == position))
        && args.key.is_none_or(|key| {
            entry.key.tonic == key.tonic && key.mode.is_none_or(|mode| mode == entry.key.mode)
        })
}

/// Puts the chosen tunes in order, and keeps only the easiest ones if the user asked for them. In every order, equal
/// tunes stay in the order of the files.
fn sort(args: &args::Book, entries: &[Entry], chosen: &mut Vec<usize>) {
    let title = |tune: usize| entries[tune].title.to_lowercase();
    let harp = |tune: usize| entries[tune].best.as_ref().map(|best| best.harp.as_str());
    match args.sort {
        None if args.easiest.is_none() => {}
        None | Some(args::Sort::Effort) => chosen.sort_by(|&a, &b| entries[a].by_ease(&entries[b])),
        Some(args::Sort::Title) => chosen.sort_by_cached_key(|&tune| title(tune)),
        Some(args::Sort::Key) => {
            chosen.sort_by_cached_key(|&tune| {
                (entries[tune].tonic.clone(), entries[tune].key.mode, title(tune))
            });
        }
        Some(args::Sort::Harp) => chosen.sort_by_cached_key(|&tune| (harp(tune), title(tune))),
    }
    chosen.truncate(args.easiest.unwrap_or(usize::MAX));
}

/// Reads earlier answers of `book --json`.
fn merge(paths: &[PathBuf]) -> anyhow::Result<Found<(Entry, String)>> {
    let mut found = Found::none();
    for path in paths {
        let file = fs::File::open(path).map_err(files::plain).with_context(|| path.display().to_string())?;
        for (number, line) in (1..).zip(BufReader::new(file).lines()) {
            let line = line.with_context(|| path.display().to_string())?;
            match lines::read(&line) {
                Some(Read::Tune(entry)) => found.tunes.push((*entry, line + "\n")),
                Some(Read::Failure(file, error)) => found.failures.push((file, error)),
                None => {
                    bail!(
                        "{}, line {number}: this is not a line of `breathline book --json`; --merge joins only the \
                         answers of that command",
                        path.display()
                    )
                }
            }
        }
    }
    Ok(found)
}

/// Reads all tunes and finds the best way to play each tune.
fn survey(args: &args::Book) -> anyhow::Result<Found<(Entry, String)>> {
    let (player, harps) = tries(&args.player, &args.tries)?;
    tunes::each(&args.files, &player, |place, read| {
        let request = read.request(&player, &harps, args.tries.any_key);
        let (asked, ranking) = ways::rows(&request, &Wanted { own_key: args.own_key, ..Wanted::first(1) });
        let tune = read.tune();
        let entry = Entry::of(place, tune.title(), tune.key, &asked, ranking.best());
        let line = args.output.json.then(|| lines::line(&tune, &entry, &asked, ranking.best()));
        (entry, line.unwrap_or_default())
    })
}
