//! The page of a book: a table of its tunes, or the ladder through them.

use itertools::Itertools;

use super::{Block, Column, Line, Page, Table, Tone, words};
use crate::{
    book::{
        Entry, Way,
        ladder::{Demand, Rung},
    },
    harp::{Action, Bend},
    melody::key::Key,
    pitch::Interval,
    tab::Notation,
};

/// Which tunes of a book a page shows, and the facts about the whole book.
#[derive(Clone, Copy, Debug)]
pub struct Chosen<'a> {
    /// The tunes to show, in order.
    pub shown: &'a [&'a Entry],
    /// The number of tunes that were read.
    pub tunes: usize,
    /// The number of tunes that lack no note on the harp listed for them.
    pub full: usize,
    /// The files that could not be read, with the reason for each.
    pub failures: &'a [(String, String)],
}

/// The longest title in a table on a terminal, in characters.
pub(super) const TITLE: usize = 27;

/// The most tunes that are listed one by one below a table.
pub(super) const LISTED: usize = 30;

/// A column of the table.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Field {
    File,
    Number,
    Title,
    Key,
    Sure,
    Harp,
    Position,
    InKey,
    Octave,
    Notes,
    Missing,
    Bends,
    Awkward,
    Effort,
    Tempo,
}

impl Field {
    const ALL: [Field; 15] = [
        Field::Number,
        Field::Title,
        Field::Key,
        Field::Sure,
        Field::Harp,
        Field::Position,
        Field::InKey,
        Field::Octave,
        Field::Notes,
        Field::Missing,
        Field::Bends,
        Field::Awkward,
        Field::Effort,
        Field::Tempo,
        Field::File,
    ];

    fn column(self) -> Column {
        match self {
            Field::File => Column::words("file").spare(1),
            Field::Number => Column::numbers("no."),
            Field::Title => Column::words("title"),
            Field::Key => Column::words("key"),
            Field::Sure => Column::numbers("sure %").spare(5),
            Field::Harp => Column::words("harp"),
            Field::Position => Column::words("pos."),
            Field::InKey => Column::words("played in"),
            Field::Octave => Column::numbers("octave").spare(6),
            Field::Notes => Column::numbers("notes").spare(7),
            Field::Missing => Column::numbers("lacks"),
            Field::Bends => Column::numbers("bends"),
            Field::Awkward => Column::numbers("awkward").spare(4),
            Field::Effort => Column::numbers("effort"),
            Field::Tempo => Column::numbers("to tempo").spare(8),
        }
    }

    /// Whether tables for people show the column. They leave out the file if all tunes are from one file, the number if
    /// each tune is alone in its file, and the key in which a tune is played if no tune is transposed.
    fn tells(self, entries: &[&Entry]) -> bool {
        match self {
            Field::File => !entries.iter().map(|entry| &entry.file).all_equal(),
            Field::Number => entries.iter().any(|entry| !entry.alone),
            Field::InKey => {
                entries.iter().any(|entry| entry.best.as_ref().is_some_and(|best| best.transposed != 0))
            }
            _ => true,
        }
    }

    fn of(self, entry: &Entry) -> String {
        let of_way = |fact: fn(&Way) -> String| entry.best.as_ref().map_or_else(String::new, fact);
        match self {
            Field::File => entry.file.clone(),
            Field::Number => entry.choice().to_string(),
            Field::Title => entry.title.clone(),
            Field::Key => format!("{} {}", entry.tonic, words::mode(entry.key.mode)),
            Field::Sure => entry.sure.to_string(),
            Field::Harp => of_way(|best| best.harp.clone()),
            Field::Position => of_way(|best| best.position.to_string()),
            Field::InKey => entry.best.as_ref().map_or_else(String::new, |best| played_in(entry, best)),
            Field::Octave => {
                of_way(|best| if best.octave == 0 { "0".into() } else { format!("{:+}", best.octave) })
            }
            Field::Notes => of_way(|best| best.notes.to_string()),
            Field::Missing => match &entry.best {
                Some(best) => best.missing.len().to_string(),
                None => "all".to_owned(),
            },
            Field::Bends => of_way(|best| best.bends.to_string()),
            Field::Awkward => of_way(|best| best.awkward.to_string()),
            Field::Effort => entry.effort_per_note().map_or_else(String::new, |effort| effort.to_string()),
            Field::Tempo => {
                of_way(|best| best.tempo.map_or_else(|| "any".to_owned(), |tempo| tempo.to_string()))
            }
        }
    }
}

/// Returns the key to which a tune is transposed, or nothing if it stays in its own key.
pub(super) fn played_in(entry: &Entry, best: &Way) -> String {
    if best.transposed == 0 {
        return String::new();
    }
    words::key(
        Key { tonic: entry.key.tonic.transposed(Interval(best.transposed)), mode: entry.key.mode },
        None,
    )
}

/// Returns every fact of the chosen tunes as a table, for other programs.
pub fn facts(shown: &[&Entry]) -> Table {
    let row = |entry: &&Entry| Field::ALL.iter().map(|field| Line::from(field.of(entry))).collect();
    Table {
        columns: Field::ALL.iter().map(|field| field.column()).collect(),
        rows: shown.iter().map(row).collect(),
    }
}

/// Returns the page of a book for a terminal. If it shows at most thirty tunes, the lines below the table say how to
/// open them.
pub fn page(chosen: Chosen) -> Page {
    let shown = chosen.shown;
    let mut page = opening(&chosen);
    page.blocks.push(Block::Table(table(shown, TITLE)));
    if shown.len() > LISTED {
        page.text(
            Tone::Faint.of("A wider table (--width 140) names the file of each tune, and so does --csv."),
        );
    } else {
        to_open(&mut page, shown.iter().copied());
    }
    failures(&mut page, chosen.failures);
    page
}

/// Returns the page of a book for a browser, with whole titles.
pub fn broad_page(chosen: Chosen) -> Page {
    let mut page = opening(&chosen);
    page.blocks.push(Block::Table(table(chosen.shown, usize::MAX)));
    failures(&mut page, chosen.failures);
    page
}

/// Returns the page of a ladder; its rungs name the tunes of `entries`.
pub fn ladder_page(chosen: Chosen, entries: &[Entry], rungs: &[Rung], notation: Notation) -> Page {
    let mut page = opening(&chosen);
    let columns = ["title", "harp", "new demands"].map(Column::words);
    let columns = [Column::numbers("")].into_iter().chain(columns).chain([Column::numbers("opens")]);
    let row = |(step, rung): (usize, &Rung)| {
        let entry = &entries[rung.entry];
        let adds = rung.adds.iter().map(|demand| demanded(*demand, notation)).join(", ");
        let cells = [step.to_string(), cut(&entry.title, TITLE), Field::Harp.of(entry), adds];
        cells.into_iter().chain([rung.opens.to_string()]).map(Line::from).collect()
    };
    let rows = (1..).zip(rungs).map(row).collect();
    page.blocks.push(Block::Table(Table { columns: columns.collect(), rows }));
    page.text(Tone::Faint.of(
        "Each tune demands the least beyond the tunes above it. \"Opens\" counts the tunes that then demand nothing new.",
    ));
    to_open(&mut page, rungs.iter().map(|rung| &entries[rung.entry]));
    failures(&mut page, chosen.failures);
    page
}

/// Returns a numbered table with the columns that [`Field::tells`] keeps. Long titles are cut.
fn table(shown: &[&Entry], title: usize) -> Table {
    let fields: Vec<Field> = Field::ALL.into_iter().filter(|field| field.tells(shown)).collect();
    let cell = |field: &Field, entry: &Entry| match field {
        Field::Title => cut(&entry.title, title),
        field => field.of(entry),
    };
    let row = |(rank, entry): (usize, &&Entry)| {
        let cells = fields.iter().map(|field| cell(field, entry));
        [rank.to_string()].into_iter().chain(cells).map(Line::from).collect()
    };
    let columns = fields.iter().map(|field| field.column());
    Table {
        columns: [Column::numbers("")].into_iter().chain(columns).collect(),
        rows: (1..).zip(shown).map(row).collect(),
    }
}

/// Lists the file of each tune and, if the file has other tunes, the tune's number, as the command line accepts them.
fn to_open<'a>(page: &mut Page, entries: impl Iterator<Item = &'a Entry>) {
    page.gap();
    for (rank, entry) in (1..).zip(entries) {
        let tune = if entry.alone { String::new() } else { format!(" --tune {}", entry.choice()) };
        page.text(Tone::Faint.of(format!("{rank}: {}{tune}", entry.file)));
    }
}

/// Shortens a longer text to `most` characters, of which the last is an ellipsis.
pub(super) fn cut(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        None => text.to_owned(),
        Some(_) => text.chars().take(most - 1).chain(['…']).collect(),
    }
}

/// Returns "4'", "jump of 5 holes", "turn in 0.21 s".
fn demanded(demand: Demand, notation: Notation) -> String {
    match demand {
        Demand::Bend(action) if action.bend == Bend::Over => words::hole(action),
        Demand::Bend(action) => notation.write(action),
        Demand::Jump(1) => "move to the next hole".to_owned(),
        Demand::Jump(holes) => format!("jump of {holes} holes"),
        Demand::Turn(ms) => format!("turn in {}.{:02} s", ms / 1000, ms % 1000 / 10),
    }
}

fn opening(chosen: &Chosen) -> Page {
    let mut page = Page::default();
    let tunes = if chosen.tunes == 1 { "tune" } else { "tunes" };
    let shown = match chosen.shown.len() {
        shown if shown == chosen.tunes => String::new(),
        shown => format!("; {shown} shown"),
    };
    let (all, full) = (chosen.tunes, chosen.full);
    let line = format!("{all} {tunes}, {full} of them complete on the harp listed{shown}");
    page.text(Tone::Strong.of(line));
    page.text(Tone::Faint.of("The effort is the average per note."));
    page
}

/// Lists the files that could not be read.
pub(super) fn failures(page: &mut Page, failures: &[(String, String)]) {
    if failures.is_empty() {
        return;
    }
    page.heading(Tone::Warning.of("Not read"));
    for (file, error) in failures {
        page.item(format!("{file}: {error}"));
    }
}

/// Returns the tab of an entry in one line, with a bar line between bars. A missing note appears as its name in
/// brackets.
pub fn tab_line(best: &Way, notation: Notation) -> String {
    let mut missing = best.missing.iter();
    let mut token = |action: &Option<Action>| match action {
        Some(action) => notation.write(*action),
        None => format!("[{}]", missing.next().map_or("?", |name| name)),
    };
    let bars = best.bars.iter().zip(&best.tab).chunk_by(|(bar, _)| **bar);
    let bars = bars.into_iter().map(|(_, notes)| notes.map(|(_, action)| token(action)).join(" "));
    bars.collect::<Vec<_>>().join(" | ")
}
