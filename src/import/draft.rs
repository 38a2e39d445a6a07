//! The draft of a score, placed by bar and position in the bar. Where bars start is known only when the lengths from
//! all parts are known.

use crate::{
    import::{Oddity, TextPosition},
    melody::{BarMarks, ChordSymbol, Note, Written, key::Mode},
    time::{Beats, Meter},
};

/// A point in the score before its bars are laid out.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) struct Spot {
    /// Index of the bar.
    pub(super) bar: usize,
    /// Quarters from the start of the bar.
    pub(super) offset: Beats,
}

/// The data that all parts share.
#[derive(Default)]
pub(super) struct Draft<'a> {
    pub(super) bars: Vec<BarDraft<'a>>,
    /// The number of bars; `bars` may have one more for a mark after the last bar.
    pub(super) count: usize,
    pub(super) tempi: Vec<TempoDraft>,
    pub(super) tempo_words: Vec<(Spot, String)>,
    pub(super) oddities: Vec<OddityDraft>,
    /// The number of notes in all parts, checked against the limit.
    pub(super) notes: usize,
}

impl<'a> Draft<'a> {
    /// Returns the bar with this index; adds it if no part has reached it before.
    pub(super) fn bar(&mut self, index: usize) -> &mut BarDraft<'a> {
        if self.bars.len() <= index {
            self.bars.resize_with(index + 1, BarDraft::default);
        }
        &mut self.bars[index]
    }
}

/// A bar as the parts describe it.
pub(super) struct BarDraft<'a> {
    /// The greatest length to which a part filled it.
    pub(super) filled: Beats,
    /// The least length to which a part filled it, among parts with content in it.
    pub(super) least_filled: Option<Beats>,
    /// The end of the last note in it.
    pub(super) sounding: Beats,
    /// The longest rest for a whole bar. It decides only if the bar contains nothing else, because programs write the
    /// length of a full bar into the rests beside a pickup.
    pub(super) rest: Beats,
    /// The part (from 0) that filled it furthest.
    pub(super) longest_part: usize,
    /// Start and end of the visible content in any part.
    pub(super) seen: Option<(Beats, Beats)>,
    /// Whether some rest in it is not printed.
    pub(super) hidden: bool,
    /// A time signature at its start: `Some(None)` for unmetered.
    pub(super) meter: Option<Option<Meter>>,
    /// A time signature inside it, which holds from the next bar on.
    pub(super) later_meter: Option<Option<Meter>>,
    /// Whether the file says that this bar is not counted.
    pub(super) implicit: bool,
    /// The file's own number, used only as a label.
    pub(super) number: &'a str,
    /// Repeats, endings, jumps.
    pub(super) marks: BarMarks,
    /// A coda sign that does not say whether it marks the jump or its target.
    pub(super) coda_sign: bool,
}

impl Default for BarDraft<'_> {
    fn default() -> Self {
        BarDraft {
            filled: Beats::ZERO,
            least_filled: None,
            sounding: Beats::ZERO,
            rest: Beats::ZERO,
            seen: None,
            hidden: false,
            longest_part: 0,
            meter: None,
            later_meter: None,
            implicit: false,
            number: "",
            marks: BarMarks::default(),
            coda_sign: false,
        }
    }
}

/// A tempo marking.
pub(super) struct TempoDraft {
    pub(super) at: Spot,
    /// Whether it comes from a `<sound>`, which wins over a printed metronome mark at the same place.
    pub(super) sound: bool,
    pub(super) micros_per_quarter: u32,
}

/// An oddity with its place.
pub(super) struct OddityDraft {
    /// The part, from 0, and the spot; `None` for the whole file.
    pub(super) place: Option<(usize, Spot)>,
    pub(super) oddity: Oddity,
    /// The place in a text file, where the format has lines.
    pub(super) text: Option<TextPosition>,
}

/// One part.
#[derive(Default)]
pub(super) struct PartDraft<'a> {
    /// Its notes in order of the file. Their onsets are counted from the start of their bar.
    pub(super) notes: Vec<NoteDraft>,
    /// How they and the rests between them are written, in order of the file.
    pub(super) written: Vec<WrittenDraft<'a>>,
    /// Its voices in order of appearance: the file's name for each, and its staff.
    pub(super) voices: Vec<(&'a str, u16)>,
    pub(super) keys: Vec<(Spot, i8, Option<Mode>)>,
    pub(super) chords: Vec<(Spot, ChordSymbol)>,
    /// Whether it has notes without a pitch.
    pub(super) unpitched: bool,
}

/// How a note or rest is written.
pub(super) struct WrittenDraft<'a> {
    /// Index of its bar.
    pub(super) bar: usize,
    /// The file's name for its voice, and the staff.
    pub(super) voice: (&'a str, u16),
    pub(super) written: Written,
}

/// One note.
pub(super) struct NoteDraft {
    pub(super) note: Note,
    /// Index into the part's voices.
    pub(super) voice: u16,
    /// Whether it is tied to a later note of the same pitch.
    pub(super) tie_start: bool,
    /// Whether it continues an earlier note of the same pitch.
    pub(super) tie_stop: bool,
}

/// A part's entry in the part list.
#[derive(Clone, Default)]
pub(super) struct PartInfo {
    pub(super) name: Option<String>,
    /// Whether all its instruments are on the MIDI channel of the drums.
    pub(super) percussion: bool,
}

/// Differences below this come from rounding durations to whole ticks: a 64th note.
pub(super) fn rounding() -> Beats {
    Beats::new(1, 16)
}
