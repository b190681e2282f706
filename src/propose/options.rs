//! What might serve the worksite of a visit?
//!
//! # Law
//! Of a worksite that is open: places of the boot plate from which everything is reached ([`super::placements`]) and where,
//! with some arm that holds it, the body keeps its limits in the whole visit ([`super::judge`]); and for each the ways to hold
//! it there ([`super::arms`]). Where the plan has the arm's configuration, the plate can only be where
//! arm and restraint have it.
//!
//! Stands from which nothing can be done are left out ([`super::no_stand`]). A search that comes to nothing ends early where one
//! limit rules out all of [`HOPELESS`] places.
//!
//! What is taken at one visit and placed at a later one ties the two ([`Bond`]): as it stays where it is in the hands, the
//! plate there stands to the seat as it stood to the seat here.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::check::{Progress, RestCase, Stopped, go_on};
use crate::files::OpenSite;
use crate::model::{Deed, Project, Stature, Who, Worksite};
use crate::space::{Point, Pose};
use crate::state::{ArmAlone, Event, Moment, MotionKind, Move, Rest, Scene, walk_steps};

use super::Setting;
use super::arms::{ArmAt, ArmsTried, Hold};
use super::broken::{Broken, Tally};
use super::judge::{Judged, judge};
use super::memory::Memory;
use super::no_stand::{NoStand, no_stand};
use super::placements::{Placement, Places, PlacesTried};
use super::tie::{Tie, befores, tie, work};
use super::visit::Visit;
use super::whole::{Asked, with_rider};

/// So many places where the body keeps its limits are enough.
const ENOUGH: usize = 12;
/// … and so many of them where, as they were held, everything does.
const ENOUGH_KEPT: usize = 4;
/// At most so many places from which everything is reached are looked at, which the count says.
const MOST_PLACES: usize = 800;

/// ... or as one limit is broken in each of so many, as they were held.
const HOPELESS_KEPT: usize = 32;
/// After so many places that all are ruled out by one limit no more are looked at, which the count says.
const HOPELESS: usize = 160;

/// What might serve the worksite of a visit.
pub struct Options {
    pub visit: Visit,
    /// What is open there; none: nothing, and the plan's own setting is the only one.
    pub open: Option<OpenSite>,
    pub servings: Vec<Serving>,
    pub bond: Option<Bond>,
    pub places: PlacesTried,
    pub bodies: BodiesTried,
    pub arms: ArmsTried,
    /// Stands from which nothing can be done.
    pub no_stand: Vec<(String, NoStand)>,
    /// Where nothing was found: what the check says of the place of the plate that strains the body least.
    pub nearest: Option<Judged>,
    /// Places of the plate where the body keeps its limits.
    found: Vec<Placement>,
    /// Settings with which everything keeps its limits in the visit, one of a place.
    kept_all: Vec<Setting>,
    /// The first moment at which something is done there, as the plan stands; none where the plate was not looked for.
    at_work: Option<Moment>,
    /// What is the case before, as the plan stands.
    pub before: Moment,
    /// The same for riders of other statures, each in a plan of their own.
    others: Vec<(Arc<Project>, Moment)>,
}

/// One way to serve a worksite.
#[derive(Clone, Debug, PartialEq)]
pub struct Serving {
    pub setting: Setting,
    /// The number of the plate's place.
    pub place: usize,
    /// Of body and arm; no unit.
    pub strain: f64,
    /// Where the arm's tip is.
    pub tip: Point,
}

/// How many places from which everything is reached were looked at with an arm, and what ruled them out.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BodiesTried {
    pub places: usize,
    /// No way was found to hold the plate there with nothing too near at rest; by which pairs in every way that was.
    pub not_held: Tally,
    /// Held, but the body breaks a limit in the visit, or in the one that it settles; by what.
    pub violated: Tally,
    /// Whether more places were left, which no longer gave hope.
    pub hopeless: bool,
}

/// What one place came to.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub enum Looked {
    /// Too near in every way to hold it there that was found.
    NotHeld(Vec<Broken>),
    Violated(Vec<Broken>),
    /// The body keeps its limits; as it was held so, everything does, or these break theirs.
    Good(Result<Setting, Vec<Broken>>),
}

/// What a visit's serving must have in common with that of an earlier visit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bond {
    /// The same worksite: all of it.
    Setting { earlier: usize },
    /// A payload is carried from there to here: the plate's place.
    Place { earlier: usize },
}

impl Bond {
    /// The earlier visit.
    pub fn earlier(self) -> usize {
        match self {
            Self::Setting { earlier } | Self::Place { earlier } => earlier,
        }
    }
}

impl Options {
    /// Of every visit of the plan, with nothing looked for but the stands from which nothing can be done.
    pub fn begin(scene: &Scene, asked: Asked) -> Vec<Self> {
        let visits = Visit::all(scene.project);
        let own = befores(scene, &visits);
        let of_size = |size: &Stature| {
            let project = Arc::new(with_rider(scene.project, *size));
            let befores = befores(&Scene::new(&project, scene.meshes), &visits);
            (project, befores)
        };
        let of_sizes: Vec<(Arc<Project>, Vec<Moment>)> = asked.sizes.iter().map(of_size).collect();
        let begin = |(n, (visit, before)): (usize, (Visit, Moment))| {
            let mut options = Self {
                open: asked.open.iter().find(|open| open.worksite == visit.site).cloned(),
                visit,
                servings: Vec::new(),
                bond: None,
                places: PlacesTried::default(),
                bodies: BodiesTried::default(),
                arms: ArmsTried::default(),
                no_stand: Vec::new(),
                nearest: None,
                found: Vec::new(),
                kept_all: Vec::new(),
                at_work: None,
                before,
                others: of_sizes.iter().map(|(project, befores)| (Arc::clone(project), befores[n].clone())).collect(),
            };
            options.rule_out_stands(scene);
            options
        };
        visits.iter().cloned().zip(own).enumerate().map(begin).collect()
    }

    /// Looks for what might serve each of all visits.
    ///
    /// # Errors
    /// [`Stopped`] when the flag goes up.
    pub fn look_for_all<'a>(
        all: &mut [Self],
        (scene, memory): (&'a Scene<'a>, &Memory),
        progress: &dyn Progress,
        stop: &AtomicBool,
    ) -> Result<(), Stopped> {
        let visits: Vec<Visit> = all.iter().map(|options| options.visit.clone()).collect();
        let are_open: Vec<bool> = all.iter().map(|options| options.open.is_some()).collect();
        let ties: Vec<Option<Tie>> = (0..all.len()).map(|n| tie(scene, &visits, n, &all[n].before)).collect();
        for (n, visit) in visits.iter().enumerate() {
            go_on(stop)?;
            let (before, here) = all.split_at_mut(n);
            let options = &mut here[0];
            let tied = (0..n).find_map(|k| ties[k].as_ref().filter(|tie| tie.later == n).map(|tie| (k, tie.shift)));
            let tied = tied.filter(|(earlier, _)| are_open[*earlier]);
            if let Some(earlier) = before.iter().position(|earlier| earlier.visit.site == visit.site) {
                options.bond = Some(Bond::Setting { earlier });
                options.servings.clone_from(&before[earlier].servings);
            } else if options.open.is_none() {
                options.as_it_stands(scene);
            } else if let Some((earlier, shift)) = tied {
                options.bond = Some(Bond::Place { earlier });
                let shifted = |place: &Placement| Placement {
                    structure_from_plate: shift * place.structure_from_plate,
                    ..place.clone()
                };
                options.found = before[earlier].found.iter().map(shifted).collect();
                options.hold(scene, stop)?;
            } else {
                let later = ties[n].as_ref().map(|tie| (tie.shift, &visits[tie.later], are_open[tie.later]));
                progress.begin(&format!("places of the boot plate at {}", visit.site), visits.len() as u64);
                (0..n).for_each(|_| progress.advance());
                options.search(scene, later, (n, memory), stop)?;
            }
        }
        Ok(())
    }

    /// Whether it is proven that nothing can be done from any stand.
    pub fn is_hopeless(&self, scene: &Scene) -> bool {
        !self.no_stand.is_empty() && self.stands(scene).is_empty()
    }

    fn site<'s>(&self, scene: &Scene<'s>) -> Option<&'s Worksite> {
        scene.project.plan.worksite.iter().find(|site| site.id == self.visit.site)
    }

    /// The plan's own setting.
    fn as_it_stands(&mut self, scene: &Scene) {
        let Some(site) = self.site(scene) else { return };
        let setting = Setting::of(scene, site);
        self.servings.push(Serving { tip: tip(scene, &setting), setting, place: 0, strain: 0.0 });
    }

    /// Looks for places of the plate, and for ways to hold it there.
    fn search<'a>(
        &mut self,
        scene: &'a Scene<'a>,
        later: Option<(Pose, &Visit, bool)>,
        (visit, memory): (usize, &Memory),
        stop: &AtomicBool,
    ) -> Result<(), Stopped> {
        let given = self.open.as_ref().is_some_and(|open| !open.joints).then(|| self.given(scene));
        let Some(mut work) = work(scene, &self.visit, &self.before, later) else {
            self.park(scene, given);
            return Ok(());
        };
        if let Some(given) = &given {
            work.plates = Some(given.iter().map(|(_, plate)| *plate).collect());
        }
        let mut places = Places::new(scene, &work);
        let later = later.filter(|(_, _, is_open)| *is_open).map(|(shift, visit, _)| (shift, visit));
        self.at_work = Some(work.moment.clone());
        let mut not_kept = Tally::default();
        let is_kept = |all: &[Setting], not: &Tally| all.len() >= ENOUGH_KEPT || not.by_one(HOPELESS_KEPT).is_some();
        while (given.is_some() || self.found.len() < ENOUGH || !is_kept(&self.kept_all, &not_kept))
            && self.bodies.places < MOST_PLACES
            && !self.bodies.hopeless
            && let Some(lot) = places.next_lot()
        {
            go_on(stop)?;
            if given.is_some() {
                self.found.extend(lot);
                continue;
            }
            let look = |place: &Placement| {
                if let Some(known) = memory.looked(visit, place.number) {
                    return Ok(known);
                }
                let looked = self.look(scene, place, later, stop)?;
                memory.keep_looked(visit, place.number, &looked);
                Ok(looked)
            };
            let looked: Vec<Result<Looked, Stopped>> = lot.par_iter().map(look).collect();
            for (place, looked) in lot.into_iter().zip(looked) {
                self.bodies.places += 1;
                match looked? {
                    Looked::NotHeld(broken) => self.bodies.not_held.add(broken),
                    Looked::Violated(broken) => self.bodies.violated.add(broken),
                    Looked::Good(held) => {
                        self.found.push(place);
                        match held {
                            Ok(setting) => self.kept_all.push(setting),
                            Err(broken) => not_kept.add(broken),
                        }
                    }
                }
            }
            let ruled_out = [&self.bodies.not_held, &self.bodies.violated];
            self.bodies.hopeless = self.found.is_empty() && ruled_out.iter().any(|by| by.by_one(HOPELESS).is_some());
        }
        self.places = places.tried;
        if self.found.is_empty() {
            let first = places.first.take();
            self.nearest = first.map(|place| self.judged_at(scene, &place, stop)).transpose()?.flatten();
        }
        match given {
            None => self.hold(scene, stop)?,
            Some(given) => {
                self.servings.extend(self.found.iter().map(|place| {
                    let setting = given[place.number].0.clone();
                    Serving { tip: tip(scene, &setting), setting, place: place.number, strain: place.strain }
                }));
            }
        }
        Ok(())
    }

    /// Where nothing is done that tells where the plate has to be, the arm may wait as it likes: as the plan has it, with any
    /// setting of the restraint, or in configurations spread over the joint ranges.
    fn park(&mut self, scene: &Scene, given: Option<Vec<(Setting, Pose)>>) {
        let Some(site) = self.site(scene) else { return };
        let mut holds: Vec<(Setting, f64)> = Vec::new();
        match given {
            Some(given) => holds.extend(given.into_iter().map(|(setting, _)| (setting, 0.0))),
            None => {
                for stand in self.stands(scene) {
                    let at = ArmAt::new(scene, (site, &self.before), &stand, self.kept(scene).as_deref());
                    let (parked, tried) = at.parked();
                    self.arms = self.arms.plus(tried);
                    holds.extend(parked.into_iter().map(|hold| (hold.setting.clone(), hold.strain())));
                }
            }
        }
        let serving = |(place, (setting, strain))| Serving { tip: tip(scene, &setting), setting, place, strain };
        self.servings = holds.into_iter().enumerate().map(serving).collect();
    }

    /// Whether the body keeps its limits with the plate in a place, as some arm holds it there; and in the later visit that it
    /// settles.
    fn look(
        &self,
        scene: &Scene,
        place: &Placement,
        later: Option<(Pose, &Visit)>,
        stop: &AtomicBool,
    ) -> Result<Looked, Stopped> {
        let plate = &place.structure_from_plate;
        // What is too near in all ways so far to hold it.
        let in_all: RefCell<Option<BTreeSet<Broken>>> = RefCell::new(None);
        let free = |hold: &Hold| {
            let broken = BTreeSet::from_iter(self.too_near(scene, &hold.setting).unwrap_or_default());
            let is_free = broken.is_empty();
            let before = in_all.take();
            in_all.replace(Some(before.map_or(broken.clone(), |before| &before & &broken)));
            is_free
        };
        let Some(hold) = self.held_at(scene, plate, free) else {
            return Ok(Looked::NotHeld(in_all.take().unwrap_or_default().into_iter().collect()));
        };
        let visit = (&self.visit, &self.before);
        let judged = judge((scene.project, scene.meshes), visit, &hold.setting, Judged::is_about_the_body, stop)?;
        if judged.is_about_the_body() {
            return Ok(Looked::Violated(judged.broken()));
        }
        for (project, before) in &self.others {
            let visit = (&self.visit, before);
            let judged = judge((project, scene.meshes), visit, &hold.setting, Judged::is_about_the_body, stop)?;
            if judged.is_about_the_body() {
                return Ok(Looked::Violated(judged.broken()));
            }
        }
        let held = if judged.keeps_all() { Ok(hold.setting.clone()) } else { Err(judged.broken()) };
        let Some((shift, later)) = later else { return Ok(Looked::Good(held)) };
        let mut project = scene.project.clone();
        for site in project.plan.worksite.iter_mut().filter(|site| site.id == self.visit.site) {
            hold.setting.serve(scene.project, site);
        }
        let there = Scene::new(&project, scene.meshes);
        let (_, before) = walk_steps(&there, self.before.clone(), self.visit.arriving..later.arriving);
        let Some(site) = project.plan.worksite.iter().find(|site| site.id == later.site) else {
            return Ok(Looked::Good(held));
        };
        let at = ArmAt::new(&there, (site, &before), &site.stand, None);
        let Some(hold) = at.some(&(shift * plate), |_| true) else { return Ok(Looked::NotHeld(Vec::new())) };
        let visit = (later, &before);
        let judged = judge((&project, scene.meshes), visit, &hold.setting, Judged::is_about_the_body, stop)?;
        Ok(if judged.is_about_the_body() { Looked::Violated(judged.broken()) } else { Looked::Good(held) })
    }

    /// Some way that is `free` to hold the plate in a place.
    fn held_at(&self, scene: &Scene, plate: &Pose, free: impl Fn(&Hold) -> bool) -> Option<Hold> {
        let (site, kept) = (self.site(scene)?, self.kept(scene));
        let at = |stand: &String| ArmAt::new(scene, (site, &self.before), stand, kept.as_deref()).some(plate, &free);
        self.stands(scene).iter().find_map(at)
    }

    /// What the check says of a visit with the plate in a place, however it is held; none where no way was found.
    fn judged_at(&self, scene: &Scene, place: &Placement, stop: &AtomicBool) -> Result<Option<Judged>, Stopped> {
        let Some(hold) = self.held_at(scene, &place.structure_from_plate, |_| true) else { return Ok(None) };
        let visit = (&self.visit, &self.before);
        let mut judged = judge((scene.project, scene.meshes), visit, &hold.setting, |_| false, stop)?;
        judged.leave_the_bodys_own();
        Ok(Some(judged))
    }

    /// Leaves out stands from which nothing can be done.
    fn rule_out_stands(&mut self, scene: &Scene) {
        let work = self.open.as_ref().and_then(|_| work(scene, &self.visit, &self.before, None));
        let Some(work) = work else { return };
        let steps = self.visit.arriving..self.visit.leaving.map_or(self.visit.end, |leaving| leaving + 1);
        let step = scene.project.plan.step[self.visit.arriving].id_at(self.visit.arriving);
        for stand in self.stands(scene) {
            let moment = Moment { stand: stand.clone(), ..work.moment.clone() };
            let before = Moment { stand: stand.clone(), ..self.before.clone() };
            let (walk, _) = walk_steps(scene, before, steps.clone());
            let transit = |event: &Event| match event {
                Event::Move(moved) if moved.kind == MotionKind::Transit => {
                    Some(Move { moment: Moment { stand: stand.clone(), ..moved.moment.clone() }, ..(**moved).clone() })
                }
                _ => None,
            };
            let crossings: Vec<Move> = walk.events.iter().filter_map(transit).collect();
            if let Some(no) = no_stand(scene, &work, (&moment, &step), &crossings) {
                self.no_stand.push((stand, no));
            }
        }
    }

    /// Every setting of the restraint, and of the base, that goes with the arm as the plan has it, and the plate there.
    fn given(&self, scene: &Scene) -> Vec<(Setting, Pose)> {
        let Some(site) = self.site(scene) else { return Vec::new() };
        let arm = scene.joint_values(&site.joints);
        let stands = self.stands(scene);
        let of_stand = |stand: &String| {
            let at = ArmAt::new(scene, (site, &self.before), stand, self.kept(scene).as_deref());
            let plates = at.plates(&arm).map(|(detents, plate)| {
                (Setting { stand: stand.clone(), detents: detents.to_vec(), arm: arm.clone() }, plate)
            });
            plates.collect::<Vec<_>>()
        };
        stands.iter().flat_map(of_stand).collect()
    }

    /// Looks for ways to hold the plate in each of its places.
    fn hold(&mut self, scene: &Scene, stop: &AtomicBool) -> Result<(), Stopped> {
        let Some(site) = self.site(scene) else { return Ok(()) };
        let kept = self.kept(scene);
        for stand in self.stands(scene) {
            let at = ArmAt::new(scene, (site, &self.before), &stand, kept.as_deref());
            for place in &self.found {
                go_on(stop)?;
                let (holds, tried) = at.holds(&place.structure_from_plate);
                self.arms = self.arms.plus(tried);
                self.servings.extend(holds.into_iter().map(|hold| Serving {
                    tip: tip(scene, &hold.setting),
                    // What is known to do is tried first.
                    strain: if self.kept_all.contains(&hold.setting) { 0.0 } else { place.strain + hold.strain() },
                    setting: hold.setting,
                    place: place.number,
                }));
            }
        }
        Ok(())
    }

    /// Settings of the restraint that the plan keeps, rad.
    fn kept(&self, scene: &Scene) -> Option<Vec<f64>> {
        let site = self.site(scene).filter(|_| self.open.as_ref().is_some_and(|open| !open.detents))?;
        Some(site.detents.iter().map(|angle| angle.radians()).collect())
    }

    /// Stands from which it may be served: until the base first moves it may stand anywhere but where it moves to, after that
    /// it is where the order of work has it.
    fn stands(&self, scene: &Scene) -> Vec<String> {
        let plan = &scene.project.plan;
        let has_moved = self.base_has_moved(scene.project);
        let stands: Vec<&String> = if self.open.as_ref().is_some_and(|open| open.stand) && !has_moved {
            plan.stand.iter().map(|stand| &stand.id).collect()
        } else {
            self.site(scene).into_iter().map(|site| &site.stand).collect()
        };
        let later = self.base_moves_to(scene.project);
        let is_ruled_out =
            |stand: &String| (!has_moved && later == Some(stand)) || self.no_stand.iter().any(|(no, _)| no == stand);
        stands.into_iter().filter(|stand| !is_ruled_out(stand)).cloned().collect()
    }

    /// To which stand the base is moved first after the visit: until then it can't be there.
    pub fn base_moves_to<'p>(&self, project: &'p Project) -> Option<&'p String> {
        let later = project.plan.step[self.visit.arriving..].iter();
        later.filter(|step| step.deed == Deed::MoveBase).find_map(|step| step.stand.as_ref())
    }

    /// Whether the base was moved before, so that the order of work tells where it stands.
    pub fn base_has_moved(&self, project: &Project) -> bool {
        project.plan.step[..self.visit.arriving].iter().any(|step| step.deed == Deed::MoveBase)
    }

    /// Which clearances a serving breaks at rest, the body in the posture in which it comes; none where that hangs on another
    /// visit.
    pub fn too_near(&self, scene: &Scene, setting: &Setting) -> Option<Vec<Broken>> {
        let Setting { stand, detents, arm } = setting.clone();
        let mut moment = Moment { stand, detents, arm, ..self.at_work.clone()? };
        // What is taken here still stands.
        moment.payloads.clone_from(&self.before.payloads);
        let step = scene.project.plan.step[self.visit.arriving].id_at(self.visit.arriving);
        let rest = Rest { step, worksite: self.visit.site.clone(), who: Who::Rider, moment, placed: None };
        Some(RestCase::new(scene, &Arc::new(rest)).broken().map(Broken::clearance).collect())
    }

    /// Whether a serving goes with the one of the visit that this one is bound to.
    pub fn agrees(&self, earlier: &Serving, here: &Serving) -> bool {
        match self.bond {
            None => true,
            Some(Bond::Setting { .. }) => earlier.setting == here.setting,
            Some(Bond::Place { .. }) => earlier.place == here.place,
        }
    }

    /// In how many places of the plate the body keeps its limits.
    pub fn places_found(&self) -> usize {
        self.found.len()
    }
}

fn tip(scene: &Scene, setting: &Setting) -> Point {
    ArmAlone::new(scene, &setting.stand).structure_from_tip(&setting.arm).translation.vector.into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Stand, Step};
    use crate::propose::anew;
    use crate::state::testing::with_edited;

    /// The starter's worksites with two stands more, everything open.
    fn begun(edit: impl FnOnce(&mut Project), test: impl FnOnce(&Scene, &[Options])) {
        let mut open = Vec::new();
        let edit = |project: &mut Project| {
            let known = project.plan.stand[0].clone();
            project.plan.stand.extend(["a", "b"].map(|id| Stand { id: id.to_owned(), ..known.clone() }));
            edit(project);
            open = anew::everything(project).0;
        };
        let mut begun = None;
        with_edited(edit, |scene| begun = Some(scene.project.clone()));
        let project = begun.expect("it was edited");
        with_edited(
            |starter| *starter = project,
            |scene| test(scene, &Options::begin(scene, Asked { open: &open, sizes: &[] })),
        );
    }

    #[test]
    fn a_worksite_is_served_from_anywhere_but_where_the_base_moves_later() {
        begun(|_| {}, |scene, options| assert_eq!(options[0].stands(scene), ["near-end", "a", "b"]));
        let move_to_b = |project: &mut Project| {
            let at = project.plan.step.iter().position(|step| step.deed == Deed::Transit).expect("a transit");
            let moved =
                Step { deed: Deed::MoveBase, to: None, stand: Some("b".to_owned()), ..project.plan.step[at].clone() };
            project.plan.step.insert(at, moved);
        };
        begun(move_to_b, |scene, options| assert_eq!(options[0].stands(scene), ["near-end", "a"]));
    }
}
