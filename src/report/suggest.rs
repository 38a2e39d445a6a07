//! The main answer: which harp to pick up, why, what comes next, and the tab.

use std::collections::BTreeMap;

use itertools::Itertools;

use super::{Block, Column, Line, Page, Table, Tone, Tune, notes, tab, words};
use crate::{
    harp::{Action, Bend, Technique},
    melody::Melody,
    search::{Approach, Ranking, Request},
    tab::Notation,
    time::Beats,
};

/// How to present the answer.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Options {
    /// How many rows of the ranking to show.
    pub top: usize,
    /// How to write the tab.
    pub notation: Notation,
}

/// The page of `breathline suggest`: the winner, the reasons, the ranking, the tab.
pub fn page(tune: &Tune, request: &Request, ranking: &Ranking, options: Options) -> Page {
    let mut page = opening(tune);
    let Some(best) = ranking.best() else {
        page.gap();
        page.text(Tone::Warning.of("None of the harps reaches a single note of this tune."));
        page.text("Try all twelve standard harps by leaving --harps away, or low and high ones.");
        return page;
    };
    page.gap();
    page.text(verdict(best, request));
    for reason in reasons(best, request) {
        page.item(words::sentence(&reason));
    }
    if let Some(rival) = ranking.approaches.get(1) {
        page.item(words::sentence(&against(best, rival)));
    }
    if !best.counts.is_full() {
        page.item(words::sentence(&advice(best, request)));
    }
    page.item(effort(best));
    page.heading(Tone::Strong.of("Ranking"));
    page.blocks.push(Block::Table(table(ranking, request, options.top)));
    let hidden = ranking.approaches.len().saturating_sub(options.top);
    if hidden > 0 {
        page.text(Tone::Faint.of(format!(
            "{hidden} more approaches were tried; --top {} shows them all.",
            ranking.approaches.len()
        )));
    }
    the_tab(&mut page, tune, best, options.notation);
    page
}

/// The page of `breathline tab`: one choice, what it costs, and its tab.
pub fn tab_page(tune: &Tune, request: &Request, approach: &Approach, notation: Notation) -> Page {
    let mut page = opening(tune);
    page.gap();
    page.text(choice(approach));
    for reason in reasons(approach, request) {
        page.item(words::sentence(&reason));
    }
    page.item(effort(approach));
    the_tab(&mut page, tune, approach, notation);
    page
}

fn opening(tune: &Tune) -> Page {
    let mut page = Page::default();
    page.text(Tone::Strong.of(tune.title()));
    page.text(notes::measure(&tune.imported.melody));
    if tune.imported.parts.len() > 1 {
        page.text(words::sentence(&notes::part(tune)));
    }
    page.text(notes::key_line(tune.key));
    page.blocks.extend(notes::oddities(tune));
    page
}

fn the_tab(page: &mut Page, tune: &Tune, approach: &Approach, notation: Notation) {
    page.heading(Tone::Strong.of(format!(
        "Tab for the {}, {} position",
        words::harp(approach.harp),
        approach.position
    )));
    page.blocks.push(Block::Tab(tab::sheet(&tune.imported.melody, approach, notation)));
    page.gap();
    for line in tab::legend(&tune.imported.melody, approach, notation) {
        page.text(line);
    }
}

/// "Pick up the C harp and play in 2nd position (cross harp), an octave up."
fn verdict(best: &Approach, request: &Request) -> Line {
    let start = if best.counts.is_full() { "Pick up " } else { "The nearest is " };
    let start = Line::from(start)
        .and(Tone::Strong, format!("{} {}", words::article(best.harp), words::harp(best.harp)));
    let only = if request.harps.len() == 1 { ", the only harp that was tried" } else { "" };
    start.and(Tone::Plain, format!("{}{only}.", where_it_is(best)))
}

/// "C harp, 2nd position (cross harp), an octave up."
fn choice(approach: &Approach) -> Line {
    Tone::Strong
        .of(format!("{} {}", words::sentence(words::article(approach.harp)), words::harp(approach.harp)))
        .and(Tone::Plain, where_it_is(approach) + ".")
}

fn where_it_is(approach: &Approach) -> String {
    let mut text = format!(" in {}", words::position(approach.position));
    if approach.transposed.0 != 0 {
        text += &format!(
            ", sounding in {} ({} from the file's key)",
            approach.tonic,
            words::semitones(approach.transposed.0)
        );
    }
    if approach.octave != 0 {
        text += &format!(", {} from what is written", words::octave(approach.octave));
    }
    text
}

/// Why an approach is good or hard, in sentences without capital and full stop.
pub fn reasons(approach: &Approach, request: &Request) -> Vec<String> {
    let melody = request.melody;
    let counts = &approach.counts;
    let mut reasons = Vec::new();
    if counts.playable == counts.notes {
        reasons.push(match counts.bends() {
            0 => "every note is there without bends".to_owned(),
            bends => format!("every note is there, {} bent", plural_of(bends, counts.notes)),
        });
    } else {
        reasons.push(missing(approach, melody));
    }
    reasons.extend(bends(approach));
    reasons.push(match (counts.breath_changes, counts.awkward) {
        (0, _) => "the breath never turns".to_owned(),
        (changes, 0) => format!("the breath turns {}, never awkwardly", words::times(changes)),
        (changes, awkward) => {
            let places = awkward_notes(approach);
            format!(
                "the breath turns {}, {} awkwardly ({})",
                words::times(changes),
                words::times(awkward),
                words::bars(melody, places)
            )
        }
    });
    reasons.push(format!("it lies on {} of the harp", words::region(approach)));
    reasons
}

/// "Effort 441: moves 300, breath 120, register 21", the largest first.
fn effort(approach: &Approach) -> String {
    let effort = approach.playing.effort;
    let mut terms = [
        ("bends", effort.bends),
        ("moves", effort.moves),
        ("breath", effort.breath),
        ("register", effort.register),
        ("lungs", effort.lungs),
        ("missing notes", effort.missing),
    ];
    terms.sort_by_key(|&(_, points)| std::cmp::Reverse(points));
    let terms: Vec<String> = terms
        .iter()
        .filter(|(_, points)| *points > 0)
        .map(|(name, points)| format!("{name} {points}"))
        .collect();
    format!("Effort {}: {}", effort.total(), terms.join(", "))
}

/// "three notes", or "most notes" would be vaguer than "90 of 120".
fn plural_of(part: u32, whole: u32) -> String {
    if part <= 12 { words::plural(part, "note", "notes") } else { format!("{part} of {whole}") }
}

/// "3 of 120 notes are missing: F#5 (bars 3 and 7)".
fn missing(approach: &Approach, melody: &Melody) -> String {
    let counts = &approach.counts;
    let lacking = counts.notes - counts.playable;
    let by_pitch = grouped(missing_notes(approach).filter_map(|note| {
        let wanted = melody.notes[note].pitch.transposed(approach.shift());
        wanted.map(|pitch| (pitch, note))
    }));
    let names: Vec<String> = by_pitch
        .iter()
        .map(|(pitch, notes)| {
            let name = tab::spelled(melody, approach, *pitch, Beats::ZERO);
            format!("{name} ({})", words::bars(melody, notes.iter().copied()))
        })
        .collect();
    let names = words::short_list(&names, 4);
    if counts.missing == 0 {
        let graces = words::plural(lacking, "grace note", "grace notes");
        return format!("every note is there, but for {graces}: {names}");
    }
    let lacking = words::plural(lacking, "note", "notes");
    format!("{lacking} of {} cannot be sounded: {names}", counts.notes)
}

/// Values by key, both in order.
fn grouped<K: Ord, V>(pairs: impl Iterator<Item = (K, V)>) -> BTreeMap<K, Vec<V>> {
    let mut groups: BTreeMap<K, Vec<V>> = BTreeMap::new();
    for (key, value) in pairs {
        groups.entry(key).or_default().push(value);
    }
    groups
}

/// "draw 3 needs a whole-step bend six times", the most frequent first.
fn bends(approach: &Approach) -> Vec<String> {
    const NAMED: usize = 3;
    let bent = approach.playing.notes.iter().filter_map(|played| played.action);
    let bent = grouped(bent.filter(|action| action.bend != Bend::None).map(|action| (action, ())));
    let mut bent: Vec<(Action, u32)> =
        bent.into_iter().map(|(action, times)| (action, times.len() as u32)).collect();
    bent.sort_by_key(|&(action, count)| (std::cmp::Reverse(count), action));
    let mut lines: Vec<String> =
        bent.iter().take(NAMED).map(|&(action, count)| bend(action, count)).collect();
    if bent.len() > NAMED {
        let rest: u32 = bent[NAMED..].iter().map(|&(_, count)| count).sum();
        lines.push(format!("and {} on other holes", words::plural(rest, "bend", "bends")));
    }
    lines
}

fn bend(action: Action, count: u32) -> String {
    match action.bend {
        Bend::Over => format!("{} is needed {}", words::hole(action), words::times(count)),
        Bend::Down(depth) => {
            format!("{} needs a {} {}", words::hole(action), words::depth(depth), words::times(count))
        }
        Bend::None => String::new(),
    }
}

fn missing_notes(approach: &Approach) -> impl Iterator<Item = usize> {
    approach.playing.notes.iter().positions(|played| played.action.is_none())
}

fn awkward_notes(approach: &Approach) -> impl Iterator<Item = usize> {
    approach.playing.notes.iter().positions(|played| played.awkward)
}

/// What the next approach offers instead: "the next choice, a G harp in 1st position, has two bends more but …".
fn against(best: &Approach, rival: &Approach) -> String {
    let name = format!(
        "the next choice, {} {} in {} position{},",
        words::article(rival.harp),
        words::harp(rival.harp),
        rival.position,
        if rival.octave == best.octave { String::new() } else { format!(" {}", words::octave(rival.octave)) }
    );
    let kinds = |approach: &Approach| {
        let counts = &approach.counts;
        [
            ("missing note", counts.notes - counts.playable),
            ("bend", counts.bends()),
            ("awkward breath turn", counts.awkward),
            ("breath turn", counts.breath_changes),
        ]
    };
    let (mut worse, mut better) = (Vec::new(), Vec::new());
    for ((kind, ours), (_, theirs)) in kinds(best).into_iter().zip(kinds(rival)) {
        let amount = words::plural(ours.abs_diff(theirs), kind, &format!("{kind}s"));
        match theirs.cmp(&ours) {
            std::cmp::Ordering::Greater => worse.push(format!("{amount} more")),
            std::cmp::Ordering::Less => better.push(format!("{amount} fewer")),
            std::cmp::Ordering::Equal => {}
        }
    }
    match (worse.as_slice(), better.as_slice()) {
        ([], []) => format!("{name} differs only in where it lies: {}", words::region(rival)),
        (worse, []) => format!("{name} has {}", words::list(worse)),
        ([], better) => {
            format!("{name} has {}, but lies on {}", words::list(better), words::region(rival))
        }
        (worse, better) => format!("{name} has {}, but {}", words::list(worse), words::list(better)),
    }
}

/// What else could be tried when not all can be played.
fn advice(best: &Approach, request: &Request) -> String {
    let mut tries = Vec::new();
    if request.harps.len() < 12 {
        tries.push("all twelve harps (leave --harps away)");
    }
    match request.technique {
        Technique::None => tries.push("draw bends (--bends draw)"),
        Technique::Draw => tries.push("blow bends too (--bends all)"),
        Technique::All => tries.push("overbends (--bends over)"),
        Technique::Over => {}
    }
    if !request.any_key {
        tries.push("another key (--any-key)");
    }
    let tries: Vec<String> = tries.into_iter().map(str::to_owned).collect();
    let with = tab::technique(request.technique);
    if tries.is_empty() {
        return format!("no harp plays all of it in any key with {with}");
    }
    let scope = if request.harps.len() == 1 {
        format!("the {} does not play", words::harp(best.harp))
    } else {
        "no harp that was tried plays".to_owned()
    };
    let (last, most) =
        tries.split_last().map_or((String::new(), &[][..]), |(last, most)| (last.clone(), most));
    let tries = if most.is_empty() { last } else { format!("{} or {last}", most.join(", ")) };
    format!("{scope} all of it with {with}: try {tries}")
}

/// The ranking as a table.
fn table(ranking: &Ranking, request: &Request, top: usize) -> Table {
    let mut columns = vec![
        Column::numbers(""),
        Column::words("harp"),
        Column::words("position"),
        Column::numbers("octave"),
        Column::numbers("plays"),
        Column::numbers("bends"),
        Column::numbers("turns").spare(),
        Column::numbers("awkward"),
        Column::numbers("holes").spare(),
        Column::numbers("effort"),
    ];
    if request.any_key {
        columns.insert(3, Column::words("sounds in"));
    }
    let mut table = Table { columns, rows: Vec::new() };
    for (index, approach) in ranking.approaches.iter().take(top).enumerate() {
        let counts = &approach.counts;
        let plays =
            if counts.is_full() { "all".to_owned() } else { format!("{}/{}", counts.playable, counts.notes) };
        let octave = if approach.octave == 0 { "0".to_owned() } else { format!("{:+}", approach.octave) };
        let holes = counts.holes.map_or(String::new(), |(low, high)| format!("{low}-{high}"));
        let mut row = vec![
            (index + 1).to_string(),
            approach.harp.to_string(),
            approach.position.to_string(),
            octave,
            plays,
            counts.bends().to_string(),
            counts.breath_changes.to_string(),
            counts.awkward.to_string(),
            holes,
            approach.playing.effort.total().to_string(),
        ];
        if request.any_key {
            row.insert(3, approach.tonic.to_string());
        }
        let tone = if index == 0 { Tone::Strong } else { Tone::Plain };
        table.rows.push(row.into_iter().map(|cell| tone.of(cell)).collect());
    }
    table
}
