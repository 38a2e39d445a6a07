//! What else could be played instead of the winner: the next choice, the best without bends, a harp of another register, and
//! what to try where notes are missing.

use super::{reasons::missing_notes, tab, words};
use crate::{
    harp::{Harp, Register, Technique},
    melody::Melody,
    search::{Approach, Ranking, Region, Request},
};

/// What the next approach offers instead: "the next choice, a G harp in 1st position, has two bends more but …".
pub(super) fn against(best: &Approach, rival: &Approach) -> String {
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
        if kind == "missing note" && ours == 0 && theirs > 0 {
            worse.push(format!("{} missing", words::plural(theirs, "note", "notes")));
            continue;
        }
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
pub(super) fn without_bends(
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
    let told = is_mostly_bent(best, unbent);
    (!told).then(|| format!("without bends{who} lacks {}", unbent_lacks(unbent, request.melody)))
}

/// "or, much easier, an F harp in 1st position without bends; it lacks one note: B5 (bar 7, beat 1)": said at once where
/// every note is there, but more than every fourth is bent.
pub(super) fn much_easier(best: &Approach, ranking: &Ranking, request: &Request) -> Option<String> {
    let unbent = ranking.unbent.as_ref().filter(|unbent| is_mostly_bent(best, unbent))?;
    let same = (best.harp, best.shift()) == (unbent.harp, unbent.shift());
    let who = if same { "the same".to_owned() } else { named(unbent, best) };
    Some(format!("or, much easier, {who} without bends; it lacks {}", unbent_lacks(unbent, request.melody)))
}

/// Whether more than every fourth note of the winner is bent, and what lacks notes without bends costs less.
fn is_mostly_bent(best: &Approach, unbent: &Approach) -> bool {
    let cheaper = unbent.playing.effort.total() < best.playing.effort.total();
    !unbent.counts.is_full() && best.counts.bends() * 4 > best.counts.notes && cheaper
}

fn unbent_lacks(unbent: &Approach, melody: &Melody) -> String {
    let lacking: Vec<usize> = missing_notes(unbent).filter(|&note| !melody.notes[note].grace).collect();
    lacking_places(unbent, &lacking, melody)
}

/// "one note: F#5 (bar 7, beat 2)", "eight notes (bars 3, 5 and 9)".
fn lacking_places(approach: &Approach, notes: &[usize], melody: &Melody) -> String {
    let count = words::plural(notes.len() as u32, "note", "notes");
    match *notes {
        [note] => {
            let name = approach.wanted(melody, &melody.notes[note]);
            let name = name.map_or_else(|| "?".to_owned(), |name| name.to_string());
            let place = melody.place(note, 1);
            format!(
                "{count}: {name} ({}, beat {})",
                words::bar_numbers(&[place.bar]),
                words::beat(place.beat)
            )
        }
        _ => format!("{count} ({})", words::bars(melody, notes.iter().copied())),
    }
}

/// "a low G harp has the same tab as written", where the winner plays an octave away and no such harp was tried.
pub(super) fn other_register(best: &Approach, request: &Request) -> Option<String> {
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

/// What else could be tried when not all can be played.
pub(super) fn advice(best: &Approach, ranking: &Ranking, request: &Request) -> String {
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
