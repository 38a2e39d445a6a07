//! The page of a player's kit.

use super::{Page, Tone};

/// Returns the page: the settings of the kit by name, and where the kit is kept. For an empty kit, the page says how to
/// fill it.
pub fn page(path: &str, settings: &[(String, String)]) -> Page {
    let mut page = Page::default();
    if settings.is_empty() {
        page.text("Your kit is empty. To save your harps and your level:");
        page.item("breathline kit --save --harps C,G,A --player beginner");
    } else {
        page.text(Tone::Strong.of("Every command uses this kit unless its options say otherwise."));
        for (name, value) in settings {
            page.item(format!("{name}: {value}"));
        }
    }
    page.text(Tone::Faint.of(format!("The kit is kept in {path}")));
    page
}
