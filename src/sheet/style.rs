//! The look of each role: its class, colours and strokes. SVG, PDF and PNG all use this module.

use std::fmt;

use super::draw::Role;

/// The thickness of the edges of tab shapes, frames and dashed outlines; then the lengths of dashes and gaps.
pub(super) const SHAPE_EDGE: i32 = 34;
pub(super) const FRAME_EDGE: i32 = 44;
pub(super) const DASHED_EDGE: i32 = 30;
pub(super) const DASHES: [i32; 2] = [70, 45];

/// A colour as red, green and blue, or none.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Colour(pub(super) Option<[u8; 3]>);

impl fmt::Display for Colour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 {
            Some([red, green, blue]) => write!(f, "#{red:02x}{green:02x}{blue:02x}"),
            None => f.write_str("none"),
        }
    }
}

pub(super) struct Style {
    pub(super) class: &'static str,
    pub(super) fill: Colour,
    pub(super) stroke: Colour,
}

/// Returns the class and the colours of a role. Every colour behind white figures, and every colour of other figures,
/// has a contrast of at least 7 to 1 with white.
pub(super) fn style(role: Role) -> Style {
    const fn colour(rgb: u32) -> Colour {
        let [_, red, green, blue] = rgb.to_be_bytes();
        Colour(Some([red, green, blue]))
    }
    const NONE: Colour = Colour(None);
    const INK: Colour = colour(0x00_00_00);
    const WHITE: Colour = colour(0xff_ff_ff);
    const BLOW: Colour = colour(0x0b_4f_8a);
    const DRAW: Colour = colour(0x8a_2a_0b);
    const SIGN: Colour = colour(0x5b_1a_86);
    const GREY: Colour = colour(0x4a_4a_4a);
    let (class, fill, stroke) = match role {
        Role::Staff => ("staff", INK, colour(0x33_33_33)),
        Role::Bar => ("barline", INK, INK),
        Role::Note => ("ink", INK, INK),
        Role::Span => ("span", INK, INK),
        Role::BlowShape => ("blow-shape", WHITE, BLOW),
        Role::DrawShape => ("draw-shape", DRAW, DRAW),
        Role::Blow => ("blow", BLOW, BLOW),
        Role::Draw => ("draw", WHITE, WHITE),
        Role::Missing => ("missing", GREY, GREY),
        Role::Sign => ("sign", SIGN, SIGN),
        Role::Shade => ("shade", colour(0xe9_e6_df), NONE),
        Role::Frame => ("frame", NONE, SIGN),
        Role::Text => ("text", INK, INK),
        Role::Faint => ("faint", GREY, GREY),
        Role::Chart => ("plate", INK, colour(0x77_77_77)),
    };
    Style { class, fill, stroke }
}

/// Returns whether the polygons of a role have an edge.
pub(super) fn has_edge(role: Role) -> bool {
    matches!(role, Role::BlowShape | Role::DrawShape)
}

/// Returns the handles of a tie's outline: two for the outer curve, then two for the inner curve.
pub(super) fn tie_handles([x1, y1, x2, y2]: [i32; 4], height: i32) -> [[i32; 2]; 4] {
    let (reach, swell) = ((x2 - x1) / 4, height * 4 / 3);
    let thin = swell - height.signum() * 75;
    [[x1 + reach, y1 + swell], [x2 - reach, y2 + swell], [x2 - reach, y2 + thin], [x1 + reach, y1 + thin]]
}
