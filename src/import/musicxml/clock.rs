//! The reader's position in its bar: counted in whole ticks, returned in exact quarters.

use super::value::Decimal;
use crate::time::Beats;

/// The number of cached conversions; a piece repeats a few durations and onsets again and again.
const REMEMBERED: usize = 256;

/// The position of one part in a bar.
pub(super) struct Clock {
    /// The ticks since `base`.
    ticks: i64,
    /// The place where counting began, in quarters from the start of the bar; nonzero only if the length of a
    /// tick has changed inside the bar, by other `divisions` or by a duration with more decimals.
    base: Beats,
    /// The furthest point to which the bar was filled before the last change of `base`, and the furthest tick since
    /// that change.
    furthest: Beats,
    furthest_ticks: i64,
    /// The ticks in one unit of a `<duration>`: 1, unless the file writes decimal durations.
    scale: i64,
    /// A tick is `numerator / denominator` quarters.
    numerator: i64,
    denominator: i64,
    divisions: Decimal,
    remembered: Vec<(i64, Beats)>,
}

impl Clock {
    pub(super) fn new() -> Clock {
        let mut clock = Clock {
            ticks: 0,
            base: Beats::ZERO,
            furthest: Beats::ZERO,
            furthest_ticks: 0,
            scale: 1,
            numerator: 1,
            denominator: 1,
            divisions: Decimal { digits: 1, scale: 1 },
            remembered: Vec::new(),
        };
        clock.set_unit();
        clock
    }

    /// Resets the clock to the start of a bar.
    pub(super) fn start_bar(&mut self) {
        self.ticks = 0;
        self.furthest_ticks = 0;
        self.base = Beats::ZERO;
        self.furthest = Beats::ZERO;
    }

    /// Sets the divisions of a quarter from here on; returns false if the number is not positive.
    pub(super) fn set_divisions(&mut self, divisions: Decimal) -> bool {
        if divisions.digits <= 0 {
            return false;
        }
        if divisions != self.divisions {
            self.rebase();
            self.divisions = divisions;
            self.set_unit();
        }
        true
    }

    /// Converts a `<duration>` to ticks.
    pub(super) fn ticks(&mut self, duration: Decimal) -> i64 {
        if duration.scale > self.scale {
            self.rebase();
            self.scale = duration.scale;
            self.set_unit();
        }
        duration.digits.saturating_mul(self.scale / duration.scale)
    }

    /// Converts ticks to quarters.
    pub(super) fn beats(&mut self, ticks: i64) -> Beats {
        let slot = (ticks.unsigned_abs() % REMEMBERED as u64) as usize;
        let (known, beats) = self.remembered[slot];
        if known == ticks {
            return beats;
        }
        let beats = Beats::new(ticks.saturating_mul(self.numerator), self.denominator);
        self.remembered[slot] = (ticks, beats);
        beats
    }

    /// Returns the position in quarters from the start of the bar.
    pub(super) fn now(&mut self) -> Beats {
        self.after(0)
    }

    /// Returns the position `ticks` ticks after the current one.
    pub(super) fn after(&mut self, ticks: i64) -> Beats {
        let beats = self.beats(self.ticks.saturating_add(ticks));
        if self.base == Beats::ZERO { beats } else { self.base + beats }
    }

    /// Whether the position is the start of the bar.
    pub(super) fn at_start(&self) -> bool {
        self.ticks == 0 && self.base == Beats::ZERO
    }

    /// Returns the whole number of ticks nearest to a length.
    pub(super) fn nearest_ticks(&self, length: Beats) -> i64 {
        let (numerator, denominator) = length.times(self.denominator, self.numerator.max(1)).fraction();
        (2 * numerator + denominator) / (2 * denominator)
    }

    /// Moves past a whole-bar rest, which does not count as filling the bar.
    pub(super) fn pass_over(&mut self, ticks: i64) {
        self.ticks = self.ticks.saturating_add(ticks);
    }

    /// Moves forwards or backwards. A move back beyond the start of the bar stops at the start; the method then returns
    /// the remaining distance in quarters.
    pub(super) fn advance(&mut self, ticks: i64) -> Option<Beats> {
        self.ticks = self.ticks.saturating_add(ticks);
        self.furthest_ticks = self.furthest_ticks.max(self.ticks);
        if self.ticks >= 0 {
            return None;
        }
        let now = self.now();
        if now >= Beats::ZERO {
            return None;
        }
        self.restart();
        Some(Beats::ZERO - now)
    }

    /// Treats a position within `tolerance` after the start of the bar as the start.
    pub(super) fn snap_to_start(&mut self, tolerance: Beats) {
        if !self.at_start() && self.now() < tolerance {
            self.restart();
        }
    }

    /// Returns the furthest point of the bar that a note or rest has reached.
    pub(super) fn furthest(&mut self) -> Beats {
        let here = self.beats(self.furthest_ticks);
        self.furthest.max(self.base + here)
    }

    /// Makes the current position the new base, so that the length of a tick can change.
    fn rebase(&mut self) {
        self.furthest = self.furthest();
        self.base = self.now();
        self.ticks = 0;
        self.furthest_ticks = 0;
    }

    /// Moves to the start of the bar without losing the furthest point.
    fn restart(&mut self) {
        self.rebase();
        self.base = Beats::ZERO;
    }

    fn set_unit(&mut self) {
        self.numerator = self.divisions.scale;
        self.denominator = self.divisions.digits.saturating_mul(self.scale);
        self.remembered.clear();
        self.remembered.resize(REMEMBERED, (0, Beats::ZERO));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn decimal(text: &str) -> Decimal {
        Decimal::parse(text).unwrap()
    }

    #[test]
    fn divisions_may_change_and_be_decimal_inside_a_bar() {
        let mut clock = Clock::new();
        assert!(clock.set_divisions(decimal("4")));
        let ticks = clock.ticks(decimal("6"));
        clock.advance(ticks);
        assert!(clock.set_divisions(decimal("1.5")));
        let ticks = clock.ticks(decimal("0.5"));
        assert_eq!(clock.beats(ticks), Beats::new(1, 3));
        clock.advance(ticks);
        assert_eq!(clock.now(), Beats::new(11, 6));
        let back = clock.ticks(decimal("-2"));
        clock.advance(back);
        assert_eq!(clock.now(), Beats::new(1, 2));
        assert_eq!(clock.furthest(), Beats::new(11, 6));
    }

    #[test]
    fn a_step_back_stops_at_the_barline() {
        let mut clock = Clock::new();
        clock.advance(2);
        assert_eq!(clock.advance(-5), Some(Beats::quarters(3)));
        assert_eq!((clock.now(), clock.furthest()), (Beats::ZERO, Beats::quarters(2)));
        assert!(!clock.set_divisions(decimal("0")));
    }
}
