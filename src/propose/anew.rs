//! What of a plan is to be looked for, whatever the plan has there?

use crate::files::OpenSite;
use crate::model::{Deed, PlanEdit, Project, Step, Worksite};

/// Leaves open everything that can be proposed: at every worksite its stand, configuration and settings, those of the second
/// crew among them, and all waypoints of transits. Hands back the worksites, and the edits that take the waypoints out of the plan's file.
pub fn everything(project: &mut Project) -> (Vec<OpenSite>, Vec<PlanEdit>) {
    let has_joints = !project.restraint.joint.is_empty();
    let of_site =
        |site: &Worksite| OpenSite { second_detents: has_joints && site.second_crew.is_some(), ..open(&site.id, true) };
    let sites = project.plan.worksite.iter().map(of_site).collect();
    (sites, without_waypoints(project, |_| true))
}

/// Leaves open how the arm serves one worksite, from the stand that it has, and the waypoints of the transits to and from
/// it.
pub fn worksite(project: &mut Project, id: &str) -> (Vec<OpenSite>, Vec<PlanEdit>) {
    let mut at = None;
    let mut touching = Vec::new();
    for (number, step) in project.plan.step.iter().enumerate() {
        if matches!(step.deed, Deed::Transit | Deed::Ingress) && step.who == crate::model::Who::Rider {
            if step.to.as_deref() == Some(id) || at == Some(id) {
                touching.push(number);
            }
            at = step.to.as_deref();
        }
    }
    (vec![open(id, false)], without_waypoints(project, |number| touching.contains(&number)))
}

/// Leaves open the waypoints of one step.
pub fn step(project: &mut Project, id: &str) -> Vec<PlanEdit> {
    let number = project.plan.step_number(id);
    without_waypoints(project, |known| Some(known) == number)
}

fn open(worksite: &str, stand: bool) -> OpenSite {
    OpenSite { worksite: worksite.to_owned(), stand, joints: true, detents: true, second_detents: false }
}

fn without_waypoints(project: &mut Project, which: impl Fn(usize) -> bool) -> Vec<PlanEdit> {
    let mut edits = Vec::new();
    for (number, step) in project.plan.step.iter_mut().enumerate().filter(|(number, _)| which(*number)) {
        let id = Step::id_at(step, number);
        let first = |_| PlanEdit::RemoveWaypoint { step: id.clone(), waypoint: 0 };
        edits.extend(step.waypoint.drain(..).map(first));
    }
    edits
}
