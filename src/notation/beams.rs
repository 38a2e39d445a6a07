//! Decides which notes share a beam, and which part of the beam each note draws.

use super::{Bar, Event};
use crate::{melody::Beam, time::Beats};

/// Returns the events of a bar that share beams, in groups of two or more, in order.
///
/// Beams show the beats. In meters such as 2/4 and 4/4, the four eighths of two beats share a beam. The notes of a
/// tuplet also share a beam (common practice as in handbooks of engraving, from memory). A rest or a note without flags
/// ends a beam.
pub(super) fn groups(bar: &Bar) -> Vec<Vec<usize>> {
    let pairs = bar.meter.is_some_and(|meter| meter.unit == 4 && meter.beats.is_multiple_of(2));
    let eighths = |beat: usize| {
        let first = bar.events.partition_point(|event| event.beat < beat);
        let mut events = bar.events[first..].iter().take_while(|event| event.beat == beat).peekable();
        events.peek().is_some()
            && events.all(|event| {
                event.note.is_some() && event.tuplet.is_none() && event.length == Beats::new(1, 2)
            })
    };
    // The beat whose beam the event joins: the first beat of a pair if both beats contain only eighths.
    let home = |event: &Event| match event.beat % 2 {
        1 if pairs && eighths(event.beat - 1) && eighths(event.beat) => event.beat - 1,
        _ => event.beat,
    };
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let mut last: Option<(usize, Option<usize>)> = None;
    for (index, event) in bar.events.iter().enumerate() {
        if event.note.is_none() || event.value.flags() == 0 {
            last = None;
            continue;
        }
        let place = (home(event), event.tuplet);
        // A tuplet longer than a beat forms one group.
        let goes_on = match (last, event.tuplet) {
            (Some((_, Some(before))), Some(tuplet)) => before == tuplet,
            (Some(before), _) => before == place,
            (None, _) => false,
        };
        match groups.last_mut().filter(|_| goes_on) {
            Some(group) => group.push(index),
            None => groups.push(vec![index]),
        }
        last = Some(place);
    }
    groups.retain(|group| group.len() > 1);
    groups
}

/// Gives each event of a group its part of the beams: the file's parts if they are consistent, otherwise parts derived
/// from the flags.
pub(super) fn join(events: &mut [Event], group: &[usize], file: impl Fn(usize) -> Vec<Beam>) {
    let flags: Vec<u8> = group.iter().map(|&event| events[event].value.flags()).collect();
    let theirs: Vec<Vec<Beam>> = group.iter().map(|&event| file(event)).collect();
    let signs = if make_sense(&theirs, &flags) { theirs } else { signs(&flags) };
    for (&event, signs) in group.iter().zip(signs) {
        events[event].beams = signs;
    }
}

/// Whether every note has as many beams as flags, and every beam that begins also ends.
fn make_sense(signs: &[Vec<Beam>], flags: &[u8]) -> bool {
    let deepest = flags.iter().copied().max().unwrap_or(0);
    let is_whole = |level: u8| {
        let mut open = false;
        let each = signs.iter().map(|signs| signs.get(usize::from(level)));
        let fits = each.into_iter().all(|sign| {
            let (from_open, to_open) = match sign {
                Some(Beam::Begin) => (false, true),
                Some(Beam::Continue) => (true, true),
                Some(Beam::End) => (true, false),
                Some(Beam::ForwardHook | Beam::BackwardHook) | None => (false, false),
            };
            std::mem::replace(&mut open, to_open) == from_open
        });
        fits && !open
    };
    signs.iter().zip(flags).all(|(signs, &flags)| signs.len() == usize::from(flags))
        && (0..deepest).all(is_whole)
}

/// Returns each note's part of the beams, from the eighths' beam on, given the number of flags of each note.
///
/// A stub points back to the previous note; only the first note's stub points forward.
pub(super) fn signs(flags: &[u8]) -> Vec<Vec<Beam>> {
    let has =
        |at: Option<usize>, level: u8| at.and_then(|at| flags.get(at)).is_some_and(|&other| other > level);
    let of = |(index, &own): (usize, &u8)| {
        let beam = |level| match (has(index.checked_sub(1), level), has(Some(index + 1), level)) {
            (true, true) => Beam::Continue,
            (true, false) => Beam::End,
            (false, true) => Beam::Begin,
            (false, false) if index == 0 => Beam::ForwardHook,
            (false, false) => Beam::BackwardHook,
        };
        (0..own).map(beam).collect()
    };
    flags.iter().enumerate().map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_beam_has_stubs_where_one_note_alone_is_shorter() {
        use Beam::{BackwardHook, Begin, Continue, End, ForwardHook};
        assert_eq!(signs(&[1, 2, 2]), [vec![Begin], vec![Continue, Begin], vec![End, End]]);
        assert_eq!(signs(&[1, 2]), [vec![Begin], vec![End, BackwardHook]]);
        assert_eq!(signs(&[2, 1]), [vec![Begin, ForwardHook], vec![End]]);
        for flags in [&[1, 2, 2][..], &[1, 2], &[2, 1], &[3, 3, 1, 2, 2]] {
            assert!(make_sense(&signs(flags), flags));
        }
        // Four sixteenths in two pairs under one beam are consistent; a beam that never ends, or a note with too few
        // beams, is not.
        let pairs = [vec![Begin, Begin], vec![Continue, End], vec![Continue, Begin], vec![End, End]];
        assert!(make_sense(&pairs, &[2; 4]));
        assert!(!make_sense(&pairs[..3], &[2; 3]) && !make_sense(&pairs, &[3; 4]));
    }
}
