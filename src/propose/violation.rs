//! What is left of a finding that a limit is broken, once it is told or kept?

use serde::{Deserialize, Serialize};

use crate::check::{Bar, Finding, MotionKind, Place, Unit};
use crate::model::{BodyClass, ClassPair, Stature};

/// A limit that is broken: where, by how much, and what would help.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct Violation {
    /// Name of the check.
    pub check: String,
    /// The id of the worksite, motion or step.
    pub place: String,
    /// Whether that is a worksite.
    pub at_worksite: bool,
    /// The two bodies, the joint or the target.
    pub subject: String,
    /// Of a clearance, the classes of the two bodies.
    pub classes: Option<[BodyClass; 2]>,
    /// In `unit`; below zero.
    pub margin: Option<f64>,
    /// In `unit`.
    pub limit: Option<Bar>,
    pub unit: Unit,
    pub note: Option<String>,
    pub help: Option<String>,
}

impl Violation {
    /// Of a finding.
    pub fn of(finding: &Finding) -> Self {
        let bodies = finding.pair.as_ref().and_then(|pair| pair.bodies.as_ref());
        Self {
            check: finding.key.check.to_owned(),
            place: finding.key.place.name().to_owned(),
            at_worksite: matches!(finding.key.place, Place::Worksite { .. }),
            subject: bodies.map_or_else(|| finding.key.subject.clone(), |[a, b]| format!("{a} to {b}")),
            classes: finding.pair.as_ref().map(|pair| pair.classes.classes().into()),
            margin: finding.margin,
            limit: finding.limit,
            unit: finding.unit,
            note: finding.note.clone(),
            help: finding.help.clone(),
        }
    }

    /// The same, of a rider of another stature than the plan's.
    pub fn with(mut self, size: Option<Stature>) -> Self {
        if let Some(size) = size {
            self.subject = format!("{}, with a rider of {size}", self.subject);
        }
        self
    }

    /// All of some findings that say so.
    pub fn all<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> Vec<Self> {
        findings.into_iter().filter(|finding| finding.status.is_violation()).map(Self::of).collect()
    }

    /// The pair of classes, as the plan's limits name it.
    pub fn pair(&self) -> Option<ClassPair> {
        self.classes.map(|[a, b]| ClassPair::new(a, b))
    }

    /// Whether it is about the base on its way.
    pub fn is_of_base(&self) -> bool {
        self.place.split_once('/').is_some_and(|(_, kind)| kind == MotionKind::Base.word())
    }
}
