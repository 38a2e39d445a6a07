//! The search as a graph, for oracles: a node for every action and every volume of air that can be reached.

use std::collections::BTreeMap;

use breathline::{
    harp::{Action, Harp, Technique},
    melody::{Melody, phrase},
    pitch::Interval,
    search::{Weights, effort::Way},
};
use petgraph::graph::DiGraph;

/// A note as the oracles see it.
pub(crate) struct Step {
    pub(crate) ways: Vec<Way>,
    pub(crate) span: (u64, u64),
    pub(crate) sounding_ms: u32,
    pub(crate) grace: bool,
    pub(crate) phrase_end: bool,
}

/// The notes of a melody moved by an interval.
pub(crate) fn steps(melody: &Melody, harp: &Harp, technique: Technique, shift: Interval) -> Vec<Step> {
    let ends: Vec<usize> = phrase::ends(melody).iter().map(|end| end.note).collect();
    let notes = melody.notes.iter().zip(melody.timing()).enumerate();
    let notes = notes.map(|(index, (note, sounding))| {
        let span = (sounding.start / 1000, sounding.end / 1000);
        let pitch = note.pitch.transposed(shift);
        let actions: Vec<Action> = pitch.map(|pitch| harp.actions_for(pitch).collect()).unwrap_or_default();
        let way = |action| Way { action, pitch: pitch.unwrap(), deepest: harp.is_deepest(action) };
        Step {
            ways: actions.into_iter().filter(|&action| technique.allows(action)).map(way).collect(),
            span,
            sounding_ms: (span.1 - span.0).min(60_000) as u32,
            grace: note.grace,
            phrase_end: ends.binary_search(&index).is_ok(),
        }
    });
    notes.collect()
}

/// A sounded note, how it is played, and the air after it.
pub(crate) type Sounded<'a> = (&'a Step, &'a Way, u32);

/// What coming to a note and sounding it costs, lungs included, from a note and the air after it; and the air then.
pub(crate) fn breathing(weights: &Weights, from: Option<Sounded>, to: &Step, way: &Way) -> (u64, u32) {
    let lungs = &weights.lungs;
    let air = match from {
        None => lungs.middle(),
        Some((step, _, air)) => {
            let rest = to.span.0.saturating_sub(step.span.1).min(60_000) as u32;
            let catch = if step.phrase_end { lungs.catch(step.sounding_ms) } else { 0 };
            lungs.rested(air, rest + catch)
        }
    };
    let aired = lungs.sounded(air, way, to.sounding_ms);
    let coming = coming(weights, from.map(|(step, from, _)| (step, from)), to, way);
    (coming.saturating_add(aired.points), aired.level_ml)
}

fn coming(weights: &Weights, from: Option<(&Step, &Way)>, to: &Step, way: &Way) -> u64 {
    let arriving = match from {
        None => weights.start(way.action),
        Some((step, from)) => weights.step(from.action, way.action, weights.gap(step.span, to.span)),
    };
    arriving.total() + weights.hold(way, to.sounding_ms).total()
}

/// Nodes are numbers; node 0 is before the first note.
pub(crate) struct Graph {
    /// From, to, price.
    pub(crate) edges: Vec<(u32, u32, u64)>,
    /// What the notes cost that no path goes through.
    pub(crate) missing: u64,
    nodes: u32,
}

impl Graph {
    pub(crate) fn new(weights: &Weights, steps: &[Step]) -> Graph {
        let mut graph = Graph { edges: Vec::new(), missing: 0, nodes: 1 };
        // How the last sounded note can have been played, with the air after it.
        let mut before: Vec<(u32, Option<Sounded>)> = vec![(0, None)];
        for step in steps {
            if step.ways.is_empty() {
                graph.missing = graph.missing.saturating_add(weights.missing(step.grace).total());
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

    /// The node after the last note.
    pub(crate) fn end(&self) -> u32 {
        self.nodes
    }

    /// As that library wants it.
    pub(crate) fn petgraph(&self) -> DiGraph<(), u64> {
        DiGraph::from_edges(&self.edges)
    }
}
