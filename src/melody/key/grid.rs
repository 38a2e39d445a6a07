//! Finds where the bars begin in music whose file has no barlines.
//!
//! The meter gives the length of a bar, but the length of the pickup is unknown. Every note that starts within the
//! first bar's length may be the first downbeat. Each candidate gets points for features that downbeats usually have.

use super::{
    shares::{Sound, WHOLE},
    table::SIGNS,
    weights,
};

/// The largest number of candidates: a bar of thirty-seconds.
const MOST: usize = 32;

/// Sets the bar of every note, counting from the likeliest first downbeat.
pub(super) fn count_bars(sounds: &mut [Sound], bar: i64) {
    let Some(start) = sounds.first().map(|sound| sound.onset) else { return };
    let points = |signs: &[i64; SIGNS]| {
        signs.iter().zip(weights::GRID).map(|(sign, points)| sign * points).sum::<i64>()
    };
    // Among equals the first wins, which has the shortest pickup.
    let best = candidates(sounds, bar).into_iter().rev().max_by_key(|(_, signs)| points(signs));
    let pickup = best.map_or(0, |(pickup, _)| pickup);
    for sound in sounds {
        let since = sound.onset - start - pickup;
        sound.bar = since.div_euclid(bar);
        sound.in_full_bar = since >= 0;
        sound.starts_bar = since >= 0 && since % bar == 0;
    }
}

/// A possible first downbeat, and the counts for it.
struct Candidate {
    pickup: i64,
    /// The number of notes that start on the candidate's downbeats, and their total length.
    starts: i64,
    time: i64,
    /// Of the notes on the downbeats, the number that are longer than the previous note, and the number reached by a
    /// leap.
    longer: i64,
    leaps: i64,
    /// The number of notes that sound across a barline.
    held: i64,
    /// The total length of the notes that start in the middle of a bar.
    middle: i64,
}

/// Returns the possible pickups, each with its signs in parts of [`WHOLE`]. The order of the signs:
///
/// - the share of time taken by notes that start on a downbeat;
/// - downbeats with a note, then notes held over a barline, both per bar;
/// - whether there is no pickup, or one of up to an eighth, a sixth, a quarter, a third or half of the bar;
/// - the share of time taken by notes that start in the middle of a bar;
/// - downbeats longer than the previous note, then downbeats reached by a leap, both per bar.
pub(super) fn candidates(sounds: &[Sound], bar: i64) -> Vec<(i64, [i64; SIGNS])> {
    /// A leap is more than a major third.
    const LEAP: u8 = 4;
    let (Some(first), Some(last)) = (sounds.first(), sounds.last()) else { return Vec::new() };
    let start = first.onset;
    let early = sounds.iter().take_while(|sound| sound.onset - start < bar).take(MOST);
    let candidate = |sound: &Sound| {
        let pickup = sound.onset - start;
        Candidate { pickup, starts: 0, time: 0, longer: 0, leaps: 0, held: 0, middle: 0 }
    };
    let mut found: Vec<Candidate> = early.map(candidate).collect();
    let mut all = 0i64;
    let mut before = first;
    for sound in sounds {
        let place = (sound.onset - start).rem_euclid(bar);
        let length = sound.ticks.min(bar);
        all = all.saturating_add(length);
        for candidate in &mut found {
            // The time from the candidate's downbeat to the start of the note.
            let since = place - candidate.pickup;
            let since = if since < 0 { since + bar } else { since };
            if since == 0 {
                candidate.starts += 1;
                candidate.time += length;
                candidate.longer += i64::from(sound.ticks > before.ticks);
                candidate.leaps += i64::from(sound.pitch.abs_diff(before.pitch) > LEAP);
            } else {
                candidate.held += i64::from(since + length > bar);
            }
            if 2 * since == bar {
                candidate.middle += length;
            }
        }
        before = sound;
    }
    let bars = ((last.onset + last.ticks - start) / bar).max(1);
    let share = |n: i64, of: i64| (n.saturating_mul(WHOLE) / of.max(1)).min(WHOLE);
    let with_signs = found.into_iter().map(|candidate| {
        // 24 times the pickup; `within` compares it with multiples of a bar, that is, in 24ths of a bar.
        let pickup = candidate.pickup.saturating_mul(24);
        let within = |low: i64, high: i64| if low * bar < pickup && pickup <= high * bar { WHOLE } else { 0 };
        let signs = [
            share(candidate.time, all),
            share(candidate.starts, bars),
            share(candidate.held, bars),
            within(-1, 0),
            within(0, 3),
            within(3, 4),
            within(4, 6),
            within(6, 8),
            within(8, 12),
            share(candidate.middle, all),
            share(candidate.longer, bars),
            share(candidate.leaps, bars),
        ];
        (candidate.pickup, signs)
    });
    with_signs.collect()
}
