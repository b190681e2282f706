//! What can the arm do by itself, at a stand?

use crate::mechanism::{Goal, InverseKinematics, LinkId, Mechanism, MechanismBuilder, Meets, Solved};
use crate::model::{JointKind, TipMeets};
use crate::motion::LineStray;
use crate::space::{Direction, Pose, Vector, pose};

use super::assembly::joint_of;
use super::line::{Line, LineFault, LineTask, round_to_grid};
use super::scene::Scene;

/// A tip is drawn towards a place in stretches of at most so much, m …
const STRETCH: f64 = 0.1;
/// … unless that makes more of them than this.
const MOST_STRETCHES: f64 = 64.0;
/// Stretches that are searched in all: after one that was not found, half as long.
const MOST_SEARCHES: usize = 80;

/// How far the arm has followed its tip.
#[derive(Clone, Debug, PartialEq)]
pub struct Followed {
    /// The joint values to which it has come (rad or m).
    pub joints: Vec<f64>,
    /// Whether the tip is where it was to be.
    pub arrived: bool,
}

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

    /// Draws the tip, at `from`, straight towards a place, and the arm with it, without a jump: each short stretch of the
    /// way is searched from the one before alone. It stops where no joint values are found any more.
    pub fn follow(&self, from: &[f64], structure_from_tip: &Pose) -> Followed {
        let start = self.structure_from_tip(from).translation.vector;
        let way = structure_from_tip.translation.vector - start;
        let met = |q: &[f64], share: f64| {
            let mut place = *structure_from_tip;
            place.translation.vector = start + way * share;
            let goal = Goal { link: self.tip, structure_from_link: place, meets: self.meets };
            match (InverseKinematics { starts: 1, ..Default::default() }).solve(&self.mechanism, &goal, q) {
                Solved::Met(q) => Some(q),
                Solved::NotFound { .. } => None,
            }
        };
        let (mut joints, mut done) = (from.to_vec(), 0.0);
        let mut stretch = 1.0 / (way.norm() / STRETCH).ceil().clamp(1.0, MOST_STRETCHES);
        for _ in 0..MOST_SEARCHES {
            let next = f64::min(done + stretch, 1.0);
            match met(&joints, next) {
                Some(q) => (joints, done) = (q, next),
                None => stretch *= 0.5,
            }
            if done == 1.0 {
                return Followed { joints, arrived: true };
            }
        }
        Followed { joints, arrived: false }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::testing::with_starter;

    fn dragged(by: Vector, check: impl Fn(&ArmAlone, &[f64], &Pose, &Followed)) {
        with_starter(|scene| {
            let arm = ArmAlone::new(scene, "near-end");
            let from = scene.joint_values(&scene.project.plan.worksite[0].joints);
            let mut place = arm.structure_from_tip(&from);
            place.translation.vector += by;
            check(&arm, &from, &place, &arm.follow(&from, &place));
        });
    }

    #[test]
    fn the_tip_gets_where_it_is_drawn_and_keeps_its_orientation() {
        for by in [Vector::zeros(), Vector::new(0.004, 0.0, 0.0), Vector::new(-0.8, 0.5, 0.3)] {
            dragged(by, |arm, _, place, followed| {
                assert!(followed.arrived);
                let tip = arm.structure_from_tip(&followed.joints);
                assert!((tip.translation.vector - place.translation.vector).norm() < 1e-6);
                assert!(tip.rotation.angle_to(&place.rotation) < 1e-6);
            });
        }
    }

    #[test]
    fn drawn_out_of_reach_the_tip_stays_on_its_way_at_the_farthest_that_was_met() {
        dragged(Vector::new(40.0, 0.0, 0.0), |arm, from, place, followed| {
            assert!(!followed.arrived);
            let start = arm.structure_from_tip(from).translation.vector;
            let tip = arm.structure_from_tip(&followed.joints).translation.vector;
            let way = (place.translation.vector - start).normalize();
            let done = (tip - start).dot(&way);
            assert!((tip - start - way * done).norm() < 1e-6, "on the way");
            let farther = Pose::from_parts((tip + way * 0.01).into(), place.rotation);
            assert!(done > 0.5 && !arm.follow(&followed.joints, &farther).arrived, "{done} m");
        });
    }
}
