//! Does every joint of the arm stay inside its limits?
//!
//! # Question
//! On each motion, and at rest at each worksite (each configuration once): how far do the joints stay from the ends of their ranges, and which
//! comes nearest?
//! # Law
//! A segment is straight in joint space, so each joint's extremes over a motion are at its waypoints: the margin is
//! min over waypoints of min(q − lowest, highest − q), exactly. The plan's read-out tolerance is taken off.
//! # Source
//! common practice, no source.
//! # Limits
//! Restraint joints hold at detents, which reading the plan checks; body joints are the check `posture`'s.
//! # Findings
//! One a motion or moment at rest for the turning joint with the least margin, one for the sliding joint with the least,
//! and one for every other joint that breaks its limit.

use crate::mechanism::{JointMotion, Mechanism};
use crate::model::{Limits, Who};
use crate::state::{ArmAlone, Scene};

use super::case::{Case, MoveCase};
use super::finding::{Finding, Kind, Moment, Place, Status, Unit};
use super::judge::{Measure, key};
use super::piece::Piece;
use super::rest::RestCase;

pub const NAME: &str = "joint-limits";

/// Findings of a motion of the arm.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    match piece {
        Piece::Move(moved) if moved.moved.kind.is_of_arm() => of_move(scene, moved),
        Piece::Move(_) | Piece::Stay(_) | Piece::Stance(_) | Piece::Rest(_) => Vec::new(),
    }
}

/// Findings of all moments at rest, of each configuration once.
pub fn findings_at_rest(case: &Case) -> Vec<Finding> {
    let arms: Vec<&Vec<f64>> = case.rests.iter().map(|rest| &rest.rest.moment.arm).collect();
    let told_before = |number: usize| arms[..number].contains(&arms[number]);
    let rests = case.rests.iter().enumerate().filter(|(number, _)| !told_before(*number));
    rests.flat_map(|(_, rest)| of_rest(case.scene, rest)).collect()
}

fn of_move(scene: &Scene, moved: &MoveCase) -> Vec<Finding> {
    let segments = moved.moved.segments.len();
    let ends = moved.moved.segments.iter().enumerate().flat_map(|(number, segment)| {
        [(0.0, &segment.from), (1.0, &segment.to)].map(|(fraction, joints)| Moment {
            segment: Some(number),
            segments: Some(segments),
            fraction,
            seconds: moved.seconds_at(number, fraction),
            joints: joints.clone(),
            points: None,
        })
    });
    let place = Place::Motion { motion: moved.moved.id.clone() };
    let limits = &scene.project.plan.limits;
    least_margins(limits, (&moved.arm, &moved.frozen), &ends.collect::<Vec<_>>(), (&place, None, ""))
}

fn of_rest(scene: &Scene, rest: &RestCase) -> Vec<Finding> {
    let arm = ArmAlone::new(scene, &rest.rest.moment.stand);
    let joints = rest.rest.moment.arm.clone();
    let at = Moment { segment: None, segments: None, fraction: 0.0, seconds: None, joints, points: None };
    let limits = &scene.project.plan.limits;
    let told = (&rest.place(), Some(rest.rest.who), rest.suffix(scene));
    least_margins(limits, (&arm, &rest.mechanism), &[at], (told.0, told.1, &told.2))
}

/// Findings at some moments; `frozen` is the mechanism in which the arm's joints alone are driven.
fn least_margins(
    limits: &Limits,
    (arm, frozen): (&ArmAlone, &Mechanism),
    moments: &[Moment],
    (place, who, suffix): (&Place, Option<Who>, &str),
) -> Vec<Finding> {
    let of_joint = |variable: usize| {
        let link = arm.mechanism.link(arm.mechanism.link_of_variable(variable));
        let range = link.joint.range;
        let readout = frozen.link(frozen.link_of_variable(variable)).joint.readout;
        let margin = |at: &Moment| range.margin(at.joints[variable]);
        let nearest = moments.iter().min_by(|a, b| margin(a).total_cmp(&margin(b)))?;
        let measure = match link.joint.motion {
            JointMotion::Prismatic => Measure::of(&limits.arm_joint_m, Unit::Metre),
            _ => Measure::of(&limits.arm_joint, Unit::Radian),
        };
        let value = nearest.joints[variable];
        let towards = if value - range.lowest < range.highest - value { "more positive" } else { "more negative" };
        let key = key(NAME, place.clone(), who, format!("{}{suffix}", link.name));
        let mut finding = Finding::exact(key, margin(nearest) - readout, &measure)
            .seen(nearest.clone())
            .helped(Some(format!("a {towards} value of {} there", link.name)));
        if finding.status.is_violation() && measure.bar.margin(margin(nearest)) >= 0.0 {
            finding.status = Status::Violation(Kind::WithTolerances);
        }
        Some(finding)
    };
    let all: Vec<Finding> = (0..arm.mechanism.variable_count()).filter_map(of_joint).collect();
    // Radians and metres don't compare: one of each.
    let least = [Unit::Radian, Unit::Metre].map(|unit| {
        let of_unit = all.iter().enumerate().filter(|(_, finding)| finding.unit == unit);
        let margin = |finding: &Finding| finding.margin.unwrap_or(f64::INFINITY);
        of_unit.min_by(|(_, a), (_, b)| margin(a).total_cmp(&margin(b))).map(|(index, _)| index)
    });
    all.into_iter()
        .enumerate()
        .filter(|(index, finding)| least.contains(&Some(*index)) || finding.status.is_violation())
        .map(|(_, finding)| finding)
        .collect()
}
