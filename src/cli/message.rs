//! The program's output: answers to stdout, everything else to stderr, and the exit code.

use std::{
    io::{self, IsTerminal, Write},
    process::ExitCode,
};

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

/// Writes an answer. A reader that stops early (`| head`) is no error.
pub(crate) fn answer(text: &str) -> anyhow::Result<()> {
    match io::stdout().lock().write_all(text.as_bytes()) {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(error.into()),
        _ => Ok(()),
    }
}

/// Writes one line about what went wrong.
pub(crate) fn failure(error: &anyhow::Error) -> Exit {
    complain(&format!("{error:#}"));
    Exit::Failed
}

/// Writes one line to stderr.
pub(crate) fn complain(line: &str) {
    // If even that line cannot be written, the exit code still shows the failure.
    let _ = writeln!(io::stderr().lock(), "breathline: {line}");
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
