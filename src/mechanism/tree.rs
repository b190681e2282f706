//! What is a mechanism, and where are its links at given joint values?
//!
//! # Law
//! `structure_from_link(i) = structure_from_link(parent(i)) * parent_from_joint(i) * motion(i, q)`, where the motion
//! turns about, or slides along, the joint's axis through the joint frame's origin. Link 0 is the structure.

use crate::model::BodyClass;
use crate::space::{Convex, Direction, Pose, Vector};

/// Which link of a mechanism; parents come before children, 0 is the structure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LinkId(pub usize);

impl LinkId {
    /// The structure: what every other link hangs on.
    pub const STRUCTURE: Self = Self(0);
}

/// Which body of a mechanism.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BodyId(pub usize);

/// Which convex part of which body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PartId {
    pub body: BodyId,
    pub part: usize,
}

/// A serial, branching set of links. Immutable once built; joint values live outside, in slices `q` with one value
/// per variable (radians or metres).
#[derive(Clone, Debug)]
pub struct Mechanism {
    pub(super) links: Vec<Link>,
    pub(super) bodies: Vec<Body>,
    /// The link that each variable moves.
    pub(super) variables: Vec<LinkId>,
}

/// A link and the joint that it hangs on.
#[derive(Clone, Debug)]
pub struct Link {
    pub name: String,
    pub parent: LinkId,
    /// Where the joint's frame is in the parent's; the link's frame at zero.
    pub parent_from_joint: Pose,
    pub joint: Joint,
    /// Play that sits between the joint and everything on this link and beyond, in the link's frame; the first is the
    /// nearest to the bodies, the last the nearest to the joint.
    pub slack: Vec<VirtualJoint>,
}

/// How a link moves in its parent.
#[derive(Clone, Debug)]
pub struct Joint {
    pub motion: JointMotion,
    /// Axis in the joint's frame, through its origin.
    pub axis: Direction,
    /// Which entry of `q` drives it; none for a fixed joint.
    pub variable: Option<usize>,
    pub range: Range,
    /// How far the read-out may stray, either way (rad or m).
    pub readout: f64,
}

/// The motions that a joint can make.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JointMotion {
    Fixed,
    Revolute,
    Prismatic,
}

/// Lowest and highest value of a joint (rad or m).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    pub lowest: f64,
    pub highest: f64,
}

impl Range {
    /// No limit at all.
    pub const FREE: Self = Self { lowest: f64::NEG_INFINITY, highest: f64::INFINITY };

    /// The value, or the nearer end where it lies outside.
    pub fn nearest(self, value: f64) -> f64 {
        value.max(self.lowest).min(self.highest)
    }

    /// Distance to the nearer end; negative outside.
    pub fn margin(self, value: f64) -> f64 {
        (value - self.lowest).min(self.highest - value)
    }
}

/// A joint that nobody drives: play in a fastening, or a link that bends.
#[derive(Clone, Debug)]
pub struct VirtualJoint {
    /// Where it acts, in the link's frame (turns only).
    pub at: crate::space::Point,
    pub slack: Slack,
}

/// How far a virtual joint lets go, either way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Slack {
    /// A turn about any axis through the place, radians: three turns of this size are stated as three slacks.
    Turn { axis: Vector, by: f64 },
    /// A slide in any direction, metres.
    Slide { by: f64 },
}

/// Something with shape that hangs on a link.
#[derive(Clone, Debug)]
pub struct Body {
    pub name: String,
    pub class: BodyClass,
    pub link: LinkId,
    /// Its convex parts, in the link's frame. A mesh has one part for each facet.
    pub parts: Vec<Convex>,
    /// Whether the parts enclose matter: then a body inside touches none of them, and still collides.
    pub filled: Option<std::sync::Arc<crate::space::Mesh>>,
    /// Every part's radius grows by this for the worst case: tolerance of its shape, metres.
    pub growth: f64,
}

/// Where every link is, at joint values that it was posed for.
#[derive(Clone, Debug)]
pub struct Posed {
    pub(super) structure_from_link: Vec<Pose>,
    /// Axis of each link's joint in the structure's frame.
    pub(super) axes: Vec<Vector>,
    /// Origin of each link's joint in the structure's frame.
    pub(super) origins: Vec<crate::space::Point>,
}

impl Posed {
    /// Where a link is.
    pub fn link(&self, link: LinkId) -> &Pose {
        &self.structure_from_link[link.0]
    }

    /// Distance of a point (in the structure's frame) from the axis of the joint that carries a link, m.
    pub fn distance_from_axis(&self, link: LinkId, at: &crate::space::Point) -> f64 {
        self.axes[link.0].cross(&(at - self.origins[link.0])).norm()
    }
}

impl Mechanism {
    /// Links, the structure first.
    pub fn links(&self) -> &[Link] {
        &self.links
    }

    /// One link.
    pub fn link(&self, link: LinkId) -> &Link {
        &self.links[link.0]
    }

    /// Bodies, in the order in which they were added.
    pub fn bodies(&self) -> &[Body] {
        &self.bodies
    }

    /// One body.
    pub fn body(&self, body: BodyId) -> &Body {
        &self.bodies[body.0]
    }

    /// One convex part.
    pub fn part(&self, part: PartId) -> &Convex {
        &self.bodies[part.body.0].parts[part.part]
    }

    /// All bodies with their ids.
    pub fn body_ids(&self) -> impl Iterator<Item = BodyId> + use<> {
        (0..self.bodies.len()).map(BodyId)
    }

    /// The body of that name.
    pub fn body_named(&self, name: &str) -> Option<BodyId> {
        self.bodies.iter().position(|body| body.name == name).map(BodyId)
    }

    /// The link of that name.
    pub fn link_named(&self, name: &str) -> Option<LinkId> {
        self.links.iter().position(|link| link.name == name).map(LinkId)
    }

    /// How many joint values a configuration has.
    pub fn variable_count(&self) -> usize {
        self.variables.len()
    }

    /// The link that a variable moves.
    pub fn link_of_variable(&self, variable: usize) -> LinkId {
        self.variables[variable]
    }

    /// The variable of the joint of that name.
    pub fn variable_named(&self, name: &str) -> Option<usize> {
        self.link_named(name).and_then(|link| self.links[link.0].joint.variable)
    }

    /// The range of each variable.
    pub fn ranges(&self) -> Vec<Range> {
        self.variables.iter().map(|link| self.links[link.0].joint.range).collect()
    }

    /// The link itself and its ancestors up to, and without, the structure.
    pub fn path_inwards(&self, link: LinkId) -> impl Iterator<Item = LinkId> {
        std::iter::successors(Some(link), |at| Some(self.links[at.0].parent)).take_while(|at| *at != LinkId::STRUCTURE)
    }

    /// A workspace for [`Self::pose`], everything at the structure's origin until posed.
    pub fn workspace(&self) -> Posed {
        Posed {
            structure_from_link: vec![Pose::identity(); self.links.len()],
            axes: vec![Vector::z(); self.links.len()],
            origins: vec![crate::space::Point::origin(); self.links.len()],
        }
    }

    /// Forward kinematics of all links at `q` (one value a variable, rad or m), into a workspace.
    pub fn pose_into(&self, q: &[f64], posed: &mut Posed) {
        assert_eq!(q.len(), self.variables.len(), "one value for each variable");
        for (index, link) in self.links.iter().enumerate().skip(1) {
            let joint = &link.joint;
            let structure_from_joint = posed.structure_from_link[link.parent.0] * link.parent_from_joint;
            let axis = structure_from_joint.rotation * joint.axis.into_inner();
            let value = joint.variable.map_or(0.0, |variable| q[variable]);
            let mut structure_from_link = structure_from_joint;
            match joint.motion {
                JointMotion::Fixed => {}
                JointMotion::Revolute => {
                    let (sin, cos) = (0.5 * value).sin_cos();
                    let turn = nalgebra::Quaternion::from_parts(cos, joint.axis.into_inner() * sin);
                    let rotation = structure_from_joint.rotation.into_inner() * turn;
                    structure_from_link.rotation = nalgebra::Unit::new_unchecked(rotation);
                }
                JointMotion::Prismatic => structure_from_link.translation.vector += axis * value,
            }
            posed.axes[index] = axis;
            posed.origins[index] = crate::space::Point::from(structure_from_joint.translation.vector);
            posed.structure_from_link[index] = structure_from_link;
        }
    }

    /// Forward kinematics of all links at `q` (one value a variable, rad or m).
    pub fn pose(&self, q: &[f64]) -> Posed {
        let mut posed = self.workspace();
        self.pose_into(q, &mut posed);
        posed
    }
}

#[cfg(test)]
mod tests {
    use approx_planar::*;

    use super::*;

    /// Planar two-joint arm, l1 = 1, l2 = 0.8: closed form, school trigonometry.
    mod approx_planar {
        use crate::mechanism::{JointMotion, LinkId, Mechanism, MechanismBuilder, Range};
        use crate::space::{Pose, Vector};

        pub fn planar(lengths: &[f64]) -> (Mechanism, LinkId) {
            let mut builder = MechanismBuilder::new();
            let mut at = LinkId::STRUCTURE;
            let mut offset = 0.0;
            for (k, length) in lengths.iter().enumerate() {
                let place = Pose::translation(offset, 0.0, 0.0);
                at = builder.joint(&format!("j{k}"), at, place, JointMotion::Revolute, Vector::z_axis(), Range::FREE);
                offset = *length;
            }
            let tip = builder.fixed("tip", at, Pose::translation(offset, 0.0, 0.0));
            (builder.finish(), tip)
        }
    }

    #[test]
    fn planar_tip_stands_where_trigonometry_puts_it() {
        let (arm, tip) = planar(&[1.0, 0.8]);
        let posed = arm.pose(&[30f64.to_radians(), 60f64.to_radians()]);
        let at = posed.link(tip).translation.vector;
        assert!((at - Vector::new(3f64.sqrt() / 2.0, 1.3, 0.0)).norm() < 1e-15);
    }

    #[test]
    fn heading_is_the_sum_of_planar_joint_angles() {
        let (arm, tip) = planar(&[1.0, 0.8, 0.5]);
        let posed = arm.pose(&[30f64.to_radians(), 45f64.to_radians(), -60f64.to_radians()]);
        let pose = posed.link(tip);
        assert!((pose.translation.vector - Vector::new(1.556044, 1.402150, 0.0)).norm() < 1e-6);
        assert!((pose.rotation.angle() - 15f64.to_radians()).abs() < 1e-12);
    }
}
