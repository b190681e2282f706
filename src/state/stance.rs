//! How does a crewmember come to stand, to be carried, or to hold a payload?

use crate::crew::{JOINTS, PostureOutcome};
use crate::model::Who;

use super::moment::Moment;

/// A crewmember gets into a posture at a step, while all else stands still.
#[derive(Clone, Debug, PartialEq)]
pub struct Stance {
    pub step: String,
    pub who: Who,
    /// Which posture: "posture arms-in".
    pub subject: String,
    /// As it is then, the body in the posture that was found.
    pub moment: Moment,
    /// The payload that the hands take hold of or let go.
    pub held: Option<usize>,
    pub outcome: PostureOutcome,
    /// Body joints before, rad; none where there is no way to be told: they have just got in, or hold nothing yet.
    pub from: Option<[f64; JOINTS.len()]>,
    /// The steps whose contacts hold.
    pub contact_steps: Vec<String>,
    /// Whether it is done at a worksite, where the limits at work hold.
    pub at_worksite: bool,
}
