//! The parts of a harp's name as players write it.

use super::Register;
use crate::pitch::PitchClass;

/// Splits a name into its register and the rest: `low-F`, `low F`, `lowF`, `F low`, and `LF` as it is stamped on some
/// covers.
pub(super) fn register(name: &str) -> (Register, &str) {
    const BETWEEN: [char; 2] = ['-', ' '];
    for (word, letter, register) in [("low", 'L', Register::Low), ("high", 'H', Register::High)] {
        let is_word = |part: Option<&str>| part.is_some_and(|part| part.eq_ignore_ascii_case(word));
        let after = word.len();
        if is_word(name.get(..after)) {
            return (register, name[after..].trim_start_matches(BETWEEN));
        }
        let before = name.len().saturating_sub(word.len());
        if is_word(name.get(before..)) && name[..before].ends_with(BETWEEN) {
            return (register, name[..before].trim_end_matches(BETWEEN));
        }
        let is_key = |rest: &&str| rest.starts_with(|c| matches!(c, 'A'..='G'));
        if let Some(rest) = name.strip_prefix(letter).filter(is_key) {
            return (register, rest);
        }
    }
    (Register::Standard, name)
}

/// Reads the key at the beginning of a name, as in `Bb`, `B flat` or `F♯`, and returns the key and the remaining text.
pub(super) fn key(name: &str) -> Option<(PitchClass, &str)> {
    const SIGNS: [(&str, &str); 10] = [
        (" flat", "b"),
        ("-flat", "b"),
        ("flat", "b"),
        (" sharp", "#"),
        ("-sharp", "#"),
        ("sharp", "#"),
        ("♭", "b"),
        ("♯", "#"),
        ("b", "b"),
        ("#", "#"),
    ];
    let letter = name.chars().next()?;
    let rest = &name[letter.len_utf8()..];
    let begins = |sign: &str| rest.get(..sign.len()).is_some_and(|start| start.eq_ignore_ascii_case(sign));
    let (sign, alter) = SIGNS.into_iter().find(|(sign, _)| begins(sign)).unwrap_or_default();
    Some((PitchClass::parse(&format!("{letter}{alter}"))?, &rest[sign.len()..]))
}
