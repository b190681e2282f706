//! What shapes has a link of a URDF, in the link's frame?

use roxmltree::Node;

use crate::model::Shape;
use crate::space::{Pose, Vector};

use super::xml::{Attributes, tag_place};

/// A shape and where it is in its link.
pub(super) type Placed = (Pose, Shape);

/// The primitive shapes of a link, or the element of a mesh where it has one.
///
/// What collides is what `<collision>` says; where a link has none, what `<visual>` shows.
pub(super) fn of_link<'a, 't>(link: Node<'a, 't>, xml: &mut Attributes<'_>) -> Result<Vec<Placed>, Node<'a, 't>> {
    let elements =
        |name: &'static str| link.children().filter(move |child| child.is_element() && child.tag_name().name() == name);
    let collides = elements("collision").next().is_some();
    let mut shapes = Vec::new();
    for element in elements(if collides { "collision" } else { "visual" }) {
        let Some(geometry) = Attributes::child(element, "geometry") else {
            let what = format!("`<{}>` has no `<geometry>`", element.tag_name().name());
            xml.problems.add(tag_place(xml.path, element), what, "expected one");
            continue;
        };
        let Some(shape) = geometry.children().find(Node::is_element) else {
            xml.problems.add(tag_place(xml.path, geometry), "`<geometry>` is empty", "expected a shape in it");
            continue;
        };
        if shape.tag_name().name() == "mesh" {
            return Err(shape);
        }
        if let (Some(pose), Some(shape)) = (origin(element, xml), primitive(shape, xml)) {
            shapes.push((pose, shape));
        }
    }
    Ok(shapes)
}

fn primitive(node: Node<'_, '_>, xml: &mut Attributes<'_>) -> Option<Shape> {
    match node.tag_name().name() {
        "box" => {
            let attribute = xml.needed(node, "size")?;
            let size_m: [f64; 3] = xml.numbers(&attribute)?;
            if size_m.iter().any(|size| *size <= 0.0) {
                xml.problems.add(xml.place(&attribute), "the box has a size of 0 or less", "expected sizes above 0");
                return None;
            }
            Some(Shape::Cuboid { size_m })
        }
        "cylinder" => {
            let (length_m, radius_m) = (xml.size(node, "length"), xml.size(node, "radius"));
            Some(Shape::Cylinder { length_m: length_m?, radius_m: radius_m? })
        }
        "sphere" => Some(Shape::Sphere { radius_m: xml.size(node, "radius")? }),
        other => {
            xml.problems.misspelt(tag_place(xml.path, node), other, "a shape", ["box", "cylinder", "sphere", "mesh"]);
            None
        }
    }
}

/// The pose that an element's `<origin>` states.
pub(super) fn origin(element: Node<'_, '_>, xml: &mut Attributes<'_>) -> Option<Pose> {
    let Some(node) = Attributes::child(element, "origin") else { return Some(Pose::identity()) };
    if let Some(attribute) = node.attribute_node("quat_xyzw") {
        xml.problems.add(xml.place(&attribute), "`quat_xyzw` is not read", "expected `rpy`");
        return None;
    }
    let (xyz, rpy) = (xml.vector(node, "xyz"), xml.vector(node, "rpy"));
    let [roll, pitch, yaw] = rpy?;
    let turn = nalgebra::UnitQuaternion::from_euler_angles(roll, pitch, yaw);
    Some(Pose::from_parts(Vector::from(xyz?).into(), turn))
}
