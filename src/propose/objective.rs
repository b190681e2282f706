//! Which of two paths is better?
//!
//! # Law
//! The one that costs less, in seconds: the times of its segments, each from rest to rest, plus
//! `seconds_a_waypoint` for each waypoint (to key it in, to have it read back, to wait until the arm has settled), less
//! `seconds_a_metre` for each metre of its least margin, no more than `enough_margin` of which counts.
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
    /// What margin is worth, s/m.
    pub seconds_a_metre: f64,
    /// More margin than this is worth no more, m.
    pub enough_margin: f64,
}

impl Default for Objective {
    fn default() -> Self {
        Self { seconds_a_waypoint: 20.0, seconds_a_metre: 200.0, enough_margin: 0.10 }
    }
}

impl Objective {
    /// What a path costs, s.
    pub fn cost(&self, seconds: f64, waypoints: usize, margin: f64) -> f64 {
        seconds + self.seconds_a_waypoint * waypoints as f64 - self.seconds_a_metre * margin.min(self.enough_margin)
    }
}
