//! Signs of expression at a note: slurs and fermatas.

use super::Note;

/// The signs at a note, as the file writes them.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub struct Signs {
    /// The number of slurs that begin at the note.
    pub slurs_begin: u8,
    /// The number of slurs that end at the note.
    pub slurs_end: u8,
    /// Whether the note has a fermata.
    pub fermata: bool,
}

impl Signs {
    /// Adds the signs of the note that a tie joins to this one.
    pub(crate) fn tied_to(&mut self, next: Signs) {
        self.slurs_begin = self.slurs_begin.saturating_add(next.slurs_begin);
        self.slurs_end = self.slurs_end.saturating_add(next.slurs_end);
        self.fermata |= next.fermata;
    }

    /// Adds the signs of a note of the same chord, because they belong to the whole chord.
    pub(crate) fn shared_with(&mut self, other: Signs) {
        self.slurs_begin = self.slurs_begin.max(other.slurs_begin);
        self.slurs_end = self.slurs_end.max(other.slurs_end);
        self.fermata |= other.fermata;
    }
}

/// The largest number of slurs that may be open at once. MusicXML before 4.0 had six numbers for slurs (from memory).
const MOST_OPEN: usize = 6;

/// Returns the slurs of a melody, each as the indices of its first and its last note, in the order of their ends.
///
/// The end of a slur closes the latest slur that is open before its note. A beginning or an end without its partner
/// makes no slur; it may occur at the edge of a repeat, or where the melody left a voice.
pub fn slurs(notes: &[Note]) -> Vec<(usize, usize)> {
    let mut slurs = Vec::new();
    read(notes, |first, last, _| slurs.push((first, last)));
    slurs.dedup();
    slurs
}

/// Returns, for each note, whether a breath fits after it: because of a breath mark, or because the last open slur ends
/// there. A slur that begins or ends on a grace note belongs to an ornament and gives no place to breathe.
pub fn places_to_breathe(notes: &[Note]) -> Vec<bool> {
    let mut places: Vec<bool> = notes.iter().map(|note| note.breath_after).collect();
    read(notes, |first, last, is_last| {
        places[last] |= is_last && !notes[first].grace && !notes[last].grace;
    });
    places
}

/// Calls `slur` for each slur with its first note, its last note, and whether no slur is open after it.
fn read(notes: &[Note], mut slur: impl FnMut(usize, usize, bool)) {
    let mut open: Vec<usize> = Vec::new();
    for (index, note) in notes.iter().enumerate() {
        // An end without an open slur pairs with a beginning at the same note: a slur over a single note. (The two may
        // also be the end of a lost slur and the beginning of a new one, which cannot be distinguished.)
        let alone = usize::from(note.signs.slurs_end).saturating_sub(open.len());
        let begin = usize::from(note.signs.slurs_begin).saturating_sub(alone);
        for _ in 0..note.signs.slurs_end {
            let Some(first) = open.pop() else { break };
            slur(first, index, open.is_empty() && begin == 0);
        }
        let room = MOST_OPEN - open.len();
        open.extend((0..begin).map(|_| index).take(room));
    }
}

/// Keeps at each note only the beginnings and ends that form a slur. A slur to a grace note is extended to its main
/// note; of several slurs among one main note and its grace notes, the first is kept.
pub(crate) fn keep_whole_slurs(notes: &mut [Note]) {
    let slurs = slurs(notes);
    for note in &mut *notes {
        (note.signs.slurs_begin, note.signs.slurs_end) = (0, 0);
    }
    let mut main: Vec<usize> = (0..notes.len()).collect();
    for index in (1..notes.len()).rev().filter(|&index| notes[index - 1].grace) {
        main[index - 1] = main[index];
    }
    let mut kept = None;
    for (first, last) in slurs.into_iter().map(|(first, last)| (first, main[last])) {
        let is_ornament = notes[first].grace && main[first] == last;
        if first == last || is_ornament && kept.replace(last) == Some(last) {
            continue;
        }
        notes[first].signs.slurs_begin += 1;
        notes[last].signs.slurs_end += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{pitch::Pitch, time::Beats};

    /// Makes notes from the number of slurs that begin and end at each.
    fn notes(signs: &[(u8, u8)]) -> Vec<Note> {
        let note = |&(slurs_begin, slurs_end): &(u8, u8)| Note {
            signs: Signs { slurs_begin, slurs_end, fermata: false },
            ..Note::new(Beats::ZERO, Beats::quarters(1), Pitch::MIDDLE_C, 0)
        };
        signs.iter().map(note).collect()
    }

    #[test]
    fn slurs_may_be_nested_and_may_share_a_note() {
        // From the ABC standard 2.1, 4.11: (c (d e f) g a) and (c d (e) f g a).
        let nested = notes(&[(1, 0), (1, 0), (0, 0), (0, 1), (0, 0), (0, 1)]);
        assert_eq!(slurs(&nested), [(1, 3), (0, 5)]);
        let shared = notes(&[(1, 0), (0, 0), (1, 1), (0, 0), (0, 0), (0, 1)]);
        assert_eq!(slurs(&shared), [(0, 2), (2, 5)]);
    }

    #[test]
    fn half_a_slur_is_none() {
        assert!(slurs(&notes(&[(0, 1), (0, 0), (1, 0)])).is_empty());
        assert!(slurs(&notes(&[(1, 1), (0, 1)])).is_empty());
    }

    #[test]
    fn a_breath_follows_the_last_open_slur_only() {
        // In (c d (e)) the inner slur is over a single note.
        assert_eq!(places_to_breathe(&notes(&[(1, 0), (0, 0), (1, 2)])), [false, false, true]);
        assert_eq!(places_to_breathe(&notes(&[(1, 0), (1, 1), (0, 1)])), [false, false, true]);
    }

    #[test]
    fn any_number_of_slurred_grace_notes_is_kept_as_one_slur() {
        let mut run = notes(&[(1, 0), (0, 1)].repeat(300));
        run.iter_mut().for_each(|note| note.grace = true);
        run.extend(notes(&[(0, 0)]));
        keep_whole_slurs(&mut run);
        assert_eq!(slurs(&run), [(0, 600)]);
        assert_eq!((run[0].signs.slurs_begin, run[600].signs.slurs_end), (1, 1));
    }
}
