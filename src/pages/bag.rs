//! The pages of a bag (which harps to own) and of a set (which harps to bring).

use super::{
    Block, Column, Line, Page, Table, Tone,
    book::{LISTED, TITLE, cut, failures},
    words,
};
use crate::book::{
    Entry,
    bag::{Bag, Standard},
};

/// The facts for the page of a bag.
#[derive(Clone, Copy, Debug)]
pub struct BagFacts<'a> {
    /// The names of the harps considered.
    pub harps: &'a [String],
    /// The names of the harps that the player already owns.
    pub owned: &'a [String],
    /// The number of tunes that the owned harps play well.
    pub owned_tunes: usize,
    /// The number of tunes that were read.
    pub tunes: usize,
    /// The best bags, the cheapest first; without prices, the smallest first.
    pub bags: &'a [Bag],
    /// Whether the harps have prices. Without prices, bags are compared by their number of harps.
    pub priced: bool,
    /// The conditions for playing a tune well.
    pub standard: Standard,
    /// The tunes that no harp plays well, each with the best way to play it.
    pub unplayable: &'a [&'a Entry],
    /// The files that could not be read.
    pub failures: &'a [(String, String)],
}

/// Returns the page of a bag.
pub fn bag(facts: &BagFacts) -> Page {
    let mut page = Page::default();
    let tunes = if facts.tunes == 1 { "tune" } else { "tunes" };
    let reached = facts.tunes - facts.unplayable.len();
    let all = facts.tunes;
    let line = format!("{all} {tunes}; {reached} of them can be played well on the harps considered");
    page.text(Tone::Strong.of(line));
    if !facts.owned.is_empty() {
        let owned = words::list(facts.owned);
        page.text(format!("Owned already: {owned}, enough to play {} of the tunes well", facts.owned_tunes));
    }
    page.gap();
    let shown = shown(facts);
    page.blocks.push(Block::Table(bags(facts, &shown)));
    if shown.len() < facts.bags.len() {
        page.text(Tone::Faint.of(format!(
            "{} more bags lie between these; --json lists all bags.",
            facts.bags.len() - shown.len()
        )));
    }
    if let Some(open) = facts.bags.iter().find(|bag| bag.at_most > bag.tunes) {
        let size = if facts.priced {
            format!("a price of {}", open.price)
        } else {
            words::plural(open.harps.len() as u32, "harp", "harps")
        };
        page.text(format!(
            "From {size} on, these are the best bags found in the time allowed; no bag of that size plays \
             more than {} tunes.",
            open.at_most
        ));
    }
    unplayable(&mut page, facts.standard, facts.unplayable);
    failures(&mut page, facts.failures);
    page
}

/// The most bags that are always listed. If there are more, the page leaves some out and lists about this many or
/// fewer.
const BAGS: usize = 20;

/// Returns the bags to list. If there are too many, these are the bags that play clearly more tunes than the bag listed
/// before, and the last bag.
fn shown<'a>(facts: &BagFacts<'a>) -> Vec<&'a Bag> {
    let Some(last) = facts.bags.last().filter(|_| facts.bags.len() > BAGS) else {
        return facts.bags.iter().collect();
    };
    let step = (last.tunes - facts.owned_tunes).div_ceil(BAGS);
    let mut least = facts.owned_tunes + step;
    let mut is_shown = |bag: &&Bag| {
        let is_shown = bag.tunes >= least || bag.tunes == last.tunes;
        if is_shown {
            least = bag.tunes + step;
        }
        is_shown
    };
    facts.bags.iter().filter(|bag| is_shown(bag)).collect()
}

fn bags(facts: &BagFacts, shown: &[&Bag]) -> Table {
    let mut columns = vec![
        Column::numbers("buy"),
        Column::words("harps"),
        Column::numbers("play"),
        Column::numbers("more"),
    ];
    columns.extend(facts.priced.then(|| Column::numbers("price")));
    let mut before = facts.owned_tunes;
    let rows = shown.iter().map(|bag| {
        let size = bag.harps.len();
        let names: Vec<&str> = bag.harps.iter().map(|&harp| facts.harps[harp].as_str()).collect();
        let more = bag.tunes - std::mem::replace(&mut before, bag.tunes);
        let mut cells = vec![size.to_string(), names.join(", "), bag.tunes.to_string(), format!("+{more}")];
        cells.extend(facts.priced.then(|| bag.price.to_string()));
        cells.into_iter().map(Line::from).collect()
    });
    let rows = rows.collect();
    Table { columns, rows }
}

/// Lists the first of the tunes that no harp plays well, each with the reason, and the number of the others.
fn unplayable(page: &mut Page, standard: Standard, entries: &[&Entry]) {
    if entries.is_empty() {
        return;
    }
    page.heading("Not played well on any harp");
    page.text(Tone::Faint.of(format!(
        "Well: at most {} points of effort a note{}, and no note missing but a passing note or two.",
        standard.effort,
        if standard.unbent { ", no note bent" } else { "" }
    )));
    for entry in entries.iter().take(LISTED) {
        page.item(format!("{}: {}", entry.title, why(entry)));
    }
    if entries.len() > LISTED {
        page.item(format!("and {} more", entries.len() - LISTED));
    }
}

/// Returns "takes 93 points of effort a note on the easiest harp, A, with 22 notes bent and two missing".
fn why(entry: &Entry) -> String {
    let Some(best) = &entry.best else { return "no harp can play it".to_owned() };
    let effort = entry.effort_per_note().unwrap_or(0);
    let notes = [(best.bends, "bent"), (best.missing.len() as u32, "missing")];
    let notes = notes.into_iter().filter(|&(count, _)| count > 0);
    let notes: Vec<String> =
        notes.map(|(count, how)| format!("{} {how}", words::plural(count, "note", "notes"))).collect();
    let with = if notes.is_empty() { String::new() } else { format!(", with {}", words::list(&notes)) };
    format!("takes {effort} points of effort a note on the easiest harp, {}{with}", best.harp)
}

/// A tune of a set.
#[derive(Clone, Debug)]
pub struct SetTune {
    /// The tune, with the best way to play it on the chosen harp.
    pub entry: Entry,
    /// Whether the player must change harps before this tune.
    pub is_changed: bool,
    /// The silence before this tune, in milliseconds, if the tune follows at once: from the last note of the previous
    /// tune to the first note of this tune.
    pub silence_ms: u64,
}

/// Returns the page of a set.
pub fn set(tunes: &[SetTune], packed: &[String], effort: u64, failed: &[(String, String)]) -> Page {
    let mut page = Page::default();
    page.text(Tone::Strong.of(verdict(tunes, packed)));
    page.gap();
    let columns = [
        Column::numbers(""),
        Column::words("tune"),
        Column::words("key"),
        Column::words("harp"),
        Column::words("pos."),
    ];
    let columns = columns.into_iter().chain([Column::words("played in"), Column::words("change")]);
    let rows = (1..).zip(tunes).map(|(number, tune): (usize, _)| {
        let entry = &tune.entry;
        let best = entry.best.as_ref();
        let change = match (tune.is_changed, best) {
            (true, Some(best)) => format!("take {}{}", best.harp, in_time(tune.silence_ms)),
            (_, None) => "no harp can play it".to_owned(),
            _ => String::new(),
        };
        let cells = [
            number.to_string(),
            cut(&entry.title, TITLE),
            words::key(entry.key, None),
            best.map_or_else(String::new, |best| best.harp.clone()),
            best.map_or_else(String::new, |best| best.position.to_string()),
            best.map_or_else(String::new, |best| super::book::played_in(entry, best)),
            change,
        ];
        cells.into_iter().map(Line::from).collect()
    });
    let rows = rows.collect();
    page.blocks.push(Block::Table(Table { columns: columns.collect(), rows }));
    let mut remark = format!("Total effort: {effort} (a step to the next hole costs ten points).");
    if let Some(tune) = tunes.iter().find(|tune| tune.is_changed && !in_time(tune.silence_ms).is_empty()) {
        remark += &format!(
            " \"{}\" is the rest between the last note of one tune and the first note of the next, if the next tune \
             follows at once.",
            in_time(tune.silence_ms).trim_start_matches(", ")
        );
    }
    lacking(tunes).into_iter().for_each(|line| page.text(line));
    page.text(Tone::Faint.of(remark));
    failures(&mut page, failed);
    page
}

/// Returns a line for each tune whose harp does not play all its notes: "Lamps lacks two notes on the G harp."
pub(super) fn lacking(tunes: &[SetTune]) -> Vec<String> {
    let lines = tunes.iter().filter_map(|tune| {
        let best = tune.entry.best.as_ref().filter(|best| !best.is_full)?;
        let count = words::plural(best.missing.len() as u32, "note", "notes");
        Some(format!("{} lacks {count} on the {} harp.", tune.entry.title, best.harp))
    });
    lines.collect()
}

/// Returns "Pack F, C and Bb; the harp changes twice".
pub(super) fn verdict(tunes: &[SetTune], packed: &[String]) -> String {
    let changes = match tunes.iter().filter(|tune| tune.is_changed).count() as u32 {
        0 => "the harp stays the same".to_owned(),
        changes => format!("the harp changes {}", words::times(changes)),
    };
    format!("Pack {}; {changes}", words::list(packed))
}

/// Returns ", in 1.2 s", or nothing for less than a tenth of a second.
pub(super) fn in_time(ms: u64) -> String {
    if ms < 100 { String::new() } else { format!(", in {}.{} s", ms / 1000, ms % 1000 / 100) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_bags_are_listed_in_steps_up_to_the_last() {
        let bag =
            |size: usize| Bag { harps: vec![0], price: size as u64, tunes: 10 + size, at_most: 10 + size };
        for (bags, listed) in [(20, 20), (21, 11), (113, 19), (400, 20)] {
            let bags: Vec<Bag> = (1..=bags).map(bag).collect();
            let facts = BagFacts {
                harps: &["C".to_owned()],
                owned: &[],
                owned_tunes: 10,
                tunes: 500,
                bags: &bags,
                priced: true,
                standard: Standard { effort: 60, unbent: false },
                unplayable: &[],
                failures: &[],
            };
            let shown = shown(&facts);
            assert_eq!((shown.len(), shown.last().copied()), (listed, bags.last()));
            // From one listed bag to the next, the number of tunes grows by at most a twentieth of its whole range,
            // rounded up.
            let steps = shown.windows(2).map(|pair| pair[1].tunes - pair[0].tunes);
            assert!(steps.max() <= Some(bags.len().div_ceil(BAGS)));
        }
    }
}
