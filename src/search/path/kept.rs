//! Finds the playing of least effort that keeps the given ways: the best completion of a tab with some holes left open.

use super::{
    Playing, Reach, Timeline,
    lattice::{Lattice, Stage},
};
use crate::{
    harp::Action,
    pitch::Interval,
    search::effort::{Way, Weights},
};

/// Finds the playing of least effort of a line moved by an interval. A note with a given way that sounds it keeps that
/// way; any other note may use any way.
///
/// It never costs less than [`super::best`], which chooses freely for every note.
pub fn best_keeping(
    line: &Timeline,
    reach: &Reach,
    weights: &Weights,
    shift: Interval,
    kept: &[Option<Action>],
) -> Playing {
    let notes = line.notes.iter().enumerate().map(|(index, note)| {
        let ways = reach.ways(note.pitch, shift);
        let kept = kept.get(index).copied().flatten();
        let only = ways.iter().position(|way| Some(way.action) == kept);
        (index, only.map_or(ways, |only| &ways[only..=only]))
    });
    let sounded = notes.filter(|(_, ways): &(usize, &[Way])| !ways.is_empty()).enumerate();
    let rows = sounded.map(|(row, (note, ways))| Stage::in_line(row, note, ways)).collect();
    let aims = line.aims(reach, shift, weights);
    let lattice = Lattice::new(line, &aims, weights, rows, 1, 0);
    line.price(lattice.ways(&lattice.cheapest()).into_iter(), &aims, weights)
}
