//! How near does the body come to anything while it changes from one posture to the next?

use crate::crew::{JOINTS, NoChange, PostureOutcome};
use crate::motion::{Budget, ClearanceSearch, Segment, Task, still_world};
use crate::state::{Scene, Stay};

use super::case::{Change, UseCase};
use super::clearance::swallowed;
use super::grouping::PairRules;

/// Bounds the change from the posture before (rad) to the one of this use.
///
/// # Errors
/// Why it isn't checked.
pub fn bound_change(
    scene: &Scene,
    stay: &Stay,
    used: &UseCase,
    before: Option<&[f64; JOINTS.len()]>,
) -> Result<Change, String> {
    let PostureOutcome::Found(posture) = &used.outcome else { return Err("no posture was found".to_owned()) };
    let from = before.ok_or("nobody stood there before")?;
    let standing = &used.standing;
    let chain =
        standing.ask(scene, &[&stay.step], |crew| crew.change(from, &posture.q, &[])).map_err(|no| why_not(&no))?;
    let mut mechanism = standing.frozen.clone();
    for (body, by) in &chain.growth {
        mechanism = mechanism.with_growth(*body, *by);
    }
    let segments: Vec<Segment> =
        chain.postures.windows(2).map(|pair| Segment { from: pair[0].to_vec(), to: pair[1].to_vec() }).collect();
    let distances = vec![0.0; segments.len()];
    let rules = PairRules::at_work(scene, (&standing.assembly, &mechanism), &stay.step, &distances);
    let world = still_world(&mechanism);
    let budget = Budget { cap: rules.cap(), ..Budget::default() };
    let clearance = ClearanceSearch::new(&mechanism, &world, budget).run(&Task {
        segments: &segments,
        rules: &|segment, a, b| rules.rule(segment, a, b),
        same_rules: &|one, other| rules.same(one, other),
        overrun: &[],
    });
    let at_start = mechanism.pose(from);
    let swallowed = swallowed(&mechanism, &at_start, |a, b| rules.rule(0, a, b).is_some());
    Ok(Change { mechanism, segments, clearance, swallowed })
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
