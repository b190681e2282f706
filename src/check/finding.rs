//! What is one checked value against one limit?

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::model::{Bound, ClassPair, Who};
use crate::space::Point;

use super::grouping::Situation;

/// The row that every report is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    pub key: Key,
    /// Of a clearance: between which bodies.
    pub pair: Option<Pair>,
    pub value: Value,
    /// The limit, in `unit`; whether the value must lie above or below it.
    pub limit: Option<Bar>,
    /// How far the value is on the good side of the limit, in `unit`; negative is a violation. Of a bracket, the
    /// margin of its worse end, tolerances included.
    pub margin: Option<f64>,
    pub unit: Unit,
    /// When, and at which two points.
    pub at: Option<Moment>,
    pub status: Status,
    /// What else the engineer must know, such as a budget that was spent.
    pub note: Option<String>,
    /// Which move of what would help.
    pub help: Option<String>,
    /// Where the limit comes from.
    pub source: Option<String>,
}

impl Finding {
    /// The key of the one finding that would stand for a whole group of pairs if all of them kept their limit; none of a
    /// finding that is not about one pair of such a group.
    pub fn key_of_group(&self) -> Option<Key> {
        let Pair { classes, bodies: Some([a, b]), situation: Some(_) } = self.pair.as_ref()? else { return None };
        let beside = self.key.subject.strip_prefix(&pair_subject(a, b))?;
        Some(Key { subject: format!("{classes}{beside}"), ..self.key.clone() })
    }
}

/// How the subject of a finding about two bodies begins.
pub(super) fn pair_subject(a: &str, b: &str) -> String {
    format!("{a} – {b}")
}

/// What stays the same of a finding from run to run.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct Key {
    /// Name of the check.
    pub check: &'static str,
    pub place: Place,
    pub who: Option<Who>,
    /// The bodies, the joint or the target.
    pub subject: String,
}

/// The two bodies that a clearance is between.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pair {
    pub classes: ClassPair,
    /// Names of the two bodies; none where every pair of these classes is above the cap.
    pub bodies: Option<[String; 2]>,
    /// Under which of the limits of these classes; none where there is but one.
    pub situation: Option<Situation>,
}

/// Where in the plan a finding belongs.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(untagged)]
pub enum Place {
    /// A worksite, as visited in a step: `worksite`, `step`.
    Worksite { worksite: String, step: String },
    /// A motion, by its id.
    Motion { motion: String },
    /// A step as such.
    Step { step: String },
}

impl Place {
    /// The id of the worksite, motion or step.
    pub fn name(&self) -> &str {
        match self {
            Self::Worksite { worksite, .. } => worksite,
            Self::Motion { motion } => motion,
            Self::Step { step } => step,
        }
    }
}

/// A value and how it is known, in the finding's unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// Known exactly, to rounding.
    Exact(f64),
    /// Known to lie in a bracket: nominal, and its worse end, with tolerances where the check takes them off.
    Bounded { nominal: Bound, worst: f64 },
    /// Above a cap beyond which nothing is measured.
    Above(f64),
    /// From a stated sample: no bound.
    Sampled(f64),
    /// There is none.
    None,
}

/// A limit and its good side.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
pub enum Bar {
    AtLeast(f64),
    AtMost(f64),
}

impl Bar {
    /// The limit itself.
    pub const fn value(self) -> f64 {
        match self {
            Self::AtLeast(value) | Self::AtMost(value) => value,
        }
    }

    /// How far a value is on the good side.
    pub fn margin(self, value: f64) -> f64 {
        match self {
            Self::AtLeast(limit) => value - limit,
            Self::AtMost(limit) => limit - value,
        }
    }
}

/// Units of findings; SI and radians in memory.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    Metre,
    Radian,
    Share,
    Second,
    MetrePerSecond,
    RadianPerSecond,
}

impl Unit {
    /// Least width of the `tight` band where a limit states none: 20 mm, 2°, or a tenth of the limit where that is
    /// all that can be said.
    pub fn least_tight_band(self) -> f64 {
        match self {
            Self::Metre => 0.02,
            Self::Radian => std::f64::consts::PI / 90.0,
            Self::Share | Self::Second | Self::MetrePerSecond | Self::RadianPerSecond => 0.0,
        }
    }
}

/// When and where in space.
#[derive(Clone, Debug, PartialEq)]
pub struct Moment {
    /// Which segment of the motion or change of posture, from 0; none in a posture that is held.
    pub segment: Option<usize>,
    /// How many segments there are; none in a posture that is held.
    pub segments: Option<usize>,
    /// How far along the segment, 0 to 1.
    pub fraction: f64,
    /// Seconds from the start of the motion, if it is timed.
    pub seconds: Option<f64>,
    /// Values then of the joints that move: the arm's, the restraint's, the base's or the body's (rad or m); empty in a
    /// posture that is held.
    pub joints: Vec<f64>,
    /// The two nearest points, in the structure's frame.
    pub points: Option<[Point; 2]>,
}

/// What the comparison came to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Status {
    Ok,
    /// On the good side, but near the limit.
    Tight,
    Violation(Kind),
    /// Not checked, because …
    NotChecked(String),
}

/// What kind of no it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// The value lies beyond the limit as the plan stands.
    Nominal,
    /// Only with tolerances.
    WithTolerances,
    /// No solution exists.
    Proven,
    /// No solution was found; that is no proof.
    NotFound,
    /// The bracket could not be told from the limit within the budget.
    NotTold,
}

impl fmt::Display for Kind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Nominal => "as planned",
            Self::WithTolerances => "with tolerances",
            Self::Proven => "proven",
            Self::NotFound => "not found",
            Self::NotTold => "not told from the limit",
        })
    }
}

impl Status {
    /// The word of the status.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Ok => "ok",
            Self::Tight => "tight",
            Self::Violation(_) => "violation",
            Self::NotChecked(_) => "not checked",
        }
    }

    /// Whether it is a violation.
    pub const fn is_violation(&self) -> bool {
        matches!(self, Self::Violation(_))
    }

    /// Ok, tight or a violation of that kind, by a margin and the width of the tight band.
    pub fn of_margin(margin: f64, band: f64, kind: Kind) -> Self {
        // Written so that what is not a number is no yes.
        if margin >= 0.0 && margin >= band {
            Self::Ok
        } else if margin >= 0.0 {
            Self::Tight
        } else {
            Self::Violation(kind)
        }
    }
}
