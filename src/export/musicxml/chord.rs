//! Finds the MusicXML kind of a chord symbol.

use crate::melody::ChordSymbol;

/// Returns the `kind-value` (MusicXML 4.0) with exactly the notes of the chord, `none` for "no chord", or `other`. The
/// caller writes the symbol's printed text beside it.
pub(super) fn kind(chord: &ChordSymbol) -> &'static str {
    const KINDS: [(&[u8], &str); 25] = [
        (&[0, 4, 7], "major"),
        (&[0, 3, 7], "minor"),
        (&[0, 4, 8], "augmented"),
        (&[0, 3, 6], "diminished"),
        (&[0, 4, 7, 10], "dominant"),
        (&[0, 4, 7, 11], "major-seventh"),
        (&[0, 3, 7, 10], "minor-seventh"),
        (&[0, 3, 6, 9], "diminished-seventh"),
        (&[0, 4, 8, 10], "augmented-seventh"),
        (&[0, 3, 6, 10], "half-diminished"),
        (&[0, 3, 7, 11], "major-minor"),
        (&[0, 4, 7, 9], "major-sixth"),
        (&[0, 3, 7, 9], "minor-sixth"),
        (&[0, 2, 4, 7, 10], "dominant-ninth"),
        (&[0, 2, 4, 7, 11], "major-ninth"),
        (&[0, 2, 3, 7, 10], "minor-ninth"),
        (&[0, 4, 5, 7, 10], "dominant-11th"),
        (&[0, 4, 5, 7, 11], "major-11th"),
        (&[0, 3, 5, 7, 10], "minor-11th"),
        (&[0, 4, 7, 9, 10], "dominant-13th"),
        (&[0, 4, 7, 9, 11], "major-13th"),
        (&[0, 3, 7, 9, 10], "minor-13th"),
        (&[0, 2, 7], "suspended-second"),
        (&[0, 5, 7], "suspended-fourth"),
        (&[0, 7], "power"),
    ];
    let Some(root) = chord.root else { return "none" };
    let mut above: Vec<u8> = chord.notes().into_iter().map(|note| note.above(root.class())).collect();
    above.sort_unstable();
    KINDS.iter().find(|(notes, _)| *notes == above).map_or("other", |&(_, kind)| kind)
}
