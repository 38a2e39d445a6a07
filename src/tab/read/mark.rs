//! Interprets one word of tab in a given style.

use super::{Hint, Style, line::LOST};
use crate::harp::{Action, Bend, Breath, HOLES};

/// A note read from a word; its breath may still be unknown.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Draft {
    pub(super) hole: u8,
    /// The breath, if the text states it.
    pub(super) breath: Option<Breath>,
    pub(super) bend: Bend,
    /// Whether the sign of the breath belongs to the tab's style.
    pub(super) own: bool,
    /// Whether a sign next to the hole was lost from the text.
    pub(super) lost: bool,
}

impl Draft {
    pub(super) fn action(self) -> Action {
        Action { hole: self.hole, breath: self.breath.unwrap_or(Breath::Blow), bend: self.bend }
    }
}

/// The meaning of a word.
pub(super) enum Meaning {
    /// One note, or several notes typed without a space.
    Notes(Vec<Draft>),
    /// Several holes at once; the draft is the highest.
    Chord(Draft),
    Unknown(Hint),
}

/// The deepest bend that is read, in semitones; no built-in tuning has a deeper one.
pub(super) const DEEPEST: u8 = 11;

/// Interprets a word of tab in a style.
pub(super) fn meaning(text: &str, style: Style) -> Meaning {
    let mut word = Word {
        signs: text.chars().collect(),
        at: 0,
        style,
        tied: false,
        rising: false,
        runs: 0,
        dashes: 0,
        lost: false,
    };
    let mut drafts: Vec<Draft> = Vec::new();
    // The run of holes that share a sign, as in `-44`, if the run is the whole word.
    let mut shared = None;
    while word.at < word.signs.len() {
        match word.holes(drafts.is_empty()) {
            Ok(more) => {
                shared = more.last().copied().filter(|_| drafts.is_empty() && more.len() > 1);
                // In a longer word a sign applies only to the next hole: `-44-5` is read as -4 4 -5.
                let own = Draft { breath: None, own: true, ..more[0] };
                let rest = more[1..].iter().map(|draft| Draft { bend: draft.bend, hole: draft.hole, ..own });
                drafts.extend(more[..1].iter().copied().chain(rest));
            }
            Err(hint) => return Meaning::Unknown(hint),
        }
    }
    // Rising holes within a longer word are notes played in turn.
    word.tied |= word.rising && word.runs == 1;
    if let Some(Draft { breath, own, .. }) = shared.filter(|_| word.runs == 1) {
        drafts.iter_mut().for_each(|draft| (draft.breath, draft.own) = (breath, own));
    }
    drafts.iter_mut().for_each(|draft| draft.lost = word.lost);
    let (Some(&first), Some(&last)) = (drafts.first(), drafts.last()) else {
        return Meaning::Unknown(Hint::Any);
    };
    // In a split, the tongue blocks at least two holes between the two that sound.
    let split = word.dashes == 1 && drafts.len() == 2 && first.hole + 3 <= last.hole;
    if word.tied || split {
        let top = drafts.iter().copied().max_by_key(|draft| draft.hole).unwrap_or(last);
        // Holes joined to the first have the breath of the first; the dash in `1-4` is not a draw sign.
        let breath = if split { first.breath } else { first.breath.or(top.breath) };
        return Meaning::Chord(Draft { breath, own: true, ..top });
    }
    Meaning::Notes(drafts)
}

/// The state of reading a word sign by sign.
struct Word {
    signs: Vec<char>,
    at: usize,
    style: Style,
    /// Whether holes are joined, as in `1/4`.
    tied: bool,
    /// Whether a run of digits rises, as in `234`, and the number of runs.
    rising: bool,
    runs: u32,
    /// The number of dashes that join holes, as in `1-4`.
    dashes: u32,
    /// Whether the word contains [`LOST`], the stand-in for a lost sign.
    lost: bool,
}

/// The meaning of the signs around a hole.
struct Said {
    breath: Option<Breath>,
    /// Whether the sign of the breath belongs to the tab's style.
    own: bool,
    over: bool,
    /// The depth of a bend: the sum of `depth` in semitones and `whole_steps` in whole steps.
    depth: u8,
    whole_steps: u8,
}

impl Word {
    /// Reads a hole with its signs, or several holes that share them.
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
        self.rising |= holes.len() > 1 && holes.is_sorted_by(|a, b| a < b);
        self.runs += 1;
        // A bend belongs to the last hole.
        let last = holes.len() - 1;
        let draft = |(index, hole)| {
            let bend = if index == last { bend } else { Bend::None };
            Draft { hole, breath: said.breath, bend, own: said.own, lost: false }
        };
        Ok(holes.into_iter().enumerate().map(draft).collect())
    }

    /// Reads the signs before a hole; `first` is true before the first hole of the word.
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
            LOST => {
                self.lost = true;
                (None, true, 1)
            }
            'b' | 'B' | 'd' | 'D' if first => (letter(sign), has_letters(self.style), 1),
            _ => (None, true, 0),
        };
        self.at += signs;
        Said { breath, own, over: signs == 2, depth: 0, whole_steps: 0 }
    }

    /// Reads the signs after a hole that belong to it.
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
                        // `7OD` states the hole, the breath and the overbend, even in a style that uses signs.
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
                // In `6OBB` the last letter states the breath, as in the style `rows`; the letter before it belongs to
                // the overblow.
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
                LOST => self.lost = true,
                // These signs hold a note or mark a tremolo.
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

/// Whether a letter gives the breath in a style.
fn has_letters(style: Style) -> bool {
    matches!(style, Style::Letters | Style::Rows)
}

/// Whether a letter for the breath still follows this hole, so that a `b` before that letter is a bend.
fn names_breath(rest: &[char]) -> bool {
    rest.iter().take_while(|c| !c.is_ascii_digit()).any(|c| matches!(c, 'B' | 'D' | 'd'))
}

/// Returns the whole steps of a bend that a small figure states.
fn small(c: char) -> Option<u8> {
    const SMALL: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];
    SMALL.iter().position(|&figure| figure == c).map(|figure| figure as u8)
}

/// Returns the depth of a bend, given only its marks.
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

/// Splits a run of digits into holes: a single hole, several rising holes, as in `234`, or several in turn, as in
/// `4433`.
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
