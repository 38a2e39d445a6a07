//! The program's output: answers to stdout, everything else to stderr, and the exit code.

use std::{
    borrow::Cow,
    io::{self, IsTerminal, Write},
    process::ExitCode,
};

use anyhow::Context;
use breathline::clean::visible;
use itertools::Itertools;

use super::args::Colour;

/// How the program ends.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Exit {
    /// There is an answer.
    Answered = 0,
    /// The tune was read, but none of the harps sounds a single note of it, or none does in the position, octave or part of the
    /// harp that was asked for.
    NothingPlayable = 1,
    /// The command line, a file or the tune in it could not be understood.
    Failed = 2,
    /// The user stopped it; the answer has what was finished by then.
    Interrupted = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit as u8)
    }
}

/// Writes an answer in which all foreign text is clean already. A reader that stops early (`| head`) is no error.
pub(crate) fn answer(text: &str) -> anyhow::Result<()> {
    match stdout().and_then(|mut out| out.write_all(text.as_bytes()).and_then(|()| out.flush())) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
            Err(super::save::plain(error)).context("the answer cannot be written to standard output")
        }
        _ => Ok(()),
    }
}

/// Returns standard output as a file, because `io::stdout` reports success even when it is closed.
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

/// Writes one line about what went wrong.
pub(crate) fn failure(error: &anyhow::Error) -> Exit {
    complain(&format!("{error:#}"));
    Exit::Failed
}

/// Writes one line to stderr.
pub(crate) fn complain(line: &str) {
    explain(&format!("breathline: {}", line.split_whitespace().join(" ")));
}

/// Writes lines to stderr, each of them clean and of a length that can be read.
pub(crate) fn explain(text: &str) {
    for line in text.lines() {
        // If even that cannot be written, the exit code still shows the failure.
        let _ = writeln!(io::stderr().lock(), "{}", shortened(&visible(line)));
    }
}

/// Returns a line within 200 characters. The middle of its longest word goes, which is a path or a quotation; if that is not
/// enough, the middle of the line.
fn shortened(line: &str) -> Cow<'_, str> {
    const MOST: usize = 199;
    /// So much of a word still tells which word it was.
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

/// Returns the beginning and the end of a text that is longer than `most` characters.
fn without_middle(text: &str, most: usize) -> String {
    let beginning = most * 2 / 5;
    let end = text.chars().count() - (most - beginning - 1);
    text.chars().take(beginning).chain(['…']).chain(text.chars().skip(end)).collect()
}

/// Returns whether to use colours: on request, or on a terminal that has not declined them (`NO_COLOR`, see no-color.org;
/// `TERM=dumb`).
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
