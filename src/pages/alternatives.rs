//! Writes the text about alternatives to the best way: what the player gains and loses with each, and what to try where
//! notes are missing.

use itertools::Itertools;

use super::{Page, Tone, key, tab, words};
use crate::{
    harp::{Harp, Register, Technique},
    melody::Melody,
    search::{Alternative, Approach, Ranking, Request, Term, ways::Kind},
};

/// Returns the words with which the line about a way begins: "No bends".
fn name(kind: Kind, approach: &Approach) -> String {
    match kind {
        Kind::Best => "Best".to_owned(),
        Kind::EveryNote => "Every note".to_owned(),
        Kind::NoBends => "No bends".to_owned(),
        Kind::Lower => "Lower on the harp".to_owned(),
        Kind::OtherRegister if approach.harp.register() == Register::Low => "Low harp".to_owned(),
        Kind::OtherRegister => "High harp".to_owned(),
        Kind::OtherTuning => "Another tuning".to_owned(),
        Kind::OtherKey => "In another key".to_owned(),
        Kind::OwnKey => "In its own key".to_owned(),
    }
}

/// The gains and losses of one way, compared with the best way.
pub(crate) struct Balance {
    pub(crate) gains: Vec<Point>,
    pub(crate) gives_up: Vec<Point>,
}

/// A gain or a loss.
pub(crate) enum Point {
    /// "nothing is bent".
    Clause(String),
    /// "two fewer bends".
    Count(String),
}

/// Adds a line for each way worth knowing: "No bends: an F harp in 1st position; nothing is bent, but it lacks two
/// notes (bar 7)". If the best way is not in the tune's own key, a further line gives the reason.
pub(super) fn list(page: &mut Page, request: &Request, ranking: &Ranking) {
    let Some(best) = ranking.best() else { return };
    if ranking.ways.is_empty() {
        return;
    }
    page.text("Other ways worth knowing:");
    for way in &ranking.ways {
        let who = match way.kind {
            Kind::OwnKey | Kind::OtherKey => {
                let key = key::sounding(&way.approach, request.key.mode, request.melody);
                format!("in {key}, {}", named(&way.approach, best))
            }
            _ => named(&way.approach, best),
        };
        let text = format!(": {who}; {}", balance(best, way, request.melody).in_words());
        page.item(Tone::Strong.of(name(way.kind, &way.approach)).and(Tone::Plain, text));
    }
    if let Some(own) = ranking.ways.iter().find(|way| way.kind == Kind::OwnKey) {
        page.text(why_moved(request, best, &own.approach));
    }
}

/// Says why the tune is moved to another key, and how to keep it in its own key.
fn why_moved(request: &Request, best: &Approach, own: &Approach) -> String {
    let key = |approach: &Approach| key::sounding(approach, request.key.mode, request.melody);
    let (here, there) = (key(own), key(best));
    let of_notes = format!("of {} notes", words::number(own.counts.notes));
    let takes = match (own.missing().count() as u32, own.counts.bends()) {
        (0, bends) => format!("{} {of_notes} would be bent", words::number(bends)),
        (missing, 0) => format!("{} {of_notes} would be left out", words::number(missing)),
        (missing, bends) => {
            format!(
                "{} {of_notes} would be left out and {} bent",
                words::number(missing),
                words::number(bends)
            )
        }
    };
    format!(
        "In {here} {takes}; {there} takes less than half the effort, so the tune is moved there (--own-key keeps it in {here})."
    )
}

/// Two rows count as nearly equal if the second costs less than this much more than the first, in per cent of the first
/// row's effort. The weights are judgements, so a smaller difference means little.
const NEAR: u64 = 3;

/// Returns a line about the difference between the best row and the next row with another tab, if the two rows are
/// nearly equal and on different harps. A row that is among the ways worth knowing is not repeated.
pub(super) fn near_tie(request: &Request, ranking: &Ranking) -> Option<String> {
    let best = ranking.best()?;
    let next = ranking.approaches.iter().find(|row| !row.has_same_tab(best))?;
    let effort = |row: &Approach| row.playing.effort.total();
    let is_near = effort(next).saturating_sub(effort(best)).saturating_mul(100) < effort(best) * NEAR;
    let is_known =
        ranking.ways.iter().any(|way| way.approach.harp == next.harp && way.approach.has_same_tab(next));
    if !is_near || is_known || next.harp == best.harp {
        return None;
    }
    let mut apart = vec![compared(best, next, request.melody).in_words()];
    if next.playing.effort[Term::Position] < best.playing.effort[Term::Position] {
        apart.push("its position is more often played".to_owned());
    }
    // If only one of the rows lies high, the comparison already names the part of the harp.
    if next.counts.lies_high() == best.counts.lies_high() {
        apart.push(format!("it uses {}", words::region(next)));
    }
    Some(format!("As good as equal: {}; {}.", named(next, best), apart.join("; ")))
}

/// Returns "easier an octave up: nothing is bent, but it lacks two notes (bar 7); effort 1412 instead of 4345
/// (--octave 1)" if a row in another octave is much easier than the best row.
pub fn easier_octave(request: &Request, ranking: &Ranking) -> Option<String> {
    let (best, other) = (ranking.best()?, ranking.easier.as_ref()?);
    let effort = |row: &Approach| row.playing.effort.total();
    Some(format!(
        "easier {}: {}; effort {} instead of {} (--octave {})",
        words::octave(other.octave),
        compared(best, other, request.melody).in_words(),
        effort(other),
        effort(best),
        other.octave
    ))
}

impl Balance {
    fn in_words(&self) -> String {
        match (self.gains.as_slice(), self.gives_up.as_slice()) {
            ([], []) => "equal on every count".to_owned(),
            ([], gives_up) => clauses(gives_up),
            (gains, []) => clauses(gains),
            (gains, gives_up) => format!("{}, but {}", clauses(gains), clauses(gives_up)),
        }
    }
}

impl Point {
    pub(crate) fn text(&self) -> String {
        let (Point::Clause(text) | Point::Count(text)) = self;
        text.clone()
    }
}

/// Joins points into a clause: "nothing is bent and it has two fewer awkward breath turns". Counts next to each other
/// share one "it has".
fn clauses(points: &[Point]) -> String {
    let is_count = |point: &Point| matches!(point, Point::Count(_));
    let clauses: Vec<String> = points
        .chunk_by(|a, b| is_count(a) && is_count(b))
        .map(|run| {
            let has = if run.iter().all(is_count) { "it has " } else { "" };
            format!("{has}{}", words::list(&run.iter().map(Point::text).collect::<Vec<_>>()))
        })
        .collect();
    match clauses.as_slice() {
        // If a clause contains an "and", the "and" before the last clause needs a comma.
        [most @ .., last] if !most.is_empty() && clauses.len() < points.len() => {
            format!("{}, and {last}", most.join(", "))
        }
        clauses => words::list(clauses),
    }
}

pub(crate) fn balance(best: &Approach, way: &Alternative, melody: &Melody) -> Balance {
    let other = &way.approach;
    let another_harp = Point::Clause("it needs another harp".to_owned());
    match way.kind {
        Kind::OtherRegister => {
            let away = if other.octave < best.octave { "lower" } else { "higher" };
            Balance {
                gains: vec![Point::Clause(format!("the same tab sounds an octave {away}"))],
                gives_up: vec![another_harp],
            }
        }
        // A row in another tuning lies low on the harp, so `gives_up` does not end with words about the part of the
        // harp, which contain a comma.
        Kind::OtherTuning => {
            let Balance { gains, mut gives_up } = compared(best, other, melody);
            gives_up.push(another_harp);
            Balance { gains, gives_up }
        }
        _ => compared(best, other, melody),
    }
}

/// Returns what another row gains and gives up compared with the best row.
fn compared(best: &Approach, other: &Approach, melody: &Melody) -> Balance {
    let (mut gains, mut gives_up) = (Vec::new(), Vec::new());
    let (ours, theirs) = (&best.counts, &other.counts);
    // The words about the part of the harp contain a comma, so they come last in their list.
    let lies_lower = ours.lies_high() && !theirs.lies_high();
    let lies_higher = theirs.lies_high() && !ours.lies_high();
    let clause = |text: &str| Point::Clause(text.to_owned());
    let count = |count, one, many| Point::Count(words::plural(count, one, many));
    // Notes come first. If the other row lacks more notes than the best row, the text gives the number and places of
    // all notes that it lacks, grace notes aside.
    if theirs.missing > ours.missing {
        let lacking: Vec<usize> = other.missing().filter(|&note| !melody.notes[note].grace).collect();
        gives_up.push(Point::Clause(format!("it lacks {}", lacking_places(other, &lacking, melody))));
    } else if theirs.is_full() && !ours.is_full() {
        gains.push(clause("every note is there"));
    } else if theirs.missing < ours.missing {
        gains.push(count(ours.missing - theirs.missing, "fewer missing note", "fewer missing notes"));
    }
    match (ours.bends(), theirs.bends()) {
        (1.., 0) => gains.push(clause("nothing is bent")),
        (ours, theirs) if theirs < ours => gains.push(count(ours - theirs, "fewer bend", "fewer bends")),
        (ours, theirs) if theirs > ours => gives_up.push(count(theirs - ours, "more bend", "more bends")),
        _ => {}
    }
    match (ours.awkward, theirs.awkward) {
        (ours, theirs) if theirs < ours => {
            gains.push(count(ours - theirs, "fewer awkward breath turn", "fewer awkward breath turns"));
        }
        (ours, theirs) if theirs > ours => {
            gives_up.push(count(theirs - ours, "more awkward breath turn", "more awkward breath turns"));
        }
        _ => {}
    }
    if gains.is_empty() && !lies_lower && theirs.breath_changes < ours.breath_changes {
        gains.push(count(
            ours.breath_changes - theirs.breath_changes,
            "fewer breath turn",
            "fewer breath turns",
        ));
    }
    if gives_up.is_empty() && !lies_higher && theirs.breath_changes > ours.breath_changes {
        gives_up.push(count(
            theirs.breath_changes - ours.breath_changes,
            "more breath turn",
            "more breath turns",
        ));
    }
    if other.playing.effort[Term::Position] > best.playing.effort[Term::Position] {
        gives_up.push(clause("its position is less often played"));
    }
    let lies = || Point::Clause(format!("it uses {}", words::region(other)));
    gains.extend(lies_lower.then(lies));
    gives_up.extend(lies_higher.then(lies));
    Balance { gains, gives_up }
}

/// Returns the name of an approach, such as "a G harp in 1st position an octave up" or, for the winner's harp and key,
/// "the same G harp". The octave is named only if it differs from the winner's.
fn named(approach: &Approach, best: &Approach) -> String {
    let octave = if approach.octave == best.octave {
        String::new()
    } else {
        format!(" {}", words::octave(approach.octave))
    };
    let (article, harp) = (words::article(approach.harp), words::harp(approach.harp));
    if (approach.harp, approach.shift()) == (best.harp, best.shift()) {
        return format!("the same {harp}");
    }
    format!("{article} {harp} in {} position{octave}", approach.position)
}

/// Returns "one note: F#5 (bar 7, beat 2)" or "eight notes (bars 3, 5 and 9)".
fn lacking_places(approach: &Approach, notes: &[usize], melody: &Melody) -> String {
    let count = words::plural(notes.len() as u32, "note", "notes");
    match *notes {
        [note] => {
            let name = approach.wanted_name(melody, &melody.notes[note]);
            let place = melody.place(note, 1);
            format!("{count}: {name} ({}, beat {})", words::bar_numbers(&[place.bar]), place.beat.rounded())
        }
        _ => format!("{count} ({})", words::bars(melody, notes.iter().copied())),
    }
}

/// Says that the range of the tune is wider than that of every harp, if it is: then neither another harp nor bends help.
fn too_wide(request: &Request) -> Option<String> {
    let notes = request.melody.notes.iter().filter(|note| !note.grace).map(|note| note.pitch);
    let (low, high) = notes.minmax().into_option()?;
    let tune = high.midi() - low.midi();
    let range = |harp: &Harp| {
        let pitches = harp.actions().iter().map(|(pitch, _)| pitch.midi()).minmax();
        pitches.into_option().map_or(0, |(low, high)| high - low)
    };
    let harp = request.harps.iter().map(range).max()?;
    (tune > harp).then(|| {
        format!(
            "the range of the tune is {}, wider than any harp that was tried ({}): try changing the tune as little as \
             possible (--adapt)",
            words::distance(tune.into()),
            words::distance(harp.into())
        )
    })
}

/// Returns suggestions for a tune with notes that cannot be played.
pub(super) fn advice(best: &Approach, ranking: &Ranking, request: &Request) -> String {
    if let Some(wide) = too_wide(request) {
        return wide;
    }
    let mut tries = Vec::new();
    if request.harps.len() < 12 {
        tries.push("all twelve harps (without --harps)");
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
        return format!("no harp plays the whole tune in any key with {with}");
    } else if request.harps.len() == 1 {
        format!("the {} does not play the whole tune with {with}", words::harp(best.harp))
    } else {
        format!("no harp that was tried plays the whole tune with {with}")
    };
    let (last, most) =
        tries.split_last().map_or((String::new(), &[][..]), |(last, most)| (last.clone(), most));
    let tries = if most.is_empty() { last } else { format!("{} or {last}", most.join(", ")) };
    format!("{lacking}: try {tries}")
}
