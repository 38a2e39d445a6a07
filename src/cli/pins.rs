//! Pinned holes: from the line, and kept in a small file beside the tune (`tune.pins` beside `tune.mid`).

use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use breathline::{
    harp::Action,
    import::TuneChoice,
    melody::Melody,
    pages::Tune,
    pins::{self, WrittenPin},
    search::{self, Approach, Pin, Request, Wanted},
    tab::Notation,
};
use itertools::Itertools;

use super::{
    args, files, message,
    save::{self, Guard},
};

/// Returns the pins for a tune: those kept beside it, and those of the line.
pub(super) fn read(args: &args::Pins, source: &args::Source, melody: &Melody) -> anyhow::Result<Vec<Pin>> {
    let place = beside(source);
    if args.keep && place.is_none() {
        bail!("--keep needs a file; standard input has no place for the pins");
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

/// Keeps the pins beside the tune, if asked to. For pins that can be played: others would stop every later answer.
pub(super) fn keep(args: &args::Pins, source: &args::Source, tune: &Tune) -> anyhow::Result<()> {
    let Some(path) = beside(source).filter(|_| args.keep) else { return Ok(()) };
    let mut written = kept(args, &path)?;
    written.extend(&args.at);
    let text = pins::write_file(tune.title(), &latest(&written));
    save::save(&[(path, text.into_bytes())], &Guard::nothing(false))
}

/// Reads the file beside a tune, if there is one and it counts.
fn kept(args: &args::Pins, path: &Path) -> anyhow::Result<Vec<WrittenPin>> {
    if args.free || !path.is_file() {
        return Ok(Vec::new());
    }
    pins::read_file(&files::read_text(path)?).with_context(|| path.display().to_string())
}

/// Says why the pins leave no way to play the tune: the first of them that no row keeps, with the holes that it could have.
/// `None` if the pins are not the reason.
pub(super) fn nowhere(request: &Request, wanted: &Wanted) -> Option<String> {
    let free = Request { pins: &[], ..request.clone() };
    let rows = search::search_for(&free, &Wanted { top: usize::MAX, ..*wanted }).approaches;
    let keeps = |row: &Approach, pin: &Pin| holes(&free, row, pin.note).any(|action| action == pin.action);
    if rows.is_empty() || request.pins.is_empty() {
        return None;
    }
    let notation = Notation::default();
    let place = |pin: &Pin| {
        let place = request.melody.place(pin.note, 1);
        format!("bar {} beat {}", place.bar, place.beat)
    };
    let Some(lost) = request.pins.iter().find(|pin| !rows.iter().any(|row| keeps(row, pin))) else {
        let all = request.pins.iter().map(place).join(", ");
        return Some(format!("no way to play the tune keeps all pins together ({all}); leave some out"));
    };
    let could: Vec<String> = rows
        .iter()
        .flat_map(|row| holes(&free, row, lost.note))
        .unique()
        .sorted()
        .map(|action| notation.write(action))
        .collect();
    let could = match could.as_slice() {
        [] => "no harp that was tried sounds its note".to_owned(),
        could => format!("it could be {}", could.join(" or ")),
    };
    Some(format!("{} cannot be {} there; {could}", place(lost), notation.write(lost.action)))
}

/// Returns the actions that sound a note in an approach, as far as the player's technique goes.
fn holes<'r>(request: &'r Request, row: &'r Approach, note: usize) -> impl Iterator<Item = Action> + 'r {
    let pitch = request.melody.notes[note].pitch.transposed(row.shift());
    let ways = row.harp.ways().filter(move |(sounds, ..)| Some(*sounds) == pitch);
    ways.map(|(_, action, _)| action).filter(|&action| request.technique.allows(action))
}

/// Returns the last pin of each place, in order of the places.
fn latest(pins: &[WrittenPin]) -> Vec<WrittenPin> {
    let mut kept: Vec<WrittenPin> = Vec::new();
    for pin in pins {
        kept.retain(|earlier| (earlier.bar, earlier.beat) != (pin.bar, pin.beat));
        kept.push(*pin);
    }
    kept.sort_by_key(|pin| (pin.bar, pin.beat));
    kept
}

/// Returns the file beside a tune. A tune of several in a file has its choice in the name: `session-12.pins`.
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
