//! Pinned holes from the command line, and from a small file beside the tune (`tune.pins` beside `tune.mid`).

use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use breathline::{
    import::TuneChoice,
    melody::Melody,
    pages::Tune,
    pins::{self, WrittenPin},
    search::Pin,
};

use super::{
    args, files, message,
    save::{self, Guard},
};

/// Returns the pins for a tune: the pins kept beside it, and the pins of the command line.
pub(super) fn read(args: &args::Pins, source: &args::Source, melody: &Melody) -> anyhow::Result<Vec<Pin>> {
    let place = beside(source);
    if args.keep && place.is_none() {
        bail!("--keep needs a tune from a file; typed or piped notes have no place for the pins");
    }
    let mut written = Vec::new();
    if let Some(path) = place {
        let named = || path.display().to_string();
        written = kept(args, &path)?;
        pins::find(&written, melody).with_context(named)?;
        match written.len() {
            0 => {}
            1 => message::complain(&format!("1 pinned hole from {}; --free leaves it out", named())),
            count => {
                message::complain(&format!("{count} pinned holes from {}; --free leaves them out", named()))
            }
        }
    }
    written.extend(&args.at);
    Ok(pins::find(&written, melody)?)
}

/// Saves the pins beside the tune, if the user asked for it. The caller must first make sure that a harp can play all
/// pins, because other pins would stop every later answer.
pub(super) fn keep(args: &args::Pins, source: &args::Source, tune: &Tune) -> anyhow::Result<()> {
    let Some(path) = beside(source).filter(|_| args.keep) else { return Ok(()) };
    let mut written = kept(args, &path)?;
    written.extend(&args.at);
    let text = pins::write_file(tune.title(), &pins::latest(&written));
    save::save(&[(path, text.into_bytes())], &Guard::nothing(false))
}

/// Reads the pins file beside a tune. Returns no pins if there is no file, or if the user excluded it.
fn kept(args: &args::Pins, path: &Path) -> anyhow::Result<Vec<WrittenPin>> {
    if args.free || !path.is_file() {
        return Ok(Vec::new());
    }
    pins::read_file(&files::read_text(path)?).with_context(|| path.display().to_string())
}

/// Returns the path of the pins file beside a tune; `None` for a tune from standard input. If the user chose the tune
/// with `--tune`, the name contains this choice: `session-12.pins`.
fn beside(source: &args::Source) -> Option<PathBuf> {
    if source.file.as_os_str() == "-" {
        return None;
    }
    let mut name = source.file.file_stem()?.to_owned();
    if let Some(choice) = &source.tune {
        let choice = match choice {
            TuneChoice::Number(..) => choice.to_string(),
            TuneChoice::Title(title) => title.chars().filter(|c| c.is_alphanumeric()).collect(),
        };
        name.push(format!("-{choice}"));
    }
    name.push(".pins");
    Some(source.file.with_file_name(name))
}
