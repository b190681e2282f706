//! Which values can a change of a plan take?
//!
//! Joint values change on the grid that operators key in, 0.1° and 1 mm; restraints by detents; sizes of the crew by whole
//! percentiles; durations by whole seconds.

use std::sync::Arc;

use crate::check::{MotionKind, MotionSummary, Silent, Stopped};
use crate::mechanism::{Goal, InverseKinematics, Meets, Solved};
use crate::model::{
    Angle, ArmJoint, Crew, Hands, JointKind, PlanEdit, RestraintJoint, Stature, Step, Survey, Target, Who, Worksite,
};
use crate::propose::{Answer, Settings, as_written, transit};
use crate::space::Vector;
use crate::state::{ArmAlone, Event, Scene, walk};

use super::least::Axis;
use super::trial::Trials;

/// Waypoints of a step that are tried; those next to where it is worst, where that is known.
const WAYPOINTS: usize = 4;
/// Neighbouring settings of a restraint are tried as far as so many detents.
pub const DETENTS: usize = 2;

/// A value of the plan's file, so many steps of its grid (a tenth of a degree, a millimetre) farther on.
fn on_grid(value: f64, steps: i64, a_unit: f64) -> f64 {
    let at = value * a_unit;
    let from = if steps < 0 { (at - 1e-6).ceil() } else { (at + 1e-6).floor() };
    (from + steps as f64) / a_unit
}

/// Joint values as the plan's file has them, one of them changed; none where it would leave its range.
fn moved(arm: &[ArmJoint], joints: &[f64], joint: usize, steps: i64) -> Option<Vec<f64>> {
    let (of_arm, mut joints) = (arm.get(joint)?, joints.to_vec());
    let value = joints.get_mut(joint)?;
    let range = match of_arm.kind {
        JointKind::Revolute => {
            *value = on_grid(*value, steps, 10.0);
            of_arm.turn_limits.map(|limits| limits.map(Angle::degrees))
        }
        JointKind::Prismatic => {
            *value = on_grid(*value, steps, 1000.0);
            of_arm.slide_limits
        }
    };
    range.is_none_or(|[low, high]| (low..=high).contains(value)).then_some(joints)
}

fn step_of<'a>(trials: &Trials<'a>, id: &str) -> Option<&'a Step> {
    let plan = &trials.project.plan;
    plan.step_number(id).map(|number| &plan.step[number])
}

/// Each joint of some joint values, either way.
fn joint_axes<'a>(
    trials: &Trials<'a>,
    joints: Vec<f64>,
    edit: impl Fn(Vec<f64>) -> Option<PlanEdit> + Clone + Send + Sync + 'a,
) -> Vec<Axis<'a>> {
    let arm = trials.project.arm.joint.as_slice();
    let axis = |joint: usize, sign: i64| {
        let (joints, edit) = (joints.clone(), edit.clone());
        let edits = move |steps: i64| Some(vec![edit(moved(arm, &joints, joint, sign * steps)?)?]);
        Axis { edits: Box::new(edits) }
    };
    (0..arm.len()).flat_map(|joint| [axis(joint, 1), axis(joint, -1)]).collect()
}

pub fn waypoint_axes<'a>(trials: &Trials<'a>, id: &str) -> Vec<Axis<'a>> {
    let project = trials.project;
    let Some(step) = step_of(trials, id) else { return Vec::new() };
    let outcome = &trials.checked.outcome;
    let is_transit = |motion: &&MotionSummary| motion.step == id && motion.kind == MotionKind::Transit;
    let motion = outcome.motions.iter().find(is_transit);
    // A motion's waypoints are its start, those of the step, and its end, where none falls on the one before.
    let motion = motion.filter(|motion| motion.waypoints.len() == step.waypoint.len() + 2);
    let segment = trials.violated().filter_map(|finding| finding.at.as_ref()?.segment).next();
    let is_near = |waypoint: usize| segment.is_none_or(|segment| (waypoint..=waypoint + 1).contains(&segment));
    let near = (0..step.waypoint.len()).filter(|waypoint| motion.is_none() || is_near(*waypoint)).take(WAYPOINTS);
    near.flat_map(|waypoint| {
        let as_found = || motion.map(|motion| as_written(project, &motion.waypoints[waypoint + 1]));
        let Some(joints) = step.waypoint[waypoint].joints.clone().or_else(as_found) else { return Vec::new() };
        let step = id.to_owned();
        joint_axes(trials, joints, move |joints| Some(PlanEdit::SetWaypoint { step: step.clone(), waypoint, joints }))
    })
    .collect()
}

/// The step's waypoints replaced by those of a search.
pub fn new_waypoints(trials: &Trials, id: &str) -> Result<Vec<Vec<PlanEdit>>, Stopped> {
    let scene = Scene::new(trials.project, trials.meshes);
    let walked = walk(&scene);
    let is_transit = |event: &Event| match event {
        Event::Move(moved) if moved.step == id && moved.kind == MotionKind::Transit => Some(moved.clone()),
        _ => None,
    };
    let Some(moved) = walked.events.iter().find_map(is_transit) else { return Ok(Vec::new()) };
    let Some(last) = moved.segments.last() else { return Ok(Vec::new()) };
    let settings = Settings::mending(&trials.project.plan);
    let (_, stop) = trials.ends();
    let Answer::Found(found) = transit(&scene, (&moved, &last.to), &settings, &Silent, stop)? else {
        trials.note_search();
        return Ok(Vec::new());
    };
    let old = step_of(trials, id).map_or(0, |step| step.waypoint.len());
    let mut edits = vec![PlanEdit::RemoveWaypoint { step: id.to_owned(), waypoint: 0 }; old];
    edits.extend(found.waypoints.iter().enumerate().map(|(waypoint, q)| PlanEdit::AddWaypoint {
        step: id.to_owned(),
        waypoint,
        joints: as_written(trials.project, q),
    }));
    Ok(vec![edits])
}

pub fn configuration_axes<'a>(trials: &Trials<'a>, site: &Worksite) -> Vec<Axis<'a>> {
    let worksite = site.id.clone();
    joint_axes(trials, site.joints.clone(), move |joints| {
        Some(PlanEdit::SetConfiguration { worksite: worksite.clone(), joints })
    })
}

/// One joint is changed, and the others follow so that the tip stays; for an arm that can.
pub fn same_plate_axes<'a>(trials: &Trials<'a>, site: &Worksite) -> Vec<Axis<'a>> {
    let project = trials.project;
    let scene = Arc::new(Scene::new(project, trials.meshes));
    let arm = ArmAlone::new(&scene, &site.stand);
    if arm.meets == Meets::Pose && project.arm.joint.len() <= 6 {
        return Vec::new();
    }
    let q = scene.joint_values(&site.joints);
    let goal = Goal { link: arm.tip, structure_from_link: arm.structure_from_tip(&q), meets: arm.meets };
    let worksite = site.id.clone();
    joint_axes(trials, site.joints.clone(), move |joints| {
        let start = scene.joint_values(&joints);
        let search = InverseKinematics { starts: 1, ..InverseKinematics::default() };
        match search.solve(&arm.mechanism, &goal, &start) {
            Solved::Met(q) => {
                Some(PlanEdit::SetConfiguration { worksite: worksite.clone(), joints: as_written(project, &q) })
            }
            Solved::NotFound { .. } => None,
        }
    })
}

/// Other settings of a restraint: one joint by one detent, by two, then two joints by one each.
pub fn detents(trials: &Trials, site: &Worksite, who: Who) -> Vec<Vec<PlanEdit>> {
    let now = match (who, &site.second_crew) {
        (Who::Rider, _) => &site.detents,
        (Who::SecondCrew, Some(second)) => &second.detents,
        (Who::SecondCrew, None) => return Vec::new(),
    };
    let joints = &trials.project.restraint.joint;
    let mut shifts: Vec<Vec<isize>> = Vec::new();
    let still = vec![0; joints.len()];
    for by in 1..=DETENTS.cast_signed() {
        for joint in 0..joints.len() {
            for sign in [1, -1] {
                let mut shift = still.clone();
                shift[joint] = sign * by;
                shifts.push(shift);
            }
        }
    }
    for one in 0..joints.len() {
        for other in one + 1..joints.len() {
            for (a, b) in [(1, 1), (1, -1), (-1, 1), (-1, -1)] {
                let mut shift = still.clone();
                (shift[one], shift[other]) = (a, b);
                shifts.push(shift);
            }
        }
    }
    let set = |shift: Vec<isize>| -> Option<Vec<PlanEdit>> {
        let detents = joints.iter().zip(now).zip(shift).map(|((joint, now), by)| neighbour(joint, *now, by));
        let detents = detents.collect::<Option<Vec<f64>>>()?;
        Some(vec![PlanEdit::SetDetents { worksite: site.id.clone(), who, detents }])
    };
    shifts.into_iter().filter_map(set).collect()
}

/// The detent so many farther on, as the file has it; none at the end.
fn neighbour(joint: &RestraintJoint, now: Angle, by: isize) -> Option<f64> {
    let mut detents: Vec<f64> = joint.detents.iter().map(|detent| (detent.degrees() * 1e9).round() / 1e9).collect();
    detents.sort_by(f64::total_cmp);
    let apart = |detent: &f64| (detent - now.degrees()).abs();
    let at = (0..detents.len()).min_by(|a, b| apart(&detents[*a]).total_cmp(&apart(&detents[*b])))?;
    detents.get(at.checked_add_signed(by)?).copied()
}

/// The other hand, or the better of the two.
pub fn hands(worksite: &str, target: &Target) -> Vec<Vec<PlanEdit>> {
    let others: &[Hands] = match target.hands {
        Hands::Left => &[Hands::Either, Hands::Right],
        Hands::Right => &[Hands::Either, Hands::Left],
        Hands::Either => &[],
        Hands::Both => &[Hands::Either],
    };
    let set = |hands: &Hands| {
        vec![PlanEdit::SetHands { worksite: worksite.to_owned(), target: target.id.clone(), hands: *hands }]
    };
    others.iter().map(set).collect()
}

/// Taller, and shorter; a crewmember with a stature of their own has none of a survey.
pub fn size_axes<'a>(trials: &Trials<'a>, who: Who) -> Vec<Axis<'a>> {
    let plan = &trials.project.plan;
    let crew = match who {
        Who::Rider => &plan.rider,
        Who::SecondCrew => &plan.second_crew,
    };
    if crew.stature.is_none() && crew.measures != crate::model::Measures::default() {
        return Vec::new();
    }
    let now = crew.stature.unwrap_or(Stature { percentile: 50.0, of: Survey::Men });
    let axis = |sign: i64| {
        let edits = move |steps: i64| {
            let percentile = on_grid(now.percentile, sign * steps, 1.0);
            let stature = Some(Stature { percentile, ..now });
            let crew = Crew { stature, ..crew.clone() };
            (1.0..=99.0).contains(&percentile).then(|| vec![PlanEdit::SetCrew { who, crew }])
        };
        Axis { edits: Box::new(edits) }
    };
    vec![axis(1), axis(-1)]
}

/// A target shifted across its axis, two ways and back, on a grid of millimetres.
pub fn target_axes<'a>(worksite: &'a str, target: &'a Target) -> Vec<Axis<'a>> {
    let along = Vector::from(target.axis).normalize();
    // Across the axis, and as near as can be to an axis of the structure.
    let first = [Vector::z(), Vector::x()].into_iter().find(|axis| axis.dot(&along).abs() < 0.9);
    let first = first.map_or_else(Vector::y, |axis| (axis - along * axis.dot(&along)).normalize());
    let second = along.cross(&first);
    let axis = |across: Vector| {
        let edits = move |steps: i64| {
            let at = Vector::from(target.at_m) + across * (steps as f64 / 1000.0);
            let at_m = [at.x, at.y, at.z].map(|value| (value * 1000.0).round() / 1000.0);
            Some(vec![PlanEdit::SetTargetPlace { worksite: worksite.to_owned(), target: target.id.clone(), at_m }])
        };
        Axis { edits: Box::new(edits) }
    };
    [first, -first, second, -second].into_iter().map(axis).collect()
}

/// Each fixed duration of a step, longer and shorter.
pub fn duration_axes<'a>(trials: &Trials<'a>, id: &str) -> Vec<Axis<'a>> {
    let Some(step) = step_of(trials, id) else { return Vec::new() };
    let fixed = step.waypoint.iter().enumerate().filter_map(|(number, at)| Some((number, at.duration_s?)));
    let axis = |waypoint: usize, now: f64, sign: i64| {
        let step = id.to_owned();
        let edits = move |by: i64| {
            let seconds = on_grid(now, sign * by, 1.0);
            (seconds > 0.0).then(|| vec![PlanEdit::SetDuration { step: step.clone(), waypoint, seconds }])
        };
        Axis { edits: Box::new(edits) }
    };
    fixed.flat_map(|(waypoint, now)| [axis(waypoint, now, 1), axis(waypoint, now, -1)]).collect()
}

/// A stand shifted along each axis, or turned about it, either way.
pub fn place_axes<'a>(trials: &Trials<'a>, id: &str) -> Vec<Axis<'a>> {
    let Some(stand) = trials.project.plan.stand.iter().find(|stand| stand.id == *id) else { return Vec::new() };
    let shift = |axis: usize, sign: i64| {
        let edits = move |steps: i64| {
            let mut place = stand.place;
            place.at_m[axis] = on_grid(place.at_m[axis], sign * steps, 1000.0);
            Some(vec![PlanEdit::SetStandPlace { stand: stand.id.clone(), place }])
        };
        Axis { edits: Box::new(edits) }
    };
    let turn = |axis: usize, sign: i64| {
        let edits = move |steps: i64| {
            let mut place = stand.place;
            // Angles about fixed axes say nothing of a quaternion.
            let angles = place.rpy.get_or_insert_default();
            angles[axis] = Angle::from_degrees(on_grid(angles[axis].degrees(), sign * steps, 10.0));
            place.quat_xyzw.is_none().then(|| vec![PlanEdit::SetStandPlace { stand: stand.id.clone(), place }])
        };
        Axis { edits: Box::new(edits) }
    };
    let both = |axis: usize| [shift(axis, 1), shift(axis, -1), turn(axis, 1), turn(axis, -1)];
    (0..3).flat_map(both).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_leads_to_the_next_value_of_the_grid_from_wherever_it_starts() {
        let to = |value: f64, steps: i64| on_grid(value, steps, 10.0);
        assert_eq!((to(75.0, 1), to(75.0, -1)), (75.1, 74.9));
        assert_eq!((to(0.105, 1), to(0.105, -1)), (0.2, 0.1));
        assert_eq!((to(-0.3, 3), to(-0.3, -4)), (0.0, -0.7));
        assert_eq!(on_grid(1.4, 2, 1000.0), 1.402);
    }

    #[test]
    fn a_neighbouring_detent_is_found_by_size_and_there_is_none_at_the_end() {
        let joint = RestraintJoint {
            name: "tilt".to_owned(),
            place: crate::model::Place::default(),
            axis: [0.0, 0.0, 1.0],
            detents: [30.0, -15.0, 0.0].map(Angle::from_degrees).to_vec(),
            shape: Vec::new(),
        };
        let by = |by| neighbour(&joint, Angle::from_degrees(0.0), by);
        assert_eq!((by(1), by(-1), by(0)), (Some(30.0), Some(-15.0), Some(0.0)));
        assert_eq!((by(2), by(-2)), (None, None));
    }
}
