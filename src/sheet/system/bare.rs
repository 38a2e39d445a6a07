//! Draws the notation that remains in tab without a staff: barlines, repeats and rests, on the rail between blow and
//! draw.

use super::{Drawer, STAFF, barline_items};
use crate::sheet::{
    columns::{Barline, Measure, What},
    draw::{Group, Owner, SPACE},
    houses,
};

impl Drawer<'_> {
    /// Draws barlines, repeats and rests. The rows of the tab begin at the height `tab_top`.
    pub(super) fn bare(&mut self, measures: &[Measure], tab_top: i32) {
        // The rail takes the place of the middle line of the missing staff.
        let down = tab_top + houses::RAIL - 2 * SPACE;
        let mut opening = Group::new(Owner::Opening);
        let repeats = |first: &&Measure| first.begins && self.score.bars[first.bar].marks.repeat_start;
        if measures.first().filter(repeats).is_some() {
            let repeat = Barline { repeat_start: true, repeat_end: false, section: false, end: false };
            barline_items(repeat, 40, down, down + STAFF).into_iter().for_each(|item| opening.push(item));
        }
        self.group.groups.push(opening);
        for (index, measure) in measures.iter().enumerate() {
            let ends_line = index + 1 == measures.len();
            for (column, &x) in measure.columns.iter().zip(&self.line.places[index]) {
                if column.what == What::Barline {
                    let barline = Barline::after(self.score, measure.bar, ends_line);
                    for item in barline_items(barline, x, down, down + STAFF) {
                        self.add_quietly(index, None, item);
                    }
                }
            }
            self.rests(measure, index, down);
        }
    }

    fn rests(&mut self, measure: &Measure, index: usize, down: i32) {
        let bar = &self.score.bars[measure.bar];
        let (drawn, inked) = (self.bars[index].items.len(), self.ink.len());
        for spot in self.spots.clone().iter().filter(|spot| spot.measure == index && spot.note.is_none()) {
            match bar.silent {
                0 | 1 => self.rest(spot, bar),
                silent => self.long_rest(spot, silent),
            }
        }
        // The group only moves the items together, so its owner does not matter.
        let mut moved = Group::new(Owner::Opening);
        moved.items = self.bars[index].items.split_off(drawn);
        moved.shift(0, down);
        self.bars[index].items.extend(moved.items);
        for ink in &mut self.ink[inked..] {
            (ink.top, ink.bottom) = (ink.top + down, ink.bottom + down);
        }
    }
}
