//! What can the arm do by itself, at a stand?

use crate::mechanism::{Goal, InverseKinematics, LinkId, Mechanism, MechanismBuilder, Meets, Solved};
use crate::model::{JointKind, TipMeets};
use crate::motion::LineStray;
use crate::space::{Direction, Pose, Vector, pose};

use super::assembly::joint_of;
use super::line::{Line, LineFault, LineTask, round_to_grid};
use super::scene::Scene;

/// The arm without bodies, standing at one of its stands.
#[derive(Clone, Debug)]
pub struct ArmAlone {
    pub mechanism: Mechanism,
    pub tip: LinkId,
    pub kinds: Vec<JointKind>,
    pub meets: Meets,
}

impl ArmAlone {
    /// The arm at a stand.
    pub fn new(scene: &Scene, stand: &str) -> Self {
        let arm = &scene.project.arm;
        let mut builder = MechanismBuilder::new();
        let mut link = builder.fixed("base", LinkId::STRUCTURE, scene.stand(stand));
        for joint in &arm.joint {
            let (motion, range) = joint_of(joint);
            let axis = Direction::new_normalize(Vector::from(joint.axis));
            link = builder.joint(&joint.name, link, pose(&joint.place), motion, axis, range);
        }
        let tip = builder.fixed("tip", link, pose(&arm.tip));
        let kinds = arm.joint.iter().map(|joint| joint.kind).collect();
        let meets = match arm.tip_meets {
            TipMeets::Pose => Meets::Pose,
            TipMeets::PositionAndAxis => Meets::PositionAndAxis,
            TipMeets::Position => Meets::Position,
        };
        Self { mechanism: builder.finish(), tip, kinds, meets }
    }

    /// Where the tip is.
    pub fn structure_from_tip(&self, q: &[f64]) -> Pose {
        *self.mechanism.pose(q).link(self.tip)
    }

    /// Joint values on the grid with which the tip, pulled from `from` by so much (m, structure's frame), keeps its
    /// orientation; none where none were found.
    pub fn pulled(&self, from: &[f64], by: &Vector) -> Option<Vec<f64>> {
        let mut structure_from_link = self.structure_from_tip(from);
        structure_from_link.translation.vector += by;
        let goal = Goal { link: self.tip, structure_from_link, meets: self.meets };
        match InverseKinematics::default().solve(&self.mechanism, &goal, from) {
            Solved::Met(exact) => Some(self.rounded(&exact)),
            Solved::NotFound { .. } => None,
        }
    }

    /// Joint values on the grid that operators key in.
    pub fn rounded(&self, q: &[f64]) -> Vec<f64> {
        q.iter().zip(&self.kinds).map(|(q, kind)| round_to_grid(*q, *kind)).collect()
    }

    /// The straight way out of a worksite, with a vertex wherever a limit changes.
    pub fn line(&self, scene: &Scene, start: &[f64], outwards: &Vector, length: f64) -> Result<Line, LineFault> {
        let plan = &scene.project.plan;
        let stray = LineStray { distance: plan.limits.line_m.value, turn: plan.limits.line.value.radians() };
        let contacts = plan.contact.iter().map(|contact| contact.within_m).filter(|within| *within > 0.0);
        let mut marks: Vec<f64> = contacts.chain([plan.near_worksite_m]).collect();
        marks.sort_by(f64::total_cmp);
        let task = LineTask {
            arm: &self.mechanism,
            tip: self.tip,
            kinds: &self.kinds,
            meets: self.meets,
            stray,
            marks: &marks,
        };
        task.trace(start, outwards, length)
    }
}
