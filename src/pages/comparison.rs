//! The parts of a check, the same for terminal, paper and browser. On paper and in the browser the two ways to play the tune
//! stand one above the other.

use super::{Block, Page, Tone, tab, words};
use crate::{compare, melody::Melody, search::Approach, tab::Notation};

/// A check, ready to be drawn.
#[derive(Clone, PartialEq, Debug)]
pub struct Comparison<'a> {
    /// The title of the tune.
    pub title: String,
    /// What the tune is.
    pub opening: Page,
    /// The names of the two ways, for a renderer whose sheets do not name them.
    pub question: Page,
    /// The first lines: the faults to mend.
    pub verdict: Page,
    /// The reasons.
    pub sections: Vec<Section>,
    /// The checked way, and below it the easier way if there is one; empty for the tab of another tune.
    pub sides: Vec<Side<'a>>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// A part of a check.
#[derive(Clone, PartialEq, Debug)]
pub struct Section {
    /// Its heading.
    pub title: String,
    /// Its content.
    pub page: Page,
    /// Whether it belongs on paper.
    pub on_paper: bool,
}

/// One of the two ways to play a tune. Notes and bars are given by index in the melody, in order.
#[derive(Clone, PartialEq, Debug)]
pub struct Side<'a> {
    /// Its name beside its lines: "the tab", "your choice".
    pub name: &'static str,
    /// The heading over its tab.
    pub heading: String,
    /// "C harp, 2nd position, low register, an octave up, effort 1902".
    pub playing: String,
    /// The way.
    pub approach: &'a Approach<'a>,
    /// The mended notes: wrong notes, notes that were left out, and notes after a superfluous one.
    pub mended: Vec<usize>,
    /// The notes that the two play in different holes of one harp, at another cost.
    pub differs: Vec<usize>,
    /// The bars that cost most more here than in the other.
    pub dearer: Vec<usize>,
    /// Its tab with the legend.
    pub tab: Page,
}

impl Comparison<'_> {
    /// All of it, as a page of text.
    pub fn page(&self) -> Page {
        let mut page = self.opening.clone();
        page.gap();
        page.blocks.extend(self.question.blocks.iter().chain(&self.verdict.blocks).cloned());
        let tabs = self.sides.iter().map(|side| (&side.heading, &side.tab));
        for (title, section) in
            self.sections.iter().map(|section| (&section.title, &section.page)).chain(tabs)
        {
            page.heading(Tone::Strong.of(title));
            page.blocks.extend(section.blocks.iter().cloned());
        }
        page
    }

    /// Names the two lines: "Upper line, the tab: C harp, 1st position, …".
    pub fn ways(&self) -> Vec<String> {
        match self.sides.as_slice() {
            [above, below] => [("Upper", above), ("Lower", below)]
                .map(|(place, side)| format!("{place} line, {}: {}", side.name, side.playing))
                .to_vec(),
            sides => sides
                .iter()
                .map(|side| words::sentence(&format!("{}: {}", side.name, side.playing)))
                .collect(),
        }
    }
}

impl<'a> Side<'a> {
    /// A way without marks.
    pub(super) fn new(name: &'static str, heading: String, approach: &'a Approach<'a>) -> Side<'a> {
        let mut parts = vec![words::playing(approach)];
        if approach.octave != 0 {
            parts.push(words::octave(approach.octave));
        }
        parts.push(format!("effort {}", approach.playing.effort.total()));
        let playing = parts.join(", ");
        let (mended, differs, dearer) = (Vec::new(), Vec::new(), Vec::new());
        Side { name, heading, playing, approach, mended, differs, dearer, tab: Page::default() }
    }

    /// Adds the tab as text, with a star over the marked notes and the meaning of the star.
    pub(super) fn with_tab(
        mut self,
        melody: &Melody,
        notation: Notation,
        (starred, meaning): (&[usize], &str),
    ) -> Side<'a> {
        let mut sheet = tab::sheet(melody, self.approach, notation);
        let notes = sheet.bars.iter_mut().flat_map(|bar| &mut bar.notes);
        for (index, note) in notes.enumerate() {
            note.changed = starred.binary_search(&index).is_ok();
        }
        self.tab.blocks.push(Block::Tab(sheet));
        self.tab.gap();
        if !starred.is_empty() {
            self.tab.text(format!("* over a note: {meaning}."));
        }
        for line in tab::legend(melody, self.approach, notation) {
            self.tab.text(line);
        }
        self
    }

    /// Marks the few bars that exceed their cost in the other way by most.
    pub(super) fn against(mut self, melody: &Melody, other: &Approach) -> Side<'a> {
        /// More bars are too many to work on.
        const MOST: usize = 4;
        let efforts = |row: &Approach| compare::bar_efforts(melody, &row.playing);
        let (ours, theirs) = (efforts(self.approach), efforts(other));
        let more = |&bar: &usize| ours[bar].saturating_sub(theirs[bar]);
        let mut dearest: Vec<usize> = (0..ours.len()).filter(|bar| more(bar) > 0).collect();
        dearest.sort_by_key(|bar| (std::cmp::Reverse(more(bar)), *bar));
        dearest.truncate(MOST);
        let whole = compare::whole_bars(melody);
        self.dearer = (0..whole.len()).filter(|&bar| dearest.contains(&whole[bar])).collect();
        self
    }
}
