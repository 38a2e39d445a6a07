//! A sheet as one PDF document, a page each.

use std::collections::HashMap;

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
        // Each page's objects get numbers of their own; they are looked up, never listed.
        let mut numbers: HashMap<Ref, Ref> = HashMap::new();
        let chunk = chunk.renumber(|old| *numbers.entry(old).or_insert_with(|| next.bump()));
        let Some(&picture) = numbers.get(&picture) else { continue };
        // CSS pixels to points.
        let (width, height) = (drawn.size().width() * 0.75, drawn.size().height() * 0.75);
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
