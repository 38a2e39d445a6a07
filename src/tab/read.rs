//! Reading tab that people typed: any convention, among words, bar lines, comments and repeats.
//!
//! In: the text of a file. Out: the holes in order, each with its line and column, and what was odd about them. Nothing
//! that may be tab is dropped unsaid: it is read, or told as an [`Oddity`] with its place and what to write instead.
//!
//! **Lines.** A line with more marks of tab than words is tab; any other is a heading or a verse and passed over, and so is a
//! line of chord names such as `G D7 G`, unless all of them could be holes with their letters. What
//! follows ` #`, ` // ` or a leading `;` or `%` is a comment, and so is what stands in `[ ]` or, if it is words, in
//! `( )`. A label at the beginning (`Verse 1:`, `2.`, a number of a bar before its bar line) is no note. A page that
//! [`crate::pages`] wrote is read from its heading "Tab for the …" on.
//!
//! **Conventions.** [`Style`] names them; without one, the marks that occur most decide. All of these are understood,
//! in whatever style the rest is written, as long as they can mean only one thing (common practice, no source):
//!
//! | what | marks |
//! |---|---|
//! | blow | `4`, `+4`, `4↑`, `↑4`, `4^`, `4B`, `B4` |
//! | draw | `-4`, `4↓`, `↓4`, `4v`, `4D`, `D4`, `(4)`, `④`; also a row of `B` and `D` under a row of holes |
//! | a bend | `'`, `/`, `*`, `b` for each half step after the hole and its breath, `"` for two; `½`, `¹`, `¹½` in whole steps |
//! | an overblow, an overdraw | `6o`, `6OB`, `6°`, `-7o`, `7OD` |
//! | together | `234`, `(2 3 4)`, `1/4`, `1-4`: the highest hole is kept |
//! | bars, repeats | `|`, `||`, `|: … :|`, `|1. … :|2.`, `x2` after a line |
//! | time | `.`, `_`, `~`, `--` hold a note, `,` is a breath: both are passed over |
//!
//! `4b` is ambiguous: a bent note, or the blow note of a tab in small letters. It is blow where other notes are `4d`.

mod line;
mod mark;

use std::fmt;

use super::Style;
use crate::harp::{Action, Bend, Breath};
use line::{Numbers, TextLine, Token, TokenKind};
use mark::{DEEPEST, Draft, Meaning};

/// The longest text that is read, in bytes: a thousand pages.
pub const MAX_BYTES: usize = 1 << 21;

/// The most notes that are read, repeats written out; with it the [`TabText`] stays small whatever the repeats say.
pub const MAX_NOTES: usize = 20_000;

/// The most oddities that are kept: after so many the file is something else.
const MAX_ODDITIES: usize = 1_000;

/// Tab as it was typed.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct TabText {
    /// The convention in which the breath was read.
    pub style: Style,
    /// The notes in the order in which they stand.
    pub notes: Vec<TypedNote>,
    /// What is to be played more than once, in order; they do not overlap.
    pub repeats: Vec<Repeat>,
    /// What was odd, in order.
    pub oddities: Vec<Oddity>,
}

/// A note of a tab.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct TypedNote {
    /// What to do. Whether a harp can is another question.
    pub action: Action,
    /// Where it stands.
    pub at: Spot,
    /// How many bar lines stand before it.
    pub bar_lines: u32,
}

/// A place in a text, counted from 1; columns are characters.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
#[allow(missing_docs, reason = "the two name themselves")]
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
    /// How often in all.
    pub times: u8,
    /// Where the first ending begins, which is played the first time only.
    pub ending: Option<usize>,
}

/// Something odd in a tab.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Oddity {
    /// Where.
    pub at: Spot,
    /// What stands there.
    pub found: String,
    /// What is odd about it.
    pub kind: OddityKind,
}

/// What can be odd about a mark of tab.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum OddityKind {
    /// It means nothing here; no note is read.
    Unknown(Hint),
    /// Several holes at once: the highest is kept.
    Chord(Action),
    /// Notes without a space between them.
    Joined,
    /// A sign that stands apart from its hole.
    Loose(Action),
    /// A note without the breath sign that the others have; it is read as blow.
    NoBreath(Action),
    /// A mark of another convention than the rest.
    Mixed(Action),
    /// A sign after the hole that belongs before it.
    Behind(Action),
    /// A line of words that has marks of tab in it, which are passed over.
    InWords,
    /// A number before a bar line, which is taken for the number of the bar.
    BarNumber,
    /// Not a single draw note in the whole tab.
    AllBlow,
}

/// What to write instead of a mark that is not understood.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum Hint {
    /// Holes go from 1 to 10.
    Hole,
    /// An overblow is meant, most likely.
    Overblow,
    /// The slide of a chromatic harmonica.
    Slide,
    /// A bracket without its partner.
    Bracket,
    /// A bend deeper than any.
    Bend,
    /// A mark that stands alone.
    Alone,
    /// Anything else.
    Any,
}

impl fmt::Display for Oddity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Oddity { at, found, kind } = self;
        write!(f, "{at}: ")?;
        match kind {
            OddityKind::Unknown(hint) => write!(f, "`{found}` is not understood and left out; {hint}"),
            OddityKind::Chord(top) => {
                write!(
                    f,
                    "`{found}` sounds several holes at once; only the highest is kept, {}",
                    spoken(*top)
                )
            }
            OddityKind::Joined => {
                write!(f, "`{found}` has no space between its notes; it is read as one after the other")
            }
            OddityKind::Loose(action) => {
                write!(f, "`{found}` stands apart; it is read with its hole as {}", spoken(*action))
            }
            OddityKind::NoBreath(action) => {
                write!(f, "`{found}` does not say blow or draw; it is read as {}", spoken(*action))
            }
            OddityKind::Mixed(action) => {
                write!(f, "`{found}` is written otherwise than the rest; it is read as {}", spoken(*action))
            }
            OddityKind::Behind(action) => {
                write!(f, "`{found}` has its sign behind the hole; it is read as {}", spoken(*action))
            }
            OddityKind::InWords => write!(
                f,
                "the line looks like words, so `{found}` in it is no note; give the tab a line of its own"
            ),
            OddityKind::BarNumber => write!(
                f,
                "`{found}` before the bar line is taken for the number of the bar; write a bar line before it if \
                 it is a note"
            ),
            OddityKind::AllBlow => {
                f.write_str("there is no draw note in the whole tab; were its signs lost on the way here?")
            }
        }
    }
}

impl fmt::Display for Hint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Hint::Hole => "holes go from 1 to 10, with a space between two notes",
            Hint::Overblow => "holes go from 1 to 10; an overblow is written with the letter, as in 6o",
            Hint::Slide => "that is the slide of a chromatic harmonica; this reads tab for ten holes",
            Hint::Bracket => "close the bracket in the same line",
            Hint::Bend => "write one mark for each half step of a bend, at most three, as in -3'''",
            Hint::Alone => "write a sign right before its hole and a bend right after it, as in -3'",
            Hint::Any => "write a note as 4, -4, -3' or 6o, and put # before a comment",
        })
    }
}

/// "draw 3 bent by 2".
fn spoken(action: Action) -> String {
    let Action { hole, breath, bend } = action;
    match bend {
        Bend::None => format!("{breath} {hole}"),
        Bend::Down(1) => format!("{breath} {hole} bent by a half step"),
        Bend::Down(depth) => format!("{breath} {hole} bent by {depth} half steps"),
        Bend::Over => format!("over{breath} {hole}"),
    }
}

/// Why a text is no tab at all.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
#[non_exhaustive]
pub enum TabError {
    /// No note was found in it.
    NoNotes,
    /// Longer than [`MAX_BYTES`].
    TooLong,
    /// More than [`MAX_NOTES`].
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
    /// The notes in order of performance: the indices of what stands there, repeats written out.
    pub fn performed(&self) -> Vec<usize> {
        let mut order = self.performed_up_to(MAX_NOTES);
        order.truncate(MAX_NOTES);
        order
    }

    /// The same, broken off soon after so many.
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

    /// The same with blow and draw exchanged: some older books have their arrows the other way round.
    pub fn turned(&self) -> TabText {
        let mut turned = self.clone();
        for note in &mut turned.notes {
            note.action.breath = opposite(note.action.breath);
        }
        turned
    }
}

fn opposite(breath: Breath) -> Breath {
    match breath {
        Breath::Blow => Breath::Draw,
        Breath::Draw => Breath::Blow,
    }
}

/// The text of a file: UTF-8, or UTF-16 where the file says so, else the old Western encoding.
pub fn decode(bytes: &[u8]) -> String {
    let (encoding, skip) = encoding_rs::Encoding::for_bom(bytes).unwrap_or((encoding_rs::UTF_8, 0));
    let (text, broken) = encoding.decode_without_bom_handling(&bytes[skip..]);
    if broken && skip == 0 {
        return encoding_rs::WINDOWS_1252.decode_without_bom_handling(bytes).0.into_owned();
    }
    text.into_owned()
}

/// Whether the bytes of a file can be tab: text, and neither a MIDI file nor anything in XML, a zip container or ABC.
pub fn is_text(bytes: &[u8]) -> bool {
    /// So much of it is looked at.
    const START: usize = 4096;
    let start = decode(&bytes[..bytes.len().min(START)]);
    let begins = start.trim_start_matches('\u{feff}').trim_start();
    let known = ["MThd", "RIFF", "PK", "<", "%PDF", "X:", "%abc"].iter().any(|sign| begins.starts_with(sign));
    !begins.is_empty() && !known && !start.contains(|c: char| c.is_control() && !c.is_whitespace())
}

/// Reads tab in a style, or in the one that its marks speak for.
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
/// If there is no tab in the text, or too much.
pub fn read(text: &str, style: Option<Style>) -> Result<TabText, TabError> {
    if text.len() > MAX_BYTES {
        return Err(TabError::TooLong);
    }
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
            // The letters are below, so a `b` is a bend.
            reader.style = Style::Signed;
            reader.line(line, numbers, Some(&letters));
            reader.style = style;
            index += 2;
        } else {
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

/// Reads line by line.
struct Reader {
    style: Style,
    tab: TabText,
    bar_lines: u32,
    /// Where the next repeat begins, if `|:` or the end of the last one said so.
    repeat_from: usize,
    opened: bool,
    ending: Option<usize>,
    /// The first note of this line of tab, and of the one before.
    line_from: usize,
    mixed: bool,
    /// Whether bends are marked by strokes; else a stroke that stands alone ends a phrase.
    strokes: bool,
}

impl Reader {
    fn new(style: Style) -> Reader {
        Reader {
            style,
            tab: TabText { style, notes: Vec::new(), repeats: Vec::new(), oddities: Vec::new() },
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
                    // `|1.` begins an ending.
                    if let Some(ending) = tokens.get(index).filter(|next| line::is_ordinal(next)) {
                        if ending.text == "1." {
                            self.ending = Some(self.tab.notes.len());
                        }
                        index += 1;
                    }
                }
                TokenKind::Aside => {
                    // The name of a missing note, as our own pages write it, is no tab: `[Bb5]`.
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

    /// A line without tab, unless there are marks in it that can be nothing else, or many.
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

    /// A bar line, with what it says of repeats.
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

    /// A word of a tab line; how many of the following tokens it has used up.
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
            // An arrow behind a note that has none yet.
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
                // `4 - - 5`: both dashes hold the note.
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

    /// A mark that stands apart from the note before it.
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
        // That the breath was not said is now made good.
        if let Some(last) = self.tab.oddities.last()
            && last.at == note_at
            && matches!(last.kind, OddityKind::NoBreath(_))
        {
            self.tab.oddities.pop();
        }
        self.odd(at, text, OddityKind::Loose(action));
    }

    /// Whether a note in brackets or in a circle is a draw note.
    fn brackets(&self) -> bool {
        matches!(self.style, Style::Parentheses | Style::Circled)
    }

    /// What stands in round brackets: a draw note, a chord, or words.
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
            // Brackets around a note of another style: a note that may be left out, or a draw note?
            self.push(top, at);
            self.odd(at, found, OddityKind::Mixed(top.action()));
        }
    }

    /// A word that is one mark of tab, or several without a space.
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

    /// Says what is odd about the breath of a note.
    fn remark(&mut self, note: Draft, text: &str, at: Spot) {
        let says = matches!(self.style, Style::Arrows | Style::Letters | Style::Rows);
        if note.breath.is_none() && says {
            self.odd(at, text, OddityKind::NoBreath(note.action()));
        } else if note.breath.is_some() && !note.own && text.ends_with('-') {
            self.odd(at, text, OddityKind::Behind(note.action()));
        } else if note.breath.is_some() && !note.own && !self.mixed {
            // Once is enough.
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
