//! Writes XML: nested elements, each beginning on a new line.

/// An XML document being written. No element stays open, because [`Xml::element`] also writes the end tag.
pub(super) struct Xml {
    text: String,
    depth: usize,
}

impl Xml {
    /// Starts a document with the XML declaration and `prolog`.
    pub(super) fn new(prolog: &str) -> Xml {
        Xml { text: format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{prolog}"), depth: 0 }
    }

    /// Writes an element with other elements inside.
    pub(super) fn element(&mut self, name: &str, attributes: &[(&str, &str)], fill: impl FnOnce(&mut Xml)) {
        self.open(name, attributes);
        self.text.push_str(">\n");
        self.depth += 1;
        fill(self);
        self.depth -= 1;
        self.indent();
        self.text.push_str(&format!("</{name}>\n"));
    }

    /// Writes an element with text inside.
    pub(super) fn text(&mut self, name: &str, text: impl std::fmt::Display) {
        self.text_with(name, &[], text);
    }

    /// Writes an element with attributes and text inside.
    pub(super) fn text_with(
        &mut self,
        name: &str,
        attributes: &[(&str, &str)],
        text: impl std::fmt::Display,
    ) {
        self.open(name, attributes);
        self.text.push('>');
        self.escape(&text.to_string());
        self.text.push_str(&format!("</{name}>\n"));
    }

    /// Writes an element without content.
    pub(super) fn empty(&mut self, name: &str, attributes: &[(&str, &str)]) {
        self.open(name, attributes);
        self.text.push_str("/>\n");
    }

    pub(super) fn finish(self) -> Vec<u8> {
        self.text.into_bytes()
    }

    fn open(&mut self, name: &str, attributes: &[(&str, &str)]) {
        self.indent();
        self.text.push('<');
        self.text.push_str(name);
        for (name, value) in attributes {
            self.text.push_str(&format!(" {name}=\""));
            self.escape(value);
            self.text.push('"');
        }
    }

    fn indent(&mut self) {
        self.text.extend(std::iter::repeat_n(' ', 2 * self.depth));
    }

    /// Appends a text with its special signs escaped, with tabs and line breaks as spaces, and without the characters
    /// that XML forbids (XML 1.0, production 2).
    fn escape(&mut self, text: &str) {
        for c in text.chars() {
            match c {
                '&' => self.text.push_str("&amp;"),
                '<' => self.text.push_str("&lt;"),
                '>' => self.text.push_str("&gt;"),
                '"' => self.text.push_str("&quot;"),
                '\t' | '\n' | '\r' => self.text.push(' '),
                '\u{0}'..='\u{1F}' | '\u{FFFE}' | '\u{FFFF}' => {}
                _ => self.text.push(c),
            }
        }
    }
}
