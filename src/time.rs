//! Exact musical time: [`Beats`] are fractions of quarter notes, never floats. The [`TempoMap`] converts them to whole
//! microseconds as the last step.

mod value;

use std::{
    cmp::Ordering,
    fmt,
    ops::{Add, AddAssign, Sub},
};

use num_integer::Integer;
use num_rational::Ratio;
pub use value::Value;

/// A point or a length in musical time, in quarter notes, as an exact fraction.
///
/// Arithmetic never overflows: a result beyond [`Beats::LONGEST`] becomes the longest time. A result whose denominator
/// exceeds [`Beats::FINEST`] is rounded to the nearest 1/[`Beats::FINEST`] of a quarter; only a hostile file contains
/// such times.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Beats {
    // The fraction is in lowest terms, so that equal times have equal numbers.
    numerator: i64,
    denominator: i64,
}

impl Beats {
    /// The time zero.
    pub const ZERO: Beats = Beats { numerator: 0, denominator: 1 };
    /// The finest grid that is represented exactly: 2^10 · 3^3 · 5^2 · 7 parts of a quarter.
    pub const FINEST: i64 = 4_838_400;
    /// The longest time, in quarters: ten days at 69 quarters a minute.
    pub const LONGEST: i64 = 1_000_000;

    /// The number of parts of a quarter in which [`Beats::units`] counts: 2^6 · 3^2 · 5 · 7.
    pub(crate) const UNITS: i64 = 20_160;

    /// Makes a time from a fraction of quarter notes: `Beats::new(1, 2)` is an eighth. A zero denominator is treated as
    /// 1.
    pub fn new(numerator: i64, denominator: i64) -> Beats {
        Beats::small(numerator, denominator)
            .unwrap_or_else(|| Beats::from_wide(i128::from(numerator), i128::from(denominator)))
    }

    /// Makes a time of `n` quarter notes.
    pub fn quarters(n: i32) -> Beats {
        Beats::new(i64::from(n), 1)
    }

    /// Returns numerator and denominator in lowest terms; the denominator is positive.
    pub fn fraction(self) -> (i64, i64) {
        (self.numerator, self.denominator)
    }

    /// Returns the nearest float, for output only.
    pub fn as_f64(self) -> f64 {
        let (numerator, denominator) = self.fraction();
        numerator as f64 / denominator as f64
    }

    /// Reads a number as musicians write it: `3`, `2 1/2`, `1/3`, and also `2+1/2` and `2.5`; returns `None` for any
    /// other text.
    pub fn read(text: &str) -> Option<Beats> {
        let whole = |text: &str| text.trim().parse::<u32>().ok().map(i64::from);
        let text = text.trim();
        if let Some((before, after)) = text.split_once('.') {
            let scale = 10i64.pow(u32::try_from(after.len()).ok().filter(|&digits| digits <= 6)?);
            return Some(Beats::new(whole(before)? * scale + whole(after)?, scale));
        }
        let (before, part) = match text.rsplit_once([' ', '+']) {
            Some((before, part)) => (whole(before)?, part),
            None if text.contains('/') => (0, text),
            None => return Some(Beats::new(whole(text)?, 1)),
        };
        let (numerator, denominator) = part.split_once('/')?;
        let denominator = whole(denominator).filter(|&denominator| denominator > 0)?;
        Some(Beats::new(before, 1) + Beats::new(whole(numerator)?, denominator))
    }

    /// Rounds to the fraction that a musician reads: 3 85/256 in a file becomes 3 1/3.
    pub(crate) fn rounded(self) -> Beats {
        /// The finest grid, in parts of a beat: 48 is the least number that both three and sixteen divide.
        const FINEST: i64 = 48;
        let (numerator, denominator) = self.fraction();
        if denominator <= FINEST {
            return self;
        }
        let parts =
            (i128::from(numerator) * i128::from(2 * FINEST) / i128::from(denominator) + 1).div_euclid(2);
        i64::try_from(parts).map_or(self, |parts| Beats::new(parts, FINEST))
    }

    /// Returns this length times a fraction.
    pub fn times(self, numerator: i64, denominator: i64) -> Beats {
        let (n, d) = self.fraction();
        let small = || Beats::small(n.checked_mul(numerator)?, d.checked_mul(denominator)?);
        small().unwrap_or_else(|| {
            Beats::from_wide(i128::from(n) * i128::from(numerator), i128::from(d) * i128::from(denominator))
        })
    }

    /// Reduces a fraction quickly if its numbers are small, as in nearly all music; otherwise returns `None`, and the
    /// caller uses slower wide integers.
    fn small(numerator: i64, denominator: i64) -> Option<Beats> {
        if denominator <= 0 {
            return None;
        }
        // Denominators in music are powers of two or small multiples of them. Shifts remove the factors of two, and
        // often nothing else is left to reduce.
        let twos = (numerator | denominator).trailing_zeros();
        let (n, d) = (numerator >> twos, denominator >> twos);
        let odd = d >> d.trailing_zeros();
        let (n, d) = match odd {
            1 => (n, d),
            _ => match greatest_common_divisor(odd.unsigned_abs(), n.unsigned_abs()) as i64 {
                1 => (n, d),
                divisor => (n / divisor, d / divisor),
            },
        };
        let fits = d <= Beats::FINEST && n.unsigned_abs() < (Beats::LONGEST * d).unsigned_abs();
        fits.then_some(Beats { numerator: n, denominator: d })
    }

    fn from_wide(numerator: i128, denominator: i128) -> Beats {
        let denominator = if denominator == 0 { 1 } else { denominator };
        let exact = Ratio::<i128>::new(numerator, denominator);
        let (finest, longest) = (i128::from(Beats::FINEST), i128::from(Beats::LONGEST));
        let exact = if *exact.denom() > finest {
            // Whole quarters are handled separately, so that no number near the integer limit is multiplied.
            let (whole, part) = exact.numer().div_mod_floor(exact.denom());
            // Halves round up, both above and below zero.
            let part = (part * finest * 2 + exact.denom()) / (exact.denom() * 2);
            Ratio::from(whole.clamp(-longest - 1, longest)) + Ratio::new(part, finest)
        } else {
            exact
        };
        let exact = exact.clamp(Ratio::from(-longest), Ratio::from(longest));
        // Both numbers fit: |numerator| <= LONGEST * FINEST < 2^43.
        Beats { numerator: *exact.numer() as i64, denominator: *exact.denom() as i64 }
    }

    /// Returns this time as a whole number of [`Beats::UNITS`], so that sums and comparisons need no fractions. A
    /// remainder of less than one unit, finer than notation can write, is cut off. The product fits, because a
    /// numerator is below 2^43.
    pub(crate) fn units(self) -> i64 {
        let (numerator, denominator) = self.fraction();
        match UNITS_EACH.get(denominator as usize) {
            Some(&each @ 1..) => numerator * each,
            _ => numerator * Beats::UNITS / denominator,
        }
    }

    /// Returns this time plus `quarters` whole quarters. No division is needed: the fraction stays in lowest terms.
    pub(crate) fn later(self, quarters: u64) -> Beats {
        let Beats { numerator, denominator } = self;
        let moved = || i64::try_from(quarters).ok()?.checked_mul(denominator)?.checked_add(numerator);
        match moved() {
            Some(numerator) if numerator.unsigned_abs() < (Beats::LONGEST * denominator).unsigned_abs() => {
                Beats { numerator, denominator }
            }
            _ => self + Beats::new(i64::try_from(quarters).unwrap_or(i64::MAX), 1),
        }
    }

    /// Returns the sum of two fractions.
    fn sum((a, b): (i64, i64), (c, d): (i64, i64)) -> Beats {
        let small = || match b == d {
            true => Beats::small(a.checked_add(c)?, b),
            false => Beats::small(a.checked_mul(d)?.checked_add(c.checked_mul(b)?)?, b.checked_mul(d)?),
        };
        small().unwrap_or_else(|| {
            let [a, b, c, d] = [a, b, c, d].map(i128::from);
            Beats::from_wide(a * d + c * b, b * d)
        })
    }
}

/// Returns the greatest common divisor by Euclid's algorithm, which needs few steps if one number is small.
fn greatest_common_divisor(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// [`Beats::UNITS`] divided by each small denominator that divides it; zero for every other denominator.
const UNITS_EACH: [i64; 65] = {
    let mut each = [0; 65];
    let mut denominator = 1;
    while denominator < each.len() {
        if Beats::UNITS % denominator as i64 == 0 {
            each[denominator] = Beats::UNITS / denominator as i64;
        }
        denominator += 1;
    }
    each
};

impl Ord for Beats {
    fn cmp(&self, other: &Beats) -> Ordering {
        let ((a, b), (c, d)) = (self.fraction(), other.fraction());
        match b == d {
            true => a.cmp(&c),
            false => (i128::from(a) * i128::from(d)).cmp(&(i128::from(c) * i128::from(b))),
        }
    }
}

impl PartialOrd for Beats {
    fn partial_cmp(&self, other: &Beats) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Add for Beats {
    type Output = Beats;

    fn add(self, other: Beats) -> Beats {
        Beats::sum(self.fraction(), other.fraction())
    }
}

impl Sub for Beats {
    type Output = Beats;

    fn sub(self, other: Beats) -> Beats {
        let (numerator, denominator) = other.fraction();
        Beats::sum(self.fraction(), (-numerator, denominator))
    }
}

impl AddAssign for Beats {
    fn add_assign(&mut self, other: Beats) {
        *self = *self + other;
    }
}

impl std::iter::Sum for Beats {
    fn sum<I: Iterator<Item = Beats>>(iter: I) -> Beats {
        iter.fold(Beats::ZERO, Add::add)
    }
}

/// Writes a whole number, a mixed fraction (`2 1/2`) or a fraction (`1/3`).
impl fmt::Display for Beats {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (numerator, denominator) = self.fraction();
        let (whole, part) = (numerator / denominator, (numerator % denominator).abs());
        let sign = if numerator < 0 && whole == 0 { "-" } else { "" };
        match (whole, part) {
            (_, 0) => write!(f, "{whole}"),
            (0, _) => write!(f, "{sign}{part}/{denominator}"),
            _ => write!(f, "{whole} {part}/{denominator}"),
        }
    }
}

/// A time signature.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Meter {
    /// The upper number.
    pub beats: u16,
    /// The lower number: 4 means quarters, 8 eighths.
    pub unit: u16,
}

impl Meter {
    /// The meter 4/4, which is assumed where a meter is needed and the file states none.
    pub const COMMON: Meter = Meter { beats: 4, unit: 4 };

    /// Returns the length of a full bar.
    pub fn bar(self) -> Beats {
        self.written_beat().times(i64::from(self.beats), 1)
    }

    /// Returns the length of the beat that the lower number states; musicians count it in "bar 3, beat 2".
    pub fn written_beat(self) -> Beats {
        Beats::new(4, i64::from(self.unit.max(1)))
    }

    /// Returns the length of the felt beat: three written beats in 6/8, 9/8, 12/8 and the like, otherwise one written
    /// beat.
    pub fn felt_beat(self) -> Beats {
        if self.unit >= 8 && self.beats > 3 && self.beats.is_multiple_of(3) {
            self.written_beat().times(3, 1)
        } else {
            self.written_beat()
        }
    }
}

impl fmt::Display for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.beats, self.unit)
    }
}

/// A place in the music, as a musician names it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Place {
    /// The part, counted from 1.
    pub part: u16,
    /// The bar, counted from 1; a pickup is bar 0.
    pub bar: u32,
    /// The beat in the bar, counted from 1, in the unit of the time signature.
    pub beat: Beats,
}

/// The tempo over the whole tune: the length of a quarter note in microseconds, from each change on.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct TempoMap {
    changes: Vec<TempoChange>,
    origin: Origin,
}

/// The origin of a tempo.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Origin {
    /// The file or the user stated the tempo.
    Stated,
    /// The tempo was chosen to fit the tune.
    Assumed,
    /// Nobody stated a tempo, and none was chosen.
    Unsaid,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
struct TempoChange {
    at: Beats,
    /// The time at which the music reaches `at`, in microseconds from the start.
    micros: u64,
    micros_per_quarter: u32,
}

impl TempoMap {
    /// The tempo of 120 quarters per minute, which applies if a file has none (Standard MIDI File default).
    pub const DEFAULT_MICROS_PER_QUARTER: u32 = 500_000;
    /// The latest place, in quarters, at which a first mark also applies to the music before it: a bar of 4/4, or a
    /// pickup (our judgement).
    const OPENING: i32 = 4;

    /// Makes a map from changes in any order. The last of several changes at one place wins, and a tempo of zero is
    /// ignored.
    ///
    /// A first mark within `TempoMap::OPENING` quarters also applies to the music before it (a pickup, or the beginning
    /// of its bar). A later mark is a change from the default tempo.
    pub fn new(changes: impl IntoIterator<Item = (Beats, u32)>) -> TempoMap {
        let mut given: Vec<(Beats, u32)> = changes.into_iter().filter(|&(_, micros)| micros > 0).collect();
        given.sort_by_key(|&(at, _)| at);
        given.dedup_by(|later, kept| {
            let same_place = later.0 == kept.0;
            if same_place {
                *kept = *later;
            }
            same_place
        });
        let origin = if given.is_empty() { Origin::Unsaid } else { Origin::Stated };
        let mut map = TempoMap {
            changes: vec![TempoChange {
                at: Beats::ZERO,
                micros: 0,
                micros_per_quarter: TempoMap::DEFAULT_MICROS_PER_QUARTER,
            }],
            origin,
        };
        for (index, (at, micros_per_quarter)) in given.into_iter().enumerate() {
            let opens = index == 0 && at <= Beats::quarters(TempoMap::OPENING);
            let at = if opens { Beats::ZERO } else { at.max(Beats::ZERO) };
            let micros = map.micros(at);
            if map.changes.last().is_some_and(|last| last.at == at) {
                map.changes.pop();
            }
            map.changes.push(TempoChange { at, micros, micros_per_quarter });
        }
        map
    }

    /// Returns the map made faster or slower so that it begins at `quarters_per_minute`; its tempo then counts as
    /// stated.
    pub fn starting_at(&self, quarters_per_minute: u16) -> TempoMap {
        let wanted = 60_000_000 / u64::from(quarters_per_minute.max(1));
        let given = u64::from(self.micros_per_quarter(Beats::ZERO)).max(1);
        TempoMap::new(self.changes().map(|(at, micros)| {
            let scaled = (u64::from(micros) * wanted + given / 2) / given;
            (at, u32::try_from(scaled).unwrap_or(u32::MAX).max(1))
        }))
    }

    /// Makes a map with a single tempo, in microseconds per quarter, for a tune whose file states none.
    pub fn assumed(micros_per_quarter: u32) -> TempoMap {
        TempoMap { origin: Origin::Assumed, ..TempoMap::new([(Beats::ZERO, micros_per_quarter)]) }
    }

    /// Whether the file or the user stated a tempo.
    pub fn is_stated(&self) -> bool {
        self.origin == Origin::Stated
    }

    /// Whether a tempo was stated, or assumed to fit the tune.
    pub fn is_known(&self) -> bool {
        self.origin != Origin::Unsaid
    }

    /// Returns the microseconds from the start to a point of the tune.
    pub fn micros(&self, at: Beats) -> u64 {
        let index = self.changes.partition_point(|change| change.at <= at);
        let change = self.changes[index.saturating_sub(1)];
        let (numerator, denominator) = (at - change.at).fraction();
        let micros_per_quarter = change.micros_per_quarter;
        let span = match numerator.checked_mul(micros_per_quarter.into()) {
            // This branch is nearly always taken. It saves time, because dividing long numbers takes many times as
            // long.
            Some(short) => i128::from(short / denominator),
            None => i128::from(numerator) * i128::from(micros_per_quarter) / i128::from(denominator),
        };
        change.micros.saturating_add(span.max(0) as u64)
    }

    /// Returns the tempo at a point, in microseconds per quarter.
    pub fn micros_per_quarter(&self, at: Beats) -> u32 {
        let index = self.changes.partition_point(|change| change.at <= at);
        self.changes[index.saturating_sub(1)].micros_per_quarter
    }

    /// Returns the changes in order, each with its place and its microseconds per quarter; the first change is at the
    /// start.
    pub fn changes(&self) -> impl Iterator<Item = (Beats, u32)> {
        self.changes.iter().map(|change| (change.at, change.micros_per_quarter))
    }
}

impl Default for TempoMap {
    fn default() -> TempoMap {
        TempoMap::new([])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beats_add_exactly_and_never_overflow() {
        let third = Beats::new(1, 3);
        assert_eq!(third + third + third, Beats::quarters(1));
        let mut sum = Beats::ZERO;
        for prime in [1_000_003, 999_983, 999_979, 999_961, 999_959] {
            sum += Beats::new(1, prime);
        }
        assert!((sum.as_f64() - 5e-6).abs() < 1e-6);
        let long = Beats::new(i64::MAX, 1) + Beats::new(i64::MAX, 3);
        assert_eq!(long, Beats::new(Beats::LONGEST, 1));
    }

    #[test]
    fn beats_of_any_numbers_are_the_nearest_that_can_be_kept() {
        let longest = Beats::new(Beats::LONGEST, 1);
        // A length with a large prime as denominator is multiplied by the largest possible numbers.
        let odd = Beats::new(4_799_986_000_001, 4_799_987);
        assert_eq!(odd.times(i64::MAX, 4_799_983), longest);
        assert_eq!(odd.times(i64::MIN, 4_799_983), Beats::ZERO - longest);
        assert_eq!(odd.times(1, i64::MAX), Beats::ZERO);
        assert_eq!(Beats::new(i64::MAX, i64::MAX - 1), Beats::quarters(1));
        assert_eq!(Beats::new(i64::MIN, i64::MIN + 1), Beats::quarters(1));
        // Halves of the finest grid round up, both above and below zero.
        let half = 2 * Beats::FINEST;
        assert_eq!(Beats::new(1, half), Beats::new(1, Beats::FINEST));
        assert_eq!(Beats::new(-1, half), Beats::ZERO);
        assert_eq!(Beats::new(-11, half), Beats::new(-5, Beats::FINEST));
    }

    #[test]
    fn units_and_whole_quarters_cost_no_fractions_and_say_the_same() {
        for denominator in 1..200 {
            for numerator in [-7, -1, 0, 1, 5, 1_000_003] {
                let beats = Beats::new(numerator, denominator);
                let (n, d) = beats.fraction();
                assert_eq!(beats.units(), n * Beats::UNITS / d, "{beats}");
                for quarters in [0, 1, 17, 999_999, 1_000_000, u64::MAX] {
                    let long = Beats::new(i64::try_from(quarters).unwrap_or(i64::MAX), 1);
                    assert_eq!(beats.later(quarters), beats + long, "{beats} and {quarters}");
                }
            }
        }
    }

    #[test]
    fn short_and_long_ways_of_counting_agree() {
        let numbers = [-1_000_000, -999_999, -7, -1, 0, 1, 2, 5, 12, 4_838_399, i64::MAX, i64::MIN + 1];
        let denominators = [1, 2, 3, 7, 480, 4_838_400, 4_838_401, i64::MAX];
        let all: Vec<(i64, i64)> = numbers.iter().flat_map(|&n| denominators.map(|d| (n, d))).collect();
        for &(a, b) in &all {
            let beats = Beats::new(a, b);
            assert_eq!(beats, Beats::from_wide(a.into(), b.into()), "{a}/{b}");
            for &(c, d) in &all {
                let (other, sum) = (Beats::new(c, d), Beats::new(a, b) + Beats::new(c, d));
                let [(a, b), (c, d)] =
                    [beats.fraction(), other.fraction()].map(|(n, d)| (i128::from(n), i128::from(d)));
                assert_eq!(sum, Beats::from_wide(a * d + c * b, b * d), "{beats} + {other}");
                assert_eq!(beats - other, Beats::from_wide(a * d - c * b, b * d), "{beats} - {other}");
                assert_eq!(
                    beats.times(c as i64, d as i64),
                    Beats::from_wide(a * c, b * d),
                    "{beats} times {other}"
                );
                assert_eq!(beats.cmp(&other), Ratio::new(a, b).cmp(&Ratio::new(c, d)), "{beats} and {other}");
            }
        }
    }

    #[test]
    fn beats_are_written_as_musicians_count() {
        let texts = [(5, 2), (1, 3), (4, 1), (-1, 2)].map(|(n, d)| Beats::new(n, d).to_string());
        assert_eq!(texts, ["2 1/2", "1/3", "4", "-1/2"]);
    }

    #[test]
    fn beats_are_rounded_to_what_a_musician_counts() {
        for (numerator, denominator, told) in
            [(3, 2, "1 1/2"), (853, 256, "3 1/3"), (7, 12, "7/12"), (1023, 1024, "1"), (5, 48, "5/48")]
        {
            assert_eq!(Beats::new(numerator, denominator).rounded().to_string(), told);
        }
    }

    #[test]
    fn beats_are_read_as_they_are_written() {
        for (n, d) in [(5, 2), (1, 3), (4, 1), (49, 48)] {
            let beats = Beats::new(n, d);
            assert_eq!(Beats::read(&beats.to_string()), Some(beats));
        }
        for text in ["2.5", "2+1/2", " 2 1/2 "] {
            assert_eq!(Beats::read(text), Some(Beats::new(5, 2)), "{text}");
        }
        for text in ["", "x", "1/0", "-1", "1.", ".5", "2 1/2 1/2", "1.0000000"] {
            assert_eq!(Beats::read(text), None, "{text}");
        }
    }

    #[test]
    fn the_tempo_map_adds_up_its_pieces() {
        let map = TempoMap::new([
            (Beats::ZERO, 500_000),
            (Beats::quarters(4), 1_000_000),
            (Beats::quarters(4), 250_000),
        ]);
        assert_eq!(map.micros(Beats::quarters(4)), 2_000_000);
        assert_eq!(map.micros(Beats::quarters(6)), 2_500_000);
        assert!(map.is_stated());
        let faster = map.starting_at(240);
        assert_eq!(faster.micros(Beats::quarters(6)), 1_250_000);
        assert!(!TempoMap::default().is_stated());
    }

    #[test]
    fn the_first_tempo_holds_for_the_upbeat_and_a_late_one_only_from_its_place() {
        let start =
            |at: i32| TempoMap::new([(Beats::quarters(at), 1_000_000)]).micros_per_quarter(Beats::ZERO);
        assert_eq!((start(1), start(4)), (1_000_000, 1_000_000));
        // A single slower tempo at the end does not slow down the whole tune.
        assert_eq!(start(5), TempoMap::DEFAULT_MICROS_PER_QUARTER);
        // After a pickup come a printed mark and, at the same place, the sound that overrides it.
        let twice = TempoMap::new([(Beats::quarters(1), 1_000_000), (Beats::quarters(1), 600_000)]);
        assert_eq!(twice.changes().collect::<Vec<_>>(), [(Beats::ZERO, 600_000)]);
    }
}
