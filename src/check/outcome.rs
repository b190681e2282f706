//! What does a whole check of a plan come to?

use crate::model::{BodyClass, Deed, Hands, Who};
use crate::space::{Pose, Vector};
use crate::state::MotionKind;

use super::finding::Finding;

/// Everything that `check` found, in the plan's order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outcome {
    pub title: String,
    /// Names of the arm's joints, and whether each turns.
    pub arm_joints: Vec<JointName>,
    /// One for each visit of a worksite by one crewmember.
    pub visits: Vec<Visit>,
    pub motions: Vec<MotionSummary>,
    pub findings: Vec<Finding>,
    /// Which sizes of the crew are invented or stand alone.
    pub notes: Vec<String>,
    /// What is odd about the plan's targets, in words.
    pub odd: Vec<String>,
    /// Pairs that may touch, and why: declared contacts, neighbours in a mechanism.
    pub exemptions: Vec<Exemption>,
}

/// A joint's name and kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JointName {
    pub name: String,
    pub turns: bool,
}

/// One crewmember at one worksite in one step.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    pub worksite: String,
    pub step: String,
    /// What the step does there.
    pub deed: Deed,
    pub who: Who,
    /// The arm's stand (rider) or the socket (second crew).
    pub stand: String,
    /// Name and setting of each restraint joint, rad.
    pub detents: Vec<(String, f64)>,
    /// The boot plate: x where the toes point, y left, z towards the head.
    pub structure_from_plate: Pose,
    /// The arm's configuration (rad or m).
    pub arm: Vec<f64>,
    /// The direction along which the rider comes in, in the structure's frame.
    pub approach: Vector,
    pub targets: Vec<TargetUse>,
}

/// What one crewmember does at one target.
#[derive(Clone, Debug, PartialEq)]
pub struct TargetUse {
    pub target: String,
    /// From the grip of the hand to the tool's end, m; 0: the bare glove.
    pub tool: f64,
    /// Which hand or hands; none where no posture was found.
    pub hands: Option<Hands>,
    /// Body joints by name, rad; empty where no posture was found.
    pub joints: Vec<(String, f64)>,
}

/// One motion of the arm, its base or the restraint.
#[derive(Clone, Debug, PartialEq)]
pub struct MotionSummary {
    /// `step-3/approach`.
    pub id: String,
    pub step: String,
    pub kind: MotionKind,
    /// The joints that it drives: the arm's, the restraint's, or the base's one.
    pub joints: Vec<JointName>,
    /// Configurations that it stops at, in the order of its joints (rad or m).
    pub waypoints: Vec<Vec<f64>>,
    /// Of each segment between them, whether the limits near a worksite hold.
    pub near_worksite: Vec<bool>,
    /// Total time, s; none where it isn't timed.
    pub seconds: Option<f64>,
    /// What the arm carries.
    pub carries: Vec<BodyClass>,
    /// Where the way isn't given: why it isn't checked.
    pub not_checked: Option<String>,
}

/// A pair that may touch.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Exemption {
    pub a: String,
    pub b: String,
    pub reason: String,
}
