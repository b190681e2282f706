//! What is done, by whom, in which order?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Angle, Place};

/// One of the two crewmembers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Who {
    /// The one whom the arm carries.
    #[default]
    Rider,
    /// The one who moves by handrail.
    SecondCrew,
}

/// One entry of the order of work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// A name to refer to; `step-1`, `step-2`, … where it is missing.
    #[serde(default)]
    pub id: Option<String>,
    #[serde(default)]
    pub who: Who,
    /// What is done.
    #[serde(rename = "do")]
    pub deed: Deed,
    /// The worksite: where one gets in (`ingress`) or goes to (`transit`).
    #[serde(default)]
    pub to: Option<String>,
    /// The stand that the base moves to (`move-base`).
    #[serde(default)]
    pub stand: Option<String>,
    /// The way of the base (`move-base`).
    #[serde(default)]
    pub way: Option<BaseWay>,
    /// Carrying posture (`ingress`, `transit`, `move-base`): the id of a posture; neutral where it is missing. None
    /// while the hands hold a payload: they stay on its handles.
    #[serde(default)]
    pub posture: Option<String>,
    /// Waypoints of the transit, between the end of the retreat and the start of the approach.
    #[serde(default)]
    pub waypoint: Vec<Waypoint>,
    /// The payload that is taken or placed.
    #[serde(default)]
    pub payload: Option<String>,
    /// Where the payload is placed.
    #[serde(default)]
    pub seat: Option<String>,
    /// The targets worked on (`work`); all of one's own at this worksite where it is missing.
    #[serde(default)]
    pub targets: Option<Vec<String>>,
    /// Longest time that the motions of this step may take.
    #[serde(default)]
    pub at_most_min: Option<f64>,
}

impl Step {
    /// Its id, by which everything refers to it; `index` is its place in the plan, from 0.
    pub fn id_at(&self, index: usize) -> String {
        self.id.clone().unwrap_or_else(|| step_id(index))
    }
}

/// The id of a step that the plan gives none; `index` is its place in the plan, from 0.
pub fn step_id(index: usize) -> String {
    format!("step-{}", index + 1)
}

/// What a step does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Deed {
    /// Gets into the restraint at a worksite.
    Ingress,
    /// Gets out of it.
    Egress,
    /// The arm carries the rider to a worksite: retreat, transit, approach.
    Transit,
    /// Hands work on targets.
    Work,
    /// Both hands take a payload out of its seat.
    Take,
    /// Both hands place the payload into a seat.
    Place,
    /// The arm's base moves to another stand.
    MoveBase,
}

/// How the base gets from one stand to the next.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum BaseWay {
    /// Straight along a rail; both stands have the same orientation.
    Rail {},
    /// By a turn about a fixed axis.
    Turntable {
        /// A point of the axis.
        at_m: [f64; 3],
        /// Its direction.
        axis: [f64; 3],
        /// Signed angle of the turn.
        #[serde(rename = "angle_deg")]
        angle: Angle,
    },
}

/// A configuration that a motion passes through: joint values, or a tip pose.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Waypoint {
    /// In the arm's order: degrees (revolute) or metres (prismatic).
    #[serde(default, rename = "joints_deg_m")]
    pub joints: Option<Vec<f64>>,
    /// The tip's place in the structure's frame, resolved from the waypoint before.
    #[serde(default)]
    pub tip: Option<Place>,
    /// Fixed duration of the segment that ends here; checked against the limits.
    #[serde(default)]
    pub duration_s: Option<f64>,
}
