//! What is left of a mechanism when only some of its joints still move?

use super::tree::{BodyId, JointMotion, LinkId, Mechanism, Posed, Slack, VirtualJoint};
use crate::space::Point;

impl Mechanism {
    /// The same mechanism with only the joints of `moving` still driven, in that order of variables; every other joint
    /// is fixed where `posed` has it, and what its read-out may stray stays as play. Links and bodies keep their ids; a body that nothing moves any more, and that has
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
                let by = std::mem::take(&mut link.joint.readout);
                let slack = match link.joint.motion {
                    JointMotion::Revolute => Slack::Turn { axis: link.joint.axis.into_inner(), by },
                    JointMotion::Prismatic | JointMotion::Fixed => Slack::Slide { by },
                };
                // Last, so farther from the bodies than all other play of the link, as the joint itself is.
                link.slack.extend((by > 0.0).then_some(VirtualJoint { at: Point::origin(), slack }));
                link.joint.motion = JointMotion::Fixed;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mechanism::random_tree::{random_configuration, random_tree};
    use crate::mechanism::{BodyMotion, Extent, MechanismBuilder};

    #[test]
    fn what_is_frozen_keeps_the_play_of_its_read_out() {
        for seed in 0..40 {
            let (tree, links) = random_tree(seed);
            let mut builder = MechanismBuilder::on(tree);
            for link in links.iter().skip(1) {
                builder.readout(*link, 0.01);
                builder.slack(*link, VirtualJoint { at: Point::origin(), slack: Slack::Slide { by: 0.02 } });
            }
            let mechanism = builder.finish();
            let q = random_configuration(&mechanism, seed);
            let posed = mechanism.pose(&q);
            let frozen = mechanism.with_moving(&posed, &[]);
            let frozen_posed = frozen.pose(&[]);
            let extent = Extent { points: vec![Point::new(0.3, 0.0, 0.0)], radius: 0.1 };
            for link in links {
                let ends = (link, LinkId::STRUCTURE);
                let still = vec![0.0; q.len()];
                let before = BodyMotion::of(&mechanism, &posed, ends, &extent, (&still, &[])).tolerance;
                let after = BodyMotion::of(&frozen, &frozen_posed, ends, &extent, (&[], &[])).tolerance;
                assert!((after - before).abs() < 1e-12, "seed {seed}: {before} before, {after} frozen");
            }
        }
    }
}
