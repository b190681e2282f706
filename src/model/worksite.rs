//! Where is work done, and at what?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Angle, Who};

/// A named place of work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Worksite {
    pub id: String,
    /// The rider comes in along this direction, in the structure's frame.
    pub approach: [f64; 3],
    /// Length of the straight approach and retreat.
    #[serde(default = "default_approach_m")]
    pub approach_m: f64,
    /// The stand from which the arm serves this worksite. Left out, it is open: `propose` chooses it.
    #[serde(default)]
    pub stand: String,
    /// The arm's configuration at the worksite, in the arm's order: degrees (revolute) or metres (prismatic). Left out,
    /// it is open: `propose` finds it.
    #[serde(default, rename = "joints_deg_m")]
    pub joints: Vec<f64>,
    /// Settings of the rider's restraint, in its order; each must be one of its detents. Left out, they are open:
    /// `propose` finds them.
    #[serde(default, rename = "detents_deg")]
    pub detents: Vec<Angle>,
    /// What hands or tools must get to.
    #[serde(default)]
    pub target: Vec<Target>,
    /// Where the second crew stands, if they work here.
    #[serde(default)]
    pub second_crew: Option<SecondPlace>,
}

fn default_approach_m() -> f64 {
    1.0
}

/// A structure-mounted restraint for the second crew.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SecondPlace {
    /// Socket of the structure.
    pub socket: String,
    /// Settings of the restraint there, in its order. Left out, they are open: `propose` finds them.
    #[serde(default, rename = "detents_deg")]
    pub detents: Vec<Angle>,
}

/// A thing that a hand or tool must get to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Target {
    pub id: String,
    /// In the structure's frame.
    pub at_m: [f64; 3],
    /// The direction in which the tool pushes: from the hand into the target.
    pub axis: [f64; 3],
    /// The tool's axis may stray so far from `axis`.
    #[serde(default = "default_cone", rename = "cone_deg")]
    pub cone: Angle,
    /// From the grip of the hand to the tool's end on the target; 0: the bare glove.
    #[serde(default)]
    pub tool_m: f64,
    /// Which hand may do it, or both.
    #[serde(default)]
    pub hands: Hands,
    /// Whose target it is.
    #[serde(default)]
    pub who: Who,
    /// Radius of the disc about the target that the eyes must see.
    #[serde(default = "default_disc_m")]
    pub disc_m: f64,
    /// Free straight way of glove and tool along the axis, back from the target.
    #[serde(default = "default_access_m")]
    pub access_m: f64,
    /// Bodies that this target belongs to: glove and tool may touch them while they work on it, and enter them as far
    /// as `limits.overlap_on_target_m` says. Each is a body, or all bodies below a name that ends in `/`; never all of
    /// a kind, and no keep-out zone.
    #[serde(default)]
    pub on: Vec<String>,
}

fn default_cone() -> Angle {
    Angle::from_degrees(15.0)
}

fn default_disc_m() -> f64 {
    0.03
}

fn default_access_m() -> f64 {
    0.10
}

/// Which hand does it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Hands {
    Left,
    Right,
    /// The better of the two.
    #[default]
    Either,
    /// Both at once, side by side across the target's axis.
    Both,
}
