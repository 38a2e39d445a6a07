//! Draws the names of notes and chords. Their sharps and flats are music glyphs, because text fonts seldom have good
//! sharps and flats.

use super::{
    draw::{Anchor, Bounds, Item, Role},
    glyphs::Glyph,
    text::Face,
};

/// A piece of a name.
enum Run {
    Letters(String),
    Sign(Glyph),
}

fn runs(name: &str) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for char in name.chars() {
        match (char, runs.last_mut()) {
            ('♯', _) => runs.push(Run::Sign(Glyph::named("sharp"))),
            ('♭', _) => runs.push(Run::Sign(Glyph::named("flat"))),
            (char, Some(Run::Letters(letters))) => letters.push(char),
            (char, _) => runs.push(Run::Letters(char.to_string())),
        }
    }
    runs
}

impl Run {
    fn width(&self, face: Face, size: i32) -> i32 {
        match self {
            Run::Letters(letters) => face.width(letters, size),
            Run::Sign(glyph) => glyph.width() * scale(size) / 1000 + 2 * SIDE,
        }
    }
}

/// The room on each side of a sharp or flat.
const SIDE: i32 = 12;

/// Returns the scale at which a sharp is about as high as a capital letter.
fn scale(size: i32) -> i32 {
    size * 115 / 100
}

/// Returns the width of a name.
pub(super) fn width(name: &str, face: Face, size: i32) -> i32 {
    runs(name).iter().map(|run| run.width(face, size)).sum()
}

/// Returns the items of a name, with its baseline at a point.
pub(super) fn items(
    name: &str,
    at: (i32, i32),
    anchor: Anchor,
    face: Face,
    size: i32,
    role: Role,
) -> Vec<Item> {
    let width = width(name, face, size);
    let mut x = match anchor {
        Anchor::Start => at.0,
        Anchor::Middle => at.0 - width / 2,
        Anchor::End => at.0 - width,
    };
    let mut items = Vec::new();
    for run in runs(name) {
        let advance = run.width(face, size);
        items.push(match run {
            Run::Letters(letters) => {
                // SVG drops a space at the edge of a text, so a distance replaces the space.
                let words = letters.trim();
                let before = &letters[..letters.len() - letters.trim_start().len()];
                let x = x + face.width(before, size);
                Item::text(words, (x, at.1), Anchor::Start, face, size, role)
            }
            Run::Sign(glyph) => {
                // On the staff, sharps and flats are centred on the line that they alter. In a name, they are centred
                // on the middle of the letters.
                Item::scaled_glyph(glyph, x + SIDE, at.1 - size * 28 / 100, scale(size), role)
            }
        });
        x += advance;
    }
    items
}

/// Returns the star over a changed note, just above a point.
pub(super) fn star(x: i32, y: i32) -> Item {
    const SIZE: i32 = 620;
    let star = Item::text("*", (x, y + 160), Anchor::Middle, Face::Semibold, SIZE, Role::Sign);
    // The extent covers the star with some room, not the whole height of a line of text.
    let bounds = Bounds { top: y - 300, bottom: y + 40, ..star.bounds };
    Item { bounds, ..star }
}

/// Returns a name with music signs for the sharps and flats that follow the letter of a root or a bass, or that precede
/// a number.
pub(super) fn spelled(name: &str) -> String {
    let chars: Vec<char> = name.chars().collect();
    let begins = |index: usize| index == 0 || !chars[index - 1].is_alphanumeric();
    let after_letter = |index: usize| index > 0 && matches!(chars[index - 1], 'A'..='G') && begins(index - 1);
    let after_sign = |index: usize| index > 1 && chars[index - 1] == chars[index] && after_letter(index - 1);
    let before_number = |index: usize| chars.get(index + 1).is_some_and(char::is_ascii_digit);
    let sign = |(index, &char): (usize, &char)| match char {
        '#' | 'b' if !(after_letter(index) || after_sign(index) || before_number(index)) => char,
        '#' => '♯',
        'b' => '♭',
        other => other,
    };
    chars.iter().enumerate().map(sign).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_told_from_letters() {
        let table = [
            ("Bb", "B♭"),
            ("F#m7/C#", "F♯m7/C♯"),
            ("Abb4", "A♭♭4"),
            ("C7b9", "C7♭9"),
            ("Csus4", "Csus4"),
            ("Dm7b5", "Dm7♭5"),
            ("Gdim/Bb", "Gdim/B♭"),
            ("N.C. bass", "N.C. bass"),
            ("low Bb harp, 2nd position", "low B♭ harp, 2nd position"),
        ];
        for (plain, signed) in table {
            assert_eq!(spelled(plain), signed);
        }
    }
}
