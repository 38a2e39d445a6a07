//! Numbers the voices of a part in order of appearance.

use crate::{import::draft::NoteDraft, time::Beats};

/// Gives every note the final number of its voice, and returns the number of each voice. `notes` are in order of onset;
/// `voices` lists the name and staff of each voice as the file gives them.
///
/// Some programs give one name to a voice that crosses into the other staff; other programs give one name to a separate
/// voice on each staff. Two voices with one name are therefore one voice, unless they ever sound at the same time.
pub(super) fn number(notes: &mut [NoteDraft], voices: &[(&str, u16)]) -> Vec<u16> {
    // The first voice with the same name, for each voice.
    let first: Vec<usize> = voices
        .iter()
        .map(|(name, _)| voices.iter().position(|(other, _)| other == name).unwrap_or_default())
        .collect();
    let crosses = first.iter().enumerate().any(|(index, &first)| index != first);
    let together = if crosses { overlapping(notes, &first) } else { vec![true; first.len()] };
    let mut numbers: Vec<u16> = Vec::with_capacity(voices.len());
    let mut next = 0;
    for (index, &first) in first.iter().enumerate() {
        if first < index && !together[first] {
            numbers.push(numbers[first]);
        } else {
            numbers.push(next);
            next += 1;
        }
    }
    for note in notes {
        note.voice = numbers[usize::from(note.voice)];
    }
    numbers
}

/// Returns, for the first voice of each name, whether voices with that name on two staves ever sound together.
fn overlapping(notes: &[NoteDraft], first: &[usize]) -> Vec<bool> {
    let mut together = vec![false; first.len()];
    // For each name: the voice whose note ends last, the time of that end, and the latest end among the other voices
    // with this name.
    let mut sounding: Vec<(usize, Beats, Beats)> = vec![(usize::MAX, Beats::ZERO, Beats::ZERO); first.len()];
    for draft in notes.iter().filter(|draft| !draft.note.grace) {
        let voice = usize::from(draft.voice);
        let name = first[voice];
        let (holder, until, others) = &mut sounding[name];
        let busy = if *holder == voice { *others } else { *until };
        together[name] |= busy > draft.note.onset;
        if draft.note.end() > *until {
            if *holder != voice {
                *others = *until;
            }
            (*holder, *until) = (voice, draft.note.end());
        } else if *holder != voice {
            *others = (*others).max(draft.note.end());
        }
    }
    together
}
