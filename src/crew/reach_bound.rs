//! Beyond which point can a hand certainly not be?
//!
//! # Law
//! A boot on the plate holds its ankle; ankle and knee, within their ranges, leave the hip a set of places; no hand is
//! farther from its hip than ρ = (greatest distance hip–shoulder over the waist's ranges) + (shoulder–wrist by the law of
//! cosines at the least bend of the elbow) + (wrist–grip) + tool. So along a ray no target is reached beyond the last
//! point that lies within ρ of a possible place of the hip: of the left one, and of the right one.
//!
//! # Not covered
//! Ranges of hip, shoulder, forearm and wrist, the other boot's closure, the body's own bulk: the bound may be loose by
//! what they take away, never too low.

use crate::mechanism::{LinkId, Range};
use crate::space::{Direction, Point, Pose, Vector};

use super::chain::{Chain, Places};
use super::crewmember::Crewmember;
use super::side::Side;
use super::suit::JOINTS;

/// Each of the two suprema is taken to within this, m.
const WITHIN: f64 = 2e-3;
/// Most boxes of joint values that are looked at for one bound.
const BOXES: usize = 5_000;
/// Rounding of f64 at these sizes, m.
const ROUNDING: f64 = 1e-9;

/// A ray in the structure's frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ray {
    pub from: Point,
    pub along: Direction,
}

impl Ray {
    /// No point beyond this on the ray, before or behind, is within `radius` of any of some places; minus infinity where
    /// none at all is.
    ///
    /// For a ball about *x* it is s(x) = along(x) + √(radius² − across(x)²): concave in *x*, so below its tangent in the
    /// middle; and a ball about the middle with a radius that much larger contains them all.
    fn farthest_within(&self, places: &Places, radius: f64) -> f64 {
        let to_middle = places.middle - self.from;
        let along = to_middle.dot(&self.along);
        let across = to_middle - self.along.into_inner() * along;
        let chord = |radius: f64| {
            let squared = radius * radius - across.norm_squared();
            (squared >= 0.0).then(|| squared.sqrt())
        };
        let Some(of_all) = chord(radius + places.radius()) else {
            return f64::NEG_INFINITY;
        };
        let tangent = chord(radius).filter(|half| *half > 0.0).map(|half| {
            let slope = self.along.into_inner() - across / half;
            let steps: f64 = places.steps.iter().map(|step| slope.dot(step).abs()).sum();
            along + half + steps + slope.norm() * places.rest
        });
        tangent.unwrap_or(f64::INFINITY).min(along + of_all)
    }
}

/// No place is farther from a point, m: the distance is convex, so it is greatest at a corner.
fn farthest_from(point: &Point, places: &Places) -> f64 {
    let [a, b, c] = places.steps;
    let to = places.middle - point;
    let signs = [-1.0, 1.0];
    let mut farthest: f64 = 0.0;
    for x in signs {
        for y in signs {
            for z in signs {
                farthest = farthest.max((to + a * x + b * y + c * z).norm());
            }
        }
    }
    farthest + places.rest
}

impl Crewmember<'_> {
    /// No tool of length `tool` in the hand on `side` is beyond this on the ray, m; minus infinity where none of the ray
    /// is within reach.
    pub(super) fn never_beyond(&self, (side, tool): (Side, f64), ray: &Ray, structure_from_plate: &Pose) -> f64 {
        let bound = |leg: Side| {
            let radius = self.trunk(leg, side) + self.arm(side) + self.links.figure.wrist_to_grip + tool;
            let boot_from_structure = (structure_from_plate * self.plate_from_boot(leg)).inverse();
            let ray = Ray { from: boot_from_structure * ray.from, along: boot_from_structure * ray.along };
            self.leg(leg).supremum(|hip| ray.farthest_within(hip, radius), WITHIN, BOXES)
        };
        bound(Side::Left).min(bound(Side::Right)) + ROUNDING
    }

    /// Greatest distance from a hip to a shoulder, m.
    fn trunk(&self, leg: Side, arm: Side) -> f64 {
        let hip = Point::new(0.0, leg.sign() * 0.5 * self.links.figure.hip_spacing, 0.0);
        let chain = Chain::between(self.mechanism, self.links.pelvis, *self.links.shoulder.on(arm), Pose::identity());
        chain.supremum(|shoulder| farthest_from(&hip, shoulder), WITHIN, BOXES)
    }

    /// Greatest distance from shoulder to wrist, m.
    fn arm(&self, side: Side) -> f64 {
        let f = &self.links.figure;
        let elbow = self.range(&format!("{}-elbow-flexion", side.word()));
        straightest(f.upper_arm, f.forearm, elbow)
    }

    /// Ankle and knee, from the boot up to the hip.
    fn leg(&self, side: Side) -> Chain {
        let thigh: LinkId = *self.links.thigh.on(side);
        match side {
            Side::Left => {
                let thigh_from_hip = Pose::translation(0.0, 0.0, self.links.figure.thigh);
                Chain::between(self.mechanism, self.links.left_boot, thigh, thigh_from_hip)
            }
            Side::Right => Chain::between(self.mechanism, thigh, self.links.right_boot, Pose::identity()).reversed(),
        }
    }

    fn plate_from_boot(&self, side: Side) -> Pose {
        let boot = match side {
            Side::Left => self.links.left_boot,
            Side::Right => self.links.right_boot_place,
        };
        self.mechanism.link(boot).parent_from_joint
    }

    fn range(&self, joint: &str) -> Range {
        let variable = JOINTS.iter().position(|known| *known == joint).expect("a joint of the body");
        self.ranges[variable]
    }
}

/// The far ends of two lengths are at most so far apart, joined by a joint that bends within a range: law of cosines.
pub(super) fn straightest(a: f64, b: f64, bend: Range) -> f64 {
    let least = bend.nearest(0.0);
    Vector::new(a + b * least.cos(), b * least.sin(), 0.0).norm()
}
