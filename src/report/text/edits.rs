//! What do edits change of a plan, from which value to which?

use std::collections::BTreeMap;

use super::count;
use crate::model::{ArmJoint, Crew, JointKind, PlanEdit, Project, Who, Worksite};
use crate::report::number;
use crate::report::words;

/// What edits change of a plan, one thing a line.
pub fn edits(project: &Project, edits: &[PlanEdit]) -> Vec<String> {
    let mut waypoints: BTreeMap<&str, [usize; 2]> = BTreeMap::new();
    let mut lines = Vec::new();
    for edit in edits {
        match edit {
            PlanEdit::RemoveWaypoint { step, .. } => waypoints.entry(step).or_default()[0] += 1,
            PlanEdit::AddWaypoint { step, .. } => waypoints.entry(step).or_default()[1] += 1,
            _ => lines.extend(one(project, edit)),
        }
    }
    lines.extend(
        waypoints
            .into_iter()
            .map(|(step, [removed, added])| format!("{step}: {} in place of {removed}", count(added, "waypoint"))),
    );
    if lines.is_empty() { vec!["nothing but what the plan has already".to_owned()] } else { lines }
}

/// One edit that is not of a waypoint that comes or goes; none where the values stay what they are.
fn one(project: &Project, edit: &PlanEdit) -> Option<String> {
    if matches!(edit, PlanEdit::SetClearance { .. }) {
        return Some(edit.to_string());
    }
    let values = values(project, edit)?;
    (!values.is_empty()).then(|| format!("{edit}: {}", values.join(", ")))
}

/// Which values an edit changes, from what to what; none of a waypoint that comes or goes, and where there is nothing to change.
pub fn values(project: &Project, edit: &PlanEdit) -> Option<Vec<String>> {
    let plan = &project.plan;
    let site = |id: &str| plan.worksite.iter().find(|site: &&Worksite| site.id == id);
    Some(match edit {
        PlanEdit::SetWaypoint { step, waypoint, joints } => {
            let step = &plan.step[plan.step_number(step)?];
            joint_changes(&project.arm.joint, step.waypoint.get(*waypoint)?.joints.as_deref(), joints)
        }
        PlanEdit::SetConfiguration { worksite, joints } => {
            joint_changes(&project.arm.joint, Some(&site(worksite)?.joints), joints)
        }
        PlanEdit::SetDetents { worksite, who, detents } => {
            let site = site(worksite)?;
            let old = match who {
                Who::Rider => &site.detents,
                Who::SecondCrew => &site.second_crew.as_ref()?.detents,
            };
            let joints = project.restraint.joint.iter().zip(old).zip(detents);
            joints.filter_map(|((joint, old), new)| from_to(&joint.name, old.degrees(), *new, "°")).collect()
        }
        PlanEdit::SetStand { worksite, stand } => {
            let old = &site(worksite)?.stand;
            Vec::from_iter((old != stand).then(|| format!("{old} to {stand}")))
        }
        PlanEdit::SetStandPlace { stand, place } => {
            let old = plan.stand.iter().find(|known| known.id == *stand)?.place;
            let turns = |place: &crate::model::Place| place.rpy.unwrap_or_default().map(|angle| angle.degrees());
            let moved = axes(["x", "y", "z"], old.at_m, place.at_m, " m");
            moved.chain(axes(["roll", "pitch", "yaw"], turns(&old), turns(place), "°")).collect()
        }
        PlanEdit::SetCrew { who, crew } => {
            let old = match who {
                Who::Rider => &plan.rider,
                Who::SecondCrew => &plan.second_crew,
            };
            vec![format!("{} to {}", stature(old), stature(crew))]
        }
        PlanEdit::SetHands { worksite, target, hands } => {
            let old = site(worksite)?.target.iter().find(|known| known.id == *target)?.hands;
            vec![format!("{} to {}", words::hands(old), words::hands(*hands))]
        }
        PlanEdit::SetTargetPlace { worksite, target, at_m } => {
            let old = site(worksite)?.target.iter().find(|known| known.id == *target)?.at_m;
            axes(["x", "y", "z"], old, *at_m, " m").collect()
        }
        PlanEdit::SetDuration { step, waypoint, seconds } => {
            let step = &plan.step[plan.step_number(step)?];
            from_to("", step.waypoint.get(*waypoint)?.duration_s?, *seconds, " s").into_iter().collect()
        }
        PlanEdit::SetClearance { .. } | PlanEdit::AddWaypoint { .. } | PlanEdit::RemoveWaypoint { .. } => return None,
    })
}

/// The joints whose value changes; all where there were none.
fn joint_changes(arm: &[ArmJoint], old: Option<&[f64]>, new: &[f64]) -> Vec<String> {
    let told = arm.iter().zip(new).enumerate().filter_map(|(k, (joint, new))| {
        let unit = match joint.kind {
            JointKind::Revolute => "°",
            JointKind::Prismatic => " m",
        };
        match old.and_then(|old| old.get(k)) {
            Some(old) => from_to(&joint.name, *old, *new, unit),
            None => Some(format!("{} {}{unit}", joint.name, number::shortest(*new, 3))),
        }
    });
    told.collect()
}

/// Of three values, those that change.
fn axes<'a>(
    names: [&'a str; 3],
    old: [f64; 3],
    new: [f64; 3],
    unit: &'a str,
) -> impl Iterator<Item = String> + use<'a> {
    let all = names.into_iter().zip(old.into_iter().zip(new));
    all.filter_map(move |(name, (old, new))| from_to(name, old, new, unit))
}

/// A value that changes by enough to be written.
fn from_to(name: &str, old: f64, new: f64, unit: &str) -> Option<String> {
    let [from, to, by] = [old, new, new - old].map(|value| number::shortest(value, 3));
    let name = if name.is_empty() { String::new() } else { format!("{name} ") };
    let sign = if new > old { "+" } else { "" };
    (from != to).then(|| format!("{name}{from}{unit} to {to}{unit} ({sign}{by})"))
}

fn stature(crew: &Crew) -> String {
    match (crew.measures.stature_m, crew.stature) {
        (Some(metres), _) => format!("{} m", number::shortest(metres, 3)),
        (None, Some(stature)) => stature.to_string(),
        (None, None) => "percentile 50 of men".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::testing::with_starter;

    fn told(edits_of: impl FnOnce(&Project) -> Vec<PlanEdit>) -> Vec<String> {
        let mut told = Vec::new();
        with_starter(|scene| told = edits(scene.project, &edits_of(scene.project)));
        told
    }

    fn far_panel(joints: Vec<f64>) -> Vec<PlanEdit> {
        vec![PlanEdit::SetConfiguration { worksite: "far-panel".to_owned(), joints }]
    }

    #[test]
    fn a_change_names_the_joints_that_change_with_both_values_and_units_and_no_others() {
        let changed = told(|project| {
            let mut joints = project.plan.worksite[1].joints.clone();
            joints[3] += 1.5;
            far_panel(joints)
        });
        // The starter's elbow stands at 80 degrees there.
        assert!(
            changed[0].starts_with("the arm at far-panel: ") && changed[0].ends_with(" 80° to 81.5° (+1.5)"),
            "{changed:?}"
        );
        let same = told(|project| far_panel(project.plan.worksite[1].joints.clone()));
        assert_eq!(same, ["nothing but what the plan has already"]);
    }

    #[test]
    fn waypoints_that_come_and_go_are_counted_by_step() {
        let step = || "step-3".to_owned();
        let add = |waypoint| PlanEdit::AddWaypoint { step: step(), waypoint, joints: vec![0.0; 7] };
        let remove = PlanEdit::RemoveWaypoint { step: step(), waypoint: 0 };
        assert_eq!(told(|_| vec![remove, add(0), add(1)]), ["step-3: 2 waypoints in place of 1"]);
    }
}
