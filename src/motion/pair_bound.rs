//! How near can two convex bodies come on an interval, at the nearest?
//!
//! # Law
//! With the midpoint's separating normal `n` (from *i* to *j*) held still:
//! - first order: lowest n·q over *j* − highest n·p over *i*, at the midpoint, minus D_i + D_j;
//! - second order: min over σ ∈ {−1, 1} of [lowest n·q over *j* − highest n·p over *i*], both displaced by σ times
//!   their linearised rigid motion, minus ½(A_i + A_j). A body of core C, radius r, twist (ω, v) has the highest value
//!   max over p in C of g·p + r·|g| + σ n·v, with g = n + σ (n × ω).
//!
//! Any unit n makes both true, overlapping bodies included. For a fixed pair of points the bracket is linear in σ, and
//! the lowest of linear functions is concave, so its least value is at an end of [−1, 1]; what is left out is at most
//! half the greatest acceleration.
//!
//! # Limits
//! Convex bodies. f64 rounding is covered by [`ROUNDING`], subtracted once from each bound.

use crate::mechanism::{BodyMotion, Twist};
use crate::space::{Direction, PosedConvex, Vector, support_gap};

/// Allowance for f64 rounding in a lower bound, metres: coordinates up to 7·10⁴ m, which no plan passes that reading
/// accepts, keep an error below 10⁻¹¹ m an operation, and no bound chains more than a hundred of them.
pub const ROUNDING: f64 = 1e-9;

/// A convex body at the middle of an interval, and how it moves there.
pub type Moving<'a> = (&'a PosedConvex<'a>, &'a BodyMotion);

/// The greater of both lower bounds on the signed distance over the interval, for the normal `n` from `a` to `b`, metres.
pub fn pair_lower_bound(a: Moving, b: Moving, n: &Direction) -> f64 {
    first_order(a, b, n).max(second_order(a, b, n))
}

/// The first-order lower bound on the signed distance over the interval, metres.
pub fn first_order((a, a_motion): Moving, (b, b_motion): Moving, n: &Direction) -> f64 {
    support_gap(a, b, n) - a_motion.displacement - b_motion.displacement - ROUNDING
}

/// The second-order lower bound on the signed distance over the interval, metres.
pub fn second_order((a, a_motion): Moving, (b, b_motion): Moving, n: &Direction) -> f64 {
    let along =
        |sigma: f64| lowest_displaced(b, &b_motion.twist, n, sigma) - highest_displaced(a, &a_motion.twist, n, sigma);
    along(1.0).min(along(-1.0)) - 0.5 * (a_motion.acceleration + b_motion.acceleration) - ROUNDING
}

fn highest_displaced(body: &PosedConvex, twist: &Twist, n: &Vector, sigma: f64) -> f64 {
    let g = n + n.cross(&twist.angular) * sigma;
    body.highest(&g) + sigma * n.dot(&twist.linear)
}

fn lowest_displaced(body: &PosedConvex, twist: &Twist, n: &Vector, sigma: f64) -> f64 {
    let g = n + n.cross(&twist.angular) * sigma;
    body.lowest(&g) + sigma * n.dot(&twist.linear)
}
