//! Writes the text about the pins: the hole of each pinned note, the hole that would be played without the pin, the
//! cost of all pins, the holes that a player can choose for a note, and the reason why the pins leave no way to play
//! the tune.

use itertools::Itertools;

use super::{Line, Page, Tone, changes, words};
use crate::{
    harp::{Action, Breath},
    melody::Melody,
    pins::{Hole, Holes, WrittenPin},
    search::{Approach, Pin, Ranking, Request, Wanted, pin, search_for},
    tab::Notation,
};

/// The most pins that are named. If only one more remains, it is named too.
const NAMED: usize = 4;

/// Adds a line for each of the first pins, a line that counts the others, and a line for the cost of all pins. Without
/// pins, adds nothing.
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
    if let Some(cost) = cost(ranking) {
        page.item(cost);
    }
}

/// Returns "Pinned: draw 2 at bar 3 beat 2, where blow 3 would be chosen".
fn line(melody: &Melody, note: usize, action: Action, free: Option<Action>) -> Line {
    let place = melody.place(note, 1);
    let chosen = match free {
        Some(free) if free == action => ", the same as without the pin".to_owned(),
        Some(free) => format!(", where {} would be chosen", words::bent_hole(free)),
        None => String::new(),
    };
    let at = format!("{} beat {}", at_bar(place.bar), place.beat.rounded());
    Tone::Strong.of("Pinned: ").and(Tone::Plain, format!("{} {at}{chosen}", words::bent_hole(action)))
}

/// Returns "the pins cost 112 points: 1802 instead of 1690; a step to the next hole costs ten points".
fn price(pinned: &Approach, alike: &Approach, best: &Approach) -> String {
    let effort = |approach: &Approach| approach.playing.effort.total();
    let (with, without) = (effort(pinned), effort(alike));
    let mut text = match with.saturating_sub(without) {
        0 => "the pins cost nothing on this harp".to_owned(),
        more => format!(
            "the pins cost {more} points: {with} instead of {without}; a step to the next hole costs ten points"
        ),
    };
    if (best.harp, best.shift()) != (pinned.harp, pinned.shift()) {
        let harp = format!("{} {}", words::article(best.harp), words::harp(best.harp));
        text += &format!("; without them, the choice would be {harp}, {}", words::short_place(best));
    }
    text
}

/// Explains why no way to play the tune keeps the pins. The text names the first pin that no row keeps, and the holes
/// that can sound its note; if some row keeps each pin, the text says that no row keeps all of them. `None` without
/// pins, or if the tune cannot be played without them either.
pub fn nowhere(request: &Request, wanted: &Wanted) -> Option<String> {
    let free = Request { pins: &[], ..request.clone() };
    let rows = search_for(&free, &Wanted { top: usize::MAX, ..*wanted }).approaches;
    let keeps =
        |row: &Approach, pin: &Pin| pin::holes(&free, row, pin.note).any(|action| action == pin.action);
    if rows.is_empty() || request.pins.is_empty() {
        return None;
    }
    let notation = Notation::default();
    let place = |pin: &Pin| {
        let place = request.melody.place(pin.note, 1);
        match place.bar {
            0 => format!("beat {} of the pickup", place.beat),
            bar => format!("bar {bar} beat {}", place.beat),
        }
    };
    let Some(lost) = request.pins.iter().find(|pin| !rows.iter().any(|row| keeps(row, pin))) else {
        let all = request.pins.iter().map(place).join(", ");
        return Some(format!("no way to play the tune keeps all pins together ({all}); leave some out"));
    };
    let could: Vec<String> = rows
        .iter()
        .flat_map(|row| pin::holes(&free, row, lost.note))
        .unique()
        .sorted()
        .map(|action| notation.write(action))
        .collect();
    let could = match could.as_slice() {
        [] => "no harp that was tried sounds its note".to_owned(),
        could => format!("it could be {}", could.join(" or ")),
    };
    Some(format!("{} cannot be {}; {could}", place(lost), notation.write(lost.action)))
}

/// The possible holes for a note, in words.
#[derive(Clone, PartialEq, Debug)]
pub struct Choice {
    /// "Bar 3 beat 2: D4 on the G harp".
    pub title: String,
    /// Facts that the player needs before choosing.
    pub about: Line,
    /// The holes.
    pub holes: Vec<ChoiceHole>,
    /// The pin of the note, if it has one.
    pub pinned: Option<WrittenPin>,
}

/// A hole that the player can choose.
#[derive(Clone, PartialEq, Debug)]
pub struct ChoiceHole {
    /// The pin that chooses this hole, in the form in which a user types it.
    pub pin: WrittenPin,
    /// "draw 2", in the tone of the breath.
    pub name: Line,
    /// "played now; costs 32 points, 1722 in all".
    pub price: String,
    /// Whether the row plays the note in this hole.
    pub is_now: bool,
}

/// Describes the holes on which a row can play a note. `holes` is `None` for a grace note.
pub fn choice(request: &Request, row: &Approach, note: usize, holes: Option<&Holes>) -> Choice {
    let melody = request.melody;
    let name = melody.notes.get(note).map_or_else(String::new, |note| row.wanted_name(melody, note));
    let title = words::sentence(&changes::place(melody, note));
    let title = format!("{title}: {name} on the {}", words::harp(row.harp));
    let (found, free) = holes.map_or((&[][..], 0), |holes| (holes.holes.as_slice(), holes.free));
    let about = match (holes, found.len()) {
        (None, _) => "A grace note has no beat of its own, so it cannot be pinned.".to_owned(),
        (Some(_), 0) => "With the bends of this level, no hole of this harp plays this note.".to_owned(),
        (Some(_), 1) => {
            "With the bends of this level, only one hole of this harp plays this note.".to_owned()
        }
        (Some(_), _) => format!(
            "The hole that you choose is pinned, and the other holes are chosen around it. Without pins the tune costs \
             {free} points; a step to the next hole costs ten points."
        ),
    };
    let played = row.playing.notes.get(note).and_then(|played| played.action);
    let pinned = request.pins.iter().find(|pin| pin.note == note);
    Choice {
        title,
        about: about.into(),
        holes: found.iter().map(|hole| choice_hole(hole, free, played)).collect(),
        pinned: pinned.and_then(|pin| WrittenPin::to(melody, note, pin.action)),
    }
}

fn choice_hole(hole: &Hole, free: u64, played: Option<Action>) -> ChoiceHole {
    let is_now = played == Some(hole.pin.action);
    let price = match hole.effort.saturating_sub(free) {
        0 => "costs nothing".to_owned(),
        more => format!("costs {more} points, {} in all", hole.effort),
    };
    let tone = match hole.pin.action.breath {
        Breath::Blow => Tone::Blow,
        Breath::Draw => Tone::Draw,
    };
    ChoiceHole {
        pin: hole.pin,
        name: tone.of(words::bent_hole(hole.pin.action)),
        price: if is_now { format!("played now; {price}") } else { price },
        is_now,
    }
}

/// Returns "draw 2 at bar 3 beat 2".
pub fn short(pin: &WrittenPin) -> String {
    format!("{} {} beat {}", words::bent_hole(pin.action), at_bar(pin.bar), pin.beat.rounded())
}

/// Returns "at bar 3" or "in the pickup,".
fn at_bar(bar: u32) -> String {
    if bar == 0 { "in the pickup,".to_owned() } else { format!("at bar {bar}") }
}

/// Returns the cost of a request's pins, as a sentence; `None` without pins, or without a way to play the tune.
pub fn cost(ranking: &Ranking) -> Option<String> {
    let (free, pinned) = (ranking.free.as_ref()?, ranking.best()?);
    Some(words::sentence(&price(pinned, &free.alike, &free.best)))
}
