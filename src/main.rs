//! The program `breathline`: parses the arguments, runs the command that they name, and sets the exit code.

#![warn(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run(std::env::args_os()) {
        Ok(exit) => exit.into(),
        Err(error) => cli::message::failure(&error).into(),
    }
}
