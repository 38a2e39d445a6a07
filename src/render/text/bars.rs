//! Draws tab as rows of text: bars side by side, notes spaced by length, words below, chords above.
//!
//! Each bar is laid out separately. A note is at the column of its time, or further right if the notes before it need
//! the room. A chord is over the note that begins with it, or between two notes at the column of its time. The bars are
//! then set side by side in columns as wide as the widest bar, except that pickups and bars without notes are narrower.
//! A bar wider than a line is broken between notes. A new part of the tune begins a new line.

use super::{Line, Span, Tone, clip, line_width, width};
use crate::{
    pages::tab::{TabBar, TabChord, TabNote, TabSheet},
    time::Beats,
};

/// The room for the bar number before each line.
const MARGIN: usize = 5;

/// Returns the rows of a sheet, within a width.
pub(super) fn lines(sheet: &TabSheet, limit: usize) -> Vec<Line> {
    let chords = sheet.bars.iter().any(|bar| !bar.chords.is_empty());
    let rows = Rows { verses: sheet.verses, chords };
    let grid = |pieces: &[Piece]| TabGrid {
        room: limit.saturating_sub(MARGIN),
        barline: barline_room(sheet),
        widest: pieces.iter().map(|piece| piece.width).max().unwrap_or(0),
    };
    let lay_out = |unit: Unit| -> Vec<Piece> {
        let room = limit.saturating_sub(MARGIN + 2 * barline_room(sheet)).max(20);
        let nexts = sheet.bars.iter().skip(1).map(Some).chain([None]);
        sheet.bars.iter().zip(nexts).flat_map(|(bar, next)| pieces(bar, next, unit, room)).collect()
    };
    let mut unit = unit(sheet);
    let mut pieces = lay_out(unit);
    // Lines of a single bar are hard to read as music, and a broken bar is harder to read. The notes move closer
    // together to avoid both.
    while grid(&pieces).bars_in_a_line() == 1 && unit.columns > Unit::CLOSEST {
        unit.columns -= 1;
        let closer = lay_out(unit);
        if closer.len() < pieces.len() || grid(&closer).bars_in_a_line() > 1 {
            pieces = closer;
        }
    }
    // If a pickup does not fit before its line, the notes move one column closer, if that helps; notes much closer
    // together would no longer show their lengths.
    if unit.columns > Unit::CLOSEST + 1 && grid(&pieces).split(&pieces).pickup_cuts {
        let closer = lay_out(Unit { columns: unit.columns - 1, ..unit });
        if !grid(&closer).split(&closer).pickup_cuts {
            pieces = closer;
        }
    }
    let grid = grid(&pieces);
    let mut lines = Vec::new();
    let mut rest = pieces.as_slice();
    for count in grid.split(&pieces).counts {
        let (line, more) = rest.split_at(count);
        lines.extend(system(line, grid, rows, goes_on(more), more.is_empty()));
        rest = more;
    }
    lines
}

/// Which rows a sheet has in addition to its tab.
#[derive(Clone, Copy)]
struct Rows {
    verses: usize,
    chords: bool,
}

/// Returns whether these pieces continue the bar before them.
fn goes_on(more: &[Piece]) -> bool {
    more.first().is_some_and(|piece| piece.number.is_none())
}

/// The arrangement of bars side by side.
#[derive(Clone, Copy)]
struct TabGrid {
    /// The columns of a line for bars and barlines.
    room: usize,
    /// The columns between two bars: the barline and the spaces around it.
    barline: usize,
    /// The columns of the widest bar.
    widest: usize,
}

/// Returns the width, in columns, of the sheet's widest barline sign with a space on each side.
fn barline_room(sheet: &TabSheet) -> usize {
    let signs = (0..=sheet.bars.len()).map(|index| {
        let before = index.checked_sub(1).map(|before| &sheet.bars[before]);
        let after = sheet.bars.get(index);
        let section_ends = before.is_some_and(|bar| bar.section_end) && after.is_some();
        let opens = after.is_some_and(|bar| bar.repeat_start);
        width(sign(before.is_some_and(|bar| bar.repeat_end), section_ends, opens))
    });
    signs.max().unwrap_or(1) + 2
}

fn sign(closes_repeat: bool, closes_section: bool, opens_repeat: bool) -> &'static str {
    match (closes_repeat, opens_repeat) {
        (true, true) => ":|:",
        (true, false) => ":|",
        (false, true) => "|:",
        (false, false) if closes_section => "||",
        (false, false) => "|",
    }
}

impl Piece {
    fn is_empty(&self) -> bool {
        self.notes.is_empty() && self.chords.is_empty()
    }
}

impl TabGrid {
    /// Returns the number of bars in a line: four or two, which are easy to read as music, or one where the bars are
    /// too wide.
    fn bars_in_a_line(self) -> usize {
        // The last barline of a line needs no space after it.
        match (self.room + 1).saturating_sub(self.barline) / (self.widest + self.barline) {
            0 | 1 => 1,
            2 | 3 => 2,
            _ => 4,
        }
    }

    /// Returns the columns of a piece. Bars are as wide as the widest bar. Pickups and bars without notes take only the
    /// columns that they need.
    fn width(self, piece: &Piece) -> usize {
        if piece.pickup || piece.notes.is_empty() { piece.width } else { self.widest }
    }

    /// Splits the bars into lines. A pickup leads into the first bar, so it is in the line of that bar. If it does not
    /// fit before a full line, the line is cut in two, so that phrases still begin where lines begin.
    fn split(self, pieces: &[Piece]) -> Split {
        let full = self.bars_in_a_line();
        let mut split = Split { counts: Vec::new(), pickup_cuts: false };
        let (mut rest, mut bars) = (pieces, full);
        while let Some(first) = rest.first() {
            let count = self.pieces_in_next_line(rest, bars);
            let passed = count - usize::from(first.pickup);
            let is_cut = first.pickup && passed < bars && count < rest.len() && !rest[count - 1].ends_part;
            split.pickup_cuts |= is_cut;
            bars = if is_cut && passed > 0 { bars - passed } else { full };
            split.counts.push(count);
            rest = &rest[count..];
        }
        split
    }

    /// Returns the number of pieces in the next line: at most `bars` bars, and their pickup. A line ends where a part
    /// of the tune ends.
    fn pieces_in_next_line(self, rest: &[Piece], bars: usize) -> usize {
        let pickup = usize::from(rest.first().is_some_and(|piece| piece.pickup));
        let mut count = (bars + pickup).clamp(1, rest.len());
        if let Some(end) = rest[..count].iter().position(|piece| piece.ends_part) {
            count = end + 1;
        }
        let fits = |count: usize| {
            let bars: usize = rest[..count].iter().map(|piece| self.width(piece) + self.barline).sum();
            let end = if goes_on(&rest[count..]) { GOES_ON.len() } else { self.barline - 1 };
            bars + end <= self.room
        };
        if pickup == 1 && !fits(count) {
            count = count.min(pickup + bars.div_ceil(2));
        }
        while count > 1 && !fits(count) {
            count -= 1;
        }
        count
    }
}

/// How the pieces of a tab are split into lines.
struct Split {
    /// The number of pieces in each line.
    counts: Vec<usize>,
    /// Whether a pickup leaves no room for all bars of its line.
    pickup_cuts: bool,
}

/// A laid-out bar, or a piece of a bar that is too wide.
#[derive(Clone, Debug)]
struct Piece {
    /// The bar's number; `None` for the continuation of a broken bar.
    number: Option<u32>,
    /// The text of a bar without notes.
    without_notes: &'static str,
    width: usize,
    pickup: bool,
    /// The texts over the beginning and over the end of the bar.
    above: String,
    below: String,
    repeat_start: bool,
    repeat_end: bool,
    section_end: bool,
    /// Whether a part of the tune ends here, with no further ending after it.
    ends_part: bool,
    notes: Vec<Placed<TabNote>>,
    chords: Vec<Placed<TabChord>>,
}

/// A note or a chord with its column.
#[derive(Clone, Debug)]
struct Placed<T> {
    column: usize,
    what: T,
}

/// The most frequent distance between notes: its length in time, and its columns.
#[derive(Clone, Copy)]
struct Unit {
    length: Beats,
    columns: usize,
}

/// Returns the most frequent distance between notes, with room for a usual token and a space.
fn unit(sheet: &TabSheet) -> Unit {
    let mut steps: Vec<Beats> = Vec::new();
    let mut widths: Vec<usize> = Vec::new();
    for bar in &sheet.bars {
        let ends = bar.notes.iter().skip(1).map(|note| note.at).chain([bar.length]);
        steps.extend(
            bar.notes.iter().zip(ends).map(|(note, end)| end - note.at).filter(|step| *step > Beats::ZERO),
        );
        widths.extend(bar.notes.iter().map(|note| width(&note.token)));
    }
    steps.sort_unstable();
    widths.sort_unstable();
    let length = most_frequent(&steps).unwrap_or(Beats::quarters(1));
    // Nine tokens out of ten fit in this room.
    let usual = widths.get(widths.len() * 9 / 10).copied().unwrap_or(1);
    Unit { length, columns: usual + 1 }
}

/// Returns the most frequent value of a sorted list, or the smallest of several that are equally frequent.
fn most_frequent(sorted: &[Beats]) -> Option<Beats> {
    let runs = sorted.chunk_by(|a, b| a == b);
    runs.max_by(|a, b| a.len().cmp(&b.len()).then(b[0].cmp(&a[0]))).map(|run| run[0])
}

impl Unit {
    /// The least room for a usual note.
    const CLOSEST: usize = 2;

    /// Returns the column of a time. Half a column is rounded up.
    fn column(self, at: Beats) -> usize {
        let (n, d) = at.fraction();
        let (unit_n, unit_d) = self.length.fraction();
        let units = i128::from(n) * i128::from(unit_d) * self.columns as i128;
        let scale = i128::from(d) * i128::from(unit_n).max(1);
        usize::try_from((2 * units + scale) / (2 * scale)).unwrap_or(0)
    }
}

/// The most units that a note or rest takes. Longer notes and rests are shown shorter than they are.
const LONGEST_UNITS: i64 = 6;

/// Lays out a bar, broken into several pieces if it is wider than the room.
fn pieces(bar: &TabBar, next: Option<&TabBar>, unit: Unit, room: usize) -> Vec<Piece> {
    let new_piece = |number: Option<u32>| Piece {
        number,
        without_notes: "",
        width: 0,
        // The continuation of a broken pickup counts as an ordinary bar.
        pickup: bar.pickup && number.is_some(),
        above: String::new(),
        below: String::new(),
        repeat_start: false,
        repeat_end: false,
        section_end: false,
        ends_part: false,
        notes: Vec::new(),
        chords: Vec::new(),
    };
    let without_notes = match (bar.notes.is_empty(), bar.held) {
        (false, _) => "",
        (true, true) => "hold",
        (true, false) => "rest",
    };
    let mut pieces = vec![Piece {
        above: bar.above.clone(),
        repeat_start: bar.repeat_start,
        without_notes,
        width: without_notes.len(),
        ..new_piece(Some(bar.number))
    }];
    let longest = unit.length.times(LONGEST_UNITS, 1);
    let mut moments = moments(bar).into_iter().peekable();
    // The time at the piece's first column. Shortened long notes and rests move it later.
    let rest = moments.peek().map_or(Beats::ZERO, |first| first.at);
    let mut origin = if rest > longest { rest - longest } else { Beats::ZERO };
    let mut free = Free::default();
    while let Some(moment) = moments.next() {
        let end = moments.peek().map_or(bar.length, |next| next.at);
        let mut column = free.column(&moment, unit.column(moment.at - origin));
        let needed = moment.needed(room);
        if column + needed > room {
            if pieces.last().is_some_and(|piece| !piece.is_empty()) {
                pieces.push(new_piece(None));
            }
            origin = moment.at;
            (column, free) = (0, Free::default());
        }
        free.take(&moment, column, room);
        if end - moment.at > longest {
            origin += end - moment.at - longest;
        }
        if let Some(piece) = pieces.last_mut() {
            piece.width = piece.width.max(column + needed);
            // A bar without notes does not show its length.
            if !bar.notes.is_empty() {
                piece.width = piece.width.max(unit.column(end - origin).min(room).saturating_sub(1));
            }
            piece.notes.extend(moment.note.map(|note| Placed { column, what: note.clone() }));
            piece.chords.extend(moment.chord.map(|chord| Placed { column, what: chord.clone() }));
        }
    }
    if let Some(last) = pieces.last_mut() {
        last.repeat_end = bar.repeat_end;
        last.section_end = bar.section_end;
        let next_ending = next.is_some_and(|next| next.above.starts_with(|c: char| c.is_ascii_digit()));
        last.ends_part = (bar.repeat_end || bar.section_end) && !next_ending;
        last.below.clone_from(&bar.below);
        let marks = width(&bar.above) + width(&bar.below) + 1;
        last.width = last.width.max(if marks > 1 { marks.min(room) } else { 0 });
    }
    pieces
}

/// The content of one column: a note, a chord, or a chord over its note.
struct Moment<'a> {
    at: Beats,
    note: Option<&'a TabNote>,
    chord: Option<&'a TabChord>,
}

/// Returns the notes and chords of a bar in order. If several notes begin at the same time, all but the last are grace
/// notes, and the chord belongs to the last.
fn moments(bar: &TabBar) -> Vec<Moment<'_>> {
    let mut moments = Vec::with_capacity(bar.notes.len() + bar.chords.len());
    let mut chords = bar.chords.iter().peekable();
    let mut notes = bar.notes.iter().peekable();
    while let Some(note) = notes.next() {
        let between = std::iter::from_fn(|| chords.next_if(|chord| chord.at < note.at));
        moments.extend(between.map(Moment::of_chord));
        let is_last = notes.peek().is_none_or(|next| next.at != note.at);
        let chord = chords.next_if(|chord| is_last && chord.at == note.at);
        moments.push(Moment { at: note.at, note: Some(note), chord });
    }
    moments.extend(chords.map(Moment::of_chord));
    moments
}

impl<'a> Moment<'a> {
    fn of_chord(chord: &'a TabChord) -> Moment<'a> {
        Moment { at: chord.at, note: None, chord: Some(chord) }
    }

    /// Returns the number of columns that the moment takes.
    fn needed(&self, room: usize) -> usize {
        self.note
            .map_or(0, |note| needed(note, room))
            .max(self.chord.map_or(0, |chord| chord_room(chord, room)))
    }
}

/// The first free columns in a piece.
#[derive(Default)]
struct Free {
    /// For a note: the column after the previous note and its words.
    note: usize,
    /// For a chord: the column after the name of the previous chord.
    chord: usize,
    /// For a chord between notes: the column after the tab of the previous note, so that the chord does not seem to
    /// begin with that note.
    between: usize,
}

impl Free {
    /// Returns the column of a moment: its own column, or the next free column.
    fn column(&self, moment: &Moment, belongs: usize) -> usize {
        let note = if moment.note.is_some() { self.note } else { self.between };
        let chord = if moment.chord.is_some() { self.chord } else { 0 };
        belongs.max(note).max(chord)
    }

    fn take(&mut self, moment: &Moment, column: usize, room: usize) {
        // Later moments are further right, in both rows.
        (self.note, self.between) = match moment.note {
            Some(note) => (column + needed(note, room) + 1, column + width(&note.token)),
            None => (self.note.max(column + 2), column + 1),
        };
        if let Some(chord) = moment.chord {
            self.chord = column + chord_room(chord, room) + 1;
        }
    }
}

/// Returns the number of columns that a note and its words need. Words that do not fit in a line are cut.
fn needed(note: &TabNote, room: usize) -> usize {
    let words = note.lyrics.iter().map(|(_, lyric)| width(lyric).min(room));
    words.chain([width(&note.token)]).max().unwrap_or(0)
}

/// Returns the columns of a chord's name. A name that does not fit in a line is cut.
fn chord_room(chord: &TabChord, room: usize) -> usize {
    width(&chord.token).min(room)
}

/// Draws one line of bars: chords, marks, tab, the second row of the tab, words. If the last bar of a line continues in
/// the next line, the line ends with dots instead of a barline.
fn system(pieces: &[Piece], grid: TabGrid, rows: Rows, goes_on: bool, is_last: bool) -> Vec<Line> {
    let (mut chords, mut marks, mut tab, mut under) =
        (TabRow::default(), TabRow::default(), TabRow::default(), TabRow::default());
    let mut words = vec![TabRow::default(); rows.verses];
    let widest = grid.room.saturating_sub(grid.barline);
    let number = pieces.iter().find_map(|piece| piece.number.filter(|&number| number > 0));
    tab.put(0, Tone::Faint, &format!("{:>3}", number.map_or(String::new(), |number| number.to_string())));
    let mut left = MARGIN;
    for (index, piece) in pieces.iter().enumerate() {
        let before = index.checked_sub(1).map(|before| &pieces[before]);
        let closes = before.is_some_and(|piece| piece.repeat_end);
        let ends = before.is_some_and(|piece| piece.section_end);
        // The continuation of a broken bar has no barline before it.
        if piece.number.is_some() {
            tab.put(left, Tone::Faint, sign(closes, ends, piece.repeat_start));
        }
        let start = left + grid.barline - 1;
        let end = start + grid.width(piece);
        marks.put(start, Tone::Plain, &piece.above);
        tab.put(start, Tone::Faint, piece.without_notes);
        for Placed { column, what: chord } in &piece.chords {
            chords.put(start + column, chord.tone, &clip(&chord.token, widest));
        }
        for Placed { column, what: note } in &piece.notes {
            tab.put(start + column, note.tone, &note.token);
            under.put(start + column, note.tone, note.under);
            if note.added_before {
                marks.put((start + column).saturating_sub(1), Tone::Warning, "+");
            }
            if note.changed {
                marks.put(start + column + width(&note.token) / 2, Tone::Warning, "*");
            }
            if note.awkward {
                marks.put(start + column + width(&note.token) / 2, Tone::Warning, "~");
            }
            if note.breathe_after {
                marks.put(start + column + width(&note.token), Tone::Plain, ",");
            }
            for (line, lyric) in &note.lyrics {
                if let Some(row) = words.get_mut(*line) {
                    row.put(start + column, Tone::Plain, &clip(lyric, widest));
                }
            }
        }
        marks.put(end.saturating_sub(width(&piece.below)), Tone::Plain, &piece.below);
        left = end + 1;
    }
    let last = pieces.last();
    let closes = last.is_some_and(|piece| piece.repeat_end);
    let ends = last.is_some_and(|piece| piece.section_end) && !is_last;
    tab.put(left, Tone::Faint, if goes_on { GOES_ON } else { sign(closes, ends, false) });
    let filled = |line: &Line| line_width(line) > 0;
    // A line is preceded by its marks or by a blank line. A tune with chords always has the blank line, because words
    // directly over chords are hard to read.
    let above = if rows.chords {
        let rows = [chords, marks].map(|row| row.line).into_iter().filter(filled);
        std::iter::once(Line::default()).chain(rows).collect()
    } else {
        vec![marks.line]
    };
    let below = std::iter::once(under).chain(words).map(|row| row.line).filter(filled);
    above.into_iter().chain([tab.line]).chain(below).collect()
}

/// The dots at the end of a line with a broken bar; no wider than a barline with the spaces around it.
const GOES_ON: &str = "...";

/// A row under construction, from left to right.
#[derive(Clone, Debug, Default)]
struct TabRow {
    line: Line,
    used: usize,
}

impl TabRow {
    /// Puts text at a column, or directly after the existing text.
    fn put(&mut self, column: usize, tone: Tone, text: &str) {
        if text.is_empty() {
            return;
        }
        if column > self.used {
            let text = " ".repeat(column - self.used);
            self.line.spans.push(Span { tone: Tone::Plain, text });
            self.used = column;
        }
        self.line.spans.push(Span { tone, text: text.to_owned() });
        self.used += width(text);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet(bars: usize, notes: usize, pickup: bool) -> TabSheet {
        let note = |at: usize| TabNote {
            at: Beats::new(at as i64, 4),
            token: "-4".to_owned(),
            under: "",
            tone: Tone::Draw,
            changed: false,
            added_before: false,
            awkward: false,
            breathe_after: false,
            lyrics: Vec::new(),
        };
        let bar = TabBar {
            number: 0,
            pickup,
            length: Beats::new(notes as i64, 4),
            above: String::new(),
            repeat_start: false,
            repeat_end: false,
            section_end: false,
            below: String::new(),
            held: false,
            notes: (0..notes).map(note).collect(),
            chords: Vec::new(),
        };
        TabSheet { bars: vec![bar; bars], verses: 0 }
    }

    fn chord(at: Beats) -> TabChord {
        TabChord { at, token: "Am".to_owned(), tone: Tone::Plain }
    }

    #[test]
    fn time_grows_with_the_tune_also_where_every_bar_is_a_pickup_or_one_bar_is_the_tune() {
        for (bars, notes) in [(1, 100_000), (100_000, 1)] {
            let start = std::time::Instant::now();
            let mut sheet = sheet(bars, notes, true);
            // A chord over each note, and another between notes.
            for bar in &mut sheet.bars {
                bar.chords = (0..2 * notes).map(|at| chord(Beats::new(at as i64, 8))).collect();
            }
            let lines = lines(&sheet, 80);
            for (what, count) in [("-4", 100_000), ("Am", 200_000)] {
                assert_eq!(lines.iter().map(|line| line.plain().matches(what).count()).sum::<usize>(), count);
            }
            assert!(start.elapsed().as_secs() < 20, "{:?}", start.elapsed());
        }
    }

    #[test]
    fn no_width_is_too_narrow_to_try() {
        for width in [0, 1, 5, 8, 13, 39] {
            assert!(!lines(&sheet(3, 5, false), width).is_empty());
        }
    }

    #[test]
    fn what_comes_after_a_long_rest_is_not_cut_off() {
        for rest in [1, 3, 10, 1_000_000] {
            for width in [40, 80] {
                let mut sheet = sheet(1, 4, false);
                let bar = &mut sheet.bars[0];
                bar.length += Beats::quarters(rest);
                bar.notes.iter_mut().for_each(|note| note.at += Beats::quarters(rest));
                bar.chords = vec![chord(Beats::quarters(rest))];
                for notes in [4, 0] {
                    sheet.bars[0].notes.truncate(notes);
                    let lines: Vec<String> = lines(&sheet, width).iter().map(Line::plain).collect();
                    assert_eq!(lines.iter().map(|line| line.matches("-4").count()).sum::<usize>(), notes);
                    assert!(lines.iter().any(|line| line.contains("Am")), "{lines:#?}");
                    assert!(lines.iter().all(|line| line.len() <= width), "{lines:#?}");
                }
            }
        }
    }

    #[test]
    fn a_part_of_the_tune_begins_a_line() {
        let mut sheet = sheet(9, 2, false);
        (sheet.bars[2].repeat_end, sheet.bars[4].section_end) = (true, true);
        // A second ending continues the line of the first ending.
        sheet.bars[6].repeat_end = true;
        sheet.bars[7].above = "2.".to_owned();
        let text: Vec<String> = lines(&sheet, 80).iter().map(|line| line.plain()).collect();
        let bars = text.iter().filter(|line| line.contains("-4")).map(|line| line.matches("-4").count() / 2);
        assert_eq!(bars.collect::<Vec<_>>(), [3, 2, 4], "{text:#?}");
        assert!(text.iter().any(|line| line.trim_end().ends_with("||")), "{text:#?}");
    }
}
