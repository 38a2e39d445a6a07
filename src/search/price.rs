//! A choice that somebody else made, as an approach: what it costs and what is remarkable about it.

use super::{Approach, Counts, Playing, Request};
use crate::{
    harp::{Action, Harp, Position, Technique},
    pitch::Interval,
};

/// The row of a playing that did not come out of the search, on a harp, so many octaves and semitones away from what is
/// written. Its effort is what [`super::path::price`] or [`super::path::best_keeping`] found, and the price
/// of the position.
pub fn approach<'a>(
    request: &Request,
    harp: &'a Harp,
    (octave, transposed): (i8, Interval),
    playing: Playing,
) -> Approach<'a> {
    let tonic = request.key.tonic.transposed(transposed);
    let position = Position::of(harp.first_position_key(), tonic);
    let playing = playing.each_note(request.weights.in_position(position));
    let counts = Counts::of(request.melody, &playing);
    Approach {
        harp,
        position,
        octave,
        transposed,
        tonic,
        technique: request.technique,
        playing,
        counts,
        changes: Vec::new(),
    }
}

/// The least technique that allows all of these actions, and no less than the given one.
pub fn technique(least: Technique, actions: impl IntoIterator<Item = Action>) -> Technique {
    let needed = actions
        .into_iter()
        .filter_map(|action| Technique::ALL.into_iter().find(|technique| technique.allows(action)));
    needed.fold(least, Technique::max)
}
