//! Tunings as data: each tuning is a small TOML file of reed offsets. A user's own tuning file has the same form.

use std::sync::{Arc, LazyLock};

use serde::Deserialize;

use super::{HOLES, HarpError, Position};
use crate::data::{self, DataError};

/// The pitches of the reeds, hole by hole, relative to the key note.
///
/// A tuning file has this form:
///
/// ```toml
/// name = "richter"                 # as written in --harps C:richter
/// title = "Richter"                # as shown
/// also = ["standard"]              # other names
/// about = "the standard harp"      # one line
/// source = "where the layout is from"
/// label_position = 1               # the position whose tonic is stamped on the cover: 1 for most tunings
/// label_minor = false              # whether the key on the cover is a minor key
/// blow = [0, 4, 7, 12, 16, 19, 24, 28, 31, 36]     # semitones above the key note, holes 1 to 10
/// draw = [2, 7, 11, 14, 17, 21, 23, 26, 29, 33]
/// ```
///
/// Tunings are ordered by name first.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub struct Tuning {
    file: File,
    label_position: Position,
}

#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    name: String,
    title: String,
    #[serde(default)]
    also: Vec<String>,
    #[serde(default)]
    about: String,
    #[serde(default)]
    source: String,
    #[serde(default = "first_position")]
    label_position: u8,
    #[serde(default)]
    label_minor: bool,
    blow: Vec<i8>,
    draw: Vec<i8>,
}

fn first_position() -> u8 {
    1
}

/// The built-in files; the first is the default.
const BUILT_IN: [&str; 9] = [
    include_str!("tunings/richter.toml"),
    include_str!("tunings/paddy-richter.toml"),
    include_str!("tunings/country.toml"),
    include_str!("tunings/major-seventh.toml"),
    include_str!("tunings/natural-minor.toml"),
    include_str!("tunings/harmonic-minor.toml"),
    include_str!("tunings/solo.toml"),
    include_str!("tunings/circular.toml"),
    include_str!("tunings/diminished.toml"),
];

impl Tuning {
    /// The greatest distance between a reed and the key note, in semitones: four octaves.
    const FURTHEST: i8 = 48;

    /// Returns all built-in tunings, Richter first.
    pub fn built_in() -> &'static [Arc<Tuning>] {
        static TUNINGS: LazyLock<Vec<Arc<Tuning>>> = LazyLock::new(|| {
            BUILT_IN.iter().filter_map(|text| Tuning::parse(text).ok()).map(Arc::new).collect()
        });
        &TUNINGS
    }

    /// Returns the default tuning.
    pub fn richter() -> Arc<Tuning> {
        Tuning::built_in()[0].clone()
    }

    /// Finds the tuning with this name or alternative name; case, spaces and hyphens do not matter.
    ///
    /// # Errors
    ///
    /// Returns [`HarpError::UnknownTuning`] with the known names if no tuning matches.
    pub fn find(name: &str, among: &[Arc<Tuning>]) -> Result<Arc<Tuning>, HarpError> {
        let bare = |name: &str| name.replace(['-', '_', ' '], "").to_lowercase();
        let named = |tuning: &&Arc<Tuning>| {
            let mut names = std::iter::once(&tuning.file.name).chain(&tuning.file.also);
            names.any(|known| bare(known) == bare(name))
        };
        among.iter().find(named).cloned().ok_or_else(|| HarpError::UnknownTuning {
            found: name.to_owned(),
            known: among.iter().map(|tuning| tuning.name().to_owned()).collect(),
        })
    }

    /// Reads a tuning file.
    ///
    /// # Errors
    ///
    /// The error names the line or the field, what is wrong, and what is expected instead.
    pub fn parse(text: &str) -> Result<Tuning, DataError> {
        let file: File = data::read(text)?;
        let fault = |what: String| Err(DataError { line: None, what });
        if file.name.is_empty() || file.name.contains(|c: char| c.is_whitespace() || c == ':' || c == ',') {
            return fault(format!("the name `{}` must be one word without : and ,", file.name));
        }
        for (field, offsets) in [("blow", &file.blow), ("draw", &file.draw)] {
            if offsets.len() != usize::from(HOLES) {
                return fault(format!(
                    "{field} has {} numbers; write {HOLES}, one for each hole, in semitones above the key note",
                    offsets.len()
                ));
            }
            if let Some(far) = offsets.iter().find(|offset| offset.unsigned_abs() > Tuning::FURTHEST as u8) {
                return fault(format!(
                    "{field} has {far}, but a reed lies within {} semitones of the key note",
                    Tuning::FURTHEST
                ));
            }
        }
        let Some(label_position) = Position::new(file.label_position) else {
            return fault(format!(
                "label_position is {}; write a position from 1 to 12",
                file.label_position
            ));
        };
        Ok(Tuning { file, label_position })
    }

    /// Returns the name for the command line: one word.
    pub fn name(&self) -> &str {
        &self.file.name
    }

    /// Returns the name to show to people.
    pub fn title(&self) -> &str {
        &self.file.title
    }

    /// Returns the purpose of the tuning, in one line.
    pub fn about(&self) -> &str {
        &self.file.about
    }

    /// Returns the source of the layout.
    pub fn source(&self) -> &str {
        &self.file.source
    }

    /// Returns the position whose tonic is stamped on the cover.
    pub fn label_position(&self) -> Position {
        self.label_position
    }

    /// Whether the key on the cover is a minor key.
    pub fn is_minor(&self) -> bool {
        self.file.label_minor
    }

    /// Returns the blow and draw offsets of a hole from 1 to 10, in semitones above the key note.
    pub(super) fn reeds(&self, hole: u8) -> (i8, i8) {
        let index = usize::from(hole - 1);
        (self.file.blow[index], self.file.draw[index])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_file_is_a_tuning_with_a_source() {
        assert_eq!(Tuning::built_in().len(), BUILT_IN.len());
        for tuning in Tuning::built_in() {
            assert!(!tuning.source().is_empty(), "{}", tuning.name());
        }
        assert_eq!(Tuning::richter().name(), "richter");
    }

    #[test]
    fn a_faulty_file_is_told_where_and_what() {
        let faults = [
            ("name = \"x\"\ntitle = \"X\"\nblow = [1]\ndraw = []", "blow has 1 numbers; write 10"),
            ("name = \"x\"\ntitle = 3", "line 2: found the number 3; write a text in quotes"),
            ("name = \"a b\"\ntitle = \"X\"\nblow = []\ndraw = []", "must be one word"),
        ];
        for (text, expected) in faults {
            let error = Tuning::parse(text).unwrap_err().to_string();
            assert!(error.contains(expected), "{error}");
        }
    }
}
