//! The answer about a chosen harp and position: the choice and the best row term by term, the bars in which each is
//! easier, and the advantages of each.

use itertools::Itertools;

use super::{
    Block, Line, Page, Tone, Tune,
    comparison::{Comparison, Section, Side},
    key, lead, lesson, suggest, words,
};
use crate::{
    compare::choice::{Choice, Strength},
    melody::Melody,
    search::{Approach, Request, Style, Term, hard},
    tab::Notation,
    time::Beats,
};

/// Builds the answer of `breathline check` without a tab.
pub fn comparison<'a>(
    tune: &Tune,
    request: &Request,
    choice: &'a Choice<'a>,
    style: Style,
    notation: Notation,
) -> Comparison<'a> {
    let (given, best) = (&choice.given, &choice.best);
    let (melody, nothing) = (request.melody, (&[] as &[usize], ""));
    let side = |name, row: &'a Approach<'a>| {
        Side::new(name, words::tab_for(row), row).with_tab(melody, notation, nothing, &[])
    };
    let (mut question, mut verdict) = (Page::default(), Page::default());
    question.blocks.extend(moved(tune, request, given).map(|line| Block::Text(line.into())));
    question.text(named("Your choice: ", given, request));
    let easier = best.playing.effort.total() < given.playing.effort.total();
    let [start, name, title] = match easier {
        true => ["The easiest: ", "the easiest", "The case for the easiest"],
        false => ["The first choice: ", "the first choice", "The case for the first choice"],
    };
    let (mut sections, mut sides) = (Vec::new(), vec![side("your choice", given)]);
    if given.harp == best.harp && given.shift() == best.shift() {
        verdict.text("It is the best choice for you: no other harp or position that was tried is easier.");
        for reason in suggest::reasons(given, request) {
            verdict.item(words::sentence(&reason));
        }
        verdict.item(suggest::effort(given));
    } else {
        question.text(named(start, best, request));
        verdict.text(self::verdict(given, best));
        if let Some(style) = words::style(style) {
            verdict.text(style);
        }
        verdict.blocks.push(Block::Table(lesson::terms(&[("your choice", given), (name, best)])));
        for (row, bars) in [("your choice", &choice.easier[0]), (name, &choice.easier[1])] {
            if !bars.is_empty() {
                verdict.text(format!("Where {row} is easier: {}.", bar_ranges(melody, bars)));
            }
        }
        for (title, row, strengths) in
            [("The case for your choice", given, &choice.strengths), (title, best, &choice.weaknesses)]
        {
            let page = items(request, row, strengths, notation);
            sections.push(Section { title: title.to_owned(), page, on_paper: true });
        }
        sides =
            vec![side("your choice", given).against(melody, best), side(name, best).against(melody, given)];
    }
    Comparison {
        title: tune.title().to_owned(),
        opening: suggest::opening(tune),
        question,
        verdict,
        sections,
        cautions: lead::cautions(melody, &sides),
        sides,
    }
}

/// Says how the choice transposes the tune or changes its key, if the result differs from the key found.
fn moved(tune: &Tune, request: &Request, given: &Approach) -> Option<String> {
    let melody = request.melody;
    let found = key::name(tune.key.key, melody);
    if given.transposed.0 != 0 {
        let to = key::sounding(given, request.key.mode, melody);
        let by = words::half_steps(given.transposed.0);
        return Some(format!("The tune is in {found}; your harp and position move it to {to}, {by}."));
    }
    let taken = key::name(request.key, melody);
    (request.key != tune.key.key).then(|| {
        format!(
            "Your harp and position put the tune in {taken}. The tune may well be in this key, so the check uses it."
        )
    })
}

/// Returns "Your choice: a C harp in 2nd position (cross harp)."
fn named(start: &str, row: &Approach, request: &Request) -> Line {
    let harp = format!("{} {}", words::article(row.harp), words::harp(row.harp));
    Line::from(start)
        .and(Tone::Strong, harp)
        .and(Tone::Plain, format!("{}.", suggest::where_it_is(row, request)))
}

/// Returns "Both play every note; yours costs 221 points more (663 against 442)."
fn verdict(given: &Approach, best: &Approach) -> String {
    let (ours, theirs) = (given.playing.effort.total(), best.playing.effort.total());
    let graces = given.counts.missing_graces.max(best.counts.missing_graces) > 0;
    let there = match (given.counts.is_full(), best.counts.is_full()) {
        (true, true) if graces => "Leaving grace notes aside, both play every note".to_owned(),
        (true, true) => "Both play every note".to_owned(),
        (false, true) => {
            let missing = words::plural(given.counts.missing, "note", "notes");
            format!("Your choice lacks {missing}; the other way plays them all")
        }
        (false, false) => "Neither plays every note".to_owned(),
        (true, false) => "Your choice plays every note, and the other way does not".to_owned(),
    };
    let sums = format!("{ours} against {theirs}");
    match ours.cmp(&theirs) {
        std::cmp::Ordering::Greater => {
            format!("{there}; yours costs {} points more ({sums}).", ours - theirs)
        }
        std::cmp::Ordering::Equal => format!("{there}, at the same effort."),
        std::cmp::Ordering::Less => format!("{there}; yours costs {} points less ({sums}).", theirs - ours),
    }
}

fn items(request: &Request, row: &Approach, strengths: &[Strength], notation: Notation) -> Page {
    let mut page = Page::default();
    if strengths.is_empty() {
        page.item("No advantage in the numbers: choose it only for its sound, or because you have the harp");
    }
    for strength in strengths {
        page.item(words::sentence(&strength_line(request, row, strength, notation)));
    }
    page
}

/// Returns an advantage in words: "four fewer bends (two against six)".
pub(crate) fn strength_line(
    request: &Request,
    row: &Approach,
    strength: &Strength,
    notation: Notation,
) -> String {
    let fewer = |ours: u32, theirs: u32, one: &str, many: &str| {
        let difference = words::plural(theirs - ours, one, many);
        format!("{difference} ({})", against(ours, theirs))
    };
    match strength {
        Strength::Notes { ours, theirs } => {
            format!("it plays {} of the tune", words::plural(ours - theirs, "more note", "more notes"))
        }
        Strength::Bends { ours, theirs } => fewer(*ours, *theirs, "fewer bend", "fewer bends"),
        Strength::Awkward { ours, theirs } => {
            fewer(*ours, *theirs, "fewer awkward turn", "fewer awkward turns")
        }
        Strength::Turns { ours, theirs } => fewer(*ours, *theirs, "fewer breath turn", "fewer breath turns"),
        Strength::Lower { semitones } => {
            format!("it sounds {} lower, on {}", words::distance(*semitones), words::region(row))
        }
        Strength::Chords { ours, theirs, of_the_key } => {
            let whose = if *of_the_key { "the main chords of the key" } else { "the tune's chords" };
            let there = if theirs.is_empty() { "none".to_owned() } else { words::short_list(theirs, 4) };
            format!(
                "more of {whose} are neighbouring holes in one breath: {} (the other way: {there})",
                words::short_list(ours, 6)
            )
        }
        Strength::FlatSeventh { action, note } => {
            format!("the flat seventh, {note}, is a natural note at hand: {}", notation.write(*action))
        }
        Strength::Tempo { ours, theirs } => {
            let tempo = |percent: &Option<u32>| match percent {
                Some(percent) => {
                    let quarters = hard::at_percent(request.melody, Beats::ZERO, *percent);
                    format!("up to {}", words::tempi(request.melody, &[quarters]))
                }
                None => "at any tempo".to_owned(),
            };
            format!("it stays comfortable {} (the other way {})", tempo(ours), tempo(theirs))
        }
        Strength::Term { term, ours, theirs } => {
            let what = match term {
                Term::Bends => "its bends cost less",
                Term::Moves => "its moves from hole to hole cost less",
                Term::Breath => "its breath turns cost less",
                Term::Register => "its place on the harp costs less",
                Term::Lungs => "it is easier on the lungs",
                Term::Position => "the position is played more often, and costs less",
                Term::Missing => "its missing notes cost less",
                Term::Changes => "its changes to the tune cost less",
            };
            format!("{what} ({ours} against {theirs})")
        }
        Strength::BlueNotes { ours, theirs } => format!(
            "{} of the flat third, fifth and seventh {} at hand as natural notes or draw bends (the other way: {})",
            words::number(*ours),
            if *ours == 1 { "is" } else { "are" },
            amount(*theirs)
        ),
    }
}

/// Returns "two against six", or "none against six"; both in figures if one of them is a large number.
fn against(ours: u32, theirs: u32) -> String {
    let is_word = |number: u32| words::number(number).parse::<u32>().is_err();
    match (ours, theirs) {
        (0, _) | (_, 0) => format!("{} against {}", amount(ours), amount(theirs)),
        _ if is_word(ours) && is_word(theirs) => format!("{} against {}", amount(ours), amount(theirs)),
        _ => format!("{ours} against {theirs}"),
    }
}

/// Returns "three", or "none".
fn amount(number: u32) -> String {
    if number == 0 { "none".to_owned() } else { words::number(number) }
}

/// Returns "the pickup and bars 1 to 4, 7 and 9 to 12", for indices of bars in order, or "everywhere" for all bars with
/// notes.
fn bar_ranges(melody: &Melody, bars: &[usize]) -> String {
    const MOST: usize = 8;
    if melody.notes.iter().map(|note| note.bar).dedup().count() == bars.len() {
        return "everywhere".to_owned();
    }
    let number = |bar: &usize| melody.bars[*bar].number;
    let (pickup, bars): (Vec<usize>, Vec<usize>) = bars.iter().partition(|bar| number(bar) == 0);
    let runs: Vec<String> = bars
        .chunk_by(|a, b| [number(a), number(a) + 1].contains(&number(b)))
        .flat_map(|run| match (number(&run[0]), number(&run[run.len() - 1])) {
            (first, last) if first == last => vec![first.to_string()],
            (first, last) if first + 1 == last => vec![first.to_string(), last.to_string()],
            (first, last) => vec![format!("{first} to {last}")],
        })
        .collect();
    let word = if bars.len() == 1 { "bar" } else { "bars" };
    let list = format!("{word} {}", words::short_list(&runs, MOST));
    match (pickup.is_empty(), bars.is_empty()) {
        (true, _) => list,
        (false, true) => "the pickup".to_owned(),
        (false, false) => format!("the pickup and {list}"),
    }
}
