//! What shape has each body segment, in the frame of its link?
//!
//! Capsules for limbs, pelvis and abdomen, balls for head and helmet, boxes for chest, pack and boots.

use crate::space::{Convex, Core, Point, Pose, Vector};

use super::figure::Figure;

/// The pack hangs so far behind the chest; invented.
const PACK_GAP: f64 = 0.02;
/// Radius of a tool; invented.
const TOOL_RADIUS: f64 = 0.02;

/// A capsule along the segment's length, from `low` to `high` on z.
pub(super) fn along_z(low: f64, high: f64, radius: f64) -> Convex {
    Convex { core: Core::Segment(Point::new(0.0, 0.0, low), Point::new(0.0, 0.0, high)), radius }
}

/// A capsule across the body at a height.
fn across(height: f64, half_breadth: f64, radius: f64) -> Convex {
    let end = (half_breadth - radius).max(0.0);
    Convex { core: Core::Segment(Point::new(0.0, end, height), Point::new(0.0, -end, height)), radius }
}

fn cuboid(centre: Vector, half: Vector) -> Convex {
    Convex { core: Core::Box { link_from_box: Pose::from(centre), half }, radius: 0.0 }
}

/// A boot about its ankle joint, its sole on the plate.
pub(super) fn boot(f: &Figure) -> Convex {
    let half = 0.5 * Vector::new(f.boot_length, f.boot_breadth, f.ankle_height);
    cuboid(Vector::new(half.x - f.heel_to_ankle, 0.0, -half.z), half)
}

pub(super) fn pelvis(f: &Figure) -> Convex {
    across(0.5 * f.hip_to_waist, f.pelvis_half_breadth, f.pelvis_radius)
}

pub(super) fn abdomen(f: &Figure) -> Convex {
    across(0.5 * f.abdomen, f.abdomen_half_breadth, f.abdomen_radius)
}

/// The chest, from where it turns on the abdomen up to the shoulders.
pub(super) fn chest(f: &Figure) -> Convex {
    let half = Vector::new(f.chest_half_depth, f.chest_half_breadth, 0.5 * f.chest_to_shoulder);
    cuboid(Vector::new(0.0, 0.0, half.z), half)
}

/// The pack behind the chest, its top at the height of the eyes.
pub(super) fn pack(f: &Figure) -> Convex {
    let half = 0.5 * Vector::from(f.pack);
    let top = f.chest_to_neck + f.neck_to_eye;
    cuboid(Vector::new(-f.chest_half_depth - PACK_GAP - half.x, 0.0, top - half.z), half)
}

/// A ball about the middle of the head, in the frame of the neck.
pub(super) fn head(f: &Figure, radius: f64) -> Convex {
    Convex { core: Core::Point(Point::new(f.head_forward, 0.0, f.neck_to_eye)), radius }
}

/// A rod out of the hand, ending `length` from the centre of the grip.
pub(super) fn tool(f: &Figure, length: f64) -> Convex {
    let end = (length - TOOL_RADIUS).max(0.0);
    along_z(f.hand_radius.min(end), end, TOOL_RADIUS)
}
