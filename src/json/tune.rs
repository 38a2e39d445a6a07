//! The facts that most answers about a tune share: title, key, tempo, player.

use serde::Serialize;

use super::approach::{HarpInfo, harp_info};
use crate::{
    melody::{Melody, key, tempo},
    pages::{self, Tune, warnings},
    search::Request,
    time::Beats,
};

pub(super) fn tune_info<'a>(tune: &'a Tune, notes: usize) -> TuneInfo<'a> {
    TuneInfo {
        title: tune.title(),
        notes,
        part: tune.imported.choice.part,
        unfolded: tune.imported.unfolded,
        tempo: tempo_info(&tune.imported.melody),
        warnings: warnings::lines(&tune.imported.warnings),
    }
}

pub(super) fn tempo_info(melody: &Melody) -> Tempo {
    let micros = u64::from(melody.tempo.micros_per_quarter(Beats::ZERO)).max(1);
    let stated = melody.tempo.is_stated();
    let assumed = !stated && melody.tempo.is_known();
    Tempo {
        quarters_per_minute: (60_000_000 + micros / 2) / micros,
        stated,
        taken_as: assumed.then(|| tempo::usual(melody).kind.to_string()),
    }
}

pub(super) fn player_info<'a>(player: &'a str, request: &Request) -> Player<'a> {
    Player {
        name: player,
        technique: request.technique.word(),
        harps: request.harps.iter().map(harp_info).collect(),
    }
}

pub(super) fn key(tune: &Tune) -> KeyInfo {
    let finding = tune.key;
    let melody = &tune.imported.melody;
    let signature = melody.signatures.first().map(|signature| signature.sharps);
    let share = |per_cent: u8| f64::from(per_cent) / 100.0;
    let others = finding.others.iter().map(|guess| Other {
        tonic: guess.key.tonic_name(signature),
        mode: guess.key.mode.to_string(),
        confidence: share(guess.confidence),
    });
    let sections = key::sections(melody).into_iter().map(|section| KeySection {
        bar: melody.bars[melody.notes[section.note].bar].number,
        tonic: section.finding.key.tonic_name(Some(section.sharps)),
        mode: section.finding.key.mode.to_string(),
        confidence: share(section.finding.confidence),
    });
    KeyInfo {
        tonic: finding.key.tonic_name(signature),
        mode: finding.key.mode.to_string(),
        shade: key::shade(melody, finding.key).map(|shade| shade.to_string()),
        from: finding.source.to_string(),
        confidence: share(finding.confidence),
        tonic_confidence: share(finding.tonic_confidence),
        why: pages::key::evidence(finding),
        others: others.collect(),
        sections: sections.collect(),
    }
}

#[derive(Serialize)]
pub(super) struct TuneInfo<'a> {
    title: &'a str,
    notes: usize,
    part: usize,
    unfolded: bool,
    tempo: Tempo,
    warnings: Vec<String>,
}

/// The tempo at the beginning of the tune.
#[derive(Serialize)]
pub(super) struct Tempo {
    quarters_per_minute: u64,
    /// Whether the file or the user gave the tempo.
    stated: bool,
    /// The kind of tune that the estimate assumes, as in `a reel`; present only if the tempo is estimated.
    #[serde(skip_serializing_if = "Option::is_none")]
    taken_as: Option<String>,
}

#[derive(Serialize)]
pub(super) struct Player<'a> {
    name: &'a str,
    technique: &'static str,
    harps: Vec<HarpInfo>,
}

#[derive(Serialize)]
pub(super) struct KeyInfo {
    tonic: String,
    mode: String,
    /// The shade of the mode, if notes outside the mode show one: `harmonic minor`, `melodic minor` or `blues`.
    #[serde(skip_serializing_if = "Option::is_none")]
    shade: Option<String>,
    from: String,
    confidence: f64,
    /// The confidence in the tonic, whatever the mode.
    tonic_confidence: f64,
    /// The clues for the key, the strongest first.
    why: Vec<String>,
    others: Vec<Other>,
    /// The keys in order, if the signature changes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    sections: Vec<KeySection>,
}

/// The key under one signature, and its first bar.
#[derive(Serialize)]
pub(super) struct KeySection {
    bar: u32,
    tonic: String,
    mode: String,
    confidence: f64,
}

#[derive(Serialize)]
pub(super) struct Other {
    tonic: String,
    mode: String,
    confidence: f64,
}
