//! An approach in the answers: a harp, its playing, and its tab.

use serde::{Serialize, Serializer, ser::SerializeMap as _};

use crate::{
    harp::{Action, Bend, Breath, Harp},
    melody::{Melody, key::Mode},
    pages::{changes, key, reasons},
    search::{self, Request, Term},
};

pub(super) fn approach(request: &Request, rank: usize, row: &search::Approach) -> Approach {
    let melody: &Melody = request.melody;
    let counts = &row.counts;
    let effort = row.playing.effort;
    Approach {
        rank,
        row: self::row(row, request.key.mode, melody),
        missing: missing(melody, row),
        bends: BendCounts {
            draw: counts.draw_bends,
            blow: counts.blow_bends,
            overblow: counts.overblows,
            overdraw: counts.overdraws,
        },
        breath: BreathCounts { changes: counts.breath_changes, awkward: counts.awkward },
        register: counts.region().word(),
        comfortable_to: search::hard::comfortable_tempo(request, row),
        holes: counts.holes.map(|(lowest, highest)| Holes { lowest, highest }),
        effort: effort_info(effort),
        changes: None,
        reasons: reasons::reasons(row, request),
        tab: actions(row),
        adapted: None,
    }
}

/// Returns the best approach to the tune as written, together with the changes to the tune and the playing of the
/// changed tune.
pub(super) fn adapted_approach(
    request: &Request,
    row: &search::Approach,
    adapted: &search::Approach,
) -> Approach {
    let melody = request.melody;
    let changes = adapted.changes.iter().map(|change| {
        let place = melody.place(change.note, 1);
        ChangeInfo {
            bar: place.bar,
            beat: place.beat.as_f64(),
            from: changes::from(melody, adapted, change),
            to: changes::to(melody, adapted, change),
            why: changes::why(melody, adapted, change),
        }
    });
    let effort = EffortInfo { effort: adapted.playing.effort, is_adapted: true };
    Approach {
        changes: Some(changes.collect()),
        adapted: Some(Adapted { missing: missing(melody, adapted), effort, tab: actions(adapted) }),
        ..approach(request, 1, row)
    }
}

pub(super) fn actions(row: &search::Approach) -> Vec<Option<ActionInfo>> {
    row.playing.notes.iter().map(|played| played.action.map(action_info)).collect()
}

pub(super) fn missing(melody: &Melody, row: &search::Approach) -> Vec<Missing> {
    let missing = row.missing().map(|index| {
        let note = &melody.notes[index];
        let bar = &melody.bars[note.bar];
        let name = row.wanted_name(melody, note);
        Missing { bar: bar.number, beat: bar.beat(note.onset).as_f64(), name, grace: note.grace }
    });
    missing.collect()
}

pub(super) fn harp_info(harp: &Harp) -> HarpInfo {
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

pub(super) fn action_info(action: Action) -> ActionInfo {
    ActionInfo {
        hole: action.hole,
        breath: breath_word(action.breath),
        bend: match action.bend {
            Bend::Down(semitones) => semitones,
            Bend::None | Bend::Over => 0,
        },
        over: action.bend == Bend::Over,
    }
}

pub(super) fn effort_info(effort: search::Effort) -> EffortInfo {
    EffortInfo { effort, is_adapted: false }
}

pub(super) fn breath_word(breath: Breath) -> &'static str {
    match breath {
        Breath::Blow => "blow",
        Breath::Draw => "draw",
    }
}

#[derive(Serialize)]
pub(super) struct Approach {
    rank: usize,
    #[serde(flatten)]
    row: RowInfo,
    missing: Vec<Missing>,
    bends: BendCounts,
    breath: BreathCounts,
    /// The register of most notes: `low`, `middle` or `high`.
    register: &'static str,
    /// The fastest comfortable tempo in quarters per minute; null if every tempo is comfortable.
    comfortable_to: Option<u64>,
    holes: Option<Holes>,
    effort: EffortInfo,
    /// The changes to the tune; present only if the tune was adapted to this approach.
    #[serde(skip_serializing_if = "Option::is_none")]
    changes: Option<Vec<ChangeInfo>>,
    reasons: Vec<String>,
    /// The action of each note; null for a missing note.
    tab: Vec<Option<ActionInfo>>,
    /// The playing of the tune with `changes`; present only together with `changes`.
    #[serde(skip_serializing_if = "Option::is_none")]
    adapted: Option<Adapted>,
}

/// The approach with the changed tune.
#[derive(Serialize)]
pub(super) struct Adapted {
    missing: Vec<Missing>,
    effort: EffortInfo,
    tab: Vec<Option<ActionInfo>>,
}

#[derive(Serialize)]
pub(super) struct Missing {
    bar: u32,
    beat: f64,
    name: String,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    grace: bool,
}

#[derive(Serialize)]
pub(super) struct BendCounts {
    draw: u32,
    blow: u32,
    overblow: u32,
    overdraw: u32,
}

#[derive(Serialize)]
pub(super) struct BreathCounts {
    changes: u32,
    awkward: u32,
}

#[derive(Serialize)]
pub(super) struct Holes {
    lowest: u8,
    highest: u8,
}

/// The sum, and each term by its name; the term for changes only in the playing of an adapted tune.
pub(super) struct EffortInfo {
    effort: search::Effort,
    is_adapted: bool,
}

impl Serialize for EffortInfo {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("total", &self.effort.total())?;
        for (term, points) in self.effort.terms() {
            if term != Term::Changes || self.is_adapted {
                map.serialize_entry(term.name(), &points)?;
            }
        }
        map.end()
    }
}

/// A changed note; `to` is null for a note that the change leaves out.
#[derive(Serialize)]
pub(super) struct ChangeInfo {
    bar: u32,
    beat: f64,
    from: String,
    to: Option<String>,
    why: String,
}

#[derive(Serialize)]
pub(super) struct ActionInfo {
    hole: u8,
    breath: &'static str,
    bend: u8,
    over: bool,
}

#[derive(Serialize)]
pub(super) struct HarpInfo {
    key: String,
    register: &'static str,
    tuning: String,
}

pub(super) fn row(row: &search::Approach, mode: Mode, melody: &Melody) -> RowInfo {
    RowInfo {
        harp: harp_info(row.harp),
        position: row.position.number(),
        octave: row.octave,
        sounding_key: key::sounding(row, mode, melody),
        transposed: row.transposed.0,
        notes: row.counts.notes,
        playable: row.counts.playable,
    }
}

/// The facts about a row of a ranking, in the full and in the short form.
#[derive(Serialize)]
pub(super) struct RowInfo {
    harp: HarpInfo,
    position: u8,
    octave: i8,
    sounding_key: String,
    transposed: i16,
    notes: u32,
    playable: u32,
}
