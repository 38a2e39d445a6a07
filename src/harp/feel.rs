//! Feels: the notes that a player uses when a band says "a slow blues in E", and where they lie on a harp.

use std::cmp::Reverse;

use super::{
    Bend, Harp, Position,
    position::{self, Gap},
};

/// A feel, with its scale. The scales are common knowledge; their choice for each feel is common practice, no source.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
#[non_exhaustive]
pub enum Feel {
    /// Major chords with flat sevenths; blue notes beside the notes of the major scale.
    Blues,
    /// Minor chords; only the notes of the blues scale.
    MinorBlues,
    /// The major pentatonic.
    Country,
    /// The major scale.
    Folk,
}

/// How the notes of a feel lie on a harp in a position.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Lie {
    /// The number of notes of the scale between the lowest and the highest reed.
    pub notes: usize,
    /// The number of natural notes among the notes of the scale.
    pub natural: usize,
    /// The number of natural tonics, where phrases come to rest.
    pub natural_tonics: usize,
    /// The notes of the scale that no natural note sounds, from the low end up.
    pub gaps: Vec<Gap>,
}

impl Feel {
    /// All four feels.
    pub const ALL: [Feel; 4] = [Feel::Blues, Feel::MinorBlues, Feel::Country, Feel::Folk];

    /// Returns the word for the command line and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Feel::Blues => "blues",
            Feel::MinorBlues => "minor-blues",
            Feel::Country => "country",
            Feel::Folk => "folk",
        }
    }

    /// Returns the notes of the feel's scale, in semitones above the tonic.
    pub fn scale(self) -> &'static [u8] {
        match self {
            Feel::Blues => &[0, 2, 3, 4, 5, 6, 7, 9, 10],
            Feel::MinorBlues => &[0, 3, 5, 6, 7, 10],
            Feel::Country => &[0, 2, 4, 7, 9],
            Feel::Folk => &[0, 2, 4, 5, 7, 9, 11],
        }
    }

    /// Counts the feel's notes on a harp in a position, and lists its gaps.
    pub fn lie(self, harp: &Harp, position: Position) -> Lie {
        let gaps = position::gaps(harp, position, self.scale());
        let tonic = position.tonic(harp.first_position_key());
        let mut natural: Vec<_> =
            harp.actions().iter().filter(|(_, action)| action.bend == Bend::None).collect();
        // A pitch that two reeds sound counts as one note.
        natural.dedup_by_key(|(pitch, _)| *pitch);
        let degrees: Vec<u8> = natural.into_iter().map(|(pitch, _)| pitch.class().above(tonic)).collect();
        let count = |scale: &[u8]| degrees.iter().filter(|degree| scale.contains(degree)).count();
        let natural = count(self.scale());
        Lie { notes: natural + gaps.len(), natural, natural_tonics: count(&[0]), gaps }
    }
}

impl Lie {
    /// Returns a sort key. Positions with the most natural notes come first, with tonics counted twice; among equals,
    /// positions with the fewest notes that no bend gives.
    pub fn order(&self) -> impl Ord + use<> {
        let bent = |gap: &&Gap| gap.action.is_some_and(|action| action.bend != Bend::Over);
        (Reverse(self.natural + self.natural_tonics), self.gaps.len() - self.gaps.iter().filter(bent).count())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harp::Tuning;

    /// Common practice, no source: blues is played in 2nd, then 3rd and 1st; minor blues in 3rd, 4th, 5th and 2nd;
    /// country and folk in 1st and 2nd.
    #[test]
    fn the_usual_positions_of_each_feel_come_first() {
        let c = Harp::parse("C", Tuning::built_in()).unwrap();
        let first = |feel: Feel, many: usize| -> Vec<u8> {
            let mut all: Vec<Position> = Position::all().collect();
            all.sort_by_key(|&position| (feel.lie(&c, position).order(), position));
            all.into_iter().take(many).map(Position::number).collect()
        };
        assert_eq!(first(Feel::Blues, 3), [2, 3, 1]);
        assert_eq!(first(Feel::MinorBlues, 4), [3, 4, 5, 2]);
        assert_eq!(first(Feel::Country, 2), [1, 2]);
        assert_eq!(first(Feel::Folk, 2), [1, 2]);
    }

    #[test]
    fn a_scale_is_natural_or_a_gap_note_by_note() {
        let c = Harp::parse("C", Tuning::built_in()).unwrap();
        // From C4 to C7 the minor blues scale on D has 19 notes; 14 are on the reeds.
        let third = Feel::MinorBlues.lie(&c, Position::new(3).unwrap());
        assert_eq!((third.notes, third.natural, third.natural_tonics), (19, 14, 3));
    }
}
