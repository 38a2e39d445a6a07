//! Turns a playing that somebody chose, such as a teacher, into an approach with its price and counts.

use super::{Approach, Counts, Playing, Request};
use crate::{
    harp::{Action, Harp, Position, Technique},
    pitch::Interval,
};

/// Makes a row from a playing that did not come from the search, on a harp, for a tune moved from the written pitch by
/// these octaves and semitones. The effort of the row is the result of [`super::path::price`] or
/// [`super::path::best_keeping`], plus the price of the position.
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

/// Returns the least technique that allows all of these actions and is no less than `least`.
pub fn technique(least: Technique, actions: impl IntoIterator<Item = Action>) -> Technique {
    let needed = actions
        .into_iter()
        .filter_map(|action| Technique::ALL.into_iter().find(|technique| technique.allows(action)));
    needed.fold(least, Technique::max)
}
