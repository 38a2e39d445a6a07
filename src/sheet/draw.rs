//! The elements of a drawing: glyphs, texts, lines and shapes with their extents, in groups with owners.
//!
//! The unit is 1/250 of a staff space, which is the unit of the glyph outlines. The y axis points down. All numbers are
//! whole, so a sheet is the same on every machine.

pub use super::bounds::Bounds;
use super::{
    glyphs::Glyph,
    text::{self, Face},
};

/// A staff space in units.
pub const SPACE: i32 = 250;

/// The role of an item on the sheet. Renderers choose its colour by the role, and the geometric tests decide by the
/// role which items may touch.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Role {
    /// Staff lines, ledger lines, the rail of the tab with its ticks.
    Staff,
    /// Barlines with the dots of repeats, brackets of endings.
    Bar,
    /// Heads, stems, flags, dots, accidentals, rests, fermatas, clefs, signatures, meters.
    Note,
    /// Beams, ties, slurs, numbers and brackets of tuplets.
    Span,
    /// The house and the steps of a blow note in the tab.
    BlowShape,
    /// The house and the steps of a draw note in the tab.
    DrawShape,
    /// The figures of a blow note.
    Blow,
    /// The figures of a draw note.
    Draw,
    /// The tab of a note that is missing or left out.
    Missing,
    /// A sign for the player: breath, breath turn, changed note, corrected note.
    Sign,
    /// The shade behind a bar that is hard, or that costs more than in another way; also behind the tab of a note that
    /// is missing or left out.
    Shade,
    /// The frame around the tab of a pinned note, or of a note that two ways play in different holes.
    Frame,
    /// Words and chord symbols, and the signs segno and coda.
    Text,
    /// Less important words and numbers.
    Faint,
    /// The lines of the harp chart, and the numbers of its holes.
    Chart,
}

/// The alignment of a text to its point.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Anchor {
    /// The text begins at the point.
    Start,
    /// The middle of the text is at the point.
    Middle,
    /// The text ends at the point.
    End,
}

/// A drawn item.
#[derive(Clone, PartialEq, Debug)]
pub struct Item {
    /// The shape.
    pub ink: Ink,
    /// The role.
    pub role: Role,
    /// The extent.
    pub bounds: Bounds,
}

/// The shape of an item.
#[derive(Clone, PartialEq, Debug)]
pub enum Ink {
    /// A glyph: its origin (x, y), and its scale in thousandths.
    Glyph(Glyph, i32, i32, i32),
    /// A text.
    Text(Text),
    /// A straight line: its ends, and its thickness.
    Line([i32; 4], i32),
    /// A dashed outline around the extent.
    Dashed,
    /// A solid outline around the extent.
    Framed,
    /// A filled polygon.
    Polygon(Vec<(i32, i32)>),
    /// A tie or slur: its ends, and the height of its middle (negative is upwards).
    Tie([i32; 4], i32),
}

/// A text at a point of its baseline.
#[derive(Clone, PartialEq, Debug)]
pub struct Text {
    /// The text, possibly from a file: renderers make it safe for their medium.
    pub text: String,
    /// The point.
    pub at: (i32, i32),
    /// The alignment of the text to the point.
    pub anchor: Anchor,
    /// The typeface.
    pub face: Face,
    /// The size of the type.
    pub size: i32,
}

/// The owner of a group of items.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Owner {
    /// The heading (title, makers, key, tempo, harp), or the foot of a page.
    Heading,
    /// A line of music in one way, by its index on the sheet.
    System(usize),
    /// The beginning of a line: clef, signature, meter, repeat sign, bar number and the name of the way.
    Opening,
    /// A bar, by its index in the melody and its number to a musician.
    Bar(usize, u32),
    /// A note, by its index in the melody.
    Note(usize),
    /// The chart of the harp.
    Chart,
    /// A hole of the chart: its number, whether its note is a draw note, and the semitones of the bend (12 for an
    /// overbend).
    Hole(u8, bool, u8),
    /// The legend, or a line of remarks.
    Legend,
}

/// Items that belong together.
#[derive(Clone, PartialEq, Debug)]
pub struct Group {
    /// Their owner.
    pub owner: Owner,
    /// The items. The first is at the back.
    pub items: Vec<Item>,
    /// Smaller groups, in front of the items.
    pub groups: Vec<Group>,
}

impl Item {
    /// Returns a glyph with its origin at a point.
    pub(super) fn glyph(glyph: Glyph, x: i32, y: i32, role: Role) -> Item {
        Item::scaled_glyph(glyph, x, y, 1000, role)
    }

    /// Returns a glyph scaled in thousandths.
    pub(super) fn scaled_glyph(glyph: Glyph, x: i32, y: i32, scale: i32, role: Role) -> Item {
        let inner = glyph.bounds();
        let bounds = Bounds {
            left: x + inner.left * scale / 1000,
            top: y + inner.top * scale / 1000,
            right: x + inner.right * scale / 1000,
            bottom: y + inner.bottom * scale / 1000,
        };
        Item { ink: Ink::Glyph(glyph, x, y, scale), role, bounds }
    }

    /// Returns a line; the extent of a vertical or horizontal line includes its thickness.
    pub(super) fn line(from: (i32, i32), to: (i32, i32), width: i32, role: Role) -> Item {
        let mut bounds = Bounds::new(from.0, from.1, to.0, to.1);
        if from.0 == to.0 {
            (bounds.left, bounds.right) = (bounds.left - width / 2, bounds.right + width / 2);
        }
        if from.1 == to.1 {
            (bounds.top, bounds.bottom) = (bounds.top - width / 2, bounds.bottom + width / 2);
        }
        Item { ink: Ink::Line([from.0, from.1, to.0, to.1], width), role, bounds }
    }

    /// Returns a filled polygon.
    pub(super) fn polygon(points: Vec<(i32, i32)>, role: Role) -> Item {
        let first = points.first().copied().unwrap_or((0, 0));
        let bounds =
            points.iter().fold(Bounds::new(first.0, first.1, first.0, first.1), |bounds, &(x, y)| {
                bounds.around(Bounds::new(x, y, x, y))
            });
        Item { ink: Ink::Polygon(points), role, bounds }
    }

    /// Returns a filled rectangle.
    pub(super) fn rectangle(bounds: Bounds, role: Role) -> Item {
        let Bounds { left, top, right, bottom } = bounds;
        Item::polygon(vec![(left, top), (right, top), (right, bottom), (left, bottom)], role)
    }

    /// Returns a dashed outline.
    pub(super) fn dashed(bounds: Bounds, role: Role) -> Item {
        Item { ink: Ink::Dashed, role, bounds }
    }

    /// Returns a solid outline.
    pub(super) fn framed(bounds: Bounds, role: Role) -> Item {
        Item { ink: Ink::Framed, role, bounds }
    }

    /// Returns a tie or slur.
    pub(super) fn tie(from: (i32, i32), to: (i32, i32), height: i32, role: Role) -> Item {
        let mut bounds = Bounds::new(from.0, from.1, to.0, to.1);
        // The handles are a third higher, but a cubic curve rises only to three quarters of the height of its handles.
        let (top, bottom) = (bounds.top + height.min(0), bounds.bottom + height.max(0));
        (bounds.top, bounds.bottom) = (top, bottom);
        Item { ink: Ink::Tie([from.0, from.1, to.0, to.1], height), role, bounds }
    }

    /// Returns a text.
    pub(super) fn text(
        text: impl Into<String>,
        at: (i32, i32),
        anchor: Anchor,
        face: Face,
        size: i32,
        role: Role,
    ) -> Item {
        let text = text::composed(&text.into());
        let width = face.width(&text, size);
        let left = match anchor {
            Anchor::Start => at.0,
            Anchor::Middle => at.0 - width / 2,
            Anchor::End => at.0 - width,
        };
        let (ascent, descent) = face.extent(&text, size);
        let bounds = Bounds { left, top: at.1 - ascent, right: left + width, bottom: at.1 + descent };
        Item { ink: Ink::Text(Text { text, at, anchor, face, size }), role, bounds }
    }

    /// Returns the item scaled in thousandths around the point 0, 0.
    fn scaled(self, by: i32) -> Item {
        let of = |length: i32| length * by / 1000;
        let at = |(x, y): (i32, i32)| (of(x), of(y));
        let role = self.role;
        match self.ink {
            Ink::Glyph(glyph, x, y, scale) => Item::scaled_glyph(glyph, of(x), of(y), of(scale), role),
            Ink::Text(text) => {
                Item::text(text.text, at(text.at), text.anchor, text.face, of(text.size), role)
            }
            Ink::Line([x1, y1, x2, y2], width) => {
                Item::line(at((x1, y1)), at((x2, y2)), of(width).max(1), role)
            }
            Ink::Polygon(points) => Item::polygon(points.into_iter().map(at).collect(), role),
            Ink::Tie([x1, y1, x2, y2], height) => Item::tie(at((x1, y1)), at((x2, y2)), of(height), role),
            ink @ (Ink::Dashed | Ink::Framed) => {
                let Bounds { left, top, right, bottom } = self.bounds;
                Item { ink, role, bounds: Bounds::new(of(left), of(top), of(right), of(bottom)) }
            }
        }
    }

    fn shift(&mut self, dx: i32, dy: i32) {
        self.bounds = self.bounds.shifted(dx, dy);
        match &mut self.ink {
            Ink::Glyph(_, x, y, _) => (*x, *y) = (*x + dx, *y + dy),
            Ink::Text(text) => text.at = (text.at.0 + dx, text.at.1 + dy),
            Ink::Line([x1, y1, x2, y2], _) | Ink::Tie([x1, y1, x2, y2], _) => {
                (*x1, *y1, *x2, *y2) = (*x1 + dx, *y1 + dy, *x2 + dx, *y2 + dy);
            }
            Ink::Polygon(points) => {
                points.iter_mut().for_each(|point| *point = (point.0 + dx, point.1 + dy));
            }
            Ink::Dashed | Ink::Framed => {}
        }
    }
}

impl Group {
    /// Returns an empty group.
    pub(super) fn new(owner: Owner) -> Group {
        Group { owner, items: Vec::new(), groups: Vec::new() }
    }

    pub(super) fn push(&mut self, item: Item) {
        self.items.push(item);
    }

    /// Moves everything in the group.
    pub(super) fn shift(&mut self, dx: i32, dy: i32) {
        self.items.iter_mut().for_each(|item| item.shift(dx, dy));
        self.groups.iter_mut().for_each(|group| group.shift(dx, dy));
    }

    /// Returns everything in the group, scaled in thousandths.
    pub(super) fn scaled(self, by: i32) -> Group {
        let items = self.items.into_iter().map(|item| item.scaled(by));
        let groups = self.groups.into_iter().map(|group| group.scaled(by));
        Group { owner: self.owner, items: items.collect(), groups: groups.collect() }
    }

    /// Visits every item with the innermost owner around it, from the back to the front.
    pub fn walk<'a>(&'a self, visit: &mut impl FnMut(Owner, &'a Item)) {
        self.items.iter().for_each(|item| visit(self.owner, item));
        self.groups.iter().for_each(|group| group.walk(visit));
    }

    /// Returns the extent of everything in the group; `None` for an empty group.
    pub fn bounds(&self) -> Option<Bounds> {
        let mut bounds: Option<Bounds> = None;
        self.walk(&mut |_, item| {
            bounds = Some(bounds.map_or(item.bounds, |bounds| bounds.around(item.bounds)));
        });
        bounds
    }
}
