//! Draws the words under a line: syllables, hyphens, the lines after held syllables, and the numbers of verses.

use super::{Carry, Drawer, Spot};
use crate::sheet::{
    columns::{self, HEAD_MIDDLE, WORD_SIZE},
    draw::{Anchor, Item, Role},
    text::Face,
};

/// The distance between lines of words.
const WORD_STEP: i32 = 570;

impl<'a> Drawer<'a> {
    pub(super) fn words(&mut self, top: i32, carry: &mut Carry) {
        let verses = usize::from(self.score.verses);
        carry.held.resize(verses, false);
        for verse in 0..verses {
            let y = top + verse as i32 * WORD_STEP;
            let spots = self.spots.clone();
            let last_sung = self.score.last_sung[verse];
            let of = |spot: &Spot<'a>| {
                let lyrics = &spot.note?.lyrics;
                lyrics.iter().find(|lyric| usize::from(lyric.verse) == verse + 1 && !lyric.text.is_empty())
            };
            if self.score.verses > 1 && spots.iter().any(|spot| of(spot).is_some()) {
                let number = format!("{}.", verse + 1);
                self.group.push(Item::text(
                    number,
                    (0, y),
                    Anchor::Start,
                    Face::Regular,
                    WORD_SIZE,
                    Role::Faint,
                ));
            }
            // A syllable that is held over from the previous line.
            let mut held_from = carry.held[verse].then_some((self.line.start - 100, 0));
            for (index, spot) in spots.iter().enumerate() {
                let Some(lyric) = of(spot) else { continue };
                self.extend(held_from.take(), &spots[..index], y);
                let note = spot.note.map(|note| note.note);
                let (start, width) = columns::word_place(&lyric.text, lyric.extend);
                let (left, right) = (spot.x + start, spot.x + start + width);
                let item = Item::text(
                    lyric.text.clone(),
                    (left, y),
                    Anchor::Start,
                    Face::Regular,
                    WORD_SIZE,
                    Role::Text,
                );
                self.add_quietly(spot.measure, note, item);
                let next = spots[index + 1..].iter().find_map(|next| {
                    let lyric = of(next)?;
                    Some(next.x + columns::word_place(&lyric.text, lyric.extend).0)
                });
                if lyric.hyphen {
                    self.hyphens(spot.measure, right, next, y);
                } else if let (true, Some((_, next))) =
                    (lyric.extend, last_sung.filter(|last| Some(last.0) == note))
                {
                    let before = |spot: &&Spot| spot.note.is_none_or(|note| note.note < next);
                    let held = spots[index..].iter().take_while(before).count();
                    self.extend(Some((right + 50, index)), &spots[..index + held], y);
                } else if lyric.extend {
                    held_from = Some((right + 50, index));
                }
            }
            let last_held = held_from.is_some();
            self.extend(held_from, &spots, y);
            let sings = spots.iter().rev().any(|spot| of(spot).is_some());
            carry.held[verse] = if sings { last_held } else { carry.held[verse] };
        }
    }

    fn hyphens(&mut self, measure: usize, from: i32, to: Option<i32>, y: i32) {
        const WIDTH: i32 = 150;
        let to = to.unwrap_or((from + 500).min(self.line.end));
        let room = to - from;
        if room < WIDTH + 40 {
            return;
        }
        let count = (room / 2400).max(1);
        for index in 0..count {
            let middle = from + room * (2 * index + 1) / (2 * count);
            let y = y - WORD_SIZE / 4;
            let item = Item::line((middle - WIDTH / 2, y), (middle + WIDTH / 2, y), 35, Role::Text);
            self.add_quietly(measure, None, item);
        }
    }

    /// Draws the line after a held syllable, up to the last of the given notes.
    fn extend(&mut self, held: Option<(i32, usize)>, spots: &[Spot], y: i32) {
        let Some((from, index)) = held else { return };
        let last = spots.get(index..).unwrap_or_default().iter().rev().find(|spot| spot.note.is_some());
        let Some(last) = last else { return };
        let to = last.x + 2 * HEAD_MIDDLE;
        if to - from > 150 {
            let item = Item::line((from, y - 10), (to, y - 10), 24, Role::Text);
            self.add_quietly(last.measure, None, item);
        }
    }
}
