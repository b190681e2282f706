//! What is the surface of a mesh, and what does it enclose?

use super::Point;

/// Triangles over vertices, metres.
#[derive(Clone, Debug, Default)]
pub struct Mesh {
    pub vertices: Vec<Point>,
    pub triangles: Vec<[usize; 3]>,
}
