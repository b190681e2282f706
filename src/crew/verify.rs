//! Is this a posture: boots on the plate, hands where they must be, everything in range and nothing overlapping?
//!
//! # Law
//! By forward kinematics of the joint values alone, as they are printed: the right boot within [`BOOT`] and [`TURN`] of
//! its place; each tool's end within [`HAND`] of its place, the hand's axis inside its cone (where the cone is narrower
//! than [`TURN`], within that); every joint in its range; what is looked at inside the helmet's field of view; no
//! overlap ([`super::overlap`]).
//!
//! # Source
//! The tolerances are the design's own.

use crate::mechanism::{BodyId, Posed};
use crate::space::{Point, Vector};

use super::crewmember::Crewmember;
use super::overlap::Meeting;
use super::rows::N;
use super::side::Side;
use super::suit::JOINTS;
use super::task::{Grip, Task};

/// Greatest distance of any point of the right boot from where it must be, m.
pub const BOOT: f64 = 1e-3;
/// Greatest turn of the right boot, and of a hand beyond its cone, rad.
pub const TURN: f64 = 0.1 * std::f64::consts::PI / 180.0;
/// Greatest distance of a tool's end from where it must be, m.
pub const HAND: f64 = 1e-3;

/// What forward kinematics says of a posture.
#[derive(Clone, Debug, PartialEq)]
pub struct Witness {
    /// Distance (m) of the right ankle from its place and turn (rad) of the right boot.
    pub boot: (f64, f64),
    pub grips: Vec<GripWitness>,
    /// To the left and up from straight ahead to what is looked at, rad.
    pub gaze: Option<(f64, f64)>,
}

/// What forward kinematics says of one hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GripWitness {
    pub side: Side,
    /// Of the tool's end from its place, m.
    pub distance: f64,
    /// Between the hand's axis and the wanted one, rad.
    pub off_axis: f64,
}

/// Why joint values are no posture.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// The right boot isn't in its place: by so many m and rad.
    Boot { distance: f64, turn: f64 },
    /// A tool's end isn't in its place: by so many m.
    Hand { side: Side, distance: f64 },
    /// A hand's axis lies outside its cone: by so many rad.
    Axis { side: Side, beyond: f64 },
    /// A joint is outside its range: by so many rad.
    Joint { joint: &'static str, beyond: f64 },
    /// What is looked at lies outside the field of view: by so many rad.
    Gaze { beyond: f64 },
    /// Nothing of the above, but what was asked for is only nearly met: all within tolerance, not solved.
    Unsolved,
    /// Bodies overlap.
    Overlap(Vec<(BodyId, BodyId)>),
}

impl Crewmember<'_> {
    /// Whether the joint values (rad) are a posture that does the task.
    pub fn verify(&self, task: &Task, q: &[f64; N]) -> Result<Witness, Fault> {
        self.verify_or_meetings(task, q).map_err(|(fault, _)| fault)
    }

    pub(super) fn verify_or_meetings(&self, task: &Task, q: &[f64; N]) -> Result<Witness, (Fault, Vec<Meeting>)> {
        let posed = self.mechanism.pose(q);
        let witness = self.witness(task, &posed);
        let fault = |fault: Fault| Err((fault, Vec::new()));
        let (distance, turn) = witness.boot;
        if distance + turn * self.boot_reach > BOOT || turn > TURN {
            return fault(Fault::Boot { distance, turn });
        }
        for (grip, seen) in task.grips.iter().zip(&witness.grips) {
            if seen.distance > HAND {
                return fault(Fault::Hand { side: seen.side, distance: seen.distance });
            }
            let beyond = grip.axis.map_or(0.0, |(_, cone)| seen.off_axis - cone.max(TURN));
            if beyond > 0.0 {
                return fault(Fault::Axis { side: seen.side, beyond });
            }
        }
        for ((value, range), joint) in q.iter().zip(&self.ranges).zip(JOINTS) {
            let beyond = -range.margin(*value);
            if beyond > 0.0 {
                return fault(Fault::Joint { joint, beyond });
            }
        }
        let beyond = witness.gaze.map_or(0.0, |(left, up)| self.links.view.beyond(left, up));
        if beyond > 0.0 {
            return fault(Fault::Gaze { beyond });
        }
        let meetings = self.overlaps.found(&posed);
        if !meetings.is_empty() {
            let bodies = meetings.iter().map(|meeting| self.overlaps.bodies(*meeting)).collect();
            return Err((Fault::Overlap(bodies), meetings));
        }
        Ok(witness)
    }

    fn witness(&self, task: &Task, posed: &Posed) -> Witness {
        let place_from_boot = posed.link(self.links.right_boot_place).inv_mul(posed.link(self.links.right_boot));
        let boot = (place_from_boot.translation.vector.norm(), place_from_boot.rotation.angle());
        let grips = task.grips.iter().map(|grip| self.grip_witness(grip, posed)).collect();
        let gaze = task.look_at.map(|at| gaze(&(posed.link(self.links.eye).inverse() * at)));
        Witness { boot, grips, gaze }
    }

    fn grip_witness(&self, grip: &Grip, posed: &Posed) -> GripWitness {
        let structure_from_grip = posed.link(*self.links.grip.on(grip.side));
        let end = structure_from_grip * Point::new(0.0, 0.0, grip.tool);
        let out_of_hand = structure_from_grip.rotation * Vector::z();
        GripWitness {
            side: grip.side,
            distance: (end - grip.at).norm(),
            off_axis: grip.axis.map_or(0.0, |(axis, _)| angle_between(&out_of_hand, &axis)),
        }
    }
}

/// The angle between two directions, rad; exact near 0 and a half turn.
pub(super) fn angle_between(a: &Vector, b: &Vector) -> f64 {
    a.cross(b).norm().atan2(a.dot(b))
}

/// To the left and up from straight ahead to a point in the eyes' frame, rad.
pub(super) fn gaze(at: &Point) -> (f64, f64) {
    (at.y.atan2(at.x), at.z.atan2(at.x.hypot(at.y)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::testing::{in_empty_space, standing};
    use crate::crew::{Obstacle, PostureOutcome, PostureSearch, Surroundings};
    use crate::mechanism::PartId;
    use crate::space::{Convex, Core, Pose};

    /// The right hand before the chest, pushing forward, seen.
    fn task() -> Task {
        let at = Point::new(0.35, -0.15, 1.15);
        Task {
            grips: vec![Grip { side: Side::Right, at, axis: Some((Vector::x_axis(), 0.2)), tool: 0.1 }],
            look_at: Some(at),
        }
    }

    fn posture(crew: &Crewmember) -> [f64; N] {
        match crew.solve(&task(), &PostureSearch::default()) {
            PostureOutcome::Found(posture) => posture.q,
            PostureOutcome::NotFound(no) => panic!("{no:?}"),
        }
    }

    /// The posture with one joint changed, and the task with one thing changed.
    fn fault(joint: Option<(&str, f64)>, change: impl Fn(&mut Task)) -> Result<Witness, Fault> {
        in_empty_space(|crew| {
            let (mut q, mut task) = (posture(crew), task());
            assert!(crew.verify(&task, &q).is_ok());
            if let Some((name, by)) = joint {
                q[JOINTS.iter().position(|known| *known == name).expect("a joint")] += by;
            }
            change(&mut task);
            crew.verify(&task, &q)
        })
    }

    #[test]
    fn a_boot_off_the_plate_is_told() {
        // A joint that the right boot hangs on and the right hand doesn't.
        assert!(
            matches!(fault(Some(("right-knee-flexion", 0.01)), |_| ()), Err(Fault::Boot { distance, .. }) if distance > BOOT)
        );
        let turned = fault(Some(("right-ankle-inversion", 2.0 * TURN)), |_| ());
        assert!(matches!(turned, Err(Fault::Boot { distance, turn }) if distance < BOOT && turn > TURN));
    }

    #[test]
    fn a_boot_within_a_millimetre_counts() {
        assert!(fault(Some(("right-knee-flexion", 0.0005)), |_| ()).is_ok());
    }

    #[test]
    fn a_hand_off_its_target_is_told() {
        let off = |by: f64| fault(None, |task| task.grips[0].at.z += by);
        assert!(
            matches!(off(0.002), Err(Fault::Hand { side: Side::Right, distance }) if (distance - 0.002).abs() < 1e-4)
        );
        assert!(off(0.0009).is_ok());
    }

    #[test]
    fn an_axis_outside_its_cone_is_told() {
        let turned = |by: f64| {
            fault(None, |task| {
                let axis = nalgebra::UnitQuaternion::from_axis_angle(&Vector::z_axis(), by) * Vector::x_axis();
                task.grips[0].axis = Some((axis, 0.2));
            })
        };
        assert!(matches!(turned(0.5), Err(Fault::Axis { side: Side::Right, beyond }) if beyond > 0.0));
        assert!(matches!(turned(-0.5), Err(Fault::Axis { .. })));
    }

    #[test]
    fn a_joint_out_of_its_range_is_told() {
        let twisted = fault(Some(("left-forearm-roll", 2.0)), |_| ());
        assert!(matches!(twisted, Err(Fault::Joint { joint: "left-forearm-roll", .. })), "{twisted:?}");
    }

    #[test]
    fn what_is_behind_the_helmet_is_not_seen() {
        let behind = fault(None, |task| task.look_at = Some(Point::new(-3.0, 0.0, 1.5)));
        assert!(matches!(behind, Err(Fault::Gaze { .. })));
        // Default suit: 50° up from straight ahead.
        let above = fault(None, |task| task.look_at = Some(Point::new(0.4, 0.0, 4.0)));
        assert!(matches!(above, Err(Fault::Gaze { .. })));
    }

    #[test]
    fn a_hand_in_the_chest_overlaps_it() {
        let (mechanism, links) = standing();
        let surroundings = Surroundings::none();
        let crew = Crewmember::new(&mechanism, &links, &surroundings);
        let inwards = [("left-elbow-flexion", 1.2), ("left-shoulder-rotation", 1.0), ("left-shoulder-abduction", -0.4)];
        let mut q = posture(&crew);
        for (name, by) in inwards {
            let joint = JOINTS.iter().position(|known| *known == name).expect("a joint");
            q[joint] = crew.ranges[joint].nearest(q[joint] + by);
        }
        let found = crew.verify(&task(), &q);
        let Err(Fault::Overlap(pairs)) = &found else { panic!("{found:?}") };
        let names: Vec<&str> =
            pairs.iter().flat_map(|(a, b)| [*a, *b]).map(|body| mechanism.body(body).name.as_str()).collect();
        assert!(names.contains(&"rider/left-hand") || names.contains(&"rider/left-forearm"), "{names:?}");
    }

    #[test]
    fn an_obstacle_counts_unless_it_may_be_touched() {
        let (mechanism, links) = standing();
        let ball = Convex { core: Core::Point(Point::new(0.35, -0.15, 1.15)), radius: 0.005 };
        let wall = BodyId(usize::MAX);
        let obstacle = || Obstacle::new(PartId { body: wall, part: 0 }, ball.posed(&Pose::identity()));
        let mut bare = task();
        bare.grips[0].tool = 0.0;
        let empty = Surroundings::none();
        let free = Crewmember::new(&mechanism, &links, &empty);
        let PostureOutcome::Found(posture) = free.solve(&bare, &PostureSearch::default()) else {
            panic!("not reached")
        };
        let hand = mechanism.body_named("rider/right-hand").expect("a hand");
        for (touched, ok) in [(hand, true), (BodyId(0), false)] {
            let may_touch = move |own: BodyId, other: BodyId| own == touched && other == wall;
            let surroundings = Surroundings { obstacles: vec![obstacle()], may_touch: &may_touch };
            let crew = Crewmember::new(&mechanism, &links, &surroundings);
            assert_eq!(crew.verify(&bare, &posture.q).is_ok(), ok);
        }
    }
}
