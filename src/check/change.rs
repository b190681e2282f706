//! How near does the body come to anything while it changes from one posture to the next?
//!
//! Every joint goes straight from one posture to the other. Where that breaks a limit and a posture is named to go by, as at
//! work the one in which they came, the change goes by that if it so keeps every limit.

use std::collections::BTreeMap;

use crate::crew::{JOINTS, NoChange};
use crate::mechanism::BodyId;
use crate::motion::{Entry, Segment};
use crate::state::{Scene, Standing};

use super::bounded::{Bounded, Stretches};
use super::case::Change;
use super::grouping::PairRules;

/// From one posture to another (rad), and what holds on the way.
pub struct Way<'a> {
    pub from: &'a [f64; JOINTS.len()],
    pub to: &'a [f64; JOINTS.len()],
    /// The steps whose contacts hold.
    pub contact_steps: &'a [&'a str],
    /// Zero at a worksite, where the limits at work hold; infinite on the way.
    pub distance: f64,
    /// The posture to go by where the straight way breaks a limit.
    pub by: Option<&'a [f64; JOINTS.len()]>,
}

/// Bounds a change of posture: how near the body, and what it holds, come to anything. What does not move then is told
/// at rest.
///
/// # Errors
/// Why it isn't checked.
pub fn bound_change(scene: &Scene, standing: &Standing, way: &Way) -> Result<Change, String> {
    let straight = bound(scene, standing, way, &[way.from, way.to]);
    if let (Ok(change), Some(by)) = (&straight, way.by)
        && !change.keeps_its_limits()
        && let Ok(bent) = bound(scene, standing, way, &[way.from, by, way.to])
        && bent.keeps_its_limits()
    {
        return Ok(Change { is_bent: true, ..bent });
    }
    straight
}

/// Bounds the change through some postures.
fn bound(
    scene: &Scene,
    standing: &Standing,
    way: &Way,
    through: &[&[f64; JOINTS.len()]],
) -> Result<Change, String> {
    let mut mechanism = standing.frozen.clone();
    let mut segments = Vec::new();
    let mut growth: BTreeMap<BodyId, f64> = BTreeMap::new();
    for ends in through.windows(2) {
        let asked = standing.ask(scene, way.contact_steps, |crew| crew.change(ends[0], ends[1], &[]));
        let chain = asked.map_err(|no| why_not(&no))?;
        for (body, by) in chain.growth {
            let known = growth.entry(body).or_default();
            *known = known.max(by);
        }
        let stretch = |pair: &[[f64; JOINTS.len()]]| Segment { from: pair[0].to_vec(), to: pair[1].to_vec() };
        segments.extend(chain.postures.windows(2).map(stretch));
    }
    for (body, by) in growth {
        mechanism = mechanism.with_growth(body, by);
    }
    let distances = vec![way.distance; segments.len()];
    let rules = PairRules::of_change(scene, (&standing.assembly, &mechanism), way.contact_steps, &distances);
    let own: Vec<bool> =
        mechanism.body_ids().map(|body| standing.assembly.hangs_on(body, standing.links.left_boot)).collect();
    let stretches = Stretches { mechanism: &mechanism, segments: &segments, rules: &rules, overrun: &[] };
    let Bounded { clearance, swallowed } = stretches.bound(|body| own[body.0]);
    Ok(Change { mechanism, segments, clearance, swallowed, is_bent: false })
}

impl Change {
    /// Whether nothing comes nearer to anything than its limit, with tolerances.
    fn keeps_its_limits(&self) -> bool {
        let keeps = |entry: &Entry| entry.worst.bound.lower >= entry.rule.limit;
        self.swallowed.is_empty() && self.clearance.entries.iter().all(keeps)
    }
}

fn why_not(no: &NoChange) -> String {
    match no {
        NoChange::End { stray } => {
            format!("at one of the two postures the right boot is {:.1} mm off the plate", stray * 1e3)
        }
        NoChange::NotClosed => "no posture was found on the way that keeps the right boot on the plate".to_owned(),
        NoChange::TooMany => "it would need too many postures on the way".to_owned(),
    }
}
