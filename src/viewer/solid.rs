//! What does a body look like?
//!
//! Each convex part becomes a mesh in its link's frame. A box or hull with a radius is drawn without its rounding grown
//! outwards by it; nothing is measured on what is drawn.

use bevy::asset::RenderAssetUsages;
use bevy::mesh::PrimitiveTopology;
use bevy::prelude::*;

use crate::space::{Convex, Core, Point, Pose};

/// The mesh of all parts in the frame of their link; `structure_from_link` is applied where the parts stand still.
/// None of a body without parts.
pub fn mesh<'a>(parts: impl IntoIterator<Item = (&'a Convex, Transform)>) -> Option<Mesh> {
    let mut whole: Option<Mesh> = None;
    for (part, place) in parts {
        let Some(drawn) = part_mesh(part) else { continue };
        let drawn = drawn.transformed_by(place);
        match &mut whole {
            None => whole = Some(drawn),
            Some(whole) => whole.merge(&drawn).expect("all parts have the same attributes"),
        }
    }
    whole
}

fn part_mesh(part: &Convex) -> Option<Mesh> {
    let radius = part.radius as f32;
    let drawn = match &part.core {
        Core::Point(at) => ball(radius)?.translated_by(vec(at)),
        Core::Segment(a, b) => {
            let along = vec(b) - vec(a);
            if along.length() < 1e-6 {
                ball(radius)?.translated_by(vec(a))
            } else {
                let sides = if radius < 0.05 { 10 } else { 24 };
                let drawn = Capsule3d::new(radius.max(1e-3), along.length()).mesh();
                let drawn = drawn.longitudes(sides).latitudes(if radius < 0.05 { 4 } else { 12 });
                bare(drawn.build()).transformed_by(
                    Transform::from_translation(0.5 * (vec(a) + vec(b)))
                        .with_rotation(Quat::from_rotation_arc(Vec3::Y, along.normalize())),
                )
            }
        }
        Core::Box { link_from_box, half } => {
            let size = [half.x, half.y, half.z].map(|half| 2.0 * (half as f32 + radius));
            bare(Cuboid::new(size[0], size[1], size[2]).mesh().build()).transformed_by(transform(link_from_box))
        }
        Core::Cylinder { link_from_cylinder, half_length, radius: disk } => {
            let (disk, height) = (*disk as f32 + radius, 2.0 * (*half_length as f32 + radius));
            // Bevy's cylinders stand along y.
            let along_z = Transform::from_rotation(Quat::from_rotation_x(std::f32::consts::FRAC_PI_2));
            bare(Cylinder::new(disk, height).mesh().resolution(48).build())
                .transformed_by(transform(link_from_cylinder) * along_z)
        }
        Core::Triangle(corners) => facets(std::iter::once(corners.each_ref().map(vec))),
        Core::Hull(hull) => facets(hull.facets.iter().map(|facet| facet.map(|corner| vec(&hull.corners[corner])))),
    };
    Some(drawn)
}

fn ball(radius: f32) -> Option<Mesh> {
    (radius > 0.0).then(|| bare(Sphere::new(radius).mesh().uv(28, 16)))
}

/// Flat facets, one normal each.
fn facets(triangles: impl Iterator<Item = [Vec3; 3]>) -> Mesh {
    let (mut positions, mut normals) = (Vec::new(), Vec::new());
    for corners in triangles {
        let normal = (corners[1] - corners[0]).cross(corners[2] - corners[0]).normalize_or_zero();
        positions.extend(corners.map(|corner| corner.to_array()));
        normals.extend([normal.to_array(); 3]);
    }
    let count = positions.len() as u32;
    Mesh::new(PrimitiveTopology::TriangleList, RenderAssetUsages::default())
        .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, positions)
        .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
        .with_inserted_indices(bevy::mesh::Indices::U32((0..count).collect()))
}

/// Without what no material of ours uses, so that all parts merge.
fn bare(mut mesh: Mesh) -> Mesh {
    mesh.remove_attribute(Mesh::ATTRIBUTE_UV_0);
    mesh
}

fn vec(at: &Point) -> Vec3 {
    Vec3::new(at.x as f32, at.y as f32, at.z as f32)
}

fn transform(pose: &Pose) -> Transform {
    super::place::SceneOrigin::default().transform(pose)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::space::Vector;

    /// Greatest distance of a drawn vertex from the z axis, and its greatest height.
    fn reach(part: Convex) -> (f32, f32) {
        let mesh = mesh([(&part, Transform::IDENTITY)]).expect("a shape");
        let Some(bevy::mesh::VertexAttributeValues::Float32x3(at)) = mesh.attribute(Mesh::ATTRIBUTE_POSITION) else {
            panic!("positions")
        };
        let most = |of: fn(&[f32; 3]) -> f32| at.iter().map(of).fold(f32::MIN, f32::max);
        (most(|p| p[0].hypot(p[1])), most(|p| p[2]))
    }

    #[test]
    fn every_kind_of_core_is_drawn_as_large_as_it_is() {
        let z = |z: f64| Point::new(0.0, 0.0, z);
        let capsule = Convex { core: Core::Segment(z(-1.0), z(1.0)), radius: 0.25 };
        let cylinder = Core::Cylinder { link_from_cylinder: Pose::identity(), half_length: 1.0, radius: 0.5 };
        let cuboid = Core::Box { link_from_box: Pose::identity(), half: Vector::new(0.3, 0.4, 0.5) };
        for (part, (wide, high)) in [
            (capsule, (0.25, 1.25)),
            (Convex { core: Core::Point(z(2.0)), radius: 0.5 }, (0.5, 2.5)),
            (Convex { core: cylinder, radius: 0.0 }, (0.5, 1.0)),
            (Convex { core: cuboid, radius: 0.0 }, (0.5, 0.5)),
        ] {
            let (drawn_wide, drawn_high) = reach(part);
            assert!((drawn_wide - wide).abs() < 0.01 && (drawn_high - high).abs() < 0.01, "{drawn_wide} {drawn_high}");
        }
    }
}
