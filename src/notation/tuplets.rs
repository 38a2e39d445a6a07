//! Finds where the notes of a bar depart from the plain divisions of its beats: triplets and the like.
//!
//! The search examines one beat after another. A place is plain if repeated halving of the beat, or of each of its
//! three eighths, leads to it. If an onset or an end does not lie on a plain place, the search looks for a tuplet: the
//! smallest stretch that can be divided into equal parts so that every onset and end inside lies on an edge of a part.
//! A note with an onset or end inside the tuplet must not extend beyond it. The search first requires exact places,
//! then allows the rounding of programs that count in whole ticks, which write a triplet as 85 + 85 + 86 of 256. An
//! onset or end that no tuplet explains is moved to the nearest plain place, so that every bar can be written.

use super::value::Tree;
use crate::time::Beats;

/// A stretch of a bar that forms one tuplet.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Region {
    pub(super) start: Beats,
    pub(super) length: Beats,
    /// The number of notes, and the number in whose time they are played.
    pub(super) ratio: (i64, i64),
}

/// The start and the end of a note or rest, from the start of its bar.
pub(super) type Stretch = (Beats, Beats);

/// The finest plain division of a beat; in a beat of a quarter, 128ths.
const FINEST: i64 = 32;
/// The numbers of notes to try for a tuplet: `SIMPLE` in a stretch divided by two, `COMPOUND` in a stretch divided by
/// three. Two or four notes in the time of three are missing there, because they are written as dotted notes.
const SIMPLE: [i64; 7] = [3, 5, 7, 9, 11, 13, 15];
const COMPOUND: [i64; 4] = [5, 7, 11, 13];
/// The largest number of times that the parts of a tuplet may be halved.
const HALVINGS: u32 = 3;

/// Returns how far a place may lie from the edge of a part, in parts: for example, a septuplet in 480 ticks has notes
/// of 69 ticks.
fn rounding() -> Beats {
    Beats::new(1, 16)
}
/// The numbers of notes to try with rounding, and the largest number of times that the parts may then be halved. With
/// more choices, some tuplet would match any rhythm.
const ROUNDED: [i64; 3] = [3, 5, 7];
const ROUNDED_HALVINGS: u32 = 1;

/// Returns the tuplets among these stretches. Moves every onset and end that lies off its written place to that place.
pub(super) fn find(stretches: &mut [Stretch], tree: &Tree) -> Vec<Region> {
    let beats = tree.beats();
    let mut regions: Vec<Region> = Vec::new();
    let mut next = 0;
    while next < beats.len() {
        let beat = beats[next];
        if is_plain(stretches, beat) {
            next += 1;
            continue;
        }
        let found = [false, true].into_iter().find_map(|rounded| found(stretches, &beats[next..], rounded));
        let Some((found, count)) = found else {
            straighten(stretches, beat);
            next += 1;
            continue;
        };
        for parts in &found {
            for (from, to) in &mut *stretches {
                (*from, *to) = (parts.nearest(*from), parts.nearest(*to));
            }
        }
        regions.extend(found.iter().map(|parts| parts.region));
        next += count;
    }
    regions
}

/// Returns the tuplets that begin in the first beat, and the number of beats that they cover.
fn found(
    stretches: &[Stretch],
    beats: &[(Beats, Beats, bool)],
    rounded: bool,
) -> Option<(Vec<Parts>, usize)> {
    let beat = beats[0];
    if let Some(smaller) = in_parts(stretches, beat, rounded) {
        return Some((smaller, 1));
    }
    let alike = beats.iter().take_while(|other| other.1 == beat.1 && other.2 == beat.2).count();
    let wider = [1, 2, 4, alike].into_iter().filter(|&count| 1 <= count && count <= alike);
    wider.into_iter().find_map(|count| {
        let length = beat.1.times(count as i64, 1);
        Some((vec![Parts::of(stretches, (beat.0, length, beat.2), rounded)?], count))
    })
}

/// Returns the tuplets in the halves (or thirds) of a beat, if they explain the whole beat.
fn in_parts(stretches: &[Stretch], beat: (Beats, Beats, bool), rounded: bool) -> Option<Vec<Parts>> {
    let (start, length, by_three) = beat;
    let parts = if by_three { 3 } else { 2 };
    let part = length.times(1, parts);
    let mut found = Vec::new();
    for index in 0..parts {
        let at = start + part.times(index, 1);
        if !is_plain(stretches, (at, part, false)) {
            found.push(Parts::of(stretches, (at, part, false), rounded)?);
        }
    }
    Some(found)
}

/// Returns the places inside a stretch where a note or rest begins or ends.
fn places(stretches: &[Stretch], start: Beats, length: Beats) -> impl Iterator<Item = Beats> {
    let ends = stretches.iter().flat_map(|&(from, to)| [from, to]);
    ends.filter(move |&at| start < at && at < start + length)
}

fn is_plain(stretches: &[Stretch], (start, length, by_three): (Beats, Beats, bool)) -> bool {
    let unit = if by_three { length.times(1, 3) } else { length };
    places(stretches, start, length).all(|at| {
        let (_, parts) = over(at - start, unit).fraction();
        parts <= FINEST && parts.count_ones() == 1
    })
}

fn over(a: Beats, b: Beats) -> Beats {
    let (numerator, denominator) = b.fraction();
    a.times(denominator, numerator.max(1))
}

/// A tuplet divided into equal parts, with every onset and end on an edge of a part.
#[derive(Clone, Copy)]
struct Parts {
    region: Region,
    count: i64,
}

impl Parts {
    /// Finds the division into equal parts that explains every onset and end inside: the one with the fewest halvings,
    /// and among these the one with the fewest notes.
    fn of(
        stretches: &[Stretch],
        (start, length, by_three): (Beats, Beats, bool),
        rounded: bool,
    ) -> Option<Parts> {
        let numbers: &[i64] = match (rounded, by_three) {
            (false, false) => &SIMPLE,
            (false, true) => &COMPOUND,
            (true, false) => &ROUNDED,
            (true, true) => &ROUNDED[1..],
        };
        let halvings = 0..=if rounded { ROUNDED_HALVINGS } else { HALVINGS };
        let slack = if rounded { rounding() } else { Beats::ZERO };
        let end = start + length;
        let all =
            halvings.flat_map(|halvings| numbers.iter().map(move |&number| (number, number << halvings)));
        all.map(|(number, count)| {
            let usual: i64 = if by_three { 3 } else { 1 };
            let fitting = (0..6).map(|n| usual << n).take_while(|&usual| usual < number);
            let ratio = (number, fitting.last().unwrap_or(3));
            Parts { region: Region { start, length, ratio }, count }
        })
        .find(|parts| {
            let off = |at: Beats| {
                let nearest = parts.nearest(at);
                over(if nearest > at { nearest - at } else { at - nearest }, length).times(parts.count, 1)
            };
            let inside = |at: Beats| start < parts.nearest(at) && parts.nearest(at) < end;
            // A note that begins or ends on an edge inside the tuplet and crosses one of its ends belongs to a wider
            // tuplet.
            let reaches_out = |&(from, to): &Stretch| {
                (inside(from) && parts.nearest(to) > end) || (inside(to) && parts.nearest(from) < start)
            };
            places(stretches, start, length).all(|at| off(at) <= slack)
                && places(stretches, start, length).any(inside)
                && !stretches.iter().any(reaches_out)
        })
    }

    /// Returns the edge nearest to a place inside the tuplet; a place outside is returned unchanged.
    fn nearest(&self, at: Beats) -> Beats {
        let Region { start, length, .. } = self.region;
        if at <= start || start + length <= at {
            return at;
        }
        let (numerator, denominator) = over(at - start, length).times(self.count, 1).fraction();
        start + length.times((2 * numerator + denominator) / (2 * denominator), self.count)
    }
}

/// Moves the onsets and ends inside a beat to the nearest plain place.
fn straighten(stretches: &mut [Stretch], (start, length, by_three): (Beats, Beats, bool)) {
    let parts = if by_three { 12 } else { 8 };
    let straight = |at: Beats| {
        if at <= start || start + length <= at {
            return at;
        }
        let (numerator, denominator) = over(at - start, length).times(parts, 1).fraction();
        let nearest = (2 * numerator + denominator) / (2 * denominator);
        start + length.times(nearest, parts)
    };
    for (from, to) in stretches {
        (*from, *to) = (straight(*from), straight(*to));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::Meter;

    fn found(meter: (u16, u16), lengths: &[(i64, i64)]) -> Vec<(String, String, (i64, i64))> {
        let mut at = Beats::ZERO;
        let mut stretches = Vec::new();
        for &(n, d) in lengths {
            stretches.push((at, at + Beats::new(n, d)));
            at += Beats::new(n, d);
        }
        let before = stretches.clone();
        let regions = find(&mut stretches, &Tree::bar(Meter { beats: meter.0, unit: meter.1 }));
        assert_eq!(stretches, before);
        regions
            .into_iter()
            .map(|region| (region.start.to_string(), region.length.to_string(), region.ratio))
            .collect()
    }

    #[test]
    fn tuplets_are_found_where_they_are() {
        let named = |start: &str, length: &str, ratio| (start.to_owned(), length.to_owned(), ratio);
        assert_eq!(found((4, 4), &[(1, 1), (1, 2), (1, 2), (2, 1)]), []);
        assert_eq!(found((6, 8), &[(1, 2), (1, 1), (3, 4), (3, 4)]), []);
        assert_eq!(found((6, 8), &[(3, 2), (3, 10), (6, 5)]), [named("1 1/2", "1 1/2", (5, 3))]);
        assert_eq!(found((4, 4), &[(1, 3), (1, 3), (1, 3), (3, 1)]), [named("0", "1", (3, 2))]);
        assert_eq!(found((4, 4), &[(1, 3), (2, 3), (3, 1)]), [named("0", "1", (3, 2))]);
        assert_eq!(found((4, 4), &[(2, 3), (2, 3), (2, 3), (2, 1)]), [named("0", "2", (3, 2))]);
        assert_eq!(found((2, 4), &[(1, 6), (1, 6), (1, 6), (1, 2), (1, 1)]), [named("0", "1/2", (3, 2))]);
        assert_eq!(found((2, 4), &[(1, 5), (2, 5), (1, 5), (1, 5), (1, 1)]), [named("0", "1", (5, 4))]);
        // Six notes in a quarter are two triplets.
        let six = found((2, 4), &[&[(1, 6); 6][..], &[(1, 1)]].concat());
        assert_eq!(six, [named("0", "1/2", (3, 2)), named("1/2", "1/2", (3, 2))]);
    }

    #[test]
    fn what_is_rounded_to_ticks_is_a_plain_tuplet() {
        for (ticks, quarter, ratio) in [
            (&[85, 85, 86][..], 256, (3, 2)),
            (&[3347, 3347, 3386], 10_080, (3, 2)),
            (&[69, 69, 69, 69, 69, 69, 66], 480, (7, 4)),
            (&[85, 171], 256, (3, 2)),
        ] {
            let mut at = 0;
            let mut stretches = Vec::new();
            for &length in ticks {
                stretches.push((Beats::new(at, quarter), Beats::new(at + length, quarter)));
                at += length;
            }
            let rest = (Beats::quarters(1), Beats::quarters(4));
            stretches.push(rest);
            let regions = find(&mut stretches, &Tree::bar(Meter::COMMON));
            assert_eq!(regions, [Region { start: Beats::ZERO, length: Beats::quarters(1), ratio }]);
            assert_eq!(stretches[0], (Beats::ZERO, Beats::new(1, ratio.0)));
            assert_eq!(stretches.last(), Some(&rest));
        }
    }

    #[test]
    fn what_no_tuplet_explains_becomes_plain() {
        let odd = Beats::new(23, 102);
        let mut stretches = [(Beats::ZERO, odd), (odd, Beats::quarters(4))];
        assert_eq!(find(&mut stretches, &Tree::bar(Meter::COMMON)), []);
        assert_eq!(stretches[0], (Beats::ZERO, Beats::new(1, 4)));
        assert_eq!(stretches[1], (Beats::new(1, 4), Beats::quarters(4)));
    }
}
