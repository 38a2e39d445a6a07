//! Walks through the bars in the order of performance.

use super::{
    MAX_BARS, MAX_NOTES, MAX_QUARTERS,
    form::{Form, Repeat},
};
use crate::time::Beats;

/// A bar in the order of performance.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Played {
    /// The index of the bar among the written bars.
    pub(super) bar: usize,
    /// The pass of the bar's passage, counted from 1; `None` for a bar that is never repeated.
    pub(super) verse: Option<u32>,
}

/// Returns the order of performance. If the order exceeds a limit, returns that limit and its unit instead. `cost`
/// returns the number of notes in a bar and its length.
///
/// Each jump is made once, when the player first reaches it after the last pass of its repeat. Until the player is back
/// at the jump, bars are played again: with the last ending, and only with the repeats that are taken after a jump.
/// From the jump on, "to coda" and "Fine" take effect.
pub(super) fn order(
    form: &Form,
    cost: impl Fn(usize) -> (usize, Beats),
) -> Result<Vec<Played>, (usize, &'static str)> {
    let longest = Beats::new(MAX_QUARTERS, 1);
    let bars = form.bars.len();
    let mut order: Vec<Played> = Vec::with_capacity(bars);
    // How often each bar has been played so far, and the current pass of each repeat.
    let mut times = vec![0_u32; bars];
    let mut passes = vec![1_u32; form.repeats.len()];
    let mut jumped_from = vec![false; bars];
    // Whether a jump was made; the bar of the last jump until the player is back there; and the repeat to whose start
    // the player has just returned.
    let mut jumped = false;
    let mut again_until: Option<usize> = None;
    let mut came_back = None;
    let (mut notes, mut time) = (0, Beats::ZERO);
    let mut at = 0;
    while let Some(turn) = form.bars.get(at) {
        if again_until.is_some_and(|last| at > last) {
            again_until = None;
        }
        if let Some(repeat) = turn.begins
            && came_back.take() != Some(repeat)
        {
            passes[repeat] = if again_until.is_some() { form.repeats[repeat].pass_after_jump() } else { 1 };
        }
        if let Some(ending) = &turn.ending
            && !ending.numbers.iter().any(|&number| u32::from(number) == passes[ending.repeat])
        {
            at = ending.after;
            continue;
        }
        times[at] += 1;
        let first = turn.within.map_or(at, |repeat| form.repeats[repeat].first);
        order.push(Played { bar: at, verse: Some(times[first].max(1)) });
        let (more_notes, more_time) = cost(at);
        (notes, time) = (notes + more_notes, time + more_time);
        // A tune that exceeds a limit even as written may still be played once.
        if order.len() > bars {
            if order.len() > MAX_BARS {
                return Err((MAX_BARS, "bars"));
            }
            if notes > MAX_NOTES {
                return Err((MAX_NOTES, "notes"));
            }
            if time >= longest {
                return Err((usize::try_from(MAX_QUARTERS).unwrap_or(usize::MAX), "quarter notes"));
            }
        }
        at = if let Some(coda) = turn.coda.filter(|_| jumped) {
            again_until = None;
            coda
        } else if let Some(repeat) = turn.back.filter(|&repeat| passes[repeat] < form.repeats[repeat].passes)
        {
            passes[repeat] += 1;
            came_back = Some(repeat);
            form.repeats[repeat].first
        } else if turn.fine && jumped {
            break;
        } else if let Some(target) = turn.jump.filter(|_| !jumped_from[at]) {
            jumped_from[at] = true;
            jumped = true;
            again_until = Some(at);
            passes.clear();
            passes.extend(form.repeats.iter().map(Repeat::pass_after_jump));
            target
        } else {
            at + 1
        };
    }
    for played in &mut order {
        if times[played.bar] == 1 && form.bars[played.bar].within.is_none() {
            played.verse = None;
        }
    }
    Ok(order)
}
