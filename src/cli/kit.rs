//! The harps to try: those named on the command line, else the player's own from the kit file, else the standard ones.
//!
//! The kit file is `breathline/kit.toml` in the user's configuration folder (`$XDG_CONFIG_HOME`, else `~/.config`):
//!
//! ```toml
//! harps = ["C", "A", "low-F", "Dm:natural-minor"]
//! ```

use std::{path::PathBuf, sync::Arc};

use anyhow::{Context, bail};
use breathline::{
    data,
    harp::{Harp, Register, Tuning},
};
use serde::Deserialize;

use super::files;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Kit {
    harps: Vec<String>,
}

/// Returns the harps to try, named one by one or by their tunings. `--harps` and `--tunings` override the kit file. In
/// `--harps`, `all`, `low` and `high` are the twelve Richter harps of that register; not every low or high harp is on sale
/// everywhere.
pub(super) fn harps(
    harps: &[String],
    of_tunings: &[String],
    tunings: &[Arc<Tuning>],
) -> anyhow::Result<Vec<Harp>> {
    let parse = |names: &[String]| -> anyhow::Result<Vec<Harp>> {
        if names.iter().any(|name| name.trim().is_empty()) {
            bail!("the list of harps has an empty place; write them with one comma between, as in C,G,low-F");
        }
        let mut harps = Vec::new();
        for name in names {
            match name.as_str() {
                "all" => harps.extend(Harp::set(Register::Standard, &Tuning::richter())),
                "low" => harps.extend(Harp::set(Register::Low, &Tuning::richter())),
                "high" => harps.extend(Harp::set(Register::High, &Tuning::richter())),
                name => harps.push(Harp::parse(name, tunings)?),
            }
        }
        Ok(harps)
    };
    match (harps, of_tunings) {
        ([], []) => match read()? {
            Some((path, kit)) => parse(&kit.harps).with_context(|| path.display().to_string()),
            None => Ok(Harp::standard_set(&Tuning::richter())),
        },
        ([], [all]) if all == "all" => Ok(tunings.iter().flat_map(Harp::standard_set).collect()),
        ([], named) => {
            let mut harps = Vec::new();
            for name in named {
                harps.extend(Harp::standard_set(&Tuning::find(name, tunings)?));
            }
            Ok(harps)
        }
        (named, _) => parse(named),
    }
}

/// Reads the kit file, if there is one.
fn read() -> anyhow::Result<Option<(PathBuf, Kit)>> {
    let variable = |name: &str| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
    let home = || variable("HOME").map(|home| home.join(".config"));
    let Some(folder) = variable("XDG_CONFIG_HOME").or_else(home) else { return Ok(None) };
    let path = folder.join("breathline").join("kit.toml");
    if !path.try_exists().unwrap_or(true) {
        return Ok(None);
    }
    let text = files::read_text(&path)?;
    let kit: Kit = data::read(&text).with_context(|| path.display().to_string())?;
    if kit.harps.is_empty() {
        bail!("{}: there is no harp in it; write harps = [\"C\", \"A\"]", path.display());
    }
    Ok(Some((path, kit)))
}
