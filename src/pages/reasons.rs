//! Writes the reasons why a playing is good or hard: missing notes, bends, breath turns, the place on the harp, the
//! air, the effort by its terms, and the hardest bars.

use std::collections::BTreeMap;

use itertools::Itertools;

use super::{Line, words};
use crate::{
    harp::{Action, Bend},
    melody::Melody,
    search::{Approach, Request, Term, breath::Limit, hard},
    tab::Notation,
};

/// Returns the reasons why an approach is good or hard, as sentences without a capital letter and a full stop.
pub fn reasons(approach: &Approach, request: &Request) -> Vec<String> {
    let mut reasons = notes(approach, request);
    reasons.extend(bends(approach));
    reasons.push(breath(approach, request.melody));
    reasons.push(place(approach));
    reasons.extend(air(approach, request.melody));
    reasons
}

/// Returns the facts that a player needs before the first note: missing and bent notes, the place on the harp, awkward
/// turns of the breath, and where the air runs out or the lungs are full.
pub(super) fn in_short(approach: &Approach, request: &Request) -> Vec<String> {
    let mut reasons = notes(approach, request);
    if let Some(kinds) = kinds_of_bends(approach) {
        match reasons.first_mut() {
            Some(first) if lacking(approach) == 0 => *first += &format!(": {kinds}"),
            _ => {
                let bends = words::plural(approach.counts.bends(), "bend", "bends");
                reasons.push(format!("{bends}: {kinds}"));
            }
        }
    }
    reasons.push(place(approach));
    if approach.counts.awkward > 0 {
        reasons.push(breath(approach, request.melody));
    }
    reasons.extend(air(approach, request.melody));
    reasons
}

/// Returns "every note is there, four notes bent", or the lines about missing notes.
fn notes(approach: &Approach, request: &Request) -> Vec<String> {
    let counts = &approach.counts;
    if lacking(approach) > 0 {
        return missing(approach, request);
    }
    vec![match (approach.changes.len() as u32, counts.bends()) {
        (0, 0) => "every note is there without bends".to_owned(),
        (0, bends) => format!("every note is there, {} bent", plural_of(bends, counts.notes)),
        (changed, 0) => {
            format!("with {} changed, no note is missing or bent", notes_of(changed, counts.notes))
        }
        (changed, bends) => format!(
            "with {} changed, no note is missing, {} bent",
            notes_of(changed, counts.notes),
            plural_of(bends, counts.notes)
        ),
    }]
}

/// Returns "the breath turns 38 times, never awkwardly".
fn breath(approach: &Approach, melody: &Melody) -> String {
    match (approach.counts.breath_changes, approach.counts.awkward) {
        (0, _) => "the breath never turns".to_owned(),
        (changes, 0) => format!("the breath turns {}, never awkwardly", words::times(changes)),
        (changes, awkward) => format!(
            "the breath turns {}, {} awkwardly ({})",
            words::times(changes),
            words::times(awkward),
            words::bars(melody, awkward_notes(approach))
        ),
    }
}

/// Returns "it uses holes 2 to 6, mostly the middle of the harp".
fn place(approach: &Approach) -> String {
    format!("it uses {} of the harp", words::region(approach))
}

/// Returns "Effort 441: moves 300, breath 120, register 21", the largest term first.
pub(super) fn effort(approach: &Approach) -> String {
    let effort = approach.playing.effort;
    let name = |term: Term| match term {
        Term::Missing => "missing notes",
        Term::Changes => "changes to the tune",
        term => term.name(),
    };
    let mut terms: Vec<(&str, u64)> = effort.terms().map(|(term, points)| (name(term), points)).collect();
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

/// Returns "you run out of air in bar 12: let air in there", and a similar text about full lungs.
pub(super) fn air(approach: &Approach, melody: &Melody) -> Vec<String> {
    let ends =
        [(Limit::Empty, "you run out of air in", "in"), (Limit::Full, "your lungs are full in", "out")];
    let at =
        |limit: Limit| approach.playing.notes.iter().positions(move |played| played.limit == Some(limit));
    let told = ends.into_iter().filter(|&(limit, ..)| at(limit).next().is_some());
    told.map(|(limit, words, way)| format!("{words} {}: let air {way} there", words::bars(melody, at(limit))))
        .collect()
}

/// Returns "three notes" up to twelve. Above twelve it returns "90 of 120", which is clearer than "most notes".
fn plural_of(part: u32, whole: u32) -> String {
    if part <= 12 { words::plural(part, "note", "notes") } else { format!("{part} of {whole}") }
}

/// Returns "three notes" up to twelve, "26 of 72 notes" above.
fn notes_of(part: u32, whole: u32) -> String {
    plural_of(part, whole) + if part <= 12 { "" } else { " notes" }
}

/// Returns "two notes of 120 cannot be sounded: F#5 (bars 3 and 7)" and "three notes of 120 are left out to spare you
/// their bends: …". Missing grace notes have their own line.
pub(super) fn missing(approach: &Approach, request: &Request) -> Vec<String> {
    let melody = request.melody;
    let spared = approach.spared(request);
    let (graces, main): (Vec<usize>, Vec<usize>) =
        approach.missing().partition(|&note| melody.notes[note].grace);
    let (left_out, lacking): (Vec<usize>, Vec<usize>) =
        main.into_iter().partition(|note| spared.contains(note));
    let all = approach.counts.notes - melody.notes.iter().filter(|note| note.grace).count() as u32;
    let count = |notes: &[usize]| words::plural(notes.len() as u32, "note", "notes");
    let are = |notes: &[usize]| if notes.len() == 1 { "is" } else { "are" };
    let names = |notes: &[usize]| names(approach, melody, notes);
    let mut told = Vec::new();
    if lacking.is_empty() && left_out.is_empty() {
        let graces = words::plural(graces.len() as u32, "grace note", "grace notes");
        let of = approach.missing().collect::<Vec<_>>();
        return vec![format!("every note is there except {graces}: {}", names(&of))];
    }
    if !lacking.is_empty() {
        told.push(format!("{} of {all} cannot be sounded: {}", count(&lacking), names(&lacking)));
    }
    if !left_out.is_empty() {
        let bends = if left_out.len() == 1 { "its bend" } else { "their bends" };
        told.push(format!(
            "{} of {all} {} left out to spare you {bends}: {}",
            count(&left_out),
            are(&left_out),
            names(&left_out)
        ));
    }
    if !graces.is_empty() {
        let what = words::plural(graces.len() as u32, "grace note", "grace notes");
        told.push(format!("{what} {} missing too: {}", are(&graces), names(&graces)));
    }
    told
}

/// Returns "F#5 (bars 3 and 7) and G#5 (bar 4)", from the lowest pitch up; at most four names.
fn names(approach: &Approach, melody: &Melody, notes: &[usize]) -> String {
    let by_pitch = grouped(notes.iter().filter_map(|&note| {
        let wanted = approach.wanted(melody, &melody.notes[note])?;
        Some(((wanted.pitch()?, wanted.to_string()), note))
    }));
    let names: Vec<String> = by_pitch
        .into_iter()
        .map(|((_, name), notes)| format!("{name} ({})", words::bars(melody, notes)))
        .collect();
    words::short_list(&names, 4)
}

/// Returns the number of missing notes, grace notes included.
pub(super) fn lacking(approach: &Approach) -> u32 {
    approach.counts.missing + approach.counts.missing_graces
}

/// Groups values by key. The keys are sorted, and the values of each key keep their order.
fn grouped<K: Ord, V>(pairs: impl Iterator<Item = (K, V)>) -> BTreeMap<K, Vec<V>> {
    let mut groups: BTreeMap<K, Vec<V>> = BTreeMap::new();
    for (key, value) in pairs {
        groups.entry(key).or_default().push(value);
    }
    groups
}

/// The most kinds of bends that are named. [`bends`] names one more if it is the only one that remains.
const NAMED_BENDS: usize = 3;

/// Returns each kind of bend with its number of uses, the most frequent first.
fn bent(approach: &Approach) -> Vec<(Action, u32)> {
    let bent = approach.playing.notes.iter().filter_map(|played| played.action);
    let bent = grouped(bent.filter(|action| action.bend != Bend::None).map(|action| (action, ())));
    let mut bent: Vec<(Action, u32)> =
        bent.into_iter().map(|(action, times)| (action, times.len() as u32)).collect();
    bent.sort_by_key(|&(action, count)| (std::cmp::Reverse(count), action));
    bent
}

/// Returns "draw 3 needs a whole-step bend six times", the most frequent first.
fn bends(approach: &Approach) -> Vec<String> {
    let bent = bent(approach);
    let named = if bent.len() == NAMED_BENDS + 1 { bent.len() } else { NAMED_BENDS };
    let mut lines: Vec<String> =
        bent.iter().take(named).map(|&(action, count)| bend(action, count)).collect();
    if bent.len() > named {
        let rest: u32 = bent[named..].iter().map(|&(_, count)| count).sum();
        lines.push(format!("and {} of other kinds", words::plural(rest, "bend", "bends")));
    }
    lines
}

/// Returns "draw 3 by a whole step and draw 2 by a half step", at most [`NAMED_BENDS`] kinds; `None` without bends.
fn kinds_of_bends(approach: &Approach) -> Option<String> {
    let kinds: Vec<String> = bent(approach).into_iter().map(|(action, _)| by_depth(action)).collect();
    (!kinds.is_empty()).then(|| words::short_list(&kinds, NAMED_BENDS))
}

/// Returns "draw 3 by a whole step" or "overblow 6".
fn by_depth(action: Action) -> String {
    match action.bend {
        Bend::Down(depth) => format!("{} by {}", words::hole(action), words::steps(depth)),
        Bend::Over | Bend::None => words::hole(action),
    }
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

fn awkward_notes(approach: &Approach) -> impl Iterator<Item = usize> {
    approach.playing.notes.iter().positions(|played| played.awkward)
}

/// The most bars that are named as hardest.
const HARDEST: usize = 3;

/// Returns the title of a list of hard bars: "The three hardest bars".
pub(crate) fn hard_title(bars: usize) -> String {
    match bars {
        1 => "The hardest bar".to_owned(),
        many => format!("The {} hardest bars", words::number(many as u32)),
    }
}

/// Returns the hardest bars, each with the reason why it is hard.
pub(super) fn hard(request: &Request, approach: &Approach, notation: Notation) -> Vec<(hard::HardBar, Line)> {
    let bars = hard::hardest(request.melody, &approach.playing, request.weights, HARDEST).into_iter();
    let lines = bars.map(|hard| {
        let number = request.melody.bars[hard.bar].number;
        let place = words::sentence(&words::bar_numbers(&[number]));
        let line = format!("{place}: {}", hardness(&hard, request, approach, notation));
        (hard, Line::from(line))
    });
    lines.collect()
}

/// Returns "hardest in bars 3 and 15: draw 3 with a whole-step bend twice": the dearest bar, any other of the hardest bars
/// with the same reason, and the reason.
pub(super) fn hardest(request: &Request, approach: &Approach, notation: Notation) -> Option<String> {
    let bars = hard::hardest(request.melody, &approach.playing, request.weights, HARDEST);
    let dearest = bars.iter().min_by_key(|hard| (std::cmp::Reverse(hard.effort.total()), hard.bar))?;
    let number = |hard: &hard::HardBar| request.melody.bars[hard.bar].number;
    let why = |hard| hardness(hard, request, approach, notation);
    let reason = why(dearest);
    let alike: Vec<u32> = bars.iter().filter(|hard| why(hard) == reason).map(number).collect();
    Some(format!("hardest in {}: {reason}", words::bar_numbers(&alike)))
}

/// Returns "draw 3 with a whole-step bend twice and four turns of the breath; there is little time from 7 to -9:
/// practise at quarter = 84, where it is comfortable".
fn hardness(hard: &hard::HardBar, request: &Request, approach: &Approach, notation: Notation) -> String {
    let melody = request.melody;
    let notes: Vec<usize> =
        (0..melody.notes.len()).filter(|&note| melody.notes[note].bar == hard.bar).collect();
    let played = || notes.iter().map(|&note| approach.playing.notes[note]);
    let effort = hard.effort;
    let turns = played().filter(|played| played.breath_change).count() as u32;
    let priced = played().filter(|played| played.effort[Term::Register] > 0);
    let holes: Vec<u8> = priced.filter_map(|played| played.action).map(|action| action.hole).collect();
    let bent = grouped(
        played()
            .filter_map(|played| played.action)
            .filter(|action| action.bend != Bend::None)
            .map(|action| (action, ())),
    );
    let mut terms = vec![
        (effort[Term::Breath], format!("{} of the breath", words::plural(turns, "turn", "turns"))),
        (effort[Term::Moves], moves(hard.bar, melody, approach)),
        (effort[Term::Lungs], "the lungs near their limit".to_owned()),
        (effort[Term::Missing], missing_in(&notes, melody, approach)),
        (effort[Term::Register], far_reeds(&holes)),
    ];
    let bends: Vec<String> =
        bent.iter().map(|(&action, times)| bent_times(action, times.len() as u32)).collect();
    terms.push((effort[Term::Bends], words::short_list(&bends, 3)));
    terms.sort_by_key(|&(points, _)| std::cmp::Reverse(points));
    // Only a term of at least a fifth of the bar's effort is mentioned.
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
            Some(from) => format!("there is little time from {} to {to}", notation.write(from)),
            None => format!("{to} is too short for a clean bend"),
        };
        let tempo = hard::at_percent(melody, at, hurry.comfortable_percent());
        text += &format!("; {what}: practise at {}, where it is comfortable", words::tempi(melody, &[tempo]));
    }
    text
}

/// Returns "three jumps of up to five holes", or "moves to the next hole" where no move of the bar goes farther.
fn moves(bar: usize, melody: &Melody, approach: &Approach) -> String {
    let holes = melody.notes.iter().zip(&approach.playing.notes);
    let holes = holes.filter_map(|(note, played)| Some((note.bar, played.action?.hole)));
    let jumps = holes.tuple_windows().filter(|&(_, (to, _))| to == bar);
    let jumps = jumps.map(|((_, from), (_, to))| u32::from(from.abs_diff(to))).filter(|&holes| holes > 1);
    let jumps = Vec::from_iter(jumps);
    let count = words::plural(jumps.len() as u32, "jump", "jumps");
    match jumps.iter().minmax().into_option() {
        None => "moves to the next hole".to_owned(),
        Some((least, most)) if least == most => format!("{count} of {} holes", words::number(*most)),
        Some((_, most)) => format!("{count} of up to {} holes", words::number(*most)),
    }
}

/// Returns "high reeds (holes 7 to 9)".
fn far_reeds(holes: &[u8]) -> String {
    let (first, last) = holes.iter().copied().minmax().into_option().unwrap_or_default();
    let where_they_lie = match (first, last) {
        (6.., _) => "high reeds",
        (_, ..=5) => "low reeds",
        _ => "low and high reeds",
    };
    if first == last {
        format!("{where_they_lie} (hole {first})")
    } else {
        format!("{where_they_lie} ({})", words::holes(first, last))
    }
}

/// Returns "draw 3 with a whole-step bend twice".
fn bent_times(action: Action, count: u32) -> String {
    let name = words::bent_hole(action);
    if count == 1 { name } else { format!("{name} {}", words::times(count)) }
}

/// Returns "F#5 missing".
fn missing_in(notes: &[usize], melody: &Melody, approach: &Approach) -> String {
    let missing = notes.iter().filter(|&&note| approach.playing.notes[note].action.is_none());
    let names = missing.filter_map(|&note| Some(approach.wanted(melody, &melody.notes[note])?.to_string()));
    format!("{} missing", words::list(&names.unique().collect::<Vec<_>>()))
}
