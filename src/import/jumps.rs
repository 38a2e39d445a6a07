//! Signs and words that send the player to another place: segno, coda, "D.C. al Fine".

use super::draft::Draft;

/// The signs and words at one place.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) struct Jumps {
    pub(super) segno: bool,
    pub(super) coda: bool,
    /// Whether there is a coda sign alone, which may mark the jump or its target.
    pub(super) coda_sign: bool,
    pub(super) to_coda: bool,
    /// Whether `to_coda` is exact to the note, because it comes from a `<sound>`.
    pub(super) exact: bool,
    pub(super) fine: bool,
    pub(super) da_capo: bool,
    pub(super) dal_segno: bool,
    pub(super) repeat_start: bool,
}

/// Finds the usual words and signs, regardless of case, spaces and dots.
pub(super) fn in_words(words: &str) -> Jumps {
    let mut plain = String::new();
    for c in words.chars().take(80) {
        match c {
            '𝄋' => plain.push_str("segno"),
            '𝄌' | '⊕' => plain.push_str("coda"),
            _ if c.is_alphanumeric() => plain.extend(c.to_lowercase()),
            _ => {}
        }
    }
    // Only words such as "al Fine" may follow "D.C.", so that "dcresc." is no jump.
    let goes_back = |starts: [&str; 2]| {
        starts.iter().any(|start| {
            plain.strip_prefix(start).is_some_and(|rest| {
                let how_far = ["al", "e", "sin", "sen", "ad", "con"];
                rest.is_empty() || how_far.iter().any(|word| rest.starts_with(word))
            })
        })
    };
    let mut jumps = Jumps::default();
    match plain.as_str() {
        _ if goes_back(["dc", "dacapo"]) => jumps.da_capo = true,
        _ if goes_back(["ds", "dalsegno"]) => jumps.dal_segno = true,
        "fine" => jumps.fine = true,
        "segno" => jumps.segno = true,
        // A text may name the coda twice, by its sign and by its word.
        "coda" | "codacoda" => jumps.coda_sign = true,
        _ if plain.starts_with("tocoda") || plain == "alcoda" => jumps.to_coda = true,
        _ => {}
    }
    jumps
}

/// The position of a sign in its bar.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum InBar {
    /// Before all notes of the bar.
    Start,
    /// Among the notes.
    Inside,
    /// After all notes of the bar.
    End,
}

/// Enters the signs and words at one position of a bar into the marks of the bars that they concern.
pub(super) fn mark(jumps: Jumps, bar: usize, position: InBar, draft: &mut Draft<'_>) {
    // The target of a jump is the start of a bar, so a sign at the end of a bar means the next bar.
    let target = if position == InBar::End { bar + 1 } else { bar };
    if jumps.segno || jumps.coda || jumps.repeat_start {
        let marks = &mut draft.bar(target).marks;
        marks.segno |= jumps.segno;
        marks.coda |= jumps.coda;
        marks.repeat_start |= jumps.repeat_start;
    }
    if jumps.to_coda {
        // A `<sound>` at the very start of a bar belongs to the end of the previous bar.
        let before = jumps.exact && position == InBar::Start;
        draft.bar(if before { bar.saturating_sub(1) } else { bar }).marks.to_coda = true;
    }
    draft.bar(bar).coda_sign |= jumps.coda_sign;
    let marks = &mut draft.bar(bar).marks;
    marks.fine |= jumps.fine;
    marks.da_capo |= jumps.da_capo;
    marks.dal_segno |= jumps.dal_segno;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_understood_however_they_are_written() {
        let none = Jumps::default();
        for (words, expected) in [
            ("D.C. al Fine", Jumps { da_capo: true, ..none }),
            ("Da  Capo", Jumps { da_capo: true, ..none }),
            ("D. S. al 𝄌", Jumps { dal_segno: true, ..none }),
            ("DS", Jumps { dal_segno: true, ..none }),
            ("Fine.", Jumps { fine: true, ..none }),
            ("To Coda 𝄌", Jumps { to_coda: true, ..none }),
            ("𝄌", Jumps { coda_sign: true, ..none }),
            ("𝄋", Jumps { segno: true, ..none }),
            ("dcresc.", none),
            ("refined", none),
            ("finely", none),
        ] {
            assert_eq!(in_words(words), expected, "{words}");
        }
    }
}
