//! Published profiles: how much of a tune in a key each of the twelve notes takes.

use super::{Mode, clues::Shares};

/// Shares of the notes of major music in thousandths, from the tonic up: J. Albrecht and D. Shanahan, "The Use
/// of Large Corpora to Train a New Type of Key-Finding Algorithm", Music Perception 31(1), 2013, pp. 59-67.
const MAJOR: Shares = [238, 6, 111, 6, 137, 94, 16, 214, 9, 80, 8, 81];
/// The same for minor music; same source.
const MINOR: Shares = [220, 6, 104, 123, 19, 103, 12, 214, 62, 22, 61, 52];

/// The profile of a mode.
///
/// Only major and minor were counted in the source. A mode is the one of the two with the same third, with
/// each note that differs exchanged for its neighbour: mixolydian is major with the two sevenths exchanged.
pub(super) fn of(mode: Mode) -> Shares {
    let (mut profile, exchanged): (Shares, &[usize]) = match mode {
        Mode::Major => (MAJOR, &[]),
        Mode::Lydian => (MAJOR, &[5]),
        Mode::Mixolydian => (MAJOR, &[10]),
        Mode::Minor => (MINOR, &[]),
        Mode::Dorian => (MINOR, &[8]),
        Mode::Phrygian => (MINOR, &[1]),
        Mode::Locrian => (MINOR, &[1, 6]),
    };
    for &lower in exchanged {
        profile.swap(lower, lower + 1);
    }
    profile
}

/// Twelve values less their mean, times twelve.
pub(super) fn centred(values: &Shares) -> Shares {
    let sum: i64 = values.iter().sum();
    values.map(|value| 12 * value - sum)
}

/// 1024 times the length of a vector.
pub(super) fn length(centred: &Shares) -> i64 {
    let squares: u64 = centred.iter().map(|&value| value.unsigned_abs().pow(2)).sum();
    // Values stay below 2^17, so that twelve squares with twenty bits more still fit.
    (squares << 20).isqrt() as i64
}
