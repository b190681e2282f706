//! How near does the body come to anything while it changes from one posture to the next?

use crate::crew::{JOINTS, NoChange};
use crate::motion::Segment;
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
}

/// Bounds a change of posture: how near the body, and what it holds, come to anything. What does not move then is told
/// at rest.
///
/// # Errors
/// Why it isn't checked.
pub fn bound_change(scene: &Scene, standing: &Standing, way: &Way) -> Result<Change, String> {
    let chain =
        standing.ask(scene, way.contact_steps, |crew| crew.change(way.from, way.to, &[])).map_err(|no| why_not(&no))?;
    let mut mechanism = standing.frozen.clone();
    for (body, by) in &chain.growth {
        mechanism = mechanism.with_growth(*body, *by);
    }
    let segments: Vec<Segment> =
        chain.postures.windows(2).map(|pair| Segment { from: pair[0].to_vec(), to: pair[1].to_vec() }).collect();
    let distances = vec![way.distance; segments.len()];
    let rules = PairRules::of_change(scene, (&standing.assembly, &mechanism), way.contact_steps, &distances);
    let own: Vec<bool> =
        mechanism.body_ids().map(|body| standing.assembly.hangs_on(body, standing.links.left_boot)).collect();
    let stretches = Stretches { mechanism: &mechanism, segments: &segments, rules: &rules, overrun: &[] };
    let Bounded { clearance, swallowed } = stretches.bound(|body| own[body.0]);
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
