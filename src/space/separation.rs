//! How far apart are two convex shapes, or how deep in one another, and along which direction?

use super::{Direction, Point, PosedConvex, Vector};

/// The signed distance of two convex shapes: positive apart, negative overlapping (depth).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Separation {
    /// Never above the true signed distance: the support-plane value for `normal`, in metres.
    pub lower: f64,
    /// Never below the true signed distance, in metres.
    pub upper: f64,
    /// Unit vector from the first shape towards the second.
    pub normal: Direction,
    /// Nearest point of the first shape (on its surface), in the structure's frame.
    pub point_a: Point,
    /// Nearest point of the second shape (on its surface), in the structure's frame.
    pub point_b: Point,
}

/// The signed distance of two posed convex shapes.
pub fn separation(a: &PosedConvex, b: &PosedConvex) -> Separation {
    let _ = (a, b, Vector::zeros());
    unimplemented!()
}
