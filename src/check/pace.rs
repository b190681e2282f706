//! How fast may this motion go?

use crate::model::{ArmJoint, JointKind};
use crate::motion::Ramp;
use crate::motion::{JointPace, Segment, SegmentTime};
use crate::state::{Carried, Moment, Move, Scene};

/// Each segment's tip speed is bounded on so many equal pieces.
pub const SPEED_PIECES: usize = 8;

/// What each joint of a motion can do; none where the files do not say. Motions of a base or restraint are not timed.
pub fn joint_paces(scene: &Scene, moved: &Move) -> Option<Vec<JointPace>> {
    if !moved.kind.is_of_arm() {
        return None;
    }
    arm_paces(scene)
}

/// What each joint of the arm can do; none where its file does not say.
pub fn arm_paces(scene: &Scene) -> Option<Vec<JointPace>> {
    scene.project.arm.joint.iter().map(joint_pace).collect()
}

fn joint_pace(joint: &ArmJoint) -> Option<JointPace> {
    match joint.kind {
        JointKind::Revolute => {
            Some(JointPace { rate: joint.turn_rate?.radians(), acceleration: joint.turn_acceleration?.radians() })
        }
        JointKind::Prismatic => Some(JointPace { rate: joint.slide_rate?, acceleration: joint.slide_acceleration? }),
    }
}

/// The tip's speed limit for what the arm carries, m/s.
pub fn tip_limit(scene: &Scene, moment: &Moment) -> f64 {
    let speeds = &scene.project.plan.limits.tip_speed_m_s;
    let carries = moment.payloads.iter().any(|payload| matches!(payload, Carried::InHands { .. }));
    match (&moment.rider, carries) {
        (_, true) => speeds.with_payload,
        (Some(_), false) => speeds.with_rider,
        (None, false) => speeds.unloaded,
    }
}

/// The profile of a segment whose duration the plan fixes: at the greatest acceleration that all joints can keep.
pub fn lasting(segment: &Segment, paces: &[JointPace], seconds: f64) -> SegmentTime {
    let acceleration = segment
        .change()
        .iter()
        .zip(paces)
        .filter(|(change, _)| **change != 0.0)
        .map(|(change, pace)| pace.acceleration / change.abs())
        .fold(f64::INFINITY, f64::min);
    if acceleration.is_finite() {
        SegmentTime { profile: Ramp::lasting(1.0, seconds, acceleration) }
    } else {
        SegmentTime { profile: Ramp { seconds, peak: 0.0, acceleration: 0.0 } }
    }
}
