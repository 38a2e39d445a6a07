//! The outlines of music glyphs and of the figures of the tab.
//!
//! `glyphs/outlines.txt` contains them: music glyphs from the SMuFL font Leland (SIL Open Font License 1.1), and
//! figures from DejaVu Sans Bold (Bitstream Vera licence). `glyphs/extract.py` writes this file from the fonts;
//! `glyphs/LICENCES.md` has the notices.

use std::sync::LazyLock;

use super::bounds::Bounds;

/// A glyph, by its index in the table.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Glyph(u8);

struct Outline {
    name: &'static str,
    advance: i32,
    bounds: Bounds,
    path: &'static str,
}

static OUTLINES: LazyLock<Vec<Outline>> = LazyLock::new(|| {
    let lines = include_str!("glyphs/outlines.txt").lines().filter(|line| !line.starts_with('#'));
    lines.filter_map(read).collect()
});

fn read(line: &'static str) -> Option<Outline> {
    let mut words = line.splitn(7, ' ');
    let name = words.next()?;
    let mut number = || words.next()?.parse().ok();
    let (advance, left, top, right, bottom) = (number()?, number()?, number()?, number()?, number()?);
    Some(Outline { name, advance, bounds: Bounds { left, top, right, bottom }, path: words.next()? })
}

impl Glyph {
    /// Returns the glyph with a name from `outlines.txt`. A missing name is a mistake in our code, which a test finds.
    /// In a drawing, the first glyph of the table takes its place.
    pub(super) fn named(name: &str) -> Glyph {
        let index = OUTLINES.iter().position(|outline| outline.name == name);
        debug_assert!(index.is_some(), "no glyph is called {name}");
        Glyph(index.and_then(|index| u8::try_from(index).ok()).unwrap_or_default())
    }

    /// Returns a figure or mark of the tab.
    pub(super) fn tab(char: char) -> Glyph {
        Glyph::named(&format!("tab_{}", u32::from(char)))
    }

    /// Returns every glyph, in the table's order.
    #[cfg(feature = "paper")]
    pub(super) fn all() -> impl Iterator<Item = Glyph> {
        (0..OUTLINES.len()).filter_map(|index| Some(Glyph(u8::try_from(index).ok()?)))
    }

    /// Returns the glyph's index in the table.
    #[cfg(feature = "paper")]
    pub(super) fn index(self) -> usize {
        usize::from(self.0)
    }

    /// Returns the glyph's name in the table.
    pub fn name(self) -> &'static str {
        OUTLINES[usize::from(self.0)].name
    }

    /// Returns the distance from this glyph to the next glyph.
    pub(super) fn advance(self) -> i32 {
        OUTLINES[usize::from(self.0)].advance
    }

    /// Returns the glyph's extent around its origin.
    pub(super) fn bounds(self) -> Bounds {
        OUTLINES[usize::from(self.0)].bounds
    }

    pub(super) fn width(self) -> i32 {
        self.bounds().right
    }

    /// Returns the glyph's outline as an SVG path around its origin.
    pub fn path(self) -> &'static str {
        OUTLINES[usize::from(self.0)].path
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_of_the_table_is_read() {
        let lines = include_str!("glyphs/outlines.txt").lines().filter(|line| !line.starts_with('#')).count();
        assert_eq!(OUTLINES.len(), lines);
        assert!(OUTLINES.len() < 256);
    }
}
