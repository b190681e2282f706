//! How near does the body come to anything while it changes from one posture to the next?
//!
//! # Law
//! Every joint goes straight from one posture to the other. Where that breaks a limit at work, or is tight, the hands are
//! drawn back from what they work on, along its axis and by [`DRAWN_BACK`], before they go to the next thing; where that will
//! not do, the body goes by the posture in which it came, too. The first of these that is nowhere tight is the change; where
//! all are, the one that is least so; where none keeps every limit, the straight one, and what it breaks is told.
//!
//! # Source
//! common practice, no source: nobody sweeps a tool along a panel.

use std::collections::BTreeMap;

use crate::crew::{Grip, JOINTS, NoChange, PostureOutcome, PostureSearch, Task};
use crate::mechanism::BodyId;
use crate::motion::{Entry, Seen, Segment};
use crate::state::{Scene, Standing};

use super::bounded::{Bounded, Stretches};
use super::case::Change;
use super::finding::Unit;
use super::grouping::{GroupKey, PairRules};
use super::judge::Measure;

/// From one posture to another (rad), and what holds on the way.
pub struct Way<'a> {
    pub from: &'a [f64; JOINTS.len()],
    pub to: &'a [f64; JOINTS.len()],
    /// The steps whose contacts hold.
    pub contact_steps: &'a [&'a str],
    /// Zero at a worksite, where the limits at work hold; infinite on the way.
    pub distance: f64,
    /// Ways to go by where the straight one breaks a limit, the first that will do: what they are, and through which
    /// postures.
    pub detours: &'a dyn Fn() -> Vec<Detour>,
}

/// A way from one posture to another through others: how it is called, and these.
pub type Detour = (&'static str, Vec<[f64; JOINTS.len()]>);

/// By so much hands are drawn back, m.
const DRAWN_BACK: f64 = 0.15;
/// What is seen in this share of the first or the last stretch is seen at an end.
const END: f64 = 0.05;
/// Starts of the search for a posture with the hands drawn back.
const STARTS: usize = 2;

/// Bounds a change of posture: how near the body, and what it holds, come to anything. What does not move then is told
/// at rest.
///
/// # Errors
/// Why it isn't checked.
pub fn bound_change(scene: &Scene, standing: &Standing, way: &Way) -> Result<Change, String> {
    let straight = bound(scene, standing, way, &[])?;
    let (mut short, at_end) = straight.short(scene);
    let mut best = straight;
    // Any other way has the same ends.
    if short > 0.0 && !at_end {
        for (name, through) in (way.detours)() {
            let Ok(change) = bound(scene, standing, way, &through) else { continue };
            let (this, _) = change.short(scene);
            if this < short {
                (short, best) = (this, Change { detour: Some(name), ..change });
            }
            if short == 0.0 {
                break;
            }
        }
    }
    Ok(best)
}

/// Ways between two postures at work, by what is done before and after; at rest nothing is.
pub fn detours(
    scene: &Scene,
    (standing, contact_steps): (&Standing, &[&str]),
    rest: Option<&[f64; JOINTS.len()]>,
    ends: [Option<(&Task, &[f64; JOINTS.len()])>; 2],
) -> Vec<Detour> {
    let [before, after] =
        ends.map(|end| end.and_then(|(task, q)| drawn_back(scene, (standing, contact_steps), task, q)));
    let through = |rest: Option<&[f64; JOINTS.len()]>| -> Vec<[f64; JOINTS.len()]> {
        before.iter().chain(rest).chain(&after).copied().collect()
    };
    let rest = rest
        .filter(|_| ends.iter().all(Option::is_some))
        .map(|rest| (", drawn back by way of rest", through(Some(rest))));
    std::iter::once((", drawn back", through(None))).chain(rest).filter(|(_, through)| !through.is_empty()).collect()
}

/// The posture nearest to one that was found in which the hands are drawn back from what they work on; none where nothing
/// has an axis, or no such posture is found.
fn drawn_back(
    scene: &Scene,
    (standing, contact_steps): (&Standing, &[&str]),
    task: &Task,
    q: &[f64; JOINTS.len()],
) -> Option<[f64; JOINTS.len()]> {
    task.grips.iter().any(|grip| grip.axis.is_some()).then_some(())?;
    let back = |grip: &Grip| Grip {
        at: grip.axis.map_or(grip.at, |(axis, _)| grip.at - axis.into_inner() * DRAWN_BACK),
        ..*grip
    };
    let task = Task { grips: task.grips.iter().map(back).collect(), look_at: None };
    let search = PostureSearch { start: Some(*q), attract: Some(*q), stance: Some(*q), starts: STARTS };
    match standing.ask(scene, contact_steps, |crew| crew.solve(&task, &search)) {
        PostureOutcome::Found(posture) => Some(posture.q),
        PostureOutcome::NotFound(_) => None,
    }
}

/// Bounds the change through some postures, straight between neighbours.
fn bound(scene: &Scene, standing: &Standing, way: &Way, through: &[[f64; JOINTS.len()]]) -> Result<Change, String> {
    let postures: Vec<&[f64; JOINTS.len()]> = std::iter::once(way.from).chain(through).chain([way.to]).collect();
    let mut mechanism = standing.frozen.clone();
    let mut segments = Vec::new();
    let mut growth: BTreeMap<BodyId, f64> = BTreeMap::new();
    for ends in postures.windows(2) {
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
    Ok(Change { mechanism, segments, clearance, swallowed, detour: None })
}

impl Change {
    /// By how much the tightest pair is nearer than it would have to be not to be tight, m, and whether that is so at one of
    /// the ends; infinite where a limit is broken.
    fn short(&self, scene: &Scene) -> (f64, bool) {
        let last = self.segments.len() - 1;
        let is_end =
            |seen: &Seen| seen.segment == 0 && seen.fraction < END || seen.segment == last && seen.fraction > 1.0 - END;
        let short = |entry: &Entry| {
            let spare = entry.worst.bound.lower - entry.rule.limit;
            let band = Measure::of(&GroupKey::of(scene, entry.group).limit, Unit::Metre).band;
            let short = if spare < 0.0 { f64::INFINITY } else { band - spare };
            (short, entry.worst.seen.as_ref().is_some_and(is_end))
        };
        let broken = if self.swallowed.is_empty() { 0.0 } else { f64::INFINITY };
        let shorts = self.clearance.entries.iter().map(short).chain([(broken, false)]);
        shorts.max_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))).unwrap_or_default()
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
