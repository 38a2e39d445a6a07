//! Reads files up to a limit and writes them; words errors plainly.

use std::{
    fs::File,
    io::{self, ErrorKind, Read},
    path::Path,
};

use anyhow::{Context, bail};

/// The largest file of the user's own (a player, a tuning, a kit): ten times the largest built-in one.
pub(super) const MAX_TEXT: u64 = 64 << 10;

/// The bytes of a file, at most so many.
pub(super) fn read(path: &Path, most: u64) -> anyhow::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let read = File::open(path).and_then(|file| file.take(most).read_to_end(&mut bytes));
    read.map_err(plain).with_context(|| path.display().to_string())?;
    Ok(bytes)
}

/// A text file of the user's own.
pub(super) fn read_text(path: &Path) -> anyhow::Result<String> {
    let bytes = read(path, MAX_TEXT + 1)?;
    if bytes.len() as u64 > MAX_TEXT {
        bail!("{}: the file is over the limit of {MAX_TEXT} bytes; is it the right one?", path.display());
    }
    String::from_utf8(bytes)
        .with_context(|| format!("{}: this is no plain text; save it as UTF-8", path.display()))
}

/// Writes a file anew.
pub(super) fn write(path: &Path, bytes: &[u8]) -> anyhow::Result<()> {
    let written = std::fs::write(path, bytes).map_err(|error| match error.kind() {
        ErrorKind::NotFound => anyhow::Error::msg("there is no such folder; make it first"),
        ErrorKind::PermissionDenied => {
            anyhow::Error::msg("the file may not be written; check its permissions")
        }
        _ => plain(error),
    });
    written.with_context(|| path.display().to_string())
}

/// The common failures in a musician's words; the others in the system's.
fn plain(error: io::Error) -> anyhow::Error {
    anyhow::Error::msg(match error.kind() {
        ErrorKind::NotFound => "there is no such file; check the name and the folder",
        ErrorKind::PermissionDenied => "the file may not be read; check its permissions",
        ErrorKind::IsADirectory => "this is a folder; name a file in it",
        _ => return error.into(),
    })
}
