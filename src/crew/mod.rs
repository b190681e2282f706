//! How big is a suited crewmember, which postures can they take, and how far do they reach?
//!
//! The suited figure is a mechanism like any other, rooted at the left boot on the plate. This layer knows sizes, suit
//! joints, postures and reach; it knows no files and no checks.

mod body;
mod figure;
mod growing;
mod segment;
mod side;
mod suit;
mod survey;
#[cfg(test)]
pub(crate) mod testing;

pub use body::{BodyLinks, View, attach, hold_tool};
pub use figure::Figure;
pub use side::{Side, Sides};
pub use suit::{JOINTS, SuitJointKind, joint_kind, neutral, range, words};
