//! Chooses the words that are sung on a pass.

use super::Piece;
use crate::melody::Lyric;

/// Returns the verse that a bar sings the nth time: the nth, or its first if it has no nth.
///
/// The bar decides, not the note: a verse may hold a syllable over several notes, and has no words under some of them.
pub(super) fn sung(nth: u32, bar: &[Piece]) -> Option<u8> {
    let verses = || bar.iter().flat_map(|piece| &piece.note.lyrics).map(|lyric| lyric.verse);
    verses().find(|&verse| u32::from(verse) == nth).or_else(|| verses().min())
}

/// Returns a note's words in this verse, renumbered as verse 1.
pub(super) fn pick(lyrics: &[Lyric], verse: Option<u8>) -> Vec<Lyric> {
    let sung = lyrics.iter().find(|lyric| Some(lyric.verse) == verse);
    sung.map(|lyric| Lyric { verse: 1, ..lyric.clone() }).into_iter().collect()
}
