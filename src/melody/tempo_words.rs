//! Words of tempo, such as "Andante" or "rit.".

use std::collections::BTreeSet;

use super::Note;
use crate::time::Beats;

/// A word of tempo at its place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct TempoWords {
    /// The onset of the note over which they stand, in quarters from the start of the tune.
    pub at: Beats,
    /// The words, in one line.
    pub text: String,
}

/// The beginnings of words that tell a tempo wherever they stand, in small letters (common practice, from memory of the
/// handbooks: Italian terms, their usual short forms, and English and German ones).
const STEMS: [&str; 33] = [
    "grave", "largo", "larghe", "lent", "adagi", "andant", "moderat", "allegr", "vivac", "vivo", "prest",
    "tempo", "a tempo", "rit.", "ritard", "ritenu", "rall", "accel", "string", "rubato", "mosso", "slow",
    "fast", "quick", "lively", "steady", "freely", "swing", "langsam", "mäßig", "lebhaft", "schnell",
    "rasch",
];

/// Whether words tell a tempo, by their beginning.
pub(crate) fn is_tempo(words: &str) -> bool {
    let plain = words.trim().to_lowercase();
    let plain = ["poco a poco ", "poco ", "molto ", "un poco ", "più ", "meno "]
        .iter()
        .find_map(|more| plain.strip_prefix(more))
        .unwrap_or(&plain);
    plain == "rit" || STEMS.iter().any(|stem| plain.starts_with(stem))
}

/// Moves words to the first note that does not begin before them, or to the last note; drops what is said twice.
pub(crate) fn set_over_notes(words: &mut Vec<TempoWords>, notes: &[Note]) {
    for words in &mut *words {
        let next = notes.partition_point(|note| note.onset < words.at);
        if let Some(note) = notes.get(next).or(notes.last()) {
            words.at = note.onset;
        }
    }
    words.sort_by_key(|words| words.at);
    // Each part of a score may say it.
    let mut said = BTreeSet::new();
    words.retain(|words| said.insert((words.at, words.text.clone())));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_tempo_are_known_by_their_beginning() {
        assert!(
            ["Allegretto", "rit.", "Rit", "poco rit.", "Più mosso", "a tempo"]
                .iter()
                .all(|words| is_tempo(words))
        );
        assert!(["molto", "dolce", "1.", "Fine", "ritornello", ""].iter().all(|words| !is_tempo(words)));
    }
}
