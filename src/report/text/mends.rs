//! Of each violation: what governs it, and which least changes would mend it?

use crate::check::Unit;
use crate::model::{Crew, Hands, JointKind, Place, PlanEdit, Project, Step, Who, Worksite};
use crate::propose::mend::{Mend, Mended, Sought, Way, proposable};

use super::table::{Cell, Paint, Set, Table};
use super::violations::entries;
use super::{Ink, count, paragraph, section};
use crate::report::number::{self, Rounding};
use crate::report::{Report, words};

/// The mends of all causes, in the order of the violations; each mend has its number.
pub fn mends(report: &Report, mended: &[Mended], ink: Ink) -> String {
    let mut out = String::new();
    section("mends", ink, &mut out);
    if mended.is_empty() {
        out.push_str("no limit is violated: there is nothing to mend\n");
        return out;
    }
    let entries = entries(report.outcome);
    let mut number = 0;
    for (at, (mended, entry)) in mended.iter().zip(&entries).enumerate() {
        if at > 0 {
            out.push('\n');
        }
        out.push_str(&ink.paint(&format!("{}. {}", at + 1, entry.heading()), Paint::Bad));
        out.push('\n');
        paragraph(&format!("governs: {}", entry.governing(report)), 3, &mut out);
        let mut table = Table::new([
            ("mend", Set::Right),
            ("by", Set::Wrap),
            ("change", Set::Wrap),
            ("time", Set::Right),
            ("tried", Set::Right),
        ]);
        for sought in &mended.sought {
            table.row(row(report.project, sought, &mut number));
        }
        table.write(ink, 3, &mut out);
        if mended.sought.is_empty() {
            paragraph("nothing was tried: no kind of change bears on it", 3, &mut out);
        }
        let is_mended = mended.sought.iter().any(|sought| sought.mend.is_some());
        if let (false, Some(name)) = (is_mended, proposable(report.project, &mended.cause)) {
            let told = format!(
                "no single change was found: `trusswalk propose{} --only {name}` looks for all of it anew",
                report.named.map(|named| format!(" {named}")).unwrap_or_default()
            );
            paragraph(&told, 3, &mut out);
        }
    }
    out.push('\n');
    paragraph(
        "each is the least of its kind that was found by checking the whole plan with it; nothing else is violated by it. \
         time: by how much longer all timed motions take; tried: plans that were checked. None found is no proof that there \
         is none.",
        0,
        &mut out,
    );
    out
}

fn row(project: &Project, sought: &Sought, number: &mut usize) -> [Cell; 5] {
    let by = sought.way.to_string().into();
    let tried = sought.tried.to_string().into();
    match &sought.mend {
        None => ["".into(), by, sought.none_found().into(), "".into(), tried],
        Some(mend) => {
            *number += 1;
            [Cell::painted(number.to_string(), Paint::Good), by, change(project, mend).into(), time(mend).into(), tried]
        }
    }
}

/// What a mend changes, from which value to which, what it costs, and whether the task becomes another.
pub fn mend(project: &Project, (way, mend): (&Way, &Mend)) -> String {
    let task = if way.changes_task() { "the task is changed" } else { "the task stays as it is" };
    format!("{} ({}; {task})", change(project, mend), time(mend))
}

fn time(mend: &Mend) -> String {
    let Some(longer) = mend.longer else { return "not timed".to_owned() };
    let sign = if longer > 0.0 { "+" } else { "" };
    format!("{sign}{} s", number::fixed(longer, 1, Rounding::Nearest))
}

/// What a mend changes, from which value to which.
pub fn change(project: &Project, mend: &Mend) -> String {
    let removed = mend.edits.iter().filter(|edit| matches!(edit, PlanEdit::RemoveWaypoint { .. })).count();
    let added = mend.edits.iter().filter(|edit| matches!(edit, PlanEdit::AddWaypoint { .. })).count();
    let mut told: Vec<String> = mend.edits.iter().filter_map(|edit| one(project, edit)).collect();
    if removed + added > 0 {
        told.push(format!("{} in place of {removed}", count(added, "waypoint")));
    }
    let left =
        if mend.left > 0 { format!("; {} left of other causes", count(mend.left, "violation")) } else { String::new() };
    format!("{}{left}", told.join("; "))
}

/// One edit, from which value to which; waypoints that come and go are counted elsewhere.
fn one(project: &Project, edit: &PlanEdit) -> Option<String> {
    let plan = &project.plan;
    let site = |id: &str| plan.worksite.iter().find(|site: &&Worksite| site.id == id);
    Some(match edit {
        PlanEdit::SetWaypoint { step, waypoint, joints } => {
            let old = step_of(project, step)?.waypoint.get(*waypoint)?.joints.as_deref();
            format!("waypoint {}: {}", waypoint + 1, joint_changes(project, old, joints))
        }
        PlanEdit::SetConfiguration { worksite, joints } => {
            joint_changes(project, Some(&site(worksite)?.joints), joints)
        }
        PlanEdit::SetDetents { worksite, who, detents } => {
            let site = site(worksite)?;
            let old = match who {
                Who::Rider => &site.detents,
                Who::SecondCrew => &site.second_crew.as_ref()?.detents,
            };
            let joints = project.restraint.joint.iter().zip(old.iter().map(|angle| angle.degrees())).zip(detents);
            let changed = joints.filter(|((_, old), new)| (old - **new).abs() > 1e-6);
            let told = changed.map(|((joint, old), new)| from_to(&joint.name, old, *new, "°"));
            told.collect::<Vec<_>>().join(", ")
        }
        PlanEdit::SetStand { worksite, stand } => format!("{} to {stand}", site(worksite)?.stand),
        PlanEdit::SetStandPlace { stand, place } => {
            let old = plan.stand.iter().find(|known| known.id == *stand)?.place;
            let angles = |place: &Place| place.rpy.unwrap_or_default().map(|angle| angle.degrees());
            let turned = changes(["roll", "pitch", "yaw"], angles(&old), angles(place), "°");
            let told = [changes(["x", "y", "z"], old.at_m, place.at_m, " m"), turned];
            told.into_iter().filter(|told| !told.is_empty()).collect::<Vec<_>>().join(", ")
        }
        PlanEdit::SetCrew { who, crew } => {
            let old = match who {
                Who::Rider => &plan.rider,
                Who::SecondCrew => &plan.second_crew,
            };
            format!("{} to {}", stature(old), stature(crew))
        }
        PlanEdit::SetHands { worksite, target, hands } => {
            let old = site(worksite)?.target.iter().find(|known| known.id == *target)?.hands;
            let word = |hands: Hands| words::hands(hands);
            format!("{} to {}", word(old), word(*hands))
        }
        PlanEdit::SetTargetPlace { worksite, target, at_m } => {
            let old = site(worksite)?.target.iter().find(|known| known.id == *target)?.at_m;
            changes(["x", "y", "z"], old, *at_m, " m")
        }
        PlanEdit::SetDuration { step, waypoint, seconds } => {
            let old = step_of(project, step)?.waypoint.get(*waypoint)?.duration_s?;
            from_to(&format!("to waypoint {}:", waypoint + 1), old, *seconds, " s")
        }
        PlanEdit::SetClearance { .. } => edit.to_string(),
        PlanEdit::AddWaypoint { .. } | PlanEdit::RemoveWaypoint { .. } => return None,
    })
}

/// The joints whose value changes; all where there were none.
fn joint_changes(project: &Project, old: Option<&[f64]>, new: &[f64]) -> String {
    let unit = |kind: JointKind| match kind {
        JointKind::Revolute => "°",
        JointKind::Prismatic => " m",
    };
    let joints = project.arm.joint.iter().zip(new).enumerate();
    let told = joints.filter_map(|(k, (joint, new))| match old.and_then(|old| old.get(k)) {
        Some(old) if (old - new).abs() < 1e-9 => None,
        Some(old) => Some(from_to(&joint.name, *old, *new, unit(joint.kind))),
        None => Some(format!("{} {}{}", joint.name, number::shortest(*new, 3), unit(joint.kind))),
    });
    told.collect::<Vec<_>>().join(", ")
}

fn step_of<'p>(project: &'p Project, id: &str) -> Option<&'p Step> {
    project.plan.step_number(id).map(|number| &project.plan.step[number])
}

/// Of three values, those that change.
fn changes(names: [&str; 3], old: [f64; 3], new: [f64; 3], unit: &str) -> String {
    let all = names.into_iter().zip(old.into_iter().zip(new));
    let changed = all.filter(|(_, (old, new))| (old - new).abs() > 1e-9);
    changed.map(|(name, (old, new))| from_to(name, old, new, unit)).collect::<Vec<_>>().join(", ")
}

fn from_to(name: &str, old: f64, new: f64, unit: &str) -> String {
    let value = |value: f64| number::shortest(value, 3);
    let sign = if new > old { "+" } else { "" };
    format!("{name} {} to {}{unit} ({sign}{})", value(old), value(new), value(new - old))
}

fn stature(crew: &Crew) -> String {
    match (crew.stature, crew.measures.stature_m) {
        (_, Some(own)) => number::value(own, Unit::Metre, Rounding::Nearest),
        (Some(stature), None) => stature.to_string(),
        (None, None) => "percentile 50 of men".to_owned(),
    }
}
