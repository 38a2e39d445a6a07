//! Chord symbols: a symbol as it is printed to the pieces of a `<harmony>`.

use crate::{
    melody::{ChordSymbol, chord},
    pitch::{Spelling, Step},
};

/// A symbol taken apart: `F#m7/C#` is `F#`, `m7` and `C#`. The octaves of the names mean nothing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(in crate::export) struct Parts<'a> {
    /// The root's name; `None` if the text does not begin with one.
    pub(in crate::export) root: Option<Spelling>,
    /// What stands between root and bass.
    pub(in crate::export) quality: &'a str,
    /// The bass's name, if there is one.
    pub(in crate::export) bass: Option<Spelling>,
}

impl Parts<'_> {
    pub(in crate::export) fn of(text: &str) -> Parts<'_> {
        let Some((root, rest)) = leading_name(text.trim()) else {
            return Parts { root: None, quality: "", bass: None };
        };
        let bass = rest.rsplit_once('/').and_then(|(quality, bass)| match leading_name(bass) {
            Some((bass, "")) => Some((quality, bass)),
            _ => None,
        });
        match bass {
            Some((quality, bass)) => Parts { root: Some(root), quality, bass: Some(bass) },
            None => Parts { root: Some(root), quality: rest, bass: None },
        }
    }
}

/// The name of a note at the beginning, and what follows it; capitals only, so that the `b` of `Bb` is a sign.
fn leading_name(text: &str) -> Option<(Spelling, &str)> {
    let letter = text.chars().next().filter(char::is_ascii_uppercase)?;
    let step = Step::parse(letter)?;
    let rest = &text[1..];
    let signs = |set: [char; 2]| rest.chars().take_while(|c| set.contains(c)).take(2).count();
    let (sharps, flats) = (signs(['#', '♯']), signs(['b', '♭']));
    let after: usize = rest.chars().take(sharps + flats).map(char::len_utf8).sum();
    Some((Spelling { step, alter: sharps as i8 - flats as i8, octave: 4 }, &rest[after..]))
}

/// A note's name without its octave, as symbols have it: `Bb`, `F#`.
pub(in crate::export) fn name(name: Spelling) -> String {
    let sign = if name.alter < 0 { "b" } else { "#" };
    format!("{:?}{}", name.step, sign.repeat(usize::from(name.alter.unsigned_abs())))
}

/// The `kind-value` (MusicXML 4.0) with just the notes of the chord; what prints it is kept beside it.
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
    let mut above: Vec<u8> = chord::notes(chord).into_iter().map(|note| note.above(chord.root)).collect();
    above.sort_unstable();
    KINDS.iter().find(|(notes, _)| *notes == above).map_or("other", |&(_, kind)| kind)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_symbol_is_taken_apart_into_root_quality_and_bass() {
        let parts = |text| {
            let Parts { root, quality, bass } = Parts::of(text);
            (root.map(name), quality, bass.map(name))
        };
        let some = |name: &str| Some(name.to_owned());
        assert_eq!(parts("F#m7/C#"), (some("F#"), "m7", some("C#")));
        assert_eq!(parts("Bb"), (some("Bb"), "", None));
        assert_eq!(parts("B♭6/9"), (some("Bb"), "6/9", None));
        assert_eq!(parts("Ebb"), (some("Ebb"), "", None));
        assert_eq!(parts("Hm"), (None, "", None));
    }
}
