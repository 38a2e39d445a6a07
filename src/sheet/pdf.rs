//! Writes a sheet as one PDF document: outlines and texts, with the fonts of the texts. The same sheet always gives the
//! same file.

mod font;

use std::io::Write;

use flate2::{Compression, write::ZlibEncoder};
use pdf_writer::{
    Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr,
    types::{LineCapStyle, LineJoinStyle},
};

use super::{
    DrawError, Page, Sheet,
    draw::{Item, Text},
    letters::Letters,
    outline::{Outline, Segment},
    paint::{Paint, Shape, Stroke, paint},
    style::Colour,
    text::Face,
};

/// Writes the document.
pub fn write(sheet: &Sheet) -> Result<Vec<u8>, DrawError> {
    let mut pdf = Pdf::new();
    let mut next = Ref::new(1);
    let (catalog, tree, info) = (next.bump(), next.bump(), next.bump());
    let mut written = pdf.catalog(catalog);
    written.pages(tree).lang(TextStr(LANGUAGE)).viewer_preferences().display_doc_title(true);
    written.finish();
    let producer = concat!("breathline ", env!("CARGO_PKG_VERSION"));
    pdf.document_info(info)
        .title(TextStr(&sheet.title))
        .creator(TextStr("breathline"))
        .producer(TextStr(producer));
    let letters = Letters::of(&sheet.pages);
    let mut fonts = Vec::new();
    for letters in &letters {
        fonts.push((font_name(letters.face), font::write(&mut pdf, &mut next, letters)?));
    }
    let kids: Vec<Ref> = sheet.pages.iter().map(|_| next.bump()).collect();
    pdf.pages(tree).count(kids.len() as i32).kids(kids.iter().copied());
    for (page, &kid) in sheet.pages.iter().zip(&kids) {
        let content = next.bump();
        let (width, height) = (points(sheet, page.width), points(sheet, page.height));
        let mut written = pdf.page(kid);
        written.media_box(Rect::new(0.0, 0.0, width, height)).parent(tree).contents(content);
        let mut resources = written.resources();
        let mut named = resources.fonts();
        for (name, font) in &fonts {
            named.pair(Name(name), *font);
        }
        named.finish();
        resources.finish();
        written.finish();
        let drawn = compressed(&Painter::paint(sheet, page, &letters))?;
        pdf.stream(content, &drawn).filter(Filter::FlateDecode);
    }
    Ok(pdf.finish())
}

/// The language of breathline's words on a sheet.
const LANGUAGE: &str = "en";

/// Returns the name by which the pages refer to a face.
fn font_name(face: Face) -> &'static [u8] {
    match face {
        Face::Regular => b"R",
        Face::Italic => b"I",
        Face::Semibold => b"S",
    }
}

/// Returns the compressed content of a stream.
fn compressed(bytes: &[u8]) -> Result<Vec<u8>, DrawError> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(bytes).and_then(|()| encoder.finish()).map_err(|error| DrawError(error.to_string()))
}

/// Returns a length in points, to a hundredth.
fn points(sheet: &Sheet, units: i32) -> f32 {
    // An inch is 72 points or 25,400 micrometres.
    let hundredths = (i64::from(units) * i64::from(sheet.unit_micrometres) * 7200 + 12_700) / 25_400;
    hundredths as f32 / 100.0
}

/// Writes the drawing of a page.
struct Painter<'a> {
    content: Content,
    letters: &'a [Letters],
    /// The current fill colour.
    fill: Colour,
    stroke: Option<Stroke>,
}

impl Painter<'_> {
    fn paint(sheet: &Sheet, page: &Page, letters: &[Letters]) -> Vec<u8> {
        let mut painter = Painter { content: Content::new(), letters, fill: Colour(None), stroke: None };
        // Scales to our units, with the y axis pointing down.
        let scale = sheet.unit_micrometres as f32 * 72.0 / 25_400.0;
        painter.content.transform([scale, 0.0, 0.0, -scale, 0.0, points(sheet, page.height)]);
        painter.content.set_line_cap(LineCapStyle::ButtCap);
        for group in &page.groups {
            group.walk(&mut |_, item| match paint(item) {
                Paint::Shape(shape) => painter.shape(&shape),
                Paint::Text(text, colour) => painter.text(item, text, colour),
            });
        }
        painter.content.finish().into_vec()
    }

    fn shape(&mut self, shape: &Shape) {
        let fills = shape.fill.0.is_some();
        if fills {
            self.fill_with(shape.fill);
        }
        if let Some(stroke) = shape.stroke {
            self.stroke_with(stroke);
        }
        let moved = shape.at != [0, 0] || shape.scale != 1000;
        if moved {
            let ([x, y], scale) = (shape.at.map(|along| along as f32), shape.scale as f32 / 1000.0);
            self.content.save_state().transform([scale, 0.0, 0.0, scale, x, y]);
        }
        self.outline(&shape.outline);
        match (fills, shape.stroke.is_some()) {
            (true, true) => self.content.fill_nonzero_and_stroke(),
            (true, false) => self.content.fill_nonzero(),
            (false, true) => self.content.stroke(),
            (false, false) => self.content.end_path(),
        };
        if moved {
            self.content.restore_state();
        }
    }

    fn outline(&mut self, outline: &Outline) {
        // A hundredth of a unit is at most a fifth of a micrometre.
        let near = |point: [f32; 2]| point.map(|along| (along * 100.0).round() / 100.0);
        for segment in &outline.segments {
            match *segment {
                Segment::Move(point) => {
                    let [x, y] = near(point);
                    self.content.move_to(x, y);
                }
                Segment::Line(point) => {
                    let [x, y] = near(point);
                    self.content.line_to(x, y);
                }
                Segment::Curve(points) => {
                    let [[x1, y1], [x2, y2], [x, y]] = points.map(near);
                    self.content.cubic_to(x1, y1, x2, y2, x, y);
                }
                Segment::Close => {
                    self.content.close_path();
                }
            }
        }
    }

    fn text(&mut self, item: &Item, text: &Text, colour: Colour) {
        let Some(letters) = self.letters.iter().find(|letters| letters.face == text.face) else { return };
        self.fill_with(colour);
        let (set, _) = text.face.set(&text.text);
        let content = &mut self.content;
        content.begin_text().set_font(Name(font_name(text.face)), text.size as f32);
        content.set_text_matrix([1.0, 0.0, 0.0, -1.0, item.bounds.left as f32, text.at.1 as f32]);
        let mut at = 0;
        for piece in set.chunk_by(|letter, next| letter.glyph != 0 && next.glyph != 0) {
            // The actual text lets programs read characters that the font lacks.
            let lacks = piece[0].glyph == 0;
            if lacks {
                let mut span = content.begin_marked_content_with_properties(Name(b"Span"));
                span.properties().actual_text(TextStr(&text.text[piece[0].shows.clone()]));
            }
            let mut positioned = content.show_positioned();
            let mut items = positioned.items();
            let mut run = Vec::new();
            for letter in piece {
                if letter.at != at {
                    if !run.is_empty() {
                        items.show(Str(&run));
                        run.clear();
                    }
                    items.adjust((at - letter.at) as f32);
                }
                run.extend(letters.number(letter.glyph).to_be_bytes());
                at = letter.at + letters.typeface.advance(letter.glyph);
            }
            items.show(Str(&run));
            items.finish();
            positioned.finish();
            if lacks {
                content.end_marked_content();
            }
        }
        content.end_text();
    }

    fn fill_with(&mut self, colour: Colour) {
        if self.fill != colour {
            let [red, green, blue] = shares(colour);
            self.content.set_fill_rgb(red, green, blue);
            self.fill = colour;
        }
    }

    fn stroke_with(&mut self, stroke: Stroke) {
        let before = self.stroke.replace(stroke);
        if before == Some(stroke) {
            return;
        }
        if before.is_none_or(|before| before.colour != stroke.colour) {
            let [red, green, blue] = shares(stroke.colour);
            self.content.set_stroke_rgb(red, green, blue);
        }
        if before.is_none_or(|before| before.width != stroke.width) {
            self.content.set_line_width(stroke.width as f32);
        }
        if before.is_none_or(|before| before.round != stroke.round) {
            let join = if stroke.round { LineJoinStyle::RoundJoin } else { LineJoinStyle::MiterJoin };
            self.content.set_line_join(join);
        }
        if before.is_none_or(|before| before.dashes != stroke.dashes) {
            let dashes = stroke.dashes.iter().flatten().map(|length| *length as f32);
            self.content.set_dash_pattern(dashes, 0.0);
        }
    }
}

/// Returns red, green and blue from 0 to 1, to a thousandth; black for no colour.
fn shares(colour: Colour) -> [f32; 3] {
    colour.0.unwrap_or_default().map(|part| (f32::from(part) / 0.255).round() / 1000.0)
}
