//! Which nodes hang below a named one, and where are they in the scene?
//!
//! # Law
//! A node's place in the scene is the product of the matrices from the root down to it, in f64; a node states a matrix,
//! or translation, rotation and scale, applied as T · R · S.
//!
//! # Source
//! glTF 2.0 Specification, section 3.5.

use std::collections::BTreeMap;

use nalgebra::{Matrix4, Quaternion, Translation3, UnitQuaternion, Vector3};

use crate::files::problem::{COMPARED_NAMES, nearest, shortened};

use super::json::{Json, Wrong};

/// A rotation's quaternion differs from length one by at most this.
const QUATERNION_SLACK: f64 = 1e-3;

/// The nodes of a file.
pub(super) struct Tree<'a> {
    root: Json<'a>,
    nodes: Vec<Json<'a>>,
    children: Vec<Vec<usize>>,
    scene_from_node: Vec<Matrix4<f64>>,
    by_name: BTreeMap<&'a str, Vec<usize>>,
}

impl<'a> Tree<'a> {
    /// Reads all nodes: every one has one parent at most, and none hangs on itself.
    pub fn read(root: &Json<'a>) -> Result<Self, Wrong> {
        let nodes = root.list("nodes")?;
        let mut by_name = BTreeMap::<&str, Vec<usize>>::new();
        let mut children = Vec::with_capacity(nodes.len());
        let mut has_parent = vec![false; nodes.len()];
        for (index, node) in nodes.iter().enumerate() {
            if let Some(name) = node.get("name") {
                by_name.entry(name.text()?).or_default().push(index);
            }
            let mut own = Vec::new();
            for child in node.list("children")? {
                let number = child.whole()?;
                let Some(seen) = has_parent.get_mut(number) else {
                    let expected = format!("expected an index below {}", nodes.len());
                    return Err(child.wrong(format!("there is no `nodes[{number}]`"), expected));
                };
                if std::mem::replace(seen, true) {
                    let expected = "expected a node that no other has as its child";
                    return Err(child.wrong("the node has two parents", expected));
                }
                own.push(number);
            }
            children.push(own);
        }
        let scene_from_node = matrices(&nodes, &children, &has_parent)?;
        Ok(Self { root: root.clone(), nodes, children, scene_from_node, by_name })
    }

    /// The node of a name and all below it, each with its matrix in the scene.
    pub fn below(&self, name: &str) -> Result<impl Iterator<Item = (&Json<'a>, &Matrix4<f64>)>, Wrong> {
        let mut open = vec![self.named(name)?];
        let indices = std::iter::from_fn(move || {
            let index = open.pop()?;
            open.extend(self.children.get(index).into_iter().flatten().rev());
            Some(index)
        });
        Ok(indices.filter_map(|index| self.nodes.get(index).zip(self.scene_from_node.get(index))))
    }

    /// The index of the one node of a name.
    fn named(&self, name: &str) -> Result<usize, Wrong> {
        let whole = self.root.get("nodes").unwrap_or_else(|| self.root.clone());
        match self.by_name.get(name).map(Vec::as_slice).unwrap_or_default() {
            [one] => Ok(*one),
            [] => Err(Wrong {
                nearest: nearest(name, self.by_name.keys().copied().take(COMPARED_NAMES)),
                ..whole.wrong(format!("no node has the name `{}`", shortened(name)), "expected the name of a node")
            }),
            several => {
                let places: Vec<String> = several.iter().take(8).map(|index| format!("nodes[{index}]")).collect();
                let what = format!("{} nodes have the name `{name}`: {}", several.len(), places.join(", "));
                Err(whole.wrong(what, "expected one node of that name"))
            }
        }
    }
}

/// The matrix of each node in the scene.
fn matrices(nodes: &[Json<'_>], children: &[Vec<usize>], has_parent: &[bool]) -> Result<Vec<Matrix4<f64>>, Wrong> {
    let mut found = vec![None; nodes.len()];
    let roots = has_parent.iter().enumerate().filter(|(_, has_parent)| !**has_parent);
    let mut open: Vec<(usize, Matrix4<f64>)> = roots.map(|(index, _)| (index, Matrix4::identity())).collect();
    while let Some((index, scene_from_parent)) = open.pop() {
        let Some((node, place)) = nodes.get(index).zip(found.get_mut(index)) else { continue };
        let scene_from_node = scene_from_parent * matrix(node)?;
        *place = Some(scene_from_node);
        open.extend(children.get(index).into_iter().flatten().map(|child| (*child, scene_from_node)));
    }
    // Each node has one parent at most, so what no root leads to runs in a circle.
    let told = |(place, node): (Option<Matrix4<f64>>, &Json<'_>)| {
        place.ok_or_else(|| node.wrong("the node hangs on itself, by way of its children", "expected a tree of nodes"))
    };
    found.into_iter().zip(nodes).map(told).collect()
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
