//! How long does it take to tell how far apart two shapes are?
//!
//! Each round places both shapes and measures them, on the random pairs that the stored distances are of.

use std::fs;
use std::hint::black_box;
use std::sync::Arc;

use criterion::Criterion;
use serde_json::Value;
use trusswalk::space::{Convex, Core, Point, Pose, Vector, hull, separation};

const PAIRS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/references/distances.json");

pub fn benches(c: &mut Criterion) {
    let stored = fs::read_to_string(PAIRS).expect("the stored distances");
    let stored: Value = serde_json::from_str(&stored).expect("JSON");
    for group in stored["pairs"].as_array().into_iter().flatten() {
        let [a_kind, b_kind] = ["a_kind", "b_kind"].map(|key| group[key].as_str().expect("a kind"));
        let pairs: Vec<(Convex, Pose, Convex, Pose)> = group["rows"]
            .as_array()
            .into_iter()
            .flatten()
            .map(|row| (shape(a_kind, &row["a"]), pose(&row["a_pose"]), shape(b_kind, &row["b"]), pose(&row["b_pose"])))
            .collect();
        let mut turn = pairs.iter().cycle();
        c.bench_function(&format!("space/separation/{a_kind}_{b_kind}"), |bencher| {
            bencher.iter(|| {
                let (a, a_pose, b, b_pose) = black_box(turn.next().expect("a cycle has no end"));
                separation(&a.posed(a_pose), &b.posed(b_pose))
            });
        });
    }
}

fn numbers(row: &Value) -> Vec<f64> {
    row.as_array().into_iter().flatten().filter_map(Value::as_f64).collect()
}

fn points(numbers: &[f64]) -> Vec<Point> {
    numbers.chunks_exact(3).map(Point::from_slice).collect()
}

/// A shape by the parameters of its kind.
fn shape(kind: &str, row: &Value) -> Convex {
    let row = numbers(row);
    let along_z = |half: f64| Core::Segment(Point::new(0.0, 0.0, -half), Point::new(0.0, 0.0, half));
    let (core, radius) = match (kind, &row[..]) {
        ("sphere", [radius]) => (Core::Point(Point::origin()), *radius),
        ("capsule", [half, radius]) => (along_z(*half), *radius),
        ("box", [x, y, z]) => (Core::Box { link_from_box: Pose::identity(), half: Vector::new(*x, *y, *z) }, 0.0),
        ("cylinder", [half_length, radius]) => {
            let link_from_cylinder = Pose::identity();
            (Core::Cylinder { link_from_cylinder, half_length: *half_length, radius: *radius }, 0.0)
        }
        ("hull", corners) => (Core::Hull(Arc::new(hull(&points(corners)).expect("a solid"))), 0.0),
        ("triangle", corners) => (Core::Triangle(points(corners).try_into().expect("three corners")), 0.0),
        _ => panic!("a {kind} with {} parameters", row.len()),
    };
    Convex { core, radius }
}

fn pose(row: &Value) -> Pose {
    let [x, y, z, qx, qy, qz, qw] = numbers(row)[..] else { panic!("a pose has seven numbers") };
    let rotation = nalgebra::UnitQuaternion::from_quaternion(nalgebra::Quaternion::new(qw, qx, qy, qz));
    Pose::from_parts(nalgebra::Translation3::new(x, y, z), rotation)
}
