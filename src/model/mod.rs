//! What has the user written?
//!
//! Plain values, as they stand in the plan's files: no mathematics, no files. Keys carry their unit; angles are held
//! in radians and converted once, where they are read ([`Angle`]).

mod arm;
mod arm_shapes;
mod body_names;
mod bound;
mod class;
mod contact;
mod crew;
mod limit;
mod limits;
mod place;
mod plan;
mod plan_edit;
mod restraint;
mod shape;
mod step;
mod structure;
mod worksite;

pub use arm::{Arm, ArmJoint, JointKind, LinkShape, TipMeets};
pub use arm_shapes::{ArmShapes, NamedLink};
pub use body_names::{BODY_SEGMENTS, BodyNames, part};
pub use bound::Bound;
pub use class::{BodyClass, ClassPair};
pub use contact::{Contact, DEEPEST_OVERLAP};
pub use crew::{BODY_JOINTS, Crew, Measures, Stature, Suit, SuitJoint, Survey};
pub use limit::{AtLeast, AtMost, Limit};
pub use limits::{ClearanceLimits, Envelope, Limits, Regime, TipSpeeds, Tolerances};
pub use place::{Angle, Place};
pub use plan::{Camera, MOST_TRANSIT_NODES, Payload, Plan, Posture, Project, Seat, Stand};
pub use plan_edit::PlanEdit;
pub use restraint::{Restraint, RestraintJoint};
pub use shape::{MeshUse, Shape};
pub use step::{BaseWay, Deed, Step, Waypoint, Who, step_id};
pub use structure::{Fixed, Handrail, KeepOut, Module, Socket, Structure, Truss};
pub use worksite::{Hands, SecondPlace, Target, Worksite};
