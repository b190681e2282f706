//! Is there a way to a visit, and with which waypoints?
//!
//! # Law
//! All that happens between two visits is checked as the plan has it: the rider's change into the posture to be carried,
//! setting the restraint, retreat and approach. A transit without waypoints is clear as it is, or gets waypoints that make it so
//! ([`super::transit`]).

use std::sync::atomic::AtomicBool;

use serde::{Deserialize, Serialize};

use crate::check::{Case, Finding, Known, Place, SPEED, Silent, Stopped};
use crate::files::Meshes;
use crate::model::{Project, Who};
use crate::state::{Event, Moment, MotionKind, Scene, Walk, walk_steps};

use super::answer::{Answer, Found};
use super::transit::{Settings, transit};
use super::violation::Violation;
use super::visit::Visit;

/// A way to a visit.
#[derive(Clone, Debug, Default, Deserialize, PartialEq, Serialize)]
pub struct Way {
    /// The transit that was looked for; none where the plan has the waypoints.
    pub found: Option<Found>,
    /// What the transit costs, by the objective, s.
    pub cost: f64,
    /// By how much the step's motions take longer than they may, s.
    pub late: f64,
    /// Whether the transit was bettered as far as it goes.
    pub thorough: bool,
}

/// Why there is no way to a visit.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub enum NoWay {
    /// A motion that is given breaks limits.
    Violated(Vec<Violation>),
    /// The transit was not found, or cannot be.
    Transit(Answer),
}

/// Looks for a way to a visit of a plan, from what is the case before; a `thorough` one is bettered as far as it goes.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn way(
    (project, meshes): (&Project, &Meshes),
    (visit, before): (&Visit, &Moment),
    thorough: bool,
    stop: &AtomicBool,
) -> Result<Result<Way, NoWay>, Stopped> {
    if visit.is_ingress(project) {
        return Ok(Ok(Way::default()));
    }
    let scene = Scene::new(project, meshes);
    let (walk, _) = walk_steps(&scene, before.clone(), visit.arriving..visit.arriving + 1);
    let is_open = project.plan.step[visit.arriving].waypoint.is_empty();
    let (crossing, given): (Vec<Event>, Vec<Event>) = walk
        .events
        .into_iter()
        .filter(is_riders)
        .partition(|event| matches!(event, Event::Move(moved) if is_open && moved.kind == MotionKind::Transit));
    let rests = walk.rests.into_iter().filter(|rest| rest.who == Who::Rider).collect();
    let walk = Walk { events: given, rests };
    let case = Case::new((&scene, &walk), &Known::default(), &Silent, stop)?;
    // How late the step is is counted below, with the transit.
    let is_of_time = |finding: &Finding| finding.key.check == SPEED && matches!(finding.key.place, Place::Step { .. });
    let breaks = |finding: &Finding| finding.status.is_violation() && !is_of_time(finding);
    let violations: Vec<Violation> = case.findings().iter().filter(|found| breaks(found)).map(Violation::of).collect();
    if !violations.is_empty() {
        return Ok(Err(NoWay::Violated(violations)));
    }
    let as_given = || {
        let transits = case.moves.iter().filter(|moved| moved.moved.kind == MotionKind::Transit);
        Way { cost: transits.filter_map(|moved| moved.seconds()).sum(), ..Way::default() }
    };
    let Some(Event::Move(crossing)) = crossing.first() else { return Ok(Ok(as_given())) };
    let Some(last) = crossing.segments.last() else { return Ok(Ok(as_given())) };
    let settings = if thorough { Settings::thorough(&project.plan) } else { Settings::quick(&project.plan) };
    match transit(&scene, (crossing, &last.to), &settings, &Silent, stop)? {
        Answer::Found(found) => {
            let moves = case.moves.iter().filter(|moved| moved.moved.kind.is_of_arm());
            let given: Option<f64> = moves.map(|moved| moved.seconds()).sum();
            let seconds = given.zip(found.seconds).map(|(given, way)| given + way);
            let at_most = project.plan.step[visit.arriving].at_most_min.map(|minutes| 60.0 * minutes);
            let late = seconds.zip(at_most).map_or(0.0, |(seconds, at_most)| (seconds - at_most).max(0.0));
            let cost = settings.objective.cost(found.seconds.unwrap_or(0.0), found.waypoints.len(), found.margin);
            Ok(Ok(Way { found: Some(found), cost, late, thorough }))
        }
        no => Ok(Err(NoWay::Transit(no))),
    }
}

/// Whether an event is not about the second crew's posture.
fn is_riders(event: &Event) -> bool {
    !matches!(event, Event::Stance(stance) if stance.who == Who::SecondCrew)
}
