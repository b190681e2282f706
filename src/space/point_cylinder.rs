//! Which point of a cylinder is nearest to a point outside it?
//!
//! # Law
//! Along the axis the coordinate clamped to `[−half length, half length]`, across it the offset clamped to the radius.

use super::{Point, Vector};

/// The point and the point of the cylinder nearest to it; none when it is inside or on the surface.
#[inline]
pub(super) fn nearest_points(point: &Point, centre: &Point, half_axis: &Vector, radius: f64) -> Option<(Point, Point)> {
    let half_length = half_axis.norm();
    let axis = half_axis / half_length;
    let from_centre = point - centre;
    let height = axis.dot(&from_centre);
    let across = from_centre - axis * height;
    let offset = across.norm();
    if height.abs() <= half_length && offset <= radius {
        return None;
    }
    let nearest_across = if offset > radius { across * (radius / offset) } else { across };
    Some((*point, centre + axis * height.clamp(-half_length, half_length) + nearest_across))
}
