//! The main answer: which harp to pick up, the reasons, the alternatives, and the tab.

use super::{
    Block, Line, Page, Tone, Tune, alternatives, changes, chords, key, notes, pins, ranking,
    reasons::{self, hard, hardest, in_short, lacking, missing},
    tab, words,
};
use crate::{
    compare::choice::TuneChord,
    search::{Approach, Ranking, Request, Style, ways::loses_little},
    tab::Notation,
};

// Texts that several pages share.
pub(super) use super::reasons::{air, effort};
pub use super::{alternatives::easier_octave, reasons::reasons};

/// How to present the answer.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Options {
    /// The number of rows of the ranking to show; `None` leaves the ranking out.
    pub ranking: Option<usize>,
    /// Whether to show each row's fastest comfortable tempo.
    pub tempo_range: bool,
    /// Whether to give every reason, each of the hardest bars, and the effort by its parts.
    pub why: bool,
    /// The style in which the tune is played.
    pub style: Style,
    /// The style in which the tab is written.
    pub notation: Notation,
}

/// Builds the page of `breathline suggest`: the winner, its reasons, the other ways and the tab; on request also every
/// reason, the hardest bars one by one, and the ranking.
pub fn page(tune: &Tune, request: &Request, ranking: &Ranking, options: Options) -> Page {
    let mut page = opening(tune);
    page.gap();
    let Some(best) = ranking.best() else {
        out_of_reach(&mut page);
        return page;
    };
    page.text(verdict(best, request).and(Tone::Plain, key::condition(tune, best) + "."));
    if let Some(style) = words::style(options.style) {
        page.text(style);
    }
    because(&mut page, tune, request, best, options.why);
    let played = ranking.adapted.as_ref().unwrap_or(best);
    if !options.why {
        page.blocks.extend(the_hardest(request, played, options.notation));
    }
    pins::list(&mut page, request, ranking);
    if lacking(best) > 0 && ranking.adapted.is_none() {
        page.item(words::sentence(&alternatives::advice(best, ranking, request)));
    }
    if let Some(tie) = alternatives::near_tie(request, ranking) {
        page.text(tie);
    }
    alternatives::list(&mut page, request, ranking);
    if options.ranking.is_none()
        && let Some(other) = ranking::rival_in_short(tune, ranking)
    {
        page.text(other);
    }
    if ranking.adapted.is_some() {
        the_changes(&mut page, request, played);
        if options.why {
            page.item(effort(played));
        }
    }
    the_tab(&mut page, request, played, options.notation, &[]);
    if options.why {
        hard_bars(&mut page, request, played, options.notation);
    }
    if let Some(top) = options.ranking {
        the_ranking(&mut page, request, ranking, top, options.tempo_range);
        ranking::rival_block(&mut page, tune, ranking);
    }
    more(&mut page, options.why, options.ranking.is_some());
    page
}

/// Adds the reasons for an approach: every reason with the effort, or only those that a player needs before the first
/// note.
fn because(page: &mut Page, tune: &Tune, request: &Request, approach: &Approach, why: bool) {
    let told = if why { reasons(approach, request) } else { in_short(approach, request) };
    for reason in told.into_iter().chain(key::sections_on(approach, tune)) {
        page.item(words::sentence(&reason));
    }
    if why {
        page.item(effort(approach));
    }
}

/// Returns the line about the first of the hardest bars and the others that are hard for the same reason.
fn the_hardest(request: &Request, approach: &Approach, notation: Notation) -> Option<Block> {
    hardest(request, approach, notation).map(|line| Block::Item(words::sentence(&line).into()))
}

/// Names the options that show more of the answer.
fn more(page: &mut Page, why: bool, ranking: bool) {
    let why = (!why).then_some("--why gives every reason, the hardest bars and the effort");
    let ranking = (!ranking).then_some("--ranking compares, in numbers, the ways to play the tune");
    let more: Vec<&str> = why.into_iter().chain(ranking).collect();
    if !more.is_empty() {
        page.gap();
        page.text(Tone::Faint.of(format!("{}.", more.join("; "))));
    }
}

/// Adds the rows in numbers, and the terms of their effort.
fn the_ranking(page: &mut Page, request: &Request, ranking: &Ranking, top: usize, tempo_range: bool) {
    page.heading(Tone::Strong.of("Ranking"));
    let tabs = ranking.by_tab(top);
    let shown: Vec<&Approach> = tabs.iter().map(|(first, _)| &ranking.approaches[*first]).collect();
    page.blocks.push(Block::Table(ranking::table(&shown, request, tempo_range)));
    page.blocks.extend(ranking::same_tabs(ranking, &tabs).into_iter().map(|line| Block::Text(line.into())));
    let hidden = ranking.tried.saturating_sub(tabs.iter().map(|(_, others)| 1 + others.len()).sum());
    if hidden > 0 {
        page.text(Tone::Faint.of(format!(
            "{hidden} more {} tried; --top {} shows all.",
            if hidden == 1 { "way to play it was" } else { "ways to play it were" },
            ranking.tried
        )));
    }
    page.heading(Tone::Strong.of("Effort by its parts (a step to the next hole costs ten points)"));
    page.blocks.push(Block::Table(ranking::parts(&shown)));
}

fn out_of_reach(page: &mut Page) {
    page.text(Tone::Warning.of("None of the harps reaches a single note of this tune."));
    page.text("Try all twelve standard harps (without --harps), or low and high harps.");
}

/// Builds the short answer: the harp, what to try if notes are missing, and the alternatives.
pub(super) fn verdict_page(tune: &Tune, request: &Request, ranking: &Ranking) -> Page {
    let mut page = Page::default();
    let Some(best) = ranking.best() else {
        out_of_reach(&mut page);
        return page;
    };
    page.text(verdict(best, request).and(Tone::Plain, key::condition(tune, best) + "."));
    if lacking(best) > 0 && ranking.adapted.is_none() {
        page.text(format!("{}.", words::sentence(&alternatives::advice(best, ranking, request))));
    }
    alternatives::list(&mut page, request, ranking);
    page
}

/// Describes an approach, why it is good or hard, and the changes that it makes to the tune.
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

/// Builds the page of `breathline tab`: the best approach, its tab and the tune's chords. With `why`, it adds every
/// reason, the effort and the hardest bars.
pub fn tab_page(tune: &Tune, request: &Request, ranking: &Ranking, notation: Notation, why: bool) -> Page {
    let mut page = opening(tune);
    let Some(approach) = ranking.adapted.as_ref().or(ranking.best()) else { return page };
    page.gap();
    page.text(choice(approach, request).and(Tone::Plain, key::condition(tune, approach) + "."));
    because(&mut page, tune, request, approach, why);
    if !why {
        page.blocks.extend(the_hardest(request, approach, notation));
    }
    pins::list(&mut page, request, ranking);
    if let Some(easier) = easier_octave(request, ranking) {
        page.item(words::sentence(&easier));
    }
    if ranking.adapted.is_some() {
        the_changes(&mut page, request, approach);
    }
    let chords = chords::of(request, approach);
    the_tab(&mut page, request, approach, notation, &chords);
    if why {
        hard_bars(&mut page, request, approach, notation);
    }
    if !chords.is_empty() {
        page.heading(Tone::Strong.of("The tune's chords, as neighbouring holes in one breath"));
        chords::lines(request.melody, &chords).into_iter().for_each(|line| page.item(line));
    }
    more(&mut page, why, true);
    page
}

/// Describes the tune as read: its part, its key, its oddities.
pub(super) fn opening(tune: &Tune) -> Page {
    let mut page = Page::default();
    page.text(Tone::Strong.of(tune.title()));
    page.text(notes::measure(tune.imported));
    if tune.imported.parts.len() > 1 || tune.imported.choice.voice.is_some() {
        page.text(words::sentence(&notes::part(tune)));
    }
    page.blocks.extend(key::lines(tune));
    page.blocks.extend(notes::first_oddities(tune));
    page
}

/// Lists the changes to the tune, and the notes that are still missing.
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
        missing(adapted, request).iter().for_each(|line| page.item(words::sentence(line)));
    }
}

/// Adds the tab with its legend; `chords` are written over its notes.
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
}

/// Returns "Pick up a C harp in 2nd position (cross harp), an octave up from what is written", without a full stop. If
/// too many notes are missing, it begins "The closest fit is".
fn verdict(best: &Approach, request: &Request) -> Line {
    let start = if loses_little(request, best) { "Pick up " } else { "The closest fit is " };
    let start = Line::from(start)
        .and(Tone::Strong, format!("{} {}", words::article(best.harp), words::harp(best.harp)));
    let only = if request.harps.len() == 1 { " (the only harp that was tried)" } else { "" };
    start.and(Tone::Plain, format!("{only}{}", where_it_is(best, request)))
}

/// Returns "A C harp in 2nd position (cross harp), an octave up from what is written", without a full stop.
fn choice(approach: &Approach, request: &Request) -> Line {
    Tone::Strong
        .of(format!("{} {}", words::sentence(words::article(approach.harp)), words::harp(approach.harp)))
        .and(Tone::Plain, where_it_is(approach, request))
}

/// Returns " in 2nd position (cross harp), an octave up from what is written", to follow the harp.
pub(super) fn where_it_is(approach: &Approach, request: &Request) -> String {
    let mut text = format!(" in {}", words::position(approach.position));
    if approach.transposed.0 != 0 {
        text += &format!(
            ", sounding in {}, {} from what is written",
            key::sounding(approach, request.key.mode, request.melody),
            words::half_steps(approach.shift().0)
        );
    } else if approach.octave != 0 {
        text += &format!(", {} from what is written", words::octave(approach.octave));
    }
    text
}

/// Adds the hardest bars, each with its difficulty and, if time is short in it, a tempo for practice.
fn hard_bars(page: &mut Page, request: &Request, approach: &Approach, notation: Notation) {
    let bars = hard(request, approach, notation);
    if bars.is_empty() {
        return;
    }
    page.heading(Tone::Strong.of(reasons::hard_title(bars.len())));
    for (_, line) in bars {
        page.item(line);
    }
}
