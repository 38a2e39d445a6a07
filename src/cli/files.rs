//! Reads files up to a limit, and explains failures in plain words.

use std::{
    fs::File,
    io::{self, ErrorKind, Read},
    path::Path,
};

use anyhow::{Context, bail};

/// The largest player, tuning or kit file of the user's own: ten times the largest built-in one.
pub(super) const MAX_TEXT: u64 = 64 << 10;

/// Returns the bytes of a file, `most` at most.
pub(super) fn read(path: &Path, most: u64) -> anyhow::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let read = File::open(path).and_then(|file| file.take(most).read_to_end(&mut bytes));
    read.map_err(plain).with_context(|| path.display().to_string())?;
    Ok(bytes)
}

/// Reads a text file of the user's own.
pub(super) fn read_text(path: &Path) -> anyhow::Result<String> {
    let bytes = read(path, MAX_TEXT + 1)?;
    if bytes.len() as u64 > MAX_TEXT {
        bail!("{}: the file is over the limit of {MAX_TEXT} bytes; is it the right one?", path.display());
    }
    String::from_utf8(bytes).map_err(|_| {
        anyhow::Error::msg(format!("{}: this is not plain text; save it as UTF-8", path.display()))
    })
}

/// Words common failures for a musician; other failures keep the system's words.
pub(super) fn plain(error: io::Error) -> anyhow::Error {
    anyhow::Error::msg(match error.kind() {
        ErrorKind::NotFound => "there is no such file; check the name and the folder",
        ErrorKind::PermissionDenied => "the file cannot be opened; check its permissions",
        ErrorKind::IsADirectory => "this is a folder; name a file in it",
        _ => return error.into(),
    })
}
