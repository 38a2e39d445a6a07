//! The content of the page of a set for the music stand: the harps to pack, the tunes in order, the changes of harp.

use super::{
    bag::{SetTune, in_time},
    book, words,
};

/// A set for the music stand.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Stand {
    /// The heading: "Set of four tunes".
    pub title: String,
    /// The harps to pack, and how often the player changes harps.
    pub verdict: String,
    /// The tunes in order.
    pub rows: Vec<StandRow>,
    /// Remarks, one on each line.
    pub remarks: Vec<String>,
}

/// A tune of a set.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct StandRow {
    /// The change of harp before the tune: "Take C, in 1.2 s", "Take C at once".
    pub change: Option<String>,
    /// The harp, or a dash if no harp can play the tune.
    pub harp: String,
    /// The title of the tune.
    pub title: String,
    /// The position, and the key in which the tune is played: "4th, A minor".
    pub about: String,
}

/// Returns the page of a set.
pub fn stand(tunes: &[SetTune], packed: &[String], failed: &[(String, String)]) -> Stand {
    let mut remarks = Vec::new();
    if tunes.iter().any(|tune| tune.is_changed && !in_time(tune.silence_ms).is_empty()) {
        remarks.push(
            "The time for a change of harp is the rest between the last note of one tune and the first note of the \
             next, if the next tune follows at once."
                .to_owned(),
        );
    }
    let moved = tunes.iter().filter(|tune| tune.entry.best.as_ref().is_some_and(|best| best.transposed != 0));
    let moved: Vec<String> =
        moved.map(|tune| format!("{} ({})", tune.entry.title, words::key(tune.entry.key, None))).collect();
    if !moved.is_empty() {
        remarks.push(format!("Transposed from their own keys: {}.", words::list(&moved)));
    }
    remarks.extend(super::bag::lacking(tunes));
    remarks.extend(failed.iter().map(|(file, error)| format!("Not read: {file}: {error}")));
    Stand {
        title: format!("Set of {}", words::plural(tunes.len() as u32, "tune", "tunes")),
        verdict: super::bag::verdict(tunes, packed),
        rows: tunes.iter().map(row).collect(),
        remarks,
    }
}

fn row(tune: &SetTune) -> StandRow {
    let entry = &tune.entry;
    let own = || words::key(entry.key, None);
    let Some(best) = &entry.best else {
        let about = format!("{}; no harp can play it", own());
        return StandRow { change: None, harp: "–".to_owned(), title: entry.title.clone(), about };
    };
    let key = Some(book::played_in(entry, best)).filter(|key| !key.is_empty()).unwrap_or_else(own);
    StandRow {
        change: tune.is_changed.then(|| {
            let time = Some(in_time(tune.silence_ms)).filter(|time| !time.is_empty());
            format!("Take {}{}", best.harp, time.as_deref().unwrap_or(" at once"))
        }),
        harp: best.harp.clone(),
        title: entry.title.clone(),
        about: format!("{}, {key}", best.position),
    }
}
