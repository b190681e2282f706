//! Where does something stand, as written in a file?

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// An angle: degrees in files (the key says `_deg`), radians in memory.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, JsonSchema)]
#[schemars(transparent)]
pub struct Angle(f64);

impl Angle {
    /// An angle of so many radians.
    pub const fn from_radians(radians: f64) -> Self {
        Self(radians)
    }

    /// An angle of so many degrees.
    pub fn from_degrees(degrees: f64) -> Self {
        Self(degrees.to_radians())
    }

    /// The angle in radians.
    pub const fn radians(self) -> f64 {
        self.0
    }

    /// The angle in degrees.
    pub fn degrees(self) -> f64 {
        self.0.to_degrees()
    }
}

/// In radians.
impl From<Angle> for f64 {
    fn from(angle: Angle) -> Self {
        angle.radians()
    }
}

impl<'de> Deserialize<'de> for Angle {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        f64::deserialize(deserializer).map(Self::from_degrees)
    }
}

impl Serialize for Angle {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(self.degrees())
    }
}

/// A frame placed in another: first turned, then moved.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// Origin, metres.
    #[serde(default)]
    pub at_m: [f64; 3],
    /// Roll, pitch and yaw about the fixed x, y and z axes, in that order, degrees (as URDF does).
    #[serde(default, rename = "rpy_deg", skip_serializing_if = "Option::is_none")]
    pub rpy: Option<[Angle; 3]>,
    /// Rotation as a quaternion x, y, z, w; at most one of `rpy_deg` and `quat_xyzw`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quat_xyzw: Option<[f64; 4]>,
}
