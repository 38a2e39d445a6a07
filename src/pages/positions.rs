//! Positions: the table of harp keys by position, look-ups in it, and the properties of each position.

use super::{Block, Column, Line, Page, Table, Tone, words};
use crate::{
    harp::{
        Action, Bend, Feel, HOLES, Harp, Position, Tuning,
        position::{self, CAREFUL_MODES, Careful, Gap, Offer, Stretch},
    },
    melody::key::Key,
    mode::Mode,
    pitch::{Pitch, PitchClass},
    tab::Notation,
};
use itertools::Itertools;
use std::{ops::RangeInclusive, sync::Arc};

/// A query of the table. Any two of harp, position and song key give the third.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Query {
    /// The key stamped on the harp.
    pub harp: Option<PitchClass>,
    /// The position.
    pub position: Option<Position>,
    /// The tonic of the song.
    pub song_key: Option<PitchClass>,
    /// The mode of the song, if given. A mode excludes no position. With it, the page shows which notes of the mode
    /// need bends in each position.
    pub song_mode: Option<Mode>,
    /// The style of the band, if given. A style excludes no position. With it, the page shows the harps and positions
    /// that suit the scale of the style best.
    pub feel: Option<Feel>,
}

impl Query {
    /// Returns the name of a tonic, spelled as in the key signature of the song's mode if the mode is given.
    pub(crate) fn tonic_name(self, tonic: PitchClass) -> String {
        self.song_mode.map_or_else(|| tonic.to_string(), |mode| Key { tonic, mode }.tonic_name(None))
    }
}

/// A harp and a position that fit the query.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Match {
    /// The harp.
    pub harp: Harp,
    /// The tonic in this position, and the notes and scales that the harp offers there.
    pub offer: Offer,
}

/// Returns every combination of harp, position and song key that fits the query, by harp from G upwards, then by
/// position. If the query names the band's style, the combinations that best suit the scale of that style come first.
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
    if let Some(feel) = query.feel {
        found.sort_by_cached_key(|found| {
            (feel.lie(&found.harp, found.offer.position).order(), found.offer.position)
        });
    }
    found
}

/// Builds the page of `breathline positions`.
pub fn page(query: Query, tuning: &Arc<Tuning>, notation: Notation) -> Page {
    let matches = matches(query, tuning);
    if let Some(feel) = query.feel {
        return of_feel(query, feel, &matches, notation);
    }
    match matches.as_slice() {
        [only] => one(query, only, notation),
        _ if query == Query::default() => whole_table(tuning, notation),
        _ => several(query, &matches, notation),
    }
}

/// Builds the page for one harp in one position.
fn one(query: Query, found: &Match, notation: Notation) -> Page {
    let Match { harp, offer } = found;
    let mut page = Page::default();
    page.text(
        Tone::Strong
            .of(format!("{} {}", words::sentence(words::article(harp)), words::harp(harp)))
            .and(Tone::Plain, format!(" in {} plays in ", words::position(offer.position)))
            .and(Tone::Strong, song(query, offer.tonic))
            .and(Tone::Plain, "."),
    );
    page.item(format!("Scale of the natural notes: {}", mode(offer)));
    if harp.tuning().name() == "richter" {
        page.item(format!("{} (common practice)", words::sentence(offer.position.used_for())));
    }
    page.item(format!("The tonic is at: {}", tonics(offer, notation)));
    page.item(format!("Without bends {}", missing(query, found, notation)));
    for line in pentatonics(offer, notation) {
        page.item(words::sentence(&line));
    }
    for (mode, careful) in careful_in(query, found) {
        let name = words::mode(mode);
        page.item(format!("In a {name} tune be careful with: {}", careful_holes(offer, &careful, notation)));
    }
    page.gap();
    page.text(how_to_read(notation));
    page
}

/// Returns "E", or "E minor" if the mode is given.
fn song(query: Query, tonic: PitchClass) -> String {
    let mode = query.song_mode.map_or(String::new(), |mode| format!(" {}", words::mode(mode)));
    query.tonic_name(tonic) + &mode
}

/// Returns the notes that need care in the given mode, or in major and minor if no mode is given.
pub(crate) fn careful_in(query: Query, found: &Match) -> Vec<(Mode, Vec<Careful>)> {
    match query.song_mode {
        Some(mode) => vec![(mode, position::careful(&found.harp, found.offer.position, mode))],
        None => CAREFUL_MODES.into_iter().zip(found.offer.careful.clone()).collect(),
    }
}

/// Returns "b3 b7", or "none".
fn lacking(offer: &Offer, mode: Mode) -> String {
    let names = lacking_names(offer, mode);
    if names.is_empty() { "none".to_owned() } else { names.join(" ") }
}

/// Returns the short names of the degrees of a mode that no natural note sounds.
pub(crate) fn lacking_names(offer: &Offer, mode: Mode) -> Vec<&'static str> {
    offer.lacking(mode).into_iter().map(|degree| words::degree(degree, &mode.scale())).collect()
}

/// Builds the page for one harp, one position or one song key.
fn several(query: Query, matches: &[Match], notation: Notation) -> Page {
    let mut page = Page::default();
    let title = match query {
        Query { harp: Some(_), .. } => matches.first().map_or(String::new(), |found| {
            format!("{}, position by position", words::sentence(&words::harp(&found.harp)))
        }),
        Query { song_key: Some(key), .. } => format!("For a song in {}", song(query, key)),
        Query { position: Some(position), .. } => words::sentence(&words::position(position)),
        Query { .. } => String::new(),
    };
    page.text(Tone::Strong.of(title));
    page.gap();
    // The title already states the query, so the table leaves out the column for it.
    let columns = [
        ("harp", query.harp.is_none()),
        ("position", query.position.is_none()),
        ("plays in", query.song_key.is_none()),
        ("natural notes", true),
        ("never natural", query.song_mode.is_some()),
        ("tonic at", true),
    ];
    let shown = |cells: [Line; 6]| -> Vec<Line> {
        cells.into_iter().zip(columns).filter(|(_, (_, shown))| *shown).map(|(cell, _)| cell).collect()
    };
    let titles = columns.iter().filter(|(_, shown)| *shown).map(|&(title, _)| Column::words(title));
    let mut table = Table { columns: titles.collect(), rows: Vec::new() };
    let mut rows: Vec<&Match> = matches.iter().collect();
    // With a given mode, the rows whose natural notes lack the fewest of its degrees come first.
    let needs = |found: &Match| query.song_mode.map_or(0, |mode| found.offer.lacking(mode).len());
    rows.sort_by_key(|found| (needs(found), found.offer.position, found.harp.root()));
    for Match { harp, offer } in rows {
        table.rows.push(shown([
            Line::from(harp.to_string()),
            Line::from(offer.position.to_string()),
            Line::from(query.tonic_name(offer.tonic)),
            Line::from(mode(offer)),
            Line::from(query.song_mode.map_or(String::new(), |mode| lacking(offer, mode))),
            Line::from(tonics(offer, notation)),
        ]));
    }
    page.blocks.push(Block::Table(table));
    page.heading(Tone::Strong.of("Notes missing without bends"));
    page.gap();
    // The missing notes are in the same holes on every harp of a tuning, so each position has one line.
    for found in
        matches.iter().unique_by(|found| found.offer.position).sorted_by_key(|found| found.offer.position)
    {
        page.item(format!("{}: {}", found.offer.position, missing(query, found, notation)));
    }
    page.gap();
    page.text(how_to_read(notation));
    page
}

/// The most combinations that the page of a style shows. Combinations that rank lower are of little use to players.
const FEEL_ROWS: usize = 5;

/// Answers "The band is in E, it is a slow minor blues" with the harps to pick up. The harp that suits the scale best
/// comes first.
fn of_feel(query: Query, feel: Feel, matches: &[Match], notation: Notation) -> Page {
    let mut page = Page::default();
    let Some(best) = matches.first() else { return page };
    let name = feel.word().replace('-', " ");
    let degree = |degree: u8| match degree {
        // The scale of each style has a plain fifth, so this degree is called the flat fifth.
        6 => "b5",
        other => words::degree(other, feel.scale()),
    };
    let article = words::article(&best.harp);
    page.text(
        Tone::Plain
            .of(format!(
                "{} in {}: pick up {article} ",
                words::sentence(&name),
                song(query, best.offer.tonic)
            ))
            .and(Tone::Strong, words::harp(&best.harp))
            .and(Tone::Plain, format!(" in {}.", words::position(best.offer.position))),
    );
    let scale = feel.scale().iter().map(|&note| degree(note)).join(" ");
    page.item(format!("Its scale is {scale} (common practice)"));
    page.gap();
    let titles = ["harp", "position", "plays in", "no bends", "by bends", "tonic at"];
    let mut table = Table { columns: titles.map(Column::words).into(), rows: Vec::new() };
    let shown = &matches[..matches.len().min(FEEL_ROWS)];
    for Match { harp, offer } in shown {
        let lie = feel.lie(harp, offer.position);
        let bent = lie.gaps.iter().filter(|gap| gap.action.is_some_and(|action| action.bend != Bend::Over));
        table.rows.push(vec![
            Line::from(harp.to_string()),
            Line::from(offer.position.to_string()),
            Line::from(query.tonic_name(offer.tonic)),
            Line::from(format!("{}/{}", lie.natural, lie.notes)),
            Line::from(bent.count().to_string()),
            Line::from(tonics(offer, notation)),
        ]);
    }
    page.blocks.push(Block::Table(table));
    page.text(Tone::Faint.of(
        "The columns count the notes of the scale from the lowest reed to the highest. The rows are in the \
         order of their natural notes, the tonic counted twice.",
    ));
    page.heading(Tone::Strong.of("Notes of the scale that need bends, and reeds outside the scale"));
    page.gap();
    for Match { harp, offer } in shown {
        let gaps = feel.lie(harp, offer.position).gaps;
        let bends: Vec<String> = gaps
            .iter()
            .filter_map(|gap| Some((gap.degree, gap.action.filter(|action| action.bend != Bend::Over)?)))
            .map(|(note, action)| format!("{} ({})", notation.write(action), degree(note)))
            .collect();
        let outside = position::outside(harp, offer.position, feel.scale());
        let outside: Vec<String> = outside
            .iter()
            .map(|careful| format!("{} ({})", notation.write(careful.action), degree(careful.degree)))
            .collect();
        let said = |list: &[String]| if list.is_empty() { "none".to_owned() } else { list.join(", ") };
        page.item(format!(
            "{}: notes that need a bend: {}; reeds to leave out or bend: {}",
            offer.position,
            said(&bends),
            said(&outside)
        ));
    }
    page.gap();
    page.text(how_to_read(notation));
    page
}

/// Returns the harp for a song in each key, in the six most usual positions.
fn which_harp(harps: &[Harp]) -> Table {
    let usual: Vec<Position> = [1, 2, 3, 4, 5, 12].into_iter().filter_map(Position::new).collect();
    let titles = usual.iter().map(|position| Column::words(position.to_string()));
    let mut table =
        Table { columns: [Column::words("song in")].into_iter().chain(titles).collect(), rows: Vec::new() };
    for song in PitchClass::all() {
        let cells = usual.iter().map(|position| {
            let key = position.harp_key(song);
            let harp = harps.iter().find(|harp| harp.first_position_key() == key);
            Line::from(harp.map_or(String::new(), |harp| harp.key().to_string()))
        });
        table.rows.push([Tone::Strong.of(song.to_string())].into_iter().chain(cells).collect());
    }
    table
}

/// Builds the page of all harps in all positions, with the properties of each position.
fn whole_table(tuning: &Arc<Tuning>, notation: Notation) -> Page {
    let mut page = Page::default();
    let harps = Harp::standard_set(tuning);
    page.text(Tone::Strong.of("The harp to pick up, by the key of the song and the position"));
    page.gap();
    page.blocks.push(Block::Table(which_harp(&harps)));
    page.heading(Tone::Strong.of("The key you play in, by harp and position"));
    page.gap();
    let positions = Position::all().map(|position| Column::words(position.to_string()));
    let columns = [Column::words("harp")].into_iter().chain(positions).collect();
    let mut table = Table { columns, rows: Vec::new() };
    for harp in &harps {
        let tonics = Position::all().map(|position| position.tonic(harp.first_position_key()));
        let cells = tonics.map(|tonic| Line::from(tonic.to_string()));
        table.rows.push(std::iter::once(Tone::Strong.of(harp.key().to_string())).chain(cells).collect());
    }
    page.blocks.push(Block::Table(table));
    page.heading(Tone::Strong.of("The properties of each position"));
    page.gap();
    let Some(harp) = harps.first() else { return page };
    for position in Position::all() {
        let offer = position::offer(harp, position);
        let title = Tone::Strong.of(words::position(position));
        page.text(title.and(Tone::Plain, format!(": {}", mode(&offer))));
        if tuning.name() == "richter" {
            page.item(position.used_for());
        }
        let found = Match { harp: harp.clone(), offer: offer.clone() };
        page.item(format!("without bends {}", missing(Query::default(), &found, notation)));
        for line in pentatonics(&offer, notation) {
            page.item(line);
        }
        for (mode, careful) in CAREFUL_MODES.iter().zip(&offer.careful) {
            if !careful.is_empty() && careful.len() <= 8 {
                page.item(format!("careful in a {mode} tune: {}", careful_holes(&offer, careful, notation)));
            }
        }
    }
    page.gap();
    page.text(how_to_read(notation));
    page.text("Narrow it down: --harp C, --position 2, --key E, or any two of them.");
    page.text(
        "The use of each position is common practice; its scale and the holes that need care follow from the reeds.",
    );
    page
}

/// Explains how to read holes and degrees.
fn how_to_read(notation: Notation) -> String {
    let sign = |action: Action| format!("{} = {}", notation.write(action), words::hole(action));
    let bend = Action { bend: Bend::Down(1), ..Action::draw(4) };
    format!(
        "How to read it: {}, {}, {} with a {}; b7 = the flat seventh of the key.",
        sign(Action::blow(4)),
        sign(Action::draw(4)),
        sign(bend),
        words::depth(1)
    )
}

fn mode(offer: &Offer) -> String {
    match offer.mode {
        Some(mode) => format!("{}{}", words::mode(mode), other_name(mode)),
        None => {
            let names = offer.degrees.iter().map(|&degree| words::degree(degree, &offer.degrees));
            names.collect::<Vec<_>>().join(" ")
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

/// Returns the holes of the tonic, in parentheses if they need a bend: "-6 -10 (-3'')".
fn tonics(offer: &Offer, notation: Notation) -> String {
    let natural = actions(&offer.tonics, notation);
    match offer.bent_tonics.as_slice() {
        [] => natural,
        bent => format!("{natural} ({})", actions(bent, notation)),
    }
}

/// Returns a mode and its gaps: the given mode, or the mode nearest to the natural notes.
pub(crate) fn gaps(query: Query, found: &Match) -> (Mode, Vec<Gap>) {
    let mode = query.song_mode.unwrap_or_else(|| found.offer.nearest_mode());
    (mode, position::gaps(&found.harp, found.offer.position, &mode.scale()))
}

/// Returns "the major scale lacks 4 (-2'') and 6 (-3'') in holes 1 to 3; the upper 7 (10') in holes 7 to 10". Degrees
/// that no reed sounds in any octave come first, without the bends that give them.
fn missing(query: Query, found: &Match, notation: Notation) -> String {
    let (mode, gaps) = gaps(query, found);
    let name = |degree: u8| words::degree(degree, &mode.scale());
    let everywhere = found.offer.lacking(mode);
    let mut said = Vec::new();
    if !everywhere.is_empty() {
        let names: Vec<String> = everywhere.iter().map(|&degree| name(degree).to_owned()).collect();
        said.push(format!("{} throughout", words::list(&names)));
    }
    for holes in [1..=3, 4..=6, 7..=HOLES] {
        let here = gaps.iter().filter(|gap| holes.contains(&gap.hole) && !everywhere.contains(&gap.degree));
        let names: Vec<String> = here
            .map(|gap| {
                let which = which(&found.harp, &holes, gap);
                match gap.action {
                    Some(action) => format!("{which}{} ({})", name(gap.degree), notation.write(action)),
                    None => format!("{which}{} (no bend gives it)", name(gap.degree)),
                }
            })
            .collect();
        if !names.is_empty() {
            said.push(format!("{} in holes {} to {}", words::list(&names), holes.start(), holes.end()));
        }
    }
    let scale = words::mode(mode);
    match said.as_slice() {
        [] => format!("the {scale} scale is complete"),
        said => format!("the {scale} scale lacks {}", said.join("; ")),
    }
}

/// Returns "the upper " or "the lower " if natural notes of these holes sound the degree of a gap in another octave.
fn which(harp: &Harp, holes: &RangeInclusive<u8>, gap: &Gap) -> &'static str {
    let natural = |(pitch, action): &&(Pitch, Action)| {
        action.bend == Bend::None && holes.contains(&action.hole) && pitch.class() == gap.pitch.class()
    };
    match harp.actions().iter().find(natural) {
        None => "",
        Some((pitch, _)) if *pitch < gap.pitch => "the upper ",
        Some(_) => "the lower ",
    }
}

/// Returns "the minor pentatonic needs no bends from -3 to -10", for each pentatonic scale in a position.
fn pentatonics(offer: &Offer, notation: Notation) -> Vec<String> {
    let stretches = offer.pentatonics.iter().map(|Stretch { scale, low, high }| {
        format!("the {scale} needs no bends from {} to {}", notation.write(*low), notation.write(*high))
    });
    stretches.collect()
}

fn actions(actions: &[Action], notation: Notation) -> String {
    actions.iter().map(|&action| notation.write(action)).collect::<Vec<_>>().join(" ")
}

fn careful_holes(offer: &Offer, careful: &[Careful], notation: Notation) -> String {
    if careful.is_empty() {
        return "nothing".to_owned();
    }
    let holes = careful.iter().map(|careful| {
        format!("{} ({})", notation.write(careful.action), words::degree(careful.degree, &offer.degrees))
    });
    holes.collect::<Vec<_>>().join(", ")
}
