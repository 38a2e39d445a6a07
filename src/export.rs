//! The tune as it lies on a harp, as bytes for other programs: MusicXML for notation, MIDI for the ear.
//!
//! [`arrange`] makes a [`Melody`] of what an approach plays: moved to where it sounds, in its new key, changed where it
//! was adapted. [`musicxml`] and [`midi`] write that. Both are read back by [`crate::import`] to the same melody.

pub mod midi;
pub mod musicxml;
pub mod typed;
mod xml;

use crate::{
    harp::Action,
    melody::{ChordSymbol, KeySignature, Melody, Note, key::Key, transposed_sharps},
    pitch::{Interval, Pitch, PitchClass, Spelling},
    search::Approach,
    tab::Notation,
};

/// The lowest pitch that is exported: MusicXML has no octave below that of C0, and no ear hears it as a note.
const LOWEST: u8 = 12;

/// A tune arranged for a harp.
#[derive(Clone, PartialEq, Debug)]
pub struct Arrangement {
    /// The tune as it sounds on the harp, with its places to breathe. Every note is spelled, there is a key signature, and
    /// the last bar ends the piece.
    pub melody: Melody,
    /// How each of its notes is played.
    pub notes: Vec<Arranged>,
    /// "C harp, 2nd position".
    pub harp: String,
}

/// How a note is played.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Arranged {
    /// The action; `None` for a note that is not on the harp.
    pub action: Option<Action>,
    /// Its tab, or its name in brackets.
    pub tab: String,
    /// Whether the tune has another note here, or has it in another octave.
    pub changed: bool,
}

/// The tune as an approach plays it. `key` is the key of the melody before it is moved.
///
/// A note that the harp does not have is kept, its tab is its name in brackets; one that was left out to adapt the tune is
/// gone. So is what lies outside the range of MIDI or below C0. With a note go the grace notes that lead to it.
pub fn arrange(melody: &Melody, key: Key, approach: &Approach, notation: Notation) -> Arrangement {
    let moves = Moves::new(melody, key, approach);
    let mut arranged = melody.clone();
    arranged.notes.clear();
    let mut notes = Vec::with_capacity(melody.notes.len());
    for (index, (note, played)) in melody.notes.iter().zip(&approach.playing.notes).enumerate() {
        let change = approach.changes.binary_search_by_key(&index, |change| change.note).ok();
        let pitch = match change {
            Some(found) => approach.changes[found].to,
            None => note.pitch.transposed(approach.shift()),
        };
        let Some(pitch) = pitch.filter(|pitch| pitch.midi() >= LOWEST) else { continue };
        let spelling = moves.spelling(note, pitch);
        let tab = match played.action {
            Some(action) => notation.write(action),
            None => format!("[{spelling}]"),
        };
        notes.push(Arranged { action: played.action, tab, changed: change.is_some() });
        arranged.notes.push(Note {
            pitch,
            spelling: Some(spelling),
            breath_after: played.breathe_after,
            ..note.clone()
        });
    }
    // Grace notes go with their main note.
    let mut stays = vec![true; notes.len()];
    for index in (0..notes.len()).rev().filter(|&index| arranged.notes[index].grace) {
        let next = arranged.notes.get(index + 1);
        stays[index] = next.is_some_and(|next| stays[index + 1] && next.onset == arranged.notes[index].onset);
    }
    let (mut of_notes, mut of_tab) = (stays.iter(), stays.iter());
    arranged.notes.retain(|_| of_notes.next() == Some(&true));
    notes.retain(|_| of_tab.next() == Some(&true));
    if let Some(last) = arranged.bars.last_mut() {
        last.marks.section_end = last.marks.repeat_end.is_none();
    }
    for chord in &mut arranged.chords {
        *chord = moves.chord(chord);
    }
    arranged.signatures = moves.signatures;
    let harp = format!("{} harp, {} position", approach.harp, approach.position);
    Arrangement { melody: arranged, notes, harp }
}

/// From the keys of the tune to those in which it sounds.
struct Moves<'a> {
    melody: &'a Melody,
    /// The sharps of the key where the tune has no signature.
    unsigned: i8,
    by: Interval,
    signatures: Vec<KeySignature>,
}

impl<'a> Moves<'a> {
    fn new(melody: &'a Melody, key: Key, approach: &Approach) -> Moves<'a> {
        let by = approach.transposed;
        let mut signatures = melody.signatures.clone();
        if signatures.is_empty() {
            let at = crate::time::Beats::ZERO;
            signatures.push(KeySignature { at, sharps: key.sharps(), mode: Some(key.mode) });
        }
        for signature in &mut signatures {
            signature.sharps = transposed_sharps(signature.sharps, by);
        }
        // Six sharps and six flats can become the same.
        signatures.dedup_by_key(|signature| (signature.sharps, signature.mode));
        Moves { melody, unsigned: key.sharps(), by, signatures }
    }

    /// The sharps before and after at a point.
    fn sharps(&self, at: crate::time::Beats) -> (i8, i8) {
        let before = self.melody.signature_at(at).map_or(self.unsigned, |signature| signature.sharps);
        (before, transposed_sharps(before, self.by))
    }

    fn spelling(&self, note: &Note, pitch: Pitch) -> Spelling {
        let (before, after) = self.sharps(note.onset);
        match note.spelling {
            Some(written) => written.moved(after - before, pitch, after),
            None => Spelling::in_key(pitch, after),
        }
    }

    /// A chord symbol by its new names; what is no note's name in it stays as it is.
    fn chord(&self, chord: &ChordSymbol) -> ChordSymbol {
        if self.by == Interval(0) {
            return chord.clone();
        }
        let (before, after) = self.sharps(chord.at);
        let moved = |name: Spelling| {
            let class = name.pitch().map_or(chord.root, Pitch::class).transposed(self.by);
            let pitch = in_the_middle(class);
            musicxml::chord::name(name.moved(after - before, pitch, after))
        };
        let root = chord.root.transposed(self.by);
        let parts = musicxml::chord::Parts::of(&chord.text);
        let name = match parts.root {
            Some(name) if name.pitch().map(Pitch::class) == Some(chord.root) => moved(name),
            _ => musicxml::chord::name(Spelling::in_key(in_the_middle(root), after)),
        };
        let bass = parts.bass.map_or_else(String::new, |bass| format!("/{}", moved(bass)));
        ChordSymbol { at: chord.at, root, text: format!("{name}{}{bass}", parts.quality) }
    }
}

/// A pitch of a class, to name it.
fn in_the_middle(class: PitchClass) -> Pitch {
    Pitch::MIDDLE_C.transposed(Interval(class.semitones().into())).unwrap_or(Pitch::MIDDLE_C)
}
