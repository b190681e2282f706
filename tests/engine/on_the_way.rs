//! How a rider comes from one place or posture into the next is bounded, or said not to be found: nothing jumps.

use std::path::Path;

use trusswalk::check::{Case, Known};
use trusswalk::check::{Finding, Kind, MotionKind, Place, Silent, Status};
use trusswalk::crew::PostureOutcome;
use trusswalk::files::{Loaded, read_project};
use trusswalk::model::{Angle, Limit, Posture, Project};
use trusswalk::state::{Assembly, Doing, Moment, Move, Scene, Walk, walk};

use crate::edited::{ball, outcome_of, violations};

/// Asks something of a walked plan of `scenes/` after an edit.
fn of_walk<R>(scene: &str, edit: impl FnOnce(&mut Project), ask: impl FnOnce(&Scene, &Walk) -> R) -> R {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes").join(scene);
    let Loaded { mut project, meshes, .. } = read_project(&folder).expect("the scene is sound");
    edit(&mut project);
    let scene = Scene::new(&project, &meshes);
    ask(&scene, &walk(&scene))
}

/// Where a body's link is at a moment.
fn place_of(scene: &Scene, moment: &Moment, body: &str) -> [f64; 3] {
    let assembly = Assembly::new(scene, moment);
    let body = assembly.mechanism.body_named(body).expect("the body is there");
    assembly.posed.link(assembly.body(body).link).translation.vector.into()
}

fn moves(walk: &Walk) -> Vec<&Move> {
    walk.events
        .iter()
        .filter_map(|event| match event {
            trusswalk::state::Event::Move(moved) => Some(&**moved),
            _ => None,
        })
        .collect()
}

fn of_step<'a>(findings: &[&'a Finding], id: &str) -> Vec<&'a Finding> {
    findings.iter().copied().filter(|f| matches!(&f.key.place, Place::Step { step } if step == id)).collect()
}

/// The second worksite asks for another setting of the restraint's first joint.
fn other_setting(project: &mut Project) {
    project.plan.worksite[1].detents[0] = Angle::from_degrees(90.0);
}

#[test]
fn the_restraint_is_set_before_the_arm_leaves_and_flown_as_set() {
    of_walk("starter", other_setting, |_, walk| {
        let moves = moves(walk);
        let kinds: Vec<MotionKind> = moves.iter().map(|moved| moved.kind).collect();
        assert_eq!(kinds, [MotionKind::Setting, MotionKind::Retreat, MotionKind::Transit, MotionKind::Approach]);
        let set = vec![90f64.to_radians(), 0.0];
        assert_eq!((&moves[0].moment.detents, &moves[0].segments[0].to), (&vec![0.0, 0.0], &set));
        assert!(moves[1..].iter().all(|moved| moved.moment.detents == set));
    });
}

#[test]
fn joints_of_the_restraint_are_set_one_after_another() {
    let both = |project: &mut Project| {
        other_setting(project);
        project.plan.worksite[1].detents[1] = Angle::from_degrees(30.0);
    };
    of_walk("starter", both, |_, walk| {
        let segments = &moves(walk)[0].segments;
        assert_eq!(segments.len(), 2);
        assert!(segments[0].to == segments[1].from && segments[0].to[1] == 0.0);
    });
}

#[test]
fn a_restraint_that_nobody_stands_in_takes_nobody_along() {
    let before_anyone = |project: &mut Project| {
        other_setting(project);
        project.plan.step[0].to = Some("far-panel".to_owned());
        project.plan.step.truncate(2);
    };
    of_walk("starter", before_anyone, |_, walk| {
        assert!(moves(walk).is_empty());
        assert_eq!(walk.rests[0].moment.detents[0], 90f64.to_radians());
    });
}

#[test]
fn what_the_rider_is_swung_through_is_seen_on_the_way_alone() {
    let half_way = of_walk("starter", other_setting, |scene, walk| {
        let moment = &moves(walk)[0].moment;
        place_of(scene, &Moment { detents: vec![45f64.to_radians(), 0.0], ..moment.clone() }, "rider/left-hand")
    });
    let outcome = |stub: bool| {
        outcome_of("starter", |project| {
            other_setting(project);
            project.structure.body.extend(stub.then(|| ball("stub", half_way, 0.02)));
        })
    };
    let told = |outcome: &trusswalk::check::Outcome, place: &str, end: &str| {
        let found = violations(outcome, "clearance");
        let met = |f: &&&Finding| {
            f.key.place.name() == place && f.key.subject.contains("– stub") && f.key.subject.ends_with(end)
        };
        found.iter().filter(met).count()
    };
    assert_eq!(told(&outcome(false), "step-3/setting", ""), 0);
    let outcome = outcome(true);
    assert!(told(&outcome, "step-3/setting", "") > 0);
    assert_eq!(told(&outcome, "near-panel", ", at rest") + told(&outcome, "far-panel", ", at rest"), 0);
}

#[test]
fn setting_the_restraint_is_not_timed_and_the_step_says_so() {
    let outcome = outcome_of("starter", other_setting);
    let of = |place: &str, check: &str| {
        outcome.findings.iter().find(|finding| finding.key.place.name() == place && finding.key.check == check)
    };
    let time = of("step-3/setting", "speed").expect("a row");
    assert!(matches!(time.status, Status::NotChecked(_)));
    let step = of("step-3", "speed").expect("a row");
    assert_eq!(step.note.as_deref(), Some("without the time to set the restraint"));
}

#[test]
fn a_posture_to_stand_in_that_is_not_found_is_a_violation() {
    let chest = of_walk(
        "starter",
        |_| (),
        |scene, walk| place_of(scene, &walk.stances().next().expect("a posture").moment, "rider/chest"),
    );
    let outcome = outcome_of("starter", |project| project.structure.body.push(ball("block", chest, 0.5)));
    let found = violations(&outcome, "posture");
    let standing = of_step(&found, "step-1");
    assert_eq!(standing.len(), 1);
    assert_eq!(standing[0].key.subject, "posture arms-in");
    assert_eq!(standing[0].status, Status::Violation(Kind::NotFound));
}

#[test]
fn a_hold_that_is_not_found_is_a_violation_at_its_step() {
    let outcome = outcome_of("demo", |project| project.plan.payload[0].left_handle_m[1] = 2.5);
    let found = violations(&outcome, "posture");
    let hold = of_step(&found, "take-pump");
    assert_eq!(hold.len(), 1);
    assert_eq!(hold[0].key.subject, "hold of pump");
}

/// The rider is carried on in another posture than they stood in.
fn arms_out(project: &mut Project) {
    let joints = [("left-shoulder-abduction", 70.0), ("left-elbow-flexion", 10.0)];
    project.plan.posture.push(Posture {
        id: "arms-out".to_owned(),
        joints: joints.map(|(name, degrees)| (name.to_owned(), Angle::from_degrees(degrees))).into(),
    });
    project.plan.step[2].posture = Some("arms-out".to_owned());
}

#[test]
fn a_change_of_the_carrying_posture_is_bounded_all_the_way() {
    let half_way = of_walk("starter", arms_out, |scene, walk| {
        let stance = walk.stances().find(|stance| stance.step == "step-3").expect("a new posture");
        let (Some(from), PostureOutcome::Found(to)) = (&stance.from, &stance.outcome) else { panic!("two postures") };
        let middle = from.iter().zip(&to.q).map(|(a, b)| 0.5 * (a + b)).collect();
        place_of(scene, &Moment { rider: Some(middle), ..stance.moment.clone() }, "rider/left-hand")
    });
    let of_change = |stub: bool| {
        let outcome = outcome_of("starter", |project| {
            arms_out(project);
            project.structure.body.extend(stub.then(|| ball("stub", half_way, 0.02)));
        });
        let found = violations(&outcome, "clearance");
        of_step(&found, "step-3").iter().map(|finding| finding.key.subject.clone()).collect::<Vec<_>>()
    };
    assert_eq!(of_change(false), Vec::<String>::new());
    let found = of_change(true);
    assert!(
        found
            .iter()
            .any(|s| s.starts_with("rider/left-") && s.ends_with("– stub (near or at work), to posture arms-out")),
        "{found:?}"
    );
}

#[test]
fn the_posture_of_a_move_of_the_base_is_taken_before_it_starts() {
    let neutral = |project: &mut Project| {
        for step in project.plan.step.iter_mut().filter(|step| step.id.as_deref() == Some("along-rail")) {
            step.posture = None;
        }
    };
    let outcome = outcome_of("demo", neutral);
    let changed =
        |finding: &&Finding| finding.key.check == "clearance" && finding.key.subject.ends_with(", to neutral posture");
    let all: Vec<&Finding> = outcome.findings.iter().filter(changed).collect();
    assert!(!of_step(&all, "along-rail").is_empty());
}

#[test]
fn the_way_back_to_rest_is_bounded() {
    let outcome = outcome_of("starter", |project| {
        project.plan.limits.at_work.clearance_m.insert("rider_to_structure".to_owned(), Limit::new(1.0));
    });
    let found = violations(&outcome, "clearance");
    assert!(found.iter().any(|finding| finding.key.subject.ends_with(", back to rest")));
}

#[test]
fn postures_of_the_demo_follow_one_another_without_a_gap() {
    of_walk(
        "demo",
        |_| (),
        |scene, walk| {
            let stop = std::sync::atomic::AtomicBool::new(false);
            let case = Case::new((scene, walk), &Known::default(), &Silent, &stop).expect("nobody stops it");
            let mut taken = 0;
            for (number, stay) in case.stays.iter().enumerate() {
                let Some(PostureOutcome::Found(last)) = stay.uses.last().map(|used| &used.outcome) else { continue };
                if let Doing::Take { .. } = stay.stay.doing {
                    taken += 1;
                    assert_eq!(case.stays[number + 1].stay.moment.rider.as_deref(), Some(&last.q[..]), "held as taken");
                } else if let Some(back) = &stay.back {
                    let back = back.as_ref().expect("a way back");
                    assert_eq!(back.segments.first().map(|s| &s.from[..]), Some(&last.q[..]));
                }
            }
            assert_eq!(taken, 1);
            assert!(case.stays.iter().filter(|stay| stay.back.is_some()).count() >= 9);
        },
    );
}
