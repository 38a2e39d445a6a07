//! The list of the tunes in a file, for a user who has to choose one.

use super::{Block, Column, Line, Page, Table, Tone, words};
use crate::import::{TuneChoice, TuneEntry};

/// Builds the page that lists the tunes of a file, or only those that match the request.
pub fn page(name: &str, asked: Option<&TuneChoice>, tunes: &[TuneEntry]) -> Page {
    let mut page = Page::default();
    let count = tunes.len();
    page.text(match asked {
        None => Tone::Strong.of(format!("{name}: {count} tunes")),
        Some(asked) => Tone::Strong.of(format!("{name}: {count} tunes match `{asked}`")),
    });
    page.gap();
    let columns = vec![Column::numbers("number"), Column::words("title"), Column::words("key").spare(1)];
    let rows = tunes.iter().map(row).collect();
    page.blocks.push(Block::Table(Table { columns, rows }));
    page.gap();
    let first = tunes.first().map_or_else(String::new, |tune| tune.choice().to_string());
    page.text(format!(
        "Choose one with --tune: by its number, as in --tune {first}, or by a part of its title."
    ));
    page
}

fn row(tune: &TuneEntry) -> Vec<Line> {
    let title = tune.title.as_deref().unwrap_or("(no title)");
    let key = tune.key.map_or_else(String::new, |key| words::key(key, None));
    vec![tune.choice().to_string().into(), title.into(), key.into()]
}
