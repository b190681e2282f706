//! Which of two paths is better?
//!
//! # Law
//! The one that costs less, in seconds: the times of its segments, each from rest to rest, plus
//! `seconds_a_waypoint` for each waypoint (to key it in, to have it read back, to wait until the arm has settled), plus
//! `margin_seconds`·(1 − √(m/`enough_margin`)) where its least margin m is short of that: the nearer to a limit, the more
//! each millimetre counts.
//! An arm whose file does not say what its joints can do is not timed; then each metre that the metric measures counts as
//! one second.
//!
//! # Source
//! Invented; the structure of it is common practice.

/// What counts in a path.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Objective {
    /// What a waypoint costs, s.
    pub seconds_a_waypoint: f64,
    /// What it costs to have no margin at all, s.
    pub margin_seconds: f64,
    /// More margin than this is worth no more, m.
    pub enough_margin: f64,
}

impl Default for Objective {
    fn default() -> Self {
        Self { seconds_a_waypoint: 30.0, margin_seconds: 60.0, enough_margin: 0.10 }
    }
}

impl Objective {
    /// What a path costs, s.
    pub fn cost(&self, seconds: f64, waypoints: usize, margin: f64) -> f64 {
        let share = (margin / self.enough_margin).clamp(0.0, 1.0);
        seconds + self.seconds_a_waypoint * waypoints as f64 + self.margin_seconds * (1.0 - share.sqrt())
    }
}
