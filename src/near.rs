//! Finds the word that the user meant: the nearest word in a closed set, for errors that say what to write.

/// Returns the word nearest to a mistyped word, regardless of case; `None` if no word is near enough.
///
/// A word is near if one of the two begins with the other, or if few typing slips turn one into the other. One slip is
/// allowed in a word of up to five letters, and one more for every six letters; the slips must be fewer than the
/// letters of the mistyped word. A slip is a letter that is extra, missing, wrong, or swapped with its neighbour.
///
/// ```
/// # use breathline::near;
/// assert_eq!(near::nearest("ritcher", ["richter", "country"]), Some("richter"));
/// assert_eq!(near::nearest("jazz", ["plain", "blues", "folk"]), None);
/// ```
pub fn nearest<'a>(word: &str, among: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    /// The greatest distance, in slips, between two words of which one begins with the other.
    const BEGINNING: usize = 2;
    let word = word.trim().to_lowercase();
    let length = word.chars().count();
    let most = 1 + length / 6;
    let slips = |known: &str| {
        let known = known.to_lowercase();
        let begins = length > 1 && known.len() > 1 && (known.starts_with(&word) || word.starts_with(&known));
        let slips = strsim::osa_distance(&word, &known);
        if begins { slips.min(BEGINNING.min(most)) } else { slips }
    };
    let near = among.into_iter().map(|known| (slips(known), known));
    near.filter(|&(slips, _)| slips <= most && slips < length)
        .min_by_key(|&(slips, _)| slips)
        .map(|near| near.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_forgiven_and_another_word_is_not() {
        let bends = ["none", "draw", "all", "over"];
        for (typed, meant) in [
            ("drwa", Some("draw")),
            ("overblows", Some("over")),
            ("no", Some("none")),
            ("al", Some("all")),
            ("ALL", Some("all")),
            ("some", None),
            ("x", None),
            ("", None),
        ] {
            assert_eq!(nearest(typed, bends), meant, "{typed}");
        }
    }
}
