//! What becomes of a plan's violations by an edit?
//!
//! # Law
//! The whole plan is checked again, with what is known and the edit does not touch. A cause is cleared where none of its
//! findings is violated any more. An edit is sound where it breaks nothing else: no violation has come, none has become worse
//! by more than [`WORSE`], and nothing that was checked before is unchecked.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use crate::check::{Checked, Finding, Key, Outcome, Progress, Silent, Status, Stopped, again};
use crate::files::Meshes;
use crate::model::{PlanEdit, Project};

use super::Cause;
use super::edited::edited;

/// By so much a violation that stays may change, in its unit: brackets of bounds are not the same from run to run.
const WORSE: f64 = 1e-3;

/// What an edit comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trial {
    /// No finding of the cause is violated.
    pub cleared: bool,
    /// Nothing else is broken by it.
    pub sound: bool,
    /// The worst margin of the cause's findings; less than any where one of them has no value.
    pub margin: f64,
    /// Time of all motions that are timed, s; none where none is.
    pub seconds: Option<f64>,
    /// Violations that are left in the plan.
    pub violations: usize,
}

impl Trial {
    pub const fn is_mend(&self) -> bool {
        self.cleared && self.sound
    }
}

/// Tries edits of one plan against one cause.
pub struct Trials<'a> {
    pub project: &'a Project,
    pub meshes: &'a Meshes,
    pub checked: &'a Checked,
    pub cause: &'a Cause,
    /// The cause's worst margin as the plan stands.
    pub margin: f64,
    margins: BTreeMap<&'a Key, f64>,
    unchecked: BTreeSet<&'a Key>,
    count: AtomicUsize,
    progress: &'a dyn Progress,
    stop: &'a AtomicBool,
}

impl<'a> Trials<'a> {
    pub fn new(
        (project, meshes): (&'a Project, &'a Meshes),
        checked: &'a Checked,
        cause: &'a Cause,
        (progress, stop): (&'a dyn Progress, &'a AtomicBool),
    ) -> Self {
        let outcome = &checked.outcome;
        Self {
            project,
            meshes,
            checked,
            cause,
            margin: worst_margin(outcome, cause),
            margins: violated(outcome),
            unchecked: unchecked(outcome),
            count: AtomicUsize::new(0),
            progress,
            stop,
        }
    }

    /// Checks the plan with edits.
    ///
    /// # Errors
    /// [`Stopped`] when the flag goes up.
    pub fn of(&self, edits: &[PlanEdit]) -> Result<Trial, Stopped> {
        let project = edited(self.project, edits);
        let outcome = again((&project, self.meshes), &self.checked.known, &Silent, self.stop)?.outcome;
        self.count.fetch_add(1, Ordering::Relaxed);
        self.progress.advance();
        let after = violated(&outcome);
        let is_new = |(key, margin): (&&Key, &f64)| {
            let before = self.margins.get(*key);
            before.is_none_or(|before| *margin < before - WORSE)
        };
        // What goes on being violated by the cause is for `cleared` to say.
        let mut others = after.iter().filter(|(key, _)| !self.cause.holds(key));
        Ok(Trial {
            cleared: !after.keys().any(|key| self.cause.holds(key)),
            sound: !others.any(is_new) && unchecked(&outcome).is_subset(&self.unchecked),
            margin: worst_margin(&outcome, self.cause),
            seconds: seconds(&outcome),
            violations: after.len(),
        })
    }

    /// The findings of the cause that are violated as the plan stands.
    pub fn violated(&self) -> impl Iterator<Item = &'a Finding> {
        let of_cause = |finding: &&Finding| finding.status.is_violation() && self.cause.holds(&finding.key);
        self.checked.outcome.findings.iter().filter(of_cause)
    }

    /// A search for an edit found none; it counts as one that was tried.
    pub fn note_search(&self) {
        self.count.fetch_add(1, Ordering::Relaxed);
    }

    /// How many edits were tried since this was asked last.
    pub fn take_count(&self) -> usize {
        self.count.swap(0, Ordering::Relaxed)
    }

    pub fn ends(&self) -> (&'a dyn Progress, &'a AtomicBool) {
        (self.progress, self.stop)
    }
}

/// Time of all motions that are timed, s; none where none is.
pub fn seconds(outcome: &Outcome) -> Option<f64> {
    outcome.motions.iter().filter_map(|motion| motion.seconds).reduce(|a, b| a + b)
}

/// Margins of what is violated; less than any where there is no value.
fn violated(outcome: &Outcome) -> BTreeMap<&Key, f64> {
    let mut found: BTreeMap<&Key, f64> = BTreeMap::new();
    for finding in outcome.findings.iter().filter(|finding| finding.status.is_violation()) {
        let margin = margin(finding);
        let known = found.entry(&finding.key).or_insert(margin);
        *known = known.min(margin);
    }
    found
}

fn unchecked(outcome: &Outcome) -> BTreeSet<&Key> {
    let not_checked = |finding: &&Finding| matches!(finding.status, Status::NotChecked(_));
    outcome.findings.iter().filter(not_checked).map(|finding| &finding.key).collect()
}

fn worst_margin(outcome: &Outcome, cause: &Cause) -> f64 {
    let of_cause = outcome.findings.iter().filter(|finding| cause.holds(&finding.key));
    of_cause
        .filter(|finding| finding.status.is_violation() || finding.margin.is_some())
        .map(margin)
        .fold(f64::INFINITY, f64::min)
}

fn margin(finding: &Finding) -> f64 {
    finding.margin.unwrap_or(f64::NEG_INFINITY)
}
