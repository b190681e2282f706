//! Which limits does the plan keep, which not, and by how much?

mod finding;
mod outcome;
mod progress;

pub use crate::state::MotionKind;
pub use finding::{Bar, Finding, Key, Kind, Moment, Pair, Place, Status, Unit, Value};
pub use outcome::{Exemption, JointName, MotionSummary, Outcome, TargetUse, Visit};
pub use progress::{Progress, Silent, Stopped, go_on};
