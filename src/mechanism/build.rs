//! How is a mechanism put together?

use crate::space::{Direction, Pose, Vector};

use super::tree::{Body, BodyId, Joint, JointMotion, Link, LinkId, Mechanism, Range, VirtualJoint};

/// Adds links from the structure outwards.
#[derive(Clone, Debug)]
pub struct MechanismBuilder {
    mechanism: Mechanism,
}

impl Default for MechanismBuilder {
    fn default() -> Self {
        Self::new()
    }
}

impl MechanismBuilder {
    /// Nothing but the structure, without bodies.
    pub fn new() -> Self {
        let structure = Link {
            name: "structure".to_owned(),
            parent: LinkId::STRUCTURE,
            parent_from_joint: Pose::identity(),
            joint: Joint {
                motion: JointMotion::Fixed,
                axis: Vector::z_axis(),
                variable: None,
                range: Range::FREE,
                readout: 0.0,
            },
            slack: Vec::new(),
        };
        Self { mechanism: Mechanism { links: vec![structure], bodies: Vec::new(), variables: Vec::new() } }
    }

    /// Goes on with a mechanism that is already built.
    pub fn on(mechanism: Mechanism) -> Self {
        Self { mechanism }
    }

    /// Adds a link on a driven joint; the joint's frame is `parent_from_joint`, its axis `axis` in that frame.
    /// Its variable is the next one.
    pub fn joint(
        &mut self,
        name: &str,
        parent: LinkId,
        parent_from_joint: Pose,
        motion: JointMotion,
        axis: Direction,
        range: Range,
    ) -> LinkId {
        let variable = (motion != JointMotion::Fixed).then(|| {
            self.mechanism.variables.push(LinkId(self.mechanism.links.len()));
            self.mechanism.variables.len() - 1
        });
        self.push(name, parent, parent_from_joint, Joint { motion, axis, variable, range, readout: 0.0 })
    }

    /// Adds a link that is fixed in its parent.
    pub fn fixed(&mut self, name: &str, parent: LinkId, parent_from_link: Pose) -> LinkId {
        self.joint(name, parent, parent_from_link, JointMotion::Fixed, Vector::z_axis(), Range::FREE)
    }

    fn push(&mut self, name: &str, parent: LinkId, parent_from_joint: Pose, joint: Joint) -> LinkId {
        assert!(parent.0 < self.mechanism.links.len(), "a parent is added before its children");
        let link = Link { name: name.to_owned(), parent, parent_from_joint, joint, slack: Vec::new() };
        self.mechanism.links.push(link);
        LinkId(self.mechanism.links.len() - 1)
    }

    /// States how far the read-out of a link's joint may stray, either way (rad or m).
    pub fn readout(&mut self, link: LinkId, by: f64) {
        self.mechanism.links[link.0].joint.readout = by;
    }

    /// Adds play between a link's joint and everything on the link and beyond.
    pub fn slack(&mut self, link: LinkId, slack: VirtualJoint) {
        assert!(link != LinkId::STRUCTURE, "the structure is what everything is measured from");
        self.mechanism.links[link.0].slack.push(slack);
    }

    /// Hangs a body on its link.
    pub fn body(&mut self, body: Body) -> BodyId {
        assert!(body.link.0 < self.mechanism.links.len(), "a link is added before its bodies");
        self.mechanism.bodies.push(body);
        BodyId(self.mechanism.bodies.len() - 1)
    }

    /// What has been built so far.
    pub fn so_far(&self) -> &Mechanism {
        &self.mechanism
    }

    /// The finished mechanism.
    pub fn finish(self) -> Mechanism {
        self.mechanism
    }
}
