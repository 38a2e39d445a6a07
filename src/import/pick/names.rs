//! Finds a part's role from its name, in the languages that are common in scores.
//!
//! The words are common practice, no source.

/// A role that a part's name states.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Role {
    /// The melody without doubt: "Melody", "Vocals", "Soprano".
    Melody,
    /// A part that usually has the melody: "Lead", "Solo", "Voice".
    Lead,
    /// A part that usually does not have the melody: "Bass", "Chords", "Alto".
    Accompaniment,
}

/// Whole words, in lower case.
const WORDS: [(&str, Role); 49] = [
    ("tune", Role::Melody),
    ("air", Role::Melody),
    ("theme", Role::Melody),
    ("thema", Role::Melody),
    ("tema", Role::Melody),
    ("cantus", Role::Melody),
    ("superius", Role::Melody),
    ("gesang", Role::Melody),
    ("zang", Role::Melody),
    ("sång", Role::Melody),
    ("sang", Role::Melody),
    ("chant", Role::Melody),
    ("canto", Role::Melody),
    ("singer", Role::Melody),
    ("lead", Role::Lead),
    ("solo", Role::Lead),
    ("voice", Role::Lead),
    ("voix", Role::Lead),
    ("voz", Role::Lead),
    ("voce", Role::Lead),
    ("stem", Role::Lead),
    ("right", Role::Lead),
    ("rh", Role::Lead),
    ("bass", Role::Accompaniment),
    ("basse", Role::Accompaniment),
    ("basso", Role::Accompaniment),
    ("bajo", Role::Accompaniment),
    ("baixo", Role::Accompaniment),
    ("baß", Role::Accompaniment),
    ("bas", Role::Accompaniment),
    ("contrabass", Role::Accompaniment),
    ("kontrabass", Role::Accompaniment),
    ("alto", Role::Accompaniment),
    ("altus", Role::Accompaniment),
    ("alt", Role::Accompaniment),
    ("tenor", Role::Accompaniment),
    ("ténor", Role::Accompaniment),
    ("pad", Role::Accompaniment),
    ("left", Role::Accompaniment),
    ("lh", Role::Accompaniment),
    ("бас", Role::Accompaniment),
    ("comp", Role::Accompaniment),
    ("strum", Role::Accompaniment),
    ("oohs", Role::Accompaniment),
    ("aahs", Role::Accompaniment),
    ("choir", Role::Accompaniment),
    ("2nd", Role::Accompaniment),
    ("second", Role::Accompaniment),
    ("secondo", Role::Accompaniment),
];

/// Stems that may occur anywhere in a name, even inside compounds ("Singstimme", "主旋律").
const STEMS: [(&str, Role); 33] = [
    ("melod", Role::Melody),
    ("mélod", Role::Melody),
    ("vocal", Role::Melody),
    ("vokal", Role::Melody),
    ("sopran", Role::Melody),
    ("diskant", Role::Melody),
    ("singstimme", Role::Melody),
    ("oberstimme", Role::Melody),
    ("мелоди", Role::Melody),
    ("вокал", Role::Melody),
    ("голос", Role::Lead),
    ("旋律", Role::Melody),
    ("メロディ", Role::Melody),
    ("ボーカル", Role::Melody),
    ("ﾒﾛﾃﾞｨ", Role::Melody),
    ("歌唱", Role::Melody),
    ("멜로디", Role::Melody),
    ("stimme", Role::Lead),
    ("accomp", Role::Accompaniment),
    ("acompa", Role::Accompaniment),
    ("begleit", Role::Accompaniment),
    ("chord", Role::Accompaniment),
    ("akkord", Role::Accompaniment),
    ("accord", Role::Accompaniment),
    ("rhythm", Role::Accompaniment),
    ("backing", Role::Accompaniment),
    ("harmon", Role::Accompaniment),
    ("counter", Role::Accompaniment),
    ("gegenstimme", Role::Accompaniment),
    ("unterstimme", Role::Accompaniment),
    ("drum", Role::Accompaniment),
    ("伴奏", Role::Accompaniment),
    ("ベース", Role::Accompaniment),
];

/// Instruments whose names contain a word or stem from above but say nothing about the role.
const NO_ROLE: [&str; 8] =
    ["accordion", "accordéon", "akkordeon", "harmonica", "harmonium", "sax", "recorder", "trombone"];

/// The number of characters of a name that are read; a longer name is a description.
const LONGEST_NAME: usize = 200;

/// Returns the role that a name states, and the word for that role.
///
/// Words for an accompaniment take precedence over words for a melody: "counter-melody", "backing vocals", "left hand".
pub(super) fn role(name: &str) -> Option<(Role, &'static str)> {
    let name: String = name.chars().take(LONGEST_NAME).flat_map(char::to_lowercase).collect();
    let neutral = NO_ROLE.iter().any(|instrument| name.contains(instrument));
    let parts: Vec<&str> = name.split(|c: char| !c.is_alphanumeric()).collect();
    let words = WORDS.iter().filter(|(word, role)| {
        // A tenor saxophone is not a tenor, but a solo on a tenor saxophone is a solo.
        !(neutral && *role == Role::Accompaniment)
            && parts.iter().any(|part| part.trim_end_matches(char::is_numeric) == *word || part == word)
    });
    let stems =
        STEMS.iter().filter(|(stem, role)| !(neutral && *role == Role::Accompaniment) && name.contains(stem));
    let found = words.chain(stems);
    let order = |role: Role| match role {
        Role::Accompaniment => 0,
        Role::Melody => 1,
        Role::Lead => 2,
    };
    found.min_by_key(|(_, role)| order(*role)).map(|&(word, role)| (role, word))
}

/// Returns the role that a General MIDI instrument usually has, and the word for that role.
///
/// Only basses and pads are evidence. A tune is played on a "Lead" or a "Melodic Tom" no more often than on a piano;
/// "Steel Drums" play tunes; and a singer's line is set to "Choir Aahs" as often as the choir's.
pub(super) fn instrument_role(name: &str) -> Option<(Role, &'static str)> {
    const BACKGROUND: [&str; 3] = ["Bass", "Contrabass", "Pad"];
    let word = BACKGROUND.into_iter().find(|word| name.split(' ').any(|part| part == *word))?;
    Some((Role::Accompaniment, word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_in_several_languages_tell_the_role() {
        let cases = [
            ("Melody", Some(Role::Melody)),
            ("MELODIE 1", Some(Role::Melody)),
            ("Singstimme", Some(Role::Melody)),
            ("Mélodie", Some(Role::Melody)),
            ("主旋律", Some(Role::Melody)),
            ("Lead vocals", Some(Role::Melody)),
            ("Soprano", Some(Role::Melody)),
            ("Voice", Some(Role::Lead)),
            ("Voice1", Some(Role::Lead)),
            ("Lead guitar", Some(Role::Lead)),
            ("Backing vocals", Some(Role::Accompaniment)),
            ("Counter-melody", Some(Role::Accompaniment)),
            ("Acoustic Bass", Some(Role::Accompaniment)),
            ("Alto", Some(Role::Accompaniment)),
            ("Alto Sax", None),
            ("Bassoon", None),
            ("Accordion", None),
            ("Harmonica", None),
            ("Staff-1", None),
            ("", None),
        ];
        for (name, expected) in cases {
            assert_eq!(role(name).map(|(role, _)| role), expected, "{name:?}");
        }
    }
    #[test]
    fn an_instrument_tells_only_of_the_background() {
        let names = [
            "Acoustic Bass",
            "Pad 4 (choir)",
            "Choir Aahs",
            "Voice Oohs",
            "Lead 8 (bass + lead)",
            "Synth Voice",
            "Melodic Tom",
        ];
        let words = names.map(|name| instrument_role(name).map(|(_, word)| word));
        assert_eq!(words, [Some("Bass"), Some("Pad"), None, None, None, None, None]);
    }
}
