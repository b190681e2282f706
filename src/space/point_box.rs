//! Which point of a box is nearest to a point outside it?
//!
//! # Law
//! In the frame of the box, the point clamped to `[−half, half]` in each coordinate.

use super::{Point, Vector};

/// A box as its own frame (unit columns) and half sizes.
pub(super) struct BoxFrame {
    centre: Point,
    structure_from_box: nalgebra::Matrix3<f64>,
    pub half: Vector,
}

impl BoxFrame {
    #[inline]
    pub fn new(centre: &Point, half_edges: &[Vector; 3]) -> Self {
        let half = Vector::new(half_edges[0].norm(), half_edges[1].norm(), half_edges[2].norm());
        let axes = [half_edges[0] / half.x, half_edges[1] / half.y, half_edges[2] / half.z];
        BoxFrame { centre: *centre, structure_from_box: nalgebra::Matrix3::from_columns(&axes), half }
    }

    /// Coordinates of a displacement in the frame of the box.
    #[inline]
    pub fn turned(&self, displacement: &Vector) -> Vector {
        self.structure_from_box.tr_mul(displacement)
    }

    /// Coordinates of a point in the frame of the box.
    #[inline]
    pub fn coordinates(&self, point: &Point) -> Vector {
        self.turned(&(point - self.centre))
    }

    /// How far the coordinates are outside the box, in each of them; zero inside.
    #[inline]
    pub fn excess(&self, coordinates: &Vector) -> Vector {
        coordinates.zip_map(&self.half, |x, half| x - x.clamp(-half, half))
    }

    /// A displacement of the box's frame, in the structure's.
    #[inline]
    pub fn in_structure(&self, displacement: &Vector) -> Vector {
        self.structure_from_box * displacement
    }
}

/// The point and the point of the box nearest to it; none when it is inside or on the surface.
#[inline]
pub(super) fn nearest_points(point: &Point, centre: &Point, half_edges: &[Vector; 3]) -> Option<(Point, Point)> {
    let frame = BoxFrame::new(centre, half_edges);
    let excess = frame.excess(&frame.coordinates(point));
    (excess != Vector::zeros()).then(|| (*point, point - frame.in_structure(&excess)))
}
