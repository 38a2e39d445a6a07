//! The election: points for every key, and from the points the odds.

use super::{Clue, Evidence, Key, KeyFinding, KeyGuess, KeySource, Mode, clues::Clues, profile};

/// So many points more make a key twice as likely.
pub const POINTS_PER_DOUBLING: i32 = 1024;

/// Points for a correlation of 1.
const DURATIONS: i64 = 40_960;
/// Points for ending on the tonic: as much as a tenth of correlation.
const LAST_IS_TONIC: i64 = 4096;
/// Points lost for each fifth between the key's signature and the file's, up to [`SIGNATURE_REACH`].
const SIGNATURE: i64 = 2048;
/// A signature that is further off is no worse: it is probably not meant.
const SIGNATURE_REACH: i64 = 3;

/// What is taken from a mode for being rare.
fn habit(mode: Mode) -> i64 {
    match mode {
        Mode::Major => 0,
        Mode::Minor => -1024,
        Mode::Dorian | Mode::Mixolydian => -2048,
        Mode::Phrygian | Mode::Lydian => -6144,
        Mode::Locrian => -10240,
    }
}

/// The clues' names with what each gives to a key.
fn points(clues: &Clues, key: Key) -> Vec<(Clue, i64)> {
    let mut points = Vec::with_capacity(4);
    let tonic = usize::from(key.tonic.semitones());
    let from_tonic = std::array::from_fn(|i| clues.durations[(tonic + i) % 12]);
    let correlation = profile::correlation(&from_tonic, &profile::of(key.mode));
    points.push((Clue::Durations, correlation * DURATIONS / 1000));
    if let Some(last) = clues.last {
        points.push((Clue::LastNote(last), if last == key.tonic { LAST_IS_TONIC } else { 0 }));
    }
    if let Some(signature) = clues.signature {
        let apart = (i64::from(signature.sharps) - i64::from(key.sharps())).rem_euclid(12);
        let fifths = apart.min(12 - apart).min(SIGNATURE_REACH);
        points.push((Clue::Signature(signature.sharps), -fifths * SIGNATURE));
    }
    points.push((Clue::Habit, habit(key.mode)));
    points
}

/// Chooses the key.
pub(super) fn elect(clues: &Clues) -> KeyFinding {
    let mut keys: Vec<(Key, i64)> =
        Key::all().map(|key| (key, points(clues, key).iter().map(|(_, points)| points).sum())).collect();
    // Stable: of equals, the first in the order of `Key::all`.
    keys.sort_by_key(|&(_, points)| std::cmp::Reverse(points));
    let (key, best) = keys[0];
    let shares: Vec<u64> = keys.iter().map(|&(_, points)| exp2(points - best)).collect();
    let all: u64 = shares.iter().sum();
    let per_cent = |share: u64| ((200 * share + all) / (2 * all)) as u8;
    let tonic: u64 =
        keys.iter().zip(&shares).filter(|((other, _), _)| other.tonic == key.tonic).map(|(_, s)| s).sum();
    let others = keys.iter().zip(&shares).skip(1);
    let others = others.map(|(&(key, _), &share)| KeyGuess { key, confidence: per_cent(share) });
    let rival = keys.iter().find(|(other, _)| other.tonic != key.tonic).map_or(key, |&(other, _)| other);
    let mut evidence: Vec<Evidence> = points(clues, key)
        .into_iter()
        .zip(points(clues, rival))
        .map(|((clue, ours), (_, theirs))| Evidence { clue, points: (ours - theirs) as i32 })
        .collect();
    evidence.sort_by_key(|evidence| std::cmp::Reverse(evidence.points));
    let agrees = clues.signature.is_some_and(|s| (i16::from(s.sharps) - i16::from(key.sharps())) % 12 == 0);
    let known = clues.last.is_some();
    KeyFinding {
        key,
        source: if agrees { KeySource::Signature } else { KeySource::Notes },
        confidence: if known { per_cent(shares[0]) } else { 0 },
        tonic_confidence: if known { per_cent(tonic) } else { 0 },
        others: others.take_while(|guess| guess.confidence > 0).collect(),
        evidence,
    }
}

/// Two to the power of so many doublings, none above zero, as a share of 2^32.
fn exp2(points: i64) -> u64 {
    /// 2^(-1/2), 2^(-1/4), … as shares of 2^32: the binary digits after the point.
    const ROOTS: [u64; 10] = [
        3_037_000_500,
        3_611_622_603,
        3_938_502_376,
        4_112_874_773,
        4_202_935_003,
        4_248_701_965,
        4_271_771_996,
        4_283_353_937,
        4_289_156_690,
        4_292_060_010,
    ];
    let loss = points.min(0).unsigned_abs();
    let (whole, part) = (loss / POINTS_PER_DOUBLING as u64, loss % POINTS_PER_DOUBLING as u64);
    if whole >= 32 {
        return 0;
    }
    let mut share = 1u64 << 32;
    for (digit, root) in ROOTS.iter().enumerate() {
        if part >> (9 - digit) & 1 == 1 {
            share = (share * root) >> 32;
        }
    }
    share >> whole
}
