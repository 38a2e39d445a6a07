//! Opens a written file with the system's program for it.

use std::path::Path;

use super::message;

/// Opens a file, without waiting for the program to end. A system without a program for the file causes no failure,
/// because the file is written.
pub(super) fn open(path: &Path) {
    if open::that_detached(path).is_err() {
        message::complain(&format!(
            "{} is written, but this system did not open it; open it yourself",
            path.display()
        ));
    }
}
