//! The words of a sheet with a tune at several levels: the names of the levels, and what a player learns from one to
//! the next.

use std::collections::BTreeSet;

use super::{comparison::Side, words};
use crate::{
    harp::{Action, Bend, Technique},
    melody::Melody,
    search::{Approach, Level, Request, hard},
};

/// The largest number of hard bars that a level marks.
const HARD_BARS: usize = 3;

/// Returns the name of a technique's level.
pub fn name(technique: Technique) -> &'static str {
    match technique {
        Technique::None => "plain",
        Technique::Draw => "with draw bends",
        Technique::All => "with bends",
        Technique::Over => "full",
    }
}

/// Returns the levels as the lines of a sheet, the plainest first. In each line, frames mark the notes that the line
/// above plays with another action or leaves out. If more than half of the notes differ, none is framed.
pub fn sides<'a>(request: &Request, levels: &'a [Level<'a>]) -> Vec<Side<'a>> {
    let side = |(index, level): (usize, &'a Level<'a>)| {
        let approach = level.playing();
        let above = index.checked_sub(1).map(|above| levels[above].playing());
        let hard = hard::hardest(request.melody, &approach.playing, request.weights, HARD_BARS);
        Side {
            differs: above.map_or_else(Vec::new, |above| differs(above, approach)),
            dearer: hard.iter().map(|hard| hard.bar).collect(),
            ..Side::new(name(level.techniques[0]), words::tab_for(approach), approach)
        }
    };
    levels.iter().enumerate().map(side).collect()
}

/// Returns the notes that two ways play with different actions; nothing if more than half of the notes differ.
fn differs(above: &Approach, approach: &Approach) -> Vec<usize> {
    let pairs = || above.playing.notes.iter().zip(&approach.playing.notes);
    let differ: Vec<usize> = (0..)
        .zip(pairs())
        .filter(|(_, (above, ours))| above.action != ours.action)
        .map(|(note, _)| note)
        .collect();
    if differ.len() * 2 > approach.playing.notes.len() { Vec::new() } else { differ }
}

/// Names each line: "Upper line, plain: C harp, 1st position, no bends, three notes changed".
pub(super) fn ways(levels: &[Level]) -> Vec<String> {
    let places: &[&str] = match levels.len() {
        1 => &[""],
        2 => &["Upper line, ", "Lower line, "],
        _ => &["Upper line, ", "Middle line, ", "Lower line, "],
    };
    let line = |(level, place): (&Level, &&str)| {
        let approach = level.playing();
        let mut parts = vec![format!("{}, {} position", words::harp(approach.harp), approach.position)];
        if approach.octave != 0 {
            parts.push(words::octave(approach.octave));
        }
        parts.extend(bends(approach));
        let changed = approach.changes.len() as u32;
        if changed > 0 {
            parts.push(format!("{} changed", words::plural(changed, "note", "notes")));
        }
        let missing = approach.counts.missing;
        if missing > 0 {
            parts.push(format!("{} missing", words::plural(missing, "note", "notes")));
        }
        let line = parts.join(", ");
        // If one line serves all levels, it needs no name.
        if levels.len() == 1 && level.techniques.len() > 1 {
            return line;
        }
        words::sentence(&format!("{place}{}: {line}", name(level.techniques[0])))
    };
    levels.iter().zip(places).map(line).collect()
}

/// Returns "15 bends" or "three overbends", or both; "no bends" if there are neither.
fn bends(approach: &Approach) -> Vec<String> {
    let counts = &approach.counts;
    let (bends, overbends) = (counts.draw_bends + counts.blow_bends, counts.overblows + counts.overdraws);
    let mut parts = Vec::new();
    if bends > 0 || overbends == 0 {
        parts.push(words::plural(bends, "bend", "bends"));
    }
    if overbends > 0 {
        parts.push(words::plural(overbends, "overbend", "overbends"));
    }
    parts
}

/// Says what a player learns from each level to the next, and which levels are the same.
pub fn to_learn(melody: &Melody, levels: &[Level]) -> Vec<String> {
    let steps = levels.windows(2).map(|pair| {
        let [from, to] = [&pair[0], &pair[1]].map(|level| name(level.techniques[0]));
        format!("From “{from}” to “{to}”: {}.", step(melody, pair[0].playing(), pair[1].playing()).join("; "))
    });
    let same = levels.iter().filter(|level| level.techniques.len() > 1).map(|level| {
        let names: Vec<String> =
            level.techniques.iter().map(|&technique| format!("“{}”", name(technique))).collect();
        let names = words::list(&names);
        match level.playing().counts.bends() {
            0 if levels.len() == 1 => {
                format!(
                    "On this harp the tune needs no bend: {names} are the same, so the sheet shows them once."
                )
            }
            _ => format!("The levels {names} are the same on this harp, so the sheet shows them once."),
        }
    });
    steps.chain(same).collect()
}

/// Names what is new in the second way: another octave, bends, and notes of the tune that the first way changes. If
/// none of these is new, it names the bars with other holes.
fn step(melody: &Melody, from: &Approach, to: &Approach) -> Vec<String> {
    let mut parts = Vec::new();
    let moved = to.octave - from.octave;
    if moved != 0 {
        parts.push(format!("the tune moves {}, to {}", words::octave(moved), words::region(to)));
    }
    let mut new = bent(to);
    let known = bent(from);
    new.retain(|(action, _)| !known.iter().any(|(known, _)| known == action));
    let bends =
        new.iter().map(|(action, notes)| format!("{} ({})", words::bend_on(*action), bars(melody, notes)));
    let bends: Vec<String> = bends.collect();
    if !bends.is_empty() {
        parts.push(format!("learn {}", words::list(&bends)));
    }
    let is_there = |note: usize| !to.is_changed(note) && to.playing.notes[note].action.is_some();
    let restored: Vec<usize> =
        from.changes.iter().map(|change| change.note).filter(|&note| is_there(note)).collect();
    if !restored.is_empty() {
        parts.push(format!("the tune has its own notes again ({})", bars(melody, &restored)));
    }
    if parts.is_empty() {
        let holes = from.playing.notes.iter().zip(&to.playing.notes).enumerate();
        let other: Vec<usize> =
            holes.filter(|(_, (from, to))| from.action != to.action).map(|(note, _)| note).collect();
        parts.extend((!other.is_empty()).then(|| format!("other holes ({})", bars(melody, &other))));
    }
    parts
}

/// Returns "bars 3, 7 and 15", or "seven bars, from bar 1 on".
fn bars(melody: &Melody, notes: &[usize]) -> String {
    /// The most bars that are listed. If there are more, they are counted.
    const MOST: usize = 5;
    let bars: BTreeSet<u32> = notes.iter().map(|&note| melody.bars[melody.notes[note].bar].number).collect();
    match bars.first() {
        Some(&first) if bars.len() > MOST => {
            let count = words::number(bars.len() as u32);
            format!("{count} bars, from {} on", words::bar_numbers(&[first]))
        }
        _ => words::bar_numbers(&Vec::from_iter(bars)),
    }
}

/// Returns the bends and overbends of a way with their notes, the most frequent first.
fn bent(approach: &Approach) -> Vec<(Action, Vec<usize>)> {
    let mut bent: Vec<(Action, Vec<usize>)> = Vec::new();
    for (note, played) in approach.playing.notes.iter().enumerate() {
        let Some(action) = played.action.filter(|action| action.bend != Bend::None) else { continue };
        match bent.iter_mut().find(|(known, _)| *known == action) {
            Some((_, notes)) => notes.push(note),
            None => bent.push((action, vec![note])),
        }
    }
    bent.sort_by_key(|(_, notes)| std::cmp::Reverse(notes.len()));
    bent
}
