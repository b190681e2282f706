//! Do retreat and approach keep to their straight line?
//!
//! # Question
//! How far does the tip stray from the straight line through the worksite, and from its constant orientation?
//! # Law
//! See [`crate::motion::stray_from_line`]: an upper bound over each segment between rounded vertices.
//! # Source
//! Taylor's theorem; the limits are the plan's.
//! # Limits
//! The line's place is that of the worksite's configuration as the plan writes it.
//! # Findings
//! Two a retreat or approach (distance and turn); a violation that says *not found* where no joint values keep to it.

use crate::model::{AtMost, Bound};
use crate::motion::{LineStray, stray_from_line};
use crate::state::{Fault, MotionKind, Scene};

use super::finding::{Finding, Kind, Place, Unit};
use super::judge::{Measure, key};
use super::piece::Piece;

pub const NAME: &str = "line";

/// Findings of a retreat or approach, or of a motion that could not be laid out.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    let Piece::Move(moved) = piece else { return Vec::new() };
    let limits = &scene.project.plan.limits;
    let distance = Measure::of(&limits.line_m, Unit::Metre).with_default_band(&limits.line_m, 0.0);
    let turn = Measure::of(&limits.line, Unit::Radian).with_default_band(&limits.line, 0.0);
    let subject = |what: &str| key(NAME, Place::Motion { motion: moved.moved.id.clone() }, None, what);
    if let Some(fault) = &moved.moved.fault {
        return vec![match fault {
            Fault::NoWay => {
                Finding::not_checked(subject("base"), Unit::Metre, "the plan does not give the way of the base")
            }
            Fault::Line(line) => Finding::failed(
                subject("tip"),
                &distance,
                Kind::NotFound,
                format!("joint values were found for {:.2} m of {:.2} m", line.reached, line.wanted),
            )
            .helped(Some("a shorter approach, another direction, or another configuration of the arm".to_owned())),
            Fault::Waypoint { number, error, starts } => Finding::failed(
                subject("tip"),
                &distance,
                Kind::NotFound,
                format!("waypoint {number}: the tip pose was missed by {error:.3} m in {starts} starts"),
            )
            .helped(Some("a tip pose nearer to the arm, or joint values in its place".to_owned())),
            Fault::WayEndsElsewhere { distance: by, turn: turned } => Finding::failed(
                subject("base"),
                &Measure::of(&AtMost::new(1e-3), Unit::Metre),
                Kind::Nominal,
                format!("the base's way ends {by:.3} m and {turned:.4} rad from its stand"),
            ),
            Fault::OtherStand { stands_at, served_from } => Finding::failed(
                subject("base"),
                &distance,
                Kind::Nominal,
                format!("the base stands at {stands_at}, the worksite is served from {served_from}"),
            )
            .helped(Some(format!("a step `move-base` to {served_from} before this one"))),
        }];
    }
    if !matches!(moved.moved.kind, MotionKind::Retreat | MotionKind::Approach) {
        return Vec::new();
    }
    let Some(line) = &moved.moved.line else { return Vec::new() };
    let along = (&line.structure_from_tip, &line.outwards);
    let stray = moved
        .moved
        .segments
        .iter()
        .map(|segment| stray_from_line(&moved.arm.mechanism, moved.arm.tip, segment, along))
        .fold(LineStray::default(), |a, b| LineStray {
            distance: a.distance.max(b.distance),
            turn: a.turn.max(b.turn),
        });
    let bound = |upper| Bound { lower: 0.0, upper };
    vec![
        Finding::bounded(subject("tip off its line"), bound(stray.distance), &distance, (Kind::Nominal, Kind::NotTold)),
        Finding::bounded(subject("tip turned"), bound(stray.turn), &turn, (Kind::Nominal, Kind::NotTold)),
    ]
}
