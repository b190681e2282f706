//! Which limits does the plan keep, which not, and by how much?
//!
//! One file a check; [`CHECKS`] lists them all. What they share is found in `case`. Two files add findings of no check of
//! their own: `summary`, what the plan asks and no check answers, and `together`, whom both are outside.

mod access;
mod advice;
mod bodies;
mod bounded;
mod case;
mod change;
mod clearance;
pub mod envelope;
mod exemptions;
mod finding;
mod first;
mod grouping;
mod joint_limits;
mod judge;
mod known;
mod line;
mod off_body;
mod outcome;
mod pace;
mod piece;
mod placing;
mod playback;
mod pointed;
mod posture;
mod profile;
mod progress;
mod reach;
mod rest;
mod sight;
mod singularity;
mod speed;
mod stance;
mod stopping;
mod summary;
mod together;
mod vantage;

use std::sync::atomic::AtomicBool;

use crate::files::Meshes;
use crate::model::Project;
use crate::state::{Scene, walk};

use piece::Piece;

pub use crate::state::MotionKind;
pub(crate) use access::NAME as ACCESS;
pub use bodies::{BodyBox, bodies_at_start};
pub use bounded::Bounded;
pub(crate) use bounded::swallowed;
pub(crate) use case::stopping_overrun;
pub use case::{Case, Change, MoveCase, StayCase, UseCase, Wanted, bound_motion, wanted};
pub(crate) use clearance::NAME as CLEARANCE;
pub use finding::{Bar, Finding, Key, Kind, Moment, Pair, Place, Status, Unit, Value};
pub use first::{First, with_first};
pub(crate) use grouping::PairRules;
pub use grouping::{Situation, clearance_limit, greatest_limit};
pub(crate) use joint_limits::NAME as JOINT_LIMITS;
pub use known::Known;
pub(crate) use line::NAME as LINE;
pub use off_body::off_bodies;
pub use outcome::{Exemption, JointName, MotionSummary, Outcome, TargetUse, Visit};
pub use pace::{arm_paces, tip_speeds_of};
pub(crate) use pace::{is_far, joint_paces, near_structure_rule, tip_limit};
pub use playback::{At, Playback, Span};
pub use pointed::Neighbour;
pub(crate) use posture::NAME as POSTURE;
pub use profile::{Profile, ProfileLine, ProfilePiece, profile};
pub use progress::{Progress, Silent, Stopped, go_on};
pub use rest::RestCase;
pub(crate) use singularity::{GAP as SINGULARITY_GAP, NAME as SINGULARITY};
pub(crate) use speed::NAME as SPEED;
pub use stance::StanceCase;
pub use vantage::{InHelmet, Vantage};

/// One check: its name, what it finds in each piece of a plan, and what in the plan as a whole.
pub struct Check {
    pub name: &'static str,
    of_piece: fn(&Scene, Piece) -> Vec<Finding>,
    of_plan: Option<fn(&Case) -> Vec<Finding>>,
}

impl Check {
    const fn of(name: &'static str, of_piece: fn(&Scene, Piece) -> Vec<Finding>) -> Self {
        Self { name, of_piece, of_plan: None }
    }

    const fn and_of_plan(self, of_plan: fn(&Case) -> Vec<Finding>) -> Self {
        Self { of_plan: Some(of_plan), ..self }
    }
}

/// Every check, in the order of reports.
pub const CHECKS: [Check; 12] = [
    Check::of(reach::NAME, reach::findings),
    Check::of(envelope::NAME, envelope::findings),
    Check::of(posture::NAME, posture::findings),
    Check::of(sight::NAME, sight::findings),
    Check::of(access::NAME, access::findings),
    Check::of(joint_limits::NAME, joint_limits::findings).and_of_plan(joint_limits::findings_at_rest),
    Check::of(line::NAME, line::findings),
    Check::of(singularity::NAME, singularity::findings),
    Check::of(clearance::NAME, clearance::findings),
    Check::of(stopping::NAME, stopping::findings),
    Check::of(speed::NAME, speed::findings).and_of_plan(speed::times_of_steps),
    Check::of(placing::NAME, placing::findings),
];

/// Checks a whole plan.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn run(project: &Project, meshes: &Meshes, progress: &dyn Progress, stop: &AtomicBool) -> Result<Outcome, Stopped> {
    Ok(again((project, meshes), &Known::default(), progress, stop)?.outcome)
}

/// A checked plan, with what there is to be seen of it, and what need not be computed again after an edit.
#[derive(Clone, Default)]
pub struct Checked {
    pub outcome: Outcome,
    pub playback: Playback,
    pub known: Known,
}

/// Checks a whole plan, using again what an earlier check found and no edit has touched; the outcome is the same as that
/// of [`run`].
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn again(
    plan: (&Project, &Meshes),
    known: &Known,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Checked, Stopped> {
    again_first(plan, known, None, progress, stop)
}

/// The same; what is found in one place is told before all others are looked at.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn again_first(
    (project, meshes): (&Project, &Meshes),
    known: &Known,
    first: Option<First>,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Checked, Stopped> {
    let scene = Scene::new(project, meshes);
    let walk = walk(&scene);
    let mut known = known.still_true_of(&scene);
    if let Some(first) = first {
        known = first.look((&scene, &walk), known, stop)?;
    }
    let case = Case::new((&scene, &walk), &known, progress, stop)?;
    let mut outcome = summary::summarise(&case);
    outcome.findings.extend(summary::not_modelled(&case));
    outcome.findings.extend(together::findings(&scene, &walk));
    Ok(Checked { outcome, playback: Playback::new(&case), known: Known::of(&case) })
}
