//! Source: Pinocchio (pin 4.1.0) on three URDF arms that others wrote, 50 configurations each, stored in
//! `references/kinematics.json` (made by `kinematics.py`). Tolerance 1e-9 (m, and entries of rotations and Jacobians): both
//! sides multiply the same dozen transforms in f64, which leaves 1e-15; the rest is room for other machines.
//!
//! The tree is built here from the URDF's joints and origins alone, so that every link can be compared; the same arms are
//! read by the program's own reader, too, as a plan does, and the poses of their tips looked for by inverse kinematics.

use std::fs;

use nalgebra::UnitQuaternion;
use serde::Deserialize;

use trusswalk::files::{Loaded, read_embedded};
use trusswalk::mechanism::{
    Goal, InverseKinematics, JointMotion, LinkId, Mechanism, MechanismBuilder, Range, Solved, tip_jacobian,
};
use trusswalk::space::{Direction, Pose, Vector};
use trusswalk::state::{ArmAlone, Scene};

use super::stored::{Deviation, Stored, assert_allowed, difference, folder, pose_of};

const ALLOWED: f64 = 1e-9;
/// The search ends within 1e-9 m and rad of the pose that it is asked for.
const INVERSE_ALLOWED: f64 = 1e-8;
/// Starts that each pose is looked for from, each the joint values of another pose.
const STARTS: usize = 20;

#[derive(Deserialize)]
struct Arms {
    arms: Vec<Arm>,
}

#[derive(Deserialize)]
struct Arm {
    name: String,
    urdf: String,
    base: String,
    tip: String,
    joints: Vec<String>,
    lower: Vec<f64>,
    upper: Vec<f64>,
    links: Vec<String>,
    configurations: Vec<Configuration>,
}

#[derive(Deserialize)]
struct Configuration {
    q: Vec<f64>,
    poses: Vec<[f64; 12]>,
    jacobian: Vec<Vec<f64>>,
}

/// The chain from the base link to the tip link, every link of it by name.
fn chain(arm: &Arm) -> Mechanism {
    let text = fs::read_to_string(folder().join(&arm.urdf)).expect("a stored URDF can be read");
    let document = roxmltree::Document::parse(&text).expect("a stored URDF is XML");
    let joints: Vec<_> = document.root_element().children().filter(|node| node.has_tag_name("joint")).collect();
    let end_of = |joint: &roxmltree::Node, end: &str| {
        let named = joint.children().find(|node| node.has_tag_name(end)).and_then(|node| node.attribute("link"));
        named.unwrap_or_default().to_owned()
    };
    let mut path = Vec::new();
    let mut link = arm.tip.clone();
    while link != arm.base {
        let joint = joints.iter().find(|joint| end_of(joint, "child") == link).expect("a chain leads to the base");
        path.push(*joint);
        link = end_of(joint, "parent");
    }
    let mut builder = MechanismBuilder::new();
    let mut at = builder.fixed(&arm.base, LinkId::STRUCTURE, Pose::identity());
    for joint in path.into_iter().rev() {
        let child = |name: &str| joint.children().find(|node| node.has_tag_name(name));
        let vector = |node: Option<roxmltree::Node>, attribute: &str, default: [f64; 3]| {
            let written = node.and_then(|node| node.attribute(attribute)).map(|text| {
                let numbers: Vec<f64> = text.split_whitespace().map(|word| word.parse().expect("a number")).collect();
                Vector::from_column_slice(&numbers)
            });
            written.unwrap_or(Vector::from(default))
        };
        let rpy = vector(child("origin"), "rpy", [0.0; 3]);
        let place = vector(child("origin"), "xyz", [0.0; 3]);
        let axis = vector(child("axis"), "xyz", [1.0, 0.0, 0.0]);
        let turned = UnitQuaternion::from_euler_angles(rpy.x, rpy.y, rpy.z);
        let motion = match joint.attribute("type") {
            Some("fixed") => JointMotion::Fixed,
            Some("prismatic") => JointMotion::Prismatic,
            Some("revolute" | "continuous") => JointMotion::Revolute,
            other => panic!("a joint of type {other:?}"),
        };
        let parent_from_joint = Pose::from_parts(place.into(), turned);
        let name = end_of(&joint, "child");
        at = builder.joint(&name, at, parent_from_joint, motion, Direction::new_normalize(axis), Range::FREE);
    }
    builder.finish()
}

/// Where an arm's chain begins and ends, and its links.
pub struct Ends {
    pub urdf: String,
    pub base: String,
    pub tip: String,
    pub links: Vec<String>,
}

/// The ends of one of the arms, by its name.
pub fn ends_of(name: &str) -> Ends {
    let stored = Stored::<Arms>::read("kinematics");
    let arm = stored.content.arms.into_iter().find(|arm| arm.name == name).expect("an arm of that name is stored");
    Ends { urdf: arm.urdf, base: arm.base, tip: arm.tip, links: arm.links }
}

/// One of the arms, by its name, and its tip.
pub fn arm_named(name: &str) -> (Mechanism, LinkId) {
    let stored = Stored::<Arms>::read("kinematics");
    let arm = stored.content.arms.iter().find(|arm| arm.name == name).expect("an arm of that name is stored");
    let mechanism = chain(arm);
    let tip = mechanism.link_named(&arm.tip).expect("every link of the chain");
    (mechanism, tip)
}

pub fn deviations() -> Vec<Deviation> {
    let stored = Stored::<Arms>::read("kinematics");
    let pin = stored.made_with("pin");
    let mut deviations = Vec::new();
    for arm in &stored.content.arms {
        let mechanism = chain(arm);
        assert_eq!(mechanism.variable_count(), arm.joints.len());
        let link = |name: &str| mechanism.link_named(name).expect("every link of the chain");
        let posed: Vec<_> = arm.configurations.iter().map(|at| (at, mechanism.pose(&at.q))).collect();
        let poses = posed.iter().flat_map(|(at, posed)| {
            let links = arm.links.iter().map(|name| link(name));
            links.zip(&at.poses).map(|(link, stored)| difference(posed.link(link), stored)).collect::<Vec<_>>()
        });
        let jacobians = posed.iter().map(|(at, posed)| {
            let own = tip_jacobian(&mechanism, posed, link(&arm.tip));
            let entries = at.jacobian.iter().enumerate().flat_map(|(row, entries)| {
                entries.iter().enumerate().map(move |(column, stored)| (row, column, *stored))
            });
            entries.map(|(row, column, stored)| (own[(row, column)] - stored).abs()).fold(0.0, f64::max)
        });
        let named = |what: &str| format!("{}: {what}", arm.name);
        deviations.push(Deviation::of(&named("poses of all links (m, rotation entries)"), &pin, ALLOWED, poses));
        deviations.push(Deviation::of(&named("Jacobian of the tip (m, 1)"), &pin, ALLOWED, jacobians));
        let (met, of) = inverse(arm);
        assert!(met.len() * 2000 >= of * 1999, "{}: {} of {of} poses are met", arm.name, met.len());
        deviations.push(Deviation::of(&named("inverse solutions, posed again"), &pin, INVERSE_ALLOWED, met));
        let own = own_reader(arm);
        deviations.push(Deviation::of(&named("pose of the tip, as read from a plan"), &pin, ALLOWED, own));
    }
    deviations
}

#[test]
fn poses_and_jacobians_are_those_of_pinocchio() {
    let deviations = deviations();
    assert_eq!(deviations.len(), 12);
    assert_allowed(&deviations);
}

/// A plan around the arm, with nothing else in it.
fn read_as_plan(arm: &Arm) -> Loaded {
    let degrees: Vec<f64> = arm.configurations[0].q.iter().map(|q| q.to_degrees()).collect();
    let (base, tip) = (&arm.base, &arm.tip);
    let plan = format!(
        r#"
            title = "a test arm alone"
            structure = "structure.toml"
            restraint = "restraint.toml"
            arm = "arm.urdf"
            arm_links = ["{base}", "{tip}"]
            arm_shapes = "shapes.toml"
            stand = [{{ id = "here", place = {{}} }}]
            step = [{{ do = "ingress", to = "there" }}]
            [[worksite]]
            id = "there"
            approach = [0, 0, -1]
            stand = "here"
            joints_deg_m = {degrees:?}
            detents_deg = [0, 0]
        "#
    );
    // The shapes of these arms are meshes, which are stored nowhere here.
    let shapes: String = arm.links.iter().map(|name| format!("[[link]]\nname = \"{name}\"\nshape = []\n")).collect();
    let urdf = fs::read(folder().join(&arm.urdf)).expect("a stored URDF can be read");
    let restraint = include_bytes!("../../scenes/starter/restraint.toml");
    let files: [(&str, &[u8]); 5] = [
        ("plan.toml", plan.as_bytes()),
        ("structure.toml", b""),
        ("restraint.toml", restraint),
        ("arm.urdf", &urdf),
        ("shapes.toml", shapes.as_bytes()),
    ];
    read_embedded(&files).unwrap_or_else(|problems| panic!("{}: {problems:?}", arm.name))
}

/// Of each pose of the tip, as Pinocchio has it, and each start: how far the solution that is found is from it, its joint
/// values within the arm's limits; and of how many.
fn inverse(arm: &Arm) -> (Vec<f64>, usize) {
    let loaded = read_as_plan(arm);
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let ArmAlone { mechanism, tip, meets, .. } = ArmAlone::new(&scene, "here");
    let solver = InverseKinematics::default();
    let count = arm.configurations.len();
    let mut met = Vec::new();
    for (number, at) in arm.configurations.iter().enumerate() {
        let place = at.poses[arm.links.len() - 1];
        let goal = Goal { link: tip, structure_from_link: pose_of(&place), meets };
        for other in 1..=STARTS {
            let start = &arm.configurations[(number + other) % count].q;
            if let Solved::Met(q) = solver.solve(&mechanism, &goal, start) {
                let ranges = mechanism.ranges();
                assert!(ranges.iter().zip(&q).all(|(range, q)| (range.lowest..=range.highest).contains(q)));
                met.push(difference(mechanism.pose(&q).link(tip), &place));
            }
        }
    }
    (met, count * STARTS)
}

/// Differences of the tip's pose, the arm read from its URDF as a plan does.
fn own_reader(arm: &Arm) -> Vec<f64> {
    let loaded = read_as_plan(arm);
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let alone = ArmAlone::new(&scene, "here");
    for (range, (lower, upper)) in alone.mechanism.ranges().iter().zip(arm.lower.iter().zip(&arm.upper)) {
        assert!((range.lowest - lower).abs() < ALLOWED && (range.highest - upper).abs() < ALLOWED, "{range:?}");
    }
    let tip = |at: &Configuration| difference(&alone.structure_from_tip(&at.q), &at.poses[arm.links.len() - 1]);
    arm.configurations.iter().map(tip).collect()
}
