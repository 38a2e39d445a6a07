//! SVG read for drawing, with the sheet's own fonts and no others.

use std::sync::Arc;

use super::text::Face;
use svg2pdf::usvg::{Options, Tree, fontdb::Database};

/// The fonts, read once for many pages.
pub(super) struct Reader {
    options: Options<'static>,
}

impl Reader {
    pub(super) fn new() -> Reader {
        let mut fonts = Database::new();
        for face in Face::ALL {
            fonts.load_font_data(face.bytes().to_vec());
        }
        let family = "Libertinus Serif";
        fonts.set_serif_family(family);
        let options =
            Options { fontdb: Arc::new(fonts), font_family: family.to_owned(), ..Options::default() };
        Reader { options }
    }

    pub(super) fn read(&self, svg: &str) -> Result<Tree, super::DrawError> {
        Tree::from_str(svg, &self.options).map_err(|error| super::DrawError(error.to_string()))
    }
}
