//! A small project and outcome, invented for tests of reports: every kind of value, place and status occurs.

use trusswalk::check::{
    Bar, Exemption, Finding, JointName, Key, Kind, Moment, MotionKind, MotionSummary, Outcome, Pair, Place, Situation,
    Status, TargetUse, Unit, Value, Visit,
};
use trusswalk::model::{
    Angle, Arm, BodyClass, Bound, ClassPair, Deed, Hands, Limits, Plan, Project, Restraint, Structure, Suit,
    Tolerances, Who,
};
use trusswalk::space::{Point, Pose, Vector};

pub fn project() -> Project {
    let plan = Plan {
        title: "invented: panel on the north bay".to_owned(),
        seed: 7,
        transit_nodes: 40_000,
        structure: "structure.toml".to_owned(),
        arm: "arm.toml".to_owned(),
        arm_links: None,
        arm_shapes: None,
        restraint: "restraint.toml".to_owned(),
        suit: None,
        near_worksite_m: 0.6,
        cap_m: 2.0,
        rider: Default::default(),
        second_crew: Default::default(),
        limits: Limits::default(),
        tolerances: Tolerances { joint: Angle::from_degrees(0.05), shape_m: 0.003, ..Tolerances::default() },
        stand: Vec::new(),
        seat: Vec::new(),
        payload: Vec::new(),
        posture: Vec::new(),
        worksite: Vec::new(),
        camera: Vec::new(),
        contact: Vec::new(),
        step: Vec::new(),
    };
    Project {
        plan,
        structure: Structure::default(),
        arm: Arm {
            title: "two-joint test arm, invented".to_owned(),
            base: Vec::new(),
            joint: Vec::new(),
            tip: Default::default(),
            tip_meets: Default::default(),
        },
        restraint: Restraint {
            title: String::new(),
            base: Vec::new(),
            joint: Vec::new(),
            plate: Default::default(),
            boot_spacing_m: 0.25,
        },
        suit: Suit::default(),
    }
}

/// A finding that keeps its limit, in metres, about nothing in particular.
fn finding(check: &'static str, place: Place, subject: &str) -> Finding {
    Finding {
        key: Key { check, place, who: Some(Who::Rider), subject: subject.to_owned() },
        pair: None,
        value: Value::Exact(0.4321),
        limit: Some(Bar::AtLeast(0.0)),
        margin: Some(0.4321),
        unit: Unit::Metre,
        at: None,
        status: Status::Ok,
        note: None,
        help: None,
        source: None,
    }
}

fn clearance(motion: &str, classes: [BodyClass; 2], bodies: Option<[&str; 2]>) -> Finding {
    let [a, b] = classes;
    let classes = ClassPair::new(a, b);
    Finding {
        pair: Some(Pair {
            classes,
            bodies: bodies.map(|names| names.map(str::to_owned)),
            situation: Some(Situation::Moving),
        }),
        ..finding("clearance", Place::Motion { motion: motion.to_owned() }, &classes.to_string())
    }
}

fn visits() -> Vec<Visit> {
    let degrees = |joints: &[(&str, f64)]| {
        joints.iter().map(|(name, angle)| ((*name).to_owned(), angle.to_radians())).collect::<Vec<_>>()
    };
    let rider = Visit {
        worksite: "mount-north".to_owned(),
        step: "step-3".to_owned(),
        deed: Deed::Work,
        who: Who::Rider,
        stand: "west".to_owned(),
        detents: degrees(&[("pitch", 15.0), ("yaw", -22.5)]),
        structure_from_plate: Pose::new(Vector::new(2.1, 0.4, 6.9), Vector::z() * std::f64::consts::FRAC_PI_2),
        arm: vec![(-12.3f64).to_radians(), 1.25],
        approach: Vector::new(0.0, -1.0, 0.0),
        targets: vec![
            TargetUse {
                target: "bolt-1".to_owned(),
                tool: 0.25,
                hands: Some(Hands::Right),
                joints: degrees(&[("right-elbow-flexion", 62.0004), ("right-wrist-flexion", -5.25)]),
            },
            TargetUse {
                target: "bolt-2".to_owned(),
                tool: 0.0,
                hands: Some(Hands::Both),
                joints: degrees(&[("right-elbow-flexion", 40.2), ("right-wrist-flexion", -5.25)]),
            },
            TargetUse { target: "bolt-3".to_owned(), tool: 0.0, hands: None, joints: Vec::new() },
        ],
    };
    let second = Visit {
        who: Who::SecondCrew,
        stand: "socket-4".to_owned(),
        detents: Vec::new(),
        arm: Vec::new(),
        targets: Vec::new(),
        ..rider.clone()
    };
    vec![rider, second]
}

fn arm_joints() -> Vec<JointName> {
    [("turn", true), ("slide", false)].map(|(name, turns)| JointName { name: name.to_owned(), turns }).to_vec()
}

fn motions() -> Vec<MotionSummary> {
    let transit = MotionSummary {
        id: "step-2/transit".to_owned(),
        step: "step-2".to_owned(),
        kind: MotionKind::Transit,
        joints: arm_joints(),
        waypoints: vec![vec![0.0, 0.5], vec![0.5, 1.0], vec![(-12.3f64).to_radians(), 1.25]],
        near_worksite: Vec::new(),
        seconds: Some(133.2),
        carries: vec![BodyClass::Rider, BodyClass::Payload],
        not_checked: None,
    };
    let base = MotionSummary {
        id: "step-4/base".to_owned(),
        step: "step-4".to_owned(),
        kind: MotionKind::Base,
        joints: Vec::new(),
        waypoints: Vec::new(),
        near_worksite: Vec::new(),
        seconds: None,
        carries: Vec::new(),
        not_checked: Some("the way of the base is not given".to_owned()),
    };
    vec![transit, base]
}

pub fn outcome() -> Outcome {
    let worksite = || Place::Worksite { worksite: "mount-north".to_owned(), step: "step-3".to_owned() };
    let transit = "step-2/transit";
    let motion = || Place::Motion { motion: transit.to_owned() };
    let findings = vec![
        Finding {
            value: Value::Bounded { nominal: Bound { lower: 0.0119, upper: 0.0302 }, worst: 0.0119 },
            margin: Some(0.0119),
            status: Status::Tight,
            source: Some("default; common practice, no source".to_owned()),
            ..finding("reach", worksite(), "bolt-1, right hand")
        },
        Finding {
            value: Value::None,
            margin: None,
            status: Status::Violation(Kind::NotFound),
            note: Some("no posture in 24 starts; the nearest missed by 0.041 m".to_owned()),
            help: Some("move the plate 0.05 m along (0, -1, 0)".to_owned()),
            ..finding("posture", worksite(), "bolt-3")
        },
        Finding {
            value: Value::Sampled(0.875),
            limit: Some(Bar::AtLeast(0.5)),
            margin: Some(0.375),
            unit: Unit::Share,
            ..finding("sight", worksite(), "bolt-1")
        },
        Finding {
            value: Value::Exact(12.5f64.to_radians()),
            limit: Some(Bar::AtLeast(0.0)),
            margin: Some(12.5f64.to_radians()),
            unit: Unit::Radian,
            ..finding("joint-limits", motion(), "boom")
        },
        Finding {
            value: Value::Bounded { nominal: Bound { lower: 0.21249, upper: 0.21251 }, worst: 0.21249 },
            limit: Some(Bar::AtLeast(0.05)),
            margin: Some(0.16249),
            ..finding("singularity", motion(), "tip")
        },
        Finding {
            value: Value::Bounded { nominal: Bound { lower: 0.1203, upper: 0.12081 }, worst: 0.1095 },
            limit: Some(Bar::AtLeast(0.2)),
            margin: Some(0.1095 - 0.2),
            at: Some(Moment {
                segment: Some(1),
                segments: Some(2),
                fraction: 0.41237,
                seconds: Some(92.04),
                joints: vec![0.25, 1.1],
                points: Some([Point::new(1.0, -0.00001, 3.5), Point::new(1.0, 0.12, 3.5)]),
            }),
            status: Status::Violation(Kind::Nominal),
            help: Some("move waypoint 2 so that the payload goes left".to_owned()),
            source: Some("plan.toml".to_owned()),
            ..clearance(
                transit,
                [BodyClass::Structure, BodyClass::Payload],
                Some(["payload/panel", "structure/truss-2/longeron-14"]),
            )
        },
        Finding {
            value: Value::Above(2.0),
            limit: Some(Bar::AtLeast(0.3)),
            margin: Some(1.7),
            ..clearance(transit, [BodyClass::Arm, BodyClass::KeepOut], None)
        },
        Finding {
            value: Value::Exact(0.1449),
            limit: Some(Bar::AtMost(0.15)),
            margin: Some(0.0051),
            unit: Unit::MetrePerSecond,
            status: Status::Tight,
            ..finding("speed", motion(), "tip")
        },
        Finding {
            value: Value::None,
            limit: None,
            margin: None,
            status: Status::NotChecked("the way of the base is not given".to_owned()),
            ..finding("clearance", Place::Motion { motion: "step-4/base".to_owned() }, "all pairs")
        },
        Finding {
            value: Value::Exact(133.2),
            limit: Some(Bar::AtMost(600.0)),
            margin: Some(466.8),
            unit: Unit::Second,
            ..finding("speed", Place::Step { step: "step-2".to_owned() }, "time")
        },
    ];
    let exemption =
        |a: &str, b: &str, reason: &str| Exemption { a: a.to_owned(), b: b.to_owned(), reason: reason.to_owned() };
    let neighbours = "neighbours in a mechanism";
    Outcome {
        title: "invented: panel on the north bay".to_owned(),
        arm_joints: arm_joints(),
        visits: visits(),
        motions: motions(),
        findings,
        odd: vec![
            "target bolt-3 of worksite mount-north lies on no body: the nearest is panel, 0.12 m away".to_owned(),
        ],
        notes: Vec::new(),
        exemptions: vec![
            exemption("arm/base", "arm/boom", neighbours),
            exemption("rider/left-boot", "restraint/plate", "declared: boots stand on the plate"),
            exemption("arm/boom", "restraint/plug", neighbours),
        ],
    }
}
