//! `breathline book`: reads many tunes on all cores, and shows which of them suit the harps and the player.

use std::{
    fs,
    io::{BufRead, BufReader, IsTerminal, Write, stderr},
    path::{Path, PathBuf},
    sync::atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed},
    thread,
    time::{Duration, Instant},
};

use anyhow::{Context, bail};
use breathline::{
    book::{Entry, ladder},
    harp::Harp,
    json::book::{self as lines, Read},
    pages::book as pages,
    render::{csv, html},
    search::{Player, Request, Wanted, ways},
};
use rayon::prelude::*;

use super::{
    ReadTune, args, files,
    message::{self, Exit},
    show, tries,
};

/// The endings of tunes; of the files in a folder only these are read.
const ENDINGS: [&str; 6] = ["mid", "midi", "kar", "musicxml", "xml", "mxl"];

/// Set when the user asks to stop.
static STOP: AtomicBool = AtomicBool::new(false);

/// What was read: the tunes with their lines of JSON, and the files that could not be read with the reasons.
#[derive(Default)]
struct Survey {
    tunes: Vec<(Entry, String)>,
    failures: Vec<(String, String)>,
}

pub(super) fn book(args: &args::Book) -> anyhow::Result<Exit> {
    let Survey { tunes, failures } = if args.merge { merge(&args.files)? } else { survey(args)? };
    let (entries, json): (Vec<Entry>, Vec<String>) = tunes.into_iter().unzip();
    let is_full = |entry: &&Entry| entry.best.as_ref().is_some_and(|best| best.is_full);
    let (tunes, full) = (entries.len(), entries.iter().filter(is_full).count());
    // Each entry with its place, which leads to its line.
    let mut chosen: Vec<usize> = (0..tunes).filter(|&tune| wanted(args, &entries[tune])).collect();
    sort(args, &entries, &mut chosen);
    let shown: Vec<&Entry> = chosen.iter().map(|&tune| &entries[tune]).collect();
    let facts = pages::Chosen { shown: &shown, tunes, full, failures: &failures };
    let notation = (&args.notation).into();
    if let Some(path) = &args.page {
        let tab = |entry: &&Entry| {
            entry.best.as_ref().map_or_else(String::new, |best| pages::tab_line(best, notation))
        };
        let tabs: Vec<String> = shown.iter().map(tab).collect();
        files::write(path, html::book("Tunes", &pages::broad_page(facts), &tabs).as_bytes())?;
    }
    let failed = || failures.iter().map(|(file, error)| lines::failure(file, error));
    if let Some(most) = args.next {
        let choice: Vec<Entry> = shown.iter().map(|&entry| entry.clone()).collect();
        let rungs = ladder::ladder(&choice, most);
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
    Ok(match () {
        () if STOP.load(Relaxed) => {
            message::complain("stopped; these are the tunes that were finished");
            Exit::Interrupted
        }
        () if shown.is_empty() && !failures.is_empty() => Exit::Failed,
        () if shown.is_empty() => Exit::NothingPlayable,
        () => Exit::Answered,
    })
}

/// Whether the user wants to see a tune.
fn wanted(args: &args::Book, entry: &Entry) -> bool {
    let best = entry.best.as_ref();
    (!args.playable || best.is_some_and(|best| best.is_full))
        && (!args.no_bends || best.is_some_and(|best| best.bends == 0))
        && args.position.is_none_or(|position| best.is_some_and(|best| best.position == position))
        && args.key.is_none_or(|key| {
            entry.key.tonic == key.tonic && key.mode.is_none_or(|mode| mode == entry.key.mode)
        })
}

/// Puts the chosen tunes in order; every order keeps equals as in the files.
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

/// Reads earlier answers.
fn merge(paths: &[PathBuf]) -> anyhow::Result<Survey> {
    let mut survey = Survey::default();
    for path in paths {
        let file = fs::File::open(path).map_err(files::plain).with_context(|| path.display().to_string())?;
        for (number, line) in (1..).zip(BufReader::new(file).lines()) {
            let line = line.with_context(|| path.display().to_string())?;
            match lines::read(&line) {
                Some(Read::Tune(entry)) => survey.tunes.push((*entry, line + "\n")),
                Some(Read::Failure(file, error)) => survey.failures.push((file, error)),
                None => {
                    bail!("{}, line {number}: this is no line of `breathline book --json`", path.display())
                }
            }
        }
    }
    Ok(survey)
}

/// Reads all tunes and finds the best way to play each.
fn survey(args: &args::Book) -> anyhow::Result<Survey> {
    let (player, harps) = tries(&args.player, &args.tries)?;
    let mut survey = Survey::default();
    let mut paths = Vec::new();
    for path in &args.files {
        find(path, &mut paths, &mut survey.failures);
    }
    // A second Ctrl-C ends the program at once.
    let stop = || {
        if STOP.swap(true, Relaxed) {
            std::process::exit(Exit::Interrupted as i32)
        }
    };
    ctrlc::set_handler(stop).context("Ctrl-C cannot be watched for")?;
    let progress = Progress { files: paths.len(), ..Progress::default() };
    let read = |path: &PathBuf| {
        let found = if STOP.load(Relaxed) { Vec::new() } else { vec![tune(args, path, &player, &harps)] };
        progress.read.fetch_add(1, Relaxed);
        found
    };
    let found: Vec<_> = progress.shown_while(|| paths.par_iter().flat_map_iter(read).collect());
    for found in found {
        match found {
            Ok(tune) => survey.tunes.push(tune),
            Err(failure) => survey.failures.push(failure),
        }
    }
    Ok(survey)
}

/// Lists the tunes in a file or folder, by name.
fn find(path: &Path, paths: &mut Vec<PathBuf>, failures: &mut Vec<(String, String)>) {
    if !path.is_dir() {
        paths.push(path.to_owned());
        return;
    }
    let inside =
        fs::read_dir(path).and_then(|entries| entries.map(|entry| entry.map(|entry| entry.path())).collect());
    let mut inside: Vec<PathBuf> = match inside {
        Ok(inside) => inside,
        Err(error) => return failures.push((path.display().to_string(), files::plain(error).to_string())),
    };
    inside.sort();
    for path in inside {
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        // A link to a folder may lead back to where it stands.
        let is_folder = path.is_dir() && !path.is_symlink();
        if is_folder || ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str())) {
            find(&path, paths, failures);
        }
    }
}

/// Returns a tune's entry and line, or its file with what went wrong.
fn tune(
    args: &args::Book,
    path: &Path,
    player: &Player,
    harps: &[Harp],
) -> Result<(Entry, String), (String, String)> {
    let name = path.display().to_string();
    let read = ReadTune::new(&args::Source::of(path), player);
    let read = read.map_err(|error| (name.clone(), error.root_cause().to_string()))?;
    let request = Request {
        melody: &read.imported.melody,
        key: read.key.key,
        harps,
        technique: player.technique,
        weights: &player.weights,
        any_key: args.tries.any_key,
    };
    let (asked, ranking) = ways::rows(&request, &Wanted::first(1));
    let tune = read.tune();
    let entry = Entry::of((&name, 1), tune.title(), tune.key, &asked, ranking.best());
    let line = lines::line(&tune, &entry, &asked, ranking.best());
    Ok((entry, line))
}

/// How far the survey is.
#[derive(Default)]
struct Progress {
    files: usize,
    read: AtomicUsize,
    done: AtomicBool,
}

impl Progress {
    /// Shows the progress on a terminal, from the first second on, while the work is done.
    fn shown_while<T>(&self, work: impl FnOnce() -> T) -> T {
        if !stderr().is_terminal() {
            return work();
        }
        thread::scope(|scope| {
            scope.spawn(|| {
                let begun = Instant::now();
                while !self.done.load(Relaxed) {
                    thread::sleep(Duration::from_millis(100));
                    if begun.elapsed() >= Duration::from_secs(1) {
                        let _ = write!(stderr(), "\r{} of {} files ", self.read.load(Relaxed), self.files);
                    }
                }
                // Clears the line.
                let _ = write!(stderr(), "\r\u{1b}[K");
            });
            let result = work();
            self.done.store(true, Relaxed);
            result
        })
    }
}
