//! The choice of the key: gives points to every key, and turns the points into odds.
//!
//! The weights were fitted by `tests/outside/fit_key.py` (a conditional logit) on fiddle tunes and folk songs;
//! `tests/outside/README-key.md` names the collections and reports how well the weights do on other tunes.

use std::cmp::Reverse;

use super::{
    Clue, Evidence, Key, KeyFinding, KeyGuess, KeySource, Mode,
    clues::{Clues, LONG_ENOUGH, View},
    profile,
    shares::{self, ROWS, Shares, WHOLE},
    table::Table,
    weights,
};
use crate::pitch::PitchClass;

/// The number of points that make a key twice as likely.
pub const POINTS_PER_DOUBLING: i32 = 1024;

/// The lower of the two forms of each degree from the second to the seventh, in semitones above the tonic.
const TWINS: [usize; 6] = [1, 3, 5, 6, 8, 10];
/// The share of a tune below which a degree says little about the mode: 3 per cent.
const FAINT: i64 = WHOLE * 3 / 100;

/// The modes that are candidates even without a signature. The other three are so rare that notes alone never decide
/// for them: a tune in major that ends on its third looks Phrygian.
const COMMON: [Mode; 4] = [Mode::Major, Mode::Minor, Mode::Dorian, Mode::Mixolydian];

/// The points that a rare mode loses if the signature allows it but the file does not name it; our judgement.
const RARE: i64 = -4096;

/// The weight of the first strain's shares, in twentieths. The whole tune has the remaining weight. Many a
/// second strain is in another key.
const OPENING_VOTE: i64 = 10;
/// The same weight if the opening is only the first half of a tune that shows no strains.
const HALF_VOTE: i64 = 3;

/// The points that a key loses if the signature is one fifth away from the key's, and if it is further away. We assume
/// that 90 in 100 files have the key's own signature and that 6 have no signature, because nobody stated a key. Most of
/// the other files are one fifth off.
const SIGNATURE_OFF: (i64, i64) = (-6378, -9199);
/// The same points for a signature without sharps or flats, which programs also write by default.
const NO_SIGNATURE_OFF: (i64, i64) = (-3827, -4053);

/// The points for the key that the file's signature and mode name together, if the mode is not major; our judgement.
const CLAIMED_MODE: i64 = 3072;
/// The same points for a major key, because programs write "major" when nobody stated a mode.
const CLAIMED_MAJOR: i64 = 512;

/// The points if the tonic is the root of the first chord symbol, and the points if it is the root of the last; our
/// judgement.
const CHORDS: (i64, i64) = (1024, 2048);

/// The highest confidence of a finding, in per cent: only the user can be certain.
const SUREST: u8 = 99;

/// The properties of a mode to which a table of weights is applied.
struct ModeView {
    has_minor_third: bool,
    /// For each degree in [`TWINS`], whether the mode has the lower form.
    has_lower: [bool; 6],
    profile: Shares,
    habit: i64,
}

impl ModeView {
    fn new(mode: Mode, table: &Table) -> ModeView {
        let scale = mode.scale();
        let has_minor_third = usize::from(scale[2]) == TWINS[1];
        // A rare mode gets the points of major or minor, whichever has the same third, less the penalty for being rare.
        let parent = if has_minor_third { Mode::Minor } else { Mode::Major };
        let habit = |mode| COMMON.iter().position(|&common| common == mode).map(|index| table.habits[index]);
        ModeView {
            has_minor_third,
            has_lower: std::array::from_fn(|twin| usize::from(scale[twin + 1]) == TWINS[twin]),
            profile: profile::of(mode, &table.profiles),
            habit: habit(mode).or_else(|| habit(parent).map(|habit| habit + RARE)).unwrap_or(RARE),
        }
    }
}

/// The number of clues in the notes: the points of each row of shares, and three more.
const NOTES: usize = ROWS + 3;
const PROFILE: usize = ROWS;
const TELLING: usize = ROWS + 1;
const HABIT: usize = ROWS + 2;

/// Returns the points of one stretch of a tune for all keys: by tonic, then in the order of the given modes.
fn points(view: &View, modes: &[Mode]) -> Vec<[i64; NOTES]> {
    let table = if view.bars < LONG_ENOUGH { &weights::FRAGMENT } else { &weights::TUNE };
    let modes: Vec<ModeView> = modes.iter().map(|&mode| ModeView::new(mode, table)).collect();
    let durations = &view.counts[shares::DURATIONS];
    let centred = profile::centred(durations);
    let length = profile::length(&centred).max(1);
    // The values from C to B appear twice, so that the twelve pitch classes from any tonic up form one slice.
    let centred: [i64; 24] = std::array::from_fn(|i| centred[i % 12]);
    // Every share fits, because none exceeds 4096.
    let shares = view.counts.map(|shares| -> [i32; 24] { std::array::from_fn(|i| shares[i % 12] as i32) });
    // For each note, its lead over the note a semitone above, as a share of both.
    let against_next: [i64; 12] = std::array::from_fn(|low| {
        let (low, high) = (durations[low], durations[(low + 1) % 12]);
        (low - high) * WHOLE / (low + high + FAINT)
    });
    let mut all = Vec::with_capacity(12 * modes.len());
    for tonic in 0..12 {
        // Modes with the same third get the same points for the rows.
        let by_third = table.rows.each_ref().map(|rows| {
            let mut points = [0; NOTES];
            for ((points, worth), shares) in points.iter_mut().zip(rows).zip(&shares) {
                // The shares sum to at most 4096, and no weight exceeds 2^18, so the sum fits.
                let sum: i32 =
                    shares[tonic..tonic + 12].iter().zip(worth).map(|(&share, &worth)| share * worth).sum();
                *points = i64::from(sum) / WHOLE;
            }
            points
        });
        all.extend(modes.iter().map(|mode| {
            let mut points = by_third[usize::from(mode.has_minor_third)];
            let dot: i64 = centred[tonic..tonic + 12]
                .iter()
                .zip(&mode.profile)
                .map(|(&share, &worth)| share * worth)
                .sum();
            // The length is scaled by 1024.
            points[PROFILE] = dot * 1024 / length;
            let telling = (0..6).map(|twin| {
                let more = against_next[(tonic + TWINS[twin]) % 12];
                table.telling[twin] * if mode.has_lower[twin] { more } else { -more }
            });
            points[TELLING] = telling.sum::<i64>() / WHOLE;
            points[HABIT] = mode.habit;
            points
        }));
    }
    all
}

/// The number of clues: the clues in the notes, the signature, the mode stated with it, and the chords.
const CLUES: usize = NOTES + 3;

/// The facts other than the notes.
struct Beside<'a> {
    clues: &'a Clues,
}

impl Beside<'_> {
    /// Returns the candidate modes: all modes if there is a signature, otherwise the common ones.
    fn modes(&self) -> &'static [Mode] {
        if self.clues.signature.is_some() { &Mode::ALL } else { &COMMON }
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
                match mode {
                    Mode::Major => CLAIMED_MAJOR,
                    _ if COMMON.contains(&mode) => CLAIMED_MODE,
                    // No program writes these modes by default.
                    _ => CLAIMED_MODE - RARE,
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

/// Returns the names of the clues, in the order of their points; `None` for a clue that the tune does not have.
fn names(clues: &Clues) -> [Option<Clue>; CLUES] {
    let mut names = [None; CLUES];
    names[HABIT] = Some(Clue::Habit);
    if let Some(last) = clues.last {
        let first = clues.whole.counts[shares::FIRST_STRESS].iter().position(|&share| share > 0);
        let first = PitchClass::new(first.unwrap_or_default() as i16);
        for (row, clue) in [
            (shares::DURATIONS, Clue::Durations),
            (shares::LAST, Clue::LastNote(last)),
            (shares::ENDS, Clue::StrainEnds),
            (shares::APPROACHES, Clue::Approaches),
            (shares::FIRST_BARS, Clue::FirstBars),
            (shares::LAST_BARS, Clue::LastBars),
            (shares::FIRST_STRESS, Clue::FirstStress(first)),
            (shares::LOWEST, Clue::Lowest),
            (shares::HIGHEST, Clue::Highest),
            (PROFILE, Clue::Profile),
            (TELLING, Clue::ModeNotes),
        ] {
            names[row] = Some(clue);
        }
    }
    names[NOTES] = clues.signature.map(|signature| Clue::Signature(signature.sharps));
    names[NOTES + 1] = clues.signature.and_then(|signature| signature.mode).map(Clue::SignatureMode);
    names[NOTES + 2] = clues.chords.map(|(first, last)| Clue::Chords(first, last));
    names
}

/// A key with the points of all its clues.
struct Candidate {
    key: Key,
    points: [i64; CLUES],
    sum: i64,
}

/// Returns the counts of the whole tune, mixed with a share of the counts of its first strain.
fn voted(clues: &Clues) -> View {
    let Some(opening) = &clues.opening else { return clues.whole };
    let vote = if clues.halved { HALF_VOTE } else { OPENING_VOTE };
    let mut voted = clues.whole;
    for (row, opening) in voted.counts.iter_mut().zip(&opening.counts) {
        for (share, opening) in row.iter_mut().zip(opening) {
            *share = ((20 - vote) * *share + vote * opening) / 20;
        }
    }
    voted
}

fn candidates(clues: &Clues) -> Vec<Candidate> {
    let beside = Beside { clues };
    let modes = beside.modes();
    let points = points(&voted(clues), modes);
    let sharpness = match clues.signature {
        Some(_) => weights::SIGNED,
        None if clues.whole.bars < LONG_ENOUGH => weights::FRAGMENTS_ALONE,
        None => weights::ALONE,
    };
    let keys = PitchClass::all().flat_map(|tonic| modes.iter().map(move |&mode| Key { tonic, mode }));
    let candidates = keys.enumerate().map(|(index, key)| {
        let mut all = [0; CLUES];
        for clue in 0..NOTES {
            all[clue] = points[index][clue] * sharpness / 1024;
        }
        all[NOTES] = beside.signature(key);
        all[NOTES + 1] = beside.claim(key);
        all[NOTES + 2] = beside.chords(key);
        Candidate { key, points: all, sum: all.iter().sum() }
    });
    candidates.collect()
}

/// Chooses the key: the tonic whose modes together are likeliest, and the likeliest of its modes.
pub(super) fn elect(clues: &Clues) -> KeyFinding {
    let candidates = candidates(clues);
    let mut candidates: Vec<&Candidate> = candidates.iter().collect();
    if clues.last.is_none() {
        candidates.retain(|candidate| candidate.key.mode == Mode::Major);
    }
    // The sort is stable: among equals, the lowest tonic from C comes first, then the first mode.
    candidates.sort_by_key(|candidate| Reverse(candidate.sum));
    let best = candidates[0].sum;
    let odds_of = |candidate: &Candidate| odds(candidate.sum - best);
    let mut on_tonic = [0u64; 12];
    for candidate in &candidates {
        on_tonic[usize::from(candidate.key.tonic.semitones())] += odds_of(candidate);
    }
    let all: u64 = on_tonic.iter().sum();
    let on_tonic = |tonic: PitchClass| on_tonic[usize::from(tonic.semitones())];
    // Among equals the first wins.
    let chosen =
        (0..candidates.len()).rev().max_by_key(|&i| on_tonic(candidates[i].key.tonic)).unwrap_or_default();
    let chosen = candidates.remove(chosen);
    let per_cent = |share: u64| match clues.last {
        Some(_) => (((200 * share + all) / (2 * all)) as u8).min(SUREST),
        None => 0,
    };
    let rival = candidates.iter().find(|other| other.key.tonic != chosen.key.tonic).unwrap_or(&chosen);
    let gains = chosen.points.into_iter().zip(rival.points).map(|(ours, theirs)| ours - theirs);
    let named = names(clues).into_iter().zip(gains);
    let mut evidence: Vec<Evidence> =
        named.filter_map(|(clue, gain)| Some(Evidence { clue: clue?, points: gain as i32 })).collect();
    evidence.sort_by_key(|evidence| Reverse(evidence.points));
    let others =
        candidates.iter().map(|other| KeyGuess { key: other.key, confidence: per_cent(odds_of(other)) });
    KeyFinding {
        key: chosen.key,
        source: match clues.signature {
            Some(_) if (Beside { clues }).signature(chosen.key) == 0 => KeySource::Signature,
            _ => KeySource::Notes,
        },
        confidence: per_cent(odds_of(chosen)),
        tonic_confidence: per_cent(on_tonic(chosen.key.tonic)),
        others: others.take_while(|guess| guess.confidence > 0).collect(),
        evidence,
    }
}

/// Returns the odds of a key against the best key, in parts of 2^32: 2^(points/1024), where `points` is the difference
/// between the two, at most zero.
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

    /// The correlation must equal Pearson's, computed in floating point, for Twinkle's notes and for the scale.
    #[test]
    fn correlation_is_pearsons() {
        let twinkle = [4, 0, 2, 0, 2, 2, 0, 4, 0, 2, 0, 0].map(|quarters| quarters * WHOLE / 16);
        let scale = [1, 0, 1, 0, 1, 1, 0, 1, 0, 1, 0, 1].map(|note| note * WHOLE / 7);
        for durations in [twinkle, scale] {
            let mut view = View { bars: LONG_ENOUGH, ..View::default() };
            view.counts[shares::DURATIONS] = durations;
            let profile = weights::TUNE.profiles[0].map(|points| points as f64);
            let mean = durations.iter().sum::<i64>() as f64 / 12.0;
            let centred = durations.map(|share| share as f64 - mean);
            let length = centred.iter().map(|share| share * share).sum::<f64>().sqrt();
            let expected =
                centred.iter().zip(profile).map(|(share, points)| share * points).sum::<f64>() / length;
            let found = points(&view, &COMMON)[0][PROFILE] as f64;
            assert!((found - expected).abs() < 3.0, "{found} {expected}");
        }
    }
}
