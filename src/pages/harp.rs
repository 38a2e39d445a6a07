//! The layout of a harp: its reeds, bends and overbends hole by hole.

use super::{Block, Column, Line, Page, Table, Tone, words};
use crate::{
    harp::{Action, Bend, Breath, HOLES, Harp, Technique},
    mode::Mode,
    pitch::{Pitch, Spelling, fewest_accidentals},
};

/// Builds the page of `breathline harp`.
pub fn page(harp: &Harp, technique: Technique) -> Page {
    let mut page = Page::default();
    page.text(Tone::Strong.of(words::sentence(&words::harp(harp))));
    let low = harp.actions().first().map(|&(pitch, _)| pitch);
    let high = harp.actions().iter().rev().find(|(_, action)| action.bend == Bend::None);
    if let Some((low, &(high, _))) = low.zip(high) {
        page.text(format!("{}.", words::sentence(harp.tuning().about())));
        page.text(format!("Its range is {} to {} without overbends.", name(harp, low), name(harp, high)));
    }
    if harp.key() != harp.first_position_key() {
        page.text(format!(
            "Stamped with the key of its {} position; in 1st position it plays in {}.",
            harp.tuning().label_position(),
            harp.first_position_key()
        ));
    }
    page.gap();
    page.blocks.push(Block::Table(layout(harp, technique)));
    let deepest = deepest(harp, technique);
    if deepest > 0 {
        page.gap();
        let depths: Vec<String> =
            (1..=deepest).map(|depth| format!("bend {depth} by {}", words::steps(depth))).collect();
        page.text(format!(
            "A bend pulls the higher note of a hole down towards the lower one: {}.",
            words::list(&depths)
        ));
    }
    page
}

/// Returns the semitones of the deepest bend that the technique allows.
fn deepest(harp: &Harp, technique: Technique) -> u8 {
    let allowed = harp.actions().iter().filter(|(_, action)| technique.allows(*action));
    let depths = allowed.map(|(_, action)| match action.bend {
        Bend::Down(depth) => depth,
        Bend::None | Bend::Over => 0,
    });
    depths.max().unwrap_or(0)
}

/// Returns the layout as a table with a column for each hole. The rows, from the top: overblow, blow bends, blow, draw,
/// draw bends, overdraw.
fn layout(harp: &Harp, technique: Technique) -> Table {
    let titles = std::iter::once("hole".to_owned()).chain((1..=HOLES).map(|hole| hole.to_string()));
    let mut table = Table { columns: titles.map(Column::words).collect(), rows: Vec::new() };
    let row = |title: &str, action: &dyn Fn(u8) -> Action, tone: Tone| -> Option<Vec<Line>> {
        let cells: Vec<String> = (1..=HOLES)
            .map(|hole| {
                let allowed = Some(action(hole)).filter(|&action| technique.allows(action));
                let pitch = allowed.and_then(|action| harp.pitch(action));
                pitch.map_or(String::new(), |pitch| name(harp, pitch))
            })
            .collect();
        let any = cells.iter().any(|cell| !cell.is_empty());
        any.then(|| {
            std::iter::once(Line::from(title)).chain(cells.into_iter().map(|cell| tone.of(cell))).collect()
        })
    };
    let deepest = deepest(harp, technique);
    let natural = |breath: Breath| move |hole| Action { bend: Bend::None, hole, breath };
    let over = |breath: Breath| move |hole| Action { bend: Bend::Over, hole, breath };
    let bent = |breath: Breath, depth: u8| move |hole| Action { bend: Bend::Down(depth), hole, breath };
    let (blow, draw) = (Breath::Blow, Breath::Draw);
    table.rows.extend(row("overblow", &over(blow), Tone::Bent));
    for depth in (1..=deepest).rev() {
        table.rows.extend(row(&format!("blow bend {depth}"), &bent(blow, depth), Tone::Bent));
    }
    table.rows.extend(row("blow", &natural(blow), Tone::Blow));
    table.rows.extend(row("draw", &natural(draw), Tone::Draw));
    for depth in 1..=deepest {
        table.rows.extend(row(&format!("draw bend {depth}"), &bent(draw, depth), Tone::Bent));
    }
    table.rows.extend(row("overdraw", &over(draw), Tone::Bent));
    table
}

/// Returns the name of a pitch. Notes of the harp's own major key are spelled as in that key. Other notes on white keys
/// are spelled plainly, and other notes on black keys as b2, b3, #4, b6 or b7 of that key.
pub(crate) fn name(harp: &Harp, pitch: Pitch) -> String {
    let sharps = sharps(harp);
    let in_scale = Mode::Major.scale().contains(&pitch.class().above(harp.first_position_key()));
    let plain = Spelling::in_key(pitch, 0);
    let spelling = match (in_scale, plain.alter) {
        (true, _) => Spelling::in_key(pitch, sharps),
        (false, 0) => plain,
        // The signature with two more flats gives these spellings.
        (false, _) => Spelling::in_key(pitch, sharps - 2),
    };
    spelling.to_string()
}

/// Returns the sharps of the harp's first-position major key.
fn sharps(harp: &Harp) -> i8 {
    fewest_accidentals(7 * i16::from(harp.first_position_key().semitones()))
}
