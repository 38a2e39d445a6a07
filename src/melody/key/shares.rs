//! Counts a stretch of notes in rows of twelve shares, before any key is considered.

/// The sum of all shares in a row, before rounding.
pub const WHOLE: i64 = 4096;

/// Shares of the twelve notes from C to B. They are rounded down and sum to at most [`WHOLE`], or are all zero.
pub type Shares = [i64; 12];

/// The number of rows.
pub const ROWS: usize = 9;

/// The rows, in the order of the constants below.
pub type Counts = [Shares; ROWS];

/// The total duration of each note.
pub(super) const DURATIONS: usize = 0;
/// The last note.
pub(super) const LAST: usize = 1;
/// The last note of each strain.
pub(super) const ENDS: usize = 2;
/// In each strain, the last note that differs from its final note: the step to the end.
pub(super) const APPROACHES: usize = 3;
/// The total duration of each note in the first full bar of each strain.
pub(super) const FIRST_BARS: usize = 4;
/// The total duration of each note in the bar of each strain's last note.
pub(super) const LAST_BARS: usize = 5;
/// The first note that starts a full bar.
pub(super) const FIRST_STRESS: usize = 6;
/// The lowest note.
pub(super) const LOWEST: usize = 7;
/// The highest note.
pub(super) const HIGHEST: usize = 8;

/// A sounding note, reduced to the facts that are counted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sound {
    /// The MIDI number of the pitch.
    pub pitch: u8,
    /// The onset and the length, in the units of [`crate::time::Beats`].
    pub onset: i64,
    pub ticks: i64,
    /// A number shared by all notes of a bar.
    pub bar: i64,
    /// Whether the bar is full; a pickup is not full.
    pub in_full_bar: bool,
    /// Whether the note starts at the beginning of a full bar.
    pub starts_bar: bool,
    /// Whether a strain ends after the note.
    pub ends_strain: bool,
}

impl Sound {
    fn class(&self) -> usize {
        usize::from(self.pitch % 12)
    }
}

/// Returns the counts of a stretch of notes; all are zero if there are no notes.
pub(super) fn count(sounds: &[Sound]) -> Counts {
    let mut counts = Counts::default();
    let Some(last) = sounds.last() else { return counts };
    let first = sounds.iter().find(|sound| sound.starts_bar).unwrap_or(&sounds[0]);
    counts[LAST][last.class()] = 1;
    counts[FIRST_STRESS][first.class()] = 1;
    let (mut lowest, mut highest) = (last, last);
    for sound in sounds {
        counts[DURATIONS][sound.class()] += sound.ticks;
        lowest = if sound.pitch < lowest.pitch { sound } else { lowest };
        highest = if sound.pitch > highest.pitch { sound } else { highest };
    }
    counts[LOWEST][lowest.class()] = 1;
    counts[HIGHEST][highest.class()] = 1;
    for strain in sounds.split_inclusive(|sound| sound.ends_strain) {
        let (first, last) = (&strain[0], &strain[strain.len() - 1]);
        let opening = strain.iter().find(|sound| sound.in_full_bar).unwrap_or(first).bar;
        for (row, bar) in [(FIRST_BARS, opening), (LAST_BARS, last.bar)] {
            let mut one = Shares::default();
            for sound in strain.iter().filter(|sound| sound.bar == bar) {
                one[sound.class()] += sound.ticks;
            }
            counts[row].iter_mut().zip(normalised(one)).for_each(|(sum, share)| *sum += share);
        }
        counts[ENDS][last.class()] += 1;
        if let Some(before) = strain.iter().rev().find(|sound| sound.class() != last.class()) {
            counts[APPROACHES][before.class()] += 1;
        }
    }
    counts.map(normalised)
}

/// Scales the counts to a sum of [`WHOLE`], each rounded down; leaves them unchanged if all are zero.
fn normalised(counts: Shares) -> Shares {
    let sum = counts.iter().fold(0i64, |sum, &count| sum.saturating_add(count));
    if sum == 0 { counts } else { counts.map(|count| count.saturating_mul(WHOLE) / sum) }
}
