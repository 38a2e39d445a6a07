//! Draws the pinned holes, and the choice of a hole for a note. The attribute `data-pins` of each button has the pins
//! that a click sets, so the surrounding page only has to ask the library again.

use super::{blocks, element, escape};
use crate::{
    pages::pins::{Choice, ChoiceHole, short},
    pins::{WrittenPin, latest},
};

/// Draws the choice of a hole for a note. `pins` are the pins already set.
pub fn choice(choice: &Choice, pins: &[WrittenPin]) -> String {
    let title = element("h2", &[("id", "holes-title"), ("tabindex", "-1")], &escape(&choice.title));
    let about = element("p", &[("class", "faint")], &blocks::line(&choice.about));
    let holes = choice.holes.iter().map(|hole| element("li", &[], &button(hole, choice.pinned, pins)));
    let holes = element("ul", &[("class", "holes")], &holes.collect::<String>());
    let free = choice.pinned.map(|pin| {
        element("button", &[("type", "button"), ("data-pins", &list(&without(pins, &pin)))], "Remove the pin")
    });
    title + &about + &holes + &free.unwrap_or_default()
}

fn button(hole: &ChoiceHole, pinned: Option<WrittenPin>, pins: &[WrittenPin]) -> String {
    let pins = list(&latest(&[pins, &[hole.pin]].concat()));
    let is_pinned = pinned.is_some_and(|pin| pin.action == hole.pin.action);
    let pressed = if is_pinned { "true" } else { "false" };
    let mut attributes = vec![("type", "button"), ("data-pins", pins.as_str()), ("aria-pressed", pressed)];
    if hole.is_now {
        attributes.push(("class", "now"));
    }
    let name = element("b", &[], &blocks::line(&hole.name));
    let price = if is_pinned { format!("pinned, {}", hole.price) } else { hole.price.clone() };
    element("button", &attributes, &format!("{name} {}", element("span", &[], &escape(&price))))
}

/// Draws the pins, each with a button that removes it, and their total cost; empty without pins.
pub fn pins(pins: &[WrittenPin], cost: Option<&str>) -> String {
    if pins.is_empty() {
        return String::new();
    }
    let free = |left: &str, text: &str, name: &str| {
        let attributes = [("type", "button"), ("data-pins", left), ("aria-label", name)];
        element("button", &attributes, text)
    };
    let items = pins.iter().map(|pin| {
        let left = list(&without(pins, pin));
        let button = free(&left, "Remove", &format!("Remove {}", short(pin)));
        element("li", &[], &format!("{} {button}", escape(&short(pin))))
    });
    let items = element("ul", &[], &items.collect::<String>());
    let all = if pins.len() > 1 { free("", "Remove all", "Remove all pinned holes") } else { String::new() };
    let cost = cost.map_or_else(String::new, |cost| element("p", &[], &escape(cost)));
    element("h2", &[], "Pinned holes") + &items + &cost + &all
}

fn without(pins: &[WrittenPin], pin: &WrittenPin) -> Vec<WrittenPin> {
    pins.iter().filter(|other| !other.is_beside(pin)).copied().collect()
}

/// Writes pins for an attribute, separated by semicolons.
fn list(pins: &[WrittenPin]) -> String {
    pins.iter().map(WrittenPin::to_string).collect::<Vec<_>>().join(";")
}
