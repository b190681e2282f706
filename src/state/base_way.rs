//! By which joint does the arm's base get from one stand to the next?

use crate::mechanism::JointMotion;
use crate::model::BaseWay;
use crate::space::{Direction, Pose, Vector};

use super::event::Fault;

/// How the arm's base moves between two stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BaseMotion {
    /// The joint's frame in the structure's frame.
    pub structure_from_joint: Pose,
    pub motion: JointMotion,
    pub axis: Direction,
    /// The base in the joint's frame, at zero.
    pub joint_from_base: Pose,
}

/// The joint of a base's way and how far it goes (rad or m).
pub(super) fn base_motion(way: &BaseWay, from: &Pose, to: &Pose) -> Result<(BaseMotion, f64), Fault> {
    const SAME_PLACE: f64 = 1e-3;
    const SAME_TURN: f64 = 0.1 * std::f64::consts::PI / 180.0;
    let (motion, by) = match way {
        BaseWay::Rail {} => {
            let along = to.translation.vector - from.translation.vector;
            let axis = Direction::try_new(from.rotation.inverse() * along, 1e-9).unwrap_or(Vector::x_axis());
            let motion = BaseMotion {
                structure_from_joint: *from,
                motion: JointMotion::Prismatic,
                axis,
                joint_from_base: Pose::identity(),
            };
            (motion, along.norm())
        }
        BaseWay::Turntable { at_m, axis, angle } => {
            let structure_from_joint = Pose::translation(at_m[0], at_m[1], at_m[2]);
            let motion = BaseMotion {
                structure_from_joint,
                motion: JointMotion::Revolute,
                axis: Direction::new_normalize(Vector::from(*axis)),
                joint_from_base: structure_from_joint.inv_mul(from),
            };
            (motion, angle.radians())
        }
    };
    let turned = match motion.motion {
        JointMotion::Revolute => Pose::rotation(motion.axis.into_inner() * by),
        JointMotion::Prismatic | JointMotion::Fixed => Pose::from(motion.axis.into_inner() * by),
    };
    let end = motion.structure_from_joint * turned * motion.joint_from_base;
    let distance = (end.translation.vector - to.translation.vector).norm();
    let turn = (end.rotation * to.rotation.inverse()).angle();
    if distance > SAME_PLACE || turn > SAME_TURN {
        return Err(Fault::WayEndsElsewhere { distance, turn });
    }
    Ok((motion, by))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Angle;

    #[test]
    fn a_base_way_must_end_on_its_stand() {
        let from = Pose::translation(1.0, 0.0, 0.0);
        let turned = Pose::new(Vector::new(0.0, 1.0, 0.0), Vector::z() * std::f64::consts::FRAC_PI_2);
        let turn =
            |degrees| BaseWay::Turntable { at_m: [0.0; 3], axis: [0.0, 0.0, 1.0], angle: Angle::from_degrees(degrees) };
        assert!(base_motion(&turn(90.0), &from, &turned).is_ok());
        let short = base_motion(&turn(80.0), &from, &turned);
        assert!(matches!(short, Err(Fault::WayEndsElsewhere { distance, .. }) if distance > 0.1));
        assert!(
            base_motion(&BaseWay::Rail {}, &from, &Pose::translation(4.0, 0.0, 0.0)).is_ok_and(|(_, by)| by == 3.0)
        );
        assert!(base_motion(&BaseWay::Rail {}, &from, &turned).is_err(), "a rail does not turn");
    }
}
