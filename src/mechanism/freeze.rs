//! What is left of a mechanism when only some of its joints still move?

use super::tree::{Body, BodyId, JointMotion, Link, LinkId, Mechanism, Posed};
use crate::space::Pose;

impl Mechanism {
    /// The same mechanism with only the joints of `moving` still driven, in that order of variables; every other joint
    /// is fixed where `posed` has it. Links and bodies keep their ids.
    pub fn with_moving(&self, posed: &Posed, moving: &[usize]) -> Mechanism {
        let mut frozen = self.clone();
        frozen.variables = moving.iter().map(|variable| self.variables[*variable]).collect();
        for (index, link) in frozen.links.iter_mut().enumerate().skip(1) {
            let Some(variable) = link.joint.variable else {
                continue;
            };
            link.joint.variable = moving.iter().position(|kept| *kept == variable);
            if link.joint.variable.is_none() {
                let structure_from_parent = posed.link(link.parent);
                link.parent_from_joint = structure_from_parent.inv_mul(posed.link(LinkId(index)));
                link.joint.motion = JointMotion::Fixed;
                link.joint.readout = 0.0;
            }
        }
        frozen
    }

    /// Hangs a link, with all that hangs on it, on another link, where it stands now.
    ///
    /// # Panics
    /// If the new parent comes after the link.
    pub fn rehung(&self, posed: &Posed, link: LinkId, parent: LinkId) -> Mechanism {
        assert!(parent < link, "a parent comes before its children");
        let mut rehung = self.clone();
        let pose: Pose = posed.link(parent).inv_mul(posed.link(link));
        let moved: &mut Link = &mut rehung.links[link.0];
        assert!(moved.joint.variable.is_none(), "a driven link keeps its joint");
        moved.parent = parent;
        moved.parent_from_joint = pose;
        rehung
    }

    /// The same links with only those bodies that `keep` wants.
    pub fn with_bodies(&self, keep: impl Fn(BodyId, &Body) -> bool) -> Mechanism {
        let mut kept = self.clone();
        let bodies = self.body_ids().zip(&self.bodies).filter(|(id, body)| keep(*id, body));
        kept.bodies = bodies.map(|(_, body)| body.clone()).collect();
        kept
    }
}
