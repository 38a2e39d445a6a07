//! Reader.

use super::{ImportError, Score};

/// Reads the bytes into a score.
///
/// # Errors
///
/// When nothing can be read.
pub fn read(bytes: &[u8]) -> Result<Score, ImportError> {
    let _ = bytes;
    Err(ImportError::NoNotes)
}
