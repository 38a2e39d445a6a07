//! Players: their technique and their prices, as data.

use std::sync::LazyLock;

use serde::Deserialize;

use super::{edits::EditWeights, effort::Weights};
use crate::{
    data::{self, DataError},
    harp::Technique,
};

/// A player.
///
/// A player file has `name`, `bends_known` (`none`, `draw`, `all` or `over`), `tempo_percent` (100 if it is missing),
/// every field of [`Weights`] below `[weights]`, and every field of [`EditWeights`] below `[edits]`. Start from a copy
/// of `src/search/players/improver.toml`.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Player {
    /// The name shown in the answer.
    pub name: String,
    /// The player's technique.
    pub technique: Technique,
    /// The player's prices for each kind of difficulty.
    pub weights: Weights,
    /// The prices of changes to the tune, if the player asks for changes.
    pub edits: EditWeights,
    /// The tempo at which the player plays a tune whose file states none, in per cent of the tune's usual tempo
    /// ([`crate::melody::tempo`]).
    pub tempo_percent: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    name: String,
    bends_known: String,
    #[serde(default = "whole")]
    tempo_percent: u32,
    weights: Weights,
    edits: EditWeights,
}

/// The default `tempo_percent`: the usual tempo.
fn whole() -> u32 {
    100
}

/// The built-in players, the default one first.
const BUILT_IN: [&str; 3] = [
    include_str!("players/improver.toml"),
    include_str!("players/beginner.toml"),
    include_str!("players/advanced.toml"),
];

impl Player {
    /// Returns the built-in players: improver, beginner and advanced.
    pub fn built_in() -> &'static [Player] {
        static PLAYERS: LazyLock<Vec<Player>> =
            LazyLock::new(|| BUILT_IN.iter().filter_map(|text| Player::parse(text).ok()).collect());
        &PLAYERS
    }

    /// Returns the built-in player with this name.
    pub fn find(name: &str) -> Option<&'static Player> {
        Player::built_in().iter().find(|player| player.name.eq_ignore_ascii_case(name))
    }

    /// Reads a player file.
    ///
    /// # Errors
    ///
    /// The error names the line or the field, and says what is expected there.
    pub fn parse(text: &str) -> Result<Player, DataError> {
        let file: File = data::read(text)?;
        let technique = Technique::parse(&file.bends_known).ok_or_else(|| DataError {
            line: None,
            what: format!("bends_known is `{}`; write none, draw, all or over", file.bends_known),
        })?;
        data::check_heights(text, Weights::HIGHEST)?;
        file.weights.check()?;
        if !(10..=200).contains(&file.tempo_percent) {
            let what = format!("tempo_percent is {}; write 10 to 200, as in 60", file.tempo_percent);
            return Err(DataError { line: None, what });
        }
        let File { name, weights, edits, tempo_percent, .. } = file;
        Ok(Player { name, technique, weights, edits, tempo_percent })
    }
}

/// The default player is the built-in improver.
impl Default for Player {
    fn default() -> Player {
        // A test reads every embedded file, so the first one exists.
        Player::built_in()[0].clone()
    }
}

/// The weights of the default player, an improver.
impl Default for Weights {
    fn default() -> Weights {
        Player::default().weights
    }
}

/// The prices of the default player.
impl Default for EditWeights {
    fn default() -> EditWeights {
        Player::default().edits
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_player_reads() {
        let names: Vec<&str> = Player::built_in().iter().map(|player| player.name.as_str()).collect();
        assert_eq!(names, ["improver", "beginner", "advanced"]);
        assert_eq!(Player::default().technique, Technique::All);
    }

    #[test]
    fn a_faulty_file_is_told_the_field_and_what_should_stand_there() {
        let with =
            |from: &str, to: &str| Player::parse(&BUILT_IN[0].replacen(from, to, 1)).unwrap_err().to_string();
        let line = |field: &str| BUILT_IN[0].lines().position(|line| line.starts_with(field)).unwrap() + 1;
        let place = format!("line {}", line("half_step"));
        assert!(with("half_step = 120", "half_step = -3").contains(&place));
        assert!(with("half_step", "halfstep").contains("`halfstep` has no meaning here"));
        assert_eq!(
            with("octave = 200", "octave = 20000"),
            format!("line {}: edits.octave is 20000; write a number up to 10000", line("octave ="))
        );
        assert_eq!(
            with("gasp = 300", "gasp = 30000"),
            format!("line {}: weights.lungs.gasp is 30000; write a number up to 10000", line("gasp ="))
        );
        assert_eq!(
            with("easy = [30, 70]", "easy = [70, 30]"),
            "lungs.easy is [70, 30]; write two percentages, the lower one first, each range inside the next wider one"
        );
        assert_eq!(with("\"all\"", "\"some\""), "bends_known is `some`; write none, draw, all or over");
    }
}
