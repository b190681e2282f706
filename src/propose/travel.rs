//! How long does the arm at least take from one serving to the next?
//!
//! # Law
//! No way of the tip is shorter than its chord, and the tip is no faster than its limit; no joint turns by less than the
//! difference, nor faster than its rate. Where the arm is not timed, each metre of the chord counts as one second.

use crate::check::{arm_paces, tip_limit};
use crate::motion::JointPace;
use crate::state::Scene;

use super::options::{Options, Serving};

/// Lower bounds of the time that ways take.
pub struct Travel {
    paces: Option<Vec<JointPace>>,
    /// By visit, the speed limit of the tip on the way there, m/s.
    speeds: Vec<f64>,
}

impl Travel {
    /// The arm of a scene, and what it carries on the way to each visit.
    pub fn new(scene: &Scene, options: &[Options]) -> Self {
        let speeds = options.iter().map(|options| tip_limit(scene, &options.before)).collect();
        Self { paces: arm_paces(scene), speeds }
    }

    /// A lower bound of the time from one serving to another, at visit `n`, s.
    pub fn least_seconds(&self, n: usize, from: &Serving, to: &Serving) -> f64 {
        let chord = (to.tip - from.tip).norm();
        let Some(paces) = &self.paces else { return chord };
        let turns = from.setting.arm.iter().zip(&to.setting.arm).zip(paces);
        turns.map(|((from, to), pace)| (to - from).abs() / pace.rate).fold(chord / self.speeds[n], f64::max)
    }
}
