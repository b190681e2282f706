//! Do the hands work inside the plan's own envelope?
//!
//! # Question
//! Is the grip of each hand inside one of the cylinders that the plan states before the chest?
//! # Law
//! In the frame between the shoulders of the neutral posture on this plate (x forward, y left, z up along the trunk),
//! the margin of a point in a cylinder of radius r and length L is min(r − ρ, L/2 − |h|); of several cylinders the best.
//! # Source
//! The plan's own; where it gives none, nothing is checked.
//! # Limits
//! Independent of the posture that was found: it asks only where the target is.
//! # Findings
//! One for each target and hand, if the plan states an envelope for one hand or for both.

use crate::model::{AtLeast, Envelope};
use crate::space::{Point, Pose, Vector};
use crate::state::{Scene, Standing};

use super::case::UseCase;
use super::finding::{Finding, Place, Unit};
use super::judge::{Measure, key};
use super::piece::Piece;

pub const NAME: &str = "envelope";

/// Findings of a stay.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    let Piece::Stay(stay) = piece else { return Vec::new() };
    let envelopes = &scene.project.plan.limits.envelope;
    let mut findings = Vec::new();
    for used in &stay.uses {
        let both = used.task.grips.len() > 1;
        let fitting: Vec<&Envelope> = envelopes.iter().filter(|envelope| envelope.both_hands == both).collect();
        for grip in &used.task.grips {
            let at = grip.axis.map_or(grip.at, |(axis, _)| grip.at - axis.into_inner() * grip.tool);
            let in_chest = in_chest(used, &at);
            let Some((margin, envelope)) = best(&fitting, &in_chest) else { continue };
            let place = Place::Worksite { worksite: stay.stay.worksite.clone(), step: stay.stay.step.clone() };
            let subject = format!("{}, {} hand in {}", used.subject, grip.side.word(), envelope.id);
            let limit = AtLeast { value: 0.0, tight: None, source: envelope.source.clone() };
            let measure = Measure::of(&limit, Unit::Metre);
            let help = format!(
                "the grip is at ({:+.2}, {:+.2}, {:+.2}) m from between the shoulders",
                in_chest.x, in_chest.y, in_chest.z
            );
            let key = key(NAME, place, Some(stay.stay.who), subject);
            findings.push(Finding::exact(key, margin, &measure).helped(Some(help)));
        }
    }
    findings
}

/// A point of the structure's frame, from between the shoulders of the neutral posture.
fn in_chest(used: &UseCase, at: &Point) -> Point {
    structure_from_chest(&used.standing).inverse() * at
}

/// The frame between the shoulders of the neutral posture: x forward, y left, z up along the trunk.
pub fn structure_from_chest(standing: &Standing) -> Pose {
    let posed = standing.frozen.pose(&standing.links.neutral);
    let shoulder = |link| Point::from(posed.link(link).translation.vector);
    let shoulders = &standing.links.shoulder;
    let middle = nalgebra::center(&shoulder(shoulders.left), &shoulder(shoulders.right));
    Pose::from_parts(middle.coords.into(), posed.link(standing.links.chest).rotation)
}

/// The cylinder that a point of the chest's frame is farthest inside of, and how far, m; negative outside of all.
pub fn best<'e>(envelopes: &[&'e Envelope], at: &Point) -> Option<(f64, &'e Envelope)> {
    let margins = envelopes.iter().map(|envelope| (margin(envelope, at), *envelope));
    margins.max_by(|a, b| a.0.total_cmp(&b.0))
}

/// How far inside a cylinder a point lies; negative outside.
fn margin(envelope: &Envelope, at: &Point) -> f64 {
    let axis = Vector::from(envelope.axis).normalize();
    let off = at - Point::from(envelope.centre_m);
    let along = off.dot(&axis);
    let across = (off - axis * along).norm();
    (envelope.radius_m - across).min(0.5 * envelope.length_m - along.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_is_as_far_inside_as_the_nearest_face() {
        let envelope = Envelope {
            id: "e".to_owned(),
            centre_m: [0.4, 0.0, 0.0],
            axis: [0.0, 0.0, 2.0],
            length_m: 0.6,
            radius_m: 0.25,
            both_hands: false,
            source: None,
        };
        assert!((margin(&envelope, &Point::new(0.5, 0.0, 0.1)) - 0.15).abs() < 1e-12);
        assert!((margin(&envelope, &Point::new(0.4, 0.0, 0.35)) + 0.05).abs() < 1e-12);
        assert!((margin(&envelope, &Point::new(0.4, 0.3, 0.0)) + 0.05).abs() < 1e-12);
    }
}
