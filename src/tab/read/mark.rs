//! What one word of tab marks means in a style.

use super::{Hint, Style};
use crate::harp::{Action, Bend, Breath, HOLES};

/// A note on the way from its text.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Draft {
    pub(super) hole: u8,
    /// As far as it is said.
    pub(super) breath: Option<Breath>,
    pub(super) bend: Bend,
    /// Whether what says the breath is that of the style.
    pub(super) own: bool,
}

impl Draft {
    pub(super) fn action(self) -> Action {
        Action { hole: self.hole, breath: self.breath.unwrap_or(Breath::Blow), bend: self.bend }
    }
}

/// What a word means.
pub(super) enum Meaning {
    /// One note, or several that were typed without a space.
    Notes(Vec<Draft>),
    /// Several holes at once.
    Chord(Draft),
    Unknown(Hint),
}

/// The deepest bend that any hole of any tuning could have.
pub(super) const DEEPEST: u8 = 11;

/// What a word of tab marks means in a style.
pub(super) fn meaning(text: &str, style: Style) -> Meaning {
    let mut word = Word { signs: text.chars().collect(), at: 0, style, tied: false, dashes: 0 };
    let mut drafts: Vec<Draft> = Vec::new();
    while word.at < word.signs.len() {
        match word.holes(drafts.is_empty()) {
            Ok(more) => drafts.extend(more),
            Err(hint) => return Meaning::Unknown(hint),
        }
    }
    let (Some(&first), Some(&last)) = (drafts.first(), drafts.last()) else {
        return Meaning::Unknown(Hint::Any);
    };
    // The tongue blocks two holes or more between those that sound.
    let split = word.dashes == 1 && drafts.len() == 2 && first.hole + 3 <= last.hole;
    if word.tied || split {
        let top = drafts.iter().copied().max_by_key(|draft| draft.hole).unwrap_or(last);
        // Holes tied to the first have its breath; the dash of `1-4` is no sign.
        let breath = if split { first.breath } else { first.breath.or(top.breath) };
        return Meaning::Chord(Draft { breath, own: true, ..top });
    }
    Meaning::Notes(drafts)
}

/// A word on the way through its signs.
struct Word {
    signs: Vec<char>,
    at: usize,
    style: Style,
    /// Whether holes are tied together as in `1/4`.
    tied: bool,
    /// How many are tied by dashes as in `1-4`.
    dashes: u32,
}

/// What the signs around a hole say.
struct Said {
    breath: Option<Breath>,
    /// Whether what says the breath is that of the style.
    own: bool,
    over: bool,
    /// Semitones, and whole steps, of a bend.
    depth: u8,
    whole_steps: u8,
}

impl Word {
    /// A hole with its signs, or several that share them.
    fn holes(&mut self, first: bool) -> Result<Vec<Draft>, Hint> {
        let mut said = self.before(first);
        let digits: String = self.signs[self.at..].iter().take_while(|c| c.is_ascii_digit()).collect();
        self.at += digits.len();
        let holes = holes(&digits)?;
        self.after(&mut said)?;
        let depth = said.depth.saturating_add(said.whole_steps.saturating_mul(2));
        let bend = match (said.over, depth) {
            (false, 0) => Bend::None,
            (true, 0) => Bend::Over,
            (false, 1..=DEEPEST) => Bend::Down(depth),
            _ => return Err(Hint::Bend),
        };
        self.tied |= holes.len() > 1 && holes.is_sorted_by(|a, b| a < b);
        // A bend is that of the last hole.
        let last = holes.len() - 1;
        let draft = |(index, hole)| {
            let bend = if index == last { bend } else { Bend::None };
            Draft { hole, breath: said.breath, bend, own: said.own }
        };
        Ok(holes.into_iter().enumerate().map(draft).collect())
    }

    /// The signs before a hole, the first of the word or a later one.
    fn before(&mut self, first: bool) -> Said {
        let signed = matches!(self.style, Style::Signed | Style::Plus);
        let sign = self.signs[self.at];
        let next = self.signs.get(self.at + 1).copied();
        let (breath, own, signs) = match sign {
            '-' => {
                self.dashes += u32::from(!first);
                (Some(Breath::Draw), signed, 1)
            }
            '+' => {
                self.tied |= !first && self.style != Style::Plus;
                (Some(Breath::Blow), signed, 1)
            }
            '/' if !first => {
                self.tied = true;
                (None, true, 1)
            }
            '↑' => (Some(Breath::Blow), self.style == Style::Arrows, 1),
            '↓' => (Some(Breath::Draw), self.style == Style::Arrows, 1),
            'o' | 'O' if next.is_some_and(|next| letter(next).is_some()) => (next.and_then(letter), true, 2),
            'b' | 'B' | 'd' | 'D' if first => (letter(sign), has_letters(self.style), 1),
            _ => (None, true, 0),
        };
        self.at += signs;
        Said { breath, own, over: signs == 2, depth: 0, whole_steps: 0 }
    }

    /// The signs after a hole, as far as they are its own.
    fn after(&mut self, said: &mut Said) -> Result<(), Hint> {
        while let Some(&sign) = self.signs.get(self.at) {
            let next = self.signs.get(self.at + 1).copied();
            let next_is_hole = next.is_some_and(|c| c.is_ascii_digit());
            let after_dash = self.signs.get(self.at.wrapping_sub(1)) == Some(&'-');
            match sign {
                '\'' | '*' | '½' => said.depth = said.depth.saturating_add(1),
                '"' => said.depth = said.depth.saturating_add(2),
                _ if small(sign).is_some() => {
                    said.whole_steps =
                        said.whole_steps.saturating_mul(10).saturating_add(small(sign).unwrap_or(0));
                }
                '/' if next_is_hole => break,
                '/' => said.depth = said.depth.saturating_add(1),
                'o' | 'O' => {
                    said.over = true;
                    if let Some(way) = next.and_then(letter) {
                        // `7OD` says it all, also in a style that has signs.
                        said.breath = said.breath.or(Some(way));
                        self.at += 1;
                    }
                }
                '↑' | '↓' | 'v' | 'V' if said.breath.is_none() && !next_is_hole => {
                    let way = if sign == '↑' { Breath::Blow } else { Breath::Draw };
                    (said.breath, said.own) = (Some(way), self.style == Style::Arrows);
                }
                'B' | 'D' | 'd' if said.breath.is_none() => {
                    (said.breath, said.own) = (letter(sign), has_letters(self.style));
                }
                // `6OBB`: the row's letter after that of the overblow.
                'B' | 'D' if said.over && said.breath == letter(sign) => {}
                'b' if said.breath.is_none()
                    && self.style == Style::Letters
                    && !names_breath(&self.signs[self.at + 1..]) =>
                {
                    said.breath = letter(sign);
                }
                'b' => said.depth = said.depth.saturating_add(1),
                '-' | '+' if next_is_hole => break,
                '↑' | '↓' if next_is_hole && said.breath.is_none() => break,
                '-' | '+' if said.breath.is_none() && next.is_none() && !after_dash => {
                    let way = if sign == '+' { Breath::Blow } else { Breath::Draw };
                    (said.breath, said.own) = (Some(way), false);
                }
                // Held, or with a tremble.
                '~' | '_' | '.' => {}
                '-' if next == Some('-') || after_dash => {}
                '<' | 'S' => return Err(Hint::Slide),
                c if c.is_ascii_digit() => break,
                _ => return Err(Hint::Any),
            }
            self.at += 1;
        }
        Ok(())
    }
}

/// Whether a letter says the breath in a style.
fn has_letters(style: Style) -> bool {
    matches!(style, Style::Letters | Style::Rows)
}

/// Whether a letter that says the breath still follows for this hole, so that a `b` before it is a bend.
fn names_breath(rest: &[char]) -> bool {
    rest.iter().take_while(|c| !c.is_ascii_digit()).any(|c| matches!(c, 'B' | 'D' | 'd'))
}

/// A small figure: whole steps of a bend.
fn small(c: char) -> Option<u8> {
    const SMALL: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    SMALL.iter().position(|&figure| figure == c).map(|figure| figure as u8)
}

/// The depth of a bend of which only the marks are given.
pub(super) fn depth(marks: &str) -> u8 {
    let each = marks.chars().map(|c| match (c, small(c)) {
        (_, Some(steps)) => steps.saturating_mul(2),
        ('"', _) => 2,
        _ => 1,
    });
    each.fold(0, u8::saturating_add)
}

fn letter(c: char) -> Option<Breath> {
    match c {
        'b' | 'B' => Some(Breath::Blow),
        'd' | 'D' => Some(Breath::Draw),
        _ => None,
    }
}

/// The holes of a run of digits: one, several that rise, as in `234`, or several in a row, as in `4433`.
fn holes(digits: &str) -> Result<Vec<u8>, Hint> {
    const MOST: usize = 8;
    if digits.is_empty() {
        return Err(Hint::Any);
    }
    if digits.len() > MOST {
        return Err(Hint::Hole);
    }
    let mut holes = Vec::new();
    let mut rest = digits;
    while !rest.is_empty() {
        let take = if rest.starts_with("10") { 2 } else { 1 };
        let (hole, after) = rest.split_at(take);
        match hole.parse::<u8>() {
            Ok(hole) if (1..=HOLES).contains(&hole) => holes.push(hole),
            _ if digits.len() == 2 && !digits.starts_with('0') => return Err(Hint::Overblow),
            _ => return Err(Hint::Hole),
        }
        rest = after;
    }
    Ok(holes)
}
