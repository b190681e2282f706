//! What is fixed?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Place, Shape};

/// All that is fixed, in one frame: x forward, y left, z up, metres.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Structure {
    /// Truss runs.
    #[serde(default)]
    pub truss: Vec<Truss>,
    /// Cylindrical modules.
    #[serde(default)]
    pub module: Vec<Module>,
    /// Handrails.
    #[serde(default)]
    pub handrail: Vec<Handrail>,
    /// Sockets that take a foot restraint.
    #[serde(default)]
    pub socket: Vec<Socket>,
    /// Zones that nothing may enter.
    #[serde(default)]
    pub keep_out: Vec<KeepOut>,
    /// Single shapes.
    #[serde(default)]
    pub body: Vec<Fixed>,
}

/// A straight run of bays that starts at its place and leads along the place's x axis, of square or rectangular section about that axis:
/// `place` is the middle of the first frame. Four longerons, a frame of four battens at each bay's end, and one diagonal in each side of each bay.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Truss {
    pub id: String,
    #[serde(default)]
    pub place: Place,
    /// Number of bays, 1 to 1000.
    pub bays: u32,
    /// Length of a bay.
    pub bay_m: f64,
    /// Section across y, between the longerons' middle lines.
    pub width_m: f64,
    /// Section across z; as `width_m` where it is missing.
    #[serde(default)]
    pub height_m: Option<f64>,
    /// Radius of every member.
    pub member_radius_m: f64,
}

/// A cylinder along the x axis of its place; `place` is its middle, so half of the length lies on either side.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Module {
    pub id: String,
    #[serde(default)]
    pub place: Place,
    pub length_m: f64,
    pub radius_m: f64,
}

/// A rail between two points, on two posts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Handrail {
    pub id: String,
    pub from_m: [f64; 3],
    pub to_m: [f64; 3],
    pub radius_m: f64,
    /// From the rail's middle line to the surface that its posts stand on; no posts where it is missing.
    #[serde(default)]
    pub post_m: Option<[f64; 3]>,
}

/// A place where a foot restraint plugs in; z points out of the structure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Socket {
    pub id: String,
    pub place: Place,
}

/// A zone that nothing may enter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KeepOut {
    pub id: String,
    #[serde(default)]
    pub place: Place,
    pub shape: Shape,
}

/// One fixed shape.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Fixed {
    pub id: String,
    #[serde(default)]
    pub place: Place,
    pub shape: Shape,
}
