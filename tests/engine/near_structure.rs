//! Near structure the tip goes more slowly, where the plan says so. No source: the law is the plan's own limit.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use trusswalk::check::{Case, Finding, Known, MotionKind, MoveCase, Silent, run};
use trusswalk::files::{Loaded, read_project};
use trusswalk::motion::tip_speed_at;
use trusswalk::state::{Scene, walk};

fn demo() -> Loaded {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes/demo");
    read_project(&path).expect("the demo is sound")
}

/// The same, slowed within so many metres of structure.
fn slowed(speed: f64, within: f64) -> Loaded {
    let mut loaded = demo();
    let limits = &mut loaded.project.plan.limits;
    (limits.tip_speed_m_s.near_structure, limits.near_structure_m) = (Some(speed), within);
    loaded
}

/// Asks something of every motion of the arm.
fn each_motion<T>(loaded: &Loaded, mut ask: impl FnMut(&MoveCase) -> T) -> Vec<T> {
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let walked = walk(&scene);
    let case = Case::new((&scene, &walked), &Known::default(), &Silent, &AtomicBool::new(false)).expect("it ends");
    let of_arm = |moved: &&std::sync::Arc<MoveCase>| moved.moved.kind.is_of_arm();
    case.moves.iter().filter(of_arm).map(|moved| ask(moved)).collect()
}

/// Of each segment: whether it is slowed, its time, and the greatest tip speed on samples of it.
fn timed(moved: &MoveCase) -> Vec<(bool, f64, f64)> {
    let segments = moved.moved.segments.iter().zip(&moved.times).zip(&moved.tip_limits);
    let each = segments.map(|((segment, time), limit)| {
        let time = time.as_ref().expect("the demo's arm is timed");
        let speed = |k: u32| {
            let at = f64::from(k) / 200.0;
            time.rate_at(at) * tip_speed_at(&moved.frozen, moved.assembly.arm.tip, segment, at)
        };
        (limit.near_structure, time.seconds(), (0..=200).map(speed).fold(0.0, f64::max))
    });
    each.collect()
}

#[test]
fn segments_near_structure_are_slower_and_no_others() {
    let plain = each_motion(&demo(), timed).concat();
    let slow = each_motion(&slowed(0.01, 0.5), timed).concat();
    let (mut near, mut far) = (0, 0);
    for ((_, before, _), (is_near, after, speed)) in plain.iter().zip(&slow) {
        if *is_near {
            assert!(*speed <= 0.01 * (1.0 + 1e-9) && after > before, "{speed} m/s, {before} s, then {after} s");
            near += 1;
        } else {
            assert_eq!(before, after);
            far += 1;
        }
    }
    println!("{near} segments near structure, {far} others");
    assert!(near > 10 && far > 10);
}

#[test]
fn a_distance_that_is_larger_slows_as_many_or_more() {
    let near = |within: f64| {
        let timed = each_motion(&slowed(0.01, within), timed).concat();
        timed.iter().filter(|(near, ..)| *near).count()
    };
    let counts = [0.0, 0.2, 0.5, 1.0, 3.0].map(near);
    assert!(counts.is_sorted() && counts[4] > counts[0], "{counts:?}");
}

#[test]
fn a_fixed_duration_that_keeps_the_load_s_limit_breaks_the_one_near_structure() {
    let fixed = |mut loaded: Loaded, seconds: f64| {
        let step = loaded.project.plan.step.iter_mut().find(|step| !step.waypoint.is_empty()).expect("a waypoint");
        step.waypoint[0].duration_s = Some(seconds);
        let outcome = run(&loaded.project, &loaded.meshes, &Silent, &AtomicBool::new(false)).expect("nobody stops it");
        let of_tip = |finding: &&Finding| finding.key.check == "speed" && finding.key.subject.starts_with("tip on");
        outcome.findings.into_iter().find(|finding| of_tip(&finding)).expect("a fixed segment has a finding of its tip")
    };
    // Slow enough for any load; everything in the demo is within 50 m of structure.
    let seconds = 600.0;
    assert!(!fixed(demo(), seconds).status.is_violation());
    let broken = fixed(slowed(1e-4, 50.0), seconds);
    assert!(broken.status.is_violation() && broken.note.is_some_and(|note| note.contains("of structure")));
    assert!(!fixed(slowed(1e-4, 0.0), seconds).status.is_violation(), "nothing that moves touches structure");
}

#[test]
fn a_transit_that_is_proposed_is_timed_as_check_times_it() {
    use trusswalk::propose::{Answer, Settings, transit};
    use trusswalk::state::Event;
    let seconds = |loaded: &Loaded| -> Vec<f64> {
        let scene = Scene::new(&loaded.project, &loaded.meshes);
        let transits = walk(&scene).events.into_iter().filter_map(|event| match event {
            Event::Move(moved) if moved.kind == MotionKind::Transit => Some(moved),
            _ => None,
        });
        let settings = Settings { attempts: 1, edges: 0, ..Settings::default() };
        transits
            .take(2)
            .map(|moved| {
                let goal = moved.segments.last().expect("a transit goes somewhere").to.clone();
                match transit(&scene, (&moved, &goal), &settings, &Silent, &AtomicBool::new(false)) {
                    Ok(Answer::Found(found)) => found.seconds.expect("the demo's arm is timed"),
                    other => panic!("{other:?}"),
                }
            })
            .collect()
    };
    for (plain, slow) in seconds(&demo()).into_iter().zip(seconds(&slowed(0.01, 50.0))) {
        assert!(slow > 2.0 * plain, "{plain} s, near structure {slow} s");
    }
}
