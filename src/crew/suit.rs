//! Which joints has a suited body, which way do they count, and how far do they go?
//!
//! # Law
//! At zero the body stands upright, arms hanging, palms to the thighs. Angles count from there, the same way for left
//! and right. Bones turn about joint centres; a joint of several axes is a row of single ones, from the trunk outwards:
//! flexion, abduction, rotation.
//!
//! # Source
//! Ranges: invented; a suit's own replace them. Neutral angles of hip, knee, ankle, shoulder, elbow and neck:
//! NASA-STD-3000, *Man-Systems Integration Standards*, vol. I, section 3, from memory; the others invented. A later
//! study of six people found none in that posture: it only attracts, it never limits.

use crate::mechanism::Range;
pub use crate::model::BODY_JOINTS as JOINTS;
use crate::model::Suit;
use crate::space::{Direction, Vector};

/// Indices of the legs' joints in [`JOINTS`]: all that lies between the two boots.
pub(super) fn legs() -> impl Iterator<Item = usize> {
    const TRUNK_AND_ARMS: std::ops::Range<usize> = 6..25;
    (0..JOINTS.len()).filter(|joint| !TRUNK_AND_ARMS.contains(joint))
}

/// One joint, or a pair of them, left and right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SuitJointKind {
    /// Its name without the side.
    pub name: &'static str,
    /// The part of the body that is said to move.
    pub part: &'static str,
    /// What a positive angle means, after "right elbow".
    pub positive: &'static str,
    /// What a negative angle means.
    pub negative: &'static str,
    /// Default range, rad.
    pub range: Range,
    /// Angle of the neutral posture, rad.
    pub neutral: f64,
    /// Axis about which the part farther from the trunk turns, on the right and in the middle of the body.
    axis: Vector,
}

impl SuitJointKind {
    /// Axis about which the part farther from the trunk turns, x forward, y left, z up: on the left, the mirror image.
    pub fn axis(&self, name: &str) -> Direction {
        let mirrored = name.starts_with("left-");
        Direction::new_unchecked(if mirrored {
            Vector::new(-self.axis.x, self.axis.y, -self.axis.z)
        } else {
            self.axis
        })
    }
}

const X: [f64; 3] = [1.0, 0.0, 0.0];
const Y: [f64; 3] = [0.0, 1.0, 0.0];
const Z: [f64; 3] = [0.0, 0.0, 1.0];
const BACK_X: [f64; 3] = [-1.0, 0.0, 0.0];
const BACK_Y: [f64; 3] = [0.0, -1.0, 0.0];
const BACK_Z: [f64; 3] = [0.0, 0.0, -1.0];

const fn kind(
    name: &'static str,
    [x, y, z]: [f64; 3],
    [part, positive, negative]: [&'static str; 3],
    [lowest, highest, neutral]: [f64; 3],
) -> SuitJointKind {
    let range = Range { lowest: lowest.to_radians(), highest: highest.to_radians() };
    let neutral = neutral.to_radians();
    SuitJointKind { name, part, positive, negative, range, neutral, axis: Vector::new(x, y, z) }
}

/// Axis, words, and lowest, highest and neutral angle in degrees.
const KINDS: [SuitJointKind; 18] = [
    kind("ankle-flexion", BACK_Y, ["foot", "toes raised", "toes pointed"], [-40.0, 25.0, -21.0]),
    kind("ankle-inversion", X, ["foot", "sole turned inward", "sole turned outward"], [-20.0, 20.0, 0.0]),
    kind("knee-flexion", Y, ["knee", "bent", "straightened beyond"], [0.0, 110.0, 47.0]),
    kind("hip-flexion", BACK_Y, ["thigh", "raised forward", "drawn back"], [-10.0, 90.0, 52.0]),
    kind("hip-abduction", BACK_X, ["thigh", "spread outward", "crossed inward"], [-15.0, 25.0, 3.0]),
    kind("hip-rotation", BACK_Z, ["thigh", "turned outward", "turned inward"], [-20.0, 20.0, 0.0]),
    kind("waist-flexion", Y, ["waist", "bent forward", "bent back"], [-10.0, 30.0, 0.0]),
    kind("waist-side-bend", BACK_X, ["waist", "bent to the left", "bent to the right"], [-15.0, 15.0, 0.0]),
    kind("waist-rotation", Z, ["waist", "turned to the left", "turned to the right"], [-35.0, 35.0, 0.0]),
    kind("neck-flexion", Y, ["head", "bent forward", "bent back"], [-10.0, 30.0, 24.0]),
    kind("neck-rotation", Z, ["head", "turned to the left", "turned to the right"], [-50.0, 50.0, 0.0]),
    kind("shoulder-flexion", BACK_Y, ["upper arm", "raised forward", "drawn back"], [-30.0, 150.0, 36.0]),
    kind("shoulder-abduction", BACK_X, ["upper arm", "raised sideways", "drawn across"], [-15.0, 100.0, 20.0]),
    kind("shoulder-rotation", Z, ["upper arm", "turned inward", "turned outward"], [-50.0, 70.0, 10.0]),
    kind("elbow-flexion", BACK_Y, ["elbow", "bent", "straightened beyond"], [0.0, 130.0, 58.0]),
    kind("forearm-roll", Z, ["forearm", "turned palm down", "turned palm up"], [-80.0, 80.0, 0.0]),
    kind("wrist-flexion", X, ["wrist", "bent to the palm", "bent to the back of the hand"], [-45.0, 45.0, 0.0]),
    kind("wrist-deviation", BACK_Y, ["wrist", "bent to the thumb", "bent to the little finger"], [-20.0, 25.0, 0.0]),
];

/// What is known of the joint of that name.
pub fn joint_kind(name: &str) -> Option<&'static SuitJointKind> {
    let (_, stem) = side_and_stem(name);
    KINDS.iter().find(|kind| kind.name == stem).filter(|_| JOINTS.contains(&name))
}

/// The joint's range in this suit, rad; none where there is no such joint.
pub fn range(suit: &Suit, name: &str) -> Option<Range> {
    let default = joint_kind(name)?.range;
    let of_suit = suit.joint.get(name).map(|own| own.range.map(|angle| angle.radians()));
    Some(of_suit.map_or(default, |[lowest, highest]| Range { lowest, highest }))
}

/// The joint's angle in the neutral posture, rad, within its range; none where there is no such joint.
pub fn neutral(suit: &Suit, name: &str) -> Option<f64> {
    let default = joint_kind(name)?.neutral;
    let of_suit = suit.joint.get(name).and_then(|own| own.neutral).map(|angle| angle.radians());
    Some(range(suit, name)?.nearest(of_suit.unwrap_or(default)))
}

/// What an angle (rad) of the joint of that name means, to be followed by its size: "right elbow bent".
pub fn words(name: &str, value: f64) -> Option<String> {
    let kind = joint_kind(name)?;
    let meaning = if value < 0.0 { kind.negative } else { kind.positive };
    Some(match side_and_stem(name) {
        (Some(side), _) => format!("{side} {} {meaning}", kind.part),
        (None, _) => format!("{} {meaning}", kind.part),
    })
}

fn side_and_stem(name: &str) -> (Option<&str>, &str) {
    match name.split_once('-') {
        Some((side @ ("left" | "right"), stem)) => (Some(side), stem),
        _ => (None, name),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Angle, SuitJoint};

    #[test]
    fn every_joint_has_a_kind_and_every_kind_a_joint() {
        assert!(JOINTS.iter().all(|name| joint_kind(name).is_some()));
        assert!(KINDS.iter().all(|kind| JOINTS.iter().any(|name| joint_kind(name) == Some(kind))));
        assert_eq!(joint_kind("elbow-flexion"), None);
        assert_eq!(joint_kind("left-waist-flexion"), None);
    }

    #[test]
    fn neutral_angles_lie_within_the_ranges() {
        assert!(KINDS.iter().all(|kind| kind.range.margin(kind.neutral) >= 0.0));
    }

    #[test]
    fn legs_are_hips_knees_and_ankles() {
        let is_of_leg = |name: &str| ["hip", "knee", "ankle"].iter().any(|part| name.contains(part));
        assert!((0..JOINTS.len()).all(|joint| legs().any(|leg| leg == joint) == is_of_leg(JOINTS[joint])));
    }

    #[test]
    fn joints_are_told_in_plain_words() {
        assert_eq!(words("right-elbow-flexion", 1.0).as_deref(), Some("right elbow bent"));
        assert_eq!(words("waist-rotation", -0.2).as_deref(), Some("waist turned to the right"));
        assert_eq!(words("tail", 0.0), None);
    }

    #[test]
    fn a_suits_own_range_replaces_the_default_and_holds_the_neutral_angle() {
        let angles = [Angle::from_radians(0.1), Angle::from_radians(0.5)];
        let mut suit = Suit::default();
        suit.joint.insert("left-elbow-flexion".to_owned(), SuitJoint { range: angles, neutral: None });
        assert_eq!(range(&suit, "left-elbow-flexion"), Some(Range { lowest: 0.1, highest: 0.5 }));
        assert_eq!(neutral(&suit, "left-elbow-flexion"), Some(0.5));
    }
}
