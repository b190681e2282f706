//! What is the arm, from the TOML or URDF file that the plan names?

use crate::model::{Arm, ArmShapes};

use super::project::Reader;
use super::toml_file::{Node, TomlFile};
use super::{consistency, meshes, names, pieces, urdf};

/// Reads the arm of a plan; its mistakes go to the reader.
pub(super) fn read(reader: &mut Reader<'_>, plan: Node<'_>) -> Option<Arm> {
    let path = reader.path(plan.key("arm"))?;
    if path.as_str().ends_with(".urdf") || path.as_str().ends_with(".xml") {
        return read_urdf(reader, plan);
    }
    for key in ["arm_links", "arm_shapes"] {
        let value = plan.key(key);
        if value.exists() {
            let what = format!("`{key}` without a URDF");
            reader.problems.add(value.key_place(), what, "expected it only where `arm` names a `.urdf` file");
        }
    }
    let source = reader.named(plan.key("arm"))?;
    let file = reader.parsed(Some(&source))?;
    let arm = reader.checked::<Arm>(&file, &pieces::ARM);
    names::check_links(&file, &mut reader.problems);
    meshes::gather(&file, reader);
    let mut arm = arm?;
    consistency::check_arm(&arm, file.node(), &mut reader.problems);
    meshes::rebase_links(&mut arm.base, &file.path);
    arm.joint.iter_mut().for_each(|joint| meshes::rebase_links(&mut joint.shape, &file.path));
    Some(arm)
}

fn read_urdf(reader: &mut Reader<'_>, plan: Node<'_>) -> Option<Arm> {
    let links = plan.key("arm_links");
    let names: Vec<Node<'_>> = links.items().collect();
    let (Some(base), Some(tip)) = (names.first().and_then(|n| n.text()), names.get(1).and_then(|n| n.text())) else {
        if !links.exists() {
            let expected = "expected `arm_links = [\"base link\", \"tip link\"]` beside it";
            reader.problems.add(plan.key("arm").place(), "the arm is a URDF, and no links are named", expected);
        }
        return None;
    };
    let source = reader.named(plan.key("arm"));
    let shapes_source = reader.named(plan.key("arm_shapes"));
    let shapes_file = reader.parsed(shapes_source.as_ref());
    let shapes = match &shapes_file {
        Some(file) => read_shapes(reader, file)?,
        None if plan.key("arm_shapes").exists() => return None,
        None => ArmShapes::default(),
    };
    let (path, text) = source?;
    let named_links = shapes_file.iter().flat_map(|file| file.node().key("link").items());
    let wanted = urdf::Wanted {
        links: [(base, names.first()?.place()), (tip, names.get(1)?.place())],
        shapes: &shapes,
        shapes_at: named_links.map(|link| link.key("name").place()).collect(),
    };
    let (arm, notes) = urdf::read(&path, &text, &wanted, &mut reader.problems)?;
    reader.notes.extend(notes);
    Some(arm)
}

fn read_shapes(reader: &mut Reader<'_>, file: &TomlFile<'_>) -> Option<ArmShapes> {
    let shapes = reader.checked::<ArmShapes>(file, &pieces::ARM_SHAPES);
    names::check_links(file, &mut reader.problems);
    meshes::gather(file, reader);
    let mut shapes = shapes?;
    shapes.link.iter_mut().for_each(|link| meshes::rebase_links(&mut link.shape, &file.path));
    Some(shapes)
}
