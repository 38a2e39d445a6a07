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
    let signs: Vec<char> = text.chars().collect();
    let mut drafts: Vec<Draft> = Vec::new();
    // Whether the holes are tied together as in `1/4`, and by dashes as in `1-4`.
    let (mut tied, mut dashes) = (false, 0);
    let mut at = 0;
    while at < signs.len() {
        let first = drafts.is_empty();
        let (mut breath, mut own) = (None, true);
        let mut over = false;
        match signs[at] {
            '-' => {
                (breath, own) = (Some(Breath::Draw), matches!(style, Style::Signed | Style::Plus));
                dashes += u32::from(!first);
                at += 1;
            }
            '+' => {
                (breath, own) = (Some(Breath::Blow), matches!(style, Style::Signed | Style::Plus));
                tied |= !first && style != Style::Plus;
                at += 1;
            }
            '/' if !first => {
                tied = true;
                at += 1;
            }
            '↑' | '↓' => {
                let way = if signs[at] == '↑' { Breath::Blow } else { Breath::Draw };
                (breath, own) = (Some(way), style == Style::Arrows);
                at += 1;
            }
            'o' | 'O' if matches!(signs.get(at + 1), Some('b' | 'B' | 'd' | 'D')) => {
                over = true;
                breath = letter(signs[at + 1]);
                at += 2;
            }
            'b' | 'B' | 'd' | 'D' if first => {
                (breath, own) = (letter(signs[at]), has_letters(style));
                at += 1;
            }
            _ => {}
        }
        let digits: String = signs[at..].iter().take_while(|c| c.is_ascii_digit()).collect();
        at += digits.len();
        let holes = match holes(&digits) {
            Ok(holes) => holes,
            Err(hint) => return Meaning::Unknown(hint),
        };
        let mut bend = if over { Bend::Over } else { Bend::None };
        let mut depth = 0_u8;
        let mut whole_steps = 0_u8;
        while let Some(&sign) = signs.get(at) {
            let next = signs.get(at + 1).copied();
            let next_is_hole = next.is_some_and(|c| c.is_ascii_digit());
            match sign {
                '\'' | '*' => depth = depth.saturating_add(1),
                '"' => depth = depth.saturating_add(2),
                '½' => depth = depth.saturating_add(1),
                _ if small(sign).is_some() => {
                    whole_steps = whole_steps.saturating_mul(10).saturating_add(small(sign).unwrap_or(0));
                }
                '/' if next_is_hole => break,
                '/' => depth = depth.saturating_add(1),
                'o' | 'O' => {
                    bend = Bend::Over;
                    if let Some(way) = next.and_then(letter) {
                        // `7OD` says it all, also in a style that has signs.
                        breath = breath.or(Some(way));
                        at += 1;
                    }
                }
                '↑' | '↓' | 'v' | 'V' if breath.is_none() && !next_is_hole => {
                    let way = if sign == '↑' { Breath::Blow } else { Breath::Draw };
                    (breath, own) = (Some(way), style == Style::Arrows);
                }
                'B' | 'D' | 'd' if breath.is_none() => {
                    (breath, own) = (letter(sign), has_letters(style));
                }
                // `6OBB`: the row's letter after that of the overblow.
                'B' | 'D' if bend == Bend::Over && breath == letter(sign) => {}
                'b' if breath.is_none() && style == Style::Letters && !names_breath(&signs[at + 1..]) => {
                    breath = letter(sign);
                }
                'b' => depth = depth.saturating_add(1),
                '-' | '+' if next_is_hole => break,
                '↑' | '↓' if next_is_hole && breath.is_none() => break,
                '-' | '+'
                    if breath.is_none() && next.is_none() && signs.get(at.wrapping_sub(1)) != Some(&'-') =>
                {
                    let way = if sign == '+' { Breath::Blow } else { Breath::Draw };
                    (breath, own) = (Some(way), false);
                }
                // Held, or with a tremble.
                '~' | '_' | '.' => {}
                '-' if next == Some('-') || signs.get(at.wrapping_sub(1)) == Some(&'-') => {}
                '<' | 'S' => return Meaning::Unknown(Hint::Slide),
                c if c.is_ascii_digit() => break,
                _ => return Meaning::Unknown(Hint::Any),
            }
            at += 1;
        }
        let depth = depth.saturating_add(whole_steps.saturating_mul(2));
        if depth > 0 {
            if bend == Bend::Over || depth > DEEPEST {
                return Meaning::Unknown(Hint::Bend);
            }
            bend = Bend::Down(depth);
        }
        let several = holes.len() > 1 && holes.is_sorted_by(|a, b| a < b);
        tied |= several;
        // A bend is that of the last hole.
        let last = holes.len() - 1;
        drafts.extend(holes.into_iter().enumerate().map(|(index, hole)| {
            let bend = if index == last { bend } else { Bend::None };
            Draft { hole, breath, bend, own }
        }));
    }
    // Holes tied to the first have its breath.
    let (Some(&first), Some(&last)) = (drafts.first(), drafts.last()) else {
        return Meaning::Unknown(Hint::Any);
    };
    // The tongue blocks two holes or more between those that sound.
    let split = dashes == 1 && drafts.len() == 2 && first.hole + 3 <= last.hole;
    if tied || split {
        let top = drafts.iter().copied().max_by_key(|draft| draft.hole).unwrap_or(last);
        // The dash of `1-4` is no sign.
        let breath = if split { first.breath } else { first.breath.or(top.breath) };
        return Meaning::Chord(Draft { breath, own: true, ..top });
    }
    Meaning::Notes(drafts)
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
