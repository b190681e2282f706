//! Do the eyes see it?
//!
//! # Question
//! Which share of the target's disc does the eye see in the posture at the target?
//! # Law
//! A stated grid over the disc of radius `disc_m` about the target, across its axis, set [`BEFORE`] back from it; from
//! the eye a line of sight to each point. A point counts as seen if it lies in the helmet's field of view and no body but
//! the crewmember's own head, helmet and neck is in the way; hands, tool, payload, plate and arm are.
//! # Source
//! common practice, no source.
//! # Limits
//! Sampled: [`RINGS`] rings of 6, 12, 18 … points and the middle. One eye, between the two.
//! # Findings
//! One for each target with a posture.

use crate::crew::PostureOutcome;
use crate::mechanism::{BodyId, PartId};
use crate::space::{Point, PosedConvex, Vector, ray_hits};
use crate::state::Scene;

use super::case::UseCase;
use super::finding::{Finding, Moment, Place, Unit};
use super::judge::{Measure, key};
use super::piece::Piece;

pub const NAME: &str = "sight";

/// Rings of the grid about its middle.
const RINGS: usize = 4;
/// The disc is this far before the target, so that the target's own face does not hide it, m.
const BEFORE: f64 = 5e-3;

/// Findings of a stay.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    let Piece::Stay(stay) = piece else { return Vec::new() };
    let limit = &scene.project.plan.limits.sight_share;
    let measure = Measure::of(limit, Unit::Share);
    let mut findings = Vec::new();
    for used in &stay.uses {
        let Some(target) = &used.target else { continue };
        let place = Place::Worksite { worksite: stay.stay.worksite.clone(), step: stay.stay.step.clone() };
        let key = key(NAME, place, Some(stay.stay.who), used.subject.clone());
        let PostureOutcome::Found(posture) = &used.outcome else {
            findings.push(Finding::not_checked(key, Unit::Share, "no posture was found"));
            continue;
        };
        let axis = Vector::from(target.axis).normalize();
        let middle = Point::from(target.at_m) - axis * BEFORE;
        let seen = look(used, &posture.q, &middle, (&axis, target.disc_m));
        let hides = seen.hides.map(|body| used.standing.frozen.body(body).name.clone());
        let at = Moment {
            segment: None,
            segments: None,
            fraction: 0.0,
            seconds: None,
            joints: Vec::new(),
            points: Some([seen.eye, middle]),
        };
        let mut finding = Finding::sampled(key, seen.share, &measure).seen(at);
        finding.note = Some(format!("{} lines of sight", grid(&middle, &axis, target.disc_m).len()));
        finding.help = hides.map(|name| format!("{name} hides most of what is hidden"));
        findings.push(finding);
    }
    findings
}

struct Seen {
    share: f64,
    eye: Point,
    /// The body that hides most points.
    hides: Option<BodyId>,
}

fn look(used: &UseCase, q: &[f64], middle: &Point, (axis, radius): (&Vector, f64)) -> Seen {
    let standing = &used.standing;
    let posed = standing.frozen.pose(q);
    let eye_pose = posed.link(standing.links.eye);
    let eye = Point::from(eye_pose.translation.vector);
    let reach = (middle - eye).norm() + radius;
    let own_head = |name: &str| ["head", "helmet", "neck"].iter().any(|part| name.ends_with(part));
    let in_the_way: Vec<(BodyId, PosedConvex)> = standing
        .frozen
        .body_ids()
        .filter(|id| {
            let body = standing.frozen.body(*id);
            !(standing.links.bodies.contains(&id.0) && own_head(&body.name))
                && body.class != crate::model::BodyClass::KeepOut
        })
        .flat_map(|id| (0..standing.frozen.body(id).parts.len()).map(move |part| PartId { body: id, part }))
        .filter_map(|part| {
            let shape = standing.frozen.part(part);
            let structure_from_link = posed.link(standing.frozen.body(part.body).link);
            let (centre, ball) = shape.ball();
            let near = (structure_from_link * centre - eye).norm() <= reach + ball;
            near.then(|| (part.body, shape.posed(structure_from_link)))
        })
        .collect();
    let points = grid(middle, axis, radius);
    let mut hidden_by = std::collections::BTreeMap::<BodyId, usize>::new();
    let mut seen = 0;
    for point in &points {
        if !in_view(used, &(eye_pose.inverse() * point)) {
            continue;
        }
        match in_the_way.iter().find(|(_, shape)| ray_hits(&eye, point, shape).is_some()) {
            Some((body, _)) => *hidden_by.entry(*body).or_default() += 1,
            None => seen += 1,
        }
    }
    let hides = hidden_by.into_iter().max_by_key(|(_, count)| *count).map(|(body, _)| body);
    Seen { share: f64::from(seen) / points.len() as f64, eye, hides }
}

/// Whether a point in the eye's frame lies in the helmet's field of view.
fn in_view(used: &UseCase, at: &Point) -> bool {
    let view = &used.standing.links.view;
    let sideways = at.y.atan2(at.x).abs();
    let up = at.z.atan2(at.x.hypot(at.y));
    sideways <= view.sideways && up <= view.up && -up <= view.down
}

/// The middle, and rings of points about it.
fn grid(middle: &Point, axis: &Vector, radius: f64) -> Vec<Point> {
    let flattest = axis.map(f64::abs).imin();
    let across = axis.cross(&Vector::ith(flattest, 1.0)).normalize();
    let other = axis.cross(&across);
    let mut points = vec![*middle];
    for ring in 1..=RINGS {
        let count = 6 * ring;
        let distance = radius * ring as f64 / RINGS as f64;
        points.extend((0..count).map(|k| {
            let angle = std::f64::consts::TAU * k as f64 / count as f64;
            middle + (across * angle.cos() + other * angle.sin()) * distance
        }));
    }
    points
}
