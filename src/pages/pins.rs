//! Words the pins: which note has which hole, what would be played there without them, and what they cost.

use super::{Line, Page, Tone, words};
use crate::{
    harp::Action,
    melody::Melody,
    search::{Approach, Ranking, Request},
};

/// How many pins are named.
const NAMED: usize = 4;

/// Adds a line for each pin and one for their price; nothing without pins.
pub(super) fn list(page: &mut Page, request: &Request, ranking: &Ranking) {
    if request.pins.is_empty() {
        return;
    }
    let alike = ranking.free.as_ref().map(|free| &free.alike);
    let named = if request.pins.len() == NAMED + 1 { NAMED + 1 } else { NAMED };
    for pin in request.pins.iter().take(named) {
        let free = alike.and_then(|free| free.playing.notes.get(pin.note)?.action);
        page.item(line(request.melody, pin.note, pin.action, free));
    }
    let more = request.pins.len().saturating_sub(named);
    if more > 0 {
        page.item(format!("And {more} more pins"));
    }
    if let (Some(free), Some(pinned)) = (&ranking.free, ranking.best()) {
        page.item(words::sentence(&price(pinned, &free.alike, &free.best)));
    }
}

/// Returns "Pinned: draw 2 at bar 3 beat 2, where blow 3 would be chosen".
fn line(melody: &Melody, note: usize, action: Action, free: Option<Action>) -> Line {
    let place = melody.place(note, 1);
    let chosen = match free {
        Some(free) if free == action => ", as without the pin".to_owned(),
        Some(free) => format!(", where {} would be chosen", words::bent_hole(free)),
        None => String::new(),
    };
    let at = format!(" at bar {} beat {}", place.bar, place.beat.rounded());
    Tone::Strong.of("Pinned: ").and(Tone::Plain, format!("{}{at}{chosen}", words::bent_hole(action)))
}

/// Returns "the pins cost 112 points: 1802 instead of 1690; ten points are a step to the next hole".
fn price(pinned: &Approach, alike: &Approach, best: &Approach) -> String {
    let effort = |approach: &Approach| approach.playing.effort.total();
    let (with, without) = (effort(pinned), effort(alike));
    let mut text = match with.saturating_sub(without) {
        0 => "the pins cost nothing on this harp".to_owned(),
        more => format!(
            "the pins cost {more} points: {with} instead of {without}; ten points are a step to the next hole"
        ),
    };
    if (best.harp, best.shift()) != (pinned.harp, pinned.shift()) {
        let harp = format!("{} {}", words::article(best.harp), words::harp(best.harp));
        text += &format!("; without them, {harp} would be picked, {}", words::short_place(best));
    }
    text
}
