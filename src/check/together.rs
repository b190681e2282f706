//! Which postures of the two crewmembers were never looked at together?
//!
//! Steps are walked one after another, though the two may work at once: while the one moves or works, the other is taken
//! to stand as they last stood. Every stay of the second crew beside a rider says so, with the postures taken.

use std::sync::Arc;

use crate::model::{Deed, Who};
use crate::state::{Scene, Stance, Walk};

use super::finding::{Finding, Place, Unit};
use super::judge::key;

/// The second crew in their restraint, from getting in to getting out.
struct Sojourn {
    step: String,
    worksite: String,
    posture: String,
    rider_acts: bool,
    /// The rider's postures while the second crew works.
    rider: Vec<String>,
}

/// One line "not checked" for each time that both are outside and one of them moves or works.
pub fn findings(scene: &Scene, walk: &Walk) -> Vec<Finding> {
    let (mut rider, mut sojourn, mut told) = (None, None, Vec::new());
    for (number, step) in scene.project.plan.step.iter().enumerate() {
        let id = step.id_at(number);
        let of_step = |stance: &&Arc<Stance>| stance.step == id && stance.who == step.who;
        let taken = walk.stances().rfind(of_step).map(|stance| stance.subject.clone());
        match (step.who, step.deed) {
            (Who::SecondCrew, Deed::Ingress) => {
                told.extend(sojourn.take());
                sojourn = taken.zip(step.to.clone()).map(|(posture, worksite)| Sojourn {
                    step: id,
                    worksite,
                    posture,
                    rider_acts: false,
                    rider: Vec::new(),
                });
                continue;
            }
            (Who::SecondCrew, Deed::Egress) => told.extend(sojourn.take()),
            (Who::SecondCrew, _) => {}
            (Who::Rider, Deed::Egress) => rider = None,
            (Who::Rider, Deed::Take) => rider = step.payload.as_ref().map(|payload| format!("hold of {payload}")),
            (Who::Rider, _) => rider = taken.or(rider),
        }
        let (Some(now), Some(posture)) = (&mut sojourn, &rider) else { continue };
        match step.who {
            Who::Rider => now.rider_acts = true,
            Who::SecondCrew if !now.rider.contains(posture) => now.rider.push(posture.clone()),
            Who::SecondCrew => {}
        }
    }
    told.extend(sojourn);
    told.iter().filter(|sojourn| sojourn.rider_acts || !sojourn.rider.is_empty()).map(not_combined).collect()
}

fn not_combined(of: &Sojourn) -> Finding {
    let mut said = Vec::new();
    if of.rider_acts {
        said.push(format!("while the rider moves and works, the second crew is taken to stand in the {}", of.posture));
    }
    if !of.rider.is_empty() {
        let rider = of.rider.join(", then ");
        said.push(format!("while the second crew works, the rider is taken to stand at rest ({rider})"));
    }
    let place = Place::Worksite { worksite: of.worksite.clone(), step: of.step.clone() };
    let key = key("clearance", place, Some(Who::SecondCrew), "both crewmembers at work at once");
    Finding::not_checked(key, Unit::Metre, said.join("; "))
}
