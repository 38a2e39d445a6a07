//! What has been read so far, placed by bar and position in the bar: where bars start is known only when every
//! part has said how long they are.

use crate::{
    import::Oddity,
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

/// What all parts share.
#[derive(Default)]
pub(super) struct Draft<'a> {
    pub(super) bars: Vec<BarDraft<'a>>,
    /// How many bars there are; a mark behind the last one can make one too many.
    pub(super) count: usize,
    pub(super) tempi: Vec<TempoDraft>,
    pub(super) oddities: Vec<OddityDraft>,
    /// Notes of all parts, against the limit.
    pub(super) notes: usize,
}

impl<'a> Draft<'a> {
    /// The bar of that index, made if no part came so far before.
    pub(super) fn bar(&mut self, index: usize) -> &mut BarDraft<'a> {
        if self.bars.len() <= index {
            self.bars.resize_with(index + 1, BarDraft::default);
        }
        &mut self.bars[index]
    }
}

/// A bar as the parts describe it.
pub(super) struct BarDraft<'a> {
    /// The longest that a part filled it.
    pub(super) filled: Beats,
    /// The least that a part filled it, of those that have anything in it.
    pub(super) least_filled: Option<Beats>,
    /// The end of the last note in it.
    pub(super) sounding: Beats,
    /// The longest rest for a whole bar: it decides only when nothing else is in the bar, because programs write
    /// the length of a full bar into the rests beside a pickup.
    pub(super) rest: Beats,
    /// The part (from 0) that filled it most.
    pub(super) longest_part: usize,
    /// From where to where something is to be seen, in any part.
    pub(super) seen: Option<(Beats, Beats)>,
    /// Some rest in it is not printed.
    pub(super) hidden: bool,
    /// A time signature at its start: `Some(None)` for unmetered.
    pub(super) meter: Option<Option<Meter>>,
    /// A time signature inside it, which holds from the next bar on.
    pub(super) later_meter: Option<Option<Meter>>,
    /// The file says that this bar is not counted.
    pub(super) implicit: bool,
    /// The file's own number, a mere token.
    pub(super) number: &'a str,
    /// Repeats, endings, jumps.
    pub(super) marks: BarMarks,
    /// A coda sign that does not say whether it is the place to leave or the place to go to.
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
    /// From a `<sound>`, which wins over a printed metronome mark at the same place.
    pub(super) sound: bool,
    pub(super) micros_per_quarter: u32,
}

/// An oddity with its place.
pub(super) struct OddityDraft {
    /// The part, from 0, and the spot; `None` for the whole file.
    pub(super) place: Option<(usize, Spot)>,
    pub(super) oddity: Oddity,
}

/// One part.
#[derive(Default)]
pub(super) struct PartDraft<'a> {
    /// Its notes in order of the file. Their onsets are counted from the start of their bar.
    pub(super) notes: Vec<NoteDraft>,
    /// How they and the rests between them are written, in order of the file.
    pub(super) written: Vec<WrittenDraft<'a>>,
    /// Its voices in order of appearance: the file's name for it and the staff.
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
    /// It is tied to a later note of the same pitch.
    pub(super) tie_start: bool,
    /// It continues an earlier note of the same pitch.
    pub(super) tie_stop: bool,
}
