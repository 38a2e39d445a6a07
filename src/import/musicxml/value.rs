//! Reads the values inside elements: numbers, and the text of a child.

use roxmltree::Node;

/// Returns the text of an element without the surrounding white space; empty if the element has no text.
pub(super) fn text<'a>(node: Node<'a, '_>) -> &'a str {
    node.text().unwrap_or_default().trim()
}

/// Returns the text of the first child with this name.
pub(super) fn child_text<'a>(node: Node<'a, '_>, name: &str) -> Option<&'a str> {
    child(node, name).map(text)
}

/// Returns the first child with this name.
pub(super) fn child<'a, 'input>(node: Node<'a, 'input>, name: &str) -> Option<Node<'a, 'input>> {
    node.children().find(|child| is(*child, name))
}

/// Whether a node is an element with this local name, in any name space.
pub(super) fn is(node: Node<'_, '_>, name: &str) -> bool {
    node.tag_name().name() == name
}

/// Whether an attribute has the value "yes".
pub(super) fn yes(node: Node<'_, '_>, attribute: &str) -> bool {
    node.attribute(attribute) == Some("yes")
}

/// A decimal number exactly as written: `1.5` is 15 tenths.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Decimal {
    /// The digits as a whole number.
    pub(super) digits: i64,
    /// The divisor: a power of ten, at most [`Decimal::FINEST`].
    pub(super) scale: i64,
}

impl Decimal {
    /// The finest scale; further digits are dropped.
    pub(super) const FINEST: i64 = 1_000_000;

    /// Reads a number such as `480`, `-2`, `+0.5` or `.5`.
    pub(super) fn parse(text: &str) -> Option<Decimal> {
        let text = text.trim();
        let (negative, unsigned) = match text.as_bytes().first()? {
            b'-' => (true, &text[1..]),
            b'+' => (false, &text[1..]),
            _ => (false, text),
        };
        let (mut digits, mut scale, mut point, mut any) = (0i64, 1i64, false, false);
        for byte in unsigned.bytes() {
            match byte {
                b'0'..=b'9' => {
                    any = true;
                    if !point || scale < Decimal::FINEST {
                        digits = digits.checked_mul(10)?.checked_add(i64::from(byte - b'0'))?;
                        scale *= if point { 10 } else { 1 };
                    }
                }
                b'.' if !point => point = true,
                _ => return None,
            }
        }
        // Trailing zeros after the point have no meaning, and without them most numbers are whole.
        while scale > 1 && digits % 10 == 0 {
            digits /= 10;
            scale /= 10;
        }
        any.then_some(Decimal { digits: if negative { -digits } else { digits }, scale })
    }

    /// Returns the nearest whole number; halves round away from zero.
    pub(super) fn rounded(self) -> i64 {
        let (whole, rest) = (self.digits / self.scale, self.digits % self.scale);
        whole + 2 * rest / self.scale
    }

    /// Whether the decimal is a whole number.
    pub(super) fn is_whole(self) -> bool {
        self.scale == 1
    }
}

/// Reads a decimal number and rounds it to a whole number; `None` if the text is no number or the type cannot represent
/// it.
pub(super) fn whole<T: TryFrom<i64>>(text: &str) -> Option<T> {
    Decimal::parse(text).and_then(|number| T::try_from(number.rounded()).ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_exact_and_round_away_from_zero() {
        let parsed = |text| Decimal::parse(text).map(|number| (number.digits, number.scale));
        assert_eq!(parsed(" 480 "), Some((480, 1)));
        assert_eq!(parsed("2.50"), Some((25, 10)));
        assert_eq!(parsed("3.0"), Some((3, 1)));
        assert_eq!(parsed("-.5"), Some((-5, 10)));
        assert_eq!([".", "", "-", "1e3", "1.2.3", "99999999999999999999"].map(parsed), [None; 6]);
        let rounded = |text| Decimal::parse(text).unwrap().rounded();
        assert_eq!(["0.5", "-0.5", "0.4", "1.5", "-1.49"].map(rounded), [1, -1, 0, 2, -1]);
        // The digits of this decimal form the largest 64-bit number.
        assert_eq!(rounded("922337203685477580.7"), 922_337_203_685_477_581);
    }
}
