//! Opens a written file with the system's program for it.

use std::path::Path;

use super::message;

/// Opens a file, without waiting for the program to end. A missing program for the file is not an error, because the
/// file is already written.
pub(super) fn open(path: &Path) {
    if open::that_detached(path).is_err() {
        message::complain(&format!(
            "{} is written, but this system did not open it; open it yourself",
            path.display()
        ));
    }
}
