//! How near does the arm come to a configuration in which its tip cannot move some way?
//!
//! # Law
//! Least singular value of the tip's Jacobian, turning rows multiplied by a length scale. Over an interval it is at
//! least its midpoint value minus the greatest change of the Jacobian in the Frobenius norm: column *k* changes by at
//! most Σ_l |δ_l|·R_max(k,l) in its linear rows and, for turning joints, Σ_{l farther from the tip} |δ_l| in its
//! angular rows (times the length scale). Weyl's inequality: |σ_min(J + E) − σ_min(J)| ≤ ‖E‖.
//!
//! # Limits
//! For an arm with fewer joints than the six rows, only as many singular values as joints exist; the least of those
//! is meant.

use nalgebra::{DMatrix, Dyn, Matrix6};

use crate::mechanism::{JointMotion, LinkId, Mechanism, Posed, tip_jacobian};
use crate::model::Bound;
use crate::space::Point;

use super::segment::{Interval, Segment};

/// A bracket of the least singular value over a motion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeastSingularValue {
    pub bound: Bound,
    /// Where the upper end was seen.
    pub segment: usize,
    pub fraction: f64,
}

/// The least singular value at a pose; none if the decomposition does not converge.
pub fn singular_value_at(mechanism: &Mechanism, posed: &Posed, link: LinkId, length: f64) -> Option<f64> {
    let mut scaled = DMatrix::zeros(6, mechanism.variable_count());
    scaled.copy_from(&tip_jacobian(mechanism, posed, link));
    scaled.rows_mut(3, 3).scale_mut(length);
    const ITERATIONS: usize = 500;
    let svd = nalgebra::SVD::<f64, Dyn, Dyn>::try_new(scaled, false, false, f64::EPSILON, ITERATIONS)?;
    svd.singular_values.iter().copied().reduce(f64::min)
}

/// Bounds the least singular value over all segments to `gap`, or until `evaluations` are spent; none if a
/// decomposition does not converge.
pub fn least_singular_value(
    mechanism: &Mechanism,
    link: LinkId,
    segments: &[Segment],
    length: f64,
    (gap, evaluations): (f64, usize),
) -> Option<LeastSingularValue> {
    let mut best =
        LeastSingularValue { bound: Bound { lower: f64::INFINITY, upper: f64::INFINITY }, segment: 0, fraction: 0.0 };
    let mut open: Vec<(Interval, f64)> = (0..segments.len()).map(|k| (Interval::whole(k), 0.0)).collect();
    let mut posed = mechanism.workspace();
    let mut spent = 0;
    while !open.is_empty() {
        let mut next = Vec::new();
        for (interval, known) in open {
            if known >= best.bound.upper - gap || spent >= evaluations {
                best.bound.lower = best.bound.lower.min(known);
                continue;
            }
            spent += 1;
            let segment = &segments[interval.segment];
            mechanism.pose_into(&segment.at(interval.middle()), &mut posed);
            let here = singular_value_at(mechanism, &posed, link, length)?;
            if here < best.bound.upper {
                best.bound.upper = here;
                (best.segment, best.fraction) = (interval.segment, interval.middle());
            }
            let delta: Vec<f64> = segment.change().iter().map(|change| change * interval.half()).collect();
            let lower = (here - jacobian_change(mechanism, &posed, link, length, &delta)).max(known);
            next.extend(interval.halves().map(|half| (half, lower)));
        }
        open = next;
    }
    Some(best)
}

/// Whether the least singular value is at least `limit` all along a segment: no where it is below, or where that was not
/// told within so many `evaluations`. Nothing is bracketed, so it costs far less than [`least_singular_value`].
///
/// σ_min(J) ≥ t where J·Jᵀ − t²·1 (of fewer than six joints: Jᵀ·J − t²·1) has a Cholesky factor.
pub fn keeps_singular_value(
    mechanism: &Mechanism,
    link: LinkId,
    segment: &Segment,
    length: f64,
    (limit, evaluations): (f64, usize),
) -> bool {
    let change = segment.change();
    let (mut posed, mut q, mut delta) = (mechanism.workspace(), segment.from.clone(), change.clone());
    // The far end first: where a stretch is refused, it is refused there most often.
    let mut open = vec![Interval::whole(0), Interval { segment: 0, start: 1.0, end: 1.0 }];
    let mut spent = 0;
    while let Some(interval) = open.pop() {
        if spent == evaluations {
            return false;
        }
        spent += 1;
        for (k, change) in change.iter().enumerate() {
            q[k] = segment.from[k] + change * interval.middle();
            delta[k] = change * interval.half();
        }
        mechanism.pose_into(&q, &mut posed);
        let gram = gram(mechanism, &posed, link, length);
        if !exceeds(&gram, limit) {
            return false;
        }
        if !exceeds(&gram, limit + jacobian_change(mechanism, &posed, link, length, &delta)) {
            open.extend(interval.halves());
        }
    }
    true
}

/// The products of the scaled Jacobian's rows, or of its columns where these are fewer than six; then the rest of the
/// diagonal is infinite.
fn gram(mechanism: &Mechanism, posed: &Posed, link: LinkId, length: f64) -> Matrix6<f64> {
    let mut scaled = tip_jacobian(mechanism, posed, link);
    scaled.rows_mut(3, 3).scale_mut(length);
    let columns = scaled.ncols();
    if columns >= 6 {
        return Matrix6::from_fn(|i, j| scaled.row(i).dot(&scaled.row(j)));
    }
    Matrix6::from_fn(|i, j| {
        if i < columns && j < columns {
            scaled.column(i).dot(&scaled.column(j))
        } else if i == j {
            f64::MAX
        } else {
            0.0
        }
    })
}

/// Whether the square root of the least eigenvalue is at least `least`, rounding allowed for.
fn exceeds(gram: &Matrix6<f64>, least: f64) -> bool {
    const ROUNDING: f64 = 1e-12;
    let greatest = (0..6).map(|k| gram[(k, k)]).filter(|entry| *entry < f64::MAX).fold(0.0, f64::max);
    let shift = least * least.abs() + ROUNDING * (1.0 + greatest);
    (gram - Matrix6::identity() * shift).cholesky().is_some()
}

/// Greatest Frobenius norm of the scaled Jacobian's change on an interval of half widths `delta` about a pose.
fn jacobian_change(mechanism: &Mechanism, posed: &Posed, link: LinkId, length: f64, delta: &[f64]) -> f64 {
    let tip = Point::from(posed.link(link).translation.vector);
    // From the tip inwards: half width, R over the interval, whether it turns.
    let mut joints: Vec<(f64, f64, bool)> = Vec::new();
    let mut moved = 0.0;
    for on in mechanism.path_inwards(link) {
        let joint = &mechanism.link(on).joint;
        let Some(variable) = joint.variable else { continue };
        let turns = joint.motion == JointMotion::Revolute;
        let reach = if turns { posed.distance_from_axis(on, &tip) + moved } else { 1.0 };
        let step = delta[variable].abs();
        moved += step * reach;
        joints.push((step, reach, turns));
    }
    let mut square = 0.0;
    for (k, (_, reach, turns)) in joints.iter().enumerate() {
        let nearer: f64 = if *turns { joints[..=k].iter().map(|(step, reach, _)| step * reach).sum() } else { 0.0 };
        let farther_turns: f64 = joints[k + 1..].iter().filter(|(_, _, turns)| *turns).map(|(step, _, _)| step).sum();
        let linear = nearer + farther_turns * reach;
        let angular = if *turns { farther_turns * length } else { 0.0 };
        square += linear * linear + angular * angular;
    }
    square.sqrt()
}
