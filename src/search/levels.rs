//! One tune on one harp at several levels: without bends, with bends, and with all techniques.
//!
//! Each level is the best row of its own search, whose rows play every note that the level's technique can sound. If a
//! level lacks notes, the tune is adapted, so that a class can play the whole tune at every level. Levels with the same
//! tab are merged, so a tune that is easiest without bends has a single level.

use super::{Approach, EditWeights, Request, Wanted, adapt, search_for};
use crate::harp::Technique;

/// A level of a tune on a harp.
#[derive(Clone, PartialEq, Debug)]
pub struct Level<'a> {
    /// The techniques that share this level, from the easiest to the hardest; there is at least one.
    pub techniques: Vec<Technique>,
    /// The best row with the easiest of these techniques, for the tune as written.
    pub row: Approach<'a>,
    /// The same row with an adapted tune, if the row lacks notes.
    pub adapted: Option<Approach<'a>>,
}

impl<'a> Level<'a> {
    /// Returns the approach that is played: the adapted one if the row lacks notes.
    pub fn playing(&self) -> &Approach<'a> {
        self.adapted.as_ref().unwrap_or(&self.row)
    }
}

/// Returns the levels of a tune on the request's harps, from no bends up to the request's technique.
/// Neighbouring levels with the same tab become one level. A technique with which no note sounds has no level.
pub fn levels<'a>(request: &Request<'a>, wanted: &Wanted, edits: &EditWeights) -> Vec<Level<'a>> {
    let mut levels: Vec<Level> = Vec::new();
    for technique in techniques(request.technique) {
        let request = Request { technique, ..request.clone() };
        let wanted = Wanted { every_note: true, top: 1, ..*wanted };
        let Some(row) = search_for(&request, &wanted).approaches.into_iter().next() else { continue };
        let adapted = Some(adapt::adapt(&request, &row, edits)).filter(|adapted| !adapted.changes.is_empty());
        let level = Level { techniques: vec![technique], row, adapted };
        match levels.last_mut().filter(|last| is_same(last.playing(), level.playing())) {
            Some(last) => last.techniques.push(technique),
            None => levels.push(level),
        }
    }
    levels
}

/// Returns the techniques that a class learns in turn: no bends, bends, all techniques.
fn techniques(most: Technique) -> Vec<Technique> {
    let mut techniques = vec![Technique::None, Technique::All.min(most), most];
    techniques.dedup();
    techniques
}

fn is_same(one: &Approach, other: &Approach) -> bool {
    one.harp == other.harp
        && one.shift() == other.shift()
        && one.has_same_tab(other)
        && one.changes == other.changes
}
