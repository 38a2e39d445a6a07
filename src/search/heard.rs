//! How much each note of a tune is heard. The price of leaving a note out depends on it.
//!
//! A missing note costs [`MissingWeights::note`] times its weight. The weight is a product of factors: how long the
//! note lasts, its place in the bar and in the phrase, whether the line only passes through it, and whether it repeats
//! the previous note. The factors are judgements of common practice, without a source. Long, accented and final notes
//! weigh most because listeners remember them (Lerdahl and Jackendoff's reductions keep the same notes; from memory).

use serde::Deserialize;

use crate::melody::{
    Melody,
    phrase::{self, PhraseEnd},
};

/// The price of a missing note. The factors are percentages.
#[derive(Clone, PartialEq, Eq, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MissingWeights {
    /// Points for a note of average length, on a beat, within a phrase. A harp that lacks one such note wins over a
    /// harp that has the note if it saves more than this price.
    pub note: u32,
    /// Points for a grace note in any place: players readily leave grace notes out.
    pub grace: u32,
    /// The factor of a note on the first beat of a bar.
    pub downbeat: u32,
    /// The factor of a note between two beats.
    pub off_beat: u32,
    /// The factor of a note at the end of a phrase.
    pub phrase_end: u32,
    /// The factor of the tune's last note.
    pub last: u32,
    /// The factor of a short note off the downbeat, with a step before and after it.
    pub passing: u32,
    /// The factor of a note that repeats the previous pitch.
    pub repeated: u32,
}

/// The properties that determine how much a note is heard.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Heard {
    /// The square root of the note's length divided by the tune's average length, in hundredths: a note four times as
    /// long weighs twice as much.
    pub length: u32,
    /// Whether the note is a grace note; a grace note has a fixed price, so its other properties have no effect.
    pub grace: bool,
    /// The note's place in its bar.
    pub beat: Beat,
    /// Whether a phrase or the tune ends with the note.
    pub end: End,
    /// Whether the line passes through the note: the note is short, not on a downbeat, and has a step before and after
    /// it.
    pub passing: bool,
    /// Whether the note repeats the previous pitch.
    pub repeated: bool,
}

/// The place of a note in its bar.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Beat {
    /// On the first beat.
    Down,
    /// On another beat; in music without a meter, anywhere in the bar.
    On,
    /// Between beats.
    Off,
}

/// Whether a note ends a phrase or the tune.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum End {
    /// No end.
    None,
    /// The end of a phrase.
    Phrase,
    /// The end of the tune.
    Tune,
}

/// Returns, for each note of a melody, the properties that determine how much the note is heard.
pub fn heard(melody: &Melody) -> Vec<Heard> {
    in_phrases(melody, &phrase::ends(melody))
}

/// Returns the same as [`heard`], for a melody whose phrase ends are known.
pub(super) fn in_phrases(melody: &Melody, ends: &[PhraseEnd]) -> Vec<Heard> {
    let main: Vec<usize> = (0..melody.notes.len()).filter(|&note| !melody.notes[note].grace).collect();
    // The written lengths count: neither the tempo nor an ornament changes how much a note is heard in comparison with
    // others.
    let lasts = |note: usize| melody.notes[note].duration.units().unsigned_abs();
    let whole: u128 = main.iter().map(|&note| u128::from(lasts(note))).sum();
    let length = |note: usize| {
        // 100 · sqrt(length / (whole / count)).
        let square = u128::from(lasts(note)) * main.len() as u128 * 10_000;
        u32::try_from(square.checked_div(whole).unwrap_or(10_000).isqrt()).unwrap_or(u32::MAX)
    };
    let grace =
        Heard { length: 100, grace: true, beat: Beat::On, end: End::None, passing: false, repeated: false };
    let mut heard = vec![grace; melody.notes.len()];
    for (at, &note) in main.iter().enumerate() {
        let pitch = |at: usize| melody.notes[main[at]].pitch;
        let before = at.checked_sub(1).map(pitch);
        let after = (at + 1 < main.len()).then(|| pitch(at + 1));
        let is_step = |other| (1..=2).contains(&pitch(at).midi().abs_diff(other));
        let stepwise =
            [before, after].into_iter().all(|other| other.is_some_and(|other| is_step(other.midi())));
        let (length, beat) = (length(note), beat(melody, note));
        heard[note] = Heard {
            length,
            beat,
            passing: stepwise && length <= 100 && beat != Beat::Down,
            repeated: before == Some(pitch(at)),
            ..Heard { grace: false, ..grace }
        };
    }
    for end in ends {
        heard[end.note].end = End::Phrase;
    }
    if let Some(&last) = main.last() {
        heard[last].end = End::Tune;
    }
    heard
}

fn beat(melody: &Melody, note: usize) -> Beat {
    let note = &melody.notes[note];
    let bar = &melody.bars.get(note.bar);
    let Some((bar, meter)) = bar.and_then(|bar| Some((bar, bar.meter?))) else { return Beat::On };
    // The place is counted from the beginning of the bar; in a pickup, from the beginning of the bar that it completes.
    let length = bar.length.units();
    let lacking = if bar.number == 0 { (meter.bar().units() - length).max(0) } else { 0 };
    let into = note.onset.units() - bar.start.units() + lacking;
    let felt = meter.felt_beat().units();
    match into {
        0 => Beat::Down,
        into if into % felt.max(1) == 0 => Beat::On,
        _ => Beat::Off,
    }
}

impl Heard {
    /// Returns the note's weight in hundredths; a note of average length on a beat weighs 100.
    pub fn weight(&self, weights: &MissingWeights) -> u64 {
        if self.grace {
            return 100 * u64::from(weights.grace) / u64::from(weights.note).max(1);
        }
        self.of(100, weights) / 100
    }

    /// Returns the price of leaving the note out, in points.
    pub(super) fn price(&self, weights: &MissingWeights) -> u64 {
        if self.grace { weights.grace.into() } else { self.of(weights.note.into(), weights) / 100 }
    }

    /// Returns `each` times the note's weight, in hundredths of a point.
    fn of(&self, each: u64, weights: &MissingWeights) -> u64 {
        let beat = match self.beat {
            Beat::Down => weights.downbeat,
            Beat::On => 100,
            Beat::Off => weights.off_beat,
        };
        let end = match self.end {
            End::None => 100,
            End::Phrase => weights.phrase_end,
            End::Tune => weights.last,
        };
        let passing = if self.passing { weights.passing } else { 100 };
        let repeated = if self.repeated { weights.repeated } else { 100 };
        let factors = [beat, end, passing, repeated].map(u64::from);
        let long = each.saturating_mul(self.length.into());
        factors.into_iter().fold(long, |so_far, per_cent| so_far.saturating_mul(per_cent) / 100)
    }
}
