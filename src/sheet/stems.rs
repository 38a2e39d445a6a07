//! Computes the directions and lengths of stems and the slopes of beams, without drawing them.

use super::{draw::SPACE, score::NoteEvent};

/// The thickness of a stem and of a beam, and the distance between beams.
pub(super) const STEM: i32 = 30;
pub(super) const BEAM: i32 = 125;
pub(super) const BEAM_STEP: i32 = 190;
/// The height of the middle line of the staff.
const MIDDLE: i32 = 2 * SPACE;
/// The length of a stem with at most two flags: an octave.
const LENGTH: i32 = 7 * SPACE / 2;
/// The shortest stem under a beam.
const SHORTEST: i32 = 5 * SPACE / 2;
/// The greatest rise or fall of a beam; a short beam rises or falls less.
const STEEPEST: i32 = SPACE;

/// Returns whether the stem of a note, or the stems of all notes under a beam, go up. They go up if the note farthest
/// from the middle line is below this line. If the farthest notes above and below are equally far, the sum of all
/// distances decides. A note on the middle line has its stem down.
pub(super) fn up<'a>(notes: impl Iterator<Item = &'a NoteEvent>) -> bool {
    const MIDDLE: i32 = 4;
    let (mut above, mut below, mut sum) = (0, 0, 0);
    for note in notes {
        let distance = note.position - MIDDLE;
        (above, below, sum) = (above.max(distance), below.max(-distance), sum + distance);
    }
    below > above || (below == above && sum < 0)
}

/// Returns the height at which the stem of a single note ends.
pub(super) fn end(head: i32, up: bool, flags: u8) -> i32 {
    let length = LENGTH + i32::from(flags.saturating_sub(2)) * BEAM_STEP;
    // The stem of a note far from the middle line extends at least to that line (from memory of the handbooks).
    if up { (head - length).min(MIDDLE) } else { (head + length).max(MIDDLE) }
}

/// The outer edge of a beam, along its length.
#[derive(Clone, Copy, Debug)]
pub(super) struct BeamLine {
    from: (i32, i32),
    rise: i32,
    run: i32,
}

impl BeamLine {
    /// Returns the beam over stems, each given as (x, y of the head, flags).
    pub(super) fn new(stems: &[(i32, i32, u8)], up: bool) -> BeamLine {
        let (Some(first), Some(last)) = (stems.first(), stems.last()) else {
            return BeamLine { from: (0, 0), rise: 0, run: 1 };
        };
        let run = (last.0 - first.0).max(1);
        let inner = stems.get(1..stems.len() - 1).unwrap_or_default();
        // An inner note that extends further than both ends makes the beam level.
        let further = |y: i32| if up { y < first.1.min(last.1) } else { y > first.1.max(last.1) };
        let level = inner.iter().any(|stem| further(stem.1));
        let rise = if level {
            0
        } else {
            ((last.1 - first.1) / 2).clamp(-STEEPEST, STEEPEST).clamp(-run / 4, run / 4)
        };
        let flat = BeamLine { from: (first.0, 0), rise, run };
        let way = if up { -1 } else { 1 };
        // The beam is as near as the shortest stem permits, and at least as far as the middle line.
        let reach = stems.iter().map(|&(x, y, flags)| {
            let length = SHORTEST + BEAM + i32::from(flags.saturating_sub(1)) * BEAM_STEP * 3 / 4;
            y + way * length - flat.at(x)
        });
        let middle = stems.iter().map(|&(x, ..)| MIDDLE - flat.at(x));
        let from = if up { reach.chain(middle).min() } else { reach.chain(middle).max() };
        BeamLine { from: (first.0, from.unwrap_or(0)), ..flat }
    }

    /// Returns the height of the beam at a place.
    pub(super) fn at(&self, x: i32) -> i32 {
        self.from.1 + (i64::from(self.rise) * i64::from(x - self.from.0) / i64::from(self.run)) as i32
    }
}
