//! The words of a lead sheet: heading, legend, remarks. The sheet draws them.

use super::{
    Block, Line, Page, Table, Tune, changes,
    comparison::{Comparison, Side},
    key, notes, suggest, words,
};
use crate::{
    harp::{Action, Bend, Breath},
    melody::Melody,
    pitch::Spelling,
    search::{Approach, Request},
};

/// The texts of a lead sheet.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Lead {
    /// The title of the tune.
    pub title: String,
    /// "by A. Nonymous, words by B. Nonymous", if the file says so.
    pub makers: Option<String>,
    /// Rights, as in the file.
    pub rights: Vec<String>,
    /// "G major", and by how far the tune is moved, if it is.
    pub key: String,
    /// "C harp, 2nd position, middle register"; for two ways, one line each, which names its staff.
    pub playing: Vec<String>,
    /// Hints before playing, a sentence each.
    pub verdict: Vec<String>,
    /// The meaning of each sign that occurs on the sheet.
    pub legend: Vec<(Sample, String)>,
    /// The verses for which there is no room under the notes, each with its number.
    pub verses: Vec<String>,
    /// The changes to the tune, a sentence each.
    pub changes: Vec<String>,
    /// The advantages of each way: headings with their sentences.
    pub reasons: Vec<(String, Vec<String>)>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// A sign that the legend explains, for the sheet to draw.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Sample {
    /// The tab of an action.
    Action(Action),
    /// The tab of a note that cannot be sounded, and its name.
    Missing(Spelling),
    /// The tab of a note that is left out.
    LeftOut,
    /// A note that was changed.
    Changed,
    /// An awkward turn of the breath.
    Turn,
    /// A place to breathe.
    Breathe,
    /// A mended note.
    Mended,
    /// A note that two ways play in different holes.
    Differs,
    /// A bar that is hard, or dearer than in another way.
    Shaded,
}

/// The words of a sheet.
pub fn lead(tune: &Tune, request: &Request, approach: &Approach) -> Lead {
    let melody = request.melody;
    let hard = !crate::search::hard::hardest(melody, &approach.playing, request.weights, 1).is_empty();
    let shaded = hard.then_some((Sample::Shaded, "one of the hardest bars: begin with it, slowly"));
    let changed = (!approach.changes.is_empty()).then_some((Sample::Changed, "the tune is changed here"));
    let changes = changes::lines(melody, approach).iter().map(|line| words::sentence(line)).collect();
    Lead {
        title: tune.title().to_owned(),
        makers: notes::makers(&melody.credits),
        rights: melody.credits.rights.clone(),
        key: key(request, approach, approach.octave),
        playing: vec![words::playing(approach)],
        legend: legend(melody, &[approach], changed.into_iter().chain(shaded)),
        verses: verses(melody),
        changes,
        cautions: caution(melody, approach).into_iter().collect(),
        ..Lead::default()
    }
}

/// The texts of a sheet with two ways one above the other; `None` without a way.
pub fn compared(tune: &Tune, request: &Request, comparison: &Comparison) -> Option<Lead> {
    let (melody, sides) = (request.melody, &comparison.sides);
    let first = sides.first()?;
    let has = |marks: fn(&Side) -> bool| sides.iter().any(marks);
    let signs = [
        (
            has(|side| !side.mended.is_empty()),
            Sample::Mended,
            "put right here, other than in the tab that was checked",
        ),
        (has(|side| !side.differs.is_empty()), Sample::Differs, "the two lines have different holes"),
        (has(|side| !side.dearer.is_empty()), Sample::Shaded, "costs most more here than in the other line"),
    ];
    let signs = signs.into_iter().filter(|sign| sign.0).map(|(_, sample, text)| (sample, text));
    let ways: Vec<&Approach> = sides.iter().map(|side| side.approach).collect();
    let reasons = comparison.sections.iter().filter(|section| section.on_paper);
    let reasons = reasons.map(|section| (section.title.clone(), sentences(&section.page)));
    Some(Lead {
        title: tune.title().to_owned(),
        makers: notes::makers(&melody.credits),
        rights: melody.credits.rights.clone(),
        key: key(request, first.approach, 0),
        playing: comparison.ways(),
        verdict: sentences(&comparison.verdict),
        legend: legend(melody, &ways, signs),
        verses: verses(melody),
        changes: Vec::new(),
        reasons: reasons.collect(),
        cautions: comparison.cautions.clone(),
    })
}

/// "G major, played two semitones up".
fn key(request: &Request, approach: &Approach, octave: i8) -> String {
    let mode = request.key.mode;
    let key = format!("{} {}", key::sounding(approach, mode, request.melody), words::mode(mode));
    let moved = [
        (approach.transposed.0 != 0).then(|| words::semitones(approach.transposed.0)),
        (octave != 0).then(|| words::octave(octave)),
    ];
    let moved: Vec<String> = moved.into_iter().flatten().collect();
    if moved.is_empty() { key } else { format!("{key}, played {}", words::list(&moved)) }
}

/// A page as sentences: items of a list with a dash, rows of a table with the titles of its columns.
fn sentences(page: &Page) -> Vec<String> {
    let row = |table: &Table, row: &[Line]| {
        let mut cells = row.iter().map(Line::plain).zip(&table.columns);
        let name = cells.next().map_or_else(String::new, |(name, _)| name);
        let numbers: Vec<String> = cells.map(|(cell, column)| format!("{} {cell}", column.title)).collect();
        format!("{name}: {}", numbers.join(", "))
    };
    let sentence = |block: &Block| match block {
        Block::Heading(line) | Block::Text(line) => vec![line.plain()],
        Block::Item(line) => vec![format!("– {}", line.plain())],
        Block::Table(table) => table.rows.iter().map(|cells| words::sentence(&row(table, cells))).collect(),
        Block::Tab(_) | Block::Pairs(_) | Block::Gap => Vec::new(),
    };
    page.blocks.iter().flat_map(sentence).collect()
}

/// The cautions for all ways of a comparison.
pub(super) fn cautions(melody: &Melody, sides: &[Side]) -> Vec<String> {
    let mut cautions: Vec<String> = sides.iter().filter_map(|side| caution(melody, side.approach)).collect();
    cautions.dedup();
    cautions
}

/// The bars where the lungs run empty or full, with a caution.
fn caution(melody: &Melody, approach: &Approach) -> Option<String> {
    let air = suggest::air(approach, melody);
    let at = (!air.is_empty()).then(|| words::sentence(&air.join("; ")))?;
    Some(format!("{at}. If you feel light-headed, stop and breathe normally until it has passed."))
}

/// The most verses under the notes; more are hard to follow.
pub const VERSES_UNDER_NOTES: u8 = 4;

/// The text of the other verses.
fn verses(melody: &Melody) -> Vec<String> {
    let lyrics = || melody.notes.iter().flat_map(|note| &note.lyrics);
    let last = lyrics().map(|lyric| lyric.verse).max().unwrap_or(0);
    let text = |verse: u8| -> String {
        let syllables = lyrics().filter(|lyric| lyric.verse == verse && !lyric.text.is_empty());
        let parts = syllables.map(|lyric| format!("{}{}", lyric.text, if lyric.hyphen { "" } else { " " }));
        parts.collect::<String>().trim_end().to_owned()
    };
    let texts = (VERSES_UNDER_NOTES + 1..=last).map(|verse| (verse, text(verse)));
    texts.filter(|(_, text)| !text.is_empty()).map(|(verse, text)| format!("{verse}. {text}")).collect()
}

/// The meaning of the signs that occur in these ways: those of the tab, and marks beside it.
fn legend(
    melody: &Melody,
    ways: &[&Approach],
    signs: impl Iterator<Item = (Sample, &'static str)>,
) -> Vec<(Sample, String)> {
    let notes = || ways.iter().flat_map(|way| &way.playing.notes);
    let actions = || notes().filter_map(|played| played.action);
    let mut legend = Vec::new();
    for breath in [Breath::Blow, Breath::Draw] {
        let plain = actions().find(|action| action.bend == Bend::None && action.breath == breath);
        if let Some(action) = plain {
            let way = match breath {
                Breath::Blow => "above the line, roof up",
                Breath::Draw => "below the line, full, roof down",
            };
            legend.push((Sample::Action(action), format!("{}: {way}", words::hole(action))));
        }
    }
    let deepest = actions().filter_map(|action| match action.bend {
        Bend::Down(depth) => Some(depth),
        Bend::None | Bend::Over => None,
    });
    for depth in 1..=deepest.max().unwrap_or(0) {
        if let Some(action) = actions().find(|action| action.bend == Bend::Down(depth)) {
            legend.push((
                Sample::Action(action),
                format!("{} with a {}", words::hole(action), words::depth(depth)),
            ));
        }
    }
    for breath in [Breath::Blow, Breath::Draw] {
        if let Some(action) = actions().find(|action| action.bend == Bend::Over && action.breath == breath) {
            legend.push((Sample::Action(action), words::hole(action)));
        }
    }
    let silent = |left_out: bool| {
        ways.iter().find_map(|way| {
            let mut silent = (0..).zip(&way.playing.notes).filter(|(_, played)| played.action.is_none());
            let (note, _) = silent.find(|&(note, _)| way.is_changed(note) == left_out)?;
            Some((*way, note))
        })
    };
    let missing = silent(false).and_then(|(way, note)| way.wanted(melody, &melody.notes[note]));
    let awkward = ways.iter().any(|way| way.counts.awkward > 0);
    let of_the_tab = [
        (silent(true).is_some(), Sample::LeftOut, "left out of the tune"),
        (awkward, Sample::Turn, "the breath must turn fast, or turn in a jump"),
        (notes().any(|played| played.breathe_after), Sample::Breathe, "a place to breathe"),
    ];
    let of_the_tab = of_the_tab.into_iter().filter(|sign| sign.0).map(|(_, sample, text)| (sample, text));
    let missing = missing.map(|name| (Sample::Missing(name), "this harp lacks the note: leave it out"));
    legend.extend(
        missing.into_iter().chain(of_the_tab).chain(signs).map(|(sample, text)| (sample, text.to_owned())),
    );
    legend
}
