//! What is the least change of each kind by which a violation goes?
//!
//! # Law
//! A [`Cause`] is what one check finds violated at one place. For each kind of change ([`Way`]) that can bear on it, the
//! least one is looked for ([`least`]); it counts only where the whole plan, checked again with it, has the cause no more and
//! nothing else broken ([`trial`]). Limits and tolerances are never changed.
//!
//! The same plan gives the same mends, on any number of threads; every budget is a count.
//!
//! # Limits
//! One change at a time, of one kind; "none found" is no proof that there is none.

mod edited;
mod least;
mod trial;
mod values;
mod way;

use std::ops::ControlFlow;
use std::sync::atomic::AtomicBool;

use crate::check::{Checked, Key, MotionKind, Place, Progress, Stopped, go_on};
use crate::files::Meshes;
use crate::model::{Deed, PlanEdit, Project, Step, Who};

pub use edited::edited;
pub use way::Way;

use least::Least;
use trial::Trials;

/// What one check finds violated at one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cause {
    pub check: &'static str,
    pub place: Place,
    pub who: Option<Who>,
}

impl Cause {
    /// Whether a finding of this key belongs to it.
    pub fn holds(&self, key: &Key) -> bool {
        key.check == self.check && key.place == self.place && key.who == self.who
    }
}

/// A change by which a cause goes and nothing else breaks.
#[derive(Clone, Debug, PartialEq)]
pub struct Mend {
    pub edits: Vec<PlanEdit>,
    /// By how much longer all timed motions of the plan take together, s; none where none is timed.
    pub longer: Option<f64>,
    /// Violations that the plan has left with it, of other causes.
    pub left: usize,
}

/// What was looked for in one way, and what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Sought {
    pub way: Way,
    /// Plans that were checked for it, and searches for waypoints that found none.
    pub tried: usize,
    pub mend: Option<Mend>,
}

impl Sought {
    /// That none was found, of how many, and how far it was looked for.
    pub fn none_found(&self) -> String {
        let within = self.way.farthest().map_or_else(String::new, |farthest| format!("within {farthest}, "));
        format!("none found {within}{} tried", self.tried)
    }
}

/// A cause with all that was looked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Mended {
    pub cause: Cause,
    pub sought: Vec<Sought>,
}

/// The worksite, or the rider's transit, that a cause bears on: what `propose` can look for anew; none where it can't.
pub fn proposable<'a>(project: &'a Project, cause: &'a Cause) -> Option<&'a str> {
    let (step, kind) = match &cause.place {
        _ if cause.who == Some(Who::SecondCrew) => return None,
        Place::Worksite { worksite, .. } => return Some(worksite),
        Place::Motion { motion } => motion.split_once('/')?,
        Place::Step { step } => (step.as_str(), MotionKind::Transit.word()),
    };
    let number = project.plan.step_number(step)?;
    let of_rider = |step: &&Step| step.who == Who::Rider && matches!(step.deed, Deed::Ingress | Deed::Transit);
    let arriving = |steps: &'a [Step]| steps.iter().rev().find(of_rider)?.to.as_deref();
    match kind {
        kind if kind == MotionKind::Approach.word() => arriving(&project.plan.step[..=number]),
        kind if kind == MotionKind::Retreat.word() => arriving(&project.plan.step[..number]),
        _ => (project.plan.step[number].deed == Deed::Transit).then_some(step),
    }
}

/// All mends in their order; each has its number from 1.
pub fn numbered(mended: &[Mended]) -> impl Iterator<Item = (usize, &Mend)> {
    let all = mended.iter().flat_map(|mended| &mended.sought);
    all.filter_map(|sought| sought.mend.as_ref()).enumerate().map(|(at, mend)| (at + 1, mend))
}

/// Looks for mends of each cause; where so many as `most` are found, no more are looked for.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn mend(
    plan: (&Project, &Meshes),
    (checked, causes): (&Checked, &[Cause]),
    most: Option<usize>,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Vec<Mended>, Stopped> {
    let mut found = 0;
    let mut mended = Vec::new();
    for cause in causes {
        let mut sought = Vec::new();
        if most.is_none_or(|most| found < most) {
            each(plan, (checked, cause), (progress, stop), |one| {
                found += usize::from(one.mend.is_some());
                sought.push(one);
                if most.is_some_and(|most| found >= most) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
            })?;
        }
        mended.push(Mended { cause: cause.clone(), sought });
    }
    Ok(mended)
}

/// Looks for mends of a cause, one kind after the other; hands on what came of each, and goes on as it is told to.
///
/// # Errors
/// [`Stopped`] when the flag goes up.
pub fn each(
    plan: (&Project, &Meshes),
    (checked, cause): (&Checked, &Cause),
    (progress, stop): (&dyn Progress, &AtomicBool),
    mut then: impl FnMut(Sought) -> ControlFlow<()>,
) -> Result<(), Stopped> {
    let before = trial::seconds(&checked.outcome);
    let trials = Trials::new(plan, checked, cause, (progress, stop));
    for way in way::ways(&trials) {
        go_on(stop)?;
        progress.begin(&format!("{}: {way}", cause.place.name()), way::EXPECTED_TRIALS);
        let mend = way.least(&trials)?.map(|Least { edits, trial }| Mend {
            edits,
            longer: trial.seconds.zip(before).map(|(after, before)| after - before),
            left: trial.violations,
        });
        let tried = trials.take_count();
        // Where there is nothing else to take, there is nothing to say.
        if tried > 0 && then(Sought { way, tried, mend }).is_break() {
            break;
        }
    }
    Ok(())
}
