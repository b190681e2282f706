//! Which limits and tolerances hold?

use std::collections::BTreeMap;
use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

use super::{Angle, ClassPair};

/// A limit: a number, or `{ at_least, tight, source }`; in the unit of the key that it stands under.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Limit {
    /// The value on the good side of which a result must lie.
    pub at_least: f64,
    /// Results nearer than this to the limit are `tight`; the check's own default where it is missing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tight: Option<f64>,
    /// Where the limit comes from; printed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<String>,
}

impl Limit {
    /// A bare number.
    pub const fn new(at_least: f64) -> Self {
        Self { at_least, tight: None, source: None }
    }

    /// A default of the program, which says so.
    pub fn default_of(at_least: f64, source: &str) -> Self {
        Self { at_least, tight: None, source: Some(source.to_owned()) }
    }
}

impl<'de> Deserialize<'de> for Limit {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct LimitVisitor;

        impl<'de> Visitor<'de> for LimitVisitor {
            type Value = Limit;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number or a table with `at_least`")
            }

            fn visit_f64<E: de::Error>(self, value: f64) -> Result<Limit, E> {
                Ok(Limit::new(value))
            }

            fn visit_i64<E: de::Error>(self, value: i64) -> Result<Limit, E> {
                Ok(Limit::new(value as f64))
            }

            fn visit_u64<E: de::Error>(self, value: u64) -> Result<Limit, E> {
                Ok(Limit::new(value as f64))
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<Limit, A::Error> {
                #[derive(Deserialize)]
                #[serde(deny_unknown_fields)]
                struct Table {
                    at_least: f64,
                    tight: Option<f64>,
                    source: Option<String>,
                }
                let table = Table::deserialize(de::value::MapAccessDeserializer::new(map))?;
                Ok(Limit { at_least: table.at_least, tight: table.tight, source: table.source })
            }
        }

        deserializer.deserialize_any(LimitVisitor)
    }
}

impl JsonSchema for Limit {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Limit".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A limit: a number, or a table with its source.",
            "anyOf": [
                { "type": "number" },
                {
                    "type": "object",
                    "properties": {
                        "at_least": { "type": "number" },
                        "tight": { "type": "number" },
                        "source": { "type": "string" }
                    },
                    "required": ["at_least"],
                    "additionalProperties": false
                }
            ]
        })
    }
}

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
    pub clearance_m: BTreeMap<String, Limit>,
}

impl ClearanceLimits {
    /// The limit that the file states for a pair: its own, else the file's default, else none.
    pub fn stated(&self, pair: ClassPair) -> Option<&Limit> {
        self.clearance_m
            .iter()
            .find(|(key, _)| ClassPair::from_key(key) == Some(pair))
            .map(|(_, limit)| limit)
            .or_else(|| self.clearance_m.get("default"))
    }
}

/// Greatest tip speeds by what the arm carries.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct TipSpeeds {
    pub unloaded: f64,
    pub with_rider: f64,
    pub with_payload: f64,
}

impl Default for TipSpeeds {
    /// Common practice, no source.
    fn default() -> Self {
        Self { unloaded: 0.37, with_rider: 0.15, with_payload: 0.06 }
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
    pub reach_m: Limit,
    /// Least distance of the arm's joints from their limits, revolute joints.
    pub arm_joint_deg: Limit,
    /// Least distance of the arm's joints from their limits, prismatic joints.
    pub arm_joint_m: Limit,
    /// Least distance of body joints from the suit's limits.
    pub body_joint_deg: Limit,
    /// Least share of a target's disc that the eyes see, 0 to 1.
    pub sight_share: Limit,
    /// Least clearance of glove and tool on their straight way to a target.
    pub access_m: Limit,
    /// Least singular value of the tip's Jacobian, turning rows multiplied by `singularity_length_m`.
    pub singular_value_m: Limit,
    /// Length scale of the singular value.
    pub singularity_length_m: f64,
    /// Greatest tip speed.
    pub tip_speed_m_s: TipSpeeds,
    /// Time from the word to stop until the brakes act.
    pub stop_reaction_s: f64,
    /// Greatest deviation of the tip from the straight line of a retreat or approach.
    pub line_m: Limit,
    /// Greatest turn of the tip away from its constant orientation on a retreat or approach.
    pub line_deg: Limit,
    /// Greatest distance of a placed payload from its seat.
    pub place_m: Limit,
    /// Greatest turn of a placed payload away from its seat.
    pub place_deg: Limit,
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
            reach_m: Limit::default_of(0.0, COMMON_PRACTICE),
            arm_joint_deg: Limit::default_of(0.0, COMMON_PRACTICE),
            arm_joint_m: Limit::default_of(0.0, COMMON_PRACTICE),
            body_joint_deg: Limit::default_of(0.0, COMMON_PRACTICE),
            sight_share: Limit::default_of(0.5, INVENTED),
            access_m: Limit::default_of(0.0, COMMON_PRACTICE),
            singular_value_m: Limit::default_of(0.05, INVENTED),
            singularity_length_m: 1.0,
            tip_speed_m_s: TipSpeeds::default(),
            stop_reaction_s: 1.0,
            line_m: Limit::default_of(0.025, INVENTED),
            line_deg: Limit::default_of(0.5, INVENTED),
            place_m: Limit::default_of(0.03, INVENTED),
            place_deg: Limit::default_of(1.0, INVENTED),
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
