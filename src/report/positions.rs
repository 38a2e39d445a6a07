//! Positions: the table of harp keys by position, every look-up in it, and what each position offers.

use super::{Block, Column, Line, Page, Table, Tone, words};
use crate::{
    harp::{
        Action, Harp, Position, Tuning,
        position::{self, CAREFUL_MODES, Careful, Offer},
    },
    mode::Mode,
    pitch::PitchClass,
    tab::Notation,
};
use std::sync::Arc;

/// What is asked of the table; any two of the three give the third.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Query {
    /// The key stamped on the harp.
    pub harp: Option<PitchClass>,
    /// The position.
    pub position: Option<Position>,
    /// The tonic of the song.
    pub song_key: Option<PitchClass>,
}

/// A row that answers: these three belong together.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Match {
    /// The harp.
    pub harp: Harp,
    /// What it offers in the position, with the song's tonic.
    pub offer: Offer,
}

/// Every combination of harp, position and song key that fits what is asked, by harp from G up, then by position.
pub fn matches(query: Query, tuning: &Arc<Tuning>) -> Vec<Match> {
    let mut found = Vec::new();
    for harp in Harp::standard_set(tuning) {
        for position in Position::all() {
            let offer = position::offer(&harp, position);
            let fits = query.harp.is_none_or(|key| key == harp.key())
                && query.position.is_none_or(|wanted| wanted == position)
                && query.song_key.is_none_or(|tonic| tonic == offer.tonic);
            if fits {
                found.push(Match { harp: harp.clone(), offer });
            }
        }
    }
    found
}

/// The page of `breathline positions`.
pub fn page(query: Query, tuning: &Arc<Tuning>, notation: Notation) -> Page {
    let matches = matches(query, tuning);
    match matches.as_slice() {
        [only] => one(only, notation),
        _ if query == Query::default() => whole_table(tuning, notation),
        _ => several(query, &matches, notation),
    }
}

/// One harp in one position.
fn one(found: &Match, notation: Notation) -> Page {
    let Match { harp, offer } = found;
    let mut page = Page::default();
    page.text(
        Tone::Strong
            .of(format!("{} {}", words::sentence(words::article(harp)), words::harp(harp)))
            .and(Tone::Plain, format!(" in {} plays in ", words::position(offer.position)))
            .and(Tone::Strong, offer.tonic.to_string())
            .and(Tone::Plain, "."),
    );
    page.item(format!("Mode of the natural notes: {}", mode(offer)));
    if harp.tuning().name() == "richter" {
        page.item(format!("Used for: {} (common practice)", offer.position.used_for()));
    }
    page.item(format!("The tonic is at: {}", actions(&offer.tonics, notation)));
    for (mode, careful) in CAREFUL_MODES.iter().zip(&offer.careful) {
        page.item(format!("In a {mode} tune be careful with: {}", careful_holes(careful, notation)));
    }
    page
}

/// The rows of one harp, one position or one song key.
fn several(query: Query, matches: &[Match], notation: Notation) -> Page {
    let mut page = Page::default();
    let title = match query {
        Query { harp: Some(_), .. } => matches.first().map_or(String::new(), |found| {
            format!("{}, position by position", words::sentence(&words::harp(&found.harp)))
        }),
        Query { song_key: Some(key), .. } => format!("For a song in {key}"),
        Query { position: Some(position), .. } => words::sentence(&words::position(position)),
        Query { .. } => String::new(),
    };
    page.text(Tone::Strong.of(title));
    page.gap();
    let titles = ["harp", "position", "plays in", "natural notes", "tonic at"];
    let mut table = Table { columns: titles.map(Column::words).into(), rows: Vec::new() };
    let mut rows: Vec<&Match> = matches.iter().collect();
    rows.sort_by_key(|found| (found.offer.position, found.harp.root()));
    for Match { harp, offer } in rows {
        table.rows.push(vec![
            Line::from(harp.to_string()),
            Line::from(offer.position.to_string()),
            Line::from(offer.tonic.to_string()),
            Line::from(mode(offer)),
            Line::from(actions(&offer.tonics, notation)),
        ]);
    }
    page.blocks.push(Block::Table(table));
    page
}

/// All harps by all positions, then what each position offers.
fn whole_table(tuning: &Arc<Tuning>, notation: Notation) -> Page {
    let mut page = Page::default();
    let harps = Harp::standard_set(tuning);
    page.text(Tone::Strong.of("The key you play in, by harp and position"));
    page.gap();
    let titles =
        std::iter::once("harp".to_owned()).chain(Position::all().map(|position| position.to_string()));
    let columns = titles.map(Column::words).collect();
    let mut table = Table { columns, rows: Vec::new() };
    for harp in &harps {
        let tonics = Position::all().map(|position| position.tonic(harp.first_position_key()));
        let cells = tonics.map(|tonic| Line::from(tonic.to_string()));
        table.rows.push(std::iter::once(Tone::Strong.of(harp.key().to_string())).chain(cells).collect());
    }
    page.blocks.push(Block::Table(table));
    page.heading(Tone::Strong.of("What each position offers"));
    let Some(harp) = harps.first() else { return page };
    for position in Position::all() {
        let offer = position::offer(harp, position);
        let title = Tone::Strong.of(words::position(position));
        page.text(title.and(Tone::Plain, format!(": {}", mode(&offer))));
        if tuning.name() == "richter" {
            page.item(position.used_for());
        }
        for (mode, careful) in CAREFUL_MODES.iter().zip(&offer.careful) {
            if !careful.is_empty() && careful.len() <= 8 {
                page.item(format!("careful in a {mode} tune: {}", careful_holes(careful, notation)));
            }
        }
    }
    page.gap();
    page.text("Narrow it down: --harp C, --position 2, --song-key E, or any two of them.");
    page.text(
        "What a position is used for is common practice; modes and careful holes follow from the reeds.",
    );
    page
}

fn mode(offer: &Offer) -> String {
    match offer.mode {
        Some(mode) => format!("{mode}{}", other_name(mode)),
        None => {
            let degrees: Vec<String> =
                offer.degrees.iter().map(|&degree| words::degree(degree).to_owned()).collect();
            degrees.join(" ")
        }
    }
}

fn other_name(mode: Mode) -> &'static str {
    match mode {
        Mode::Major => " (Ionian)",
        Mode::Minor => " (Aeolian)",
        _ => "",
    }
}

fn actions(actions: &[Action], notation: Notation) -> String {
    actions.iter().map(|&action| notation.write(action)).collect::<Vec<_>>().join(" ")
}

fn careful_holes(careful: &[Careful], notation: Notation) -> String {
    if careful.is_empty() {
        return "nothing".to_owned();
    }
    let holes = careful
        .iter()
        .map(|careful| format!("{} ({})", notation.write(careful.action), words::degree(careful.degree)));
    holes.collect::<Vec<_>>().join(", ")
}
