//! A line on stderr during long work: only on a terminal, and only after the first second.

use std::{
    io::{IsTerminal, Write, stderr},
    sync::mpsc::{self, RecvTimeoutError},
    thread,
    time::{Duration, Instant},
};

/// Does the work, and shows its name and the seconds so far.
pub(super) fn shown<T>(what: &str, work: impl FnOnce() -> T) -> T {
    shown_while(|| what.to_owned(), work)
}

/// Does the work, and shows the progress text that `line` returns, with the seconds so far.
pub(super) fn shown_while<T>(line: impl Fn() -> String + Send, work: impl FnOnce() -> T) -> T {
    if !stderr().is_terminal() {
        return work();
    }
    thread::scope(|scope| {
        // The end of the work closes the channel.
        let (working, done) = mpsc::channel::<()>();
        scope.spawn(move || {
            let begun = Instant::now();
            let mut wait = Duration::from_secs(1);
            while done.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                wait = Duration::from_millis(200);
                // The escape code at the end clears the rest of a longer line. If the line cannot be written, the work
                // continues.
                let _ = write!(stderr(), "\r{}, {} s\u{1b}[K", line(), begun.elapsed().as_secs());
            }
            if begun.elapsed() >= Duration::from_secs(1) {
                let _ = write!(stderr(), "\r\u{1b}[K");
            }
        });
        let result = work();
        drop(working);
        result
    })
}
