//! Which kinds of change can bear on a violation?

use std::fmt;

use crate::check::{ACCESS, LINE, MotionKind, POSTURE, Pair, Place, Stopped};
use crate::model::{BodyClass, Deed, PlanEdit, Target, Who};

use super::least::{Least, along, first};
use super::trial::Trials;
use super::values::{
    DETENTS, configuration_axes, detents, duration_axes, hands, new_waypoints, place_axes, same_plate_axes, size_axes,
    target_axes, waypoint_axes,
};

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

impl Way {
    /// Whether it changes what is done, not how: where a target is, or which hand does it.
    pub fn changes_task(&self) -> bool {
        matches!(self, Self::TargetPlace { .. } | Self::Hands { .. })
    }

    /// How far its values are changed at most; none where all that there are were tried.
    pub fn farthest(&self) -> Option<String> {
        let last = |steps: &[i64]| steps.last().copied().unwrap_or_default();
        let by_grid = |steps: &[i64]| format!("{}° or {} mm", last(steps) as f64 / 10.0, last(steps));
        match self {
            Self::Waypoint { .. } | Self::Configuration { .. } => Some(by_grid(&JOINT_STEPS)),
            Self::StandPlace { .. } => Some(by_grid(&PLACE_STEPS)),
            Self::TargetPlace { .. } => Some(format!("{} mm", last(&TARGET_STEPS))),
            Self::Duration { .. } => Some(format!("{} s", last(&SECONDS))),
            Self::Size { .. } => Some(format!("{} percentiles", last(&PERCENTILES))),
            Self::Detents { .. } => Some(format!("{DETENTS} detents")),
            Self::NewWaypoints { .. } | Self::SamePlate { .. } | Self::Hands { .. } | Self::Stand { .. } => None,
        }
    }
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
    let is_violated = |target: &&Target| trials.violated().any(|finding| finding.key.subject.contains(&target.id));
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
    let Some(number) = trials.project.plan.step_number(id) else { return Vec::new() };
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
    let pairs = || trials.violated().filter_map(|finding| finding.pair.as_ref());
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
