//! The draft of a score. Each element has a bar and an offset in that bar, because the time at which a bar starts is
//! known only after all parts are read.

use crate::{
    import::{Oddity, TextPosition},
    melody::{BarMarks, ChordSymbol, Note, Written, key::Mode},
    time::{Beats, Meter},
};

/// A point in the score before its bars are laid out.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) struct Spot {
    /// The index of the bar.
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
    /// The number of notes in all parts, which is checked against the limit.
    pub(super) notes: usize,
}

impl<'a> Draft<'a> {
    /// Returns the bar with this index; adds the bar if no part has reached it before.
    pub(super) fn bar(&mut self, index: usize) -> &mut BarDraft<'a> {
        if self.bars.len() <= index {
            self.bars.resize_with(index + 1, BarDraft::default);
        }
        &mut self.bars[index]
    }
}

/// A bar as the parts describe it.
pub(super) struct BarDraft<'a> {
    /// The greatest length to which a part filled the bar.
    pub(super) filled: Beats,
    /// The least length to which a part filled the bar, among parts with content in it.
    pub(super) least_filled: Option<Beats>,
    /// The end of the last note in the bar.
    pub(super) sounding: Beats,
    /// The longest rest for a whole bar. This rest determines the bar's length only if the bar contains nothing else,
    /// because programs write the length of a full bar into the rests beside a pickup.
    pub(super) rest: Beats,
    /// The part, counted from 0, that filled the bar furthest.
    pub(super) longest_part: usize,
    /// The start and the end of the visible content in any part.
    pub(super) seen: Option<(Beats, Beats)>,
    /// Whether a rest in the bar is not printed.
    pub(super) hidden: bool,
    /// A time signature at the start of the bar: `Some(None)` for unmetered.
    pub(super) meter: Option<Option<Meter>>,
    /// A time signature inside the bar, which takes effect from the next bar.
    pub(super) later_meter: Option<Option<Meter>>,
    /// Whether the file excludes this bar from its numbering.
    pub(super) implicit: bool,
    /// The bar number in the file, which shows pickups and divided bars.
    pub(super) number: &'a str,
    /// Repeats, endings, jumps.
    pub(super) marks: BarMarks,
    /// Whether the bar has a coda sign for which the file does not say whether it marks the jump or the jump's target.
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
    /// Whether the tempo comes from a `<sound>`, which overrides a printed metronome mark at the same place.
    pub(super) sound: bool,
    pub(super) micros_per_quarter: u32,
}

/// An oddity with its place.
pub(super) struct OddityDraft {
    /// The part, counted from 0, and the spot; `None` for the whole file.
    pub(super) place: Option<(usize, Spot)>,
    pub(super) oddity: Oddity,
    /// The place in a text file, if the format has lines.
    pub(super) text: Option<TextPosition>,
}

/// One part.
#[derive(Default)]
pub(super) struct PartDraft<'a> {
    /// The notes in the order of the file. Onsets are counted from the start of the bar.
    pub(super) notes: Vec<NoteDraft>,
    /// The written forms of the notes and rests, in the order of the file.
    pub(super) written: Vec<WrittenDraft<'a>>,
    /// The voices in order of appearance: the file's name for each, and its staff.
    pub(super) voices: Vec<(&'a str, u16)>,
    pub(super) keys: Vec<(Spot, i8, Option<Mode>)>,
    pub(super) chords: Vec<(Spot, ChordSymbol)>,
    /// Whether the part has notes without a pitch.
    pub(super) unpitched: bool,
}

/// The written form of a note or rest.
pub(super) struct WrittenDraft<'a> {
    /// The index of the bar.
    pub(super) bar: usize,
    /// The file's name for the voice, and the staff.
    pub(super) voice: (&'a str, u16),
    pub(super) written: Written,
}

/// One note.
pub(super) struct NoteDraft {
    pub(super) note: Note,
    /// The index into the part's voices.
    pub(super) voice: u16,
    /// Whether the note is tied to a later note of the same pitch.
    pub(super) tie_start: bool,
    /// Whether the note continues an earlier note of the same pitch.
    pub(super) tie_stop: bool,
}

/// The entry of a part in the part list.
#[derive(Clone, Default)]
pub(super) struct PartInfo {
    pub(super) name: Option<String>,
    /// Whether all instruments of the part are on the MIDI channel for drums.
    pub(super) percussion: bool,
}

/// Returns the length of a 64th note. A smaller difference between two lengths is attributed to durations rounded to
/// whole ticks.
pub(super) fn rounding() -> Beats {
    Beats::new(1, 16)
}
