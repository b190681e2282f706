//! When is the arm where on a straight segment, from rest to rest?
//!
//! # Law
//! s runs from 0 to 1 and serves all joints. ṡ ≤ min over joints of v/|Δ|, s̈ between ± min of a/|Δ|, and ṡ·f(s) ≤ the
//! tip's speed limit L, where f is the tip's speed for ṡ = 1, known by an upper bound that is linear on each piece
//! ([`super::tip_speeds`]). In u = ṡ² acceleration is a slope: u is the greatest function with u(0) = u(1) = 0, slopes
//! within ±2·s̈ and u below what ṡ may be; where f is linear, (L/f)² is convex, so its tangent in a piece's middle lies
//! below it. u is then linear between knots, and each stretch between two of them one of constant acceleration.
//!
//! Without a tip, or where it is slow enough, that is the trapezoid or triangle of [`super::rest_to_rest`].
//!
//! # Source
//! Bobrow, Dubowsky & Gibson 1985, *Time-optimal control of robotic manipulators along specified paths* (from memory): the
//! phase plane of s and ṡ. On a straight line in joint space limits of acceleration don't depend on s.

use super::timing::{JointPace, Ramp};

/// Where the tip's speed for ṡ = 1 changes more than by this share of itself over a piece, the tangent at its fast end holds.
const STEEPEST: f64 = 0.5;

/// How one segment is timed: s over time, of constant acceleration between knots.
#[derive(Clone, Debug, PartialEq)]
pub struct SegmentTime(Vec<Knot>);

#[derive(Clone, Copy, Debug, PartialEq)]
struct Knot {
    /// Of the segment's way, 0 to 1.
    fraction: f64,
    /// Since its start.
    seconds: f64,
    /// ṡ, 1/s.
    rate: f64,
}

impl SegmentTime {
    /// A segment on which nothing moves, for so long.
    pub fn resting(seconds: f64) -> Self {
        let at = |fraction, seconds| Knot { fraction, seconds, rate: 0.0 };
        Self(vec![at(0.0, 0.0), at(1.0, seconds)])
    }

    /// A trapezoid or triangle over the whole way.
    pub fn of_ramp(ramp: &Ramp) -> Self {
        let covered = 0.5 * ramp.peak * ramp.peak / ramp.acceleration;
        let (first, second) = (ramp.peak / ramp.acceleration, ramp.seconds - ramp.peak / ramp.acceleration);
        let at = |fraction, seconds, rate| Knot { fraction, seconds, rate };
        let ends = (at(0.0, 0.0, 0.0), at(1.0, ramp.seconds, 0.0));
        if covered < 0.5 {
            Self(vec![ends.0, at(covered, first, ramp.peak), at(1.0 - covered, second, ramp.peak), ends.1])
        } else {
            Self(vec![ends.0, at(0.5, 0.5 * ramp.seconds, ramp.peak), ends.1])
        }
    }

    /// By the corners of ṡ² over s, in order.
    fn of_corners(corners: &[(f64, f64)]) -> Self {
        let mut knots = vec![Knot { fraction: 0.0, seconds: 0.0, rate: 0.0 }];
        for (fraction, squared) in corners.iter().skip(1) {
            let (before, rate) = (knots[knots.len() - 1], squared.max(0.0).sqrt());
            let seconds = before.seconds + 2.0 * (fraction - before.fraction) / (before.rate + rate);
            knots.push(Knot { fraction: *fraction, seconds, rate });
        }
        Self(knots)
    }

    /// Duration, s.
    pub fn seconds(&self) -> f64 {
        self.0[self.0.len() - 1].seconds
    }

    /// Seconds from the segment's start at a fraction of its way.
    pub fn seconds_at(&self, fraction: f64) -> f64 {
        let [before, after] = self.about(|knot| knot.fraction < fraction);
        let whole = after.fraction - before.fraction;
        let covered = (fraction - before.fraction).clamp(0.0, whole);
        if covered >= whole {
            return after.seconds;
        }
        let rates = before.rate + rate_between([before, after], before.fraction + covered);
        if covered > 0.0 && rates > 0.0 { before.seconds + 2.0 * covered / rates } else { before.seconds }
    }

    /// The fraction of the segment's way that is behind after so many seconds.
    pub fn fraction_at(&self, seconds: f64) -> f64 {
        let [before, after] = self.about(|knot| knot.seconds < seconds);
        let whole = after.seconds - before.seconds;
        let passed = (seconds - before.seconds).clamp(0.0, whole);
        if passed >= whole {
            return after.fraction;
        }
        let rate = before.rate + (after.rate - before.rate) * passed / whole;
        (before.fraction + 0.5 * (before.rate + rate) * passed).min(after.fraction)
    }

    /// ṡ at a fraction of the way, 1/s.
    pub fn rate_at(&self, fraction: f64) -> f64 {
        rate_between(self.about(|knot| knot.fraction < fraction), fraction)
    }

    /// The greatest ṡ between two fractions of the way, 1/s.
    pub fn greatest_rate(&self, [start, end]: [f64; 2]) -> f64 {
        let first = self.0.partition_point(|knot| knot.fraction <= start);
        let inside = self.0[first..].iter().take_while(|knot| knot.fraction < end);
        inside.map(|knot| knot.rate).fold(self.rate_at(start).max(self.rate_at(end)), f64::max)
    }

    /// The greatest ṡ, 1/s.
    pub fn peak(&self) -> f64 {
        self.0.iter().map(|knot| knot.rate).fold(0.0, f64::max)
    }

    /// The greatest amount of s̈, 1/s².
    pub fn greatest_acceleration(&self) -> f64 {
        let between = |pair: &[Knot]| {
            let seconds = pair[1].seconds - pair[0].seconds;
            if seconds > 0.0 { (pair[1].rate - pair[0].rate).abs() / seconds } else { 0.0 }
        };
        self.0.windows(2).map(between).fold(0.0, f64::max)
    }

    /// The knots between which something lies that all knots before it are `before`.
    fn about(&self, before: impl Fn(&Knot) -> bool) -> [Knot; 2] {
        let after = self.0.partition_point(before).clamp(1, self.0.len() - 1);
        [self.0[after - 1], self.0[after]]
    }
}

/// ṡ between two knots, 1/s: its square runs straight.
fn rate_between([before, after]: [Knot; 2], fraction: f64) -> f64 {
    let whole = after.fraction - before.fraction;
    if whole <= 0.0 {
        return after.rate;
    }
    let share = ((fraction - before.fraction) / whole).clamp(0.0, 1.0);
    let squared = before.rate * before.rate * (1.0 - share) + after.rate * after.rate * share;
    squared.sqrt()
}

/// The quickest time of a straight segment: `change` of each joint, what each can do, upper bounds of the tip's speed for
/// ṡ = 1 at equal steps of its way (m/s, linear in between; empty: no tip) and the tip's speed limit (m/s).
pub fn segment_time(change: &[f64], paces: &[JointPace], tip_speeds: &[f64], tip_limit: f64) -> SegmentTime {
    let most = |limit: fn(&JointPace) -> f64| {
        let moved = change.iter().zip(paces).filter(|(change, _)| **change != 0.0);
        moved.map(|(change, pace)| limit(pace) / change.abs()).fold(f64::INFINITY, f64::min)
    };
    let (rate, acceleration) = (most(|pace| pace.rate), most(|pace| pace.acceleration));
    if !acceleration.is_finite() {
        return SegmentTime::resting(0.0);
    }
    let fastest = tip_speeds.iter().copied().fold(0.0, f64::max);
    if rate * fastest <= tip_limit {
        return SegmentTime::of_ramp(&super::timing::rest_to_rest(1.0, rate, acceleration));
    }
    let caps = caps(tip_speeds, tip_limit, rate * rate);
    let step = 1.0 / (caps.len() - 1) as f64;
    let mut squared = caps.clone();
    let slope = 2.0 * acceleration;
    let last = squared.len() - 1;
    (squared[0], squared[last]) = (0.0, 0.0);
    for k in 1..=last {
        squared[k] = squared[k].min(squared[k - 1] + slope * step);
    }
    for k in (0..last).rev() {
        squared[k] = squared[k].min(squared[k + 1] + slope * step);
    }
    let mut corners = vec![(0.0, 0.0)];
    for k in 0..last {
        let start = k as f64 / last as f64;
        corners.extend(corners_within([squared[k], squared[k + 1]], [caps[k], caps[k + 1]], slope, (start, step)));
        corners.push(((k + 1) as f64 / last as f64, squared[k + 1]));
    }
    SegmentTime::of_corners(&corners)
}

/// The greatest ṡ² at the ends of each piece, so that on a straight line between them the tip keeps its limit.
fn caps(tip_speeds: &[f64], tip_limit: f64, most: f64) -> Vec<f64> {
    let mut caps = vec![most; tip_speeds.len()];
    for (k, ends) in tip_speeds.windows(2).enumerate() {
        let (middle, fast) = (0.5 * (ends[0] + ends[1]), ends[0].max(ends[1]));
        let touched = if (ends[1] - ends[0]).abs() > STEEPEST * middle { fast } else { middle };
        if touched <= 0.0 {
            continue;
        }
        for (cap, speed) in caps[k..].iter_mut().zip(ends) {
            // The tangent of (L/f)² where f is what it touches.
            let tangent = (tip_limit / touched).powi(2) * (1.0 - 2.0 * (speed - touched) / touched);
            *cap = cap.min(tangent);
        }
    }
    caps
}

/// The corners of ṡ² inside a piece, between its values at the ends: the least of the straight line between the caps and
/// of what acceleration and braking allow.
fn corners_within(
    [from, to]: [f64; 2],
    [first_cap, last_cap]: [f64; 2],
    slope: f64,
    (start, length): (f64, f64),
) -> Vec<(f64, f64)> {
    let rise = (last_cap - first_cap) / length;
    let cap = |x: f64| first_cap + rise * x;
    // Where acceleration and braking meet, if the cap is above that.
    let meet = 0.5 * (length + (to - from) / slope);
    let top = from + slope * meet;
    if top <= cap(meet) {
        return if meet > 0.0 && meet < length { vec![(start + meet, top)] } else { Vec::new() };
    }
    let onto = (first_cap - from) / (slope - rise);
    let off = length - (last_cap - to) / (slope + rise);
    let inside = [onto, off].into_iter().filter(|x| *x > 0.0 && *x < length);
    inside.map(|x| (start + x, cap(x))).collect()
}

#[cfg(test)]
mod tests {
    use std::f64::consts::FRAC_PI_2;

    use super::*;

    fn pace(rate: f64, acceleration: f64) -> JointPace {
        JointPace { rate, acceleration }
    }

    /// Closed form: one profile for all joints of a straight line.
    #[test]
    fn a_straight_line_takes_one_profile_for_all_joints() {
        let paces = [pace(4.0, 1.0), pace(1.0, 0.5), pace(4.0, 0.1)];
        let time = segment_time(&[90.0, 45.0, 10.0], &paces, &[], 1.0);
        assert!((time.seconds() - 47.222222).abs() < 1e-6);
    }

    /// Closed form: a 7 m link with its tip at 0.15 m/s turns 90° in 73.303829 s, ramps aside.
    #[test]
    fn the_tip_limit_slows_a_long_link() {
        let time = segment_time(&[FRAC_PI_2], &[pace(1.0, 1e9)], &[7.0 * FRAC_PI_2; 9], 0.15);
        assert!((time.seconds() - 73.303829).abs() < 1e-5);
    }

    /// Closed form: f = 1 + s, L = 1, no limit of acceleration: T = ∫ (1 + s) ds = 1.5 s.
    #[test]
    fn where_the_tip_is_slow_the_joints_go_faster() {
        let speeds: Vec<f64> = (0..=64).map(|k| 1.0 + k as f64 / 64.0).collect();
        let time = segment_time(&[1.0], &[pace(1e3, 1e9)], &speeds, 1.0);
        assert!(time.seconds() >= 1.5 && time.seconds() < 1.5 * 1.001, "{}", time.seconds());
    }

    #[test]
    fn nothing_that_is_limited_goes_above_its_limit_and_something_is_at_one_of_them_all_along() {
        for (number, curve) in [1.0, 3.0, 9.0].into_iter().enumerate() {
            let at = |s: f64| 2.0 + (curve * s + number as f64).sin();
            let speeds: Vec<f64> = (0..=40).map(|k| at(k as f64 / 40.0)).collect();
            let (limits, tip) = (pace(0.5, 0.4 + number as f64), 0.8);
            let time = segment_time(&[1.0], &[limits], &speeds, tip);
            assert!(time.greatest_acceleration() <= limits.acceleration * (1.0 + 1e-9));
            assert!(time.peak() <= limits.rate * (1.0 + 1e-12));
            let seconds = time.seconds();
            let count = 4000;
            let mut slack = 0;
            for k in 0..=count {
                let now = seconds * k as f64 / count as f64;
                let s = time.fraction_at(now);
                assert!((time.seconds_at(s) - now).abs() < 1e-6 * seconds, "{now} {s}");
                let (low, step) = ((s * 40.0).floor().min(39.0) as usize, s * 40.0);
                let linear = speeds[low] + (speeds[low + 1] - speeds[low]) * (step - low as f64);
                let (rate, later) = (time.rate_at(s), time.rate_at(time.fraction_at(now + 1e-4)));
                assert!(rate * linear <= tip * (1.0 + 1e-9), "{} above {tip} at {s}", rate * linear);
                let changes = (later - rate).abs() / 1e-4;
                let free = rate * linear < 0.99 * tip && rate < 0.99 * limits.rate;
                slack += usize::from(free && changes < 0.99 * limits.acceleration && now + 1e-4 < seconds);
            }
            assert!(slack < count / 50, "{slack} moments of {count} with something to spare");
        }
    }

    #[test]
    fn a_ramp_and_its_knots_say_the_same() {
        for (distance, speed, acceleration) in [(1.0, 0.2, 0.1), (1.0, 5.0, 0.1)] {
            let ramp = super::super::timing::rest_to_rest(distance, speed, acceleration);
            let time = SegmentTime::of_ramp(&ramp);
            for share in [0.0, 0.03, 0.2, 0.5, 0.77, 0.99, 1.0] {
                assert!((time.seconds_at(share) - ramp.seconds_at(share, 1.0)).abs() < 1e-9 * ramp.seconds);
                let seconds = share * ramp.seconds;
                assert!((time.fraction_at(seconds) - ramp.covered_at(seconds, 1.0)).abs() < 1e-9);
            }
            assert!((time.greatest_acceleration() - acceleration).abs() < 1e-12);
        }
    }
}
