//! Which joint values, within their ranges, make a few residuals zero and stay near a posture that attracts?
//!
//! # Law
//! Damped Gauss–Newton with few residuals *r* (Jacobian *J*) and many joints *q*: the step minimises
//! |r + JΔ|² + w·|q + Δ − a|² + λ·|Δ|², *a* the attracting posture. With D = w + λ and c = w·(a − q)/D the minimum is
//! Δ = c − Jᵀ(JJᵀ + D·I)⁻¹(r + J·c): a system as large as there are residuals, not joints. A joint whose step would leave
//! its range is held at the end of it, and the others' step is found anew. *w* falls from phase to phase; in the last it
//! is zero, so what is left are the residuals alone. λ falls when a step succeeds and grows when it fails (Levenberg 1944,
//! Marquardt 1963).

use nalgebra::{DMatrix, DVector};

use crate::mechanism::Range;

use super::rows::{N, Row, dot};

/// Weight *w* of the attraction in each phase, and the most evaluations of a phase.
const PHASES: [(f64, usize); 3] = [(1e-2, 12), (1e-4, 10), (0.0, 30)];
/// Done when the norm of the residuals is below this.
const SMALL_ENOUGH: f64 = 1e-10;
/// A phase ends when a step gains less than this share of what is to be minimised.
const LEAST_GAIN: f64 = 1e-3;
/// Residuals above this that can be brought to zero are at least halved in so many steps.
const NEARLY: f64 = 1e-3;
const PATIENCE: usize = 5;
/// Least damping: keeps the system solvable.
const LEAST_DAMPING: f64 = 1e-12;

/// Where the search ended.
#[derive(Clone, Copy, Debug)]
pub(super) struct Descent {
    pub q: [f64; N],
    /// Norm of the residuals there.
    pub norm: f64,
}

/// Joint values near `attract` that make the rows' residuals zero, from `start`. `rows` writes the residuals at joint
/// values into an emptied list.
pub(super) fn descend(
    mut rows: impl FnMut(&[f64; N], &mut Vec<Row>),
    start: &[f64; N],
    attract: &[f64; N],
    ranges: &[Range; N],
) -> Descent {
    let mut q: [f64; N] = std::array::from_fn(|k| ranges[k].nearest(start[k]));
    let (mut here, mut there) = (Vec::new(), Vec::new());
    rows(&q, &mut here);
    let mut lambda = 1e-2;
    for (weight, evaluations) in PHASES {
        let cost = |rows: &[Row], q: &[f64; N]| {
            let away: [f64; N] = std::array::from_fn(|k| q[k] - attract[k]);
            norm_squared(rows) + weight * dot(&away, &away)
        };
        let mut least = cost(&here, &q);
        let mut some_steps_ago = f64::INFINITY;
        for evaluation in 0..evaluations {
            if weight == 0.0 && evaluation % PATIENCE == 0 {
                if least > (0.25 * some_steps_ago).max(NEARLY * NEARLY) {
                    break;
                }
                some_steps_ago = least;
            }
            if weight == 0.0 && norm_squared(&here) < SMALL_ENOUGH * SMALL_ENOUGH {
                break;
            }
            let Some(trial) = step(&here, &q, (attract, ranges), (weight, lambda)) else {
                break;
            };
            there.clear();
            rows(&trial, &mut there);
            let reached = cost(&there, &trial);
            if reached < least {
                let gain = (least - reached) / least;
                (q, least) = (trial, reached);
                std::mem::swap(&mut here, &mut there);
                lambda = (lambda * 0.1).max(LEAST_DAMPING);
                if gain < LEAST_GAIN {
                    break;
                }
            } else {
                lambda *= 10.0;
                if lambda > 1e3 {
                    break;
                }
            }
        }
        lambda = lambda.min(1e-3);
    }
    Descent { q, norm: norm_squared(&here).sqrt() }
}

fn norm_squared(rows: &[Row]) -> f64 {
    rows.iter().map(|row| row.residual * row.residual).sum()
}

/// Joint values after one step, within the ranges.
fn step(
    rows: &[Row],
    q: &[f64; N],
    (attract, ranges): (&[f64; N], &[Range; N]),
    (weight, lambda): (f64, f64),
) -> Option<[f64; N]> {
    let damping = weight + lambda;
    let mut step: [f64; N] = std::array::from_fn(|k| weight / damping * (attract[k] - q[k]));
    let mut held = [false; N];
    // Free joints' rows; held ones have their gradient taken out.
    let mut free: Vec<Row> = rows.to_vec();
    let mut normal = DMatrix::from_fn(rows.len(), rows.len(), |i, j| {
        if i < j { 0.0 } else { dot(&rows[i].gradient, &rows[j].gradient) + if i == j { damping } else { 0.0 } }
    });
    loop {
        // Residuals with the held joints and the attraction of the free ones in the step.
        let side = DVector::from_fn(rows.len(), |i, _| rows[i].residual + rows[i].along(&step));
        let multipliers = normal.clone().cholesky()?.solve(&side);
        let mut trial = step;
        for (row, multiplier) in free.iter().zip(multipliers.iter()) {
            trial.iter_mut().zip(&row.gradient).for_each(|(step, slope)| *step -= multiplier * slope);
        }
        let leaving: Vec<usize> = (0..N).filter(|&k| !held[k] && ranges[k].margin(q[k] + trial[k]) < 0.0).collect();
        for &k in &leaving {
            held[k] = true;
            step[k] = ranges[k].nearest(q[k] + trial[k]) - q[k];
            for i in 0..rows.len() {
                for j in 0..=i {
                    normal[(i, j)] -= free[i].gradient[k] * free[j].gradient[k];
                }
            }
            free.iter_mut().for_each(|row| row.gradient[k] = 0.0);
        }
        if leaving.is_empty() {
            return Some(std::array::from_fn(|k| ranges[k].nearest(q[k] + trial[k])));
        }
    }
}
