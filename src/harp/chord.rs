//! The sound of several holes at once: neighbours in one breath, and octaves and other splits with the tongue on the
//! holes between.
//!
//! Chord names follow from the notes alone. The names use the symbols that song sheets share (common practice, no
//! source) and agree with music21's names; see `tests/outside/check_chords.py`.

use super::{Breath, HOLES, Harp};
use crate::pitch::{Interval, Pitch, PitchClass};

/// The largest number of neighbouring holes that a mouth covers.
const WIDEST: u8 = 5;
/// The smallest and the largest width of a split in holes, from the left to the right corner of the mouth, both ends
/// included.
const SPLITS: std::ops::RangeInclusive<u8> = 3..=5;

/// Holes that sound together.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Grip {
    /// The lowest hole.
    pub low: u8,
    /// The highest hole.
    pub high: u8,
    /// The direction of the breath.
    pub breath: Breath,
    /// Whether the tongue blocks the holes between the two sounding holes.
    pub split: bool,
    /// The sounding pitches, from the lowest hole up.
    pub pitches: Vec<Pitch>,
}

/// The name of notes that sound together.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Name {
    /// A chord: its root, the symbol after the root (`m7`), and the bass if the bass is another note.
    Chord {
        /// The root.
        root: PitchClass,
        /// The symbol after the root; empty for a major chord.
        quality: &'static str,
        /// The lowest note, if it differs from the root.
        bass: Option<PitchClass>,
    },
    /// Two notes, with the number of semitones between them. If more than two pitches have only two note names, the
    /// number is the interval, less than an octave, from the lowest note up to a note of the other name; if they have
    /// only one name, it is the distance from the lowest to the highest pitch.
    Interval(u8),
    /// Notes that form no chord with a name.
    Other,
}

impl Grip {
    /// Returns the pitch classes that sound, without duplicates, from the lowest up.
    pub fn classes(&self) -> Vec<PitchClass> {
        let mut classes: Vec<PitchClass> = Vec::new();
        for pitch in &self.pitches {
            if !classes.contains(&pitch.class()) {
                classes.push(pitch.class());
            }
        }
        classes
    }

    /// Returns the name of the sounding notes.
    pub fn name(&self) -> Name {
        name(&self.pitches)
    }

    /// Returns the holes as a player writes them: `2 3 4 5`, or `1-4` for a split.
    pub fn holes(&self) -> String {
        if self.split {
            return format!("{}-{}", self.low, self.high);
        }
        let holes: Vec<String> = (self.low..=self.high).map(|hole| hole.to_string()).collect();
        holes.join(" ")
    }
}

/// Lists every grip of neighbouring holes: first blow, then draw. Each breath goes from the lowest hole up, and at each
/// hole from the narrowest grip to the widest.
pub fn neighbours(harp: &Harp) -> Vec<Grip> {
    grips(harp, 2..=WIDEST, false)
}

/// Lists every grip of two holes with the tongue on the holes between them.
pub fn splits(harp: &Harp) -> Vec<Grip> {
    grips(harp, SPLITS, true)
}

fn grips(harp: &Harp, widths: std::ops::RangeInclusive<u8>, split: bool) -> Vec<Grip> {
    let mut grips = Vec::new();
    for breath in [Breath::Blow, Breath::Draw] {
        for low in 1..=HOLES {
            for high in widths.clone().map(|width| low + width - 1).filter(|&high| high <= HOLES) {
                let holes = (low..=high).filter(|&hole| !split || hole == low || hole == high);
                let pitches = holes.filter_map(|hole| harp.reed(hole, breath)).collect();
                grips.push(Grip { low, high, breath, split, pitches });
            }
        }
    }
    grips
}

/// The chords by their notes above the root, in semitones, the plainest name first.
const CHORDS: [(&str, &[u8]); 18] = [
    ("", &[0, 4, 7]),
    ("m", &[0, 3, 7]),
    ("dim", &[0, 3, 6]),
    ("aug", &[0, 4, 8]),
    ("7", &[0, 4, 7, 10]),
    ("m7", &[0, 3, 7, 10]),
    ("maj7", &[0, 4, 7, 11]),
    ("m(maj7)", &[0, 3, 7, 11]),
    ("m7b5", &[0, 3, 6, 10]),
    ("dim7", &[0, 3, 6, 9]),
    ("6", &[0, 4, 7, 9]),
    ("m6", &[0, 3, 7, 9]),
    ("sus4", &[0, 5, 7]),
    ("sus2", &[0, 2, 7]),
    ("7sus4", &[0, 5, 7, 10]),
    ("9", &[0, 2, 4, 7, 10]),
    ("m9", &[0, 2, 3, 7, 10]),
    ("maj9", &[0, 2, 4, 7, 11]),
];

/// Names notes that sound together. If several roots are possible (C6 is Am7), the lowest note is taken as the root if
/// it can be; otherwise the plainer name wins.
pub fn name(pitches: &[Pitch]) -> Name {
    let Some((&low, &high)) = pitches.iter().min().zip(pitches.iter().max()) else { return Name::Other };
    if pitches.len() == 2 {
        return Name::Interval(high.midi() - low.midi());
    }
    let mut above: Vec<u8> = pitches.iter().map(|pitch| pitch.class().above(low.class())).collect();
    above.sort_unstable();
    above.dedup();
    match above.as_slice() {
        [0] => return Name::Interval(high.midi() - low.midi()),
        [0, second] => return Name::Interval(*second),
        _ => {}
    }
    let find = |root: u8| {
        let mut shape: Vec<u8> = above.iter().map(|&note| (note + 12 - root) % 12).collect();
        shape.sort_unstable();
        CHORDS.iter().position(|(_, chord)| *chord == shape)
    };
    let own = find(0).map(|index| (index, 0));
    let other = above[1..].iter().filter_map(|&root| find(root).map(|index| (index, root))).min();
    match own.or(other) {
        Some((index, root)) => Name::Chord {
            root: low.class().transposed(Interval(root.into())),
            quality: CHORDS[index].0,
            bass: (root != 0).then(|| low.class()),
        },
        None => Name::Other,
    }
}

/// The part of a chord that a harp has in one breath.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Offer {
    /// All notes of the chord, on neighbouring holes.
    Whole(Grip),
    /// Some notes of the chord, at least two, on neighbouring holes.
    Part(Grip),
    /// No neighbouring holes sound two notes of the chord and no other note.
    Nothing,
}

/// Finds the best grip for a chord on neighbouring holes in one breath. `notes` are the chord's notes from the root up;
/// no other note may sound. The whole chord beats its triad, and the triad beats other parts of the chord. Among equals,
/// the grip with the most different notes wins, then the one with the most holes, then the lowest.
pub fn offer(harp: &Harp, notes: &[PitchClass]) -> Offer {
    // The triad defines the chord: without its seventh, G7 still sounds as a G chord.
    let triad = &notes[..notes.len().min(3)];
    let fitting =
        neighbours(harp).into_iter().filter(|grip| grip.classes().iter().all(|class| notes.contains(class)));
    let has = |grip: &Grip, notes: &[PitchClass]| notes.iter().all(|note| grip.classes().contains(note));
    let rank = |grip: &Grip| {
        let classes = grip.classes().len();
        (
            !has(grip, notes),
            !has(grip, triad),
            std::cmp::Reverse(classes),
            std::cmp::Reverse(grip.pitches.len()),
            grip.low,
            grip.breath,
        )
    };
    match fitting.min_by_key(rank) {
        Some(grip) if has(&grip, notes) => Offer::Whole(grip),
        Some(grip) if grip.classes().len() > 1 => Offer::Part(grip),
        _ => Offer::Nothing,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harp::Tuning;

    fn c() -> Harp {
        Harp::parse("C", Tuning::built_in()).unwrap()
    }

    fn named(grip: &Grip) -> String {
        match grip.name() {
            Name::Chord { root, quality, bass } => {
                format!("{root}{quality}{}", bass.map_or(String::new(), |bass| format!("/{bass}")))
            }
            Name::Interval(semitones) => format!("{semitones}"),
            Name::Other => "-".to_owned(),
        }
    }

    #[test]
    fn the_chords_of_a_c_harp_are_where_players_find_them() {
        let all = neighbours(&c());
        let name = |holes: &str, breath: Breath| {
            let grip =
                all.iter().find(|grip| grip.holes().replace(' ', "") == holes && grip.breath == breath);
            grip.map(named).unwrap()
        };
        for (holes, expected) in
            [("123", "C"), ("234", "C/E"), ("345", "C/G"), ("78910", "C"), ("12", "4"), ("34", "5")]
        {
            assert_eq!(name(holes, Breath::Blow), expected, "blow {holes}");
        }
        for (holes, expected) in [
            ("123", "G/D"),
            ("234", "G"),
            ("2345", "G7"),
            ("345", "Bdim"),
            ("456", "Dm"),
            ("789", "Bdim"),
            ("8910", "Dm"),
            ("23456", "G9"),
            ("567", "-"),
        ] {
            assert_eq!(name(holes, Breath::Draw), expected, "draw {holes}");
        }
    }

    #[test]
    fn octaves_are_splits_of_four_holes_at_the_low_end_and_five_higher_up() {
        let octaves: Vec<String> = splits(&c())
            .iter()
            .filter(|grip| grip.name() == Name::Interval(12))
            .map(|grip| format!("{} {}", grip.breath, grip.holes()))
            .collect();
        let expected = "blow 1-4, blow 2-5, blow 3-6, blow 4-7, blow 5-8, blow 6-9, blow 7-10, \
             draw 1-4, draw 3-7, draw 4-8, draw 5-9, draw 6-10";
        assert_eq!(octaves.join(", "), expected);
    }

    #[test]
    fn a_chord_is_offered_whole_or_in_part() {
        let note = |name: &str| PitchClass::parse(name).unwrap();
        let offered = |names: &[&str]| offer(&c(), &names.iter().map(|name| note(name)).collect::<Vec<_>>());
        let holes = |offer: Offer| match offer {
            Offer::Whole(grip) => format!("{} {}", grip.breath, grip.holes()),
            Offer::Part(grip) => format!("part {} {}", grip.breath, grip.holes()),
            Offer::Nothing => "nothing".to_owned(),
        };
        assert_eq!(holes(offered(&["C", "E", "G"])), "blow 1 2 3 4 5");
        assert_eq!(holes(offered(&["G", "B", "D"])), "draw 1 2 3 4");
        assert_eq!(holes(offered(&["D", "F", "A"])), "draw 4 5 6");
        assert_eq!(holes(offered(&["F", "A", "C"])), "part draw 5 6");
        assert_eq!(holes(offered(&["Db", "Eb", "Ab"])), "nothing");
        assert_eq!(holes(offered(&["G", "B", "D", "F"])), "draw 1 2 3 4 5");
        assert_eq!(holes(offered(&["C", "E", "G", "Bb"])), "part blow 1 2 3 4 5");
    }
}
