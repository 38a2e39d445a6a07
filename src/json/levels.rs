//! The answer of `breathline sheet --levels`: the tune at each level, for each harp.

use serde::Serialize;

use super::{
    SCHEMA,
    approach::{self, Approach, HarpInfo},
    print,
    tune::{KeyInfo, Player, TuneInfo, key, player_info, tune_info},
};
use crate::{
    pages::{Tune, levels},
    search::{Level, Request},
};

/// Returns the answer. The request names every harp. `harps` gives the levels on each harp; the answer leaves out a
/// harp without levels. `files` names the written files.
pub fn levels(
    tune: &Tune,
    player: &str,
    request: &Request,
    harps: &[Vec<Level>],
    files: &[String],
) -> String {
    let sheets = harps.iter().filter_map(|levels| {
        let harp = approach::harp_info(levels.first()?.row.harp);
        let to_learn = levels::to_learn(request.melody, levels);
        Some(LevelSheet { harp, levels: levels.iter().map(|each| level(request, each)).collect(), to_learn })
    });
    print(&Levels {
        schema: SCHEMA,
        tune: tune_info(tune, request.melody.notes.len()),
        key: key(tune),
        player: player_info(player, request),
        sheets: sheets.collect(),
        files,
    })
}

fn level(request: &Request, level: &Level) -> LevelInfo {
    LevelInfo {
        names: level.techniques.iter().map(|&technique| levels::name(technique)).collect(),
        bends: level.techniques.iter().map(|technique| technique.word()).collect(),
        approach: match &level.adapted {
            Some(adapted) => approach::adapted_approach(request, &level.row, adapted),
            None => approach::approach(request, 1, &level.row),
        },
    }
}

#[derive(Serialize)]
struct Levels<'a> {
    schema: u32,
    tune: TuneInfo<'a>,
    key: KeyInfo,
    player: Player<'a>,
    /// The levels on each harp that plays the tune.
    sheets: Vec<LevelSheet>,
    /// The written files, in order of their pages.
    files: &'a [String],
}

#[derive(Serialize)]
struct LevelSheet {
    harp: HarpInfo,
    levels: Vec<LevelInfo>,
    /// What the player learns from each level to the next, in words.
    to_learn: Vec<String>,
}

/// A level, or several levels with the same tab.
#[derive(Serialize)]
struct LevelInfo {
    /// The names of the levels: `plain`, `with draw bends`, `with bends`, `full`.
    names: Vec<&'static str>,
    /// The words of `--bends`: `none`, `draw`, `all`, `over`.
    bends: Vec<&'static str>,
    approach: Approach,
}
