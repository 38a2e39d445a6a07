//! A page of a sheet as a picture.

use resvg::tiny_skia::{Pixmap, Transform};

use super::{DrawError, Sheet, render::Reader, svg};

/// The resolution, in dots per inch.
pub const DPI: u16 = 200;

/// Draws a page on white.
pub fn write(sheet: &Sheet, page: usize) -> Result<Vec<u8>, DrawError> {
    let drawn = Reader::new().read(&svg::document(sheet, page))?;
    let scale = f32::from(DPI) / 96.0;
    let size = drawn.size().to_int_size().scale_by(scale);
    let size = size.ok_or_else(|| DrawError("the page is too large".to_owned()))?;
    let mut picture = Pixmap::new(size.width(), size.height())
        .ok_or_else(|| DrawError("the page is too large".to_owned()))?;
    resvg::render(&drawn, Transform::from_scale(scale, scale), &mut picture.as_mut());
    picture.encode_png().map_err(|error| DrawError(error.to_string()))
}
