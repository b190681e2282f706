//! Where the geometry library's types meet ours: nothing else converts between nalgebra and glam.

use rapier3d::glamx::DVec3;

use super::Aabb;

pub(super) fn to_library(p: &nalgebra::Vector3<f64>) -> DVec3 {
    DVec3::new(p.x, p.y, p.z)
}

/// A box as the library holds it.
pub(super) fn library_box(bounds: &Aabb) -> rapier3d::parry::bounding_volume::Aabb {
    rapier3d::parry::bounding_volume::Aabb::new(to_library(&bounds.min.coords), to_library(&bounds.max.coords))
}

/// The library's own shapes and queries, which the tests compare with.
#[cfg(test)]
pub(super) mod reference {
    use super::*;
    use crate::space::{Core, Hull, Point, Pose};
    use rapier3d::parry::math::Pose as LibraryPose;
    use rapier3d::parry::query;
    use rapier3d::parry::shape::{ConvexPolyhedron, Cuboid, Cylinder, Segment, Shape, Triangle};

    /// The library's distance of two cores, by its own shapes; zero when they overlap.
    pub fn distance(a: &Core, a_pose: &Pose, b: &Core, b_pose: &Pose) -> f64 {
        let (a_pose, a) = shape(a, a_pose);
        let (b_pose, b) = shape(b, b_pose);
        query::distance(&a_pose, &*a, &b_pose, &*b).expect("all pairs are supported").distance
    }

    /// The library's hull of points in general position.
    pub fn hull(points: &[Point]) -> Hull {
        let points: Vec<DVec3> = points.iter().map(|p| to_library(&p.coords)).collect();
        let (corners, facets) = rapier3d::parry::transformation::try_convex_hull(&points).expect("a solid");
        Hull {
            corners: corners.iter().map(|p| Point::new(p.x, p.y, p.z)).collect(),
            facets: facets.iter().map(|facet| facet.map(|k| k as usize)).collect(),
        }
    }

    fn pose(p: &Pose) -> LibraryPose {
        LibraryPose::from(*p)
    }

    fn shape(core: &Core, structure_from_link: &Pose) -> (LibraryPose, Box<dyn Shape>) {
        let at = |p: &Point| to_library(&p.coords);
        match core {
            Core::Point(p) => (pose(structure_from_link), Box::new(Segment::new(at(p), at(p)))),
            Core::Segment(p, q) => (pose(structure_from_link), Box::new(Segment::new(at(p), at(q)))),
            Core::Triangle([p, q, r]) => (pose(structure_from_link), Box::new(Triangle::new(at(p), at(q), at(r)))),
            Core::Box { link_from_box, half } => {
                (pose(&(structure_from_link * link_from_box)), Box::new(Cuboid::new(to_library(half))))
            }
            Core::Cylinder { link_from_cylinder, half_length, radius } => {
                // The library's cylinders lie along y.
                let z_from_y = nalgebra::UnitQuaternion::from_axis_angle(
                    &nalgebra::Vector3::x_axis(),
                    std::f64::consts::FRAC_PI_2,
                );
                (
                    pose(&(structure_from_link * link_from_cylinder * z_from_y)),
                    Box::new(Cylinder::new(*half_length, *radius)),
                )
            }
            Core::Hull(hull) => {
                let corners = hull.corners.iter().map(at).collect();
                let facets: Vec<[u32; 3]> = hull.facets.iter().map(|f| f.map(|k| k as u32)).collect();
                let polyhedron = ConvexPolyhedron::from_convex_mesh(corners, &facets);
                (pose(structure_from_link), Box::new(polyhedron.expect("a hull is a convex mesh")))
            }
        }
    }
}
