//! Which places can the end of three joints in a row have, for certain?
//!
//! # Law
//! On a box of joint values with middle *m* and half sizes δ, the end is within ½A of the points
//! e(m) + Σ_k σ_k·δ_k·∂e/∂q_k, −1 ≤ σ_k ≤ 1, with A = Σ_k Σ_l δ_k·δ_l·R_max(k,l), where R_k is the length of all that
//! lies between joint *k* and the end and *max* is the joint nearer to it (Taylor's theorem, as in
//! [`crate::mechanism::BodyMotion`]). What is asked of the end is bounded on the whole box by that, and the box is halved
//! where the bound is worst (branch and bound), so the bound closes with the square of the box.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use nalgebra::UnitQuaternion;

use crate::mechanism::{LinkId, Mechanism, Range};
use crate::space::{Direction, Point, Pose, Vector};

/// Three turning joints from one link out to another.
pub(super) struct Chain {
    /// Up to the first joint.
    start: Pose,
    joints: [ChainJoint; 3],
}

#[derive(Clone, Copy)]
struct ChainJoint {
    /// From this joint's link to the next joint, or to the end.
    after: Pose,
    axis: Direction,
    range: Range,
    /// Length of all that lies between this joint and the chain's end, m.
    reach: f64,
}

/// Where the end is on a box of joint values: all points `middle` + Σ σ·`steps`, −1 ≤ σ ≤ 1, and `rest` about them.
pub(super) struct Places {
    pub middle: Point,
    pub steps: [Vector; 3],
    pub rest: f64,
}

impl Places {
    /// No place is farther from the middle, m.
    pub fn radius(&self) -> f64 {
        self.rest + self.steps.iter().map(Vector::norm).sum::<f64>()
    }
}

impl Chain {
    /// From `base` out to a point fixed in `tip`, which hangs on it.
    ///
    /// # Panics
    /// If there are not three joints between them.
    pub fn between(mechanism: &Mechanism, base: LinkId, tip: LinkId, tip_from_end: Pose) -> Self {
        let mut joints: Vec<ChainJoint> = Vec::new();
        let mut end = tip_from_end;
        for link in mechanism.path_inwards(tip).take_while(|link| *link != base) {
            let at = mechanism.link(link);
            if at.joint.variable.is_some() {
                joints.push(ChainJoint { after: end, axis: at.joint.axis, range: at.joint.range, reach: 0.0 });
                end = at.parent_from_joint;
            } else {
                end = at.parent_from_joint * end;
            }
        }
        joints.reverse();
        let Ok(joints) = joints.try_into() else { panic!("three joints between the links") };
        Self { start: end, joints }.measured()
    }

    /// The same chain from its end to its base.
    pub fn reversed(&self) -> Self {
        let [first, second, third] = self.joints;
        let turned = |joint: ChainJoint, after: Pose| ChainJoint { after: after.inverse(), axis: -joint.axis, ..joint };
        let joints = [turned(third, second.after), turned(second, first.after), turned(first, self.start)];
        Self { start: third.after.inverse(), joints }.measured()
    }

    /// With the reach of each joint.
    fn measured(mut self) -> Self {
        let mut reach = 0.0;
        for joint in self.joints.iter_mut().rev() {
            reach += joint.after.translation.vector.norm();
            joint.reach = reach;
        }
        self
    }

    /// Where the end can be on a box of joint values, in the base's frame.
    fn places(&self, middle: &[f64; 3], half: &[f64; 3]) -> Places {
        let mut pose = self.start;
        let mut about = [(Point::origin(), Vector::zeros()); 3];
        for k in 0..3 {
            let joint = &self.joints[k];
            about[k] = (Point::from(pose.translation.vector), pose.rotation * joint.axis.into_inner());
            pose = pose * UnitQuaternion::from_axis_angle(&joint.axis, middle[k]) * joint.after;
        }
        let end = Point::from(pose.translation.vector);
        let steps = std::array::from_fn(|k| about[k].1.cross(&(end - about[k].0)) * half[k]);
        let mut acceleration = 0.0;
        for k in 0..3 {
            for l in 0..3 {
                acceleration += half[k] * half[l] * self.joints[k.max(l)].reach;
            }
        }
        Places { middle: end, steps, rest: 0.5 * acceleration }
    }

    /// What a quantity never exceeds, over all joint values in range, where `at_most` tells what it doesn't exceed over
    /// some places of the end. It ends when the bound is attained but for `within`, or after `boxes` boxes.
    pub fn supremum(&self, at_most: impl Fn(&Places) -> f64, within: f64, boxes: usize) -> f64 {
        let mut attained = f64::NEG_INFINITY;
        let mut bounded = |middle: [f64; 3], half: [f64; 3]| {
            attained = at_most(&self.places(&middle, &[0.0; 3])).max(attained);
            (Cell { never_above: at_most(&self.places(&middle, &half)), middle, half }, attained)
        };
        let ranges = self.joints.map(|joint| joint.range);
        let middle = ranges.map(|range| 0.5 * (range.lowest + range.highest));
        let (whole, mut reached) = bounded(middle, ranges.map(|range| 0.5 * (range.highest - range.lowest)));
        let mut worst = whole;
        let mut queue = BinaryHeap::new();
        for _ in 0..boxes {
            if worst.never_above <= reached + within {
                break;
            }
            let stray = |k: &usize| self.joints[*k].reach * worst.half[*k];
            let widest = (0..3).max_by(|a, b| stray(a).total_cmp(&stray(b))).unwrap_or(0);
            for sign in [-0.5, 0.5] {
                let (mut middle, mut half) = (worst.middle, worst.half);
                middle[widest] += sign * half[widest];
                half[widest] *= 0.5;
                let (cell, attained) = bounded(middle, half);
                reached = attained;
                queue.push(cell);
            }
            worst = queue.pop().expect("two were just added");
        }
        worst.never_above
    }
}

/// A box of joint values and what the quantity doesn't exceed on it.
struct Cell {
    never_above: f64,
    middle: [f64; 3],
    half: [f64; 3],
}

impl Ord for Cell {
    fn cmp(&self, other: &Self) -> Ordering {
        self.never_above.total_cmp(&other.never_above)
    }
}

impl PartialOrd for Cell {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Cell {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Cell {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanism::random_tree::Draw;
    use crate::mechanism::{JointMotion, MechanismBuilder};

    /// Three joints, fixed links between and after them.
    fn random_chain(draw: &mut Draw) -> (Mechanism, LinkId, Chain) {
        let mut builder = MechanismBuilder::new();
        let base = builder.fixed("base", LinkId::STRUCTURE, draw.pose(1.0));
        let mut at = base;
        for name in ["a", "b", "c"] {
            let range = Range { lowest: draw.between(-1.5, 0.0), highest: draw.between(0.0, 1.5) };
            at = builder.joint(name, at, draw.pose(0.5), JointMotion::Revolute, draw.direction(), range);
            at = builder.fixed(&format!("{name}-end"), at, draw.pose(0.3));
        }
        let mechanism = builder.finish();
        let chain = Chain::between(&mechanism, base, at, Pose::identity());
        (mechanism, at, chain)
    }

    /// Often at the ends of the ranges, where extremes are.
    fn random_values(mechanism: &Mechanism, draw: &mut Draw) -> Vec<f64> {
        let value = |range: &Range| range.nearest(draw.between(range.lowest - 0.5, range.highest + 0.5));
        mechanism.ranges().iter().map(value).collect()
    }

    #[test]
    fn no_end_lies_outside_the_places_of_its_box() {
        let mut draw = Draw(1);
        for _ in 0..200 {
            let (_, _, chain) = random_chain(&mut draw);
            let middle = [draw.between(-1.0, 1.0), draw.between(-1.0, 1.0), draw.between(-1.0, 1.0)];
            let half = [draw.between(0.0, 0.5), draw.between(0.0, 0.5), draw.between(0.0, 0.5)];
            let places = chain.places(&middle, &half);
            for _ in 0..50 {
                let share: [f64; 3] = std::array::from_fn(|_| draw.between(-1.0, 1.0));
                let q = std::array::from_fn(|k| middle[k] + share[k] * half[k]);
                let end = chain.places(&q, &[0.0; 3]).middle;
                let linear = places.middle + (0..3).map(|k| places.steps[k] * share[k]).sum::<Vector>();
                assert!((end - linear).norm() <= places.rest + 1e-12);
                assert!((end - places.middle).norm() <= places.radius() + 1e-12);
            }
        }
    }

    #[test]
    fn a_chain_and_its_reverse_agree_with_forward_kinematics() {
        let mut draw = Draw(2);
        for _ in 0..50 {
            let (mechanism, tip, chain) = random_chain(&mut draw);
            let q = random_values(&mechanism, &mut draw);
            let posed = mechanism.pose(&q);
            let base = mechanism.link_named("base").expect("a base");
            let base_from_tip = posed.link(base).inv_mul(posed.link(tip));
            let values = [q[0], q[1], q[2]];
            let end = chain.places(&values, &[0.0; 3]).middle;
            assert!((end.coords - base_from_tip.translation.vector).norm() < 1e-12);
            let back = chain.reversed().places(&[q[2], q[1], q[0]], &[0.0; 3]).middle;
            assert!((back.coords - base_from_tip.inverse().translation.vector).norm() < 1e-12);
        }
    }

    #[test]
    fn the_supremum_is_above_every_sample_and_attained_but_for_the_gap() {
        let mut draw = Draw(3);
        for _ in 0..20 {
            let (mechanism, _, chain) = random_chain(&mut draw);
            let direction = draw.direction();
            let height = |places: &Places| {
                let steps: f64 = places.steps.iter().map(|step| direction.dot(step).abs()).sum();
                direction.dot(&places.middle.coords) + steps + places.rest
            };
            let bound = chain.supremum(height, 1e-3, 100_000);
            let mut highest = f64::NEG_INFINITY;
            for _ in 0..20_000 {
                let q = random_values(&mechanism, &mut draw);
                highest = highest.max(height(&chain.places(&[q[0], q[1], q[2]], &[0.0; 3])));
            }
            assert!(highest <= bound && bound - highest < 0.02, "{highest} {bound}");
        }
    }
}
