//! Which triangles has a node of a glTF file, with all that hangs below it?
//!
//! The triangles are where the file's scene has them, with its y-up turned to z-up: `(x, y, z)` becomes `(x, −z, y)`.
//! Points in exactly the same place become one, so that edges that files split at seams are shared again; triangles
//! without surface (two corners in one place) are dropped. A matrix that mirrors turns its triangles round.
//!
//! Every index, offset, count and number is looked at before it is used, so that a broken file is answered with the
//! path of the mistake in its JSON. Read are triangle lists, strips and fans of float positions.
//! Refused, because the surface would not be what the file shows: skins, morph targets, sparse accessors, extensions
//! that the file requires, instancing, points and lines.
//!
//! # Source
//! glTF 2.0 Specification.

mod accessor;
mod buffers;
mod container;
mod json;
mod tree;

use std::collections::HashMap;

use nalgebra::{Matrix4, Point3};

use crate::space::{Mesh, Point};

use super::numbers::LONGEST;
use super::plan_path::PlanPath;
use super::problem::{Place, Problem, Problems, Spot};
use buffers::{Buffers, ReadFile};
use json::{At, Json, Wrong};
use tree::Tree;

/// Triangles of one node, with all that hangs below it.
const MOST_TRIANGLES: usize = 500_000;
/// Beginnings of the names of extensions that change only how a surface looks.
const LOOKS: [&str; 3] = ["KHR_materials_", "KHR_texture_", "KHR_lights_"];

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
            add(path, bytes, &(0..bytes.len()), true, wrong, problems);
            return Vec::new();
        }
    };
    let binary = parts.binary.clone().and_then(|range| bytes.get(range));
    let text = bytes.get(parts.json.clone()).unwrap_or_default();
    let mut read_all = || -> Result<Vec<Result<Mesh, Wrong>>, Wrong> {
        let document = json::parse(text)?;
        let root = Json::root(&document);
        look_at_extensions(&root)?;
        let mut buffers = Buffers::new(root.clone(), path, binary, read_file);
        let tree = Tree::read(&root)?;
        Ok(names.iter().map(|name| mesh(&tree, name, &mut buffers)).collect())
    };
    match read_all() {
        Ok(meshes) => {
            let mut keep = |mesh: Result<Mesh, Wrong>| {
                mesh.map_err(|wrong| add(path, bytes, &parts.json, parts.is_glb, wrong, problems)).ok()
            };
            meshes.into_iter().map(&mut keep).collect()
        }
        Err(wrong) => {
            add(path, bytes, &parts.json, parts.is_glb, wrong, problems);
            Vec::new()
        }
    }
}

/// Adds a mistake with its place: line and column in a text, the byte in a GLB.
fn add(
    path: &PlanPath,
    bytes: &[u8],
    json: &std::ops::Range<usize>,
    is_glb: bool,
    wrong: Wrong,
    problems: &mut Problems,
) {
    let text = bytes.get(json.clone()).and_then(|bytes| std::str::from_utf8(bytes).ok());
    if let Some(text) = text
        && !is_glb
    {
        problems.know(path, &text.into());
    }
    let spot = match (wrong.at, text) {
        (At::FileByte(byte), _) => Spot::Byte(byte),
        (At::JsonByte(byte), Some(_)) if !is_glb => Spot::Text(byte..byte + 1),
        (At::JsonByte(byte), _) => Spot::Byte(json.start + byte),
        (At::Path(path), text) => {
            let found = text.map(|text| json::bytes_at(text, &path));
            let byte = found.as_ref().map(|found| json.start + found.start).filter(|_| is_glb);
            Spot::Json { path, text: found.filter(|_| !is_glb), byte }
        }
    };
    let at = Place { file: path.to_string(), spot };
    problems.push(Problem { at, what: wrong.what, expected: wrong.expected, nearest: wrong.nearest });
}

fn look_at_extensions(root: &Json<'_>) -> Result<(), Wrong> {
    for extension in root.list("extensionsRequired")? {
        let name = extension.text()?;
        if !LOOKS.iter().any(|looks| name.starts_with(looks)) {
            let expected = "expected a file without compression or other extensions that it requires";
            return Err(extension.wrong(format!("the extension `{name}` is not read"), expected));
        }
    }
    Ok(())
}

fn mesh(tree: &Tree<'_>, name: &str, buffers: &mut Buffers<'_, '_>) -> Result<Mesh, Wrong> {
    let mut welder = Welder::default();
    let mut first = None;
    for (node, scene_from_node) in tree.below(name)? {
        buffers.spend(1, node)?;
        first.get_or_insert(node);
        if let Some(instances) = node.get("extensions").and_then(|e| e.get("EXT_mesh_gpu_instancing")) {
            return Err(instances.wrong("instances are not read", "expected a node for each"));
        }
        if let Some(skin) = node.get("skin") {
            return Err(skin.wrong("skins are not read", "expected a node without `skin`"));
        }
        let Some(index) = node.get("mesh") else { continue };
        let mesh = buffers.refer("meshes", &index)?;
        for primitive in mesh.list("primitives")? {
            add_primitive(&primitive, scene_from_node, buffers, &mut welder)?;
        }
    }
    match first {
        Some(node) if welder.mesh.triangles.is_empty() => {
            Err(node.wrong(format!("the node `{name}` has no triangles"), "expected a mesh on it or below it"))
        }
        _ => Ok(welder.mesh),
    }
}

fn add_primitive(
    primitive: &Json<'_>,
    scene_from_node: &Matrix4<f64>,
    buffers: &mut Buffers<'_, '_>,
    welder: &mut Welder,
) -> Result<(), Wrong> {
    if let Some(targets) = primitive.get("targets") {
        return Err(targets.wrong("morph targets are not read", "expected a primitive without `targets`"));
    }
    let position = primitive.needed("attributes")?.needed("POSITION")?;
    let accessor = buffers.refer("accessors", &position)?;
    let positions = accessor::positions(&accessor, buffers)?;
    let indices = match primitive.get("indices") {
        None => (0..positions.len()).collect(),
        Some(index) => {
            let accessor = buffers.refer("accessors", &index)?;
            accessor::indices(&accessor, positions.len(), buffers)?
        }
    };
    let triangles = triangles(primitive, &indices)?;
    if welder.mesh.triangles.len() + triangles.len() > MOST_TRIANGLES {
        let what = format!("the mesh has more than {MOST_TRIANGLES} triangles");
        return Err(primitive.wrong(what, "expected a simpler one; fine detail does not change a clearance"));
    }
    let points: Vec<Point> =
        positions.into_iter().map(|p| z_up(scene_from_node.transform_point(&Point3::from(p)))).collect();
    if !points.iter().flat_map(|p| p.iter()).all(|x| x.abs() <= LONGEST) {
        return Err(
            accessor.wrong("a point is absurdly far away", format!("expected at most {LONGEST} m along each axis"))
        );
    }
    let mirrors = scene_from_node.fixed_view::<3, 3>(0, 0).determinant() < 0.0;
    for [a, b, c] in triangles {
        let corners = if mirrors { [a, c, b] } else { [a, b, c] };
        welder.add(corners.map(|k| points.get(k)));
    }
    Ok(())
}

/// Triples of indices, each seen counter-clockwise from outside.
fn triangles(primitive: &Json<'_>, indices: &[usize]) -> Result<Vec<[usize; 3]>, Wrong> {
    const LIST: usize = 4;
    const STRIP: usize = 5;
    const FAN: usize = 6;
    let triples = || indices.array_windows::<3>();
    match primitive.whole_or("mode", LIST)? {
        LIST => {
            let (whole, rest) = indices.as_chunks::<3>();
            if !rest.is_empty() {
                let what = format!("{} indices make no whole number of triangles", indices.len());
                return Err(primitive.wrong(what, "expected a multiple of 3"));
            }
            Ok(whole.to_vec())
        }
        STRIP => {
            let turned = |(k, &[a, b, c]): (usize, &[usize; 3])| if k % 2 == 0 { [a, b, c] } else { [b, a, c] };
            Ok(triples().enumerate().map(turned).collect())
        }
        FAN => Ok(indices
            .split_first()
            .map(|(hub, rim)| rim.array_windows().map(|[b, c]| [*hub, *b, *c]).collect())
            .unwrap_or_default()),
        mode => {
            let at = primitive.get("mode").unwrap_or_else(|| primitive.clone());
            Err(at.wrong(format!("mode {mode} makes no triangles"), "expected 4 (triangles), 5 (strip) or 6 (fan)"))
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
