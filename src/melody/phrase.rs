//! Finds where phrases end and where a breath can be taken.
//!
//! A phrase ends where the music waits: after a long note or before a rest. A phrase may also end where the score or
//! the words mark an end, and at a barline between groups of bars. Each note gets points for these signs. The best
//! division of the tune has the highest sum of points, less a price for each end and for each unusual length. Dynamic
//! programming finds the best division exactly.
//!
//! The idea of weighing gaps, usual lengths and bars over the whole tune is from D. Temperley, The Cognition of Basic
//! Musical Structures (MIT Press 2001), chapter 3, from memory; the numbers are ours. The check uses every eighth song
//! of the 3,941 European folk songs in music21 10.5.1. Their editors wrote one phrase per line. Of our ends, 74 in 100
//! are also ends for the editors, and we find 74 in 100 of the editors' ends (means over the songs, F1 72.5).
//! For Cambouropoulos's local boundary model these numbers are 69 and 58 (F1 56.5). `tests/outside/check_phrases.py`
//! makes the comparison.

use super::{Bar, Melody, Note, signs};
use crate::time::Beats;

/// The end of a phrase.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PhraseEnd {
    /// The index of the phrase's last note in [`Melody::notes`].
    pub note: usize,
    /// How clear the end is, from 0 to 100.
    pub strength: u8,
    /// The signs of this end, in the order of [`Sign`]; empty if only the length of the phrase marks it.
    pub why: Vec<Sign>,
}

/// A sign that marks the end of a phrase.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Sign {
    /// The tune ends.
    End,
    /// A repeat sign, a double barline, a "fine" or a jump back.
    Section,
    /// The words have a comma, a full stop or the like, or the next syllable begins with a capital letter.
    Words,
    /// A rest follows.
    Rest,
    /// The note is longer than its neighbours.
    LongNote,
    /// A breath mark or the end of a slur.
    Breath,
    /// The next note begins at the same place in its bar as the strain's first note, one or more bars later.
    Bars,
}

/// The points for a wait as long as a usual note. All points below are on the same scale.
const USUAL: i64 = 100;
/// The longest wait that counts, in usual notes: longer waits do not make an end clearer.
const LONGEST_WAIT: i64 = 8;
/// The price of each phrase end. A note of usual length brings [`USUAL`] points, too few for an end on its own.
const PRICE: i64 = 160;
/// The smallest and the largest number of notes in a usual phrase; within these limits, a usual phrase has as many
/// notes as two bars. Each doubling or halving of this number costs [`UNUSUAL`].
const USUAL_NOTES: (usize, usize) = (8, 16);
const UNUSUAL: i64 = 60;
/// The largest number of notes in a phrase.
const MOST_NOTES: usize = 64;
/// The points for the end of a section, enough that no phrase continues through it.
const SECTION: i64 = 1_000_000;
/// The points for a comma or a full stop in the words, and for a capital letter on the next syllable.
const STOP: i64 = 300;
const CAPITAL: i64 = 100;
/// The points for a breath mark or the end of a slur. If more than one note in [`RARE`] has such a sign, the signs show
/// bowing and get proportionally fewer points.
const BREATH: i64 = 200;
const RARE: i64 = 6;
/// The points by the number of bars since the strain began: any, even, multiple of four.
const BARS: [i64; 3] = [20, 60, 80];
/// The number of points at which an end is as clear as possible.
const CLEAR: i64 = 600;

/// Returns the phrase ends of a melody, in order; the last note always ends a phrase.
///
/// ```
/// use breathline::{melody::{Melody, Note, phrase}, pitch::Pitch, time::Beats};
/// // Two phrases of four notes, the last one held.
/// let mut tune = Melody::default();
/// let mut at = Beats::ZERO;
/// for length in [1, 1, 1, 5, 1, 1, 1, 5] {
///     tune.notes.push(Note::new(at, Beats::quarters(length), Pitch::new(60).unwrap(), 0));
///     at += Beats::quarters(length);
/// }
/// let ends: Vec<usize> = phrase::ends(&tune).iter().map(|end| end.note).collect();
/// assert_eq!(ends, [3, 7]);
/// ```
pub fn ends(melody: &Melody) -> Vec<PhraseEnd> {
    // Grace notes belong to the note that follows: they end no phrase and are not counted.
    let main: Vec<usize> = (0..melody.notes.len()).filter(|&i| !melody.notes[i].grace).collect();
    let Some(&last) = main.last() else { return Vec::new() };
    let places = places(melody, &main);
    let points: Vec<i64> = places.iter().map(|place| place.points).collect();
    let two_bars = (2 * main.len()).checked_div(melody.bars.len()).unwrap_or(0);
    let usual = two_bars.clamp(USUAL_NOTES.0, USUAL_NOTES.1);
    let mut ends: Vec<PhraseEnd> = divide(&points, usual)
        .into_iter()
        .map(|end| {
            let strength = (points[end].clamp(0, CLEAR) * 100 / CLEAR) as u8;
            PhraseEnd { note: main[end], strength, why: places[end].why.clone() }
        })
        .collect();
    ends.push(PhraseEnd { note: last, strength: 100, why: vec![Sign::End] });
    ends
}

/// Whether a strain ends after this note: a repeat sign, a double bar, a "fine" or a jump back lies between this note
/// and the next, or the note is the last.
pub(super) fn ends_section(melody: &Melody, note: usize) -> bool {
    let Some(next) = melody.notes.get(note + 1) else { return true };
    let here = melody.notes[note].bar;
    let passed = melody.bars.get(here..next.bar).unwrap_or_default();
    let starts = |bar: &Bar| bar.marks.repeat_start;
    next.bar != here && (passed.iter().any(section_ends) || melody.bars.get(next.bar).is_some_and(starts))
}

fn section_ends(bar: &Bar) -> bool {
    let marks = &bar.marks;
    marks.section_end || marks.repeat_end.is_some() || marks.fine || marks.da_capo || marks.dal_segno
}

/// A place between two notes where a phrase may end.
#[derive(Clone, Default)]
struct Place {
    points: i64,
    why: Vec<Sign>,
}

impl Place {
    fn sign(&mut self, sign: Sign, points: i64) {
        if points > 0 {
            self.points += points;
            self.why.push(sign);
        }
    }
}

/// Returns the signs and the points of a phrase end after each main note but the last.
fn places(melody: &Melody, main: &[usize]) -> Vec<Place> {
    let notes: Vec<&Note> = main.iter().map(|&i| &melody.notes[i]).collect();
    let waits: Vec<i64> =
        notes.windows(2).map(|pair| (pair[1].onset - pair[0].onset).units().max(0)).collect();
    // The usual note is the average wait, kept as a fraction. Rounding would make the answer depend on the note values
    // in which the tune is written.
    let all: i128 = waits.iter().map(|&wait| i128::from(wait)).sum::<i128>().max(1);
    let longest_wait = USUAL * LONGEST_WAIT;
    let breathes = signs::places_to_breathe(&melody.notes);
    let breaths = main.iter().filter(|&&note| breathes[note]).count().max(1) as i64;
    let breath = BREATH * (notes.len() as i64).min(RARE * breaths) / (RARE * breaths);
    let mut strain = notes.first().map(|first| (first.bar, phase(melody, first)));
    (0..waits.len())
        .map(|i| {
            let (note, next) = (notes[i], notes[i + 1]);
            let mut place = Place::default();
            let section = (main[i]..main[i + 1]).any(|index| ends_section(melody, index));
            place.sign(Sign::Section, if section { SECTION } else { 0 });
            place.sign(Sign::Words, words(note, next));
            // A rest counts twice, as silence and as waiting, because it marks an end more clearly than a held note.
            let rest = (next.onset - note.end()).units().clamp(0, waits[i]);
            let in_notes = |time: i64| {
                let points = i128::from(USUAL) * i128::from(time) * waits.len() as i128 / all;
                points.min(i128::from(longest_wait)) as i64
            };
            place.sign(Sign::Rest, in_notes(rest));
            let neighbours = [i.checked_sub(1), Some(i + 1)].map(|i| i.and_then(|i| waits.get(i)));
            let longest = neighbours.into_iter().flatten().all(|&other| waits[i] > other);
            if longest && 2 * rest < waits[i] {
                place.sign(Sign::LongNote, in_notes(waits[i]));
            } else {
                place.points += in_notes(waits[i]);
            }
            place.sign(Sign::Breath, if breathes[main[i]] { breath } else { 0 });
            let here = phase(melody, next);
            if section {
                strain = Some((next.bar, here));
            } else if let Some((first, start)) = strain
                && next.bar > first
                && here == start
            {
                place.sign(Sign::Bars, grouping(next.bar - first));
            }
            place
        })
        .collect()
}

/// Returns the points for the number of bars since the strain began.
fn grouping(bars: usize) -> i64 {
    BARS[(bars.trailing_zeros() as usize).min(BARS.len() - 1)]
}

/// Returns the point in a full bar at which a note begins; a short bar at the start of a strain is taken as the end of
/// a full bar. Without a meter, returns `None`.
fn phase(melody: &Melody, note: &Note) -> Option<i64> {
    let bar = melody.bars.get(note.bar)?;
    let full = bar.meter?.bar();
    let opens = note.bar.checked_sub(1).and_then(|i| melody.bars.get(i)).is_none_or(section_ends);
    let missing = if opens && bar.length < full { full - bar.length } else { Beats::ZERO };
    Some((note.onset - bar.start + missing).units())
}

/// Returns the points that the words of the first verse give to the end of a phrase between two notes.
fn words(note: &Note, next: &Note) -> i64 {
    let Some(here) = note.lyrics.first() else { return 0 };
    let stop =
        here.text.trim_end_matches(['"', '\'', '”', '’', ')']).ends_with(['.', ',', ';', ':', '!', '?']);
    let following = next.lyrics.first().map_or("", |lyric| lyric.text.as_str());
    let letter = following.chars().find(|letter| letter.is_alphabetic());
    // "I" is always a capital letter, and after a hyphen the word continues.
    let capital = letter.is_some_and(char::is_uppercase) && following != "I" && !here.hyphen;
    (if stop { STOP } else { 0 }) + (if capital { CAPITAL } else { 0 })
}

/// Returns the places where phrases end, given a usual length and the points of each place except the end of the tune.
///
/// `best[n]` is the highest value of the first n notes divided into whole phrases:
///
/// ```text
/// best[0] = 0
/// best[n] = points[n - 1] - PRICE + max over k in 1..=MOST_NOTES of (best[n - k] - unusual(k))
/// ```
///
/// The last note brings no points. Among equals the shorter last phrase wins. O(n · [`MOST_NOTES`]), usually much less.
fn divide(points: &[i64], usual: usize) -> Vec<usize> {
    let notes = points.len() + 1;
    let unusual: Vec<i64> = (0..=MOST_NOTES.min(notes)).map(|length| unusual(length, usual)).collect();
    let mut best = vec![0i64; notes + 1];
    // highest[n] is the highest of best[0] to best[n].
    let mut highest = vec![0i64; notes + 1];
    let mut length = vec![0usize; notes + 1];
    for n in 1..=notes {
        let (mut most, mut last) = (best[n - 1] - unusual[1], 1);
        for k in 2..=MOST_NOTES.min(n) {
            // Beyond the usual length the price only rises, so no longer phrase can win.
            if k > usual && highest[n - k] - unusual[k] <= most {
                break;
            }
            if best[n - k] - unusual[k] > most {
                (most, last) = (best[n - k] - unusual[k], k);
            }
        }
        best[n] = most + points.get(n - 1).copied().unwrap_or(0) - PRICE;
        highest[n] = best[n].max(highest[n - 1]);
        length[n] = last;
    }
    let mut ends = Vec::new();
    let mut n = notes - length[notes];
    while n > 0 {
        ends.push(n - 1);
        n -= length[n];
    }
    ends.reverse();
    ends
}

/// Returns the price of a phrase that is longer or shorter than usual: [`UNUSUAL`] for each doubling or halving.
fn unusual(notes: usize, usual: usize) -> i64 {
    // The binary logarithm in sixteenths is the logarithm of the sixteenth power; 64^16 is 2^96.
    let sixteenths = |n: usize| i64::from((n.max(1) as u128).pow(16).ilog2());
    (sixteenths(notes) - sixteenths(usual)).abs() * UNUSUAL / 16
}

#[cfg(test)]
mod tests;
