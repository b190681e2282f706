//! By which waypoints does the arm get from the end of a retreat to the start of an approach?
//!
//! # Law
//! What is proven impossible at either end is said first. Then the straight segment is tried; else two trees grow towards
//! each other ([`super::tree`]), several times over with numbers of their own, and what they find is bettered
//! ([`super::shorten`]); the path that costs least by the [`Objective`] is the answer. Every edge is certified
//! ([`super::edge`]) between vertices on the grid that an operator keys in.
//!
//! The same plan, seed and step give the same answer, on any number of threads; every budget is a count, that of
//! nodes the plan's.
//!
//! # Limits
//! The goal is a configuration: the same pose of the tip in another turn of a joint is another question. A path that is not
//! found may still exist.

use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use crate::check::{Progress, Stopped};
use crate::model::{MOST_TRANSIT_NODES, Plan};
use crate::motion::{MarginTask, Parts, singular_value_at};
use crate::state::{Move, Scene};

use super::always_near::{AlwaysNear, always_near};
use super::answer::{Answer, End, Found, Impossible, NotFound, Refusal};
use super::edge::{EdgeRefusal, Edges};
use super::metric::Metric;
use super::objective::Objective;
use super::random::Draw;
use super::shorten::{Path, shorten};
use super::tree::{Growth, grow};
use super::world::TransitWorld;

/// How long to look, and for what.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// The plan's seed.
    pub seed: u64,
    /// Most nodes of all trees.
    pub nodes: usize,
    /// Pairs of trees that are grown, each with its share of the nodes; the best of what they find is taken.
    pub attempts: usize,
    /// Edges that each attempt may ask about to better its path.
    pub edges: usize,
    pub objective: Objective,
}

impl Default for Settings {
    fn default() -> Self {
        let nodes = MOST_TRANSIT_NODES as usize;
        Self { seed: 0, nodes, attempts: 4, edges: 400, objective: Objective::default() }
    }
}

impl Settings {
    /// For an answer that stays.
    pub fn thorough(plan: &Plan) -> Self {
        Self { seed: plan.seed, nodes: plan.transit_nodes as usize, ..Self::default() }
    }

    /// For a first answer, which tells one serving of a worksite from another.
    pub fn quick(plan: &Plan) -> Self {
        let thorough = Self::thorough(plan);
        Self { nodes: thorough.nodes.div_ceil(5), attempts: 2, edges: 40, ..thorough }
    }

    /// For one of many things that may mend a finding.
    pub fn mending(plan: &Plan) -> Self {
        let thorough = Self::thorough(plan);
        Self { nodes: thorough.nodes.div_ceil(4), ..thorough }
    }
}

/// Looks for a transit: from where the arm is at `moved`'s moment to `goal` (rad or m), for everything that it carries.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn transit(
    scene: &Scene,
    (moved, goal): (&Move, &[f64]),
    settings: &Settings,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Answer, Stopped> {
    let start = moved.moment.arm.as_slice();
    in_world(scene, moved, [start, goal], |world, metric, tasks| {
        let mut edges = Edges::new(world, metric, tasks);
        let ruled_out = impossible(&mut edges, start, End::Start).or_else(|| impossible(&mut edges, goal, End::Goal));
        if let Some(impossible) = ruled_out {
            return Ok(Answer::Impossible(impossible));
        }
        progress.begin(&moved.id, settings.nodes as u64);
        let ends = [start, goal];
        if let Some(path) = Path::straight(&mut edges, ends, &settings.objective) {
            return Ok(Answer::Found(found(&path, world, (2, edges.asked))));
        }
        let attempts = settings.attempts.max(1);
        let attempt = |number: usize| {
            let mut edges = Edges::new(world, metric, tasks);
            let mut draw = Draw::seeded(settings.seed, &moved.step, number as u64);
            let growth = grow(&mut edges, ends, (&mut draw, settings.nodes / attempts), (progress, stop))?;
            let path = match &growth.path {
                Some(chain) => shorten(&mut edges, chain, (&settings.objective, &mut draw, settings.edges), stop)?,
                None => None,
            };
            Ok(Attempt { path, growth, asked: edges.asked })
        };
        let tried: Vec<Result<Attempt, Stopped>> = (0..attempts).into_par_iter().map(attempt).collect();
        let tried = tried.into_iter().collect::<Result<Vec<Attempt>, Stopped>>()?;
        let nodes = tried.iter().map(|attempt| attempt.growth.nodes).sum();
        let asked = edges.asked + tried.iter().map(|attempt| attempt.asked).sum::<usize>();
        let cost = |path: &&Path| path.cost(&settings.objective);
        let paths = tried.iter().filter_map(|attempt| attempt.path.as_ref());
        let best = paths.min_by(|a, b| cost(a).total_cmp(&cost(b)));
        Ok(match best {
            Some(path) => Answer::Found(found(path, world, (nodes, asked))),
            None => Answer::NotFound(not_found(&tried, (world, metric), (nodes, asked))),
        })
    })
}

/// What rules out any transit with the arm in a configuration (rad or m) at one of its ends, for all that it carries.
pub fn ruled_out(scene: &Scene, moved: &Move, q: &[f64], at: End) -> Option<Impossible> {
    in_world(scene, moved, [q, q], |world, metric, tasks| impossible(&mut Edges::new(world, metric, tasks), q, at))
}

/// Two bodies, with their names, that break their limit on every transit from the same stand with the same load.
pub fn always_near_on_transit(scene: &Scene, moved: &Move) -> Option<(AlwaysNear, [String; 2])> {
    let world = TransitWorld::new(scene, moved);
    let rules = world.rules();
    let near = always_near(&world.frozen, |a, b| rules.rule(0, a, b))?;
    let names = world.names(near.bodies);
    Some((near, names))
}

/// Asks about a transit's edges, which clearance and nearness to structure are tasks of.
fn in_world<T>(
    scene: &Scene,
    moved: &Move,
    ends: [&[f64]; 2],
    ask: impl FnOnce(&TransitWorld, &Metric, [MarginTask; 2]) -> T,
) -> T {
    let world = TransitWorld::new(scene, moved);
    let rules = world.rules();
    let rule = |a, b| rules.rule(0, a, b);
    let parts = Parts::of(&world.frozen);
    let task = MarginTask { parts: &parts, world: &world.still, rule: &rule, greatest: rules.greatest() };
    let nearness = |a, b| world.nearness(a, b);
    let greatest = [scene.project.plan.limits.near_structure_m, 0.0];
    let tasks = [task, MarginTask { rule: &nearness, greatest, ..task }];
    ask(&world, &Metric::new(&world.frozen, ends), tasks)
}

/// One pair of trees, and what came of it.
struct Attempt {
    path: Option<Path>,
    growth: Growth,
    /// Edges that were asked about.
    asked: usize,
}

/// What at an end of the path rules out any path.
fn impossible(edges: &mut Edges, q: &[f64], at: End) -> Option<Impossible> {
    let world = edges.world;
    if let (End::Start, Some(bodies)) = (at, edges.swallowed()) {
        return Some(Impossible::Inside { bodies: world.names(bodies) });
    }
    if let Some((variable, by)) = world.out_of_range(q) {
        let joint = world.arm.mechanism.link(world.arm.mechanism.link_of_variable(variable)).name.clone();
        return Some(Impossible::Joint { at, joint, by });
    }
    if let Some(broken) = edges.broken_at(q) {
        return Some(Impossible::Pair { at, bodies: world.names(broken.bodies), by: broken.by });
    }
    let limits = &world.scene.project.plan.limits;
    let arm = &world.arm;
    let value = singular_value_at(&arm.mechanism, &arm.mechanism.pose(q), arm.tip, limits.singularity_length_m)?;
    (value < limits.singular_value_m.value).then_some(Impossible::Singular { at, value })
}

fn found(path: &Path, world: &TransitWorld, (nodes, edges): (usize, usize)) -> Found {
    Found {
        waypoints: path.waypoints().to_vec(),
        seconds: world.is_timed().then(|| path.seconds()),
        margin: path.margin(),
        nodes,
        edges,
    }
}

fn not_found(tried: &[Attempt], (world, metric): (&TransitWorld, &Metric), (nodes, edges): (usize, usize)) -> NotFound {
    let mut refused: BTreeMap<Refusal, usize> = BTreeMap::new();
    for (refusal, times) in tried.iter().flat_map(|attempt| &attempt.growth.refused) {
        let refusal = match *refusal {
            EdgeRefusal::Pair(bodies) => Refusal::Pair(world.names(bodies)),
            EdgeRefusal::NotTold(bodies) => Refusal::NotTold(bodies.map(|bodies| world.names(bodies))),
            EdgeRefusal::Singular => Refusal::Singular,
            // Nothing out of range is drawn, save what rounding to the grid puts there.
            EdgeRefusal::Range => continue,
        };
        *refused.entry(refusal).or_insert(0) += times;
    }
    let mut refused: Vec<(Refusal, usize)> = refused.into_iter().collect();
    refused.sort_by(|(_, a), (_, b)| b.cmp(a));
    let apart = |growth: &Growth| metric.greatest_move(&growth.nearest[0], &growth.nearest[1]);
    let nearest = tried.iter().map(|attempt| &attempt.growth).min_by(|a, b| apart(a).total_cmp(&apart(b)));
    let nearest = nearest.expect("one attempt at least is made");
    NotFound { nodes, edges, nearest: nearest.nearest.clone(), apart: apart(nearest), refused }
}
