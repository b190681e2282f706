//! Which settings serve a worksite?
//!
//! # Law
//! Places of the boot plate ([`super::placements`]), for each the ways to hold it there ([`super::arms`]), for each of
//! those a look at the arm at rest; the best of what is left are judged by the check ([`super::judge`]).
//!
//! # Limits
//! A worksite that is visited more than once is judged on its first visit.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use super::Setting;
use super::arms::{ArmAt, ArmsTried, Hold};
use super::judge::{Judged, judge, of_visit};
use super::placements::{Placement, Places, PlacesTried};
use super::work::{Work, is_riders};
use crate::check::{RestCase, Stopped, go_on};
use crate::files::Meshes;
use crate::model::{Deed, Project, Who};
use crate::space::{Pose, Vector};
use crate::state::{Assembly, Carried, Doing, Event, Moment, Rest, Scene, Standing, Walk, beginning, walk_steps};

/// So many places with a good setting are looked at more closely.
const GOOD_PLACES: usize = 6;
/// Of each, so many ways to hold the plate are judged.
const WAYS: usize = 4;
/// No more places than these are looked at with an arm, which the count says.
const MOST_PLACES: usize = 1500;

/// A visit of a worksite by the rider: from the step that brings them there to the one that takes them away.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Visit {
    pub site: String,
    pub arriving: usize,
    /// The transit that takes them away.
    pub leaving: Option<usize>,
    /// Where the next visit begins, or the plan ends.
    pub end: usize,
}

impl Visit {
    /// All visits of the plan, in order.
    pub fn all(project: &Project) -> Vec<Self> {
        let steps = &project.plan.step;
        let comes = |k: &usize| steps[*k].who == Who::Rider && matches!(steps[*k].deed, Deed::Ingress | Deed::Transit);
        let arrivals: Vec<usize> = (0..steps.len()).filter(comes).collect();
        let visit = |(n, arriving): (usize, &usize)| {
            let site = steps[*arriving].to.clone()?;
            let leaving = arrivals.get(n + 1).copied().filter(|next| steps[*next].deed == Deed::Transit);
            let end = arrivals.get(n + 1).copied().unwrap_or(steps.len());
            Some(Self { site, arriving: *arriving, leaving, end })
        };
        arrivals.iter().enumerate().filter_map(visit).collect()
    }

    /// Whether the rider gets into the restraint here.
    pub fn is_ingress(&self, project: &Project) -> bool {
        project.plan.step[self.arriving].deed == Deed::Ingress
    }

    /// The plan with a setting in place; where the arm goes next, the restraint stays as it is, if that is still open.
    pub fn served(&self, project: &Project, setting: &Setting, open: &[String]) -> Project {
        let mut served = project.clone();
        let next = self.leaving.and_then(|leaving| project.plan.step[leaving].to.as_ref());
        for site in &mut served.plan.worksite {
            if site.id == self.site {
                setting.serve(project, site);
            } else if Some(&site.id) == next && open.contains(&site.id) {
                site.detents = setting.angles();
            }
        }
        served
    }

    /// What is the case before the visit: at the very beginning the arm waits here.
    pub fn before(&self, scene: &Scene, before: &Moment) -> Moment {
        if self.is_ingress(scene.project) {
            let Moment { stand, arm, detents, worksite, .. } = beginning_at(scene, &self.site);
            Moment { stand, arm, detents, worksite, ..before.clone() }
        } else {
            before.clone()
        }
    }

    /// The events of a walk through it that depend on nothing else.
    pub fn of_interest(&self, walk: Walk, project: &Project) -> Walk {
        let ids: Vec<String> = project.plan.step.iter().enumerate().map(|(n, step)| step.id_at(n)).collect();
        of_visit(walk, &ids, (self.arriving, self.leaving))
    }
}

/// The arm as a worksite asks for it.
fn beginning_at(scene: &Scene, site: &str) -> Moment {
    let start = beginning(scene);
    match scene.project.plan.worksite.iter().find(|known| known.id == site) {
        None => start,
        Some(site) => Moment {
            stand: site.stand.clone(),
            arm: scene.joint_values(&site.joints),
            detents: site.detents.iter().map(|angle| angle.radians()).collect(),
            worksite: Some(site.id.clone()),
            ..start
        },
    }
}

/// What is asked of a worksite.
#[derive(Clone, Debug)]
pub struct SiteTask<'a> {
    pub visit: &'a Visit,
    /// What is the case before the visit.
    pub before: &'a Moment,
    /// The plate here settles the plate of a later visit, where what is taken here is placed: by this much, and which.
    pub later: Option<(Pose, Visit)>,
    /// Worksites whose settings are not known yet.
    pub open: &'a [String],
    /// Stands to be tried.
    pub stands: Vec<String>,
    /// Settings of the restraint that the plan keeps, rad.
    pub detents: Option<Vec<f64>>,
}

/// What was found for a worksite, and how.
#[derive(Clone, Debug, Default)]
pub struct Candidates {
    /// Settings that keep every limit, best first.
    pub good: Vec<Judged>,
    /// The one with the fewest violations, where none is good.
    pub nearest: Option<Judged>,
    pub places: PlacesTried,
    pub tried: WaysTried,
    pub arms: ArmsTried,
}

/// How many places with a posture for everything were looked at with an arm, and what ruled them out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct WaysTried {
    /// Places from which everything is reached.
    pub places: usize,
    /// No way was found to hold the plate there with nothing too near at rest.
    pub not_held: usize,
    /// Held, but something of the visit breaks a limit.
    pub violated: usize,
    /// What is taken here could not be placed from there.
    pub not_placed_later: usize,
    /// Ways to hold the plate in a good place, of those looked at more closely.
    pub ways: usize,
    /// Of those, how many were judged in full.
    pub judged: usize,
}

/// Searches the settings of a worksite.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn candidates(
    (project, meshes): (&Project, &Meshes),
    task: &SiteTask,
    stop: &AtomicBool,
) -> Result<Candidates, Stopped> {
    let scene = Scene::new(project, meshes);
    let mut found = Candidates::default();
    let Some(search) = Search::new(&scene, task, stop) else { return Ok(found) };
    let mut places = Places::new(&scene, &search.work);
    let mut good = Vec::new();
    while good.len() < GOOD_PLACES
        && found.tried.places < MOST_PLACES
        && let Some(lot) = places.next_lot()
    {
        found.tried.places += lot.len();
        good.extend(search.good_of(lot, &mut found)?);
    }
    found.places = places.tried;
    for (place, first) in good {
        search.look_closer(&place, first, &mut found)?;
    }
    found.good.sort_by(|a, b| b.score.total_cmp(&a.score));
    Ok(found)
}

/// A worksite being searched.
struct Search<'a> {
    scene: &'a Scene<'a>,
    task: &'a SiteTask<'a>,
    work: Work<'a>,
    arms: Vec<ArmAt<'a>>,
    stop: &'a AtomicBool,
}

/// What one place of the plate came to.
enum Looked {
    NotHeld,
    Violated(Judged),
    /// What is taken here could not be placed from such a place of the plate.
    NotPlacedLater,
    Good(Judged),
}

impl<'a> Search<'a> {
    /// None where nothing is done there that would say where the plate has to be.
    fn new(scene: &'a Scene<'a>, task: &'a SiteTask<'a>, stop: &'a AtomicBool) -> Option<Self> {
        let work = work(scene, task)?;
        let at = |stand: &'a String| ArmAt::new(scene, task.before, stand, task.detents.as_deref());
        let arms = task.stands.iter().map(at).collect();
        Some(Self { scene, task, work, arms, stop })
    }

    /// Those of some places that have a good setting: with one arm each, as what breaks a limit at work does so with any
    /// other.
    fn good_of(&self, lot: Vec<Placement>, found: &mut Candidates) -> Result<Vec<(Placement, Judged)>, Stopped> {
        go_on(self.stop)?;
        let looked: Vec<Result<Looked, Stopped>> = lot.par_iter().map(|place| self.look(place)).collect();
        let mut good = Vec::new();
        for (place, looked) in lot.into_iter().zip(looked) {
            match looked? {
                Looked::NotHeld => found.tried.not_held += 1,
                Looked::NotPlacedLater => found.tried.not_placed_later += 1,
                Looked::Good(judged) => good.push((place, judged)),
                Looked::Violated(judged) => {
                    found.tried.violated += 1;
                    let fewer = |known: &Judged| judged.violations.len() < known.violations.len();
                    if found.nearest.as_ref().is_none_or(fewer) {
                        found.nearest = Some(judged);
                    }
                }
            }
        }
        Ok(good)
    }

    fn look(&self, place: &Placement) -> Result<Looked, Stopped> {
        let plate = &place.structure_from_plate;
        let free = |hold: &Hold| self.is_free(hold);
        let held = self.arms.iter().find_map(|arm| arm.any(plate, free));
        let Some(hold) = held else { return Ok(Looked::NotHeld) };
        let judged = self.judged(&hold)?;
        if !judged.violations.is_empty() {
            return Ok(Looked::Violated(judged));
        }
        let later = self.task.later.as_ref();
        match later.map(|(_, visit)| self.is_placed_later(visit, &judged.setting)).transpose()? {
            Some(false) => Ok(Looked::NotPlacedLater),
            Some(true) | None => Ok(Looked::Good(judged)),
        }
    }

    /// Whether the visit in which the payload is placed has a good setting after this one.
    fn is_placed_later(&self, visit: &Visit, setting: &Setting) -> Result<bool, Stopped> {
        let here = self.task.visit;
        let served = here.served(self.scene.project, setting, self.task.open);
        let scene = Scene::new(&served, self.scene.meshes);
        let before = here.before(&scene, self.task.before);
        let before = walk_steps(&scene, before, here.arriving..visit.arriving).1;
        let stands = served.plan.worksite.iter().filter(|site| site.id == visit.site).map(|site| site.stand.clone());
        let stands = stands.collect();
        let task = SiteTask { visit, before: &before, later: None, open: self.task.open, stands, detents: None };
        let Some(search) = Search::new(&scene, &task, self.stop) else { return Ok(false) };
        let places = Places::new(&scene, &search.work).next_lot().unwrap_or_default();
        let looked = places.first().map(|place| search.look(place)).transpose()?;
        Ok(matches!(looked, Some(Looked::Good(_))))
    }

    /// A good place with every setting of the restraint and every configuration.
    fn look_closer(&self, place: &Placement, first: Judged, found: &mut Candidates) -> Result<(), Stopped> {
        go_on(self.stop)?;
        let mut ways: Vec<Hold> = Vec::new();
        for arm in &self.arms {
            let (holds, tried) = arm.holds(&place.structure_from_plate);
            found.arms = found.arms.plus(tried);
            ways.extend(holds);
        }
        found.tried.ways += ways.len();
        let now = &self.task.before.detents;
        ways.sort_by(|a, b| a.rank(now).total_cmp(&b.rank(now)));
        let another = |way: &Hold| way.setting != first.setting && self.is_free(way);
        let ways: Vec<Hold> = ways.into_iter().filter(another).take(WAYS).collect();
        let judged: Vec<Result<Judged, Stopped>> = ways.par_iter().map(|way| self.judged(way)).collect();
        found.tried.judged += 1 + judged.len();
        found.good.push(first);
        for judged in judged {
            found.good.extend(Some(judged?).filter(|judged| judged.violations.is_empty()));
        }
        Ok(())
    }

    fn judged(&self, hold: &Hold) -> Result<Judged, Stopped> {
        let plan = (self.scene.project, self.scene.meshes);
        judge(plan, self.task, hold, self.stop)
    }

    /// Whether everything keeps its limits at rest, the body in the posture in which it comes.
    fn is_free(&self, hold: &Hold) -> bool {
        let visit = self.task.visit;
        let Setting { stand, detents, arm } = hold.setting.clone();
        let mut moment = Moment { stand, detents, arm, ..self.work.moment.clone() };
        // What is taken here still stands.
        moment.payloads.clone_from(&self.task.before.payloads);
        let step = self.scene.project.plan.step[visit.arriving].id_at(visit.arriving);
        let rest = Rest { step, worksite: visit.site.clone(), who: Who::Rider, moment, placed: None };
        RestCase::new(self.scene, &Arc::new(rest)).keeps_its_limits()
    }
}

/// What is done in the visit, and in the later one that it settles.
fn work<'a>(scene: &'a Scene<'a>, task: &SiteTask) -> Option<Work<'a>> {
    let plan = &scene.project.plan;
    let site = plan.worksite.iter().find(|site| site.id == task.visit.site)?;
    let before = task.visit.before(scene, task.before);
    let (walk, _) = walk_steps(scene, before.clone(), task.visit.arriving..task.visit.end);
    let stays = || walk.events.iter().filter_map(|event| if let Event::Stay(stay) = event { Some(stay) } else { None });
    let moment = stays().find(|stay| is_riders(stay, &site.id))?.moment.clone();
    let someone = Standing::new(Assembly::new(scene, &moment), Who::Rider)?;
    let approach = Vector::from(site.approach);
    let plate = Assembly::new(scene, &before).structure_from_plate();
    let turned = (!task.visit.is_ingress(scene.project)).then_some(plate.rotation);
    let mut work = Work { things: Vec::new(), fixed: None, approach, someone, moment, turned };
    for stay in stays() {
        if is_riders(stay, &site.id) {
            if let (Doing::Place { payload, structure_from_seat, .. }, None) = (&stay.doing, work.fixed)
                && let Carried::InHands { plate_from_payload } = before.payloads[*payload]
            {
                work.fixed = Some(structure_from_seat * plate_from_payload.inverse());
            }
            work.add(scene, stay, site, &Pose::identity());
        }
    }
    if let Some((shift, visit)) = &task.later {
        let site = plan.worksite.iter().find(|site| site.id == visit.site)?;
        let (walk, _) = walk_steps(scene, walk_to(scene, task, visit), visit.arriving..visit.end);
        for event in &walk.events {
            let Event::Stay(stay) = event else { continue };
            if is_riders(stay, &site.id) {
                work.add(scene, stay, site, shift);
            }
        }
    }
    Some(work)
}

fn walk_to(scene: &Scene, task: &SiteTask, visit: &Visit) -> Moment {
    let before = task.visit.before(scene, task.before);
    walk_steps(scene, before, task.visit.arriving..visit.arriving).1
}
