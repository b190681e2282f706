//! How long does one joint take from rest to rest, and how far does it overrun when it is stopped?
//!
//! # Law
//! Rest to rest over a distance d under speed v and acceleration a: if d ≥ v²/a, T = d/v + v/a, else T = 2·√(d/a) with
//! peak √(a·d). Stopping: at rate q̇ a joint overruns by q̇·t_react + q̇²/(2a), each joint on its own.
//!
//! # Source
//! Constant-acceleration kinematics; trapezoidal profiles of any machine-design text.

/// What a joint can do (rad/s and rad/s², or m/s and m/s²).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JointPace {
    pub rate: f64,
    pub acceleration: f64,
}

/// A rest-to-rest profile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ramp {
    pub seconds: f64,
    /// Greatest speed reached.
    pub peak: f64,
    pub acceleration: f64,
}

/// The quickest rest-to-rest profile over a distance under a speed and an acceleration limit, any one unit.
pub fn rest_to_rest(distance: f64, speed: f64, acceleration: f64) -> Ramp {
    if distance <= 0.0 {
        return Ramp { seconds: 0.0, peak: 0.0, acceleration };
    }
    if distance >= speed * speed / acceleration {
        Ramp { seconds: distance / speed + speed / acceleration, peak: speed, acceleration }
    } else {
        Ramp { seconds: 2.0 * (distance / acceleration).sqrt(), peak: (distance * acceleration).sqrt(), acceleration }
    }
}

impl Ramp {
    /// The profile of the same shape that takes `seconds` in all: as slow as that asks, at the same acceleration if it
    /// can be kept.
    ///
    /// Solves d = v·(T − v/a) for the smaller v, as v = 2d / (T + √(T² − 4d/a)), which loses no digits however long T
    /// is; where the time is too short for that acceleration, the triangle that takes T.
    pub fn lasting(distance: f64, seconds: f64, acceleration: f64) -> Self {
        let discriminant = seconds * seconds - 4.0 * distance / acceleration;
        if discriminant >= 0.0 {
            let peak = 2.0 * distance / (seconds + discriminant.sqrt());
            Self { seconds, peak, acceleration }
        } else {
            Self { seconds, peak: 2.0 * distance / seconds, acceleration: 4.0 * distance / (seconds * seconds) }
        }
    }

    /// When the profile has covered `covered` of `distance`.
    pub fn seconds_at(&self, covered: f64, distance: f64) -> f64 {
        if distance <= 0.0 {
            return 0.0;
        }
        let ramp = 0.5 * self.peak * self.peak / self.acceleration;
        let covered = covered.clamp(0.0, distance);
        if covered <= ramp {
            (2.0 * covered / self.acceleration).sqrt()
        } else if covered <= distance - ramp {
            self.peak / self.acceleration + (covered - ramp) / self.peak
        } else {
            self.seconds - (2.0 * (distance - covered) / self.acceleration).sqrt()
        }
    }

    /// How much of `distance` the profile has covered after `seconds`; the inverse of [`Self::seconds_at`].
    pub fn covered_at(&self, seconds: f64, distance: f64) -> f64 {
        if distance <= 0.0 || self.seconds <= 0.0 {
            return distance.max(0.0);
        }
        let seconds = seconds.clamp(0.0, self.seconds);
        let ramp_time = self.peak / self.acceleration;
        let covered = if seconds <= ramp_time {
            0.5 * self.acceleration * seconds * seconds
        } else if seconds <= self.seconds - ramp_time {
            0.5 * self.peak * ramp_time + self.peak * (seconds - ramp_time)
        } else {
            distance - 0.5 * self.acceleration * (self.seconds - seconds).powi(2)
        };
        covered.clamp(0.0, distance)
    }
}

/// How far a joint may overrun when stopped from a rate: it goes on for `reaction` seconds, then brakes.
pub fn stopping_distance(rate: f64, acceleration: f64, reaction: f64) -> f64 {
    rate * reaction + rate * rate / (2.0 * acceleration)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use proptest::test_runner::{Config, RngSeed};

    use super::*;

    #[test]
    fn what_is_covered_at_a_moment_is_covered_at_that_moment() {
        for (distance, speed, acceleration) in [(1.0, 0.2, 0.1), (1.0, 5.0, 0.1), (3.0, 0.5, 2.0)] {
            let ramp = rest_to_rest(distance, speed, acceleration);
            for share in [0.0, 0.03, 0.2, 0.5, 0.77, 0.99, 1.0] {
                let covered = ramp.covered_at(share * ramp.seconds, distance);
                assert!((ramp.seconds_at(covered, distance) - share * ramp.seconds).abs() < 1e-9 * ramp.seconds);
            }
        }
    }

    /// Closed form; the same rows ran through ruckig 0.19.4 with jerk unlimited.
    #[test]
    fn rest_to_rest_agrees_with_the_closed_form() {
        let rows = [
            (6.0, 0.15, 0.01, 55.0),
            (2.25, 0.15, 0.01, 30.0),
            (1.0, 0.15, 0.01, 20.0),
            (6.0, 0.37, 0.05, 23.616216),
            (90.0, 4.0, 1.0, 26.5),
            (10.0, 4.0, 1.0, 6.324555),
            (1.0, 0.03, 0.01, 36.333333),
            (0.05, 1.0, 0.01, 4.472136),
            (10.0, 2.0, 2.0, 6.0),
            (0.0, 1.0, 1.0, 0.0),
        ];
        for (distance, speed, acceleration, seconds) in rows {
            let ramp = rest_to_rest(distance, speed, acceleration);
            assert!((ramp.seconds - seconds).abs() < 1e-6, "{distance} {speed} {acceleration}: {ramp:?}");
        }
    }

    /// Closed form: v·t + v²/(2a).
    #[test]
    fn overrun_is_reaction_and_braking() {
        let rows = [
            (0.15, 0.05, 0.0, 0.225),
            (0.15, 0.05, 1.0, 0.375),
            (0.37, 0.05, 0.0, 1.369),
            (0.37, 0.05, 1.0, 1.739),
            (0.3, 0.1, 0.0, 0.45),
            (0.6, 0.3, 0.0, 0.6),
        ];
        for (rate, acceleration, reaction, expected) in rows {
            assert!((stopping_distance(rate, acceleration, reaction) - expected).abs() < 1e-12);
        }
    }

    proptest! {
        #![proptest_config(Config { failure_persistence: None, rng_seed: RngSeed::Fixed(5), ..Config::default() })]

        /// Numbers as large and as small as files may hold, each drawn by its power of ten.
        #[test]
        fn a_profile_that_is_given_its_time_covers_the_distance(
            powers in [-6.0..3.0, -6.0..6.0, -6.0..6.0_f64]
        ) {
            let [distance, seconds, acceleration] = powers.map(|power| 10_f64.powf(power));
            let ramp = Ramp::lasting(distance, seconds, acceleration);
            let covered = ramp.peak * (ramp.seconds - ramp.peak / ramp.acceleration);
            prop_assert!((covered / distance - 1.0).abs() < 1e-12, "{ramp:?} covers {covered} of {distance}");
            prop_assert!(ramp.acceleration >= acceleration * (1.0 - 1e-12));
            let half = ramp.seconds_at(0.5 * distance, distance);
            prop_assert!((half / seconds - 0.5).abs() < 1e-9, "{ramp:?} is half there after {half}");
            prop_assert!((ramp.seconds_at(distance, distance) / seconds - 1.0).abs() < 1e-12);
        }
    }
}
