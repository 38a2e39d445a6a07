//! The zip container of compressed MusicXML.

use super::ImportError;

/// The bytes of the score inside the container.
///
/// # Errors
///
/// When there is no score inside.
pub fn unpack(bytes: &[u8]) -> Result<Vec<u8>, ImportError> {
    let _ = bytes;
    Err(ImportError::NoNotes)
}
