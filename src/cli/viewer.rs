//! Opens a file that was written with the system's program for it.

use std::path::Path;

use super::message;

/// Opens a file, and does not wait for its program to end. A machine without a program for it is no failure: the file is
/// written.
pub(super) fn open(path: &Path) {
    if open::that_detached(path).is_err() {
        message::complain(&format!(
            "{} is written, but this system did not open it; open it yourself",
            path.display()
        ));
    }
}
