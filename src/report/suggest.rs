//! The main answer: which harp to pick up, why, what comes next, and the tab.

use std::collections::BTreeMap;

use itertools::Itertools;

use super::{Block, Column, Line, Page, Table, Tone, Tune, changes, chords, key, notes, tab, words};
use crate::{
    compare::choice::TuneChord,
    harp::{Action, Bend, Harp, Register, Technique},
    melody::Melody,
    search::{Approach, Effort, Ranking, Region, Request, breath::Limit, hard},
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
    page.text(verdict(best, request).and(Tone::Plain, key::condition(tune) + "."));
    for reason in reasons(best, request) {
        page.item(words::sentence(&reason));
    }
    if let Some(sections) = key::sections_on(best, tune) {
        page.item(words::sentence(&sections));
    }
    // The winner's tab counts once, and another one is its rival.
    let tabs = ranking.by_tab(options.top.max(2));
    let rival = tabs.get(1).map(|tab| &ranking.approaches[tab[0]]);
    if let Some(rival) = rival {
        page.item(words::sentence(&against(best, rival)));
    }
    for reason in
        without_bends(best, rival, ranking, request).into_iter().chain(other_register(best, request))
    {
        page.item(words::sentence(&reason));
    }
    if !best.counts.is_full() {
        page.item(words::sentence(&advice(best, ranking, request)));
    }
    page.heading(Tone::Strong.of("Ranking"));
    let tabs = &tabs[..tabs.len().min(options.top)];
    let shown: Vec<&Approach> = tabs.iter().map(|tab| &ranking.approaches[tab[0]]).collect();
    page.blocks.push(Block::Table(table(&shown, request, options)));
    page.blocks.extend(same_tabs(ranking, tabs).into_iter().map(|line| Block::Text(line.into())));
    let full = |approach: &&Approach| approach.counts.is_full();
    if shown.iter().any(full) && !shown.iter().all(full) {
        page.text(Tone::Faint.of("What plays every note comes first, whatever its effort."));
    }
    let hidden = ranking.tried.saturating_sub(tabs.iter().map(Vec::len).sum());
    if hidden > 0 {
        page.text(Tone::Faint.of(format!(
            "{hidden} more {} tried; --top {} shows them all.",
            if hidden == 1 { "way to play it was" } else { "ways to play it were" },
            ranking.tried
        )));
    }
    key::rival_block(&mut page, tune, ranking);
    if let Some(adapted) = &ranking.adapted {
        the_changes(&mut page, request, adapted);
        page.item(effort(adapted));
    }
    the_tab(&mut page, request, ranking.adapted.as_ref().unwrap_or(best), options.notation, &[]);
    page.heading(Tone::Strong.of("Effort by its parts"));
    page.blocks.push(Block::Table(parts(&shown)));
    page
}

fn out_of_reach(page: &mut Page) {
    page.text(Tone::Warning.of("None of the harps reaches a single note of this tune."));
    page.text("Try all twelve standard harps by leaving --harps away, or low and high ones.");
}

/// The answer in short: which harp, against what comes next, and what else to try.
pub(super) fn verdict_page(tune: &Tune, request: &Request, ranking: &Ranking) -> Page {
    let mut page = Page::default();
    let Some(best) = ranking.best() else {
        out_of_reach(&mut page);
        return page;
    };
    page.text(verdict(best, request).and(Tone::Plain, key::condition(tune) + "."));
    let tabs = ranking.by_tab(2);
    let rival = tabs.get(1).map(|tab| &ranking.approaches[tab[0]]);
    let offers = rival.map(|rival| against(best, rival)).into_iter();
    let offers = offers.chain(without_bends(best, rival, ranking, request));
    let lacks = (!best.counts.is_full()).then(|| advice(best, ranking, request));
    for reason in offers.chain(lacks) {
        page.text(format!("{}.", words::sentence(&reason)));
    }
    page
}

/// What an approach is, why it is good or hard, and what was changed for it.
pub(super) fn about(request: &Request, approach: &Approach) -> Page {
    let mut page = Page::default();
    page.text(choice(approach, request).and(Tone::Plain, "."));
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
    page.text(choice(approach, request).and(Tone::Plain, key::condition(tune) + "."));
    for reason in reasons(approach, request) {
        page.item(words::sentence(&reason));
    }
    if let Some(sections) = key::sections_on(approach, tune) {
        page.item(words::sentence(&sections));
    }
    page.item(effort(approach));
    if ranking.adapted.is_some() {
        the_changes(&mut page, request, approach);
    }
    let chords = chords::of(request, approach);
    the_tab(&mut page, request, approach, notation, &chords);
    if !chords.is_empty() {
        page.heading(Tone::Strong.of("The tune's chords, as neighbouring holes in one breath"));
        chords::lines(request.melody, &chords).into_iter().for_each(|line| page.item(line));
    }
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
    page.blocks.extend(key::lines(tune));
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

/// The tab with its legend and the hardest bars; `chords` stand over its notes.
fn the_tab(
    page: &mut Page,
    request: &Request,
    approach: &Approach,
    notation: Notation,
    chords: &[TuneChord],
) {
    page.heading(Tone::Strong.of(words::tab_for(approach)));
    let melody = request.melody;
    let over = chords::over_the_tab(melody, chords);
    page.blocks.push(Block::Tab(tab::sheet_with_chords(melody, approach, notation, over)));
    page.gap();
    for line in tab::legend(melody, approach, notation).into_iter().chain(chords::legend(chords)) {
        page.text(line);
    }
    hard_bars(page, request, approach, notation);
}

/// "Pick up the C harp and play in 2nd position (cross harp), an octave up", without the full stop.
fn verdict(best: &Approach, request: &Request) -> Line {
    let start = if best.counts.is_full() { "Pick up " } else { "The nearest is " };
    let start = Line::from(start)
        .and(Tone::Strong, format!("{} {}", words::article(best.harp), words::harp(best.harp)));
    let only = if request.harps.len() == 1 { ", the only harp that was tried" } else { "" };
    start.and(Tone::Plain, format!("{}{only}", where_it_is(best, request)))
}

/// "C harp, 2nd position (cross harp), an octave up", without the full stop.
fn choice(approach: &Approach, request: &Request) -> Line {
    Tone::Strong
        .of(format!("{} {}", words::sentence(words::article(approach.harp)), words::harp(approach.harp)))
        .and(Tone::Plain, where_it_is(approach, request))
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

pub(super) fn where_it_is(approach: &Approach, request: &Request) -> String {
    let mut text = format!(" in {}", words::position(approach.position));
    if approach.transposed.0 != 0 {
        text += &format!(
            ", sounding in {} ({} from the file's key)",
            key::sounding(approach, request.key.mode, request.melody),
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
pub(super) fn effort(approach: &Approach) -> String {
    let effort = approach.playing.effort;
    let mut terms = [
        ("bends", effort.bends),
        ("moves", effort.moves),
        ("breath", effort.breath),
        ("register", effort.register),
        ("lungs", effort.lungs),
        ("missing notes", effort.missing),
        ("position", effort.position),
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
    let seldom = rival.playing.effort.position > best.playing.effort.position;
    let seldom = if seldom { " (less often played)" } else { "" };
    let name = format!("the next choice, {}{seldom},", named(rival, best));
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
        ([], []) => format!("{name} is as good in all of this{}", drawback(best, rival)),
        (worse, []) => format!("{name} has {}{}", words::list(worse), advantage(best, rival)),
        ([], better) => format!("{name} has {}{}", words::list(better), drawback(best, rival)),
        (worse, better) => format!("{name} has {}, but {}", words::list(worse), words::list(better)),
    }
}

/// What speaks for a rival that counts no better: where it lies.
fn advantage(best: &Approach, rival: &Approach) -> String {
    let (ours, theirs) = (&best.counts, &rival.counts);
    if theirs.region() == Region::Low && ours.region() != Region::Low {
        ", but the low end has the chords".to_owned()
    } else if rival.playing.effort.register < best.playing.effort.register && theirs.region() != ours.region()
    {
        format!(", but lies on {}", words::region(rival))
    } else {
        String::new()
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

/// "a G harp in 1st position an octave up"; the octave only where it is not the winner's.
fn named(approach: &Approach, best: &Approach) -> String {
    let octave = if approach.octave == best.octave {
        String::new()
    } else {
        format!(" {}", words::octave(approach.octave))
    };
    let (article, harp) = (words::article(approach.harp), words::harp(approach.harp));
    format!("{article} {harp} in {} position{octave}", approach.position)
}

/// "without bends, an F harp in 1st position lacks one note: B5 (bar 7, beat 1)": what a player gives up who does not bend.
fn without_bends(
    best: &Approach,
    rival: Option<&Approach>,
    ranking: &Ranking,
    request: &Request,
) -> Option<String> {
    let unbent = ranking.unbent.as_ref()?;
    let is = |other: &Approach| (other.harp, other.shift()) == (unbent.harp, unbent.shift());
    let who = if is(best) { " it".to_owned() } else { format!(", {}", named(unbent, best)) };
    if unbent.counts.is_full() {
        // The next choice has had its sentence.
        let told = rival.is_some_and(|rival| is(rival) && rival.has_same_tab(unbent));
        let has = if unbent.counts.missing_graces == 0 { "has every note" } else { "lacks only grace notes" };
        return (!told).then(|| format!("without bends{who} {has}, but takes more effort"));
    }
    let lacking: Vec<usize> =
        missing_notes(unbent).filter(|&note| !request.melody.notes[note].grace).collect();
    Some(format!("without bends{who} lacks {}", lacking_places(unbent, &lacking, request.melody)))
}

/// "one note: F#5 (bar 7, beat 2)", "eight notes (bars 3, 5 and 9)".
fn lacking_places(approach: &Approach, notes: &[usize], melody: &Melody) -> String {
    let count = words::plural(notes.len() as u32, "note", "notes");
    match *notes {
        [note] => {
            let name = tab::wanted(melody, approach, &melody.notes[note]);
            let name = name.map_or_else(|| "?".to_owned(), |name| name.to_string());
            let place = melody.place(note, 1);
            format!("{count}: {name} ({}, beat {})", words::bar_numbers(&[place.bar]), place.beat)
        }
        _ => format!("{count} ({})", words::bars(melody, notes.iter().copied())),
    }
}

/// "a low G harp has the same tab as written", where the winner plays an octave away and no such harp was tried.
fn other_register(best: &Approach, request: &Request) -> Option<String> {
    let (register, away) = match best.octave {
        1 => (Register::Low, "an octave lower"),
        -1 => (Register::High, "an octave higher"),
        _ => return None,
    };
    let tried = request.harps.iter().any(|harp| harp.register() == register);
    if tried || best.harp.register() != Register::Standard || best.transposed.0 != 0 {
        return None;
    }
    let harp = Harp::new(best.harp.key(), register, best.harp.tuning().clone());
    Some(format!("{} {} plays the same tab {away}, as written", words::article(&harp), words::harp(&harp)))
}

/// "Row 1 has the same tab on a low F harp, an octave lower.": what else plays the tabs of the rows; what sounds differs.
fn same_tabs(ranking: &Ranking, tabs: &[Vec<usize>]) -> Vec<String> {
    let mut told: Vec<(String, Vec<String>)> = Vec::new();
    for (row, tab) in (1..).zip(tabs) {
        let Some(others) = other_harps(ranking, tab) else { continue };
        match told.iter_mut().find(|(known, _)| *known == others) {
            Some((_, rows)) => rows.push(format!("{row}")),
            None => told.push((others, vec![format!("{row}")])),
        }
    }
    let sentence = |(others, rows): (String, Vec<String>)| match rows.as_slice() {
        [row] => format!("Row {row} has the same tab on {others}."),
        rows => format!("Rows {} have the same tab on {others}.", words::list(rows)),
    };
    told.into_iter().map(sentence).collect()
}

/// The harps besides the first that have a tab, with how much higher or lower they sound.
fn other_harps(ranking: &Ranking, tab: &[usize]) -> Option<String> {
    const NAMED: usize = 4;
    let approaches: Vec<&Approach> = tab.iter().map(|&index| &ranking.approaches[index]).collect();
    let (best, others) = approaches.split_first()?;
    if others.is_empty() {
        return None;
    }
    if approaches.iter().map(|approach| approach.harp.key().semitones()).unique().count() == 12 {
        return Some("harps of all twelve keys: take the one in whose key you want to play".to_owned());
    }
    let named = |harp: &Harp| format!("{} {}", words::article(harp), words::harp(harp));
    let harps: Vec<String> = others.iter().map(|other| named(other.harp)).unique().collect();
    let away = others.iter().map(|other| other.shift().0 - best.shift().0).unique().exactly_one().ok();
    let sounding = match away {
        Some(away) if away % 12 == 0 => format!(", {}", words::octave((away / 12) as i8)),
        _ => ", each in its own key".to_owned(),
    };
    Some(words::short_list(&harps, NAMED) + &sounding)
}

/// What else could be tried when not all can be played.
fn advice(best: &Approach, ranking: &Ranking, request: &Request) -> String {
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
    if ranking.adapted.is_none() {
        tries.push("changing the tune as little as possible (--adapt)");
    }
    let tries: Vec<String> = tries.into_iter().map(str::to_owned).collect();
    let with = tab::technique(request.technique);
    let lacking = if tries.is_empty() {
        return format!("no harp plays all of it in any key with {with}");
    } else if request.harps.len() == 1 {
        format!("the {} does not play all of it with {with}", words::harp(best.harp))
    } else {
        format!("no harp that was tried plays all of it with {with}")
    };
    let (last, most) =
        tries.split_last().map_or((String::new(), &[][..]), |(last, most)| (last.clone(), most));
    let tries = if most.is_empty() { last } else { format!("{} or {last}", most.join(", ")) };
    format!("{lacking}: try {tries}")
}

/// The ranking as a table.
pub(super) fn table(shown: &[&Approach], request: &Request, options: Options) -> Table {
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
    for (index, approach) in shown.iter().enumerate() {
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
            row.insert(3, key::sounding(approach, request.key.mode, request.melody));
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
fn parts(shown: &[&Approach]) -> Table {
    type Points = fn(&Effort) -> u64;
    let terms: [(&str, Points); 7] = [
        ("bends", |effort| effort.bends),
        ("moves", |effort| effort.moves),
        ("breath", |effort| effort.breath),
        ("register", |effort| effort.register),
        ("position", |effort| effort.position),
        ("lungs", |effort| effort.lungs),
        ("missing", |effort| effort.missing),
    ];
    let rows = || shown.iter().map(|approach| &approach.playing.effort);
    // What costs nothing in any row is no column.
    let terms: Vec<_> =
        terms.into_iter().filter(|(_, points)| rows().any(|effort| points(effort) > 0)).collect();
    let mut columns = vec![Column::numbers(""), Column::words("harp")];
    columns.extend(terms.iter().map(|&(name, _)| Column::numbers(name)));
    columns.extend([Column::numbers("in all"), Column::numbers("more").spare(1)]);
    let mut table = Table { columns, rows: Vec::new() };
    let least = shown.first().map_or(0, |best| best.playing.effort.total());
    for (index, approach) in shown.iter().enumerate() {
        let effort = approach.playing.effort;
        let total = effort.total();
        // Nothing is a percentage of no effort.
        let more = (total.abs_diff(least) * 100 + least / 2).checked_div(least).filter(|_| index > 0);
        let sign = if total < least { "-" } else { "+" };
        let cells = [(index + 1).to_string(), approach.harp.to_string()]
            .into_iter()
            .chain(terms.iter().map(|(_, points)| points(&effort).to_string()))
            .chain([total.to_string()])
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
pub(super) fn at_percent(melody: &Melody, at: Beats, percent: u32) -> u64 {
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
