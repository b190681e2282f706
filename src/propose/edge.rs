//! Is this straight stretch certified?
//!
//! # Law
//! An edge is accepted where both its ends lie in the joints' ranges, limits and read-out taken off; where every pair of
//! bodies keeps its limit with tolerances, and its stopping limit with the overrun of this edge as timed from rest to rest,
//! by the bound of [`crate::motion::MarginSearch`]; and where the least singular value of the tip's Jacobian is no less
//! than its limit, by that of [`crate::motion::keeps_singular_value`]. All of it holds between the ends, not on samples.

use crate::mechanism::BodyId;
use crate::motion::{Ask, Broken, Margin, MarginSearch, MarginTask, Pairs, Segment, keeps_singular_value};

use super::metric::Metric;
use super::world::TransitWorld;

/// Most intervals of an edge for its clearance.
const INTERVALS: usize = 600;
/// Most evaluations of an edge for its singular value.
const EVALUATIONS: usize = 600;
/// The margin of an edge is told to this, m.
const MARGIN_GAP: f64 = 0.02;

/// A certified edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// From rest to rest, s; where it is not timed, the metric's metres.
    pub seconds: f64,
    /// Its least margin is no less, m.
    pub margin: f64,
}

/// Why an edge is not certified.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum EdgeRefusal {
    Pair([BodyId; 2]),
    NotTold(Option<[BodyId; 2]>),
    Range,
    Singular,
}

/// Certifies edges, one after another.
pub struct Edges<'w> {
    pub world: &'w TransitWorld<'w>,
    pub metric: &'w Metric,
    search: MarginSearch<'w, 'w>,
    /// How many were asked about.
    pub asked: usize,
}

impl<'w> Edges<'w> {
    pub fn new(world: &'w TransitWorld<'w>, metric: &'w Metric, task: MarginTask<'w, 'w>) -> Self {
        Self { world, metric, search: MarginSearch::new(task), asked: 0 }
    }

    /// Whether an edge is certified at all.
    pub fn accepted(&mut self, from: &[f64], to: &[f64]) -> Result<(), EdgeRefusal> {
        let segment = Segment { from: from.to_vec(), to: to.to_vec() };
        let overrun = self.world.time(&segment).overrun;
        self.certified(&segment, &overrun, Ask::kept(INTERVALS)).map(|_| ())
    }

    /// An edge's time, s, whether or not it can be certified.
    pub fn seconds(&self, from: &[f64], to: &[f64]) -> f64 {
        let segment = Segment { from: from.to_vec(), to: to.to_vec() };
        self.world.time(&segment).seconds.unwrap_or_else(|| self.metric.distance(from, to))
    }

    /// An edge with its margin, up to `enough` (m).
    pub fn measured(&mut self, from: &[f64], to: &[f64], enough: f64) -> Result<Edge, EdgeRefusal> {
        let segment = Segment { from: from.to_vec(), to: to.to_vec() };
        let time = self.world.time(&segment);
        let kept = Ask::kept(INTERVALS);
        let ask = Ask { enough: enough.max(kept.enough), gap: MARGIN_GAP, ..kept };
        let margin = self.certified(&segment, &time.overrun, ask)?;
        Ok(Edge { seconds: time.seconds.unwrap_or_else(|| self.metric.distance(from, to)), margin })
    }

    /// The pair that breaks a limit at rest in a configuration, whatever the arm does.
    pub fn broken_at(&mut self, q: &[f64]) -> Option<Broken> {
        let there = Segment { from: q.to_vec(), to: q.to_vec() };
        match self.search.on(&there, &[], Ask { pairs: Pairs::All, ..Ask::kept(INTERVALS) }) {
            Margin::Broken(broken) => Some(broken),
            Margin::Kept(_) | Margin::NotTold(_) => None,
        }
    }

    fn certified(&mut self, segment: &Segment, overrun: &[f64], ask: Ask) -> Result<f64, EdgeRefusal> {
        self.asked += 1;
        let world = self.world;
        if world.out_of_range(&segment.from).or(world.out_of_range(&segment.to)).is_some() {
            return Err(EdgeRefusal::Range);
        }
        let margin = match self.search.on(segment, overrun, ask) {
            Margin::Kept(margin) => margin,
            Margin::Broken(Broken { bodies, .. }) => return Err(EdgeRefusal::Pair(bodies)),
            Margin::NotTold(bodies) => return Err(EdgeRefusal::NotTold(bodies)),
        };
        let scale = world.scene.project.plan.limits.singularity_length_m;
        let limit = (world.singular_limit, EVALUATIONS);
        if keeps_singular_value(&world.arm.mechanism, world.arm.tip, segment, scale, limit) {
            Ok(margin)
        } else {
            Err(EdgeRefusal::Singular)
        }
    }
}
