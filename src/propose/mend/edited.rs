//! What is a plan in memory after an edit?
//!
//! The same as its text after the same edit, read again ([`crate::files::apply`]), which a test compares. What an edit names
//! and is not there changes nothing.

use crate::model::{Angle, PlanEdit, Project, Step, Target, Waypoint, Who, Worksite};

/// The project with edits made, one after the other.
pub fn edited(project: &Project, edits: &[PlanEdit]) -> Project {
    let mut project = project.clone();
    for edit in edits {
        apply(&mut project, edit);
    }
    project
}

fn apply(project: &mut Project, edit: &PlanEdit) {
    match edit {
        PlanEdit::SetWaypoint { step, waypoint, joints } => {
            if let Some(at) = step_of(project, step).and_then(|step| step.waypoint.get_mut(*waypoint)) {
                *at = Waypoint { joints: Some(joints.clone()), tip: None, duration_s: at.duration_s };
            }
        }
        PlanEdit::AddWaypoint { step, waypoint, joints } => {
            if let Some(step) = step_of(project, step) {
                let at = (*waypoint).min(step.waypoint.len());
                step.waypoint.insert(at, Waypoint { joints: Some(joints.clone()), ..Waypoint::default() });
            }
        }
        PlanEdit::RemoveWaypoint { step, waypoint } => {
            if let Some(step) = step_of(project, step).filter(|step| *waypoint < step.waypoint.len()) {
                step.waypoint.remove(*waypoint);
            }
        }
        PlanEdit::SetConfiguration { worksite, joints } => {
            if let Some(site) = site_of(project, worksite) {
                site.joints.clone_from(joints);
            }
        }
        PlanEdit::SetDetents { worksite, who, detents } => {
            let detents = detents.iter().copied().map(Angle::from_degrees).collect();
            let site = site_of(project, worksite);
            match who {
                Who::Rider => {
                    if let Some(site) = site {
                        site.detents = detents;
                    }
                }
                Who::SecondCrew => {
                    if let Some(second) = site.and_then(|site| site.second_crew.as_mut()) {
                        second.detents = detents;
                    }
                }
            }
        }
        PlanEdit::SetStand { worksite, stand } => {
            if let Some(site) = site_of(project, worksite) {
                site.stand.clone_from(stand);
            }
        }
        PlanEdit::SetStandPlace { stand, place } => {
            if let Some(stand) = project.plan.stand.iter_mut().find(|known| known.id == *stand) {
                stand.place = *place;
            }
        }
        PlanEdit::SetCrew { who: Who::Rider, crew } => project.plan.rider = crew.clone(),
        PlanEdit::SetCrew { who: Who::SecondCrew, crew } => project.plan.second_crew = crew.clone(),
        PlanEdit::SetHands { worksite, target, hands } => {
            if let Some(target) = target_of(project, worksite, target) {
                target.hands = *hands;
            }
        }
        PlanEdit::SetTargetPlace { worksite, target, at_m } => {
            if let Some(target) = target_of(project, worksite, target) {
                target.at_m = *at_m;
            }
        }
        PlanEdit::SetDuration { step, waypoint, seconds } => {
            if let Some(at) = step_of(project, step).and_then(|step| step.waypoint.get_mut(*waypoint)) {
                at.duration_s = Some(*seconds);
            }
        }
        // Limits are the user's; no mend changes them.
        PlanEdit::SetClearance { .. } => {}
    }
}

fn step_of<'p>(project: &'p mut Project, id: &str) -> Option<&'p mut Step> {
    let number = project.plan.step_number(id)?;
    project.plan.step.get_mut(number)
}

fn site_of<'p>(project: &'p mut Project, id: &str) -> Option<&'p mut Worksite> {
    project.plan.worksite.iter_mut().find(|site| site.id == id)
}

fn target_of<'p>(project: &'p mut Project, worksite: &str, id: &str) -> Option<&'p mut Target> {
    site_of(project, worksite)?.target.iter_mut().find(|target| target.id == id)
}
