//! How long are the parts of a body, and how do they go with stature?
//!
//! # Law
//! A measure of people whose stature lies `z` standard deviations from the mean is, on average, mean + r·sd·z, with `r`
//! its correlation with stature. Where `r` is not at hand it is taken as 0: the mean for everybody.
//!
//! # Source
//! *2012 Anthropometric Survey of U.S. Army Personnel* (ANSUR II), public data, 1,986 women and 4,082 men, measured in
//! 1 g and without suit; means, standard deviations and correlations computed from its files. Column names are the data
//! set's.

use crate::model::Survey;

/// Mean and spread of one measure in one group, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Statistic {
    pub mean: f64,
    pub sd: f64,
    /// Correlation with stature, where it is at hand.
    pub with_stature: Option<f64>,
}

impl Statistic {
    /// The average of those whose stature lies `z` standard deviations above the mean, m.
    pub fn at_stature(&self, z: f64) -> f64 {
        self.mean + self.with_stature.unwrap_or(0.0) * self.sd * z
    }
}

/// One measure of the survey.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measure {
    /// Name of the data set's column.
    pub column: &'static str,
    pub women: Statistic,
    pub men: Statistic,
}

impl Measure {
    /// Its statistic in one group.
    pub const fn of(&self, group: Survey) -> &Statistic {
        match group {
            Survey::Women => &self.women,
            Survey::Men => &self.men,
        }
    }
}

/// Mean and standard deviation in millimetres, as the survey states them.
const fn mm(mean: f64, sd: f64) -> Statistic {
    Statistic { mean: mean / 1000.0, sd: sd / 1000.0, with_stature: None }
}

/// The same, with its correlation with stature.
const fn mm_r(mean: f64, sd: f64, r: f64) -> Statistic {
    Statistic { with_stature: Some(r), ..mm(mean, sd) }
}

pub const STATURE: Measure =
    Measure { column: "stature", women: mm_r(1628.5, 64.2, 1.0), men: mm_r(1756.2, 68.6, 1.0) };
/// Derived: stature − sittingheight + eyeheightsitting.
pub const EYE_HEIGHT: Measure = Measure { column: "eye height", women: mm(1519.5, 61.7), men: mm(1642.4, 66.5) };
pub const CERVICALE_HEIGHT: Measure =
    Measure { column: "cervicaleheight", women: mm(1395.7, 59.5), men: mm(1517.3, 63.3) };
pub const ACROMIAL_HEIGHT: Measure =
    Measure { column: "acromialheight", women: mm_r(1335.1, 58.1, 0.97), men: mm_r(1440.7, 63.3, 0.97) };
pub const ILIOCRISTALE_HEIGHT: Measure =
    Measure { column: "iliocristaleheight", women: mm(995.7, 49.7), men: mm(1061.6, 52.0) };
pub const TROCHANTERION_HEIGHT: Measure =
    Measure { column: "trochanterionheight", women: mm_r(845.4, 44.7, 0.86), men: mm_r(900.9, 49.2, 0.85) };
pub const KNEE_HEIGHT: Measure =
    Measure { column: "lateralfemoralepicondyleheight", women: mm(465.9, 27.1), men: mm(491.7, 26.6) };
pub const ANKLE_HEIGHT: Measure =
    Measure { column: "lateralmalleolusheight", women: mm(62.7, 5.1), men: mm(72.9, 5.7) };
pub const FOOT_LENGTH: Measure = Measure { column: "footlength", women: mm(246.3, 12.4), men: mm(271.2, 13.1) };
pub const FOOT_BREADTH: Measure =
    Measure { column: "footbreadthhorizontal", women: mm(92.7, 4.8), men: mm(101.9, 5.2) };
pub const UPPER_ARM: Measure =
    Measure { column: "acromionradialelength", women: mm_r(311.2, 17.2, 0.79), men: mm_r(335.2, 17.5, 0.79) };
pub const FOREARM: Measure =
    Measure { column: "radialestylionlength", women: mm_r(241.3, 15.2, 0.69), men: mm_r(267.9, 15.4, 0.72) };
pub const FOREARM_TO_GRIP: Measure =
    Measure { column: "forearmcenterofgriplength", women: mm(317.7, 18.0), men: mm(349.0, 18.0) };
pub const HAND: Measure = Measure { column: "handlength", women: mm_r(181.1, 10.1, 0.65), men: mm_r(193.3, 9.9, 0.67) };
pub const BIACROMIAL_BREADTH: Measure =
    Measure { column: "biacromialbreadth", women: mm(365.3, 18.3), men: mm(415.7, 19.2) };
pub const BIDELTOID_BREADTH: Measure =
    Measure { column: "bideltoidbreadth", women: mm(450.3, 28.7), men: mm(510.4, 32.5) };
pub const CHEST_BREADTH: Measure = Measure { column: "chestbreadth", women: mm(269.3, 18.6), men: mm(289.4, 18.3) };
pub const CHEST_DEPTH: Measure = Measure { column: "chestdepth", women: mm(247.4, 27.3), men: mm(253.8, 26.2) };
pub const HIP_BREADTH: Measure = Measure { column: "hipbreadth", women: mm(353.8, 26.7), men: mm(345.7, 24.2) };
pub const BICRISTAL_BREADTH: Measure =
    Measure { column: "bicristalbreadth", women: mm(273.3, 22.3), men: mm(275.4, 17.5) };
pub const HEAD_LENGTH: Measure = Measure { column: "headlength", women: mm(189.8, 7.4), men: mm(199.5, 7.0) };

/// The value below which a share `p` (between 0 and 1) of a standard normal variable lies.
///
/// Acklam's rational approximation (2003), relative error below 1.15e-9.
pub fn standard_normal_quantile(p: f64) -> f64 {
    const A: [f64; 6] = [
        -39.69683028665376,
        220.9460984245205,
        -275.9285104469687,
        138.357751867269,
        -30.66479806614716,
        2.506628277459239,
    ];
    const B: [f64; 6] =
        [-54.47609879822406, 161.5858368580409, -155.6989798598866, 66.80131188771972, -13.28068155288572, 1.0];
    const C: [f64; 6] = [
        -0.007784894002430293,
        -0.3223964580411365,
        -2.400758277161838,
        -2.549732539343734,
        4.374664141464968,
        2.938163982698783,
    ];
    const D: [f64; 5] = [0.007784695709041462, 0.3224671290700398, 2.445134137142996, 3.754408661907416, 1.0];
    const LOW: f64 = 0.02425;
    let polynomial = |coefficients: &[f64], x: f64| coefficients.iter().fold(0.0, |sum, c| sum * x + c);
    if p > 0.5 {
        return -standard_normal_quantile(1.0 - p);
    }
    if p < LOW {
        let x = (-2.0 * p.ln()).sqrt();
        return polynomial(&C, x) / polynomial(&D, x);
    }
    let x = p - 0.5;
    x * polynomial(&A, x * x) / polynomial(&B, x * x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn normal_quantiles_are_those_of_the_printed_tables() {
        // Any table of the normal distribution.
        for (p, z) in [(0.5, 0.0), (0.95, 1.644853627), (0.975, 1.959963985), (0.99, 2.326347874), (0.05, -1.644853627)]
        {
            assert!((standard_normal_quantile(p) - z).abs() < 1e-8, "{p}");
        }
    }

    #[test]
    fn percentiles_of_the_survey_follow_from_mean_and_spread() {
        // ANSUR II, 5th and 95th percentile in mm; a normal distribution meets them within 6 mm.
        for (measure, women, men) in [
            (STATURE, [1525.0, 1740.0], [1648.0, 1870.0]),
            (ACROMIAL_HEIGHT, [1242.0, 1434.0], [1339.0, 1546.0]),
            (TROCHANTERION_HEIGHT, [774.0, 919.0], [824.0, 985.0]),
            (UPPER_ARM, [283.0, 340.0], [307.0, 365.0]),
            (FOREARM, [218.0, 268.0], [244.0, 295.0]),
            (HAND, [165.0, 199.0], [177.0, 210.0]),
        ] {
            for (group, [low, high]) in [(Survey::Women, women), (Survey::Men, men)] {
                let Statistic { mean, sd, .. } = *measure.of(group);
                let z = standard_normal_quantile(0.95);
                assert!((mean - sd * z - low / 1000.0).abs() < 0.006, "{} {group:?}", measure.column);
                assert!((mean + sd * z - high / 1000.0).abs() < 0.006, "{} {group:?}", measure.column);
            }
        }
    }
}
