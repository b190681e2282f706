//! Where is it, what shape has it, how far apart are two of them?
//!
//! Nothing in this layer moves. Every shape is a *core* (point, line segment, triangle, box, cylinder, hull)
//! grown by a *radius*: the core is what can be answered exactly, the radius is added to the answer.
//! This is the one place where nalgebra meets the library's own vector types.
//!
//! # Worst error of each pair of kinds, in metres
//! Seen on 10,000 random pairs of each kind (bodies of 0.1 to 3 m within 10 m), rounded up; a test measures again and fails
//! when a figure is exceeded. *Bracket* is `upper − lower` of [`separation()`], for cores apart and for cores that overlap: both are
//! bounds, so it is the most that either can be wrong. Where it is 0 for overlaps, the depth is that of a finite list of axes,
//! and searches from random directions find no other. For a cylinder it is 0.5 % of its radius, here up to 1 m.
//! *Library* is the difference from the geometry library's general routine, for cores apart; with cylinders it is the library's.
//!
//! | cores | bracket apart | bracket overlapping | library |
//! | --- | --- | --- | --- |
//! | point, point | 9e-15 | 0 | 1e-14 |
//! | point, segment | 3e-14 | 0 | 1e-14 |
//! | point, triangle | 9e-13 | 0 | 8e-15 |
//! | point, box | 3e-13 | 0 | 8e-15 |
//! | point, cylinder | 2e-13 | 0 | 2e-5 |
//! | point, hull | 2e-12 | 0 | 8e-15 |
//! | segment, segment | 9e-13 | 0 | 8e-15 |
//! | segment, triangle | 2e-12 | 0 | 8e-15 |
//! | segment, box | 9e-13 | 0 | 1e-14 |
//! | segment, cylinder | 2e-9 | 5e-3 | 2e-5 |
//! | segment, hull | 2e-12 | 0 | 8e-15 |
//! | triangle, triangle | 2e-11 | 0 | 1e-14 |
//! | triangle, box | 6e-11 | 0 | 8e-15 |
//! | triangle, cylinder | 2e-9 | 5e-3 | 2e-5 |
//! | triangle, hull | 3e-12 | 0 | 1e-14 |
//! | box, box | 2e-12 | 0 | 1e-14 |
//! | box, cylinder | 2e-9 | 5e-3 | 2e-5 |
//! | box, hull | 2e-12 | 0 | 1e-14 |
//! | cylinder, cylinder | 2e-9 | 1e-2 | 2e-5 |
//! | cylinder, hull | 1e-9 | 5e-3 | 2e-5 |
//! | hull, hull | 9e-13 | 0 | 8e-15 |

#[cfg(test)]
mod accuracy;
mod hull;
mod library;
mod mesh;
mod overlap;
mod placement;
mod point_box;
mod point_cylinder;
mod quickhull;
#[cfg(test)]
mod random;
mod rays;
mod segment_box;
mod segment_segment;
mod separating_axes;
mod separation;
mod shape;
mod spread;
mod support_search;
mod world;

pub use hull::{HullError, hull};
pub use mesh::Mesh;
pub use placement::pose;
pub use rays::ray_hits;
pub use separation::{Separation, separation, support_gap};
pub use shape::{Convex, Core, Hull, PosedConvex, PosedCore};
pub use spread::Spread;
pub use world::{Aabb, World, aabb};

/// A rigid transform; named `a_from_b`, it turns coordinates in frame `b` into coordinates in frame `a`.
pub type Pose = nalgebra::Isometry3<f64>;
/// A place, in metres.
pub type Point = nalgebra::Point3<f64>;
/// A direction or displacement, in metres where it has a length.
pub type Vector = nalgebra::Vector3<f64>;
/// A direction of length one.
pub type Direction = nalgebra::Unit<Vector>;
