//! Which meshes and hulls do the shapes of a plan name, and are they what the plan says they are?
//!
//! Shapes are gathered from each file as it is read; meshes are read when all files are, each glTF file once.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::model::{LinkShape, Shape};
use crate::space::{Mesh, Point, hull};

use super::gltf;
use super::plan_path::PlanPath;
use super::problem::Place;
use super::project::Reader;
use super::toml_file::{Node, TomlFile};

/// A glTF file or one of its buffers is at most so large, in bytes.
const GLTF_CAP: u64 = 64 << 20;
/// Triangles of all meshes of a plan.
const MOST_TRIANGLES: usize = 2_000_000;
/// Points of one hull.
const MOST_POINTS: usize = 10_000;
/// Squares of the numbers of points of all hulls, added: the time to find them grows so.
const MOST_HULL_WORK: usize = 10 * MOST_POINTS * MOST_POINTS;

/// Meshes by file (as seen from the plan's folder) and node, where the glTF's scene has them, turned to z-up.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Meshes(BTreeMap<(String, String), Arc<Mesh>>);

impl Meshes {
    /// The mesh of a node of a file.
    pub fn get(&self, file: &str, node: &str) -> Option<&Arc<Mesh>> {
        self.0.get(&(file.to_owned(), node.to_owned()))
    }
}

/// A mesh that a shape names.
#[derive(Clone, Debug)]
pub(super) struct Wanted {
    file: PlanPath,
    file_at: Place,
    node: String,
    node_at: Place,
    meaning: String,
}

/// Gathers the meshes that a file's shapes name, and looks at its hulls.
pub(super) fn gather(file: &TomlFile<'_>, reader: &mut Reader<'_>) {
    look(file.node(), reader);
}

fn look(node: Node<'_>, reader: &mut Reader<'_>) {
    for (key, value) in node.entries() {
        match key {
            "mesh" => want(value, reader),
            "points_m" => look_at_points(value, reader),
            _ => look(value, reader),
        }
    }
    for item in node.items() {
        look(item, reader);
    }
}

fn want(mesh: Node<'_>, reader: &mut Reader<'_>) {
    let (file, node, meaning) = (mesh.key("file"), mesh.key("node"), mesh.key("as"));
    let (Some(name), Some(meaning)) = (node.text(), meaning.text()) else { return };
    if let Some(path) = reader.path(file) {
        reader.meshes.push(Wanted {
            file: path,
            file_at: file.place(),
            node: name.to_owned(),
            node_at: node.place(),
            meaning: meaning.to_owned(),
        });
    }
}

fn look_at_points(list: Node<'_>, reader: &mut Reader<'_>) {
    let points: Option<Vec<Point>> =
        list.items().map(|point| Some(Point::from(<[f64; 3]>::try_from(point.numbers()?).ok()?))).collect();
    if let Some(points) = points {
        look_at_hull("the hull", &points, &list.place(), reader);
    }
}

/// Looks whether points span a solid.
fn look_at_hull(name: &str, points: &[Point], at: &Place, reader: &mut Reader<'_>) {
    let count = points.len();
    reader.hull_work = reader.hull_work.saturating_add(count.saturating_mul(count));
    if count > MOST_POINTS {
        let what = format!("{name} has {count} points");
        reader.problems.add(at.clone(), what, format!("expected at most {MOST_POINTS}"));
    } else if reader.hull_work > MOST_HULL_WORK {
        reader.problems.add(at.clone(), "the hulls up to here have too many points", "expected fewer, or simpler ones");
    } else if let Err(why) = hull(points) {
        reader.problems.add(at.clone(), format!("{name}: {why}"), "expected points of a solid");
    }
}

/// Names the mesh files of shapes as seen from the plan's folder; `file` is the file that names them.
pub(super) fn rebase_links(shapes: &mut [LinkShape], file: &PlanPath) {
    shapes.iter_mut().for_each(|shape| rebase(&mut shape.shape, file));
}

/// Names the mesh file of a shape as seen from the plan's folder; `file` is the file that names it.
pub(super) fn rebase(shape: &mut Shape, file: &PlanPath) {
    if let Shape::Mesh { file: name, .. } = shape
        && let Ok(path) = file.beside(name)
    {
        *name = path.to_string();
    }
}

/// Reads all meshes that were gathered.
pub(super) fn read(reader: &mut Reader<'_>) -> Meshes {
    let mut by_file: BTreeMap<PlanPath, Vec<Wanted>> = BTreeMap::new();
    for wanted in std::mem::take(&mut reader.meshes) {
        by_file.entry(wanted.file.clone()).or_default().push(wanted);
    }
    let mut meshes = Meshes::default();
    for (path, wanted) in by_file {
        let triangles: usize = meshes.0.values().map(|mesh| mesh.triangles.len()).sum();
        if let Some(first) = wanted.first()
            && triangles > MOST_TRIANGLES
        {
            let expected = format!("expected at most {MOST_TRIANGLES}");
            reader.problems.add(first.file_at.clone(), "the meshes have too many triangles together", expected);
            break;
        }
        read_file(&path, &wanted, reader, &mut meshes);
    }
    meshes
}

/// Reads one glTF file.
fn read_file(path: &PlanPath, wanted: &[Wanted], reader: &mut Reader<'_>, meshes: &mut Meshes) {
    let Some(first) = wanted.first() else { return };
    let Some(bytes) = reader.bytes(path, GLTF_CAP, &first.file_at) else { return };
    let mut names: Vec<&str> = wanted.iter().map(|wanted| wanted.node.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    let mut problems = std::mem::take(&mut reader.problems);
    let mut read_buffer = |path: &PlanPath| reader.fetch(path, GLTF_CAP).map_err(|why| why.words(path));
    let read = gltf::read(path, &bytes, &names, &mut read_buffer, &mut problems);
    reader.problems = problems;
    for (name, mesh) in names.iter().zip(read) {
        let Some(mesh) = mesh else { continue };
        for wanted in wanted.iter().filter(|wanted| wanted.node == *name) {
            look_at_meaning(&mesh, wanted, reader);
        }
        meshes.0.insert((path.to_string(), (*name).to_owned()), Arc::new(mesh));
    }
}

/// Looks whether a mesh can be what the plan says that it is.
fn look_at_meaning(mesh: &Mesh, wanted: &Wanted, reader: &mut Reader<'_>) {
    match wanted.meaning.as_str() {
        "hull" => look_at_hull(&format!("the hull of `{}`", wanted.node), &mesh.vertices, &wanted.node_at, reader),
        "solid" => {
            let open = mesh.open_edges();
            if open > 0 {
                let what = format!("`{}` has {open} open edge{}", wanted.node, if open == 1 { "" } else { "s" });
                reader.problems.add(wanted.node_at.clone(), what, "expected a closed surface, or `as = \"shell\"`");
            } else if !mesh.is_oriented() {
                let what = format!("some triangles of `{}` are turned the wrong way", wanted.node);
                let expected = "expected corners in counter-clockwise order, seen from outside";
                reader.problems.add(wanted.node_at.clone(), what, expected);
            }
        }
        _ => {}
    }
}
