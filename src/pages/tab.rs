//! Tab as a sheet of bars, and its legend.

use std::collections::BTreeSet;

use super::{Line, Tone, words};
use crate::{
    harp::{Action, Bend, Breath, Technique},
    melody::{Bar, Melody, Note, signs},
    notation,
    search::Approach,
    tab::{Notation, Style},
    time::Beats,
};

/// A tune's tab, bar by bar.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct TabSheet {
    /// The bars in order.
    pub bars: Vec<TabBar>,
    /// The number of verses with words.
    pub verses: usize,
}

/// A bar of tab.
#[derive(Clone, PartialEq, Debug)]
pub struct TabBar {
    /// The number.
    pub number: u32,
    /// Whether the bar is an upbeat, or the second half of a bar that a repeat splits.
    pub pickup: bool,
    /// The length of the bar.
    pub length: Beats,
    /// The text over the beginning of the bar: an ending's number, the segno, the coda.
    pub above: String,
    /// Whether a repeat begins here.
    pub repeat_start: bool,
    /// Whether a repeat ends here.
    pub repeat_end: bool,
    /// Whether a part of the tune ends here, with a double barline.
    pub section_end: bool,
    /// The text over the end of the bar: "3 times", "D.C.", "Fine".
    pub below: String,
    /// Whether no note begins in this bar, but a note from an earlier bar still sounds in it.
    pub held: bool,
    /// The notes.
    pub notes: Vec<TabNote>,
    /// The chords over the notes, in order; empty if the page shows none.
    pub chords: Vec<TabChord>,
}

/// A note of tab.
#[derive(Clone, PartialEq, Debug)]
pub struct TabNote {
    /// The start of the note, counted from the start of its bar.
    pub at: Beats,
    /// The tab of the note, or its name in brackets if it is missing. On a page without tab, the note's name.
    pub token: String,
    /// The note's entry in the second row of the notation, such as `D`; usually empty.
    pub under: &'static str,
    /// The tone for the direction of the breath, for a bend, or for a missing note.
    pub tone: Tone,
    /// Whether a star marks the note: the tune was changed there, or a check corrects the note or compares its hole.
    pub changed: bool,
    /// Whether the checked tab has a note too many before this note.
    pub added_before: bool,
    /// Whether the breath changes direction awkwardly before the note.
    pub awkward: bool,
    /// Whether to breathe after the note.
    pub breathe_after: bool,
    /// The syllables under the note, each with the index of its verse, from 0.
    pub lyrics: Vec<(usize, String)>,
}

/// A chord symbol over the notes. It applies until the next chord symbol.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct TabChord {
    /// When the chord begins, counted from the start of its bar.
    pub at: Beats,
    /// The chord's name, with brackets that show how much of the chord the harp has.
    pub token: String,
    /// The tone for how much of the chord the harp has.
    pub tone: Tone,
}

/// Returns the tab of a playing.
pub fn sheet(melody: &Melody, approach: &Approach, notation: Notation) -> TabSheet {
    sheet_with_chords(melody, approach, notation, Vec::new())
}

/// Returns the tab of a playing with chords over it. The chords are given in order, with times from the start of the
/// tune.
pub(super) fn sheet_with_chords(
    melody: &Melody,
    approach: &Approach,
    notation: Notation,
    chords: Vec<TabChord>,
) -> TabSheet {
    let written = |note: usize| {
        let played = approach.playing.notes.get(note);
        match played.and_then(|played| played.action) {
            Some(action) => (notation.rows(action), tone(action)),
            None => ((missing_token(melody, approach, &melody.notes[note]), ""), Tone::Warning),
        }
    };
    let mark = |note: usize, tab: &mut TabNote| {
        let Some(played) = approach.playing.notes.get(note) else { return };
        tab.changed = approach.is_changed(note);
        (tab.awkward, tab.breathe_after) = (played.awkward, played.breathe_after);
    };
    bar_by_bar(melody, written, mark, chords)
}

/// Returns a tune with the names of its notes in place of tab.
pub(super) fn names(melody: &Melody) -> TabSheet {
    let name = |note: usize| {
        let note = &melody.notes[note];
        let spelling = note.spelling.unwrap_or_else(|| melody.spelled(note.pitch, note.onset));
        ((spelling.to_string(), ""), Tone::Plain)
    };
    let breathes = signs::places_to_breathe(&melody.notes);
    let mark = |note: usize, tab: &mut TabNote| tab.breathe_after = breathes[note];
    bar_by_bar(melody, name, mark, Vec::new())
}

/// Returns the bars with their notes. `written` gives a note's two rows and its tone; `mark` adds the signs over it.
fn bar_by_bar(
    melody: &Melody,
    written: impl Fn(usize) -> ((String, &'static str), Tone),
    mark: impl Fn(usize, &mut TabNote),
    chords: Vec<TabChord>,
) -> TabSheet {
    let sung = melody.notes.iter().flat_map(|note| &note.lyrics).map(|lyric| lyric.verse);
    let verses: Vec<u8> = sung.collect::<BTreeSet<u8>>().into_iter().collect();
    let mut bars: Vec<TabBar> = (0..melody.bars.len()).map(|index| empty_bar(&melody.bars, index)).collect();
    for (index, pair) in melody.bars.windows(2).enumerate() {
        let splits = pair[1].meter.is_some_and(|meter| pair[0].length + pair[1].length <= meter.bar());
        bars[index + 1].pickup |= pair[0].number == pair[1].number && splits;
    }
    for (index, note) in melody.notes.iter().enumerate() {
        let ((token, under), tone) = written(index);
        let words = note.lyrics.iter().filter_map(|lyric| {
            let line = verses.binary_search(&lyric.verse).ok()?;
            Some((line, format!("{}{}", lyric.text, if lyric.hyphen { "-" } else { "" })))
        });
        let mut tab = TabNote {
            at: note.onset - melody.bars[note.bar].start,
            token,
            under,
            tone,
            changed: false,
            added_before: false,
            awkward: false,
            breathe_after: false,
            lyrics: words.collect(),
        };
        mark(index, &mut tab);
        bars[note.bar].notes.push(tab);
    }
    for chord in chords {
        let bar = melody.bars.partition_point(|bar| bar.start <= chord.at).saturating_sub(1);
        let Some(start) = melody.bars.get(bar).map(|bar| bar.start) else { break };
        bars[bar].chords.push(TabChord { at: chord.at - start, ..chord });
    }
    for (bar, empty) in melody.bars.iter().zip(&mut bars).filter(|(_, empty)| empty.notes.is_empty()) {
        let before = melody.notes.partition_point(|note| note.onset < bar.start);
        empty.held = before.checked_sub(1).is_some_and(|last| melody.notes[last].end() > bar.start);
    }
    // A file may have empty bars before and after the tune, for an introduction or for the ends of other parts.
    let filled = |bar: &TabBar| !bar.notes.is_empty() || !bar.chords.is_empty();
    let first = bars.iter().position(filled).unwrap_or(0);
    let last = bars.iter().rposition(filled).map_or(0, |last| last + 1);
    let bars = bars.drain(first..last.max(first)).collect();
    TabSheet { bars, verses: verses.len() }
}

/// Returns, in brackets, the name of the pitch that a missing note should sound.
fn missing_token(melody: &Melody, approach: &Approach, note: &Note) -> String {
    format!("[{}]", approach.wanted_name(melody, note))
}

fn empty_bar(bars: &[Bar], index: usize) -> TabBar {
    let bar = &bars[index];
    let marks = &bar.marks;
    let endings: Vec<String> = marks.ending.iter().map(|number| format!("{number}.")).collect();
    let mut above = Vec::new();
    if !endings.is_empty() {
        above.push(endings.join(" "));
    }
    for (set, word) in [(marks.segno, "(sign)"), (marks.coda, "(coda)")] {
        if set {
            above.push(word.to_owned());
        }
    }
    let mut below = Vec::new();
    if let Some(times) = marks.repeat_end.filter(|&times| times != 2) {
        below.push(format!("{times} times"));
    }
    below.extend(notation::jumps(bars, index).into_iter().map(str::to_owned));
    TabBar {
        number: bar.number,
        pickup: bar.number == 0,
        length: bar.length,
        above: above.join(" "),
        repeat_start: marks.repeat_start,
        repeat_end: marks.repeat_end.is_some(),
        section_end: marks.section_end,
        below: below.join(" "),
        held: false,
        notes: Vec::new(),
        chords: Vec::new(),
    }
}

pub(super) fn tone(action: Action) -> Tone {
    match (action.bend, action.breath) {
        (Bend::None, Breath::Blow) => Tone::Blow,
        (Bend::None, Breath::Draw) => Tone::Draw,
        (Bend::Down(_) | Bend::Over, _) => Tone::Bent,
    }
}

/// Explains the marks that occur in the tab of an approach.
pub fn legend(melody: &Melody, approach: &Approach, notation: Notation) -> Vec<Line> {
    let sign = |action: Action| Line::default().and(tone(action), notation.write(action));
    let first = |wanted: &dyn Fn(Action) -> bool| {
        approach.playing.notes.iter().filter_map(|played| played.action).find(|&action| wanted(action))
    };
    let mut lines = Vec::new();
    let mut breath = Line::from("How to read it: ");
    let mut kinds = Vec::new();
    for (wanted, word) in [(Breath::Blow, "blow hole"), (Breath::Draw, "draw hole")] {
        if let Some(action) = first(&|action| action.bend == Bend::None && action.breath == wanted) {
            kinds.push((action, format!("{word} {}", action.hole)));
        }
    }
    let deepest = approach.playing.notes.iter().filter_map(|played| match played.action?.bend {
        Bend::Down(depth) => Some(depth),
        Bend::None | Bend::Over => None,
    });
    for depth in 1..=deepest.max().unwrap_or(0) {
        if let Some(action) = first(&|action| action.bend == Bend::Down(depth)) {
            kinds.push((action, format!("{} with a {}", words::hole(action), words::depth(depth))));
        }
    }
    for breath in [Breath::Blow, Breath::Draw] {
        if let Some(action) = first(&|action| action.bend == Bend::Over && action.breath == breath) {
            kinds.push((action, words::hole(action)));
        }
    }
    for (index, (action, meaning)) in kinds.into_iter().enumerate() {
        if index > 0 {
            breath = breath.and(Tone::Plain, ", ");
        }
        breath.spans.extend(sign(action).spans);
        breath = breath.and(Tone::Plain, format!(" = {meaning}"));
    }
    lines.push(breath);
    if notation.style == Style::Rows {
        lines.push(Line::from("B is blow, D is draw; the letters are in a row under the holes."));
    }
    if notation.style == Style::Arrows {
        lines.push(Line::from("Up is blow, down is draw; some older books use them the other way round."));
    }
    let mut missing =
        melody.notes.iter().zip(&approach.playing.notes).filter(|(_, played)| played.action.is_none());
    if let Some((note, _)) = missing.next() {
        let line = Line::default()
            .and(Tone::Warning, missing_token(melody, approach, note))
            .and(Tone::Plain, " in brackets is a note of the tune that this tab leaves out.");
        lines.push(line);
    }
    if !approach.changes.is_empty() {
        lines.push(Line::from("* over a note: the tune is changed there, as listed above."));
    }
    if approach.counts.awkward > 0 {
        lines.push(Line::from("~ over a note: the breath must turn fast there, or together with a jump."));
    }
    if approach.playing.notes.iter().any(|played| played.breathe_after) {
        lines.push(Line::from(", over the end of a note: a place to breathe."));
    }
    lines.push(Line::from("Notes that last longer have more room after them."));
    lines
}

/// Returns the bends that a technique gives a player, to follow the word "with".
pub(super) fn technique(technique: Technique) -> &'static str {
    match technique {
        Technique::None => "natural notes only",
        Technique::Draw => "draw bends",
        Technique::All => "draw and blow bends",
        Technique::Over => "bends and overbends",
    }
}
