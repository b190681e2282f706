//! Who is in the suit, and what does the suit allow?

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Angle;

/// The size of one crewmember.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Crew {
    /// Stature as a percentile of a survey; the 50th of men where both this and `measures` are missing.
    #[serde(default)]
    pub stature: Option<Stature>,
    /// Own measures, in place of the survey's.
    #[serde(default)]
    pub measures: Measures,
}

/// A stature as a percentile of a survey.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stature {
    /// 1 to 99.
    pub percentile: f64,
    pub of: Survey,
}

impl fmt::Display for Stature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let of = match self.of {
            Survey::Women => "women",
            Survey::Men => "men",
        };
        write!(f, "percentile {} of {of}", (self.percentile * 10.0).round() / 10.0)
    }
}

impl FromStr for Stature {
    type Err = &'static str;

    /// A group and a percentile, such as `women:5`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let expected = "expected `women` or `men`, a colon and a percentile from 1 to 99, such as women:5";
        let (of, percentile) = text.split_once(':').ok_or(expected)?;
        let of = match of {
            "women" => Survey::Women,
            "men" => Survey::Men,
            _ => return Err(expected),
        };
        let percentile = percentile.parse().ok().filter(|percentile| (1.0..=99.0).contains(percentile));
        Ok(Self { percentile: percentile.ok_or(expected)?, of })
    }
}

/// The two groups of the survey.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Survey {
    Women,
    Men,
}

/// Body measures that replace those from the survey, metres; names as in anthropometry.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Measures {
    pub stature_m: Option<f64>,
    pub eye_height_m: Option<f64>,
    pub cervicale_height_m: Option<f64>,
    pub acromial_height_m: Option<f64>,
    pub trochanterion_height_m: Option<f64>,
    pub knee_height_m: Option<f64>,
    pub ankle_height_m: Option<f64>,
    pub upper_arm_m: Option<f64>,
    pub forearm_m: Option<f64>,
    pub hand_m: Option<f64>,
    pub biacromial_breadth_m: Option<f64>,
    pub hip_breadth_m: Option<f64>,
    pub foot_length_m: Option<f64>,
}

/// What a suit adds to the body and what it allows: all of it the user's input; the defaults are invented.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Suit {
    pub title: String,
    /// Added to the radius of every body segment.
    pub thickness_m: f64,
    /// Full sizes of the pack: depth, breadth, height.
    pub pack_m: [f64; 3],
    /// Radius of the helmet about the head's middle.
    pub helmet_radius_m: f64,
    /// Half angle of the helmet's field of view about straight ahead, sideways.
    #[serde(rename = "view_sideways_deg")]
    pub view_sideways: Angle,
    /// Half angle of the helmet's field of view, up.
    #[serde(rename = "view_up_deg")]
    pub view_up: Angle,
    /// Half angle of the helmet's field of view, down.
    #[serde(rename = "view_down_deg")]
    pub view_down: Angle,
    /// Ranges of body joints by name, in place of the defaults.
    pub joint: BTreeMap<String, SuitJoint>,
    /// Where all this comes from; printed.
    pub source: String,
}

impl Default for Suit {
    fn default() -> Self {
        Self {
            title: "default suit".to_owned(),
            thickness_m: 0.03,
            pack_m: [0.28, 0.58, 0.80],
            helmet_radius_m: 0.17,
            view_sideways: Angle::from_degrees(75.0),
            view_up: Angle::from_degrees(50.0),
            view_down: Angle::from_degrees(70.0),
            joint: BTreeMap::new(),
            source: "default, invented".to_owned(),
        }
    }
}

/// The range of one body joint in the suit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SuitJoint {
    /// Lowest and highest angle.
    #[serde(rename = "range_deg")]
    pub range: [Angle; 2],
    /// The angle of the neutral weightless posture; the default's where it is missing.
    #[serde(default, rename = "neutral_deg")]
    pub neutral: Option<Angle>,
}

/// The names of the body's joints, from the left boot outwards.
pub const BODY_JOINTS: [&str; 31] = [
    "left-ankle-inversion",
    "left-ankle-flexion",
    "left-knee-flexion",
    "left-hip-rotation",
    "left-hip-abduction",
    "left-hip-flexion",
    "waist-flexion",
    "waist-side-bend",
    "waist-rotation",
    "neck-flexion",
    "neck-rotation",
    "left-shoulder-flexion",
    "left-shoulder-abduction",
    "left-shoulder-rotation",
    "left-elbow-flexion",
    "left-forearm-roll",
    "left-wrist-flexion",
    "left-wrist-deviation",
    "right-shoulder-flexion",
    "right-shoulder-abduction",
    "right-shoulder-rotation",
    "right-elbow-flexion",
    "right-forearm-roll",
    "right-wrist-flexion",
    "right-wrist-deviation",
    "right-hip-flexion",
    "right-hip-abduction",
    "right-hip-rotation",
    "right-knee-flexion",
    "right-ankle-flexion",
    "right-ankle-inversion",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stature_is_a_group_and_a_percentile_of_the_survey() {
        assert_eq!("women:5".parse(), Ok(Stature { percentile: 5.0, of: Survey::Women }));
        assert_eq!(
            "men:97.5".parse::<Stature>().map(|stature| stature.to_string()),
            Ok("percentile 97.5 of men".to_owned())
        );
        for text in ["women", "5", "women:", "women:0", "women:100", "child:5", "men:nan"] {
            assert!(text.parse::<Stature>().is_err(), "{text}");
        }
    }
}
