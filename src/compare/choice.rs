//! Compares a given harp and position with the best row of the ranking.

use super::{Difference, differences, easier_bars};
use crate::{
    harp::{
        Action, Bend, Breath, Harp,
        chord::{self, Offer},
    },
    melody::{
        Melody,
        key::{Key, KeyFinding, Mode},
    },
    pitch::{Interval, Name, PitchClass},
    search::{Approach, Term, Weights, hard},
};

/// Two rows of a ranking, compared.
#[derive(Clone, PartialEq, Debug)]
#[non_exhaustive]
pub struct Choice<'a> {
    /// The row of the given harp and position.
    pub given: Approach<'a>,
    /// The row that the search found best.
    pub best: Approach<'a>,
    /// The indices of the bars in which the given row costs less, and of the bars in which the best row costs less.
    pub easier: [Vec<usize>; 2],
    /// The advantages of the given row.
    pub strengths: Vec<Strength>,
    /// The advantages of the best row.
    pub weaknesses: Vec<Strength>,
    /// The notes that the two rows play differently.
    pub differences: Vec<Difference>,
}

/// An advantage of one row over the other. `ours` is the row with the advantage.
#[derive(Clone, PartialEq, Debug)]
#[allow(missing_docs, reason = "the name of each field says which row its number belongs to")]
#[non_exhaustive]
pub enum Strength {
    /// The row plays more notes of the tune.
    Notes { ours: u32, theirs: u32 },
    /// The row has fewer bends and overbends.
    Bends { ours: u32, theirs: u32 },
    /// The row has fewer awkward changes of breath.
    Awkward { ours: u32, theirs: u32 },
    /// The row has fewer changes of breath.
    Turns { ours: u32, theirs: u32 },
    /// The row sounds lower, by `semitones`.
    Lower { semitones: u16 },
    /// The row has more of the tune's chords (or of the three main chords of its key, if the tune has no chord symbols)
    /// on neighbouring holes in one breath.
    Chords { ours: Vec<String>, theirs: Vec<String>, of_the_key: bool },
    /// The row has the flat seventh as a natural note among the holes that it plays; reported if the tune has that note
    /// or is played as blues.
    FlatSeventh { action: Action, note: PitchClass },
    /// The row is comfortable at a faster tempo, in per cent of the tune's tempo; `None` if it is comfortable at any
    /// tempo.
    Tempo { ours: Option<u32>, theirs: Option<u32> },
    /// The row costs less effort in a term.
    Term { term: Term, ours: u64, theirs: u64 },
    /// The row has more of the blue notes (flat third, fifth and seventh) as natural notes or draw bends among the
    /// holes that it plays.
    BlueNotes { ours: u32, theirs: u32 },
}

/// The data for a comparison.
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// The tune.
    pub melody: &'a Melody,
    /// The key of the tune.
    pub key: Key,
    /// The player's prices for each kind of difficulty.
    pub weights: &'a Weights,
    /// Whether bends are part of the expression, as in blues.
    pub blues: bool,
}

/// Returns the key on the tonic that a given harp and position imply, if the tune may be in that key. It may be if the
/// notes give the key a chance of at least one per cent, or if the key is major, minor, Dorian or Mixolydian and has
/// the same notes as the key that was found. The second case covers tunes that circle around their third and end on it,
/// but that a teacher hears in the key of their tonic.
pub fn key_on(finding: &KeyFinding, tonic: PitchClass) -> Option<Key> {
    let guesses = finding.others.iter().map(|guess| guess.key);
    let same_notes = [Mode::Major, Mode::Minor, Mode::Dorian, Mode::Mixolydian]
        .into_iter()
        .map(|mode| Key { tonic, mode })
        .filter(|key| key.sharps() == finding.key.sharps());
    std::iter::once(finding.key).chain(guesses).chain(same_notes).find(|key| key.tonic == tonic)
}

/// Compares a given row with the best one.
pub fn compare<'a>(question: Question, given: Approach<'a>, best: Approach<'a>) -> Choice<'a> {
    let easier = [(&given, &best), (&best, &given)]
        .map(|(ours, theirs)| easier_bars(question.melody, &ours.playing, &theirs.playing));
    let strengths = strengths(question, &given, &best);
    let weaknesses = self::strengths(question, &best, &given);
    let differences = differences(&given.playing, &best.playing);
    Choice { given, best, easier, strengths, weaknesses, differences }
}

/// The smallest difference in a term that is reported, in points; a step to the next hole costs an improver ten points.
/// The difference must also be at least two per cent.
const LEAST_DIFFERENCE: u64 = 10;

fn strengths(question: Question, ours: &Approach, theirs: &Approach) -> Vec<Strength> {
    let mut found = Vec::new();
    let (our, their) = (&ours.counts, &theirs.counts);
    if our.playable > their.playable {
        found.push(Strength::Notes { ours: our.playable, theirs: their.playable });
    }
    if our.bends() < their.bends() {
        found.push(Strength::Bends { ours: our.bends(), theirs: their.bends() });
    }
    if our.awkward < their.awkward {
        found.push(Strength::Awkward { ours: our.awkward, theirs: their.awkward });
    }
    if our.breath_changes < their.breath_changes {
        found.push(Strength::Turns { ours: our.breath_changes, theirs: their.breath_changes });
    }
    let lower = theirs.shift().0 - ours.shift().0;
    if lower > 0 {
        found.push(Strength::Lower { semitones: lower.unsigned_abs() });
    }
    let of_the_key = !question.melody.has_chords();
    let (ours_have, theirs_have) = (chords(question, ours), chords(question, theirs));
    if ours_have.len() > theirs_have.len() {
        found.push(Strength::Chords { ours: ours_have, theirs: theirs_have, of_the_key });
    }
    let of_the_tune = question.key.tonic.transposed(Interval(10));
    let is_wanted =
        question.blues || question.melody.notes.iter().any(|note| note.pitch.class() == of_the_tune);
    if let (true, Some(action), None) = (is_wanted, flat_seventh(ours), flat_seventh(theirs)) {
        found.push(Strength::FlatSeventh { action, note: ours.tonic.transposed(Interval(10)) });
    }
    let tempo = |row: &Approach| hard::comfortable_percent(question.melody, &row.playing, question.weights);
    let (our_tempo, their_tempo) = (tempo(ours), tempo(theirs));
    // A row that is comfortable at any tempo beats one that is comfortable up to some tempo.
    if their_tempo.is_some_and(|theirs| our_tempo.is_none_or(|ours| ours > theirs)) {
        found.push(Strength::Tempo { ours: our_tempo, theirs: their_tempo });
    }
    // Other comparisons already report missing notes and changes one by one.
    for term in Term::ALL.into_iter().filter(|term| !matches!(term, Term::Missing | Term::Changes)) {
        let (ours, theirs) = (ours.playing.effort[term], theirs.playing.effort[term]);
        if theirs.saturating_sub(ours) >= LEAST_DIFFERENCE.max(theirs / 50) {
            found.push(Strength::Term { term, ours, theirs });
        }
    }
    if question.blues && blue_notes(ours) > blue_notes(theirs) {
        found.push(Strength::BlueNotes { ours: blue_notes(ours), theirs: blue_notes(theirs) });
    }
    found
}

/// Whether the hole of an action lies between the lowest and the highest hole that a row plays, so that the action is
/// at hand.
fn is_at_hand(approach: &Approach, action: Action) -> bool {
    approach.counts.holes.is_some_and(|(low, high)| low <= action.hole && action.hole <= high)
}

fn flat_seventh(approach: &Approach) -> Option<Action> {
    let seventh = approach.tonic.transposed(Interval(10));
    let naturals = approach.harp.actions().iter().filter(|(pitch, action)| {
        pitch.class() == seventh && action.bend == Bend::None && is_at_hand(approach, *action)
    });
    naturals.map(|&(_, action)| action).next()
}

/// Counts how many of the flat third, fifth and seventh are at hand without blow bends or overbends.
fn blue_notes(approach: &Approach) -> u32 {
    [3, 6, 10]
        .into_iter()
        .map(|degree| {
            let class = approach.tonic.transposed(Interval(degree));
            let expressive = |action: &Action| {
                matches!((action.bend, action.breath), (Bend::None, _) | (Bend::Down(_), Breath::Draw))
            };
            let found = approach.harp.actions().iter().any(|(pitch, action)| {
                pitch.class() == class && expressive(action) && is_at_hand(approach, *action)
            });
            u32::from(found)
        })
        .sum()
}

/// A chord of a tune, named in the key in which a row plays the tune, with the part of the chord that the row's harp
/// has.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct TuneChord {
    /// The symbol.
    pub name: String,
    /// The grip that sounds the chord or a part of it, if the harp has one.
    pub offer: Offer,
    /// The notes of the chord that the grip lacks, from the root up, as the key of the row spells them.
    pub lacks: Vec<Name>,
    /// The indices of the symbol in the melody's chords; empty for a chord of the key.
    pub at: Vec<usize>,
}

/// Returns the tune's chord symbols, each listed once in order of appearance, as an approach's harp can play them.
/// Without symbols, returns the triads on the first, fourth and fifth degree of the key (common practice, no source).
pub fn tune_chords(melody: &Melody, key: Key, harp: &Harp, transposed: Interval) -> Vec<TuneChord> {
    let mut found: Vec<TuneChord> = Vec::new();
    for (index, symbol) in melody.chords.iter().enumerate() {
        if symbol.root.is_none() {
            continue;
        }
        let moved = melody.moved_chord(symbol, transposed);
        let (name, notes) = (moved.to_string(), moved.notes());
        match found.iter_mut().find(|chord| chord.name == name) {
            Some(known) => known.at.push(index),
            None => {
                let sharps = crate::melody::transposed_sharps(melody.sharps_at(symbol.at), transposed);
                found.push(tune_chord(harp, name, &notes, sharps, vec![index]));
            }
        }
    }
    if found.is_empty() {
        let scale = key.mode.scale();
        let tonic = key.tonic.transposed(transposed);
        for degree in [0, 3, 4] {
            let above =
                |step: usize| i16::from(scale[(degree + step) % 7]) + 12 * i16::from(degree + step >= 7);
            let notes = [above(0), above(2), above(4)].map(|semitones| tonic.transposed(Interval(semitones)));
            let quality = match (notes[1].above(notes[0]), notes[2].above(notes[0])) {
                (3, 7) => "m",
                (3, 6) => "dim",
                _ => "",
            };
            let sharps = crate::melody::transposed_sharps(key.sharps(), transposed);
            let name = format!("{}{quality}", Name::in_key(notes[0], sharps));
            found.push(tune_chord(harp, name, &notes, sharps, Vec::new()));
        }
    }
    found
}

/// Returns a chord with the grip that a harp has for it. `notes` are its notes, from the root up; `sharps` is the key
/// signature that spells them.
fn tune_chord(harp: &Harp, name: String, notes: &[PitchClass], sharps: i8, at: Vec<usize>) -> TuneChord {
    let offer = chord::offer(harp, notes);
    let has = match &offer {
        Offer::Whole(grip) | Offer::Part(grip) => grip.classes(),
        Offer::Nothing => Vec::new(),
    };
    let lacking = notes.iter().filter(|note| !has.contains(note));
    let lacks = lacking.map(|&note| Name::in_key(note, sharps)).collect();
    TuneChord { name, offer, lacks, at }
}

/// Returns the names of the chords that the harp can play in full.
fn chords(question: Question, approach: &Approach) -> Vec<String> {
    let all = tune_chords(question.melody, question.key, approach.harp, approach.transposed);
    let whole = all.into_iter().filter(|chord| matches!(chord.offer, Offer::Whole(_)));
    whole.map(|chord| chord.name).collect()
}
