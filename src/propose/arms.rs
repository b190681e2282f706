//! With which detents and which configurations does the arm hold the boot plate in its place?
//!
//! # Law
//! Every combination of detents is taken. The tip must be where the restraint, so set, has it; a combination whose tip
//! lies beyond the arm's length from its first joint is ruled out (proven: no link is longer than it is). For each other,
//! inverse kinematics from where the arm is before and from starts spread over the joint ranges, which sweeps a redundant
//! arm's free motion too; distinct configurations are rounded to the grid that operators key in. Ruled out are those nearer
//! to a joint limit, or to a singular configuration, than the plan allows; of the others the best few are kept. What was not
//! found from these starts is not proven.

use std::f64::consts::PI;

use nalgebra::Vector6;
use rayon::prelude::*;

use super::Setting;
use crate::check::arm_paces;
use crate::mechanism::{Goal, InverseKinematics, JointMotion, LinkId, Mechanism, Range, tip_jacobian};
use crate::model::{Limits, RestraintJoint, Worksite};
use crate::motion::{JointPace, segment_time, singular_value_at, stopping_distance};
use crate::space::{Point, Pose, Spread, Vector};
use crate::state::{ArmAlone, Assembly, Moment, Scene};

/// Most combinations of detents: beyond, every so many-eth is taken, which the count says.
const COMBINATIONS: usize = 4096;
/// Starts of the inverse kinematics of each combination.
const STARTS: usize = 6;
/// Of each combination, so many configurations are kept: those farthest from joint limits and singular ones.
const KEPT: usize = 2;
/// Of each combination, so many configurations to wait in.
const PARKED: usize = 4;
/// Where one way to hold the plate will do, every so many-eth combination is tried first.
const STRIDE: usize = 17;
/// ... of so many ways to hold it ...
const TRIED: usize = 48;
/// ... and of so many at a time the best comes first.
const FEW: usize = 8;
/// The strain of each metre that is run on.
const OVERRUN_STRAIN: f64 = 5.0;
/// So far from the tip are hands and head, about, m.
const BEYOND_TIP: f64 = 1.5;
/// Two configurations are distinct when a joint differs by more than this, rad or m.
const APART: f64 = 0.2;

/// How many were looked at, and what ruled them out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ArmsTried {
    /// Places of the plate times stands times combinations of detents.
    pub combinations: usize,
    /// Combinations that there are beyond those: too many to take all.
    pub left_out: usize,
    pub beyond_arm: usize,
    pub not_met: usize,
    /// Configurations that meet the tip.
    pub configurations: usize,
    pub near_joint_limit: usize,
    pub near_singular: usize,
    /// Good ones beyond [`KEPT`] of a combination.
    pub not_kept: usize,
}

impl ArmsTried {
    /// Both together.
    pub fn plus(self, other: Self) -> Self {
        Self {
            combinations: self.combinations + other.combinations,
            left_out: self.left_out + other.left_out,
            beyond_arm: self.beyond_arm + other.beyond_arm,
            not_met: self.not_met + other.not_met,
            configurations: self.configurations + other.configurations,
            near_joint_limit: self.near_joint_limit + other.near_joint_limit,
            near_singular: self.near_singular + other.near_singular,
            not_kept: self.not_kept + other.not_kept,
        }
    }
}

/// A way to hold the plate in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Hold {
    pub setting: Setting,
    /// The share of its range that the joint nearest to a limit keeps from it, 0 to ½.
    pub joint_share: f64,
    /// The least singular value, m.
    pub singular_value: f64,
    /// How far what stands on the plate may run on at most when the straight way out is stopped, m: by the joints' rates here,
    /// each joint on its own.
    pub overrun: f64,
}

impl Hold {
    /// How near it is to joint limits and to singular configurations, and how far it runs on: 0 where all is well; no
    /// unit.
    pub fn strain(&self) -> f64 {
        4.0 * (0.25 - self.joint_share).max(0.0) + (1.0 - self.singular_value).max(0.0) + OVERRUN_STRAIN * self.overrun
    }
}

/// The arm at a stand, with every setting of the restraint at its tip.
pub struct ArmAt<'a> {
    scene: &'a Scene<'a>,
    stand: &'a str,
    arm: ArmAlone,
    /// Settings and what they make of the plate.
    settings: Vec<(Vec<f64>, Pose)>,
    left_out: usize,
    /// From the first joint to the tip, stretched, m.
    length: f64,
    first_joint: Point,
    /// Where the arm is before, from which it is first sought.
    now: &'a Moment,
    /// The straight way out, m.
    retreat: Vector,
    paces: Option<Vec<JointPace>>,
}

impl<'a> ArmAt<'a> {
    /// The arm at a stand, to serve a worksite; `detents` are those that the plan keeps, else all are tried.
    pub fn new(
        scene: &'a Scene<'a>,
        (site, now): (&Worksite, &'a Moment),
        stand: &'a str,
        detents: Option<&[f64]>,
    ) -> Self {
        let assembly = Assembly::new(scene, now);
        let (all, left_out) = match detents {
            Some(kept) => (vec![kept.to_vec()], 0),
            None => combinations(&scene.project.restraint.joint),
        };
        let settings = all.into_iter().map(|detents| {
            let mut q = assembly.q.clone();
            q[assembly.restraint.variables.clone()].copy_from_slice(&detents);
            let posed = assembly.mechanism.pose(&q);
            let tip_from_plate = posed.link(assembly.arm.tip).inverse() * posed.link(assembly.restraint.plate);
            (detents, tip_from_plate)
        });
        let settings = settings.collect();
        let arm = ArmAlone::new(scene, stand);
        let (first_joint, length) = stretched(&arm.mechanism, arm.tip);
        let retreat = -Vector::from(site.approach).normalize() * site.approach_m;
        let paces = arm_paces(scene);
        Self { scene, stand, arm, settings, left_out, length, first_joint, now, retreat, paces }
    }

    /// Where the plate is with the arm in a configuration, by settings of the restraint.
    pub fn plates(&self, arm: &[f64]) -> impl Iterator<Item = (&[f64], Pose)> {
        let tip = self.arm.structure_from_tip(arm);
        self.settings.iter().map(move |(detents, tip_from_plate)| (detents.as_slice(), tip * tip_from_plate))
    }

    /// Some way to hold the plate there that is `free`: settings of the restraint are tried in an order that spreads them, a
    /// few at a time, the way of least strain first.
    pub fn some(&self, plate: &Pose, free: impl Fn(&Hold) -> bool) -> Option<Hold> {
        let count = self.settings.len();
        let order = (0..STRIDE).flat_map(|first| (first..count).step_by(STRIDE));
        let mut holds = order.flat_map(|k| self.with_setting(&self.settings[k], plate).0).take(TRIED);
        loop {
            let mut few: Vec<Hold> = holds.by_ref().take(FEW).collect();
            if few.is_empty() {
                return None;
            }
            few.sort_by(|a, b| a.strain().total_cmp(&b.strain()));
            if let Some(hold) = few.into_iter().find(&free) {
                return Some(hold);
            }
        }
    }

    /// The ways to hold the plate there, in the order of the settings, the best first.
    pub fn holds(&self, structure_from_plate: &Pose) -> (Vec<Hold>, ArmsTried) {
        let each: Vec<(Vec<Hold>, ArmsTried)> =
            self.settings.par_iter().map(|setting| self.with_setting(setting, structure_from_plate)).collect();
        let mut tried = ArmsTried { left_out: self.left_out, ..ArmsTried::default() };
        let mut holds = Vec::new();
        for (found, of_setting) in each {
            holds.extend(found);
            tried = tried.plus(of_setting);
        }
        (holds, tried)
    }

    fn with_setting(&self, (detents, tip_from_plate): &(Vec<f64>, Pose), plate: &Pose) -> (Vec<Hold>, ArmsTried) {
        let mut tried = ArmsTried { combinations: 1, ..ArmsTried::default() };
        let structure_from_link = plate * tip_from_plate.inverse();
        let away = Point::from(structure_from_link.translation.vector) - self.first_joint;
        if away.norm() > self.length {
            tried.beyond_arm = 1;
            return (Vec::new(), tried);
        }
        let mechanism = &self.arm.mechanism;
        let goal = Goal { link: self.arm.tip, structure_from_link, meets: self.arm.meets };
        let solver = InverseKinematics { starts: STARTS, ..InverseKinematics::default() };
        let found = solver.solve_all(mechanism, &goal, &self.now.arm, APART);
        tried.not_met = usize::from(found.is_empty());
        tried.configurations = found.len();
        let mut holds: Vec<Hold> =
            found.iter().filter_map(|exact| self.hold_of(self.arm.rounded(exact), detents, &mut tried)).collect();
        holds.sort_by(|a, b| a.strain().total_cmp(&b.strain()));
        tried.not_kept = holds.len().saturating_sub(KEPT);
        holds.truncate(KEPT);
        (holds, tried)
    }

    /// Ways to hold the plate anywhere: of each setting a few configurations spread over the joint ranges.
    pub fn parked(&self) -> (Vec<Hold>, ArmsTried) {
        let ranges = self.arm.mechanism.ranges();
        let spread = Spread::over(ranges.len());
        let mut tried = ArmsTried { left_out: self.left_out, ..ArmsTried::default() };
        let mut holds = Vec::new();
        for (n, (detents, _)) in self.settings.iter().enumerate() {
            tried.combinations += 1;
            for k in 0..PARKED {
                let shares = spread.point(n * PARKED + k);
                let value = |(range, share): (&Range, f64)| {
                    let [lowest, highest] = [range.lowest.max(-PI), range.highest.min(PI)];
                    lowest + (highest - lowest) * share
                };
                let q: Vec<f64> = ranges.iter().zip(shares).map(value).collect();
                tried.configurations += 1;
                holds.extend(self.hold_of(self.arm.rounded(&q), detents, &mut tried));
            }
        }
        (holds, tried)
    }

    /// A configuration with a setting; none where it is too near to a joint limit or a singular one, which is counted.
    fn hold_of(&self, q: Vec<f64>, detents: &[f64], tried: &mut ArmsTried) -> Option<Hold> {
        let Some(joint_share) = self.joint_share(&q) else {
            tried.near_joint_limit += 1;
            return None;
        };
        let singular_value = self.singular_value(&q)?;
        if singular_value < self.limits().singular_value_m.value {
            tried.near_singular += 1;
            return None;
        }
        let overrun = self.overrun(&q);
        let setting = Setting { stand: self.stand.to_owned(), detents: detents.to_vec(), arm: q };
        Some(Hold { setting, joint_share, singular_value, overrun })
    }

    fn limits(&self) -> &Limits {
        &self.scene.project.plan.limits
    }

    /// The least share of its range that a joint keeps from its limits; none where the plan's limit is broken.
    fn joint_share(&self, q: &[f64]) -> Option<f64> {
        let (mechanism, tolerances) = (&self.arm.mechanism, &self.scene.project.plan.tolerances);
        let shares = mechanism.ranges().into_iter().zip(q).enumerate().map(|(variable, (range, q))| {
            let motion = mechanism.link(mechanism.link_of_variable(variable)).joint.motion;
            let (limit, readout) = match motion {
                JointMotion::Prismatic => (self.limits().arm_joint_m.value, tolerances.joint_m),
                _ => (self.limits().arm_joint.value.radians(), tolerances.joint.radians()),
            };
            let margin = range.margin(*q);
            (margin - readout >= limit).then(|| margin / (range.highest - range.lowest))
        });
        shares.collect::<Option<Vec<f64>>>().map(|shares| shares.into_iter().fold(0.5, f64::min))
    }

    /// How far hands and head may run on, on the straight way out: by the joints' rates at its inner end, m; nothing where the
    /// arm is not timed.
    fn overrun(&self, q: &[f64]) -> f64 {
        let Some(paces) = &self.paces else { return 0.0 };
        let jacobian = tip_jacobian(&self.arm.mechanism, &self.arm.mechanism.pose(q), self.arm.tip);
        let mut way = Vector6::zeros();
        way.fixed_rows_mut::<3>(0).copy_from(&self.retreat);
        // The least change of the joints, as no better one is known; singular configurations are ruled out before.
        let Ok(change) = jacobian.clone().svd(true, true).solve(&way, f64::EPSILON) else { return 0.0 };
        let limit = self.limits().tip_speed_m_s.with_rider;
        let time = segment_time(change.as_slice(), paces, &[self.retreat.norm(); 2], limit);
        let of_joint = |(joint, pace): (usize, &JointPace)| {
            let by =
                stopping_distance(change[joint].abs() * time.peak(), pace.acceleration, self.limits().stop_reaction_s);
            let column = jacobian.column(joint);
            by * (column.fixed_rows::<3>(0).norm() + BEYOND_TIP * column.fixed_rows::<3>(3).norm())
        };
        paces.iter().enumerate().map(of_joint).sum()
    }

    fn singular_value(&self, q: &[f64]) -> Option<f64> {
        let scale = self.limits().singularity_length_m;
        singular_value_at(&self.arm.mechanism, &self.arm.mechanism.pose(q), self.arm.tip, scale)
    }
}

/// Every combination of detents, rad; beyond [`COMBINATIONS`], evenly spaced ones, and how many are left out.
pub fn combinations(joints: &[RestraintJoint]) -> (Vec<Vec<f64>>, usize) {
    let count = joints.iter().map(|joint| joint.detents.len()).fold(1, usize::saturating_mul);
    let taken = count.min(COMBINATIONS);
    let number = |k: usize| k.saturating_mul(count / taken);
    let combination = |mut number: usize| {
        let detents = joints.iter().map(|joint| {
            let detent = joint.detents[number % joint.detents.len()];
            number /= joint.detents.len();
            detent.radians()
        });
        detents.collect()
    };
    ((0..taken).map(|k| combination(number(k))).collect(), count - taken)
}

/// Where the first driven joint of a mechanism is that carries a link, and how far the link's origin is from it at most, all
/// between them stretched, m.
pub fn stretched(mechanism: &Mechanism, link: LinkId) -> (Point, f64) {
    let path: Vec<LinkId> = mechanism.path_inwards(link).collect();
    let driven = |link: &&LinkId| mechanism.link(**link).joint.variable.is_some();
    let first = path.iter().rev().find(driven).copied().unwrap_or(link);
    let slide = |link: LinkId| {
        let joint = &mechanism.link(link).joint;
        let slides = joint.motion == JointMotion::Prismatic;
        if slides { joint.range.highest.abs().max(joint.range.lowest.abs()) } else { 0.0 }
    };
    let outside = path.iter().take_while(|link| **link != first);
    let lengths = outside.map(|link| mechanism.link(*link).parent_from_joint.translation.vector.norm() + slide(*link));
    let zero = vec![0.0; mechanism.variable_count()];
    let first_joint = Point::from(mechanism.pose(&zero).link(first).translation.vector);
    (first_joint, lengths.sum::<f64>() + slide(first))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::mechanism::random_tree::{random_configuration, random_tree};

    proptest! {
        #[test]
        fn no_link_is_farther_from_the_first_joint_than_all_between_them_stretched(seed: u64, posed: u64) {
            let (mechanism, links) = random_tree(seed);
            // Slides of a random tree have no ends: nothing is too far for them.
            let turns = |link: LinkId| mechanism.link(link).joint.motion == JointMotion::Revolute;
            let q = random_configuration(&mechanism, posed);
            let at = mechanism.pose(&q);
            for link in links.into_iter().filter(|link| mechanism.path_inwards(*link).all(turns)) {
                let (first_joint, length) = stretched(&mechanism, link);
                let away = Point::from(at.link(link).translation.vector) - first_joint;
                prop_assert!(away.norm() <= length + 1e-9);
            }
        }
    }
}
