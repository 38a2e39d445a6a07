//! Where a phrase ends and a breath can be taken.

use super::Melody;

/// Whether a strain ends after this note: a repeat, an ending, a double bar or a "fine" lies between it and
/// the next.
pub(super) fn ends_section(melody: &Melody, note: usize) -> bool {
    let Some(next) = melody.notes.get(note + 1) else { return true };
    let here = melody.notes[note].bar;
    let passed = melody.bars.get(here..next.bar).unwrap_or_default();
    let ends = |bar: &super::Bar| {
        let marks = &bar.marks;
        marks.section_end || marks.repeat_end.is_some() || marks.fine || marks.da_capo || marks.dal_segno
    };
    let starts = |bar: &super::Bar| bar.marks.repeat_start;
    next.bar != here && (passed.iter().any(ends) || melody.bars.get(next.bar).is_some_and(starts))
}

/// The end of a phrase.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PhraseEnd {
    /// Index of the phrase's last note in [`Melody::notes`].
    pub note: usize,
    /// How clear the end is, 0 to 100.
    pub strength: u8,
    /// What speaks for it, the strongest first; empty where only the length of the phrase does.
    pub why: Vec<Sign>,
}

/// What marks the end of a phrase.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Sign {
    /// The tune is over.
    End,
    /// A rest follows.
    Rest,
    /// The note is longer than its neighbours.
    LongNote,
    /// A breath mark or the end of a slur.
    Breath,
    /// A repeat, an ending or a double barline.
    Section,
    /// The words come to a comma, a full stop or a capital letter.
    Words,
    /// The phrase fills a round number of bars.
    Bars,
}

/// The phrase ends of a melody, in order; the last note always ends a phrase.
pub fn ends(melody: &Melody) -> Vec<PhraseEnd> {
    let last = melody.notes.len().checked_sub(1);
    last.map(|note| PhraseEnd { note, strength: 100, why: vec![Sign::End] }).into_iter().collect()
}
