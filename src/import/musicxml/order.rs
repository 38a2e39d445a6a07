//! Reads barlines, repeats, endings and jumps, and marks the order of playing in the bars.

use roxmltree::Node;

use super::value::{is, text, whole, yes};
use crate::import::{Oddity, draft::Draft};

/// The largest number of numbers on one ending bracket.
const MAX_ENDINGS: usize = 32;

/// The ending brackets of one part.
#[derive(Default)]
pub(super) struct Order {
    /// The open bracket: its first bar and its numbers.
    open: Option<(usize, Vec<u8>)>,
    /// The last bar of the strain in which the open bracket begins: the bar before the next double bar or start of a
    /// repeat.
    strain_end: Option<usize>,
    /// The highest number on the previous bracket; a bracket without a number gets the next number.
    last: u8,
}

impl Order {
    /// Reads a `<barline>`; returns its oddities.
    pub(super) fn barline(
        &mut self,
        node: Node<'_, '_>,
        bar: usize,
        at_start: bool,
        draft: &mut Draft<'_>,
    ) -> Vec<Oddity> {
        let mut odd = Vec::new();
        let left = match node.attribute("location") {
            Some("left") => true,
            Some("middle") => {
                // Bars are the smallest unit of the order of playing, so a repeat inside a bar moves to the bar's end,
                // or to its start if no note or rest comes before.
                if node.children().any(|child| is(child, "repeat") || is(child, "ending")) {
                    odd.push(Oddity::MidBarline);
                }
                at_start
            }
            _ => false,
        };
        let (before, after) = if left { (bar.checked_sub(1), bar) } else { (Some(bar), bar + 1) };
        let (mut style, mut repeats) = ("", false);
        for child in node.children() {
            match child.tag_name().name() {
                "bar-style" => style = text(child),
                "repeat" => {
                    repeats = true;
                    odd.extend(self.repeat(child, before, after, draft));
                }
                "ending" => self.ending(child, before, after, draft),
                "segno" => draft.bar(after).marks.segno = true,
                "coda" => draft.bar(if left { after } else { bar }).coda_sign = true,
                _ => {}
            }
        }
        // The attributes `segno` and `coda` mark the target of a jump.
        if node.has_attribute("segno") {
            draft.bar(after).marks.segno = true;
        }
        if node.has_attribute("coda") {
            draft.bar(after).marks.coda = true;
        }
        let double = matches!(style, "light-light" | "light-heavy" | "heavy-heavy" | "heavy-light");
        if double
            && !repeats
            && let Some(before) = before
        {
            draft.bar(before).marks.section_end = true;
            self.end_strain(before);
        }
        odd
    }

    fn repeat(
        &mut self,
        node: Node<'_, '_>,
        before: Option<usize>,
        after: usize,
        draft: &mut Draft<'_>,
    ) -> Option<Oddity> {
        match (node.attribute("direction"), before) {
            (Some("forward"), _) => {
                draft.bar(after).marks.repeat_start = true;
                if let Some(before) = before {
                    self.end_strain(before);
                }
                None
            }
            (Some("backward"), Some(before)) => {
                let times = node.attribute("times").and_then(whole::<u8>).filter(|&times| times > 0);
                let marks = &mut draft.bar(before).marks;
                marks.repeat_end = Some(times.unwrap_or(2));
                marks.repeat_after_jump |= yes(node, "after-jump");
                // A bracket never continues after a repeat.
                self.close_unmarked(before, draft);
                None
            }
            // The repeat has no bar before it, or states no direction.
            _ => Some(Oddity::Unreadable { what: "a repeat".into() }),
        }
    }

    fn ending(&mut self, node: Node<'_, '_>, before: Option<usize>, after: usize, draft: &mut Draft<'_>) {
        let begins = node.attribute("type") == Some("start");
        match before {
            Some(before) if begins => self.close_unmarked(before, draft),
            Some(before) => self.close(before, draft),
            None => {}
        }
        if !begins {
            return;
        }
        let written = node.attribute("number").unwrap_or_default();
        let mut numbers: Vec<u8> = written
            .split(|c: char| !c.is_ascii_digit())
            .filter_map(|number| number.parse().ok())
            .take(MAX_ENDINGS)
            .collect();
        if numbers.is_empty() {
            numbers.push(self.last.saturating_add(1));
        }
        self.last = numbers.iter().copied().max().unwrap_or(0);
        self.open = Some((after, numbers));
    }

    /// Remembers that a strain ends with the bar `last`, in case the file never closes the open bracket.
    fn end_strain(&mut self, last: usize) {
        if self.open.as_ref().is_some_and(|(first, _)| *first <= last) {
            self.strain_end.get_or_insert(last);
        }
    }

    /// Ends the open bracket, if there is one, with the bar `last`.
    fn close(&mut self, last: usize, draft: &mut Draft<'_>) {
        self.strain_end = None;
        if let Some((first, numbers)) = self.open.take() {
            for bar in first..=last {
                draft.bar(bar).marks.ending.clone_from(&numbers);
            }
        }
    }

    /// Ends a bracket that the file does not close: with its strain, or at the latest with the bar `last`.
    fn close_unmarked(&mut self, last: usize, draft: &mut Draft<'_>) {
        let last = self.strain_end.unwrap_or(last);
        self.close(last, draft);
    }

    /// Ends the part; returns the first bar of a bracket that neither the file nor a barline closes.
    pub(super) fn finish(&mut self, last: usize, draft: &mut Draft<'_>) -> Option<usize> {
        let (first, _) = self.open.as_ref()?;
        let unclosed = (*first < last && self.strain_end.is_none()).then_some(*first);
        self.close_unmarked(last, draft);
        unclosed
    }
}
