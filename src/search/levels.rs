//! One tune on one harp at several levels: without bends, with bends, with everything.
//!
//! Each level is the best row of its own search, with every note that can be played. Where it lacks notes, the tune is adapted,
//! so a class plays it to the end at every level. The levels of a tune that needs no bends are the same.

use super::{Approach, EditWeights, Request, Wanted, adapt, search_for};
use crate::harp::Technique;

/// A level of a tune on a harp.
#[derive(Clone, PartialEq, Debug)]
pub struct Level<'a> {
    /// The techniques with which the tune is played in this one way, the least first; there is at least one.
    pub techniques: Vec<Technique>,
    /// The best row with the least of them, as the tune is written.
    pub row: Approach<'a>,
    /// The same row with the tune changed, where it lacks notes.
    pub adapted: Option<Approach<'a>>,
}

impl<'a> Level<'a> {
    /// The way that is played: with the tune changed, where it lacks notes.
    pub fn playing(&self) -> &Approach<'a> {
        self.adapted.as_ref().unwrap_or(&self.row)
    }
}

/// Returns the levels of a tune on the harps of the request, up to its technique and the least first. Neighbours with the same
/// tab are one level. A technique that sounds not a single note has none.
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

/// Returns what a class learns in turn: no bends, bends, everything.
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
