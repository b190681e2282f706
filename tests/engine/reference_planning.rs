//! Source: 20 problems on each of three URDF arms that others wrote, made with Pinocchio (pin 4.1.0) and coal 3.0.3, stored in
//! `references/planning.json` (made by `planning.py`): the straight way goes into a box, and a way by a configuration that is
//! kept from the planner is known to stay clear. No package that we know of carries problems for such arms with boxes.
//!
//! Every problem must be solved and certified. Then each way is sampled with a second method, parry's distances: no sample
//! may be nearer to a box than the limit. Tolerance: 1e-6 m, parry's own between hulls and boxes.

use std::fs;
use std::sync::atomic::AtomicBool;

use rapier3d::glamx::DVec3;
use rapier3d::parry::math::Pose as LibraryPose;
use rapier3d::parry::query::distance;
use rapier3d::parry::shape::{Cuboid, Cylinder, Segment as LibrarySegment, Shape};
use serde::Deserialize;

use trusswalk::check::{MotionKind, Silent};
use trusswalk::files::{Loaded, read_embedded};
use trusswalk::mechanism::LinkId;
use trusswalk::motion::Segment;
use trusswalk::propose::{Answer, Found, Settings, transit};
use trusswalk::space::{Core, Pose, Vector};
use trusswalk::state::{Assembly, Event, Extras, Move, Scene, walk};

use super::reference_kinematics::ends_of;
use super::stored::{Stored, folder};

/// How far parry may be off, m.
const ALLOWED: f64 = 1e-6;
/// Moments of a stretch at which parry is asked.
const SAMPLES: u32 = 100;

#[derive(Deserialize)]
struct Problems {
    limit: f64,
    overlap: f64,
    arms: Vec<Arm>,
}

#[derive(Deserialize)]
struct Arm {
    name: String,
    capsules: Vec<Capsule>,
    problems: Vec<Problem>,
}

#[derive(Deserialize)]
struct Capsule {
    link: String,
    a: [f64; 3],
    b: [f64; 3],
    radius: f64,
}

#[derive(Deserialize)]
struct Problem {
    start: Vec<f64>,
    goal: Vec<f64>,
    boxes: Vec<Solid>,
    legs_least: f64,
    straight_least: f64,
}

#[derive(Deserialize)]
struct Solid {
    at: [f64; 3],
    quat_xyzw: [f64; 4],
    half: [f64; 3],
}

/// The shapes that take the place of an arm's meshes, as a plan's file has them.
fn shapes(arm: &Arm, links: &[String]) -> String {
    let mut text = "acceleration_deg_s2 = 200\n".to_owned();
    if arm.capsules.is_empty() {
        return text;
    }
    for link in links {
        text += &format!("[[link]]\nname = \"{link}\"\nshape = [");
        for capsule in arm.capsules.iter().filter(|capsule| capsule.link == *link) {
            let [a, b] = [capsule.a, capsule.b].map(Vector::from);
            let (along, middle) = (b - a, 0.5 * (a + b));
            let turn = nalgebra::UnitQuaternion::rotation_between(&Vector::z(), &along).unwrap_or_else(|| {
                nalgebra::UnitQuaternion::from_axis_angle(&Vector::x_axis(), std::f64::consts::PI)
            });
            let (at, turn): ([f64; 3], [f64; 4]) = (middle.into(), turn.coords.into());
            let (length, radius) = (along.norm(), capsule.radius);
            text += &format!(
                "{{ id = \"capsule\", place = {{ at_m = {at:?}, quat_xyzw = {turn:?} }}, \
                 shape = {{ capsule = {{ length_m = {length}, radius_m = {radius} }} }} }}"
            );
        }
        text += "]\n";
    }
    text
}

/// A plan in which the arm, with nothing at its tip, is to go from start to goal among the boxes.
fn as_plan(stored: &Problems, arm: &Arm, problem: &Problem) -> Loaded {
    let ends = ends_of(&arm.name);
    let [start, goal] = [&problem.start, &problem.goal].map(|q| q.iter().map(|q| q.to_degrees()).collect::<Vec<f64>>());
    let (limit, overlap) = (stored.limit, stored.overlap);
    let plan = format!(
        r#"
            title = "a test arm among boxes"
            structure = "structure.toml"
            restraint = "restraint.toml"
            arm = "arm.urdf"
            arm_links = ["{}", "{}"]
            arm_shapes = "shapes.toml"
            stand = [{{ id = "here", place = {{}} }}]
            step = [{{ do = "ingress", to = "start" }}, {{ do = "transit", to = "goal" }}]
            [limits]
            singular_value_m = 0
            stop_reaction_s = 0
            [limits.moving.clearance_m]
            default = {limit}
            arm_to_arm = -{overlap}
            [limits.stopping.clearance_m]
            default = 0
            arm_to_arm = -{overlap}
            [limits.at_work.clearance_m]
            default = 0
            arm_to_arm = -{overlap}
            [[worksite]]
            id = "start"
            approach = [0, 0, -1]
            approach_m = 0
            stand = "here"
            joints_deg_m = {start:?}
            detents_deg = []
            [[worksite]]
            id = "goal"
            approach = [0, 0, -1]
            approach_m = 0
            stand = "here"
            joints_deg_m = {goal:?}
            detents_deg = []
        "#,
        ends.base, ends.tip
    );
    let structure: String = problem
        .boxes
        .iter()
        .enumerate()
        .map(|(number, Solid { at, quat_xyzw, half })| {
            let size = half.map(|half| 2.0 * half);
            format!(
                "[[body]]\nid = \"box-{number}\"\nplace = {{ at_m = {at:?}, quat_xyzw = {quat_xyzw:?} }}\n\
                 shape = {{ box = {{ size_m = {size:?} }} }}\n"
            )
        })
        .collect();
    let urdf = fs::read(folder().join(&ends.urdf)).expect("a stored URDF can be read");
    let shapes = shapes(arm, &ends.links);
    let files: [(&str, &[u8]); 5] = [
        ("plan.toml", plan.as_bytes()),
        ("structure.toml", structure.as_bytes()),
        ("restraint.toml", b"title = \"no more than a place\"\nboot_spacing_m = 0.30\n[plate]\nat_m = [0, 0, 0]\n"),
        ("arm.urdf", &urdf),
        ("shapes.toml", shapes.as_bytes()),
    ];
    read_embedded(&files).unwrap_or_else(|problems| panic!("{}: {problems:?}", arm.name))
}

/// The transit of the plan, with nobody at the tip.
fn question(scene: &Scene, problem: &Problem) -> Move {
    let walked = walk(scene);
    let moved = walked.events.iter().find_map(|event| match event {
        Event::Move(moved) if moved.kind == MotionKind::Transit => Some((**moved).clone()),
        _ => None,
    });
    let mut moved = moved.expect("the plan has a transit");
    (moved.moment.arm, moved.moment.rider) = (problem.start.clone(), None);
    moved
}

/// The least distance of the arm's moving links from any box on a chain of configurations, by parry.
fn least_by_parry(scene: &Scene, moved: &Move, problem: &Problem, chain: &[Vec<f64>]) -> f64 {
    let assembly = Assembly::with(scene, &moved.moment, &Extras::default());
    let frozen = assembly.moving(moved.kind);
    let boxes: Vec<(LibraryPose, Cuboid)> = problem
        .boxes
        .iter()
        .map(|Solid { at, quat_xyzw: [x, y, z, w], half }| {
            let turn = nalgebra::UnitQuaternion::from_quaternion(nalgebra::Quaternion::new(*w, *x, *y, *z));
            let pose = Pose::from_parts(Vector::from(*at).into(), turn);
            (LibraryPose::from(pose), Cuboid::new(DVec3::from_array(*half)))
        })
        .collect();
    let mut least = f64::INFINITY;
    let mut measured = 0;
    for ends in chain.windows(2) {
        let segment = Segment { from: ends[0].clone(), to: ends[1].clone() };
        for k in 0..=SAMPLES {
            let posed = frozen.pose(&segment.at(f64::from(k) / f64::from(SAMPLES)));
            for id in frozen.body_ids() {
                let body = frozen.body(id);
                if body.link == LinkId::STRUCTURE {
                    continue;
                }
                for part in &body.parts {
                    let link = posed.link(body.link);
                    let point = |p: &trusswalk::space::Point| DVec3::new(p.x, p.y, p.z);
                    let (place, shape): (Pose, Box<dyn Shape>) = match &part.core {
                        Core::Point(at) => (*link, Box::new(LibrarySegment::new(point(at), point(at)))),
                        Core::Segment(a, b) => (*link, Box::new(LibrarySegment::new(point(a), point(b)))),
                        Core::Cylinder { link_from_cylinder, half_length, radius } => {
                            // The library's cylinders lie along y.
                            let quarter = std::f64::consts::FRAC_PI_2;
                            let z_from_y = nalgebra::UnitQuaternion::from_axis_angle(&Vector::x_axis(), quarter);
                            (link * link_from_cylinder * z_from_y, Box::new(Cylinder::new(*half_length, *radius)))
                        }
                        other => panic!("{other:?} is no shape of these arms"),
                    };
                    for (at, solid) in &boxes {
                        let apart = distance(&LibraryPose::from(place), shape.as_ref(), at, solid).expect("it knows them").distance;
                        least = least.min(apart - part.radius);
                        measured += 1;
                    }
                }
            }
        }
    }
    assert!(measured > 0, "nothing was measured");
    least
}

fn answer(scene: &Scene, moved: &Move, problem: &Problem, seed: u64) -> Answer {
    let settings = Settings { seed, attempts: 1, edges: 10, ..Settings::default() };
    transit(scene, (moved, &problem.goal), &settings, &Silent, &AtomicBool::new(false)).expect("nobody stops it")
}

#[test]
fn every_problem_that_is_known_to_have_an_answer_is_solved_and_no_sample_of_the_way_is_under_the_limit() {
    let stored = Stored::<Problems>::read("planning");
    let (mut solved, mut least) = (0, f64::INFINITY);
    for arm in &stored.content.arms {
        assert!(arm.problems.len() >= 20);
        for (number, problem) in arm.problems.iter().enumerate() {
            let name = format!("{} {number}", arm.name);
            let loaded = as_plan(&stored.content, arm, problem);
            let scene = Scene::new(&loaded.project, &loaded.meshes);
            let moved = question(&scene, problem);
            let straight = least_by_parry(&scene, &moved, problem, &[problem.start.clone(), problem.goal.clone()]);
            assert!(straight < stored.content.limit, "{name}: straight on, {straight} m and {} m", problem.straight_least);
            assert!(problem.legs_least > stored.content.limit, "{name}");
            let found: Found = match answer(&scene, &moved, problem, number as u64) {
                Answer::Found(found) => found,
                other => panic!("{name}: {other:?}"),
            };
            assert!(!found.waypoints.is_empty(), "{name}: there is a box in the straight way");
            let chain = [vec![problem.start.clone()], found.waypoints, vec![problem.goal.clone()]].concat();
            let sampled = least_by_parry(&scene, &moved, problem, &chain);
            assert!(sampled >= stored.content.limit - ALLOWED, "{name}: a sample at {sampled} m");
            assert!(sampled >= stored.content.limit + found.margin.min(0.0) - ALLOWED, "{name}");
            solved += 1;
            least = least.min(sampled);
        }
    }
    println!("{solved} ways, none nearer than {least} m");
    assert_eq!(solved, 60);
}
