//! Which joints lead from one link to another, and what hangs on them?

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::files::numbers::LONGEST;
use crate::files::plan_path::PlanPath;
use crate::files::problem::{Place, Problems};
use crate::model::{Angle, Arm, ArmJoint, ArmShapes, JointKind, LinkShape, NamedLink, Place as ModelPlace, TipMeets};
use crate::space::{Pose, Vector, pose};

use super::geometry;
use super::robot::{Joint, Robot};
use super::xml::{self, Attributes, tag_place};

/// Joints that move, at most.
const MOST_JOINTS: usize = 12;
/// A continuous joint turns so far, either way.
const ONE_TURN_DEG: f64 = 360.0;

/// What is wanted of a URDF.
pub(in crate::files) struct Wanted<'a> {
    /// Base and tip link, each with the place that names it.
    pub links: [(&'a str, Place); 2],
    /// What the URDF leaves out.
    pub shapes: &'a ArmShapes,
    /// Where the names of `shapes` are, in its order.
    pub shapes_at: Vec<Place>,
}

/// The arm between two links of a URDF, and notes of what was left out; mistakes go to `problems`.
pub(in crate::files) fn read(
    path: &PlanPath,
    text: &Arc<str>,
    wanted: &Wanted<'_>,
    problems: &mut Problems,
) -> Option<(Arm, Vec<String>)> {
    let document = xml::parse(path, text, problems)?;
    let mut xml = Attributes { path, problems };
    let robot = Robot::read(&document, &mut xml)?;
    let before = xml.problems.count();
    for (name, at) in &wanted.links {
        if !robot.links.contains_key(name) {
            xml.problems.misspelt(at.clone(), name, "a link of the URDF", robot.links.keys().copied());
        }
    }
    if xml.problems.count() > before {
        return None;
    }
    let joints = chain(&robot, wanted, &mut xml)?;
    let mut walk = Walk { robot: &robot, shapes: &wanted.shapes.link, used: BTreeSet::new(), notes: Vec::new(), xml };
    let [(base, _), (tip, _)] = &wanted.links;
    let arm = walk.arm(base, tip, &joints, wanted.shapes);
    for (link, at) in wanted.shapes.link.iter().zip(&wanted.shapes_at) {
        if !walk.used.contains(link.name.as_str()) {
            walk.xml.problems.misspelt(at.clone(), &link.name, "a link of the arm", walk.used.iter().copied());
        }
    }
    let Walk { notes, xml, .. } = walk;
    (xml.problems.count() == before).then_some((arm?, notes))
}

/// The joints from base to tip, in that order.
fn chain<'a, 't>(robot: &Robot<'a, 't>, wanted: &Wanted<'_>, xml: &mut Attributes<'_>) -> Option<Vec<Joint<'a, 't>>> {
    let [(base, _), (tip, tip_at)] = &wanted.links;
    let mut joints = Vec::new();
    let mut link = *tip;
    while link != *base {
        let holder = robot.holder.get(link).and_then(|index| robot.joints.get(*index));
        if holder.is_none() {
            xml.problems.add(
                tip_at.clone(),
                format!("`{tip}` does not hang on `{base}`"),
                "expected the base link first, then a link farther out",
            );
            return None;
        }
        joints.extend(holder.copied());
        link = holder.map_or(link, |joint| joint.parent);
    }
    joints.reverse();
    Some(joints)
}

/// Goes along the chain and gathers shapes.
struct Walk<'a, 't, 'p> {
    robot: &'p Robot<'a, 't>,
    /// Shapes that replace the URDF's.
    shapes: &'p [NamedLink],
    /// Links whose shapes are part of the arm.
    used: BTreeSet<&'a str>,
    notes: Vec<String>,
    xml: Attributes<'p>,
}

impl<'a, 't> Walk<'a, 't, '_> {
    fn arm(&mut self, base: &str, tip: &str, joints: &[Joint<'a, 't>], given: &ArmShapes) -> Option<Arm> {
        let mut arm = Arm {
            title: format!("{}, from `{base}` to `{tip}`", self.xml.path),
            base: Vec::new(),
            joint: Vec::new(),
            tip: ModelPlace::default(),
            tip_meets: TipMeets::Pose,
        };
        let (first, _) = self.robot.links.get_key_value(base)?;
        // The pose of the current link in the frame of the last link that moves.
        let mut moved_from_link = Pose::identity();
        let on_chain: BTreeSet<&str> = joints.iter().map(|joint| joint.name).collect();
        self.add_link(first, moved_from_link, &on_chain, &mut arm.base);
        for joint in joints {
            let place = moved_from_link * geometry::origin(joint.node, &mut self.xml).unwrap_or_default();
            self.not_too_far(&place, joint)?;
            if joint.kind == "fixed" {
                moved_from_link = place;
            } else {
                moved_from_link = Pose::identity();
                if arm.joint.len() == MOST_JOINTS {
                    let what = format!("the chain has more than {MOST_JOINTS} joints that move");
                    self.xml.problems.add(tag_place(self.xml.path, joint.node), what, "expected fewer");
                    return None;
                }
                // What is wrong with a joint is told, and the others are looked at all the same.
                arm.joint.extend(self.joint(joint, &place, given));
            }
            let shapes = arm.joint.last_mut().map_or(&mut arm.base, |joint| &mut joint.shape);
            self.add_link(joint.child, moved_from_link, &on_chain, shapes);
        }
        if joints.iter().all(|joint| joint.kind == "fixed") {
            let what = format!("no joint moves between `{base}` and `{tip}`");
            self.xml.problems.add(Place::file(self.xml.path), what, "expected 1 to 12");
            return None;
        }
        arm.tip = place(&moved_from_link);
        Some(arm)
    }

    /// Adds the shapes of a link and of all that is fixed to it beside the chain.
    fn add_link(
        &mut self,
        link: &'a str,
        moved_from_link: Pose,
        on_chain: &BTreeSet<&str>,
        shapes: &mut Vec<LinkShape>,
    ) {
        let mut open = vec![(link, moved_from_link)];
        while let Some((link, moved_from_link)) = open.pop() {
            self.used.insert(link);
            self.add_shapes(link, &moved_from_link, shapes);
            for joint in self.robot.held_by(link).filter(|joint| !on_chain.contains(joint.name)) {
                if joint.kind == "fixed" {
                    if let Some(origin) = geometry::origin(joint.node, &mut self.xml)
                        && let place = moved_from_link * origin
                        && self.not_too_far(&place, joint).is_some()
                    {
                        open.push((joint.child, place));
                    }
                } else {
                    self.notes.push(format!(
                        "{}: left out: `{}` and what it carries hang on the joint `{}`, which moves beside the chain",
                        self.xml.path, joint.child, joint.name
                    ));
                }
            }
        }
    }

    /// Refuses what many fixed joints add up to.
    fn not_too_far(&mut self, moved_from_link: &Pose, joint: &Joint<'_, '_>) -> Option<()> {
        let distance = moved_from_link.translation.vector.norm();
        if distance <= LONGEST {
            return Some(());
        }
        let what = format!("`{}` is {distance:.0} m from the last joint that moves", joint.name);
        self.xml.problems.add(tag_place(self.xml.path, joint.node), what, format!("expected at most {LONGEST} m"));
        None
    }

    fn add_shapes(&mut self, link: &str, moved_from_link: &Pose, shapes: &mut Vec<LinkShape>) {
        if let Some(given) = self.shapes.iter().find(|given| given.name == link) {
            for shape in &given.shape {
                let pose = moved_from_link * pose(&shape.place);
                let id = format!("{link}-{}", shape.id);
                shapes.push(LinkShape { id, place: place(&pose), shape: shape.shape.clone() });
            }
            return;
        }
        let Some(node) = self.robot.links.get(link) else { return };
        match geometry::of_link(*node, &mut self.xml) {
            Ok(found) => {
                for (index, (link_from_shape, shape)) in found.into_iter().enumerate() {
                    let id = format!("{link}-{}", index + 1);
                    shapes.push(LinkShape { id, place: place(&(moved_from_link * link_from_shape)), shape });
                }
            }
            Err(mesh) => self.xml.problems.add(
                tag_place(self.xml.path, mesh),
                format!("the link `{link}` has a mesh, which is not read"),
                format!("expected its shapes in the plan's `arm_shapes` file, under `[[link]]` `name = \"{link}\"`"),
            ),
        }
    }

    /// A joint that moves.
    fn joint(&mut self, joint: &Joint<'_, '_>, link_from_joint: &Pose, given: &ArmShapes) -> Option<ArmJoint> {
        let at = tag_place(self.xml.path, joint.node);
        if Attributes::child(joint.node, "mimic").is_some() || matches!(joint.kind, "floating" | "planar") {
            let what = format!("the joint `{}` on the chain mimics another, floats or is planar", joint.name);
            self.xml.problems.add(at, what, "expected revolute, continuous, prismatic or fixed joints");
            return None;
        }
        let axis = self.axis(joint);
        let Some(limit) = Attributes::child(joint.node, "limit") else {
            let what = format!("the joint `{}` has no `<limit>`", joint.name);
            let expected = "expected `<limit lower=\"…\" upper=\"…\" velocity=\"…\"/>`; nothing is guessed";
            self.xml.problems.add(at, what, expected);
            return None;
        };
        let rate = self.xml.size(limit, "velocity");
        let range = if joint.kind == "continuous" {
            Some([-ONE_TURN_DEG, ONE_TURN_DEG].map(f64::to_radians))
        } else {
            let (lower, upper) = (self.xml.number(limit, "lower"), self.xml.number(limit, "upper"));
            lower.zip(upper).map(|(lower, upper)| [lower, upper])
        };
        if let Some([lower, upper]) = range
            && lower >= upper
        {
            let what = format!("the limits {lower} and {upper} are reversed or equal");
            self.xml.problems.add(tag_place(self.xml.path, limit), what, "expected `lower` below `upper`");
        }
        let turns = joint.kind != "prismatic";
        let (rate, range) = (rate?, range?);
        Some(ArmJoint {
            name: joint.name.to_owned(),
            kind: if turns { JointKind::Revolute } else { JointKind::Prismatic },
            place: place(link_from_joint),
            axis: axis?,
            turn_limits: turns.then_some(range.map(Angle::from_radians)),
            slide_limits: (!turns).then_some(range),
            turn_rate: turns.then_some(Angle::from_radians(rate)),
            slide_rate: (!turns).then_some(rate),
            turn_acceleration: given.turn_acceleration.filter(|_| turns),
            slide_acceleration: given.slide_acceleration.filter(|_| !turns),
            shape: Vec::new(),
        })
    }

    /// The axis in the joint's frame; along x where the file has none.
    fn axis(&mut self, joint: &Joint<'_, '_>) -> Option<[f64; 3]> {
        let Some(node) = Attributes::child(joint.node, "axis") else { return Some([1.0, 0.0, 0.0]) };
        let attribute = self.xml.needed(node, "xyz")?;
        let axis = self.xml.numbers(&attribute)?;
        if Vector::from(axis).norm() < 1e-6 {
            let at = self.xml.place(&attribute);
            self.xml.problems.add(at, "the axis has no direction", "expected a vector that is not zero");
            return None;
        }
        Some(axis)
    }
}

/// A pose as a file has it.
fn place(pose: &Pose) -> ModelPlace {
    let turn = pose.rotation.coords;
    ModelPlace { at_m: pose.translation.vector.into(), rpy: None, quat_xyzw: Some([turn.x, turn.y, turn.z, turn.w]) }
}
