//! Which bodies are there when the plan starts, and how far does each stretch?

use crate::files::Meshes;
use crate::mechanism::Body;
use crate::model::{BodyClass, Project};
use crate::space::{Point, Pose, aabb};
use crate::state::{Assembly, Event, Scene, walk};

/// A body, and the box along the structure's axes that holds it just so, tolerances left out.
#[derive(Clone, Debug, PartialEq)]
pub struct BodyBox {
    pub name: String,
    pub class: BodyClass,
    /// Corner of the least coordinates, m.
    pub lowest: Point,
    /// Corner of the greatest coordinates, m.
    pub highest: Point,
}

/// Every body at the moment before the first motion or stay; of a plan without one, what is fixed.
pub fn bodies_at_start(project: &Project, meshes: &Meshes) -> Vec<BodyBox> {
    let scene = Scene::new(project, meshes);
    let walk = walk(&scene);
    let first = walk.events.iter().find_map(|event| match event {
        Event::Move(moved) => Some(&moved.moment),
        Event::Stay(stay) => Some(&stay.moment),
        Event::Stance(_) | Event::NotChecked { .. } => None,
    });
    match first {
        Some(moment) => {
            let Assembly { mechanism, posed, .. } = Assembly::new(&scene, moment);
            mechanism.bodies().iter().map(|body| boxed(body, posed.link(body.link))).collect()
        }
        None => scene.fixed.iter().map(|body| boxed(body, &Pose::identity())).collect(),
    }
}

fn boxed(body: &Body, structure_from_link: &Pose) -> BodyBox {
    let parts = body.parts.iter().map(|part| aabb(&part.posed(structure_from_link)));
    let whole = parts.reduce(|a, b| a.merged(&b)).expect("a body has a shape");
    BodyBox { name: body.name.clone(), class: body.class, lowest: whole.min, highest: whole.max }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanism::LinkId;
    use crate::space::{Convex, Core, Vector};

    #[test]
    fn a_cylinder_on_its_side_is_as_wide_as_its_disk() {
        let lying = Pose::new(Vector::new(8.0, -3.0, 0.5), Vector::y() * std::f64::consts::FRAC_PI_2);
        let core = Core::Cylinder { link_from_cylinder: lying, half_length: 2.0, radius: 1.2 };
        let body = Body {
            name: "lab".to_owned(),
            class: BodyClass::Structure,
            link: LinkId::STRUCTURE,
            parts: vec![Convex { core, radius: 0.0 }],
            filled: None,
            growth: 0.0,
        };
        let found = boxed(&body, &Pose::identity());
        assert!((found.lowest - Point::new(6.0, -4.2, -0.7)).norm() < 1e-12, "{found:?}");
        assert!((found.highest - Point::new(10.0, -1.8, 1.7)).norm() < 1e-12, "{found:?}");
    }
}
