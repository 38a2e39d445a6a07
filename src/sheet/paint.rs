//! Turns an item into an outline for a painter, with a fill colour, a stroke or both, or into a text with its colour.

use std::{borrow::Cow, sync::LazyLock};

use super::{
    draw::{Bounds, Ink, Item, Text},
    glyphs::Glyph,
    outline::Outline,
    style::{Colour, DASHED_EDGE, DASHES, FRAME_EDGE, SHAPE_EDGE, Style, has_edge, style, tie_handles},
};

/// A shape or text to paint.
pub(super) enum Paint<'a> {
    /// An outline.
    Shape(Shape),
    /// A text in a colour.
    Text(&'a Text, Colour),
}

/// An outline with its colours.
pub(super) struct Shape {
    pub(super) outline: Cow<'static, Outline>,
    /// The place of the outline's origin.
    pub(super) at: [i32; 2],
    /// The scale of the outline, in thousandths.
    pub(super) scale: i32,
    pub(super) fill: Colour,
    /// The stroke of the edge, if the edge is drawn.
    pub(super) stroke: Option<Stroke>,
}

/// The look of the edge of an outline.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) struct Stroke {
    pub(super) colour: Colour,
    pub(super) width: i32,
    /// The lengths of the dashes and of the gaps between them.
    pub(super) dashes: Option<[i32; 2]>,
    /// Whether the corners are round.
    pub(super) round: bool,
}

/// The outlines of all glyphs, by their index.
static GLYPHS: LazyLock<Vec<Outline>> =
    LazyLock::new(|| Glyph::all().map(|glyph| Outline::parse(glyph.path())).collect());

/// Returns the look of an item.
pub(super) fn paint(item: &Item) -> Paint<'_> {
    const NONE: Colour = Colour(None);
    let Style { fill, stroke, .. } = style(item.role);
    let edge = |width| Some(Stroke { colour: stroke, width, dashes: None, round: false });
    let shape = |outline, fill, stroke| {
        Paint::Shape(Shape { outline: Cow::Owned(outline), at: [0, 0], scale: 1000, fill, stroke })
    };
    match &item.ink {
        Ink::Text(text) => Paint::Text(text, fill),
        Ink::Glyph(glyph, x, y, scale) => Paint::Shape(Shape {
            outline: Cow::Borrowed(&GLYPHS[glyph.index()]),
            at: [*x, *y],
            scale: *scale,
            fill,
            stroke: None,
        }),
        Ink::Line([x1, y1, x2, y2], width) => {
            let mut line = Outline::default();
            line.move_to([*x1 as f32, *y1 as f32]);
            line.line_to([*x2 as f32, *y2 as f32]);
            shape(line, NONE, edge(*width))
        }
        Ink::Dashed => {
            let dashes = Some(DASHES);
            shape(rectangle(item.bounds), NONE, edge(DASHED_EDGE).map(|edge| Stroke { dashes, ..edge }))
        }
        Ink::Framed => shape(rectangle(item.bounds), NONE, edge(FRAME_EDGE)),
        Ink::Polygon(points) => {
            let edge = edge(SHAPE_EDGE).filter(|_| has_edge(item.role));
            let points = points.iter().map(|&(x, y)| [x, y]);
            shape(Outline::polygon(points), fill, edge.map(|edge| Stroke { round: true, ..edge }))
        }
        Ink::Tie(ends, height) => {
            let handles = tie_handles(*ends, *height).map(|point| point.map(|along| along as f32));
            let [x1, y1, x2, y2] = ends.map(|along| along as f32);
            let mut tie = Outline::default();
            tie.move_to([x1, y1]);
            tie.curve_to(handles[0], handles[1], [x2, y2]);
            tie.curve_to(handles[2], handles[3], [x1, y1]);
            tie.close();
            shape(tie, fill, None)
        }
    }
}

fn rectangle(bounds: Bounds) -> Outline {
    let Bounds { left, top, right, bottom } = bounds;
    Outline::polygon([[left, top], [right, top], [right, bottom], [left, bottom]])
}
