//! Reads files and folders of many tunes on all cores. If a file or a tune cannot be read, the others are still read.

use std::{
    fs,
    path::{Path, PathBuf},
    sync::atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed},
};

use anyhow::Context;
use breathline::{
    import::{Book, ImportOptions, TuneEntry},
    question::{ReadTune, Said},
    search::Player,
};
use rayon::prelude::*;

use super::{
    files,
    message::{self, Exit},
    name_of, progress, read_bytes,
};

/// The endings of tunes' files. In a folder, only files with these endings are read.
const ENDINGS: [&str; 7] = ["mid", "midi", "kar", "musicxml", "xml", "mxl", "abc"];

/// Set when the user asks breathline to stop.
static STOP: AtomicBool = AtomicBool::new(false);

/// The result for each tune, and the files and tunes that could not be read, each with the reason.
pub(super) struct Found<T> {
    pub(super) tunes: Vec<T>,
    pub(super) failures: Vec<(String, String)>,
}

impl<T> Found<T> {
    pub(super) fn none() -> Found<T> {
        Found { tunes: Vec::new(), failures: Vec::new() }
    }

    /// Returns the exit code of a command that shows a number of results. Says so if the user stopped the command.
    pub(super) fn exit(&self, shown: usize) -> Exit {
        if STOP.load(Relaxed) {
            message::complain("stopped; these are the tunes that were finished");
            return Exit::Interrupted;
        }
        match (shown, self.failures.as_slice()) {
            (0, [_, ..]) => Exit::Failed,
            (0, []) => Exit::NothingPlayable,
            _ => Exit::Answered,
        }
    }
}

/// Reads every tune and calls `look` with its file, the list of the file's tunes, its index in that list, and the tune.
/// The results are in the order of the files; in a folder, in the order of the names. Ctrl-C skips the tunes that are
/// left.
pub(super) fn each<T: Send>(
    files: &[PathBuf],
    player: &Player,
    look: impl Fn((&Path, &[TuneEntry], usize), &ReadTune) -> T + Sync,
) -> anyhow::Result<Found<T>> {
    let mut found = Found::none();
    let mut paths = Vec::new();
    for path in files {
        find(path, &mut paths, &mut found.failures);
    }
    // A second Ctrl-C ends the program at once.
    let stop = || {
        if STOP.swap(true, Relaxed) {
            std::process::exit(Exit::Interrupted as i32)
        }
    };
    ctrlc::set_handler(stop).context("breathline cannot watch for Ctrl-C")?;
    let (tunes_read, files_read) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let look_at = |path: &Path, book: &Book, tune: usize| {
        let read = book.read(tune, &ImportOptions::default());
        tunes_read.fetch_add(1, Relaxed);
        read.map(|imported| {
            look((path, book.tunes(), tune), &ReadTune::new(name_of(path), imported, player, Said::default()))
        })
        .map_err(|error| {
            let name = path.display();
            match book.tunes() {
                [_] => (name.to_string(), error.to_string()),
                tunes => (format!("{name}, tune {}", tunes[tune].choice()), error.to_string()),
            }
        })
    };
    let read = |path: &PathBuf| -> Vec<Result<T, (String, String)>> {
        if STOP.load(Relaxed) {
            return Vec::new();
        }
        let failed = |error: String| vec![Err((path.display().to_string(), error))];
        let results = match read_bytes(path) {
            Err(error) => failed(error.root_cause().to_string()),
            Ok(bytes) => match Book::open(&bytes) {
                Err(error) => failed(error.to_string()),
                Ok(book) => {
                    let tunes = (0..book.tunes().len()).into_par_iter();
                    tunes.filter(|_| !STOP.load(Relaxed)).map(|tune| look_at(path, &book, tune)).collect()
                }
            },
        };
        files_read.fetch_add(1, Relaxed);
        results
    };
    let line = || {
        let (tunes, read) = (tunes_read.load(Relaxed), files_read.load(Relaxed));
        format!("files read: {read} of {}, tunes: {tunes}", paths.len())
    };
    let results: Vec<_> = progress::shown_while(line, || paths.par_iter().flat_map(read).collect());
    for result in results {
        match result {
            Ok(tune) => found.tunes.push(tune),
            Err(failure) => found.failures.push(failure),
        }
    }
    Ok(found)
}

/// Whether a file's name has the ending of a tune's file.
pub(super) fn is_tune(path: &Path) -> bool {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
}

/// Adds the path of a file, or the paths of the tunes' files in a folder and in the folders inside it, in the order of
/// their names.
fn find(path: &Path, paths: &mut Vec<PathBuf>, failures: &mut Vec<(String, String)>) {
    if !path.is_dir() {
        paths.push(path.to_owned());
        return;
    }
    let entries = fs::read_dir(path);
    let inside = entries.and_then(|entries| entries.map(|entry| entry.map(|entry| entry.path())).collect());
    let mut inside: Vec<PathBuf> = match inside {
        Ok(inside) => inside,
        Err(error) => return failures.push((path.display().to_string(), files::plain(error).to_string())),
    };
    inside.sort();
    for path in inside {
        // A link to a folder may lead back to a folder above it.
        let is_folder = path.is_dir() && !path.is_symlink();
        if is_folder || is_tune(&path) {
            find(&path, paths, failures);
        }
    }
}
