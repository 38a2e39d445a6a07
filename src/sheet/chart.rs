//! Draws the chart of the harp: its ten holes, and which notes and bends of each hole the tune uses, with their counts.

use super::{
    draw::{Anchor, Bounds, Group, Item, Owner, Role},
    houses, label,
    text::Face,
};
use crate::{
    harp::{Action, Bend, Breath, HOLES},
    melody::Melody,
    pitch::{Pitch, Spelling},
    search::Approach,
    tab::BendMark,
    time::Beats,
};

/// The width and height of a cell.
const CELL: i32 = 1250;
const ROW: i32 = 780;
/// The width of the column of words left of the holes.
const HEADS: i32 = 1280;
const LINE: i32 = 26;
/// The size of a house on the chart, in thousandths of its size in the tab.
const HOUSE: i32 = 518;

/// A row of the chart. The rows go from the overblows at the top to the overdraws at the bottom.
#[derive(Clone, Copy, PartialEq, Eq)]
enum ReedRow {
    Bent(Breath, Bend),
    Natural(Breath),
}

/// Draws the chart with its upper left corner at 0, 0. The notes are spelled as on the staff, where they occur there.
pub(super) fn draw(melody: &Melody, approach: &Approach, bend_mark: BendMark) -> Group {
    let mut chart = Group::new(Owner::Chart);
    let used = |action: Action| {
        let played = approach.playing.notes.iter().filter(|played| played.action == Some(action));
        played.count()
    };
    let rows = rows(&used);
    let blow_rows = rows.iter().take_while(|row| row.breath() == Breath::Blow).count();
    let plate = 520;
    for (index, &row) in rows.iter().enumerate() {
        let below_plate = index >= blow_rows;
        let top = index as i32 * ROW + if below_plate { plate } else { 0 };
        let name = row.name();
        let at = (HEADS - 120, top + ROW / 2 + 130);
        chart.push(Item::text(name, at, Anchor::End, Face::Regular, 400, Role::Faint));
        for hole in 1..=HOLES {
            let action = row.action(hole);
            let count = used(action);
            let left = HEADS + i32::from(hole - 1) * CELL;
            let cell = Bounds { left, top, right: left + CELL, bottom: top + ROW };
            let Some(pitch) =
                approach.harp.pitch(action).filter(|_| count > 0 || matches!(row, ReedRow::Natural(_)))
            else {
                continue;
            };
            let depth = match action.bend {
                Bend::None => 0,
                Bend::Down(depth) => depth,
                Bend::Over => 12,
            };
            let mut group = Group::new(Owner::Hole(hole, action.breath == Breath::Draw, depth));
            outline(&mut group, cell);
            let name = label::spelled(&spelled(melody, approach, action, pitch).name().to_string());
            let mut label = |at, anchor, face, size, role| {
                label::items(&name, at, anchor, face, size, role)
                    .into_iter()
                    .for_each(|item| group.push(item));
            };
            if count == 0 {
                label(
                    (left + CELL / 2, top + ROW / 2 + 130),
                    Anchor::Middle,
                    Face::Regular,
                    380,
                    Role::Faint,
                );
            } else {
                // The house looks as in the tab, but smaller and without steps. Beside it are the note and its count.
                let x = left + CELL - 70;
                label((x, top + 330), Anchor::End, Face::Semibold, 370, Role::Text);
                let times = format!("×{count}");
                group.push(Item::text(
                    times,
                    (x, top + ROW - 100),
                    Anchor::End,
                    Face::Regular,
                    330,
                    Role::Text,
                ));
                let foot = match action.breath {
                    Breath::Blow => top + ROW / 2 + 190,
                    Breath::Draw => top + ROW / 2 - 190,
                };
                let width = houses::width(&super::score::Tab::Action(action), bend_mark, HOUSE);
                houses::house(&mut group, action, bend_mark, (left + 55 + width / 2, foot), width, HOUSE);
            }
            chart.groups.push(group);
        }
    }
    // The plate with the numbers of the holes.
    let top = blow_rows as i32 * ROW;
    for hole in 1..=HOLES {
        let left = HEADS + i32::from(hole - 1) * CELL;
        let at = (left + CELL / 2, top + plate - 140);
        chart.push(Item::text(hole.to_string(), at, Anchor::Middle, Face::Semibold, 440, Role::Chart));
    }
    let at = (HEADS - 120, top + plate - 140);
    chart.push(Item::text("hole", at, Anchor::End, Face::Semibold, 400, Role::Chart));
    chart
}

/// Writes a caption over the chart.
pub(super) fn caption(chart: &mut Group, text: &str) {
    let top = chart.bounds().map_or(0, |bounds| bounds.top);
    for item in label::items(text, (HEADS, top - 180), Anchor::Start, Face::Semibold, 430, Role::Text) {
        chart.push(item);
    }
}

fn outline(group: &mut Group, cell: Bounds) {
    let Bounds { left, top, right, bottom } = cell;
    for (from, to) in [
        ((left, top), (right, top)),
        ((right, top), (right, bottom)),
        ((right, bottom), (left, bottom)),
        ((left, bottom), (left, top)),
    ] {
        group.push(Item::line(from, to, LINE, Role::Chart));
    }
}

/// Returns the most frequent spelling of an action's notes, or the first of several equally frequent spellings. An
/// unused action takes the spelling of the key.
fn spelled(melody: &Melody, approach: &Approach, action: Action, pitch: Pitch) -> Spelling {
    let played = approach.playing.notes.iter().enumerate();
    let here = played.filter(|(_, played)| played.action == Some(action));
    let mut names: Vec<(Spelling, usize)> = Vec::new();
    for name in here.filter_map(|(note, _)| approach.sounding(melody, note)) {
        match names.iter_mut().find(|(known, _)| *known == name) {
            Some((_, count)) => *count += 1,
            None => names.push((name, 1)),
        }
    }
    let most = names.into_iter().rev().max_by_key(|&(_, count)| count);
    most.map_or_else(|| approach.spelled(melody, pitch, Beats::ZERO), |(name, _)| name)
}

impl ReedRow {
    fn breath(self) -> Breath {
        match self {
            ReedRow::Bent(breath, _) | ReedRow::Natural(breath) => breath,
        }
    }

    fn action(self, hole: u8) -> Action {
        match self {
            ReedRow::Natural(breath) => Action { bend: Bend::None, hole, breath },
            ReedRow::Bent(breath, bend) => Action { bend, hole, breath },
        }
    }

    fn name(self) -> String {
        match self {
            ReedRow::Natural(breath) => breath.to_string(),
            ReedRow::Bent(Breath::Blow, Bend::Over) => "overblow".to_owned(),
            ReedRow::Bent(Breath::Draw, Bend::Over) => "overdraw".to_owned(),
            ReedRow::Bent(_, Bend::Down(depth)) => {
                let halves = ["", "½ step", "1 step", "1½ steps"];
                halves
                    .get(usize::from(depth))
                    .map_or_else(|| format!("{depth} × ½"), |name| (*name).to_owned())
            }
            ReedRow::Bent(_, Bend::None) => String::new(),
        }
    }
}

/// Returns the rows from top to bottom: blow notes above the plate, draw notes below it, deeper bends further from it.
/// Only bends that the tune uses get a row.
fn rows(used: &impl Fn(Action) -> usize) -> Vec<ReedRow> {
    /// The deepest bend, in semitones. No tuning has reeds further apart in a hole.
    const DEEPEST: u8 = 11;
    let bent = |breath: Breath| {
        let kinds = (1..=DEEPEST).map(Bend::Down).chain([Bend::Over]);
        let used = kinds.filter(move |&bend| (1..=HOLES).any(|hole| used(Action { bend, hole, breath }) > 0));
        used.map(move |bend| ReedRow::Bent(breath, bend)).collect::<Vec<ReedRow>>()
    };
    let mut rows = bent(Breath::Blow);
    rows.reverse();
    rows.extend([ReedRow::Natural(Breath::Blow), ReedRow::Natural(Breath::Draw)]);
    rows.extend(bent(Breath::Draw));
    rows
}
