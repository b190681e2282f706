//! How does a reader get to see what a check found?
//!
//! One [`Report`] is written as text for people, as JSON and CSV for machines; the waypoints of the motions as a CSV of
//! their own. Every number that a person reads comes from [`number`]. Nothing is computed here.

mod bodies;
mod caution;
mod csv;
mod json;
mod json_mends;
mod json_proposal;
pub mod number;
mod poses;
mod text;
mod waypoints_csv;
pub mod words;

use serde::Serialize;

pub use bodies::{bodies_csv, bodies_json, bodies_text};
pub use caution::{CAUTION, CAUTIONS};
pub use csv::findings_csv;
pub use json::{SCHEMA_VERSION, json};
pub use json_mends::{mends_json, mends_schema};
pub use json_proposal::{proposal_json, proposal_schema};
pub use poses::{MotionMoment, write_bodies, write_moment};
pub use text::{
    Ink, causes, cautions, counted, edits, mends, parts, proposal, setting, text, unsettled, violated, way,
};
pub use waypoints_csv::waypoints_csv;

use crate::check::{Finding, JointName, Moment, MotionSummary, Outcome, Place, Status};
use crate::files::Input;
use crate::model::{BODY_JOINTS, Project};

/// All that a report is made of.
pub struct Report<'a> {
    pub project: &'a Project,
    pub outcome: &'a Outcome,
    /// The files that the plan was read from.
    pub inputs: &'a [Input],
    /// What of the files was left out, and which figures are invented.
    pub notes: &'a [String],
    pub options: &'a Options,
    /// The plan as it was named on the command line, for commands to copy; none for the demo.
    pub named: Option<&'a str>,
}

/// What the user asked for beside the plan.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Options {
    /// The one worksite, motion or step that is reported.
    pub only: Option<String>,
}

/// How many findings came to which status.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    pub ok: usize,
    pub tight: usize,
    pub violations: usize,
    pub not_checked: usize,
}

impl Counts {
    /// Of a whole outcome.
    pub fn of(outcome: &Outcome) -> Self {
        let mut counts = Self::default();
        for finding in &outcome.findings {
            let count = match finding.status {
                Status::Ok => &mut counts.ok,
                Status::Tight => &mut counts.tight,
                Status::Violation(_) => &mut counts.violations,
                Status::NotChecked(_) => &mut counts.not_checked,
            };
            *count += 1;
        }
        counts
    }
}

/// The motions that no finding says anything of the clearance of.
fn unbounded_motions(outcome: &Outcome) -> Vec<&str> {
    let bounded = |motion: &MotionSummary| {
        let of_motion = |place: &Place| matches!(place, Place::Motion { motion: id } if *id == motion.id);
        outcome.findings.iter().any(|finding| {
            finding.key.check == "clearance"
                && of_motion(&finding.key.place)
                && !matches!(finding.status, Status::NotChecked(_))
        })
    };
    let moves = |motion: &&MotionSummary| motion.not_checked.is_some() || motion.waypoints.len() > 1;
    outcome.motions.iter().filter(moves).filter(|motion| !bounded(motion)).map(|motion| motion.id.as_str()).collect()
}

/// A joint at the moment of a finding: its name, whether it turns, and its value (rad or m).
type JointThen<'a> = (&'a str, bool, f64);

/// The joints that move at the moment of a finding, with their values: the arm's, or a crewmember's where they change
/// their posture; none where they have no names, as where the base moves.
fn joints_then<'a>(outcome: &'a Outcome, finding: &'a Finding, at: &'a Moment) -> Option<Vec<JointThen<'a>>> {
    let values = at.joints.iter().copied();
    if let Some(arm) = arm_then(outcome, finding, at) {
        return Some(arm.into_iter().map(|(joint, value)| (joint.name.as_str(), joint.turns, value)).collect());
    }
    let of_body = finding.key.who.is_some() && values.len() == BODY_JOINTS.len();
    of_body.then(|| BODY_JOINTS.iter().zip(values).map(|(name, value)| (*name, true, value)).collect())
}

/// The arm's joints with their values at the moment of a finding; none where it is not the arm that moves then, but its
/// base, the restraint or a crewmember.
fn arm_then<'a>(outcome: &'a Outcome, finding: &'a Finding, at: &'a Moment) -> Option<Vec<(&'a JointName, f64)>> {
    let Place::Motion { motion: id } = &finding.key.place else {
        return None;
    };
    let motion = outcome.motions.iter().find(|motion| motion.id == *id)?;
    let moves = motion.kind.is_of_arm() && at.joints.len() == outcome.arm_joints.len();
    moves.then(|| outcome.arm_joints.iter().zip(at.joints.iter().copied()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::{Key, Unit, Value};
    use crate::model::Who;

    #[test]
    fn a_change_of_posture_names_the_joints_of_the_body() {
        let place = Place::Worksite { worksite: "mast".to_owned(), step: "step-2".to_owned() };
        let key = Key { check: "clearance", place, who: Some(Who::Rider), subject: "to bolt".to_owned() };
        let finding = Finding::told(key, Value::None, Unit::Metre);
        let joints = (0..BODY_JOINTS.len()).map(|k| k as f64).collect();
        let at = Moment { segment: Some(0), segments: Some(1), fraction: 0.5, seconds: None, joints, points: None };
        let outcome = Outcome::default();
        let named = joints_then(&outcome, &finding, &at).expect("they have names");
        assert_eq!(named.len(), BODY_JOINTS.len());
        assert_eq!(named[14], ("left-elbow-flexion", true, 14.0));
        let one = Moment { joints: vec![0.0], ..at };
        assert_eq!(joints_then(&outcome, &finding, &one), None);
    }
}
