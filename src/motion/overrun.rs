//! How far may each joint overrun when it is stopped somewhere on a segment?
//!
//! # Law
//! From the word to stop until the brakes act, t, the arm goes on by its profile; then each joint brakes on its own. So
//! nothing that is stopped on an interval overruns by more than q̇_k·t + q̇_k²/(2a_k), where q̇_k is the joint's greatest rate
//! from t before the interval until t after it: after for the way there, before for the way back, as a bound has no
//! direction.
//!
//! # Source
//! Constant-acceleration kinematics ([`super::stopping_distance`]).

use super::segment_time::SegmentTime;
use super::timing::{JointPace, stopping_distance};

/// What joints may overrun, wherever on a segment they are stopped.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Overrun(Known);

#[derive(Clone, Debug, Default, PartialEq)]
enum Known {
    #[default]
    Nothing,
    Same(Vec<f64>),
    Timed {
        time: SegmentTime,
        /// Of each joint: how far it moves over the segment, and its braking acceleration (rad or m, /s²).
        joints: Vec<(f64, f64)>,
        reaction: f64,
    },
}

impl Overrun {
    /// Each variable by the same (rad or m) all along.
    pub const fn same(by: Vec<f64>) -> Self {
        Self(Known::Same(by))
    }

    /// On a segment whose variables change by so much, as it is timed; brakes act `reaction` seconds after the word.
    pub fn of(change: &[f64], paces: &[JointPace], time: SegmentTime, reaction: f64) -> Self {
        let joints = change.iter().zip(paces).map(|(change, pace)| (change.abs(), pace.acceleration)).collect();
        Self(Known::Timed { time, joints, reaction })
    }

    /// The greatest that each variable may overrun when stopped between two fractions of the segment (rad or m), in place
    /// of what the list held; left empty where nothing does.
    pub fn within(&self, [start, end]: [f64; 2], by: &mut Vec<f64>) {
        by.clear();
        match &self.0 {
            Known::Nothing => {}
            Known::Same(same) => by.extend_from_slice(same),
            Known::Timed { time, joints, reaction } => {
                let rate = self.rate_within([start, end]).unwrap_or_else(|| time.peak());
                let each = joints.iter().map(|(moved, braking)| stopping_distance(moved * rate, *braking, *reaction));
                by.extend(each);
            }
        }
    }

    /// The greatest pace, in segments a second, at which what is stopped between two fractions may begin to brake; none
    /// where it isn't timed.
    pub fn rate_within(&self, [start, end]: [f64; 2]) -> Option<f64> {
        let Known::Timed { time, reaction, .. } = &self.0 else { return None };
        let moment = |fraction, later: f64| time.fraction_at((time.seconds_at(fraction) + later).max(0.0));
        Some(time.greatest_rate([moment(start, -reaction), moment(end, *reaction)]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::motion::segment_time;

    /// Closed form: half a turn a second at most, reached after 2 s and a quarter of the way; brakes act after 1 s.
    #[test]
    fn a_joint_overruns_by_the_rate_that_it_may_have_when_the_brakes_act() {
        let paces = [JointPace { rate: 0.5, acceleration: 0.25 }];
        let overrun = Overrun::of(&[2.0], &paces, segment_time(&[2.0], &paces, &[], 1.0), 1.0);
        let at = |fraction: f64| {
            let mut by = Vec::new();
            overrun.within([fraction; 2], &mut by);
            by[0]
        };
        let stops = |rate: f64| rate + rate * rate / 0.5;
        // At rest at the start; 1 s later at 0.25.
        assert!((at(0.0) - stops(0.25)).abs() < 1e-12);
        // After 1 s, an eighth of 0.5 on its way, it reaches 0.5 within the second.
        assert!((at(0.0625) - stops(0.5)).abs() < 1e-12);
        assert!((at(0.5) - stops(0.5)).abs() < 1e-12);
        // The way back is the same.
        assert!((at(1.0) - stops(0.25)).abs() < 1e-9);
        let mut by = Vec::new();
        overrun.within([0.0, 0.03125], &mut by);
        assert!(by[0] > stops(0.25) && by[0] < stops(0.5), "the greatest of an interval");
    }
}
