//! Merges tied notes into one note each.

use crate::{
    import::{
        Oddity,
        draft::{NoteDraft, OddityDraft, Spot},
    },
    melody::{Bar, Note},
    time::Beats,
};

/// Returns the largest gap between two halves of a tie that are both marked as tied: durations in coarse ticks do not
/// always fill their bar.
fn gap() -> Beats {
    Beats::new(1, 8)
}

/// The largest number of notes of one pitch that may wait for their second half at once. The limit is needed because
/// each later note is compared with all waiting notes.
const MAX_WAITING: usize = 64;

/// A note that waits for its second half.
struct Open {
    /// The note's index among the notes that are kept.
    index: usize,
    /// The time at which its second half must start.
    end: Beats,
    voice: u16,
}

/// Merges tied notes; `notes` are in order of onset, counted from the start of the score.
///
/// The halves are matched by pitch and time, not by their order in the file, because a file may write the end of a tie
/// before its start. A candidate in the same voice is preferred. A note records that a half is missing, because the
/// other half may be elsewhere: a tie into a second ending begins before the first ending.
pub(super) fn merge(
    notes: Vec<NoteDraft>,
    part: usize,
    bars: &[Bar],
    oddities: &mut Vec<OddityDraft>,
) -> Vec<NoteDraft> {
    if !notes.iter().any(|note| note.tie_start || note.tie_stop) {
        return notes;
    }
    let mut open: [Vec<Open>; 128] = std::array::from_fn(|_| Vec::new());
    let mut kept: Vec<NoteDraft> = Vec::with_capacity(notes.len());
    let mut unfinished: Vec<usize> = Vec::new();
    let mut unbegun: Vec<usize> = Vec::new();
    for draft in notes {
        let note = &draft.note;
        let waiting = &mut open[usize::from(note.pitch.midi())];
        // A waiting note that ended too long before this onset can no longer be continued.
        waiting.retain(|open| {
            let alive = open.end + gap() >= note.onset;
            if !alive {
                unfinished.push(open.index);
            }
            alive
        });
        let found = if note.grace && !draft.tie_stop { None } else { continued(waiting, &draft) };
        match found {
            Some(found) => {
                let Open { index, .. } = waiting.swap_remove(found);
                let first: &mut NoteDraft = &mut kept[index];
                let end = draft.note.end();
                // An ornament tied to its main note becomes one note, at the time of the main note.
                if first.note.grace {
                    (first.note.onset, first.note.bar) = (draft.note.onset, draft.note.bar);
                    first.note.grace = draft.note.grace;
                }
                first.note.duration = (end - first.note.onset).max(first.note.duration);
                first.note.breath_after |= draft.note.breath_after;
                first.note.signs.tied_to(draft.note.signs);
                for lyric in draft.note.lyrics {
                    first.note.add_lyric(lyric);
                }
                if draft.tie_start {
                    waiting.push(Open { index, end, voice: draft.voice });
                }
            }
            None => {
                if draft.tie_stop {
                    unbegun.push(kept.len());
                }
                if draft.tie_start && waiting.len() == MAX_WAITING {
                    unfinished.push(kept.len());
                } else if draft.tie_start {
                    let (index, end) = (kept.len(), note.end());
                    waiting.push(Open { index, end, voice: draft.voice });
                }
                kept.push(draft);
            }
        }
    }
    unfinished.extend(open.iter().flatten().map(|open| open.index));
    for &index in &unbegun {
        kept[index].note.tie_in = true;
    }
    for &index in &unfinished {
        kept[index].note.tie_out = true;
    }
    let mut missing: Vec<usize> = unbegun;
    missing.retain(|&index| !comes_from_elsewhere(&kept[index].note, bars));
    missing.extend(unfinished.iter().filter(|&&index| !leads_elsewhere(&kept[index].note, bars)));
    missing.sort_unstable();
    missing.dedup();
    for index in missing {
        let note = &kept[index].note;
        // This offset counts from the start of the score, as the caller expects.
        let spot = Spot { bar: note.bar, offset: note.onset };
        oddities.push(OddityDraft { place: Some((part, spot)), oddity: Oddity::UnfinishedTie, text: None });
    }
    kept
}

/// Whether the music can reach a note from a bar other than the previous one: at the start of an ending or a repeat, or
/// at the target of a jump.
fn comes_from_elsewhere(note: &Note, bars: &[Bar]) -> bool {
    let Some(before) = note.bar.checked_sub(1).map(|before| &bars[before].marks) else { return false };
    let bar = &bars[note.bar];
    let marks = &bar.marks;
    let is_ending =
        !marks.ending.is_empty() && (marks.ending != before.ending || before.repeat_end.is_some());
    note.onset == bar.start && (is_ending || marks.repeat_start || marks.segno || marks.coda)
}

/// Whether the music can continue after a note in a bar other than the next: at the end of a repeat, or before a jump.
fn leads_elsewhere(note: &Note, bars: &[Bar]) -> bool {
    let last = bars.partition_point(|bar| bar.start < note.end()).saturating_sub(1);
    let Some(bar) = bars.get(last) else { return false };
    let marks = &bar.marks;
    let leads = marks.repeat_end.is_some() || marks.da_capo || marks.dal_segno || marks.to_coda;
    note.end() == bar.start + bar.length && leads
}

/// Returns the index of the waiting note that this note continues.
fn continued(waiting: &[Open], draft: &NoteDraft) -> Option<usize> {
    let onset = draft.note.onset;
    let same_voice = |open: &&(usize, &Open)| open.1.voice == draft.voice;
    let adjacent = |open: &Open| open.end == onset;
    let close = |open: &Open| open.end < onset + gap() && onset < open.end + gap();
    let candidates = || waiting.iter().enumerate();
    let exact: Vec<(usize, &Open)> = candidates().filter(|(_, open)| adjacent(open)).collect();
    if let Some((index, _)) = exact.iter().find(same_voice) {
        return Some(*index);
    }
    // A note that is not marked as the end of a tie continues only a tie in its own voice.
    if !draft.tie_stop {
        return None;
    }
    exact.first().map(|(index, _)| *index).or_else(|| {
        let near = candidates().filter(|(_, open)| close(open));
        near.min_by_key(|(_, open)| open.voice != draft.voice).map(|(index, _)| index)
    })
}
