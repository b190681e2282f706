//! Which settings and ways make a whole plan?
//!
//! # Law
//! Visits are settled in the plan's order. Of a worksite that is open, the settings that keep every limit are taken best
//! first ([`super::site`]); the first one is kept to which there is a way: the restraint can be set, the retreat from
//! the worksite before is clear, and a transit without waypoints is clear as it is or gets waypoints that make it so.
//! Where none does, the worksite before takes its next setting. What the plan says stays as it is.
//!
//! # Limits
//! The search is cut after [`SEARCHES`] searches of a worksite, which it says.

use std::sync::atomic::AtomicBool;

use super::answer::Answer;
use super::judge::Judged;
use super::site::{Candidates, SiteTask, Visit, candidates};
use super::transit::{Settings, transit};
use crate::check::{CHECKS, Case, Finding, Known, Progress, Silent, Stopped, go_on};
use crate::files::{Meshes, OpenSite};
use crate::model::{Deed, PlanEdit, Project, Waypoint, Who};
use crate::space::Pose;
use crate::state::{Carried, Event, Moment, MotionKind, Scene, Walk, beginning, walk_steps};

/// Most searches of a worksite in all.
const SEARCHES: usize = 16;
/// Most settings of a worksite that are tried before the worksite before gives way.
const TRIED: usize = 12;

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

/// What was found for a transit.
#[derive(Clone, Debug)]
pub struct WayProposal {
    pub step: String,
    pub way: Answer,
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

/// Why there is no way to a setting.
#[derive(Clone, Debug)]
pub enum NoWay {
    /// A motion that is given breaks limits.
    Violated(Vec<Finding>),
    /// The transit was not found, or cannot be.
    Transit(Answer),
}

/// Finds what a plan leaves open.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn propose(
    (project, meshes): (&Project, &Meshes),
    open: &[OpenSite],
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Proposal, Stopped> {
    let visits = Visit::all(project);
    progress.begin("worksites", visits.len() as u64);
    let start = beginning(&Scene::new(project, meshes));
    let mut whole = Whole { meshes, visits, open, progress, stop, searches: 0, chosen: Vec::new(), unsettled: None };
    let open_sites: Vec<String> = open.iter().map(|site| site.worksite.clone()).collect();
    let settled = whole.settle(0, project, &open_sites, &start)?;
    Ok(whole.proposal(project, settled))
}

struct Whole<'a> {
    meshes: &'a Meshes,
    visits: Vec<Visit>,
    open: &'a [OpenSite],
    progress: &'a dyn Progress,
    stop: &'a AtomicBool,
    searches: usize,
    /// What is chosen for the visits so far.
    chosen: Vec<Chosen>,
    /// The farthest that could not be settled.
    unsettled: Option<(usize, Unsettled)>,
}

/// What a visit got.
struct Chosen {
    site: Option<SiteProposal>,
    way: Option<WayProposal>,
}

/// A way to a visit.
struct WayHere {
    proposal: Option<WayProposal>,
    /// The plan with it.
    project: Project,
    /// By how much the step's motions take longer than they may, s.
    late: f64,
}

impl Whole<'_> {
    /// Settles a visit and all after it; on failure nothing of them is chosen.
    fn settle(&mut self, n: usize, project: &Project, open: &[String], before: &Moment) -> Result<bool, Stopped> {
        go_on(self.stop)?;
        let Some(visit) = self.visits.get(n).cloned() else { return Ok(true) };
        if !open.contains(&visit.site) {
            return match self.way(&visit, project, before)? {
                Ok(way) => {
                    self.chosen.push(Chosen { site: None, way: way.proposal });
                    self.go_on_after(n, &way.project, open, before)
                }
                Err(last) => self.fails(n, &visit, Why::NoWay { tried: 1, last }),
            };
        }
        if self.searches == SEARCHES {
            return self.fails(n, &visit, Why::Spent);
        }
        self.searches += 1;
        let task = self.task(n, &visit, project, (open, before));
        let found = candidates((project, self.meshes), &task, self.stop)?;
        if found.good.is_empty() {
            return self.fails(n, &visit, Why::NoSetting(Box::new(found)));
        }
        let still_open: Vec<String> = open.iter().filter(|site| **site != visit.site).cloned().collect();
        let mut last = None;
        let mut late: Vec<(&Judged, WayHere)> = Vec::new();
        // At a worksite the restraint can seldom be set with the rider in it.
        let (as_set, changed): (Vec<&Judged>, Vec<&Judged>) = found.good.iter().partition(|good| good.changes == 0);
        for judged in as_set.into_iter().chain(changed).take(TRIED) {
            let served = visit.served(project, &judged.setting, &still_open);
            match self.way(&visit, &served, before)? {
                Err(no_way) => last = Some(no_way),
                Ok(way) if way.late > 0.0 => late.push((judged, way)),
                Ok(way) => {
                    last = None;
                    if self.takes(n, (&found, judged), way, (&still_open, before))? {
                        return Ok(true);
                    }
                }
            }
        }
        // Where none is in time, the least late one; the check will say so.
        late.sort_by(|(_, a), (_, b)| a.late.total_cmp(&b.late));
        for (judged, way) in late {
            last = None;
            if self.takes(n, (&found, judged), way, (&still_open, before))? {
                return Ok(true);
            }
        }
        match last {
            Some(last) => self.fails(n, &visit, Why::NoWay { tried: found.good.len().min(TRIED), last }),
            // What failed was a later visit, which has been told.
            None => Ok(false),
        }
    }

    /// Takes a setting and the way to it, and settles what comes after.
    fn takes(
        &mut self,
        n: usize,
        (found, judged): (&Candidates, &Judged),
        way: WayHere,
        (open, before): (&[String], &Moment),
    ) -> Result<bool, Stopped> {
        let site =
            SiteProposal { worksite: self.visits[n].site.clone(), chosen: judged.clone(), candidates: found.clone() };
        self.chosen.push(Chosen { site: Some(site), way: way.proposal });
        self.go_on_after(n, &way.project, open, before)
    }

    fn go_on_after(&mut self, n: usize, project: &Project, open: &[String], before: &Moment) -> Result<bool, Stopped> {
        self.progress.advance();
        let visit = &self.visits[n];
        let scene = Scene::new(project, self.meshes);
        let after = walk_steps(&scene, visit.before(&scene, before), visit.arriving..visit.end).1;
        let settled = self.settle(n + 1, project, open, &after)?;
        if !settled {
            self.chosen.truncate(n);
        }
        Ok(settled)
    }

    fn fails(&mut self, n: usize, visit: &Visit, why: Why) -> Result<bool, Stopped> {
        if self.unsettled.as_ref().is_none_or(|(farthest, _)| n >= *farthest) {
            self.unsettled = Some((n, Unsettled { worksite: visit.site.clone(), why }));
        }
        Ok(false)
    }

    fn task<'t>(
        &self,
        n: usize,
        visit: &'t Visit,
        project: &Project,
        (open, before): (&'t [String], &'t Moment),
    ) -> SiteTask<'t> {
        let site = project.plan.worksite.iter().find(|site| site.id == visit.site);
        let of_site = self.open.iter().find(|site| site.worksite == visit.site);
        // At the first visit the base may begin anywhere; after that it stands where the order of work has it.
        let any_stand = n == 0 && of_site.is_some_and(|site| site.stand);
        let stands = match site {
            Some(_) if any_stand => project.plan.stand.iter().map(|stand| stand.id.clone()).collect(),
            Some(site) => vec![site.stand.clone()],
            None => Vec::new(),
        };
        let kept = site.filter(|_| of_site.is_some_and(|site| !site.detents));
        let detents = kept.map(|site| site.detents.iter().map(|angle| angle.radians()).collect());
        let later = self.later(n, project, before).filter(|(_, later)| open.contains(&later.site));
        SiteTask { visit, before, later, open, stands, detents }
    }

    /// The later visit whose plate a visit settles, as what is taken here is placed there, and by how much it is shifted.
    fn later(&self, n: usize, project: &Project, before: &Moment) -> Option<(Pose, Visit)> {
        let visit = &self.visits[n];
        let steps = &project.plan.step;
        let number = |id: &String| project.plan.payload.iter().position(|payload| payload.id == *id);
        let taken = steps[visit.arriving..visit.end].iter().find(|step| step.deed == Deed::Take)?.payload.as_ref()?;
        let placed = |k: &usize| steps[*k].deed == Deed::Place && steps[*k].payload.as_ref() == Some(taken);
        let at = (visit.end..steps.len()).find(placed)?;
        let later = self.visits[n + 1..].iter().find(|later| (later.arriving..later.end).contains(&at))?;
        let Carried::Standing { structure_from_payload } = before.payloads[number(taken)?] else { return None };
        let scene = Scene::new(project, self.meshes);
        let structure_from_seat = scene.seat(steps[at].seat.as_deref()?);
        Some((structure_from_seat * structure_from_payload.inverse(), later.clone()))
    }

    /// Whether there is a way to a visit, and the plan with it: setting the restraint, retreat, transit and approach.
    fn way(&self, visit: &Visit, project: &Project, before: &Moment) -> Result<Result<WayHere, NoWay>, Stopped> {
        let as_it_is = WayHere { proposal: None, project: project.clone(), late: 0.0 };
        if visit.is_ingress(project) {
            return Ok(Ok(as_it_is));
        }
        let scene = Scene::new(project, self.meshes);
        let (walk, _) = walk_steps(&scene, before.clone(), visit.arriving..visit.arriving + 1);
        let is_open = project.plan.step[visit.arriving].waypoint.is_empty();
        let (crossing, given): (Vec<Event>, Vec<Event>) = walk
            .events
            .into_iter()
            .filter(is_riders)
            .partition(|event| matches!(event, Event::Move(moved) if is_open && moved.kind == MotionKind::Transit));
        let rests = walk.rests.into_iter().filter(|rest| rest.who == Who::Rider).collect();
        let walk = Walk { events: given, rests };
        let case = Case::new((&scene, &walk), &Known::default(), &Silent, self.stop)?;
        let findings = CHECKS.iter().flat_map(|check| (check.findings)(&case));
        let violations: Vec<Finding> = findings.filter(|finding| finding.status.is_violation()).collect();
        if !violations.is_empty() {
            return Ok(Err(NoWay::Violated(violations)));
        }
        let Some(Event::Move(crossing)) = crossing.first() else { return Ok(Ok(as_it_is)) };
        let Some(last) = crossing.segments.last() else { return Ok(Ok(as_it_is)) };
        let settings = Settings { seed: project.plan.seed, ..Settings::default() };
        match transit(&scene, (crossing, &last.to), &settings, &Silent, self.stop)? {
            Answer::Found(way) => {
                let moves = case.moves.iter().filter(|moved| moved.moved.kind.is_of_arm());
                let given: Option<f64> = moves.map(|moved| moved.seconds()).sum();
                let seconds = given.zip(way.seconds).map(|(given, way)| given + way);
                let at_most = project.plan.step[visit.arriving].at_most_min.map(|minutes| 60.0 * minutes);
                let late = seconds.zip(at_most).map_or(0.0, |(seconds, at_most)| (seconds - at_most).max(0.0));
                let mut with_way = project.clone();
                let written = |q: &Vec<f64>| super::as_written(project, q);
                with_way.plan.step[visit.arriving].waypoint = way
                    .waypoints
                    .iter()
                    .map(|q| Waypoint { joints: Some(written(q)), ..Waypoint::default() })
                    .collect();
                let way = WayProposal { step: crossing.step.clone(), way: Answer::Found(way) };
                Ok(Ok(WayHere { proposal: Some(way), project: with_way, late }))
            }
            no => Ok(Err(NoWay::Transit(no))),
        }
    }

    fn proposal(self, project: &Project, settled: bool) -> Proposal {
        let mut proposal = Proposal::default();
        for chosen in self.chosen {
            if let Some(site) = chosen.site {
                let open = self.open.iter().find(|open| open.worksite == site.worksite);
                proposal.edits.extend(site_edits(project, &site, open));
                proposal.sites.push(site);
            }
            if let Some(way) = chosen.way {
                if let Answer::Found(found) = &way.way {
                    let add = |(waypoint, q): (usize, &Vec<f64>)| PlanEdit::AddWaypoint {
                        step: way.step.clone(),
                        waypoint,
                        joints: super::as_written(project, q),
                    };
                    proposal.edits.extend(found.waypoints.iter().enumerate().map(add));
                }
                proposal.ways.push(way);
            }
        }
        proposal.unsettled = self.unsettled.map(|(_, unsettled)| unsettled).filter(|_| !settled);
        proposal
    }
}

/// Whether an event is not about the second crew's posture.
fn is_riders(event: &Event) -> bool {
    !matches!(event, Event::Stance(stance) if stance.who == Who::SecondCrew)
}

/// What of a worksite was open becomes what was chosen.
fn site_edits(project: &Project, site: &SiteProposal, open: Option<&OpenSite>) -> Vec<PlanEdit> {
    let worksite = site.worksite.clone();
    let setting = &site.chosen.setting;
    let mut edits = Vec::new();
    if open.is_none_or(|open| open.stand) {
        edits.push(PlanEdit::SetStand { worksite: worksite.clone(), stand: setting.stand.clone() });
    }
    if open.is_none_or(|open| open.joints) {
        let joints = super::as_written(project, &setting.arm);
        edits.push(PlanEdit::SetConfiguration { worksite: worksite.clone(), joints });
    }
    if open.is_none_or(|open| open.detents) {
        edits.push(PlanEdit::SetDetents { worksite, who: Who::Rider, detents: setting.detents_as_written() });
    }
    edits
}
