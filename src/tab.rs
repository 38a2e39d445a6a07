//! Tab: an action as a few characters, in every convention of the trade, written and read back.
//!
//! None of the conventions is a standard (common practice, no source), some contradict each other, and several of
//! their marks are ambiguous. So a [`Notation`] is chosen for a whole tab, and every tab carries its legend.
//!
//! | style | blow 4 | draw 4 | bent by one and three semitones | overblow 6 | overdraw 7 |
//! |---|---|---|---|---|---|
//! | signed | `4` | `-4` | `-4'`, `-3'''` | `6o` | `-7o` |
//! | plus | `+4` | `-4` | `-4'`, `-3'''` | `+6o` | `-7o` |
//! | arrows | `4↑` | `4↓` | `4↓'`, `3↓'''` | `6↑o` | `7↓o` |
//! | letters | `4B` | `4D` | `4D'`, `3D'''` | `6Bo` | `7Do` |
//! | parentheses | `4` | `(4)` | `(4')`, `(3''')` | `6o` | `(7o)` |
//!
//! The bend mark is `'`, `/` or `b`.

pub mod read;

use crate::harp::{Action, Bend, Breath, HOLES};

/// How tab is written.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Notation {
    /// How blow and draw are told apart.
    pub style: Style,
    /// What one semitone of a bend looks like.
    pub bend_mark: BendMark,
}

/// How blow and draw are told apart.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Style {
    /// `4` and `-4`.
    #[default]
    Signed,
    /// `+4` and `-4`.
    Plus,
    /// `4↑` and `4↓`: blow goes up, as most books have it; some older ones have it the other way round.
    Arrows,
    /// `4B` and `4D`.
    Letters,
    /// `4` and `(4)`.
    Parentheses,
}

impl Style {
    /// All styles.
    pub const ALL: [Style; 5] =
        [Style::Signed, Style::Plus, Style::Arrows, Style::Letters, Style::Parentheses];
}

/// The mark for one semitone of a bend.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum BendMark {
    /// `'`
    #[default]
    Quote,
    /// `/`
    Slash,
    /// `b`
    Flat,
}

impl BendMark {
    /// All marks.
    pub const ALL: [BendMark; 3] = [BendMark::Quote, BendMark::Slash, BendMark::Flat];

    /// The mark itself.
    pub fn char(self) -> char {
        match self {
            BendMark::Quote => '\'',
            BendMark::Slash => '/',
            BendMark::Flat => 'b',
        }
    }
}

/// The mark of an overblow or overdraw.
const OVER: char = 'o';

impl Notation {
    /// Writes an action.
    ///
    /// ```
    /// use breathline::{harp::Action, tab::{BendMark, Notation, Style}};
    /// let whole_step = Action::draw(3).bent(2);
    /// assert_eq!(Notation::default().write(whole_step), "-3''");
    /// let letters = Notation { style: Style::Letters, bend_mark: BendMark::Flat };
    /// assert_eq!(letters.write(whole_step), "3Dbb");
    /// ```
    pub fn write(self, action: Action) -> String {
        let marks: String = match action.bend {
            Bend::None => String::new(),
            Bend::Down(semitones) => {
                std::iter::repeat_n(self.bend_mark.char(), usize::from(semitones)).collect()
            }
            Bend::Over => OVER.to_string(),
        };
        let (before, between, after) = self.breath_signs(action.breath);
        format!("{before}{}{between}{marks}{after}", action.hole)
    }

    /// Reads back one token of this notation; `None` if it is not one. Whether the harp can do it is another question.
    pub fn read(self, token: &str) -> Option<Action> {
        // Longer signs first, since the blow note of some styles has none.
        let breaths = [Breath::Draw, Breath::Blow];
        breaths.into_iter().find_map(|breath| {
            let (before, between, after) = self.breath_signs(breath);
            let rest = token.strip_prefix(before)?.strip_suffix(after)?;
            let digits = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit()).len();
            let (hole, rest) = rest.split_at(digits);
            let hole = hole.parse().ok().filter(|hole| (1..=HOLES).contains(hole))?;
            let marks = rest.strip_prefix(between)?;
            let bend = if marks.is_empty() {
                Bend::None
            } else if marks.strip_prefix(OVER) == Some("") {
                Bend::Over
            } else if marks.chars().all(|mark| mark == self.bend_mark.char()) {
                Bend::Down(u8::try_from(marks.chars().count()).ok()?)
            } else {
                return None;
            };
            Some(Action { hole, breath, bend })
        })
    }

    /// What stands before the hole, between hole and bend marks, and after all.
    fn breath_signs(self, breath: Breath) -> (&'static str, &'static str, &'static str) {
        match (self.style, breath) {
            (Style::Signed | Style::Parentheses, Breath::Blow) => ("", "", ""),
            (Style::Signed | Style::Plus, Breath::Draw) => ("-", "", ""),
            (Style::Plus, Breath::Blow) => ("+", "", ""),
            (Style::Arrows, Breath::Blow) => ("", "↑", ""),
            (Style::Arrows, Breath::Draw) => ("", "↓", ""),
            (Style::Letters, Breath::Blow) => ("", "B", ""),
            (Style::Letters, Breath::Draw) => ("", "D", ""),
            (Style::Parentheses, Breath::Draw) => ("(", "", ")"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::harp::{Harp, Tuning};

    #[test]
    fn every_action_of_every_tuning_reads_back_in_every_notation() {
        for tuning in Tuning::built_in() {
            let harp = Harp::standard_set(tuning).remove(0);
            for style in Style::ALL {
                for bend_mark in BendMark::ALL {
                    let notation = Notation { style, bend_mark };
                    for &(_, action) in harp.actions() {
                        let token = notation.write(action);
                        assert_eq!(notation.read(&token), Some(action), "{notation:?} {token}");
                    }
                }
            }
        }
    }

    #[test]
    fn what_is_not_tab_is_not_read() {
        for token in ["", "-", "0", "11", "-4''o", "4 ", "(4", "4)", "--4", "4b", "x"] {
            assert_eq!(Notation::default().read(token), None, "{token:?}");
        }
    }
}
