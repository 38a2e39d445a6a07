//! Pins: notes whose action somebody has fixed, for example a teacher for a pupil.
//!
//! The rest of the tune is solved exactly around the pins. A row costs as much as its cheapest playing that keeps all
//! pins, and a harp that cannot sound a pin has no row. A pin never changes the pitch of a note, and it needs no more
//! technique than the player has.

use super::{Approach, Request};
use crate::harp::Action;

/// A note and the action that must sound it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Pin {
    /// The index of the note in the melody.
    pub note: usize,
    /// The action.
    pub action: Action,
}

/// Returns the action pinned to a note; `pins` must be in order.
pub(super) fn at(pins: &[Pin], note: usize) -> Option<Action> {
    pins.binary_search_by_key(&note, |pin| pin.note).ok().map(|pin| pins[pin].action)
}

/// Returns the actions that sound a note in an approach and that the player's technique allows.
pub fn holes<'r>(request: &'r Request, row: &'r Approach, note: usize) -> impl Iterator<Item = Action> + 'r {
    let pitch = request.melody.notes[note].pitch.transposed(row.shift());
    let ways = row.harp.ways().filter(move |(sounds, ..)| Some(*sounds) == pitch);
    ways.map(|(_, action, _)| action).filter(|&action| request.technique.allows(action))
}
