//! Writes XML: elements inside one another, each on a line of its own.

/// An XML document as it grows. Misuse cannot panic: elements are closed by the closure that fills them.
pub(super) struct Xml {
    text: String,
    depth: usize,
}

impl Xml {
    /// A document with its declaration and a document type.
    pub(super) fn new(prolog: &str) -> Xml {
        Xml { text: format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{prolog}"), depth: 0 }
    }

    /// An element with others inside.
    pub(super) fn element(&mut self, name: &str, attributes: &[(&str, &str)], fill: impl FnOnce(&mut Xml)) {
        self.open(name, attributes);
        self.text.push_str(">\n");
        self.depth += 1;
        fill(self);
        self.depth -= 1;
        self.indent();
        self.text.push_str(&format!("</{name}>\n"));
    }

    /// An element with text inside.
    pub(super) fn text(&mut self, name: &str, text: impl std::fmt::Display) {
        self.text_with(name, &[], text);
    }

    /// An element with attributes and text inside.
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

    /// An element with nothing inside.
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

    /// Escapes a text; leaves out characters that no document may hold (XML 1.0, production 2).
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
