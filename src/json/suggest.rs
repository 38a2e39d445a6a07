//! The ranking, and the answers built from it: `suggest`, `tab`, `sheet`.

use serde::Serialize;

use super::{
    SCHEMA,
    approach::{self, ActionInfo, Approach, Missing, RowInfo, adapted_approach, missing},
    print,
    tune::{KeyInfo, Player, TuneInfo, key, player_info, tune_info},
};
use crate::{
    pages::{
        self, Tune,
        alternatives::{self, Point},
    },
    search::{self, Ranking, Request, ways::Kind},
};

/// Returns the answer of `breathline suggest` with at most `top` approaches.
pub fn suggest(
    tune: &Tune,
    player: &str,
    request: &Request,
    ranking: &Ranking,
    top: usize,
    style: search::Style,
) -> String {
    print(&Suggest { style: Some(style.word()), ..rows(tune, player, request, ranking, top) })
}

/// Returns the answer of `breathline tab` with its one approach.
pub fn tab(tune: &Tune, player: &str, request: &Request, ranking: &Ranking) -> String {
    print(&rows(tune, player, request, ranking, 1))
}

/// Returns the answer of `breathline sheet`: the approaches on the sheet, and the names of the written files.
pub fn sheet(tune: &Tune, player: &str, request: &Request, ranking: &Ranking, files: &[String]) -> String {
    let answer = rows(tune, player, request, ranking, ranking.approaches.len());
    print(&Drawn { answer, files })
}

pub(super) fn rows<'a>(
    tune: &'a Tune,
    player: &'a str,
    request: &Request,
    ranking: &Ranking,
    top: usize,
) -> Suggest<'a> {
    let rows = ranking.approaches.iter().take(top).enumerate();
    Suggest {
        schema: SCHEMA,
        tune: tune_info(tune, request.melody.notes.len()),
        key: key(tune),
        player: player_info(player, request),
        style: None,
        tried: ranking.tried,
        approaches: rows
            .map(|(index, row)| match &ranking.adapted {
                Some(adapted) if index == 0 => adapted_approach(request, row, adapted),
                _ => approach::approach(request, index + 1, row),
            })
            .collect(),
        ways: ways(request, ranking),
        rival: rival(tune, ranking, top),
        pinned: pinned(request, ranking),
        unbent: ranking
            .ways
            .iter()
            .find(|way| way.kind == Kind::NoBends)
            .map(|way| unbent(request, &way.approach)),
    }
}

/// Returns the best way and the alternatives worth knowing.
pub(super) fn ways(request: &Request, ranking: &Ranking) -> Vec<WayInfo> {
    let Some(best) = ranking.best() else { return Vec::new() };
    let first = WayInfo {
        way: Kind::Best.word(),
        approach: approach::approach(request, 1, best),
        gives_up: Vec::new(),
        gains: Vec::new(),
    };
    let others = ranking.ways.iter().map(|way| {
        let balance = alternatives::balance(best, way, request.melody);
        WayInfo {
            way: way.kind.word(),
            approach: approach::approach(request, 1, &way.approach),
            gives_up: balance.gives_up.iter().map(Point::text).collect(),
            gains: balance.gains.iter().map(Point::text).collect(),
        }
    });
    std::iter::once(first).chain(others).collect()
}

pub(super) fn rival(tune: &Tune, ranking: &Ranking, top: usize) -> Option<Rival> {
    let (other, guess) = (ranking.rival.as_ref()?, pages::key::rival(tune.key)?);
    let melody = &tune.imported.melody;
    let rows = other.approaches.iter().take(top).enumerate().map(|(index, row)| RivalRow {
        rank: index + 1,
        row: approach::row(row, other.key.mode, melody),
        bends: row.counts.bends(),
        effort: row.playing.effort.total(),
    });
    Some(Rival {
        tonic: other.key.tonic_name(melody.signatures.first().map(|signature| signature.sharps)),
        mode: other.key.mode.to_string(),
        tonic_confidence: f64::from(guess.confidence) / 100.0,
        approaches: rows.collect(),
    })
}

/// Returns the pins and their price, if there are pins and a way to play them.
fn pinned(request: &Request, ranking: &Ranking) -> Option<Pinned> {
    let (free, best) = (ranking.free.as_ref()?, ranking.best()?);
    let pins = request.pins.iter().map(|pin| {
        let place = request.melody.place(pin.note, 1);
        PinInfo {
            bar: place.bar,
            beat: place.beat.as_f64(),
            action: approach::action_info(pin.action),
            free: free
                .alike
                .playing
                .notes
                .get(pin.note)
                .and_then(|note| note.action)
                .map(approach::action_info),
        }
    });
    Some(Pinned {
        pins: pins.collect(),
        effort: best.playing.effort.total(),
        effort_free: free.alike.playing.effort.total(),
        best_free: unbent(request, &free.best),
    })
}

pub(super) fn unbent(request: &Request, row: &search::Approach) -> Unbent {
    Unbent {
        row: approach::row(row, request.key.mode, request.melody),
        missing: missing(request.melody, row),
        effort: row.playing.effort.total(),
    }
}

#[derive(Serialize)]
pub(super) struct Suggest<'a> {
    schema: u32,
    tune: TuneInfo<'a>,
    key: KeyInfo,
    player: Player<'a>,
    /// The style, `plain`, `blues` or `folk`; only for `suggest`.
    #[serde(skip_serializing_if = "Option::is_none")]
    style: Option<&'static str>,
    /// The number of approaches that were tried, including the approaches left out here.
    tried: usize,
    approaches: Vec<Approach>,
    /// The best way and the alternatives worth knowing; if the user chose the harp, the position or the octave of a tab
    /// or a sheet, only the requested approach.
    ways: Vec<WayInfo>,
    /// A short ranking under the rival key; only if the key is in doubt.
    #[serde(skip_serializing_if = "Option::is_none")]
    rival: Option<Rival>,
    /// The pinned holes, and the result without them; only if there are pins.
    #[serde(skip_serializing_if = "Option::is_none")]
    pinned: Option<Pinned>,
    /// The best row without bends, in a short form. Present only if the winner has bends, and `ways` has the best row
    /// without bends.
    #[serde(skip_serializing_if = "Option::is_none")]
    unbent: Option<Unbent>,
}

/// The pins, with their cost.
#[derive(Serialize)]
pub(super) struct Pinned {
    pins: Vec<PinInfo>,
    /// The effort of the first approach, which keeps the pins.
    effort: u64,
    /// The least effort without the pins, on the same harp and in the same octave.
    effort_free: u64,
    /// The first row without the pins.
    best_free: Unbent,
}

/// A pinned note, and the action that it would have without the pins; null if the note would be left out.
#[derive(Serialize)]
pub(super) struct PinInfo {
    bar: u32,
    beat: f64,
    action: ActionInfo,
    free: Option<ActionInfo>,
}

/// A way to play the tune, compared with the best way.
#[derive(Serialize)]
pub(super) struct WayInfo {
    /// The kind of the way: `best`, `every-note`, `no-bends`, `lower`, `other-register`, `other-tuning`, `other-key` or
    /// `own-key`.
    way: &'static str,
    approach: Approach,
    gives_up: Vec<String>,
    gains: Vec<String>,
}

#[derive(Serialize)]
pub(super) struct Drawn<'a> {
    #[serde(flatten)]
    answer: Suggest<'a>,
    /// The written files, in order of their pages.
    files: &'a [String],
}

#[derive(Serialize)]
pub(super) struct Rival {
    tonic: String,
    mode: String,
    tonic_confidence: f64,
    approaches: Vec<RivalRow>,
}

#[derive(Serialize)]
pub(super) struct RivalRow {
    rank: usize,
    #[serde(flatten)]
    row: RowInfo,
    bends: u32,
    effort: u64,
}

#[derive(Serialize)]
pub(super) struct Unbent {
    #[serde(flatten)]
    row: RowInfo,
    missing: Vec<Missing>,
    effort: u64,
}
