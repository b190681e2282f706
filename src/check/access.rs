//! Do glove and tool get to the target along its axis?
//!
//! # Question
//! How near does anything come to glove and tool on their straight way to the target?
//! # Law
//! The gloved hand and the tool of the posture at the target, swept back along the target's axis by `access_m`: of each
//! capsule, two triangles grown by its radius, which is exactly what it sweeps. Least signed distance to every other
//! body but the crewmember's own and what the hands hold; what the target is on, and declared contacts, may be entered
//! as far as their greatest overlap.
//! # Source
//! common practice, no source.
//! # Limits
//! Exact for hand and tool as modelled; the forearm's way is the change of posture's business.
//! # Findings
//! One for each target with a posture and an `access_m`, and one for each body that may touch and is entered too deep.

use crate::crew::PostureOutcome;
use crate::mechanism::{BodyId, PartId};
use crate::model::{AtLeast, Bound, ClassPair};
use crate::space::{Convex, Core, Direction, Point, Pose, Separation, Vector, separation};
use crate::state::{Scene, Touch, touch};

use super::case::{StayCase, UseCase};
use super::finding::{Finding, Kind, Moment, Pair, Place, Unit};
use super::judge::{Measure, key};
use super::piece::Piece;

pub const NAME: &str = "access";

/// Distances are right to this, m, and better.
const ROUNDING: f64 = 1e-3;

/// Findings of a stay.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    let Piece::Stay(stay) = piece else { return Vec::new() };
    stay.uses.iter().flat_map(|used| of_use(scene, stay, used)).collect()
}

fn of_use(scene: &Scene, stay: &StayCase, used: &UseCase) -> Vec<Finding> {
    let Some(target) = used.target.as_ref().filter(|target| target.access_m > 0.0) else { return Vec::new() };
    let key_of = |subject: String| {
        let place = Place::Worksite { worksite: stay.stay.worksite.clone(), step: stay.stay.step.clone() };
        key(NAME, place, Some(stay.stay.who), subject)
    };
    let PostureOutcome::Found(posture) = &used.outcome else {
        return vec![Finding::not_checked(key_of(used.subject.clone()), Unit::Metre, "no posture was found")];
    };
    let back = Direction::new_normalize(Vector::from(target.axis)).into_inner() * -target.access_m;
    let met = all_met(scene, stay, used, &posture.q, &back);
    let nearest =
        met.iter().filter(|met| met.may_overlap.is_none()).min_by(|a, b| a.nearest.lower.total_cmp(&b.nearest.lower));
    let free = match nearest {
        Some(met) => of_met(used, met, &scene.project.plan.limits.access_m, key_of(used.subject.clone())),
        None => Finding::not_checked(key_of(used.subject.clone()), Unit::Metre, "nothing else is there"),
    };
    let too_deep = met.iter().filter_map(|met| {
        let overlap = met.may_overlap.filter(|overlap| met.nearest.lower < -overlap)?;
        let limit = AtLeast { tight: Some(0.0), ..AtLeast::new(-overlap) };
        let [hand, other] = met.bodies.map(|id| used.standing.assembly.name(id));
        Some(of_met(used, met, &limit, key_of(format!("{}: {hand} – {other} (contact)", used.subject))))
    });
    std::iter::once(free).chain(too_deep).collect()
}

/// Glove or tool, and what they come nearest to on their way.
struct Met {
    nearest: Separation,
    /// The hand's body, and the other.
    bodies: [BodyId; 2],
    /// Greatest overlap of the two, where they may touch, m.
    may_overlap: Option<f64>,
}

fn of_met(used: &UseCase, met: &Met, limit: &AtLeast, key: super::finding::Key) -> Finding {
    let assembly = &used.standing.assembly;
    let measure = Measure::of(limit, Unit::Metre);
    let bound = Bound { lower: met.nearest.lower, upper: met.nearest.upper };
    let [hand, other] = met.bodies.map(|id| assembly.name(id).to_owned());
    let [hand_class, other_class] = met.bodies.map(|id| assembly.body(id).class);
    let away = -met.nearest.normal.into_inner();
    let mut finding = Finding::bounded(key, bound, &measure, (Kind::Nominal, Kind::NotTold)).seen(Moment {
        segment: None,
        segments: None,
        fraction: 0.0,
        seconds: None,
        joints: Vec::new(),
        points: Some([met.nearest.point_a, met.nearest.point_b]),
    });
    finding.help = Some(format!("{hand} away from {other}, towards ({:+.2}, {:+.2}, {:+.2})", away.x, away.y, away.z));
    finding.pair =
        Some(Pair { classes: ClassPair::new(hand_class, other_class), bodies: Some([hand, other]), situation: None });
    finding
}

/// The least distance of the swept shapes of hand and tool to every other body that may be the nearest, or is touched.
fn all_met(scene: &Scene, stay: &StayCase, used: &UseCase, q: &[f64], back: &Vector) -> Vec<Met> {
    let standing = &used.standing;
    let plan = &scene.project.plan;
    let (frozen, posed) = (&standing.frozen, standing.frozen.pose(q));
    let hands: Vec<_> = used.sides.iter().map(|side| *standing.links.hand.on(*side)).collect();
    let carries = |id: BodyId| frozen.path_inwards(frozen.body(id).link).any(|link| hands.contains(&link));
    let own = |id: BodyId| frozen.path_inwards(frozen.body(id).link).any(|link| link == standing.links.left_boot);
    let (mut met, mut least) = (Vec::new(), f64::INFINITY);
    for hand in frozen.body_ids().filter(|id| carries(*id)) {
        let link = posed.link(frozen.body(hand).link);
        let swept: Vec<Convex> =
            frozen.body(hand).parts.iter().flat_map(|part| swept(&part.moved(link), back)).collect();
        for other in frozen.body_ids().filter(|id| !own(*id)) {
            let bodies = [hand, other];
            let may_overlap = match touch(&standing.assembly, (hand, other), &plan.contact, &[&stay.stay.step]) {
                Some(Touch::InHand(_)) => continue,
                Some(Touch::Declared(contact)) => Some(contact.overlap_m),
                Some(Touch::OnTarget) => Some(plan.limits.overlap_on_target_m.value),
                Some(Touch::Neighbours(_)) | None => None,
            };
            let link = posed.link(frozen.body(other).link);
            let parts = (0..frozen.body(other).parts.len()).map(|part| PartId { body: other, part });
            // What balls tell to be farther away than the nearest so far, or not to touch, decides nothing.
            let of_interest = if may_overlap.is_some() { 0.0 } else { least } + ROUNDING;
            let pairs = parts.flat_map(|part| swept.iter().map(move |convex| (convex, frozen.part(part))));
            let near = pairs.filter(|(convex, shape)| {
                let [(a, a_radius), (b, b_radius)] = [convex.ball(), shape.ball()];
                (a - link * b).norm() - a_radius - b_radius <= of_interest
            });
            let distances =
                near.map(|(convex, shape)| separation(&convex.posed(&Pose::identity()), &shape.posed(link)));
            let nearest = distances.min_by(|a, b| a.lower.total_cmp(&b.lower));
            let free = nearest.as_ref().filter(|_| may_overlap.is_none());
            least = free.map_or(least, |nearest| least.min(nearest.lower));
            met.extend(nearest.map(|nearest| Met { nearest, bodies, may_overlap }));
        }
    }
    met
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
