//! Where is it, what shape has it, how far apart are two of them?
//!
//! Nothing in this layer moves. Every shape is a *core* (point, line segment, triangle, box, cylinder, hull)
//! grown by a *radius*: the core is what the library answers exactly, the radius is added by us.
//! This is the one place where nalgebra meets the library's own vector types.

mod mesh;
mod separation;
mod shape;

pub use mesh::Mesh;
pub use separation::{Separation, separation};
pub use shape::{Convex, Core, Hull, PosedConvex, PosedCore};

/// A rigid transform; named `a_from_b`, it turns coordinates in frame `b` into coordinates in frame `a`.
pub type Pose = nalgebra::Isometry3<f64>;
/// A place, in metres.
pub type Point = nalgebra::Point3<f64>;
/// A direction or displacement, in metres where it has a length.
pub type Vector = nalgebra::Vector3<f64>;
/// A direction of length one.
pub type Direction = nalgebra::Unit<Vector>;
