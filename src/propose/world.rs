//! What does the arm carry on a transit, and what stands around it?
//!
//! Everything that all of a transit's edges have in common, worked out once: as `check` puts a motion together, so that
//! both measure the same bodies under the same rules.

use crate::check::{
    PairRules, SINGULARITY_GAP, joint_paces, near_structure_rule, stopping_overrun, swallowed, tip_limit, tip_speeds_of,
};
use crate::mechanism::{BodyId, JointMotion, Mechanism};
use crate::motion::{JointPace, Overrun, Rule, Segment, segment_time, still_world};
use crate::space::World;
use crate::state::{ArmAlone, Assembly, Extras, Move, Scene};

/// A transit, ready for edges to be asked about.
pub struct TransitWorld<'a> {
    pub scene: &'a Scene<'a>,
    moved: Move,
    assembly: Assembly,
    pub frozen: Mechanism,
    pub still: World,
    pub arm: ArmAlone,
    paces: Option<Vec<JointPace>>,
    tip_limit: f64,
    /// The tip's speed limit near structure, if it is less than that.
    near_limit: Option<f64>,
    /// Lowest and highest value of each joint that the plan's limits allow (rad or m).
    pub ranges: Vec<[f64; 2]>,
    /// The limit for the least singular value, with what `check` leaves untold of it, m; none where any value keeps it.
    pub singular_limit: Option<f64>,
}

/// How an edge is timed.
pub struct EdgeTime {
    /// From rest to rest, s; none where the arm's file does not say what its joints can do.
    pub seconds: Option<f64>,
    /// What each joint may overrun while stopping.
    pub overrun: Overrun,
}

impl<'a> TransitWorld<'a> {
    /// The world of a transit; its own segments count for nothing.
    pub fn new(scene: &'a Scene<'a>, moved: &Move) -> Self {
        let segment = Segment { from: moved.moment.arm.clone(), to: moved.moment.arm.clone() };
        let moved = Move {
            segments: vec![segment],
            distances: vec![f64::INFINITY],
            fixed_seconds: vec![None],
            ..moved.clone()
        };
        let assembly = Assembly::with(scene, &moved.moment, &Extras { base: moved.base, ..Extras::default() });
        let frozen = assembly.moving(moved.kind);
        let arm = ArmAlone::new(scene, &moved.moment.stand);
        let limits = &scene.project.plan.limits;
        let carrying = tip_limit(scene, &moved.moment);
        let singular_limit = Some(limits.singular_value_m.value).filter(|limit| *limit > 0.0);
        let range = |variable: usize| {
            let joint = &arm.mechanism.link(arm.mechanism.link_of_variable(variable)).joint;
            let limit = match joint.motion {
                JointMotion::Prismatic => limits.arm_joint_m.value,
                _ => limits.arm_joint.value.radians(),
            };
            let off = limit + frozen.link(frozen.link_of_variable(variable)).joint.readout;
            [joint.range.lowest + off, joint.range.highest - off]
        };
        Self {
            scene,
            still: still_world(&frozen),
            paces: joint_paces(scene, &moved),
            tip_limit: carrying,
            near_limit: limits.tip_speed_m_s.near_structure.filter(|near| *near < carrying),
            ranges: (0..arm.mechanism.variable_count()).map(range).collect(),
            singular_limit: singular_limit.map(|limit| limit + SINGULARITY_GAP),
            moved,
            assembly,
            frozen,
            arm,
        }
    }

    /// Which pairs are measured, and against what.
    pub fn rules(&self) -> PairRules<'_> {
        PairRules::of_move(self.scene, &self.moved, &self.assembly, &self.frozen)
    }

    /// A solid, and a body inside it at the start.
    pub fn swallowed(&self, measured: impl Fn(BodyId, BodyId) -> bool) -> Option<[BodyId; 2]> {
        swallowed(&self.frozen, &self.frozen.pose(&self.moved.moment.arm), measured).first().copied()
    }

    /// Whether the plan slows the tip near structure, for what the arm carries.
    pub fn slower_near_structure(&self) -> bool {
        self.near_limit.is_some()
    }

    /// Which bodies count for being near structure.
    pub fn nearness(&self, a: BodyId, b: BodyId) -> Option<Rule> {
        near_structure_rule(self.scene, (&self.assembly, &self.frozen), [a, b])
    }

    /// How an edge is timed, near structure or not.
    pub fn time(&self, segment: &Segment, near: bool) -> EdgeTime {
        let Some(paces) = &self.paces else { return EdgeTime { seconds: None, overrun: Overrun::default() } };
        let tip_limit = self.near_limit.filter(|_| near).unwrap_or(self.tip_limit);
        let speeds = tip_speeds_of(&self.arm.mechanism, self.arm.tip, segment);
        let time = segment_time(&segment.change(), paces, &speeds, tip_limit);
        let overrun = stopping_overrun(self.scene, segment, Some(&time), Some(paces));
        EdgeTime { seconds: Some(time.seconds()), overrun }
    }

    /// Whether edges can be timed.
    pub fn is_timed(&self) -> bool {
        self.paces.is_some()
    }

    /// How far a joint is from where it may be, and which (rad or m); none where all are.
    pub fn out_of_range(&self, q: &[f64]) -> Option<(usize, f64)> {
        let beyond = |(k, [lowest, highest]): (usize, &[f64; 2])| (k, (lowest - q[k]).max(q[k] - highest));
        let farthest = self.ranges.iter().enumerate().map(beyond).max_by(|(_, a), (_, b)| a.total_cmp(b))?;
        // Both ends were turned from degrees, the limit taken off: rounding is no violation.
        (farthest.1 > 1e-12).then_some(farthest)
    }

    pub fn names(&self, bodies: [BodyId; 2]) -> [String; 2] {
        bodies.map(|body| self.assembly.name(body).to_owned())
    }
}
