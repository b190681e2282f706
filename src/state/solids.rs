//! Which convex parts does a written shape have?

use std::sync::Arc;

use crate::files::Meshes;
use crate::mechanism::{Body, LinkId};
use crate::model::{BodyClass, MeshUse, Shape};
use crate::space::{Convex, Core, Mesh, Point, Pose, Vector, hull};

/// The parts of a shape placed in a link, and what they enclose if they are a solid's surface.
pub(super) fn parts(shape: &Shape, link_from_shape: &Pose, meshes: &Meshes) -> (Vec<Convex>, Option<Arc<Mesh>>) {
    let at = |x: f64, y: f64, z: f64| link_from_shape * Point::new(x, y, z);
    let one = |core, radius| (vec![Convex { core, radius }], None);
    match shape {
        Shape::Cuboid { size_m } => {
            one(Core::Box { link_from_box: *link_from_shape, half: Vector::from(*size_m) * 0.5 }, 0.0)
        }
        Shape::Sphere { radius_m } => one(Core::Point(at(0.0, 0.0, 0.0)), *radius_m),
        Shape::Cylinder { length_m, radius_m } => one(
            Core::Cylinder { link_from_cylinder: *link_from_shape, half_length: 0.5 * length_m, radius: *radius_m },
            0.0,
        ),
        Shape::Capsule { length_m, radius_m } => {
            one(Core::Segment(at(0.0, 0.0, -0.5 * length_m), at(0.0, 0.0, 0.5 * length_m)), *radius_m)
        }
        Shape::Hull { points_m } => {
            let points: Vec<Point> = points_m.iter().map(|[x, y, z]| at(*x, *y, *z)).collect();
            (vec![convex_hull(&points)], None)
        }
        Shape::Mesh { file, node, meaning } => {
            let mesh = meshes.get(file, node).expect("reading a plan reads every mesh that it names");
            let placed = Mesh {
                vertices: mesh.vertices.iter().map(|p| link_from_shape * p).collect(),
                triangles: mesh.triangles.clone(),
            };
            match meaning {
                MeshUse::Hull => (vec![convex_hull(&placed.vertices)], None),
                MeshUse::Shell => (facets(&placed), None),
                MeshUse::Solid => (facets(&placed), Some(Arc::new(placed))),
            }
        }
    }
}

fn convex_hull(points: &[Point]) -> Convex {
    let hull = hull(points).expect("reading a plan refuses points that have no hull");
    Convex { core: Core::Hull(Arc::new(hull)), radius: 0.0 }
}

fn facets(mesh: &Mesh) -> Vec<Convex> {
    let corner = |k: &usize| mesh.vertices[*k];
    mesh.triangles
        .iter()
        .map(|[a, b, c]| Convex { core: Core::Triangle([corner(a), corner(b), corner(c)]), radius: 0.0 })
        .collect()
}

/// A body of one written shape.
pub(super) fn body(
    name: String,
    class: BodyClass,
    (link, link_from_shape): (LinkId, &Pose),
    shape: &Shape,
    (meshes, growth): (&Meshes, f64),
) -> Body {
    let (parts, filled) = parts(shape, link_from_shape, meshes);
    Body { name, class, link, parts, filled, growth }
}
