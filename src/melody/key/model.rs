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
/// notes outside the mode. The rows are in the order of the fields of [`Clues`].
const DEGREES: [[i32; 8]; 7] = [
    // How long each note sounds in all: least outside the mode.
    [2512, 42, -464, -974, 289, -49, -352, -1004],
    // Bars start on the notes of the tonic's chord,
    [826, -538, 939, 31, 542, -62, -1361, -377],
    // the first one above all,
    [1589, -924, 675, -805, 1258, -424, -854, -514],
    // and strains begin with a bar of that chord.
    [2548, -770, 755, -1148, 1036, -98, -1609, -713],
    // They close with a bar of the tonic,
    [2578, 109, -555, 384, -305, -542, -996, -673],
    // on the tonic,
    [3082, 12, -821, -905, -250, -229, -326, -564],
    // stepping down to it from the second or up from the seventh.
    [-179, 1181, 127, -715, 146, -244, 442, -758],
];

/// Points where only the mode's form of a degree occurs, second to seventh, and not its twin a semitone off;
/// as many are lost where only the twin does.
const TELLING: [i64; 6] = [2977, 2770, 2327, 2314, 1900, 3650];
/// The lower of the two forms of those degrees, in semitones above the tonic.
const TWINS: [usize; 6] = [1, 3, 5, 6, 8, 10];
/// A degree that takes less of the tune than about this share tells little of the mode: 3 per cent.
const FAINT: i64 = WHOLE * 3 / 100;

/// What is lost for a mode being rare. Phrygian, lydian and locrian are our judgement: the books have a dozen
/// such tunes in three thousand, and none that is locrian.
const HABIT: [(Mode, i64); 7] = [
    (Mode::Major, 0),
    (Mode::Dorian, -3258),
    (Mode::Phrygian, -4096),
    (Mode::Lydian, -4096),
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

/// No finding is surer than this, in per cent: certainty is the user's.
const SUREST: u8 = 99;

/// What all keys have in common when they are given points.
struct Election<'a> {
    clues: &'a Clues,
    modes: [ModeView; 7],
    /// The shares that [`DEGREES`] looks at, from C to B twice: the twelve from any tonic up are a slice.
    shares: [[i32; 24]; 7],
    /// Durations less their mean, twice, and the length of the twelve as a vector.
    centred: [i64; 24],
    length: i64,
    /// Of each note from C to B, what it has more than the note a semitone above, as a share of both.
    against_next: [i64; 12],
}

/// A mode, prepared.
struct ModeView {
    /// For each of [`DEGREES`], the points of the semitones above the tonic.
    points: [[i32; 12]; 7],
    /// Whether it has the lower of the [`TWINS`].
    has_lower: [bool; 6],
    /// The published profile less its mean, and its length as a vector.
    profile: Shares,
    length: i64,
}

impl ModeView {
    fn new(mode: Mode) -> ModeView {
        let mut degrees = [7; 12];
        for (degree, semitone) in mode.scale().into_iter().enumerate() {
            degrees[usize::from(semitone)] = degree;
        }
        let profile = profile::centred(&profile::of(mode));
        ModeView {
            points: DEGREES.map(|points| degrees.map(|degree| points[degree])),
            has_lower: std::array::from_fn(|twin| degrees[TWINS[twin]] == twin + 1),
            profile,
            length: profile::length(&profile),
        }
    }
}

/// How many clues there are.
const CLUES: usize = 13;

impl Election<'_> {
    fn new(clues: &Clues) -> Election<'_> {
        let centred = profile::centred(&clues.durations);
        let shares = [
            &clues.durations,
            &clues.bar_starts,
            &clues.first_stress,
            &clues.first_bars,
            &clues.last_bars,
            &clues.ends,
            &clues.approaches,
        ];
        let against_next = std::array::from_fn(|low| {
            let (low, high) = (clues.durations[low], clues.durations[(low + 1) % 12]);
            (low - high) * WHOLE / (low + high + FAINT)
        });
        Election {
            clues,
            modes: Mode::ALL.map(ModeView::new),
            // No share is above 4096.
            shares: shares.map(|shares| std::array::from_fn(|i| shares[i % 12] as i32)),
            centred: std::array::from_fn(|i| centred[i % 12]),
            length: profile::length(&centred),
            against_next,
        }
    }

    /// The points of a key, clue by clue, in the order of [`Election::names`].
    fn points(&self, key: Key) -> [i64; CLUES] {
        let tonic = usize::from(key.tonic.semitones());
        let mode = &self.modes[key.mode as usize];
        let upwards = tonic..tonic + 12;
        let by_degree = |clue: usize| {
            let shares = self.shares[clue][upwards.clone()].iter();
            let sum: i32 = shares.zip(&mode.points[clue]).map(|(&share, &points)| share * points).sum();
            i64::from(sum) / WHOLE
        };
        let centred = self.centred[upwards.clone()].iter();
        let dot: i64 = centred.zip(&mode.profile).map(|(&share, &typical)| share * typical).sum();
        // Pearson's correlation. Both lengths are 1024 times too great; all products stay below 2^56.
        let whole = ((self.length >> 4) * (mode.length >> 4)) >> 12;
        let correlation = dot * CORRELATION / whole.max(1);
        let telling = (0..6).map(|twin| {
            let more = self.against_next[(tonic + TWINS[twin]) % 12];
            TELLING[twin] * if mode.has_lower[twin] { more } else { -more }
        });
        [
            correlation,
            by_degree(0),
            telling.sum::<i64>() / WHOLE,
            by_degree(1),
            by_degree(2),
            by_degree(3),
            by_degree(4),
            by_degree(5),
            by_degree(6),
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
    let per_cent =
        |share: u64| if sounds { (((200 * share + all) / (2 * all)) as u8).min(SUREST) } else { 0 };
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

    /// Correlations of two histograms with the profile of C major: the shares of Twinkle's notes, and the seven
    /// notes of the scale alike; computed with numpy's `corrcoef` from the published profile.
    #[test]
    fn correlation_is_pearsons() {
        let twinkle = [4, 0, 2, 0, 2, 2, 0, 4, 0, 2, 0, 0].map(|quarters| quarters * WHOLE / 16);
        let scale = [1, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1].map(|note| note * WHOLE / 7);
        for (durations, correlation) in [(twinkle, 0.9486), (scale, 0.8084)] {
            let clues = Clues { durations, ..Clues::default() };
            let c_major = Key { tonic: crate::pitch::PitchClass::new(0), mode: Mode::Major };
            let points = Election::new(&clues).points(c_major)[0] as f64;
            assert!((points / CORRELATION as f64 - correlation).abs() < 3e-4, "{points}");
        }
    }

    #[test]
    fn the_habits_stand_in_the_order_of_the_modes() {
        assert_eq!(HABIT.map(|(mode, _)| mode), Mode::ALL);
    }
}
