//! Source: ruckig 0.19.4 with jerk unlimited (single joints), toppra 0.6.10 (several on a straight line), stored in
//! `references/time.json` (made by `time.py`). Tolerances, as shares of the time: 1e-9 against ruckig, which solves in closed
//! form; 1e-4 against toppra, which is above the optimum by up to that where a ramp is shorter than a step of its grid.

use serde::Deserialize;

use trusswalk::motion::{JointPace, overrun, rest_to_rest, segment_time};

use super::stored::{Deviation, Stored, assert_allowed};

#[derive(Deserialize)]
struct Times {
    table: Vec<Single>,
    random: Vec<Single>,
    joints: Vec<Several>,
    lines: Vec<Several>,
}

#[derive(Deserialize)]
struct Single {
    distance: f64,
    speed: f64,
    acceleration: f64,
    seconds: f64,
    peak_speed: f64,
}

#[derive(Deserialize)]
struct Several {
    distances: Vec<f64>,
    speeds: Vec<f64>,
    accelerations: Vec<f64>,
    alone_seconds: Vec<f64>,
    together_seconds: f64,
    straight_seconds: f64,
}

fn share(own: f64, stored: f64) -> f64 {
    (own / stored - 1.0).abs()
}

impl Several {
    fn straight(&self) -> f64 {
        let limits = self.speeds.iter().zip(&self.accelerations);
        let paces: Vec<_> =
            limits.map(|(rate, acceleration)| JointPace { rate: *rate, acceleration: *acceleration }).collect();
        // No tip: joints alone limit the pace.
        segment_time(&self.distances, &paces, 0.0, 1.0).seconds()
    }

    fn alone(&self) -> Vec<f64> {
        let limits = self.speeds.iter().zip(&self.accelerations);
        let each = self.distances.iter().zip(limits);
        each.map(|(distance, (speed, acceleration))| rest_to_rest(*distance, *speed, *acceleration).seconds).collect()
    }
}

pub fn deviations() -> Vec<Deviation> {
    let stored = Stored::<Times>::read("time");
    let (ruckig, toppra) = (stored.made_with("ruckig"), stored.made_with("toppra"));
    let singles = || stored.content.table.iter().chain(&stored.content.random);
    let several = || stored.content.joints.iter().chain(&stored.content.lines);
    let ramp = |one: &Single| rest_to_rest(one.distance, one.speed, one.acceleration);
    let times = singles().map(|one| share(ramp(one).seconds, one.seconds));
    let alone = several().flat_map(|many| {
        many.alone().iter().zip(&many.alone_seconds).map(|(own, stored)| share(*own, *stored)).collect::<Vec<_>>()
    });
    let peaks = singles().map(|one| share(ramp(one).peak, one.peak_speed));
    let straight = several().map(|many| share(many.straight(), many.straight_seconds));
    vec![
        Deviation::of("time from rest to rest, one joint (share)", &ruckig, 1e-9, times.chain(alone)),
        Deviation::of("peak speed, one joint (share)", &ruckig, 1e-9, peaks),
        Deviation::of("time of a straight line in joint space (share)", &toppra, 1e-4, straight),
        Deviation::of("stopping distance", "closed form", 1e-12, stopping()),
    ]
}

/// Check values, "Stopping: v·t + v²/(2a)": the printed digits are exact.
fn stopping() -> impl Iterator<Item = f64> {
    let rows = [
        (0.15, 0.05, 0.0, 0.225),
        (0.15, 0.05, 1.0, 0.375),
        (0.37, 0.05, 0.0, 1.369),
        (0.37, 0.05, 1.0, 1.739),
        (0.3, 0.1, 0.0, 0.45),
        (0.6, 0.3, 0.0, 0.6),
    ];
    rows.into_iter()
        .map(|(speed, acceleration, reaction, distance)| (overrun(speed, acceleration, reaction) - distance).abs())
}

#[test]
fn times_are_those_of_ruckig_and_toppra() {
    assert_allowed(&deviations());
}

#[test]
fn a_straight_line_takes_no_less_than_joints_that_only_arrive_together() {
    let stored = Stored::<Times>::read("time");
    for many in stored.content.joints.iter().chain(&stored.content.lines) {
        assert!(many.straight() >= many.together_seconds * (1.0 - 1e-12));
        // toppra's grid only ever costs it time.
        assert!(many.straight() <= many.straight_seconds * (1.0 + 1e-7));
    }
}
