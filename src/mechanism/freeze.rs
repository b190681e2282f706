//! What is left of a mechanism when only some of its joints still move?

use super::tree::{BodyId, JointMotion, LinkId, Mechanism, Posed};

impl Mechanism {
    /// The same mechanism with only the joints of `moving` still driven, in that order of variables; every other joint
    /// is fixed where `posed` has it. Links and bodies keep their ids; a body that nothing moves any more, and that has
    /// no play, is hung on the structure.
    pub fn with_moving(&self, posed: &Posed, moving: &[usize]) -> Mechanism {
        let mut frozen = self.clone();
        frozen.variables = moving.iter().map(|variable| self.variables[*variable]).collect();
        for (index, link) in frozen.links.iter_mut().enumerate().skip(1) {
            let Some(variable) = link.joint.variable else { continue };
            link.joint.variable = moving.iter().position(|kept| *kept == variable);
            if link.joint.variable.is_none() {
                let structure_from_parent = posed.link(link.parent);
                link.parent_from_joint = structure_from_parent.inv_mul(posed.link(LinkId(index)));
                link.joint.motion = JointMotion::Fixed;
                link.joint.readout = 0.0;
            }
        }
        let may_move: Vec<bool> = (0..frozen.links.len())
            .map(|index| {
                let moves = |on: LinkId| frozen.link(on).joint.variable.is_some() || !frozen.link(on).slack.is_empty();
                frozen.path_inwards(LinkId(index)).any(moves)
            })
            .collect();
        for body in &mut frozen.bodies {
            if body.link != LinkId::STRUCTURE && !may_move[body.link.0] {
                let structure_from_link = posed.link(body.link);
                body.parts = body.parts.iter().map(|part| part.moved(structure_from_link)).collect();
                body.link = LinkId::STRUCTURE;
            }
        }
        frozen
    }

    /// The same mechanism with a body grown by so much more (m) for the worst case.
    pub fn with_growth(mut self, body: BodyId, by: f64) -> Mechanism {
        self.bodies[body.0].growth += by;
        self
    }
}
