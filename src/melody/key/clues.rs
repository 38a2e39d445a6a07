//! What is counted in a melody before any key is thought of.

use crate::{
    melody::{Bar, KeySignature, Melody, phrase},
    pitch::PitchClass,
    time::Beats,
};

/// What a share of everything is: shares are whole numbers of [`WHOLE`] parts.
pub(super) const WHOLE: i64 = 4096;

/// Shares of the notes from C to B, [`WHOLE`] in all, or all zero.
pub(super) type Shares = [i64; 12];

/// All that the election looks at.
#[derive(Default)]
pub(super) struct Clues {
    /// How long each note sounds.
    pub durations: Shares,
    /// The notes on the first beat of full bars.
    pub bar_starts: Shares,
    /// The first of those.
    pub first_stress: Shares,
    /// How long each note sounds in the first full bar of each strain.
    pub first_bars: Shares,
    /// The same in the bar of each strain's last note.
    pub last_bars: Shares,
    /// The last note of each strain.
    pub ends: Shares,
    /// The last note of each strain that is another than its end: the step to the end.
    pub approaches: Shares,
    /// The last note of the tune; `None` where nothing sounds.
    pub last: Option<PitchClass>,
    /// The signature at the start.
    pub signature: Option<KeySignature>,
    /// The roots of the first and the last chord symbol.
    pub chords: Option<(PitchClass, PitchClass)>,
}

/// A bar that lasts less than this many quarters of what its meter says is a pickup, not a bar.
const FULL: i64 = 3;

/// A sounding note, reduced to what counts.
struct Sound {
    class: usize,
    ticks: i64,
    bar: usize,
    /// Whether it is the first thing in a full bar.
    starts_bar: bool,
    ends_strain: bool,
}

/// Counts a melody's clues.
///
/// A strain is what stands between repeat signs and double bars; many tunes come to rest on the tonic at the
/// end of the first strain, and stop in the middle of things, for another round, at the end of the last.
pub(super) fn gather(melody: &Melody) -> Clues {
    let full: Vec<bool> = melody.bars.iter().map(is_full).collect();
    let is_full = |bar: usize| full.get(bar).is_none_or(|&full| full);
    let mut sounds: Vec<Sound> = Vec::with_capacity(melody.notes.len());
    for (index, note) in melody.notes.iter().enumerate() {
        // A grace note has no weight, but the strain may end after it.
        let ends_strain = phrase::ends_section(melody, index);
        let length = note.duration.units();
        if length > 0 && !note.grace {
            let bar = melody.bars.get(note.bar).filter(|_| is_full(note.bar));
            let starts_bar = bar.is_some_and(|bar| bar.start.units() == note.onset.units());
            let class = usize::from(note.pitch.class().semitones());
            sounds.push(Sound { class, ticks: length, bar: note.bar, starts_bar, ends_strain });
        } else if let Some(last) = sounds.last_mut() {
            last.ends_strain |= ends_strain;
        }
    }
    let mut clues = Clues { signature: melody.signatures.first().copied(), ..Clues::default() };
    let roots: Vec<PitchClass> = melody.chords.iter().filter_map(|chord| Some(chord.root?.class())).collect();
    if let [first, .., last] = *roots {
        clues.chords = Some((first, last));
    }
    for sound in &sounds {
        clues.durations[sound.class] += sound.ticks;
        clues.bar_starts[sound.class] += i64::from(sound.starts_bar);
    }
    if let Some(first) = sounds.iter().find(|sound| sound.starts_bar).or(sounds.first()) {
        clues.first_stress[first.class] = 1;
    }
    for strain in sounds.split_inclusive(|sound| sound.ends_strain) {
        let (Some(first), Some(last)) = (strain.first(), strain.last()) else { continue };
        let opening = strain.iter().find(|sound| is_full(sound.bar)).unwrap_or(first).bar;
        for (shares, bar) in [(&mut clues.first_bars, opening), (&mut clues.last_bars, last.bar)] {
            let mut one = [0; 12];
            for sound in strain.iter().filter(|sound| sound.bar == bar) {
                one[sound.class] += sound.ticks;
            }
            shares.iter_mut().zip(normalised(one)).for_each(|(sum, share)| *sum += share);
        }
        clues.ends[last.class] += 1;
        if let Some(before) = strain.iter().rev().find(|sound| sound.class != last.class) {
            clues.approaches[before.class] += 1;
        }
        clues.last = Some(PitchClass::new(last.class as i16));
    }
    for shares in [
        &mut clues.durations,
        &mut clues.bar_starts,
        &mut clues.first_stress,
        &mut clues.first_bars,
        &mut clues.last_bars,
        &mut clues.ends,
        &mut clues.approaches,
    ] {
        *shares = normalised(*shares);
    }
    clues
}

fn is_full(bar: &Bar) -> bool {
    bar.meter.is_none_or(|meter| {
        // A bar is so many quarters of a whole note: 4 · UNITS · beats / unit.
        let whole = 4 * Beats::UNITS * i64::from(meter.beats) / i64::from(meter.unit.max(1));
        4 * bar.length.units() >= FULL * whole
    })
}

/// The same in [`WHOLE`] parts.
fn normalised(counts: Shares) -> Shares {
    let sum = counts.iter().fold(0i64, |sum, &count| sum.saturating_add(count));
    if sum == 0 { counts } else { counts.map(|count| count.saturating_mul(WHOLE) / sum) }
}
