//! Transits are found, certified, the same ones every time, and not found where there is no room.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use trusswalk::check::{self, MotionKind, Silent};
use trusswalk::files::{Loaded, read_project};
use trusswalk::model::{ArmJoint, AtLeast, Fixed, JointKind, LinkShape, Place, Project, Shape, Stand, Waypoint};
use trusswalk::propose::{Answer, End, Found, Impossible, Refusal, Settings, transit};
use trusswalk::state::{Event, Move, Scene, round_to_grid, walk};

fn scene_of(folder: &str) -> Loaded {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes").join(folder);
    read_project(&path).expect("the scene is sound")
}

/// Every transit of a walked plan, and where it goes.
fn transits(scene: &Scene) -> Vec<(Move, Vec<f64>)> {
    let of_event = |event: &Event| match event {
        Event::Move(moved) if moved.kind == MotionKind::Transit => {
            Some(((**moved).clone(), moved.segments.last()?.to.clone()))
        }
        _ => None,
    };
    walk(scene).events.iter().filter_map(of_event).collect()
}

/// A quick search: one attempt, and a path that is hardly bettered.
fn quick(seed: u64) -> Settings {
    Settings { seed, attempts: 1, edges: 10, ..Settings::default() }
}

fn answer(scene: &Scene, (moved, goal): (&Move, &[f64]), settings: &Settings) -> Answer {
    transit(scene, (moved, goal), settings, &Silent, &AtomicBool::new(false)).expect("nobody stops it")
}

fn found(scene: &Scene, question: (&Move, &[f64]), settings: &Settings) -> Found {
    match answer(scene, question, settings) {
        Answer::Found(found) => found,
        other => panic!("{}: {other:?}", question.0.id),
    }
}

/// Joint values as a plan writes them.
fn written(project: &Project, q: &[f64]) -> Vec<f64> {
    let value = |(q, joint): (&f64, &ArmJoint)| match joint.kind {
        JointKind::Revolute => (q.to_degrees() * 10.0).round() / 10.0,
        JointKind::Prismatic => *q,
    };
    q.iter().zip(&project.arm.joint).map(value).collect()
}

/// The plan with these waypoints in place of those of a transit's step.
fn take_up(project: &mut Project, step: &str, waypoints: &[Vec<f64>]) {
    let written: Vec<Vec<f64>> = waypoints.iter().map(|q| written(project, q)).collect();
    let steps = project.plan.step.iter_mut().enumerate();
    let of_step = steps.filter(|(number, at)| at.id_at(*number) == step).map(|(_, at)| at).next();
    of_step.expect("the step is there").waypoint =
        written.into_iter().map(|joints| Waypoint { joints: Some(joints), tip: None, duration_s: None }).collect();
}

/// What `check` finds violated on transits of a plan.
fn violated(project: &Project, loaded: &Loaded) -> Vec<String> {
    let outcome = check::run(project, &loaded.meshes, &Silent, &AtomicBool::new(false)).expect("nobody stops it");
    let on_transit = |finding: &&check::Finding| finding.key.place.name().ends_with("/transit");
    let violated = outcome.findings.iter().filter(on_transit).filter(|finding| finding.status.is_violation());
    violated.map(|finding| format!("{:?}", finding.key)).collect()
}

#[test]
fn every_transit_of_the_demo_is_found_for_every_seed_and_check_finds_nothing_wrong_with_it() {
    let loaded = scene_of("demo");
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let questions = transits(&scene);
    assert_eq!(questions.len(), 6);
    for seed in 0..5 {
        let mut proposed = loaded.project.clone();
        for (moved, goal) in &questions {
            let found = found(&scene, (moved, goal), &quick(seed));
            for (q, joint) in found.waypoints.iter().flat_map(|q| q.iter().zip(&loaded.project.arm.joint)) {
                assert_eq!(*q, round_to_grid(*q, joint.kind), "{}", moved.id);
            }
            assert!(found.margin > 0.0 && found.seconds.is_some_and(|seconds| seconds > 0.0));
            take_up(&mut proposed, &moved.step, &found.waypoints);
        }
        // How long they take is told by the plan's own limits, which a quick search does not aim at.
        proposed.plan.step.iter_mut().for_each(|step| step.at_most_min = None);
        assert_eq!(violated(&proposed, &loaded), Vec::<String>::new(), "seed {seed}");
    }
}

#[test]
fn the_same_seed_gives_the_same_path_on_any_number_of_threads() {
    let loaded = scene_of("demo");
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let (moved, goal) = &transits(&scene)[2];
    let on = |threads: usize, seed: u64| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        let settings = Settings { attempts: 3, edges: 20, seed, ..Settings::default() };
        pool.install(|| answer(&scene, (moved, goal), &settings))
    };
    let once = on(1, 7);
    assert!(matches!(once, Answer::Found(_)));
    assert_eq!(once, on(4, 7));
    assert_ne!(once, on(1, 8), "another seed leads another way");
}

/// An invented arm of two slides, along x and y, that carries a ball of 0.2 m through a wall along y at x = 1 with one gap
/// in it. With a limit of 0.1 m the gap must be wider than 2 · (0.2 + 0.1) = 0.6 m.
fn before_a_gap(width: f64) -> Loaded {
    let mut loaded = scene_of("starter");
    let project = &mut loaded.project;
    let slide = |name: &str, axis: [f64; 3], shape: Vec<LinkShape>| ArmJoint {
        name: name.to_owned(),
        kind: JointKind::Prismatic,
        place: Place::default(),
        axis,
        turn_limits: None,
        slide_limits: Some([-1.5, 3.5]),
        turn_rate: None,
        slide_rate: Some(0.1),
        turn_acceleration: None,
        slide_acceleration: Some(10.0),
        shape,
    };
    let ball = LinkShape { id: "ball".to_owned(), place: Place::default(), shape: Shape::Sphere { radius_m: 0.2 } };
    project.arm.base.clear();
    project.arm.tip = Place::default();
    project.arm.joint = vec![slide("x", [1.0, 0.0, 0.0], Vec::new()), slide("y", [0.0, 1.0, 0.0], vec![ball])];
    project.restraint.base.clear();
    project.restraint.joint.iter_mut().for_each(|joint| joint.shape.clear());
    let wall = |id: &str, from: f64, to: f64| Fixed {
        id: id.to_owned(),
        place: Place { at_m: [1.0, 0.5 * (from + to), 0.0], ..Place::default() },
        shape: Shape::Cuboid { size_m: [0.1, to - from, 1.0] },
    };
    project.structure = trusswalk::model::Structure {
        body: vec![wall("left", 0.4 + 0.5 * width, 5.0), wall("right", -5.0, 0.4 - 0.5 * width)],
        ..Default::default()
    };
    let plan = &mut project.plan;
    plan.stand = vec![Stand { id: plan.stand[0].id.clone(), place: Place::default() }];
    plan.payload.clear();
    plan.tolerances = Default::default();
    plan.limits.moving.clearance_m = [("default".to_owned(), AtLeast::new(0.1))].into();
    // It stops within half a millimetre, so that the gap is all that counts.
    plan.limits.stop_reaction_s = 0.0;
    plan.limits.stopping.clearance_m.clear();
    loaded
}

/// What is said of the way through a gap.
fn through(width: f64, [start, goal]: [[f64; 2]; 2], nodes: usize) -> Answer {
    let loaded = before_a_gap(width);
    // The starter's motions are another arm's: of one of them only the moment counts.
    let starter = scene_of("starter");
    let (mut moved, _) = transits(&Scene::new(&starter.project, &starter.meshes)).remove(0);
    (moved.moment.arm, moved.moment.rider) = (start.to_vec(), None);
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    answer(&scene, (&moved, &goal), &Settings { nodes, ..quick(3) })
}

#[test]
fn a_gap_a_little_wider_than_needed_is_passed_and_one_a_little_narrower_is_not() {
    let ends = [[0.0, 0.0], [2.0, 0.0]];
    for width in [0.62, 0.8, 1.0] {
        let Answer::Found(found) = through(width, ends, 40_000) else { panic!("a gap of {width} m is not passed") };
        assert!(found.margin <= 0.5 * width - 0.3 + 1e-9, "{width}: {}", found.margin);
        assert!(!found.waypoints.is_empty(), "straight on there is a wall");
    }
    let Answer::NotFound(no) = through(0.59, ends, 1_000) else { panic!("a gap that is too narrow was passed") };
    assert!(no.nodes > 100 && no.edges > 100 && no.apart > 0.0, "{no:?}");
    let wall = |refusal: &Refusal| match refusal {
        Refusal::Pair(bodies) => bodies.iter().any(|body| body == "left" || body == "right"),
        Refusal::NotTold(_) | Refusal::Singular => false,
    };
    assert!(no.refused.first().is_some_and(|(refusal, times)| wall(refusal) && *times > 10), "{:?}", no.refused);
    // On either side of the wall.
    assert!(no.nearest[0][0] < 1.0 && no.nearest[1][0] > 1.0, "{:?}", no.nearest);
}

#[test]
fn an_end_that_breaks_a_limit_or_lies_out_of_range_proves_that_there_is_no_path() {
    let of = |ends| match through(0.8, ends, 1_000) {
        Answer::Impossible(reason) => reason,
        other => panic!("{other:?}"),
    };
    // The ball is 0.05 m before the wall, so 0.05 m short of the limit.
    match of([[0.0, 0.0], [0.7, -0.5]]) {
        Impossible::Pair { at: End::Goal, by, bodies } => {
            assert!((by - 0.05).abs() < 1e-6 && bodies.iter().any(|body| body == "right"), "{by} {bodies:?}");
        }
        other => panic!("{other:?}"),
    }
    match of([[-1.6, 0.0], [2.0, 0.0]]) {
        Impossible::Joint { at: End::Start, by, joint } => assert!((by - 0.1).abs() < 1e-9 && joint == "x"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_flag_that_is_up_ends_the_search() {
    let loaded = scene_of("demo");
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let (moved, goal) = &transits(&scene)[3];
    let stopped = transit(&scene, (moved, goal), &quick(0), &Silent, &AtomicBool::new(true));
    assert_eq!(stopped, Err(check::Stopped));
}

#[test]
fn a_research_arm_that_we_did_not_write_finds_its_way_and_check_agrees() {
    let loaded = scene_of("research-arm");
    let mut project = loaded.project.clone();
    // In the middle of the straight way, where the rider's boots would pass.
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let (moved, goal) = transits(&scene).remove(0);
    let straight = found(&scene, (&moved, &goal), &quick(0));
    assert_eq!(straight.waypoints.len(), 0, "nothing is in the way");
    let place = Place { at_m: [0.9, 0.0, 0.75], ..Place::default() };
    project.structure.body.push(Fixed { id: "stub".to_owned(), place, shape: Shape::Sphere { radius_m: 0.05 } });
    assert!(!violated(&project, &loaded).is_empty(), "it is not in the way");
    let blocked = Scene::new(&project, &loaded.meshes);
    let way = found(&blocked, (&moved, &goal), &quick(0));
    let mut proposed = project.clone();
    take_up(&mut proposed, &moved.step, &way.waypoints);
    assert_eq!(violated(&proposed, &loaded), Vec::<String>::new());
}
