//! Sets a text: chooses its glyphs and places them side by side, from left to right.

use std::ops::Range;

use ttf_parser::{GlyphId, gpos::PairAdjustment};

use super::{Face, Typeface};
use crate::clean::is_hidden;

/// The units of a size of type, the same in every face.
pub(in crate::sheet) const UNITS: i32 = 1000;

/// A placed glyph of a text.
#[derive(Clone, PartialEq, Eq, Debug)]
pub(in crate::sheet) struct Letter {
    /// The glyph's number in the font; 0 is the box for a character that the font lacks.
    pub(in crate::sheet) glyph: u16,
    /// The place of the glyph's origin, in units from the beginning of the text.
    pub(in crate::sheet) at: i32,
    /// The part of the text that the glyph shows.
    pub(in crate::sheet) shows: Range<usize>,
}

impl Face {
    /// Returns the glyphs of a text from left to right, and their total width in units. A character that the font lacks
    /// gets a square space, which suits Chinese and Japanese.
    pub(in crate::sheet) fn set(self, text: &str) -> (Vec<Letter>, i32) {
        let Some(face) = self.typeface() else { return (Vec::new(), UNITS * text.chars().count() as i32) };
        let mut letters: Vec<Letter> = text
            .char_indices()
            .filter(|(_, char)| !is_hidden(*char))
            .map(|(start, char)| Letter {
                glyph: face.glyph(char).map_or(0, |glyph| glyph.0),
                at: 0,
                shows: start..start + char.len_utf8(),
            })
            .collect();
        turn(text, &mut letters);
        join(face, &mut letters);
        let mut width = 0;
        for index in 0..letters.len() {
            let glyph = letters[index].glyph;
            if let Some(before) = index.checked_sub(1) {
                width += face.kerning(letters[before].glyph, glyph);
            }
            let room = if glyph == 0 { UNITS } else { face.advance(glyph) };
            // The box for a missing character is drawn in the middle of its room.
            letters[index].at = if glyph == 0 { width + (room - face.advance(0)) / 2 } else { width };
            width = width.saturating_add(room);
        }
        (letters, width)
    }
}

impl Typeface {
    /// Returns the extra distance between two glyphs; negative if they are set closer than usual. Kerning never crosses
    /// a space, because browsers set words one by one.
    pub(in crate::sheet) fn kerning(&self, first: u16, second: u16) -> i32 {
        if [first, second].contains(&self.space) {
            return 0;
        }
        let (first, second) = (GlyphId(first), GlyphId(second));
        let found = self.kerning.iter().find_map(|pairs| {
            let covered = pairs.coverage().get(first)?;
            let (value, _) = match pairs {
                PairAdjustment::Format1 { sets, .. } => sets.get(covered)?.get(second)?,
                PairAdjustment::Format2 { classes, matrix, .. } => {
                    matrix.get((classes.0.get(first), classes.1.get(second)))?
                }
            };
            Some(i32::from(value.x_advance)).filter(|advance| *advance != 0)
        });
        found.unwrap_or(0)
    }

    /// Returns the longest ligature that replaces the first glyph and some glyphs after it, with the number of glyphs
    /// replaced.
    fn ligature(&self, first: u16, after: &[Letter]) -> Option<(u16, usize)> {
        self.ligatures.iter().find_map(|table| {
            let set = table.ligature_sets.get(table.coverage.get(GlyphId(first))?)?;
            let mut fitting = set.into_iter().filter(|ligature| {
                let parts = ligature.components.into_iter();
                usize::from(ligature.components.len()) <= after.len()
                    && parts.zip(after).all(|(part, letter)| part.0 == letter.glyph)
            });
            // A font lists longer ligatures first.
            fitting.next().map(|ligature| (ligature.glyph.0, 1 + usize::from(ligature.components.len())))
        })
    }
}

/// Replaces letters with their ligatures.
fn join(face: &Typeface, letters: &mut Vec<Letter>) {
    let mut index = 0;
    while index < letters.len() {
        if let Some((glyph, count)) = face.ligature(letters[index].glyph, &letters[index + 1..]) {
            let end = letters[index + count - 1].shows.end;
            letters[index].glyph = glyph;
            letters[index].shows.end = end;
            letters.drain(index + 1..index + count);
        }
        index += 1;
    }
}

/// Reverses each run of Hebrew with the spaces and signs inside it, because Hebrew runs from right to left. The font
/// has no other right-to-left script.
fn turn(text: &str, letters: &mut [Letter]) {
    let shown = |letter: &Letter| text[letter.shows.clone()].chars();
    let is_hebrew =
        |letter: &Letter| shown(letter).any(|c| matches!(c, '\u{590}'..='\u{5ff}' | '\u{fb1d}'..='\u{fb4f}'));
    let mut start = 0;
    while let Some(first) = letters[start..].iter().position(is_hebrew) {
        let first = start + first;
        let goes_on = |letter: &&Letter| is_hebrew(letter) || !shown(letter).any(char::is_alphanumeric);
        let run = letters[first..].iter().take_while(goes_on).count();
        let run = letters[first..first + run].iter().rposition(is_hebrew).map_or(1, |last| last + 1);
        letters[first..first + run].reverse();
        start = first + run;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(face: Face, text: &str) -> Vec<String> {
        face.set(text).0.into_iter().map(|letter| text[letter.shows].to_owned()).collect()
    }

    #[test]
    fn letters_that_become_one_are_one() {
        for face in Face::ALL {
            assert_eq!(shown(face, "Office"), ["O", "ffi", "c", "e"]);
            assert_eq!(shown(face, "fly off"), ["fl", "y", " ", "o", "ff"]);
        }
    }

    #[test]
    fn some_pairs_stand_closer() {
        for face in Face::ALL {
            let width = |text: &str| face.width(text, 1000);
            assert!(width("AV") < width("A") + width("V"));
            assert!(width("To") < width("T") + width("o"));
            assert_eq!(width("nn"), 2 * width("n"));
            assert_eq!(width("O T"), width("O") + width(" ") + width("T"));
            let (letters, width) = face.set("AVA");
            assert!(letters.iter().is_sorted_by_key(|letter| letter.at) && letters[2].at < width);
        }
    }

    #[test]
    fn hebrew_runs_from_right_to_left() {
        assert_eq!(shown(Face::Regular, "a אב גד: b").concat(), "a דג בא: b");
        assert_eq!(shown(Face::Regular, "אב").concat(), "בא");
    }

    #[test]
    fn what_the_font_lacks_has_room_for_a_square() {
        let (letters, width) = Face::Regular.set("\u{65e5}\u{672c}");
        assert_eq!((letters[0].glyph, letters[1].glyph, width), (0, 0, 2 * UNITS));
        assert_eq!(Face::Regular.width("a\u{200b}\u{feff}b", 1000), Face::Regular.width("ab", 1000));
    }
}
