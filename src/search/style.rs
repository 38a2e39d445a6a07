//! The style of a tune, which changes the prices of bends.

use super::Weights;

/// A style of playing.
///
/// ```
/// use breathline::search::{Style, Weights};
/// let plain = Weights::default();
/// assert_eq!(Style::Plain.weights(&plain), plain);
/// let half_step = |style: Style| style.weights(&plain).bends.half_step;
/// assert_eq!((half_step(Style::Blues), half_step(Style::Folk)), (plain.bends.half_step / 2, plain.bends.half_step * 3 / 2));
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
#[non_exhaustive]
pub enum Style {
    /// Every bend costs the player's own price.
    #[default]
    Plain,
    /// A bend is part of the expression: it costs half.
    Blues,
    /// A bend spoils a clear note: it costs one and a half times as much.
    Folk,
}

impl Style {
    /// All three.
    pub const ALL: [Style; 3] = [Style::Plain, Style::Blues, Style::Folk];

    /// Returns the word for the command line and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Style::Plain => "plain",
            Style::Blues => "blues",
            Style::Folk => "folk",
        }
    }

    /// Returns the weights of a player in this style. The bends' prices `half_step`, `further`, `unsteady`, `cold` and
    /// `leave` are halved or raised by half, rounded down. Blow bends, overbends, haste, long bends and all notes
    /// without bends keep their prices (our judgement, without a source).
    pub fn weights(self, weights: &Weights) -> Weights {
        let (times, by) = match self {
            Style::Plain => (1, 1),
            Style::Blues => (1, 2),
            Style::Folk => (3, 2),
        };
        let mut styled = weights.clone();
        let bends = &mut styled.bends;
        for price in
            [&mut bends.half_step, &mut bends.further, &mut bends.unsteady, &mut bends.cold, &mut bends.leave]
        {
            *price = price.saturating_mul(times) / by;
        }
        styled
    }
}
