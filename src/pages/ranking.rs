//! The tables of the ranking: its rows, the terms of their effort, the rows for the runner-up key, and other harps with
//! the same tab.

use itertools::Itertools;

use super::{Block, Column, Page, Table, Tone, Tune, key, words};
use crate::{
    harp::Harp,
    melody::{Melody, key::Mode},
    search::{Approach, Ranking, Request, Term, Twin, hard},
};

/// A fact about a row, shown as a column.
#[derive(Clone, Copy)]
enum Field<'a> {
    Harp,
    Position,
    /// The key in which a row sounds, for a tune of this mode.
    InKey(Mode, &'a Melody),
    Octave,
    Plays,
    Bends,
    Turns,
    Awkward,
    Holes,
    Effort,
    /// The fastest tempo at which the row is comfortable.
    ToTempo(&'a Request<'a>),
}

impl Field<'_> {
    fn column(self) -> Column {
        match self {
            Field::Harp => Column::words("harp"),
            Field::Position => Column::words("position"),
            Field::InKey(..) => Column::words("in key"),
            Field::Octave => Column::numbers("octave").spare(1),
            Field::Plays => Column::numbers("plays"),
            Field::Bends => Column::numbers("bends").spare(2),
            Field::Turns => Column::numbers("turns").spare(5),
            Field::Awkward => Column::numbers("awkward").spare(4),
            Field::Holes => Column::numbers("holes").spare(6),
            Field::Effort => Column::numbers("effort").spare(3),
            Field::ToTempo(_) => Column::numbers("to tempo"),
        }
    }

    fn of(self, approach: &Approach) -> String {
        let counts = &approach.counts;
        match self {
            Field::Harp => approach.harp.to_string(),
            Field::Position => approach.position.to_string(),
            Field::InKey(mode, melody) => key::sounding(approach, mode, melody),
            Field::Octave if approach.octave == 0 => "0".to_owned(),
            Field::Octave => format!("{:+}", approach.octave),
            Field::Plays if counts.is_full() => "all".to_owned(),
            Field::Plays => format!("{}/{}", counts.playable, counts.notes),
            Field::Bends => counts.bends().to_string(),
            Field::Turns => counts.breath_changes.to_string(),
            Field::Awkward => counts.awkward.to_string(),
            Field::Holes => counts.holes.map_or(String::new(), |(low, high)| format!("{low}-{high}")),
            Field::Effort => approach.playing.effort.total().to_string(),
            Field::ToTempo(request) => hard::comfortable_tempo(request, approach)
                .map_or_else(|| "any".to_owned(), |tempo| tempo.to_string()),
        }
    }
}

/// Returns numbered rows with these columns. The first row has its own tone.
fn rows<'a>(fields: &[Field], shown: impl IntoIterator<Item = &'a Approach<'a>>, first: Tone) -> Table {
    let columns = fields.iter().map(|field| field.column());
    let mut table =
        Table { columns: [Column::numbers("")].into_iter().chain(columns).collect(), rows: Vec::new() };
    for (index, approach) in shown.into_iter().enumerate() {
        let tone = if index == 0 { first } else { Tone::Plain };
        let cells = fields.iter().map(|field| field.of(approach));
        table
            .rows
            .push([(index + 1).to_string()].into_iter().chain(cells).map(|cell| tone.of(cell)).collect());
    }
    table
}

/// Returns the ranking as a table. With `tempo_range`, a column shows each row's fastest comfortable tempo.
pub(super) fn table(shown: &[&Approach], request: &Request, tempo_range: bool) -> Table {
    let mut fields = vec![Field::Harp, Field::Position];
    if request.any_key {
        fields.push(Field::InKey(request.key.mode, request.melody));
    }
    fields.extend([Field::Octave, Field::Plays, Field::Bends, Field::Turns, Field::Awkward, Field::Holes]);
    fields.push(Field::Effort);
    if tempo_range {
        fields.push(Field::ToTempo(request));
    }
    rows(&fields, shown.iter().copied(), Tone::Strong)
}

/// Returns each row's effort by its terms, and the percentage by which it differs from the effort of the best row.
pub(super) fn parts(shown: &[&Approach]) -> Table {
    let rows = || shown.iter().map(|approach| &approach.playing.effort);
    // A term that costs nothing in any row gets no column.
    let costs = |&term: &Term| rows().any(|effort| effort[term] > 0);
    let terms: Vec<Term> = Term::ALL.into_iter().filter(costs).collect();
    let mut columns = vec![Column::numbers(""), Column::words("harp")];
    columns.extend(terms.iter().map(|term| Column::numbers(term.name())));
    columns.extend([Column::numbers("in all"), Column::numbers("more").spare(1)]);
    let mut table = Table { columns, rows: Vec::new() };
    let least = shown.first().map_or(0, |best| best.playing.effort.total());
    for (index, approach) in shown.iter().enumerate() {
        let effort = approach.playing.effort;
        let total = effort.total();
        // If the best row costs nothing, there is no percentage.
        let more = (total.abs_diff(least) * 100 + least / 2).checked_div(least).filter(|_| index > 0);
        let sign = if total < least { "-" } else { "+" };
        let cells = [(index + 1).to_string(), approach.harp.to_string()]
            .into_iter()
            .chain(terms.iter().map(|&term| effort[term].to_string()))
            .chain([total.to_string()])
            .chain([more.map_or(String::new(), |more| format!("{sign}{more}%"))]);
        let tone = if index == 0 { Tone::Strong } else { Tone::Plain };
        table.rows.push(cells.map(|cell| tone.of(cell)).collect());
    }
    table
}

/// Names the other harps on which a row's tab plays the same tune in another key or octave: "Row 1 has the same tab on
/// a low F harp, an octave lower."
pub(super) fn same_tabs(ranking: &Ranking, tabs: &[(usize, Vec<Twin>)]) -> Vec<String> {
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    for (row, (first, others)) in (1..).zip(tabs) {
        let Some(others) = other_harps(&ranking.approaches[*first], others) else { continue };
        match told.iter_mut().find(|(known, _)| *known == others) {
            Some((_, rows)) => rows.push(format!("{row}")),
            None => told.push((others, vec![format!("{row}")])),
        }
    }
    let sentence = |(others, rows): (String, Vec<String>)| match rows.as_slice() {
        [row] => format!("Row {row} has the same tab on {others}."),
        rows => format!("Rows {} each have the same tab on {others}.", words::list(rows)),
    };
    told.into_iter().map(sentence).collect()
}

/// Names the harps that share a row's tab, and says in which octave they sound, or that they sound in other keys;
/// `None` if no other harp shares the tab.
fn other_harps(best: &Approach, others: &[Twin]) -> Option<String> {
    const NAMED: usize = 4;
    if others.is_empty() {
        return None;
    }
    let harps = || std::iter::once(best.harp).chain(others.iter().map(|other| other.harp));
    if harps().map(|harp| harp.key().semitones()).unique().count() == 12 {
        let which = "harps of all twelve keys: take the harp that gives the key in which you want to play";
        return Some(which.to_owned());
    }
    let named = |harp: &Harp| format!("{} {}", words::article(harp), words::harp(harp));
    let harps: Vec<String> = others.iter().map(|other| named(other.harp)).unique().collect();
    let away = others.iter().map(|other| other.shift.0 - best.shift().0).unique().exactly_one().ok();
    let sounding = match away {
        Some(away) if away % 12 == 0 => format!(", {}", words::octave((away / 12) as i8)),
        _ => ", each in another key".to_owned(),
    };
    Some(words::short_list(&harps, NAMED) + &sounding)
}

/// Returns "If the key is A minor (38% likely), not C major: a C harp in 4th position", if the key is in doubt and the
/// harp or the place of the tune on it differs from the best way.
pub(super) fn rival_in_short(tune: &Tune, ranking: &Ranking) -> Option<String> {
    let (other, guess) = (ranking.rival.as_ref()?, key::rival(tune.key)?);
    let (first, best) = (other.approaches.first()?, ranking.best()?);
    let place = |approach: &Approach| (approach.shift(), approach.transposed);
    if first.harp == best.harp && place(first) == place(best) {
        return None;
    }
    let melody = &tune.imported.melody;
    let octave = if first.octave == 0 { String::new() } else { format!(" {}", words::octave(first.octave)) };
    Some(format!(
        "If the key is {} ({}% likely), not {}: {} {} in {} position{octave} (--key {})",
        key::name(other.key, melody),
        guess.confidence,
        key::name(tune.key.key, melody),
        words::article(first.harp),
        words::harp(first.harp),
        first.position,
        key::option(other.key, melody)
    ))
}

/// Adds a short ranking for the runner-up key, if the key is in doubt.
pub(super) fn rival_block(page: &mut Page, tune: &Tune, ranking: &Ranking) {
    const ROWS: usize = 3;
    let (Some(other), Some(guess)) = (&ranking.rival, key::rival(tune.key)) else { return };
    let melody = &tune.imported.melody;
    let key = key::name(other.key, melody);
    page.heading(Tone::Strong.of(format!(
        "If the key is {key}, not {} ({} is {}% likely)",
        key::name(tune.key.key, melody),
        other.key.tonic_name(melody.signatures.first().map(|signature| signature.sharps)),
        guess.confidence
    )));
    if other.approaches.is_empty() {
        page.text("In this key, no way to play the tune fits your options.");
        return;
    }
    let mut fields = vec![Field::Harp, Field::Position];
    if other.approaches.iter().any(|approach| approach.transposed.0 != 0) {
        fields.push(Field::InKey(other.key.mode, melody));
    }
    fields.extend([Field::Octave, Field::Plays, Field::Bends, Field::Effort]);
    page.blocks.push(Block::Table(rows(&fields, other.approaches.iter().take(ROWS), Tone::Plain)));
    let same = |(ours, theirs): (&Approach, &Approach)| {
        (ours.harp, ours.octave, ours.transposed) == (theirs.harp, theirs.octave, theirs.transposed)
    };
    let add = format!("--key {} ranks the harps for this key.", key::option(other.key, melody));
    page.text(Tone::Faint.of(if ranking.approaches.iter().zip(&other.approaches).take(ROWS).all(same) {
        format!("The harps and the tab are the same; only the names of the positions change. {add}")
    } else {
        add
    }));
}
