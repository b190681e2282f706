//! How fast may this motion go?

use crate::mechanism::{BodyId, LinkId, Mechanism};
use crate::model::{ArmJoint, BodyClass, JointKind};
use crate::motion::{
    Ask, Group, JointPace, Margin, MarginSearch, MarginTask, Overrun, Pairs, Parts, Ramp, Rule, Segment, SegmentTime,
    still_world, tip_speeds,
};
use crate::state::{Assembly, Carried, Moment, Move, Scene};

/// A segment's tip speed is bounded at the ends of so many equal pieces for each radian or metre that its joints move
/// together, so that a time is within 1 % of the least ...
const PIECES_PER_RADIAN: f64 = 16.0;
/// ... but of no fewer and no more than these.
const PIECES: [f64; 2] = [4.0, 128.0];
/// Most intervals on which it is told whether a segment is near structure.
const INTERVALS: usize = 600;

/// How fast the tip may go on a segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TipLimit {
    /// m/s.
    pub speed: f64,
    /// Whether that is so because it is near structure.
    pub near_structure: bool,
}

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

/// Upper bounds on the tip's speed along a segment, as [`crate::motion::segment_time`] takes them.
pub fn tip_speeds_of(mechanism: &Mechanism, tip: LinkId, segment: &Segment) -> Vec<f64> {
    let moved: f64 = segment.change().into_iter().map(f64::abs).sum();
    let pieces = (PIECES_PER_RADIAN * moved).ceil().clamp(PIECES[0], PIECES[1]);
    tip_speeds(mechanism, tip, segment, pieces as usize)
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

/// The tip's speed limit on each segment of a motion: the limit for what the arm carries, or the one near structure where
/// that is less and the segment is not told to stay far from it.
pub fn tip_limits(scene: &Scene, moved: &Move, (assembly, frozen): (&Assembly, &Mechanism)) -> Vec<TipLimit> {
    let of_load = TipLimit { speed: tip_limit(scene, &moved.moment), near_structure: false };
    let near = match scene.project.plan.limits.tip_speed_m_s.near_structure {
        Some(speed) if speed < of_load.speed => TipLimit { speed, near_structure: true },
        _ => return vec![of_load; moved.segments.len()],
    };
    let (parts, world) = (Parts::of(frozen), still_world(frozen));
    let rule = |a, b| near_structure_rule(scene, (assembly, frozen), [a, b]);
    let greatest = [scene.project.plan.limits.near_structure_m, 0.0];
    let mut search = MarginSearch::new(MarginTask { parts: &parts, world: &world, rule: &rule, greatest });
    let limits = moved.segments.iter().map(|segment| if is_far(&mut search, segment) { of_load } else { near });
    limits.collect()
}

/// Whether all that the rule asks about is told to stay beyond its distance on a segment.
pub fn is_far(search: &mut MarginSearch, segment: &Segment) -> bool {
    let ask = Ask { pairs: Pairs::All, ..Ask::kept(INTERVALS) };
    matches!(search.on(segment, &Overrun::default(), ask), Margin::Kept(_))
}

/// Which bodies count for being near structure: what hangs on the arm's tip, and what is fixed; and from where on.
pub fn near_structure_rule(
    scene: &Scene,
    (assembly, frozen): (&Assembly, &Mechanism),
    bodies: [BodyId; 2],
) -> Option<Rule> {
    let on_tip = |body: BodyId| assembly.hangs_on(body, assembly.arm.tip);
    let fixed =
        |body: BodyId| assembly.body(body).class == BodyClass::Structure && frozen.body(body).link == LinkId::STRUCTURE;
    let [a, b] = bodies;
    let counts = on_tip(a) && fixed(b) || on_tip(b) && fixed(a);
    let limit = scene.project.plan.limits.near_structure_m;
    counts.then_some(Rule { group: Group(0), limit, stopping_limit: f64::NEG_INFINITY })
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
        SegmentTime::of_ramp(&Ramp::lasting(1.0, seconds, acceleration))
    } else {
        SegmentTime::resting(seconds)
    }
}
