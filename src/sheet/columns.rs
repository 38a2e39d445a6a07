//! Measures the room that music needs from left to right. A bar is a row of columns, each with its extents in the lanes
//! of music, tab, chords and words.

use super::{
    draw::SPACE,
    glyphs::Glyph,
    houses, label,
    score::{Event, NoteEvent, Score, ScoreBar},
    text::Face,
};
use crate::{
    notation::{Tie, Value, ledger_lines},
    tab::BendMark,
    time::Beats,
};

/// The lanes of a line of music. Items in one lane may not overlap. Each of several ways to play the tune, one above
/// the other, has its own lanes.
pub(super) mod lane {
    use super::Score;

    pub(in crate::sheet) const MUSIC: usize = 0;
    pub(in crate::sheet) const TAB: usize = 1;
    pub(in crate::sheet) const CHORD: usize = 2;
    /// The lane of the first verse. Each further verse has the next lane.
    pub(in crate::sheet) const WORDS: usize = 3;

    /// Returns the number of lanes of a score.
    pub(in crate::sheet) fn count(score: &Score) -> usize {
        WORDS + usize::from(score.verses)
    }
}

/// Sizes of type.
pub(super) const WORD_SIZE: i32 = 490;
pub(super) const CHORD_SIZE: i32 = 520;
pub(super) use super::houses::{GRACE, HEAD_MIDDLE};

/// A column of a bar, for the items at one place.
#[derive(Clone, Debug)]
pub(super) struct Column {
    pub(super) what: What,
    /// The time from the start of the bar.
    pub(super) at: Beats,
    pub(super) extents: Vec<Extent>,
    /// The ideal distance to the next column.
    pub(super) spring: i32,
}

/// The content of a column.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum What {
    /// A change of signature or meter.
    Change,
    /// A grace note: its event, and its index among the grace notes of the event.
    Grace(usize, usize),
    /// A note or a rest.
    Event(usize),
    /// A chord symbol while a note or rest lasts.
    Chord,
    /// The barline at the end.
    Barline,
}

/// The extent of a column to both sides of its place in a lane, and the gap before the next item in the lane.
#[derive(Clone, Copy, Debug)]
pub(super) struct Extent {
    pub(super) lane: usize,
    pub(super) left: i32,
    pub(super) right: i32,
    pub(super) gap: i32,
}

/// The columns of a bar, or of a part of a bar that is too long for a line.
#[derive(Clone, Debug)]
pub(super) struct Measure {
    /// The index of the bar in the score.
    pub(super) bar: usize,
    pub(super) columns: Vec<Column>,
    /// Whether the end of the bar is in this part.
    pub(super) ends: bool,
    /// Whether the beginning of the bar is in this part.
    pub(super) begins: bool,
}

/// Returns the columns of every bar. The scores are of the same tune, so they have the same bars. Notes that sound
/// together share a column.
pub(super) fn measures(scores: &[Score], bend_mark: BendMark) -> Vec<Measure> {
    let bars = scores.iter().map(|score| score.bars.len()).min().unwrap_or(0);
    let shared = |bar: usize| {
        let mut first_lane = 0;
        let each = scores.iter().map(|score| {
            let mut columns = columns(score, bar, bend_mark);
            let extents = columns.iter_mut().flat_map(|column| &mut column.extents);
            extents.for_each(|extent| extent.lane += first_lane);
            first_lane += lane::count(score);
            columns
        });
        each.reduce(share).unwrap_or_default()
    };
    (0..bars).map(|bar| Measure { bar, columns: shared(bar), ends: true, begins: true }).collect()
}

/// Merges the columns of two bars. A column that only one bar has, such as a change of signature, stays in its place.
fn share(ours: Vec<Column>, theirs: Vec<Column>) -> Vec<Column> {
    let mut theirs = theirs.into_iter().peekable();
    let mut shared: Vec<Column> = Vec::with_capacity(ours.len());
    for mut column in ours {
        let place = column.order();
        while let Some(before) = theirs.next_if(|other| other.order() < place) {
            shared.push(before);
        }
        if let Some(other) = theirs.next_if(|other| other.order() == place) {
            column.extents.extend(other.extents);
            column.spring = column.spring.max(other.spring);
        }
        shared.push(column);
    }
    shared.extend(theirs);
    shared
}

impl Column {
    /// Returns whether the column belongs to a note of the bar.
    fn has_note(&self, bar: &ScoreBar) -> bool {
        match self.what {
            What::Grace(..) => true,
            What::Event(event) => bar.events[event].note.is_some(),
            What::Change | What::Chord | What::Barline => false,
        }
    }

    /// Returns the key that orders the columns of a bar.
    fn order(&self) -> (Beats, u8, usize, usize) {
        let (kind, event, grace) = match self.what {
            What::Change => (0, 0, 0),
            What::Grace(event, grace) => (1, event, grace),
            What::Event(event) => (1, event, usize::MAX),
            What::Chord => (2, 0, 0),
            What::Barline => (3, 0, 0),
        };
        (self.at, kind, event, grace)
    }
}

fn columns(score: &Score, index: usize, bend_mark: BendMark) -> Vec<Column> {
    let bar = &score.bars[index];
    let mut columns = Vec::new();
    let before = index.checked_sub(1).map(|before| &score.bars[before]);
    let change = if score.staff { change_width(before, bar) } else { 0 };
    if change > 0 {
        let music = Extent { lane: lane::MUSIC, left: 0, right: change, gap: 200 };
        columns.push(Column { what: What::Change, at: Beats::ZERO, extents: vec![music], spring: 0 });
    }
    for (number, event) in bar.events.iter().enumerate() {
        if let Some(note) = &event.note {
            for (which, grace) in note.graces.iter().enumerate() {
                columns.push(grace_column(event.at, number, which, grace, bend_mark));
            }
        }
        columns.push(event_column(bar, number, event, bend_mark));
    }
    if !score.staff {
        for column in &mut columns {
            if column.has_note(bar) {
                // In tab without a staff, heads, accidentals and dots are not drawn.
                column.extents.retain(|extent| extent.lane != lane::MUSIC);
            } else {
                // Rests are drawn on the rail of the tab.
                let music = column.extents.iter_mut().filter(|extent| extent.lane == lane::MUSIC);
                music.for_each(|extent| extent.lane = lane::TAB);
            }
        }
    }
    let mut alone = Vec::new();
    for (at, chord) in &bar.chords {
        let width = label::width(&label::spelled(chord), Face::Semibold, CHORD_SIZE);
        let extent = Extent { lane: lane::CHORD, left: 0, right: width, gap: 180 };
        let first = columns.partition_point(|column| column.at < *at);
        let mut there = columns[first..].iter_mut().take_while(|column| column.at == *at);
        match there.find(|column| matches!(column.what, What::Event(_))) {
            Some(column) => column.extents.push(extent),
            None => alone.push(Column { what: What::Chord, at: *at, extents: vec![extent], spring: 0 }),
        }
    }
    columns.append(&mut alone);
    columns.sort_by_key(|column| column.at);
    columns.push(Column { what: What::Barline, at: bar.length, extents: barline(score, index), spring: 230 });
    for index in 0..columns.len().saturating_sub(1) {
        let time = columns[index + 1].at - columns[index].at;
        if matches!(columns[index].what, What::Event(_) | What::Chord) {
            columns[index].spring = spring(time);
        }
    }
    columns
}

/// Returns the ideal distance between two columns, given the time between them. Twice the time has less than twice the
/// room (from memory of the handbooks; the numbers are ours).
fn spring(time: Beats) -> i32 {
    /// The room after a 128th, then after each value of twice that length.
    const ROOM: [i32; 10] = [330, 380, 460, 590, 790, 1060, 1420, 1880, 2400, 2900];
    let (numerator, denominator) = time.times(32, 1).fraction();
    let (whole, parts) = (numerator / denominator.max(1), numerator);
    if whole < 1 {
        return if parts > 0 { ROOM[0] } else { 0 };
    }
    let halvings = whole.ilog2() as usize;
    let Some((&from, &to)) = ROOM.get(halvings).zip(ROOM.get(halvings + 1)) else { return ROOM[9] };
    // Between two values, the room is interpolated linearly.
    let base = denominator << halvings;
    from + (i64::from(to - from) * (numerator - base) / base.max(1)) as i32
}

fn event_column(bar: &ScoreBar, number: usize, event: &Event, bend_mark: BendMark) -> Column {
    let mut extents = Vec::new();
    let Some(note) = &event.note else {
        if event.hidden {
            return Column { what: What::Event(number), at: event.at, extents, spring: 0 };
        }
        if bar.silent > 1 {
            extents.push(Extent { lane: lane::MUSIC, left: 0, right: LONG_REST, gap: 200 });
            return Column { what: What::Event(number), at: event.at, extents, spring: 0 };
        }
        let glyph = rest_glyph(event.value);
        let right = glyph.bounds().right + dots_width(event.value);
        extents.push(Extent { lane: lane::MUSIC, left: 0, right, gap: 90 });
        return Column { what: What::Event(number), at: event.at, extents, spring: 0 };
    };
    let head = head_glyph(event.value);
    let ledger = if ledger_lines(note.position) == 0 { 0 } else { LEDGER };
    let left = note.accidental.map_or(0, |alter| accidental_width(alter, 1000) + ACCIDENTAL_GAP).max(ledger);
    let flagged = event.value.flags() > 0 && !is_beamed(bar, number);
    let right = head.width() + dots_width(event.value).max(if flagged { 270 } else { 0 }).max(ledger);
    // A tie needs some room to be visible.
    let gap = if note.tie == Tie::None { 90 } else { 300 };
    extents.push(Extent { lane: lane::MUSIC, left, right, gap });
    if note.begins {
        extents.push(tab_extent(note, bend_mark, 1000));
        extents.extend(word_extents(note));
    }
    Column { what: What::Event(number), at: event.at, extents, spring: 0 }
}

fn grace_column(at: Beats, event: usize, which: usize, note: &NoteEvent, bend_mark: BendMark) -> Column {
    let left = note.accidental.map_or(0, |alter| accidental_width(alter, GRACE) + ACCIDENTAL_GAP / 2);
    let right = head_glyph(Value { halvings: 3, dots: 0 }).width() * GRACE / 1000 + 120;
    let music = Extent { lane: lane::MUSIC, left: left.max(50), right, gap: 70 };
    let mut extents = vec![music, tab_extent(note, bend_mark, houses::SMALL)];
    extents.extend(word_extents(note));
    Column { what: What::Grace(event, which), at, extents, spring: 330 }
}

fn tab_extent(note: &NoteEvent, bend_mark: BendMark, scale: i32) -> Extent {
    let width = houses::width(&note.tab, bend_mark, scale);
    let middle = if scale == 1000 { HEAD_MIDDLE } else { HEAD_MIDDLE * GRACE / 1000 };
    let turn = if note.awkward { houses::TURN_WIDTH } else { 0 };
    let frame = if note.framed { houses::FRAME } else { 0 };
    Extent {
        lane: lane::TAB,
        left: width / 2 - middle + frame + turn,
        right: width - width / 2 + middle + frame,
        gap: 90,
    }
}

/// Returns the left edge of the words under a note, relative to the head, and their width.
pub(super) fn word_place(text: &str, held: bool) -> (i32, i32) {
    let width = Face::Regular.width(text, WORD_SIZE);
    // A syllable held over several notes begins at the first of these notes (from memory of the handbooks).
    (if held { 0 } else { HEAD_MIDDLE - width / 2 }, width)
}

fn word_extents(note: &NoteEvent) -> impl Iterator<Item = Extent> {
    note.lyrics.iter().filter(|lyric| !lyric.text.is_empty()).map(|lyric| {
        let (start, width) = word_place(&lyric.text, lyric.extend);
        // The gap has room for the hyphen, or for the space between words.
        let gap = if lyric.hyphen { 330 } else { 150 };
        let lane = lane::WORDS + usize::from(lyric.verse.saturating_sub(1));
        Extent { lane, left: -start, right: start + width, gap }
    })
}

/// The length by which a ledger line extends beyond the head on each side.
pub(super) const LEDGER: i32 = 80;
/// The gap between an accidental and its head.
pub(super) const ACCIDENTAL_GAP: i32 = 55;
/// The gap from a head or rest to its first dot, and the distance from dot to dot.
pub(super) const DOT_GAP: i32 = 75;
pub(super) const DOT_STEP: i32 = 150;

fn dots_width(value: Value) -> i32 {
    match value.dots {
        0 => 0,
        dots => DOT_GAP + 100 + DOT_STEP * i32::from(dots - 1),
    }
}

pub(super) fn head_glyph(value: Value) -> Glyph {
    Glyph::named(match value.halvings {
        i8::MIN..=-1 => "head_double_whole",
        0 => "head_whole",
        1 => "head_half",
        _ => "head_black",
    })
}

pub(super) fn rest_glyph(value: Value) -> Glyph {
    Glyph::named(match value.halvings {
        i8::MIN..=-1 => "rest_double_whole",
        0 => "rest_whole",
        1 => "rest_half",
        2 => "rest_quarter",
        3 => "rest_1",
        4 => "rest_2",
        5 => "rest_3",
        6 => "rest_4",
        _ => "rest_5",
    })
}

pub(super) fn accidental_glyph(alter: i8) -> Glyph {
    Glyph::named(match alter {
        i8::MIN..=-2 => "double_flat",
        -1 => "flat",
        0 => "natural",
        1 => "sharp",
        2..=i8::MAX => "double_sharp",
    })
}

fn accidental_width(alter: i8, scale: i32) -> i32 {
    accidental_glyph(alter).width() * scale / 1000
}

/// The width of a rest that lasts several bars.
pub(super) const LONG_REST: i32 = 12 * SPACE;

/// Returns whether an event shares a beam with other events.
fn is_beamed(bar: &ScoreBar, number: usize) -> bool {
    let first = bar.beams.partition_point(|group| group.last() < Some(&number));
    bar.beams.get(first).is_some_and(|group| group.contains(&number))
}

/// Returns the width of a change of signature or meter, or zero without a change.
fn change_width(before: Option<&ScoreBar>, bar: &ScoreBar) -> i32 {
    let Some(before) = before else { return 0 };
    let signature =
        if before.sharps == bar.sharps { 0 } else { signature_width(bar.sharps, before.sharps) + 100 };
    let meter = if before.meter == bar.meter { 0 } else { meter_width(bar) };
    signature + meter
}

/// Returns the width of the new signature or meter after the last bar of a line, with the gap before it, or zero
/// without a change. The line announces the change, and the beginning of the next line repeats it (from memory of the
/// handbooks).
pub(super) fn courtesy_width(score: &Score, index: usize) -> i32 {
    let next = score.bars.get(index + 1).filter(|_| score.staff);
    let change = next.map_or(0, |next| change_width(score.bars.get(index), next));
    if change > 0 { COURTESY_GAP + change } else { 0 }
}

/// The gap from the last barline of a line to the announced signature or meter.
pub(super) const COURTESY_GAP: i32 = 150;

/// Returns the width of a signature. A signature without accidentals shows the naturals that cancel the signature
/// before it.
pub(super) fn signature_width(sharps: i8, before: i8) -> i32 {
    let count = if sharps == 0 { before } else { sharps };
    i32::from(count.unsigned_abs()) * SIGNATURE_STEP
}

/// The distance from one accidental of a signature to the next.
pub(super) const SIGNATURE_STEP: i32 = 235;

/// Returns the width of a meter's numbers.
pub(super) fn meter_width(bar: &ScoreBar) -> i32 {
    let Some(meter) = bar.meter else { return 0 };
    meter_number_width(meter.beats).max(meter_number_width(meter.unit))
}

pub(super) fn meter_number_width(number: u16) -> i32 {
    number.to_string().chars().map(|digit| Glyph::named(&format!("time_{digit}")).advance()).sum()
}

/// The kind of a barline, which follows from the marks of the bars on both sides.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Barline {
    pub(super) repeat_end: bool,
    pub(super) repeat_start: bool,
    /// Whether a part of the tune ends at the barline, which is double unless a repeat or the tune ends there too.
    pub(super) section: bool,
    pub(super) end: bool,
}

impl Barline {
    /// Returns the barline after a bar of the score. At the end of a line, the repeat sign of the next bar moves to the
    /// next line.
    pub(super) fn after(score: &Score, index: usize, ends_line: bool) -> Barline {
        let marks = &score.bars[index].marks;
        let next = score.bars.get(index + 1);
        Barline {
            repeat_end: marks.repeat_end.is_some(),
            repeat_start: !ends_line && next.is_some_and(|next| next.marks.repeat_start),
            section: marks.section_end,
            end: next.is_none(),
        }
    }

    /// Returns the extent of the barline to the left and to the right of its place. The place is at the left edge of
    /// the thick line; without a thick line, at the only line or at the second line of a double barline.
    pub(super) fn extent(self) -> (i32, i32) {
        let left = if self.repeat_end {
            330
        } else if self.section || self.end {
            170
        } else {
            20
        };
        let right = if self.repeat_start {
            390
        } else if self.repeat_end || self.end || self.section {
            120
        } else {
            20
        };
        (left, right)
    }
}

fn barline(score: &Score, index: usize) -> Vec<Extent> {
    let (left, right) = Barline::after(score, index, false).extent();
    [(lane::MUSIC, 120), (lane::TAB, 60)]
        .into_iter()
        .map(|(lane, gap)| Extent { lane, left, right, gap })
        .collect()
}

/// The room at the beginning of a line without a staff.
pub(super) const BARE_OPENING: i32 = 300;

/// The gap after the clef, signature and meter that open a line.
pub(super) const OPENING_GAP: i32 = SPACE;
