//! A sheet as one PDF document, a page each.
//!
//! What is drawn is the same each time; svg2pdf may number the objects of the fonts in another order.

use std::collections::BTreeMap;

use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, TextStr};
use svg2pdf::ConversionOptions;

use super::{DrawError, Sheet, render::Reader, svg};

/// Writes the document.
pub fn write(sheet: &Sheet) -> Result<Vec<u8>, DrawError> {
    let reader = Reader::new();
    let mut pdf = Pdf::new();
    let mut next = Ref::new(1);
    let (catalog, tree, info) = (next.bump(), next.bump(), next.bump());
    let kids: Vec<Ref> = sheet.pages.iter().map(|_| next.bump()).collect();
    pdf.catalog(catalog).pages(tree);
    pdf.pages(tree).count(kids.len() as i32).kids(kids.iter().copied());
    pdf.document_info(info).title(TextStr(&sheet.title)).creator(TextStr("breathline"));
    for (index, &kid) in kids.iter().enumerate() {
        let drawn = reader.read(&svg::document(sheet, index))?;
        let (chunk, picture) = svg2pdf::to_chunk(&drawn, ConversionOptions::default())
            .map_err(|error| DrawError(error.to_string()))?;
        // Each page's objects get numbers of their own.
        let mut numbers: BTreeMap<Ref, Ref> = BTreeMap::new();
        let chunk = chunk.renumber(|old| *numbers.entry(old).or_insert_with(|| next.bump()));
        let Some(&picture) = numbers.get(&picture) else { continue };
        let points = |units: i32| points(units, sheet.unit_micrometres);
        let (width, height) = (points(sheet.pages[index].width), points(sheet.pages[index].height));
        let content_ref = next.bump();
        let mut page = pdf.page(kid);
        page.media_box(Rect::new(0.0, 0.0, width, height)).parent(tree).contents(content_ref);
        page.resources().x_objects().pair(Name(b"S"), picture);
        page.finish();
        let mut content = Content::new();
        content.transform([width, 0.0, 0.0, height, 0.0, 0.0]).x_object(Name(b"S"));
        pdf.stream(content_ref, &content.finish());
        pdf.extend(&chunk);
    }
    Ok(pdf.finish())
}

/// A length in points, to a hundredth.
fn points(units: i32, unit_micrometres: i32) -> f32 {
    // An inch is 72 points or 25,400 micrometres.
    let hundredths = (i64::from(units) * i64::from(unit_micrometres) * 7200 + 12_700) / 25_400;
    hundredths as f32 / 100.0
}
