//! How far is one configuration from another?
//!
//! # Law
//! √(Σ_k (w_k·Δq_k)²) [m]: w_k is how far what joint *k* carries stretches from its axis (m; a slide: 1), on average over
//! start and goal. So a turn of the shoulder counts for as much as it moves, and one of the wrist for little.

use crate::mechanism::{Extent, JointMotion, Mechanism};

/// Weights of the joints.
pub struct Metric {
    weights: Vec<f64>,
}

impl Metric {
    /// The metric between two configurations of a mechanism.
    pub fn new(mechanism: &Mechanism, ends: [&[f64]; 2]) -> Self {
        let posed = ends.map(|q| mechanism.pose(q));
        let mut weights = vec![0.0; mechanism.variable_count()];
        for body in mechanism.body_ids() {
            let (link, extent) = (mechanism.body(body).link, Extent::of(mechanism, body));
            for on in mechanism.path_inwards(link) {
                let joint = &mechanism.link(on).joint;
                let Some(variable) = joint.variable else { continue };
                let stretch = match joint.motion {
                    JointMotion::Prismatic => 1.0,
                    _ => {
                        let of_end = posed.iter().map(|posed| {
                            let from_axis = |point| posed.distance_from_axis(on, &(posed.link(link) * point));
                            extent.points.iter().map(from_axis).fold(0.0, f64::max) + extent.radius
                        });
                        0.5 * of_end.sum::<f64>()
                    }
                };
                weights[variable] = f64::max(weights[variable], stretch);
            }
        }
        Self { weights }
    }

    /// The distance, squared.
    pub fn squared(&self, a: &[f64], b: &[f64]) -> f64 {
        let terms = self.weights.iter().zip(a).zip(b).map(|((weight, a), b)| (weight * (a - b)).powi(2));
        terms.sum()
    }

    pub fn distance(&self, a: &[f64], b: &[f64]) -> f64 {
        self.squared(a, b).sqrt()
    }

    /// No point of arm or load moves farther between the two, to first order and by these weights, m.
    pub fn greatest_move(&self, a: &[f64], b: &[f64]) -> f64 {
        self.weights.iter().zip(a).zip(b).map(|((weight, a), b)| weight * (a - b).abs()).sum()
    }

    /// The greatest weight, m: how far the whole arm stretches.
    pub fn stretch(&self) -> f64 {
        self.weights.iter().copied().fold(0.0, f64::max)
    }

    /// The fraction of the way from `a` to `b` that is nearest to `q`.
    pub fn fraction(&self, (a, b): (&[f64], &[f64]), q: &[f64]) -> f64 {
        let mut along = 0.0;
        for (k, weight) in self.weights.iter().enumerate() {
            along += weight * weight * (q[k] - a[k]) * (b[k] - a[k]);
        }
        let whole = self.squared(a, b);
        if whole > 0.0 { (along / whole).clamp(0.0, 1.0) } else { 0.0 }
    }
}
