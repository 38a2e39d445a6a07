//! A sheet as one PDF document, a page each.
//!
//! svg2pdf writes the fonts of a picture in an order that changes from run to run. So that the same sheet is the same file, a
//! page is written in layers that have one font at most: the shapes, then the text of each typeface.

use std::collections::BTreeMap;

use pdf_writer::{Content, Finish, Name, Pdf, Rect, Ref, TextStr};
use svg2pdf::ConversionOptions;

use super::{
    DrawError, Page, Sheet,
    draw::{Group, Ink},
    render::Reader,
    svg::{self, Look},
    text::Face,
};

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
    for (page, &kid) in sheet.pages.iter().zip(&kids) {
        let mut layers = Vec::new();
        for layer in layers_of(page) {
            let drawn = reader.read(&svg::write(&layer, &Look::default()))?;
            let (chunk, picture) = svg2pdf::to_chunk(&drawn, ConversionOptions::default())
                .map_err(|error| DrawError(error.to_string()))?;
            // Each layer's objects get numbers of their own.
            let mut numbers: BTreeMap<Ref, Ref> = BTreeMap::new();
            let chunk = chunk.renumber(|old| *numbers.entry(old).or_insert_with(|| next.bump()));
            pdf.extend(&chunk);
            layers.extend(numbers.get(&picture).map(|&picture| (format!("L{}", layers.len()), picture)));
        }
        let points = |units: i32| points(units, sheet.unit_micrometres);
        let (width, height) = (points(page.width), points(page.height));
        let content_ref = next.bump();
        let mut written = pdf.page(kid);
        written.media_box(Rect::new(0.0, 0.0, width, height)).parent(tree).contents(content_ref);
        let mut resources = written.resources();
        let mut pictures = resources.x_objects();
        let mut content = Content::new();
        content.transform([width, 0.0, 0.0, height, 0.0, 0.0]);
        for (name, picture) in &layers {
            pictures.pair(Name(name.as_bytes()), picture);
            content.x_object(Name(name.as_bytes()));
        }
        pictures.finish();
        resources.finish();
        written.finish();
        pdf.stream(content_ref, &content.finish());
    }
    Ok(pdf.finish())
}

/// The shapes of a page, then the text of each typeface that it has.
fn layers_of(page: &Page) -> Vec<Page> {
    let kinds = std::iter::once(None).chain(Face::ALL.map(Some));
    let layers = kinds.map(|kind| {
        let mut layer = page.clone();
        layer.groups.iter_mut().for_each(|group| keep(group, kind));
        layer
    });
    layers.filter(|layer| layer.groups.iter().any(|group| group.bounds().is_some())).collect()
}

/// Keeps the items of a group that are text of a typeface, or are none.
fn keep(group: &mut Group, face: Option<Face>) {
    group.items.retain(|item| match &item.ink {
        Ink::Text(text) => Some(text.face) == face,
        _ => face.is_none(),
    });
    group.groups.iter_mut().for_each(|group| keep(group, face));
}

/// A length in points, to a hundredth.
fn points(units: i32, unit_micrometres: i32) -> f32 {
    // An inch is 72 points or 25,400 micrometres.
    let hundredths = (i64::from(units) * i64::from(unit_micrometres) * 7200 + 12_700) / 25_400;
    hundredths as f32 / 100.0
}
