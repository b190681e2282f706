//! How near is anything to anything while all stands still at a worksite?
//!
//! A motion that goes nowhere: the same bound as on the way, under the limits at work, with the plan's tolerances.

use std::sync::Arc;

use crate::mechanism::{BodyId, LinkId, Mechanism};
use crate::model::{ClassPair, Who};
use crate::motion::{Clearance, Entry, Segment};
use crate::state::{Assembly, Rest, Scene};

use super::bounded::{Bounded, Stretches};
use super::finding::Place;
use super::grouping::PairRules;
use super::piece::{Piece, Said};

/// A moment at which everything stands still, bounded.
pub struct RestCase {
    pub rest: Arc<Rest>,
    pub assembly: Assembly,
    /// The arm's joints, by which the gaps could be opened, are driven; they stay where they are.
    pub mechanism: Mechanism,
    pub segments: [Segment; 1],
    pub clearance: Clearance,
    /// Solids, and bodies inside them.
    pub swallowed: Vec<[BodyId; 2]>,
    pub(super) said: Said,
}

impl RestCase {
    /// Bounds the clearance of the crewmember, of all that carries them, and of what they hold or have just placed.
    pub fn new(scene: &Scene, rest: &Arc<Rest>) -> Self {
        let assembly = Assembly::new(scene, &rest.moment);
        let mechanism = assembly.arm_at_rest();
        let segments = [Segment { from: rest.moment.arm.clone(), to: rest.moment.arm.clone() }];
        let rules = PairRules::at_rest(scene, (&assembly, &mechanism), &rest.step);
        let asked = asked_about(&assembly, rest);
        let stretches = Stretches { mechanism: &mechanism, segments: &segments, rules: &rules, overrun: &[] };
        let Bounded { clearance, swallowed } = stretches.bound(|body| asked[body.0]);
        Self { rest: Arc::clone(rest), assembly, mechanism, segments, clearance, swallowed, said: Said::default() }
    }

    /// The same, with what is said of it.
    pub(super) fn judged(self, scene: &Scene) -> Self {
        Self { said: Said::of(scene, Piece::Rest(&self)), ..self }
    }

    /// The classes of those that are nearer to each other than their limit, with tolerances.
    pub fn broken(&self) -> impl Iterator<Item = ClassPair> {
        let breaks = |entry: &&Entry| entry.worst.bound.lower < entry.rule.limit;
        let near = self.clearance.entries.iter().filter(breaks).map(|entry| entry.bodies);
        let class = |body: BodyId| self.mechanism.body(body).class;
        near.chain(self.swallowed.iter().copied()).map(move |[a, b]| ClassPair::new(class(a), class(b)))
    }

    /// Where its findings belong.
    pub fn place(&self) -> Place {
        Place::Worksite { worksite: self.rest.worksite.clone(), step: self.rest.step.clone() }
    }

    /// What tells its findings from others of the same place.
    pub fn suffix(&self, scene: &Scene) -> String {
        let id = |payload: usize| &scene.project.plan.payload[payload].id;
        match (self.rest.placed, self.rest.carried()) {
            (Some(placed), _) => format!(", at rest, {} in its seat", id(placed)),
            (None, Some(carried)) => format!(", at rest, {} in the hands", id(carried)),
            (None, None) => ", at rest".to_owned(),
        }
    }
}

/// Of each body, whether the rest asks about it: what hangs on the arm, or on the second crew's restraint, and a payload
/// that was just placed.
fn asked_about(assembly: &Assembly, rest: &Rest) -> Vec<bool> {
    let root: Option<LinkId> = match rest.who {
        Who::Rider => Some(assembly.arm.base),
        Who::SecondCrew => assembly.second_crew.as_ref().map(|second| second.restraint.plug),
    };
    let placed = rest.placed.map(|placed| assembly.payloads[placed].as_slice()).unwrap_or_default();
    let asked = |body: BodyId| root.is_some_and(|root| assembly.hangs_on(body, root)) || placed.contains(&body);
    assembly.mechanism.body_ids().map(asked).collect()
}
