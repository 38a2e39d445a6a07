//! The actions that a player can make on a hole, derived from its two reeds.
//!
//! In a chamber with two reeds, the *higher* natural note can be pulled down to every pitch strictly between the two
//! natural notes. In an overblow or overdraw, the reed of the other breath sounds as an opening reed, *outside* the
//! interval of the two notes. (Bahnson, Antaki and Beery, "Acoustical and physical dynamics of the diatonic
//! harmonica", J. Acoust. Soc. Am. 103(4), 1998: bends lie within the interval of the hole's two notes,
//! overblows and overdraws outside.) Players aim an overbend at one semitone above the higher natural note (common
//! practice, no source). Let `gap` be the distance between the two reeds in semitones:
//!
//! | higher reed | bends | overbend |
//! |---|---|---|
//! | draw | draw, `gap - 1` of them | overblow, blowing, draw + 1 |
//! | blow | blow, `gap - 1` of them | overdraw, drawing, blow + 1 |
//! | same pitch | none | none |

use std::fmt;

use super::{HOLES, Tuning};
use crate::pitch::{Interval, Pitch};

/// The direction of the breath.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Breath {
    /// Out of the player.
    Blow,
    /// Into the player.
    Draw,
}

/// Writes `blow` or `draw`.
impl fmt::Display for Breath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Breath::Blow => "blow",
            Breath::Draw => "draw",
        })
    }
}

/// The mouth's effect on the pitch, in order of difficulty.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Bend {
    /// The natural note.
    None,
    /// A bend, with the number of semitones by which it lowers the pitch.
    Down(u8),
    /// An overblow or an overdraw, depending on the breath.
    Over,
}

/// A way to sound a pitch: a hole, a breath and a bend.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub struct Action {
    /// The bend; it is the first field so that actions sort by difficulty, the easiest kind first.
    pub bend: Bend,
    /// The hole, from 1 to 10.
    pub hole: u8,
    /// The direction of the breath.
    pub breath: Breath,
}

impl Action {
    /// Returns a natural blow note.
    pub const fn blow(hole: u8) -> Action {
        Action { bend: Bend::None, hole, breath: Breath::Blow }
    }

    /// Returns a natural draw note.
    pub const fn draw(hole: u8) -> Action {
        Action { bend: Bend::None, hole, breath: Breath::Draw }
    }

    /// Returns the action with the same hole and breath, bent down by `semitones`.
    pub const fn bent(self, semitones: u8) -> Action {
        Action { bend: Bend::Down(semitones), ..self }
    }

    /// Returns the action with the same hole and breath, overblown or overdrawn.
    pub const fn over(self) -> Action {
        Action { bend: Bend::Over, ..self }
    }
}

/// The techniques of a player; each includes the techniques before it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
pub enum Technique {
    /// Natural notes only.
    None,
    /// Natural notes and draw bends.
    Draw,
    /// Natural notes, draw bends and blow bends.
    #[default]
    All,
    /// Natural notes, draw bends, blow bends, overblows and overdraws.
    Over,
}

impl Technique {
    /// Whether a player with this technique can play the action.
    pub fn allows(self, action: Action) -> bool {
        self >= Technique::for_action(action)
    }

    /// Returns the least technique that allows the action.
    pub fn for_action(action: Action) -> Technique {
        match (action.bend, action.breath) {
            (Bend::None, _) => Technique::None,
            (Bend::Down(_), Breath::Draw) => Technique::Draw,
            (Bend::Down(_), Breath::Blow) => Technique::All,
            (Bend::Over, _) => Technique::Over,
        }
    }

    /// All four techniques, from the easiest to the hardest.
    pub const ALL: [Technique; 4] = [Technique::None, Technique::Draw, Technique::All, Technique::Over];

    /// Reads the word of a technique.
    pub fn parse(word: &str) -> Option<Technique> {
        Technique::ALL.into_iter().find(|technique| technique.word() == word)
    }

    /// Returns the word for the command line, files and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Technique::None => "none",
            Technique::Draw => "draw",
            Technique::All => "all",
            Technique::Over => "over",
        }
    }
}

/// Returns every action of a tuning on a key note, by pitch, then in the order of [`Action`].
pub(super) fn all(tuning: &Tuning, root: Pitch) -> Vec<(Pitch, Action)> {
    let mut actions = Vec::with_capacity(48);
    for hole in 1..=HOLES {
        let (blow, draw) = tuning.reeds(hole);
        let natural = [(blow, Action::blow(hole)), (draw, Action::draw(hole))];
        let derived = match draw - blow {
            0 => None,
            gap if gap > 0 => Some((draw, Action::draw(hole), Action::blow(hole).over())),
            _ => Some((blow, Action::blow(hole), Action::draw(hole).over())),
        };
        let gap = (draw - blow).unsigned_abs();
        let bends = derived.into_iter().flat_map(|(high, action, over)| {
            (1..gap).map(move |depth| (high - depth as i8, action.bent(depth))).chain([(high + 1, over)])
        });
        actions.extend(natural.into_iter().chain(bends).filter_map(|(offset, action)| {
            root.transposed(Interval(i16::from(offset))).map(|pitch| (pitch, action))
        }));
    }
    actions.sort();
    actions
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harp::Harp;

    /// Reference notes of a C harp, each with the easiest kind of action, derived from the reeds and checked by a
    /// player.
    #[test]
    fn the_notes_of_a_c_harp_lie_where_players_find_them() {
        let c = Harp::parse("C", Tuning::built_in()).unwrap();
        let (blow, draw) = (Action::blow, Action::draw);
        let expected = [
            (60, blow(1)),
            (61, draw(1).bent(1)),
            (62, draw(1)),
            (63, blow(1).over()),
            (64, blow(2)),
            (65, draw(2).bent(2)),
            (66, draw(2).bent(1)),
            (68, draw(3).bent(3)),
            (69, draw(3).bent(2)),
            (70, draw(3).bent(1)),
            (71, draw(3)),
            (72, blow(4)),
            (73, draw(4).bent(1)),
            (75, blow(4).over()),
            (78, blow(5).over()),
            (80, draw(6).bent(1)),
            (82, blow(6).over()),
            (83, draw(7)),
            (84, blow(7)),
            (85, draw(7).over()),
            (87, blow(8).bent(1)),
            (90, blow(9).bent(1)),
            (92, draw(9).over()),
            (94, blow(10).bent(2)),
            (95, blow(10).bent(1)),
            (96, blow(10)),
            (97, draw(10).over()),
        ];
        for (midi, action) in expected {
            let pitch = Pitch::new(midi).unwrap();
            assert_eq!(c.actions_for(pitch).next(), Some(action), "MIDI {midi}");
        }
        let g4: Vec<Action> = c.actions_for(Pitch::new(67).unwrap()).collect();
        assert_eq!(g4, [draw(2), blow(3)]);
    }

    #[test]
    fn each_technique_can_do_what_the_one_before_it_can() {
        let c = Harp::parse("C", Tuning::built_in()).unwrap();
        let kinds = [Technique::None, Technique::Draw, Technique::All, Technique::Over];
        let counts = kinds.map(|kind| c.actions().iter().filter(|&&(_, action)| kind.allows(action)).count());
        // The numbers come from 20 reeds, 8 draw bends (1, 2, 3, 1, -, 1), 4 blow bends (1, 1, 2) and 10 overbends.
        assert_eq!(counts, [20, 28, 32, 42]);
    }
}
