//! Do glove and tool get to the target along its axis?
//!
//! # Question
//! How near does anything come to glove and tool on their straight way to the target?
//! # Law
//! The gloved hand and the tool of the posture at the target, swept back along the target's axis by `access_m`: of each
//! capsule, two triangles grown by its radius, which is exactly what it sweeps. Least signed distance to every other body
//! but the crewmember's own, and but those that the target is on.
//! # Source
//! common practice, no source.
//! # Limits
//! Exact for hand and tool as modelled; the forearm's way is the change of posture's business.
//! # Findings
//! One for each target with a posture and an `access_m`.

use crate::crew::PostureOutcome;
use crate::mechanism::{BodyId, PartId};
use crate::model::Bound;
use crate::space::{Convex, Core, Direction, Point, Pose, Separation, Vector, separation};
use crate::state::{Touch, touch};

use super::case::{Case, StayCase, UseCase};
use super::finding::{Finding, Kind, Moment, Pair, Place, Unit};
use super::judge::{Measure, key};

pub const NAME: &str = "access";

/// Findings of all stays.
pub fn findings(case: &Case) -> Vec<Finding> {
    let mut findings = Vec::new();
    for stay in &case.stays {
        for used in &stay.uses {
            findings.extend(of_use(case, stay, used));
        }
    }
    findings
}

fn of_use(case: &Case, stay: &StayCase, used: &UseCase) -> Option<Finding> {
    let target = used.target.filter(|target| target.access_m > 0.0)?;
    let place = Place::Worksite { worksite: stay.stay.worksite.clone(), step: stay.stay.step.clone() };
    let key = key(NAME, place, Some(stay.stay.who), used.subject.clone());
    let PostureOutcome::Found(posture) = &used.outcome else {
        return Some(Finding::not_checked(key, Unit::Metre, "no posture was found"));
    };
    let measure = Measure::at_least(&case.scene.project.plan.limits.access_m, Unit::Metre, 1.0);
    let back = Direction::new_normalize(Vector::from(target.axis)).into_inner() * -target.access_m;
    let Some((nearest, body, hand)) = nearest(case, stay, used, &posture.q, &back) else {
        return Some(Finding::not_checked(key, Unit::Metre, "nothing else is there"));
    };
    let bound = Bound { lower: nearest.lower, upper: nearest.upper };
    let name = |id: BodyId| used.standing.assembly.name(id).to_owned();
    let (away, classes) = (nearest.normal, [hand, body].map(|id| used.standing.assembly.body(id).class));
    let mut finding = Finding::bounded(key, bound, &measure, (Kind::Nominal, Kind::NotTold)).seen(Moment {
        segment: None,
        segments: None,
        fraction: 0.0,
        seconds: None,
        joints: Vec::new(),
        points: Some([nearest.point_a, nearest.point_b]),
    });
    finding.pair = Some(Pair {
        classes: crate::model::ClassPair::new(classes[0], classes[1]),
        bodies: Some([name(hand), name(body)]),
        situation: None,
    });
    finding.help = Some(format!(
        "{} away from {}, towards ({:+.2}, {:+.2}, {:+.2})",
        name(hand),
        name(body),
        -away.x,
        -away.y,
        -away.z
    ));
    Some(finding)
}

/// The least distance of the swept shapes to any other body: what it is, to which body, of which own body.
fn nearest(
    case: &Case,
    stay: &StayCase,
    used: &UseCase,
    q: &[f64],
    back: &Vector,
) -> Option<(Separation, BodyId, BodyId)> {
    let standing = &used.standing;
    let (frozen, posed) = (&standing.frozen, standing.frozen.pose(q));
    let hands: Vec<_> = used.sides.iter().map(|side| *standing.links.hand.on(*side)).collect();
    let carries = |id: BodyId| frozen.path_inwards(frozen.body(id).link).any(|link| hands.contains(&link));
    let own = |id: BodyId| frozen.path_inwards(frozen.body(id).link).any(|link| link == standing.links.left_boot);
    let contacts = &case.scene.project.plan.contact;
    let mut least: Option<(Separation, BodyId, BodyId)> = None;
    for hand in frozen.body_ids().filter(|id| carries(*id)) {
        let swept: Vec<Convex> = frozen
            .body(hand)
            .parts
            .iter()
            .flat_map(|part| swept(&part.moved(posed.link(frozen.body(hand).link)), back))
            .collect();
        for other in frozen.body_ids().filter(|id| !own(*id)) {
            let pair = (hand, other);
            if matches!(
                touch(&standing.assembly, pair, contacts, &[&stay.stay.step]),
                Some(Touch::InHand(_) | Touch::Declared(_))
            ) {
                continue;
            }
            for part in 0..frozen.body(other).parts.len() {
                let shape = frozen.part(PartId { body: other, part }).posed(posed.link(frozen.body(other).link));
                for convex in &swept {
                    let found = separation(&convex.posed(&Pose::identity()), &shape);
                    if least.as_ref().is_none_or(|(known, _, _)| found.lower < known.lower) {
                        least = Some((found, other, hand));
                    }
                }
            }
        }
    }
    least
}

/// What a capsule or ball sweeps when it moves by a vector; other shapes: both ends of the way.
fn swept(shape: &Convex, by: &Vector) -> Vec<Convex> {
    let grown = |core| Convex { core, radius: shape.radius };
    match &shape.core {
        Core::Point(p) => vec![grown(Core::Segment(*p, p + by))],
        Core::Segment(a, b) => {
            let corners: [Point; 4] = [*a, *b, b + by, a + by];
            vec![
                grown(Core::Triangle([corners[0], corners[1], corners[2]])),
                grown(Core::Triangle([corners[0], corners[2], corners[3]])),
            ]
        }
        _ => unreachable!("hands and tools are balls and capsules"),
    }
}
