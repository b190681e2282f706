//! Which nodes hang below a named one, and where are they in the scene?
//!
//! # Law
//! A node's place in the scene is the product of the matrices from the root down to it, in f64; a node states a matrix,
//! or translation, rotation and scale, applied as T · R · S.
//!
//! # Source
//! glTF 2.0 Specification, section 3.5.

use nalgebra::{Matrix4, Quaternion, Translation3, UnitQuaternion, Vector3};

use crate::files::problem::nearest;

use super::buffers::refer;
use super::json::{Json, Wrong};

/// A rotation's quaternion differs from length one by at most this.
const QUATERNION_SLACK: f64 = 1e-3;

/// The node of a name, and all below it, each with its matrix in the scene.
pub(super) fn below<'a>(root: &Json<'a>, name: &str) -> Result<Vec<(Json<'a>, Matrix4<f64>)>, Wrong> {
    let nodes = root.list("nodes")?;
    let parents = parents(root, &nodes)?;
    let start = named(root, &nodes, name)?;
    let mut scene_from_start = Matrix4::identity();
    let mut above = parents.get(start).copied().flatten();
    while let Some(parent) = above {
        let Some(node) = nodes.get(parent) else { break };
        scene_from_start = matrix(node)? * scene_from_start;
        above = parents.get(parent).copied().flatten();
    }
    let mut found = Vec::new();
    let mut open = vec![(start, scene_from_start)];
    while let Some((index, scene_from_parent)) = open.pop() {
        let Some(node) = nodes.get(index) else { continue };
        let scene_from_node = scene_from_parent * matrix(node)?;
        let mut children = node.list("children")?;
        children.reverse();
        for child in children {
            open.push((child.whole()?, scene_from_node));
        }
        found.push((node.clone(), scene_from_node));
    }
    Ok(found)
}

/// The index of the one node of a name.
fn named(root: &Json<'_>, nodes: &[Json<'_>], name: &str) -> Result<usize, Wrong> {
    let mut found = Vec::new();
    let mut names = Vec::new();
    for (index, node) in nodes.iter().enumerate() {
        let Some(own) = node.get("name") else { continue };
        let own = own.text()?;
        names.push(own);
        if own == name {
            found.push(index);
        }
    }
    let whole = root.get("nodes").unwrap_or_else(|| root.clone());
    match found.as_slice() {
        [one] => Ok(*one),
        [] => Err(Wrong {
            nearest: nearest(name, names.iter().copied()),
            ..whole.wrong(format!("no node has the name `{name}`"), "expected the name of a node")
        }),
        several => {
            let places: Vec<String> = several.iter().take(8).map(|index| format!("nodes[{index}]")).collect();
            let what = format!("{} nodes have the name `{name}`: {}", several.len(), places.join(", "));
            Err(whole.wrong(what, "expected one node of that name"))
        }
    }
}

/// The parent of each node; every node has one at most, and none hangs on itself.
fn parents(root: &Json<'_>, nodes: &[Json<'_>]) -> Result<Vec<Option<usize>>, Wrong> {
    let mut parents = vec![None; nodes.len()];
    for (index, node) in nodes.iter().enumerate() {
        for child in node.list("children")? {
            refer_cheaply(root, nodes.len(), &child)?;
            if let Some(parent) = parents.get_mut(child.whole()?)
                && parent.replace(index).is_some()
            {
                return Err(child.wrong("the node has two parents", "expected a node that no other has as its child"));
            }
        }
    }
    // Each node has one parent at most, so what no root leads to runs in a circle.
    let mut reached = vec![false; nodes.len()];
    let mut open: Vec<usize> = (0..nodes.len()).filter(|index| parents.get(*index) == Some(&None)).collect();
    while let Some(index) = open.pop() {
        if let Some(seen) = reached.get_mut(index) {
            *seen = true;
        }
        if let Some(node) = nodes.get(index) {
            for child in node.list("children")? {
                open.push(child.whole()?);
            }
        }
    }
    let circle = reached.iter().position(|seen| !seen).and_then(|index| nodes.get(index));
    match circle {
        Some(node) => Err(node.wrong("the node hangs on itself, by way of its children", "expected a tree of nodes")),
        None => Ok(parents),
    }
}

/// Refuses an index of a node that is not there.
fn refer_cheaply(root: &Json<'_>, count: usize, index: &Json<'_>) -> Result<(), Wrong> {
    if index.whole()? >= count { refer(root, "nodes", index).map(drop) } else { Ok(()) }
}

/// A node's own matrix.
fn matrix(node: &Json<'_>) -> Result<Matrix4<f64>, Wrong> {
    let (translation, rotation) = (node.numbers::<3>("translation")?, node.numbers::<4>("rotation")?);
    let scale = node.numbers::<3>("scale")?;
    if let Some(numbers) = node.numbers::<16>("matrix")? {
        let matrix = Matrix4::from_column_slice(&numbers);
        if matrix.row(3) != Matrix4::identity().row(3) {
            let at = node.get("matrix").unwrap_or_else(|| node.clone());
            return Err(at.wrong("the matrix is no placement", "expected 0, 0, 0, 1 as its last row"));
        }
        return Ok(matrix);
    }
    let turn = match rotation {
        None => UnitQuaternion::identity(),
        Some([x, y, z, w]) => {
            let quaternion = Quaternion::new(w, x, y, z);
            if (quaternion.norm() - 1.0).abs() > QUATERNION_SLACK {
                let at = node.get("rotation").unwrap_or_else(|| node.clone());
                let what = format!("the quaternion's length is {:.6}", quaternion.norm());
                return Err(at.wrong(what, "expected x, y, z, w of length 1"));
            }
            UnitQuaternion::from_quaternion(quaternion)
        }
    };
    let moved = Translation3::from(Vector3::from(translation.unwrap_or_default())).to_homogeneous();
    let scaled = Matrix4::new_nonuniform_scaling(&Vector3::from(scale.unwrap_or([1.0; 3])));
    Ok(moved * turn.to_homogeneous() * scaled)
}
