//! What can happen in a plan?

use std::sync::Arc;

use crate::model::Who;
use crate::motion::Segment;
use crate::space::Pose;

use super::base_way::BaseMotion;
use super::line::{Line, LineFault};
use super::moment::Moment;
use super::stance::Stance;

/// Kinds of motion. A step `transit` is up to three of them, the middle one a transit, too.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MotionKind {
    /// The restraint's joints are set, one after another, while the arm stands still.
    Setting,
    Retreat,
    Transit,
    Approach,
    Base,
}

impl MotionKind {
    /// Whether the joints of the arm are what moves.
    pub const fn is_of_arm(self) -> bool {
        match self {
            Self::Retreat | Self::Transit | Self::Approach => true,
            Self::Setting | Self::Base => false,
        }
    }

    /// The word of the kind.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Setting => "setting",
            Self::Retreat => "retreat",
            Self::Transit => "transit",
            Self::Approach => "approach",
            Self::Base => "base",
        }
    }
}

/// Something that happens, in the plan's order.
#[derive(Clone, Debug)]
pub enum Event {
    /// A crewmember gets into a posture to stand or to be carried.
    Stance(Arc<Stance>),
    Stay(Arc<Stay>),
    Move(Arc<Move>),
    NotChecked {
        step: String,
        who: Who,
        reason: String,
    },
}

/// A crewmember at rest at a worksite, doing something.
#[derive(Clone, Debug, PartialEq)]
pub struct Stay {
    pub step: String,
    pub worksite: String,
    pub who: Who,
    /// As it is while this is done.
    pub moment: Moment,
    pub doing: Doing,
}

/// What is done during a stay.
#[derive(Clone, Debug, PartialEq)]
pub enum Doing {
    /// Hands work on these targets, one after another.
    Work { targets: Vec<String> },
    /// Both hands take hold of a payload (its number in the plan).
    Take { payload: usize },
    /// Both hands put a payload down; where it is, and where its seat is.
    Place { payload: usize, structure_from_payload: Pose, structure_from_seat: Pose },
}

/// The arm, its base or the restraint moves, at rest at both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// `step/kind`.
    pub id: String,
    pub step: String,
    pub kind: MotionKind,
    /// As it is at the start.
    pub moment: Moment,
    /// The way of the base, where it is the base that moves.
    pub base: Option<BaseMotion>,
    pub segments: Vec<Segment>,
    /// Of each segment, the greatest distance of the tip's wanted place from the worksite, m; infinite on a transit.
    pub distances: Vec<f64>,
    /// Of each segment, the duration that the plan fixes, s.
    pub fixed_seconds: Vec<Option<f64>>,
    pub line: Option<Line>,
    /// The steps whose contacts hold.
    pub contact_steps: Vec<String>,
    /// Why there is no such motion.
    pub fault: Option<Fault>,
}

/// Why a motion of the plan cannot be laid out.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    Line(LineFault),
    /// The tip pose of a waypoint was not reached: its number from 1, the error (m, turns times 1 m), the starts.
    Waypoint {
        number: usize,
        error: f64,
        starts: usize,
    },
    /// The base's way isn't given.
    NoWay,
    /// The base's way does not lead to its stand: short by m and rad.
    WayEndsElsewhere {
        distance: f64,
        turn: f64,
    },
    /// The worksite is served from another stand.
    OtherStand {
        stands_at: String,
        served_from: String,
    },
}
