//! Reads tab that people typed: in any convention, mixed with words, bar lines, comments and repeats.
//!
//! Input: the text of a file. Output: the notes in order, each with its line and column, and an [`Oddity`] for each
//! irregularity. No text that may be tab is dropped silently: it is read, or reported with its place and what to write
//! instead.
//!
//! **Lines.** A line with more marks of tab than words is tab. Any other line is a heading or a verse and is skipped;
//! so is a line of chord names such as `G D7 G`, unless all of them could be holes with their letters. Text after
//! ` #`, ` // ` or a leading `;` or `%` is a comment, and so is text in `[ ]` or, if it consists of words, in `( )`. A
//! label at the beginning of a line (`Verse 1:`, `2.`, a bar number before its bar line) is not a note. A page that
//! [`crate::pages`] wrote is read from its heading "Tab for the …" onwards.
//!
//! **Conventions.** [`Style`] names them; if the caller gives no style, the most frequent marks determine it. All of
//! these marks are understood in any style, unless they are ambiguous (common practice, no source):
//!
//! | what | marks |
//! |---|---|
//! | blow | `4`, `+4`, `4↑`, `↑4`, `4^`, `4B`, `B4`, `4 blow`, `blow 4`, `o4` |
//! | draw | `-4`, `4↓`, `↓4`, `4v`, `4D`, `D4`, `(4)`, `④`, `4 draw`, `draw 4`, `i4`, several `[4]`; also a row of `B` and `D` under a row of holes |
//! | a bend | `'`, `/`, `*`, `b` for each half step after the hole and its breath, `"` for two; `½`, `¹`, `¹½` in whole steps |
//! | an overblow, an overdraw | `6o`, `6OB`, `6°`, `-7o`, `7OD` |
//! | holes together | `234`, `(2 3 4)`, `1/4`, `1-4`: the highest hole is kept |
//! | bars, repeats | `|`, `||`, `|: … :|`, `|1. … :|2.`, `x2` after a line |
//! | time | `.`, `_`, `~`, `--` hold a note, `,` is a breath: the reader skips all of them |
//!
//! `3445-44` without spaces is read note by note, with a warning; a minus sign in it applies only to the next hole. In
//! `4 - 4` the dash may be a sign or a line between the notes: [`TabText::with_lines_between`] is the other reading. A
//! sign that a program shows as `□` or `?` is lost: its hole is read without the sign, with a warning.
//!
//! `4b` is ambiguous: it is a bent note, or a blow note of a tab in small letters. It is a blow note if other notes are
//! written like `4d`.

mod line;
mod mark;
mod oddity;

use std::fmt;

use super::Style;
use crate::harp::{Action, Bend, Breath};
use line::{Numbers, TextLine, Token, TokenKind};
use mark::{DEEPEST, Draft, Meaning};
pub use oddity::{Hint, Oddity, OddityKind};

/// The length of the longest text that is read, in bytes: a thousand pages.
pub const MAX_BYTES: usize = 1 << 21;

/// The largest number of notes that are read, with repeats written out; the limit bounds the order of performance,
/// whatever the repeats say.
pub const MAX_NOTES: usize = 20_000;

/// The largest number of oddities that are kept: a file with more is not tab.
const MAX_ODDITIES: usize = 1_000;

/// A tab as it was typed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct TabText {
    /// The convention that determined the breath of each note.
    pub style: Style,
    /// The notes in the order in which they are written.
    pub notes: Vec<TypedNote>,
    /// The passages to be played more than once, in order; they do not overlap.
    pub repeats: Vec<Repeat>,
    /// The oddities, in order.
    pub oddities: Vec<Oddity>,
    /// The same text read with its dashes as lines between the notes, as in `4 - 4` or `4-4`, and not as signs; `None`
    /// if it has no such dashes.
    pub with_lines_between: Option<Box<TabText>>,
}

/// A note of a tab.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct TypedNote {
    /// The action, which may be one that no harp can sound.
    pub action: Action,
    /// The note's place in the text.
    pub at: Spot,
    /// The number of bar lines before the note.
    pub bar_lines: u32,
}

/// A place in a text, counted from 1; columns are characters.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
#[allow(missing_docs, reason = "the two names explain themselves")]
pub struct Spot {
    pub line: u32,
    pub column: u32,
}

impl fmt::Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}", self.line, self.column)
    }
}

/// Notes that are played more than once.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Repeat {
    /// The index of the first note.
    pub from: usize,
    /// The index after the last note.
    pub to: usize,
    /// The total number of times that the notes are played.
    pub times: u8,
    /// The index of the first note of the first ending, which is played the first time only.
    pub ending: Option<usize>,
}

/// The reason why a text could not be read as tab.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum TabError {
    /// The text has no notes.
    NoNotes,
    /// The text is longer than [`MAX_BYTES`].
    TooLong,
    /// The text has more than [`MAX_NOTES`] notes, with repeats written out.
    TooManyNotes,
}

impl fmt::Display for TabError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TabError::NoNotes => f.write_str(
                "there is no tab in this text; write the holes in lines, as in 4 -4 5 -5, with - before a draw \
                 note and ' after it for each half step of a bend",
            ),
            TabError::TooLong => {
                write!(f, "the text is longer than {MAX_BYTES} bytes; keep only the tab of one tune")
            }
            TabError::TooManyNotes => {
                write!(f, "the tab has more than {MAX_NOTES} notes; keep only one tune")
            }
        }
    }
}

impl std::error::Error for TabError {}

impl TabText {
    /// Returns the indices of the notes in order of performance, with repeats written out.
    pub fn performed(&self) -> Vec<usize> {
        let mut order = self.performed_up_to(MAX_NOTES);
        order.truncate(MAX_NOTES);
        order
    }

    /// Returns the indices of the notes in order of performance, but stops soon after `most` of them.
    fn performed_up_to(&self, most: usize) -> Vec<usize> {
        let mut order = Vec::with_capacity(self.notes.len());
        let mut done = 0;
        for repeat in &self.repeats {
            order.extend(done..repeat.to);
            for _ in 1..repeat.times {
                order.extend(repeat.from..repeat.ending.unwrap_or(repeat.to));
                if order.len() > most {
                    return order;
                }
            }
            done = repeat.to;
        }
        order.extend(done..self.notes.len());
        order
    }

    /// Returns the tab with blow and draw exchanged, because some older books reverse the arrows.
    pub fn turned(&self) -> TabText {
        let mut turned = self.clone();
        for note in &mut turned.notes {
            note.action.breath = opposite(note.action.breath);
        }
        turned
    }
}

/// Returns the text with a space in place of each dash that may be a line after a note: a dash right after the note, or
/// a dash between spaces. Returns `None` if the text has no such dash. Columns do not change.
fn with_lines_between(text: &str) -> Option<String> {
    let mut other = String::with_capacity(text.len());
    // Whether a note precedes, with at most spaces between, and whether it precedes directly.
    let (mut after_note, mut touches) = (false, false);
    let mut signs = text.chars().peekable();
    while let Some(c) = signs.next() {
        let next = signs.peek().copied();
        let is_dash = matches!(c, '-' | '–' | '—' | '−');
        let separates = is_dash && after_note && (touches || next.is_none_or(char::is_whitespace));
        // A dash right before a hole and not right after one, as in `4 -4`, is a sign and stays.
        other.push(if separates { ' ' } else { c });
        touches = c.is_ascii_digit() || "'’\"b/".contains(c) && touches;
        after_note = touches || after_note && c == ' ';
    }
    (other != text).then_some(other)
}

fn opposite(breath: Breath) -> Breath {
    match breath {
        Breath::Blow => Breath::Draw,
        Breath::Draw => Breath::Blow,
    }
}

/// Decodes the text of a file by its byte order mark; otherwise as UTF-8 or, if the bytes are not valid UTF-8, as
/// Windows-1252.
pub fn decode(bytes: &[u8]) -> String {
    let (encoding, skip) = encoding_rs::Encoding::for_bom(bytes).unwrap_or((encoding_rs::UTF_8, 0));
    let (text, broken) = encoding.decode_without_bom_handling(&bytes[skip..]);
    if broken && skip == 0 {
        return encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0.into_owned();
    }
    text.into_owned()
}

/// Whether the bytes of a file can be tab: they are text, but not a MIDI file, a RIFF file such as a recording, XML, a
/// zip container, a PDF or ABC.
pub fn is_text(bytes: &[u8]) -> bool {
    /// The number of bytes that are checked.
    const START: usize = 4096;
    let start = decode(&bytes[..bytes.len().min(START)]);
    let begins = start.trim_start_matches('\u{feff}').trim_start();
    let xml = begins
        .strip_prefix('<')
        .is_some_and(|rest| rest.starts_with(|c: char| c.is_alphabetic() || "?!".contains(c)));
    let known =
        xml || ["MThd", "RIFF", "PK", "%PDF", "X:", "%abc"].iter().any(|sign| begins.starts_with(sign));
    !begins.is_empty() && !known && !start.contains(|c: char| c.is_control() && !c.is_whitespace())
}

/// Reads tab in a style, or in the style that its marks suggest.
///
/// ```
/// use breathline::{harp::Action, tab::read};
/// let tab = read::read("Amazing Grace (C harp)\n\n4 –5 | -3’’ 6\n", None)?;
/// let actions: Vec<Action> = tab.notes.iter().map(|note| note.action).collect();
/// assert_eq!(actions, [Action::blow(4), Action::draw(5), Action::draw(3).bent(2), Action::blow(6)]);
/// # Ok::<(), read::TabError>(())
/// ```
///
/// # Errors
///
/// Returns a [`TabError`] if the text has no tab, or too much of it.
pub fn read(text: &str, style: Option<Style>) -> Result<TabText, TabError> {
    if text.len() > MAX_BYTES {
        return Err(TabError::TooLong);
    }
    let tab = read_as_signs(text, style)?;
    let other = with_lines_between(text).and_then(|other| read_as_signs(&other, style).ok());
    // If both readings give the same notes, the text has no dash that can be read in two ways.
    let other = other.filter(|other| other.notes != tab.notes).map(Box::new);
    Ok(TabText { with_lines_between: other, ..tab })
}

/// Reads tab in which dashes are signs.
fn read_as_signs(text: &str, style: Option<Style>) -> Result<TabText, TabError> {
    let (lines, own_page) = line::lines(text);
    let style = style.unwrap_or_else(|| line::detect(&lines));
    let (numbers, doubtful) = line::numbering(&lines, own_page);
    let mut reader = Reader::new(style);
    let mut words = lines.iter().flat_map(|line| &line.tokens).map(|token| token.text.as_str());
    reader.strokes = words.any(|word| word.len() > 1 && word.ends_with('/'));
    if let Some((at, found)) = doubtful {
        reader.odd(at, found, OddityKind::BarNumber);
    }
    let mut index = 0;
    while let Some(line) = lines.get(index) {
        let next = lines.get(index + 1);
        if let Some(letters) = next.and_then(|next| line::breath_row(line, next, numbers)) {
            // The letters are in the row below, so a `b` is a bend.
            reader.style = Style::Signed;
            reader.line(line, numbers, Some(&letters));
            reader.style = style;
            index += 2;
        } else {
            if let Some((holes, letters)) = next.and_then(|next| line::uneven_row(line, next)) {
                let row = &lines[index + 1];
                let at =
                    Spot { line: row.number, column: row.tokens.first().map_or(1, |token| token.column) };
                reader.odd(at, "", OddityKind::UnevenRow { holes, letters });
            }
            reader.line(line, numbers, None);
            index += 1;
        }
        if reader.tab.notes.len() > MAX_NOTES {
            return Err(TabError::TooManyNotes);
        }
    }
    let mut tab = reader.tab;
    if tab.notes.is_empty() {
        return Err(TabError::NoNotes);
    }
    if tab.performed_up_to(MAX_NOTES).len() > MAX_NOTES {
        return Err(TabError::TooManyNotes);
    }
    const MANY: usize = 12;
    if tab.notes.len() >= MANY && tab.notes.iter().all(|note| note.action.breath == Breath::Blow) {
        let at = tab.notes[0].at;
        tab.oddities.push(Oddity { at, found: String::new(), kind: OddityKind::AllBlow });
    }
    Ok(tab)
}

/// The state of reading a text line by line.
struct Reader {
    style: Style,
    tab: TabText,
    bar_lines: u32,
    /// The start of the next repeat: the last `|:`, or the end of the last repeat.
    repeat_from: usize,
    opened: bool,
    ending: Option<usize>,
    /// The index of the first note of the last line of tab.
    line_from: usize,
    mixed: bool,
    /// Whether strokes mark bends; if not, a separate stroke is read as the end of a phrase.
    strokes: bool,
}

impl Reader {
    fn new(style: Style) -> Reader {
        Reader {
            style,
            tab: TabText {
                style,
                notes: Vec::new(),
                repeats: Vec::new(),
                oddities: Vec::new(),
                with_lines_between: None,
            },
            bar_lines: 0,
            repeat_from: 0,
            opened: false,
            ending: None,
            line_from: 0,
            mixed: false,
            strokes: false,
        }
    }

    fn odd(&mut self, at: Spot, found: impl Into<String>, kind: OddityKind) {
        if self.tab.oddities.len() < MAX_ODDITIES {
            self.tab.oddities.push(Oddity { at, found: found.into(), kind });
        }
    }

    fn line(&mut self, line: &TextLine, numbers: Numbers, letters: Option<&[Breath]>) {
        let skip = match line::label(&line.tokens) {
            0 if line::is_numbered(line, numbers) => 1,
            skip => skip,
        };
        let tokens = &line.tokens[skip..];
        if let [only] = tokens
            && let Some(times) = line::times(&only.text)
        {
            return self.repeat(self.line_from, times);
        }
        if !line::is_tab(tokens) {
            return self.words(line);
        }
        self.line_from = self.tab.notes.len();
        let mut letters = letters.unwrap_or_default().iter();
        let mut index = 0;
        while let Some(token) = tokens.get(index) {
            index += 1;
            let at = Spot { line: line.number, column: token.column };
            match token.kind {
                TokenKind::Bar => {
                    self.bar(&token.text);
                    // A token such as `|1.` begins an ending.
                    if let Some(ending) = tokens.get(index).filter(|next| line::is_ordinal(next)) {
                        if ending.text == "1." {
                            self.ending = Some(self.tab.notes.len());
                        }
                        index += 1;
                    }
                }
                TokenKind::Aside => {
                    // The name of a missing note, which our own pages write as `[Bb5]`, is not tab.
                    let is_tab = |word: &str| line::looks_like_tab(word) && !line::is_note_name(word);
                    if token.text.split(' ').all(is_tab) {
                        self.odd(at, format!("[{}]", token.text), OddityKind::Unknown(Hint::Any));
                    }
                }
                TokenKind::Open => self.odd(at, token.text.as_str(), OddityKind::Unknown(Hint::Bracket)),
                TokenKind::Group => {
                    let behind = tokens.get(index).filter(|next| {
                        next.attached && next.kind == TokenKind::Word && line::is_bend(&next.text)
                    });
                    index += usize::from(behind.is_some());
                    self.group(token, behind.map_or("", |behind| behind.text.as_str()), None, at);
                }
                TokenKind::Word => {
                    let next = tokens.get(index);
                    let previous = index.checked_sub(2).and_then(|before| tokens.get(before));
                    let letter = if line::is_bare(&token.text) { letters.next().copied() } else { None };
                    index += self.word(token, previous, next, letter, at);
                }
            }
        }
    }

    /// Handles a line without tab: reports one of its marks of tab if the mark is unambiguous, or if the line has many.
    fn words(&mut self, line: &TextLine) {
        const MANY: usize = 3;
        let marks = line
            .tokens
            .iter()
            .filter(|token| token.kind == TokenKind::Word && line::looks_like_tab(&token.text));
        let marks: Vec<&Token> = marks.collect();
        let sure = marks.iter().find(|token| token.text.starts_with(['-', '+', '↑', '↓']));
        if let Some(token) = sure.or(marks.first().filter(|_| marks.len() >= MANY)) {
            self.odd(
                Spot { line: line.number, column: token.column },
                token.text.as_str(),
                OddityKind::InWords,
            );
        }
    }

    /// Reads a bar line and its repeat signs.
    fn bar(&mut self, text: &str) {
        self.bar_lines += 1;
        if text.starts_with(':') {
            self.repeat(self.repeat_from, 2);
        }
        if text.ends_with(':') {
            self.repeat_from = self.tab.notes.len();
            self.opened = true;
        }
    }

    fn repeat(&mut self, from: usize, times: u8) {
        let to = self.tab.notes.len();
        let before = self.tab.repeats.last().map_or(0, |repeat| repeat.to);
        let from = from.max(before);
        if from < to {
            let ending = self.ending.filter(|&ending| from < ending && ending < to);
            self.tab.repeats.push(Repeat { from, to, times, ending });
        }
        (self.repeat_from, self.opened, self.ending) = (to, false, None);
    }

    /// Reads a word of a tab line; returns how many of the following tokens it used.
    fn word(
        &mut self,
        token: &Token,
        previous: Option<&Token>,
        next: Option<&Token>,
        letter: Option<Breath>,
        at: Spot,
    ) -> usize {
        let text = token.text.as_str();
        if let Some(times) = line::times(text) {
            self.repeat(if self.opened { self.repeat_from } else { self.line_from }, times);
            return 0;
        }
        let lone_dash = |token: Option<&Token>| token.is_some_and(|token| token.text == "-");
        if ["-", "+", "↑", "↓"].contains(&text) {
            let follows = next.filter(|next| match next.kind {
                TokenKind::Word => next.text.starts_with(|c: char| c.is_ascii_digit()),
                TokenKind::Group => next.attached && text != "↑",
                _ => false,
            });
            let arrow = ["↑", "↓"].contains(&text);
            let said = |note: &TypedNote| note.at.line == at.line;
            let open = self.tab.oddities.last().is_some_and(|odd| {
                matches!(odd.kind, OddityKind::NoBreath(_))
                    && self.tab.notes.last().is_some_and(|note| said(note) && note.at == odd.at)
            });
            // An arrow after a note without an arrow belongs to that note.
            if arrow && open {
                self.tab.oddities.pop();
                if let Some(note) = self.tab.notes.last_mut() {
                    note.action.breath = if text == "↑" { Breath::Blow } else { Breath::Draw };
                    let action = note.action;
                    self.odd(at, text, OddityKind::Loose(action));
                }
                return 0;
            }
            return match follows {
                // In `4 - - 5` both dashes hold the note.
                Some(next) if text == "-" && lone_dash(previous) && next.kind == TokenKind::Word => 0,
                Some(next) if next.kind == TokenKind::Group => {
                    let breath = if text == "-" || text == "↓" { Breath::Draw } else { Breath::Blow };
                    self.group(next, "", Some(breath), at);
                    1
                }
                Some(next) => {
                    let together = format!("{text}{}", next.text);
                    let before = self.tab.notes.len();
                    self.mark(&together, None, at);
                    if let Some(note) = self.tab.notes[before..].first() {
                        let action = note.action;
                        self.odd(at, format!("{text} {}", next.text), OddityKind::Loose(action));
                    }
                    1
                }
                None if text == "-" => 0,
                None => {
                    self.odd(at, text, OddityKind::Unknown(Hint::Alone));
                    0
                }
            };
        }
        if line::is_filler(text) || text == "/" && !self.strokes {
            return 0;
        }
        let bends = text.chars().all(|c| line::BEND_MARKS.contains(c)) || text == "o";
        let breath = self.style == Style::Letters && ["B", "D", "b", "d"].contains(&text);
        if bends || breath {
            self.loose(text, previous, at);
            return 0;
        }
        self.mark(text, letter, at);
        0
    }

    /// Reads a mark separated from its note.
    fn loose(&mut self, text: &str, previous: Option<&Token>, at: Spot) {
        let on_line = |note: &&mut TypedNote| note.at.line == at.line;
        let Some(note) = self.tab.notes.last_mut().filter(on_line).filter(|_| previous.is_some()) else {
            return self.odd(at, text, OddityKind::Unknown(Hint::Alone));
        };
        match text {
            "B" | "b" if self.style == Style::Letters => note.action.breath = Breath::Blow,
            "D" | "d" if self.style == Style::Letters => note.action.breath = Breath::Draw,
            "o" => note.action.bend = Bend::Over,
            marks => {
                let old = match note.action.bend {
                    Bend::Down(depth) => depth,
                    Bend::None | Bend::Over => 0,
                };
                let depth = mark::depth(marks).saturating_add(old);
                match Some(depth).filter(|&depth| depth <= DEEPEST) {
                    Some(depth) => note.action.bend = Bend::Down(depth),
                    None => return self.odd(at, text, OddityKind::Unknown(Hint::Bend)),
                }
            }
        }
        let (action, note_at) = (note.action, note.at);
        // The separate sign supplies the missing breath, so the oddity about it is removed.
        if let Some(last) = self.tab.oddities.last()
            && last.at == note_at
            && matches!(last.kind, OddityKind::NoBreath(_))
        {
            self.tab.oddities.pop();
        }
        self.odd(at, text, OddityKind::Loose(action));
    }

    /// Whether brackets or a circle mark a draw note in this style.
    fn brackets(&self) -> bool {
        matches!(self.style, Style::Parentheses | Style::Circled)
    }

    /// Reads the content of round brackets: a draw note, a chord, a number of repeats, or words.
    fn group(&mut self, token: &Token, behind: &str, before: Option<Breath>, at: Spot) {
        let inside: Vec<&str> = token.text.split([' ', ',']).filter(|word| !word.is_empty()).collect();
        let found = format!("({}){behind}", token.text);
        if let Some(times) = line::times(&token.text) {
            return self.repeat(if self.opened { self.repeat_from } else { self.line_from }, times);
        }
        let marks = inside.iter().filter(|word| line::looks_like_tab(word)).count();
        if marks < inside.len() || inside.is_empty() {
            // Words in brackets are a comment, unless there is tab among them.
            if marks > 0 {
                self.odd(at, found, OddityKind::Unknown(Hint::Any));
            }
            return;
        }
        let mut drafts: Vec<Draft> = Vec::new();
        for (index, word) in inside.iter().enumerate() {
            let text = if index + 1 == inside.len() { format!("{word}{behind}") } else { (*word).to_owned() };
            match mark::meaning(&text, self.style) {
                Meaning::Notes(notes) => drafts.extend(notes),
                Meaning::Chord(top) => drafts.push(top),
                Meaning::Unknown(hint) => return self.odd(at, found, OddityKind::Unknown(hint)),
            }
        }
        let several = drafts.len() > 1;
        let Some(mut top) = drafts.iter().copied().max_by_key(|draft| draft.hole) else { return };
        let inner = top.breath.or_else(|| drafts.iter().find_map(|draft| draft.breath));
        let brackets = self.brackets().then_some(Breath::Draw);
        top.breath = before.or(inner).or(brackets);
        if several {
            self.push(top, at);
            self.odd(at, found, OddityKind::Chord(top.action()));
        } else if self.brackets() {
            self.push(top, at);
        } else {
            // Brackets around a note of another style may mean an optional note or a draw note.
            self.push(top, at);
            self.odd(at, found, OddityKind::Mixed(top.action()));
        }
    }

    /// Reads a word: one mark of tab, or several without a space.
    fn mark(&mut self, text: &str, letter: Option<Breath>, at: Spot) {
        match mark::meaning(text, self.style) {
            Meaning::Notes(mut notes) => {
                if let (Some(breath), [only]) = (letter, notes.as_mut_slice()) {
                    only.breath = only.breath.or(Some(breath));
                    only.own = true;
                }
                if notes.len() > 1 {
                    self.odd(at, text, OddityKind::Joined);
                }
                for note in notes {
                    self.push(note, at);
                    self.remark(note, text, at);
                }
            }
            Meaning::Chord(mut top) => {
                top.breath = top.breath.or(letter);
                self.push(top, at);
                self.odd(at, text, OddityKind::Chord(top.action()));
            }
            Meaning::Unknown(hint) => self.odd(at, text, OddityKind::Unknown(hint)),
        }
    }

    /// Reports an oddity of a note's breath, if there is one.
    fn remark(&mut self, note: Draft, text: &str, at: Spot) {
        if note.lost {
            if !self.tab.oddities.iter().any(|odd| matches!(odd.kind, OddityKind::SignLost(_))) {
                self.odd(at, text, OddityKind::SignLost(note.action()));
            }
            return;
        }
        let says = matches!(self.style, Style::Arrows | Style::Letters | Style::Rows);
        if note.breath.is_none() && says {
            self.odd(at, text, OddityKind::NoBreath(note.action()));
        } else if note.breath.is_some() && !note.own && text.ends_with('-') {
            self.odd(at, text, OddityKind::Behind(note.action()));
        } else if note.breath.is_some() && !note.own && !self.mixed {
            // One report for the whole tab is enough.
            self.mixed = true;
            self.odd(at, text, OddityKind::Mixed(note.action()));
        }
    }

    fn push(&mut self, draft: Draft, at: Spot) {
        self.tab.notes.push(TypedNote { action: draft.action(), at, bar_lines: self.bar_lines });
    }
}

#[cfg(test)]
mod tests;
