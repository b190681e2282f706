//! Is there a posture, and does the suit allow it?
//!
//! # Question
//! For each target, and for standing and being carried: do boots stand on the plate, hands meet target or handles, eyes see it within the helmet's field of
//! view, every body joint stay in its range, and nothing overlap?
//! # Law
//! See [`crate::crew::Crewmember::solve`]: bounded least squares, counted only if forward kinematics of the rounded
//! values alone meets every condition. The value is the least distance of a body joint from the end of its range.
//! # Source
//! Ranges: the suit file's, else invented defaults, which say so.
//! # Limits
//! A posture that was not found in the starts is not proven not to exist.
//! # Findings
//! One for each target and payload handled, and one for each posture to stand or be carried in, at its step.

use crate::crew::{Crewmember, Fault, JOINTS, NoPosture, PostureOutcome, PostureSearch, Side, Surroundings};
use crate::mechanism::BodyId;
use crate::state::{Scene, Standing};

use super::advice;
use super::case::{StayCase, UseCase};
use super::finding::{Finding, Key, Kind, Place, Unit};
use super::judge::{Measure, key};
use super::piece::Piece;
use super::stance::StanceCase;

pub const NAME: &str = "posture";

/// Findings of a stay, or of a posture to stand or be carried in.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    match piece {
        Piece::Stay(stay) => stay.uses.iter().map(|used| of_use(scene, stay, used)).collect(),
        Piece::Stance(stance) => vec![of_stance(scene, stance)],
        Piece::Move(_) | Piece::Rest(_) => Vec::new(),
    }
}

fn of_use(scene: &Scene, stay: &StayCase, used: &UseCase) -> Finding {
    let place = Place::Worksite { worksite: stay.stay.worksite.clone(), step: stay.stay.step.clone() };
    let key = key(NAME, place, Some(stay.stay.who), used.subject.clone());
    of_outcome(scene, key, &used.standing, &used.outcome, |fault| help(scene, stay, used, fault))
}

fn of_stance(scene: &Scene, stance: &StanceCase) -> Finding {
    let key = key(NAME, stance.place(), Some(stance.stance.who), stance.stance.subject.clone());
    let help = |_: &Fault| "another posture, another detent, or a place of the plate that leaves more room".to_owned();
    of_outcome(scene, key, &stance.standing, &stance.stance.outcome, help)
}

fn of_outcome(
    scene: &Scene,
    key: Key,
    standing: &Standing,
    outcome: &PostureOutcome,
    help: impl Fn(&Fault) -> String,
) -> Finding {
    let limits = &scene.project.plan.limits;
    // A joint at the end of its range is a posture; only a stated band tells it from a comfortable one.
    let measure = Measure::of(&limits.body_joint, Unit::Radian).with_default_band(&limits.body_joint, 0.0);
    match outcome {
        PostureOutcome::Found(posture) => {
            let ranges = standing.frozen.ranges();
            let nearest = posture
                .q
                .iter()
                .zip(&ranges)
                .zip(JOINTS)
                .map(|((value, range), joint)| (range.margin(*value), joint))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let (margin, joint) = nearest.expect("a body has joints");
            Finding::exact(key, margin, &measure)
                .noted(format!("{} is nearest to the end of its range", joint.replace('-', " ")))
                .helped(Some("another detent, or a place of the plate nearer to the target".to_owned()))
        }
        PostureOutcome::NotFound(no) => {
            Finding::failed(key, &measure, Kind::NotFound, why(standing, no)).helped(Some(help(&no.fault)))
        }
    }
}

fn why(standing: &Standing, no: &NoPosture) -> String {
    let name = |body| standing.assembly.name(body);
    let side = |side: &Side| side.word();
    let nearest = match &no.fault {
        Fault::Boot { distance, .. } => format!("the right boot stays {:.0} mm off the plate", distance * 1e3),
        Fault::Hand { side: of, distance } => format!("the {} hand stays {:.0} mm short", side(of), distance * 1e3),
        Fault::Axis { side: of, .. } => format!("the {} hand's axis stays outside its cone", side(of)),
        Fault::Joint { joint, .. } => format!("{} leaves its range", joint.replace('-', " ")),
        Fault::Gaze { .. } => "the target stays outside the helmet's field of view".to_owned(),
        Fault::Unsolved => "everything is nearly met".to_owned(),
        Fault::Overlap(pairs) => {
            let pairs: Vec<String> = pairs.iter().map(|(a, b)| format!("{} and {}", name(*a), name(*b))).collect();
            format!("{} overlap", pairs.join(", "))
        }
    };
    format!("not found in {} starts; at the nearest, {nearest}", no.starts)
}

fn help(scene: &Scene, stay: &StayCase, used: &UseCase, fault: &Fault) -> String {
    match fault {
        Fault::Overlap(pairs) => return advice::of_overlap(used, pairs),
        Fault::Gaze { .. } => return "a plate that puts the target before the face".to_owned(),
        Fault::Boot { .. } | Fault::Hand { .. } | Fault::Axis { .. } | Fault::Joint { .. } | Fault::Unsolved => {}
    }
    let far = || {
        let reach = used.reach.as_ref()?;
        let farthest = reach.found.as_ref().map_or(reach.upper, |(farthest, _)| *farthest);
        (farthest < 0.0).then(|| advice::nearer(used, -farthest))?
    };
    let blocked = || in_the_way(scene, stay, used).map(|pairs| advice::of_overlap(used, &pairs));
    let otherwise = || match fault {
        Fault::Axis { .. } => "a wider cone, the other hand, or a plate turned towards the target's axis".to_owned(),
        _ => "another detent, or a place of the plate nearer to the target".to_owned(),
    };
    advice::of_target(used).or_else(far).or_else(blocked).unwrap_or_else(otherwise)
}

/// The pairs that overlap in a posture that would do if nothing stood around; none where not even that is found.
fn in_the_way(scene: &Scene, stay: &StayCase, used: &UseCase) -> Option<Vec<(BodyId, BodyId)>> {
    let nothing = Surroundings::none();
    let alone = Crewmember::new(&used.standing.frozen, &used.standing.links, &nothing);
    let PostureOutcome::Found(posture) = alone.solve(&used.task, &PostureSearch::default()) else { return None };
    let steps = [stay.stay.step.as_str()];
    match used.standing.ask(scene, &steps, |crew| crew.verify(&used.task, &posture.q)) {
        Err(Fault::Overlap(pairs)) => Some(pairs),
        Ok(_) | Err(_) => None,
    }
}
