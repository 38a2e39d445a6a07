//! Outlines for painters, as straight lines and cubic curves between points.

/// A step of an outline.
#[derive(Clone, Copy, PartialEq, Debug)]
pub(super) enum Segment {
    /// Begins a contour at a point.
    Move([f32; 2]),
    /// A straight line to a point.
    Line([f32; 2]),
    /// A cubic curve: its two handles and its end.
    Curve([[f32; 2]; 3]),
    /// Returns to the first point of the contour.
    Close,
}

/// An outline under construction.
#[derive(Clone, PartialEq, Debug, Default)]
pub(super) struct Outline {
    pub(super) segments: Vec<Segment>,
    begin: [f32; 2],
    at: [f32; 2],
}

impl Outline {
    /// Reads an SVG path of whole numbers, as in `glyphs/outlines.txt`. Ignores everything after an unknown command.
    pub(super) fn parse(path: &str) -> Outline {
        let mut outline = Outline::default();
        let mut rest = path;
        // The handle before the last point. A smooth curve mirrors it.
        let mut handle = None;
        while let Some(command) = rest.chars().next() {
            rest = &rest[command.len_utf8()..];
            let end = rest.find(|char: char| char.is_ascii_alphabetic()).unwrap_or(rest.len());
            let numbers = numbers(&rest[..end]);
            rest = &rest[end..];
            let count = match command.to_ascii_lowercase() {
                'h' | 'v' => 1,
                'm' | 'l' => 2,
                's' | 'q' => 4,
                'c' => 6,
                'z' => {
                    outline.close();
                    handle = None;
                    continue;
                }
                _ => return outline,
            };
            for (index, numbers) in numbers.chunks_exact(count).enumerate() {
                let [x, y] = outline.at;
                let [dx, dy] = if command.is_ascii_lowercase() { [x, y] } else { [0.0, 0.0] };
                let point = |index: usize| [numbers[2 * index] + dx, numbers[2 * index + 1] + dy];
                let before = handle.take();
                match command.to_ascii_lowercase() {
                    'h' => outline.line_to([numbers[0] + dx, y]),
                    'v' => outline.line_to([x, numbers[0] + dy]),
                    // The points after the first are ends of lines.
                    'm' if index == 0 => outline.move_to(point(0)),
                    'm' | 'l' => outline.line_to(point(0)),
                    'q' => outline.quadratic_to(point(0), point(1)),
                    's' => {
                        let mirrored =
                            before.map_or([x, y], |[hx, hy]: [f32; 2]| [2.0 * x - hx, 2.0 * y - hy]);
                        outline.curve_to(mirrored, point(0), point(1));
                        handle = Some(point(0));
                    }
                    _ => {
                        outline.curve_to(point(0), point(1), point(2));
                        handle = Some(point(1));
                    }
                }
            }
        }
        outline
    }

    /// Returns a closed contour through points.
    pub(super) fn polygon(points: impl IntoIterator<Item = [i32; 2]>) -> Outline {
        let mut outline = Outline::default();
        for (index, [x, y]) in points.into_iter().enumerate() {
            let point = [x as f32, y as f32];
            if index == 0 { outline.move_to(point) } else { outline.line_to(point) }
        }
        outline.close();
        outline
    }

    pub(super) fn move_to(&mut self, point: [f32; 2]) {
        self.segments.push(Segment::Move(point));
        (self.begin, self.at) = (point, point);
    }

    pub(super) fn line_to(&mut self, point: [f32; 2]) {
        self.segments.push(Segment::Line(point));
        self.at = point;
    }

    pub(super) fn curve_to(&mut self, first: [f32; 2], second: [f32; 2], point: [f32; 2]) {
        self.segments.push(Segment::Curve([first, second, point]));
        self.at = point;
    }

    /// Adds a quadratic curve as a cubic curve. Each cubic handle lies two thirds of the way to the quadratic handle.
    pub(super) fn quadratic_to(&mut self, handle: [f32; 2], point: [f32; 2]) {
        let towards =
            |from: [f32; 2]| [0, 1].map(|axis: usize| from[axis] + (handle[axis] - from[axis]) * 2.0 / 3.0);
        self.curve_to(towards(self.at), towards(point), point);
    }

    pub(super) fn close(&mut self) {
        self.segments.push(Segment::Close);
        self.at = self.begin;
    }
}

/// Reads whole numbers separated by spaces, or only by their signs.
fn numbers(text: &str) -> Vec<f32> {
    let spaced = text.replace('-', " -").replace(',', " ");
    spaced.split_ascii_whitespace().filter_map(|number| number.parse().ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::glyphs::Glyph;

    #[test]
    fn every_command_of_the_table_is_read() {
        let read =
            Outline::parse("M10 20 11 21l4-6h10v-5H0s1 2 3 4c1 1 2 2 3 3s1 1 2 2zL1 2Q4 5 7 8V0").segments;
        let expected = [
            Segment::Move([10.0, 20.0]),
            Segment::Line([11.0, 21.0]),
            Segment::Line([15.0, 15.0]),
            Segment::Line([25.0, 15.0]),
            Segment::Line([25.0, 10.0]),
            Segment::Line([0.0, 10.0]),
            // Without a curve before it, a smooth curve has its first handle at the current point.
            Segment::Curve([[0.0, 10.0], [1.0, 12.0], [3.0, 14.0]]),
            Segment::Curve([[4.0, 15.0], [5.0, 16.0], [6.0, 17.0]]),
            Segment::Curve([[7.0, 18.0], [7.0, 18.0], [8.0, 19.0]]),
            Segment::Close,
            Segment::Line([1.0, 2.0]),
            Segment::Curve([[3.0, 4.0], [5.0, 6.0], [7.0, 8.0]]),
            Segment::Line([7.0, 0.0]),
        ];
        assert_eq!(read, expected);
    }

    /// The points of each outline, without its handles, reach its extent in the table to within four units.
    #[test]
    fn outlines_are_as_large_as_the_table_says() {
        for glyph in Glyph::all() {
            let bounds = glyph.bounds();
            let outline = Outline::parse(glyph.path());
            let mut reach = [i32::MAX, i32::MAX, i32::MIN, i32::MIN];
            let commands = glyph.path().chars().filter(|char| char.is_ascii_alphabetic());
            assert!(outline.segments.len() >= commands.count(), "{}", glyph.name());
            for segment in &outline.segments {
                let (Segment::Move([x, y]) | Segment::Line([x, y]) | Segment::Curve([_, _, [x, y]])) =
                    segment
                else {
                    continue;
                };
                let (x, y) = (*x as i32, *y as i32);
                reach = [reach[0].min(x), reach[1].min(y), reach[2].max(x), reach[3].max(y)];
            }
            let told = [bounds.left, bounds.top, bounds.right, bounds.bottom];
            // Fonts have points at the extremes of a curve. Rounding to whole numbers adds a unit or two.
            for (reach, told) in reach.into_iter().zip(told) {
                assert!((reach - told).abs() <= 4, "{}: {reach} and {told}", glyph.name());
            }
        }
    }
}
