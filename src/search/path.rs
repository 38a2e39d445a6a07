//! The playing of least effort on one harp: a shortest path through the actions, note by note.
//!
//! **State.** After each note, the last action that sounded and the air in the lungs. A note that the harp cannot sound is
//! left out and priced as missing; the notes around it meet across the gap. No note that can be sounded is left out,
//! not even a grace note: a tune with all its notes comes before an easy one with holes, and what may be dropped is the
//! player's decision.
//!
//! **Transition.** From the action of one note to an action of the next: [`Weights::step`] prices moving the mouth,
//! turning the breath and entering or leaving a bend in the time between the two onsets; [`Weights::hold`] prices the
//! sounding of the note itself; [`super::breath`] says what both do to the lungs and what that costs.
//!
//! **Recurrence.** Without the lungs, with `A(i)` the actions for note `i`, and `i+1` the next note that is sounded, what is
//! still to come costs
//!
//! ```text
//! rest(i, a) = hold(i, a) + min over b in A(i+1) of step(i, a, b) + rest(i+1, b)
//! ```
//!
//! and the answer is the least `start(a) + rest(first, a)`, read forwards through the successors. If the playing that
//! this finds costs no lungs, it is the optimum with them too, since they only ever add. Otherwise a second pass goes
//! forwards over states of action *and* air, of which there are few: only notes with more than one action make new
//! ones. There `rest` is a lower bound for what is to come, and the first playing's whole cost an upper bound, so a state
//! that cannot be on a better path is dropped; what is left is searched in full, so the result is exact.
//!
//! **Example.** On a C harp, C5 G4 A4 B4: G4 is draw 2 or blow 3. Draw 2 costs a jump of two holes and a breath
//! change after blow 4, but then draw 3 bent by two semitones is in the same breath; blow 3 is next to blow 4
//! in the same breath, and the bend comes after a change of breath. Four notes, two playings; a tune with `k` such
//! notes has 2^k of them, and the recurrence looks at each pair of neighbours once.
//!
//! **Cost.** `O(notes · A²)` time with `A` the most actions for one pitch (2 on Richter, 3 with overbends), and
//! `O(notes · A)` space for the successors. The second pass multiplies that by the volumes that are reached, at most the
//! capacity in millilitres; measured, a few dozen.
//!
//! **Ties.** Of playings with equal effort the one with the fewest breath changes is taken; of those, the one whose
//! first differing note has the easier action (natural before bent before overbent, then the lower hole).
//!
//! The method is the optimum-path paradigm for fingering (Sayegh, Computer Music Journal 13(3), 1989, as remembered).

use std::collections::BTreeMap;

use itertools::Itertools;

use super::{
    breath::Limit,
    effort::{Effort, Gap, Way, Weights},
};
use crate::{
    harp::{Action, Harp, Technique},
    melody::{Melody, phrase},
    pitch::{Interval, Pitch},
};

/// One action (or none) for each note of a melody.
#[derive(Clone, PartialEq, Debug, Default)]
pub struct Playing {
    /// As many as the melody has notes.
    pub notes: Vec<Played>,
    /// The sum of the notes' efforts.
    pub effort: Effort,
}

/// How one note is played, and what it costs.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Played {
    /// The action; `None` for a missing note.
    pub action: Option<Action>,
    /// What it costs to come to this note and to sound it.
    pub effort: Effort,
    /// Whether the breath turns before this note.
    pub breath_change: bool,
    /// Whether it turns in too little time, or in little time together with a jump.
    pub awkward: bool,
    /// The air in the lungs after it, in millilitres.
    pub air_ml: u32,
    /// Whether the lungs came to an end in it.
    pub limit: Option<Limit>,
    /// Whether the player breathes after it: in a rest or at the end of a phrase, where that brings back at least a
    /// fiftieth of what the lungs hold.
    pub breathe_after: bool,
}

/// The melody as the search sees it: pitches and milliseconds.
#[derive(Clone, Debug)]
pub struct Line {
    notes: Vec<LineNote>,
}

#[derive(Clone, Copy, Debug)]
struct LineNote {
    pitch: Pitch,
    start_ms: u64,
    end_ms: u64,
    grace: bool,
    /// Whether a phrase ends with it, so that the player can catch a breath.
    phrase_end: bool,
}

impl Line {
    /// The line of a melody at its tempo.
    pub fn new(melody: &Melody) -> Line {
        let notes = melody.notes.iter().zip(melody.timing());
        let notes = notes.map(|(note, sounding)| LineNote {
            pitch: note.pitch,
            start_ms: sounding.start / 1000,
            end_ms: sounding.end / 1000,
            grace: note.grace,
            phrase_end: false,
        });
        let mut line = Line { notes: notes.collect() };
        for end in phrase::ends(melody) {
            line.notes[end.note].phrase_end = true;
        }
        line
    }
}

/// What a player can sound on a harp, by pitch.
#[derive(Clone, Debug)]
pub struct Reach {
    /// By pitch, then easiest kind first.
    ways: Vec<Way>,
    /// For each MIDI pitch, where its ways start; one more entry closes the last.
    starts: [u16; 129],
}

impl Reach {
    /// The actions of a harp that the technique allows.
    pub fn new(harp: &Harp, technique: Technique) -> Reach {
        let allowed = harp.actions().iter().filter(|(_, action)| technique.allows(*action));
        let ways: Vec<Way> =
            allowed.map(|&(pitch, action)| Way { action, pitch, deepest: harp.is_deepest(action) }).collect();
        let mut starts = [0; 129];
        for (midi, start) in starts.iter_mut().enumerate() {
            *start = ways.partition_point(|way| usize::from(way.pitch.midi()) < midi) as u16;
        }
        Reach { ways, starts }
    }

    /// The ways to sound a pitch that lies so far from the given one.
    fn ways(&self, pitch: Pitch, shift: Interval) -> &[Way] {
        match pitch.transposed(shift) {
            Some(pitch) => {
                let midi = usize::from(pitch.midi());
                &self.ways[usize::from(self.starts[midi])..usize::from(self.starts[midi + 1])]
            }
            None => &[],
        }
    }
}

/// A note that is sounded, and the ways to do it.
struct Row<'a> {
    /// Its index in the line.
    note: usize,
    ways: &'a [Way],
}

/// Effort first, then breath changes.
type Cost = (u64, u32);

fn add(a: Cost, b: Cost) -> Cost {
    (a.0.saturating_add(b.0), a.1.saturating_add(b.1))
}

/// Finds the playing of least effort of a line moved by an interval.
pub fn best(line: &Line, reach: &Reach, weights: &Weights, shift: Interval) -> Playing {
    let notes = line.notes.iter().enumerate();
    let rows = notes.map(|(note, sounds)| Row { note, ways: reach.ways(sounds.pitch, shift) });
    let rows: Vec<Row> = rows.filter(|row| !row.ways.is_empty()).collect();
    let ahead = Ahead::new(line, &rows, weights);
    let price = |chosen: &[u16]| {
        let mut actions = vec![None; line.notes.len()];
        for (row, &way) in rows.iter().zip(chosen) {
            actions[row.note] = Some(row.ways[usize::from(way)].action);
        }
        price(line, &actions, reach, weights, shift)
    };
    let playing = price(&ahead.easiest(&rows, weights));
    if playing.effort.lungs == 0 {
        return playing;
    }
    let changes = playing.notes.iter().filter(|played| played.breath_change).count();
    let bound = (playing.effort.total() - playing.effort.missing, u32::try_from(changes).unwrap_or(u32::MAX));
    price(&with_lungs(line, &rows, weights, &ahead, bound))
}

/// From each way of each row, what is to come without the lungs, and how.
struct Ahead {
    /// Row after row, way after way.
    entries: Vec<Entry>,
    /// Where each row starts in `entries`.
    starts: Vec<usize>,
}

#[derive(Clone, Copy)]
struct Entry {
    /// Sounding this way and all that follows.
    rest: Cost,
    /// The index of the way that follows in the next row.
    successor: u16,
}

impl Ahead {
    fn new(line: &Line, rows: &[Row], weights: &Weights) -> Ahead {
        let mut starts = Vec::with_capacity(rows.len());
        let mut length = 0;
        for row in rows {
            starts.push(length);
            length += row.ways.len();
        }
        let mut entries = vec![Entry { rest: (0, 0), successor: 0 }; length];
        for (index, row) in rows.iter().enumerate().rev() {
            let (here, after) = entries.split_at_mut(starts[index] + row.ways.len());
            let next = rows.get(index + 1).map(|next| (next, line.gap(row.note, next.note, weights)));
            for (way, entry) in row.ways.iter().zip(&mut here[starts[index]..]) {
                let hold = weights.hold(way, line.notes[row.note].sounding_ms()).total();
                let (onwards, successor) = match next {
                    None => ((0, 0), 0),
                    Some((next, gap)) => {
                        let ways = next.ways.iter().zip(after.iter()).enumerate();
                        let onwards = ways.map(|(index, (to, entry))| {
                            (add(step(weights, way, to, gap), entry.rest), index as u16)
                        });
                        // Of equals the easiest, which stands first.
                        onwards.min().unwrap_or(((0, 0), 0))
                    }
                };
                *entry = Entry { rest: add((hold, 0), onwards), successor };
            }
        }
        Ahead { entries, starts }
    }

    fn rest(&self, row: usize, way: usize) -> Cost {
        self.entries[self.starts[row] + way].rest
    }

    /// The playing of least effort without the lungs, as the index of the way of each row.
    fn easiest(&self, rows: &[Row], weights: &Weights) -> Vec<u16> {
        let mut chosen = Vec::with_capacity(rows.len());
        let Some(first) = rows.first() else { return chosen };
        let first = first.ways.iter().enumerate().map(|(index, way)| {
            (add((weights.start(way.action).total(), 0), self.rest(0, index)), index as u16)
        });
        let mut way = first.min().map_or(0, |(_, index)| index);
        for row in 0..rows.len() {
            chosen.push(way);
            way = self.entries[self.starts[row] + usize::from(way)].successor;
        }
        chosen
    }
}

fn step(weights: &Weights, from: &Way, to: &Way, gap: Gap) -> Cost {
    let change = u32::from(from.action.breath != to.action.breath);
    (weights.step(from.action, to.action, gap).total(), change)
}

/// The playing of least effort with the lungs. `bound` is the cost of some playing, so what costs more is dropped.
fn with_lungs(line: &Line, rows: &[Row], weights: &Weights, ahead: &Ahead, bound: Cost) -> Vec<u16> {
    /// A way to have come so far: states in the order of their paths, so that the first of equals is the one whose first
    /// differing note is easier.
    #[derive(Clone, Copy)]
    struct State {
        way: u16,
        level_ml: u32,
        cost: Cost,
        /// The last choice among several ways, in `choices`.
        choice: Option<usize>,
    }

    /// A choice at a row with several ways; rows with one way leave no trace.
    struct Choice {
        row: usize,
        way: u16,
        before: Option<usize>,
    }

    let mut choices: Vec<Choice> = Vec::new();
    let mut states: Vec<State> = Vec::new();
    for (index, row) in rows.iter().enumerate() {
        let mut next: Vec<State> = Vec::with_capacity(states.len() * row.ways.len());
        // Of the states with the same way and air only the best goes on: where it stands in `next`.
        let mut standing: BTreeMap<(u16, u32), usize> = BTreeMap::new();
        let mut arrive = |from: Option<&State>, way_index: usize| {
            let way = &row.ways[way_index];
            let (arrival, level_ml) = match from {
                None => ((weights.start(way.action).total(), 0), weights.lungs.middle()),
                Some(from) => {
                    let previous = &rows[index - 1];
                    let gap = line.gap(previous.note, row.note, weights);
                    let step = step(weights, &previous.ways[usize::from(from.way)], way, gap);
                    let silence = line.silence(previous.note, row.note, weights);
                    (add(from.cost, step), weights.lungs.rested(from.level_ml, silence))
                }
            };
            let sounding_ms = line.notes[row.note].sounding_ms();
            let aired = weights.lungs.sounded(level_ml, way, sounding_ms);
            let so_far = add(arrival, (aired.points, 0));
            // `rest` counts the sounding of this note.
            if add(so_far, ahead.rest(index, way_index)) > bound {
                return;
            }
            let cost = add(so_far, (weights.hold(way, sounding_ms).total(), 0));
            let key = (way_index as u16, aired.level_ml);
            if let Some(&other) = standing.get(&key) {
                let other: &State = &next[other];
                if other.cost <= cost {
                    return;
                }
            }
            standing.insert(key, next.len());
            let before = from.and_then(|from| from.choice);
            next.push(State { way: key.0, level_ml: key.1, cost, choice: before });
        };
        if index == 0 {
            (0..row.ways.len()).for_each(|way| arrive(None, way));
        }
        for from in &states {
            (0..row.ways.len()).for_each(|way| arrive(Some(from), way));
        }
        let kept: Vec<usize> = standing.into_values().sorted_unstable().collect();
        states = kept.into_iter().map(|at| next[at]).collect();
        if row.ways.len() > 1 {
            for state in &mut states {
                choices.push(Choice { row: index, way: state.way, before: state.choice });
                state.choice = Some(choices.len() - 1);
            }
        }
    }
    let mut chosen = vec![0; rows.len()];
    // `min_by_key` keeps the first of equals.
    let mut last = states.iter().min_by_key(|state| state.cost).and_then(|state| state.choice);
    while let Some(choice) = last.map(|last| &choices[last]) {
        chosen[choice.row] = choice.way;
        last = choice.before;
    }
    chosen
}

/// What a given playing costs, note by note. [`best`] uses it for its own answer, so that every effort shown is a
/// part of the sum that was minimised; for any other playing of the same line the sum is no less, unless it leaves
/// out a note that can be sounded.
///
/// An action that does not sound its note on this harp counts as missing, and so do notes beyond `actions`.
pub fn price(
    line: &Line,
    actions: &[Option<Action>],
    reach: &Reach,
    weights: &Weights,
    shift: Interval,
) -> Playing {
    let mut playing = Playing { notes: Vec::with_capacity(line.notes.len()), effort: Effort::default() };
    let mut previous: Option<(usize, Action)> = None;
    let mut air_ml = weights.lungs.middle();
    let actions = actions.iter().copied().chain(std::iter::repeat(None));
    for (index, (note, action)) in line.notes.iter().zip(actions).enumerate() {
        let way = reach.ways(note.pitch, shift).iter().find(|way| Some(way.action) == action);
        let Some(way) = way else {
            playing.push(Played { effort: weights.missing(note.grace), air_ml, ..Played::default() });
            continue;
        };
        let action = way.action;
        let mut played = Played { action: Some(action), ..Played::default() };
        match previous {
            None => played.effort = weights.start(action),
            Some((before, from)) => {
                let gap = line.gap(before, index, weights);
                played.effort = weights.step(from, action, gap);
                played.breath_change = from.breath != action.breath;
                played.awkward = weights.is_awkward(from, action, gap);
                let rested_ml = weights.lungs.rested(air_ml, line.silence(before, index, weights));
                let back = air_ml.abs_diff(rested_ml);
                playing.notes[before].breathe_after = back > 0 && back >= weights.lungs.capacity_ml / 50;
                air_ml = rested_ml;
            }
        }
        let aired = weights.lungs.sounded(air_ml, way, note.sounding_ms());
        air_ml = aired.level_ml;
        played.effort += weights.hold(way, note.sounding_ms());
        played.effort += Effort { lungs: aired.points, ..Effort::default() };
        (played.air_ml, played.limit) = (air_ml, aired.limit);
        playing.push(played);
        previous = Some((index, action));
    }
    playing
}

impl Playing {
    fn push(&mut self, played: Played) {
        self.effort += played.effort;
        self.notes.push(played);
    }
}

impl Line {
    /// The time from one note to a later one.
    fn gap(&self, from: usize, to: usize, weights: &Weights) -> Gap {
        weights.gap(self.notes[from].span(), self.notes[to].span())
    }

    /// The silence between a note and a later one, in which the lungs come back: rests, what cannot be sounded between
    /// them, and a catch breath where a phrase ends.
    fn silence(&self, from: usize, to: usize, weights: &Weights) -> u32 {
        let (from, to) = (&self.notes[from], &self.notes[to]);
        let catch = if from.phrase_end { weights.lungs.catch(from.sounding_ms()) } else { 0 };
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
}
