//! Macros (ABC 2.1, §9) and the order of parts (§3.1.9): short texts that stand for longer ones.

/// The largest number of macros in a tune, and the largest number of bytes that each adds to a line.
pub(super) const MAX_MACROS: usize = 50;
const MAX_GROWTH: usize = 100_000;
/// The largest number of parts that an order may list.
const MAX_PARTS: usize = 1_000;

/// A text, and its replacement. An `n` in the text matches any note; in the replacement, `n` is that note, `m` the note
/// below it, `o` the note above it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(super) struct Macro {
    before: String,
    /// The text after the note; `None` for a macro without a note.
    after: Option<String>,
    replacement: String,
}

impl Macro {
    pub(super) fn parse(text: &str) -> Option<Macro> {
        let (target, replacement) = text.split_once('=')?;
        let (target, replacement) = (target.trim(), replacement.trim().to_owned());
        let (before, after) = match target.split_once('n') {
            Some((before, after)) => (before, Some(after.to_owned())),
            None => (target, None),
        };
        (!target.is_empty()).then(|| Macro { before: before.to_owned(), after, replacement })
    }

    /// Replaces the macro in a line; `None` if the macro does not occur, or if the line would become too long.
    pub(super) fn expand(&self, line: &str) -> Option<String> {
        let mut expanded = String::new();
        let (mut rest, mut found) = (line, false);
        while let Some(next) = rest.chars().next() {
            match self.matches(rest) {
                Some((length, note)) => {
                    found = true;
                    match note {
                        Some(note) => expanded.extend(self.replacement.chars().map(|c| around(note, c))),
                        None => expanded.push_str(&self.replacement),
                    }
                    rest = &rest[length..];
                }
                None => {
                    expanded.push(next);
                    rest = &rest[next.len_utf8()..];
                }
            }
            if expanded.len() > line.len() + MAX_GROWTH {
                return None;
            }
        }
        found.then_some(expanded)
    }

    /// Returns the length of the text's beginning that the macro matches, and the matched note in steps above `C`.
    fn matches(&self, text: &str) -> Option<(usize, Option<i32>)> {
        let rest = text.strip_prefix(self.before.as_str())?;
        let Some(after) = &self.after else { return Some((self.before.len(), None)) };
        let letter = rest.chars().next().filter(|c| matches!(c, 'A'..='G' | 'a'..='g'))?;
        let marks = rest[1..].bytes().take_while(|byte| matches!(byte, b',' | b'\'')).count();
        let octaves: i32 = rest[1..=marks].bytes().map(|byte| if byte == b',' { -1 } else { 1 }).sum();
        let steps = "CDEFGABcdefgab".find(letter)? as i32 + 7 * octaves;
        rest[1 + marks..]
            .starts_with(after.as_str())
            .then_some((self.before.len() + 1 + marks + after.len(), Some(steps)))
    }
}

/// Returns the replacement of a letter: a letter from `h` to `z` becomes the note that is as far from the matched note
/// as the letter is from `n`; other letters stay.
fn around(note: i32, letter: char) -> Cell {
    if !('h'..='z').contains(&letter) {
        return Cell(letter, None);
    }
    let steps = note + letter as i32 - 'n' as i32;
    let octave = steps.div_euclid(7);
    let name = b"CDEFGAB"[steps.rem_euclid(7) as usize] as char;
    match octave {
        ..=0 => Cell(name, Some((',', -octave))),
        _ => Cell(name.to_ascii_lowercase(), Some(('\'', octave - 1))),
    }
}

/// A letter with its octave marks.
struct Cell(char, Option<(char, i32)>);

impl Extend<Cell> for String {
    fn extend<T: IntoIterator<Item = Cell>>(&mut self, cells: T) {
        for Cell(letter, marks) in cells {
            self.push(letter);
            if let Some((mark, times)) = marks {
                (0..times).for_each(|_| self.push(mark));
            }
        }
    }
}

/// Writes out the order of parts: `(AB)3` is A B A B A B.
pub(super) fn order(text: &str) -> Vec<u8> {
    let mut open: Vec<Vec<u8>> = Vec::new();
    let mut order: Vec<u8> = Vec::new();
    let mut last: Vec<u8> = Vec::new();
    let mut rest = text.trim();
    while let Some(&byte) = rest.as_bytes().first() {
        if let Some((times, after)) = super::field::number(rest) {
            for _ in 1..times {
                if order.len() + last.len() > MAX_PARTS {
                    break;
                }
                order.extend_from_slice(&last);
            }
            rest = after;
            continue;
        }
        match byte {
            b'(' if open.len() < MAX_PARTS => open.push(std::mem::take(&mut order)),
            b')' => {
                last = std::mem::replace(&mut order, open.pop().unwrap_or_default());
                order.extend_from_slice(&last);
            }
            _ if byte.is_ascii_alphabetic() && order.len() < MAX_PARTS => {
                last = vec![byte];
                order.push(byte);
            }
            _ => {}
        }
        rest = rest.get(1..).unwrap_or_default();
    }
    // These brackets were never closed.
    while let Some(outer) = open.pop() {
        order = [outer, order].concat();
    }
    order.truncate(MAX_PARTS);
    order
}
