//! Where the notes of a bar leave the plain divisions of its beats: triplets and the like.
//!
//! Beat by beat: where an onset or an end lies off the halves of the beat (or off its three eighths and their halves), the
//! smallest stretch is looked for in which all of them are equal parts, and over whose ends no such note reaches. What no
//! tuplet explains is moved to the nearest plain place, so that every bar can be written.

use super::values::Tree;
use crate::time::Beats;

/// A stretch of a bar that is written in one way.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Region {
    pub(super) start: Beats,
    pub(super) length: Beats,
    /// So many in the time of so many.
    pub(super) ratio: (i64, i64),
}

/// A note's or a rest's stretch of time in its bar.
pub(super) type Stretch = (Beats, Beats);

/// The finest plain place: the 128th.
const FINEST: i64 = 32;
/// The numbers of tuplets, in a stretch divided by two and by three; two in the time of three are dotted.
const SIMPLE: [i64; 7] = [3, 5, 7, 9, 11, 13, 15];
const COMPOUND: [i64; 4] = [5, 7, 11, 13];
/// How often the parts of a tuplet may be halved.
const HALVINGS: u32 = 3;

/// The tuplets among these stretches; stretches that cannot be written are moved.
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
        if let Some(smaller) = in_parts(stretches, beat) {
            regions.extend(smaller);
            next += 1;
            continue;
        }
        let alike = beats[next..].iter().take_while(|other| other.1 == beat.1 && other.2 == beat.2).count();
        let wider = [1, 2, 4, alike].into_iter().filter(|&count| 1 <= count && count <= alike);
        let found = wider.into_iter().find_map(|count| {
            let length = beat.1.times(count as i64, 1);
            let ratio = ratio(stretches, beat.0, length, beat.2)?;
            Some((Region { start: beat.0, length, ratio }, count))
        });
        match found {
            Some((region, count)) => {
                regions.push(region);
                next += count;
            }
            None => {
                straighten(stretches, beat);
                next += 1;
            }
        }
    }
    regions
}

/// The halves (or thirds) of a beat that are tuplets by themselves, if that explains the beat.
fn in_parts(stretches: &[Stretch], beat: (Beats, Beats, bool)) -> Option<Vec<Region>> {
    let (start, length, by_three) = beat;
    let parts = if by_three { 3 } else { 2 };
    let part = length.times(1, parts);
    let mut regions = Vec::new();
    for index in 0..parts {
        let at = start + part.times(index, 1);
        if !is_plain(stretches, (at, part, false)) {
            regions.push(Region { start: at, length: part, ratio: ratio(stretches, at, part, false)? });
        }
    }
    Some(regions)
}

/// The places inside a stretch where something begins or ends.
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

/// How many equal parts, in the time of how many, explain all that is inside.
fn ratio(stretches: &[Stretch], start: Beats, length: Beats, by_three: bool) -> Option<(i64, i64)> {
    let numbers: &[i64] = if by_three { &COMPOUND } else { &SIMPLE };
    let end = start + length;
    for halvings in 0..=HALVINGS {
        for &number in numbers {
            let fits = |at: Beats| over(at - start, length).times(number << halvings, 1).fraction().1 == 1;
            if !places(stretches, start, length).all(fits) {
                continue;
            }
            // What begins or ends on a place of the tuplet and reaches over its ends belongs to a wider one.
            let inside = |at: Beats| start < at && at < end;
            let reaches_out =
                |&(from, to): &Stretch| (inside(from) && to > end) || (inside(to) && from < start);
            if stretches.iter().any(reaches_out) {
                continue;
            }
            let usual: i64 = if by_three { 3 } else { 1 };
            let fitting = (0..6).map(|n| usual << n).take_while(|&usual| usual < number);
            return Some((number, fitting.last().unwrap_or(3)));
        }
    }
    None
}

/// Moves what lies inside a beat to the nearest plain place.
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
        // Six in a quarter are two triplets.
        let six = found((2, 4), &[&[(1, 6); 6][..], &[(1, 1)]].concat());
        assert_eq!(six, [named("0", "1/2", (3, 2)), named("1/2", "1/2", (3, 2))]);
    }

    #[test]
    fn what_no_tuplet_explains_becomes_plain() {
        let odd = Beats::new(17, 101);
        let mut stretches = [(Beats::ZERO, odd), (odd, Beats::quarters(4))];
        assert_eq!(find(&mut stretches, &Tree::bar(Meter::COMMON)), []);
        assert_eq!(stretches[0], (Beats::ZERO, Beats::new(1, 8)));
        assert_eq!(stretches[1], (Beats::new(1, 8), Beats::quarters(4)));
    }
}
