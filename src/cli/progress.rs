//! A line on stderr while something lasts: only on a terminal, and only from the first second on.

use std::{
    io::{IsTerminal, Write, stderr},
    sync::mpsc::{self, RecvTimeoutError},
    thread,
    time::{Duration, Instant},
};

/// Does the work, and meanwhile shows what it is and the seconds so far.
pub(super) fn shown<T>(what: &str, work: impl FnOnce() -> T) -> T {
    shown_while(|| what.to_owned(), work)
}

/// Does the work, and meanwhile shows how far it is: what `line` returns then, and the seconds so far.
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
                // Whatever was there longer is cleared. If the line cannot be written, the work goes on.
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
