//! Turns a stretch of time in a bar into note values (single, dotted or tied) that show the beat.
//!
//! A bar is a [`Tree`]: 4/4 has two halves of two quarters each, and 6/8 has two beats of three eighths each. Every
//! quarter or eighth divides further into halves. A stretch that no value expresses, or that would hide a division of
//! the tree, is split at the division and tied. The notes that may cross a division (dotted notes, plain syncopations)
//! follow common practice as in handbooks of engraving, from memory.

use crate::time::{Beats, Meter, Value};

/// The division of a stretch of time.
#[derive(Clone, Debug)]
pub(super) struct Tree {
    length: Beats,
    /// The parts; a tree without parts divides into halves.
    parts: Vec<Tree>,
}

impl Tree {
    fn leaf(length: Beats) -> Tree {
        Tree { length, parts: Vec::new() }
    }

    fn of(parts: Vec<Tree>) -> Tree {
        Tree { length: parts.iter().map(|part| part.length).sum(), parts }
    }

    fn times(n: usize, part: &Tree) -> Tree {
        Tree::of(vec![part.clone(); n])
    }

    /// Whether note values can fill a bar of a meter: it has 1 to 64 beats, and its lower number is a power of two up
    /// to 64.
    pub(super) fn has(meter: Meter) -> bool {
        const MOST_BEATS: u16 = 64;
        const SHORTEST_BEAT: u16 = 64;
        meter.unit.is_power_of_two() && meter.unit <= SHORTEST_BEAT && (1..=MOST_BEATS).contains(&meter.beats)
    }

    /// Returns the tree of a bar; the meter must pass [`Tree::has`].
    pub(super) fn bar(meter: Meter) -> Tree {
        let unit = Tree::leaf(meter.written_beat());
        let three = Tree::times(3, &unit);
        let two = Tree::times(2, &unit);
        match usize::from(meter.beats) {
            0 | 1 => unit,
            beats if meter.unit >= 8 && beats.is_multiple_of(3) || beats == 6 => {
                Tree::grouped(beats / 3, &three)
            }
            // Unequal bars begin with a group of three, except that a bar of seven ends with its group of three (common
            // practice varies).
            7 => Tree::of(vec![two.clone(), two, three]),
            beats if beats % 2 == 1 && beats > 3 && meter.unit >= 8 => {
                let twos = std::iter::repeat_n(two, (beats - 3) / 2);
                Tree::of(std::iter::once(three).chain(twos).collect())
            }
            5 => Tree::of(vec![three, two]),
            beats => Tree::grouped(beats, &unit),
        }
    }

    /// Returns a tree of equal parts, grouped by twos as far as possible.
    fn grouped(n: usize, part: &Tree) -> Tree {
        match n {
            1 => part.clone(),
            n if n.is_multiple_of(2) && n > 2 => Tree::times(2, &Tree::grouped(n / 2, part)),
            n => Tree::times(n, part),
        }
    }

    /// Returns the tree of a tuplet of `n` units of a written length.
    pub(super) fn tuplet(n: i64, unit: Beats) -> Tree {
        Tree::grouped(usize::try_from(n).unwrap_or(1), &Tree::leaf(unit))
    }

    /// Returns the parts with their starts, if the tree starts at `from`.
    fn starts(&self, from: Beats) -> Vec<(Beats, Tree)> {
        let halves = [Tree::leaf(self.length.times(1, 2)), Tree::leaf(self.length.times(1, 2))];
        let parts = if self.parts.is_empty() { halves.as_slice() } else { &self.parts };
        let mut at = from;
        let start = |part: &Tree| {
            let start = at;
            at += part.length;
            (start, part.clone())
        };
        parts.iter().map(start).collect()
    }

    /// Returns the beats: each node without parts, and each node whose parts are all undivided and shorter than a
    /// quarter, such as three eighths. Each beat is (start, length, whether it has three parts).
    pub(super) fn beats(&self) -> Vec<(Beats, Beats, bool)> {
        let mut beats = Vec::new();
        self.collect_beats(Beats::ZERO, &mut beats);
        beats
    }

    fn collect_beats(&self, at: Beats, beats: &mut Vec<(Beats, Beats, bool)>) {
        let of_eighths =
            self.parts.iter().all(|part| part.parts.is_empty() && part.length < Beats::quarters(1));
        if self.parts.is_empty() || of_eighths {
            beats.push((at, self.length, self.parts.len() == 3));
            return;
        }
        for (start, part) in self.starts(at) {
            part.collect_beats(start, beats);
        }
    }

    /// Splits a stretch at the divisions that a player must see, into single note values.
    ///
    /// `from` and `to` count from the start of the tree. Each piece of a rest fills a node, or the first two thirds of
    /// a beat of three.
    pub(super) fn split(&self, from: Beats, to: Beats, rest: bool) -> Vec<(Beats, Beats)> {
        /// No music ties more pieces than this. A stretch with more pieces lies off every grid and stays in one piece.
        const MOST: usize = 64;
        let mut pieces = Vec::new();
        self.split_into(Beats::ZERO, from, to, rest, 0, &mut pieces);
        if pieces.len() > MOST {
            return vec![(from, to)];
        }
        pieces
    }

    /// The deepest level of halves: no written value needs more.
    const DEEPEST: u8 = 12;

    fn split_into(
        &self,
        start: Beats,
        from: Beats,
        to: Beats,
        rest: bool,
        depth: u8,
        pieces: &mut Vec<(Beats, Beats)>,
    ) {
        if from >= to {
            return;
        }
        let single = Value::of(to - from).is_some();
        let whole = from == start && to == start + self.length;
        if (whole && single) || depth > Tree::DEEPEST {
            pieces.push((from, to));
            return;
        }
        let parts = self.starts(start);
        let first = parts.partition_point(|(at, _)| *at <= from).saturating_sub(1);
        let last = parts.partition_point(|(at, _)| *at < to).saturating_sub(1).max(first);
        let (first_start, part) = &parts[first];
        if first == last {
            // The stretch may reach beyond the end of the last part.
            let inside = to <= *first_start + part.length;
            match inside || !single {
                true if inside => part.split_into(*first_start, from, to, rest, depth + 1, pieces),
                true => {
                    let end = *first_start + part.length;
                    if end > from {
                        part.split_into(*first_start, from, end, rest, depth + 1, pieces);
                        pieces.push((end, to));
                    } else {
                        pieces.push((from, to));
                    }
                }
                false => pieces.push((from, to)),
            }
            return;
        }
        let may_stand =
            if rest { self.rest_may_stand(&parts, from, to) } else { note_may_stand(&parts, from, to) };
        if single && may_stand {
            pieces.push((from, to));
            return;
        }
        // A note that begins with a part is cut at the last division inside it; any other stretch is cut at the next
        // division.
        let cut = if from == *first_start && last > first + 1 && !rest {
            parts[last].0
        } else {
            parts[first + 1].0
        };
        self.split_into(start, from, cut, rest, depth, pieces);
        self.split_into(start, cut, to, rest, depth, pieces);
    }

    /// Whether a rest may cover the first two thirds of a beat of three.
    fn rest_may_stand(&self, parts: &[(Beats, Tree)], from: Beats, to: Beats) -> bool {
        parts.len() == 3 && self.length <= Beats::new(3, 2) && from == parts[0].0 && to == parts[2].0
    }
}

/// Whether a note may cross the divisions between these parts.
fn note_may_stand(parts: &[(Beats, Tree)], from: Beats, to: Beats) -> bool {
    let first = parts.partition_point(|(at, _)| *at <= from).saturating_sub(1);
    let last = parts.partition_point(|(at, _)| *at < to).saturating_sub(1);
    let ((first_start, before), (last_start, after)) = (&parts[first], &parts[last]);
    let starts = from == *first_start;
    let ends = to == *last_start + after.length;
    if starts && ends {
        return true;
    }
    let in_halves = |tree: &Tree| tree.parts.len() != 3;
    if last != first + 1 || before.length != after.length || !in_halves(before) || !in_halves(after) {
        return false;
    }
    let half = before.length.times(1, 2);
    let starts_halfway = from == *first_start + half;
    let ends_halfway = to == *last_start + half;
    // The note is dotted from the start, dotted to the end, or syncopated in the middle.
    (starts && ends_halfway) || (starts_halfway && ends) || (starts_halfway && ends_halfway)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(meter: (u16, u16), from: (i64, i64), length: (i64, i64)) -> Vec<String> {
        let tree = Tree::bar(Meter { beats: meter.0, unit: meter.1 });
        let from = Beats::new(from.0, from.1);
        let pieces = tree.split(from, from + Beats::new(length.0, length.1), false);
        pieces.iter().map(|&(from, to)| (to - from).to_string()).collect()
    }

    #[test]
    fn notes_are_tied_where_they_would_hide_the_beat() {
        // Notes within four quarters: a whole note, a dotted half on beat two, a half on beat two, and a dotted quarter
        // on beat one.
        assert_eq!(written((4, 4), (0, 1), (4, 1)), ["4"]);
        assert_eq!(written((4, 4), (1, 1), (3, 1)), ["3"]);
        assert_eq!(written((4, 4), (1, 1), (2, 1)), ["2"]);
        assert_eq!(written((4, 4), (0, 1), (3, 2)), ["1 1/2"]);
        // A note from off the beat across the middle is tied.
        assert_eq!(written((4, 4), (3, 2), (1, 1)), ["1/2", "1/2"]);
        assert_eq!(written((4, 4), (1, 1), (3, 2)), ["1", "1/2"]);
        // Eighth, quarter, eighth.
        assert_eq!(written((4, 4), (1, 2), (1, 1)), ["1"]);
        assert_eq!(written((4, 4), (0, 1), (5, 2)), ["2", "1/2"]);
        assert_eq!(written((3, 4), (0, 1), (3, 1)), ["3"]);
        assert_eq!(written((3, 4), (1, 1), (2, 1)), ["2"]);
        assert_eq!(written((3, 4), (1, 2), (5, 2)), ["1/2", "2"]);
        // Notes within two beats of three eighths.
        assert_eq!(written((6, 8), (0, 1), (3, 1)), ["3"]);
        assert_eq!(written((6, 8), (0, 1), (2, 1)), ["1 1/2", "1/2"]);
        assert_eq!(written((6, 8), (1, 1), (1, 1)), ["1/2", "1/2"]);
        assert_eq!(written((6, 8), (1, 2), (1, 1)), ["1"]);
        assert_eq!(written((6, 8), (0, 1), (3, 4)), ["3/4"]);
        assert_eq!(written((9, 8), (0, 1), (9, 2)), ["3", "1 1/2"]);
        assert_eq!(written((12, 8), (0, 1), (6, 1)), ["6"]);
        assert_eq!(written((2, 2), (0, 1), (4, 1)), ["4"]);
    }

    #[test]
    fn pieces_fill_the_stretch_whatever_the_meter() {
        for beats in 1..=15 {
            for unit in [2, 4, 8, 16] {
                let meter = Meter { beats, unit };
                let tree = Tree::bar(meter);
                assert_eq!(tree.length, meter.bar());
                let step = Beats::new(1, 4);
                let steps = (0..).map(|n| step.times(n, 1)).take_while(|at| *at <= meter.bar());
                let grid: Vec<Beats> = steps.collect();
                for (index, &from) in grid.iter().enumerate() {
                    for &to in &grid[index + 1..] {
                        for rest in [false, true] {
                            let pieces = tree.split(from, to, rest);
                            let mut at = from;
                            for (start, end) in pieces {
                                assert_eq!(start, at);
                                assert!(
                                    Value::of(end - start).is_some(),
                                    "{meter} {from} {to}: {}",
                                    end - start
                                );
                                at = end;
                            }
                            assert_eq!(at, to, "{meter} {from} {to}");
                        }
                    }
                }
            }
        }
    }
}
