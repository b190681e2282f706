//! Which triangles has a node of a glTF file, with all that hangs below it?
//!
//! The triangles are where the file's scene has them, with its y-up turned to z-up: `(x, y, z)` becomes `(x, −z, y)`.
//! Points in exactly the same place become one, so that edges that files split at seams are shared again; triangles
//! without surface (two corners in one place) are dropped. A matrix that mirrors turns its triangles round.
//!
//! The `gltf` crate takes the file apart and reads its numbers, and it trusts what it reads. So every index, offset,
//! count and number on the way to a triangle is looked at here before the library follows it, and a broken file is
//! answered with the path of the mistake in its JSON. Read are triangle lists, strips and fans of float positions.
//! Refused, because the surface would not be what the file shows: skins, morph targets, sparse accessors, extensions
//! that the file requires, instancing, points and lines.
//!
//! # Source
//! glTF 2.0 Specification.

mod accessor;
mod buffers;
mod container;
mod document;
mod tree;
mod wrong;

use std::collections::HashMap;

use gltf::Document;
use gltf::json::Root;
use gltf::json::mesh::{Mode, Primitive};
use gltf::json::validation::Checked;
use nalgebra::{Matrix4, Point3};

use crate::space::{Mesh, Point};

use super::numbers::LONGEST;
use super::plan_path::PlanPath;
use super::problem::{Place, Problem, Problems, Spot};
use buffers::{Buffers, ReadFile};
use container::{JSON_START, Parts};
use document::refer;
use tree::Tree;
use wrong::{At, Wrong};

/// Triangles of one node, with all that hangs below it.
const MOST_TRIANGLES: usize = 500_000;
/// Beginnings of the names of extensions that change only how a surface looks.
const LOOKS: [&str; 3] = ["KHR_materials_", "KHR_texture_", "KHR_lights_"];

/// The extension by which one node stands for many.
const INSTANCES: &str = "EXT_mesh_gpu_instancing";

/// The triangles of each named node of a file, in the order of the names; mistakes go to `problems`.
pub(super) fn read(
    path: &PlanPath,
    bytes: &[u8],
    names: &[&str],
    read_file: &mut ReadFile<'_>,
    problems: &mut Problems,
) -> Vec<Option<Mesh>> {
    let parts = match container::parts(bytes) {
        Ok(parts) => parts,
        Err(wrong) => {
            add(path, None, wrong, problems);
            return Vec::new();
        }
    };
    let mut read_all = || -> Result<Vec<Result<Mesh, Wrong>>, Wrong> {
        let document = document::parse(&parts.json)?;
        let root = document.as_json();
        look_at_extensions(root)?;
        let tree = Tree::read(root)?;
        let mut buffers = Buffers::new(root, path, parts.binary.as_deref(), read_file);
        Ok(names.iter().map(|name| mesh(&document, &tree, name, &mut buffers)).collect())
    };
    let mut tell = |wrong| add(path, Some(&parts), wrong, problems);
    match read_all() {
        Ok(meshes) => meshes.into_iter().map(|mesh| mesh.map_err(&mut tell).ok()).collect(),
        Err(wrong) => {
            tell(wrong);
            Vec::new()
        }
    }
}

/// Adds a mistake with its place: line and column in a text, the byte in a GLB.
fn add(path: &PlanPath, parts: Option<&Parts<'_>>, wrong: Wrong, problems: &mut Problems) {
    let text = parts.and_then(|parts| std::str::from_utf8(&parts.json).ok());
    let is_glb = parts.is_some_and(|parts| parts.is_glb);
    let json_start = if is_glb { JSON_START } else { 0 };
    if let Some(text) = text
        && !is_glb
    {
        problems.know(path, &text.into());
    }
    let spot = match (wrong.at, text) {
        (At::FileByte(byte), _) => Spot::Byte(byte),
        (At::JsonByte(byte), Some(_)) if !is_glb => Spot::Text(byte..byte + 1),
        (At::JsonByte(byte), _) => Spot::Byte(json_start + byte),
        (At::Path(path), text) => {
            let found = text.map(|text| wrong::bytes_at(text, &path));
            let byte = found.as_ref().map(|found| json_start + found.start).filter(|_| is_glb);
            Spot::Json { path, text: found.filter(|_| !is_glb), byte }
        }
    };
    let at = Place { file: path.to_string(), spot };
    problems.push(Problem { at, what: wrong.what, expected: wrong.expected, nearest: wrong.nearest });
}

fn look_at_extensions(root: &Root) -> Result<(), Wrong> {
    for (index, name) in root.extensions_required.iter().enumerate() {
        if !LOOKS.iter().any(|looks| name.starts_with(looks)) {
            let at = format!("extensionsRequired[{index}]");
            let expected = "expected a file without compression or other extensions that it requires";
            return Err(Wrong::at(at, format!("the extension `{name}` is not read"), expected));
        }
    }
    Ok(())
}

fn mesh(document: &Document, tree: &Tree<'_>, name: &str, buffers: &mut Buffers<'_, '_>) -> Result<Mesh, Wrong> {
    let mut welder = Welder::default();
    let mut first = None;
    for (index, node, scene_from_node) in tree.below(name)? {
        let at = format!("nodes[{index}]");
        buffers.spend(1, &at)?;
        if node.extensions.as_ref().is_some_and(|all| all.others.contains_key(INSTANCES)) {
            let at = format!("{at}.extensions.{INSTANCES}");
            return Err(Wrong::at(at, "instances are not read", "expected a node for each"));
        }
        if node.skin.is_some() {
            return Err(Wrong::at(format!("{at}.skin"), "skins are not read", "expected a node without `skin`"));
        }
        if let Some(index) = node.mesh {
            let stated = refer(document.as_json(), "meshes", index, &format!("{at}.mesh"))?;
            let primitives = document.meshes().nth(index.value()).into_iter().flat_map(|mesh| mesh.primitives());
            for (primitive, stated) in primitives.zip(&stated.primitives) {
                let at = format!("meshes[{index}].primitives[{}]", primitive.index());
                add_primitive((&primitive, stated), &at, scene_from_node, buffers, &mut welder)?;
            }
        }
        first.get_or_insert(at);
    }
    match first {
        Some(node) if welder.mesh.triangles.is_empty() => {
            Err(Wrong::at(node, format!("the node `{name}` has no triangles"), "expected a mesh on it or below it"))
        }
        _ => Ok(welder.mesh),
    }
}

fn add_primitive(
    (primitive, stated): (&gltf::Primitive<'_>, &Primitive),
    at: &str,
    scene_from_node: &Matrix4<f64>,
    buffers: &mut Buffers<'_, '_>,
    welder: &mut Welder,
) -> Result<(), Wrong> {
    if stated.targets.is_some() {
        let at = format!("{at}.targets");
        return Err(Wrong::at(at, "morph targets are not read", "expected a primitive without `targets`"));
    }
    let (positions, indices) = accessor::corners(primitive, stated, at, buffers)?;
    let triangles = triangles(stated.mode, at, &indices)?;
    if welder.mesh.triangles.len() + triangles.len() > MOST_TRIANGLES {
        let what = format!("the mesh has more than {MOST_TRIANGLES} triangles");
        return Err(Wrong::at(at, what, "expected a simpler one; fine detail does not change a clearance"));
    }
    let points: Vec<Point> =
        positions.into_iter().map(|p| z_up(scene_from_node.transform_point(&Point3::from(p)))).collect();
    if !points.iter().flat_map(|p| p.iter()).all(|x| x.abs() <= LONGEST) {
        let at = format!("{at}.attributes.POSITION");
        let expected = format!("expected at most {LONGEST} m along each axis");
        return Err(Wrong::at(at, "a point is absurdly far away", expected));
    }
    let mirrors = scene_from_node.fixed_view::<3, 3>(0, 0).determinant() < 0.0;
    for [a, b, c] in triangles {
        let corners = if mirrors { [a, c, b] } else { [a, b, c] };
        welder.add(corners.map(|k| points.get(k)));
    }
    Ok(())
}

/// Triples of indices, each seen counter-clockwise from outside.
fn triangles(mode: Checked<Mode>, at: &str, indices: &[usize]) -> Result<Vec<[usize; 3]>, Wrong> {
    match mode {
        Checked::Valid(Mode::Triangles) => {
            let (whole, rest) = indices.as_chunks::<3>();
            if !rest.is_empty() {
                let what = format!("{} indices make no whole number of triangles", indices.len());
                return Err(Wrong::at(at, what, "expected a multiple of 3"));
            }
            Ok(whole.to_vec())
        }
        Checked::Valid(Mode::TriangleStrip) => {
            let turned = |(k, &[a, b, c]): (usize, &[usize; 3])| if k % 2 == 0 { [a, b, c] } else { [b, a, c] };
            Ok(indices.array_windows::<3>().enumerate().map(turned).collect())
        }
        Checked::Valid(Mode::TriangleFan) => Ok(indices
            .split_first()
            .map(|(hub, rim)| rim.array_windows().map(|[b, c]| [*hub, *b, *c]).collect())
            .unwrap_or_default()),
        Checked::Valid(Mode::Points | Mode::Lines | Mode::LineLoop | Mode::LineStrip) | Checked::Invalid => {
            let expected = "expected 4 (triangles), 5 (strip) or 6 (fan)";
            Err(Wrong::at(format!("{at}.mode"), "this mode makes no triangles", expected))
        }
    }
}

/// From glTF's axes (y up, z towards the viewer) to ours (z up).
fn z_up(p: Point3<f64>) -> Point {
    Point::new(p.x, -p.z, p.y)
}

/// Gathers triangles over points of which no two are in the same place.
#[derive(Default)]
struct Welder {
    mesh: Mesh,
    index: HashMap<[u64; 3], usize>,
}

impl Welder {
    fn add(&mut self, corners: [Option<&Point>; 3]) {
        let [Some(a), Some(b), Some(c)] = corners else { return };
        let [a, b, c] = [a, b, c].map(|point| {
            // Adding zero makes −0 and 0 the same bits.
            let bits = [point.x, point.y, point.z].map(|x| (x + 0.0).to_bits());
            *self.index.entry(bits).or_insert_with(|| {
                self.mesh.vertices.push(*point);
                self.mesh.vertices.len() - 1
            })
        });
        if a != b && b != c && c != a {
            self.mesh.triangles.push([a, b, c]);
        }
    }
}
