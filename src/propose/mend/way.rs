//! Which kinds of change can bear on a violation, and which values do they take?
//!
//! Joint values change on the grid that operators key in, 0.1° and 1 mm; restraints by detents; sizes of the crew by whole
//! percentiles.

use std::fmt;
use std::sync::Arc;

use crate::check::{ACCESS, Finding, LINE, MotionKind, MotionSummary, POSTURE, Pair, Place, Silent, Stopped};
use crate::mechanism::{Goal, InverseKinematics, Meets, Solved};
use crate::model::{
    Angle, ArmJoint, BodyClass, Crew, Deed, Hands, JointKind, PlanEdit, RestraintJoint, Stature, Survey, Target, Who,
    Worksite,
};
use crate::propose::{Answer, Settings, as_written, transit};
use crate::space::Vector;
use crate::state::{ArmAlone, Event, Scene, walk};

use super::least::{Axis, Least, along, first};
use super::trial::Trials;

/// About so many plans are checked for one way; for the progress bar alone.
pub const EXPECTED_TRIALS: u64 = 30;

/// Joint values by so many steps of the grid.
const JOINT_STEPS: [i64; 3] = [4, 16, 64];
/// Places of stands likewise.
const PLACE_STEPS: [i64; 3] = [2, 8, 32];
/// Places of targets likewise.
const TARGET_STEPS: [i64; 3] = [2, 6, 18];
/// Fixed durations by so many seconds.
const SECONDS: [i64; 4] = [1, 8, 64, 512];
/// Percentiles of stature likewise.
const PERCENTILES: [i64; 3] = [3, 9, 27];
/// Waypoints of a step that are tried; those next to where it is worst, where that is known.
const WAYPOINTS: usize = 4;
/// Neighbouring settings of a restraint are tried as far as so many detents.
const DETENTS: usize = 2;

/// A kind of change, and of what.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Way {
    /// One joint of one waypoint.
    Waypoint { step: String },
    /// The fixed duration of one segment.
    Duration { step: String },
    /// All waypoints anew.
    NewWaypoints { step: String },
    /// One joint of the arm at a worksite.
    Configuration { worksite: String },
    /// The arm at a worksite in another configuration that holds the plate where it is.
    SamePlate { worksite: String },
    /// The restraint's settings at a worksite.
    Detents { worksite: String, who: Who },
    /// Which hand does a target.
    Hands { worksite: String, target: String },
    /// Where a target is worked on, across the direction in which the tool pushes.
    TargetPlace { worksite: String, target: String },
    /// The stature of a crewmember.
    Size { who: Who },
    /// The stand from which a worksite is served.
    Stand { worksite: String },
    /// Where a stand is.
    StandPlace { stand: String },
}

impl fmt::Display for Way {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let crew = |who: &Who| match who {
            Who::Rider => "rider",
            Who::SecondCrew => "second crew",
        };
        match self {
            Self::Waypoint { step } => write!(f, "one joint of a waypoint of {step}"),
            Self::Duration { step } => write!(f, "a fixed duration of {step}"),
            Self::NewWaypoints { step } => write!(f, "other waypoints of {step}"),
            Self::Configuration { worksite } => write!(f, "one joint of the arm at {worksite}"),
            Self::SamePlate { worksite } => write!(f, "the arm at {worksite}, the plate where it is"),
            Self::Detents { worksite, who } => write!(f, "the {}'s detents at {worksite}", crew(who)),
            Self::Hands { worksite, target } => write!(f, "the hands at {target} of {worksite}"),
            Self::TargetPlace { worksite, target } => {
                write!(f, "the place of {target} of {worksite}, if the work can be done there")
            }
            Self::Size { who } => write!(f, "the size of the {}", crew(who)),
            Self::Stand { worksite } => write!(f, "the stand that serves {worksite}"),
            Self::StandPlace { stand } => write!(f, "the place of {stand}"),
        }
    }
}

/// Checks that a hand or tool without room violates.
const NO_ROOM: [&str; 2] = [POSTURE, ACCESS];

/// The ways that can bear on a cause, those first that ask least of the crew and cost least to try.
pub fn ways(trials: &Trials) -> Vec<Way> {
    match &trials.cause.place {
        Place::Worksite { worksite, .. } => at_worksite(trials, worksite),
        Place::Motion { motion } => {
            let motion = trials.checked.outcome.motions.iter().find(|known| known.id == *motion);
            motion.map_or_else(Vec::new, |motion| of_motion(trials, &motion.step, motion.kind))
        }
        Place::Step { step } => of_motion(trials, step, MotionKind::Transit),
    }
}

fn at_worksite(trials: &Trials, id: &str) -> Vec<Way> {
    let plan = &trials.project.plan;
    let Some(site) = plan.worksite.iter().find(|site| site.id == id) else { return Vec::new() };
    let worksite = || id.to_owned();
    let who = trials.cause.who.unwrap_or_default();
    let is_violated = |target: &&Target| violated(trials).any(|finding| finding.key.subject.contains(&target.id));
    let own: Vec<&Target> = site.target.iter().filter(|target| target.who == who).filter(is_violated).collect();
    let others = own.iter().filter(|target| !hands(id, target).is_empty());
    let mut ways: Vec<Way> =
        others.map(|target| Way::Hands { worksite: worksite(), target: target.id.clone() }).collect();
    if who == Who::Rider {
        ways.push(Way::Configuration { worksite: worksite() });
        ways.push(Way::SamePlate { worksite: worksite() });
    }
    ways.push(Way::Detents { worksite: worksite(), who });
    ways.push(Way::Size { who });
    if who == Who::Rider {
        ways.push(Way::Stand { worksite: worksite() });
    }
    // Where the hand has no room, the work may have some beside it; how far a hand reaches is no reason to move it.
    if NO_ROOM.contains(&trials.cause.check) {
        ways.extend(own.iter().map(|target| Way::TargetPlace { worksite: worksite(), target: target.id.clone() }));
    }
    ways
}

fn of_motion(trials: &Trials, id: &str, kind: MotionKind) -> Vec<Way> {
    let steps = &trials.project.plan.step;
    let Some(number) = (0..steps.len()).find(|number| steps[*number].id_at(*number) == id) else { return Vec::new() };
    let step = &steps[number];
    let arrives = |deed: Deed| matches!(deed, Deed::Ingress | Deed::Transit);
    let to = step.to.clone().filter(|_| arrives(step.deed));
    let before = steps[..number].iter().rev().find(|before| before.who == step.who && arrives(before.deed));
    let from = before.and_then(|before| before.to.clone());
    let ends = match kind {
        MotionKind::Retreat | MotionKind::Base => vec![from],
        MotionKind::Approach | MotionKind::Setting => vec![to],
        MotionKind::Transit => vec![from, to],
    };
    let ends: Vec<String> = ends.into_iter().flatten().collect();
    let mut ways = Vec::new();
    if kind == MotionKind::Transit && step.deed == Deed::Transit {
        ways.push(Way::Waypoint { step: id.to_owned() });
        if step.waypoint.iter().any(|waypoint| waypoint.duration_s.is_some()) {
            ways.push(Way::Duration { step: id.to_owned() });
        }
        ways.push(Way::NewWaypoints { step: id.to_owned() });
    }
    if kind == MotionKind::Setting {
        ways.extend(ends.iter().map(|worksite| Way::Detents { worksite: worksite.clone(), who: Who::Rider }));
    }
    let stand = if kind == MotionKind::Base { step.stand.clone() } else { None };
    ways.extend(stand.map(|stand| Way::StandPlace { stand }));
    for worksite in &ends {
        ways.push(Way::Configuration { worksite: worksite.clone() });
        ways.push(Way::SamePlate { worksite: worksite.clone() });
    }
    // Joints, times and lines of the arm are the same whoever it carries, and however.
    let pairs = || violated(trials).filter_map(|finding| finding.pair.as_ref());
    if kind != MotionKind::Setting && pairs().next().is_some() {
        ways.extend(ends.iter().map(|worksite| Way::Detents { worksite: worksite.clone(), who: Who::Rider }));
    }
    for (who, class) in [(Who::Rider, BodyClass::Rider), (Who::SecondCrew, BodyClass::SecondCrew)] {
        let is_theirs = |pair: &Pair| <[BodyClass; 2]>::from(pair.classes.classes()).contains(&class);
        if pairs().any(is_theirs) {
            ways.push(Way::Size { who });
        }
    }
    if trials.cause.check == LINE {
        ways.extend(ends.into_iter().map(|worksite| Way::Stand { worksite }));
    }
    ways
}

fn violated<'t>(trials: &'t Trials) -> impl Iterator<Item = &'t Finding> {
    let findings = trials.checked.outcome.findings.iter();
    findings.filter(|finding| finding.status.is_violation() && trials.cause.holds(&finding.key))
}

impl Way {
    /// The least change of this kind that mends.
    ///
    /// # Errors
    /// [`Stopped`] when the flag goes up.
    pub fn least(&self, trials: &Trials) -> Result<Option<Least>, Stopped> {
        let plan = &trials.project.plan;
        let site = |id: &str| plan.worksite.iter().find(|site| site.id == id);
        match self {
            Self::Waypoint { step } => along(&waypoint_axes(trials, step), &JOINT_STEPS, trials),
            Self::Duration { step } => along(&duration_axes(trials, step), &SECONDS, trials),
            Self::NewWaypoints { step } => first(new_waypoints(trials, step)?, trials),
            Self::Configuration { worksite } => {
                let axes = site(worksite).map_or_else(Vec::new, |site| configuration_axes(trials, site));
                along(&axes, &JOINT_STEPS, trials)
            }
            Self::SamePlate { worksite } => {
                let axes = site(worksite).map_or_else(Vec::new, |site| same_plate_axes(trials, site));
                along(&axes, &JOINT_STEPS, trials)
            }
            Self::Detents { worksite, who } => {
                first(site(worksite).map_or_else(Vec::new, |site| detents(trials, site, *who)), trials)
            }
            Self::Hands { worksite, target } => {
                let target = site(worksite).and_then(|site| site.target.iter().find(|known| known.id == *target));
                first(target.map_or_else(Vec::new, |target| hands(worksite, target)), trials)
            }
            Self::TargetPlace { worksite, target } => {
                let target = site(worksite).and_then(|site| site.target.iter().find(|known| known.id == *target));
                let axes = target.map_or_else(Vec::new, |target| target_axes(worksite, target));
                along(&axes, &TARGET_STEPS, trials)
            }
            Self::Size { who } => along(&size_axes(trials, *who), &PERCENTILES, trials),
            Self::Stand { worksite } => {
                let served = site(worksite).map_or("", |site| site.stand.as_str());
                let others = plan.stand.iter().filter(|stand| stand.id != served);
                let set =
                    |stand: &String| vec![PlanEdit::SetStand { worksite: worksite.clone(), stand: stand.clone() }];
                first(others.map(|stand| set(&stand.id)).collect(), trials)
            }
            Self::StandPlace { stand } => along(&place_axes(trials, stand), &PLACE_STEPS, trials),
        }
    }
}

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

fn waypoint_axes<'a>(trials: &Trials<'a>, id: &str) -> Vec<Axis<'a>> {
    let project = trials.project;
    let steps = project.plan.step.iter().enumerate();
    let Some((_, step)) = steps.clone().find(|(number, step)| step.id_at(*number) == id) else { return Vec::new() };
    let outcome = &trials.checked.outcome;
    let is_transit = |motion: &&MotionSummary| motion.step == id && motion.kind == MotionKind::Transit;
    let motion = outcome.motions.iter().find(is_transit);
    // A motion's waypoints are its start, those of the step, and its end, where none falls on the one before.
    let motion = motion.filter(|motion| motion.waypoints.len() == step.waypoint.len() + 2);
    let segment = violated(trials).filter_map(|finding| finding.at.as_ref()?.segment).next();
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
fn new_waypoints(trials: &Trials, id: &str) -> Result<Vec<Vec<PlanEdit>>, Stopped> {
    let scene = Scene::new(trials.project, trials.meshes);
    let walked = walk(&scene);
    let is_transit = |event: &Event| match event {
        Event::Move(moved) if moved.step == id && moved.kind == MotionKind::Transit => Some(moved.clone()),
        _ => None,
    };
    let Some(moved) = walked.events.iter().find_map(is_transit) else { return Ok(Vec::new()) };
    let Some(last) = moved.segments.last() else { return Ok(Vec::new()) };
    let settings = Settings { seed: trials.project.plan.seed, nodes: NODES, ..Settings::default() };
    let (_, stop) = trials.ends();
    let Answer::Found(found) = transit(&scene, (&moved, &last.to), &settings, &Silent, stop)? else {
        trials.note_search();
        return Ok(Vec::new());
    };
    let steps = trials.project.plan.step.iter().enumerate();
    let old = steps.clone().find(|(number, step)| step.id_at(*number) == id).map_or(0, |(_, step)| step.waypoint.len());
    let mut edits = vec![PlanEdit::RemoveWaypoint { step: id.to_owned(), waypoint: 0 }; old];
    edits.extend(found.waypoints.iter().enumerate().map(|(waypoint, q)| PlanEdit::AddWaypoint {
        step: id.to_owned(),
        waypoint,
        joints: as_written(trials.project, q),
    }));
    Ok(vec![edits])
}

/// Most nodes of the search for other waypoints.
const NODES: usize = 10_000;

fn configuration_axes<'a>(trials: &Trials<'a>, site: &Worksite) -> Vec<Axis<'a>> {
    let worksite = site.id.clone();
    joint_axes(trials, site.joints.clone(), move |joints| {
        Some(PlanEdit::SetConfiguration { worksite: worksite.clone(), joints })
    })
}

/// One joint is changed, and the others follow so that the tip stays; for an arm that can.
fn same_plate_axes<'a>(trials: &Trials<'a>, site: &Worksite) -> Vec<Axis<'a>> {
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
fn detents(trials: &Trials, site: &Worksite, who: Who) -> Vec<Vec<PlanEdit>> {
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
fn hands(worksite: &str, target: &Target) -> Vec<Vec<PlanEdit>> {
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
fn size_axes<'a>(trials: &Trials<'a>, who: Who) -> Vec<Axis<'a>> {
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
fn target_axes<'a>(worksite: &'a str, target: &'a Target) -> Vec<Axis<'a>> {
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
fn duration_axes<'a>(trials: &Trials<'a>, id: &str) -> Vec<Axis<'a>> {
    let steps = trials.project.plan.step.iter().enumerate();
    let Some((_, step)) = steps.clone().find(|(number, step)| step.id_at(*number) == id) else { return Vec::new() };
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
fn place_axes<'a>(trials: &Trials<'a>, id: &str) -> Vec<Axis<'a>> {
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
