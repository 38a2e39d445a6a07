//! Draws the area above a line: signs for the player, chords, endings, words of tempo, and signs and words about the
//! order of playing.

use super::Drawer;
use crate::{
    clean::visible,
    sheet::{
        columns::{CHORD_SIZE, HEAD_MIDDLE, Measure, What},
        draw::{Anchor, Item, Role, SPACE},
        glyphs::Glyph,
        label,
        score::ScoreBar,
        text::Face,
    },
};

const BRACKET_LINE: i32 = 30;
const JUMP_SIZE: i32 = 470;

impl Drawer<'_> {
    /// Draws the signs for the player, chords, endings, words of tempo and jumps, in this order from the staff upwards.
    pub(super) fn above(&mut self, measures: &[Measure]) {
        self.signs();
        self.chords(measures);
        self.endings(measures);
        self.tempo_words(measures);
        self.jumps(measures);
    }

    fn signs(&mut self) {
        let spots = self.spots.clone();
        for (index, spot) in spots.iter().enumerate() {
            let Some(note) = spot.note else { continue };
            if note.fermata {
                let glyph = Glyph::named("fermata");
                let x = spot.x + HEAD_MIDDLE - glyph.width() / 2;
                let y = self.top_between(x, x + glyph.width()).min(0) - 90;
                self.add(spot.measure, Some(note.note), Item::glyph(glyph, x, y, Role::Note));
            }
            if note.changed {
                let x = spot.x + HEAD_MIDDLE;
                let y = self.top_between(x - 130, x + 130) - 80;
                self.add(spot.measure, Some(note.note), label::star(x, y));
            }
            if note.breathe_after && spot.grace.is_none() {
                let glyph = Glyph::named("breath");
                let next = spots.get(index + 1).filter(|next| next.measure == spot.measure);
                let until = next.map_or(self.end_of(spot.measure), |next| next.x) - 60;
                let x = (until - glyph.width()).max(spot.x + 2 * HEAD_MIDDLE);
                let y = self.top_between(x - 20, x + glyph.width() + 20).min(0) - 70;
                self.add(spot.measure, Some(note.note), Item::glyph(glyph, x, y, Role::Sign));
            }
        }
    }

    fn chords(&mut self, measures: &[Measure]) {
        let mut texts = Vec::new();
        for (index, measure) in measures.iter().enumerate() {
            let bar = &self.score.bars[measure.bar];
            for (column, &x) in measure.columns.iter().zip(&self.line.places[index]) {
                let here = bar
                    .chords
                    .iter()
                    .find(|(at, _)| *at == column.at && matches!(column.what, What::Event(_) | What::Chord));
                if let Some((_, text)) = here {
                    texts.push((index, x, label::spelled(text)));
                }
            }
        }
        let tops = texts
            .iter()
            .map(|(_, x, text)| self.top_between(*x, x + label::width(text, Face::Semibold, CHORD_SIZE)));
        let Some(top) = tops.min() else { return };
        let y = top.min(-SPACE / 2) - 250;
        for (index, x, text) in texts {
            for item in label::items(&text, (x, y), Anchor::Start, Face::Semibold, CHORD_SIZE, Role::Text) {
                self.add(index, None, item);
            }
        }
    }

    fn endings(&mut self, measures: &[Measure]) {
        let bars: Vec<&ScoreBar> = measures.iter().map(|measure| &self.score.bars[measure.bar]).collect();
        let mut from = 0;
        let mut brackets = Vec::new();
        while from < bars.len() {
            let ending = &bars[from].marks.ending;
            let run = bars[from..].iter().take_while(|bar| &bar.marks.ending == ending).count();
            if !ending.is_empty() {
                let left = match from.checked_sub(1) {
                    Some(before) => self.end_of(before),
                    None => self.line.start - 150,
                };
                let begins = self.begins_ending(measures[from].bar);
                brackets.push((from, left + 50, self.end_of(from + run - 1) - 30, ending.clone(), begins));
            }
            from += run;
        }
        let Some(top) = brackets.iter().map(|&(_, left, right, ..)| self.top_between(left, right)).min()
        else {
            return;
        };
        let (line, foot) = (top.min(-SPACE / 2) - 560, top.min(-SPACE / 2) - 90);
        for (measure, left, right, ending, begins) in brackets {
            self.add(measure, None, Item::line((left, line), (right, line), BRACKET_LINE, Role::Bar));
            if begins {
                self.add(measure, None, Item::line((left, line), (left, foot), BRACKET_LINE, Role::Bar));
                let numbers: Vec<String> = ending.iter().map(|number| format!("{number}.")).collect();
                let at = (left + 100, foot - 60);
                let text = numbers.join(" ");
                self.add(measure, None, Item::text(text, at, Anchor::Start, Face::Regular, 430, Role::Text));
            }
        }
    }

    fn tempo_words(&mut self, measures: &[Measure]) {
        for (index, measure) in measures.iter().enumerate() {
            for (at, text) in &self.score.bars[measure.bar].tempo_words {
                let columns = measure.columns.iter().zip(&self.line.places[index]);
                let mut events = columns.filter(|(column, _)| matches!(column.what, What::Event(_)));
                let Some((_, &x)) = events.find(|(column, _)| column.at == *at) else { continue };
                let text = visible(text);
                let width = Face::Italic.width(&text, JUMP_SIZE);
                let x = x.min(self.line.end - width).max(0);
                let y = self.top_between(x, x + width).min(-SPACE / 2) - 180;
                let words = Item::text(text, (x, y), Anchor::Start, Face::Italic, JUMP_SIZE, Role::Text);
                self.add(index, None, words);
            }
        }
    }

    fn begins_ending(&self, bar: usize) -> bool {
        let before = bar.checked_sub(1).map(|before| &self.score.bars[before].marks.ending);
        before != Some(&self.score.bars[bar].marks.ending)
    }

    fn jumps(&mut self, measures: &[Measure]) {
        for (index, measure) in measures.iter().enumerate() {
            let marks = &self.score.bars[measure.bar].marks;
            let left = match index.checked_sub(1) {
                Some(before) => self.end_of(before),
                None => self.line.start - 150,
            };
            let mut x = left;
            for (set, glyph) in [(marks.segno, "segno"), (marks.coda, "coda")] {
                if set && measure.begins {
                    let glyph = Glyph::named(glyph);
                    let width = glyph.width() * 800 / 1000;
                    let y = self.top_between(x, x + width).min(-SPACE / 2) - 200;
                    self.add(index, None, Item::scaled_glyph(glyph, x, y, 800, Role::Text));
                    x += width + 150;
                }
            }
            let mut words = Vec::new();
            if let Some(times) = marks.repeat_end.filter(|&times| times != 2) {
                words.push(format!("{times} times"));
            }
            words.extend(self.score.bars[measure.bar].jumps.iter().map(|word| (*word).to_owned()));
            if words.is_empty() || !measure.ends {
                continue;
            }
            let text = words.join(", ");
            let right = self.end_of(index) - 20;
            let width = Face::Italic.width(&text, JUMP_SIZE);
            let y = self.top_between(right - width, right).min(-SPACE / 2) - 180;
            self.add(
                index,
                None,
                Item::text(text, (right, y), Anchor::End, Face::Italic, JUMP_SIZE, Role::Text),
            );
        }
    }
}
