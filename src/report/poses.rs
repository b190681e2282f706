//! Where is every body at a moment, so that anyone can recompute a distance?
//!
//! JSON lines: first the bodies with their shapes in their own link's frame, then one line for each moment with the
//! pose `[x, y, z, qx, qy, qz, qw]` of every body's link in the structure's frame, in the order of the bodies. Metres;
//! joints, those that move first and in the arm's order, in degrees or metres. A shape is every point within `radius` of its core.

use std::io::{self, Write};
use std::ops::Range;

use serde::{Serialize, Serializer};

use crate::mechanism::{Body, JointMotion, Mechanism, Posed};
use crate::space::{Convex, Core, Point, Pose};

/// Which moment of which motion.
#[derive(Clone, Debug)]
pub struct MotionMoment<'a> {
    pub motion: &'a str,
    /// Counted from 0.
    pub segment: usize,
    /// How far along the segment, 0 to 1.
    pub fraction: f64,
    /// The joint values that the mechanism was posed for (rad or m).
    pub q: &'a [f64],
    /// Those that move: they are written before all others.
    pub moving: Range<usize>,
}

#[derive(Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum Line<'a> {
    Bodies { bodies: Vec<BodyLine<'a>> },
    Moment { motion: &'a str, segment: usize, fraction: f64, joints: Joints<'a>, poses: Vec<[f64; 7]> },
}

/// Names and values, written as an object in this order.
struct Joints<'a>(Vec<(&'a str, f64)>);

impl Serialize for Joints<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().copied())
    }
}

#[derive(Serialize)]
struct BodyLine<'a> {
    id: usize,
    name: &'a str,
    class: &'static str,
    parts: Vec<Part>,
}

#[derive(Serialize)]
struct Part {
    #[serde(flatten)]
    core: CoreShape,
    radius: f64,
}

#[derive(Serialize)]
#[serde(tag = "core", rename_all = "snake_case")]
enum CoreShape {
    Point { at: [f64; 3] },
    Segment { a: [f64; 3], b: [f64; 3] },
    Triangle { corners: [[f64; 3]; 3] },
    Box { at: [f64; 3], quat_xyzw: [f64; 4], half: [f64; 3] },
    Cylinder { at: [f64; 3], quat_xyzw: [f64; 4], half_length: f64, disk_radius: f64 },
    Hull { corners: Vec<[f64; 3]> },
}

/// Writes the first line: all bodies and their shapes.
///
/// # Errors
/// If `out` cannot be written.
pub fn write_bodies(mechanism: &Mechanism, out: &mut dyn Write) -> io::Result<()> {
    let lines = mechanism.bodies().iter().enumerate().map(|(id, body)| BodyLine {
        id,
        name: &body.name,
        class: body.class.word(),
        parts: body.parts.iter().map(part).collect(),
    });
    write_line(&Line::Bodies { bodies: lines.collect() }, out)
}

/// Writes the line of one moment.
///
/// # Errors
/// If `out` cannot be written.
pub fn write_moment(
    mechanism: &Mechanism,
    posed: &Posed,
    moment: &MotionMoment,
    out: &mut dyn Write,
) -> io::Result<()> {
    let variables = (0..moment.q.len()).filter(|variable| !moment.moving.contains(variable));
    let joint = |variable: usize| {
        let value = &moment.q[variable];
        let link = mechanism.link(mechanism.link_of_variable(variable));
        let turns = link.joint.motion == JointMotion::Revolute;
        let value = if turns { value.to_degrees() } else { *value };
        // Rounding off what conversion to degrees adds; far below what any joint can be set to.
        (link.name.as_str(), (value * 1e9).round() / 1e9)
    };
    let pose = |body: &Body| {
        let ([x, y, z], [qx, qy, qz, qw]) = place(posed.link(body.link));
        [x, y, z, qx, qy, qz, qw]
    };
    let line = Line::Moment {
        motion: moment.motion,
        segment: moment.segment,
        fraction: moment.fraction,
        joints: Joints(moment.moving.clone().chain(variables).map(joint).collect()),
        poses: mechanism.bodies().iter().map(pose).collect(),
    };
    write_line(&line, out)
}

fn write_line(line: &Line, out: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer(&mut *out, line)?;
    out.write_all(b"\n")
}

fn part(convex: &Convex) -> Part {
    let core = match &convex.core {
        Core::Point(at) => CoreShape::Point { at: coordinates(at) },
        Core::Segment(a, b) => CoreShape::Segment { a: coordinates(a), b: coordinates(b) },
        Core::Triangle(corners) => CoreShape::Triangle { corners: corners.each_ref().map(coordinates) },
        Core::Box { link_from_box, half } => {
            let (at, quat_xyzw) = place(link_from_box);
            CoreShape::Box { at, quat_xyzw, half: (*half).into() }
        }
        Core::Cylinder { link_from_cylinder, half_length, radius } => {
            let (at, quat_xyzw) = place(link_from_cylinder);
            CoreShape::Cylinder { at, quat_xyzw, half_length: *half_length, disk_radius: *radius }
        }
        Core::Hull(hull) => CoreShape::Hull { corners: hull.corners.iter().map(coordinates).collect() },
    };
    Part { core, radius: convex.radius }
}

fn coordinates(point: &Point) -> [f64; 3] {
    point.coords.into()
}

fn place(pose: &Pose) -> ([f64; 3], [f64; 4]) {
    (pose.translation.vector.into(), pose.rotation.coords.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanism::{LinkId, MechanismBuilder, Range};
    use crate::model::BodyClass;
    use crate::space::Vector;

    /// A slide along x that carries a boom turning about z; the boom has one part of every kind that a file can hold.
    fn crane() -> Mechanism {
        let mut builder = MechanismBuilder::new();
        let along = Pose::translation(0.0, 0.0, 1.0);
        let rail =
            builder.joint("rail", LinkId::STRUCTURE, along, JointMotion::Prismatic, Vector::x_axis(), Range::FREE);
        let boom = builder.joint("boom", rail, Pose::identity(), JointMotion::Revolute, Vector::z_axis(), Range::FREE);
        let shifted = Pose::translation(0.0, 2.0, 0.0);
        let cores = [
            Core::Point(Point::origin()),
            Core::Segment(Point::origin(), Point::new(1.0, 0.0, 0.0)),
            Core::Triangle([Point::origin(), Point::new(1.0, 0.0, 0.0), Point::new(0.0, 1.0, 0.0)]),
            Core::Box { link_from_box: shifted, half: Vector::new(0.1, 0.2, 0.3) },
            Core::Cylinder { link_from_cylinder: shifted, half_length: 0.5, radius: 0.25 },
        ];
        let parts = cores.map(|core| Convex { core, radius: 0.125 }).to_vec();
        let class = BodyClass::Arm;
        builder.body(Body { name: "arm/boom".to_owned(), class, link: boom, parts, filled: None, growth: 0.0 });
        builder.finish()
    }

    fn lines(write: impl Fn(&mut Vec<u8>) -> io::Result<()>) -> Vec<serde_json::Value> {
        let mut out = Vec::new();
        write(&mut out).expect("memory can be written");
        let text = String::from_utf8(out).expect("JSON is text");
        text.lines().map(|line| serde_json::from_str(line).expect("a line is JSON")).collect()
    }

    #[test]
    fn the_first_line_holds_every_shape_in_its_links_frame() {
        let lines = lines(|out| write_bodies(&crane(), out));
        let place = |core: &str| serde_json::json!({ "core": core, "radius": 0.125, "at": [0.0, 2.0, 0.0], "quat_xyzw": [0.0, 0.0, 0.0, 1.0] });
        let (mut cuboid, mut cylinder) = (place("box"), place("cylinder"));
        cuboid["half"] = serde_json::json!([0.1, 0.2, 0.3]);
        cylinder["half_length"] = serde_json::json!(0.5);
        cylinder["disk_radius"] = serde_json::json!(0.25);
        let corners = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]];
        let expected = serde_json::json!({ "kind": "bodies", "bodies": [{
            "id": 0, "name": "arm/boom", "class": "arm", "parts": [
                { "core": "point", "at": [0.0, 0.0, 0.0], "radius": 0.125 },
                { "core": "segment", "a": [0.0, 0.0, 0.0], "b": [1.0, 0.0, 0.0], "radius": 0.125 },
                { "core": "triangle", "corners": corners, "radius": 0.125 },
                cuboid,
                cylinder,
            ],
        }] });
        assert_eq!(lines, [expected]);
    }

    #[test]
    fn a_moment_has_the_pose_of_every_body_and_joints_in_degrees_or_metres() {
        let crane = crane();
        let q = [3.0, std::f64::consts::FRAC_PI_2];
        let moment = MotionMoment { motion: "step-3/transit", segment: 1, fraction: 0.25, q: &q, moving: 1..2 };
        let [line] = &lines(|out| write_moment(&crane, &crane.pose(&q), &moment, out))[..] else {
            panic!("one line for one moment");
        };
        assert_eq!(line["joints"], serde_json::json!({ "rail": 3.0, "boom": 90.0 }));
        let mut text = Vec::new();
        write_moment(&crane, &crane.pose(&q), &moment, &mut text).expect("memory can be written");
        let text = String::from_utf8(text).expect("JSON is text");
        assert!(text.contains(r#""joints":{"boom":90.0,"rail":3.0}"#), "what moves comes first: {text}");
        assert_eq!((&line["kind"], &line["segment"], &line["fraction"]), (&"moment".into(), &1.into(), &0.25.into()));
        let half = std::f64::consts::FRAC_1_SQRT_2;
        let expected = [3.0, 0.0, 1.0, 0.0, 0.0, half, half];
        let pose: Vec<f64> = line["poses"][0].as_array().into_iter().flatten().filter_map(|v| v.as_f64()).collect();
        assert!(pose.len() == 7 && pose.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-15), "{pose:?}");
    }
}
