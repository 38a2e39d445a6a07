//! Published profiles: how much of a tune in a key each of the twelve notes takes.

use super::Mode;

/// A weight for each semitone above the tonic.
pub(super) type Profile = [i64; 12];

/// Shares of the notes of major music in thousandths, from the tonic up: J. Albrecht and D. Shanahan, "The Use
/// of Large Corpora to Train a New Type of Key-Finding Algorithm", Music Perception 31(1), 2013, pp. 59-67.
const MAJOR: Profile = [238, 6, 111, 6, 137, 94, 16, 214, 9, 80, 8, 81];
/// The same for minor music; same source.
const MINOR: Profile = [220, 6, 104, 123, 19, 103, 12, 214, 62, 22, 61, 52];

/// The profile of a mode.
///
/// Only major and minor were counted in the source. A mode is the one of the two with the same third, with
/// each note that differs exchanged for its neighbour: mixolydian is major with the two sevenths exchanged.
pub(super) fn of(mode: Mode) -> Profile {
    let (mut profile, exchanged): (Profile, &[usize]) = match mode {
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

/// Pearson's correlation of a histogram (from the tonic up, no value above 2^20) with a profile, in
/// thousandths; 0 for a flat histogram.
pub(super) fn correlation(histogram: &Profile, profile: &Profile) -> i64 {
    let centred = |values: &Profile| {
        let sum: i64 = values.iter().sum();
        values.map(|value| 12 * value - sum)
    };
    let (h, p) = (centred(histogram), centred(profile));
    let dot: i128 = h.iter().zip(&p).map(|(&a, &b)| i128::from(a) * i128::from(b)).sum();
    let square = |values: &Profile| values.iter().map(|&a| a.unsigned_abs().pow(2)).sum::<u64>();
    let norm = (u128::from(square(&h)) * u128::from(square(&p))).isqrt() as i128;
    if norm == 0 { 0 } else { (1000 * dot / norm) as i64 }
}
