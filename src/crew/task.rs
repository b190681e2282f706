//! What must a posture achieve?

use crate::model;
use crate::space::{Direction, Point, Pose, Vector};

use super::side::Side;

/// Both hands on one target hold on so far apart, m; invented.
const BOTH_HANDS_APART: f64 = 0.20;

/// One hand, and the tool in it, at a place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grip {
    pub side: Side,
    /// Where the tool's end must be, in the structure's frame; the grip's own centre where there is no tool.
    pub at: Point,
    /// Out of the hand, into the target, and how far the hand's axis may stray from it, rad; none where any will do.
    pub axis: Option<(Direction, f64)>,
    /// From the centre of the grip to the tool's end, m.
    pub tool: f64,
}

/// What hands and eyes must do while the boots stand on the plate.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Task {
    /// At most one for each hand.
    pub grips: Vec<Grip>,
    /// What the eyes must see, in the structure's frame.
    pub look_at: Option<Point>,
}

impl Task {
    /// Work on a target with one hand or, side by side across the target's axis, with both. The left hand is on the
    /// left of somebody upright on the plate who faces along the axis.
    pub fn at_target(target: &model::Target, sides: &[Side], structure_from_plate: &Pose) -> Self {
        let at = Point::from(target.at_m);
        let axis = Direction::try_new(Vector::from(target.axis), 0.0);
        let upright = structure_from_plate.rotation * Vector::z();
        let left = structure_from_plate.rotation * Vector::y();
        let forward = axis.map_or(structure_from_plate.rotation * Vector::x(), |axis| axis.into_inner());
        let across = Direction::try_new(upright.cross(&forward), 0.1)
            .unwrap_or_else(|| Direction::new_normalize(left - forward * left.dot(&forward)));
        let apart = if sides.len() > 1 { 0.5 * BOTH_HANDS_APART } else { 0.0 };
        let grip = |side: &Side| Grip {
            side: *side,
            at: at + across.into_inner() * (side.sign() * apart),
            axis: axis.map(|axis| (axis, target.cone.radians())),
            tool: target.tool_m,
        };
        Self { grips: sides.iter().map(grip).collect(), look_at: Some(at) }
    }

    /// The same with everything moved.
    pub fn moved(&self, by: &Vector) -> Self {
        let grips = self.grips.iter().map(|grip| Grip { at: grip.at + by, ..*grip }).collect();
        Self { grips, look_at: self.look_at.map(|at| at + by) }
    }

    /// Both hands on a payload's handles, in any direction, eyes on the middle between them.
    pub fn at_handles(payload: &model::Payload, structure_from_payload: &Pose) -> Self {
        let left = structure_from_payload * Point::from(payload.left_handle_m);
        let right = structure_from_payload * Point::from(payload.right_handle_m);
        let grip = |side: Side, at: Point| Grip { side, at, axis: None, tool: 0.0 };
        let grips = vec![grip(Side::Left, left), grip(Side::Right, right)];
        Self { grips, look_at: Some(nalgebra::center(&left, &right)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Angle, Hands, Target, Who};

    fn target(axis: [f64; 3]) -> Target {
        Target {
            id: "bolt".to_owned(),
            at_m: [1.0, 2.0, 3.0],
            axis,
            cone: Angle::from_radians(0.2),
            tool_m: 0.1,
            hands: Hands::Both,
            who: Who::Rider,
            disc_m: 0.03,
            access_m: 0.1,
            on: Vec::new(),
        }
    }

    #[test]
    fn both_hands_lie_side_by_side_across_the_axis_the_left_one_on_the_left() {
        for (axis, left) in [
            ([2.0, 0.0, 0.0], Vector::y()),
            ([0.0, 1.0, 0.0], -Vector::x()),
            ([0.0, 0.0, 1.0], Vector::y()),
            ([-1.0, 0.0, 0.0], -Vector::y()),
        ] {
            let task = Task::at_target(&target(axis), &Side::BOTH, &Pose::identity());
            let apart = task.grips[0].at - task.grips[1].at;
            assert!((apart - left * BOTH_HANDS_APART).norm() < 1e-12, "{axis:?}: {apart}");
            assert_eq!(task.look_at, Some(Point::new(1.0, 2.0, 3.0)));
        }
    }

    #[test]
    fn one_hand_goes_to_the_target_itself() {
        let task = Task::at_target(&target([0.0, 1.0, 1.0]), &[Side::Right], &Pose::identity());
        assert_eq!((task.grips.len(), task.grips[0].at), (1, Point::new(1.0, 2.0, 3.0)));
        assert_eq!(task.moved(&Vector::x()).grips[0].at, Point::new(2.0, 2.0, 3.0));
    }
}
