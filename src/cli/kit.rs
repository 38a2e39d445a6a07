//! The player's kit: harps, level, marks and paper, kept in a file. A setting of the kit applies to every command that
//! has an option of this name, unless the user gives the option. Only `--bends` of `harp`, which has another meaning,
//! does not use the kit.
//!
//! The file is `breathline/kit.toml` in the user's configuration folder (`$XDG_CONFIG_HOME`, or `~/.config`; on Windows
//! `AppData\Roaming`):
//!
//! ```toml
//! harps = ["C", "A", "low-F", "Dm:natural-minor"]
//! player = "beginner"
//! tab_style = "arrows"
//! ```

use std::{
    io::{IsTerminal, stderr},
    path::PathBuf,
    sync::Arc,
};

use anyhow::{Context, bail};
use breathline::{
    data,
    harp::{Harp, HarpError, Tuning},
    near, pages,
};
use clap::ValueEnum;
use etcetera::BaseStrategy;
use serde::{Deserialize, Serialize};

use super::{
    args::{self, BendMark, OverMark, Style, Technique},
    files,
    message::{self, Exit},
    save::{self, Guard},
    show,
};

/// The kit's settings, as words of the command line.
#[derive(Deserialize, Serialize, Default, Clone, PartialEq)]
#[serde(deny_unknown_fields)]
pub(super) struct Kit {
    #[serde(skip_serializing_if = "Option::is_none")]
    harps: Option<Vec<String>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    player: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bends: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tab_style: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    bend_mark: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    over_mark: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    paper: Option<String>,
}

impl Kit {
    /// Returns the settings other than the harps: the name of each option in `args`, its value, and its possible values
    /// (an empty list if the kit cannot check the value).
    fn settings(&mut self) -> [(&'static str, &mut Option<String>, Vec<String>); 6] {
        fn words<T: ValueEnum>() -> Vec<String> {
            let values = T::value_variants().iter().filter_map(ValueEnum::to_possible_value);
            values.map(|value| value.get_name().to_owned()).collect()
        }
        #[cfg(feature = "sheet")]
        let papers = words::<args::Paper>();
        #[cfg(not(feature = "sheet"))]
        let papers = Vec::new();
        [
            ("player", &mut self.player, Vec::new()),
            ("bends", &mut self.bends, words::<Technique>()),
            ("tab_style", &mut self.tab_style, words::<Style>()),
            ("bend_mark", &mut self.bend_mark, words::<BendMark>()),
            ("over_mark", &mut self.over_mark, words::<OverMark>()),
            ("paper", &mut self.paper, papers),
        ]
    }

    /// Makes the kit's settings, except the harps, the defaults of every command other than `kit`. [`harps`] reads the
    /// kit's harps.
    pub(super) fn defaults(mut self, command: clap::Command) -> clap::Command {
        let mut command = command;
        let names: Vec<String> = command.get_subcommands().map(|sub| sub.get_name().to_owned()).collect();
        for (id, value, _) in self.settings() {
            let Some(value) = value else { continue };
            for name in names.iter().filter(|name| *name != "kit") {
                command = command.mut_subcommand(name, |sub| {
                    let has = sub.get_arguments().any(|arg| arg.get_id() == id);
                    // `harp` uses `--bends` for the bends to show, not for the player's technique.
                    if has && name != "harp" {
                        sub.mut_arg(id, |arg| arg.default_value(value.clone()))
                    } else {
                        sub
                    }
                });
            }
        }
        command
    }

    /// Returns the kit in one line: "C, A, low-F; player beginner".
    fn line(&self) -> String {
        let mut kit = self.clone();
        let harps = self.harps.as_ref().map(|harps| harps.join(", "));
        let others = kit
            .settings()
            .map(|(id, value, _)| value.as_ref().map(|value| format!("{} {value}", id.replace('_', " "))));
        harps.into_iter().chain(others.into_iter().flatten()).collect::<Vec<_>>().join("; ")
    }

    /// Says on a terminal that a kit is in use.
    pub(super) fn tell(&self) {
        if *self != Kit::default() && stderr().is_terminal() {
            message::complain(&format!("with your kit ({})", self.line()));
        }
    }
}

/// Returns the name of a harp with a capital letter for its key, as every answer writes keys: "low-F" for "low-f".
fn in_capitals(name: &str) -> String {
    let name = name.trim();
    let rest = ["low", "high"].iter().find_map(|register| name.strip_prefix(register)).unwrap_or(name);
    let key = rest.trim_start_matches(['-', ' ']);
    let before = &name[..name.len() - key.len()];
    match key.split_at_checked(1) {
        Some((letter, after)) if name != "all" => format!("{before}{}{after}", letter.to_ascii_uppercase()),
        _ => name.to_owned(),
    }
}

/// Shows the kit, or changes it.
pub(super) fn run(args: &args::Kit) -> anyhow::Result<Exit> {
    let Some(path) = path() else { bail!("this system has no folder for settings; set HOME") };
    let mut kit = read()?;
    let given = Kit {
        harps: (!args.harps.is_empty()).then(|| args.harps.iter().map(|name| in_capitals(name)).collect()),
        player: args.player.clone(),
        bends: args.bends.map(word),
        tab_style: args.tab_style.map(word),
        bend_mark: args.bend_mark.map(word),
        over_mark: args.over_mark.map(word),
        #[cfg(feature = "sheet")]
        paper: args.paper.map(word),
        #[cfg(not(feature = "sheet"))]
        paper: None,
    };
    if args.save {
        if given == Kit::default() {
            bail!("name the settings to keep, as in `breathline kit --save --harps C,G,A`");
        }
        harps(&args.harps, &[], Tuning::built_in())?;
        let mut given = given;
        for ((_, kept, _), (_, new, _)) in kit.settings().into_iter().zip(given.settings()) {
            *kept = new.take().or(kept.take());
        }
        kit.harps = given.harps.or(kit.harps);
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)
                .map_err(save::plain)
                .with_context(|| folder.display().to_string())?;
        }
        let text = toml::to_string(&kit).context("the kit cannot be written")?;
        save::save(&[(path.clone(), text.into_bytes())], &Guard::nothing(true))?;
    } else if given != Kit::default() {
        bail!("add --save to keep this; `breathline kit` alone shows the kit");
    }
    if args.output.json {
        message::answer(&(serde_json::to_string_pretty(&kit).context("the kit cannot be written")? + "\n"))?;
    } else {
        let facts: Vec<(String, String)> = facts(&kit);
        show(&pages::kit::page(&path.display().to_string(), &facts), &args.output)?;
    }
    Ok(Exit::Answered)
}

fn word<T: ValueEnum>(value: T) -> String {
    value.to_possible_value().map_or_else(String::new, |value| value.get_name().to_owned())
}

/// Returns the settings under the names of their options.
fn facts(kit: &Kit) -> Vec<(String, String)> {
    let mut kit = kit.clone();
    let harps = kit.harps.take().map(|harps| ("harps".to_owned(), harps.join(",")));
    let others =
        kit.settings().into_iter().filter_map(|(id, value, _)| Some((id.replace('_', "-"), value.take()?)));
    harps.into_iter().chain(others).collect()
}

/// Returns the harps to try, given one by one or by their tunings. `--harps` and `--tunings` override the kit file;
/// without all three, the twelve standard Richter harps are tried. In `--harps`, `all`, `low` and `high` mean the
/// twelve standard, low or high Richter harps, although not every low or high harp is on sale everywhere.
pub(super) fn harps(
    harps: &[String],
    of_tunings: &[String],
    tunings: &[Arc<Tuning>],
) -> anyhow::Result<Vec<Harp>> {
    let parse = |names: &[String]| -> anyhow::Result<Vec<Harp>> {
        let one = |name| {
            Harp::parse_list(std::slice::from_ref(name), tunings).map_err(|error| in_a_list(name, error))
        };
        Ok(names.iter().map(one).collect::<anyhow::Result<Vec<_>>>()?.concat())
    };
    match (harps, of_tunings) {
        ([], []) => match read()?.harps {
            Some(harps) => parse(&harps).context("your kit"),
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

/// Returns the message for an error in one harp of a list.
fn in_a_list(name: &str, error: HarpError) -> anyhow::Error {
    let parts: Vec<&str> =
        name.split([';', '/', '+', '&', ' ']).map(str::trim).filter(|part| !part.is_empty()).collect();
    let all_harps = parts.len() > 1 && parts.iter().all(|part| Harp::parse(part, Tuning::built_in()).is_ok());
    let sets = ["all", "low", "high"];
    match near::nearest(name, sets).filter(|_| matches!(error, HarpError::UnknownKey { .. })) {
        _ if all_harps => anyhow::Error::msg(format!("`{name}` is not a harp; write {}", parts.join(","))),
        Some(set) => anyhow::Error::msg(format!("`{name}` is not a harp; write {set}")),
        None => error.into(),
    }
}

/// Returns the harp for a command that takes a single harp.
pub(super) fn harp(name: &str, tunings: &[Arc<Tuning>]) -> anyhow::Result<Harp> {
    match name.split_once(',') {
        Some((first, _)) => bail!("one harp at a time: `{name}` is a list; write --harp {}", first.trim()),
        None => Ok(Harp::parse(name, tunings)?),
    }
}

/// Returns the path of the kit file; `None` if the system names no folder for settings.
fn path() -> Option<PathBuf> {
    let folders = etcetera::choose_base_strategy().ok()?;
    Some(folders.config_dir().join("breathline").join("kit.toml"))
}

/// Reads the kit; a missing file gives an empty kit.
pub(super) fn read() -> anyhow::Result<Kit> {
    let Some(path) = path().filter(|path| path.try_exists().unwrap_or(true)) else {
        return Ok(Kit::default());
    };
    let mut kit: Kit = files::read_text(&path)
        .and_then(|text| data::read(&text).map_err(anyhow::Error::from))
        .with_context(|| path.display().to_string())?;
    if kit.harps.as_ref().is_some_and(Vec::is_empty) {
        bail!("{}: the list of harps is empty; write harps = [\"C\", \"A\"]", path.display());
    }
    for (id, value, words) in kit.settings() {
        if let Some(value) = value.as_ref().filter(|value| !words.is_empty() && !words.contains(value)) {
            let nearest = near::nearest(value, words.iter().map(String::as_str)).map(str::to_owned);
            let right = nearest.unwrap_or_else(|| format!("one of {}", words.join(", ")));
            bail!("{}: {id} is `{value}`; write {right}", path.display());
        }
    }
    Ok(kit)
}
