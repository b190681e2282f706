//! Which limits and tolerances hold?

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Angle, AtLeast, AtMost, ClassPair, DEEPEST_OVERLAP};

/// In which situation a clearance limit holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Regime {
    /// While the arm moves.
    Moving,
    /// At rest at a worksite, and on the last stretch of an approach.
    AtWork,
    /// Where the arm would come to rest if it were stopped.
    Stopping,
}

/// Least clearance by pair of classes, for one situation.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClearanceLimits {
    /// `default`, and pairs of classes such as `payload_to_structure`. Below 0 it allows an overlap, of 0.10 at most.
    #[serde(default)]
    pub clearance_m: BTreeMap<String, AtLeast>,
}

impl ClearanceLimits {
    /// The limit that the file states for a pair: its own, else the file's default, else none.
    pub fn stated(&self, pair: ClassPair) -> Option<&AtLeast> {
        self.clearance_m
            .iter()
            .find(|(key, _)| ClassPair::from_key(key) == Some(pair))
            .map(|(_, limit)| limit)
            .or_else(|| self.clearance_m.get("default"))
    }
}

/// Greatest tip speeds by what the arm carries and how near it is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct TipSpeeds {
    pub unloaded: f64,
    pub with_rider: f64,
    pub with_payload: f64,
    /// While anything that hangs on the tip is within `near_structure_m` of structure; holds where it is less than the
    /// others. Not set: nearness slows nothing.
    pub near_structure: Option<f64>,
}

impl Default for TipSpeeds {
    /// Common practice, no source.
    fn default() -> Self {
        Self { unloaded: 0.37, with_rider: 0.15, with_payload: 0.06, near_structure: None }
    }
}

/// All limits of a plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Limits {
    /// While the arm moves.
    pub moving: ClearanceLimits,
    /// At rest at a worksite, and within `near_worksite_m` of it on an approach or retreat.
    pub at_work: ClearanceLimits,
    /// Where the arm would come to rest.
    pub stopping: ClearanceLimits,
    /// Least reach margin.
    pub reach_m: AtLeast,
    /// Least distance of the arm's joints from their limits, revolute joints.
    #[serde(rename = "arm_joint_deg")]
    pub arm_joint: AtLeast<Angle>,
    /// Least distance of the arm's joints from their limits, prismatic joints.
    pub arm_joint_m: AtLeast,
    /// Least distance of body joints from the suit's limits.
    #[serde(rename = "body_joint_deg")]
    pub body_joint: AtLeast<Angle>,
    /// Least share of a target's disc that the eyes see, 0 to 1.
    pub sight_share: AtLeast,
    /// Least clearance of glove and tool on their straight way to a target.
    pub access_m: AtLeast,
    /// Greatest overlap of glove and tool with what they work on: the bodies of the target's `on`; 0 to 0.10. As a
    /// glove about a target on a surface is half inside it, the default is 0.10.
    pub overlap_on_target_m: AtMost,
    /// Least singular value of the tip's Jacobian, turning rows multiplied by `singularity_length_m`.
    pub singular_value_m: AtLeast,
    /// Length scale of the singular value.
    pub singularity_length_m: f64,
    /// Greatest tip speed.
    pub tip_speed_m_s: TipSpeeds,
    /// Within this distance of structure the tip goes no faster than `tip_speed_m_s.near_structure`.
    pub near_structure_m: f64,
    /// Time from the word to stop until the brakes act.
    pub stop_reaction_s: f64,
    /// Greatest deviation of the tip from the straight line of a retreat or approach.
    pub line_m: AtMost,
    /// Greatest turn of the tip away from its constant orientation on a retreat or approach.
    #[serde(rename = "line_deg")]
    pub line: AtMost<Angle>,
    /// Greatest distance of a placed payload from its seat.
    pub place_m: AtMost,
    /// Greatest turn of a placed payload away from its seat.
    #[serde(rename = "place_deg")]
    pub place: AtMost<Angle>,
    /// The plan's own cylinders before the chest.
    pub envelope: Vec<Envelope>,
}

const COMMON_PRACTICE: &str = "default; common practice, no source";
const INVENTED: &str = "default, invented";

impl Default for Limits {
    fn default() -> Self {
        Self {
            moving: ClearanceLimits::default(),
            at_work: ClearanceLimits::default(),
            stopping: ClearanceLimits::default(),
            reach_m: AtLeast::default_of(0.0, COMMON_PRACTICE),
            arm_joint: AtLeast::default_of(Angle::default(), COMMON_PRACTICE),
            arm_joint_m: AtLeast::default_of(0.0, COMMON_PRACTICE),
            body_joint: AtLeast::default_of(Angle::default(), COMMON_PRACTICE),
            sight_share: AtLeast::default_of(0.5, INVENTED),
            access_m: AtLeast::default_of(0.0, COMMON_PRACTICE),
            overlap_on_target_m: AtMost::default_of(DEEPEST_OVERLAP, COMMON_PRACTICE),
            singular_value_m: AtLeast::default_of(0.05, INVENTED),
            singularity_length_m: 1.0,
            tip_speed_m_s: TipSpeeds::default(),
            near_structure_m: 1.0,
            stop_reaction_s: 1.0,
            line_m: AtMost::default_of(0.025, INVENTED),
            line: AtMost::default_of(Angle::from_degrees(0.5), INVENTED),
            place_m: AtMost::default_of(0.03, INVENTED),
            place: AtMost::default_of(Angle::from_degrees(1.0), INVENTED),
            envelope: Vec::new(),
        }
    }
}

/// A cylinder before the chest in which hands work well.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Envelope {
    pub id: String,
    /// Middle of the cylinder, from the middle between the shoulders of the neutral posture: x forward, y left, z up
    /// along the trunk.
    pub centre_m: [f64; 3],
    /// Direction of its axis in that frame.
    pub axis: [f64; 3],
    pub length_m: f64,
    pub radius_m: f64,
    /// Whether it holds for one hand or for both.
    #[serde(default)]
    pub both_hands: bool,
    /// Where it comes from; printed.
    #[serde(default)]
    pub source: Option<String>,
}

/// How far things may stray from where the plan has them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Tolerances {
    /// Read-out of each revolute joint of the arm, either way.
    #[serde(rename = "joint_deg")]
    pub joint: Angle,
    /// Read-out of each prismatic joint of the arm, either way.
    pub joint_m: f64,
    /// The base, along each axis, either way.
    pub base_m: f64,
    /// The base, about each axis, either way.
    #[serde(rename = "base_deg")]
    pub base: Angle,
    /// Every link's far end, along each axis, either way.
    pub link_m: f64,
    /// Every link's far end, about each axis, either way.
    #[serde(rename = "link_deg")]
    pub link: Angle,
    /// Every shape of structure and payload, outwards.
    pub shape_m: f64,
}
