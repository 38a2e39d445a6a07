//! Finds the playing of least effort that keeps the given ways: the best completion of a tab that leaves some holes
//! open.

use super::{Playing, Reach, Timeline, best_with};
use crate::{
    harp::Action,
    pitch::Interval,
    search::{effort::Weights, pin::Pin},
};

/// Finds the playing of least effort of a line transposed by an interval. A note keeps its given way if that way sounds
/// the note; any other note may use any way.
///
/// The result never costs less than [`super::best`], which chooses freely for every note.
pub fn best_keeping(
    line: &Timeline,
    reach: &Reach,
    weights: &Weights,
    shift: Interval,
    kept: &[Option<Action>],
) -> Playing {
    let pins = line.notes.iter().zip(kept).enumerate().filter_map(|(note, (sought, action))| {
        let ways = reach.ways(sought.pitch, shift);
        let way = ways.iter().find(|way| Some(way.action) == *action)?;
        Some(Pin { note, action: way.action })
    });
    best_with(line, reach, weights, shift, &pins.collect::<Vec<_>>())
}
