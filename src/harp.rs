//! The instrument: ten holes with two reeds each, and every way to sound a pitch on them.
//!
//! A [`Tuning`] gives the reeds relative to the key note. A [`Harp`] is a tuning in one key and register. Its
//! [`Action`]s follow from the reeds by one physical rule, the same for every tuning (see [`action`]). This module
//! knows nothing about melodies, files or effort.

pub mod action;
pub mod chord;
pub mod position;
pub mod feel;
mod name;
pub mod tuning;

use std::{fmt, sync::Arc};

use crate::{
    near,
    pitch::{Pitch, PitchClass},
};
pub use action::{Action, Bend, Breath, Technique};
pub use feel::Feel;
pub use position::Position;
pub use tuning::Tuning;

/// The number of holes on a harp.
pub const HOLES: u8 = 10;

/// A harmonica in one key, one register and one tuning.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Harp {
    key: PitchClass,
    register: Register,
    tuning: Arc<Tuning>,
    /// The sounding key note, to which the tuning's offset 0 refers.
    root: Pitch,
    /// Every action with its pitch, sorted by pitch and then in the order of [`Action`].
    actions: Vec<(Pitch, Action)>,
    /// The traits of each action, in the same order.
    traits: Vec<Traits>,
    /// For each MIDI pitch, the least technique that sounds it.
    techniques: Box<[Option<Technique>; 128]>,
}

/// The properties of an action other than its pitch.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Default)]
pub struct Traits {
    /// Whether this is the deepest bend of its hole; the lower reed stops any deeper bend.
    pub deepest: bool,
    /// Whether this is a natural blow note whose pitch a natural draw note sounds too (blow 3 and draw 2 on a Richter
    /// harp).
    pub also_drawn: bool,
    /// Whether the draw reed of its hole is the lower one (from hole 7 up on a Richter harp).
    pub upside_down: bool,
}

/// The octave in which a harp is built.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Register {
    /// An octave below the standard harp of the same key.
    Low,
    /// From G (key note G3) up to F sharp (key note F#4).
    Standard,
    /// An octave above the standard harp of the same key.
    High,
}

impl Harp {
    /// Makes a harp of the key that is stamped on its cover.
    ///
    /// Standard harps have their key note between G3 and F#4: "Harps labelled G, Ab, A, Bb, B start below middle C;
    /// those labelled Db to F# above" (Wikipedia, "Richter-tuned harmonica"). Low and high harps are an octave away
    /// (High G 67 and Low D 50 in MuseScore's instrument list; all other low and high harps follow by the same rule,
    /// common practice).
    pub fn new(key: PitchClass, register: Register, tuning: Arc<Tuning>) -> Harp {
        const LOWEST_STANDARD: u8 = 55;
        let g = PitchClass::new(i16::from(LOWEST_STANDARD));
        let class = tuning.label_position().harp_key(key);
        let octave = match register {
            Register::Low => -12,
            Register::Standard => 0,
            Register::High => 12,
        };
        let root = i16::from(LOWEST_STANDARD + class.above(g)) + octave;
        // The value is from 43 to 78, so it is always a valid pitch.
        let root = Pitch::new(root.clamp(0, 127) as u8).unwrap_or(Pitch::MIDDLE_C);
        let actions = action::all(&tuning, root);
        let traits = actions.iter().map(|&(pitch, action)| Traits::new(&actions, pitch, action)).collect();
        let mut techniques = Box::new([None; 128]);
        for &(pitch, action) in &actions {
            let least: &mut Option<Technique> = &mut techniques[usize::from(pitch.midi())];
            let needed = Technique::for_action(action);
            *least = Some(least.map_or(needed, |known| known.min(needed)));
        }
        Harp { key, register, tuning, root, actions, traits, techniques }
    }

    /// Returns the twelve standard harps of a tuning, from G, the lowest, up to F sharp.
    pub fn standard_set(tuning: &Arc<Tuning>) -> Vec<Harp> {
        Harp::set(Register::Standard, tuning)
    }

    /// Returns the twelve harps of a register and a tuning, from G, the lowest, up to F sharp.
    pub fn set(register: Register, tuning: &Arc<Tuning>) -> Vec<Harp> {
        (0..12).map(|step| Harp::new(PitchClass::new(7 + step), register, tuning.clone())).collect()
    }

    /// Reads a list of harps; `all` means the twelve standard Richter harps, `low` and `high` the twelve Richter harps
    /// of that register.
    ///
    /// # Errors
    ///
    /// Returns the same errors as [`Harp::parse`], and an error for an empty name.
    pub fn parse_list(names: &[String], tunings: &[Arc<Tuning>]) -> Result<Vec<Harp>, HarpError> {
        if names.iter().any(|name| name.trim().is_empty()) {
            return Err(HarpError::EmptyPlace);
        }
        let mut harps = Vec::new();
        for name in names {
            match name.as_str() {
                "all" => harps.extend(Harp::set(Register::Standard, &Tuning::richter())),
                "low" => harps.extend(Harp::set(Register::Low, &Tuning::richter())),
                "high" => harps.extend(Harp::set(Register::High, &Tuning::richter())),
                name => harps.push(Harp::parse(name, tunings)?),
            }
        }
        Ok(harps)
    }

    /// Reads a harp's name as players write it: `C`, `Bb`, `low-F`, `F low`, `D:natural-minor`, `Am harmonic minor`.
    /// `Am` without a tuning is a harp in natural minor.
    ///
    /// # Errors
    ///
    /// Returns a [`HarpError`] that names the part that was not understood, and the words allowed there.
    pub fn parse(text: &str, tunings: &[Arc<Tuning>]) -> Result<Harp, HarpError> {
        let unknown = || HarpError::UnknownKey { found: text.to_owned() };
        let (register, name) = name::register(text.trim());
        let (key, rest) = name::key(name).ok_or_else(unknown)?;
        // A minor harp is stamped "Am": without a stated tuning it is in natural minor, the usual minor tuning.
        let minor = rest.strip_prefix('m').filter(|rest| !rest.starts_with(char::is_alphabetic));
        let tuning = match minor.unwrap_or(rest).trim_start_matches([':', ' ', '-']).trim() {
            "" if minor.is_some() => Tuning::find("natural-minor", tunings)?,
            "" => Tuning::find("richter", tunings)?,
            // Letters that follow the key without a separator make the key unknown.
            _ if rest.starts_with(|c: char| !": -m".contains(c)) => return Err(unknown()),
            name => Tuning::find(name, tunings)?,
        };
        if minor.is_some() && !tuning.is_minor() {
            return Err(unknown());
        }
        Ok(Harp::new(key, register, tuning))
    }

    /// Returns the key that is stamped on the cover.
    pub fn key(&self) -> PitchClass {
        self.key
    }

    /// Returns the key of first position, from which positions are counted. This key is the one stamped on the cover,
    /// except for tunings that are stamped with another position's key.
    pub fn first_position_key(&self) -> PitchClass {
        self.root.class()
    }

    /// Returns the register.
    pub fn register(&self) -> Register {
        self.register
    }

    /// Returns the tuning.
    pub fn tuning(&self) -> &Arc<Tuning> {
        &self.tuning
    }

    /// Returns the sounding key note.
    pub fn root(&self) -> Pitch {
        self.root
    }

    /// Returns the pitch of an unbent reed; `hole` is 1 to 10.
    pub fn reed(&self, hole: u8, breath: Breath) -> Option<Pitch> {
        self.pitch(Action { hole, breath, bend: Bend::None })
    }

    /// Returns the pitch of an action, or `None` if this harp cannot sound it.
    pub fn pitch(&self, action: Action) -> Option<Pitch> {
        self.actions.iter().find(|(_, known)| *known == action).map(|&(pitch, _)| pitch)
    }

    /// Returns every action with its pitch, from the lowest pitch up.
    pub fn actions(&self) -> &[(Pitch, Action)] {
        &self.actions
    }

    /// Returns every action with its pitch and traits, from the lowest pitch up.
    pub fn ways(&self) -> impl Iterator<Item = (Pitch, Action, Traits)> {
        self.actions.iter().zip(&self.traits).map(|(&(pitch, action), &traits)| (pitch, action, traits))
    }

    /// Returns the least technique that sounds a pitch; `None` if no technique does.
    pub fn technique_for(&self, pitch: Pitch) -> Option<Technique> {
        self.techniques[usize::from(pitch.midi())]
    }

    /// Returns every way to sound a pitch, the easiest kind first (natural notes, bends, overbends).
    pub fn actions_for(&self, pitch: Pitch) -> impl Iterator<Item = Action> {
        let start = self.actions.partition_point(|&(known, _)| known < pitch);
        self.actions[start..].iter().take_while(move |&&(known, _)| known == pitch).map(|&(_, action)| action)
    }
}

impl Traits {
    fn new(all: &[(Pitch, Action)], pitch: Pitch, action: Action) -> Traits {
        let sounds = |wanted: Action| all.iter().find(|(_, known)| *known == wanted).map(|&(pitch, _)| pitch);
        let natural = |breath| Action { breath, bend: Bend::None, ..action };
        let is_drawn = |other: &Action| (other.breath, other.bend) == (Breath::Draw, Bend::None);
        let same_pitch = || all.iter().filter(|&&(other, _)| other == pitch).map(|(_, other)| other);
        Traits {
            deepest: match action.bend {
                Bend::Down(depth) => sounds(action.bent(depth.saturating_add(1))).is_none(),
                Bend::None | Bend::Over => false,
            },
            also_drawn: action == natural(Breath::Blow) && same_pitch().any(is_drawn),
            upside_down: sounds(natural(Breath::Draw)) < sounds(natural(Breath::Blow)),
        }
    }
}

/// Writes the harp's name in the form that [`Harp::parse`] reads: `C`, `low F`, `Am natural minor`.
impl fmt::Display for Harp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.register {
            Register::Low => f.write_str("low ")?,
            Register::Standard => {}
            Register::High => f.write_str("high ")?,
        }
        write!(f, "{}", self.key)?;
        if self.tuning.is_minor() {
            f.write_str("m")?;
        }
        if self.tuning.name() != "richter" {
            write!(f, " {}", self.tuning.title())?;
        }
        Ok(())
    }
}

/// The reason why a harp's name was not understood.
#[derive(Clone, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum HarpError {
    /// The key is not one of the twelve.
    UnknownKey {
        /// The text.
        found: String,
    },
    /// The tuning is neither built in nor given by the user.
    UnknownTuning {
        /// The text.
        found: String,
        /// The names of the known tunings.
        known: Vec<String>,
    },
    /// A list of harps has an empty item, as between two commas.
    EmptyPlace,
}

impl fmt::Display for HarpError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            HarpError::UnknownKey { found } if found.trim().eq_ignore_ascii_case("H") => {
                write!(f, "`{found}` is not a harp; write B, or Bb for the German B")
            }
            HarpError::UnknownKey { found } => write!(
                f,
                "`{found}` is not a harp; write a key, such as C, Bb or F#, with low- or high- before it \
                 and :tuning after it where needed, such as low-F or A:natural-minor"
            ),
            HarpError::UnknownTuning { found, known } => {
                write!(f, "there is no tuning `{found}`; ")?;
                match near::nearest(found, known.iter().map(String::as_str)) {
                    Some(meant) => write!(f, "write {meant}"),
                    None => write!(f, "known are {}", known.join(", ")),
                }
            }
            HarpError::EmptyPlace => f.write_str(
                "the list of harps has an empty item; separate harps with a single comma, as in C,G,low-F",
            ),
        }
    }
}

impl std::error::Error for HarpError {}

#[cfg(test)]
mod tests {
    use super::*;

    fn harp(text: &str) -> Harp {
        Harp::parse(text, Tuning::built_in()).unwrap()
    }

    /// The ranges of the standard set come from MuseScore's instrument list (G, A, C, D, F; High G, Low D); all other
    /// ranges follow by the same rule.
    #[test]
    fn harps_start_where_the_trade_says() {
        let roots = ["G", "A", "C", "D", "F", "F#", "high-G", "low-D", "low F"];
        let midi = roots.map(|name| harp(name).root().midi());
        assert_eq!(midi, [55, 57, 60, 62, 65, 66, 67, 50, 53]);
    }

    #[test]
    fn a_natural_minor_harp_is_stamped_with_its_second_position_key() {
        let gm = harp("Gm:natural-minor");
        assert_eq!(gm, harp("G:natural-minor"));
        assert_eq!(gm.first_position_key(), PitchClass::new(0));
        assert_eq!(gm.root().midi(), 60);
        assert_eq!(gm.to_string(), "Gm natural minor");
    }

    #[test]
    fn every_harp_reads_back_from_its_own_name() {
        for tuning in Tuning::built_in() {
            for register in [Register::Low, Register::Standard, Register::High] {
                for key in PitchClass::all() {
                    let made = Harp::new(key, register, tuning.clone());
                    let minor = if tuning.is_minor() { "m" } else { "" };
                    let register = match register {
                        Register::Low => "low-",
                        Register::Standard => "",
                        Register::High => "high-",
                    };
                    assert_eq!(harp(&format!("{register}{key}{minor}:{}", tuning.name())), made);
                }
            }
        }
    }

    #[test]
    fn only_the_bend_at_the_stop_is_the_deepest() {
        let c = harp("C");
        let is_deepest = |action| c.ways().any(|way| way.1 == action && way.2.deepest);
        let draw_3 = [1, 2, 3].map(|depth| is_deepest(Action::draw(3).bent(depth)));
        assert_eq!(draw_3, [false, false, true]);
        assert!(!is_deepest(Action::draw(3)) && !is_deepest(Action::blow(6).over()));
    }

    #[test]
    fn what_is_not_a_harp_is_said() {
        let unknown = Harp::parse("H", Tuning::built_in()).unwrap_err().to_string();
        assert!(unknown.starts_with("`H` is not a harp"), "{unknown}");
        let unknown = Harp::parse("C:blues", Tuning::built_in()).unwrap_err().to_string();
        assert!(unknown.contains("no tuning `blues`; known are richter, "), "{unknown}");
        assert!(Harp::parse("Am:richter", Tuning::built_in()).is_err(), "Am is no Richter harp");
        for text in ["lowé", "", "low", "é♭", "C;G", "banana", "L", "Lb", "highhigh-C"] {
            assert!(Harp::parse(text, Tuning::built_in()).is_err(), "{text}");
        }
    }

    #[test]
    fn a_harp_has_as_many_names_as_players_give_it() {
        for (typed, right) in [
            ("F low", "low-F"),
            ("lowF", "low-F"),
            ("LF", "low-F"),
            ("HG", "high-G"),
            ("B flat", "Bb"),
            ("Bflat", "Bb"),
            ("B♭", "Bb"),
            ("F sharp", "F#"),
            ("Gm", "Gm:natural-minor"),
            ("G natural minor", "Gm:natural-minor"),
            ("gm harmonic minor", "Gm:harmonic-minor"),
            ("Gm:NaturalMinor", "Gm:natural-minor"),
            ("C country", "C:country"),
            ("low Bb paddy richter", "low-Bb:paddy-richter"),
        ] {
            assert_eq!(harp(typed), harp(right), "{typed}");
        }
    }
}
