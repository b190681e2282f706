//! What shapes do the links of an arm have whose URDF gives none?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Angle, LinkShape};

/// What a URDF leaves out: shapes of links that have only a mesh, and accelerations.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ArmShapes {
    /// Greatest acceleration of every revolute joint; not checked where it is missing.
    #[serde(default, rename = "acceleration_deg_s2")]
    pub turn_acceleration: Option<Angle>,
    /// Greatest acceleration of every prismatic joint; not checked where it is missing.
    #[serde(default, rename = "acceleration_m_s2")]
    pub slide_acceleration: Option<f64>,
    /// Links whose shapes stand here, in place of those that the URDF gives.
    #[serde(default)]
    pub link: Vec<NamedLink>,
}

/// The shapes of one link of the URDF.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NamedLink {
    /// Name of the link in the URDF.
    pub name: String,
    /// Its shapes, in the frame of the URDF's link; an empty list where it has none.
    pub shape: Vec<LinkShape>,
}
