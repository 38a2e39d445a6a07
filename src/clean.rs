//! Cleans text from outside, so that no name or title can control a terminal, or reorder or hide the text around it.

/// Whether a character affects the terminal or the text around it, most often without being visible. Hidden characters
/// are control characters, marks that change the direction of text, other marks that only format text, and line breaks
/// (Unicode's general categories Cc, Cf, Zl and Zp, except some characters that belong to a single script or notation).
pub fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{AD}' | '\u{600}'..='\u{605}' | '\u{61C}' | '\u{6DD}' | '\u{70F}' | '\u{180E}')
        || matches!(c, '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}')
        || matches!(c, '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E007F}')
}

/// Returns a text without its hidden characters.
pub fn visible(text: &str) -> String {
    text.chars().filter(|&c| !is_hidden(c)).collect()
}
