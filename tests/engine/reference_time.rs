//! Source: ruckig 0.19.4 with jerk unlimited (single joints), toppra 0.6.10 (several on a straight line), stored in
//! `references/time.json` (made by `time.py`). Tolerances, as shares of the time: 1e-9 against ruckig, which solves in closed
//! form; 1e-4 against toppra, which is above the optimum by up to that where a ramp is shorter than a step of its grid;
//! 1 % above toppra where the tip's speed is limited too, as it is bounded on pieces here, and 1e-4 below it, as toppra holds
//! that limit on its grid alone.

use serde::Deserialize;

use trusswalk::check::tip_speeds_of;
use trusswalk::motion::{JointPace, Segment, rest_to_rest, segment_time, stopping_distance, tip_speed_at};

use super::reference_kinematics::arm_named;
use super::stored::{Deviation, Stored, assert_allowed};

#[derive(Deserialize)]
struct Times {
    table: Vec<Single>,
    random: Vec<Single>,
    joints: Vec<Several>,
    lines: Vec<Several>,
    tip_lines: Vec<TipLines>,
}

/// Lines of one arm with a limit of the tip's speed.
#[derive(Deserialize)]
struct TipLines {
    name: String,
    lines: Vec<TipLine>,
}

#[derive(Deserialize)]
struct TipLine {
    from: Vec<f64>,
    to: Vec<f64>,
    speeds: Vec<f64>,
    accelerations: Vec<f64>,
    tip_speed: f64,
    seconds: f64,
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

fn paces(speeds: &[f64], accelerations: &[f64]) -> Vec<JointPace> {
    let limits = speeds.iter().zip(accelerations);
    limits.map(|(rate, acceleration)| JointPace { rate: *rate, acceleration: *acceleration }).collect()
}

/// By which share each time with a limit of the tip's speed is above toppra's; negative: below. Whatever the time, the tip
/// keeps its limit.
fn above_toppra(of_arm: &TipLines) -> Vec<f64> {
    let (arm, tip) = arm_named(&of_arm.name);
    let share = |line: &TipLine| {
        let segment = Segment { from: line.from.clone(), to: line.to.clone() };
        let speeds = tip_speeds_of(&arm, tip, &segment);
        let time = segment_time(&segment.change(), &paces(&line.speeds, &line.accelerations), &speeds, line.tip_speed);
        for k in 0..=2000 {
            let at = f64::from(k) / 2000.0;
            let speed = time.rate_at(at) * tip_speed_at(&arm, tip, &segment, at);
            assert!(speed <= line.tip_speed * (1.0 + 1e-9), "{speed} m/s at {at}, above {}", line.tip_speed);
        }
        time.seconds() / line.seconds - 1.0
    };
    of_arm.lines.iter().map(share).collect()
}

fn share(own: f64, stored: f64) -> f64 {
    (own / stored - 1.0).abs()
}

impl Several {
    fn straight(&self) -> f64 {
        // No tip: joints alone limit the pace.
        segment_time(&self.distances, &paces(&self.speeds, &self.accelerations), &[], 1.0).seconds()
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
    let with_tip = stored.content.tip_lines.iter().flat_map(above_toppra).map(f64::abs);
    let tip_reference = format!("{toppra}, {}", stored.made_with("pin"));
    vec![
        Deviation::of("time from rest to rest, one joint (share)", &ruckig, 1e-9, times.chain(alone)),
        Deviation::of("peak speed, one joint (share)", &ruckig, 1e-9, peaks),
        Deviation::of("time of a straight line in joint space (share)", &toppra, 1e-4, straight),
        Deviation::of("the same, the tip's speed limited too (share)", &tip_reference, 1e-2, with_tip),
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
    rows.into_iter().map(|(speed, acceleration, reaction, distance)| {
        (stopping_distance(speed, acceleration, reaction) - distance).abs()
    })
}

#[test]
fn times_are_those_of_ruckig_and_toppra() {
    assert_allowed(&deviations());
}

#[test]
fn where_the_tip_is_limited_no_line_is_quicker_than_the_optimum() {
    let stored = Stored::<Times>::read("time");
    let shares: Vec<f64> = stored.content.tip_lines.iter().flat_map(above_toppra).collect();
    let (least, greatest) = shares.iter().fold((0.0_f64, 0.0_f64), |(a, b), share| (a.min(*share), b.max(*share)));
    println!("{} lines, {least:e} to {greatest:e} above toppra", shares.len());
    assert!(least >= -1e-4, "{least}");
    // On these lines the tip's limit counts: one trapezoid under the greatest tip speed would be 5 % slower and more.
    assert!(shares.len() == 120 && greatest > 1e-5);
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
