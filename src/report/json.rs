//! Answers as JSON: one object with `"schema": 1`, from types that exist only for this.
//!
//! The field names and their meaning are the contract with other programs; they change only with the schema number.
//! Bars count from 1 (a pickup is bar 0), parts from 1, `midi` 60 is C4, and pitch is always sounding pitch. Beats are
//! quarters as decimal numbers where they are times, and beats of the time signature where they are places.

mod practice;

use serde::Serialize;

use super::{Tune, changes, positions, suggest, tab, warnings};
pub use practice::practice;

use crate::{
    harp::{Action, Bend, Breath, Harp, Technique, position::CAREFUL_MODES},
    melody::{Melody, key::KeyFinding},
    search::{self, Ranking, Request},
    tab::Notation,
};

/// The number of this contract.
const SCHEMA: u32 = 1;

/// The answer of `breathline notes`.
pub fn notes(tune: &Tune) -> String {
    let imported = tune.imported;
    let melody = &imported.melody;
    let parts: Vec<Part> = imported
        .parts
        .iter()
        .enumerate()
        .map(|(index, part)| Part {
            number: index + 1,
            name: part.name.as_deref(),
            notes: part.notes,
            lowest: part.range.map(|(low, _)| low.midi()),
            highest: part.range.map(|(_, high)| high.midi()),
            percussion: part.percussion,
        })
        .collect();
    let chosen = &imported.choice;
    let notes = melody.notes.iter().zip(melody.timing()).map(|(note, sounding)| {
        let name = note.spelling.unwrap_or_else(|| melody.spelled(note.pitch, note.onset));
        Note {
            onset: note.onset.as_f64(),
            duration: note.duration.as_f64(),
            midi: note.pitch.midi(),
            name: name.to_string(),
            bar: melody.bars[note.bar].number,
            beat: melody.bars[note.bar].beat(note.onset).as_f64(),
            seconds: sounding.start as f64 / 1e6,
            lyric: note.lyrics.first().map(|lyric| lyric.text.as_str()),
            grace: note.grace,
        }
    });
    print(&Notes {
        schema: SCHEMA,
        title: tune.title(),
        unfolded: imported.unfolded,
        warnings: warnings::lines(&imported.warnings),
        part: ChosenPart {
            number: chosen.part,
            name: imported.parts.get(chosen.part - 1).and_then(|part| part.name.as_deref()),
            why: super::notes::part(tune),
        },
        parts,
        key: key(tune.key),
        notes: notes.collect(),
    })
}

/// The answer of `breathline suggest`, at most `top` approaches.
pub fn suggest(tune: &Tune, player: &str, request: &Request, ranking: &Ranking, top: usize) -> String {
    let rows = ranking.approaches.iter().take(top).enumerate();
    print(&Suggest {
        schema: SCHEMA,
        tune: TuneInfo {
            title: tune.title(),
            notes: request.melody.notes.len(),
            part: tune.imported.choice.part,
            unfolded: tune.imported.unfolded,
            warnings: warnings::lines(&tune.imported.warnings),
        },
        key: key(tune.key),
        player: Player {
            name: player,
            technique: request.technique.word(),
            harps: request.harps.iter().map(harp_info).collect(),
        },
        approaches: rows
            .map(|(index, row)| match &ranking.adapted {
                Some(adapted) if index == 0 => adapted_approach(request, adapted),
                _ => approach(request, index + 1, row),
            })
            .collect(),
    })
}

/// The answer of `breathline tab`: the one approach that was asked for.
pub fn tab(tune: &Tune, player: &str, request: &Request, ranking: &Ranking) -> String {
    suggest(tune, player, request, ranking, 1)
}

/// The answer of `breathline positions`.
pub fn positions(matches: &[positions::Match], notation: Notation) -> String {
    let rows = matches.iter().map(|found| {
        let offer = &found.offer;
        PositionRow {
            harp: found.harp.key().to_string(),
            position: offer.position.number(),
            song_key: offer.tonic.to_string(),
            mode: offer.mode.map(|mode| mode.to_string()),
            degrees: &offer.degrees,
            used_for: (found.harp.tuning().name() == "richter").then(|| offer.position.used_for()),
            tonic_at: offer.tonics.iter().map(|&action| notation.write(action)).collect(),
            careful: CAREFUL_MODES
                .iter()
                .zip(&offer.careful)
                .map(|(mode, careful)| CarefulIn {
                    mode: mode.to_string(),
                    holes: careful.iter().map(|careful| notation.write(careful.action)).collect(),
                })
                .collect(),
        }
    });
    print(&Positions { schema: SCHEMA, positions: rows.collect() })
}

/// The answer of `breathline harp`.
pub fn harp(harp: &Harp, technique: Technique) -> String {
    let actions = harp.actions().iter().filter(|(_, action)| technique.allows(*action));
    let actions = actions.map(|&(pitch, action)| HarpAction {
        midi: pitch.midi(),
        name: super::harp::name(harp, pitch),
        action: action_info(action),
    });
    print(&HarpLayout { schema: SCHEMA, harp: harp_info(harp), actions: actions.collect() })
}

fn print(answer: &impl Serialize) -> String {
    // The types below hold only strings, numbers and lists: they always serialise.
    let mut text = serde_json::to_string_pretty(answer).unwrap_or_default();
    text.push('\n');
    text
}

fn key(finding: &KeyFinding) -> KeyInfo {
    let others = finding.others.iter().map(|guess| Other {
        tonic: guess.key.tonic.to_string(),
        mode: guess.key.mode.to_string(),
        confidence: f64::from(guess.confidence) / 100.0,
    });
    KeyInfo {
        tonic: finding.key.tonic.to_string(),
        mode: finding.key.mode.to_string(),
        from: finding.source.to_string(),
        confidence: f64::from(finding.confidence) / 100.0,
        others: others.collect(),
    }
}

fn harp_info(harp: &Harp) -> HarpInfo {
    HarpInfo {
        key: harp.key().to_string(),
        register: match harp.register() {
            crate::harp::Register::Low => "low",
            crate::harp::Register::Standard => "standard",
            crate::harp::Register::High => "high",
        },
        tuning: harp.tuning().name().to_owned(),
    }
}

fn action_info(action: Action) -> ActionInfo {
    ActionInfo {
        hole: action.hole,
        breath: match action.breath {
            Breath::Blow => "blow",
            Breath::Draw => "draw",
        },
        bend: match action.bend {
            Bend::Down(semitones) => semitones,
            Bend::None | Bend::Over => 0,
        },
        over: action.bend == Bend::Over,
    }
}

/// The winner, with what was changed in the tune.
fn adapted_approach(request: &Request, row: &search::Approach) -> Approach {
    let melody = request.melody;
    let changes = row.changes.iter().map(|change| {
        let place = melody.place(change.note, 1);
        ChangeInfo {
            bar: place.bar,
            beat: place.beat.as_f64(),
            from: changes::from(melody, row, change),
            to: changes::to(melody, row, change),
            why: changes::why(melody, row, change),
        }
    });
    let mut answer = approach(request, 1, row);
    answer.changes = Some(changes.collect());
    answer.effort.changes = Some(row.playing.effort.changes);
    answer
}

fn approach(request: &Request, rank: usize, row: &search::Approach) -> Approach {
    let melody: &Melody = request.melody;
    let counts = &row.counts;
    let silent = row.playing.notes.iter().enumerate().filter(|(_, played)| played.action.is_none());
    let missing = silent.filter(|&(index, _)| !row.is_changed(index));
    let missing = missing.map(|(index, _)| {
        let note = &melody.notes[index];
        let bar = &melody.bars[note.bar];
        // Moved by octaves a note can leave even the range of MIDI, and then has no name.
        let name = tab::wanted(melody, row, note).map_or_else(|| "?".to_owned(), |name| name.to_string());
        Missing { bar: bar.number, beat: bar.beat(note.onset).as_f64(), name, grace: note.grace }
    });
    let effort = row.playing.effort;
    Approach {
        rank,
        harp: harp_info(row.harp),
        position: row.position.number(),
        octave: row.octave,
        sounding_key: row.tonic.to_string(),
        transposed: row.transposed.0,
        notes: counts.notes,
        playable: counts.playable,
        missing: missing.collect(),
        bends: BendCounts {
            draw: counts.draw_bends,
            blow: counts.blow_bends,
            overblow: counts.overblows,
            overdraw: counts.overdraws,
        },
        breath: BreathCounts { changes: counts.breath_changes, awkward: counts.awkward },
        register: counts.region().word(),
        comfortable_to: suggest::comfortable_tempo(request, row),
        holes: counts.holes.map(|(lowest, highest)| Holes { lowest, highest }),
        effort: EffortInfo {
            total: effort.total(),
            bends: effort.bends,
            moves: effort.moves,
            breath: effort.breath,
            register: effort.register,
            lungs: effort.lungs,
            missing: effort.missing,
            changes: None,
        },
        changes: None,
        reasons: suggest::reasons(row, request),
        tab: row.playing.notes.iter().map(|played| played.action.map(action_info)).collect(),
    }
}

#[derive(Serialize)]
struct Notes<'a> {
    schema: u32,
    title: &'a str,
    unfolded: bool,
    warnings: Vec<String>,
    part: ChosenPart<'a>,
    parts: Vec<Part<'a>>,
    key: KeyInfo,
    notes: Vec<Note<'a>>,
}

#[derive(Serialize)]
struct ChosenPart<'a> {
    number: usize,
    name: Option<&'a str>,
    why: String,
}

#[derive(Serialize)]
struct Part<'a> {
    number: usize,
    name: Option<&'a str>,
    notes: usize,
    lowest: Option<u8>,
    highest: Option<u8>,
    percussion: bool,
}

#[derive(Serialize)]
struct KeyInfo {
    tonic: String,
    mode: String,
    from: String,
    confidence: f64,
    others: Vec<Other>,
}

#[derive(Serialize)]
struct Other {
    tonic: String,
    mode: String,
    confidence: f64,
}

/// Times are in quarters, `seconds` is when the note starts at the tune's tempo.
#[derive(Serialize)]
struct Note<'a> {
    onset: f64,
    duration: f64,
    midi: u8,
    name: String,
    bar: u32,
    beat: f64,
    seconds: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    lyric: Option<&'a str>,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    grace: bool,
}

#[derive(Serialize)]
struct Suggest<'a> {
    schema: u32,
    tune: TuneInfo<'a>,
    key: KeyInfo,
    player: Player<'a>,
    approaches: Vec<Approach>,
}

#[derive(Serialize)]
struct TuneInfo<'a> {
    title: &'a str,
    notes: usize,
    part: usize,
    unfolded: bool,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct Player<'a> {
    name: &'a str,
    technique: &'static str,
    harps: Vec<HarpInfo>,
}

#[derive(Serialize)]
struct HarpInfo {
    key: String,
    register: &'static str,
    tuning: String,
}

#[derive(Serialize)]
struct Approach {
    rank: usize,
    harp: HarpInfo,
    position: u8,
    octave: i8,
    sounding_key: String,
    transposed: i16,
    notes: u32,
    playable: u32,
    missing: Vec<Missing>,
    bends: BendCounts,
    breath: BreathCounts,
    /// Where most of the notes lie: `low`, `middle` or `high`.
    register: &'static str,
    /// Quarters a minute up to which the playing is comfortable; null for any tempo.
    comfortable_to: Option<u64>,
    holes: Option<Holes>,
    effort: EffortInfo,
    /// What was changed in the tune; only on the first approach, and only where it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    changes: Option<Vec<ChangeInfo>>,
    reasons: Vec<String>,
    tab: Vec<Option<ActionInfo>>,
}

#[derive(Serialize)]
struct Missing {
    bar: u32,
    beat: f64,
    name: String,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    grace: bool,
}

#[derive(Serialize)]
struct BendCounts {
    draw: u32,
    blow: u32,
    overblow: u32,
    overdraw: u32,
}

#[derive(Serialize)]
struct BreathCounts {
    changes: u32,
    awkward: u32,
}

#[derive(Serialize)]
struct Holes {
    lowest: u8,
    highest: u8,
}

#[derive(Serialize)]
struct EffortInfo {
    total: u64,
    bends: u64,
    moves: u64,
    breath: u64,
    register: u64,
    lungs: u64,
    missing: u64,
    /// What changes to the tune cost, where they were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    changes: Option<u64>,
}

/// A note that was changed; `to` is null for one that is left out.
#[derive(Serialize)]
struct ChangeInfo {
    bar: u32,
    beat: f64,
    from: String,
    to: Option<String>,
    why: String,
}

#[derive(Serialize)]
struct ActionInfo {
    hole: u8,
    breath: &'static str,
    bend: u8,
    over: bool,
}

#[derive(Serialize)]
struct Positions<'a> {
    schema: u32,
    positions: Vec<PositionRow<'a>>,
}

#[derive(Serialize)]
struct PositionRow<'a> {
    harp: String,
    position: u8,
    song_key: String,
    mode: Option<String>,
    degrees: &'a [u8],
    used_for: Option<&'static str>,
    tonic_at: Vec<String>,
    careful: Vec<CarefulIn>,
}

#[derive(Serialize)]
struct CarefulIn {
    mode: String,
    holes: Vec<String>,
}

#[derive(Serialize)]
struct HarpLayout {
    schema: u32,
    harp: HarpInfo,
    actions: Vec<HarpAction>,
}

#[derive(Serialize)]
struct HarpAction {
    midi: u8,
    name: String,
    #[serde(flatten)]
    action: ActionInfo,
}
