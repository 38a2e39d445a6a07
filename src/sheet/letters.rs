//! Collects the letters that pages use. The letters of each face form a smaller font, for PDF and for SVG.

use std::collections::{BTreeMap, BTreeSet};

use subsetter::GlyphRemapper;

use super::{
    Page,
    draw::Ink,
    text::{Face, Typeface},
};

/// The letters of one face that some pages use.
pub(super) struct Letters {
    pub(super) face: Face,
    pub(super) typeface: &'static Typeface,
    /// The glyphs by their number in the whole font, each with its character, or with the characters of its ligature.
    pub(super) shown: BTreeMap<u16, String>,
    /// The glyph of each character, including characters that occur only in ligatures.
    pub(super) characters: BTreeMap<char, u16>,
    /// The pairs of adjacent glyphs.
    pub(super) pairs: BTreeSet<(u16, u16)>,
    /// The numbers of the glyphs in the smaller font, which has only these glyphs.
    numbers: GlyphRemapper,
}

impl Letters {
    /// Returns the letters of each face that the pages use.
    pub(super) fn of(pages: &[Page]) -> Vec<Letters> {
        Face::ALL.into_iter().filter_map(|face| Letters::of_face(face, pages)).collect()
    }

    fn of_face(face: Face, pages: &[Page]) -> Option<Letters> {
        let typeface = face.typeface()?;
        let (mut shown, mut characters, mut pairs) = (BTreeMap::new(), BTreeMap::new(), BTreeSet::new());
        let mut read = |text: &str| {
            let (letters, _) = face.set(text);
            pairs.extend(letters.windows(2).map(|pair| (pair[0].glyph, pair[1].glyph)));
            for letter in letters {
                let shows = text[letter.shows].to_owned();
                characters.extend(shows.chars().filter_map(|char| Some((char, typeface.glyph(char)?.0))));
                shown.entry(letter.glyph).or_insert(shows);
            }
        };
        for group in pages.iter().flat_map(|page| &page.groups) {
            group.walk(&mut |_, item| match &item.ink {
                Ink::Text(text) if text.face == face => read(&text.text),
                _ => {}
            });
        }
        if shown.is_empty() {
            return None;
        }
        let mut glyphs: Vec<u16> = shown.keys().copied().chain(characters.values().copied()).collect();
        glyphs.sort_unstable();
        let numbers = GlyphRemapper::new_from_glyphs_sorted(&glyphs);
        Some(Letters { face, typeface, shown, characters, pairs, numbers })
    }

    /// Returns the number of a glyph in the smaller font.
    pub(super) fn number(&self, glyph: u16) -> u16 {
        self.numbers.get(glyph).unwrap_or(0)
    }

    /// Returns the glyphs in the order of their numbers.
    #[cfg(feature = "paper")]
    pub(super) fn glyphs(&self) -> impl Iterator<Item = u16> {
        self.numbers.remapped_gids()
    }

    /// Returns the smaller font as an OpenType file without a character table.
    pub(super) fn font(&self) -> Result<Vec<u8>, subsetter::Error> {
        subsetter::subset(self.face.bytes(), 0, &self.numbers)
    }
}
