//! How near is anything to anything on a chain of straight stretches?
//!
//! Motions, changes of posture and moments at rest differ in what moves, which pairs are asked about and under which
//! rules; this is what they have in common.

use crate::mechanism::{BodyId, LinkId, Mechanism, Posed};
use crate::motion::{Budget, Clearance, ClearanceSearch, Overrun, Segment, Task, still_world};

use super::grouping::PairRules;

/// What was bounded.
pub struct Bounded {
    pub clearance: Clearance,
    /// Solids, and bodies inside them, at the start.
    pub swallowed: Vec<[BodyId; 2]>,
}

/// What is to be bounded: a mechanism on its way.
pub struct Stretches<'a> {
    pub mechanism: &'a Mechanism,
    pub segments: &'a [Segment],
    pub rules: &'a PairRules<'a>,
    /// What each variable may overrun while stopping, by segment; empty: nothing.
    pub overrun: &'a [Overrun],
}

impl Stretches<'_> {
    /// Bounds every pair of which one body is asked about.
    pub fn bound(&self, asked: impl Fn(BodyId) -> bool + Sync) -> Bounded {
        let Self { mechanism, segments, rules, overrun } = *self;
        let rule = |segment, a, b| if asked(a) || asked(b) { rules.rule(segment, a, b) } else { None };
        let world = still_world(mechanism);
        let budget = Budget { cap: rules.cap(), ..Budget::default() };
        let same_rules = |one, other| rules.same(one, other);
        let task = Task { segments, rules: &rule, same_rules: &same_rules, overrun };
        let mut clearance = ClearanceSearch::new(mechanism, &world, budget).run(&task);
        rules.add_far_groups(mechanism, &asked, &mut clearance);
        let at_start = segments.first().map(|segment| mechanism.pose(&segment.from));
        let inside = at_start.map(|posed| swallowed(mechanism, &posed, |a, b| rule(0, a, b).is_some()));
        Bounded { clearance, swallowed: inside.unwrap_or_default() }
    }
}

/// Solids that contain a point of another body at a pose: collisions that no facet shows. While no facet is touched on
/// the way, one moment tells for all. `measured` says which pairs count.
pub fn swallowed(mechanism: &Mechanism, posed: &Posed, measured: impl Fn(BodyId, BodyId) -> bool) -> Vec<[BodyId; 2]> {
    let still = |id: BodyId| mechanism.body(id).link == LinkId::STRUCTURE;
    let mut found = Vec::new();
    for solid in mechanism.body_ids() {
        let Some(mesh) = &mechanism.body(solid).filled else { continue };
        let solid_from_structure = posed.link(mechanism.body(solid).link).inverse();
        for other in mechanism.body_ids().filter(|other| *other != solid && !(still(solid) && still(*other))) {
            let body = mechanism.body(other);
            let solid_from_link = solid_from_structure * posed.link(body.link);
            let inside = body.parts.iter().any(|part| {
                let (points, _) = part.extent();
                points.first().is_some_and(|point| mesh.contains(&(solid_from_link * point)))
            });
            if inside && measured(solid, other) {
                found.push([solid, other]);
            }
        }
    }
    found
}
