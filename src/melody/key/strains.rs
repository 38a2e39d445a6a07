//! Finds the ends of strains in a tune without repeat signs and double bars.

use super::shares::Sound;

/// The lengths, in bars, that are tried for a strain written out twice, longest first.
const LENGTHS: [usize; 7] = [64, 32, 24, 16, 12, 8, 4];

/// The smallest number of bars in a tune that is divided into two strains.
const TWO_STRAINS: i64 = 8;

/// Finds the strains of a tune without marks, given the length of its bars. A passage played twice in a row is a
/// strain, and only one copy is kept. If no strain then ends before the last note, a tune of eight bars or more is
/// divided into two halves. Returns true if the tune was divided.
pub(super) fn find(sounds: &mut Vec<Sound>, bar: i64) -> bool {
    fold(sounds, bar);
    let (Some(first), Some(last)) = (sounds.first(), sounds.last()) else { return false };
    let start = first.onset;
    // The number is rounded to whole bars, because the last bar is shorter by the pickup.
    let bars = (last.onset + last.ticks - start + bar / 2) / bar;
    let inner = sounds.len() - 1;
    if bars < TWO_STRAINS || sounds[..inner].iter().any(|sound| sound.ends_strain) {
        return false;
    }
    let middle = start + bars / 2 * bar;
    let half = sounds.partition_point(|sound| sound.onset < middle);
    // The first note lies before the middle.
    if let Some(end) = sounds[..half].last_mut() {
        end.ends_strain = true;
    }
    true
}

/// Removes all but the last copy of a passage that is repeated immediately. The copies may differ in their last two
/// bars, or only in the last bar if the passage has four bars.
fn fold(sounds: &mut Vec<Sound>, bar: i64) {
    let (Some(first), Some(last)) = (sounds.first(), sounds.last()) else { return };
    // Bars are counted from the first note, so a pickup belongs to the strain after it.
    let (start, bars) = (first.onset, ((last.onset - first.onset) / bar + 1) as usize);
    // The guard skips tunes in which most bars are empty.
    if bars > 4 * sounds.len() + 64 {
        return;
    }
    let unit = |sound: &Sound| ((sound.onset - start).max(0) / bar) as usize;
    // An FNV-1a hash of each bar, over the pitches and their times.
    let mut prints = vec![0xcbf2_9ce4_8422_2325_u64; bars];
    for sound in sounds.iter() {
        let print = &mut prints[unit(sound).min(bars - 1)];
        for value in [(sound.onset - start).rem_euclid(bar) as u64, sound.pitch.into()] {
            *print = (*print ^ value).wrapping_mul(0x0100_0000_01b3);
        }
    }
    let is_repeated = |at: usize, length: usize| {
        let open = if length < 8 { 1 } else { 2 };
        at + 2 * length <= bars && (0..length - open).all(|i| prints[at + i] == prints[at + length + i])
    };
    let mut left_out = vec![false; bars];
    let mut ends = vec![false; bars];
    let mut at = 0;
    while at < bars {
        match LENGTHS.into_iter().find(|&length| is_repeated(at, length)) {
            Some(length) => {
                left_out[at..at + length].fill(true);
                if at > 0 {
                    ends[at - 1] = true;
                }
                at += length;
                ends[at + length - 1] = true;
                if !is_repeated(at, length) {
                    at += length;
                }
            }
            None => at += 1,
        }
    }
    if !left_out.contains(&true) {
        return;
    }
    sounds.retain(|sound| !left_out[unit(sound).min(bars - 1)]);
    for index in 0..sounds.len() {
        let here = unit(&sounds[index]).min(bars - 1);
        let next = sounds.get(index + 1).map_or(bars, |next| unit(next).min(bars - 1));
        sounds[index].ends_strain = next != here && (here..next).any(|bar| ends[bar]);
    }
}
