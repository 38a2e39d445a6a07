//! Extents, in whole units of 1/250 of a staff space. The y axis points down.

/// A rectangle in units.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Bounds {
    /// The left edge.
    pub left: i32,
    /// The upper edge.
    pub top: i32,
    /// The right edge.
    pub right: i32,
    /// The lower edge.
    pub bottom: i32,
}

impl Bounds {
    /// Builds a rectangle from edges in any order.
    pub fn new(x1: i32, y1: i32, x2: i32, y2: i32) -> Bounds {
        Bounds { left: x1.min(x2), top: y1.min(y2), right: x1.max(x2), bottom: y1.max(y2) }
    }

    /// Returns the smallest rectangle around both rectangles.
    pub fn around(self, other: Bounds) -> Bounds {
        Bounds {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// Returns whether the two rectangles share an area more than `tolerance` units wide and high.
    pub fn overlaps(self, other: Bounds, tolerance: i32) -> bool {
        self.right.min(other.right) - self.left.max(other.left) > tolerance
            && self.bottom.min(other.bottom) - self.top.max(other.top) > tolerance
    }

    /// Returns whether the other rectangle lies wholly inside this rectangle.
    pub fn contains(self, other: Bounds) -> bool {
        self.left <= other.left
            && self.top <= other.top
            && other.right <= self.right
            && other.bottom <= self.bottom
    }

    pub(super) fn shifted(self, dx: i32, dy: i32) -> Bounds {
        Bounds { left: self.left + dx, top: self.top + dy, right: self.right + dx, bottom: self.bottom + dy }
    }
}
