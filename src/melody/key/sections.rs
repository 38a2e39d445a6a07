//! Handles tunes that change key: the notes under each signature determine a key of their own.

use super::{KeyFinding, clues::clues, model};
use crate::{
    melody::{KeySignature, Melody},
    time::Beats,
};

/// A stretch of a tune under one key signature.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Section {
    /// The index of the section's first note in [`Melody::notes`].
    pub note: usize,
    /// The section's signature, in sharps; negative for flats.
    pub sharps: i8,
    /// The section's key, from its own notes.
    pub finding: KeyFinding,
}

/// The largest number of sections: a tune that changes more often has no meaningful keys.
const MOST_SECTIONS: usize = 32;

/// Returns the sections of a tune whose signature changes, in order; empty if the signature never changes, or if the
/// tune has more than 32 sections.
///
/// A signature without notes under it makes no section, and a signature that repeats the previous one changes nothing.
pub fn sections(melody: &Melody) -> Vec<Section> {
    let stretches = stretches(melody);
    if stretches.len() < 2 || stretches.len() > MOST_SECTIONS {
        return Vec::new();
    }
    let read = stretches.iter().map(|stretch| {
        let finding = model::elect(&clues(&part(melody, std::slice::from_ref(stretch))));
        Section { note: stretch.first, sharps: stretch.signature.sharps, finding }
    });
    read.collect()
}

/// Returns the music under the signature that applies longest, by the length of its notes; among equals the first.
/// `None` if the signature never changes.
pub(super) fn home(melody: &Melody) -> Option<Melody> {
    let stretches = stretches(melody);
    if stretches.len() < 2 {
        return None;
    }
    let time = |sharps: i8| -> i64 {
        let under = stretches.iter().filter(|stretch| stretch.signature.sharps == sharps);
        let notes = under.flat_map(|stretch| &melody.notes[stretch.first..stretch.end]);
        notes.fold(0, |sum, note| sum.saturating_add(note.duration.units()))
    };
    // There are few distinct signatures, however often they change. `min_by_key` takes the first of equal entries.
    let mut signatures: Vec<i8> = Vec::new();
    for stretch in &stretches {
        if !signatures.contains(&stretch.signature.sharps) {
            signatures.push(stretch.signature.sharps);
        }
    }
    let sharps = signatures.into_iter().min_by_key(|&sharps| std::cmp::Reverse(time(sharps)))?;
    let home: Vec<Stretch> =
        stretches.into_iter().filter(|stretch| stretch.signature.sharps == sharps).collect();
    Some(part(melody, &home))
}

/// The notes from `first` up to but not including `end`, under one signature that applies until `until`, or to the end
/// of the tune if `until` is `None`.
struct Stretch {
    first: usize,
    end: usize,
    signature: KeySignature,
    until: Option<Beats>,
}

/// Divides a melody with more than one signature into stretches.
fn stretches(melody: &Melody) -> Vec<Stretch> {
    let mut stretches: Vec<Stretch> = Vec::new();
    if melody.signatures.len() < 2 {
        return stretches;
    }
    let mut first = 0;
    for (index, signature) in melody.signatures.iter().enumerate() {
        let until = melody.signatures.get(index + 1).map(|next| next.at);
        // Notes before the first signature belong to it.
        let end = until.map_or(melody.notes.len(), |until| {
            first + melody.notes[first..].partition_point(|note| note.onset < until)
        });
        match stretches.last_mut() {
            Some(last) if last.signature.sharps == signature.sharps => (last.end, last.until) = (end, until),
            _ if end > first => stretches.push(Stretch { first, end, signature: *signature, until }),
            _ => {}
        }
        first = end;
    }
    stretches
}

/// Returns the melody of these stretches alone. Each stretch ends a strain, because a tune comes to rest before it
/// changes key.
fn part(melody: &Melody, stretches: &[Stretch]) -> Melody {
    let mut part =
        Melody { bars: melody.bars.clone(), counted_bars: melody.counted_bars, ..Melody::default() };
    for stretch in stretches {
        part.notes.extend_from_slice(&melody.notes[stretch.first..stretch.end]);
        if let Some(bar) = part.notes.last().and_then(|last| part.bars.get_mut(last.bar)) {
            bar.marks.section_end = true;
        }
        part.signatures.push(stretch.signature);
        let from = if stretch.first == 0 { Beats::ZERO } else { stretch.signature.at };
        let within = |at: Beats| at >= from && stretch.until.is_none_or(|until| at < until);
        part.chords.extend(melody.chords.iter().filter(|chord| within(chord.at)).cloned());
    }
    part
}
