//! When is the rider at which worksite, and what is the case before they come?

use std::sync::Arc;

use super::answer::End;
use crate::model::{Deed, Project, Step, Who};
use crate::state::{Event, Moment, MotionKind, Move, Rest, Scene, Walk, beginning};

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

    /// What is the case before the visit: at the very beginning the arm waits here.
    pub fn before(&self, scene: &Scene, before: &Moment) -> Moment {
        if self.is_ingress(scene.project) {
            let Moment { stand, arm, detents, worksite, .. } = waiting_at(scene, &self.site);
            Moment { stand, arm, detents, worksite, ..before.clone() }
        } else {
            before.clone()
        }
    }

    /// Where the transits begin and end that bring the rider here and take them away (rad or m).
    pub fn crossings(&self, walk: &Walk, project: &Project) -> Vec<(Arc<Move>, Vec<f64>, End)> {
        let is = |step: &String, number: usize| project.plan.step[number].id_at(number) == *step;
        let crossing = |event: &Event| {
            let Event::Move(moved) = event else { return None };
            if moved.kind != MotionKind::Transit || moved.fault.is_some() {
                return None;
            }
            if self.leaving.is_some_and(|leaving| is(&moved.step, leaving)) {
                return Some((Arc::clone(moved), moved.moment.arm.clone(), End::Start));
            }
            let goal = moved.segments.last()?.to.clone();
            Some((Arc::clone(moved), goal, End::Goal))
        };
        walk.events.iter().filter_map(crossing).collect()
    }

    /// What happens in a visit and depends on no other: the approach, all that the rider does, and the retreat.
    pub fn of_interest(&self, walk: Walk, project: &Project) -> Walk {
        let is = |step: &String, number: usize| project.plan.step[number].id_at(number) == *step;
        let arriving = |step: &String| is(step, self.arriving);
        let leaving = |step: &String| self.leaving.is_some_and(|number| is(step, number));
        let comes_along = !self.is_ingress(project);
        let events = walk.events.into_iter().filter(|event| match event {
            Event::Stay(stay) => stay.who == Who::Rider,
            // Into the posture to be carried the rider gets before the arm leaves another worksite, or this one.
            Event::Stance(stance) => {
                stance.who == Who::Rider && !leaving(&stance.step) && !(comes_along && arriving(&stance.step))
            }
            Event::NotChecked { .. } => false,
            Event::Move(moved) if arriving(&moved.step) => moved.kind == MotionKind::Approach,
            Event::Move(moved) if leaving(&moved.step) => moved.kind == MotionKind::Retreat,
            Event::Move(_) => true,
        });
        let inside = |rest: &Arc<Rest>| rest.who == Who::Rider && !leaving(&rest.step);
        Walk { events: events.collect(), rests: walk.rests.into_iter().filter(inside).collect() }
    }
}

/// Where the base stands after some steps of the plan, if one of them moves it.
pub fn moved_to(steps: &[Step]) -> Option<&String> {
    steps.iter().rev().filter(|step| step.deed == Deed::MoveBase).find_map(|step| step.stand.as_ref())
}

/// The arm as a worksite asks for it, nobody in the restraint.
pub fn waiting_at(scene: &Scene, site: &str) -> Moment {
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
