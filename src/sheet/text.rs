//! The typeface of titles, words and chords: Libertinus Serif (SIL Open Font License 1.1), from the crate typst-assets.

mod set;

use std::sync::LazyLock;

use ttf_parser::{
    Face as Font, GlyphId, Tag, gpos::PairAdjustment, gpos::PositioningSubtable, gsub::LigatureSubstitution,
    gsub::SubstitutionSubtable, opentype_layout::LayoutTable,
};
use unicode_normalization::UnicodeNormalization;

pub(super) use set::UNITS;

use crate::clean::visible;

/// A face of the family.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Face {
    /// The face of most words.
    Regular,
    /// The face of bar numbers, makers, and words of tempo and jumps in the music.
    Italic,
    /// The face of titles, chords, and the names of notes that the tune uses.
    Semibold,
}

/// A font with its kerning and ligatures.
pub(super) struct Typeface {
    pub(super) font: Font<'static>,
    /// The glyph of the space between words.
    space: u16,
    /// The kerning: changes of the distance between two letters.
    kerning: Vec<PairAdjustment<'static>>,
    /// The ligatures: groups of letters that share one glyph.
    ligatures: Vec<LigatureSubstitution<'static>>,
}

static TYPEFACES: LazyLock<[Option<Typeface>; 3]> =
    LazyLock::new(|| Face::ALL.map(|face| Typeface::read(face.bytes())));

impl Typeface {
    fn read(bytes: &'static [u8]) -> Option<Typeface> {
        let font = Font::parse(bytes, 0).ok()?;
        let kerning = lookups(font.tables().gpos, b"kern", |table, lookup| {
            let subtables = table.lookups.get(lookup)?.subtables.into_iter::<PositioningSubtable>();
            Some(subtables.filter_map(|subtable| match subtable {
                PositioningSubtable::Pair(pair) => Some(pair),
                _ => None,
            }))
        });
        let ligatures = lookups(font.tables().gsub, b"liga", |table, lookup| {
            let subtables = table.lookups.get(lookup)?.subtables.into_iter::<SubstitutionSubtable>();
            Some(subtables.filter_map(|subtable| match subtable {
                SubstitutionSubtable::Ligature(ligature) => Some(ligature),
                _ => None,
            }))
        });
        let space = font.glyph_index(' ')?.0;
        Some(Typeface { font, space, kerning, ligatures })
    }

    /// Returns the glyph of a character, if the font has it.
    pub(super) fn glyph(&self, char: char) -> Option<GlyphId> {
        self.font.glyph_index(char).filter(|glyph| *glyph != GlyphId(0))
    }

    /// Returns the distance from the origin of a glyph to the origin of the next glyph.
    pub(super) fn advance(&self, glyph: u16) -> i32 {
        self.font.glyph_hor_advance(GlyphId(glyph)).map_or(UNITS, i32::from)
    }
}

/// Returns the lookups for a feature of a font, in every script, because no two scripts share a letter.
fn lookups<T, I: Iterator<Item = T>>(
    table: Option<LayoutTable<'static>>,
    feature: &[u8; 4],
    read: impl Fn(&LayoutTable<'static>, u16) -> Option<I>,
) -> Vec<T> {
    let Some(table) = table else { return Vec::new() };
    let features = table.features.into_iter().filter(|found| found.tag == Tag::from_bytes(feature));
    let mut indices: Vec<u16> = features.flat_map(|feature| feature.lookup_indices).collect();
    indices.sort_unstable();
    indices.dedup();
    indices.into_iter().filter_map(|lookup| read(&table, lookup)).flatten().collect()
}

impl Face {
    /// All faces.
    pub(super) const ALL: [Face; 3] = [Face::Regular, Face::Italic, Face::Semibold];

    /// The family.
    pub(super) const FAMILY: &str = "Libertinus Serif";

    /// The name of the family, and the names of similar, widespread families.
    pub(super) const FAMILIES: &str = "'Libertinus Serif','Linux Libertine O','Times New Roman',Tinos,serif";

    /// Returns the font file.
    pub(super) fn bytes(self) -> &'static [u8] {
        // The index is known at compile time, so a program contains these three fonts and not the whole list.
        fn nth<const N: usize>() -> &'static [u8] {
            typst_assets::fonts().nth(N).unwrap_or_default()
        }
        match self {
            Face::Regular => nth::<0>(),
            Face::Italic => nth::<2>(),
            Face::Semibold => nth::<4>(),
        }
    }

    pub(super) fn typeface(self) -> Option<&'static Typeface> {
        TYPEFACES[self as usize].as_ref()
    }

    /// Returns the width of a text in a size of type.
    pub(super) fn width(self, text: &str, size: i32) -> i32 {
        let (_, width) = self.set(text);
        (i64::from(width) * i64::from(size) / i64::from(UNITS)) as i32
    }

    /// Returns an estimate of the extent of a text above and below its baseline. It is the same for all texts of a
    /// size.
    pub(super) fn extent(self, _text: &str, size: i32) -> (i32, i32) {
        (size * 72 / 100, size * 24 / 100)
    }

    /// Returns whether the font has a glyph for every character.
    #[cfg(test)]
    fn has(self, text: &str) -> bool {
        self.typeface().is_some_and(|face| text.chars().all(|char| face.glyph(char).is_some()))
    }
}

/// Returns the visible characters of a text. Composes letters and their accents into single characters where these
/// exist, because fonts have the composed characters.
pub(super) fn composed(text: &str) -> String {
    visible(text).nfc().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fonts_are_those_that_the_sheet_names() {
        for (face, style) in Face::ALL.into_iter().zip(["Regular", "Italic", "Semibold"]) {
            let font = &face.typeface().unwrap().font;
            assert_eq!(i32::from(font.units_per_em()), UNITS);
            let names: Vec<String> = font.names().into_iter().filter_map(|name| name.to_string()).collect();
            assert!(names.iter().any(|name| name == Face::FAMILY), "{names:?}");
            assert!(names.iter().any(|name| name == style), "{names:?}");
        }
    }

    #[test]
    fn every_sign_that_a_sheet_writes_is_in_the_font() {
        assert!(Face::Semibold.has("×*"));
        assert!(Face::Regular.has("×½"));
    }

    #[test]
    fn accents_are_put_on_their_letters() {
        assert_eq!(composed("e\u{301}te\u{301}"), "été");
    }
}
