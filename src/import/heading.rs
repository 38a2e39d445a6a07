//! Reduces titles and names to one line, and recognises the placeholders that programs write in their place.

/// The number of characters at which a text is cut; no title or name is that long.
const LONGEST: usize = 1_000;

/// Joins a text into one line: white space of all kinds becomes single spaces, and control characters are removed.
pub(super) fn one_line(text: &str) -> String {
    let mut line = String::new();
    let plain = |word: &str| word.chars().filter(|c| !c.is_control()).collect::<String>();
    for word in text.split_whitespace().map(plain).filter(|word| !word.is_empty()) {
        line.push_str(if line.is_empty() { "" } else { " " });
        line.push_str(&word);
        if line.len() > LONGEST {
            break;
        }
    }
    if let Some((end, _)) = line.char_indices().nth(LONGEST) {
        line.truncate(end);
    }
    line
}

/// Whether a title is a placeholder that a program wrote because the user gave none: "Untitled score", "Title 2",
/// "Score".
pub(super) fn is_stopgap(title: &str) -> bool {
    /// The placeholders in lower case, without numbers and punctuation (common practice, no source).
    const STOPGAPS: [&str; 43] = [
        "composition",
        "composition title",
        "default",
        "document",
        "full score",
        "lead sheet",
        "movement",
        "movement title",
        "music",
        "musik",
        "musique",
        "my score",
        "new",
        "new score",
        "no name",
        "no title",
        "noname",
        "none",
        "notitle",
        "null",
        "ohne titel",
        "partitur",
        "partitura",
        "partition",
        "sans titre",
        "score",
        "senza titolo",
        "sheet music",
        "sin título",
        "song title",
        "titel",
        "title",
        "titolo",
        "titre",
        "título",
        "unnamed",
        "untitled",
        "untitled document",
        "untitled piece",
        "untitled project",
        "untitled score",
        "untitled song",
        "work title",
    ];
    let lower = title.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !c.is_alphabetic()).filter(|word| !word.is_empty()).collect();
    // A number alone can be a title, as in many hymnals.
    !lower.contains(char::is_alphanumeric) || STOPGAPS.contains(&words.join(" ").as_str())
}

/// Whether a program wrote a maker's name because the user gave none: the program's own name, or a placeholder.
pub(super) fn is_stopgap_maker(name: &str) -> bool {
    /// The names in lower case, without punctuation (common practice, no source).
    const STOPGAPS: [&str; 5] = ["music21", "composer", "lyricist", "arranger", "composer arranger"];
    let lower = name.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    STOPGAPS.contains(&words.join(" ").as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stopgap_is_known_in_every_case_and_with_numbers() {
        for title in
            ["Score", "SCORE", "score 1", "Untitled", "untitled_score", "Untitled-2", "Title", "[Title]"]
        {
            assert!(is_stopgap(title), "{title}");
        }
        for title in ["Music, 12", "Sin título", "Ohne Titel (3)", "full score", "", "…"] {
            assert!(is_stopgap(title), "{title}");
        }
        for title in [
            "Music for a While",
            "The Score",
            "Untitled Waltz",
            "Score and Seven",
            "Title Song",
            "17",
            "主旋律",
        ] {
            assert!(!is_stopgap(title), "{title}");
        }
    }

    #[test]
    fn a_program_is_no_maker() {
        for name in ["Music21", "Composer", "Composer / arranger", "[Arranger]"] {
            assert!(is_stopgap_maker(name), "{name}");
        }
        for name in ["Trad.", "A. Composer", "Traditional, arranged by ear"] {
            assert!(!is_stopgap_maker(name), "{name}");
        }
    }

    #[test]
    fn a_line_has_no_control_characters_and_an_end() {
        assert_eq!(one_line("  A\n\tNony\u{9b}mous \u{7} "), "A Nonymous");
        assert_eq!(one_line(&"é".repeat(5_000)).chars().count(), LONGEST);
        assert_eq!(one_line(&"ab ".repeat(5_000)).chars().count(), LONGEST);
        assert_eq!(one_line(" \r\n "), "");
    }
}
