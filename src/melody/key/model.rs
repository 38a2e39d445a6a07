//! The election: points for every key, and from the points the odds.
//!
//! The weights were fitted by `tests/outside/fit_key.py` (multinomial logistic regression) on four fifths of
//! the tunes of two nineteenth-century fiddle books; `tests/outside/README-key.md` has the figures on the rest.

use std::cmp::Reverse;

use super::{
    Clue, Evidence, Key, KeyFinding, KeyGuess, KeySource, Mode,
    clues::{Clues, Shares, WHOLE},
    profile,
};

/// So many points more make a key twice as likely.
pub const POINTS_PER_DOUBLING: i32 = 1024;

/// Points for durations that correlate perfectly with the mode's published profile.
const CORRELATION: i64 = 6084;

/// Points for a clue all of whose notes lie on one degree of the mode, first to seventh; the eighth is for
/// notes outside the mode.
type Degrees = [i64; 8];

const DURATIONS: Degrees = [2512, 42, -464, -974, 289, -49, -352, -1004];
const BAR_STARTS: Degrees = [826, -538, 939, 31, 542, -62, -1361, -377];
const FIRST_STRESS: Degrees = [1589, -924, 675, -805, 1258, -424, -854, -514];
const FIRST_BARS: Degrees = [2548, -770, 755, -1148, 1036, -98, -1609, -713];
const LAST_BARS: Degrees = [2578, 109, -555, 384, -305, -542, -996, -673];
const ENDS: Degrees = [3082, 12, -821, -905, -250, -229, -326, -564];
const APPROACHES: Degrees = [-179, 1181, 127, -715, 146, -244, 442, -758];

/// Points where only the mode's form of a degree occurs, second to seventh, and not its twin a semitone off;
/// as many are lost where only the twin does.
const TELLING: [i64; 6] = [2977, 2770, 2327, 2314, 1900, 3650];
/// The two forms of those degrees, in semitones above the tonic.
const TWINS: [(usize, usize); 6] = [(1, 2), (3, 4), (5, 6), (6, 7), (8, 9), (10, 11)];
/// A degree that takes less of the tune than about this share tells little of the mode: 3 per cent.
const FAINT: i64 = WHOLE * 3 / 100;

/// What is lost for a mode being rare. Locrian is our judgement: the books have no such tune.
const HABIT: [(Mode, i64); 7] = [
    (Mode::Major, 0),
    (Mode::Dorian, -3258),
    (Mode::Phrygian, -4267),
    (Mode::Lydian, -5557),
    (Mode::Mixolydian, -3054),
    (Mode::Minor, -1675),
    (Mode::Locrian, -8192),
];

/// Points lost for a signature a fifth off the key's, and further off: it is assumed that 90 in 100 files
/// have the key's own signature, 6 have none because nobody said a key, and of the rest most are one off.
const SIGNATURE_OFF: (i64, i64) = (-6378, -9199);
/// The same for a signature without sharps or flats, which is also what programs write unasked.
const NO_SIGNATURE_OFF: (i64, i64) = (-3827, -4053);

/// Points for the key that signature and mode of the file name together, when that mode is not major; our
/// judgement.
const CLAIMED_MODE: i64 = 3072;
/// The same for a major key: programs write "major" when nobody said a mode.
const CLAIMED_MAJOR: i64 = 512;

/// Points for the tonic being the root of the first and of the last chord symbol; our judgement.
const CHORDS: (i64, i64) = (1024, 2048);

/// What all keys have in common when they are given points.
struct Election<'a> {
    clues: &'a Clues,
    modes: [ModeView; 7],
    /// Durations less their mean, and the length of that vector.
    centred: Shares,
    length: i64,
}

/// A mode, prepared.
struct ModeView {
    /// The degree of each semitone above the tonic, from 0; 7 outside the mode.
    degrees: [usize; 12],
    profile: Shares,
    length: i64,
}

/// How many clues there are.
const CLUES: usize = 13;

impl Election<'_> {
    fn new(clues: &Clues) -> Election<'_> {
        let modes = Mode::ALL.map(|mode| {
            let mut degrees = [7; 12];
            for (degree, semitone) in mode.scale().into_iter().enumerate() {
                degrees[usize::from(semitone)] = degree;
            }
            let profile = profile::centred(&profile::of(mode));
            ModeView { degrees, profile, length: profile::length(&profile) }
        });
        let centred = profile::centred(&clues.durations);
        Election { clues, modes, centred, length: profile::length(&centred) }
    }

    /// The points of a key, clue by clue, in the order of [`Election::names`].
    fn points(&self, key: Key) -> [i64; CLUES] {
        let clues = self.clues;
        let by_degree = |shares: &Shares, degrees: &Degrees| self.by_degree(key, shares, degrees);
        [
            self.correlation(key),
            by_degree(&clues.durations, &DURATIONS),
            self.telling(key),
            by_degree(&clues.bar_starts, &BAR_STARTS),
            by_degree(&clues.first_stress, &FIRST_STRESS),
            by_degree(&clues.first_bars, &FIRST_BARS),
            by_degree(&clues.last_bars, &LAST_BARS),
            by_degree(&clues.ends, &ENDS),
            by_degree(&clues.approaches, &APPROACHES),
            self.signature(key),
            self.claim(key),
            self.chords(key),
            HABIT[key.mode as usize].1,
        ]
    }

    fn names(&self) -> [Option<Clue>; CLUES] {
        let sounds = self.clues.last.is_some();
        let first = self.clues.first_stress.iter().position(|&share| share > 0);
        let notes = |clue| sounds.then_some(clue);
        [
            notes(Clue::Profile),
            notes(Clue::Durations),
            notes(Clue::ModeNotes),
            notes(Clue::BarStarts),
            first.map(|class| Clue::FirstStress(crate::pitch::PitchClass::new(class as i16))),
            notes(Clue::FirstBars),
            notes(Clue::LastBars),
            self.clues.last.map(Clue::StrainEnds),
            notes(Clue::Approaches),
            self.clues.signature.map(|signature| Clue::Signature(signature.sharps)),
            self.clues.signature.and_then(|signature| signature.mode).map(Clue::SignatureMode),
            self.clues.chords.map(|(first, last)| Clue::Chords(first, last)),
            Some(Clue::Habit),
        ]
    }

    /// Pearson's correlation of the durations with the mode's profile, in points.
    fn correlation(&self, key: Key) -> i64 {
        let mode = &self.modes[key.mode as usize];
        let tonic = usize::from(key.tonic.semitones());
        let (below, above) = self.centred.split_at(tonic);
        let dot: i64 = above.iter().chain(below).zip(&mode.profile).map(|(&a, &b)| a * b).sum();
        // Both lengths are 1024 times too great; the product of all stays below 2^62.
        let whole = ((self.length >> 4) * (mode.length >> 4)) >> 12;
        if whole == 0 { 0 } else { dot * CORRELATION / whole }
    }

    fn by_degree(&self, key: Key, shares: &Shares, points: &Degrees) -> i64 {
        let degrees = &self.modes[key.mode as usize].degrees;
        let (below, above) = shares.split_at(usize::from(key.tonic.semitones()));
        let turned = above.iter().chain(below).zip(degrees);
        turned.map(|(&share, &degree)| share * points[degree]).sum::<i64>() / WHOLE
    }

    /// The notes that tell modes apart: of each degree, the form that the mode has against its twin.
    fn telling(&self, key: Key) -> i64 {
        let degrees = &self.modes[key.mode as usize].degrees;
        let tonic = usize::from(key.tonic.semitones());
        let share = |semitones: usize| self.clues.durations[(tonic + semitones) % 12];
        let mut points = 0;
        for (index, (&(low, high), &weight)) in TWINS.iter().zip(&TELLING).enumerate() {
            let (here, twin) = if degrees[low] == index + 1 { (low, high) } else { (high, low) };
            let (here, twin) = (share(here), share(twin));
            points += weight * (here - twin) / (here + twin + FAINT);
        }
        points
    }

    fn signature(&self, key: Key) -> i64 {
        let Some(signature) = self.clues.signature else { return 0 };
        let (near, far) = if signature.sharps == 0 { NO_SIGNATURE_OFF } else { SIGNATURE_OFF };
        match (i16::from(signature.sharps) - i16::from(key.sharps())).rem_euclid(12) {
            0 => 0,
            1 | 11 => near,
            _ => far,
        }
    }

    fn claim(&self, key: Key) -> i64 {
        match self.clues.signature.and_then(|signature| signature.mode) {
            Some(mode) if mode == key.mode && self.signature(key) == 0 => {
                if mode == Mode::Major {
                    CLAIMED_MAJOR
                } else {
                    CLAIMED_MODE
                }
            }
            _ => 0,
        }
    }

    fn chords(&self, key: Key) -> i64 {
        let Some((first, last)) = self.clues.chords else { return 0 };
        let points = |root, points| if root == key.tonic { points } else { 0 };
        points(first, CHORDS.0) + points(last, CHORDS.1)
    }
}

/// Chooses the key.
pub(super) fn elect(clues: &Clues) -> KeyFinding {
    let election = Election::new(clues);
    let mut keys: Vec<(Key, i64)> = Key::all().map(|key| (key, election.points(key).iter().sum())).collect();
    // Stable: of equals, the first in the order of `Key::all`.
    keys.sort_by_key(|&(_, points)| Reverse(points));
    let (key, best) = keys[0];

    let shares: Vec<u64> = keys.iter().map(|&(_, points)| odds(points - best)).collect();
    let all: u64 = shares.iter().sum();
    let sounds = clues.last.is_some();
    let per_cent = |share: u64| if sounds { ((200 * share + all) / (2 * all)) as u8 } else { 0 };
    let same_tonic = keys.iter().zip(&shares).filter(|((other, _), _)| other.tonic == key.tonic);
    let tonic_share = same_tonic.map(|(_, share)| share).sum();
    let others = keys.iter().zip(&shares).skip(1);
    let others = others.map(|(&(key, _), &share)| KeyGuess { key, confidence: per_cent(share) });

    let rival = keys.iter().find(|(other, _)| other.tonic != key.tonic).map_or(key, |&(other, _)| other);
    let gains =
        election.points(key).into_iter().zip(election.points(rival)).map(|(ours, theirs)| ours - theirs);
    let named = election.names().into_iter().zip(gains);
    let mut evidence: Vec<Evidence> =
        named.filter_map(|(clue, gain)| Some(Evidence { clue: clue?, points: gain as i32 })).collect();
    evidence.sort_by_key(|evidence| Reverse(evidence.points));

    KeyFinding {
        key,
        source: match clues.signature {
            Some(_) if election.signature(key) == 0 => KeySource::Signature,
            _ => KeySource::Notes,
        },
        confidence: per_cent(shares[0]),
        tonic_confidence: per_cent(tonic_share),
        others: others.take_while(|guess| guess.confidence > 0).collect(),
        evidence,
    }
}

/// The odds that go with so many points, none above zero, in parts of 2^32: 2^(points/1024).
fn odds(points: i64) -> u64 {
    /// 2^(-1/2), 2^(-1/4), … in parts of 2^32: one factor for each binary digit of the exponent's fraction.
    const ROOTS: [u64; 10] = [
        3_037_000_500,
        3_611_622_603,
        3_938_502_376,
        4_112_874_773,
        4_202_935_003,
        4_248_701_965,
        4_271_771_996,
        4_283_353_945,
        4_289_156_690,
        4_292_061_010,
    ];
    let loss = points.min(0).unsigned_abs();
    let (whole, part) = (loss / POINTS_PER_DOUBLING as u64, loss % POINTS_PER_DOUBLING as u64);
    if whole >= 32 {
        return 0;
    }
    let mut share = 1u64 << 32;
    for (digit, root) in ROOTS.iter().enumerate() {
        if (part >> (9 - digit)) & 1 == 1 {
            share = (share * root) >> 32;
        }
    }
    share >> whole
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn so_many_points_are_a_doubling() {
        assert_eq!(odds(0), 1 << 32);
        assert_eq!(odds(-1024), 1 << 31);
        // 2^(-1/2) and 2^(-1023/1024).
        assert_eq!(odds(-512), 3_037_000_500);
        assert!((odds(-1023) as f64 / 2f64.powf(32.0 - 1023.0 / 1024.0) - 1.0).abs() < 1e-8);
        assert_eq!(odds(-1024 * 32), 0);
    }

    #[test]
    fn the_habits_stand_in_the_order_of_the_modes() {
        assert_eq!(HABIT.map(|(mode, _)| mode), Mode::ALL);
    }
}
