//! Which limits does the plan keep, which not, and by how much?

mod finding;
mod outcome;

pub use finding::{Bar, Finding, Key, Kind, Moment, Place, Status, Unit, Value};
pub use outcome::{Exemption, JointName, MotionKind, MotionSummary, Outcome, TargetUse, Visit};
