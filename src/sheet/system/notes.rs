//! Draws the notes and rests of a line: heads, stems, flags, beams, dots, accidentals, grace notes, tuplets, ties.

use super::{Drawer, STAFF, Spot, height};
use crate::notation::{Beam, Tie, Value, ledger_lines};
use crate::sheet::{
    columns::{self, GRACE, HEAD_MIDDLE, Measure},
    draw::{Bounds, Item, Role, SPACE},
    glyphs::Glyph,
    score::{NoteEvent, ScoreBar},
    stems::{self, BEAM, BEAM_STEP, BeamLine, STEM},
};

/// Thicknesses of lines.
const LEDGER_LINE: i32 = 40;
const BRACKET_LINE: i32 = 30;
/// The length of a beam that belongs to a single note.
const STUB: i32 = 270;

impl Drawer<'_> {
    pub(super) fn rest(&mut self, spot: &Spot, bar: &ScoreBar) {
        if spot.what.hidden {
            return;
        }
        let value = spot.what.value;
        let glyph = columns::rest_glyph(value);
        // A whole rest hangs from a line, and a half rest sits on a line.
        let y = if value.halvings == 0 { SPACE } else { 2 * SPACE };
        let x = match spot.what.length == bar.length && bar.events.len() == 1 {
            // A rest of a whole bar is drawn in the middle of the bar.
            true => spot.x + (self.end_of(spot.measure) - spot.x - glyph.width()) / 2,
            false => spot.x,
        };
        self.add(spot.measure, None, Item::glyph(glyph, x, y, Role::Note));
        self.dots(spot.measure, None, value, x + glyph.width(), 3 * SPACE / 2);
    }

    /// Draws a rest that lasts several bars: a thick line between two thin lines, with the number of bars over it
    /// (common practice, from memory of the handbooks).
    pub(super) fn long_rest(&mut self, spot: &Spot, bars: usize) {
        let (left, right) = (spot.x, spot.x + columns::LONG_REST);
        let thick = Bounds { left, top: 3 * SPACE / 2, right, bottom: 5 * SPACE / 2 };
        self.add(spot.measure, None, Item::rectangle(thick, Role::Note));
        for x in [left, right] {
            self.add(spot.measure, None, Item::line((x, SPACE), (x, 3 * SPACE), STEM, Role::Note));
        }
        let digits = bars.to_string();
        let digits = digits.chars().map(|digit| Glyph::named(&format!("time_{digit}")));
        let width: i32 = digits.clone().map(|digit| digit.advance()).sum();
        let mut x = (left + right - width) / 2;
        for digit in digits {
            self.add(spot.measure, None, Item::glyph(digit, x, -3 * SPACE / 2, Role::Note));
            x += digit.advance();
        }
    }

    fn dots(&mut self, measure: usize, note: Option<usize>, value: Value, right: i32, y: i32) {
        for dot in 0..i32::from(value.dots) {
            let x = right + columns::DOT_GAP + dot * columns::DOT_STEP;
            self.add(measure, note, Item::glyph(Glyph::named("dot"), x, y, Role::Note));
        }
    }

    pub(super) fn head(&mut self, spot: &Spot, note: &NoteEvent) {
        let (measure, owner) = (spot.measure, Some(note.note));
        let y = height(note.position);
        let glyph = columns::head_glyph(spot.what.value);
        self.ledger(spot, note, glyph.width(), columns::LEDGER);
        self.add(measure, owner, Item::glyph(glyph, spot.x, y, Role::Note));
        if let Some(alter) = note.accidental {
            let accidental = columns::accidental_glyph(alter);
            let x = spot.x - columns::ACCIDENTAL_GAP - accidental.width();
            self.add(measure, owner, Item::glyph(accidental, x, y, Role::Note));
        }
        // Dots are drawn in the spaces of the staff.
        let dot_y = if note.position % 2 == 0 { y - SPACE / 2 } else { y };
        self.dots(measure, owner, spot.what.value, spot.x + glyph.width(), dot_y);
    }

    fn ledger(&mut self, spot: &Spot, note: &NoteEvent, width: i32, beyond: i32) {
        let lines = ledger_lines(note.position);
        for line in 1..=lines.abs() {
            let y = if lines > 0 { -line * SPACE } else { STAFF + line * SPACE };
            let ends = ((spot.x - beyond, y), (spot.x + width + beyond, y));
            self.add(spot.measure, Some(note.note), Item::line(ends.0, ends.1, LEDGER_LINE, Role::Staff));
        }
    }

    /// Draws the stem of a note without a beam, with its flag.
    pub(super) fn stem(&mut self, spot: &Spot, note: &NoteEvent) {
        let value = spot.what.value;
        if value.halvings < 1 {
            return;
        }
        let up = stems::up(std::iter::once(note));
        let y = height(note.position);
        let end = stems::end(y, up, value.flags());
        let x = stem_x(spot.x, up, 1000);
        self.add(spot.measure, Some(note.note), Item::line((x, y), (x, end), STEM, Role::Note));
        if value.flags() > 0 {
            let flag =
                Glyph::named(&format!("flag_{}_{}", value.flags().min(5), if up { "up" } else { "down" }));
            self.add(spot.measure, Some(note.note), Item::glyph(flag, x - STEM / 2, end, Role::Note));
        }
    }

    pub(super) fn beam(&mut self, members: &[Spot]) {
        let up = stems::up(members.iter().filter_map(|spot| spot.note));
        let way = if up { 1 } else { -1 };
        let stems: Vec<(i32, i32, u8)> = members
            .iter()
            .filter_map(|spot| {
                let y = height(spot.note?.position);
                Some((stem_x(spot.x, up, 1000), y, spot.what.value.flags()))
            })
            .collect();
        let line = BeamLine::new(&stems, up);
        for (spot, &(x, y, _)) in members.iter().zip(&stems) {
            let owner = spot.note.map(|note| note.note);
            self.add(spot.measure, owner, Item::line((x, y), (x, line.at(x)), STEM, Role::Note));
        }
        let measure = members[0].measure;
        let deepest = stems.iter().map(|stem| stem.2).max().unwrap_or(1);
        for level in 0..deepest {
            let offset = i32::from(level) * BEAM_STEP * way;
            let mut begun = stems[0].0;
            for (spot, &(x, ..)) in members.iter().zip(&stems) {
                let (from, to) = match spot.what.beams.get(usize::from(level)) {
                    Some(Beam::End) => (begun, x),
                    Some(Beam::ForwardHook) => (x, x + STUB),
                    Some(Beam::BackwardHook) => (x - STUB, x),
                    Some(Beam::Begin) => {
                        begun = x;
                        continue;
                    }
                    Some(Beam::Continue) | None => continue,
                };
                let (from, to) = (from - STEM / 2, to + STEM / 2);
                let edge = |x: i32| line.at(x) + offset;
                let points = vec![
                    (from, edge(from)),
                    (to, edge(to)),
                    (to, edge(to) + way * BEAM),
                    (from, edge(from) + way * BEAM),
                ];
                self.add(measure, None, Item::polygon(points, Role::Span));
            }
        }
    }

    pub(super) fn grace_head(&mut self, spot: &Spot, note: &NoteEvent) {
        let y = height(note.position);
        let glyph = Glyph::named("head_black");
        let owner = Some(note.note);
        self.ledger(spot, note, glyph.width() * GRACE / 1000, columns::LEDGER / 2);
        self.add(spot.measure, owner, Item::scaled_glyph(glyph, spot.x, y, GRACE, Role::Note));
        if let Some(alter) = note.accidental {
            let accidental = columns::accidental_glyph(alter);
            let x = spot.x - columns::ACCIDENTAL_GAP / 2 - accidental.width() * GRACE / 1000;
            self.add(spot.measure, owner, Item::scaled_glyph(accidental, x, y, GRACE, Role::Note));
        }
    }

    /// Draws the stems of grace notes, which go up. A single grace note has a flag, and several share beams.
    pub(super) fn grace_stems(&mut self, graces: &[Spot]) {
        let heads: Vec<(&Spot, usize, i32)> = graces
            .iter()
            .filter_map(|spot| spot.note.map(|note| (spot, note.note, height(note.position))))
            .collect();
        let top = heads.iter().map(|head| head.2).min().unwrap_or(0) - 9 * SPACE / 4;
        let thin = STEM * 3 / 4;
        for &(spot, note, y) in &heads {
            let x = stem_x(spot.x, true, GRACE);
            self.add(spot.measure, Some(note), Item::line((x, y), (x, top), thin, Role::Note));
        }
        match heads.as_slice() {
            [] => {}
            [(spot, note, _)] => {
                let x = stem_x(spot.x, true, GRACE);
                let Some(grace) = spot.note.filter(|grace| grace.flags > 0) else { return };
                let glyph = Glyph::named(&format!("flag_{}_up", grace.flags.min(5)));
                let flag = Item::scaled_glyph(glyph, x - thin / 2, top, GRACE, Role::Note);
                self.add(spot.measure, Some(*note), flag);
                if grace.slashed {
                    let stroke = Item::line((x - 110, top + 330), (x + 170, top + 100), thin, Role::Note);
                    self.add(spot.measure, Some(*note), stroke);
                }
            }
            [first, .., last] => {
                let (from, to) =
                    (stem_x(first.0.x, true, GRACE) - thin / 2, stem_x(last.0.x, true, GRACE) + thin / 2);
                // There are as many beams as the note with the fewest flags has flags. Beamed grace notes of different
                // values are rare, and still readable with this number.
                let flags = heads.iter().filter_map(|head| head.0.note).map(|grace| grace.flags).min();
                for level in 0..i32::from(flags.unwrap_or(0)) {
                    let y = top + level * 120;
                    let beam = Bounds { left: from, top: y, right: to, bottom: y + 75 };
                    self.add(first.0.measure, None, Item::rectangle(beam, Role::Span));
                }
            }
        }
    }

    /// Draws the number of a tuplet, with a bracket if no beam joins the notes of the tuplet.
    pub(super) fn tuplet(&mut self, members: &[Spot], number: i64, beamed: bool) {
        let (Some(first), Some(last)) = (members.first(), members.last()) else { return };
        let up = stems::up(members.iter().filter_map(|spot| spot.note))
            || members.iter().all(|s| s.note.is_none());
        let (left, right) = (first.x - 20, last.x + 2 * HEAD_MIDDLE + 20);
        let digits: Vec<Glyph> =
            number.to_string().chars().map(|digit| Glyph::named(&format!("tuplet_{digit}"))).collect();
        let width: i32 = digits.iter().map(|digit| digit.advance()).sum();
        let middle = (left + right) / 2;
        // The number is drawn at the beam, which is above the notes if their stems go up.
        let edge =
            if up { self.top_between(left, right) - 60 } else { self.bottom_between(left, right) + 60 };
        // Figures are 363 units high.
        let (base, bracket) = if up { (edge, edge - 180) } else { (edge + 363, edge + 180) };
        let mut x = middle - width / 2;
        for digit in digits {
            self.add(first.measure, None, Item::glyph(digit, x, base, Role::Span));
            x += digit.advance();
        }
        if !beamed {
            let hook = if up { bracket + 150 } else { bracket - 150 };
            let gap = width / 2 + 80;
            for (outer, inner) in [(left, middle - gap), (right, middle + gap)] {
                self.add(
                    first.measure,
                    None,
                    Item::line((outer, hook), (outer, bracket), BRACKET_LINE, Role::Span),
                );
                self.add(
                    first.measure,
                    None,
                    Item::line((outer, bracket), (inner, bracket), BRACKET_LINE, Role::Span),
                );
            }
        }
    }

    pub(super) fn ties(&mut self, measures: &[Measure]) {
        let spots: Vec<Spot> = self.spots.iter().filter(|spot| spot.grace.is_none()).copied().collect();
        // Ties end at the last barline, although an announced signature may follow it.
        let music_end = match measures.last() {
            Some(last) if last.ends => self.end_of(measures.len() - 1),
            _ => self.line.end,
        };
        for (index, spot) in spots.iter().enumerate() {
            let Some(note) = spot.note else { continue };
            let up = stems::up(std::iter::once(note));
            // The tie is on the side of the head away from the stem.
            let y = height(note.position) + if up { 170 } else { -170 };
            let next =
                spots.get(index + 1).filter(|next| next.note.is_some_and(|next| next.note == note.note));
            let from = spot.x + HEAD_MIDDLE + 90;
            let hanging = (from + 700).min(self.end_of(spot.measure) - 40).max(from + 200);
            let to = match (note.tie, next) {
                (Tie::None, _) => None,
                (Tie::ToNext, Some(next)) => Some(next.x + HEAD_MIDDLE - 90),
                (Tie::ToNext, None) => Some(music_end - 20),
                (Tie::Hanging, _) => Some(hanging),
            };
            let starts_line =
                index == 0 && !note.begins && measures.first().is_some_and(|_| spot.measure == 0);
            let start = self.line.start - 130;
            let incoming = if starts_line {
                Some(start.min(spot.x - 150))
            } else if note.hanging_in {
                Some(spot.x - 350)
            } else {
                None
            };
            let way = if up { 1 } else { -1 };
            for (from, to) in
                [incoming.map(|from| (from, spot.x + 70)), to.map(|to| (from, to))].into_iter().flatten()
            {
                let height = way * ((to - from) / 6).clamp(90, 260);
                self.add(spot.measure, Some(note.note), Item::tie((from, y), (to, y), height, Role::Span));
            }
        }
    }
}

/// Returns the horizontal place of a head's stem.
fn stem_x(head: i32, up: bool, scale: i32) -> i32 {
    let width = Glyph::named("head_black").width() * scale / 1000;
    if up { head + width - STEM / 2 } else { head + STEM / 2 }
}
