//! Which joint values bring a link's frame to a wanted place?
//!
//! # Law
//! Bounded damped least squares on the tip's error (position in metres, rotation vector of the error in radians times
//! a length scale), from a start and then from deterministic restarts spread over the joint ranges. Not found is not
//! proven: the answer says after how many starts.

use std::cell::LazyCell;

use nalgebra::{DMatrix, DVector};

use super::jacobian::tip_jacobian;
use super::least_squares::{Residuals, Settings, solve};
use super::tree::{LinkId, Mechanism, Posed, Range};
use crate::space::{Pose, Spread, Vector};

/// What the tip must meet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meets {
    /// Position and orientation.
    Pose,
    /// Position and the direction of the z axis.
    PositionAndAxis,
    /// Position alone.
    Position,
}

/// Where the link's frame shall be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Goal {
    pub link: LinkId,
    pub structure_from_link: Pose,
    pub meets: Meets,
}

/// Settings of the search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InverseKinematics {
    /// Starts in all, the given one included.
    pub starts: usize,
    /// Most evaluations a start.
    pub evaluations: usize,
    /// Met when the position is within this, m, and the turn within this, rad.
    pub within: f64,
}

impl Default for InverseKinematics {
    fn default() -> Self {
        Self { starts: 256, evaluations: 60, within: 1e-9 }
    }
}

/// The outcome of a search.
#[derive(Clone, Debug, PartialEq)]
pub enum Solved {
    /// Met by these joint values.
    Met(Vec<f64>),
    /// Not met from any start; the nearest found and its error (m, with turns times 1 m).
    NotFound { nearest: Vec<f64>, error: f64, starts: usize },
}

impl InverseKinematics {
    /// Joint values that meet the goal, nearest start first.
    pub fn solve(&self, mechanism: &Mechanism, goal: &Goal, start: &[f64]) -> Solved {
        let ranges = mechanism.ranges();
        let spread = LazyCell::new(|| Spread::over(ranges.len()));
        let mut problem = TipError::new(mechanism, goal);
        let settings = Settings { evaluations: self.evaluations, small_enough: self.within, ..Settings::default() };
        let mut nearest: Option<(Vec<f64>, f64)> = None;
        for attempt in 0..self.starts.max(1) {
            let from = if attempt == 0 { start.to_vec() } else { scattered(&spread, attempt, &ranges, start) };
            let found = solve(&mut problem, &from, &ranges, &settings);
            if found.norm <= self.within {
                return Solved::Met(found.q);
            }
            if nearest.as_ref().is_none_or(|(_, error)| found.norm < *error) {
                nearest = Some((found.q, found.norm));
            }
        }
        let (nearest, error) = nearest.expect("at least one start");
        Solved::NotFound { nearest, error, starts: self.starts.max(1) }
    }

    /// All distinct solutions that the starts lead to, each variable at least `apart` from another in one joint.
    pub fn solve_all(&self, mechanism: &Mechanism, goal: &Goal, start: &[f64], apart: f64) -> Vec<Vec<f64>> {
        let ranges = mechanism.ranges();
        let spread = LazyCell::new(|| Spread::over(ranges.len()));
        let mut problem = TipError::new(mechanism, goal);
        let settings = Settings { evaluations: self.evaluations, small_enough: self.within, ..Settings::default() };
        let mut found: Vec<Vec<f64>> = Vec::new();
        for attempt in 0..self.starts.max(1) {
            let from = if attempt == 0 { start.to_vec() } else { scattered(&spread, attempt, &ranges, start) };
            let solution = solve(&mut problem, &from, &ranges, &settings);
            let is_new = found.iter().all(|known| known.iter().zip(&solution.q).any(|(a, b)| (a - b).abs() > apart));
            if solution.norm <= self.within && is_new {
                found.push(solution.q);
            }
        }
        found
    }
}

/// Start number `attempt`: a point of a sequence that is spread over the ranges, a turn either way where a joint has no
/// limit.
fn scattered(spread: &Spread, attempt: usize, ranges: &[Range], about: &[f64]) -> Vec<f64> {
    ranges
        .iter()
        .zip(about)
        .zip(spread.point(attempt))
        .map(|((range, about), share)| {
            let low = if range.lowest.is_finite() { range.lowest } else { about - std::f64::consts::PI };
            let high = if range.highest.is_finite() { range.highest } else { about + std::f64::consts::PI };
            low + (high - low) * share
        })
        .collect()
}

struct TipError<'a> {
    mechanism: &'a Mechanism,
    goal: &'a Goal,
    posed: Posed,
}

impl<'a> TipError<'a> {
    fn new(mechanism: &'a Mechanism, goal: &'a Goal) -> Self {
        Self { mechanism, goal, posed: mechanism.workspace() }
    }
}

impl Residuals for TipError<'_> {
    fn evaluate(&mut self, q: &[f64], residuals: &mut DVector<f64>, jacobian: &mut DMatrix<f64>) {
        self.mechanism.pose_into(q, &mut self.posed);
        let tip = self.posed.link(self.goal.link);
        let columns = tip_jacobian(self.mechanism, &self.posed, self.goal.link);
        let wanted = &self.goal.structure_from_link;
        residuals.rows_mut(0, 3).copy_from(&(tip.translation.vector - wanted.translation.vector));
        jacobian.rows_mut(0, 3).copy_from(&columns.rows(0, 3));
        match self.goal.meets {
            Meets::Position => {}
            Meets::Pose => {
                // The turn still missing, as a rotation vector; near zero its derivative is the angular velocity.
                let missing = (tip.rotation * wanted.rotation.inverse()).scaled_axis();
                residuals.rows_mut(3, 3).copy_from(&missing);
                let correction = rotation_vector_rate(&missing);
                jacobian.rows_mut(3, 3).copy_from(&(correction * columns.rows(3, 3)));
            }
            Meets::PositionAndAxis => {
                let axis = tip.rotation * Vector::z();
                residuals.rows_mut(3, 3).copy_from(&(axis - wanted.rotation * Vector::z()));
                for (k, angular) in columns.rows(3, 3).column_iter().enumerate() {
                    let rate = Vector::new(angular[0], angular[1], angular[2]).cross(&axis);
                    jacobian.view_mut((3, k), (3, 1)).copy_from(&rate);
                }
            }
        }
    }

    fn count(&self) -> usize {
        match self.goal.meets {
            Meets::Position => 3,
            Meets::Pose | Meets::PositionAndAxis => 6,
        }
    }
}

/// The matrix that turns an angular velocity into the rate of a rotation vector `v`: the inverse of the left Jacobian
/// of SO(3) (Bullo & Murray 1995), I − ½[v] + (1/θ² − (1 + cos θ)/(2θ sin θ))·[v]².
fn rotation_vector_rate(v: &Vector) -> nalgebra::Matrix3<f64> {
    let angle = v.norm();
    let cross = v.cross_matrix();
    // Near zero the factor tends to 1/12; near a half turn sin θ vanishes and the pose is far from met anyway.
    let factor = if angle < 1e-4 {
        1.0 / 12.0
    } else {
        let half = 0.5 * angle;
        (1.0 - half * half.cos() / half.sin()) / (angle * angle)
    };
    nalgebra::Matrix3::identity() - cross * 0.5 + cross * cross * factor
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanism::random_tree::{random_configuration, random_tree};
    use crate::mechanism::{JointMotion, MechanismBuilder};

    fn planar() -> (Mechanism, LinkId) {
        let mut builder = MechanismBuilder::new();
        let axis = Vector::z_axis();
        let turns = Range { lowest: -3.0, highest: 3.0 };
        let first = builder.joint("a", LinkId::STRUCTURE, Pose::identity(), JointMotion::Revolute, axis, turns);
        let second = builder.joint("b", first, Pose::translation(1.0, 0.0, 0.0), JointMotion::Revolute, axis, turns);
        let tip = builder.fixed("tip", second, Pose::translation(0.8, 0.0, 0.0));
        (builder.finish(), tip)
    }

    #[test]
    fn both_elbows_of_the_planar_arm_are_found() {
        // Closed form: cos q2 = 0.1 at (1.2, 0.6).
        let (arm, tip) = planar();
        let goal = Goal { link: tip, structure_from_link: Pose::translation(1.2, 0.6, 0.0), meets: Meets::Position };
        let mut found = InverseKinematics::default().solve_all(&arm, &goal, &[0.1, 0.1], 1e-3);
        found.sort_by(|a, b| a[1].total_cmp(&b[1]));
        let degrees: Vec<f64> = found.iter().flatten().map(|q| q.to_degrees()).collect();
        let expected = [62.956295, -84.260830, -9.826193, 84.260830];
        assert_eq!(degrees.len(), 4);
        assert!(degrees.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-5), "{degrees:?}");
    }

    #[test]
    fn beyond_the_reach_ring_nothing_is_found_and_the_shortfall_is_told() {
        let (arm, tip) = planar();
        let goal = Goal { link: tip, structure_from_link: Pose::translation(1.9, 0.0, 0.0), meets: Meets::Position };
        match InverseKinematics::default().solve(&arm, &goal, &[0.1, 0.1]) {
            Solved::NotFound { error, .. } => {
                assert!((error - 0.1).abs() < 1e-6, "short by {error}")
            }
            Solved::Met(q) => panic!("reached beyond the ring: {q:?}"),
        }
    }

    #[test]
    fn a_pose_that_a_random_tree_has_is_met_again() {
        for seed in 0..40 {
            let (mechanism, links) = random_tree(seed);
            let link = *links.last().expect("links");
            let q = random_configuration(&mechanism, seed);
            let goal = Goal { link, structure_from_link: *mechanism.pose(&q).link(link), meets: Meets::Pose };
            let start: Vec<f64> = q.iter().map(|value| value + 0.2).collect();
            let Solved::Met(found) = InverseKinematics::default().solve(&mechanism, &goal, &start) else {
                panic!("seed {seed}: not met")
            };
            let error =
                mechanism.pose(&found).link(link).translation.vector - goal.structure_from_link.translation.vector;
            assert!(error.norm() < 1e-8);
        }
    }
}
