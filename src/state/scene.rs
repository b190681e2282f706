//! What of a plan never changes: the fixed bodies, and where stands, sockets and seats are?

use crate::crew::Figure;
use crate::files::Meshes;
use crate::mechanism::{Body, LinkId};
use crate::model::{ArmJoint, BodyClass, Handrail, JointKind, Project, Shape, Truss};
use crate::space::{Convex, Core, Point, Pose, Vector, pose};

use super::solids;

/// What of a plan never changes.
#[derive(Debug)]
pub struct Scene<'a> {
    pub project: &'a Project,
    pub meshes: &'a Meshes,
    /// Structure and keep-out zones.
    pub fixed: Vec<Body>,
    pub rider: Figure,
    pub second_crew: Figure,
}

impl<'a> Scene<'a> {
    /// Lays out the structure and measures the crew.
    pub fn new(project: &'a Project, meshes: &'a Meshes) -> Self {
        let structure = &project.structure;
        let growth = project.plan.tolerances.shape_m;
        let mut fixed = Vec::new();
        for truss in &structure.truss {
            lay_truss(truss, growth, &mut fixed);
        }
        for module in &structure.module {
            // A module lies along x, a cylinder stands along z.
            let along_x = Pose::rotation(Vector::y() * std::f64::consts::FRAC_PI_2);
            let shape = Shape::Cylinder { length_m: module.length_m, radius_m: module.radius_m };
            let at = pose(&module.place) * along_x;
            fixed.push(solids::body(
                module.id.clone(),
                BodyClass::Structure,
                (LinkId::STRUCTURE, &at),
                &shape,
                (meshes, growth),
            ));
        }
        for handrail in &structure.handrail {
            lay_handrail(handrail, growth, &mut fixed);
        }
        let shapes =
            structure.body.iter().map(|body| (&body.id, &body.place, &body.shape, BodyClass::Structure, growth));
        let zones = structure.keep_out.iter().map(|zone| (&zone.id, &zone.place, &zone.shape, BodyClass::KeepOut, 0.0));
        for (id, place, shape, class, growth) in shapes.chain(zones) {
            let at = (LinkId::STRUCTURE, &pose(place));
            fixed.push(solids::body(id.clone(), class, at, shape, (meshes, growth)));
        }
        Self {
            project,
            meshes,
            fixed,
            rider: Figure::from(&project.plan.rider, &project.suit),
            second_crew: Figure::from(&project.plan.second_crew, &project.suit),
        }
    }

    /// Joint values as the plan writes them, in the arm's order (degrees or metres), in rad or m.
    pub fn joint_values(&self, written: &[f64]) -> Vec<f64> {
        let radians_or_metres = |(value, joint): (&f64, &ArmJoint)| match joint.kind {
            JointKind::Revolute => value.to_radians(),
            JointKind::Prismatic => *value,
        };
        written.iter().zip(&self.project.arm.joint).map(radians_or_metres).collect()
    }

    /// Where a stand is.
    pub fn stand(&self, id: &str) -> Pose {
        let stand = self.project.plan.stand.iter().find(|stand| stand.id == id);
        pose(&stand.expect("reading a plan finds every stand that it names").place)
    }

    /// Where a socket is.
    pub fn socket(&self, id: &str) -> Pose {
        let socket = self.project.structure.socket.iter().find(|socket| socket.id == id);
        pose(&socket.expect("reading a plan finds every socket that it names").place)
    }

    /// Where a seat is.
    pub fn seat(&self, id: &str) -> Pose {
        let seat = self.project.plan.seat.iter().find(|seat| seat.id == id);
        pose(&seat.expect("reading a plan finds every seat that it names").place)
    }
}

fn member(name: String, ends: [Point; 2], radius: f64, growth: f64) -> Body {
    let parts = vec![Convex { core: Core::Segment(ends[0], ends[1]), radius }];
    Body { name, class: BodyClass::Structure, link: LinkId::STRUCTURE, parts, filled: None, growth }
}

/// Longerons and diagonals of each bay, and a frame of battens at the end of each, one capsule a member.
fn lay_truss(truss: &Truss, growth: f64, into: &mut Vec<Body>) {
    let structure_from_truss = pose(&truss.place);
    let half = [0.5 * truss.width_m, 0.5 * truss.height_m.unwrap_or(truss.width_m)];
    // Corners in turn round the section, so that two that follow each other share a side.
    let corner = |bay: u32, k: usize| {
        let (y, z) = [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)][k % 4];
        structure_from_truss * Point::new(f64::from(bay) * truss.bay_m, y * half[0], z * half[1])
    };
    let mut add = |name: String, ends| into.push(member(name, ends, truss.member_radius_m, growth));
    for bay in 0..=truss.bays {
        for k in 0..4 {
            add(truss.batten(bay, k), [corner(bay, k), corner(bay, k + 1)]);
        }
    }
    for bay in 0..truss.bays {
        for k in 0..4 {
            add(truss.longeron(bay, k), [corner(bay, k), corner(bay + 1, k)]);
            // Diagonals turn over from bay to bay, as in a Warren truss.
            let (from, to) = if bay % 2 == 0 { (k, k + 1) } else { (k + 1, k) };
            add(truss.diagonal(bay, k), [corner(bay, from), corner(bay + 1, to)]);
        }
    }
}

fn lay_handrail(handrail: &Handrail, growth: f64, into: &mut Vec<Body>) {
    let ends = [Point::from(handrail.from_m), Point::from(handrail.to_m)];
    into.push(member(handrail.rail(), ends, handrail.radius_m, growth));
    if let Some(post) = handrail.post_m {
        for (k, end) in ends.into_iter().enumerate() {
            let foot = end + Vector::from(post);
            into.push(member(handrail.post(k), [end, foot], handrail.radius_m, growth));
        }
    }
}
