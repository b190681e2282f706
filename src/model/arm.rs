//! What is the arm?

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Angle, Place, Shape};

/// A serial arm of 1 to 12 joints.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Arm {
    /// What it is, in a line; printed.
    #[serde(default)]
    pub title: String,
    /// Shapes that stand still with the base, in the base's frame.
    #[serde(default)]
    pub base: Vec<LinkShape>,
    /// Joints from base to tip.
    pub joint: Vec<ArmJoint>,
    /// The tip's frame in the last link's frame; a restraint or payload plugs in here.
    #[serde(default)]
    pub tip: Place,
    /// What a tip pose asks of the arm.
    #[serde(default)]
    pub tip_meets: TipMeets,
}

/// What inverse kinematics must meet.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TipMeets {
    /// Position and orientation.
    #[default]
    Pose,
    /// Position and the direction of the tip's z axis.
    PositionAndAxis,
    /// Position alone.
    Position,
}

/// One joint and the link that it carries.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ArmJoint {
    pub name: String,
    pub kind: JointKind,
    /// The joint's frame (the link's at zero) in the frame of the link before.
    #[serde(default)]
    pub place: Place,
    /// Axis in the joint's frame.
    pub axis: [f64; 3],
    /// Lowest and highest angle; revolute joints only.
    #[serde(default, rename = "limits_deg")]
    pub turn_limits: Option<[Angle; 2]>,
    /// Lowest and highest travel; prismatic joints only.
    #[serde(default, rename = "limits_m")]
    pub slide_limits: Option<[f64; 2]>,
    /// Greatest rate; revolute joints only.
    #[serde(default, rename = "rate_deg_s")]
    pub turn_rate: Option<Angle>,
    /// Greatest rate; prismatic joints only.
    #[serde(default, rename = "rate_m_s")]
    pub slide_rate: Option<f64>,
    /// Greatest acceleration; revolute joints only.
    #[serde(default, rename = "acceleration_deg_s2")]
    pub turn_acceleration: Option<Angle>,
    /// Greatest acceleration; prismatic joints only.
    #[serde(default, rename = "acceleration_m_s2")]
    pub slide_acceleration: Option<f64>,
    /// Shapes of the link that this joint carries, in that link's frame.
    #[serde(default)]
    pub shape: Vec<LinkShape>,
}

/// How a joint moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum JointKind {
    /// Turns about its axis.
    Revolute,
    /// Slides along its axis.
    Prismatic,
}

/// One shape of a link.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LinkShape {
    pub id: String,
    /// In the link's frame.
    #[serde(default)]
    pub place: Place,
    pub shape: Shape,
}
