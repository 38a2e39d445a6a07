//! Profiles: the share that each of the twelve notes has in a tune in a key.
//!
//! The published profiles (Albrecht and Shanahan 2013, Krumhansl and Kessler 1982, Bellman and Budge 2005, Temperley's
//! after Kostka and Payne, Aarden 2003) are in `tests/outside/fit_key.py`, with their sources. Only their weighted sum
//! is needed here, because the correlation is linear in the profile.

use super::{Mode, shares::Shares};

/// Returns the profile of a mode, derived from the profiles of major and minor.
///
/// The sources measured only major and minor. A mode starts from the profile with the same third and swaps each
/// differing note with its neighbour: Mixolydian is major with the two sevenths swapped.
pub(super) fn of(mode: Mode, [major, minor]: &[Shares; 2]) -> Shares {
    let (mut profile, exchanged): (Shares, &[usize]) = match mode {
        Mode::Major => (*major, &[]),
        Mode::Lydian => (*major, &[5]),
        Mode::Mixolydian => (*major, &[10]),
        Mode::Minor => (*minor, &[]),
        Mode::Dorian => (*minor, &[8]),
        Mode::Phrygian => (*minor, &[1]),
        Mode::Locrian => (*minor, &[1, 6]),
    };
    for &lower in exchanged {
        profile.swap(lower, lower + 1);
    }
    profile
}

/// Subtracts the mean from twelve values and multiplies the differences by twelve.
pub(super) fn centred(values: &Shares) -> Shares {
    let sum: i64 = values.iter().sum();
    values.map(|value| 12 * value - sum)
}

/// Returns 1024 times the length of a vector.
pub(super) fn length(centred: &Shares) -> i64 {
    let squares: u64 = centred.iter().map(|&value| value.unsigned_abs().pow(2)).sum();
    // Values stay below 2^17, so the sum of twelve squares, shifted by twenty bits, still fits.
    (squares << 20).isqrt() as i64
}
