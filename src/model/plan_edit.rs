//! Which single changes can be made to a plan?
//!
//! A change names what it changes by id and says the new value in the units of the plan's file. Whoever wants one sends
//! it; the files layer applies it to the text, so that there is one place where plans change.

use std::fmt;

use super::{Crew, Hands, Place, Regime, Who};

/// One change of a plan, in the file's own units.
#[derive(Clone, Debug, PartialEq)]
pub enum PlanEdit {
    /// A waypoint of a transit becomes these joint values (degrees or metres, the arm's order).
    SetWaypoint { step: String, waypoint: usize, joints: Vec<f64> },
    /// A waypoint is put in before the one of that number, or at the end.
    AddWaypoint { step: String, waypoint: usize, joints: Vec<f64> },
    /// A waypoint is taken out.
    RemoveWaypoint { step: String, waypoint: usize },
    /// The arm's configuration at a worksite (degrees or metres, the arm's order).
    SetConfiguration { worksite: String, joints: Vec<f64> },
    /// The restraint's settings at a worksite, degrees: the rider's, or the second crew's own.
    SetDetents { worksite: String, who: Who, detents: Vec<f64> },
    /// The stand from which a worksite is served.
    SetStand { worksite: String, stand: String },
    /// Where a stand is.
    SetStandPlace { stand: String, place: Place },
    /// The size of a crewmember.
    SetCrew { who: Who, crew: Crew },
    /// Which hand does a target.
    SetHands { worksite: String, target: String, hands: Hands },
    /// Where a target is, in the structure's frame.
    SetTargetPlace { worksite: String, target: String, at_m: [f64; 3] },
    /// The fixed duration of the segment that ends at a waypoint.
    SetDuration { step: String, waypoint: usize, seconds: f64 },
    /// The least clearance of a pair of classes (`payload_to_structure`), or `default`, m.
    SetClearance { regime: Regime, pair: String, at_least: f64 },
}

impl PlanEdit {
    /// Whether both change the same thing, so that they cannot be made together as each was meant: for waypoints and their
    /// durations, any of the same step.
    pub fn clashes_with(&self, other: &Self) -> bool {
        self.subject() == other.subject()
    }

    /// What is changed: its kind, whose it is, and which one.
    fn subject(&self) -> (&'static str, &str, &str) {
        let of = |who: &Who| match who {
            Who::Rider => "rider",
            Who::SecondCrew => "second crew",
        };
        match self {
            Self::SetWaypoint { step, .. }
            | Self::AddWaypoint { step, .. }
            | Self::RemoveWaypoint { step, .. }
            | Self::SetDuration { step, .. } => ("waypoints", step, ""),
            Self::SetConfiguration { worksite, .. } => ("configuration", worksite, ""),
            Self::SetDetents { worksite, who, .. } => ("detents", worksite, of(who)),
            Self::SetStand { worksite, .. } => ("stand", worksite, ""),
            Self::SetStandPlace { stand, .. } => ("place of a stand", stand, ""),
            Self::SetCrew { who, .. } => ("size", of(who), ""),
            Self::SetHands { worksite, target, .. } => ("hands", worksite, target),
            Self::SetTargetPlace { worksite, target, .. } => ("place of a target", worksite, target),
            Self::SetClearance { regime: Regime::Moving, pair, .. } => ("clearance", "", pair),
            Self::SetClearance { regime: Regime::AtWork, pair, .. } => ("clearance at work", "", pair),
            Self::SetClearance { regime: Regime::Stopping, pair, .. } => ("clearance in stopping", "", pair),
        }
    }
}

impl fmt::Display for PlanEdit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::SetWaypoint { step, waypoint, .. } => write!(f, "waypoint {} of {step}", waypoint + 1),
            Self::AddWaypoint { step, waypoint, .. } => write!(f, "a new waypoint {} of {step}", waypoint + 1),
            Self::RemoveWaypoint { step, waypoint } => write!(f, "waypoint {} of {step} taken out", waypoint + 1),
            Self::SetConfiguration { worksite, .. } => write!(f, "the arm at {worksite}"),
            Self::SetDetents { worksite, .. } => write!(f, "the restraint at {worksite}"),
            Self::SetStand { worksite, stand } => write!(f, "{worksite} from {stand}"),
            Self::SetStandPlace { stand, .. } => write!(f, "the place of {stand}"),
            Self::SetCrew { who: Who::Rider, .. } => f.write_str("the rider's size"),
            Self::SetCrew { who: Who::SecondCrew, .. } => f.write_str("the second crew's size"),
            Self::SetHands { worksite, target, .. } => write!(f, "the hands at {target} of {worksite}"),
            Self::SetTargetPlace { worksite, target, .. } => write!(f, "the place of {target} of {worksite}"),
            Self::SetDuration { step, waypoint, .. } => {
                write!(f, "the duration to waypoint {} of {step}", waypoint + 1)
            }
            Self::SetClearance { pair, at_least, .. } => write!(f, "least clearance {pair} {at_least} m"),
        }
    }
}
