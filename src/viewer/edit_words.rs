//! What do edits change, from which value to which, and where is it to be seen?

use std::collections::BTreeMap;

use crate::check::{Place, Playback, Span};
use crate::model::{ArmJoint, Crew, JointKind, PlanEdit, Project, Stature, Survey, Who, Worksite};
use crate::report::number;
use crate::report::words;

/// A motion's or stay's last moment is so long before its end, s.
const BEFORE_END: f64 = 1e-6;

/// What edits change of a plan, one thing a line.
pub fn lines(project: &Project, edits: &[PlanEdit]) -> Vec<String> {
    let mut waypoints: BTreeMap<&str, [usize; 2]> = BTreeMap::new();
    let mut lines = Vec::new();
    for edit in edits {
        match edit {
            PlanEdit::RemoveWaypoint { step, .. } => waypoints.entry(step).or_default()[0] += 1,
            PlanEdit::AddWaypoint { step, .. } => waypoints.entry(step).or_default()[1] += 1,
            _ => lines.extend(one(project, edit)),
        }
    }
    lines.extend(waypoints.into_iter().map(|(step, [removed, added])| {
        let many = if added == 1 { "waypoint" } else { "waypoints" };
        format!("{step}: {added} {many} in place of {removed}")
    }));
    if lines.is_empty() { vec!["nothing but what the plan has already".to_owned()] } else { lines }
}

/// One edit that is not of a waypoint that comes or goes; none where the values stay what they are.
fn one(project: &Project, edit: &PlanEdit) -> Option<String> {
    let plan = &project.plan;
    let site = |id: &str| plan.worksite.iter().find(|site: &&Worksite| site.id == id);
    let values = match edit {
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
        PlanEdit::SetClearance { .. } => return Some(edit.to_string()),
        PlanEdit::AddWaypoint { .. } | PlanEdit::RemoveWaypoint { .. } => return None,
    };
    (!values.is_empty()).then(|| format!("{edit}: {}", values.join(", ")))
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
    let [from, to] = [old, new].map(|value| number::shortest(value, 3));
    let name = if name.is_empty() { String::new() } else { format!("{name} ") };
    (from != to).then(|| format!("{name}{from}{unit} to {to}{unit}"))
}

fn stature(crew: &Crew) -> String {
    match (crew.measures.stature_m, crew.stature) {
        (Some(metres), _) => format!("{} m", number::shortest(metres, 3)),
        (None, Some(Stature { percentile, of: Survey::Women })) => {
            format!("percentile {} of women", number::shortest(percentile, 1))
        }
        (None, Some(Stature { percentile, of: Survey::Men })) => {
            format!("percentile {} of men", number::shortest(percentile, 1))
        }
        (None, None) => "percentile 50 of men".to_owned(),
    }
}

/// The moment (s from the beginning) at which edits are to be seen, for somebody who is elsewhere: the first posture at a
/// worksite that they change, else the beginning of a motion. None for who is there, and for what is seen everywhere.
pub fn moment((project, playback): (&Project, &Playback), edits: &[PlanEdit], now: f64) -> Option<f64> {
    let (_, here) = playback.span_at(now)?;
    let at_site = |span: &Span| edits.iter().any(|edit| is_at_worksite(edit, span));
    let on_way = |span: &Span| edits.iter().any(|edit| is_on_way(project, edit, span));
    if let Some(there) = playback.spans.iter().find(|span| at_site(span)) {
        return (!at_site(here)).then(|| there.end() - BEFORE_END);
    }
    let there = playback.spans.iter().find(|span| on_way(span))?;
    (!on_way(here)).then_some(there.start)
}

fn is_at_worksite(edit: &PlanEdit, span: &Span) -> bool {
    match edit {
        PlanEdit::SetConfiguration { worksite, .. }
        | PlanEdit::SetDetents { worksite, .. }
        | PlanEdit::SetStand { worksite, .. }
        | PlanEdit::SetHands { worksite, .. }
        | PlanEdit::SetTargetPlace { worksite, .. } => {
            matches!(&span.place, Place::Worksite { worksite: at, .. } if at == worksite)
        }
        _ => false,
    }
}

fn is_on_way(project: &Project, edit: &PlanEdit, span: &Span) -> bool {
    match edit {
        PlanEdit::SetWaypoint { step, .. }
        | PlanEdit::AddWaypoint { step, .. }
        | PlanEdit::RemoveWaypoint { step, .. }
        | PlanEdit::SetDuration { step, .. } => {
            matches!(&span.place, Place::Motion { motion } if *motion == format!("{step}/transit"))
        }
        PlanEdit::SetStandPlace { stand, .. } => {
            let step = span.motion().and_then(|motion| project.plan.step_number(&motion.moved.step));
            let moves_there = step.is_some_and(|step| project.plan.step[step].stand.as_ref() == Some(stand));
            moves_there || span.moment().stand == *stand
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::viewer::testing::{Opened, clearance, elbow};

    fn told(opened: &Opened, edits: &[PlanEdit]) -> Vec<String> {
        lines(&opened.session().loaded.as_ref().expect("it is read").project, edits)
    }

    #[test]
    fn a_change_names_the_joints_that_change_with_both_values_and_units_and_no_others() {
        let opened = Opened::starter();
        let project = &opened.session().loaded.as_ref().expect("it is read").project;
        let site = project.plan.worksite.iter().find(|site| site.id == "far-panel").expect("it is there");
        let mut joints = site.joints.clone();
        joints[3] += 1.5;
        let [old, new] = [site.joints[3], joints[3]].map(|value| number::shortest(value, 3));
        let edit = PlanEdit::SetConfiguration { worksite: "far-panel".to_owned(), joints };
        let name = &project.arm.joint[3].name;
        assert_eq!(told(&opened, &[edit]), [format!("the arm at far-panel: {name} {old}° to {new}°")]);
        let same = PlanEdit::SetConfiguration { worksite: "far-panel".to_owned(), joints: site.joints.clone() };
        assert_eq!(told(&opened, &[same]), ["nothing but what the plan has already"]);
    }

    #[test]
    fn waypoints_that_come_and_go_are_counted_by_step() {
        let opened = Opened::starter();
        let step = || "step-3".to_owned();
        let add = |waypoint| PlanEdit::AddWaypoint { step: step(), waypoint, joints: vec![0.0; 7] };
        let remove = PlanEdit::RemoveWaypoint { step: step(), waypoint: 0 };
        assert_eq!(told(&opened, &[remove, add(0), add(1)]), ["step-3: 2 waypoints in place of 1"]);
    }

    #[test]
    fn who_is_elsewhere_is_sent_to_what_is_changed_and_who_is_there_stays() {
        let opened = Opened::starter();
        let checked = opened.session().checked.clone().expect("it is checked");
        let loaded = opened.session().loaded.clone().expect("it is read");
        let playback = &checked.playback;
        let moment = |edits: &[PlanEdit], now| moment((&loaded.project, playback), edits, now);
        let at_site = [elbow(82.5)];
        let there = moment(&at_site, 0.0).expect("it begins elsewhere");
        let (_, span) = playback.span_at(there).expect("a span");
        assert_eq!(span.place.name(), "far-panel");
        assert_eq!(moment(&at_site, there), None);
        let on_way = [PlanEdit::AddWaypoint { step: "step-3".to_owned(), waypoint: 0, joints: vec![0.0; 7] }];
        let there = moment(&on_way, 0.0).expect("it begins elsewhere");
        let (_, span) = playback.span_at(there).expect("a span");
        assert_eq!((span.place.name(), there), ("step-3/transit", span.start));
        assert_eq!(moment(&on_way, there), None);
        assert_eq!(moment(&[clearance(0.3)], 0.0), None, "it is seen everywhere");
    }
}
