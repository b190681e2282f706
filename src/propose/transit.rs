//! By which waypoints does the arm get from one configuration to another?
//!
//! # Law
//! If the straight stretch is certified ([`super::edge`]), there are none. Else two trees grow towards each other, one from
//! each end (bidirectional rapidly-exploring random trees: Kuffner & LaValle 2000), every edge certified. All vertices lie
//! on the grid that operators key in, so nothing is rounded afterwards. The way found is then shortened: waypoints are
//! left out, and pulled towards the stretch between their neighbours, as long as that costs less and is certified.
//!
//! What a way costs is its time, from rest to rest at every waypoint, and [`WAYPOINT_COSTS`] for each waypoint; of
//! several trees' ways the least costly is taken. Random numbers come from the plan's seed and the motion's id.
//!
//! # Limits
//! What was not found within the budget of vertices is not proven not to exist. Proven impossible is only a start or goal
//! that may not be.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use super::edge::{Edges, Refused};
use super::tree::{Grown, grow};
use crate::check::{MoveCase, Stopped, go_on};
use crate::motion::{Segment, still_world};
use crate::space::Random;
use crate::state::{Assembly, Extras, Move, Scene};

/// Vertices of both trees together, at most.
pub const VERTICES: usize = 3000;
/// Pairs of trees, each with its own random numbers.
const TREES: u64 = 4;
/// What a waypoint costs, s.
const WAYPOINT_COSTS: f64 = 20.0;
/// Rounds of shortening.
const ROUNDS: usize = 6;

/// What was found for a transit.
#[derive(Clone, Debug, PartialEq)]
pub enum Transit {
    Found(Way),
    /// None found with so many vertices; the two trees came so near (m, by joints and their reach), and what refused
    /// most stretches.
    NotFound {
        vertices: usize,
        nearest: f64,
        refused: Option<String>,
    },
    /// The start or the goal may not be: which, and why.
    Impossible {
        at: End,
        why: String,
    },
}

/// An end of a transit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    Start,
    Goal,
}

/// A certified way.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// On the grid that operators key in (rad or m); none where the straight stretch will do.
    pub waypoints: Vec<Vec<f64>>,
    /// From rest to rest at each waypoint, s; none where the arm's file does not say what its joints can do.
    pub seconds: Option<f64>,
    /// The least that any clearance keeps above its limit, tolerances taken off, m.
    pub margin: f64,
    /// Vertices of all trees.
    pub vertices: usize,
}

/// Finds the waypoints of a transit, whatever waypoints it has.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn transit(scene: &Scene, moved: &Move, stop: &AtomicBool) -> Result<Transit, Stopped> {
    let straight = Move {
        segments: ends(moved).into_iter().collect(),
        distances: vec![f64::INFINITY],
        fixed_seconds: vec![None],
        ..moved.clone()
    };
    let Some(Segment { from, to }) = straight.segments.first().cloned() else {
        let way = Way { waypoints: Vec::new(), seconds: Some(0.0), margin: f64::INFINITY, vertices: 0 };
        return Ok(Transit::Found(way));
    };
    let assembly = Assembly::with(scene, &straight.moment, &Extras::default());
    let frozen = assembly.moving(straight.kind);
    let world = still_world(&frozen);
    let edges = Edges::new(scene, &straight, (&assembly, &frozen, &world));
    for (at, q) in [(End::Start, &from), (End::Goal, &to)] {
        if let Err(refused) = edges.stands(q) {
            return Ok(Transit::Impossible { at, why: words(&edges, refused) });
        }
    }
    let with = |waypoints: Vec<Vec<f64>>, vertices| {
        let mut stops = vec![from.clone()];
        stops.extend(waypoints.iter().cloned());
        stops.push(to.clone());
        let segments: Vec<Segment> =
            stops.windows(2).map(|pair| Segment { from: pair[0].clone(), to: pair[1].clone() }).collect();
        let seconds = segments.iter().map(|segment| Some(edges.time(segment)?.seconds())).sum();
        let count = segments.len();
        let way = Move {
            segments,
            distances: vec![f64::INFINITY; count],
            fixed_seconds: vec![None; count],
            ..straight.clone()
        };
        let margin = margin(&MoveCase::new(scene, &Arc::new(way)));
        Transit::Found(Way { waypoints, seconds, margin, vertices })
    };
    if edges.certify(&from, &to).is_ok() {
        return Ok(with(Vec::new(), 0));
    }
    let grown: Vec<Result<Grown, Stopped>> = (0..TREES)
        .into_par_iter()
        .map(|tree| {
            let mut random = Random::seeded(seed(scene.project.plan.seed, &moved.id, tree));
            let grown = grow(&edges, (&from, &to), VERTICES / TREES as usize, &mut random, stop)?;
            Ok(Grown { way: grown.way.map(|way| shortened(&edges, way)), ..grown })
        })
        .collect();
    go_on(stop)?;
    let grown: Vec<Grown> = grown.into_iter().collect::<Result<_, _>>()?;
    let vertices = grown.iter().map(|grown| grown.vertices).sum();
    let ways = grown.iter().filter_map(|grown| grown.way.as_ref());
    match ways.min_by(|a, b| cost(&edges, a).total_cmp(&cost(&edges, b))) {
        Some(way) => Ok(with(way[1..way.len() - 1].to_vec(), vertices)),
        None => {
            let nearest = grown.iter().map(|grown| grown.nearest).fold(f64::INFINITY, f64::min);
            Ok(Transit::NotFound { vertices, nearest, refused: most_often(&edges, &grown) })
        }
    }
}

/// The least that any clearance keeps above its limit, tolerances taken off, m.
fn margin(moved: &MoveCase) -> f64 {
    let entries = moved.clearance.entries.iter();
    entries.map(|entry| entry.worst.bound.lower - entry.rule.limit).fold(f64::INFINITY, f64::min)
}

/// From where the transit begins to where it ends; none where that is the same.
fn ends(moved: &Move) -> Option<Segment> {
    let (first, last) = (moved.segments.first()?, moved.segments.last()?);
    (first.from != last.to).then(|| Segment { from: first.from.clone(), to: last.to.clone() })
}

/// What a way costs, s; where nothing is timed, the waypoints alone.
fn cost(edges: &Edges, way: &[Vec<f64>]) -> f64 {
    let seconds = way
        .windows(2)
        .filter_map(|pair| Some(edges.time(&Segment { from: pair[0].clone(), to: pair[1].clone() })?.seconds()));
    seconds.sum::<f64>() + WAYPOINT_COSTS * way.len().saturating_sub(2) as f64
}

/// The way without what it does not need.
fn shortened(edges: &Edges, mut way: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    for _ in 0..ROUNDS {
        let before = cost(edges, &way);
        leave_out(edges, &mut way);
        pull(edges, &mut way);
        if cost(edges, &way) >= before - 1e-9 {
            break;
        }
    }
    way
}

/// Leaves out as many waypoints as can be, the longest cuts first.
fn leave_out(edges: &Edges, way: &mut Vec<Vec<f64>>) {
    let mut from = 0;
    while from + 2 < way.len() {
        let to = (from + 2..way.len()).rev().find(|to| {
            let cut: Vec<Vec<f64>> = vec![way[from].clone(), way[*to].clone()];
            cost(edges, &cut) < cost(edges, &way[from..=*to]) && edges.certify(&way[from], &way[*to]).is_ok()
        });
        if let Some(to) = to {
            way.drain(from + 1..to);
        }
        from += 1;
    }
}

/// Moves each waypoint towards the stretch between its neighbours, as far as that is certified and costs less.
fn pull(edges: &Edges, way: &mut [Vec<f64>]) {
    for k in 1..way.len().saturating_sub(1) {
        for share in [1.0, 0.5, 0.25, 0.125] {
            let (before, at, after) = (&way[k - 1], &way[k], &way[k + 1]);
            let onto = nearest_on(before, after, at);
            let trial: Vec<f64> = at.iter().zip(&onto).map(|(at, onto)| at + (onto - at) * share).collect();
            let trial = edges.arm.rounded(&trial);
            let cheaper = cost(edges, &[before.clone(), trial.clone(), after.clone()])
                < cost(edges, &[before.clone(), at.clone(), after.clone()]) - 1e-9;
            if cheaper && edges.certify(before, &trial).is_ok() && edges.certify(&trial, after).is_ok() {
                way[k] = trial;
                break;
            }
        }
    }
}

/// The point of a stretch that is nearest to another.
fn nearest_on(from: &[f64], to: &[f64], at: &[f64]) -> Vec<f64> {
    let along: f64 = from.iter().zip(to).zip(at).map(|((from, to), at)| (to - from) * (at - from)).sum();
    let length: f64 = from.iter().zip(to).map(|(from, to)| (to - from).powi(2)).sum();
    let share = if length > 0.0 { (along / length).clamp(0.0, 1.0) } else { 0.0 };
    from.iter().zip(to).map(|(from, to)| from + (to - from) * share).collect()
}

/// What refused most stretches, in words.
fn most_often(edges: &Edges, grown: &[Grown]) -> Option<String> {
    let mut counts: BTreeMap<Refused, usize> = BTreeMap::new();
    for (refused, count) in grown.iter().flat_map(|grown| &grown.refused) {
        *counts.entry(*refused).or_default() += count;
    }
    let most = counts.into_iter().max_by_key(|(_, count)| *count);
    most.map(|(refused, _)| words(edges, refused))
}

fn words(edges: &Edges, refused: Refused) -> String {
    match refused {
        Refused::JointLimit => "a joint comes too near to the end of its range".to_owned(),
        Refused::Singular => "the arm comes too near to a singular configuration".to_owned(),
        Refused::Near(a, b) => format!("{} comes too near to {}", edges.name(a), edges.name(b)),
        Refused::NotTold => "not told from the limits within the budget".to_owned(),
    }
}

/// A seed of one's own for each motion and tree (FNV-1a: Fowler, Noll, Vo).
fn seed(plan: u64, id: &str, tree: u64) -> u64 {
    let bytes = plan.to_le_bytes().into_iter().chain(id.bytes()).chain(tree.to_le_bytes());
    bytes.fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}
