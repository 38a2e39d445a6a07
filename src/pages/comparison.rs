//! The parts of a check's answer for the terminal, for paper and for the browser. If a check has two ways to play the
//! tune, paper and browser show them one above the other.

use super::{Block, Page, Tone, tab, words};
use crate::{compare, melody::Melody, search::Approach, tab::Notation};

/// A check, ready to be drawn.
#[derive(Clone, PartialEq, Debug)]
pub struct Comparison<'a> {
    /// The title of the tune.
    pub title: String,
    /// The tune, its key and the oddities of its file.
    pub opening: Page,
    /// The ways that are compared, for answers without a sheet that names them. Empty for a tab.
    pub question: Page,
    /// The result, with the changes that the player should make.
    pub verdict: Page,
    /// The reasons.
    pub sections: Vec<Section>,
    /// The way that was checked and, if it differs, the way with which it is compared. Empty for a tab of another tune.
    pub sides: Vec<Side<'a>>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// A section of the reasons.
#[derive(Clone, PartialEq, Debug)]
pub struct Section {
    /// The heading.
    pub title: String,
    /// The text.
    pub page: Page,
    /// Whether the section also appears on paper.
    pub on_paper: bool,
}

/// One of the ways to play a tune, a line of the sheet. Notes and bars are indices in the melody, in order.
#[derive(Clone, PartialEq, Debug)]
pub struct Side<'a> {
    /// The name beside the lines of this way: "the tab", "your choice", "with draw bends".
    pub name: &'static str,
    /// The heading over the tab of this way.
    pub heading: String,
    /// "C harp, 2nd position, low register, an octave up, effort 1902".
    pub playing: String,
    /// The approach.
    pub approach: &'a Approach<'a>,
    /// The notes at which the tab was corrected: wrong notes, notes left out, and each note before which the tab has a
    /// note too many.
    pub mended: Vec<usize>,
    /// The notes that are framed. On the sheet of a check, the two ways play them in different holes at different
    /// costs; on a sheet of levels, the line above plays them with another action.
    pub differs: Vec<usize>,
    /// The bars that are shaded: those that cost most in this way, compared with the other way, or the hardest bars of
    /// a level.
    pub dearer: Vec<usize>,
    /// The tab of this way with its legend; empty on a sheet of levels.
    pub tab: Page,
}

impl Comparison<'_> {
    /// Returns the whole check as a page of text.
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

    /// Returns a description of each way: "Upper line, the tab: C harp, 1st position, …". A single way has no line to
    /// name.
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
    /// Returns a way with no marks yet.
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

    /// Adds the tab as text with its legend. A star marks the given notes, and a plus marks each note that follows a
    /// note too many.
    pub(super) fn with_tab(
        mut self,
        melody: &Melody,
        notation: Notation,
        (starred, meaning): (&[usize], &str),
        after_added: &[usize],
    ) -> Side<'a> {
        let mut sheet = tab::sheet(melody, self.approach, notation);
        let notes = sheet.bars.iter_mut().flat_map(|bar| &mut bar.notes);
        for (index, note) in notes.enumerate() {
            note.changed = starred.binary_search(&index).is_ok();
            note.added_before = after_added.binary_search(&index).is_ok();
        }
        self.tab.blocks.push(Block::Tab(sheet));
        self.tab.gap();
        if !starred.is_empty() {
            self.tab.text(format!("* over a note: {meaning}."));
        }
        if !after_added.is_empty() {
            self.tab.text("+ before a note: the tab that was checked has a note too many there.");
        }
        for line in tab::legend(melody, self.approach, notation) {
            self.tab.text(line);
        }
        self
    }

    /// Marks the bars whose cost exceeds their cost in the other way by the most.
    pub(super) fn against(mut self, melody: &Melody, other: &Approach) -> Side<'a> {
        /// The most bars that a player can practise at a time.
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
