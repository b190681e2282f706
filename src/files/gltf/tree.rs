//! Which nodes hang below a named one, and where are they in the scene?
//!
//! # Law
//! A node's place in the scene is the product of the matrices from the root down to it, in f64; a node states a matrix,
//! or translation, rotation and scale, applied as T · R · S. Its numbers are f32, as the format's positions are.
//!
//! # Source
//! glTF 2.0 Specification, section 3.5.

use std::collections::BTreeMap;

use gltf::json::{Node, Root};
use nalgebra::{Matrix4, Quaternion, Translation3, UnitQuaternion, Vector3};

use crate::files::problem::{COMPARED_NAMES, nearest, shortened};

use super::wrong::Wrong;

/// A rotation's quaternion differs from length one by at most this.
const QUATERNION_SLACK: f64 = 1e-3;

/// The nodes of a file.
pub(super) struct Tree<'a> {
    nodes: &'a [Node],
    scene_from_node: Vec<Matrix4<f64>>,
    by_name: BTreeMap<&'a str, Vec<usize>>,
}

impl<'a> Tree<'a> {
    /// Looks at all nodes: every one has one parent at most, and none hangs on itself.
    pub fn read(root: &'a Root) -> Result<Self, Wrong> {
        let nodes = root.nodes.as_slice();
        let mut by_name = BTreeMap::<&str, Vec<usize>>::new();
        let mut has_parent = vec![false; nodes.len()];
        for (index, node) in nodes.iter().enumerate() {
            if let Some(name) = &node.name {
                by_name.entry(name).or_default().push(index);
            }
            for (place, child) in children(node).enumerate() {
                let at = || format!("nodes[{index}].children[{place}]");
                let Some(seen) = has_parent.get_mut(child) else {
                    let expected = format!("expected an index below {}", nodes.len());
                    return Err(Wrong::at(at(), format!("there is no `nodes[{child}]`"), expected));
                };
                if std::mem::replace(seen, true) {
                    let expected = "expected a node that no other has as its child";
                    return Err(Wrong::at(at(), "the node has two parents", expected));
                }
            }
        }
        Ok(Self { nodes, scene_from_node: matrices(nodes, &has_parent)?, by_name })
    }

    /// The node of a name and all below it: index, node and its matrix in the scene.
    pub fn below(&self, name: &str) -> Result<impl Iterator<Item = (usize, &'a Node, &Matrix4<f64>)>, Wrong> {
        let mut open = vec![self.named(name)?];
        Ok(std::iter::from_fn(move || {
            let index = open.pop()?;
            let node = self.nodes.get(index)?;
            let below = open.len();
            open.extend(children(node));
            open.get_mut(below..)?.reverse();
            Some((index, node, self.scene_from_node.get(index)?))
        }))
    }

    /// The index of the one node of a name.
    fn named(&self, name: &str) -> Result<usize, Wrong> {
        match self.by_name.get(name).map(Vec::as_slice).unwrap_or_default() {
            [one] => Ok(*one),
            [] => {
                let what = format!("no node has the name `{}`", shortened(name));
                let nearest = nearest(name, self.by_name.keys().copied().take(COMPARED_NAMES));
                Err(Wrong { nearest, ..Wrong::at("nodes", what, "expected the name of a node") })
            }
            several => {
                let places: Vec<String> = several.iter().take(8).map(|index| format!("nodes[{index}]")).collect();
                let what = format!("{} nodes have the name `{name}`: {}", several.len(), places.join(", "));
                Err(Wrong::at("nodes", what, "expected one node of that name"))
            }
        }
    }
}

fn children(node: &Node) -> impl Iterator<Item = usize> {
    node.children.iter().flatten().map(|child| child.value())
}

/// The matrix of each node in the scene.
fn matrices(nodes: &[Node], has_parent: &[bool]) -> Result<Vec<Matrix4<f64>>, Wrong> {
    let mut found = vec![None; nodes.len()];
    let roots = has_parent.iter().enumerate().filter(|(_, has_parent)| !**has_parent);
    let mut open: Vec<(usize, Matrix4<f64>)> = roots.map(|(index, _)| (index, Matrix4::identity())).collect();
    while let Some((index, scene_from_parent)) = open.pop() {
        let Some((node, place)) = nodes.get(index).zip(found.get_mut(index)) else { continue };
        let scene_from_node = scene_from_parent * matrix(node, index)?;
        *place = Some(scene_from_node);
        open.extend(children(node).map(|child| (child, scene_from_node)));
    }
    // Each node has one parent at most, so what no root leads to runs in a circle.
    let told = |(index, place): (usize, Option<Matrix4<f64>>)| {
        let at = || format!("nodes[{index}]");
        place.ok_or_else(|| {
            Wrong::at(at(), "the node hangs on itself, by way of its children", "expected a tree of nodes")
        })
    };
    found.into_iter().enumerate().map(told).collect()
}

/// A node's own matrix.
fn matrix(node: &Node, index: usize) -> Result<Matrix4<f64>, Wrong> {
    let wide = |numbers: [f32; 3]| Vector3::from(numbers.map(f64::from));
    if let Some(numbers) = node.matrix {
        let matrix = Matrix4::from_column_slice(&numbers.map(f64::from));
        if matrix.row(3) != Matrix4::identity().row(3) {
            let at = format!("nodes[{index}].matrix");
            return Err(Wrong::at(at, "the matrix is no placement", "expected 0, 0, 0, 1 as its last row"));
        }
        return Ok(matrix);
    }
    let turn = match node.rotation {
        None => UnitQuaternion::identity(),
        Some(rotation) => {
            let [x, y, z, w] = rotation.0.map(f64::from);
            let quaternion = Quaternion::new(w, x, y, z);
            let off = (quaternion.norm() - 1.0).abs();
            if off.is_nan() || off > QUATERNION_SLACK {
                let what = format!("the quaternion's length is {:.6}", quaternion.norm());
                return Err(Wrong::at(format!("nodes[{index}].rotation"), what, "expected x, y, z, w of length 1"));
            }
            UnitQuaternion::from_quaternion(quaternion)
        }
    };
    let moved = Translation3::from(wide(node.translation.unwrap_or_default())).to_homogeneous();
    let scaled = Matrix4::new_nonuniform_scaling(&wide(node.scale.unwrap_or([1.0; 3])));
    Ok(moved * turn.to_homogeneous() * scaled)
}
