//! How do the residuals of a posture change with the body's joints?

use crate::mechanism::{LinkId, Mechanism, Posed, point_jacobian};
use crate::space::{Point, Vector};

use super::suit::JOINTS;

/// How many joints a body has.
pub(super) const N: usize = JOINTS.len();

/// One residual (m or rad) and its derivative by each joint.
#[derive(Clone, Copy, Debug)]
pub(super) struct Row {
    pub residual: f64,
    pub gradient: [f64; N],
}

impl Row {
    /// The scalar product of the gradient with a step.
    pub fn along(&self, step: &[f64; N]) -> f64 {
        dot(&self.gradient, step)
    }
}

/// The scalar product, in eight sums side by side: one alone waits for each addition.
pub(super) fn dot(a: &[f64; N], b: &[f64; N]) -> f64 {
    const SIDE_BY_SIDE: usize = 8;
    let mut sums = [0.0; SIDE_BY_SIDE];
    for (a, b) in a.chunks(SIDE_BY_SIDE).zip(b.chunks(SIDE_BY_SIDE)) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += a * b;
        }
    }
    sums.iter().sum()
}

/// Velocities of a link's point by each joint.
pub(super) struct Carried {
    columns: [(Vector, Vector); N],
}

impl Carried {
    /// Of the point `at` (in the structure's frame) that `link` carries.
    pub fn of(mechanism: &Mechanism, posed: &Posed, link: LinkId, at: &Point) -> Self {
        let jacobian = point_jacobian(mechanism, posed, link, at);
        let columns = std::array::from_fn(|k| {
            let column = jacobian.column(k);
            (Vector::new(column[0], column[1], column[2]), Vector::new(column[3], column[4], column[5]))
        });
        Self { columns }
    }

    /// The derivative of a quantity that changes by `by(linear, angular)` of the velocities.
    pub fn gradient(&self, by: impl Fn(&Vector, &Vector) -> f64) -> [f64; N] {
        std::array::from_fn(|k| by(&self.columns[k].0, &self.columns[k].1))
    }
}
