//! What a report says of its own bounds: what it took for granted, what was too far to measure, what kind of no it is.

use trusswalk::check::{Finding, Kind, Outcome, Status, Value};
use trusswalk::model::{Angle, Waypoint};

use crate::edited::{ball, keep_steps, outcome_of, violations, worksite_of};

fn reason<'a>(outcome: &'a Outcome, step: &str) -> Option<&'a str> {
    outcome.findings.iter().find_map(|finding| match (&finding.status, worksite_of(finding)) {
        (Status::NotChecked(reason), Some((_, of))) if of == step => Some(reason.as_str()),
        _ => None,
    })
}

#[test]
fn postures_that_were_taken_for_granted_are_named_where_both_are_outside() {
    let outcome = outcome_of("demo", |_| ());
    let tray = reason(&outcome, "second-to-tray").expect("a line");
    assert!(tray.contains("second crew is taken to stand in the neutral posture"), "{tray}");
    assert!(tray.contains("the rider is taken to stand at rest (posture arms-in)"), "{tray}");
    let mast = reason(&outcome, "second-to-mast").expect("a line");
    assert!(mast.contains("the rider is taken to stand at rest (posture arms-in)"), "{mast}");
}

#[test]
fn somebody_who_is_outside_alone_is_told_nothing_of_a_companion() {
    let alone = outcome_of("demo", |project| {
        keep_steps(project, &["second-to-tray", "second-tray-work", "second-from-tray"]);
    });
    assert_eq!(reason(&alone, "second-to-tray"), None);
}

#[test]
fn classes_that_never_come_near_are_told_to_stay_beyond_the_cap() {
    let outcome = outcome_of("starter", |project| {
        let far = ball("far", [60.0, 60.0, 60.0], 0.1);
        project.structure.keep_out.push(trusswalk::model::KeepOut { id: far.id, place: far.place, shape: far.shape });
    });
    let above = |place: &str, start: &str| {
        let of = |finding: &&Finding| {
            finding.key.check == "clearance"
                && finding.key.place.name() == place
                && finding.key.subject.starts_with(start)
        };
        outcome.findings.iter().filter(of).map(|finding| finding.value).collect::<Vec<_>>()
    };
    for place in ["step-3/retreat", "step-3/transit", "near-panel"] {
        for classes in ["arm_to_keep_out", "restraint_to_keep_out", "rider_to_keep_out"] {
            let found = above(place, classes);
            assert!(!found.is_empty() && found.iter().all(|value| *value == Value::Above(2.0)), "{place} {classes}");
        }
    }
}

#[test]
fn growth_of_what_stands_still_is_looked_for_beyond_the_cap() {
    // Nominally 0.5 m beside the pedestal, whose radius is 0.15 m.
    let with_growth = |shape_m: f64| {
        let outcome = outcome_of("starter", |project| {
            keep_steps(project, &["step-1"]);
            project.plan.cap_m = 0.2;
            project.plan.tolerances.shape_m = shape_m;
            project.structure.truss.clear();
            project.structure.handrail.clear();
            project.structure.body.push(ball("stub", [1.0, 0.75, 1.25], 0.1));
        });
        let found = violations(&outcome, "clearance");
        found.iter().filter(|finding| finding.key.subject.starts_with("arm/base/pedestal – stub")).count()
    };
    assert_eq!((with_growth(0.45), with_growth(0.55)), (0, 1));
}

#[test]
fn what_is_beyond_the_cap_is_beyond_its_limit_however_low_the_cap() {
    let outcome = outcome_of("starter", |project| {
        keep_steps(project, &["step-1", "step-2", "step-3"]);
        project.plan.cap_m = 0.05;
    });
    let above: Vec<&Finding> =
        outcome.findings.iter().filter(|finding| matches!(finding.value, Value::Above(_))).collect();
    assert!(!above.is_empty());
    for finding in above {
        let kept = finding.status != Status::Ok || finding.margin.is_some_and(|margin| margin >= 0.0);
        assert!(kept, "{}: {:?}", finding.key.subject, finding.margin);
    }
}

#[test]
fn a_tip_that_is_too_fast_for_certain_is_so_as_planned() {
    let in_seconds = |seconds: f64| {
        let outcome = outcome_of("starter", |project| {
            let joints = project.plan.worksite[0].joints.clone();
            let there = joints.iter().enumerate().map(|(k, q)| if k == 0 { q + 40.0 } else { *q }).collect();
            let waypoint = Waypoint { joints: Some(there), tip: None, duration_s: Some(seconds) };
            project.plan.step[2].waypoint.push(waypoint);
        });
        let found = violations(&outcome, "speed");
        let tip = found.iter().find(|finding| finding.key.subject.starts_with("tip on segment"));
        tip.map(|finding| finding.status.clone())
    };
    assert_eq!(in_seconds(10.0), Some(Status::Violation(Kind::Nominal)));
    assert_eq!(in_seconds(600.0), None);
}

#[test]
fn the_least_joint_margin_is_told_for_turns_and_for_slides() {
    let outcome = outcome_of("starter", |project| {
        keep_steps(project, &["step-1"]);
        let first = &mut project.arm.joint[0];
        first.kind = trusswalk::model::JointKind::Prismatic;
        (first.turn_limits, first.slide_limits) = (None, Some([-1.0, 0.005]));
        (first.slide_rate, first.slide_acceleration) = (Some(0.1), Some(0.1));
        project.plan.tolerances.joint = Angle::from_degrees(0.0);
    });
    let margins: Vec<&Finding> =
        outcome.findings.iter().filter(|finding| finding.key.check == "joint-limits").collect();
    let units: Vec<_> = margins.iter().map(|finding| finding.unit).collect();
    assert_eq!(units.len(), 2);
    assert_ne!(units[0], units[1]);
}
