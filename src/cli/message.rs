//! The program's output: answers on stdout, everything else on stderr, and the exit code.

use std::{
    borrow::Cow,
    io::{self, IsTerminal, Write},
    process::ExitCode,
};

use anyhow::Context;
use breathline::clean::visible;
use itertools::Itertools;

use super::args::Colour;

/// The exit code.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Exit {
    /// An answer was given.
    Answered = 0,
    /// The files were read, but there is nothing to show: no harp sounds a note of the tune in the requested position,
    /// octave and part of the harp, or no tune of a book passes the filters.
    NothingPlayable = 1,
    /// The command line or a file could not be understood, or a file could not be read or written.
    Failed = 2,
    /// The user stopped the command. The answer has the tunes finished by then, unless the user stopped it twice.
    Interrupted = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit as u8)
    }
}

/// Writes an answer unchanged. A reader that stops early (`| head`) is not an error.
pub(crate) fn answer(text: &str) -> anyhow::Result<()> {
    match stdout().and_then(|mut out| out.write_all(text.as_bytes()).and_then(|()| out.flush())) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(super::save::plain(error)).context("the answer cannot be written to standard output")
        }
        _ => Ok(()),
    }
}

/// Returns standard output as a file. `io::stdout` reports success even when standard output is closed.
#[cfg(unix)]
fn stdout() -> io::Result<impl Write> {
    use std::{fs::File, os::fd::AsFd};
    if super::closed::standard_output() {
        return Err(io::Error::other("it is closed"));
    }
    io::stdout().as_fd().try_clone_to_owned().map(File::from)
}

#[cfg(not(unix))]
fn stdout() -> io::Result<impl Write> {
    Ok(io::stdout().lock())
}

/// Writes one line of an answer.
pub(crate) fn say(line: &str) -> anyhow::Result<()> {
    answer(&(visible(line) + "\n"))
}

/// Writes one line about an error, and returns the exit code.
pub(crate) fn failure(error: &anyhow::Error) -> Exit {
    complain(&format!("{error:#}"));
    Exit::Failed
}

/// Writes one line to stderr.
pub(crate) fn complain(line: &str) {
    explain(&format!("breathline: {}", line.split_whitespace().join(" ")));
}

/// Writes lines to stderr, cleaned and shortened to a readable length.
pub(crate) fn explain(text: &str) {
    for line in text.lines() {
        // A failure to write this line cannot be reported; the exit code still shows an error.
        let _ = writeln!(io::stderr().lock(), "{}", shortened(&visible(line)));
    }
}

/// Returns a line of fewer than 200 characters. If the line is longer, the middle of the longest word, which is usually
/// a path, is cut; if that is not enough, the middle of the line.
fn shortened(line: &str) -> Cow<'_, str> {
    const MOST: usize = 199;
    /// The least number of characters in which a shortened word can still be recognised.
    const LEAST: usize = 30;
    let over = line.chars().count().saturating_sub(MOST);
    let length = |word: &&str| word.chars().count();
    match line.split(' ').max_by_key(length) {
        _ if over == 0 => line.into(),
        Some(word) if length(&word) >= over + LEAST => {
            line.replacen(word, &without_middle(word, length(&word) - over), 1).into()
        }
        _ => without_middle(line, MOST).into(),
    }
}

/// Returns the beginning and the end of a text that is longer than `most` characters, joined by an ellipsis.
fn without_middle(text: &str, most: usize) -> String {
    let beginning = most * 2 / 5;
    let end = text.chars().count() - (most - beginning - 1);
    text.chars().take(beginning).chain(['…']).chain(text.chars().skip(end)).collect()
}

/// Returns whether to use colours: on request, or on a terminal whose user has not declined them (`NO_COLOR`, see
/// no-color.org; `TERM=dumb`).
pub(crate) fn is_colourful(wish: Colour) -> bool {
    let declined = || {
        std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty())
            || std::env::var_os("TERM").is_some_and(|value| value == "dumb")
    };
    match wish {
        Colour::Always => true,
        Colour::Never => false,
        Colour::Auto => io::stdout().is_terminal() && !declined(),
    }
}
