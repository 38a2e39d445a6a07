//! The bars that cost most, the reason why each is hard, and the tempo at which each would be comfortable.
//!
//! A step from note to note is *comfortable* at a tempo at which its breath change is not awkward and its jump is not
//! hurried. A bent note is comfortable at a tempo at which it is not hurried. These limits are times
//! ([`Weights::comfortable_ms`], [`super::effort::BendWeights::quick_ms`]), so they determine the tempo: a step with
//! half the needed time is comfortable at half the tempo.

use super::{
    Approach, Request,
    effort::Weights,
    path::Playing,
    term::{Effort, Term},
};
use crate::{
    harp::{Action, Bend},
    melody::Melody,
    time::Beats,
};

/// A bar that is much harder than the average.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct HardBar {
    /// The index of the bar in the melody's bars.
    pub bar: usize,
    /// The effort of the bar's notes.
    pub effort: Effort,
    /// The step or note that lacks the most time, if any is hurried.
    pub hurry: Option<Hurry>,
}

/// A step or a bent note that has less time than is comfortable.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Hurry {
    /// The note at the end of the step, or the hurried bent note itself.
    pub note: usize,
    /// The action at the start of the step; `None` for a bent note that is too short.
    pub from: Option<Action>,
    /// The available time in milliseconds.
    pub has_ms: u32,
    /// The comfortable time in milliseconds, which exceeds the available time.
    pub wants_ms: u32,
}

impl Hurry {
    /// Returns the tempo at which the step or note would be comfortable, in per cent of the tune's tempo, rounded down.
    pub fn comfortable_percent(&self) -> u32 {
        (u64::from(self.has_ms) * 100 / u64::from(self.wants_ms.max(1))) as u32
    }
}

/// Returns the hardest bars in order of the tune, at most `count`. A bar is hard if it costs more than one and a half
/// times the average of the bars that cost anything; the dearest bars are taken first, and the earlier of equal bars. A
/// tune that is equally hard throughout has no hard bars.
pub fn hardest(melody: &Melody, playing: &Playing, weights: &Weights, count: usize) -> Vec<HardBar> {
    let mut efforts = vec![Effort::default(); melody.bars.len()];
    for (note, played) in melody.notes.iter().zip(&playing.notes) {
        // A caller may build a melody without bars.
        let Some(effort) = efforts.get_mut(note.bar) else { continue };
        // A changed note is no harder to play, and all bars share the position's price, so neither term makes a bar
        // hard.
        *effort += played.effort.with(Term::Changes, 0).with(Term::Position, 0);
    }
    // Efforts saturate at the highest number, so the sum over many bars needs more than 64 bits.
    let total: u128 = efforts.iter().map(|effort| u128::from(effort.total())).sum();
    let sounding = efforts.iter().filter(|effort| effort.total() > 0).count() as u128;
    let stands_out =
        |effort: &Effort| (u128::from(effort.total()) * sounding).saturating_mul(2) > total.saturating_mul(3);
    let mut bars: Vec<usize> = (0..efforts.len()).filter(|&bar| stands_out(&efforts[bar])).collect();
    bars.sort_by_key(|&bar| (std::cmp::Reverse(efforts[bar].total()), bar));
    bars.truncate(count);
    bars.sort_unstable();
    let hurries = hurries(melody, playing, weights);
    let worst = |bar: usize| {
        let inside = hurries.iter().filter(|hurry| melody.notes[hurry.note].bar == bar);
        inside.min_by_key(|hurry| (hurry.comfortable_percent(), hurry.note)).copied()
    };
    bars.into_iter().map(|bar| HardBar { bar, effort: efforts[bar], hurry: worst(bar) }).collect()
}

/// Returns the highest tempo at which the whole playing is comfortable, in per cent of the tune's tempo; `None` if the
/// playing is comfortable at any tempo.
pub fn comfortable_percent(melody: &Melody, playing: &Playing, weights: &Weights) -> Option<u32> {
    let times = times(melody, playing, weights).into_iter();
    times.filter(|time| time.wants_ms > 0).map(|time| time.comfortable_percent()).min()
}

/// Returns the highest comfortable tempo, in quarters a minute at the start of the tune; `None` if any tempo is
/// comfortable.
pub fn comfortable_tempo(request: &Request, approach: &Approach) -> Option<u64> {
    let percent = comfortable_percent(request.melody, &approach.playing, request.weights)?;
    Some(at_percent(request.melody, Beats::ZERO, percent))
}

/// Returns a percentage of the tempo at a point of the tune, in quarters a minute, rounded down.
pub(crate) fn at_percent(melody: &Melody, at: Beats, percent: u32) -> u64 {
    600_000 * u64::from(percent) / u64::from(melody.tempo.micros_per_quarter(at).max(1))
}

/// Returns every step and bent note with less time than is comfortable, in order.
pub fn hurries(melody: &Melody, playing: &Playing, weights: &Weights) -> Vec<Hurry> {
    let mut hurries = times(melody, playing, weights);
    hurries.retain(|time| time.has_ms < time.wants_ms);
    hurries
}

/// Returns every step that follows no rest, and every bent note, with the available and the comfortable time.
pub(crate) fn times(melody: &Melody, playing: &Playing, weights: &Weights) -> Vec<Hurry> {
    let mut times = Vec::new();
    let mut before: Option<((u64, u64), Action)> = None;
    for (index, (sounding, played)) in melody.timing().into_iter().zip(&playing.notes).enumerate() {
        let Some(action) = played.action else { continue };
        let span = (sounding.start / 1000, sounding.end / 1000);
        if let Some((from_span, from)) = before {
            let gap = weights.gap(from_span, span);
            if !gap.rested {
                let wants_ms = weights.comfortable_ms(from, action);
                times.push(Hurry { note: index, from: Some(from), has_ms: gap.time_ms, wants_ms });
            }
        }
        if action.bend != Bend::None && !melody.notes[index].grace {
            let has_ms = u32::try_from(span.1 - span.0).unwrap_or(u32::MAX);
            times.push(Hurry { note: index, from: None, has_ms, wants_ms: weights.bends.quick_ms });
        }
        before = Some((span, action));
    }
    times
}
