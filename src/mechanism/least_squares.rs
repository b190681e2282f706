//! Which joint values, within their ranges, make the residuals least?
//!
//! # Law
//! Damped least squares (Levenberg 1944, Marquardt 1963) with bounds by an active set: a variable at an end of its
//! range is held there while the downhill step would leave the range; the step of the others solves
//! (JᵀJ + λ·D) Δ = −Jᵀr, D = I. λ falls by a factor when a step succeeds and grows when it fails.

use nalgebra::{DMatrix, DVector};

use super::tree::Range;

/// Something that has residuals and their derivatives.
pub trait Residuals {
    /// Writes residuals and their Jacobian (rows: residuals, columns: variables) at `q`; both come zeroed and sized
    /// by [`Self::count`].
    fn evaluate(&mut self, q: &[f64], residuals: &mut DVector<f64>, jacobian: &mut DMatrix<f64>);

    /// How many residuals there are.
    fn count(&self) -> usize;
}

/// When to stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Most evaluations of the residuals.
    pub evaluations: usize,
    /// Done when the norm of the residuals is below this.
    pub small_enough: f64,
    /// Done when a step changes no variable by more than this.
    pub least_step: f64,
    /// Damping at the start, relative to the largest diagonal entry of JᵀJ.
    pub damping: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self { evaluations: 100, small_enough: 1e-10, least_step: 1e-12, damping: 1e-3 }
    }
}

/// Where the search ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    pub q: Vec<f64>,
    /// Norm of the residuals there.
    pub norm: f64,
    pub evaluations: usize,
}

/// Least-norm residuals from `start`, each variable within its range.
pub fn solve(problem: &mut impl Residuals, start: &[f64], ranges: &[Range], settings: &Settings) -> Solution {
    let n = start.len();
    let m = problem.count();
    let mut q: Vec<f64> = start.iter().zip(ranges).map(|(value, range)| range.nearest(*value)).collect();
    let mut residuals = DVector::zeros(m);
    let mut jacobian = DMatrix::zeros(m, n);
    problem.evaluate(&q, &mut residuals, &mut jacobian);
    let mut norm = residuals.norm();
    let mut evaluations = 1;
    let mut damping: Option<f64> = None;
    let mut trial_residuals = DVector::zeros(m);
    let mut trial_jacobian = DMatrix::zeros(m, n);
    let mut normal = DMatrix::zeros(n, n);
    'better: while norm > settings.small_enough {
        let gradient = jacobian.tr_mul(&residuals);
        normal.gemm_tr(1.0, &jacobian, &jacobian, 0.0);
        let largest = normal.diagonal().max().max(f64::MIN_POSITIVE);
        let mut lambda = damping.unwrap_or(settings.damping * largest);
        loop {
            if evaluations >= settings.evaluations {
                break 'better;
            }
            let Some(trial) = bounded_step(&normal, &gradient, lambda, &q, ranges) else {
                break 'better;
            };
            let moved = trial.iter().zip(&q).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            if moved <= settings.least_step {
                break 'better;
            }
            trial_residuals.fill(0.0);
            trial_jacobian.fill(0.0);
            problem.evaluate(&trial, &mut trial_residuals, &mut trial_jacobian);
            evaluations += 1;
            let trial_norm = trial_residuals.norm();
            if trial_norm < norm {
                q = trial;
                norm = trial_norm;
                std::mem::swap(&mut residuals, &mut trial_residuals);
                std::mem::swap(&mut jacobian, &mut trial_jacobian);
                damping = Some(lambda * 0.2);
                continue 'better;
            }
            lambda = (lambda * 8.0).max(1e-15 * largest);
            if lambda > 1e12 * largest {
                break 'better;
            }
        }
    }
    Solution { q, norm, evaluations }
}

/// The damped step, cut to the ranges: variables that would leave are held at their end and the rest solved anew.
fn bounded_step(
    normal: &DMatrix<f64>,
    gradient: &DVector<f64>,
    lambda: f64,
    q: &[f64],
    ranges: &[Range],
) -> Option<Vec<f64>> {
    let n = q.len();
    let mut trial: Vec<f64> = q.to_vec();
    let mut free: Vec<usize> = (0..n)
        .filter(|&k| {
            let stuck_low = q[k] <= ranges[k].lowest && gradient[k] > 0.0;
            let stuck_high = q[k] >= ranges[k].highest && gradient[k] < 0.0;
            !(stuck_low || stuck_high)
        })
        .collect();
    let mut right: DVector<f64> = -gradient;
    loop {
        if free.is_empty() {
            return Some(trial);
        }
        let reduced = DMatrix::from_fn(free.len(), free.len(), |a, b| {
            normal[(free[a], free[b])] + if a == b { lambda } else { 0.0 }
        });
        let side = DVector::from_fn(free.len(), |a, _| right[free[a]]);
        let step = reduced.cholesky()?.solve(&side);
        let leaving: Vec<usize> = (0..free.len())
            .filter(|&a| ranges[free[a]].nearest(q[free[a]] + step[a]) != q[free[a]] + step[a])
            .collect();
        if leaving.is_empty() {
            for (a, k) in free.iter().enumerate() {
                trial[*k] = q[*k] + step[a];
            }
            return Some(trial);
        }
        for &a in &leaving {
            let k = free[a];
            trial[k] = ranges[k].nearest(q[k] + step[a]);
            let held = trial[k] - q[k];
            for &other in &free {
                right[other] -= normal[(other, k)] * held;
            }
        }
        free = (0..free.len()).filter(|a| !leaving.contains(a)).map(|a| free[a]).collect();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosenbrock's valley (Rosenbrock 1960), least at (1, 1).
    struct Valley;

    impl Residuals for Valley {
        fn evaluate(&mut self, q: &[f64], residuals: &mut DVector<f64>, jacobian: &mut DMatrix<f64>) {
            residuals[0] = 10.0 * (q[1] - q[0] * q[0]);
            residuals[1] = 1.0 - q[0];
            jacobian[(0, 0)] = -20.0 * q[0];
            jacobian[(0, 1)] = 10.0;
            jacobian[(1, 0)] = -1.0;
        }

        fn count(&self) -> usize {
            2
        }
    }

    const WIDE: Range = Range { lowest: -5.0, highest: 5.0 };

    #[test]
    fn rosenbrocks_valley_is_followed_to_its_end() {
        let found = solve(&mut Valley, &[-1.2, 1.0], &[WIDE, WIDE], &Settings::default());
        assert!(found.norm < 1e-9, "{found:?}");
        assert!((found.q[0] - 1.0).abs() < 1e-8 && (found.q[1] - 1.0).abs() < 1e-8);
    }

    #[test]
    fn a_bound_that_cuts_the_valley_is_kept_and_the_least_on_it_found() {
        let cut = Range { lowest: -5.0, highest: 0.5 };
        let found = solve(&mut Valley, &[-1.2, 1.0], &[cut, WIDE], &Settings::default());
        // On the bound x = 0.5 the least is y = 0.25 with value (1 − 0.5)² (closed form).
        assert!((found.q[0] - 0.5).abs() < 1e-9 && (found.q[1] - 0.25).abs() < 1e-6, "{found:?}");
        assert!((found.norm - 0.5).abs() < 1e-9);
    }
}
