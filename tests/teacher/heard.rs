//! How much each note of a tune is heard: the weight of a missing note.

use breathline::{
    melody::{Melody, Note, phrase},
    time::Beats,
};

/// The weights of a tune's notes.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Heard {
    /// The weight of each note, in hundredths of a plain note.
    weights: Vec<u64>,
    /// Whether each note is hardly missed: a grace note, a passing note, or a short note off the beat.
    minor: Vec<bool>,
}

impl Heard {
    /// The weight of a note is `sqrt(duration / mean duration)`, times 1.25 on the downbeat and 0.8 off the beat, times
    /// 1.5 at the end of a phrase and 2 at the end of the tune, times 0.6 if the line passes through it (short, off the
    /// downbeat, a step on both sides), and times 0.7 if it repeats the previous note. The weight of a grace note is
    /// 0.15. The factors are our judgement, without a source.
    pub(crate) fn of(melody: &Melody) -> Heard {
        let main: Vec<&Note> = melody.notes.iter().filter(|note| !note.grace).collect();
        let mean = main.iter().map(|note| note.duration.as_f64()).sum::<f64>() / main.len().max(1) as f64;
        let phrase_ends: Vec<usize> = phrase::ends(melody).into_iter().map(|end| end.note).collect();
        let (mut weights, mut minor) = (Vec::new(), Vec::new());
        let mut at = 0_usize;
        for (index, note) in melody.notes.iter().enumerate() {
            if note.grace {
                weights.push(15);
                minor.push(true);
                continue;
            }
            let before = at.checked_sub(1).map(|before| main[before]);
            let after = main.get(at + 1).copied();
            at += 1;
            let duration = note.duration.as_f64();
            let metre = metre(melody, note);
            let short = duration <= mean;
            let is_step = |other: Option<&Note>| {
                other.is_some_and(|other| matches!(note.pitch.midi().abs_diff(other.pitch.midi()), 1 | 2))
            };
            let passing = short && metre != Metre::Downbeat && is_step(before) && is_step(after);
            let end = match (after, phrase_ends.contains(&index)) {
                (None, _) => 2.0,
                (_, true) => 1.5,
                _ => 1.0,
            };
            let repeated = before.is_some_and(|before| before.pitch == note.pitch);
            let weight = (duration / mean).sqrt()
                * metre.factor()
                * end
                * if passing { 0.6 } else { 1.0 }
                * if repeated { 0.7 } else { 1.0 };
            weights.push((100.0 * weight).round() as u64);
            minor.push(passing || short && metre == Metre::Off);
        }
        Heard { weights, minor }
    }

    /// Whether a note is hardly missed.
    pub(crate) fn is_minor(&self, note: usize) -> bool {
        self.minor[note]
    }

    /// Returns the weight of some notes in ten thousandths of the whole tune's weight.
    pub(crate) fn share(&self, notes: &[usize]) -> u64 {
        let some: u64 = notes.iter().map(|&note| self.weights[note]).sum();
        10_000 * some / self.weights.iter().sum::<u64>().max(1)
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Metre {
    Downbeat,
    Beat,
    Off,
}

impl Metre {
    fn factor(self) -> f64 {
        match self {
            Metre::Downbeat => 1.25,
            Metre::Beat => 1.0,
            Metre::Off => 0.8,
        }
    }
}

/// Returns whether a note is on the downbeat, on another felt beat, or off the beat. In 6/8 and similar meters, a felt
/// beat is three written beats.
fn metre(melody: &Melody, note: &Note) -> Metre {
    let bar = &melody.bars[note.bar];
    let felt = bar.meter.map_or(1, |meter| if meter.felt_beat() > meter.written_beat() { 3 } else { 1 });
    match (bar.beat(note.onset) - Beats::quarters(1)).fraction() {
        (0, _) => Metre::Downbeat,
        (beats, 1) if beats % felt == 0 => Metre::Beat,
        _ => Metre::Off,
    }
}
