//! The command `breathline`: parse, run, exit code.

mod cli;

use std::process::ExitCode;

fn main() -> ExitCode {
    match cli::run(std::env::args_os()) {
        Ok(exit) => exit.into(),
        Err(error) => cli::message::failure(&error).into(),
    }
}
