//! From which stands can nothing be done at a worksite, whatever settings are found?
//!
//! # Law
//! - A hand is never farther from the arm's first joint than all that is between them, arm, restraint and body, is long
//!   when it is stretched: what must be grasped farther off is out of reach.
//! - A pair of bodies that is too near whatever the arm's joints do ([`super::always_near`]), at rest at the worksite or
//!   on the transits to and from it.
//!
//! Both are proofs, and looked at before anything is searched.

use crate::check::PairRules;
use crate::mechanism::BodyId;
use crate::model::ClassPair;
use crate::state::{Assembly, Moment, Move, Scene};

use super::always_near::{AlwaysNear, always_near};
use super::arms::stretched;
use super::transit::always_near_on_transit;
use super::work::Work;

/// Why nothing can be done from a stand: proven.
#[derive(Clone, Debug, PartialEq)]
pub enum NoStand {
    /// What must be grasped is so far out of reach, at least, m.
    OutOfReach { subject: String, by: f64 },
    /// The pair breaks the limit of its classes by at least so much, m, whatever the arm's joints do.
    AlwaysNear { bodies: [String; 2], classes: ClassPair, by: f64, limit: f64, at_rest: bool },
}

impl NoStand {
    fn near(near: AlwaysNear, names: impl FnOnce([BodyId; 2]) -> [String; 2], at_rest: bool) -> Self {
        let AlwaysNear { bodies, classes, at_most, limit } = near;
        Self::AlwaysNear { bodies: names(bodies), classes, by: limit - at_most, limit, at_rest }
    }
}

/// Why nothing can be done at a worksite with the arm at a stand, if that is proven: of its work, from the moment at which it
/// begins, in the step that brings the rider there, and of transits to and from it, all as they are from that stand.
pub fn no_stand(scene: &Scene, work: &Work, (moment, step): (&Moment, &str), crossings: &[Move]) -> Option<NoStand> {
    let assembly = Assembly::new(scene, moment);
    out_of_reach(work, &assembly)
        .or_else(|| {
            let mechanism = assembly.arm_at_rest();
            let rules = PairRules::at_rest(scene, (&assembly, &mechanism), step);
            let near = always_near(&mechanism, |a, b| rules.rule(0, a, b))?;
            Some(NoStand::near(near, |bodies| bodies.map(|body| assembly.name(body).to_owned()), true))
        })
        .or_else(|| {
            let moved = crossings.iter().find_map(|moved| always_near_on_transit(scene, moved));
            moved.map(|(near, bodies)| NoStand::near(near, |_| bodies, false))
        })
}

fn out_of_reach(work: &Work, assembly: &Assembly) -> Option<NoStand> {
    let grips = &assembly.rider.as_ref()?.grip;
    let (first_joint, left) = stretched(&assembly.mechanism, grips.left);
    let (_, right) = stretched(&assembly.mechanism, grips.right);
    work.things.iter().find_map(|thing| {
        let by = thing.least_distance(&first_joint) - left.max(right);
        (by > 0.0).then(|| NoStand::OutOfReach { subject: thing.wanted.subject.clone(), by })
    })
}
