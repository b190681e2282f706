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
