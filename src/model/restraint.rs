//! What is the foot restraint?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Angle, LinkShape, Place};

/// A boot plate on adjustable joints; plugs into an arm tip or a socket, whose z axis runs into the restraint.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Restraint {
    #[serde(default)]
    pub title: String,
    /// Shapes before the first joint, in the frame of the plug.
    #[serde(default)]
    pub base: Vec<LinkShape>,
    /// Joints from plug to plate.
    #[serde(default)]
    pub joint: Vec<RestraintJoint>,
    /// The plate's frame in the last link's frame: origin between the boots on the plate's face, x where the toes
    /// point, y left, z out of the plate, towards the head.
    #[serde(default)]
    pub plate: Place,
    /// Between the middle lines of the two boots.
    pub boot_spacing_m: f64,
}

/// One adjustable joint of a restraint; it turns, and holds only at its detents.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RestraintJoint {
    pub name: String,
    /// The joint's frame (the link's at zero) in the frame of the link before.
    #[serde(default)]
    pub place: Place,
    /// Axis in the joint's frame.
    pub axis: [f64; 3],
    /// The settings that it can hold.
    #[serde(rename = "detents_deg")]
    pub detents: Vec<Angle>,
    /// Shapes of the link that this joint carries, in that link's frame.
    #[serde(default)]
    pub shape: Vec<LinkShape>,
}
