//! Which chain of certified edges leads from start to goal?
//!
//! # Law
//! Two trees grow towards each other, one from the start and one from the goal. One takes a step towards a drawn
//! configuration, the other goes as far as it can towards what was reached; then they change places. Every node lies on
//! the grid that operators key in, and every edge is certified between nodes as they lie there.
//!
//! Half of what is drawn is spread evenly over the joints' ranges; a quarter lies about the straight way between start and
//! goal, a quarter about one of the two, nearer more often than far.
//!
//! # Source
//! Kuffner & LaValle 2000, *RRT-Connect: an efficient approach to single-query path planning* (from memory).

use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

use crate::check::{Progress, Stopped, go_on};

use super::edge::{EdgeRefusal, Edges};
use super::random::Draw;

/// A step is so much of what the whole arm stretches.
const STEP: f64 = 0.3;
/// A connection takes no more steps at a time than this.
const MOST_STEPS: usize = 1000;

/// What growing the trees came to.
pub struct Growth {
    /// From start to goal, both included; none where the trees did not meet.
    pub path: Option<Vec<Vec<f64>>>,
    pub nodes: usize,
    /// The nearest that the trees came to each other.
    pub nearest: [Vec<f64>; 2],
    /// What refused edges between them, and how often.
    pub refused: BTreeMap<EdgeRefusal, usize>,
}

/// Configurations and which each was reached from.
struct Tree {
    nodes: Vec<Vec<f64>>,
    parents: Vec<usize>,
}

impl Tree {
    fn rooted(at: &[f64]) -> Self {
        Self { nodes: vec![at.to_vec()], parents: vec![0] }
    }

    fn add(&mut self, q: Vec<f64>, parent: usize) -> usize {
        self.nodes.push(q);
        self.parents.push(parent);
        self.nodes.len() - 1
    }

    /// From a node to the root.
    fn way_back(&self, node: usize) -> Vec<Vec<f64>> {
        let mut way = vec![self.nodes[node].clone()];
        let mut at = node;
        while at != 0 {
            at = self.parents[at];
            way.push(self.nodes[at].clone());
        }
        way
    }
}

/// Grows two trees until they meet or have so many nodes, or as many configurations have been drawn.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn grow(
    edges: &mut Edges,
    [start, goal]: [&[f64]; 2],
    (draw, budget): (&mut Draw, usize),
    (progress, stop): (&dyn Progress, &AtomicBool),
) -> Result<Growth, Stopped> {
    let mut grower = Grower {
        step: STEP * edges.metric.stretch(),
        edges,
        trees: [Tree::rooted(start), Tree::rooted(goal)],
        nearest: (f64::INFINITY, [start.to_vec(), goal.to_vec()]),
        refused: BTreeMap::new(),
    };
    let mut growing = 0;
    for _ in 0..budget {
        go_on(stop)?;
        if grower.nodes() >= budget {
            break;
        }
        progress.advance();
        let towards = grower.drawn(draw, [start, goal]);
        if let Some(node) = grower.step_towards(growing, &towards) {
            let reached = grower.trees[growing].nodes[node].clone();
            if let Some(met) = grower.connect(1 - growing, &reached) {
                let ways = if growing == 0 { [node, met] } else { [met, node] };
                return Ok(grower.finish(Some(ways)));
            }
        }
        growing = 1 - growing;
    }
    Ok(grower.finish(None))
}

struct Grower<'e, 'w> {
    edges: &'e mut Edges<'w>,
    /// The longest edge, m.
    step: f64,
    trees: [Tree; 2],
    nearest: (f64, [Vec<f64>; 2]),
    refused: BTreeMap<EdgeRefusal, usize>,
}

impl Grower<'_, '_> {
    fn nodes(&self) -> usize {
        self.trees.iter().map(|tree| tree.nodes.len()).sum()
    }

    fn drawn(&self, draw: &mut Draw, ends: [&[f64]; 2]) -> Vec<f64> {
        let ranges = &self.edges.world.ranges;
        let kind = draw.below(4);
        if kind < 2 {
            return ranges.iter().map(|[lowest, highest]| draw.between(*lowest, *highest)).collect();
        }
        let along = if kind == 2 { draw.unit() } else { draw.below(2) as f64 };
        let [start, goal] = ends;
        // Squared, so that it is small more often than large.
        let spread = draw.unit().powi(2);
        let near = |(k, [lowest, highest]): (usize, &[f64; 2])| {
            let off = spread * 0.5 * (highest - lowest) * draw.between(-1.0, 1.0);
            (start[k] + (goal[k] - start[k]) * along + off).max(*lowest).min(*highest)
        };
        ranges.iter().enumerate().map(near).collect()
    }

    fn nearest_node(&self, tree: usize, q: &[f64]) -> usize {
        let metric = self.edges.metric;
        let nodes = self.trees[tree].nodes.iter().map(|node| metric.squared(node, q)).enumerate();
        nodes.min_by(|(_, a), (_, b)| a.total_cmp(b)).map_or(0, |(node, _)| node)
    }

    /// One step of a tree towards a configuration: the new node, if there is one.
    fn step_towards(&mut self, tree: usize, towards: &[f64]) -> Option<usize> {
        let from = self.nearest_node(tree, towards);
        let to = self.stepped(tree, from, towards);
        let at = &self.trees[tree].nodes[from];
        if to == *at {
            return None;
        }
        self.edges.accepted(at, &to).is_ok().then(|| self.trees[tree].add(to, from))
    }

    /// Where a step from a node leads, on the grid.
    fn stepped(&self, tree: usize, from: usize, towards: &[f64]) -> Vec<f64> {
        let at = &self.trees[tree].nodes[from];
        let far = self.edges.metric.distance(at, towards);
        let share = if far > self.step { self.step / far } else { 1.0 };
        let to: Vec<f64> = at.iter().zip(towards).map(|(at, to)| at + (to - at) * share).collect();
        self.edges.world.arm.rounded(&to)
    }

    /// Steps of a tree towards a node of the other, as far as they go: the node from which the last edge leads there, if
    /// it does.
    fn connect(&mut self, tree: usize, goal: &[f64]) -> Option<usize> {
        let mut from = self.nearest_node(tree, goal);
        for _ in 0..MOST_STEPS {
            let far = self.edges.metric.distance(&self.trees[tree].nodes[from], goal);
            if far < self.nearest.0 {
                let mut sides = [self.trees[tree].nodes[from].clone(), goal.to_vec()];
                if tree == 1 {
                    sides.swap(0, 1);
                }
                self.nearest = (far, sides);
            }
            let arrives = far <= self.step;
            let to = if arrives { goal.to_vec() } else { self.stepped(tree, from, goal) };
            let at = &self.trees[tree].nodes[from];
            if to == *at {
                return arrives.then_some(from);
            }
            if let Err(refusal) = self.edges.accepted(at, &to) {
                *self.refused.entry(refusal).or_insert(0) += 1;
                return None;
            }
            if arrives {
                return Some(from);
            }
            from = self.trees[tree].add(to, from);
        }
        None
    }

    /// `met`: where the edge between the trees ends, in each.
    fn finish(self, met: Option<[usize; 2]>) -> Growth {
        let path = met.map(|[from_start, from_goal]| {
            let mut way = self.trees[0].way_back(from_start);
            way.reverse();
            way.extend(self.trees[1].way_back(from_goal));
            way.dedup();
            way
        });
        Growth { path, nodes: self.nodes(), nearest: self.nearest.1, refused: self.refused }
    }
}
