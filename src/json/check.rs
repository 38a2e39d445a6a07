//! The answers of `check`: a choice or a tab, compared with the best way.

use serde::Serialize;

use super::{
    SCHEMA,
    approach::{ActionInfo, Approach, EffortInfo, HarpInfo, action_info, approach, effort_info, harp_info},
    harps::style_word,
    print,
    tune::{KeyInfo, Player, TuneInfo, key, player_info, tune_info},
};
use crate::{
    compare::{
        Difference,
        choice::Choice,
        lesson::{Fault, FaultKind},
    },
    harp::Action,
    pages::{Tune, choice, lesson},
    search::{self, Request},
    tab::Notation,
};

/// Returns the answer of `breathline check` without a tab.
pub fn choice(tune: &Tune, player: &str, request: &Request, choice: &Choice, style: &'static str) -> String {
    let melody = request.melody;
    let numbers = |bars: &[usize]| bars.iter().map(|&bar| melody.bars[bar].number).collect();
    let speaks = |row: &search::Approach, strengths: &[crate::compare::choice::Strength]| {
        let line = |strength| choice::strength_line(request, row, strength, Notation::default());
        strengths.iter().map(line).collect()
    };
    print(&Check {
        schema: SCHEMA,
        tune: tune_info(tune, melody.notes.len()),
        key: key(tune),
        player: player_info(player, request),
        style,
        given: Some(approach(request, 1, &choice.given)),
        best: Some(approach(request, 1, &choice.best)),
        easier: Some(Easier { given: numbers(&choice.easier[0]), best: numbers(&choice.easier[1]) }),
        speaks_for: Some(SpeaksFor {
            given: speaks(&choice.given, &choice.strengths),
            best: speaks(&choice.best, &choice.weaknesses),
        }),
        differences: differences(request, &choice.differences),
        tab: None,
        wrong: Vec::new(),
    })
}

/// Returns the answer of `breathline check` if the chosen harp sounds no note of the tune in the requested key and
/// octave. `best` is the best row on any harp and in any octave, if one reaches the tune.
pub fn unreached(
    tune: &Tune,
    player: &str,
    request: &Request,
    best: Option<&search::Approach>,
    style: &'static str,
) -> String {
    print(&Check {
        schema: SCHEMA,
        tune: tune_info(tune, request.melody.notes.len()),
        key: key(tune),
        player: player_info(player, request),
        style,
        given: None,
        best: best.map(|best| approach(request, 1, best)),
        easier: None,
        speaks_for: None,
        differences: Vec::new(),
        tab: None,
        wrong: Vec::new(),
    })
}

/// Returns the answer of `breathline check --tab`: `given` is the corrected tab, and `best` is the way of least effort
/// on the same harp, in the same octave and key.
pub fn lesson(checked: &lesson::Checked, player: &str, style: &'static str) -> String {
    let lesson::Checked { tune, request, lesson, text, .. } = checked;
    let wrong = lesson.faults.iter().map(|fault| wrong(checked, fault));
    print(&Check {
        schema: SCHEMA,
        tune: tune_info(tune, request.melody.notes.len()),
        key: key(tune),
        player: player_info(player, request),
        style,
        given: Some(approach(request, 1, &lesson.given)),
        best: Some(approach(request, 1, &lesson.least)),
        easier: None,
        speaks_for: None,
        differences: differences(request, &lesson.differences),
        tab: Some(CheckedTab {
            tab_style: style_word(text.style),
            notes: lesson.typed.len(),
            right: lesson.right,
            same_tune: lesson.same_tune,
            graces_left_out: lesson.graces_left_out,
            repeats_written_out: lesson.performed,
            arrows_turned: lesson.turned,
            in_key_on: lesson.in_key.as_ref().map(harp_info),
            other_tuning: lesson
                .other_tuning
                .as_ref()
                .map(|(harp, faults)| OtherTuning { harp: harp_info(harp), wrong: *faults }),
            best_choice: checked.best.map(|best| approach(request, 1, best)),
            warnings: lesson::shown_oddities(checked).map(ToString::to_string).collect(),
        }),
        wrong: wrong.collect(),
    })
}

pub(super) fn wrong(checked: &lesson::Checked, fault: &Fault) -> Wrong {
    let lesson::Checked { lesson, request, .. } = checked;
    let place = request.melody.place(fault.note, 1);
    let typed = fault.typed.map(|typed| lesson.typed[typed]);
    let has = typed.filter(|_| fault.kind != FaultKind::LeftOut);
    let side = |action: Option<Action>, pitch: Option<crate::pitch::Pitch>| WrongSide {
        action: action.map(action_info),
        midi: pitch.map(|pitch| pitch.midi()),
        name: pitch.map(|_| lesson::named(checked, fault, pitch)),
    };
    Wrong {
        kind: match fault.kind {
            FaultKind::Bend => "bend",
            FaultKind::Breath | FaultKind::SignLost => "breath",
            FaultKind::Swapped => "swapped",
            FaultKind::Octave(_) => "octave",
            FaultKind::Hole => "hole",
            FaultKind::NotOnHarp => "not on the harp",
            FaultKind::NotInReach => "not in reach",
            FaultKind::LeftOut => "left out",
            FaultKind::Added => "added",
        },
        bar: place.bar,
        beat: place.beat.as_f64(),
        line: typed.map(|typed| typed.at.line),
        column: typed.map(|typed| typed.at.column),
        wants: (fault.kind != FaultKind::Added).then(|| side(fault.wants, fault.pitch)),
        has: has.map(|typed| side(Some(typed.action), fault.has)),
    }
}

pub(super) fn differences(request: &Request, differences: &[Difference]) -> Vec<DifferenceInfo> {
    let info = |difference: &Difference| {
        let place = request.melody.place(difference.note, 1);
        DifferenceInfo {
            bar: place.bar,
            beat: place.beat.as_f64(),
            given: difference.given.map(action_info),
            best: difference.best.map(action_info),
            effort_given: effort_info(difference.effort_given),
            effort_best: effort_info(difference.effort_best),
        }
    };
    differences.iter().map(info).collect()
}

/// The comparison of two rows, or of a tab with the tune. For a tab, `tab` and `wrong` contain the findings.
#[derive(Serialize)]
pub(super) struct Check<'a> {
    schema: u32,
    tune: TuneInfo<'a>,
    key: KeyInfo,
    player: Player<'a>,
    style: &'static str,
    /// Null if the chosen harp sounds no note of the tune in the requested key and octave.
    given: Option<Approach>,
    best: Option<Approach>,
    /// The numbers of the bars that are easier in one of the two rows.
    #[serde(skip_serializing_if = "Option::is_none")]
    easier: Option<Easier>,
    #[serde(skip_serializing_if = "Option::is_none")]
    speaks_for: Option<SpeaksFor>,
    differences: Vec<DifferenceInfo>,
    #[serde(skip_serializing_if = "Option::is_none")]
    tab: Option<CheckedTab>,
    wrong: Vec<Wrong>,
}

#[derive(Serialize)]
pub(super) struct Easier {
    given: Vec<u32>,
    best: Vec<u32>,
}

#[derive(Serialize)]
pub(super) struct SpeaksFor {
    given: Vec<String>,
    best: Vec<String>,
}

/// A note that the two rows play differently. Each effort is the sum from this note up to the next note that they play
/// differently.
#[derive(Serialize)]
pub(super) struct DifferenceInfo {
    bar: u32,
    beat: f64,
    given: Option<ActionInfo>,
    best: Option<ActionInfo>,
    effort_given: EffortInfo,
    effort_best: EffortInfo,
}

#[derive(Serialize)]
pub(super) struct CheckedTab {
    tab_style: &'static str,
    notes: usize,
    right: usize,
    /// Whether the tab is of this tune.
    same_tune: bool,
    graces_left_out: usize,
    repeats_written_out: bool,
    arrows_turned: bool,
    /// The harp on which the tab would be in the expected key, if it is not in that key on the given harp.
    in_key_on: Option<HarpInfo>,
    other_tuning: Option<OtherTuning>,
    /// The best row of all harps that were compared; its key is the key of the tab.
    best_choice: Option<Approach>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
pub(super) struct OtherTuning {
    harp: HarpInfo,
    wrong: usize,
}

/// A fault of a tab. `wants` is null for a note that is not in the tune. `has` is null for a note that the tab leaves
/// out; the line and the column are then the place of the note before the omission, or null at the beginning.
#[derive(Serialize)]
pub(super) struct Wrong {
    kind: &'static str,
    bar: u32,
    beat: f64,
    line: Option<u32>,
    column: Option<u32>,
    wants: Option<WrongSide>,
    has: Option<WrongSide>,
}

/// `action` is null if the player cannot play the note on this harp; `midi` and `name` are null if the harp cannot
/// sound the action.
#[derive(Serialize)]
pub(super) struct WrongSide {
    action: Option<ActionInfo>,
    midi: Option<u8>,
    name: Option<String>,
}
