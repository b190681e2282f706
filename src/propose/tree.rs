//! How do two trees grow towards each other until they meet?
//!
//! # Law
//! By turns, one tree takes a step towards a random configuration, from its vertex nearest to it; then the other grows
//! towards the new vertex, step by step, as far as it gets (Kuffner & LaValle 2000, "RRT-Connect"). Distance is
//! √Σ (w_k·Δq_k)², w_k the reach of what joint *k* turns (m), so that a step is about as long as what it moves in space.
//! Half of the random configurations lie about the stretch between the two ends.

use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

use super::edge::{Edges, Refused};
use crate::check::{Stopped, go_on};
use crate::mechanism::{JointMotion, LinkId};
use crate::space::Random;
use crate::state::ArmAlone;

/// The longest step, m.
const STEP: f64 = 4.0;
/// How far about the stretch between the ends half of the random configurations lie, as a share of each joint's range.
const ABOUT: f64 = 0.25;

/// What became of two trees.
#[derive(Clone, Debug, Default)]
pub struct Grown {
    /// From start to goal, both included.
    pub way: Option<Vec<Vec<f64>>>,
    pub vertices: usize,
    /// How near the trees came, m.
    pub nearest: f64,
    /// What refused steps, and how many.
    pub refused: BTreeMap<Refused, usize>,
}

struct Tree {
    vertices: Vec<Vec<f64>>,
    parents: Vec<usize>,
}

impl Tree {
    fn at(root: &[f64]) -> Self {
        Self { vertices: vec![root.to_vec()], parents: vec![0] }
    }

    fn nearest(&self, to: &[f64], weights: &[f64]) -> usize {
        let distance = |k: &usize| distance(&self.vertices[*k], to, weights);
        (0..self.vertices.len()).min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap_or_default()
    }

    fn add(&mut self, vertex: Vec<f64>, parent: usize) -> usize {
        self.vertices.push(vertex);
        self.parents.push(parent);
        self.vertices.len() - 1
    }

    /// From a vertex back to the root.
    fn back(&self, mut from: usize) -> Vec<Vec<f64>> {
        let mut way = vec![self.vertices[from].clone()];
        while from != 0 {
            from = self.parents[from];
            way.push(self.vertices[from].clone());
        }
        way
    }
}

/// Grows two trees from the two ends, until they meet or have so many vertices together.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn grow(
    edges: &Edges,
    (start, goal): (&[f64], &[f64]),
    vertices: usize,
    random: &mut Random,
    stop: &AtomicBool,
) -> Result<Grown, Stopped> {
    let weights = weights(&edges.arm);
    let mut grown = Grown { nearest: distance(start, goal, &weights), ..Grown::default() };
    let mut trees = [Tree::at(start), Tree::at(goal)];
    let mut turn = 0;
    // Steps that are refused cost as much as vertices.
    let mut spent = 0;
    while spent < vertices {
        go_on(stop)?;
        let wanted = sample(edges, (start, goal), random);
        let step = |tree: &mut Tree, grown: &mut Grown, towards: &[f64]| -> Option<usize> {
            let from = tree.nearest(towards, &weights);
            let to = edges.arm.rounded(&stepped(&tree.vertices[from], towards, &weights));
            if to == tree.vertices[from] {
                return None;
            }
            match edges.certify(&tree.vertices[from], &to) {
                Ok(()) => Some(tree.add(to, from)),
                Err(refused) => {
                    *grown.refused.entry(refused).or_default() += 1;
                    None
                }
            }
        };
        spent += 1;
        if let Some(new) = step(&mut trees[turn], &mut grown, &wanted) {
            let target = trees[turn].vertices[new].clone();
            let mut met = trees[1 - turn].vertices.iter().position(|vertex| *vertex == target);
            while met.is_none() {
                spent += 1;
                let Some(reached) = step(&mut trees[1 - turn], &mut grown, &target) else { break };
                let left = distance(&trees[1 - turn].vertices[reached], &target, &weights);
                grown.nearest = grown.nearest.min(left);
                met = (trees[1 - turn].vertices[reached] == target).then_some(reached);
            }
            if let Some(met) = met {
                let (mut there, back) = (trees[turn].back(new), trees[1 - turn].back(met));
                there.reverse();
                there.extend(back.into_iter().skip(1));
                if turn == 1 {
                    there.reverse();
                }
                (grown.way, grown.nearest) = (Some(there), 0.0);
                break;
            }
        }
        turn = 1 - turn;
    }
    grown.vertices = trees.iter().map(|tree| tree.vertices.len()).sum();
    Ok(grown)
}

/// A random configuration on the grid.
fn sample(edges: &Edges, (start, goal): (&[f64], &[f64]), random: &mut Random) -> Vec<f64> {
    let about = random.unit() < 0.5;
    let along = random.unit();
    let each = edges.ranges.iter().zip(start).zip(goal).map(|((range, start), goal)| {
        let wide = range.highest - range.lowest;
        if about {
            let middle = start + (goal - start) * along;
            (middle + wide * ABOUT * (2.0 * random.unit() - 1.0)).clamp(range.lowest, range.highest)
        } else {
            range.lowest + wide * random.unit()
        }
    });
    let exact: Vec<f64> = each.collect();
    edges.arm.rounded(&exact)
}

fn distance(a: &[f64], b: &[f64], weights: &[f64]) -> f64 {
    a.iter().zip(b).zip(weights).map(|((a, b), weight)| (weight * (a - b)).powi(2)).sum::<f64>().sqrt()
}

/// Towards a configuration, by the longest step at most.
fn stepped(from: &[f64], towards: &[f64], weights: &[f64]) -> Vec<f64> {
    let share = (STEP / distance(from, towards, weights)).min(1.0);
    from.iter().zip(towards).map(|(from, to)| from + (to - from) * share).collect()
}

/// Of each joint, the length of what it turns, stretched, m; 1 for one that slides.
fn weights(arm: &ArmAlone) -> Vec<f64> {
    /// What the arm carries reaches about as far beyond its tip, m.
    const CARRIED: f64 = 2.0;
    let mechanism = &arm.mechanism;
    let mut weights = vec![1.0; mechanism.variable_count()];
    let mut length = CARRIED;
    let path: Vec<LinkId> = mechanism.path_inwards(arm.tip).collect();
    for link in path {
        let link = mechanism.link(link);
        if let Some(variable) = link.joint.variable
            && link.joint.motion == JointMotion::Revolute
        {
            weights[variable] = length;
        }
        length += link.parent_from_joint.translation.vector.norm();
    }
    weights
}
