//! Writes a tune, as played on a harp, for other programs: MusicXML and ABC for notation, MIDI for listening.
//!
//! [`arrange`] turns the playing of an approach into a [`Melody`], transposed to its new key and changed where the
//! search adapted it. [`musicxml`], [`abc`] and [`midi`] write that melody. [`crate::import`] reads all three formats
//! back as this melody, as far as each format can express it.

pub mod abc;
pub mod midi;
pub mod musicxml;
pub mod typed;
mod xml;

use crate::{
    harp::Action,
    melody::{Melody, Note, key::Key, signs, tempo_words},
    search::Approach,
    tab::Notation,
};

/// The lowest pitch that is exported: MusicXML has no octave below the octave of C0, and listeners do not hear a lower
/// pitch as a note.
const LOWEST: u8 = 12;

/// A tune arranged for a harp.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Arrangement {
    /// The tune as it sounds on the harp, with places to breathe. Every note has a spelling, there is a key signature,
    /// and the last bar ends the piece.
    pub melody: Melody,
    /// How each note is played.
    pub notes: Vec<Arranged>,
    /// The harp and the position, as in "C harp, 2nd position"; for a typed tab, only the harp.
    pub harp: String,
}

/// How a note is played.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub struct Arranged {
    /// The action; `None` for a note that the playing leaves out, for example because the harp lacks it.
    pub action: Option<Action>,
    /// The tab of the note, or its name in brackets.
    pub tab: String,
    /// Whether the original tune has a different note here, or the same note in another octave.
    pub changed: bool,
}

/// Arranges the tune as an approach plays it. `key` is the melody's key before the transposition.
///
/// A note that the playing leaves out stays in the tune, with its name in brackets as its tab. The result omits notes that the
/// adaptation left out, and notes outside MIDI's range or below C0. Grace notes are omitted together with their main
/// note.
pub fn arrange(melody: &Melody, key: Key, approach: &Approach, notation: Notation) -> Arrangement {
    let melody = melody.signed(key);
    let mut arranged = approach.moved(&melody);
    let moved = std::mem::take(&mut arranged.notes);
    let mut notes = Vec::with_capacity(melody.notes.len());
    for (index, (note, played)) in moved.into_iter().zip(&approach.playing.notes).enumerate() {
        let sounding = approach.sounding(&melody, index).filter(|_| note.pitch.midi() >= LOWEST);
        let Some(name) = sounding else { continue };
        let tab = match played.action {
            Some(action) => notation.write(action),
            None => format!("[{name}]"),
        };
        notes.push(Arranged { action: played.action, tab, changed: approach.is_changed(index) });
        arranged.notes.push(Note { breath_after: played.breathe_after, ..note });
    }
    // Grace notes are omitted together with their main note.
    let mut stays = vec![true; notes.len()];
    for index in (0..notes.len()).rev().filter(|&index| arranged.notes[index].grace) {
        let next = arranged.notes.get(index + 1);
        stays[index] = next.is_some_and(|next| stays[index + 1] && next.onset == arranged.notes[index].onset);
    }
    let (mut of_notes, mut of_tab) = (stays.iter(), stays.iter());
    arranged.notes.retain(|_| of_notes.next() == Some(&true));
    notes.retain(|_| of_tab.next() == Some(&true));
    signs::keep_whole_slurs(&mut arranged.notes);
    tempo_words::set_over_notes(&mut arranged.tempo_words, &arranged.notes);
    if let Some(last) = arranged.bars.last_mut() {
        last.marks.section_end = last.marks.repeat_end.is_none();
    }
    // Signatures of six sharps and of six flats can become the same signature.
    arranged.signatures.dedup_by_key(|signature| (signature.sharps, signature.mode));
    let harp = format!("{} harp, {} position", approach.harp, approach.position);
    Arrangement { melody: arranged, notes, harp }
}

/// Returns a tempo in quarters per minute, with as few decimals as are needed to recover the microseconds per quarter,
/// but at most six.
fn per_minute(micros: u64) -> String {
    const MINUTE: u64 = 60_000_000;
    let scales = (0..=6).map(|decimals| (decimals, 10u64.pow(decimals)));
    let exact = |&(_, scale): &(u32, u64)| {
        let digits = MINUTE * scale / micros;
        digits > 0 && MINUTE * scale / digits == micros
    };
    let (decimals, scale) = scales.into_iter().find(exact).unwrap_or((6, 1_000_000));
    let digits = (MINUTE * scale / micros).max(1);
    if decimals == 0 {
        return digits.to_string();
    }
    format!("{}.{:0width$}", digits / scale, digits % scale, width = decimals as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tempo_is_written_so_that_it_reads_back_to_the_microsecond() {
        assert_eq!([500_000, 606_060, 857_143].map(per_minute), ["120", "99", "69.99998"].map(str::to_owned));
        for micros in (1_000..4_000_000).step_by(997) {
            let text = per_minute(micros);
            let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
            let scale = 10u64.pow(part.len() as u32);
            let digits: u64 = format!("{whole}{part}").parse().unwrap();
            assert_eq!(60_000_000 * scale / digits, micros, "{text}");
        }
    }
}
