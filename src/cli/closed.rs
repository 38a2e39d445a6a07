//! Tells whether standard output was closed before the program started (`>&-`).
//!
//! Before `main`, the standard library opens the null device in place of a closed stream, and an answer written there
//! would be lost silently. This module therefore checks earlier, in a function that the system's loader calls.

use std::sync::atomic::{AtomicBool, Ordering};

static WAS_CLOSED: AtomicBool = AtomicBool::new(false);

/// Asks the system for the flags of standard output, which only an open stream has. This function must not use any part
/// of the standard library that needs initialisation.
#[ctor::ctor(unsafe)]
fn look() {
    let flags = rustix::io::fcntl_getfd(rustix::stdio::stdout());
    WAS_CLOSED.store(flags.is_err(), Ordering::Relaxed);
}

/// Whether standard output was closed when the program started.
pub(super) fn standard_output() -> bool {
    WAS_CLOSED.load(Ordering::Relaxed)
}
