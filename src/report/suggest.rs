//! The main answer: which harp to pick up, why, what comes next, and the tab.

use std::collections::BTreeMap;

use itertools::Itertools;

use super::{Block, Column, Line, Page, Table, Tone, Tune, changes, notes, tab, words};
use crate::{
    harp::{Action, Bend, Technique},
    melody::Melody,
    search::{Approach, Ranking, Request, breath::Limit, hard},
    tab::Notation,
    time::Beats,
};

/// How to present the answer.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Options {
    /// How many rows of the ranking to show.
    pub top: usize,
    /// Whether to say up to which tempo each row is comfortable.
    pub tempo_range: bool,
    /// How to write the tab.
    pub notation: Notation,
}

/// The page of `breathline suggest`: the winner, the reasons, the ranking, the tab, and last the numbers behind them.
pub fn page(tune: &Tune, request: &Request, ranking: &Ranking, options: Options) -> Page {
    let mut page = opening(tune);
    page.gap();
    let Some(best) = ranking.best() else {
        out_of_reach(&mut page);
        return page;
    };
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
    page.heading(Tone::Strong.of("Ranking"));
    page.blocks.push(Block::Table(table(ranking, request, options)));
    let hidden = ranking.approaches.len().saturating_sub(options.top);
    let shown = &ranking.approaches[..ranking.approaches.len() - hidden];
    page.blocks.extend(same_tab(shown).map(|line| Block::Text(line.into())));
    let full = |approach: &Approach| approach.counts.is_full();
    if shown.iter().any(full) && !shown.iter().all(full) {
        page.text(Tone::Faint.of("What plays every note comes first, whatever its effort."));
    }
    if hidden > 0 {
        page.text(Tone::Faint.of(format!(
            "{hidden} more {} tried; --top {} shows them all.",
            if hidden == 1 { "way to play it was" } else { "ways to play it were" },
            ranking.approaches.len()
        )));
    }
    if let Some(adapted) = &ranking.adapted {
        the_changes(&mut page, request, adapted);
        page.item(effort(adapted));
    }
    the_tab(&mut page, tune, request, ranking.adapted.as_ref().unwrap_or(best), options.notation);
    page.heading(Tone::Strong.of("Effort by its parts"));
    page.blocks.push(Block::Table(parts(ranking, options.top)));
    page
}

fn out_of_reach(page: &mut Page) {
    page.text(Tone::Warning.of("None of the harps reaches a single note of this tune."));
    page.text("Try all twelve standard harps by leaving --harps away, or low and high ones.");
}

/// The answer in short: which harp, against what comes next, and what else to try.
pub(super) fn verdict_page(request: &Request, ranking: &Ranking) -> Page {
    let mut page = Page::default();
    let Some(best) = ranking.best() else {
        out_of_reach(&mut page);
        return page;
    };
    page.text(verdict(best, request));
    if let Some(rival) = ranking.approaches.get(1) {
        page.text(format!("{}.", words::sentence(&against(best, rival))));
    }
    if !best.counts.is_full() {
        page.text(format!("{}.", words::sentence(&advice(best, request))));
    }
    page
}

/// What an approach is, why it is good or hard, and what was changed for it.
pub(super) fn about(request: &Request, approach: &Approach) -> Page {
    let mut page = Page::default();
    page.text(choice(approach));
    for reason in reasons(approach, request) {
        page.item(words::sentence(&reason));
    }
    page.item(effort(approach));
    if !approach.changes.is_empty() {
        the_changes(&mut page, request, approach);
    }
    page
}

/// The page of `breathline tab`: the best of the choices, what it costs, and its tab.
pub fn tab_page(tune: &Tune, request: &Request, ranking: &Ranking, notation: Notation) -> Page {
    let mut page = opening(tune);
    let Some(approach) = ranking.adapted.as_ref().or(ranking.best()) else { return page };
    page.gap();
    page.text(choice(approach));
    for reason in reasons(approach, request) {
        page.item(words::sentence(&reason));
    }
    page.item(effort(approach));
    if ranking.adapted.is_some() {
        the_changes(&mut page, request, approach);
    }
    the_tab(&mut page, tune, request, approach, notation);
    page
}

/// What was read: the tune, the part, its key, what was odd.
pub(super) fn opening(tune: &Tune) -> Page {
    let mut page = Page::default();
    page.text(Tone::Strong.of(tune.title()));
    page.text(notes::measure(tune.imported));
    if tune.imported.parts.len() > 1 || tune.imported.choice.voice.is_some() {
        page.text(words::sentence(&notes::part(tune)));
    }
    page.text(notes::key_line(tune.key));
    page.blocks.extend(notes::oddities(tune));
    page
}

/// What is changed in the tune, and what is still missing.
fn the_changes(page: &mut Page, request: &Request, adapted: &Approach) {
    page.heading(Tone::Strong.of("Changes to the tune"));
    let lines = changes::lines(request.melody, adapted);
    if lines.is_empty() && lacking(adapted) == 0 {
        page.item("None: every note is there");
    }
    for line in lines {
        page.item(words::sentence(&line));
    }
    if lacking(adapted) > 0 {
        page.item(words::sentence(&missing(adapted, request.melody)));
    }
}

fn the_tab(page: &mut Page, tune: &Tune, request: &Request, approach: &Approach, notation: Notation) {
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
    hard_bars(page, request, approach, notation);
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

/// "2nd position, an octave up", with the key where it is not the tune's.
pub(super) fn short_place(approach: &Approach) -> String {
    let mut text = format!("{} position", approach.position);
    if approach.transposed.0 != 0 {
        text += &format!(", in {}", approach.tonic);
    }
    if approach.octave != 0 {
        text += &format!(", {}", words::octave(approach.octave));
    }
    text
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
    let is_there = match approach.changes.len() as u32 {
        0 => "every note is there".to_owned(),
        changed => format!("with {} changed every note is there", plural_of(changed, counts.notes)),
    };
    if lacking(approach) == 0 {
        reasons.push(match counts.bends() {
            0 => format!("{is_there} without bends"),
            bends => format!("{is_there}, {} bent", plural_of(bends, counts.notes)),
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
    reasons.extend(air(approach, melody));
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
        ("changes to the tune", effort.changes),
    ];
    terms.sort_by_key(|&(_, points)| std::cmp::Reverse(points));
    let terms: Vec<String> = terms
        .iter()
        .filter(|(_, points)| *points > 0)
        .map(|(name, points)| format!("{name} {points}"))
        .collect();
    if terms.is_empty() {
        "No effort".to_owned()
    } else {
        format!("Effort {}: {}", effort.total(), terms.join(", "))
    }
}

/// "you run out of air in bar 12".
pub(super) fn air(approach: &Approach, melody: &Melody) -> Vec<String> {
    let ends = [(Limit::Empty, "you run out of air in"), (Limit::Full, "your lungs are full in")];
    let at =
        |limit: Limit| approach.playing.notes.iter().positions(move |played| played.limit == Some(limit));
    let told = ends.into_iter().filter(|&(limit, _)| at(limit).next().is_some());
    told.map(|(limit, words)| format!("{words} {}: let air in or out there", words::bars(melody, at(limit))))
        .collect()
}

/// "three notes", or "most notes" would be vaguer than "90 of 120".
fn plural_of(part: u32, whole: u32) -> String {
    if part <= 12 { words::plural(part, "note", "notes") } else { format!("{part} of {whole}") }
}

/// "3 of 120 notes are missing: F#5 (bars 3 and 7)".
fn missing(approach: &Approach, melody: &Melody) -> String {
    let counts = &approach.counts;
    let lacking = lacking(approach);
    let by_pitch = grouped(missing_notes(approach).filter_map(|note| {
        let wanted = tab::wanted(melody, approach, &melody.notes[note])?;
        Some(((wanted.pitch()?, wanted.to_string()), note))
    }));
    let names: Vec<String> = by_pitch
        .into_iter()
        .map(|((_, name), notes)| format!("{name} ({})", words::bars(melody, notes)))
        .collect();
    let names = words::short_list(&names, 4);
    if counts.missing == 0 {
        let graces = words::plural(lacking, "grace note", "grace notes");
        return format!("every note is there, but for {graces}: {names}");
    }
    let lacking = words::plural(lacking, "note", "notes");
    format!("{lacking} of {} cannot be sounded: {names}", counts.notes)
}

/// Notes that are neither sounded nor left out as a change.
fn lacking(approach: &Approach) -> u32 {
    approach.counts.missing + approach.counts.missing_graces
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
        lines.push(format!("and {} of other kinds", words::plural(rest, "bend", "bends")));
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
    let silent = approach.playing.notes.iter().positions(|played| played.action.is_none());
    silent.filter(|&note| !approach.is_changed(note))
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
        ([], []) if actions(best).eq(actions(rival)) => format!("{name} has the same tab"),
        ([], []) => format!("{name} is as good in all of this{}", drawback(best, rival)),
        (worse, []) => format!("{name} has {}", words::list(worse)),
        ([], better) => format!("{name} has {}{}", words::list(better), drawback(best, rival)),
        (worse, better) => format!("{name} has {}, but {}", words::list(worse), words::list(better)),
    }
}

/// What makes a rival harder that counts no worse: ", but lies on holes 6 to 9, …".
fn drawback(best: &Approach, rival: &Approach) -> String {
    let (ours, theirs) = (best.playing.effort, rival.playing.effort);
    let terms = [
        (theirs.register.saturating_sub(ours.register), None),
        (theirs.bends.saturating_sub(ours.bends), Some("its bends are harder")),
        (theirs.breath.saturating_sub(ours.breath), Some("its breath turns are harder")),
        (theirs.lungs.saturating_sub(ours.lungs), Some("it takes more air")),
        (theirs.moves.saturating_sub(ours.moves), Some("its moves from hole to hole are wider or faster")),
    ];
    // Of equals the first.
    let most = terms.into_iter().rev().max_by_key(|&(more, _)| more);
    match most {
        None | Some((0, _)) => String::new(),
        Some((_, Some(why))) => format!(", but {why}"),
        Some((_, None)) => format!(", but lies on {}", words::region(rival)),
    }
}

fn actions<'a>(approach: &'a Approach) -> impl Iterator<Item = Option<Action>> + 'a {
    approach.playing.notes.iter().map(|played| played.action)
}

/// "The tab is the same in rows 1, 3 and 4", which differ in what sounds.
fn same_tab(shown: &[Approach]) -> Option<String> {
    const NAMED: usize = 3;
    let mut alike: BTreeMap<Vec<Option<Action>>, Vec<String>> = BTreeMap::new();
    for (index, approach) in shown.iter().enumerate() {
        alike.entry(actions(approach).collect()).or_default().push((index + 1).to_string());
    }
    let mut rows: Vec<String> = Vec::new();
    for approach in shown {
        let Some(same) = alike.remove(&actions(approach).collect::<Vec<_>>()) else { continue };
        if same.len() > 1 && same.len() == shown.len() {
            return Some("The tab is the same in all these rows.".to_owned());
        }
        if same.len() > 1 {
            rows.push(format!("rows {}", words::short_list(&same, 6)));
        }
    }
    rows.truncate(NAMED);
    (!rows.is_empty()).then(|| format!("The tab is the same in {}.", rows.join(", in ")))
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
pub(super) fn table(ranking: &Ranking, request: &Request, options: Options) -> Table {
    let mut columns = vec![
        Column::numbers(""),
        Column::words("harp"),
        Column::words("position"),
        Column::numbers("octave").spare(1),
        Column::numbers("plays"),
        Column::numbers("bends").spare(2),
        Column::numbers("turns").spare(5),
        Column::numbers("awkward").spare(4),
        Column::numbers("holes").spare(6),
        Column::numbers("effort").spare(3),
    ];
    if request.any_key {
        columns.insert(3, Column::words("in key"));
    }
    if options.tempo_range {
        columns.push(Column::numbers("to tempo"));
    }
    let mut table = Table { columns, rows: Vec::new() };
    for (index, approach) in ranking.approaches.iter().take(options.top).enumerate() {
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
        if options.tempo_range {
            row.push(
                comfortable_tempo(request, approach).map_or("any".to_owned(), |tempo| tempo.to_string()),
            );
        }
        let tone = if index == 0 { Tone::Strong } else { Tone::Plain };
        table.rows.push(row.into_iter().map(|cell| tone.of(cell)).collect());
    }
    table
}

/// The rows' effort by its terms, and by how much it is more than the best.
fn parts(ranking: &Ranking, top: usize) -> Table {
    let columns = vec![
        Column::numbers(""),
        Column::words("harp"),
        Column::numbers("bends"),
        Column::numbers("moves"),
        Column::numbers("breath"),
        Column::numbers("register"),
        Column::numbers("lungs"),
        Column::numbers("missing"),
        Column::numbers("in all"),
        Column::numbers("more").spare(1),
    ];
    let mut table = Table { columns, rows: Vec::new() };
    let least = ranking.best().map_or(0, |best| best.playing.effort.total());
    for (index, approach) in ranking.approaches.iter().take(top).enumerate() {
        let effort = approach.playing.effort;
        let total = effort.total();
        // Nothing is a percentage of no effort.
        let more = (total.abs_diff(least) * 100 + least / 2).checked_div(least).filter(|_| index > 0);
        let sign = if total < least { "-" } else { "+" };
        let numbers =
            [effort.bends, effort.moves, effort.breath, effort.register, effort.lungs, effort.missing, total];
        let cells = [(index + 1).to_string(), approach.harp.to_string()]
            .into_iter()
            .chain(numbers.map(|points| points.to_string()))
            .chain([more.map_or(String::new(), |more| format!("{sign}{more}%"))]);
        let tone = if index == 0 { Tone::Strong } else { Tone::Plain };
        table.rows.push(cells.map(|cell| tone.of(cell)).collect());
    }
    table
}

/// The highest tempo at which an approach is comfortable, in quarters a minute as the tune begins; `None` for any.
pub fn comfortable_tempo(request: &Request, approach: &Approach) -> Option<u64> {
    let percent = hard::comfortable_percent(request.melody, &approach.playing, request.weights)?;
    Some(at_percent(request.melody, Beats::ZERO, percent))
}

/// So many per cent of the tempo at a point, in quarters a minute, rounded down.
fn at_percent(melody: &Melody, at: Beats, percent: u32) -> u64 {
    600_000 * u64::from(percent) / u64::from(melody.tempo.micros_per_quarter(at).max(1))
}

/// The bars that cost most: what makes them hard, and the tempo to practise them at.
fn hard_bars(page: &mut Page, request: &Request, approach: &Approach, notation: Notation) {
    let bars = hard(request, approach, notation);
    if bars.is_empty() {
        return;
    }
    page.heading(Tone::Strong.of(if bars.len() == 1 { "The hardest bar" } else { "The hardest bars" }));
    for (_, line) in bars {
        page.item(line);
    }
}

/// The bars that cost most, each with its line.
pub(super) fn hard(request: &Request, approach: &Approach, notation: Notation) -> Vec<(hard::HardBar, Line)> {
    const MOST: usize = 3;
    let bars = hard::hardest(request.melody, &approach.playing, request.weights, MOST).into_iter();
    let lines = bars.map(|hard| {
        let number = request.melody.bars[hard.bar].number;
        let place = words::sentence(&words::bar_numbers(&[number]));
        let line = format!("{place}: {}", hardness(&hard, request, approach, notation));
        (hard, Line::from(line))
    });
    lines.collect()
}

/// "draw 3 with a whole-step bend twice, four turns of the breath; 7 to -9 is comfortable at quarter = 84".
fn hardness(hard: &hard::HardBar, request: &Request, approach: &Approach, notation: Notation) -> String {
    let melody = request.melody;
    let notes: Vec<usize> =
        (0..melody.notes.len()).filter(|&note| melody.notes[note].bar == hard.bar).collect();
    let played = || notes.iter().map(|&note| approach.playing.notes[note]);
    let effort = hard.effort;
    let turns = played().filter(|played| played.breath_change).count() as u32;
    let holes: Vec<u8> = played().filter_map(|played| played.action).map(|action| action.hole).collect();
    let bent = grouped(
        played()
            .filter_map(|played| played.action)
            .filter(|action| action.bend != Bend::None)
            .map(|action| (action, ())),
    );
    let mut terms = vec![
        (effort.breath, format!("{} of the breath", words::plural(turns, "turn", "turns"))),
        (effort.moves, "jumps from hole to hole".to_owned()),
        (effort.lungs, "the lungs near their end".to_owned()),
        (effort.missing, missing_in(&notes, melody, approach)),
        (
            effort.register,
            format!(
                "holes {} to {}",
                holes.iter().min().copied().unwrap_or(0),
                holes.iter().max().copied().unwrap_or(0)
            ),
        ),
    ];
    let bends: Vec<String> =
        bent.iter().map(|(&action, times)| bent_times(action, times.len() as u32)).collect();
    terms.push((effort.bends, words::short_list(&bends, 3)));
    terms.sort_by_key(|&(points, _)| std::cmp::Reverse(points));
    // What makes up at least a fifth of the bar is worth a word.
    let worth: Vec<String> = terms
        .into_iter()
        .filter(|&(points, _)| points * 5 >= effort.total())
        .map(|(_, words)| words)
        .collect();
    let mut text = words::list(&worth);
    if let Some(hurry) = hard.hurry {
        let at = melody.notes[hurry.note].onset;
        let to =
            approach.playing.notes[hurry.note].action.map_or(String::new(), |action| notation.write(action));
        let what = match hurry.from {
            Some(from) => format!("{} to {to} hurries", notation.write(from)),
            None => format!("{to} is short for a bend"),
        };
        let tempo = at_percent(melody, at, hurry.comfortable_percent());
        text += &format!("; {what}: practise at quarter = {tempo}, where it is comfortable");
    }
    text
}

/// "draw 3 with a whole-step bend twice".
fn bent_times(action: Action, count: u32) -> String {
    let name = words::bent_hole(action);
    if count == 1 { name } else { format!("{name} {}", words::times(count)) }
}

/// "F#5 missing".
fn missing_in(notes: &[usize], melody: &Melody, approach: &Approach) -> String {
    let missing = notes.iter().filter(|&&note| approach.playing.notes[note].action.is_none());
    let names =
        missing.filter_map(|&note| Some(tab::wanted(melody, approach, &melody.notes[note])?.to_string()));
    format!("{} missing", words::list(&names.unique().collect::<Vec<_>>()))
}
