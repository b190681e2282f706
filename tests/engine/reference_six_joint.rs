//! Source: roboticstoolbox-python 1.5.0 on the published six-joint table (Corke & Armstrong-Hélouvry 1994, from memory), stored
//! in `references/six_joint.json` (made by `six_joint.py`); the planar rows are closed forms of the project's check values.
//!
//! Tolerances: 1e-9 for what is multiplied out (both sides 1e-15); 1e-7 for √det(JJᵀ), a root of what is zero but for
//! rounding at singular poses; 1e-6 degrees for inverse solutions: the search ends within 1e-12 m and rad of the goal, the stored
//! poses are right to 1e-15, the least singular value is 0.2, and the rest is room for other machines; 1e-9 N·m for torques under loads of 100 N.

use serde::Deserialize;

use trusswalk::mechanism::{
    Goal, InverseKinematics, JointMotion, LinkId, Mechanism, MechanismBuilder, Meets, Range, tip_jacobian,
};
use trusswalk::space::{Pose, Vector};

use super::stored::{Deviation, Stored, assert_allowed, difference, pose_of};

#[derive(Deserialize)]
struct SixJoint {
    d_m: Vec<f64>,
    a_m: Vec<f64>,
    alpha_deg: Vec<f64>,
    lower_deg: Vec<f64>,
    upper_deg: Vec<f64>,
    configurations: Vec<Configuration>,
    inverse: Vec<Inverse>,
    statics: Vec<Load>,
}

#[derive(Deserialize)]
struct Configuration {
    name: String,
    q_deg: Vec<f64>,
    pose: [f64; 12],
    jacobian: Vec<Vec<f64>>,
    manipulability: f64,
}

#[derive(Deserialize)]
struct Inverse {
    name: String,
    pose: [f64; 12],
    solutions_deg: Vec<Vec<f64>>,
    in_limits: Vec<bool>,
}

#[derive(Deserialize)]
struct Load {
    wrench: [f64; 6],
    torques: Vec<f64>,
}

/// Standard Denavit-Hartenberg parameters: each link turns about z, then goes d along z, a along x, and turns α about x.
fn arm(table: &SixJoint, ranges: impl Fn(usize) -> Range) -> (Mechanism, LinkId) {
    let mut builder = MechanismBuilder::new();
    let mut at = LinkId::STRUCTURE;
    let mut place = Pose::identity();
    for (k, ((d, a), alpha)) in table.d_m.iter().zip(&table.a_m).zip(&table.alpha_deg).enumerate() {
        at = builder.joint(&format!("j{k}"), at, place, JointMotion::Revolute, Vector::z_axis(), ranges(k));
        place = Pose::translation(*a, 0.0, *d) * Pose::rotation(Vector::x() * alpha.to_radians());
    }
    let tip = builder.fixed("tip", at, place);
    (builder.finish(), tip)
}

fn free(table: &SixJoint) -> (Mechanism, LinkId) {
    arm(table, |_| Range::FREE)
}

fn limited(table: &SixJoint) -> (Mechanism, LinkId) {
    arm(table, |k| Range { lowest: table.lower_deg[k].to_radians(), highest: table.upper_deg[k].to_radians() })
}

fn radians(degrees: &[f64]) -> Vec<f64> {
    degrees.iter().map(|angle| angle.to_radians()).collect()
}

/// The greatest difference of two configurations in degrees, angles taken modulo 360.
fn apart_deg(q: &[f64], stored_deg: &[f64]) -> f64 {
    let turned = |difference: f64| (difference + 180.0).rem_euclid(360.0) - 180.0;
    q.iter().zip(stored_deg).map(|(q, stored)| turned(q.to_degrees() - stored).abs()).fold(0.0, f64::max)
}

/// All solutions that a search finds; for each stored one the nearest found one, degrees. Panics on one that is not stored.
fn solutions(mechanism: &Mechanism, tip: LinkId, inverse: &Inverse, stored: &[&Vec<f64>]) -> Vec<f64> {
    let search = InverseKinematics { starts: 400, evaluations: 200, within: 1e-12 };
    let goal = Goal { link: tip, structure_from_link: pose_of(&inverse.pose), meets: Meets::Pose };
    let found = search.solve_all(mechanism, &goal, &[0.1; 6], 1e-3);
    for q in &found {
        let nearest = stored.iter().map(|stored| apart_deg(q, stored)).fold(f64::INFINITY, f64::min);
        assert!(nearest < 1e-3, "{}: {q:?} is no stored solution", inverse.name);
    }
    stored.iter().map(|stored| found.iter().map(|q| apart_deg(q, stored)).fold(f64::INFINITY, f64::min)).collect()
}

pub fn deviations() -> Vec<Deviation> {
    let stored = Stored::<SixJoint>::read("six_joint");
    let toolbox = stored.made_with("roboticstoolbox-python");
    let table = &stored.content;
    let (mechanism, tip) = free(table);
    let (mut poses, mut jacobians, mut manipulabilities) = (Vec::new(), Vec::new(), Vec::new());
    for at in &table.configurations {
        let posed = mechanism.pose(&radians(&at.q_deg));
        poses.push(difference(posed.link(tip), &at.pose));
        let jacobian = tip_jacobian(&mechanism, &posed, tip);
        for (row, entries) in at.jacobian.iter().enumerate() {
            jacobians.extend(entries.iter().enumerate().map(|(k, stored)| (jacobian[(row, k)] - stored).abs()));
        }
        let own = (&jacobian * jacobian.transpose()).determinant().max(0.0).sqrt();
        manipulabilities.push((own - at.manipulability).abs());
    }
    let (bounded, bounded_tip) = limited(table);
    let (mut all, mut in_limits) = (Vec::new(), Vec::new());
    for inverse in &table.inverse {
        let every: Vec<_> = inverse.solutions_deg.iter().collect();
        assert_eq!(every.len(), 8);
        all.extend(solutions(&mechanism, tip, inverse, &every));
        let allowed = inverse.solutions_deg.iter().zip(&inverse.in_limits);
        let allowed: Vec<_> = allowed.filter_map(|(solution, allowed)| allowed.then_some(solution)).collect();
        in_limits.extend(solutions(&bounded, bounded_tip, inverse, &allowed));
    }
    let nominal = table.configurations.iter().find(|at| at.name == "nominal").expect("a nominal pose");
    let jacobian = tip_jacobian(&mechanism, &mechanism.pose(&radians(&nominal.q_deg)), tip);
    let torques = table.statics.iter().flat_map(|load| {
        let own = jacobian.tr_mul(&nalgebra::Vector6::from(load.wrench));
        load.torques.iter().enumerate().map(|(k, stored)| (own[k] - stored).abs()).collect::<Vec<_>>()
    });
    vec![
        Deviation::of("six joints: poses of the tip (m, rotation entries)", &toolbox, 1e-9, poses),
        Deviation::of("six joints: Jacobians (m, 1)", &toolbox, 1e-9, jacobians),
        Deviation::of("six joints: √det(JJᵀ)", &toolbox, 1e-7, manipulabilities),
        Deviation::of("six joints: all eight inverse solutions of two poses (degrees)", &toolbox, 1e-6, all),
        Deviation::of("six joints: inverse solutions within the limits (degrees)", &toolbox, 1e-6, in_limits),
        Deviation::of("six joints: torques Jᵀw (N·m)", &toolbox, 1e-9, torques),
        Deviation::of("planar arms: poses, Jacobians, torques", "closed forms", 1e-9, planar()),
    ]
}

fn planar_arm(lengths: &[f64]) -> (Mechanism, LinkId) {
    let mut builder = MechanismBuilder::new();
    let (mut at, mut place) = (LinkId::STRUCTURE, Pose::identity());
    for (k, length) in lengths.iter().enumerate() {
        at = builder.joint(&format!("j{k}"), at, place, JointMotion::Revolute, Vector::z_axis(), Range::FREE);
        place = Pose::translation(*length, 0.0, 0.0);
    }
    let tip = builder.fixed("tip", at, place);
    (builder.finish(), tip)
}

/// Check values, "Planar 2R", "Planar 3R" and "Statics": the formulas behind the printed digits.
fn planar() -> Vec<f64> {
    let (cos, sin) = (|deg: f64| deg.to_radians().cos(), |deg: f64| deg.to_radians().sin());
    let mut seen = Vec::new();
    let (arm, tip) = planar_arm(&[1.0, 0.8]);
    let posed = arm.pose(&radians(&[30.0, 60.0]));
    let place = posed.link(tip).translation.vector;
    seen.extend([place.x - 0.75_f64.sqrt(), place.y - 1.3]);
    let jacobian = tip_jacobian(&arm, &posed, tip);
    let expected = [[-1.3, -0.8], [0.75_f64.sqrt(), 0.0]];
    seen.extend((0..4).map(|k| jacobian[(k / 2, k % 2)] - expected[k / 2][k % 2]));
    for (force, torques) in [([0.0, -100.0], [-50.0 * 3_f64.sqrt(), 0.0]), ([100.0, 0.0], [-130.0, -80.0])] {
        let own = jacobian.tr_mul(&nalgebra::Vector6::new(force[0], force[1], 0.0, 0.0, 0.0, 0.0));
        seen.extend([own[0] - torques[0], own[1] - torques[1]]);
    }
    let straight = tip_jacobian(&arm, &arm.pose(&[0.0, 0.0]), tip);
    seen.extend(straight.tr_mul(&nalgebra::Vector6::new(100.0, 0.0, 0.0, 0.0, 0.0, 0.0)).iter().copied());
    let (arm, tip) = planar_arm(&[1.0, 0.8, 0.5]);
    let posed = arm.pose(&radians(&[30.0, 45.0, -60.0]));
    let pose = posed.link(tip);
    let sum = |of: &dyn Fn(f64) -> f64| of(30.0) + 0.8 * of(75.0) + 0.5 * of(15.0);
    seen.extend([pose.translation.x - sum(&cos), pose.translation.y - sum(&sin)]);
    seen.push(pose.rotation.angle() - 15_f64.to_radians());
    let jacobian = tip_jacobian(&arm, &posed, tip);
    let square = nalgebra::Matrix3::from_fn(|row, k| jacobian[([0, 1, 5][row], k)]);
    seen.push(square.determinant() - 0.8 * sin(45.0));
    seen.into_iter().map(f64::abs).collect()
}

#[test]
fn the_six_joint_arm_is_that_of_the_toolbox() {
    assert_allowed(&deviations());
}
