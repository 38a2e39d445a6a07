//! Tempo words, such as "Andante" or "rit.".

use std::collections::BTreeSet;

use super::Note;
use crate::time::Beats;

/// Tempo words and their place.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct TempoWords {
    /// The onset of the note over which the words are printed, in quarters from the start of the tune.
    pub at: Beats,
    /// The words, as one line.
    pub text: String,
}

/// The beginnings of texts that state a tempo, in lower case (common practice, from memory of the handbooks: Italian
/// terms, their usual short forms, and English and German ones).
const STEMS: [&str; 39] = [
    "grave", "largo", "larghe", "lent", "adagi", "andant", "moderat", "maesto", "allegr", "vivac", "vivo",
    "prest", "con moto", "tempo", "a tempo", "rit.", "ritard", "ritenu", "rall", "allarg", "accel",
    "stringen", "string.", "rubato", "mosso", "slow", "fast", "quick", "lively", "steady", "freely", "swing",
    "langsam", "mäßig", "mässig", "lebhaft", "schnell", "rasch", "getragen",
];
/// The words of degree, such as "poco", that may come before a tempo word.
const HOW_MUCH: [&str; 12] = [
    "un ",
    "poco ",
    "a poco ",
    "molto ",
    "assai ",
    "più ",
    "piu ",
    "meno ",
    "very ",
    "sehr ",
    "etwas ",
    "non troppo ",
];

/// Whether words state a tempo, judged by their beginning.
pub(crate) fn is_tempo(words: &str) -> bool {
    let plain = words.trim().to_lowercase();
    let mut rest = plain.as_str();
    while let Some(shorter) = HOW_MUCH.iter().find_map(|word| rest.strip_prefix(word)) {
        rest = shorter;
    }
    rest == "rit" || STEMS.iter().any(|stem| rest.starts_with(stem))
}

/// Moves words to the first note that begins no earlier than the words, or to the last note; drops repeated words at
/// the same note.
pub(crate) fn set_over_notes(words: &mut Vec<TempoWords>, notes: &[Note]) {
    for each in &mut *words {
        let next = notes.partition_point(|note| note.onset < each.at);
        if let Some(note) = notes.get(next).or(notes.last()) {
            each.at = note.onset;
        }
    }
    words.sort_by_key(|each| each.at);
    // Each part of a score may repeat the same words.
    let mut said = BTreeSet::new();
    words.retain(|each| said.insert((each.at, each.text.clone())));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_tempo_are_known_by_their_beginning() {
        let of_tempo = [
            "Allegretto",
            "rit.",
            "Rit",
            "poco rit.",
            "poco più mosso",
            "a tempo",
            "Maestoso",
            "Sehr langsam",
            "MÄSSIG",
        ];
        assert!(of_tempo.iter().all(|words| is_tempo(words)));
        let others = ["molto", "dolce", "1.", "Fine", "ritornello", "Strings only", ""];
        assert!(others.iter().all(|words| !is_tempo(words)));
    }
}
