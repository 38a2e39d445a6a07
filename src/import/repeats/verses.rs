//! Chooses the words for a pass.

use super::Piece;
use crate::melody::Lyric;

/// Returns the verse that a bar sings on the nth pass: verse n, or the bar's first verse if it has no verse n.
///
/// The verse is chosen by bar, not by note: a verse may hold a syllable over several notes, and then has no words under
/// some of them.
pub(super) fn sung(nth: u32, bar: &[Piece]) -> Option<u8> {
    let verses = || bar.iter().flat_map(|piece| &piece.note.lyrics).map(|lyric| lyric.verse);
    verses().find(|&verse| u32::from(verse) == nth).or_else(|| verses().min())
}

/// Returns a note's words in this verse, numbered as verse 1.
pub(super) fn pick(lyrics: &[Lyric], verse: Option<u8>) -> Vec<Lyric> {
    let sung = lyrics.iter().find(|lyric| Some(lyric.verse) == verse);
    sung.map(|lyric| Lyric { verse: 1, ..lyric.clone() }).into_iter().collect()
}
