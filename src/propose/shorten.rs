//! How does a path become a better one?
//!
//! # Law
//! Three moves, each taken only where every edge that it makes is certified and the path then costs less by the
//! [`Objective`]: vertices are skipped; a vertex is pulled towards the straight line between its neighbours, all joints
//! together or one alone; a vertex is moved a little at random, less and less. Every vertex stays on the grid that
//! operators key in. It ends when nothing is left to gain, or when as many edges as are allowed have been asked about.
//!
//! # Limits
//! A local search: it leaves the path among the obstacles that the trees found it among.

use std::sync::atomic::AtomicBool;

use crate::check::{Stopped, go_on};

use super::edge::{Edge, Edges};
use super::objective::Objective;
use super::random::Draw;

/// Shares of the way to the line that a vertex is pulled, in the order in which they are tried.
const PULLS: [f64; 4] = [1.0, 0.5, 0.25, 0.1];
/// The first random moves reach so much of a joint's range; the last a thirtieth of it.
const WANDER: f64 = 0.15;
/// A gain below this is none, s.
const NO_GAIN: f64 = 0.05;

/// A chain of certified edges.
#[derive(Clone, Debug)]
pub struct Path {
    pub vertices: Vec<Vec<f64>>,
    edges: Vec<Edge>,
}

impl Path {
    /// The straight way, if it is certified.
    pub fn straight(edges: &mut Edges, ends: [&[f64]; 2], objective: &Objective) -> Option<Self> {
        let edge = edges.measured(ends[0], ends[1], objective.enough_margin).ok()?;
        Some(Self { vertices: ends.map(<[f64]>::to_vec).to_vec(), edges: vec![edge] })
    }

    pub fn seconds(&self) -> f64 {
        self.edges.iter().map(|edge| edge.seconds).sum()
    }

    /// The least of its edges' margins, m.
    pub fn margin(&self) -> f64 {
        self.edges.iter().map(|edge| edge.margin).fold(f64::INFINITY, f64::min)
    }

    pub fn cost(&self, objective: &Objective) -> f64 {
        objective.cost(self.seconds(), self.vertices.len().saturating_sub(2), self.margin())
    }

    /// The waypoints: all but start and goal.
    pub fn waypoints(&self) -> &[Vec<f64>] {
        self.vertices.get(1..self.vertices.len() - 1).unwrap_or_default()
    }

    /// Puts these vertices in place of those between two, with their edges.
    fn replace(&mut self, [from, to]: [usize; 2], vertices: Vec<Vec<f64>>, edges: Vec<Edge>) {
        self.vertices.splice(from + 1..to, vertices);
        self.edges.splice(from..to, edges);
    }
}

/// Skips vertices of a chain of certified edges, then betters the path in rounds that begin while fewer than `allowed`
/// more edges have been asked about.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn shorten(
    edges: &mut Edges,
    chain: &[Vec<f64>],
    (objective, draw, allowed): (&Objective, &mut Draw, usize),
    stop: &AtomicBool,
) -> Result<Option<Path>, Stopped> {
    let Some(path) = skipped(edges, chain, objective) else { return Ok(None) };
    let last = edges.asked + allowed;
    let mut work = Work { edges, objective, path };
    while work.edges.asked < last {
        go_on(stop)?;
        let before = work.path.cost(objective);
        work.drop_vertices();
        work.pull_vertices();
        if work.path.cost(objective) > before - NO_GAIN {
            break;
        }
    }
    let first = work.edges.asked;
    let mut failures = 0;
    while work.edges.asked < last && !work.path.waypoints().is_empty() && failures < 4 * allowed {
        go_on(stop)?;
        let done = (work.edges.asked - first) as f64 / (last - first) as f64;
        if work.wander(draw, WANDER * 30_f64.powf(-done)) {
            work.drop_vertices();
            failures = 0;
        } else {
            failures += 1;
        }
    }
    Ok(Some(work.path))
}

/// The chain with as many vertices skipped as one pass finds: from each the farthest that an edge leads to, looked for
/// by halving. None where an edge of the chain itself isn't certified, which nothing but a spent budget can bring about.
fn skipped(edges: &mut Edges, chain: &[Vec<f64>], objective: &Objective) -> Option<Path> {
    let mut path = Path { vertices: vec![chain.first()?.clone()], edges: Vec::new() };
    let mut at = 0;
    while at + 1 < chain.len() {
        let mut span = chain.len() - 1 - at;
        let edge = loop {
            match edges.measured(&chain[at], &chain[at + span], objective.enough_margin) {
                Ok(edge) => break edge,
                Err(_) if span == 1 => return None,
                Err(_) => span /= 2,
            }
        };
        at += span;
        path.vertices.push(chain[at].clone());
        path.edges.push(edge);
    }
    Some(path)
}

struct Work<'e, 'w> {
    edges: &'e mut Edges<'w>,
    objective: &'e Objective,
    path: Path,
}

impl Work<'_, '_> {
    /// Leaves out each vertex that can be spared.
    fn drop_vertices(&mut self) {
        let mut vertex = 1;
        while vertex + 1 < self.path.vertices.len() {
            if !self.try_between([vertex - 1, vertex + 1], &[]) {
                vertex += 1;
            }
        }
    }

    /// Pulls each vertex towards the line between its neighbours.
    fn pull_vertices(&mut self) {
        let mut vertex = 1;
        while vertex + 1 < self.path.vertices.len() {
            let joints = self.path.vertices[vertex].len();
            for joint in std::iter::once(None).chain((0..joints).map(Some)) {
                for share in PULLS {
                    let pulled = self.pulled(vertex, joint, share);
                    if self.try_between([vertex - 1, vertex + 1], &[pulled]) {
                        break;
                    }
                }
            }
            vertex += 1;
        }
    }

    /// A vertex pulled a share of its way to the line between its neighbours; one joint of it, or all.
    fn pulled(&self, vertex: usize, joint: Option<usize>, share: f64) -> Vec<f64> {
        let [before, at, after] = [vertex - 1, vertex, vertex + 1].map(|k| &self.path.vertices[k]);
        let along = self.edges.metric.fraction((before, after), at);
        let towards = |k: usize| before[k] + (after[k] - before[k]) * along;
        let moves = |k: usize| joint.is_none_or(|only| only == k);
        let pulled = (0..at.len()).map(|k| if moves(k) { at[k] + (towards(k) - at[k]) * share } else { at[k] });
        self.edges.world.arm.rounded(&pulled.collect::<Vec<_>>())
    }

    /// Moves a vertex at random, each joint by so much of its range at most.
    fn wander(&mut self, draw: &mut Draw, reach: f64) -> bool {
        let vertex = 1 + draw.below(self.path.waypoints().len());
        let at = &self.path.vertices[vertex];
        let moved = at.iter().zip(&self.edges.world.ranges).map(|(q, [lowest, highest])| {
            let off = reach * (highest - lowest) * draw.between(-1.0, 1.0);
            (q + off).max(*lowest).min(*highest)
        });
        let moved = self.edges.world.arm.rounded(&moved.collect::<Vec<_>>());
        self.try_between([vertex - 1, vertex + 1], &[moved])
    }

    /// Leads the path from one vertex to another by others in between, if that is certified and costs less.
    fn try_between(&mut self, [from, to]: [usize; 2], between: &[Vec<f64>]) -> bool {
        if self.path.vertices.get(from + 1..to) == Some(between) {
            return false;
        }
        let (first, last) = (&self.path.vertices[from], &self.path.vertices[to]);
        let chain: Vec<&Vec<f64>> = std::iter::once(first).chain(between).chain(std::iter::once(last)).collect();
        let waypoints = self.path.vertices.len() - 2 + between.len() + from + 1 - to;
        let seconds: f64 = chain.windows(2).map(|pair| self.edges.seconds(pair[0], pair[1])).sum();
        let replaced: f64 = self.path.edges[from..to].iter().map(|edge| edge.seconds).sum();
        let seconds = self.path.seconds() - replaced + seconds;
        let others = self.path.edges[..from].iter().chain(&self.path.edges[to..]);
        let margin = others.map(|edge| edge.margin).fold(self.objective.enough_margin, f64::min);
        let present = self.path.cost(self.objective) - NO_GAIN;
        // No better than this, however great the margin of the new edges.
        if self.objective.cost(seconds, waypoints, margin) > present {
            return false;
        }
        let made = chain
            .windows(2)
            .map(|pair| self.edges.measured(pair[0], pair[1], self.objective.enough_margin))
            .collect::<Result<Vec<Edge>, _>>();
        let Ok(made) = made else { return false };
        let margin = made.iter().map(|edge| edge.margin).fold(margin, f64::min);
        let gains = self.objective.cost(seconds, waypoints, margin) <= present;
        if gains {
            self.path.replace([from, to], between.to_vec(), made);
        }
        gains
    }
}
