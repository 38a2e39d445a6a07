//! Keeps a bar as its file writes it, if the file's signs match the sound.
//!
//! The file's durations may be rounded to whole ticks, as 85 + 85 + 86 of 256 for a triplet; its note values are exact.

use super::{Slice, Stretch};
use crate::{
    melody::{Bar, Beam, Written, WrittenKind},
    time::{Beats, Value},
};

/// Returns how far a duration may differ from its note value because of rounding: a 24th of a quarter, but at most a
/// third of the shortest note. A larger tolerance could confuse neighbouring notes.
fn rounding(bar: &Bar) -> Beats {
    let shortest = bar
        .written
        .iter()
        .map(Written::exact)
        .filter(|exact| *exact > Beats::ZERO)
        .min()
        .unwrap_or(Beats::ZERO);
    shortest.times(1, 3).min(Beats::new(1, 24))
}

/// A note or rest as the file writes it, with the melody's note that it represents.
pub(super) struct Kept<'a> {
    pub(super) written: &'a Written,
    /// The place according to the file's note values, from the start of the bar.
    pub(super) at: Beats,
    /// The index of the note among the slices, whether this event is the slice's first piece, and whether it is the
    /// last piece.
    pub(super) slice: Option<(usize, bool, bool)>,
}

/// Returns the bar as the file writes it; `None` if the file's signs do not match the sound.
pub(super) fn events<'a>(bar: &'a Bar, slices: &[(Stretch, Slice)]) -> Option<Vec<Kept<'a>>> {
    let rounding = rounding(bar);
    let agree = |a: Beats, b: Beats| a <= b + rounding && b <= a + rounding;
    let mut kept: Vec<Kept> = Vec::with_capacity(bar.written.len());
    let mut at = Beats::ZERO;
    for written in bar.written.iter().filter(|written| written.kind != WrittenKind::Grace) {
        let end = at + written.exact();
        if !agree(written.at, at) || !agree(written.at + written.length, end) {
            return None;
        }
        kept.push(Kept { written, at, slice: None });
        at = end;
    }
    if at != bar.length {
        return None;
    }
    let is_note = |kept: &Kept| matches!(kept.written.kind, WrittenKind::Note { .. });
    let mut next = 0;
    for (index, ((from, to), _)) in slices.iter().enumerate() {
        next += kept[next..].iter().take_while(|kept| !is_note(kept)).count();
        let first = next;
        if !agree(kept.get(first)?.at, *from) {
            return None;
        }
        loop {
            let piece = kept.get_mut(next).filter(|piece| is_note(piece))?;
            let ends = agree(piece.at + piece.written.exact(), *to);
            piece.slice = Some((index, next == first, ends));
            next += 1;
            if ends {
                break;
            }
        }
    }
    // A note of the file that is left over is not in the melody, because the import dropped it. The file's form then
    // does not match.
    (!kept[next..].iter().any(is_note)).then_some(kept)
}

/// Returns the index of each event's tuplet, and the tuplets of the bar as (number of notes, number in whose time they
/// are played).
///
/// A tuplet begins and ends where the file says so; without a stated end, it ends when it is complete.
pub(super) fn tuplets(kept: &[Kept]) -> (Vec<Option<usize>>, Vec<(i64, i64)>) {
    struct Open {
        ratio: (u8, u8),
        marked: bool,
        shortest: Beats,
        filled: Beats,
    }
    let mut tuplets: Vec<(i64, i64)> = Vec::new();
    let mut open: Option<Open> = None;
    let of = |Kept { written, .. }: &Kept| {
        let Some(ratio) = written.ratio else {
            open = None;
            return None;
        };
        let begins = written.tuplet.begins || open.as_ref().is_none_or(|open| open.ratio != ratio);
        if begins {
            tuplets.push((ratio.0.into(), ratio.1.into()));
            let (marked, shortest) = (written.tuplet.begins, written.value.duration());
            open = Some(Open { ratio, marked, shortest, filled: Beats::ZERO });
        }
        if let Some(group) = &mut open {
            let plain = Value { dots: 0, ..written.value }.duration();
            group.shortest = group.shortest.min(plain);
            group.filled += written.exact();
            let (n, d) = group.filled.fraction();
            let (whole, of) = group.shortest.times(group.ratio.1.into(), 1).fraction();
            let full = !group.marked && (n * of) % (d * whole).max(1) == 0;
            if written.tuplet.ends || full {
                open = None;
            }
        }
        Some(tuplets.len() - 1)
    };
    let each: Vec<Option<usize>> = kept.iter().map(of).collect();
    (each, tuplets)
}

/// Returns the file's beams in a bar, as groups of events. A rest ends a beam.
pub(super) fn groups(kept: &[Kept]) -> Vec<Vec<usize>> {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let mut is_open = false;
    for (index, Kept { written, slice, .. }) in kept.iter().enumerate() {
        let beam = written.beams[0].filter(|_| slice.is_some() && written.value.flags() > 0);
        match (beam, groups.last_mut()) {
            (Some(Beam::Continue | Beam::End), Some(group)) if is_open => group.push(index),
            (Some(_), _) => groups.push(vec![index]),
            (None, _) => {}
        }
        is_open = matches!(beam, Some(Beam::Begin | Beam::Continue));
    }
    groups.retain(|group| group.len() > 1);
    groups
}

/// Returns an event's part of each beam, as the file writes it.
pub(super) fn signs(kept: &Kept) -> Vec<Beam> {
    kept.written.beams.iter().map_while(|beam| *beam).collect()
}
