//! What is left of a mechanism when only some of its joints still move?

use super::tree::{BodyId, JointMotion, LinkId, Mechanism, Posed, Slack, VirtualJoint};
use crate::space::Point;

impl Mechanism {
    /// The same mechanism with only the joints of `moving` still driven, in that order of variables; every other joint
    /// is fixed where `posed` has it. Links and bodies keep their ids; a body that nothing moves any more, and that has
    /// no play, is hung on the structure.
    pub fn with_moving(&self, posed: &Posed, moving: &[usize]) -> Mechanism {
        let mut frozen = self.with_driven(posed, moving);
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

    /// As [`Mechanism::with_moving`], but every body stays on its own link: what nothing moves can still be told from the
    /// structure.
    pub fn with_driven(&self, posed: &Posed, moving: &[usize]) -> Mechanism {
        let mut frozen = self.clone();
        frozen.variables = moving.iter().map(|variable| self.variables[*variable]).collect();
        for (index, link) in frozen.links.iter_mut().enumerate().skip(1) {
            let Some(variable) = link.joint.variable else { continue };
            link.joint.variable = moving.iter().position(|kept| *kept == variable);
            if link.joint.variable.is_none() {
                let structure_from_parent = posed.link(link.parent);
                link.parent_from_joint = structure_from_parent.inv_mul(posed.link(LinkId(index)));
                // What its read-out may be off, the joint is still off when it stands.
                if link.joint.readout > 0.0 {
                    let by = link.joint.readout;
                    let slack = match link.joint.motion {
                        JointMotion::Prismatic => Slack::Slide { by },
                        JointMotion::Revolute | JointMotion::Fixed => {
                            Slack::Turn { axis: link.joint.axis.into_inner(), by }
                        }
                    };
                    link.slack.push(VirtualJoint { at: Point::origin(), slack });
                }
                link.joint.motion = JointMotion::Fixed;
                link.joint.readout = 0.0;
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
    fn frozen_joints_stand_where_they_stood_and_the_others_go_on() {
        for seed in 0..30 {
            let (mechanism, links) = random_tree(seed);
            let q = random_configuration(&mechanism, seed);
            let posed = mechanism.pose(&q);
            let last = mechanism.variable_count() - 1;
            let frozen = mechanism.with_moving(&posed, &[last]);
            let mut moved = q.clone();
            moved[last] += 0.3;
            let (expected, found) = (mechanism.pose(&moved), frozen.pose(&moved[last..]));
            for link in links {
                let apart = expected.link(link).inv_mul(found.link(link));
                assert!(apart.translation.vector.norm() < 1e-12 && apart.rotation.angle() < 1e-7);
            }
        }
    }

    #[test]
    fn a_frozen_joints_readout_stays_a_tolerance() {
        let (mechanism, links) = random_tree(3);
        let mut builder = MechanismBuilder::on(mechanism);
        let link = *links.last().expect("links");
        builder.readout(link, 0.01);
        let mechanism = builder.finish();
        let q = random_configuration(&mechanism, 3);
        let posed = mechanism.pose(&q);
        let extent = Extent { points: vec![Point::new(1.0, 2.0, 0.5)], radius: 0.1 };
        let still = vec![0.0; q.len()];
        let of = |mechanism: &Mechanism, q: &[f64]| {
            let steps = (&still[..q.len()], &[][..]);
            BodyMotion::of(mechanism, &mechanism.pose(q), (link, LinkId::STRUCTURE), &extent, steps).tolerance
        };
        let frozen = mechanism.with_moving(&posed, &[]);
        assert!(of(&mechanism, &q) > 0.0);
        assert!((of(&mechanism, &q) - of(&frozen, &[])).abs() < 1e-12);
    }
}
