//! How big is a suited crewmember, which postures can they take, and how far do they reach?
//!
//! The suited figure is a mechanism like any other, rooted at the left boot on the plate. This layer knows sizes, suit
//! joints, postures and reach; it knows no files and no checks.

mod body;
mod chain;
mod closing;
mod crewmember;
mod descent;
mod figure;
mod growing;
mod overlap;
mod posture;
mod posture_change;
mod reach;
mod reach_bound;
mod residuals;
mod rows;
mod segment;
mod side;
mod suit;
mod survey;
mod task;
#[cfg(test)]
pub(crate) mod testing;
mod verify;

pub use body::{BodyLinks, View, attach, hold_tool};
pub use crewmember::Crewmember;
pub use figure::Figure;
pub use overlap::{Obstacle, Surroundings};
pub use posture::{NoPosture, Posture, PostureOutcome, PostureSearch};
pub use posture_change::{Held, NoChange, PostureChange, STRAY};
pub use reach::{RESOLUTION as REACH_RESOLUTION, Reach};
pub use side::{Side, Sides};
pub use suit::{JOINTS, SuitJointKind, joint_kind, neutral, range, words};
pub use task::{Grip, Task};
pub use verify::{Fault, GripWitness, HAND, Witness};
