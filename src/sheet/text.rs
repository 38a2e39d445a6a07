//! The typeface of titles, words and chords: Libertinus Serif (SIL Open Font License 1.1), as the crate typst-assets carries it.

use std::sync::LazyLock;

use ttf_parser::{Face as Font, GlyphId};

/// A face of the family.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Face {
    /// Words.
    Regular,
    /// Bar numbers and remarks.
    Italic,
    /// Titles and chords.
    Semibold,
}

static FONTS: LazyLock<[Option<Font<'static>>; 3]> =
    LazyLock::new(|| Face::ALL.map(|face| Font::parse(face.bytes(), 0).ok()));

impl Face {
    /// All faces.
    pub(super) const ALL: [Face; 3] = [Face::Regular, Face::Italic, Face::Semibold];

    /// The family's name, and names of families that are like it and often there.
    pub(super) const FAMILIES: &str = "'Libertinus Serif','Linux Libertine O','Times New Roman',Tinos,serif";

    /// The font file.
    pub(super) fn bytes(self) -> &'static [u8] {
        let nth = match self {
            Face::Regular => 0,
            Face::Italic => 2,
            Face::Semibold => 4,
        };
        typst_assets::fonts().nth(nth).unwrap_or_default()
    }

    fn font(self) -> Option<&'static Font<'static>> {
        FONTS[self as usize].as_ref()
    }

    /// How wide a text is in a size of type. Characters that the font lacks are taken to be as wide as they are high, which is
    /// what they are in the scripts that it lacks.
    pub(super) fn width(self, text: &str, size: i32) -> i32 {
        let Some(font) = self.font() else { return size * text.chars().count() as i32 };
        let upm = i32::from(font.units_per_em()).max(1);
        let advance = |char| {
            let glyph = font.glyph_index(char).filter(|glyph| *glyph != GlyphId(0));
            glyph.and_then(|glyph| font.glyph_hor_advance(glyph)).map_or(upm, i32::from)
        };
        let sum: i32 = text.chars().map(advance).fold(0, i32::saturating_add);
        (i64::from(sum) * i64::from(size) / i64::from(upm)) as i32
    }

    /// How far a text reaches over and under its baseline: as far as letters do in this face, further than most.
    pub(super) fn extent(self, _text: &str, size: i32) -> (i32, i32) {
        (size * 72 / 100, size * 24 / 100)
    }

    /// Whether the font has a glyph for every character.
    #[cfg(test)]
    fn has(self, text: &str) -> bool {
        self.font().is_some_and(|font| text.chars().all(|char| font.glyph_index(char).is_some()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fonts_are_those_that_the_sheet_names() {
        for (face, style) in Face::ALL.into_iter().zip(["Regular", "Italic", "Semibold"]) {
            let font = face.font().unwrap();
            let names: Vec<String> = font.names().into_iter().filter_map(|name| name.to_string()).collect();
            assert!(names.iter().any(|name| name == "Libertinus Serif"), "{names:?}");
            assert!(names.iter().any(|name| name == style), "{names:?}");
        }
    }

    #[test]
    fn every_sign_that_a_sheet_writes_is_in_the_font() {
        assert!(Face::Semibold.has("×*"));
        assert!(Face::Regular.has("×½"));
    }
}
