//! Writes files, all or none. Each file is written under a temporary name in the same folder and then renamed, so a
//! failure leaves the old files unchanged.

use std::{
    fs::{self, File},
    io::{self, ErrorKind, Read, Write},
    path::{Path, PathBuf},
};

use anyhow::{Context, bail};
use breathline::import::{MAX_BYTES, mxl};
use same_file::Handle;

use super::args;

/// The marks by which breathline recognises its own files, without the version that follows most of them: one each for
/// HTML, SVG, PDF, PNG and MusicXML, one for both MIDI and manual pages, one each for ABC and pins.
const MARKS: [&[u8]; 8] = [
    b"<meta name=\"generator\" content=\"breathline ",
    b"<metadata>breathline ",
    b"/Producer (breathline ",
    b"tEXtSoftware\0breathline ",
    b"<software>breathline ",
    b"Written by breathline ",
    b"%%abc-creator breathline ",
    b"# breathline: the pinned holes",
];

/// The number of bytes at the beginning of a file that are searched for a mark. In every format, the mark is within
/// these bytes.
const HEAD: usize = 1 << 20;

/// Which files may be replaced.
pub(super) struct Guard<'a> {
    /// The input files of the answer.
    inputs: Vec<&'a Path>,
    /// Whether the user allows the replacement of a file that breathline did not write.
    force: bool,
}

impl<'a> Guard<'a> {
    pub(super) fn new(source: &'a args::Source, player: &'a args::Player, force: bool) -> Guard<'a> {
        Guard::of(std::slice::from_ref(&source.file), player, force)
    }

    /// Guards output for which no input file needs protection.
    pub(super) fn nothing(force: bool) -> Guard<'a> {
        Guard { inputs: Vec::new(), force }
    }

    /// Guards the output of an answer about these tunes and this player.
    pub(super) fn of(tunes: &'a [PathBuf], player: &'a args::Player, force: bool) -> Guard<'a> {
        let files = tunes.iter().chain(&player.tuning_file).map(PathBuf::as_path);
        Guard { inputs: files.chain([Path::new(&player.player)]).collect(), force }
    }

    /// Adds an input file.
    #[cfg(feature = "sheet")]
    pub(super) fn and(mut self, input: Option<&'a Path>) -> Guard<'a> {
        self.inputs.extend(input);
        self
    }
}

/// Writes files to their paths, all or none.
pub(super) fn save(files: &[(PathBuf, Vec<u8>)], guard: &Guard) -> anyhow::Result<()> {
    let mut drafts = Vec::new();
    for (path, bytes) in files {
        let named = || path.display().to_string();
        let place = check(path, guard).with_context(named)?;
        drafts.push(Draft::new(place, bytes).map_err(plain).with_context(named)?);
    }
    // A single file is renamed into place at once. If there are several files, the old ones are copied first, to be
    // restored if a later file fails.
    let mut old = Vec::new();
    if drafts.len() > 1 {
        for Draft { place, .. } in &drafts {
            old.push(Draft::of_old(place).map_err(plain).with_context(|| place.display().to_string())?);
        }
    }
    for (index, draft) in drafts.iter().enumerate() {
        if let Err(error) = draft.take_place() {
            for (draft, old) in drafts.iter().zip(&old).take(index) {
                // If this fails as well, the first failure is still the one to report.
                let _ = old.as_ref().map_or_else(|| fs::remove_file(&draft.place), Draft::take_place);
            }
            return Err(plain(error)).with_context(|| draft.place.display().to_string());
        }
    }
    Ok(())
}

/// Returns the path at which a file is written: its own path, or the path of the file that a link leads to. Refuses
/// files that must not be replaced.
fn check(path: &Path, guard: &Guard) -> anyhow::Result<PathBuf> {
    let found = match fs::metadata(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(path.to_owned()),
        found => found.map_err(plain)?,
    };
    if found.is_dir() {
        bail!("a folder has this name; choose another name for the file");
    }
    if !found.is_file() {
        bail!("this is not an ordinary file; choose another name");
    }
    let handle = Handle::from_path(path).map_err(plain)?;
    let is_input = |input: &&Path| {
        match input.as_os_str() == "-" {
            true => Handle::stdin(),
            false => Handle::from_path(input),
        }
        .is_ok_and(|input| input == handle)
    };
    if guard.inputs.iter().any(is_input) {
        bail!("this is one of the input files; choose another name for the output");
    }
    if !guard.force && !is_ours(path).map_err(plain)? {
        bail!("this file exists, and breathline did not write it; choose another name, or add --force");
    }
    fs::canonicalize(path).map_err(plain)
}

/// Whether a file has a mark of breathline.
pub(super) fn is_ours(path: &Path) -> io::Result<bool> {
    let mut bytes = Vec::new();
    File::open(path)?.take(MAX_BYTES as u64).read_to_end(&mut bytes)?;
    let bytes = mxl::unpack(&bytes).unwrap_or(bytes);
    let head = &bytes[..bytes.len().min(HEAD)];
    Ok(MARKS.iter().any(|mark| head.windows(mark.len()).any(|part| part == *mark)))
}

/// A file that is written but does not have its final name yet. If it is dropped without that name, it is deleted.
struct Draft {
    at: PathBuf,
    place: PathBuf,
}

impl Draft {
    fn new(place: PathBuf, bytes: &[u8]) -> io::Result<Draft> {
        let (mut file, draft) = (0..=u32::MAX)
            .map(|number| {
                let name = format!(".breathline-{}-{number}", std::process::id());
                let at = place.with_file_name(name);
                File::create_new(&at).map(|file| (file, Draft { at, place: place.clone() }))
            })
            .find(|made| !matches!(made, Err(error) if error.kind() == ErrorKind::AlreadyExists))
            .unwrap_or_else(|| Err(ErrorKind::AlreadyExists.into()))?;
        file.write_all(bytes)?;
        if let Ok(old) = fs::metadata(&draft.place) {
            file.set_permissions(old.permissions())?;
        }
        // Some disks report only now that they are full.
        file.sync_all()?;
        Ok(draft)
    }

    /// Returns a draft with the old file's content, if there is an old file.
    fn of_old(place: &Path) -> io::Result<Option<Draft>> {
        match fs::read(place) {
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(None),
            old => Draft::new(place.to_owned(), &old?).map(Some),
        }
    }

    fn take_place(&self) -> io::Result<()> {
        fs::rename(&self.at, &self.place)
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        // After `take_place` the temporary file no longer exists.
        let _ = fs::remove_file(&self.at);
    }
}

/// Explains common failures of writing to a musician. Other failures keep the system's message.
pub(super) fn plain(error: io::Error) -> anyhow::Error {
    anyhow::Error::msg(match error.kind() {
        ErrorKind::NotFound => "there is no such folder; make it first",
        ErrorKind::NotADirectory => "a file has the name of the folder; choose another folder",
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
            "the file cannot be written; check the permissions of the file and its folder"
        }
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => {
            "the disk is full; make room or choose another disk"
        }
        ErrorKind::ResourceBusy => "another program uses this file; close it there and try again",
        ErrorKind::FileTooLarge => {
            "the file is larger than this system allows; raise the limit or choose a smaller format"
        }
        ErrorKind::InvalidFilename => {
            "the name is too long or has characters that a file name cannot have; choose another"
        }
        _ => return error.into(),
    })
}
