//! How do links that carry shapes move when joints move?
//!
//! Arm, restraint, crew and carried payload are all one [`Mechanism`]: a tree of links, joined by joints, whose links
//! carry bodies. One forward-kinematics routine, one Jacobian and one pair of motion bounds serve them all. Nothing
//! here knows what a crew or an arm is.

mod build;
mod freeze;
mod inverse;
mod jacobian;
mod least_squares;
mod motion_bound;
#[cfg(test)]
pub(crate) mod random_tree;
mod tree;

pub use build::MechanismBuilder;
pub use inverse::{Goal, InverseKinematics, Meets, Solved};
pub use jacobian::{Jacobian, point_jacobian, point_velocity, tip_jacobian};
pub use least_squares::{Residuals, Settings as LeastSquaresSettings, Solution, solve};
pub use motion_bound::{BodyMotion, Extent, Twist, common_link};
pub use tree::{Body, BodyId, Joint, JointMotion, Link, LinkId, Mechanism, PartId, Posed, Range, Slack, VirtualJoint};
