//! Parts in, one melody out, with the reason for the part that was taken.

use super::{Format, ImportError, ImportOptions, Imported, Score};

/// Which part became the melody.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Choice {
    /// The part's number, counted from 1.
    pub part: usize,
    /// Why this one.
    pub reason: ChoiceReason,
}

/// Why a part was taken for the melody.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum ChoiceReason {
    /// There is only one with notes.
    OnlyPart,
    /// The user named it.
    Asked,
}

/// Chooses a part and reduces it to one note at a time.
pub(super) fn melody(score: Score, format: Format, options: &ImportOptions) -> Result<Imported, ImportError> {
    let _ = (score, format, options);
    Err(ImportError::NoNotes)
}
