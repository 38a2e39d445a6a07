//! The search as a graph, for oracles: a node for every action with every reachable volume of air.

use std::collections::BTreeMap;

use breathline::{
    harp::{Breath, Harp, Technique},
    melody::{Melody, phrase},
    pitch::Interval,
    search::{
        Weights,
        effort::{Held, Way},
        heard::{End, Heard, heard},
    },
};
use petgraph::graph::DiGraph;

/// A note with the data that the oracles use.
pub(crate) struct Step {
    pub(crate) ways: Vec<Way>,
    pub(crate) span: (u64, u64),
    pub(crate) held: Held,
    pub(crate) heard: Heard,
    pub(crate) phrase_end: bool,
    /// The volume that the player breathes towards before the note.
    pub(crate) aim: u32,
}

/// Returns the notes of a melody moved by an interval.
pub(crate) fn steps(
    melody: &Melody,
    harp: &Harp,
    technique: Technique,
    weights: &Weights,
    shift: Interval,
) -> Vec<Step> {
    let ends: Vec<usize> = phrase::ends(melody).iter().map(|end| end.note).collect();
    let last_class = ends.last().map(|&last| melody.notes[last].pitch.class());
    let notes = melody.notes.iter().zip(melody.timing()).zip(heard(melody)).enumerate();
    let notes = notes.map(|(index, ((note, sounding), heard))| {
        let span = (sounding.start / 1000, sounding.end / 1000);
        let pitch = note.pitch.transposed(shift);
        let ways = harp.ways().filter(|way| Some(way.0) == pitch && technique.allows(way.1));
        let phrase_end = ends.binary_search(&index).is_ok();
        Step {
            ways: ways.map(|(pitch, action, traits)| Way { action, pitch, traits }).collect(),
            span,
            held: Held {
                ms: (span.1 - span.0).min(60_000) as u32,
                home: phrase_end && Some(note.pitch.class()) == last_class,
                last: heard.end == End::Tune,
                grace: note.grace,
            },
            heard,
            phrase_end,
            aim: 0,
        }
    });
    let mut steps: Vec<Step> = notes.collect();
    for index in 0..steps.len() {
        steps[index].aim = aim(weights, &steps[index..]);
    }
    steps
}

/// Returns the best volume at which to begin these notes, within the limits for the start of a phrase. If each note is
/// played in its first way, the volume falls as far below the middle as it rises above it, up to the next end of a
/// phrase or rest.
fn aim(weights: &Weights, steps: &[Step]) -> u32 {
    let lungs = &weights.lungs;
    let capacity = i64::from(lungs.capacity_ml.min(10_000));
    let (mut air, mut least, mut most) = (0i64, 0i64, 0i64);
    for (index, step) in steps.iter().enumerate() {
        if let Some(way) = step.ways.first() {
            let by = i64::from(lungs.air(way, step.held.ms));
            air += if way.action.breath == Breath::Draw { by } else { -by };
            (least, most) = (least.min(air), most.max(air));
        }
        let rest = steps.get(index + 1).is_some_and(|next| weights.gap(step.span, next.span).rested);
        if step.phrase_end || rest {
            break;
        }
    }
    let [low, high] = lungs.start.map(|percent| capacity * i64::from(percent) / 100);
    (capacity / 2 - (least + most) / 2).clamp(low, high) as u32
}

/// A sounded note, its way, and the air after it.
pub(crate) type Sounded<'a> = (&'a Step, &'a Way, u32);

/// Returns the cost of reaching a note and sounding it, lungs included, and the volume of air after it, given the
/// previous note and the volume after that note.
pub(crate) fn breathing(weights: &Weights, from: Option<Sounded>, to: &Step, way: &Way) -> (u64, u32) {
    let lungs = &weights.lungs;
    let air = match from {
        None => to.aim,
        Some((step, _, air)) => {
            let rest = to.span.0.saturating_sub(step.span.1).min(60_000) as u32;
            let catch = if step.phrase_end { lungs.catch(step.held.ms) } else { 0 };
            lungs.rested(air, to.aim, rest + catch)
        }
    };
    let aired = lungs.sounded(air, way, to.held.ms);
    let coming = coming(weights, from.map(|(step, from, _)| (step, from)), to, way);
    (coming.saturating_add(aired.points), aired.level_ml)
}

fn coming(weights: &Weights, from: Option<(&Step, &Way)>, to: &Step, way: &Way) -> u64 {
    let arriving = match from {
        None => weights.start(way),
        Some((step, from)) => weights.step(from, way, weights.gap(step.span, to.span)),
    };
    arriving.total() + weights.hold(way, to.held).total()
}

/// Nodes are numbers; node 0 comes before the first note.
pub(crate) struct Graph {
    /// From, to, price.
    pub(crate) edges: Vec<(u32, u32, u64)>,
    /// The price of the notes that no path can sound.
    pub(crate) missing: u64,
    nodes: u32,
}

impl Graph {
    pub(crate) fn new(weights: &Weights, steps: &[Step]) -> Graph {
        let mut graph = Graph { edges: Vec::new(), missing: 0, nodes: 1 };
        // The possible ways of the last sounded note, with the air after it.
        let mut before: Vec<(u32, Option<Sounded>)> = vec![(0, None)];
        for step in steps {
            if step.ways.is_empty() {
                graph.missing = graph.missing.saturating_add(weights.missing(&step.heard).total());
                continue;
            }
            let mut here: BTreeMap<(usize, u32), u32> = BTreeMap::new();
            for &(node, from) in &before {
                for (index, way) in step.ways.iter().enumerate() {
                    let (coming, air) = breathing(weights, from, step, way);
                    let to = *here.entry((index, air)).or_insert_with(|| {
                        graph.nodes += 1;
                        graph.nodes - 1
                    });
                    graph.edges.push((node, to, coming));
                }
            }
            let sounded = |((way, air), node)| (node, Some((step, &step.ways[way], air)));
            before = here.into_iter().map(sounded).collect();
        }
        graph.edges.extend(before.into_iter().map(|(node, _)| (node, graph.nodes, 0)));
        graph
    }

    /// Returns the node after the last note.
    pub(crate) fn end(&self) -> u32 {
        self.nodes
    }

    /// Returns the graph in the form that the library petgraph takes.
    pub(crate) fn petgraph(&self) -> DiGraph<(), u64> {
        DiGraph::from_edges(&self.edges)
    }
}
