//! Copies words from other notes to the melody.

use super::super::Part;
use crate::{
    melody::{Lyric, Note},
    time::Beats,
};

/// Gives a melody without words the words of simultaneous notes that the reduction left out or that belong to another
/// part.
///
/// Takes the source that fits the most notes; of equal sources the chosen part, then the earlier one. At least half of
/// a source's syllables must find a note; otherwise its words belong to another line.
pub(super) fn carry_over(melody: &mut [Note], parts: &[Part], chosen: usize) {
    if melody.iter().any(|note| !note.lyrics.is_empty()) {
        return;
    }
    let mut best: Vec<(usize, &[Lyric])> = Vec::new();
    for part in std::iter::once(&parts[chosen]).chain(parts) {
        let mut worded: Vec<(Beats, &[Lyric])> = part
            .notes
            .iter()
            .filter(|note| !note.note.lyrics.is_empty())
            .map(|note| (note.note.onset, note.note.lyrics.as_slice()))
            .collect();
        worded.sort_by_key(|&(onset, _)| onset);
        worded.dedup_by_key(|&mut (onset, _)| onset);
        let fits: Vec<(usize, &[Lyric])> = worded
            .iter()
            .filter_map(|&(onset, lyrics)| {
                let index = melody.partition_point(|note| (note.onset, !note.grace) < (onset, true));
                melody.get(index).filter(|note| note.onset == onset).map(|_| (index, lyrics))
            })
            .collect();
        if fits.len() > best.len() && fits.len() * 2 >= worded.len() {
            best = fits;
        }
    }
    for (index, lyrics) in best {
        melody[index].lyrics = lyrics.to_vec();
    }
}
