//! What does the check say of a setting, and how good is it?
//!
//! # Law
//! The plan is walked through the visit with the setting in place: the approach, all that the rider does there, and the
//! retreat, the restraint left as it is. Every check is made, as `trusswalk check` makes it. A setting counts when nothing
//! is violated, and nothing where the approach begins and the retreat ends rules out any transit.
//!
//! Its score is the mean of seven parts, each the least margin of its checks as a share of what counts as ample, at most 1:
//! reach (0.30 m), body joints (20°), nearness to the neutral posture (1: how far the joints are off it, on mean and as a
//! share of their ranges, in the posture at work that is farthest off), sight (0.5), arm joints (30°), singularity (0.5 m), clearance and stopping
//! (0.10 m), but for what is near to each other by nature. Of each share the root is taken: the nearer to a limit, the more
//! each millimetre counts.
//!
//! # Source
//! The shares are invented; they decide between settings that all keep their limits.

use std::sync::atomic::AtomicBool;

use serde::{Deserialize, Serialize};

use super::Setting;
use super::answer::Impossible;
use super::broken::Broken;
use super::transit::ruled_out;
use super::violation::Violation;
use super::visit::Visit;
use crate::check::{
    CLEARANCE, Case, Finding, JOINT_LIMITS, Known, Pair, SINGULARITY, Silent, Status, Stopped, UseCase,
};
use crate::crew::PostureOutcome;
use crate::files::Meshes;
use crate::model::{BodyClass, Project};
use crate::state::{Event, Moment, Scene, Walk, walk_steps};

/// Checks that ask about the body alone.
const BODYS: [&str; 4] = ["reach", "envelope", "posture", "sight"];

/// So much to spare of clearance is ample, m.
pub const AMPLE_CLEARANCE: f64 = 0.10;

/// Least margins of a setting, each in its own unit (m, rad, share); none where nothing of the kind was checked.
#[derive(Clone, Copy, Debug, Default, Deserialize, PartialEq, Serialize)]
pub struct Parts {
    pub reach: Option<f64>,
    pub body_joints: Option<f64>,
    pub neutral: Option<f64>,
    pub sight: Option<f64>,
    pub arm_joints: Option<f64>,
    pub singularity: Option<f64>,
    pub clearance: Option<f64>,
}

/// A setting with what the check says of it.
#[derive(Clone, Debug, Default, Deserialize, PartialEq, Serialize)]
pub struct Judged {
    pub setting: Setting,
    pub parts: Parts,
    /// At most 1.
    pub score: f64,
    /// What the ways in and out take, s.
    pub seconds: f64,
    /// How many limits are kept with little to spare ...
    pub tight: usize,
    /// ... and by how much these margins are short of the least band that counts as little, in such bands and all together.
    pub short: f64,
    /// What is violated.
    pub violations: Vec<Violation>,
    /// What rules out any transit there, or away; looked at where nothing is violated.
    pub no_transit: Option<Impossible>,
}

impl Parts {
    pub(super) fn of(findings: &[Finding], neutral: Option<f64>) -> Self {
        let least = |checks: &[&str]| {
            let told = |finding: &&Finding| {
                checks.contains(&finding.key.check) && finding.pair.as_ref().is_none_or(|pair| !are_joined(pair))
            };
            findings.iter().filter(told).filter_map(|finding| finding.margin).min_by(f64::total_cmp)
        };
        Self {
            reach: least(&["reach", "envelope"]),
            body_joints: least(&["posture"]),
            neutral,
            sight: least(&["sight"]),
            arm_joints: least(&["joint-limits"]),
            singularity: least(&["singularity"]),
            clearance: least(&["clearance", "stopping", "access"]),
        }
    }

    /// The mean of the parts that there are, each as a share of what is ample.
    pub(super) fn score(&self) -> f64 {
        let parts = [
            (self.reach, 0.30),
            (self.body_joints, 20f64.to_radians()),
            (self.neutral, 1.0),
            (self.sight, 0.5),
            (self.arm_joints, 30f64.to_radians()),
            (self.singularity, 0.5),
            (self.clearance, AMPLE_CLEARANCE),
        ];
        let shares: Vec<f64> = parts
            .iter()
            .filter_map(|(margin, ample)| Some((margin.as_ref()? / ample).clamp(0.0, 1.0).sqrt()))
            .collect();
        shares.iter().sum::<f64>() / shares.len().max(1) as f64
    }
}

/// Whether a pair is near to each other by nature: of one person or payload, or what holds and what is held.
fn are_joined(pair: &Pair) -> bool {
    use BodyClass::{Arm, Payload, Restraint, Rider};
    let (a, b) = pair.classes.classes();
    a == b
        || [(Arm, Restraint), (Restraint, Rider), (Rider, Payload)].iter().any(|held| [(a, b), (b, a)].contains(held))
}

impl Judged {
    /// Whether it counts.
    pub fn keeps_all(&self) -> bool {
        self.violations.is_empty() && self.no_transit.is_none()
    }

    /// The limits that are broken, those of a transit among them.
    pub fn broken(&self) -> Vec<Broken> {
        let of_transit = self.no_transit.as_ref().map(|no| match no {
            Impossible::Pair { bodies: [a, b], .. } | Impossible::Inside { bodies: [a, b] } => {
                Broken { check: CLEARANCE.to_owned(), of: format!("{a} to {b}") }
            }
            Impossible::Joint { joint, .. } => Broken { check: JOINT_LIMITS.to_owned(), of: joint.clone() },
            Impossible::Singular { .. } => Broken { check: SINGULARITY.to_owned(), of: "tip".to_owned() },
        });
        self.violations.iter().map(Broken::of).chain(of_transit).collect()
    }

    /// Whether something that is violated is the body's own: so it is with any arm that holds the plate there.
    pub fn is_the_bodys(&self) -> bool {
        self.breaks_without_arm(&["clearance"])
    }

    /// Whether something is violated in which neither arm nor restraint comes near; that the body stops too late hangs on how
    /// fast the arm is there, too.
    pub fn is_about_the_body(&self) -> bool {
        self.breaks_without_arm(&["clearance", "stopping"])
    }

    /// Where something is violated that is the body's own at its work, leaves out all else that is.
    pub fn leave_the_bodys_own(&mut self) {
        let is_own = |broken: &Violation| BODYS.contains(&broken.check.as_str()) && broken.at_worksite;
        if self.violations.iter().any(is_own) {
            self.violations.retain(is_own);
        }
    }

    fn breaks_without_arm(&self, of_pairs: &[&str]) -> bool {
        let is_set = |class: BodyClass| matches!(class, BodyClass::Arm | BodyClass::Restraint);
        self.violations.iter().any(|broken| {
            let check = broken.check.as_str();
            let is_without_arm = broken.classes.is_some_and(|classes| !classes.into_iter().any(is_set));
            BODYS.contains(&check) || (of_pairs.contains(&check) && is_without_arm)
        })
    }
}

/// Has the check look at a visit of a plan, served by a setting: at what moves and what is at rest, then at the work, which
/// takes longer; no further than until it is `enough`.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn judge(
    (project, meshes): (&Project, &Meshes),
    (visit, before): (&Visit, &Moment),
    setting: &Setting,
    enough: impl Fn(&Judged) -> bool,
    stop: &AtomicBool,
) -> Result<Judged, Stopped> {
    let mut served = project.clone();
    for site in &mut served.plan.worksite {
        if site.id == visit.site {
            setting.serve(project, site);
        } else if visit.leaving.is_some_and(|leaving| project.plan.step[leaving].to.as_ref() == Some(&site.id)) {
            site.detents = setting.angles();
        }
    }
    let scene = Scene::new(&served, meshes);
    let steps = visit.arriving..visit.leaving.map_or(visit.end, |leaving| leaving + 1);
    let (walk, _) = walk_steps(&scene, visit.before(&scene, before), steps);
    let crossings = visit.crossings(&walk, &served);
    let walk = visit.of_interest(walk, &served);
    let (work, moves) = walk.events.into_iter().partition(|event| matches!(event, Event::Stay(_)));
    let mut judged = Judged { setting: setting.clone(), ..Judged::default() };
    let mut findings: Vec<Finding> = Vec::new();
    let mut neutral: Option<f64> = None;
    for walk in [Walk { events: moves, rests: walk.rests }, Walk { events: work, rests: Vec::new() }] {
        let case = Case::new((&scene, &walk), &Known::default(), &Silent, stop)?;
        findings.extend(case.findings());
        neutral = case
            .stays
            .iter()
            .flat_map(|stay| &stay.uses)
            .filter_map(nearness_to_neutral)
            .chain(neutral)
            .reduce(f64::min);
        judged.seconds += case.moves.iter().filter_map(|moved| moved.seconds()).sum::<f64>();
        judged.violations = Violation::all(&findings);
        if enough(&judged) {
            break;
        }
    }
    let tight = findings.iter().filter(|finding| finding.status == Status::Tight);
    let short = tight.map(|finding| match (finding.margin, finding.unit.least_tight_band()) {
        (Some(margin), band) if band > 0.0 => (1.0 - margin / band).clamp(0.0, 1.0),
        _ => 1.0,
    });
    (judged.tight, judged.short) = short.fold((0, 0.0), |(count, sum), short| (count + 1, sum + short));
    judged.parts = Parts::of(&findings, neutral);
    judged.score = judged.parts.score();
    if judged.violations.is_empty() {
        judged.no_transit = crossings.iter().find_map(|(moved, q, at)| ruled_out(&scene, moved, q, *at));
    }
    Ok(judged)
}

/// How near the posture of a use is to the neutral one, 0 to 1: how far its joints are off it, on mean and as a share of their
/// ranges, taken off 1; none where there is no posture.
fn nearness_to_neutral(used: &UseCase) -> Option<f64> {
    let PostureOutcome::Found(posture) = &used.outcome else { return None };
    let ranges = used.standing.frozen.ranges();
    let joints = posture.q.iter().zip(&used.standing.links.neutral).zip(&ranges);
    let off = joints.map(|((q, neutral), range)| (q - neutral).abs() / (range.highest - range.lowest));
    Some(1.0 - off.sum::<f64>() / ranges.len() as f64)
}
