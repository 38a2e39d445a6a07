//! Writes the text of the check of a tab: first the changes to make, then the cost of the holes.

use std::mem;

use itertools::Itertools;

use super::{
    Block, Column, Line, Page, Table, Tone, Tune, changes,
    comparison::{Comparison, Section, Side},
    lead, suggest, tab, words,
};
use crate::{
    compare::{
        Difference,
        align::Step,
        lesson::{Fault, FaultKind, Lesson, Stated},
    },
    harp::Action,
    melody::{BarMarks, Melody},
    pitch::Pitch,
    search::{Approach, Effort, Request, Term},
    tab::{
        Notation,
        read::{Oddity, Spot, TabText},
    },
};

/// The facts for the answer of `breathline check --tab`.
#[derive(Clone, Copy, Debug)]
pub struct Checked<'a> {
    /// The tune.
    pub tune: Tune<'a>,
    /// The request: tune and player.
    pub request: &'a Request<'a>,
    /// The stated harp and the stated transposition.
    pub stated: Stated<'a>,
    /// The tab as typed.
    pub text: &'a TabText,
    /// The findings.
    pub lesson: &'a Lesson<'a>,
    /// The best approach for this player.
    pub best: Option<&'a Approach<'a>>,
    /// The style in which holes are written, the same as in the tab.
    pub notation: Notation,
}

/// From this length on, a run of notes that are left out, added or in the wrong octave shares a single line.
const LONG_RUN: usize = 4;

/// Builds the answer of `breathline check --tab`.
pub fn comparison<'a>(checked: &Checked<'a>) -> Comparison<'a> {
    let lesson = checked.lesson;
    let faults = fault_lines(checked);
    let mut verdict = Page::default();
    // If there are faults, the page first asks whether the tab was written for another harp.
    let harps = other_harps(checked);
    if !faults.is_empty() {
        harps.iter().for_each(|line| verdict.text(line.as_str()));
    }
    verdict.text(self::verdict(checked, faults.len()));
    for line in &faults {
        verdict.item(words::sentence(line));
    }
    if faults.is_empty() {
        harps.iter().for_each(|line| verdict.text(line.as_str()));
    }
    for line in readings(checked).into_iter().chain(place(checked)) {
        verdict.text(format!("{}.", words::sentence(&line)));
    }
    let mut sections = Vec::new();
    let odd = oddities(checked);
    if !odd.blocks.is_empty() {
        sections.push(Section { title: "How the text was read".to_owned(), page: odd, on_paper: false });
    }
    let mut sides = Vec::new();
    if lesson.same_tune {
        let title = "The cost of the holes".to_owned();
        sections.push(Section { title, page: the_effort(checked), on_paper: true });
        sides = self::sides(checked);
    }
    Comparison {
        title: checked.tune.title().to_owned(),
        opening: suggest::opening(&checked.tune),
        question: Page::default(),
        verdict,
        sections,
        cautions: lead::cautions(checked.request.melody, &sides),
        sides,
    }
}

/// Returns the tab, corrected where it has faults, and below it the easiest way on the same harp, if that way costs
/// less.
fn sides<'a>(checked: &Checked<'a>) -> Vec<Side<'a>> {
    let (melody, lesson, notation) = (checked.request.melody, checked.lesson, checked.notation);
    let notes = |added: bool| -> Vec<usize> {
        let faults = lesson.faults.iter().filter(|fault| (fault.kind == FaultKind::Added) == added);
        let notes = faults.flat_map(|fault| {
            let second = (fault.kind == FaultKind::Swapped).then_some(fault.note + 1);
            [Some(fault.note), second].into_iter().flatten()
        });
        notes.sorted().dedup().collect()
    };
    let (put_right, after_added) = (notes(false), notes(true));
    let mended: Vec<usize> = put_right.iter().chain(&after_added).copied().sorted().dedup().collect();
    let dearer = lesson.differences.iter().filter(|difference| difference.more() != 0);
    let differs: Vec<usize> = dearer.map(|difference| difference.note).collect();
    let (name, heading) = match lesson.faults.is_empty() {
        true => ("the tab", "The tab, bar by bar"),
        false => ("the tab, corrected", "The tab, corrected"),
    };
    let given = Side::new(name, heading.to_owned(), &lesson.given).with_tab(
        melody,
        notation,
        (&put_right, "corrected here; the tab that was checked differs"),
        &after_added,
    );
    let given = Side { mended, ..given };
    if lesson.given.playing.effort.total() == lesson.least.playing.effort.total() {
        return vec![given];
    }
    let heading = "The easiest on this harp".to_owned();
    let least = Side::new("the easiest on this harp", heading, &lesson.least).with_tab(
        melody,
        notation,
        (&differs, "a hole that differs from the tab above"),
        &[],
    );
    vec![Side { differs: differs.clone(), ..given }, Side { differs, ..least }]
}

/// Returns "On a C harp 30 of 32 notes are right; two things to change:".
fn verdict(checked: &Checked, things: usize) -> Line {
    let lesson = checked.lesson;
    let (right, notes) = (lesson.right, lesson.given.counts.notes as usize - lesson.graces_left_out);
    let harp = format!("{} {}", words::article(checked.stated.harp), words::harp(checked.stated.harp));
    if !lesson.same_tune {
        return Tone::Warning.of(format!(
            "This does not look like tab of this tune for {harp}: only {right} of the tune's {notes} notes match."
        ));
    }
    let on = format!("On {harp} ");
    let what = match (things, notes) {
        (0, _) if lesson.in_key.is_some() => "the tab plays the tune, but in another key:".to_owned(),
        (0, 1) => "the tab is right: its note is the tune's note.".to_owned(),
        (0, _) => format!("the tab is right: all {notes} notes match the tune."),
        (things, _) => {
            let things = words::plural(things as u32, "thing", "things");
            format!("{right} of {notes} notes are right; {things} to change:")
        }
    };
    Line::from(on).and(Tone::Strong, what)
}

/// Returns a line for each harp, other than the stated harp, for which the tab may have been written.
fn other_harps(checked: &Checked) -> Vec<String> {
    let Checked { lesson, stated, .. } = checked;
    let given = &lesson.given;
    let mut lines = Vec::new();
    if let Some(harp) = lesson.in_key.as_ref().filter(|_| lesson.same_tune) {
        let off = given.transposed.0 - stated.transposed.0;
        let off = (off + 5).rem_euclid(12) - 5;
        let wanted = checked.request.key.tonic.transposed(stated.transposed);
        lines.push(format!(
            "On the {} the tab sounds in {}, {}; on {} {} it is in {wanted}, as the tune should be: is that the harp \
             for which it was written?",
            words::harp(stated.harp),
            given.tonic,
            words::half_steps(off),
            words::article(harp),
            words::harp(harp),
        ));
    }
    // If the tab is of another tune on the stated harp, another tuning is named only if at least half of the tab is
    // right there.
    let is_this_tune = |faults: usize| lesson.same_tune || faults * 2 <= lesson.typed.len();
    if let Some((harp, faults)) = lesson.other_tuning.as_ref().filter(|(_, faults)| is_this_tune(*faults)) {
        let left = match faults {
            0 => "nothing would be wrong".to_owned(),
            1 => "one thing would be wrong".to_owned(),
            faults => format!("{} things would be wrong", words::number(*faults as u32)),
        };
        lines.push(format!(
            "On {} {} {left}: is that the harp for which the tab was written?",
            words::article(harp),
            words::harp(harp)
        ));
    }
    lines
}

/// Returns the assumptions with which the tab was read, such as the direction of its arrows, and a hint about repeats. For
/// a tab of another tune, returns only the things to check.
fn readings(checked: &Checked) -> Vec<String> {
    let lesson = checked.lesson;
    let mut lines = Vec::new();
    if !lesson.same_tune {
        // For a tab of another tune, the nearest reading is only chance.
        let hint = if checked.tune.imported.unfolded { "" } else { ", the repeats (--unfold)" };
        lines.push(format!("check these: the tune, the harp (--harp), the part (--part){hint}"));
        return lines;
    }
    if lesson.turned {
        lines
            .push("its arrows mean the opposite of those in most books: up is draw, down is blow".to_owned());
    }
    if lesson.lines_between {
        lines.push("its dashes are lines between the notes, not signs of draw notes".to_owned());
    }
    if lesson.technique != checked.request.technique {
        lines.push(format!(
            "it needs {}, so the check assumes that you can play them",
            tab::technique(lesson.technique)
        ));
    }
    if lesson.graces_left_out > 0 {
        let graces = words::plural(lesson.graces_left_out as u32, "grace note", "grace notes");
        lines.push(format!("it leaves out {graces}, as most tabs do"));
    }
    let added = lesson.steps.iter().filter(|step| matches!(step, Step::Added { .. })).count();
    let out = lesson.steps.iter().filter(|step| matches!(step, Step::LeftOut { .. })).count();
    let again = |marks: &BarMarks| marks.repeat_end.is_some() || marks.da_capo || marks.dal_segno;
    let repeats = checked.request.melody.bars.iter().any(|bar| again(&bar.marks));
    if added.max(out) * 4 > lesson.typed.len() && repeats && !checked.tune.imported.unfolded {
        lines.push(
            "the tune has repeats: if the tab has them written out, unfold the tune (--unfold)".to_owned(),
        );
    }
    lines
}

/// Returns "it plays the tune in 2nd position (cross harp), an octave up from what is written".
fn place(checked: &Checked) -> Option<String> {
    let given = &checked.lesson.given;
    let moved = match given.shift().0 {
        0 => "as written".to_owned(),
        shift => format!("{} from what is written", words::half_steps(shift)),
    };
    checked
        .lesson
        .same_tune
        .then(|| format!("it plays the tune in {}, {moved}", words::position(given.position)))
}

/// Returns the changes to make, in the order of the tune. A long run of one kind takes one line. Advice about lost
/// signs of draw notes comes first. A tab of another tune gets no lines.
fn fault_lines(checked: &Checked) -> Vec<String> {
    let lesson = checked.lesson;
    if !lesson.same_tune {
        return Vec::new();
    }
    let alike = |a: &Fault, b: &Fault| {
        let run = matches!(a.kind, FaultKind::LeftOut | FaultKind::Added | FaultKind::Octave(_));
        let next = match a.kind {
            FaultKind::Added => a.typed.map(|typed| typed + 1) == b.typed,
            _ => a.note + 1 == b.note,
        };
        run && a.kind == b.kind && next
    };
    let (lost, others): (Vec<Fault>, Vec<Fault>) =
        lesson.faults.iter().partition(|fault| fault.kind == FaultKind::SignLost);
    let mut lines = Vec::from_iter(lost_line(checked, &lost));
    for run in others.chunk_by(alike) {
        if run.len() >= LONG_RUN {
            lines.push(run_line(checked, run));
        } else {
            lines.extend(run.iter().map(|fault| fault_line(checked, fault)));
        }
    }
    lines
}

/// Returns advice for a tab that has lost the signs of its draw notes.
fn lost_line(checked: &Checked, lost: &[Fault]) -> Option<String> {
    let first = lost.first()?;
    let at = spot(checked, first.typed)?;
    let wants = checked.notation.write(first.wants?);
    let typed = checked.notation.write(checked.lesson.typed.get(first.typed?)?.action);
    Some(format!(
        "no note of the tab says draw, so its signs seem to be lost: {} should be draw notes, the first in {at}, \
         {wants} instead of {typed}; type the signs again",
        words::plural(lost.len() as u32, "note", "notes")
    ))
}

/// Returns "from line 2, column 1 on, bar 5 beat 1 to bar 8 beat 3: nine notes are an octave too low".
fn run_line(checked: &Checked, run: &[Fault]) -> String {
    let melody = checked.request.melody;
    let count = words::plural(run.len() as u32, "note", "notes");
    let (first, last) = (run[0], run[run.len() - 1]);
    let from_to = format!("{} to {}", changes::place(melody, first.note), changes::place(melody, last.note));
    match first.kind {
        FaultKind::LeftOut => format!("{from_to}: {count} of the tune are not in the tab"),
        FaultKind::Added => {
            let at = spot(checked, first.typed).map_or(String::new(), |at| format!("from {at} on: "));
            format!("{at}{count} of the tab are not in the tune, near {}", changes::place(melody, first.note))
        }
        FaultKind::Octave(octave) => {
            let at = spot(checked, first.typed).map_or(String::new(), |at| format!("from {at} on, "));
            format!("{at}{from_to}: {count} are {}", too_high(octave))
        }
        _ => from_to,
    }
}

/// Returns "line 3, column 9, bar 5 beat 2: play -3'' (A4) instead of -3 (B4); the bend is missing".
fn fault_line(checked: &Checked, fault: &Fault) -> String {
    let Checked { lesson, notation, request, .. } = checked;
    let place = changes::place(request.melody, fault.note);
    let at = spot(checked, fault.typed);
    let typed = fault.typed.map(|typed| notation.write(lesson.typed[typed].action)).unwrap_or_default();
    let has = named(checked, fault, fault.has);
    let has = if has.is_empty() { typed.clone() } else { format!("{typed} ({has})") };
    let pitch = named(checked, fault, fault.pitch);
    let wants = match fault.wants {
        Some(action) => format!("{} ({pitch})", notation.write(action)),
        None => pitch.clone(),
    };
    let harp = words::harp(checked.stated.harp);
    let here = match at {
        Some(at) => format!("{at}, {place}"),
        None => place.clone(),
    };
    match (fault.kind, fault.wants) {
        (FaultKind::LeftOut, Some(_)) => match at {
            Some(at) => format!("{at}, {place}: {wants} is missing after {typed}"),
            None => format!("{place}: {wants} is missing at the beginning"),
        },
        (FaultKind::LeftOut, None) => {
            format!("{here}: {pitch} is missing, but you cannot sound it on the {harp}")
        }
        (FaultKind::Swapped, Some(_)) => {
            let second = lesson.given.playing.notes.get(fault.note + 1).and_then(|played| played.action);
            let second = second.map_or_else(String::new, |action| notation.write(action));
            format!("{here}: two neighbours are swapped; play {wants} and then {second}")
        }
        (FaultKind::Added, _) => format!("{here}: {has} is not in the tune; leave it out"),
        (FaultKind::NotInReach, _) | (_, None) => {
            format!("{here}: {has} replaces {pitch}, which you cannot sound on the {harp}")
        }
        (kind, Some(wants_action)) => {
            let why = why(
                kind,
                fault,
                wants_action,
                lesson.typed.get(fault.typed.unwrap_or(usize::MAX)).map(|note| note.action),
            );
            format!("{here}: play {wants} instead of {has}{why}")
        }
    }
}

/// Returns the cause of a fault: "; the bend is missing". For kinds that the line about the fault explains already, the
/// text is empty.
fn why(kind: FaultKind, fault: &Fault, wants: Action, typed: Option<Action>) -> String {
    match kind {
        FaultKind::Bend => {
            let flat = fault.pitch.zip(fault.has).map(|(pitch, has)| has.above(pitch).0);
            match (typed.map(|typed| typed.bend), wants.bend, flat) {
                (Some(crate::harp::Bend::None), _, _) => "; the bend is missing".to_owned(),
                (_, crate::harp::Bend::None, _) => "; do not bend it".to_owned(),
                (_, _, Some(flat)) if flat > 0 => "; bend it deeper".to_owned(),
                (_, _, Some(_)) => "; bend it less".to_owned(),
                _ => "; the harp has no such bend".to_owned(),
            }
        }
        FaultKind::Breath => {
            let bend = if wants.bend == crate::harp::Bend::None { "" } else { ", with a bend" };
            format!("; change the breath direction{bend}")
        }
        FaultKind::Octave(octave) => format!("; the typed note is {}", too_high(octave)),
        FaultKind::NotOnHarp => "; the harp has no such note".to_owned(),
        FaultKind::Hole => match (fault.pitch, fault.has) {
            (Some(pitch), Some(has)) => {
                let off = has.above(pitch).0;
                let far = match off.unsigned_abs() {
                    1 => "a half step".to_owned(),
                    2 => "a whole step".to_owned(),
                    many => format!("{} half steps", words::number(many.into())),
                };
                format!("; the typed note is {far} too {}", if off > 0 { "high" } else { "low" })
            }
            _ => String::new(),
        },
        FaultKind::NotInReach
        | FaultKind::LeftOut
        | FaultKind::Added
        | FaultKind::Swapped
        | FaultKind::SignLost => String::new(),
    }
}

/// Returns "an octave too low".
fn too_high(octave: i8) -> String {
    let way = if octave > 0 { "high" } else { "low" };
    match octave.unsigned_abs() {
        1 => format!("an octave too {way}"),
        many => format!("{} octaves too {way}", words::number(many.into())),
    }
}

/// Returns the name of a pitch, spelled as in the key at the fault; without a pitch, nothing.
pub(crate) fn named(checked: &Checked, fault: &Fault, pitch: Option<Pitch>) -> String {
    let melody = checked.request.melody;
    let at = melody.notes.get(fault.note).map(|note| note.onset).unwrap_or(crate::time::Beats::ZERO);
    let given = &checked.lesson.given;
    if let (Some(note), true) = (melody.notes.get(fault.note), pitch == fault.pitch)
        && let Some(name) = given.wanted(melody, note)
    {
        return if pitch.is_some() { name.to_string() } else { String::new() };
    }
    pitch.map_or(String::new(), |pitch| given.spelled(melody, pitch, at).to_string())
}

fn spot(checked: &Checked, typed: Option<usize>) -> Option<Spot> {
    checked.lesson.typed.get(typed?).map(|note| note.at)
}

/// Reports oddities in the tab's text.
fn oddities(checked: &Checked) -> Page {
    const MOST: usize = 8;
    let mut page = Page::default();
    // If a kind has more oddities than [`FEW`], the oddities of each kind share a line.
    let mut kinds: Vec<(&Oddity, usize)> = Vec::new();
    for odd in shown_oddities(checked) {
        let alike =
            |known: &&mut (&Oddity, usize)| mem::discriminant(&known.0.kind) == mem::discriminant(&odd.kind);
        match kinds.iter_mut().find(alike) {
            Some((_, count)) => *count += 1,
            None => kinds.push((odd, 1)),
        }
    }
    let all = kinds.iter().all(|&(_, count)| count <= FEW);
    let shown: Vec<(&Oddity, usize)> = match all {
        true => shown_oddities(checked).map(|odd| (odd, 1)).collect(),
        false => kinds,
    };
    for (odd, count) in shown.iter().take(MOST) {
        let again = match count {
            1 => String::new(),
            count => format!("; and {} more (--json lists them)", words::number(*count as u32 - 1)),
        };
        page.item(Tone::Warning.of(words::sentence(&format!("{odd}{again}"))));
    }
    if shown.len() > MOST {
        page.item(format!("And {} more; --json lists all", shown.len() - MOST));
    }
    page
}

/// Returns the oddities that apply to the chosen reading of the tab.
pub(crate) fn shown_oddities<'a>(checked: &Checked<'a>) -> impl Iterator<Item = &'a Oddity> {
    let other = checked.text.with_lines_between.as_deref().filter(|_| checked.lesson.lines_between);
    other.unwrap_or(checked.text).oddities.iter()
}

/// The most oddities of a kind that get a line each.
const FEW: usize = 3;

/// Compares the effort of the tab with the least effort, and shows where the difference comes from.
fn the_effort(checked: &Checked) -> Page {
    let mut page = Page::default();
    let Checked { lesson, notation, request, .. } = checked;
    let (given, least) = (&lesson.given, &lesson.least);
    let (ours, theirs) = (given.playing.effort.total(), least.playing.effort.total());
    let mended = if lesson.faults.is_empty() { "" } else { ", corrected," };
    if lesson.differences.is_empty() {
        page.text(format!("The holes of the tab{mended} are the easiest on this harp: effort {ours}."));
    } else {
        let more = match ours - theirs {
            0 => "as little as the easiest way on this harp".to_owned(),
            more => format!("{more} more than the easiest way on this harp ({theirs})"),
        };
        page.text(format!("The tab{mended} has an effort of {ours}: {more}."));
        if ours != theirs {
            page.blocks.push(Block::Table(terms(&[("the tab", given), ("the easiest", least)])));
        }
        for line in difference_lines(request.melody, &lesson.differences, *notation) {
            page.item(words::sentence(&line));
        }
    }
    // If the tab sounds in the wrong key, the page has already named the harp that puts it in the right key.
    let Some(best) = checked.best.filter(|_| lesson.in_key.is_none()) else { return page };
    let total = best.playing.effort.total();
    let same = best.harp == given.harp && best.shift() == given.shift();
    if same {
        page.text("No other harp or position is easier for you.");
    } else if (best.counts.is_full(), std::cmp::Reverse(total))
        > (least.counts.is_full(), std::cmp::Reverse(ours))
    {
        let octave = match best.octave {
            0 => String::new(),
            octaves => format!(", {}", words::octave(octaves)),
        };
        page.text(format!(
            "The best choice for you is {} {} in {} position{octave}, with an effort of {total}.",
            words::article(best.harp),
            words::harp(best.harp),
            best.position
        ));
    } else {
        page.text("No other harp or position is easier for you.");
    }
    page
}

/// Returns a table with a row for each approach, a column for each term of the effort that is shown, and a column for
/// the sum.
pub(super) fn terms(rows: &[(&str, &Approach)]) -> Table {
    let mut columns = vec![Column::words("")];
    // Bends, moves, breath, register and lungs are always shown; other terms only where they cost effort.
    let always = |term: Term| !matches!(term, Term::Position | Term::Missing | Term::Changes);
    let costs = |term: Term| rows.iter().any(|(_, row)| row.playing.effort[term] > 0);
    let shown: Vec<Term> = Term::ALL.into_iter().filter(|&term| always(term) || costs(term)).collect();
    columns.extend(shown.iter().map(|term| Column::numbers(term.name())));
    columns.push(Column::numbers("in all"));
    let mut table = Table { columns, rows: Vec::new() };
    for (name, row) in rows {
        let effort = row.playing.effort;
        let mut cells = vec![(*name).to_owned()];
        cells.extend(shown.iter().map(|&term| effort[term].to_string()));
        cells.push(effort.total().to_string());
        table.rows.push(cells.into_iter().map(Line::from).collect());
    }
    table
}

/// Returns "-2 instead of 3 in bars 1, 5 and 9, three times: costs 15 more each (breath +25, moves -10)", the largest
/// differences first.
pub(super) fn difference_lines(
    melody: &Melody,
    differences: &[Difference],
    notation: Notation,
) -> Vec<String> {
    const MOST: usize = 8;
    let write = |action: Option<Action>| action.map_or("nothing".to_owned(), |action| notation.write(action));
    let key = |difference: &&Difference| {
        let terms = Term::ALL.map(|term| {
            let of = |effort: Effort| i64::try_from(effort[term]).unwrap_or(i64::MAX);
            of(difference.effort_given) - of(difference.effort_best)
        });
        (difference.given, difference.best, terms)
    };
    let mut groups: Vec<(Vec<&Difference>, [i64; Term::ALL.len()])> = Vec::new();
    for (key, group) in
        &differences.iter().sorted_by_key(|difference| (key(difference), difference.note)).chunk_by(key)
    {
        groups.push((group.collect(), key.2));
    }
    let all = |group: &[&Difference]| group.iter().map(|difference| difference.more()).sum::<i64>();
    groups.sort_by_key(|(group, _)| (std::cmp::Reverse(all(group).abs()), group[0].note));
    let hidden = groups.len().saturating_sub(MOST);
    let mut lines: Vec<String> = groups
        .iter()
        .take(MOST)
        .map(|(group, terms)| {
            let first = group[0];
            let places = words::bars(melody, group.iter().map(|difference| difference.note));
            let each = if group.len() > 1 { " each" } else { "" };
            let cost = match first.more() {
                0 => "costs as much".to_owned(),
                more if more > 0 => format!("costs {more} more{each}"),
                less => format!("saves {}{each}", -less),
            };
            let terms: Vec<String> = Term::ALL
                .iter()
                .zip(terms)
                .filter(|(_, points)| **points != 0)
                .map(|(term, points)| format!("{} {points:+}", term.name()))
                .collect();
            let terms = if terms.is_empty() { String::new() } else { format!(" ({})", terms.join(", ")) };
            let times = if group.len() > 1 {
                format!(", {}", words::times(group.len() as u32))
            } else {
                String::new()
            };
            format!(
                "{} instead of {} in {places}{times}: {cost}{terms}",
                write(first.given),
                write(first.best)
            )
        })
        .collect();
    if hidden > 0 {
        lines.push(format!("and {hidden} more"));
    }
    lines
}
