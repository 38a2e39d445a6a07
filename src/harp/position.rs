//! Positions: the relation of a tune's tonic to the harp's key, counted in fifths.

use std::fmt;

use super::{Action, Bend, Breath, HOLES, Harp};
use crate::{
    mode::Mode,
    pitch::{Interval, Pitch, PitchClass},
};

/// A position from 1 to 12: position p has its tonic p - 1 fifths above the harp's key.
///
/// 1st position plays in the harp's own key, 2nd a fifth above, 12th a fifth below. (Common practice; Wikipedia,
/// "Harmonica techniques", agrees for the positions of a C harp.)
///
/// ```
/// use breathline::{harp::Position, pitch::PitchClass};
/// let (c, e, a) = (PitchClass::new(0), PitchClass::new(4), PitchClass::new(9));
/// assert_eq!(Position::of(c, a).number(), 4);
/// let second = Position::new(2).unwrap();
/// assert_eq!(second.harp_key(e), a, "blues in E: pick up the A harp");
/// assert_eq!(second.tonic(a), e);
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Position(u8);

impl Position {
    /// Returns the position with this number, or `None` outside 1 to 12.
    pub const fn new(number: u8) -> Option<Position> {
        if 1 <= number && number <= 12 { Some(Position(number)) } else { None }
    }

    /// All twelve positions, in order.
    pub fn all() -> impl Iterator<Item = Position> {
        (1..=12).map(Position)
    }

    /// Returns the position in which a harp with this first-position key plays a tune on this tonic.
    pub const fn of(harp_key: PitchClass, tonic: PitchClass) -> Position {
        // Seven is its own inverse modulo 12, so multiplying semitones by seven gives fifths.
        Position(1 + 7 * tonic.above(harp_key) % 12)
    }

    /// Returns the number, from 1 to 12.
    pub const fn number(self) -> u8 {
        self.0
    }

    /// Returns the tonic of this position on a harp with this first-position key.
    pub const fn tonic(self, harp_key: PitchClass) -> PitchClass {
        harp_key.transposed(Interval(7 * (self.0 as i16 - 1)))
    }

    /// Returns the first-position key of the harp that has this tonic in this position.
    pub const fn harp_key(self, tonic: PitchClass) -> PitchClass {
        tonic.transposed(Interval(5 * (self.0 as i16 - 1)))
    }

    /// Returns the name that players use for the position in addition to its number, if there is one (common practice,
    /// no source).
    pub const fn nickname(self) -> Option<&'static str> {
        match self.0 {
            1 => Some("straight harp"),
            2 => Some("cross harp"),
            3 => Some("slant harp"),
            _ => None,
        }
    }

    /// Returns the position's usual purpose on a Richter harp (common practice, no source).
    pub const fn used_for(self) -> &'static str {
        match self.0 {
            1 => "major melodies: folk, hymns, old-time; blues in the high register",
            2 => "blues, rock, country; Mixolydian fiddle tunes; major tunes without the seventh",
            3 => "minor blues; Dorian fiddle tunes and songs",
            4 => "natural-minor melodies and ballads",
            5 => "minor tunes with a flat second or none; the minor pentatonic without bends",
            6 => "rare: tunes with a flat fifth",
            7 | 8 => "rare: hardly any natural note belongs to the key",
            9 | 10 => "occasional: needs overbends for most tunes",
            11 => "occasional: major tunes whose tonic and fourth are bends",
            _ => "major ballads that avoid the fourth; Lydian tunes",
        }
    }
}

/// Writes the ordinal: `1st`, `2nd`, `12th`.
impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let suffix = match self.0 {
            1 => "st",
            2 => "nd",
            3 => "rd",
            _ => "th",
        };
        f.pad(&format!("{}{suffix}", self.0))
    }
}

/// The notes and scales of a harp in one position, computed from its reeds.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Offer {
    /// The position.
    pub position: Position,
    /// The tonic of the harp in this position.
    pub tonic: PitchClass,
    /// The mode of the natural notes, if they form exactly one of the seven modes.
    pub mode: Option<Mode>,
    /// The natural notes, in semitones above the tonic, in order.
    pub degrees: Vec<u8>,
    /// The actions that sound the tonic, from the low end up: natural notes if there are any, otherwise bends and
    /// overbends.
    pub tonics: Vec<Action>,
    /// If there are natural tonics, the further tonics between the ends of the harp that only a bend sounds, as in 4th
    /// and 12th position.
    pub bent_tonics: Vec<Action>,
    /// The pentatonic scales that need no bends over at least an octave.
    pub pentatonics: Vec<Stretch>,
    /// The reeds to be careful with, first for a major tune, then for a minor one.
    pub careful: [Vec<Careful>; 2],
}

/// A natural note outside the scale of the tune.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Careful {
    /// The reed.
    pub action: Action,
    /// The degree of the note, in semitones above the tonic.
    pub degree: u8,
}

/// A note of a scale, between the ends of the harp, that no reed sounds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Gap {
    /// The note.
    pub pitch: Pitch,
    /// The degree of the note, in semitones above the tonic.
    pub degree: u8,
    /// The hole of `action`, or of the next lower natural note if no action sounds the note.
    pub hole: u8,
    /// The easiest bend or overbend that sounds the note, if there is one.
    pub action: Option<Action>,
}

/// A five-note scale.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Pentatonic {
    /// Degrees 1 2 3 5 6: the major scale without its half steps.
    Major,
    /// Degrees 1 b3 4 5 b7: the minor scale without its half steps.
    Minor,
}

impl Pentatonic {
    /// Both scales.
    pub const ALL: [Pentatonic; 2] = [Pentatonic::Major, Pentatonic::Minor];

    /// Returns the notes of the scale, in semitones above the tonic.
    pub const fn scale(self) -> [u8; 5] {
        match self {
            Pentatonic::Major => [0, 2, 4, 7, 9],
            Pentatonic::Minor => [0, 3, 5, 7, 10],
        }
    }
}

/// Writes `major pentatonic` or `minor pentatonic`.
impl fmt::Display for Pentatonic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Pentatonic::Major => "major pentatonic",
            Pentatonic::Minor => "minor pentatonic",
        })
    }
}

/// A part of the harp in which natural notes sound every note of a scale.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Stretch {
    /// The scale.
    pub scale: Pentatonic,
    /// The scale's lowest note in this part of the harp.
    pub low: Action,
    /// The scale's highest note in this part of the harp.
    pub high: Action,
}

/// The modes for which [`Offer::careful`] is computed.
pub const CAREFUL_MODES: [Mode; 2] = [Mode::Major, Mode::Minor];

/// Computes the notes and scales of a harp in a position.
pub fn offer(harp: &Harp, position: Position) -> Offer {
    let tonic = position.tonic(harp.first_position_key());
    let reeds = reeds(harp, tonic);
    let mut degrees: Vec<u8> = reeds.iter().map(|&(_, degree)| degree).collect();
    degrees.sort_unstable();
    degrees.dedup();
    let mode = Mode::ALL.into_iter().find(|mode| mode.scale().as_slice() == degrees);
    let tonics_with = |natural: bool| -> Vec<Action> {
        let sounding = harp.actions().iter().filter(|(pitch, _)| pitch.class() == tonic);
        sounding.map(|&(_, action)| action).filter(|action| (action.bend == Bend::None) == natural).collect()
    };
    let mut tonics = tonics_with(true);
    let mut bent_tonics = Vec::new();
    if tonics.is_empty() {
        tonics = tonics_with(false);
    } else {
        let bends = gaps(harp, position, &[0]).into_iter().filter_map(|gap| gap.action);
        bent_tonics.extend(bends.filter(|action| action.bend != Bend::Over));
    }
    let pentatonics = Pentatonic::ALL.into_iter().filter_map(|scale| stretch(harp, tonic, scale)).collect();
    let careful = CAREFUL_MODES.map(|mode| careful(harp, position, mode));
    Offer { position, tonic, mode, degrees, tonics, bent_tonics, pentatonics, careful }
}

/// Lists the notes of a scale, in semitones above the tonic, that no reed sounds, between the harp's lowest and highest
/// notes.
pub fn gaps(harp: &Harp, position: Position, scale: &[u8]) -> Vec<Gap> {
    let tonic = position.tonic(harp.first_position_key());
    let natural: Vec<(Pitch, Action)> = naturals(harp);
    let Some(((low, _), (high, _))) = natural.first().zip(natural.last()) else { return Vec::new() };
    let inside = (low.midi()..=high.midi()).filter_map(Pitch::new);
    let missing = inside.filter(|pitch| {
        scale.contains(&pitch.class().above(tonic)) && natural.iter().all(|(natural, _)| natural != pitch)
    });
    let gap = |pitch: Pitch| {
        // `actions` lists the easiest action of a pitch first.
        let action =
            harp.actions().iter().find(|(sounding, _)| *sounding == pitch).map(|&(_, action)| action);
        let below = || natural.iter().rev().find(|(natural, _)| *natural < pitch).map(|(_, action)| *action);
        let hole = action.or_else(below).map_or(1, |action| action.hole);
        Gap { pitch, degree: pitch.class().above(tonic), hole, action }
    };
    missing.map(gap).collect()
}

/// Finds the longest part of the harp, at least an octave, in which natural notes sound every note of a scale.
fn stretch(harp: &Harp, tonic: PitchClass, scale: Pentatonic) -> Option<Stretch> {
    let natural = naturals(harp);
    let (low, high) = (natural.first()?.0, natural.last()?.0);
    let tones = (low.midi()..=high.midi()).filter_map(Pitch::new);
    let tones: Vec<Option<(Pitch, Action)>> = tones
        .filter(|pitch| scale.scale().contains(&pitch.class().above(tonic)))
        .map(|pitch| natural.iter().find(|(natural, _)| *natural == pitch).copied())
        .collect();
    // Among equally long runs the lowest wins.
    let runs = tones.split(Option::is_none).rev().max_by_key(|run| run.len())?;
    let (low, high) = (runs.first().copied()??, runs.last().copied()??);
    (high.0.midi() - low.0.midi() >= 12).then_some(Stretch { scale, low: low.1, high: high.1 })
}

/// Lists every natural note by pitch; if two reeds have the same pitch, both are listed.
fn naturals(harp: &Harp) -> Vec<(Pitch, Action)> {
    harp.actions().iter().filter(|(_, action)| action.bend == Bend::None).copied().collect()
}

/// Lists the reeds to be careful with in a tune of this mode.
pub fn careful(harp: &Harp, position: Position, mode: Mode) -> Vec<Careful> {
    outside(harp, position, &mode.scale())
}

/// Lists the reeds outside a scale, which is given in semitones above the tonic.
pub fn outside(harp: &Harp, position: Position, scale: &[u8]) -> Vec<Careful> {
    let reeds = reeds(harp, position.tonic(harp.first_position_key())).into_iter();
    let outside = reeds.filter(|(_, degree)| !scale.contains(degree));
    outside.map(|(action, degree)| Careful { action, degree }).collect()
}

impl Offer {
    /// Returns the mode of the natural notes; if they form no mode, major or minor, whichever lacks fewer degrees.
    pub fn nearest_mode(&self) -> Mode {
        let nearest = CAREFUL_MODES.into_iter().min_by_key(|&mode| self.lacking(mode).len());
        self.mode.or(nearest).unwrap_or(Mode::Major)
    }

    /// Returns the degrees of a mode, in semitones above the tonic, that no natural note sounds.
    pub fn lacking(&self, mode: Mode) -> Vec<u8> {
        mode.scale().into_iter().filter(|degree| !self.degrees.contains(degree)).collect()
    }
}

/// Lists every reed, with its degree in semitones above a tonic.
fn reeds(harp: &Harp, tonic: PitchClass) -> Vec<(Action, u8)> {
    let mut reeds = Vec::new();
    for hole in 1..=HOLES {
        for breath in [Breath::Blow, Breath::Draw] {
            if let Some(pitch) = harp.reed(hole, breath) {
                reeds.push((Action { bend: Bend::None, hole, breath }, pitch.class().above(tonic)));
            }
        }
    }
    reeds
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harp::Tuning;

    #[test]
    fn position_tonic_and_harp_key_are_three_views_of_one_relation() {
        for harp_key in PitchClass::all() {
            for position in Position::all() {
                let tonic = position.tonic(harp_key);
                assert_eq!(Position::of(harp_key, tonic), position);
                assert_eq!(position.harp_key(tonic), harp_key);
            }
        }
    }

    /// The positions of a C harp; 7 to 11 as in Wikipedia, "Harmonica techniques".
    #[test]
    fn the_positions_of_a_c_harp() {
        let names: Vec<String> =
            Position::all().map(|position| position.tonic(PitchClass::new(0)).to_string()).collect();
        assert_eq!(names, ["C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F"]);
    }

    #[test]
    fn the_modes_and_careful_holes_follow_from_the_reeds() {
        let c = Harp::parse("C", Tuning::built_in()).unwrap();
        let offers: Vec<Offer> = Position::all().map(|position| offer(&c, position)).collect();
        let modes: Vec<Option<Mode>> = offers.iter().map(|offer| offer.mode).collect();
        let named = [Mode::Major, Mode::Mixolydian, Mode::Dorian, Mode::Minor, Mode::Phrygian, Mode::Locrian];
        assert_eq!(modes[..6], named.map(Some));
        assert_eq!(modes[6..11], [None; 5]);
        assert_eq!(modes[11], Some(Mode::Lydian));
        let careful = |position: usize, mode: usize| -> Vec<Action> {
            offers[position - 1].careful[mode].iter().map(|careful| careful.action).collect()
        };
        assert_eq!(careful(1, 0), []);
        assert_eq!(careful(2, 0), [Action::draw(5), Action::draw(9)]);
        assert_eq!(careful(3, 1), [Action::draw(3), Action::draw(7)]);
        assert_eq!(careful(4, 1), []);
        assert_eq!(careful(5, 1), [Action::draw(5), Action::draw(9)]);
        assert_eq!(careful(12, 0), [Action::draw(3), Action::draw(7)]);
        assert_eq!(offers[3].tonics, [Action::draw(6), Action::draw(10)]);
    }

    /// The gaps of a Richter harp are common practice: the low octave lacks 4 and 6, and the top octave lacks 7. The
    /// low tonics of 4th and 12th position are bent, and so is the low second of 2nd position.
    #[test]
    fn gaps_and_bent_tonics_follow_from_the_reeds() {
        let c = Harp::parse("C", Tuning::built_in()).unwrap();
        let bend = |action: Action, depth: u8| Action { bend: Bend::Down(depth), ..action };
        let gaps_in = |position: u8, mode: Mode| -> Vec<(u8, Option<Action>)> {
            let gaps = gaps(&c, Position::new(position).unwrap(), &mode.scale());
            gaps.into_iter().map(|gap| (gap.degree, gap.action)).collect()
        };
        let (two, three, ten) =
            (bend(Action::draw(2), 2), bend(Action::draw(3), 2), bend(Action::blow(10), 1));
        assert_eq!(gaps_in(1, Mode::Major), [(5, Some(two)), (9, Some(three)), (11, Some(ten))]);
        assert_eq!(gaps_in(2, Mode::Mixolydian), [(10, Some(two)), (2, Some(three)), (4, Some(ten))]);
        let bent = |position: u8| offer(&c, Position::new(position).unwrap()).bent_tonics;
        assert_eq!([4, 12].map(bent), [[three], [two]]);
        assert_eq!([1, 2, 3, 5].map(bent), [[]; 4]);
        // On the diminished layout, half-step bends alone sound every note.
        let diminished = Harp::parse("C:diminished", Tuning::built_in()).unwrap();
        for position in Position::all() {
            for gap in gaps(&diminished, position, &Mode::Major.scale()) {
                assert!(gap.action.is_some_and(|action| action.bend == Bend::Down(1)), "{position}: {gap:?}");
            }
        }
    }

    /// The oracle is the modes, note by note: a mode contains the major pentatonic if it has 1 2 3 5 6, and the minor
    /// pentatonic if it has 1 b3 4 5 b7 (common knowledge).
    #[test]
    fn pentatonics_without_bends_are_those_of_the_modes() {
        let c = Harp::parse("C", Tuning::built_in()).unwrap();
        for position in Position::all() {
            let offer = offer(&c, position);
            let found: Vec<Pentatonic> = offer.pentatonics.iter().map(|stretch| stretch.scale).collect();
            let held = Pentatonic::ALL.into_iter().filter(|scale| {
                offer.mode.is_some_and(|mode| scale.scale().iter().all(|note| mode.scale().contains(note)))
            });
            assert_eq!(found, held.collect::<Vec<_>>(), "{position}");
        }
        let fifth = offer(&c, Position::new(5).unwrap()).pentatonics;
        let minor = Stretch { scale: Pentatonic::Minor, low: Action::draw(3), high: Action::draw(10) };
        assert_eq!(fifth, [minor]);
    }

    /// A position is described as a blues position only if bends give most of the blues scale in that position.
    #[test]
    fn blues_is_played_where_its_scale_lies() {
        let c = Harp::parse("C", Tuning::built_in()).unwrap();
        const BLUES: [u8; 6] = [0, 3, 5, 6, 7, 10];
        for position in Position::all().filter(|position| position.used_for().contains("blues")) {
            let gaps = gaps(&c, position, &BLUES);
            let lost =
                gaps.iter().filter(|gap| gap.action.is_none_or(|action| action.bend == Bend::Over)).count();
            assert!(lost <= 4, "{position}: {gaps:?}");
        }
    }
}
