//! How long does it take from an edit of a checked plan to its new findings?
//!
//! One edit of each kind, of the demo.

use std::sync::atomic::AtomicBool;

use criterion::Criterion;
use trusswalk::check::{Known, Silent, again};
use trusswalk::model::{Crew, Hands, Measures, Place, PlanEdit, Stature, Survey, Who};
use trusswalk::propose::mend::edited;

use crate::plan::demo;

pub fn benches(c: &mut Criterion) {
    let demo = demo();
    let never = AtomicBool::new(false);
    let known =
        again((&demo.project, &demo.meshes), &Known::default(), &Silent, &never).expect("nobody stops it").known;
    let mut group = c.benchmark_group("check/again_after");
    group.sample_size(10);
    group.bench_function("nothing", |b| b.iter(|| again((&demo.project, &demo.meshes), &known, &Silent, &never)));
    let mut other_limit = demo.project.clone();
    let limit = other_limit.plan.limits.moving.clearance_m.get_mut("payload_to_structure");
    limit.expect("the demo states it").value += 0.01;
    let edited = edits().map(|(name, edit)| (name, edited(&demo.project, &[edit])));
    for (name, project) in edited.into_iter().chain([("a_clearance", other_limit)]) {
        assert!(project != demo.project, "{name} changes something");
        group.bench_function(name, |b| b.iter(|| again((&project, &demo.meshes), &known, &Silent, &never)));
    }
}

fn edits() -> [(&'static str, PlanEdit); 11] {
    let place = Place { at_m: [18.0, 0.001, 1.40], ..Place::default() };
    let crew = Crew { stature: Some(Stature { percentile: 60.0, of: Survey::Women }), measures: Measures::default() };
    let waypoint = vec![119.4, -40.1, -37.5, 140.8, -71.9, -37.9, 54.9];
    let on_the_way = vec![129.1, -32.0, -39.4, 133.0, -73.6, -34.9, 43.3];
    let at_work = vec![91.3, -21.5, -14.4, 57.3, 82.6, -5.2, 80.0];
    let [to_bay, end, tray] = ["to-bay", "end", "tray"].map(str::to_owned);
    let branch = || (tray.clone(), "branch".to_owned());
    let ((in_tray, hand_target), (also_in_tray, target)) = (branch(), branch());
    [
        ("a_waypoint", PlanEdit::SetWaypoint { step: to_bay.clone(), waypoint: 1, joints: waypoint }),
        ("a_new_waypoint", PlanEdit::AddWaypoint { step: to_bay.clone(), waypoint: 0, joints: on_the_way }),
        ("a_waypoint_less", PlanEdit::RemoveWaypoint { step: "to-tray".to_owned(), waypoint: 0 }),
        ("a_duration", PlanEdit::SetDuration { step: to_bay, waypoint: 1, seconds: 900.0 }),
        ("a_configuration", PlanEdit::SetConfiguration { worksite: end.clone(), joints: at_work }),
        (
            "a_detent",
            PlanEdit::SetDetents { worksite: "valves".to_owned(), who: Who::Rider, detents: vec![-75.0, -30.0] },
        ),
        ("a_stand", PlanEdit::SetStand { worksite: end, stand: "near-stop".to_owned() }),
        ("the_place_of_a_stand", PlanEdit::SetStandPlace { stand: "far-stop".to_owned(), place }),
        ("a_hand", PlanEdit::SetHands { worksite: in_tray, target: hand_target, hands: Hands::Right }),
        (
            "the_place_of_a_target",
            PlanEdit::SetTargetPlace { worksite: also_in_tray, target, at_m: [11.65, 5.95, 1.85] },
        ),
        ("a_size", PlanEdit::SetCrew { who: Who::Rider, crew }),
    ]
}
