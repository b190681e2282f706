//! How long and how thick are the body segments of this crewmember, suited?
//!
//! # Law
//! Stature gives z = Φ⁻¹(percentile), or (own stature − mean)/sd. Each measure is mean + r·sd·z ([`super::survey`]); an
//! own measure replaces it. Segment lengths are differences of measures along the standing body. Two kinds of measure
//! have no correlation at hand and are tied to one that has: eyes and neck keep their mean distance below the top of the
//! head, knee and waist their mean share of the length that they divide (r = 0 for that distance and that share).
//!
//! # Not covered
//! Weightless growth of the spine: own measures may include it.

use crate::model::{Crew, Stature, Suit, Survey};

use super::survey::{self, Measure};

/// Lengths between joint centres and sizes of body segments, m; thickness of the suit included in radii and half sizes.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    pub stature: f64,
    /// Ankle joint above the boot's sole.
    pub ankle_height: f64,
    pub shank: f64,
    pub thigh: f64,
    /// Between the two hip joints.
    pub hip_spacing: f64,
    /// Waist joint above the middle of the hips.
    pub hip_to_waist: f64,
    /// Length of the abdomen, from the waist joint to where the chest turns on it.
    pub abdomen: f64,
    /// Shoulder joints above the lower end of the chest.
    pub chest_to_shoulder: f64,
    /// Between the two shoulder joints.
    pub shoulder_spacing: f64,
    /// Neck joint above the lower end of the chest.
    pub chest_to_neck: f64,
    /// Eyes, and middle of the head, above the neck joint.
    pub neck_to_eye: f64,
    /// Middle of the head before the neck joint.
    pub head_forward: f64,
    /// Eyes before the middle of the head.
    pub eye_forward: f64,
    pub upper_arm: f64,
    pub forearm: f64,
    pub hand: f64,
    /// Centre of the grip beyond the wrist.
    pub wrist_to_grip: f64,
    /// Heel to toe of the boot.
    pub boot_length: f64,
    pub boot_breadth: f64,
    /// Ankle joint before the boot's heel.
    pub heel_to_ankle: f64,
    pub shank_radius: f64,
    pub thigh_radius: f64,
    pub pelvis_radius: f64,
    /// Half breadth over all.
    pub pelvis_half_breadth: f64,
    pub abdomen_radius: f64,
    /// Half breadth over all.
    pub abdomen_half_breadth: f64,
    pub chest_half_depth: f64,
    pub chest_half_breadth: f64,
    pub neck_radius: f64,
    pub head_radius: f64,
    pub helmet_radius: f64,
    pub upper_arm_radius: f64,
    pub forearm_radius: f64,
    pub hand_radius: f64,
    /// Full sizes of the pack: depth, breadth, height.
    pub pack: [f64; 3],
    notes: Vec<String>,
}

// Unsuited, invented.
const SHANK_RADIUS: f64 = 0.055;
const FOREARM_RADIUS: f64 = 0.040;
const HAND_RADIUS: f64 = 0.035;
const NECK_RADIUS: f64 = 0.060;
/// Hip joints stand this share of the hip breadth apart.
const HIP_SPACING_SHARE: f64 = 0.5;
/// Radius of a thigh as a share of the hip breadth.
const THIGH_RADIUS_SHARE: f64 = 0.24;
/// The chest turns on the abdomen at this share of the way from waist to shoulders.
const ABDOMEN_SHARE: f64 = 0.3;
/// The ankle joint stands this share of the foot's length before the heel.
const ANKLE_SHARE: f64 = 0.25;
const HEAD_FORWARD: f64 = 0.03;

impl Figure {
    /// The figure of a crewmember in a suit. The 50th percentile of men where nothing is said.
    pub fn from(crew: &Crew, suit: &Suit) -> Self {
        let Stature { percentile, of: group } = crew.stature.unwrap_or(Stature { percentile: 50.0, of: Survey::Men });
        let own = &crew.measures;
        let mean = |measure: &Measure| measure.of(group).mean;
        let spread = survey::STATURE.of(group);
        let z = own.stature_m.map_or_else(
            || survey::standard_normal_quantile(percentile / 100.0),
            |stature| (stature - spread.mean) / spread.sd,
        );
        let of = |measure: &Measure, own: Option<f64>| own.unwrap_or_else(|| measure.of(group).at_stature(z));

        let stature = of(&survey::STATURE, own.stature_m);
        let below_top = |measure: &Measure| stature - (mean(&survey::STATURE) - mean(measure));
        let eye_height = own.eye_height_m.unwrap_or_else(|| below_top(&survey::EYE_HEIGHT));
        let cervicale = own.cervicale_height_m.unwrap_or_else(|| below_top(&survey::CERVICALE_HEIGHT));
        let acromial = of(&survey::ACROMIAL_HEIGHT, own.acromial_height_m);
        let trochanterion = of(&survey::TROCHANTERION_HEIGHT, own.trochanterion_height_m);
        let ankle = of(&survey::ANKLE_HEIGHT, own.ankle_height_m);
        // The mean share of the way from one measure to another at which a third lies.
        let share = |at: &Measure, from: &Measure, to: &Measure| (mean(at) - mean(from)) / (mean(to) - mean(from));
        let knee_share = share(&survey::KNEE_HEIGHT, &survey::ANKLE_HEIGHT, &survey::TROCHANTERION_HEIGHT);
        let knee = own.knee_height_m.unwrap_or(ankle + knee_share * (trochanterion - ankle));
        let waist_share = share(&survey::ILIOCRISTALE_HEIGHT, &survey::TROCHANTERION_HEIGHT, &survey::ACROMIAL_HEIGHT);
        let hip_to_waist = waist_share * (acromial - trochanterion);
        let abdomen = ABDOMEN_SHARE * (acromial - trochanterion - hip_to_waist);
        let chest_height = trochanterion + hip_to_waist + abdomen;

        let shoulder_spacing = of(&survey::BIACROMIAL_BREADTH, own.biacromial_breadth_m);
        let hip_breadth = of(&survey::HIP_BREADTH, own.hip_breadth_m);
        let chest_half_depth = 0.5 * mean(&survey::CHEST_DEPTH) + suit.thickness_m;
        let foot_length = of(&survey::FOOT_LENGTH, own.foot_length_m);
        let head_radius = 0.5 * mean(&survey::HEAD_LENGTH);
        Self {
            stature,
            ankle_height: ankle + suit.thickness_m,
            shank: knee - ankle,
            thigh: trochanterion - knee,
            hip_spacing: HIP_SPACING_SHARE * hip_breadth,
            hip_to_waist,
            abdomen,
            chest_to_shoulder: acromial - chest_height,
            shoulder_spacing,
            chest_to_neck: cervicale - chest_height,
            neck_to_eye: eye_height - cervicale,
            head_forward: HEAD_FORWARD,
            eye_forward: head_radius,
            upper_arm: of(&survey::UPPER_ARM, own.upper_arm_m),
            forearm: of(&survey::FOREARM, own.forearm_m),
            hand: of(&survey::HAND, own.hand_m),
            wrist_to_grip: mean(&survey::FOREARM_TO_GRIP) - mean(&survey::FOREARM),
            boot_length: foot_length + 2.0 * suit.thickness_m,
            boot_breadth: mean(&survey::FOOT_BREADTH) + 2.0 * suit.thickness_m,
            heel_to_ankle: ANKLE_SHARE * foot_length + suit.thickness_m,
            shank_radius: SHANK_RADIUS + suit.thickness_m,
            thigh_radius: THIGH_RADIUS_SHARE * hip_breadth + suit.thickness_m,
            pelvis_radius: chest_half_depth,
            pelvis_half_breadth: 0.5 * hip_breadth + suit.thickness_m,
            abdomen_radius: chest_half_depth,
            abdomen_half_breadth: 0.5 * mean(&survey::BICRISTAL_BREADTH) + suit.thickness_m,
            chest_half_depth,
            chest_half_breadth: 0.5 * mean(&survey::CHEST_BREADTH) + suit.thickness_m,
            neck_radius: NECK_RADIUS + suit.thickness_m,
            head_radius,
            helmet_radius: suit.helmet_radius_m,
            upper_arm_radius: 0.5 * (mean(&survey::BIDELTOID_BREADTH) - mean(&survey::BIACROMIAL_BREADTH))
                + suit.thickness_m,
            forearm_radius: FOREARM_RADIUS + suit.thickness_m,
            hand_radius: HAND_RADIUS + suit.thickness_m,
            pack: suit.pack_m,
            notes: notes(crew, suit),
        }
    }

    /// The body segment that own measures leave no length for, such as a knee above the hip; none where all fit.
    pub fn without_length(&self) -> Option<&'static str> {
        let lengths = [
            ("shank", self.shank),
            ("thigh", self.thigh),
            ("trunk", self.chest_to_shoulder),
            ("neck", self.chest_to_neck),
            ("head", self.neck_to_eye),
            ("upper arm", self.upper_arm),
            ("forearm", self.forearm),
        ];
        lengths.into_iter().find(|(_, length)| *length <= 0.0).map(|(name, _)| name)
    }

    /// What of this figure is invented, or rests on a missing correlation: lines to print.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }
}

/// One line for each thing that isn't known.
fn notes(crew: &Crew, suit: &Suit) -> Vec<String> {
    let own = &crew.measures;
    let missing = [
        ("ankle height", own.ankle_height_m.is_none()),
        ("shoulder breadth", own.biacromial_breadth_m.is_none()),
        ("hip breadth", own.hip_breadth_m.is_none()),
        ("foot length", own.foot_length_m.is_none()),
    ];
    let of_everybody: Vec<&str> = missing.iter().filter(|(_, missing)| *missing).map(|(name, _)| *name).collect();
    let mut notes = Vec::new();
    if !of_everybody.is_empty() {
        let names = of_everybody.join(", ");
        notes.push(format!("{names}: mean of the group, correlation with stature not at hand (r = 0)"));
    }
    notes.push("chest, head and foot breadths, grip beyond the wrist: mean of the group (r = 0)".to_owned());
    if own.eye_height_m.is_none() || own.cervicale_height_m.is_none() {
        notes.push("eyes and neck: mean distance below the top of the head (r = 0 for that distance)".to_owned());
    }
    if own.knee_height_m.is_none() {
        notes.push("knee: mean share of the way from ankle to hip (r = 0 for that share)".to_owned());
    }
    notes.push("waist: mean share of the way from hip to shoulder (r = 0 for that share)".to_owned());
    notes.push(
        "spacing of the hip joints, length of the abdomen, place of ankle and head, radii of thigh, shank, forearm, \
         hand and neck: invented"
            .to_owned(),
    );
    notes.push(format!("suit thickness, pack, helmet, field of view and joint ranges: {}", suit.source));
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Measures;

    fn figure(percentile: f64, of: Survey) -> Figure {
        let crew = Crew { stature: Some(Stature { percentile, of }), measures: Measures::default() };
        Figure::from(&crew, &Suit { thickness_m: 0.0, ..Suit::default() })
    }

    #[test]
    fn the_median_figure_has_the_published_means() {
        // ANSUR II means, mm; of a normal variable the 50th percentile is the mean.
        for (group, stature, acromial, trochanterion, knee, ankle, arm) in [
            (Survey::Women, 1628.5, 1335.1, 845.4, 465.9, 62.7, [311.2, 241.3, 181.1]),
            (Survey::Men, 1756.2, 1440.7, 900.9, 491.7, 72.9, [335.2, 267.9, 193.3]),
        ] {
            let f = figure(50.0, group);
            let hip = f.ankle_height + f.shank + f.thigh;
            let shoulder = hip + f.hip_to_waist + f.abdomen + f.chest_to_shoulder;
            let near = |value: f64, mm: f64| assert!((value - mm / 1000.0).abs() < 1e-9, "{value} {mm}");
            near(f.stature, stature);
            near(shoulder, acromial);
            near(hip, trochanterion);
            near(f.ankle_height + f.shank, knee);
            near(f.ankle_height, ankle);
            near(f.upper_arm, arm[0]);
            near(f.forearm, arm[1]);
            near(f.hand, arm[2]);
        }
    }

    #[test]
    fn a_small_figure_is_not_put_together_from_small_parts() {
        // ANSUR II: sum of the 5th percentiles of the arm's parts 666 mm (women), 728 mm (men), which is the 2.5th and
        // 3.2nd percentile of the sums by person; those who are small have longer arms than that on average, and
        // shorter ones than the mean.
        for (group, trap, mean) in [(Survey::Women, 0.666, 0.7336), (Survey::Men, 0.728, 0.7964)] {
            let f = figure(5.0, group);
            let arm = f.upper_arm + f.forearm + f.hand;
            assert!(arm > trap + 0.010 && arm < mean - 0.020, "{group:?} {arm}");
        }
    }

    #[test]
    fn segments_keep_the_published_shares_of_stature_within_a_twentieth() {
        // Drillis & Contini 1966 as drawn in Winter: heights and lengths as shares of stature.
        for (percentile, group) in
            [(5.0, Survey::Women), (50.0, Survey::Women), (50.0, Survey::Men), (95.0, Survey::Men)]
        {
            let f = figure(percentile, group);
            let hip = f.ankle_height + f.shank + f.thigh;
            let shoulder = hip + f.hip_to_waist + f.abdomen + f.chest_to_shoulder;
            let eye = hip + f.hip_to_waist + f.abdomen + f.chest_to_neck + f.neck_to_eye;
            for (name, length, share) in [
                ("eye height", eye, 0.936),
                ("shoulder height", shoulder, 0.818),
                ("knee height", f.ankle_height + f.shank, 0.285),
                ("upper arm", f.upper_arm, 0.186),
                ("forearm", f.forearm, 0.146),
                ("shank", f.shank, 0.246),
            ] {
                let off = length / (share * f.stature) - 1.0;
                assert!(off.abs() < 0.05, "{name} of {percentile} {group:?}: off by {off:.3}");
            }
        }
    }

    #[test]
    fn own_measures_replace_the_surveys() {
        let measures = Measures { upper_arm_m: Some(0.4), stature_m: Some(1.7562 + 0.0686), ..Measures::default() };
        let f = Figure::from(&Crew { stature: None, measures }, &Suit::default());
        assert_eq!(f.upper_arm, 0.4);
        // One standard deviation above the mean of men: 267.9 + 0.72·15.4 mm.
        assert!((f.forearm - 0.278988).abs() < 1e-9);
    }

    #[test]
    fn a_knee_above_the_hip_is_told() {
        let measures = Measures { knee_height_m: Some(1.0), ..Measures::default() };
        let f = Figure::from(&Crew { stature: None, measures }, &Suit::default());
        assert_eq!(f.without_length(), Some("thigh"));
        assert_eq!(figure(1.0, Survey::Women).without_length(), None);
    }

    #[test]
    fn what_is_invented_says_so() {
        let f = figure(50.0, Survey::Men);
        assert!(f.notes().iter().any(|line| line.contains("r = 0")));
        assert!(f.notes().iter().any(|line| line.contains("invented")));
    }
}
