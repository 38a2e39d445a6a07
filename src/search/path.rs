//! The playing of least effort on one harp: a shortest path through the actions, note by note.
//!
//! **State.** After each note, the last action that sounded and the air in the lungs. A note that the technique in use
//! cannot sound is left out and priced as missing ([`super::heard`]). The next step then goes from the note before it
//! to the note after it. A note that the technique can sound is never left out, not even a grace note. A bend may
//! cost more than leaving its note out; the row is therefore also solved with lesser techniques ([`super::shortlist`]),
//! so the path itself never has to choose.
//!
//! **Transition.** From the action of one note to an action of the next. [`Weights::step`] prices moving the mouth,
//! turning the breath, and entering or leaving a bend in the time between the two onsets. [`Weights::hold`] prices
//! sounding the note itself. [`super::breath`] defines the effect of both on the lungs and its price.
//!
//! **Recurrence.** Let `A(i)` be the actions for note `i`, and `i+1` the next note that is sounded. Without the lungs,
//! the rest of the tune costs
//!
//! ```text
//! rest(i, a) = hold(i, a) + min over b in A(i+1) of step(i, a, b) + rest(i+1, b)
//! ```
//!
//! The answer is the least `start(a) + rest(first, a)`; following the successors from there gives the path. If this
//! playing costs the lungs nothing, it is also the optimum with the lungs, because the lungs only ever add points.
//! Otherwise a second pass looks at states of action *and* air; only notes with more than one action create new states.
//! In this pass `rest` is a lower bound for the remaining cost, and the cost of a known playing is an upper bound. The
//! pass drops a state that cannot lead to a better path and searches all others, so the result is exact.
//!
//! **Example.** On a C harp, C5 G4 A4 B4: G4 is draw 2 or blow 3. After blow 4, draw 2 costs a jump of two holes and a
//! change of breath, but draw 3 bent by two semitones then follows in the same breath. Blow 3 is next to blow 4 in the
//! same breath, but then the bend needs a change of breath. This tune has two playings; a tune with `k` notes like G4
//! has 2^k playings, but the recurrence looks at each pair of neighbours only once.
//!
//! **Cost.** `O(notes · A²)` time, where `A` is the largest number of actions for one pitch (2 on Richter, 3 with
//! overbends). `O(notes · A)` space for the successors. The second pass multiplies the time by the number of volumes
//! within reach: a few in a tune with rests, never more than [`LungWeights::MOST_ML`]. Where the volumes are few, the
//! pass follows single states (`path/lattice/lungs.rs`). Otherwise it fills tables of all volumes, backwards
//! (`path/lattice/volumes.rs`). Time is therefore linear in the notes, and the result is exact for any tune.
//!
//! **Ties.** Among playings with equal effort, the one with the fewest breath changes wins. Among those, the one whose
//! first differing note has the easier action wins (natural before bent before overbent, then the lower hole).
//!
//! `path/lattice.rs` implements the recurrence and both passes. The lattice also handles rows side by side, for tunes
//! with phrases that may be moved.
//!
//! The method is the optimum-path paradigm for fingering (Sayegh, Computer Music Journal 13(3), 1989, from memory).

mod kept;
pub(super) mod lattice;

#[cfg(doc)]
use super::effort::LungWeights;
use super::{
    breath::{Demand, Limit, aims},
    effort::{Gap, Held, Way, Weights},
    heard::{self, End, Heard},
    pin::Pin,
    term::{Effort, Term},
};
use crate::{
    harp::{Action, Harp, Technique},
    melody::{Melody, phrase},
    pitch::{Interval, Pitch},
};
pub use kept::best_keeping;
use lattice::{Lattice, Stage};

/// One action (or none) for each note of a melody.
#[derive(Clone, PartialEq, Debug, Default)]
#[non_exhaustive]
pub struct Playing {
    /// The notes of the playing, one for each note of the melody.
    pub notes: Vec<Played>,
    /// The sum of the notes' efforts.
    pub effort: Effort,
}

/// The action of one note, and its cost.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
#[non_exhaustive]
pub struct Played {
    /// The action; `None` for a missing note.
    pub action: Option<Action>,
    /// The effort of reaching this note and sounding it.
    pub effort: Effort,
    /// Whether the breath turns before this note.
    pub breath_change: bool,
    /// Whether the breath change has too little time, or little time together with a jump.
    pub awkward: bool,
    /// The air in the lungs at the start of the note, in millilitres.
    pub air_before_ml: u32,
    /// The air in the lungs after the note, in millilitres.
    pub air_ml: u32,
    /// The limit that the lungs reached in the note, if any.
    pub limit: Option<Limit>,
    /// Whether the player breathes after the note: in a rest or at the end of a phrase, if the breath recovers at least
    /// a fiftieth of the capacity.
    pub breathe_after: bool,
}

/// The melody in the form that the search uses: pitches and milliseconds.
#[derive(Clone, Debug)]
pub struct Timeline {
    notes: Vec<LineNote>,
}

#[derive(Clone, Copy, Debug)]
struct LineNote {
    pitch: Pitch,
    start_ms: u64,
    end_ms: u64,
    heard: Heard,
    /// Whether the tune comes to rest on the note, for [`Held::home`].
    home: bool,
}

impl Timeline {
    /// Converts a melody to a timeline at the melody's tempo.
    pub fn new(melody: &Melody) -> Timeline {
        let (timing, ends) = (melody.timing(), phrase::ends(melody));
        let home = ends.last().map(|last| melody.notes[last.note].pitch.class());
        let heard = heard::in_phrases(melody, &ends);
        let notes = melody.notes.iter().zip(timing).zip(heard).map(|((note, sounding), heard)| LineNote {
            pitch: note.pitch,
            start_ms: sounding.start / 1000,
            end_ms: sounding.end / 1000,
            heard,
            home: heard.end != End::None && home == Some(note.pitch.class()),
        });
        Timeline { notes: notes.collect() }
    }
}

/// The ways in which a player can sound each pitch on a harp.
#[derive(Clone, Debug)]
pub struct Reach {
    technique: Technique,
    /// The ways in order of pitch, and for each pitch from the easiest action to the hardest.
    ways: Vec<Way>,
    /// For each MIDI pitch, the index of its first way; a last entry marks the end.
    starts: [u16; 129],
}

impl Reach {
    /// Collects the actions of a harp that the technique allows.
    pub fn new(harp: &Harp, technique: Technique) -> Reach {
        let ways = harp.ways().map(|(pitch, action, traits)| Way { action, pitch, traits });
        let allowed = ways.filter(|way| technique.allows(way.action));
        let ways: Vec<Way> = allowed.collect();
        let mut starts = [0; 129];
        for way in &ways {
            starts[usize::from(way.pitch.midi()) + 1] += 1;
        }
        for midi in 1..starts.len() {
            starts[midi] += starts[midi - 1];
        }
        Reach { technique, ways, starts }
    }

    /// Returns the technique that the reach was made for.
    pub fn technique(&self) -> Technique {
        self.technique
    }

    /// Whether every pinned action sounds the pitch of its note, transposed by `shift`.
    pub(super) fn sounds(&self, pins: &[Pin], melody: &Melody, shift: Interval) -> bool {
        let sounds = |pin: &Pin| {
            let note = melody.notes.get(pin.note);
            note.is_some_and(|note| self.ways(note.pitch, shift).iter().any(|way| way.action == pin.action))
        };
        pins.iter().all(sounds)
    }

    /// Returns the ways to sound a pitch transposed by `shift`.
    pub(super) fn ways(&self, pitch: Pitch, shift: Interval) -> &[Way] {
        match pitch.transposed(shift) {
            Some(pitch) => {
                let midi = usize::from(pitch.midi());
                &self.ways[usize::from(self.starts[midi])..usize::from(self.starts[midi + 1])]
            }
            None => &[],
        }
    }
}

/// Finds the playing of least effort of a timeline transposed by `shift`.
pub fn best(line: &Timeline, reach: &Reach, weights: &Weights, shift: Interval) -> Playing {
    best_with(line, reach, weights, shift, &[])
}

/// Finds the playing of least effort that keeps the pins. If a pin does not sound its note, no note is played.
pub(super) fn best_with(
    line: &Timeline,
    reach: &Reach,
    weights: &Weights,
    shift: Interval,
    pins: &[Pin],
) -> Playing {
    let aims = line.aims(reach, shift, weights);
    let choices = cheapest_within(line, &aims, (reach, pins), weights, shift, u64::MAX).unwrap_or_default();
    line.price(line.chosen(reach, shift, &choices), &aims, weights)
}

/// Finds the playing of least effort that keeps the pins, if its effort without missing notes is at most `limit`.
/// Returns the index of the chosen way for each note that can be sounded; `None` if the effort exceeds `limit`, or if a
/// pin does not sound its note.
pub(super) fn cheapest_within(
    line: &Timeline,
    aims: &[u32],
    (reach, pins): (&Reach, &[Pin]),
    weights: &Weights,
    shift: Interval,
    limit: u64,
) -> Option<Vec<u8>> {
    let notes = line.notes.iter().map(|note| reach.ways(note.pitch, shift)).enumerate();
    let sounded = notes.filter(|(_, ways)| !ways.is_empty()).enumerate();
    let mut rows: Vec<Stage> = sounded.map(|(row, (note, ways))| Stage::in_line(row, note, ways)).collect();
    // A pinned note has only its pinned way during the search; afterwards the index among all ways is restored.
    let mut kept = Vec::with_capacity(pins.len());
    for pin in pins {
        let row = rows.binary_search_by_key(&pin.note, |row| row.note).ok()?;
        let way = rows[row].ways.iter().position(|way| way.action == pin.action)?;
        rows[row].ways = &rows[row].ways[way..=way];
        kept.push((row, way as u8));
    }
    let path = Lattice::new(line, aims, weights, rows, 1, 0).cheapest_within(limit)?;
    // A pitch has far fewer ways than 256.
    let mut choices: Vec<u8> = path.iter().map(|stop| stop.way() as u8).collect();
    for (row, way) in kept {
        choices[row] = way;
    }
    Some(choices)
}

/// Prices a given playing, note by note. [`best`] prices its own answer with this function, so that every effort shown
/// is a part of the sum that was minimised. No playing of the same line has a smaller sum than the answer of [`best`],
/// unless it leaves out a note that can be sounded.
///
/// An action that does not sound its note on this harp is treated as missing; so are notes after the end of `actions`.
pub fn price(
    line: &Timeline,
    actions: &[Option<Action>],
    reach: &Reach,
    weights: &Weights,
    shift: Interval,
) -> Playing {
    let actions = actions.iter().copied().chain(std::iter::repeat(None));
    let ways = line.notes.iter().zip(actions).map(|(note, action)| {
        reach.ways(note.pitch, shift).iter().find(|way| Some(way.action) == action).copied()
    });
    line.price(ways, &line.aims(reach, shift, weights), weights)
}

impl Playing {
    /// Adds an equal effort to each note of the tune. A price that does not depend on how a note is played, such as the
    /// price of the position ([`Weights::in_position`]), does not affect the path.
    pub fn each_note(mut self, more: Effort) -> Playing {
        for played in &mut self.notes {
            played.effort += more;
            self.effort += more;
        }
        self
    }
}

impl Timeline {
    /// Returns the way of each note, given the choices that [`cheapest_within`] found.
    pub(super) fn chosen<'l>(
        &'l self,
        reach: &'l Reach,
        shift: Interval,
        choices: &'l [u8],
    ) -> impl Iterator<Item = Option<Way>> + 'l {
        let mut choices = choices.iter();
        self.notes.iter().map(move |note| {
            let ways = reach.ways(note.pitch, shift);
            if ways.is_empty() {
                None
            } else {
                choices.next().and_then(|&way| ways.get(usize::from(way)).copied())
            }
        })
    }

    /// Returns the volume that the player breathes towards before each note ([`aims`]).
    pub(super) fn aims(&self, reach: &Reach, shift: Interval, weights: &Weights) -> Vec<u32> {
        let notes = self.notes.iter().enumerate().map(|(index, note)| {
            let next = self.notes.get(index + 1);
            let rest = next.is_some_and(|next| weights.gap(note.span(), next.span()).rested);
            Demand {
                sounding: reach.ways(note.pitch, shift).first().map(|way| (way, note.sounding_ms())),
                breathes_after: rest || note.heard.end != End::None,
            }
        });
        aims(&weights.lungs, notes)
    }

    /// Prices each note, sounded in the given way or left out; `aims` come from [`Timeline::aims`].
    pub(super) fn price(
        &self,
        ways: impl Iterator<Item = Option<Way>>,
        aims: &[u32],
        weights: &Weights,
    ) -> Playing {
        let mut playing = Playing { notes: Vec::with_capacity(self.notes.len()), effort: Effort::default() };
        self.price_each(ways, aims, weights, |played, breathed_after| {
            if let Some(before) = breathed_after {
                playing.notes[before].breathe_after = true;
            }
            playing.effort += played.effort;
            playing.notes.push(played);
        });
        playing
    }

    /// Prices one note at a time. `each` receives the priced note and, if the player breathes before it, the index of
    /// the note after which the player breathes.
    pub(super) fn price_each(
        &self,
        ways: impl Iterator<Item = Option<Way>>,
        aims: &[u32],
        weights: &Weights,
        mut each: impl FnMut(Played, Option<usize>),
    ) {
        let lungs = &weights.lungs;
        let mut previous: Option<(usize, Way)> = None;
        let mut air_ml = aims.first().copied().unwrap_or(0);
        for (index, (note, way)) in self.notes.iter().zip(ways).enumerate() {
            let Some(way) = way else {
                let effort = weights.missing(&note.heard);
                each(Played { effort, air_before_ml: air_ml, air_ml, ..Played::default() }, None);
                continue;
            };
            let action = way.action;
            let mut played = Played { action: Some(action), ..Played::default() };
            let mut breathed_after = None;
            match previous {
                None => {
                    played.effort = weights.start(&way);
                    air_ml = aims.get(index).copied().unwrap_or(air_ml);
                }
                Some((before, from)) => {
                    let gap = self.gap(before, index, weights);
                    played.effort = weights.step(&from, &way, gap);
                    played.breath_change = from.action.breath != action.breath;
                    played.awkward = weights.is_awkward(from.action, action, gap);
                    let aim = aims.get(index).copied().unwrap_or(air_ml);
                    let rested_ml = lungs.rested(air_ml, aim, self.silence(before, index, weights));
                    let back = air_ml.abs_diff(rested_ml);
                    breathed_after = (back > 0 && back >= lungs.capacity() / 50).then_some(before);
                    air_ml = rested_ml;
                }
            }
            let aired = lungs.sounded(air_ml, &way, note.sounding_ms());
            played.air_before_ml = air_ml;
            air_ml = aired.level_ml;
            played.effort += weights.hold(&way, note.held());
            played.effort += Effort::of(Term::Lungs, aired.points);
            (played.air_ml, played.limit) = (air_ml, aired.limit);
            each(played, breathed_after);
            previous = Some((index, way));
        }
    }

    /// Groups the notes that [`Weights::hold`] prices alike, and counts the notes in each group.
    pub(super) fn kinds(&self) -> Vec<((Pitch, Held), u32)> {
        let mut kinds: Vec<_> = self.notes.iter().map(|note| (note.pitch, note.held())).collect();
        kinds.sort_unstable();
        let runs = kinds.chunk_by(|a, b| a == b);
        runs.map(|run| (run[0], run.len() as u32)).collect()
    }

    /// Returns each note's pitch and the price of leaving the note out.
    pub(super) fn missing<'l>(&'l self, weights: &'l Weights) -> impl Iterator<Item = (Pitch, u64)> + 'l {
        self.notes.iter().map(|note| (note.pitch, weights.missing(&note.heard).total()))
    }

    /// Returns the properties of a note that [`Weights::hold`] needs.
    pub(super) fn held(&self, note: usize) -> Held {
        self.notes[note].held()
    }

    /// Returns the properties that determine how much a note is heard.
    pub(super) fn heard(&self, note: usize) -> &Heard {
        &self.notes[note].heard
    }

    /// Returns how long a note sounds, in milliseconds.
    pub(super) fn sounding_ms(&self, note: usize) -> u32 {
        self.notes[note].sounding_ms()
    }

    /// Returns the gap between one note and a later note.
    fn gap(&self, from: usize, to: usize, weights: &Weights) -> Gap {
        weights.gap(self.notes[from].span(), self.notes[to].span())
    }

    /// Returns the silence between a note and a later note, in which the lungs recover: rests, notes that cannot be
    /// sounded, and a catch breath at the end of a phrase.
    fn silence(&self, from: usize, to: usize, weights: &Weights) -> u32 {
        let (from, to) = (&self.notes[from], &self.notes[to]);
        let catch = if from.heard.end != End::None { weights.lungs.catch(from.sounding_ms()) } else { 0 };
        Gap::millis(to.start_ms.saturating_sub(from.end_ms)).saturating_add(catch)
    }
}

impl LineNote {
    fn span(&self) -> (u64, u64) {
        (self.start_ms, self.end_ms)
    }

    fn sounding_ms(&self) -> u32 {
        Gap::millis(self.end_ms.saturating_sub(self.start_ms))
    }

    fn held(&self) -> Held {
        Held {
            ms: self.sounding_ms(),
            home: self.home,
            last: self.heard.end == End::Tune,
            grace: self.heard.grace,
        }
    }
}
