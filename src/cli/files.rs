//! Reads files up to a limit, and explains failures in plain words.

use std::{
    fs::{self, File},
    io::{self, ErrorKind, Read},
    path::Path,
};

use anyhow::{Context, bail};
use breathline::near;

/// The largest size of a user's own player, tuning or kit file, in bytes: more than twenty times the largest built-in
/// file.
pub(super) const MAX_TEXT: u64 = 64 << 10;

/// Returns the bytes of a file, up to `most`.
pub(super) fn read(path: &Path, most: u64) -> anyhow::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    let read = File::open(path).and_then(|file| file.take(most).read_to_end(&mut bytes));
    read.map_err(|error| missing(path, &error).unwrap_or_else(|| plain(error)))
        .with_context(|| path.display().to_string())?;
    Ok(bytes)
}

/// Names the file that the user probably meant, if no file has the given name.
fn missing(path: &Path, error: &io::Error) -> Option<anyhow::Error> {
    /// The most files of a folder that are searched for a similar name.
    const MOST: usize = 10_000;
    if error.kind() != ErrorKind::NotFound {
        return None;
    }
    let folder = path.parent()?;
    let inside = fs::read_dir(if folder.as_os_str().is_empty() { Path::new(".") } else { folder }).ok()?;
    let mut names: Vec<String> =
        inside.flatten().take(MOST).filter_map(|entry| entry.file_name().into_string().ok()).collect();
    names.sort();
    let name = path.file_name()?.to_str()?;
    let same = |known: &&String| {
        Path::new(known).file_stem() == path.file_stem() || Path::new(known).file_stem() == path.file_name()
    };
    let meant = match names.iter().find(same) {
        Some(same) => same,
        None => near::nearest(name, names.iter().map(String::as_str).filter(|known| known.len() > 3))?,
    };
    Some(anyhow::Error::msg(format!("there is no such file; is it {}?", folder.join(meant).display())))
}

/// Reads a text file that the user wrote, such as a tuning.
pub(super) fn read_text(path: &Path) -> anyhow::Result<String> {
    let bytes = read(path, MAX_TEXT + 1)?;
    if bytes.len() as u64 > MAX_TEXT {
        bail!("{}: the file is over the limit of {MAX_TEXT} bytes; is it the right one?", path.display());
    }
    String::from_utf8(bytes).map_err(|_| {
        anyhow::Error::msg(format!("{}: this is not plain text; save it as UTF-8", path.display()))
    })
}

/// Explains common failures to a musician. Other failures keep the system's message.
pub(super) fn plain(error: io::Error) -> anyhow::Error {
    anyhow::Error::msg(match error.kind() {
        ErrorKind::NotFound => "there is no such file; check the name and the folder",
        ErrorKind::PermissionDenied => "the file cannot be opened; check its permissions",
        ErrorKind::IsADirectory => "this is a folder; name a file in it",
        _ => return error.into(),
    })
}
