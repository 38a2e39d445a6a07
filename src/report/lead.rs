//! The words of a lead sheet: heading, legend, remarks. The sheet draws them.

use super::{Tune, changes, suggest, words};
use crate::{
    harp::{Action, Bend, Breath},
    melody::Melody,
    search::{Approach, Request},
};

/// What is written on a lead sheet beside its music.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Lead {
    /// The title of the tune.
    pub title: String,
    /// "G major", with the move of the tune where there is one.
    pub key: String,
    /// "C harp, 2nd position, middle register".
    pub playing: String,
    /// What the signs on the sheet mean, those that occur.
    pub legend: Vec<(Sample, String)>,
    /// The verses that have no room under the notes, each with its number.
    pub verses: Vec<String>,
    /// What was changed in the tune, a sentence each.
    pub changes: Vec<String>,
    /// What to look after, if there is something.
    pub caution: Option<String>,
}

/// A sign that the legend explains, for the sheet to draw.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Sample {
    /// The tab of an action.
    Action(Action),
    /// The tab of a note that cannot be sounded.
    Missing,
    /// The tab of a note that is left out.
    LeftOut,
    /// A note that was changed.
    Changed,
    /// An awkward turn of the breath.
    Turn,
    /// A place to breathe.
    Breathe,
    /// A hard bar.
    Hard,
}

/// The words of a sheet.
pub fn lead(tune: &Tune, request: &Request, approach: &Approach) -> Lead {
    let sounding = crate::melody::key::Key { tonic: approach.tonic, ..request.key };
    let mut key = words::key(sounding);
    let moved = [
        (approach.transposed.0 != 0).then(|| words::semitones(approach.transposed.0)),
        (approach.octave != 0).then(|| words::octave(approach.octave)),
    ];
    let moved: Vec<String> = moved.into_iter().flatten().collect();
    if !moved.is_empty() {
        key = format!("{key}, played {}", words::list(&moved));
    }
    let playing = format!(
        "{}, {} position, {} register",
        words::harp(approach.harp),
        approach.position,
        approach.counts.region().word()
    );
    Lead {
        title: tune.title().to_owned(),
        key,
        playing,
        legend: legend(request, approach),
        verses: verses(request.melody),
        changes: changes::lines(request.melody, approach).iter().map(|line| words::sentence(line)).collect(),
        caution: caution(request.melody, approach),
    }
}

/// Where the breath does not come out even, and what to look after then.
fn caution(melody: &Melody, approach: &Approach) -> Option<String> {
    let air = suggest::air(approach, melody);
    let at = (!air.is_empty()).then(|| words::sentence(&air.join("; ")))?;
    Some(format!("{at}. If you feel light-headed, stop and breathe normally until it has passed."))
}

/// How many verses stand under the notes; more are hard to follow there.
pub const VERSES_UNDER_NOTES: u8 = 4;

/// The words of the other verses, as far as they go.
fn verses(melody: &Melody) -> Vec<String> {
    let lyrics = || melody.notes.iter().flat_map(|note| &note.lyrics);
    let last = lyrics().map(|lyric| lyric.verse).max().unwrap_or(0);
    let text = |verse: u8| -> String {
        let syllables = lyrics().filter(|lyric| lyric.verse == verse && !lyric.text.is_empty());
        let parts = syllables.map(|lyric| format!("{}{}", lyric.text, if lyric.hyphen { "" } else { " " }));
        parts.collect::<String>().trim_end().to_owned()
    };
    let texts = (VERSES_UNDER_NOTES + 1..=last).map(|verse| (verse, text(verse)));
    texts.filter(|(_, text)| !text.is_empty()).map(|(verse, text)| format!("{verse}. {text}")).collect()
}

fn legend(request: &Request, approach: &Approach) -> Vec<(Sample, String)> {
    let playing = &approach.playing;
    let actions = || playing.notes.iter().filter_map(|played| played.action);
    let mut legend = Vec::new();
    for breath in [Breath::Blow, Breath::Draw] {
        let plain = actions().find(|action| action.bend == Bend::None && action.breath == breath);
        if let Some(action) = plain {
            let way = match breath {
                Breath::Blow => "above the line, roof up",
                Breath::Draw => "below the line, full, roof down",
            };
            legend.push((Sample::Action(action), format!("{}: {way}", words::hole(action))));
        }
    }
    let deepest = actions().filter_map(|action| match action.bend {
        Bend::Down(depth) => Some(depth),
        Bend::None | Bend::Over => None,
    });
    for depth in 1..=deepest.max().unwrap_or(0) {
        if let Some(action) = actions().find(|action| action.bend == Bend::Down(depth)) {
            legend.push((
                Sample::Action(action),
                format!("{} with a {}", words::hole(action), words::depth(depth)),
            ));
        }
    }
    for breath in [Breath::Blow, Breath::Draw] {
        if let Some(action) = actions().find(|action| action.bend == Bend::Over && action.breath == breath) {
            legend.push((Sample::Action(action), words::hole(action)));
        }
    }
    let silent = |left_out: bool| {
        let silent = playing.notes.iter().enumerate().filter(|(_, played)| played.action.is_none());
        silent.map(|(note, _)| note).any(|note| approach.is_changed(note) == left_out)
    };
    let hard = crate::search::hard::hardest(request.melody, playing, request.weights, 1);
    let signs = [
        (silent(false), Sample::Missing, "this harp lacks the note: leave it out"),
        (silent(true), Sample::LeftOut, "left out of the tune"),
        (!approach.changes.is_empty(), Sample::Changed, "the tune is changed here"),
        (approach.counts.awkward > 0, Sample::Turn, "the breath must turn fast, or turn in a jump"),
        (playing.notes.iter().any(|played| played.breathe_after), Sample::Breathe, "a place to breathe"),
        (!hard.is_empty(), Sample::Hard, "one of the hardest bars: begin with it, slowly"),
    ];
    legend.extend(signs.into_iter().filter(|sign| sign.0).map(|(_, sample, text)| (sample, text.to_owned())));
    legend
}
