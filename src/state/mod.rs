//! Who holds what, and what stands where, at each step of the plan?

mod arm_alone;
mod assembly;
mod base_way;
mod contacts;
mod event;
mod line;
mod moment;
mod postures;
mod rest;
mod scene;
mod solids;
mod stance;
#[cfg(test)]
pub(crate) mod testing;
mod walk;

pub use arm_alone::{ArmAlone, Followed};
pub use assembly::{ArmLinks, Assembly, Extras, RestraintLinks, SecondLinks, WorkedOn};
pub use base_way::BaseMotion;
pub use contacts::{Touch, is_meant, touch};
pub use event::{Doing, Event, Fault, MotionKind, Move, Stay};
pub use line::{Line, LineFault, Vertex, round_to_grid};
pub use moment::{Carried, Moment, SecondCrew};
pub use postures::Standing;
pub use rest::Rest;
pub use scene::Scene;
pub use stance::Stance;
pub use walk::{Walk, beginning, walk, walk_steps};
