//! Two sets of problems for arms that others wrote; every one must be solved and certified, and then each way is sampled with
//! a second method, parry's distances: no sample may be nearer to anything than the limit. Tolerance: 1e-6 m, parry's own.
//!
//! - *Published*: the MotionBenchMaker problems that the package `vamp-planner` 0.6.4 carries, the first 20 of each of seven
//!   kinds of scene, for an arm made of spheres, stored in `references/published.json` (made by `published.py`). Limit: no
//!   contact. An end that touches something makes a problem unsound, as the package itself says of one in 700.
//! - *Made*: 20 on each of three URDF arms, made with Pinocchio (pin 4.1.0) and coal 3.0.3, stored in
//!   `references/planning.json` (made by `planning.py`): the straight way goes into a box, and a way by a configuration that
//!   is kept from the planner is known to stay clear.

use std::fs;
use std::sync::atomic::AtomicBool;

use rapier3d::glamx::DVec3;
use rapier3d::parry::math::Pose as LibraryPose;
use rapier3d::parry::query::distance;
use rapier3d::parry::shape::{Ball, Cuboid, Cylinder, Segment as LibrarySegment, Shape};
use serde::Deserialize;

use trusswalk::check::{MotionKind, Silent};
use trusswalk::files::{Loaded, read_embedded};
use trusswalk::mechanism::LinkId;
use trusswalk::motion::Segment;
use trusswalk::propose::{Answer, Found, Settings, transit};
use trusswalk::space::{Core, Point, Pose, Vector};
use trusswalk::state::{Assembly, Event, Extras, Move, Scene, walk};

use super::reference_kinematics::ends_of;
use super::stored::{Stored, folder};

/// How far parry may be off, m.
const ALLOWED: f64 = 1e-6;
/// Moments of a stretch at which parry is asked.
const SAMPLES: u32 = 100;

#[derive(Deserialize)]
struct Made {
    limit: f64,
    overlap: f64,
    arms: Vec<Arm>,
}

#[derive(Deserialize)]
struct Arm {
    name: String,
    capsules: Vec<Capsule>,
    problems: Vec<MadeProblem>,
}

#[derive(Deserialize)]
struct Capsule {
    link: String,
    a: [f64; 3],
    b: [f64; 3],
    radius: f64,
}

#[derive(Deserialize)]
struct MadeProblem {
    start: Vec<f64>,
    goal: Vec<f64>,
    boxes: Vec<Thing>,
    legs_least: f64,
    straight_least: f64,
}

#[derive(Deserialize)]
struct Published {
    kinds: Vec<KindOfScene>,
}

#[derive(Deserialize)]
struct KindOfScene {
    name: String,
    problems: Vec<PublishedProblem>,
}

#[derive(Deserialize)]
struct PublishedProblem {
    start: Vec<f64>,
    goal: Vec<f64>,
    things: Vec<Thing>,
}

/// Something that the arm has to get round.
#[derive(Deserialize)]
struct Thing {
    at: [f64; 3],
    quat_xyzw: [f64; 4],
    #[serde(flatten)]
    form: Form,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Form {
    Box { half: [f64; 3] },
    Cylinder { length: f64, radius: f64 },
}

impl Thing {
    /// As a plan's file has it.
    fn written(&self, number: usize) -> String {
        let shape = match &self.form {
            Form::Box { half } => format!("box = {{ size_m = {:?} }}", half.map(|half| 2.0 * half)),
            Form::Cylinder { length, radius } => format!("cylinder = {{ length_m = {length}, radius_m = {radius} }}"),
        };
        let Self { at, quat_xyzw, .. } = self;
        format!(
            "[[body]]\nid = \"thing-{number}\"\nplace = {{ at_m = {at:?}, quat_xyzw = {quat_xyzw:?} }}\n\
             shape = {{ {shape} }}\n"
        )
    }

    fn in_library(&self) -> (LibraryPose, Box<dyn Shape>) {
        let [x, y, z, w] = self.quat_xyzw;
        let turn = nalgebra::UnitQuaternion::from_quaternion(nalgebra::Quaternion::new(w, x, y, z));
        let place = Pose::from_parts(Vector::from(self.at).into(), turn);
        match &self.form {
            Form::Box { half } => (place.into(), Box::new(Cuboid::new(DVec3::from_array(*half)))),
            Form::Cylinder { length, radius } => {
                ((place * z_from_library_axis()).into(), Box::new(Cylinder::new(0.5 * length, *radius)))
            }
        }
    }
}

/// The library's cylinders lie along y.
fn z_from_library_axis() -> nalgebra::UnitQuaternion<f64> {
    nalgebra::UnitQuaternion::from_axis_angle(&Vector::x_axis(), std::f64::consts::FRAC_PI_2)
}

/// An arm, things around it, where it is to go, and within which limits.
struct Question<'a> {
    name: String,
    urdf: Vec<u8>,
    ends: [&'a str; 2],
    /// What the URDF leaves out.
    shapes: String,
    things: &'a [Thing],
    start: &'a [f64],
    goal: &'a [f64],
    limit: f64,
    overlap: f64,
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
            let turn = nalgebra::UnitQuaternion::rotation_between(&Vector::z(), &along)
                .unwrap_or_else(|| nalgebra::UnitQuaternion::from_axis_angle(&Vector::x_axis(), std::f64::consts::PI));
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

impl Question<'_> {
    /// A plan in which the arm, with nothing at its tip, is to go from start to goal.
    fn as_plan(&self) -> Loaded {
        let Self { ends: [base, tip], limit, overlap, .. } = self;
        let degrees = |q: &[f64]| q.iter().map(|q| q.to_degrees()).collect::<Vec<f64>>();
        let worksite = |id: &str, q: &[f64]| {
            format!(
                "[[worksite]]\nid = \"{id}\"\napproach = [0, 0, -1]\napproach_m = 0\nstand = \"here\"\n\
                 joints_deg_m = {:?}\ndetents_deg = []\n",
                degrees(q)
            )
        };
        let plan = format!(
            r#"
                title = "a test arm among things"
                structure = "structure.toml"
                restraint = "restraint.toml"
                arm = "arm.urdf"
                arm_links = ["{base}", "{tip}"]
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
                default = -0.05
                arm_to_arm = -{overlap}
                [limits.at_work.clearance_m]
                default = 0
                arm_to_arm = -{overlap}
                {}{}
            "#,
            worksite("start", self.start),
            worksite("goal", self.goal)
        );
        let structure: String = self.things.iter().enumerate().map(|(number, thing)| thing.written(number)).collect();
        let restraint = b"title = \"no more than a place\"\nboot_spacing_m = 0.30\n[plate]\nat_m = [0, 0, 0]\n";
        let files: [(&str, &[u8]); 5] = [
            ("plan.toml", plan.as_bytes()),
            ("structure.toml", structure.as_bytes()),
            ("restraint.toml", restraint),
            ("arm.urdf", &self.urdf),
            ("shapes.toml", self.shapes.as_bytes()),
        ];
        read_embedded(&files).unwrap_or_else(|problems| panic!("{}: {problems:?}", self.name))
    }

    /// The transit of the plan, with nobody at the tip.
    fn transit(&self, scene: &Scene) -> Move {
        let walked = walk(scene);
        let moved = walked.events.iter().find_map(|event| match event {
            Event::Move(moved) if moved.kind == MotionKind::Transit => Some((**moved).clone()),
            _ => None,
        });
        let mut moved = moved.expect("the plan has a transit");
        (moved.moment.arm, moved.moment.rider) = (self.start.to_vec(), None);
        moved
    }

    /// The way that is found, its ends included, and sampled; none where an end is proven to break a limit.
    fn solved(&self, seed: u64) -> Option<Vec<Vec<f64>>> {
        let loaded = self.as_plan();
        let scene = Scene::new(&loaded.project, &loaded.meshes);
        let moved = self.transit(&scene);
        let settings = Settings { seed, attempts: 1, edges: 10, ..Settings::default() };
        let answer = transit(&scene, (&moved, self.goal), &settings, &Silent, &AtomicBool::new(false));
        let found: Found = match answer.expect("nobody stops it") {
            Answer::Found(found) => found,
            Answer::Impossible(reason) => {
                println!("{}: {reason:?}", self.name);
                return None;
            }
            Answer::NotFound(no) => panic!("{}: {no:?}", self.name),
        };
        let chain = [vec![self.start.to_vec()], found.waypoints, vec![self.goal.to_vec()]].concat();
        let sampled = self.least_by_parry((&scene, &moved), &chain);
        assert!(sampled >= self.limit - ALLOWED, "{}: a sample at {sampled} m", self.name);
        Some(chain)
    }

    /// The least distance of the arm's moving links from anything on a chain of configurations, by parry.
    fn least_by_parry(&self, (scene, moved): (&Scene, &Move), chain: &[Vec<f64>]) -> f64 {
        let assembly = Assembly::with(scene, &moved.moment, &Extras::default());
        let frozen = assembly.moving(moved.kind);
        let things: Vec<(LibraryPose, Box<dyn Shape>)> = self.things.iter().map(Thing::in_library).collect();
        let mut least = f64::INFINITY;
        let mut measured = 0;
        for ends in chain.windows(2) {
            let segment = Segment { from: ends[0].clone(), to: ends[1].clone() };
            for k in 0..=SAMPLES {
                let posed = frozen.pose(&segment.at(f64::from(k) / f64::from(SAMPLES)));
                let moving = frozen.bodies().iter().filter(|body| body.link != LinkId::STRUCTURE);
                for (link, part) in moving.flat_map(|body| body.parts.iter().map(|part| (posed.link(body.link), part)))
                {
                    let point = |p: &Point| DVec3::new(p.x, p.y, p.z);
                    let (place, shape): (Pose, Box<dyn Shape>) = match &part.core {
                        Core::Point(at) => (link * Pose::translation(at.x, at.y, at.z), Box::new(Ball::new(0.0))),
                        Core::Segment(a, b) => (*link, Box::new(LibrarySegment::new(point(a), point(b)))),
                        Core::Box { link_from_box, half } => {
                            (link * link_from_box, Box::new(Cuboid::new(DVec3::new(half.x, half.y, half.z))))
                        }
                        Core::Cylinder { link_from_cylinder, half_length, radius } => (
                            link * link_from_cylinder * z_from_library_axis(),
                            Box::new(Cylinder::new(*half_length, *radius)),
                        ),
                        other => panic!("{other:?} is no shape of these arms"),
                    };
                    for (at, thing) in &things {
                        let apart = distance(&place.into(), &*shape, at, &**thing).expect("it knows these").distance;
                        least = least.min(apart - part.radius);
                        measured += 1;
                    }
                }
            }
        }
        assert!(measured > 0, "nothing was measured");
        least
    }
}

#[test]
fn every_problem_that_was_made_to_have_an_answer_is_solved_and_no_sample_of_the_way_is_under_the_limit() {
    let Made { limit, overlap, arms } = Stored::read("planning").content;
    let mut solved = 0;
    for arm in &arms {
        let ends = ends_of(&arm.name);
        for (number, problem) in arm.problems.iter().enumerate() {
            let question = Question {
                name: format!("{} {number}", arm.name),
                urdf: fs::read(folder().join(&ends.urdf)).expect("a stored URDF can be read"),
                ends: [&ends.base, &ends.tip],
                shapes: shapes(arm, &ends.links),
                things: &problem.boxes,
                start: &problem.start,
                goal: &problem.goal,
                limit,
                overlap,
            };
            let loaded = question.as_plan();
            let scene = Scene::new(&loaded.project, &loaded.meshes);
            let straight_on = [problem.start.clone(), problem.goal.clone()];
            let straight = question.least_by_parry((&scene, &question.transit(&scene)), &straight_on);
            assert!(straight < limit && problem.straight_least < limit, "{}: {straight} m", question.name);
            assert!(problem.legs_least > limit, "{}", question.name);
            let way = question.solved(number as u64).unwrap_or_else(|| panic!("{} has an answer", question.name));
            assert!(way.len() > 2, "{}: there is a box in the straight way", question.name);
            solved += 1;
        }
    }
    assert_eq!(solved, 60);
}

#[test]
fn published_problems_are_solved_and_no_sample_of_the_way_touches_anything() {
    let Published { kinds } = Stored::read("published").content;
    let urdf = fs::read(folder().join("urdf/panda_spherized.urdf")).expect("a stored URDF can be read");
    let (mut solved, mut unsound) = (0, 0);
    for kind in &kinds {
        for (number, problem) in kind.problems.iter().enumerate() {
            let question = Question {
                name: format!("{} {}", kind.name, number + 1),
                urdf: urdf.clone(),
                ends: ["panda_link0", "panda_hand"],
                shapes: "acceleration_deg_s2 = 200\n".to_owned(),
                things: &problem.things,
                start: &problem.start,
                goal: &problem.goal,
                limit: 0.0,
                overlap: 0.1,
            };
            match question.solved(number as u64) {
                Some(_) => solved += 1,
                None => unsound += 1,
            }
        }
    }
    println!("{solved} solved, {unsound} with an unsound end");
    assert_eq!((solved, unsound), (140, 0));
}
