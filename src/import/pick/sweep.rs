//! Measures in one pass how long each line of a piece sounds, how long with a single note, and how long on top.

use crate::melody::Note;

/// How long a line sounds in each of three ways, in [`crate::time::Beats::units`].
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) struct Time {
    /// The time with at least one note.
    pub(super) sounding: u64,
    /// The time with exactly one note.
    pub(super) one_note: u64,
    /// The time with the highest of all sounding notes; if several lines have that note, the time is given to the
    /// earliest line.
    pub(super) on_top: u64,
}

/// Returns the time of each line and the latest end of a note. Each note comes with the number of its line; `count` is
/// the approximate number of notes. Lines from number 65,534 on are counted as one line.
///
/// Takes n log n steps for n notes: it sorts their starts and ends, each packed into one number to make sorting cheap.
pub(super) fn times<'a>(
    notes: impl Iterator<Item = (usize, &'a Note)>,
    count: usize,
    lines: usize,
) -> (Vec<Time>, u64) {
    let lines = lines.min(usize::from(u16::MAX));
    let mut turns = Vec::with_capacity(2 * count);
    for (line, note) in notes {
        let (line, pitch) = (line.min(lines.saturating_sub(1)) as u16, note.pitch.midi());
        let (onset, end) = span(note);
        turns.push(Turn::new(onset, pitch, true, line));
        turns.push(Turn::new(end, pitch, false, line));
    }
    turns.sort_unstable();
    let mut times = vec![Time::default(); lines];
    // For each line, the number of its sounding notes, and the time of the last change of that number.
    let mut open = vec![(0_i32, 0_u64); lines];
    let mut sounding = Sounding::new(lines);
    let mut since = 0;
    for turn in turns {
        let (at, line) = (turn.at(), usize::from(turn.line()));
        if at > since {
            if let Some(top) = sounding.top() {
                times[usize::from(top)].on_top += at - since;
            }
            since = at;
        }
        let (count, last) = &mut open[line];
        match *count {
            1 => {
                times[line].sounding += at - *last;
                times[line].one_note += at - *last;
            }
            2.. => times[line].sounding += at - *last,
            _ => {}
        }
        // If an end and a start fall at the same moment, the end may be processed first. The count may then be
        // negative, but only for zero time.
        let change = if turn.starts() { 1 } else { -1 };
        (*count, *last) = (*count + change, at);
        // A single line is on top whenever it sounds.
        if lines > 1 {
            sounding.change(turn.pitch(), turn.line(), change);
        }
    }
    if let [only] = times.as_mut_slice() {
        only.on_top = only.sounding;
    }
    (times, since)
}

/// Returns the times at which a note starts and ends, in [`crate::time::Beats::units`].
pub(super) fn span(note: &Note) -> (u64, u64) {
    let [onset, duration] = [note.onset, note.duration].map(|time| time.units().max(0).unsigned_abs());
    (onset, onset + duration)
}

/// The start or end of a note, packed into one number: time, pitch, whether the note starts, and line.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Turn(u64);

impl Turn {
    fn new(at: u64, pitch: u8, starts: bool, line: u16) -> Turn {
        // The longest time takes 36 bits.
        Turn(at << 24 | u64::from(pitch & 0x7F) << 17 | u64::from(starts) << 16 | u64::from(line))
    }

    fn at(self) -> u64 {
        self.0 >> 24
    }

    fn pitch(self) -> u8 {
        (self.0 >> 17) as u8 & 0x7F
    }

    fn starts(self) -> bool {
        self.0 >> 16 & 1 == 1
    }

    fn line(self) -> u16 {
        self.0 as u16
    }
}

/// The sounding notes: one bit for each pitch; for each pitch, one bit for each line that sounds it; and the number of
/// times each line sounds each pitch.
struct Sounding {
    pitches: u128,
    /// The number of machine words for the line bits of each pitch.
    words: usize,
    lines: Vec<u64>,
    counts: Vec<i32>,
}

impl Sounding {
    fn new(lines: usize) -> Sounding {
        let words = lines.div_ceil(64);
        // A single line needs no counts.
        let counts = if lines > 1 { 128 * lines } else { 0 };
        Sounding { pitches: 0, words, lines: vec![0; 128 * words], counts: vec![0; counts] }
    }

    /// Returns the line on top: the earliest line that sounds the highest pitch.
    fn top(&self) -> Option<u16> {
        let highest = self.pitches.checked_ilog2()? as usize;
        let lines = &self.lines[highest * self.words..][..self.words];
        let word = lines.iter().position(|&word| word != 0)?;
        u16::try_from(64 * word + lines[word].trailing_zeros() as usize).ok()
    }

    fn change(&mut self, pitch: u8, line: u16, change: i32) {
        let (pitch, line) = (usize::from(pitch), usize::from(line));
        let count = &mut self.counts[128 * line + pitch];
        *count += change;
        let lines = &mut self.lines[pitch * self.words..][..self.words];
        let bit = 1 << (line % 64);
        if *count != 0 {
            lines[line / 64] |= bit;
            self.pitches |= 1 << pitch;
        } else {
            lines[line / 64] &= !bit;
            if lines.iter().all(|&word| word == 0) {
                self.pitches &= !(1 << pitch);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{pitch::Pitch, time::Beats};

    fn note(pitch: u8, from: i32, to: i32) -> Note {
        Note::new(Beats::quarters(from), Beats::quarters(to - from), Pitch::new(pitch).unwrap(), 0)
    }

    #[test]
    fn lines_are_timed_together() {
        let (high, low) =
            ([note(72, 0, 4), note(74, 6, 8)], [note(60, 0, 8), note(64, 2, 3), note(79, 7, 8)]);
        let notes = high.iter().map(|note| (0, note)).chain(low.iter().map(|note| (1, note)));
        let quarters = |time: u64| time * Beats::UNITS.unsigned_abs();
        let (times, end) = times(notes, 5, 2);
        let high = Time { sounding: quarters(6), one_note: quarters(6), on_top: quarters(5) };
        let low = Time { sounding: quarters(8), one_note: quarters(6), on_top: quarters(3) };
        assert_eq!((times, end), (vec![high, low], quarters(8)));
    }

    #[test]
    fn of_many_lines_at_one_pitch_the_earliest_lies_on_top() {
        // Each line enters before the line with the next lower number, and all lines end together.
        let notes: Vec<Note> = (0..150).map(|line| note(60, 150 - line, 151)).collect();
        let (times, _) = times(notes.iter().enumerate(), 150, 150);
        let quarter = Beats::UNITS.unsigned_abs();
        assert!(times[1..].iter().all(|time| time.on_top == quarter));
        assert_eq!((times[0].on_top, times[149].sounding), (quarter, 150 * quarter));
    }

    #[test]
    fn of_equal_notes_the_earlier_lines_is_on_top_and_notes_without_length_take_no_time() {
        let notes = [note(72, 0, 2), note(72, 1, 3), note(80, 1, 1)];
        let quarter = Beats::UNITS.unsigned_abs();
        let (times, _) = times([1, 0, 1].into_iter().zip(&notes), 3, 2);
        assert_eq!(times.iter().map(|time| time.on_top / quarter).collect::<Vec<_>>(), [2, 1]);
        let (alone, _) = super::times([(0, &notes[0])].into_iter(), 1, 1);
        assert_eq!((alone[0].on_top, alone[0].sounding), (2 * quarter, 2 * quarter));
    }
}
