//! Do the hands reach, and by how much?
//!
//! # Question
//! How much farther than the target do the hands reach, along the ray from the shoulder through the target?
//! # Law
//! See [`crate::crew::Crewmember::reach`]: the lower end is the farthest point with a posture that counts, the upper end
//! the farthest that lengths and ranges of the body do not exclude.
//! # Source
//! common practice, no source, for the limit.
//! # Limits
//! Nothing stands around, and the eyes look anywhere: what is behind the target would leave it no margin. Whether there
//! is a posture at the target itself, among all that stands there, is the check `posture`'s. What the search did not find
//! is not proven.
//! # Findings
//! One for each target and payload; *not found* where the lower end is below the limit, *proven* where the upper is too.

use crate::crew::{HAND, PostureOutcome, Reach};
use crate::model::Bound;
use crate::state::Scene;

use super::advice;
use super::case::UseCase;
use super::finding::{Finding, Kind, Place, Unit};
use super::judge::{Measure, key};
use super::piece::Piece;

pub const NAME: &str = "reach";

/// Findings of a stay.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    let Piece::Stay(stay) = piece else { return Vec::new() };
    let measure = Measure::of(&scene.project.plan.limits.reach_m, Unit::Metre);
    stay.uses
        .iter()
        .map(|used| {
            let place = Place::Worksite { worksite: stay.stay.worksite.clone(), step: stay.stay.step.clone() };
            let key = key(NAME, place, Some(stay.stay.who), used.subject.clone());
            let Some(reach) = &used.reach else {
                return Finding::not_checked(key, Unit::Metre, "the target lies in the shoulder");
            };
            let at_target = matches!(used.outcome, PostureOutcome::Found(_));
            if let Some(reached) = refuting(at_target, reach) {
                let note = format!(
                    "a posture reaches {reached:+.4} m, beyond the {:+.4} m that were proven: the proof is wrong, which is a \
                     mistake in this program",
                    reach.upper
                );
                return Finding::failed(key, &measure, Kind::NotTold, note);
            }
            let help = Some(help(used, reach, measure.bar.value()));
            match &reach.found {
                Some((farthest, _)) => {
                    let bound = Bound { lower: *farthest, upper: reach.upper };
                    Finding::bounded(key, bound, &measure, (Kind::Proven, Kind::NotFound)).helped(help)
                }
                None => {
                    let proven = measure.bar.margin(reach.upper) < 0.0;
                    let kind = if proven { Kind::Proven } else { Kind::NotFound };
                    let note = format!(
                        "no posture anywhere on the ray in {} starts each; nothing beyond {:+.3} m is reached",
                        reach.starts, reach.upper
                    );
                    Finding::failed(key, &measure, kind, note).helped(help)
                }
            }
        })
        .collect()
}

/// What would bring the reach margin above its least value, m.
fn help(used: &UseCase, reach: &Reach, least: f64) -> String {
    let anything = || "a place of the plate nearer to the target, another detent, or a longer tool".to_owned();
    let farthest = reach.found.as_ref().map_or(reach.upper, |(farthest, _)| *farthest);
    if farthest >= least && reach.found.is_some() {
        return anything();
    }
    if let Some(odd) = advice::of_target(used) {
        return odd;
    }
    if farthest >= least {
        return "a plate turned towards the target, another detent, or another `axis`: by length the arm would do"
            .to_owned();
    }
    advice::nearer(used, least - farthest).unwrap_or_else(anything)
}

/// How far a posture reaches that lies beyond what is proven to be out of reach (m), if there is one; at the target itself,
/// within what a hand may be off it.
fn refuting(at_target: bool, reach: &Reach) -> Option<f64> {
    let farthest = reach.found.as_ref().map(|(farthest, _)| *farthest).filter(|farthest| *farthest > reach.upper);
    farthest.or((at_target && reach.upper < -HAND).then_some(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_posture_beyond_what_is_proven_refutes_the_proof() {
        let reach = |upper: f64| Reach { found: None, upper, starts: 4 };
        assert_eq!(refuting(true, &reach(-0.01)), Some(0.0));
        assert_eq!(refuting(true, &reach(-0.0005)), None, "a hand may be off its target by so much");
        assert_eq!(refuting(false, &reach(-0.01)), None);
    }
}
