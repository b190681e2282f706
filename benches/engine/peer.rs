//! The same arm in `k`, a Rust library for kinematics and inverse kinematics.

use k::nalgebra as na;
use k::prelude::*;
use trusswalk::space::Pose;

use crate::arm::{TIP, configuration, range, rows};
use crate::inverse::WITHIN;

/// Starts of a search; each takes at most [`TRIES`] steps.
const STARTS: usize = 10;
const TRIES: usize = 100;

pub struct Arm {
    chain: k::SerialChain<f64>,
    solver: k::JacobianIkSolver<f64>,
}

impl Arm {
    pub fn new() -> Self {
        let limits = k::joint::Range::new(range().lowest, range().highest);
        let mut nodes: Vec<k::Node<f64>> = rows()
            .into_iter()
            .enumerate()
            .map(|(number, (place, axis))| {
                let axis = na::Unit::new_normalize(na::Vector3::new(axis.x, axis.y, axis.z));
                k::NodeBuilder::new()
                    .name(&format!("j{number}"))
                    .translation(na::Translation3::new(place.x, place.y, place.z))
                    .joint_type(k::JointType::Rotational { axis })
                    .limits(Some(limits.clone()))
                    .into_node()
            })
            .collect();
        let tip = k::NodeBuilder::new().name("tip").translation(na::Translation3::new(0.0, 0.0, TIP)).into_node();
        nodes.push(tip);
        for pair in nodes.windows(2) {
            pair[1].set_parent(&pair[0]);
        }
        let tip = nodes.last().expect("a tip");
        Self { chain: k::SerialChain::from_end(tip), solver: k::JacobianIkSolver::new(WITHIN, WITHIN, 0.5, TRIES) }
    }

    /// Poses of all links.
    pub fn pose(&self, q: &[f64]) -> Vec<na::Isometry3<f64>> {
        self.chain.set_joint_positions_unchecked(q);
        self.chain.update_transforms()
    }

    /// Poses all links and takes the tip's Jacobian.
    pub fn jacobian(&self, q: &[f64]) -> na::DMatrix<f64> {
        self.chain.set_joint_positions_unchecked(q);
        k::jacobian(&self.chain)
    }

    /// Whether the pose is reached from one of several starts, the given one first.
    pub fn reaches(&self, place: &Pose, start: &[f64]) -> bool {
        let (at, turn) = (place.translation.vector, place.rotation.coords);
        let target = na::Isometry3::from_parts(
            na::Translation3::new(at.x, at.y, at.z),
            na::UnitQuaternion::from_quaternion(na::Quaternion::new(turn.w, turn.x, turn.y, turn.z)),
        );
        (0..STARTS).any(|attempt| {
            let from = if attempt == 0 { start.to_vec() } else { configuration(1_000_000 + attempt) };
            self.chain.set_joint_positions_unchecked(&from);
            self.solver.solve(&self.chain, &target).is_ok() && self.is_at(&target)
        })
    }

    /// Whether the tip is at a pose: the solver cuts joints to their limits after it has met the target.
    fn is_at(&self, target: &na::Isometry3<f64>) -> bool {
        self.chain.update_transforms();
        let tip = self.chain.end_transform();
        let apart = (tip.translation.vector - target.translation.vector).norm();
        apart <= WITHIN && tip.rotation.angle_to(&target.rotation) <= WITHIN
    }
}
