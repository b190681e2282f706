//! What makes a whole plan of one that leaves things open?
//!
//! # Law
//! Settings and ways are settled together ([`super::settle`]). The plan so made is checked as a whole; what breaks a limit
//! that no look at one visit or one way had seen is struck out, and the search goes on. What the plan says stays as it is.

use std::sync::atomic::AtomicBool;

use super::answer::Found;
use super::arms::ArmsTried;
use super::judge::{AMPLE_CLEARANCE, Judged};
use super::memory::Memory;
use super::options::{BodiesTried, Options};
use super::placements::PlacesTried;
use super::settle::{Settled, Settling, Stuck, Tried};
use super::visit::Visit;
use super::way::NoWay;
use crate::check::{self, Finding, MotionKind, Place, Progress, Silent, Stopped, greatest_limit};
use crate::files::{Meshes, OpenSite};
use crate::model::{PlanEdit, Project, Who};
use crate::state::Scene;

/// The whole is checked so often.
const CHECKED: usize = 12;

/// What was found for a plan.
#[derive(Clone, Debug, Default)]
pub struct Proposal {
    /// The changes that make the plan, in the order in which they are to be made.
    pub edits: Vec<PlanEdit>,
    /// Worksites that were open, in the order of their visits.
    pub sites: Vec<SiteProposal>,
    /// Transits that got waypoints, or are clear without, in the plan's order.
    pub ways: Vec<WayProposal>,
    /// Why it is not complete.
    pub unsettled: Option<Unsettled>,
}

/// What was found for a worksite.
#[derive(Clone, Debug)]
pub struct SiteProposal {
    pub worksite: String,
    pub chosen: Judged,
    pub candidates: Candidates,
}

/// What might serve a worksite, and what ruled out the rest.
#[derive(Clone, Debug, Default)]
pub struct Candidates {
    /// Settings that keep every limit, best first.
    pub good: Vec<Judged>,
    /// The one with the fewest violations.
    pub nearest: Option<Judged>,
    /// Whether nothing is done there that tells where the plate has to be.
    pub nothing_done: bool,
    pub places: PlacesTried,
    pub bodies: BodiesTried,
    /// Places where the body keeps its limits.
    pub places_found: usize,
    pub arms: ArmsTried,
    /// Ways to hold the plate in them.
    pub servings: usize,
    pub tried: Tried,
}

/// What was found for a transit.
#[derive(Clone, Debug)]
pub struct WayProposal {
    pub step: String,
    pub way: Found,
}

/// The first that could not be settled.
#[derive(Clone, Debug)]
pub struct Unsettled {
    pub worksite: String,
    pub why: Why,
}

/// Why something could not be settled.
#[derive(Clone, Debug)]
pub enum Why {
    /// No setting keeps every limit.
    NoSetting(Box<Candidates>),
    /// To none of so many settings is there a way; what the last one came to.
    NoWay { tried: usize, last: NoWay },
    /// The searches are spent.
    Spent,
}

/// Finds what a plan leaves open; the memory holds what was found before of the same question, and takes what is found.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn propose(
    (project, meshes): (&Project, &Meshes),
    open: &[OpenSite],
    memory: &Memory,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Proposal, Stopped> {
    let mut near = project.clone();
    // Wider margins count for no score.
    near.plan.cap_m = near.plan.cap_m.min(greatest_limit(&near.plan) + AMPLE_CLEARANCE);
    let project = &near;
    let scene = Scene::new(project, meshes);
    let options = Options::all(&scene, (open, memory), progress, stop)?;
    let mut settling = Settling::new(&scene, &options, memory, stop);
    for round in 0.. {
        let settled = match settling.settle(progress)? {
            Ok(settled) => settled,
            Err(stuck) => return Ok(unsettled(&options, &settling, stuck)),
        };
        let complete = settling.complete(&settled.path);
        let outcome = check::run(&complete, meshes, &Silent, stop)?;
        let violations: Vec<Finding> =
            outcome.findings.into_iter().filter(|finding| finding.status.is_violation()).collect();
        if round == CHECKED || !strike_out(&mut settling, (project, &options), &settled, &violations) {
            return Ok(proposal(project, &options, &settling, &settled));
        }
    }
    unreachable!("the last round returns")
}

/// Strikes out what breaks a limit in the whole; whether there was anything that could be.
fn strike_out(
    settling: &mut Settling,
    (project, options): (&Project, &[Options]),
    settled: &Settled,
    violations: &[Finding],
) -> bool {
    let mut struck = false;
    for finding in violations.iter().filter(|finding| finding.key.check != check::SPEED) {
        let Some((n, on_the_way)) = blamed(project, options, finding) else { continue };
        if !on_the_way {
            struck |= settling.strike(n, settled.path[n]);
        } else if n > 0 && project.plan.step[options[n].visit.arriving].waypoint.is_empty() {
            let ends = [settled.path[n - 1], settled.path[n]];
            settling.strike_way(n, ends, NoWay::Violated(vec![finding.clone()]));
            struck = true;
        }
    }
    struck
}

/// The visit that a finding is about, and whether it is about the way there; none where it is about neither.
fn blamed(project: &Project, options: &[Options], finding: &Finding) -> Option<(usize, bool)> {
    let (step, motion) = match &finding.key.place {
        Place::Worksite { step, .. } | Place::Step { step } => (step.as_str(), None),
        Place::Motion { motion } => motion.split_once('/').map(|(step, kind)| (step, Some(kind)))?,
    };
    let steps = &project.plan.step;
    let number = (0..steps.len()).find(|number| steps[*number].id_at(*number) == step)?;
    if steps[number].who == Who::SecondCrew {
        return None;
    }
    let n = options.iter().rposition(|options| options.visit.arriving <= number)?;
    let arriving = options[n].visit.arriving == number && !options[n].visit.is_ingress(project);
    Some((n, arriving && motion != Some(MotionKind::Approach.word())))
}

fn candidates(options: &Options, settling: &Settling, n: usize) -> Candidates {
    let mut good: Vec<Judged> = settling.good(n).cloned().collect();
    good.sort_by(|a, b| b.score.total_cmp(&a.score));
    Candidates {
        good,
        nearest: settling.nearest[n].clone(),
        nothing_done: options.is_idle(),
        places: options.places,
        bodies: options.bodies,
        places_found: options.places_found(),
        arms: options.arms,
        servings: options.servings.len(),
        tried: settling.tried[n],
    }
}

fn unsettled(options: &[Options], settling: &Settling, stuck: Stuck) -> Proposal {
    let of_visit = &options[stuck.visit];
    let why = match stuck.ways {
        _ if stuck.spent => Why::Spent,
        Some((tried, last)) => Why::NoWay { tried, last },
        None => Why::NoSetting(Box::new(candidates(of_visit, settling, stuck.visit))),
    };
    let unsettled = Unsettled { worksite: of_visit.visit.site.clone(), why };
    Proposal { unsettled: Some(unsettled), ..Proposal::default() }
}

fn proposal(project: &Project, options: &[Options], settling: &Settling, settled: &Settled) -> Proposal {
    let mut proposal = Proposal::default();
    for (n, (options, k)) in options.iter().zip(&settled.path).enumerate() {
        let again = proposal.sites.iter().any(|site| site.worksite == options.visit.site);
        if let (Some(open), Some(chosen), false) = (&options.open, settling.judged(n, *k), again) {
            let site = SiteProposal {
                worksite: options.visit.site.clone(),
                chosen: chosen.clone(),
                candidates: candidates(options, settling, n),
            };
            proposal.edits.extend(site_edits(project, &site, open));
            proposal.sites.push(site);
        }
        if let Some(found) = &settled.ways[n].found {
            let step = step_id(project, &options.visit);
            let add = |(waypoint, q): (usize, &Vec<f64>)| PlanEdit::AddWaypoint {
                step: step.clone(),
                waypoint,
                joints: super::as_written(project, q),
            };
            proposal.edits.extend(found.waypoints.iter().enumerate().map(add));
            proposal.ways.push(WayProposal { step, way: found.clone() });
        }
    }
    proposal
}

fn step_id(project: &Project, visit: &Visit) -> String {
    project.plan.step[visit.arriving].id_at(visit.arriving)
}

/// What of a worksite was open becomes what was chosen.
fn site_edits(project: &Project, site: &SiteProposal, open: &OpenSite) -> Vec<PlanEdit> {
    let worksite = site.worksite.clone();
    let setting = &site.chosen.setting;
    let mut edits = Vec::new();
    if open.stand {
        edits.push(PlanEdit::SetStand { worksite: worksite.clone(), stand: setting.stand.clone() });
    }
    if open.joints {
        let joints = super::as_written(project, &setting.arm);
        edits.push(PlanEdit::SetConfiguration { worksite: worksite.clone(), joints });
    }
    if open.detents {
        edits.push(PlanEdit::SetDetents { worksite, who: Who::Rider, detents: setting.detents_as_written() });
    }
    edits
}
