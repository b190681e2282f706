//! What makes a whole plan of one that leaves things open?
//!
//! # Law
//! Settings and ways are settled together ([`super::settle`]). The plan so made is checked as a whole; what breaks a limit
//! that no look at one visit or one way had seen is struck out, and the search goes on. What the plan says stays as it is.

use std::collections::BTreeSet;
use std::sync::atomic::AtomicBool;

use super::answer::{Answer, End, Found};
use super::arms::ArmsTried;
use super::judge::{AMPLE_CLEARANCE, Judged};
use super::memory::Memory;
use super::no_stand::NoStand;
use super::options::{BodiesTried, Options};
use super::placements::PlacesTried;
use super::second_crew::{self, SecondProposal};
use super::settle::{Settled, Settling, Stuck, Tried};
use super::violation::Violation;
use super::visit::{Visit, moved_to};
use super::way::NoWay;
use crate::check::{self, Finding, MotionKind, Place, Progress, Silent, Stopped, greatest_limit};
use crate::files::{Meshes, OpenSite};
use crate::model::{Crew, PlanEdit, Project, Stature, Who};
use crate::state::Scene;

/// The whole is checked so often.
const CHECKED: usize = 12;

/// What a proposal is to settle.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    pub open: &'a [OpenSite],
    /// Riders of these statures are to be served, too, besides the plan's own.
    pub sizes: &'a [Stature],
}

/// What was found for a plan.
#[derive(Clone, Debug, Default)]
pub struct Proposal {
    /// The changes that make the plan, in the order in which they are to be made.
    pub edits: Vec<PlanEdit>,
    /// What is odd about the plan's targets, in words.
    pub odd: Vec<String>,
    /// What was found for the second crew, by worksite.
    pub second_crew: Vec<SecondProposal>,
    /// Worksites that were open, in the order of their visits.
    pub sites: Vec<SiteProposal>,
    /// Transits that got waypoints, or are clear without, in the plan's order.
    pub ways: Vec<WayProposal>,
    /// What the check of the plan with it finds violated.
    pub violations: Vec<Violation>,
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
    pub places: PlacesTried,
    pub bodies: BodiesTried,
    /// Places where the body keeps its limits.
    pub places_found: usize,
    pub arms: ArmsTried,
    /// Stands from which nothing can be done.
    pub no_stand: Vec<(String, NoStand)>,
    /// Whether the order of work has the base moved before, so that no other stand was looked at.
    pub base_has_moved: bool,
    /// To which stand the base moves later, so that it can't stand there.
    pub base_moves_to: Option<String>,
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
    /// Of the other worksites, how many settings were found so far that keep every limit in their visits.
    pub others: Vec<(String, usize)>,
}

/// Why something could not be settled.
#[derive(Clone, Debug)]
pub enum Why {
    /// No setting of the second crew's restraint keeps every limit.
    NoSecondSetting(Box<SecondProposal>),
    /// No setting keeps every limit.
    NoSetting(Box<Candidates>),
    /// To none of so many settings is there a way; what the last one came to, and at which of the worksites that bear on it
    /// the setting is the plan's.
    NoWay { tried: usize, last: NoWay, given: Vec<String> },
    /// Proven: nothing can be done from any stand.
    NoStand { ruled_out: Vec<(String, NoStand)> },
    /// Worksites in the order of their visits, each with the stands from which ways to serve it were found: no stand serves
    /// all of them, and nothing moves the base between them.
    StandsApart { served_from: Vec<(String, Vec<String>)> },
    /// The searches are spent.
    Spent,
}

impl Proposal {
    /// None, for a visit that could not be settled.
    fn without(visit: &Visit, why: Why) -> Self {
        Self { unsettled: Some(Unsettled::new(&visit.site, why)), ..Self::default() }
    }
}

impl Unsettled {
    fn new(worksite: &str, why: Why) -> Self {
        Self { worksite: worksite.to_owned(), why, others: Vec::new() }
    }
}

/// Finds what a plan leaves open; the memory holds what was found before of the same question, and takes what is found.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn propose(
    (project, meshes): (&Project, &Meshes),
    asked: Asked,
    memory: &Memory,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Proposal, Stopped> {
    let Asked { open, sizes } = asked;
    let mut near = project.clone();
    // Wider margins count for no score.
    near.plan.cap_m = near.plan.cap_m.min(greatest_limit(&near.plan) + AMPLE_CLEARANCE);
    let odd = check::off_bodies(&Scene::new(&near, meshes));
    let mut second_crew = Vec::new();
    for site in open.iter().filter(|site| site.second_detents) {
        let Some(found) = SecondProposal::at((&near, meshes), &site.worksite, progress, stop)? else { continue };
        match &found.chosen {
            Some(chosen) => second_crew::set(&mut near, &site.worksite, &chosen.setting),
            None => {
                let unsettled = Unsettled::new(&site.worksite, Why::NoSecondSetting(Box::new(found)));
                return Ok(Proposal { odd, second_crew, unsettled: Some(unsettled), ..Proposal::default() });
            }
        }
        second_crew.push(found);
    }
    let open: Vec<OpenSite> = open.iter().filter(|site| site.stand || site.joints || site.detents).cloned().collect();
    let scene = Scene::new(&near, meshes);
    let mut proposal = search(&scene, (Asked { open: &open, sizes }, memory), progress, stop)?;
    if proposal.unsettled.is_none() {
        proposal.edits.splice(0..0, second_crew.iter().filter_map(SecondProposal::edit));
    }
    Ok(Proposal { odd, second_crew, ..proposal })
}

fn search(
    scene: &Scene,
    (asked, memory): (Asked, &Memory),
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Proposal, Stopped> {
    let project = scene.project;
    let mut options = Options::begin(scene, asked);
    if let Some(hopeless) = options.iter().find(|options| options.is_hopeless(scene)) {
        let why = Why::NoStand { ruled_out: hopeless.no_stand.clone() };
        return Ok(Proposal::without(&hopeless.visit, why));
    }
    Options::look_for_all(&mut options, (scene, memory), progress, stop)?;
    if let Some(apart) = stands_apart(project, &options) {
        return Ok(apart);
    }
    let mut settling = Settling::new(scene, &options, memory, stop);
    for round in 0.. {
        let settled = match settling.settle(progress)? {
            Ok(settled) => settled,
            Err(stuck) => return Ok(unsettled(project, &options, &settling, stuck)),
        };
        let complete = settling.complete(&settled.path);
        let (size, violations) = violations((&complete, scene.meshes), asked.sizes, stop)?;
        let last = CHECKED * (1 + asked.sizes.len());
        if round == last || !strike_out(&mut settling, (project, &options), &settled, &violations) {
            let told = |violation: &Finding| Violation::of(violation).with(size);
            let violations = violations.iter().map(told).collect();
            return Ok(Proposal { violations, ..proposal(project, &options, &settling, &settled) });
        }
    }
    unreachable!("the last round returns")
}

/// What the check finds violated with the plan's own rider; else with the first of other sizes with which it finds anything.
fn violations(
    (complete, meshes): (&Project, &Meshes),
    sizes: &[Stature],
    stop: &AtomicBool,
) -> Result<(Option<Stature>, Vec<Finding>), Stopped> {
    for size in std::iter::once(None).chain(sizes.iter().copied().map(Some)) {
        let outcome = match size {
            None => check::run(complete, meshes, &Silent, stop)?,
            Some(size) => check::run(&with_rider(complete, size), meshes, &Silent, stop)?,
        };
        let violations: Vec<Finding> =
            outcome.findings.into_iter().filter(|finding| finding.status.is_violation()).collect();
        if !violations.is_empty() {
            return Ok((size, violations));
        }
    }
    Ok((None, Vec::new()))
}

/// The plan with a rider of another stature.
pub fn with_rider(project: &Project, stature: Stature) -> Project {
    let mut project = project.clone();
    project.plan.rider = Crew { stature: Some(stature), ..Crew::default() };
    project
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
            settling.strike_way(n, ends, NoWay::Violated(vec![Violation::of(finding)]));
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

fn candidates(project: &Project, options: &Options, settling: &Settling, n: usize) -> Candidates {
    let mut good: Vec<Judged> = settling.good(n).cloned().collect();
    good.sort_by(|a, b| b.score.total_cmp(&a.score));
    Candidates {
        good,
        nearest: settling.nearest[n].clone(),
        places: options.places.clone(),
        bodies: options.bodies.clone(),
        places_found: options.places_found(),
        arms: options.arms,
        no_stand: options.no_stand.clone(),
        base_has_moved: options.base_has_moved(project),
        base_moves_to: options.base_moves_to(project).filter(|_| !options.base_has_moved(project)).cloned(),
        servings: options.servings.len(),
        tried: settling.tried[n].clone(),
    }
}

fn unsettled(project: &Project, options: &[Options], settling: &Settling, stuck: Stuck) -> Proposal {
    let of_visit = &options[stuck.visit];
    let why = match stuck.ways {
        _ if stuck.spent => Why::Spent,
        Some((tried, last)) => {
            let given = given_ends(options, stuck.visit, &last);
            Why::NoWay { tried, last, given }
        }
        None => Why::NoSetting(Box::new(candidates(project, of_visit, settling, stuck.visit))),
    };
    let mut others: Vec<(String, usize)> = Vec::new();
    for (n, other) in options.iter().enumerate().filter(|(_, other)| other.open.is_some()) {
        let worksite = &other.visit.site;
        if *worksite != of_visit.visit.site && others.iter().all(|(known, _)| known != worksite) {
            others.push((worksite.clone(), settling.good(n).count()));
        }
    }
    let unsettled = Unsettled { worksite: of_visit.visit.site.clone(), why, others };
    Proposal { unsettled: Some(unsettled), ..Proposal::default() }
}

/// The worksites at the ends of a visit's transit that bear on why there is none, and whose settings the plan gives.
fn given_ends(options: &[Options], visit: usize, why: &NoWay) -> Vec<String> {
    let bears = |end: End| match why {
        NoWay::Transit(Answer::Impossible(no)) => no.at() == end,
        NoWay::Transit(_) | NoWay::Violated(_) => true,
    };
    let ends = [(End::Start, visit.checked_sub(1)), (End::Goal, Some(visit))];
    let of_end = |(end, visit): (End, Option<usize>)| visit.map(|visit| &options[visit]).filter(|_| bears(end));
    let given = ends.into_iter().filter_map(of_end).filter(|options| options.open.is_none());
    given.map(|options| options.visit.site.clone()).collect()
}

/// The first visit that no stand serves which serves all before it, back to where the base moved last.
fn stands_apart(project: &Project, options: &[Options]) -> Option<Proposal> {
    let mut served_from: Vec<(String, Vec<String>)> = Vec::new();
    let mut here: Option<BTreeSet<&String>> = None;
    for (n, visited) in options.iter().enumerate() {
        let since = n.checked_sub(1).map_or(0, |before| options[before].visit.arriving);
        let steps = &project.plan.step[since..visited.visit.arriving];
        if let Some(moved_to) = moved_to(steps) {
            served_from.clear();
            here = Some(BTreeSet::from([moved_to]));
        }
        let stands: BTreeSet<&String> = visited.servings.iter().map(|serving| &serving.setting.stand).collect();
        if stands.is_empty() {
            // What rules out all of them is told by the search.
            return None;
        }
        served_from.push((visited.visit.site.clone(), stands.iter().map(|stand| (*stand).clone()).collect()));
        let both = here.map_or(stands.clone(), |here| &here & &stands);
        if both.is_empty() {
            return Some(Proposal::without(&visited.visit, Why::StandsApart { served_from }));
        }
        here = Some(both);
    }
    None
}

fn proposal(project: &Project, options: &[Options], settling: &Settling, settled: &Settled) -> Proposal {
    let mut proposal = Proposal::default();
    for (n, (options, k)) in options.iter().zip(&settled.path).enumerate() {
        let again = proposal.sites.iter().any(|site| site.worksite == options.visit.site);
        if let (Some(open), Some(chosen), false) = (&options.open, settling.judged(n, *k), again) {
            let site = SiteProposal {
                worksite: options.visit.site.clone(),
                chosen: chosen.clone(),
                candidates: candidates(project, options, settling, n),
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Deed, Stand};
    use crate::propose::Setting;
    use crate::propose::options::Serving;
    use crate::space::Point;
    use crate::state::testing::with_edited;

    /// What is said of the starter with its two worksites served from these stands, a step between them edited.
    fn told(served_from: [&[&str]; 2], edit: impl FnOnce(&mut Project)) -> Option<Why> {
        let mut found = None;
        with_edited(edit, |scene| {
            let mut options = Options::begin(scene, Asked { open: &[], sizes: &[] });
            for (options, stands) in options.iter_mut().zip(served_from) {
                let setting = |stand: &&str| Setting { stand: (*stand).to_owned(), ..Setting::default() };
                let serving = |setting| Serving { setting, place: 0, strain: 0.0, tip: Point::origin() };
                options.servings = stands.iter().map(setting).map(serving).collect();
            }
            found =
                stands_apart(scene.project, &options).and_then(|none| none.unsettled).map(|unsettled| unsettled.why);
        });
        found
    }

    fn move_to(stand: &str) -> impl FnOnce(&mut Project) {
        let stand = stand.to_owned();
        move |project| {
            let known = project.plan.stand[0].clone();
            project.plan.stand.extend(["a", "b"].map(|id| Stand { id: id.to_owned(), ..known.clone() }));
            let at = project.plan.step.iter().position(|step| step.deed == Deed::Transit).expect("a transit");
            let mut moved = project.plan.step[at].clone();
            (moved.deed, moved.to, moved.stand) = (Deed::MoveBase, None, Some(stand));
            project.plan.step.insert(at, moved);
        }
    }

    #[test]
    fn worksites_that_no_stand_serves_together_are_told_unless_the_base_moves_between_them() {
        assert!(told([&["a", "b"], &["b"]], |_| {}).is_none());
        let Some(Why::StandsApart { served_from }) = told([&["a"], &["b"]], |_| {}) else { panic!("they are apart") };
        assert_eq!(served_from.last(), Some(&("far-panel".to_owned(), vec!["b".to_owned()])));
        assert!(told([&["a"], &["b"]], move_to("b")).is_none());
        assert!(told([&["a"], &["b"]], move_to("a")).is_some(), "it moves, but not to where it serves");
    }
}
