//! Small tunes written as text.

use breathline::{
    melody::{Bar, Melody, Note},
    pitch::{Pitch, PitchClass},
    time::{Beats, Meter, TempoMap},
};

/// Reads a tune in 4/4: note names with octaves, each a quarter long unless `:` and a length in quarters follow; `r` is
/// a rest; `~` before a name marks a grace note. `C4 ~D4 E4:1/2 r:3/2 G4:2`
pub(crate) fn tune(text: &str, beats_per_minute: u32) -> Melody {
    let mut notes = Vec::new();
    let mut now = Beats::ZERO;
    for token in text.split_whitespace() {
        let (name, length) = token.split_once(':').unwrap_or((token, "1"));
        let length = match length.split_once('/') {
            Some((over, under)) => Beats::new(over.parse().unwrap(), under.parse().unwrap()),
            None => Beats::new(length.parse().unwrap(), 1),
        };
        let (name, grace) = name.strip_prefix('~').map_or((name, false), |name| (name, true));
        if name != "r" {
            let duration = if grace { Beats::ZERO } else { length };
            notes.push(Note { grace, ..Note::new(now, duration, pitch(name), bar_of(now)) });
        }
        if !grace {
            now += length;
        }
    }
    let bars = (0..=bar_of(now))
        .map(|bar| Bar::full(bar as u32 + 1, Beats::quarters(4 * bar as i32), Meter::COMMON));
    Melody {
        notes,
        bars: bars.collect(),
        tempo: TempoMap::new([(Beats::ZERO, 60_000_000 / beats_per_minute)]),
        ..Melody::default()
    }
}

fn bar_of(at: Beats) -> usize {
    (at.as_f64() / 4.0) as usize
}

/// Returns the pitch of a name: `Bb3` is MIDI note 58.
pub(crate) fn pitch(name: &str) -> Pitch {
    let (class, octave) = name.split_at(name.len() - 1);
    let (class, octave): (PitchClass, u8) = (PitchClass::parse(class).unwrap(), octave.parse().unwrap());
    Pitch::new(12 * (octave + 1) + class.semitones()).unwrap()
}
