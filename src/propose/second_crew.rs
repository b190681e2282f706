//! With which settings of their restraint does the second crew do their work at a worksite?
//!
//! # Law
//! Every combination of detents is taken, those ruled out with which a grip lies in none of the plan's envelopes, and the
//! check made of all that the second crew does there, from their ingress
//! to their egress: how they come to stand, what they work on, and what is near to them, the rider, the arm and what these
//! carry left out. Of those that keep every limit, the one with the best score ([`super::judge`]) is taken before the rider's
//! settings and ways are looked for, which then keep clear of it.
//!
//! # Limits
//! What arm and rider do may forbid a setting that is the best by itself; the check of the whole plan then says so.

use std::ops::Range as Span;
use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use super::Setting;
use super::arms::combinations;
use super::broken::{Broken, Tally};
use super::judge::{Judged, Parts};
use super::placements::outside_envelopes;
use super::violation::Violation;
use super::work::Thing;
use crate::check::{Case, Finding, Known, Pair, Progress, Silent, Stopped, envelope, go_on};
use crate::files::Meshes;
use crate::model::{BodyClass, Deed, PlanEdit, Project, Who};
use crate::space::Pose;
use crate::state::{Event, Moment, Scene, Stay, Walk, beginning, walk_steps};

/// What was found for the second crew at a worksite.
#[derive(Clone, Debug, Default)]
pub struct SecondProposal {
    pub worksite: String,
    /// The setting of their restraint, in the `setting`'s detents, that is best; none where none keeps every limit.
    pub chosen: Option<Judged>,
    pub tried: usize,
    /// Combinations that there are beyond those.
    pub left_out: usize,
    pub kept: usize,
    /// What ruled out the others.
    pub broken: Tally,
}

impl SecondProposal {
    /// The edit that makes it.
    pub fn edit(&self) -> Option<PlanEdit> {
        let detents = self.chosen.as_ref()?.setting.detents_as_written();
        Some(PlanEdit::SetDetents { worksite: self.worksite.clone(), who: Who::SecondCrew, detents })
    }

    /// Looks at every setting at a worksite; none where the second crew never works there.
    ///
    /// # Errors
    /// [`Stopped`] when the flag goes up.
    pub fn at(
        (project, meshes): (&Project, &Meshes),
        worksite: &str,
        progress: &dyn Progress,
        stop: &AtomicBool,
    ) -> Result<Option<Self>, Stopped> {
        let Some(steps) = steps_there(project, worksite) else { return Ok(None) };
        let scene = Scene::new(project, meshes);
        let (_, before) = walk_steps(&scene, beginning(&scene), 0..steps.start);
        let (all, left_out) = combinations(&project.restraint.joint);
        progress.begin(&format!("second crew at {worksite}"), all.len() as u64);
        let judge = |detents: &Vec<f64>| {
            go_on(stop)?;
            let setting = Setting { detents: detents.clone(), ..Setting::default() };
            let mut served = project.clone();
            set(&mut served, worksite, &setting);
            let judged = judge((&served, meshes), (&before, steps.clone()), setting, stop)?;
            progress.advance();
            Ok(judged)
        };
        let judged: Vec<Result<Result<Judged, Vec<Broken>>, Stopped>> = all.par_iter().map(judge).collect();
        let mut found = Self { worksite: worksite.to_owned(), tried: all.len(), left_out, ..Self::default() };
        for judged in judged {
            match judged? {
                Err(broken) => found.broken.add(broken),
                Ok(judged) => {
                    found.kept += 1;
                    if found.chosen.as_ref().is_none_or(|chosen| judged.score > chosen.score) {
                        found.chosen = Some(judged);
                    }
                }
            }
        }
        Ok(Some(found))
    }
}

/// Puts a setting of the second crew's restraint into a plan.
pub fn set(project: &mut Project, worksite: &str, setting: &Setting) {
    for site in project.plan.worksite.iter_mut().filter(|site| site.id == worksite) {
        if let Some(second) = &mut site.second_crew {
            second.detents = setting.angles();
        }
    }
}

/// The steps from the second crew's ingress there to their egress.
fn steps_there(project: &Project, worksite: &str) -> Option<Span<usize>> {
    let steps = &project.plan.step;
    let does = |number: &usize, deed: Deed| steps[*number].who == Who::SecondCrew && steps[*number].deed == deed;
    let comes = |number: &usize| does(number, Deed::Ingress) && steps[*number].to.as_deref() == Some(worksite);
    let first = (0..steps.len()).find(comes)?;
    let last = (first..steps.len()).find(|number| does(number, Deed::Egress)).unwrap_or(steps.len());
    Some(first..last)
}

/// What the check says of a setting; where it breaks limits, which.
fn judge(
    (served, meshes): (&Project, &Meshes),
    (before, steps): (&Moment, Span<usize>),
    setting: Setting,
    stop: &AtomicBool,
) -> Result<Result<Judged, Vec<Broken>>, Stopped> {
    let scene = Scene::new(served, meshes);
    let (walk, _) = walk_steps(&scene, before.clone(), steps);
    let (work, stances): (Vec<Event>, Vec<Event>) =
        walk.events.into_iter().filter(is_second_crews).partition(|event| matches!(event, Event::Stay(_)));
    // What is outside the plan's envelopes is told at once, and exactly.
    let things = work.iter().filter_map(|event| if let Event::Stay(stay) = event { Some(stay) } else { None });
    let site = |stay: &Stay| served.plan.worksite.iter().find(|site| site.id == stay.worksite);
    let mut things = things.filter_map(|stay| Some(Thing::all(&scene, stay, site(stay)?, &Pose::identity()))).flatten();
    if let Some(outside) = things.find(|thing| outside_envelopes(&scene, thing)) {
        return Ok(Err(vec![Broken { check: envelope::NAME.to_owned(), of: outside.wanted.subject }]));
    }
    let rests = walk.rests.into_iter().filter(|rest| rest.who == Who::SecondCrew).collect();
    let mut findings: Vec<Finding> = Vec::new();
    // How they stand is told sooner than how they work.
    for walk in [Walk { events: stances, rests }, Walk { events: work, rests: Vec::new() }] {
        let case = Case::new((&scene, &walk), &Known::default(), &Silent, stop)?;
        findings.extend(case.findings().into_iter().filter(|finding| finding.pair.as_ref().is_none_or(is_of_them)));
        let violations = Violation::all(&findings);
        if !violations.is_empty() {
            return Ok(Err(violations.iter().map(Broken::of).collect()));
        }
    }
    let parts = Parts::of(&findings, None);
    Ok(Ok(Judged { setting, parts, score: parts.score(), ..Judged::default() }))
}

fn is_second_crews(event: &Event) -> bool {
    match event {
        Event::Stay(stay) => stay.who == Who::SecondCrew,
        Event::Stance(stance) => stance.who == Who::SecondCrew,
        Event::Move(_) | Event::NotChecked { .. } => false,
    }
}

/// Whether a pair is not of the rider, the arm or what they carry.
fn is_of_them(pair: &Pair) -> bool {
    let (a, b) = pair.classes.classes();
    let is_others = |class: BodyClass| matches!(class, BodyClass::Arm | BodyClass::Rider | BodyClass::Payload);
    !is_others(a) && !is_others(b)
}
