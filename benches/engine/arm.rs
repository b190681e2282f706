//! Which arm is timed?

use trusswalk::mechanism::{JointMotion, LinkId, Mechanism, MechanismBuilder, Range};
use trusswalk::space::{Direction, Pose, Vector};

/// Place in the joint before, and axis, of each of seven joints: roll, yaw, pitch, pitch, pitch, yaw, roll about two booms
/// of 7 m; invented. `peers.cpp` has the same.
pub fn rows() -> [(Vector, Direction); 7] {
    [
        (Vector::new(0.0, 0.0, 0.4), Vector::z_axis()),
        (Vector::new(0.0, 0.0, 0.6), Vector::x_axis()),
        (Vector::new(0.3, 0.0, 0.5), Vector::y_axis()),
        (Vector::new(0.3, 0.0, 7.0), Vector::y_axis()),
        (Vector::new(-0.3, 0.0, 7.0), Vector::y_axis()),
        (Vector::new(0.0, 0.0, 0.5), Vector::x_axis()),
        (Vector::new(0.0, 0.0, 0.6), Vector::z_axis()),
    ]
}

/// The tip in the last joint, m.
pub const TIP: f64 = 0.6;

/// Lowest and highest value of each joint.
pub fn range() -> Range {
    Range { lowest: -270f64.to_radians(), highest: 270f64.to_radians() }
}

/// The arm, and its tip.
pub fn long_arm() -> (Mechanism, LinkId) {
    let mut builder = MechanismBuilder::new();
    let mut link = LinkId::STRUCTURE;
    for (k, (place, axis)) in rows().into_iter().enumerate() {
        link = builder.joint(&format!("j{k}"), link, Pose::from(place), JointMotion::Revolute, axis, range());
    }
    let tip = builder.fixed("tip", link, Pose::translation(0.0, 0.0, TIP));
    (builder.finish(), tip)
}

/// Repeatable joint values, evenly spread over the ranges (Weyl sequence).
pub fn configuration(number: usize) -> Vec<f64> {
    let Range { lowest, highest } = range();
    let share = |k: usize| (number as f64 * (0.5 + 0.618_033_988_75 * (k as f64 + 1.37).sqrt())).fract();
    (0..rows().len()).map(|k| lowest + (highest - lowest) * share(k)).collect()
}
