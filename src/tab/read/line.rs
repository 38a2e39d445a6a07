//! Splits a text into lines and pieces: replaces special signs by plain ones, records columns, and decides which lines
//! are tab.

use super::{Spot, Style};
use crate::harp::Breath;

/// A line, split into pieces.
#[derive(Clone, Debug, Default)]
pub(super) struct TextLine {
    pub(super) number: u32,
    pub(super) tokens: Vec<Token>,
    /// The number of circled holes.
    circled: usize,
}

/// A piece of a line.
#[derive(Clone, Debug)]
pub(super) struct Token {
    pub(super) kind: TokenKind,
    /// The text in plain signs; for a group, the text inside the brackets.
    pub(super) text: String,
    pub(super) column: u32,
    /// The column after the token.
    pub(super) end: u32,
    /// Whether the token touches the previous one.
    pub(super) attached: bool,
}

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum TokenKind {
    /// `|`, `|:`, `:|`, …
    Bar,
    /// The content of round brackets.
    Group,
    /// The content of square brackets.
    Aside,
    /// A bracket without its partner.
    Open,
    /// Any other text up to a space.
    Word,
}

/// Splits the text into lines without comments; also returns whether the text is a page that this crate wrote.
pub(super) fn lines(text: &str) -> (Vec<TextLine>, bool) {
    let text = text.replace("\r\n", "\n").replace('\r', "\n");
    let all: Vec<&str> = text.split('\n').collect();
    let page = own_page(&all);
    let inside = |index: usize| page.as_ref().is_none_or(|page| page.contains(&index));
    let numbered = all.iter().enumerate().filter(|&(index, _)| inside(index));
    let lines = numbered.map(|(index, line)| TextLine {
        number: index as u32 + 1,
        tokens: tokens(line),
        circled: line.chars().filter(|&c| circled(c).is_some()).count(),
    });
    let mut lines: Vec<TextLine> = lines.collect();
    if page.is_none() {
        in_square_brackets(&mut lines);
        lines.iter_mut().for_each(|line| in_words(&mut line.tokens));
    }
    if page.is_some() {
        // On our own page every line of tab has a bar line or continues a bar, and the breath letters may follow in the
        // line under it. The lines above it contain marks and chords, some of which could be read as holes.
        let mut after_tab = false;
        lines.retain(|line| {
            let tab = has_bar(line) || line.tokens.last().is_some_and(|last| last.text == "...");
            std::mem::replace(&mut after_tab, tab) || tab
        });
    }
    (lines, page.is_some())
}

/// Turns square brackets into round ones if several of them enclose a single hole: `4 [4] 5 [5] [3']`.
fn in_square_brackets(lines: &mut [TextLine]) {
    const SEVERAL: usize = 3;
    let is_hole = |token: &&mut Token| {
        let marks = token.text.trim_start_matches(|c: char| c.is_ascii_digit());
        token.kind == TokenKind::Aside
            && marks.len() < token.text.len()
            && marks.chars().all(|c| c == 'o' || BEND_MARKS.contains(c))
    };
    let holes: Vec<&mut Token> =
        lines.iter_mut().flat_map(|line| &mut line.tokens).filter(|token| is_hole(token)).collect();
    if holes.len() >= SEVERAL {
        holes.into_iter().for_each(|token| token.kind = TokenKind::Group);
    }
}

/// Turns words for the breath into letters: `4 blow 5 draw`, `draw 5`, and `i5 o4` for in and out.
fn in_words(tokens: &mut Vec<Token>) {
    let breath = |token: &Token| match token.text.to_ascii_lowercase().as_str() {
        "blow" => Some('B'),
        "draw" => Some('D'),
        _ => None,
    };
    for token in tokens.iter_mut() {
        let letter = match token.text.chars().next() {
            Some('i' | 'I') => 'D',
            Some('o' | 'O') => 'B',
            _ => continue,
        };
        if is_number_text(&token.text[1..]) {
            token.text = format!("{}{letter}", &token.text[1..]);
        }
    }
    let named = |at: usize, tokens: &[Token]| {
        Some((breath(tokens.get(at)?)?, tokens.get(at + 1).filter(|next| is_number(next))?.text.clone()))
    };
    // In `draw 5 blow 4` or `5 draw 4 blow`, the place of the first such word in the line shows whether the breath
    // comes before or after the hole.
    let before = tokens.iter().position(|token| breath(token).is_some());
    let leads = before.is_some_and(|at| at == 0 || !is_number(&tokens[at - 1]));
    let mut at = 0;
    while at + 1 < tokens.len() {
        let found = if leads {
            named(at, tokens)
        } else {
            breath(&tokens[at + 1])
                .filter(|_| is_number(&tokens[at]))
                .map(|letter| (letter, tokens[at].text.clone()))
        };
        if let Some((letter, hole)) = found {
            let last = tokens.remove(at + 1);
            (tokens[at].text, tokens[at].end) = (format!("{hole}{letter}"), last.end);
        }
        at += 1;
    }
}

/// Finds the lines of tab in a page that this crate wrote.
fn own_page(lines: &[&str]) -> Option<std::ops::Range<usize>> {
    let start = lines.iter().position(|line| line.starts_with("Tab for the "))? + 1;
    let end = lines[start..].iter().position(|line| line.starts_with("How to read it: "))?;
    Some(start..start + end)
}

/// Replaces the many signs of word processors, phones and other keyboards by plain ones; returns each sign with its
/// column.
fn plain(line: &str) -> Vec<(char, u32)> {
    let mut out = Vec::with_capacity(line.len());
    for (column, c) in (1..).zip(line.chars()) {
        let signs: &str = match c {
            '\u{feff}' | '\u{200b}'..='\u{200d}' | '\u{2060}' | '\u{fe0e}' | '\u{fe0f}' | '\u{ad}' => {
                continue;
            }
            '‐' | '‑' | '‒' | '–' | '—' | '―' | '−' | '﹣' | '➖' | '⁃' => "-",
            '➕' => "+",
            '’' | '‘' | '‛' | '′' | '´' | '`' | 'ʼ' | 'ˈ' => "'",
            '“' | '”' | '„' | '″' | 'ʺ' | '˝' => "\"",
            '‴' => "'''",
            '↑' | '⬆' | '⇑' | '⇧' | '▲' | '△' | '⭡' | '^' => "↑",
            '↓' | '⬇' | '⇓' | '⇩' | '▼' | '▽' | '⭣' => "↓",
            '°' | 'º' | '˚' => "o",
            '♭' => "b",
            '⁄' | '∕' => "/",
            '×' | '✕' => "x",
            '‖' | '∥' => "||",
            '¦' | '│' | '┃' => "|",
            '…' => "...",
            // Programs show these signs for a character that their font lacks; word processors' arrows have codes of
            // their own in the private range.
            '□' | '▯' | '\u{fffd}' | '\u{e000}'..='\u{f8ff}' => "□",
            '?' if out
                .last()
                .is_some_and(|&(before, at): &(char, u32)| before.is_ascii_digit() && at + 1 == column) =>
            {
                "□"
            }
            _ => {
                match (circled(c), c) {
                    (Some(hole), _) => {
                        out.extend(format!("({hole})").chars().map(|sign| (sign, column)));
                    }
                    // Full-width forms lie at a fixed distance from ASCII (Unicode, block FF00).
                    (None, '！'..='～') => {
                        let ascii = char::from_u32(c as u32 - 0xFEE0).unwrap_or(c);
                        out.push((if ascii == '^' { '↑' } else { ascii }, column));
                    }
                    (None, c) if c.is_whitespace() || c.is_control() => out.push((' ', column)),
                    (None, c) => out.push((c, column)),
                }
                continue;
            }
        };
        out.extend(signs.chars().map(|sign| (sign, column)));
    }
    out
}

/// Returns the hole of a circled number, black or white.
fn circled(c: char) -> Option<u32> {
    const ONES: [char; 4] = ['①', '❶', '➀', '➊'];
    let one = ONES.into_iter().find(|&one| (one..).take(10).any(|number| number == c))?;
    Some(c as u32 - one as u32 + 1)
}

/// Splits a line into pieces, without its comment.
fn tokens(line: &str) -> Vec<Token> {
    let signs = plain(line);
    let at = |index: usize| signs.get(index).map_or(' ', |&(c, _)| c);
    let column = |index: usize| {
        signs.get(index).or(signs.last()).map_or(1, |&(_, column)| column + u32::from(index >= signs.len()))
    };
    let mut tokens: Vec<Token> = Vec::new();
    let mut index = 0;
    // The index after the previous token.
    let mut before = usize::MAX;
    // Without these flags, a line of opening brackets would be searched to its end from every bracket.
    let mut closed = [true; 2];
    while index < signs.len() {
        let c = at(index);
        if c == ' ' {
            index += 1;
            continue;
        }
        let first = tokens.is_empty();
        let alone = first || at(index.wrapping_sub(1)) == ' ';
        let comment = match c {
            '#' => alone,
            ';' | '%' => first,
            '/' => at(index + 1) == '/' && alone && (first || at(index + 2) == ' '),
            _ => false,
        };
        if comment {
            break;
        }
        let start = index;
        let (kind, text): (TokenKind, String) = match c {
            ',' | ';' => {
                index += 1;
                (TokenKind::Word, c.to_string())
            }
            _ if is_bar(&at, index) => {
                while matches!(at(index), '|' | ':' | ']') {
                    index += 1;
                }
                (TokenKind::Bar, signs[start..index].iter().map(|&(c, _)| c).collect())
            }
            '(' | '[' => {
                let (close, kind) = if c == '(' { (')', TokenKind::Group) } else { (']', TokenKind::Aside) };
                let which = usize::from(c == '[');
                let inside = closed[which].then(|| (index + 1..signs.len()).find(|&end| at(end) == close));
                match inside.flatten() {
                    Some(end) => {
                        index = end + 1;
                        (kind, signs[start + 1..end].iter().map(|&(c, _)| c).collect())
                    }
                    None => {
                        closed[which] = false;
                        index += 1;
                        (TokenKind::Open, c.to_string())
                    }
                }
            }
            ')' | ']' => {
                index += 1;
                (TokenKind::Open, c.to_string())
            }
            _ => {
                while index < signs.len()
                    && !matches!(at(index), ' ' | '(' | ')' | '[' | ']' | ',' | ';')
                    && !is_bar(&at, index)
                {
                    index += 1;
                }
                (TokenKind::Word, signs[start..index].iter().map(|&(c, _)| c).collect())
            }
        };
        tokens.push(Token {
            kind,
            text,
            column: column(start),
            end: column(index.saturating_sub(1)) + 1,
            attached: before == start,
        });
        before = index;
    }
    tokens
}

/// Whether a bar line begins here: `|`, `:|` or `::|`.
fn is_bar(at: &impl Fn(usize) -> char, index: usize) -> bool {
    at(index) == '|'
        || at(index) == ':' && (at(index + 1) == '|' || at(index + 1) == ':' && at(index + 2) == '|')
}

/// The stand-in for a sign that was lost from the text.
pub(super) const LOST: char = '□';

/// The marks that may be part of a bend.
pub(super) const BEND_MARKS: &str = "'\"/*b½⁰¹²³⁴⁵⁶⁷⁸⁹";

/// Whether a word is the mark of a bend or overblow, without its hole.
pub(super) fn is_bend(text: &str) -> bool {
    text.chars().all(|c| "oOBD".contains(c) || BEND_MARKS.contains(c))
}

/// Whether a word consists of marks of tab that include a hole.
pub(super) fn looks_like_tab(text: &str) -> bool {
    let marks = |c: char| c.is_ascii_digit() || "+-↑↓oOdDBvV~_.<□".contains(c) || BEND_MARKS.contains(c);
    let digit = text.contains(|c: char| c.is_ascii_digit());
    // `4th` is a word, and `1.` is a label.
    let rest = text.trim_start_matches(|c: char| c.is_ascii_digit());
    let label = rest.starts_with(['.', ':', ')']) && rest[1..].chars().all(|c| c == '~' || c == '*');
    digit && !label && text.chars().all(marks)
}

/// Whether a word is the name of a pitch: `F#5`, `Bb4`.
pub(super) fn is_note_name(text: &str) -> bool {
    let rest = text.strip_prefix(|c: char| ('A'..='G').contains(&c)).unwrap_or_default();
    let octave = rest.trim_start_matches(['#', 'b']);
    !octave.is_empty() && octave.len() <= 2 && octave.chars().all(|c| c.is_ascii_digit())
}

/// Whether a word sounds no new note, because it holds the last note, or is a rest or a breath.
pub(super) fn is_filler(text: &str) -> bool {
    let time = text.chars().all(|c| "-_.~,;=>*".contains(c)) && text != "-" && text != "*";
    time || ["rest", "hold", "r", "~"].contains(&text.to_ascii_lowercase().as_str())
}

/// Reads `x2`, `2x` or `repeat`.
pub(super) fn times(text: &str) -> Option<u8> {
    let text = text.trim().to_ascii_lowercase();
    let number = text.strip_prefix('x').or_else(|| text.strip_suffix('x')).map(str::trim);
    match number {
        Some(number) => number.parse().ok().filter(|times| (2..=9).contains(times)),
        None => (text == "repeat").then_some(2),
    }
}

/// Whether a line is tab: it has more marks of tab than words, and is neither a line of chord names nor a time
/// signature.
pub(super) fn is_tab(line: &[Token]) -> bool {
    let (mut marks, mut words) = (0, 0);
    for token in line.iter().filter(|token| matches!(token.kind, TokenKind::Word | TokenKind::Group)) {
        for word in token.text.split(' ').filter(|word| !word.is_empty()) {
            if looks_like_tab(word) {
                marks += 1;
            } else if token.kind == TokenKind::Word && !is_bend(word) {
                let counts = word.len() > 1 && word.contains(char::is_alphanumeric);
                words += u32::from(counts && !is_filler(word) && times(word).is_none());
            }
        }
    }
    if is_chords(line) {
        return false;
    }
    // A time signature alone is not tab.
    if let [only] = line
        && let Some((over, under)) = only.text.split_once('/')
        && !over.is_empty()
        && over.chars().all(|c| c.is_ascii_digit())
        && ["2", "4", "8", "16"].contains(&under)
    {
        return false;
    }
    marks > words
}

/// Whether a line has only chord names, at least one of which cannot be tab: `D7` alone is a hole with its letter.
fn is_chords(line: &[Token]) -> bool {
    let mut names = line.iter().filter(|token| token.kind != TokenKind::Bar);
    names.clone().all(|token| token.kind != TokenKind::Open && is_chord(&token.text))
        && names.any(|token| !token.text.trim_start_matches('x').starts_with(['B', 'D']))
}

/// Whether a word is a chord such as `G`, `F#m7` or `D/F#`, or a chord crossed out, as this crate writes chords that a
/// harp lacks.
fn is_chord(text: &str) -> bool {
    const AFTER_ROOT: [&str; 9] = ["maj", "min", "dim", "aug", "sus", "add", "m", "M", "/"];
    let root = |text: &str| text.starts_with(|c| ('A'..='G').contains(&c));
    let mut rest = text.strip_prefix('x').unwrap_or(text);
    if !root(rest) {
        return false;
    }
    rest = &rest[1..];
    while let Some(next) = rest.chars().next() {
        let word = AFTER_ROOT.iter().find_map(|word| rest.strip_prefix(word));
        rest = match word {
            Some(after) if root(after) => &after[1..],
            Some(after) => after,
            None if next.is_ascii_digit() || "#b+-°øΔ".contains(next) => &rest[next.len_utf8()..],
            None => return false,
        };
    }
    true
}

/// Returns the number of tokens before the tab in a line such as `Verse 1: 4 5`.
pub(super) fn label(line: &[Token]) -> usize {
    let colon = line.iter().position(|token| {
        token.kind == TokenKind::Word
            && token.text.ends_with(':')
            && token.text.contains(char::is_alphanumeric)
    });
    if let Some(colon) =
        colon.filter(|&colon| line[..colon].iter().all(|token| token.kind == TokenKind::Word))
    {
        return colon + 1;
    }
    match line {
        [first, ..] if is_ordinal(first) => 1,
        [number, close, ..] if is_number(number) && close.kind == TokenKind::Open && close.text == ")" => 2,
        _ => 0,
    }
}

pub(super) fn is_ordinal(token: &Token) -> bool {
    let number = token.text.strip_suffix('.').unwrap_or_default();
    token.kind == TokenKind::Word && !number.is_empty() && number.chars().all(|c| c.is_ascii_digit())
}

fn is_number(token: &Token) -> bool {
    token.kind == TokenKind::Word && is_number_text(&token.text)
}

fn is_number_text(text: &str) -> bool {
    !text.is_empty() && text.chars().all(|c| c.is_ascii_digit())
}

/// Finds the style whose marks are most frequent; among equals, signed comes before arrows, letters and parentheses.
pub(super) fn detect(lines: &[TextLine]) -> Style {
    let (mut plus, mut signed, mut arrows, mut letters, mut brackets) = (0, 0, 0, 0, 0);
    let circled: usize = lines.iter().map(|line| line.circled).sum();
    for line in lines.iter().filter(|line| is_tab(&line.tokens)) {
        for token in &line.tokens {
            let text = &token.text;
            let hole = |text: &str| text.contains(|c: char| c.is_ascii_digit());
            match token.kind {
                TokenKind::Group => {
                    let single = !text.trim().contains(' ') && !text.contains(['-', '+', '↑', '↓', 'D', 'd']);
                    brackets += u32::from(single && looks_like_tab(text));
                }
                TokenKind::Word if hole(text) || ["↑", "↓"].contains(&text.as_str()) => {
                    if text.contains(['↑', '↓', 'v', 'V']) {
                        arrows += 1;
                    } else if text.starts_with('-') {
                        signed += 1;
                    } else if text.starts_with('+') {
                        plus += 1;
                    } else if says_letter(text) {
                        letters += 1;
                    }
                }
                TokenKind::Word if text == "-" => signed += 1,
                _ => {}
            }
        }
    }
    let rows = lines.windows(2).any(|pair| breath_row(&pair[0], &pair[1], Numbers::Aligned).is_some());
    let most = (signed + plus).max(arrows).max(letters).max(brackets);
    match most {
        0 if rows => Style::Rows,
        0 => Style::Signed,
        most if most == signed + plus && plus > 0 => Style::Plus,
        most if most == signed + plus => Style::Signed,
        most if most == arrows => Style::Arrows,
        most if most == letters => Style::Letters,
        most if circled * 2 > most as usize => Style::Circled,
        _ => Style::Parentheses,
    }
}

/// Whether a letter next to a hole gives its breath: `4D`, `4d` and `4B` do, but not `4b`, `6OB` or `7od`.
fn says_letter(text: &str) -> bool {
    let chars: Vec<char> = text.chars().collect();
    let digit = |c: Option<&char>| c.is_some_and(char::is_ascii_digit);
    (0..chars.len()).any(|index| match chars[index] {
        'B' | 'D' | 'd' => {
            let after = index.checked_sub(1).and_then(|before| chars.get(before));
            digit(after) || index == 0 && digit(chars.get(1))
        }
        _ => false,
    })
}

/// The bar numbers at the beginnings of tab lines.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Numbers {
    /// The lines have no bar numbers.
    None,
    /// Each line begins with a bar number before a bar line.
    BeforeBars,
    /// The bar numbers end at column 3, as this crate writes them; lines without a number continue a bar.
    Aligned,
}

/// The kind of numbering, and a number before a bar line that could also be a note.
pub(super) type Numbering = (Numbers, Option<(Spot, String)>);

/// Returns the number at the beginning of a line, if it can be a bar number, and whether it ends at column 3.
fn bar_number(line: &TextLine) -> Option<(u32, bool)> {
    let (first, second) = (line.tokens.first()?, line.tokens.get(1)?);
    let number = first.text.parse().ok().filter(|_| is_number(first))?;
    let aligned = first.end == 4 && second.column >= 6;
    (second.kind == TokenKind::Bar || aligned).then_some((number, aligned))
}

/// Whether a line begins with its bar number.
pub(super) fn is_numbered(line: &TextLine, numbers: Numbers) -> bool {
    bar_number(line).is_some_and(|(_, aligned)| match numbers {
        Numbers::None => false,
        Numbers::BeforeBars => true,
        Numbers::Aligned => aligned,
    })
}

pub(super) fn numbering(lines: &[TextLine], own_page: bool) -> Numbering {
    let with_bars = || lines.iter().filter(|line| is_tab(&line.tokens) && has_bar(line));
    let found: Vec<(u32, bool)> = with_bars().filter_map(bar_number).collect();
    let aligned: Vec<u32> = found.iter().filter(|(_, aligned)| *aligned).map(|&(number, _)| number).collect();
    if own_page {
        // A text editor may have changed the columns.
        let spoilt = aligned.is_empty() && !found.is_empty();
        return (if spoilt { Numbers::BeforeBars } else { Numbers::Aligned }, None);
    }
    // A bar that is split at a repeat appears twice with the same number.
    if aligned.len() > 1 && aligned.is_sorted() || found.len() == 1 && aligned.len() == 1 {
        return (Numbers::Aligned, None);
    }
    if found.len() < with_bars().count() || !found.is_sorted_by(|a, b| a.0 < b.0) {
        return (Numbers::None, None);
    }
    match found.as_slice() {
        [] => (Numbers::None, None),
        [(1, _)] => {
            let first = with_bars().find_map(|line| {
                let token = line.tokens.first()?;
                Some((Spot { line: line.number, column: token.column }, token.text.clone()))
            });
            (Numbers::BeforeBars, first)
        }
        [_] => (Numbers::None, None),
        _ => (Numbers::BeforeBars, None),
    }
}

fn has_bar(line: &TextLine) -> bool {
    line.tokens.iter().any(|token| token.kind == TokenKind::Bar)
}

/// Reads a row of `B` and `D` under a row of holes without signs: one letter for each hole.
pub(super) fn breath_row(holes: &TextLine, letters: &TextLine, numbers: Numbers) -> Option<Vec<Breath>> {
    let mut count = 0;
    for token in &holes.tokens[usize::from(is_numbered(holes, numbers))..] {
        match token.kind {
            TokenKind::Bar | TokenKind::Aside => {}
            TokenKind::Word if is_bare(&token.text) => count += 1,
            TokenKind::Word if is_filler(&token.text) => {}
            TokenKind::Word | TokenKind::Group | TokenKind::Open => return None,
        }
    }
    let mut breaths = Vec::new();
    for token in letters.tokens.iter().filter(|token| token.kind != TokenKind::Bar) {
        for c in token.text.chars() {
            breaths.push(match c {
                'B' | 'b' | '↑' => Breath::Blow,
                'D' | 'd' | '↓' => Breath::Draw,
                _ => return None,
            });
        }
    }
    (count > 0 && breaths.len() == count).then_some(breaths)
}

/// Returns the number of holes and of letters, if a row of `B` and `D` under a row of holes without signs does not have
/// one letter for each hole.
pub(super) fn uneven_row(holes: &TextLine, letters: &TextLine) -> Option<(usize, usize)> {
    let notes = |token: &&Token| !matches!(token.kind, TokenKind::Bar | TokenKind::Aside);
    let bare = holes.tokens.iter().filter(notes);
    let count = bare.clone().count();
    let signs = || letters.tokens.iter().filter(notes).flat_map(|token| token.text.chars());
    let all = bare.clone().all(|token| token.kind == TokenKind::Word && is_bare(&token.text))
        && signs().all(|c| "BDbd↑↓".contains(c));
    let letters = signs().count();
    (all && count > 2 && letters > 1 && letters != count).then_some((count, letters))
}

/// Whether a hole has no sign of its breath, apart from the letter of an overbend.
pub(super) fn is_bare(text: &str) -> bool {
    let without = text.replace("OB", "o").replace("OD", "o");
    text.starts_with(|c: char| c.is_ascii_digit())
        && looks_like_tab(text)
        && !without.contains(['↑', '↓', 'B', 'D', 'd', '-', '+'])
}
