//! Which is the least change of a kind that mends?
//!
//! # Law
//! A value is changed one way by growing steps, all such ways side by side; ways by which the cause only gets worse are
//! dropped. The first size by which one mends is halved back towards the last that did not, to one step of the grid; of ways
//! that mend, the one with the least change counts, then the one that costs the least time. What cannot be put in an order
//! of size is tried in the order given.
//!
//! # Limits
//! Between the sizes that are tried a smaller change may mend, too; that none was found is no proof.

use rayon::prelude::*;

use crate::check::Stopped;
use crate::model::PlanEdit;

use super::trial::{Trial, Trials};

/// A value that is changed one way.
pub struct Axis<'a> {
    /// The edits for so many steps of the grid; none where the value would leave its range.
    pub edits: Box<dyn Fn(i64) -> Option<Vec<PlanEdit>> + Send + Sync + 'a>,
}

/// Edits that mend, and what they come to.
pub struct Least {
    pub edits: Vec<PlanEdit>,
    pub trial: Trial,
}

/// An axis, and what a size of it came to.
struct Step {
    axis: usize,
    /// The greatest size that did not mend.
    below: i64,
    size: i64,
    least: Least,
}

/// The least change along any of the axes, of sizes in growing order.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn along(axes: &[Axis], sizes: &[i64], trials: &Trials) -> Result<Option<Least>, Stopped> {
    let mut live: Vec<(usize, i64)> = (0..axes.len()).map(|axis| (axis, 0)).collect();
    for &size in sizes {
        let step = |&(axis, below): &(usize, i64)| {
            let Some(edits) = (axes[axis].edits)(size) else { return Ok(None) };
            let trial = trials.of(&edits)?;
            Ok(Some(Step { axis, below, size, least: Least { edits, trial } }))
        };
        let tried: Vec<Result<Option<Step>, Stopped>> = live.par_iter().map(step).collect();
        let tried: Vec<Step> = tried.into_iter().filter_map(Result::transpose).collect::<Result<_, Stopped>>()?;
        // Where a cause is cleared and something else breaks, a larger change may still do.
        let goes_on = |step: &&Step| step.least.trial.cleared || step.least.trial.margin >= trials.margin;
        live = tried.iter().filter(goes_on).map(|step| (step.axis, size)).collect();
        let cleared: Vec<Step> = tried.into_iter().filter(|step| step.least.trial.cleared).collect();
        let halved: Vec<Result<Option<(i64, Least)>, Stopped>> =
            cleared.into_par_iter().map(|step| halve(&axes[step.axis], step, trials)).collect();
        let mut best: Option<(i64, Least)> = None;
        for found in halved {
            let Some((size, least)) = found? else { continue };
            let rank = |size: i64, trial: &Trial| (size, trial.violations, trial.seconds);
            let is_less = |(known, other): &(i64, Least)| rank(size, &least.trial) < rank(*known, &other.trial);
            if best.as_ref().is_none_or(is_less) {
                best = Some((size, least));
            }
        }
        if let Some((_, least)) = best {
            return Ok(Some(least));
        }
    }
    Ok(None)
}

/// The least size that mends, between the last that did not and one that clears the cause.
fn halve(axis: &Axis, step: Step, trials: &Trials) -> Result<Option<(i64, Least)>, Stopped> {
    let Step { mut below, size: mut above, least, .. } = step;
    let mut best = least.trial.is_mend().then_some((above, least));
    while above - below > 1 {
        let middle = below.midpoint(above);
        let Some(edits) = (axis.edits)(middle) else { break };
        let trial = trials.of(&edits)?;
        // As long as none mends, the cause is cleared by too much.
        let is_enough = trial.is_mend() || (trial.cleared && best.is_none());
        if trial.is_mend() {
            best = Some((middle, Least { edits, trial }));
        }
        if is_enough {
            above = middle;
        } else {
            below = middle;
        }
    }
    Ok(best)
}

/// The first of a list that mends.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn first(list: Vec<Vec<PlanEdit>>, trials: &Trials) -> Result<Option<Least>, Stopped> {
    /// So many are tried side by side; the same on every machine, so that the count is, too.
    const TOGETHER: usize = 4;
    for some in list.chunks(TOGETHER) {
        let tried: Vec<Result<Trial, Stopped>> = some.par_iter().map(|edits| trials.of(edits)).collect();
        for (edits, trial) in some.iter().zip(tried) {
            let trial = trial?;
            if trial.is_mend() {
                return Ok(Some(Least { edits: edits.clone(), trial }));
            }
        }
    }
    Ok(None)
}
