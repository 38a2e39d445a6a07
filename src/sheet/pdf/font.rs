//! Writes the letters of a face as a font of a PDF: ISO 32000-1, 9.7.4 (CID-keyed fonts), 9.8 (descriptors), 9.10.3
//! (ToUnicode).

use pdf_writer::{
    Filter, Finish, Name, Pdf, Rect, Ref, Str,
    types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap},
};
use ttf_parser::{RawFace, Tag};

use super::{DrawError, Face, Letters, compressed};

/// Writes a font and returns its reference.
pub(super) fn write(pdf: &mut Pdf, next: &mut Ref, letters: &Letters) -> Result<Ref, DrawError> {
    let failed = |error: &dyn std::fmt::Display| DrawError(error.to_string());
    let [whole, descendant, descriptor, file, unicode] = [(); 5].map(|()| next.bump());
    let name = name(letters);
    let info = SystemInfo { registry: Str(b"Adobe"), ordering: Str(b"Identity"), supplement: 0 };
    pdf.type0_font(whole)
        .base_font(Name(format!("{name}-Identity-H").as_bytes()))
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(descendant)
        .to_unicode(unicode);
    let mut cid = pdf.cid_font(descendant);
    cid.subtype(CidFontType::Type0).base_font(Name(name.as_bytes())).system_info(info);
    cid.font_descriptor(descriptor).default_width(0.0);
    let widths = letters.glyphs().map(|glyph| letters.typeface.advance(glyph) as f32);
    cid.widths().consecutive(0, widths);
    cid.finish();

    let font = &letters.typeface.font;
    let bounds = font.global_bounding_box();
    let [left, bottom, right, top] = [bounds.x_min, bounds.y_min, bounds.x_max, bounds.y_max].map(f32::from);
    let italic = if letters.face == Face::Italic { FontFlags::ITALIC } else { FontFlags::empty() };
    pdf.font_descriptor(descriptor)
        .name(Name(name.as_bytes()))
        .flags(FontFlags::SYMBOLIC | FontFlags::SERIF | italic)
        .bbox(Rect::new(left, bottom, right, top))
        .italic_angle(font.italic_angle())
        .ascent(f32::from(font.ascender()))
        .descent(f32::from(font.descender()))
        .cap_height(f32::from(font.capital_height().unwrap_or_default()))
        // The thickness of stems has no source. Only a viewer that lacks the font uses this thickness, to choose a
        // substitute.
        .stem_v(if letters.face == Face::Semibold { 110.0 } else { 80.0 })
        .font_file3(file);

    // A PDF needs only the font's table of outlines.
    let subset = letters.font().map_err(|error| failed(&error))?;
    let tables = RawFace::parse(&subset, 0).map_err(|error| failed(&error))?;
    let outlines = tables.table(Tag::from_bytes(b"CFF ")).unwrap_or_default();
    pdf.stream(file, &compressed(outlines)?)
        .filter(Filter::FlateDecode)
        .pair(Name(b"Subtype"), Name(b"CIDFontType0C"));

    let mut map = UnicodeCmap::new(Name(b"Letters"), info);
    for (glyph, shown) in letters.shown.iter().filter(|(glyph, _)| **glyph != 0) {
        map.pair_with_multiple(letters.number(*glyph), shown.chars());
    }
    let map = compressed(map.finish().as_slice())?;
    pdf.cmap(unicode, &map).filter(Filter::FlateDecode);
    Ok(whole)
}

/// Returns the font's name, after a prefix of six letters that depends on its glyphs.
fn name(letters: &Letters) -> String {
    let style = match letters.face {
        Face::Regular => "Regular",
        Face::Italic => "Italic",
        Face::Semibold => "Semibold",
    };
    // FNV-1a.
    let mut sum = 0xcbf2_9ce4_8422_2325_u64;
    for byte in letters.shown.keys().flat_map(|glyph| glyph.to_be_bytes()) {
        sum = (sum ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    }
    let tag = (0..6).map(|place| char::from(b'A' + (sum / 26_u64.pow(place) % 26) as u8));
    format!("{}+LibertinusSerif-{style}", tag.collect::<String>())
}
