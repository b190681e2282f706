//! What shapes can a file describe?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A shape in a frame of its own, metres.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Shape {
    /// A box about the origin.
    #[serde(rename = "box")]
    Cuboid {
        /// Full sizes along x, y and z.
        size_m: [f64; 3],
    },
    /// A ball about the origin.
    Sphere { radius_m: f64 },
    /// A cylinder along z, about the origin.
    Cylinder { length_m: f64, radius_m: f64 },
    /// A cylinder along z with half balls beyond both ends; `length_m` is between the balls' centres.
    Capsule { length_m: f64, radius_m: f64 },
    /// The convex hull of points.
    Hull { points_m: Vec<[f64; 3]> },
    /// A node of a glTF file, with all that hangs below it, where the file's scene has it; its y-up is turned to z-up.
    Mesh {
        /// Path of the `.gltf` or `.glb` file, relative to the file that names it.
        file: String,
        /// Name of the node.
        node: String,
        /// What the triangles mean.
        #[serde(rename = "as")]
        meaning: MeshUse,
    },
}

/// What the triangles of a mesh stand for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum MeshUse {
    /// Their convex hull.
    Hull,
    /// A closed surface filled with matter: inside is a collision.
    Solid,
    /// A thin surface: inside is free.
    Shell,
}
