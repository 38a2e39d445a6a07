//! HTML and SVG as text: elements with their attributes, and escaped text from files.

use crate::clean::is_hidden;

/// Escapes text for use between tags and in attributes. Leaves out the hidden characters of text from files.
pub(super) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c if is_hidden(c) => {}
            c => safe.push(c),
        }
    }
    safe
}

/// Returns an element. Its content is already markup; its attributes' values are text. Elements without content get an
/// end tag too: none of the elements made here is a void element, and outside SVG, HTML does not close `<div/>`.
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
