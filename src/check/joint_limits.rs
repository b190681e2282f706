//! Does every joint of the arm stay inside its limits?
//!
//! # Question
//! On each motion: how far do the joints stay from the ends of their ranges, and which comes nearest?
//! # Law
//! A segment is straight in joint space, so each joint's extremes over a motion are at its waypoints: the margin is
//! min over waypoints of min(q − lowest, highest − q), exactly. The plan's read-out tolerance is taken off.
//! # Source
//! common practice, no source.
//! # Limits
//! Restraint joints hold at detents, which reading the plan checks; body joints are the check `posture`'s.
//! # Findings
//! One a motion for the joint with the least margin, and one for every joint that breaks its limit.

use crate::mechanism::JointMotion;

use super::case::{Case, MoveCase};
use super::finding::{Finding, Moment, Place, Unit};
use super::judge::{Measure, key};

pub const NAME: &str = "joint-limits";

/// Findings of all motions.
pub fn findings(case: &Case) -> Vec<Finding> {
    case.moves.iter().filter(|moved| moved.moved.base.is_none()).flat_map(|moved| of_move(case, moved)).collect()
}

fn of_move(case: &Case, moved: &MoveCase) -> Vec<Finding> {
    let limits = &case.scene.project.plan.limits;
    let mut all: Vec<Finding> = Vec::new();
    for variable in 0..moved.arm.mechanism.variable_count() {
        let link = moved.arm.mechanism.link_of_variable(variable);
        let link = moved.arm.mechanism.link(link);
        let readout = moved.frozen.link(moved.frozen.link_of_variable(variable)).joint.readout;
        let measure = match link.joint.motion {
            JointMotion::Prismatic => Measure::of(&limits.arm_joint_m, Unit::Metre),
            _ => Measure::of(&limits.arm_joint, Unit::Radian),
        };
        let nearest = moved
            .moved
            .segments
            .iter()
            .enumerate()
            .flat_map(|(segment, line)| [(segment, 0.0, &line.from), (segment, 1.0, &line.to)])
            .map(|(segment, fraction, q)| (link.joint.range.margin(q[variable]) - readout, segment, fraction, q))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((margin, segment, fraction, q)) = nearest else { continue };
        let place = Place::Motion { motion: moved.moved.id.clone() };
        let range = link.joint.range;
        let towards =
            if q[variable] - range.lowest < range.highest - q[variable] { "more positive" } else { "more negative" };
        let at = Moment {
            segment: Some(segment),
            segments: Some(moved.moved.segments.len()),
            fraction,
            seconds: moved.seconds_at(segment, fraction),
            joints: q.clone(),
            points: None,
        };
        let finding = Finding::exact(key(NAME, place, None, link.name.clone()), margin, &measure)
            .seen(at)
            .helped(Some(format!("a {towards} value of {} at that waypoint", link.name)));
        all.push(finding);
    }
    let nearest = all
        .iter()
        .enumerate()
        .min_by(|(_, a), (_, b)| a.margin.unwrap_or(f64::INFINITY).total_cmp(&b.margin.unwrap_or(f64::INFINITY)))
        .map(|(index, _)| index);
    all.into_iter()
        .enumerate()
        .filter(|(index, finding)| Some(*index) == nearest || finding.status.is_violation())
        .map(|(_, finding)| finding)
        .collect()
}
