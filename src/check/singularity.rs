//! How near does the arm come to a configuration in which its tip cannot move some way?
//!
//! # Question
//! On each motion: what is the least singular value of the tip's Jacobian?
//! # Law
//! See [`crate::motion::least_singular_value`]: a bracket over the whole motion, turning rows multiplied by the plan's
//! length scale.
//! # Source
//! Weyl's inequality for singular values; the limit is the plan's, its default invented.
//! # Limits
//! An arm of fewer than six joints has only as many singular values as joints; a budget of evaluations may leave the
//! bracket wider than asked, which the bracket then shows.
//! # Findings
//! One a motion of the arm.

use crate::motion::{LeastSingularValue, least_singular_value};
use crate::state::{ArmAlone, Move, Scene};

use super::finding::{Finding, Kind, Moment, Place, Unit};
use super::judge::{Measure, key};
use super::piece::Piece;

pub const NAME: &str = "singularity";

/// The bracket is closed to this, m.
pub const GAP: f64 = 5e-3;
/// Most evaluations a motion.
const EVALUATIONS: usize = 3000;

/// The least singular value of the tip's Jacobian over a motion of the arm; none where none could be had.
pub(super) fn least(scene: &Scene, arm: &ArmAlone, moved: &Move) -> Option<LeastSingularValue> {
    if !moved.kind.is_of_arm() || moved.segments.is_empty() {
        return None;
    }
    let scale = scene.project.plan.limits.singularity_length_m;
    least_singular_value(&arm.mechanism, arm.tip, &moved.segments, scale, (GAP, EVALUATIONS))
}

/// The finding of a motion of the arm.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    let Piece::Move(moved) = piece else { return Vec::new() };
    if !moved.moved.kind.is_of_arm() || moved.moved.segments.is_empty() {
        return Vec::new();
    }
    let limits = &scene.project.plan.limits;
    let measure = Measure::of(&limits.singular_value_m, Unit::Metre);
    let band = 0.1 * measure.bar.value().abs();
    let measure = measure.with_default_band(&limits.singular_value_m, band);
    let key = key(NAME, Place::Motion { motion: moved.moved.id.clone() }, None, "tip");
    let segments = &moved.moved.segments;
    vec![match moved.least_singular {
        None => Finding::not_checked(key, Unit::Metre, "a singular-value decomposition did not converge"),
        Some(least) => {
            let at = Moment {
                segment: Some(least.segment),
                segments: Some(segments.len()),
                fraction: least.fraction,
                seconds: moved.seconds_at(least.segment, least.fraction),
                joints: segments[least.segment].at(least.fraction),
                points: None,
            };
            Finding::bounded(key, least.bound, &measure, (Kind::Nominal, Kind::NotTold))
                .seen(at)
                .helped(Some("bend the arm more there, or turn its wrist away from alignment".to_owned()))
        }
    }]
}
