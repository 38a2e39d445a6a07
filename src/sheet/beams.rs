//! Which notes share a beam, and which way stems go.

use super::score::{Event, NoteEvent, ScoreBar};
use crate::time::Beats;

/// The events of a bar that share beams, each group of two or more in order.
///
/// Beams show the beats; four eighths in two beats of a bar of twos or fours are beamed together, and so is a tuplet (common
/// practice as in handbooks of engraving, from memory). Rests end a beam.
pub(super) fn groups(bar: &ScoreBar) -> Vec<Vec<usize>> {
    let pairs = bar.meter.is_some_and(|meter| meter.unit == 4 && meter.beats.is_multiple_of(2));
    let eighths = |beat: usize| {
        let mut events = bar.events.iter().filter(|event| event.beat == beat).peekable();
        events.peek().is_some()
            && events.all(|event| {
                event.note.is_some() && event.tuplet.is_none() && event.length == Beats::new(1, 2)
            })
    };
    // The beat whose beam an event is on: of a pair that is all eighths, the first.
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
        // Tuplets of more than a beat are one group.
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

/// Whether the stems of notes that share a beam, or of one note, go up: away from the note that lies farthest from the middle
/// line; on it they go down.
pub(super) fn stem_up<'a>(notes: impl Iterator<Item = &'a NoteEvent>) -> bool {
    const MIDDLE: i32 = 4;
    let (mut above, mut below, mut sum) = (0, 0, 0);
    for note in notes {
        let distance = note.position - MIDDLE;
        (above, below, sum) = (above.max(distance), below.max(-distance), sum + distance);
    }
    below > above || (below == above && sum < 0)
}
