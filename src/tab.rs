//! Tab: writes an action as a few characters and reads it back, in every convention of the trade.
//!
//! None of the conventions is a standard (common practice, no source); some contradict each other, and several of their
//! marks are ambiguous. So a single [`Notation`] applies to a whole tab, and every tab has a legend.
//!
//! | style | blow 4 | draw 4 | bent by one and three semitones | overblow 6 | overdraw 7 |
//! |---|---|---|---|---|---|
//! | signed | `4` | `-4` | `-4'`, `-3'''` | `6o` | `-7o` |
//! | plus | `+4` | `-4` | `-4'`, `-3'''` | `+6o` | `-7o` |
//! | arrows | `4↑` | `4↓` | `4↓'`, `3↓'''` | `6↑o` | `7↓o` |
//! | letters | `4B` | `4D` | `4D'`, `3D'''` | `6Bo` | `7Do` |
//! | parentheses | `4` | `(4)` | `(4')`, `(3''')` | `6o` | `(7o)` |
//! | circled | `4` | `④` | `④'`, `③'''` | `6o` | `⑦o` |
//! | rows | `4B` | `4D` | `4'D`, `3'''D` | `6oB` | `7oD` |
//!
//! In the style `rows` the last letter is printed in a row of its own, under the other marks. The bend mark is one `'`,
//! `/` or `b` for each semitone, or the depth in whole steps in small figures: `½`, `¹`, `¹½`. The mark of an overbend
//! is `o`, `°`, or `OB` and `OD`.

pub mod read;

use crate::harp::{Action, Bend, Breath, HOLES};

/// The convention in which a tab is written.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Notation {
    /// The signs for blow and draw.
    pub style: Style,
    /// The mark of a bend.
    pub bend_mark: BendMark,
    /// The mark of an overblow or overdraw.
    pub over_mark: OverMark,
}

/// The signs for blow and draw.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub enum Style {
    /// `4` and `-4`.
    #[default]
    Signed,
    /// `+4` and `-4`.
    Plus,
    /// `4↑` and `4↓`: an up arrow means blow, as in most books; some older books reverse the arrows.
    Arrows,
    /// `4B` and `4D`.
    Letters,
    /// `4` and `(4)`.
    Parentheses,
    /// `4` and `④`.
    Circled,
    /// `4` with a `B` or `D` in a row of its own under it. On a single line the style is `4B` and `4D`, with bend marks
    /// before the letter.
    Rows,
}

impl Style {
    /// All styles.
    pub const ALL: [Style; 7] = [
        Style::Signed,
        Style::Plus,
        Style::Arrows,
        Style::Letters,
        Style::Parentheses,
        Style::Circled,
        Style::Rows,
    ];
}

/// The mark of a bend: one sign for each semitone, or one sign for the depth.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub enum BendMark {
    /// `'`
    #[default]
    Quote,
    /// `/`
    Slash,
    /// `b`
    Flat,
    /// The depth in whole steps: `½`, `¹`, `¹½`, `²`.
    Steps,
}

impl BendMark {
    /// All marks.
    pub const ALL: [BendMark; 4] = [BendMark::Quote, BendMark::Slash, BendMark::Flat, BendMark::Steps];

    /// Returns the marks of a bend by `semitones` semitones.
    pub fn write(self, semitones: u8) -> String {
        let each = match self {
            BendMark::Quote => '\'',
            BendMark::Slash => '/',
            BendMark::Flat => 'b',
            BendMark::Steps => {
                let whole: String = match semitones / 2 {
                    0 => String::new(),
                    steps => steps.to_string().chars().map(small).collect(),
                };
                return whole + if semitones % 2 == 1 { "½" } else { "" };
            }
        };
        std::iter::repeat_n(each, usize::from(semitones)).collect()
    }
}

/// Returns a digit as a small figure.
fn small(digit: char) -> char {
    const SMALL: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    digit.to_digit(10).map_or(digit, |digit| SMALL[digit as usize])
}

/// The mark of an overblow or overdraw.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub enum OverMark {
    /// `o`
    #[default]
    Letter,
    /// `°`
    Degree,
    /// `OB` and `OD`
    Names,
}

impl OverMark {
    /// All marks.
    pub const ALL: [OverMark; 3] = [OverMark::Letter, OverMark::Degree, OverMark::Names];

    /// Returns the mark for a direction of the breath.
    pub fn write(self, breath: Breath) -> &'static str {
        match (self, breath) {
            (OverMark::Letter, _) => "o",
            (OverMark::Degree, _) => "°",
            (OverMark::Names, Breath::Blow) => "OB",
            (OverMark::Names, Breath::Draw) => "OD",
        }
    }
}

impl Notation {
    /// Returns an action as tab.
    ///
    /// ```
    /// use breathline::{harp::Action, tab::{BendMark, Notation, Style}};
    /// let whole_step = Action::draw(3).bent(2);
    /// assert_eq!(Notation::default().write(whole_step), "-3''");
    /// let letters = Notation { style: Style::Letters, bend_mark: BendMark::Flat, ..Notation::default() };
    /// assert_eq!(letters.write(whole_step), "3Dbb");
    /// ```
    pub fn write(self, action: Action) -> String {
        let (before, between, after) = self.breath_signs(action.breath);
        let mut tab = String::from(before);
        match (self.style, action.breath) {
            (Style::Circled, Breath::Draw) => tab.extend(circled(action.hole)),
            _ => tab.push_str(&action.hole.to_string()),
        }
        tab.push_str(between);
        match action.bend {
            Bend::None => {}
            Bend::Down(semitones) => tab.push_str(&self.bend_mark.write(semitones)),
            Bend::Over => tab.push_str(self.over_mark.write(action.breath)),
        }
        tab.push_str(after);
        tab
    }

    /// Returns the part of an action's tab in the first row, and the part in the row under it, if the style has a
    /// second row.
    pub fn rows(self, action: Action) -> (String, &'static str) {
        let whole = self.write(action);
        match self.style {
            Style::Rows => {
                let (.., under) = self.breath_signs(action.breath);
                (whole.strip_suffix(under).unwrap_or(&whole).to_owned(), under)
            }
            _ => (whole, ""),
        }
    }

    /// Reads one token of this notation; `None` if the text is not a token of this notation. The action may be one that
    /// no harp can sound.
    pub fn read(self, token: &str) -> Option<Action> {
        // Draw is tried first: in some styles a blow note has no sign, and would match every token.
        let breaths = [Breath::Draw, Breath::Blow];
        breaths.into_iter().find_map(|breath| {
            let (before, between, after) = self.breath_signs(breath);
            let rest = token.strip_prefix(before)?.strip_suffix(after)?;
            let (hole, rest) = match (self.style, breath) {
                (Style::Circled, Breath::Draw) => {
                    let is_here = |hole: &u8| circled(*hole).is_some_and(|sign| rest.starts_with(sign));
                    let hole = (1..=HOLES).find(is_here)?;
                    (hole, &rest[circled(hole)?.len_utf8()..])
                }
                _ => {
                    let digits = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit()).len();
                    let (hole, rest) = rest.split_at(digits);
                    (hole.parse().ok().filter(|hole| (1..=HOLES).contains(hole))?, rest)
                }
            };
            let marks = rest.strip_prefix(between)?;
            let bend = if marks.is_empty() {
                Bend::None
            } else if marks == self.over_mark.write(breath) {
                Bend::Over
            } else {
                // No bend is deeper than the range of MIDI.
                Bend::Down((1..=127).find(|&semitones| self.bend_mark.write(semitones) == marks)?)
            };
            Some(Action { hole, breath, bend })
        })
    }

    /// Returns the signs before the hole, between hole and bend marks, and after all other marks.
    fn breath_signs(self, breath: Breath) -> (&'static str, &'static str, &'static str) {
        match (self.style, breath) {
            (Style::Signed | Style::Parentheses | Style::Circled, Breath::Blow) => ("", "", ""),
            (Style::Signed | Style::Plus, Breath::Draw) => ("-", "", ""),
            (Style::Plus, Breath::Blow) => ("+", "", ""),
            (Style::Arrows, Breath::Blow) => ("", "↑", ""),
            (Style::Arrows, Breath::Draw) => ("", "↓", ""),
            (Style::Letters, Breath::Blow) => ("", "B", ""),
            (Style::Letters, Breath::Draw) => ("", "D", ""),
            (Style::Parentheses, Breath::Draw) => ("(", "", ")"),
            (Style::Circled, Breath::Draw) => ("", "", ""),
            (Style::Rows, Breath::Blow) => ("", "", "B"),
            (Style::Rows, Breath::Draw) => ("", "", "D"),
        }
    }
}

/// Returns the number of a hole in a circle, such as `④`.
fn circled(hole: u8) -> Option<char> {
    hole.checked_sub(1)
        .filter(|hole| *hole < HOLES)
        .and_then(|hole| char::from_u32('①' as u32 + u32::from(hole)))
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
                for (bend_mark, over_mark) in marks() {
                    let notation = Notation { style, bend_mark, over_mark };
                    for &(_, action) in harp.actions() {
                        let token = notation.write(action);
                        assert_eq!(notation.read(&token), Some(action), "{notation:?} {token}");
                        let (above, under) = notation.rows(action);
                        assert_eq!(above + under, token);
                    }
                }
            }
        }
    }

    fn marks() -> impl Iterator<Item = (BendMark, OverMark)> {
        BendMark::ALL.into_iter().flat_map(|bend| OverMark::ALL.map(|over| (bend, over)))
    }

    #[test]
    fn every_depth_reads_back_and_no_two_actions_look_alike() {
        for style in Style::ALL {
            for (bend_mark, over_mark) in marks() {
                let notation = Notation { style, bend_mark, over_mark };
                let mut seen = std::collections::BTreeSet::new();
                for hole in 1..=HOLES {
                    for natural in [Action::blow(hole), Action::draw(hole)] {
                        let bent = (1..=20).map(|depth| natural.bent(depth));
                        for action in bent.chain([natural, natural.over()]) {
                            let token = notation.write(action);
                            assert_eq!(notation.read(&token), Some(action), "{notation:?} {token}");
                            assert!(seen.insert(token));
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn the_conventions_look_as_the_trade_writes_them() {
        let written = |style, bend_mark, over_mark| {
            let notation = Notation { style, bend_mark, over_mark };
            let over = [Action::blow(6).over(), Action::draw(7).over()];
            [Action::blow(4), Action::draw(3).bent(3), over[0], over[1]].map(|action| notation.write(action))
        };
        use {BendMark as B, OverMark as O, Style as S};
        assert_eq!(written(S::Circled, B::Quote, O::Degree), ["4", "③'''", "6°", "⑦°"]);
        assert_eq!(written(S::Signed, B::Steps, O::Names), ["4", "-3¹½", "6OB", "-7OD"]);
        assert_eq!(written(S::Rows, B::Flat, O::Letter), ["4B", "3bbbD", "6oB", "7oD"]);
        let rows = Notation { style: S::Rows, ..Notation::default() }.rows(Action::draw(3).bent(1));
        assert_eq!(rows, ("3'".to_owned(), "D"));
    }

    #[test]
    fn what_is_not_tab_is_not_read() {
        for token in ["", "-", "0", "11", "-4''o", "4 ", "(4", "4)", "--4", "4b", "x"] {
            assert_eq!(Notation::default().read(token), None, "{token:?}");
        }
    }
}
