//! Two hands in one part, as keyboard music comes from a single MIDI track: which notes are the lower hand's.
//!
//! Where several notes sound, the highest is the tune's and the lowest the accompaniment's. If these two
//! kinds lie apart, a note that sounds alone and as low as the accompaniment belongs to it: the tune rests
//! there.

use std::{cmp::Reverse, collections::BinaryHeap};

use super::sweep::span;
use crate::{melody::Note, pitch::Pitch};

/// Of so many hundred moments at least so many must have several notes; fewer are double stops of one voice.
const SEVERAL_PERCENT: usize = 50;
/// With fewer such moments nothing can be said.
const FEWEST: usize = 8;

/// The pitch up to which lone notes are the lower hand's, if there is one. The notes are in order of onset.
pub(super) fn lower_hand(notes: &[&Note]) -> Option<Pitch> {
    // Most parts are one line, and need no more.
    if notes.is_sorted_by(|before, next| span(before).1 <= span(next).0) {
        return None;
    }
    let (mut moments, mut tops, mut bottoms) = (0, Vec::new(), Vec::new());
    // What sounds, the highest and the lowest first, each until three quarters of its length: a note that is
    // held only a little into the next, legato, is not a second hand. What is over is thrown out at the top.
    let mut high: BinaryHeap<(Pitch, u64)> = BinaryHeap::new();
    let mut low: BinaryHeap<(Reverse<Pitch>, u64)> = BinaryHeap::new();
    for moment in notes.chunk_by(|a, b| a.onset == b.onset) {
        let (now, _) = span(moment[0]);
        for note in moment {
            let (_, end) = span(note);
            let most = now + (end - now) * 3 / 4;
            high.push((note.pitch, most));
            low.push((Reverse(note.pitch), most));
        }
        while high.peek().is_some_and(|&(_, most)| most <= now) {
            high.pop();
        }
        while low.peek().is_some_and(|&(_, most)| most <= now) {
            low.pop();
        }
        moments += 1;
        if let (Some(&(top, _)), Some(&(Reverse(bottom), _))) = (high.peek(), low.peek())
            && bottom < top
        {
            tops.push(top);
            bottoms.push(bottom);
        }
    }
    if tops.len() < FEWEST || tops.len() * 100 < moments * SEVERAL_PERCENT {
        return None;
    }
    tops.sort_unstable();
    bottoms.sort_unstable();
    // A tenth on either side may stray.
    let (lowest_top, highest_bottom) = (tops[tops.len() / 10], bottoms[bottoms.len() * 9 / 10]);
    (highest_bottom < lowest_top).then_some(highest_bottom)
}
