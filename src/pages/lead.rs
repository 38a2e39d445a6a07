//! The words of a lead sheet: heading, legend, remarks. The `sheet` module draws them.

use itertools::Itertools;

use super::{
    Block, Line, Page, Table, Tune, changes,
    comparison::{Comparison, Side},
    key, levels, notes, suggest, words,
};
use crate::{
    harp::{Action, Bend, Breath},
    melody::Melody,
    pitch::Spelling,
    search::{Approach, Level, Request},
};

/// The text beside the music on a lead sheet.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Lead {
    /// The title of the tune.
    pub title: String,
    /// "by A. Nonymous, words by B. Nonymous", if the file names them.
    pub makers: Option<String>,
    /// Rights, as in the file.
    pub rights: Vec<String>,
    /// "G major", with the changes of key and the transposition, if there are any.
    pub key: String,
    /// "C harp, 2nd position, middle register". If the sheet has several ways to play the tune, each line begins with
    /// the name of its way.
    pub playing: Vec<String>,
    /// The result of a check, or what a player learns from level to level, one sentence each.
    pub verdict: Vec<String>,
    /// The signs that occur on the sheet, with their meanings.
    pub legend: Vec<(Sample, String)>,
    /// The verses that do not fit under the notes, with their numbers.
    pub verses: Vec<String>,
    /// The changes to the tune, one sentence each.
    pub changes: Vec<String>,
    /// Headings with the sentences under them: the reasons of a check, or the changes to the tune at each level.
    pub reasons: Vec<(String, Vec<String>)>,
    /// Cautions about the air, if any.
    pub cautions: Vec<String>,
}

/// A sign that the legend explains, for the sheet to draw.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Sample {
    /// The tab of an action.
    Action(Action),
    /// The tab of a note that is not sounded, although no change leaves it out.
    Missing(Spelling),
    /// The tab of a note that a change to the tune leaves out.
    LeftOut,
    /// A note that was changed.
    Changed,
    /// An awkward turn of the breath.
    Turn,
    /// A place to breathe.
    Breathe,
    /// A note that the check corrected.
    Mended,
    /// A note that two lines of the sheet play in different holes.
    Differs,
    /// A note whose hole is pinned.
    Pinned,
    /// A bar that is hard, or that costs much more in this way than in the other way.
    Shaded,
}

/// Returns the words of a sheet with one way to play the tune.
pub fn lead(tune: &Tune, request: &Request, approach: &Approach) -> Lead {
    let melody = request.melody;
    let hard = !crate::search::hard::hardest(melody, &approach.playing, request.weights, 1).is_empty();
    let shaded = hard.then_some((Sample::Shaded, "one of the hardest bars: begin with it, slowly"));
    let starred = approach.changes.iter().any(|change| is_drawn(melody, approach, change.note));
    let changed = starred.then_some((Sample::Changed, "the tune is changed here"));
    let pinned = (!request.pins.is_empty()).then_some((Sample::Pinned, "this hole is pinned"));
    let changes = changes::lines(melody, approach).iter().map(|line| format!("Changed: {line}")).collect();
    Lead {
        title: tune.title().to_owned(),
        makers: notes::makers(&melody.credits),
        rights: melody.credits.rights.clone(),
        key: key(request, approach, approach.octave),
        playing: vec![words::playing(approach)],
        legend: legend(melody, &[approach], changed.into_iter().chain(pinned).chain(shaded)),
        verses: verses(melody),
        changes,
        cautions: caution(melody, approach).into_iter().collect(),
        ..Lead::default()
    }
}

/// Returns the words of a sheet with the ways of a check, one above the other; `None` if the comparison has no way.
pub fn compared(tune: &Tune, request: &Request, comparison: &Comparison) -> Option<Lead> {
    let (melody, sides) = (request.melody, &comparison.sides);
    let first = sides.first()?;
    let has = |marks: fn(&Side) -> bool| sides.iter().any(marks);
    let signs = [
        (
            has(|side| !side.mended.is_empty()),
            Sample::Mended,
            "corrected here; the tab that was checked differs",
        ),
        (has(|side| !side.differs.is_empty()), Sample::Differs, "the two lines have different holes"),
        (has(|side| !side.dearer.is_empty()), Sample::Shaded, "much harder here than in the other line"),
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

/// Returns the words of a sheet with a tune at several levels; `None` if there are no levels.
pub fn levels(tune: &Tune, request: &Request, levels: &[Level]) -> Option<Lead> {
    let (melody, sides) = (request.melody, levels::sides(request, levels));
    let ways: Vec<&Approach> = sides.iter().map(|side| side.approach).collect();
    let first = ways.first()?;
    let starred = ways.iter().any(|way| way.changes.iter().any(|change| is_drawn(melody, way, change.note)));
    let signs = [
        (starred, Sample::Changed, "the tune is changed here"),
        (sides.iter().any(|side| !side.differs.is_empty()), Sample::Differs, "differs from the line above"),
        (
            sides.iter().any(|side| !side.dearer.is_empty()),
            Sample::Shaded,
            "one of the hardest bars of its line: begin with it, slowly",
        ),
    ];
    let signs = signs.into_iter().filter(|sign| sign.0).map(|(_, sample, text)| (sample, text));
    let changed = sides.iter().filter(|side| !side.approach.changes.is_empty()).map(|side| {
        let lines = changes::lines(melody, side.approach).iter().map(|line| words::sentence(line)).collect();
        (format!("Changes to the tune, {}", side.name), lines)
    });
    Some(Lead {
        title: tune.title().to_owned(),
        makers: notes::makers(&melody.credits),
        rights: melody.credits.rights.clone(),
        key: key(request, first, 0),
        playing: levels::ways(levels),
        verdict: levels::to_learn(melody, levels),
        legend: legend(melody, &ways, signs),
        verses: verses(melody),
        changes: Vec::new(),
        reasons: changed.collect(),
        cautions: cautions(melody, &sides),
    })
}

/// Returns "G major, D major from bar 18, moved two half steps up". The move is that of the key, and `octave`.
fn key(request: &Request, approach: &Approach, octave: i8) -> String {
    let mode = request.key.mode;
    let key = format!("{} {}", key::sounding(approach, mode, request.melody), words::mode(mode));
    let moved = approach.transposed.0 + 12 * i16::from(octave);
    let moved = (moved != 0).then(|| format!("moved {}", words::half_steps(moved)));
    let others = key::other_keys(approach, request.key, request.melody);
    [Some(key), others, moved].into_iter().flatten().join(", ")
}

/// Returns a page as sentences, without its tabs and pairs. List items begin with a dash, and table rows name their
/// columns.
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

/// Returns the cautions for the ways on a sheet; if two neighbouring ways have the same caution, it appears once.
pub(super) fn cautions(melody: &Melody, sides: &[Side]) -> Vec<String> {
    let mut cautions: Vec<String> = sides.iter().filter_map(|side| caution(melody, side.approach)).collect();
    cautions.dedup();
    cautions
}

/// Says where the player's lungs run empty or overfill, and what to do then; `None` if the lungs stay within limits.
fn caution(melody: &Melody, approach: &Approach) -> Option<String> {
    let air = suggest::air(approach, melody);
    let at = (!air.is_empty()).then(|| words::sentence(&air.join("; ")))?;
    Some(format!("{at}. If you feel light-headed, stop and breathe normally until it has passed."))
}

/// The most verses under the notes. More verses would be hard to follow.
pub const VERSES_UNDER_NOTES: u8 = 4;

/// Returns the verses that have no room under the notes, one line each.
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

/// Whether a sheet draws a note. It does not draw a grace note that a change leaves out of the tune.
fn is_drawn(melody: &Melody, approach: &Approach, note: usize) -> bool {
    !melody.notes[note].grace || approach.sounding(melody, note).is_some()
}

/// Explains the signs on a sheet: the signs that occur in the tab of its ways, and then `signs`.
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
                Breath::Blow => "above the line, outlined, point up",
                Breath::Draw => "below the line, filled, point down",
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
            let (note, _) =
                silent.find(|&(note, _)| way.is_changed(note) == left_out && is_drawn(melody, way, note))?;
            Some((*way, note))
        })
    };
    let missing = silent(false).and_then(|(way, note)| way.wanted(melody, &melody.notes[note]));
    let awkward = ways.iter().any(|way| way.counts.awkward > 0);
    let of_the_tab = [
        (silent(true).is_some(), Sample::LeftOut, "left out of the tune"),
        (awkward, Sample::Turn, "the breath must turn fast, or together with a jump"),
        (notes().any(|played| played.breathe_after), Sample::Breathe, "a place to breathe"),
    ];
    let of_the_tab = of_the_tab.into_iter().filter(|sign| sign.0).map(|(_, sample, text)| (sample, text));
    let lacks = "a note of the tune that is left out";
    let missing = missing.map(|name| (Sample::Missing(name), lacks));
    legend.extend(
        missing.into_iter().chain(of_the_tab).chain(signs).map(|(sample, text)| (sample, text.to_owned())),
    );
    legend
}
