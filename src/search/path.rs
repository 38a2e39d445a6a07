//! The playing of least effort on one harp: a shortest path through the actions, note by note.
//!
//! **State.** After each note, the last action that sounded. A note that the harp cannot sound is left out and priced as
//! missing; the notes around it meet across the gap. No note that can be sounded is left out, not even a grace note: a
//! tune with all its notes comes before an easy one with holes, and what may be dropped is the player's decision.
//!
//! **Transition.** From the action of one note to an action of the next: [`Weights::step`] prices moving the mouth,
//! turning the breath and entering a bend in the time between the two onsets; [`Weights::hold`] prices the
//! sounding of the note itself.
//!
//! **Recurrence.** With `A(i)` the actions for note `i`, and `i-1` the note before it that is sounded,
//!
//! ```text
//! best(i, a) = hold(i, a) + min over p in A(i-1) of best(i-1, p) + step(i, p, a)
//! ```
//!
//! and the answer is the least `best(last, a)`, read back through the predecessors.
//!
//! **Example.** On a C harp, C5 G4 A4 B4: G4 is draw 2 or blow 3. Draw 2 costs a jump of two holes and a breath
//! change after blow 4, but then draw 3 bent by two semitones is in the same breath; blow 3 is next to blow 4
//! in the same breath, and the bend comes after a change of breath. Four notes, two playings; a tune with `k` such
//! notes has 2^k of them, and the recurrence looks at each pair of neighbours once.
//!
//! **Cost.** `O(notes · A²)` time with `A` the most actions for one pitch (2 on Richter, 3 with overbends), and
//! `O(notes · A)` space for the predecessors.
//!
//! **Ties.** Of playings with equal effort the one with the fewest breath changes is taken; of those, the one whose
//! last differing note has the easier action (natural before bent before overbent, then the lower hole).
//!
//! The method is the optimum-path paradigm for fingering (Sayegh, Computer Music Journal 13(3), 1989, as remembered).

use super::effort::{Effort, Gap, Way, Weights};
use crate::{
    harp::{Action, Harp, Technique},
    melody::Melody,
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
        });
        Line { notes: notes.collect() }
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

/// Finds the playing of least effort of a line moved by an interval.
pub fn best(line: &Line, reach: &Reach, weights: &Weights, shift: Interval) -> Playing {
    /// A note that is sounded, and the entry of the note sounded before it.
    struct Entry<'a> {
        note: usize,
        way: &'a Way,
        predecessor: Option<usize>,
    }

    /// How the tune can have gone so far: the entry of the last note sounded, and what the best way there costs,
    /// effort first, then breath changes.
    #[derive(Clone, Copy)]
    struct End {
        last: Option<usize>,
        cost: (u64, u32),
    }

    let mut table: Vec<Entry> = Vec::with_capacity(line.notes.len() * 2);
    let mut ends = vec![End { last: None, cost: (0, 0) }];
    let mut next = Vec::new();
    for (index, note) in line.notes.iter().enumerate() {
        let ways = reach.ways(note.pitch, shift);
        for way in ways {
            let hold = weights.hold(way, note.sounding_ms()).total();
            let arrivals = ends.iter().map(|end| {
                let (step, change) = match end.last.map(|last| &table[last]) {
                    None => (weights.start(way.action), false),
                    Some(from) => {
                        let gap = weights.gap(line.notes[from.note].span(), note.span());
                        let step = weights.step(from.way.action, way.action, gap);
                        (step, from.way.action.breath != way.action.breath)
                    }
                };
                let effort = end.cost.0.saturating_add(step.total()).saturating_add(hold);
                End { last: end.last, cost: (effort, end.cost.1 + u32::from(change)) }
            });
            // `min_by_key` keeps the first of equals, and both ways and ends have the easiest first.
            if let Some(End { last: predecessor, cost }) = arrivals.min_by_key(|end| end.cost) {
                next.push(End { last: Some(table.len()), cost });
                table.push(Entry { note: index, way, predecessor });
            }
        }
        if ways.is_empty() {
            let missing = weights.missing(note.grace).total();
            next.extend(
                ends.iter().map(|end| End { cost: (end.cost.0.saturating_add(missing), end.cost.1), ..*end }),
            );
        }
        std::mem::swap(&mut ends, &mut next);
        next.clear();
    }

    let mut actions: Vec<Option<Action>> = vec![None; line.notes.len()];
    let mut last = ends.iter().min_by_key(|end| end.cost).and_then(|end| end.last);
    while let Some(entry) = last.map(|last| &table[last]) {
        actions[entry.note] = Some(entry.way.action);
        last = entry.predecessor;
    }
    price(line, &actions, reach, weights, shift)
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
    let mut previous: Option<(&LineNote, Action)> = None;
    for (note, action) in line.notes.iter().zip(actions.iter().copied().chain(std::iter::repeat(None))) {
        let way = reach.ways(note.pitch, shift).iter().find(|way| Some(way.action) == action);
        let Some(way) = way else {
            let effort = weights.missing(note.grace);
            playing.push(Played { effort, ..Played::default() });
            continue;
        };
        let action = way.action;
        let hold = weights.hold(way, note.sounding_ms());
        playing.push(match previous {
            None => {
                Played { action: Some(action), effort: weights.start(action) + hold, ..Played::default() }
            }
            Some((before, from)) => {
                let gap = weights.gap(before.span(), note.span());
                Played {
                    action: Some(action),
                    effort: weights.step(from, action, gap) + hold,
                    breath_change: from.breath != action.breath,
                    awkward: weights.is_awkward(from, action, gap),
                }
            }
        });
        previous = Some((note, action));
    }
    playing
}

impl Playing {
    fn push(&mut self, played: Played) {
        self.effort += played.effort;
        self.notes.push(played);
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
