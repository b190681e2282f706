//! What is the plan, and what does it draw on?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

use super::{
    Angle, Arm, Contact, Crew, Limits, LinkShape, Place, Restraint, Step, Structure, Suit, Tolerances, Worksite,
};

/// A plan, as `plan.toml` has it; other files by relative path.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    pub title: String,
    /// Seed of everything that draws random numbers.
    #[serde(default)]
    pub seed: u64,
    /// Most nodes of the trees that are grown when a transit is looked for; a first look, which tells one setting of a
    /// worksite from another, has a fifth of them, and each search of `mend` a quarter.
    #[serde(default = "default_transit_nodes")]
    pub transit_nodes: u32,
    /// Path of the structure file.
    pub structure: String,
    /// Path of the arm file, TOML or URDF.
    pub arm: String,
    /// Base and tip link of the arm, where it is a URDF.
    #[serde(default)]
    pub arm_links: Option<[String; 2]>,
    /// Path of a file with what the URDF leaves out: shapes of links, and accelerations.
    #[serde(default)]
    pub arm_shapes: Option<String>,
    /// Path of the restraint file; both crewmembers use such a restraint.
    pub restraint: String,
    /// Path of the suit file; the invented defaults where it is missing.
    #[serde(default)]
    pub suit: Option<String>,
    /// On an approach or retreat, the at-work limits hold where the tip is this near to the worksite.
    #[serde(default = "default_near_worksite_m")]
    pub near_worksite_m: f64,
    /// Pairs farther apart than this are not measured.
    #[serde(default = "default_cap_m")]
    pub cap_m: f64,
    #[serde(default)]
    pub rider: Crew,
    #[serde(default)]
    pub second_crew: Crew,
    #[serde(default)]
    pub limits: Limits,
    #[serde(default)]
    pub tolerances: Tolerances,
    /// Places where the arm's base can be.
    pub stand: Vec<Stand>,
    /// Places where a payload can be.
    #[serde(default)]
    pub seat: Vec<Seat>,
    #[serde(default)]
    pub payload: Vec<Payload>,
    /// Named carrying postures.
    #[serde(default)]
    pub posture: Vec<Posture>,
    pub worksite: Vec<Worksite>,
    #[serde(default)]
    pub contact: Vec<Contact>,
    /// Cameras on the structure, for pictures.
    #[serde(default)]
    pub camera: Vec<Camera>,
    pub step: Vec<Step>,
}

impl Plan {
    /// The place in the order of work of the step of an id, its own or the one that it has without.
    pub fn step_number(&self, id: &str) -> Option<usize> {
        (0..self.step.len()).find(|number| self.step[*number].id_at(*number) == id)
    }
}

/// [`Plan::transit_nodes`] where a plan says nothing of it.
pub const MOST_TRANSIT_NODES: u32 = 40_000;

fn default_transit_nodes() -> u32 {
    MOST_TRANSIT_NODES
}

fn default_near_worksite_m() -> f64 {
    0.6
}

fn default_cap_m() -> f64 {
    2.0
}

/// A place where the arm's base can be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stand {
    pub id: String,
    /// The base's frame in the structure's frame.
    pub place: Place,
}

/// A camera on the structure: it measures nothing, it shows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Camera {
    pub id: String,
    /// In the structure's frame: it looks along x, its top towards z.
    pub place: Place,
    /// Field of view from top to bottom.
    #[serde(default = "default_field", rename = "field_deg")]
    pub field: Angle,
}

fn default_field() -> Angle {
    Angle::from_degrees(45.0)
}

/// A place where a payload can be.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Seat {
    pub id: String,
    /// The payload's frame in the structure's frame.
    pub place: Place,
}

/// Something that can be taken, carried and placed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Payload {
    pub id: String,
    /// The seat that it is in at the start.
    pub seat: String,
    pub mass_kg: f64,
    /// Its shapes, in its own frame.
    pub shape: Vec<LinkShape>,
    /// Where the left hand holds it, in its own frame.
    pub left_handle_m: [f64; 3],
    /// Where the right hand holds it, in its own frame.
    pub right_handle_m: [f64; 3],
}

/// A carrying posture: body joints by name, the others neutral.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Posture {
    pub id: String,
    /// Body joints by name.
    #[serde(default, rename = "joints_deg")]
    pub joints: BTreeMap<String, Angle>,
}

/// A plan with everything that it draws on.
#[derive(Clone, Debug, PartialEq)]
pub struct Project {
    pub plan: Plan,
    pub structure: Structure,
    pub arm: Arm,
    pub restraint: Restraint,
    pub suit: Suit,
}
