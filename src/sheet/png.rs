//! Draws a page of a sheet as a picture.

mod file;

use tiny_skia::{
    Color, FillRule, LineJoin, Paint as Brush, Path, PathBuilder, Pixmap, Stroke as Pen, StrokeDash,
    Transform,
};
use ttf_parser::{GlyphId, OutlineBuilder};

use super::{
    DrawError, Sheet,
    draw::{Item, Text},
    outline::{Outline, Segment},
    paint::{Paint, Shape, paint},
    style::Colour,
    text::UNITS,
};

/// The resolution, in dots per inch.
pub const DPI: u16 = 200;

/// Draws a page on white.
pub fn write(sheet: &Sheet, page: usize) -> Result<Vec<u8>, DrawError> {
    let no_room = || DrawError("the page is too large".to_owned());
    let page = sheet.pages.get(page).ok_or_else(|| DrawError("there is no such page".to_owned()))?;
    let scale = sheet.unit_micrometres as f32 * f32::from(DPI) / 25_400.0;
    let pixels = |units: i32| (units as f32 * scale).round() as u32;
    let mut canvas = Canvas {
        pixels: Pixmap::new(pixels(page.width), pixels(page.height)).ok_or_else(no_room)?,
        scale: Transform::from_scale(scale, scale),
    };
    canvas.pixels.fill(Color::WHITE);
    for group in &page.groups {
        group.walk(&mut |_, item| match paint(item) {
            Paint::Shape(shape) => canvas.shape(&shape),
            Paint::Text(text, colour) => canvas.text(item, text, colour),
        });
    }
    file::write(&canvas.pixels).map_err(|error| DrawError(error.to_string()))
}

struct Canvas {
    pixels: Pixmap,
    /// Converts our units to pixels.
    scale: Transform,
}

impl Canvas {
    fn shape(&mut self, shape: &Shape) {
        let Some(path) = path(&shape.outline) else { return };
        let [x, y] = shape.at.map(|along| along as f32);
        let scale = shape.scale as f32 / 1000.0;
        let place = self.scale.pre_translate(x, y).pre_scale(scale, scale);
        self.fill(&path, shape.fill, place);
        if let Some(stroke) = shape.stroke
            && let Some(brush) = brush(stroke.colour)
        {
            let dashes = stroke.dashes.map(|dashes| dashes.map(|length| length as f32).to_vec());
            let pen = Pen {
                width: stroke.width as f32,
                line_join: if stroke.round { LineJoin::Round } else { LineJoin::Miter },
                dash: dashes.and_then(|dashes| StrokeDash::new(dashes, 0.0)),
                ..Pen::default()
            };
            self.pixels.stroke_path(&path, &brush, &pen, place, None);
        }
    }

    fn text(&mut self, item: &Item, text: &Text, colour: Colour) {
        let Some(typeface) = text.face.typeface() else { return };
        let size = text.size as f32 / UNITS as f32;
        let start = self.scale.pre_translate(item.bounds.left as f32, text.at.1 as f32);
        for letter in text.face.set(&text.text).0 {
            let mut outline = Outline::default();
            typeface.font.outline_glyph(GlyphId(letter.glyph), &mut outline);
            if let Some(path) = path(&outline) {
                // The y axis of fonts points up.
                let place = start.pre_scale(size, -size).pre_translate(letter.at as f32, 0.0);
                self.fill(&path, colour, place);
            }
        }
    }

    fn fill(&mut self, path: &Path, colour: Colour, place: Transform) {
        if let Some(brush) = brush(colour) {
            self.pixels.fill_path(path, &brush, FillRule::Winding, place, None);
        }
    }
}

fn brush(colour: Colour) -> Option<Brush<'static>> {
    let [red, green, blue] = colour.0?;
    let mut brush = Brush::default();
    brush.set_color_rgba8(red, green, blue, 255);
    Some(brush)
}

fn path(outline: &Outline) -> Option<Path> {
    let mut path = PathBuilder::new();
    for segment in &outline.segments {
        match *segment {
            Segment::Move([x, y]) => path.move_to(x, y),
            Segment::Line([x, y]) => path.line_to(x, y),
            Segment::Curve([[x1, y1], [x2, y2], [x, y]]) => path.cubic_to(x1, y1, x2, y2, x, y),
            Segment::Close => path.close(),
        }
    }
    path.finish()
}

impl OutlineBuilder for Outline {
    fn move_to(&mut self, x: f32, y: f32) {
        Outline::move_to(self, [x, y]);
    }

    fn line_to(&mut self, x: f32, y: f32) {
        Outline::line_to(self, [x, y]);
    }

    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        Outline::quadratic_to(self, [x1, y1], [x, y]);
    }

    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        Outline::curve_to(self, [x1, y1], [x2, y2], [x, y]);
    }

    fn close(&mut self) {
        Outline::close(self);
    }
}
