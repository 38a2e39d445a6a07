//! Finds a tempo that fits a tune whose file states none: by the type of tune that the file names, or else by the notes.
//!
//! The number of notes in a beat determines the tempo; whether they are written as eighths or as sixteenths does not
//! matter. The same tune in 2/4 and, with notes twice as long, in 2/2 takes the same time to the microsecond.

use std::fmt;

use super::{Melody, Note};
use crate::time::{Beats, Meter, TempoMap};

/// The kind of a tune whose file states no tempo, and the usual tempo of this kind.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Usual {
    /// The kind of tune.
    pub kind: Kind,
    /// The length of the beat that the tempo counts.
    pub beat: Beats,
    /// The tempo in beats per minute.
    pub per_minute: u32,
}

/// The kinds of tunes that differ in tempo.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Kind {
    /// Beats filled with three notes each, in 6/8, 9/8 or 12/8.
    Jig,
    /// Beats of three with fewer notes than in a jig, as in a song in 6/8.
    Lilting,
    /// Two beats in a bar, with four notes each.
    Reel,
    /// Dotted pairs in place of a reel's even notes, as in a hornpipe.
    Dotted,
    /// Two beats in a bar, with fewer notes than in a reel.
    InTwo,
    /// Four beats in a bar.
    InFour,
    /// Three beats in a bar.
    InThree,
    /// A polka, by its name.
    Polka,
    /// A march, by its name.
    March,
    /// A waltz, by its name.
    Waltz,
    /// A strathspey, by its name.
    Strathspey,
    /// An air, by its name.
    Air,
    /// Another metre, or no metre.
    Other,
}

/// Writes the kind with its article, such as `a reel`.
impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Kind::Jig => "a jig",
            Kind::Lilting => "a song in beats of three",
            Kind::Reel => "a reel",
            Kind::Dotted => "a hornpipe",
            Kind::InTwo => "a song or march in two",
            Kind::InFour => "a song or march in four",
            Kind::InThree => "a song or waltz in three",
            Kind::Polka => "a polka",
            Kind::March => "a march",
            Kind::Waltz => "a waltz",
            Kind::Strathspey => "a strathspey",
            Kind::Air => "an air",
            Kind::Other => "a song",
        })
    }
}

impl Kind {
    /// Whether tunes of this kind have this metre. `in_threes` tells whether its beats have three parts.
    const fn is_in(self, meter: Meter, in_threes: bool) -> bool {
        match self {
            Kind::Jig => in_threes,
            Kind::Reel | Kind::Dotted | Kind::Polka | Kind::Strathspey => matches!(meter.beats, 2 | 4),
            Kind::March => in_threes || matches!(meter.beats, 2 | 4),
            Kind::Waltz => meter.beats == 3,
            _ => true,
        }
    }

    /// Returns the usual tempo in beats per minute.
    ///
    /// - Jig and reel: 58 bars of two beats per minute. The source is the recommendation of the Royal Scottish Country
    ///   Dance Society for reels, hornpipes and jigs (according to a dictionary of Scottish country dancing, "Quick
    ///   Tempo").
    /// - Hornpipe: 46 to 50 bars of two beats per minute in set dancing (common practice, no source); only for dotted
    ///   pairs.
    /// - Polka: 62 bars of two beats per minute in set dancing; waltz: 44 bars; strathspey: 30 bars of two beats, each of
    ///   two quarters; march: 108 steps; air: slower than a song (common practice, no source).
    /// - The numbers of all other kinds are common practice without a source, near the middle of the tempos in our
    ///   corpus.
    const fn per_minute(self) -> u32 {
        match self {
            Kind::Jig | Kind::Reel => 116,
            Kind::Dotted => 96,
            Kind::Lilting => 72,
            Kind::InTwo => 92,
            Kind::InFour => 104,
            Kind::InThree => 108,
            Kind::Polka => 124,
            Kind::March => 108,
            Kind::Waltz => 132,
            Kind::Strathspey => 60,
            Kind::Air => 63,
            Kind::Other => 100,
        }
    }
}

/// Returns the usual tempo of a tune: by the type of tune that its file names, if the metre is one of this type;
/// otherwise by its metre and by the number of notes in a beat.
///
/// ```
/// use breathline::{import, melody::tempo::{self, Kind}};
/// let read = |bytes: &[u8]| import::import(bytes, &import::ImportOptions::default()).map(|read| read.melody);
/// let jig = tempo::usual(&read(include_bytes!("../../corpus/irish-washerwoman.musicxml"))?);
/// assert_eq!((jig.kind, jig.per_minute), (Kind::Jig, 116));
/// let reel = tempo::usual(&read(include_bytes!("../../corpus/wind-that-shakes-the-barley.musicxml"))?);
/// assert_eq!(reel.kind, Kind::Reel);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub fn usual(melody: &Melody) -> Usual {
    let meter = meter(melody);
    let Some(meter) = meter else {
        return Usual { kind: Kind::Other, beat: Beats::quarters(1), per_minute: Kind::Other.per_minute() };
    };
    // A bar of 6/4 is felt like a bar of 6/8.
    let in_threes = meter.beats > 3 && meter.beats.is_multiple_of(3);
    let beat = meter.written_beat().times(if in_threes { 3 } else { 1 }, 1);
    let notes = || main_notes(melody, meter);
    let filled: Beats = notes().map(|note| note.duration).sum();
    // The number of notes in a beat, in hundredths.
    let each = (100.0 * notes().count() as f64 * beat.as_f64() / filled.as_f64()) as u32;
    let named = melody.rhythm.as_deref().and_then(named).filter(|kind| kind.is_in(meter, in_threes));
    let (kind, beat) = match (in_threes, meter.beats) {
        (_, beats) if let Some(kind) = named => match kind {
            Kind::Reel | Kind::Dotted | Kind::Strathspey if beats == 4 => (kind, beat.times(2, 1)),
            kind => (kind, beat),
        },
        (true, _) if each >= 250 => (Kind::Jig, beat),
        (true, _) => (Kind::Lilting, beat),
        // Four beats of two notes each count as two beats of four.
        (_, 4) if each >= 160 => (reel(notes()), beat.times(2, 1)),
        (_, 4) => (Kind::InFour, beat),
        (_, 2) if each >= 300 => (reel(notes()), beat),
        (_, 2) => (Kind::InTwo, beat),
        (_, 3) => (Kind::InThree, beat),
        _ => (Kind::Other, beat),
    };
    Usual { kind, beat, per_minute: kind.per_minute() }
}

/// Returns the kind that the words for a type of tune name. ABC standard 2.1, section 3.1.11, has a field for these
/// words, and no list of them; the list is common practice, no source.
fn named(rhythm: &str) -> Option<Kind> {
    const WORDS: [(&str, Kind); 13] = [
        ("hornpipe", Kind::Dotted),
        ("clog", Kind::Dotted),
        ("strathspey", Kind::Strathspey),
        ("reel", Kind::Reel),
        ("jig", Kind::Jig),
        ("slide", Kind::Jig),
        ("polka", Kind::Polka),
        ("march", Kind::March),
        ("waltz", Kind::Waltz),
        ("valse", Kind::Waltz),
        ("walzer", Kind::Waltz),
        ("air", Kind::Air),
        ("lament", Kind::Air),
    ];
    let rhythm = rhythm.to_lowercase();
    // "Slipjig" is one word; "air" must be a word of its own, unlike the end of "fair".
    let mut words = rhythm.split(|c: char| !c.is_alphabetic());
    words.find_map(|word| {
        let word = word.strip_suffix('s').unwrap_or(word);
        let is = |name: &str| word == name || name == "jig" && word.ends_with(name);
        WORDS.iter().find(|(name, _)| is(name)).map(|&(_, kind)| kind)
    })
}

/// Gives a tune whose file states no tempo `percent` per cent of its usual tempo; leaves other tunes unchanged.
pub fn assume(melody: &mut Melody, percent: u32) {
    if !melody.tempo.is_stated() {
        melody.tempo = TempoMap::assumed(usual(melody).micros_per_quarter(percent));
    }
}

impl Usual {
    /// Returns the microseconds per quarter at `percent` per cent of this tempo.
    pub fn micros_per_quarter(self, percent: u32) -> u32 {
        // The length of a beat is a multiple of 96 microseconds, so that the same tune is equally fast in longer or
        // shorter notes.
        const EVEN: u64 = 96;
        let beat = 60_000_000 * 100 / u64::from(self.per_minute.max(1)) / u64::from(percent.max(1));
        let (numerator, denominator) = self.beat.fraction();
        let quarter = beat / EVEN * EVEN * denominator.unsigned_abs() / numerator.unsigned_abs().max(1);
        u32::try_from(quarter).unwrap_or(u32::MAX)
    }
}

/// Returns the meter with the most notes; among equals the first.
fn meter(melody: &Melody) -> Option<Meter> {
    let mut counts: Vec<(Option<Meter>, usize)> = Vec::new();
    for note in melody.notes.iter().filter(|note| !note.grace) {
        let meter = melody.bars.get(note.bar).and_then(|bar| bar.meter);
        match counts.iter_mut().find(|(known, _)| *known == meter) {
            Some((_, count)) => *count += 1,
            None => counts.push((meter, 1)),
        }
    }
    counts.into_iter().rev().max_by_key(|&(_, count)| count).and_then(|(meter, _)| meter)
}

/// Returns the notes in bars of a meter, without grace notes.
fn main_notes(melody: &Melody, meter: Meter) -> impl Iterator<Item = &Note> {
    let is_in = move |note: &&Note| melody.bars.get(note.bar).is_some_and(|bar| bar.meter == Some(meter));
    melody.notes.iter().filter(|note| !note.grace).filter(is_in)
}

/// Returns [`Kind::Dotted`] if at least half of the notes are three times or a third as long as the next note,
/// otherwise [`Kind::Reel`].
fn reel<'n>(notes: impl Iterator<Item = &'n Note>) -> Kind {
    let durations: Vec<Beats> = notes.map(|note| note.duration).collect();
    let dotted =
        durations.windows(2).filter(|two| two[0] == two[1].times(3, 1) || two[1] == two[0].times(3, 1));
    if 2 * dotted.count() >= durations.len() { Kind::Dotted } else { Kind::Reel }
}
