//! HTML and SVG as text: elements with their attributes, and foreign text made safe.

/// Escapes a text for element content and attributes; leaves out control characters.
pub(super) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c if c.is_control() => {}
            c => safe.push(c),
        }
    }
    safe
}

/// An element around content that is markup already; the attributes' values are text. One without content is closed too,
/// as HTML wants it for all but a few that are not made here.
pub(super) fn element(name: &str, attributes: &[(&str, &str)], content: &str) -> String {
    let mut markup = format!("<{name}");
    for (attribute, value) in attributes {
        markup.push_str(&format!(" {attribute}=\"{}\"", escape(value)));
    }
    markup.push_str(&format!(">{content}</{name}>"));
    markup
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_cannot_leave_its_place() {
        let hostile = "\"><script>alert('&')</script>\u{1b}[31m\u{0}";
        let safe = "&quot;&gt;&lt;script&gt;alert(&#39;&amp;&#39;)&lt;/script&gt;[31m";
        assert_eq!(escape(hostile), safe);
        assert_eq!(element("p", &[("title", hostile)], ""), format!("<p title=\"{safe}\"></p>"));
    }
}
