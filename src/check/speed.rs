//! Are rates, tip speed and times kept?
//!
//! # Question
//! How long does each motion take, and, where the plan fixes a duration, do joints and tip stay within their limits?
//! # Law
//! Segments are rest to rest on straight lines in joint space, one profile for all joints
//! ([`crate::motion::segment_time`]). What the plan leaves free is scaled under all limits, as quick as they allow, and its
//! time is a result; what it fixes is a trapezoid, compared with joint rate, joint acceleration and tip speed, the tip's by
//! an upper bound. The tip's limit is the one for what the arm carries; on a segment on which anything that hangs on the
//! tip may come within `near_structure_m` of structure, tolerances counted, it is no more than the one `near_structure`.
//! # Source
//! Constant-acceleration kinematics. Tip speeds by what is carried: common practice, no source, where the plan gives none.
//! # Limits
//! Motions of a base and of the restraint are not timed. An arm's file without rates or accelerations leaves its motions untimed.
//! # Findings
//! One a motion for its time (against the step's `at_most_min`, if it has one); three for each fixed segment.

use std::sync::Arc;

use crate::model::{AtMost, Bound};
use crate::motion::tip_speed_at;
use crate::state::{MotionKind, Scene};

use super::case::{Case, MoveCase};
use super::finding::{Bar, Finding, Kind, Moment, Place, Unit, Value};
use super::judge::{Measure, key};
use super::pace::tip_speeds_of;
use super::piece::Piece;

pub const NAME: &str = "speed";

/// Findings of a motion.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    let Piece::Move(moved) = piece else { return Vec::new() };
    let subject = |what: String| key(NAME, Place::Motion { motion: moved.moved.id.clone() }, None, what);
    let untimed = match moved.moved.kind {
        MotionKind::Base => Some("a base's motion is not timed"),
        MotionKind::Setting => Some("setting the restraint by hand is not timed"),
        MotionKind::Retreat | MotionKind::Transit | MotionKind::Approach => None,
    };
    if let Some(reason) = untimed {
        return vec![Finding::not_checked(subject("time".to_owned()), Unit::Second, reason)];
    }
    if moved.moved.segments.is_empty() {
        return Vec::new();
    }
    let Some(paces) = &moved.paces else {
        let reason = "the arm's file does not give rate and acceleration of every joint";
        return vec![Finding::not_checked(subject("time".to_owned()), Unit::Second, reason)];
    };
    let mut findings = Vec::new();
    if let Some(seconds) = moved.seconds() {
        findings.push(Finding::told(subject("time".to_owned()), Value::Exact(seconds), Unit::Second));
    }
    for (number, (((segment, fixed), time), tip_limit)) in
        moved.moved.segments.iter().zip(&moved.moved.fixed_seconds).zip(&moved.times).zip(&moved.tip_limits).enumerate()
    {
        let (Some(_), Some(time)) = (fixed, time) else { continue };
        let at = || Moment {
            segment: Some(number),
            segments: Some(moved.moved.segments.len()),
            fraction: 0.5,
            seconds: moved.seconds_at(number, 0.5),
            joints: segment.at(0.5),
            points: None,
        };
        let tip = moved.assembly.arm.tip;
        let peak = time.peak();
        let speeds = tip_speeds_of(&moved.frozen, tip, segment);
        let speed = speeds.into_iter().fold(0.0, f64::max) * peak;
        // Half way, the profile is at its peak.
        let half_way = tip_speed_at(&moved.frozen, tip, segment, 0.5) * peak;
        let limit = AtMost::default_of(tip_limit.speed, "limits.tip_speed_m_s");
        let measure = Measure::of(&limit, Unit::MetrePerSecond);
        let help = Some("a longer duration of this segment".to_owned());
        let bound = Bound { lower: half_way.min(speed), upper: speed };
        let tip_subject = subject(format!("tip on segment {number}"));
        let finding = Finding::bounded(tip_subject, bound, &measure, (Kind::Nominal, Kind::NotTold)).seen(at());
        let finding = if tip_limit.near_structure {
            let within = scene.project.plan.limits.near_structure_m;
            finding.noted(format!("what the tip carries is within {within:.2} m of structure"))
        } else {
            finding
        };
        findings.push(finding.helped(help.clone()));
        let shares = segment.change().into_iter().zip(paces).map(|(change, pace)| {
            let rate = change.abs() * peak / pace.rate;
            let acceleration = change.abs() * time.greatest_acceleration() / pace.acceleration;
            (rate, acceleration)
        });
        let (rate, acceleration) = shares.fold((0.0, 0.0), |a: (f64, f64), b| (a.0.max(b.0), a.1.max(b.1)));
        // A profile that uses all of the acceleration is right, not tight.
        let whole = Measure { unit: Unit::Share, bar: Bar::AtMost(1.0 + 1e-9), band: 0.0, source: None };
        for (what, share) in [("joint rate", rate), ("joint acceleration", acceleration)] {
            let subject = subject(format!("{what} on segment {number}, share of its limit"));
            findings.push(Finding::exact(subject, share, &whole).seen(at()).helped(help.clone()));
        }
    }
    findings
}

/// The motions of each step together, against the step's own limit.
pub fn times_of_steps(case: &Case) -> Vec<Finding> {
    let plan = &case.scene.project.plan;
    plan.step
        .iter()
        .enumerate()
        .filter_map(|(number, step)| {
            let at_most = step.at_most_min? * 60.0;
            let id = step.id_at(number);
            let of_step = case.moves.iter().filter(|moved| moved.moved.step == id);
            let (set, motions): (Vec<&Arc<MoveCase>>, Vec<_>) =
                of_step.partition(|moved| moved.moved.kind == MotionKind::Setting);
            let key = key(NAME, Place::Step { step: id }, Some(step.who), "time of its motions");
            let total: Option<f64> = motions.iter().map(|moved| moved.seconds()).sum();
            let limit = AtMost::default_of(at_most, "the step's at_most_min");
            let measure = Measure::of(&limit, Unit::Second);
            Some(match total {
                Some(seconds) => {
                    let help = "fewer waypoints, a shorter way, or more time for this step".to_owned();
                    let finding = Finding::exact(key, seconds, &measure).helped(Some(help));
                    if set.is_empty() { finding } else { finding.noted("without the time to set the restraint") }
                }
                None => Finding::not_checked(key, Unit::Second, "not all of its motions are timed"),
            })
        })
        .collect()
}
