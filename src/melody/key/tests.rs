use super::*;
use crate::{
    melody::{Bar, KeySignature, Note},
    pitch::Pitch,
    time::{Beats, Meter},
};

/// A tune of quarters in 4/4 from MIDI numbers; a negative number doubles the length of the one before.
fn tune(midi: &[i16]) -> Melody {
    let mut melody = Melody::default();
    let mut at = Beats::ZERO;
    for &midi in midi {
        let quarter = Beats::quarters(1);
        match (u8::try_from(midi).ok().and_then(Pitch::new), melody.notes.last_mut()) {
            (Some(pitch), _) => {
                let bar = (at.as_f64() / 4.0) as usize;
                melody.notes.push(Note::new(at, quarter, pitch, bar));
            }
            (None, Some(last)) => last.duration += quarter,
            (None, None) => {}
        }
        at += quarter;
    }
    let bars = (at.as_f64() / 4.0).ceil() as i32;
    melody.bars = (0..bars).map(|i| Bar::full(i as u32 + 1, Beats::quarters(4 * i), Meter::COMMON)).collect();
    melody
}

#[test]
fn keys_are_read_as_they_are_written() {
    for key in Key::all() {
        assert_eq!(key.to_string().parse(), Ok(key));
    }
    for (text, key) in
        [("em", "E minor"), ("CM", "C major"), (" b flat minor ", "Bb minor"), ("F♯ lyd", "F# lydian")]
    {
        assert_eq!(text.parse::<Key>().unwrap().to_string(), key);
    }
    for text in ["", "H", "D dor x", "#", "é", "B#b"] {
        assert!(text.parse::<Key>().is_err(), "{text}");
    }
}

#[test]
fn a_key_has_the_signature_of_its_scale() {
    for (key, sharps) in [("D dorian", 0), ("A", 3), ("E minor", 1), ("Bb", -2), ("F mixolydian", -2)] {
        assert_eq!(key.parse::<Key>().unwrap().sharps(), sharps, "{key}");
    }
}

#[test]
fn twinkle_is_in_c() {
    let twinkle = tune(&[60, 60, 67, 67, 69, 69, 67, -1, 65, 65, 64, 64, 62, 62, 60, -1]);
    let found = find(&twinkle);
    assert_eq!(found.key.to_string(), "C major");
    assert_eq!(found.source, KeySource::Notes);
    assert!(found.confidence > 50);
    let mut signed = twinkle;
    signed.signatures.push(KeySignature { at: Beats::ZERO, sharps: 0, mode: None });
    assert_eq!(find(&signed).source, KeySource::Signature);
}
