//! Source: the 2012 Anthropometric Survey of U.S. Army Personnel (public data; means, standard deviations, correlations) at
//! stature percentiles with scipy 1.17.1's inverse normal, and the law of cosines; stored in `references/figure.json` (made by
//! `figure.py`). Tolerances: 1e-6 mm for sizes: the engine's inverse normal is right to 1.2e-9 of z ≤ 2.4, times a standard
//! deviation of at most 86 mm; 1e-9 m for lengths between joints, which are multiplied out.

use serde::Deserialize;

use trusswalk::crew::{Figure, attach};
use trusswalk::mechanism::{LinkId, MechanismBuilder};
use trusswalk::model::{BodyClass, Crew, Measures, Stature, Suit, Survey};
use trusswalk::space::Pose;

use super::stored::{Deviation, Stored, assert_allowed};

#[derive(Deserialize)]
struct Sizes {
    measures: Vec<Measured>,
    sized: Vec<Sized>,
    limbs: Vec<Limb>,
}

#[derive(Deserialize)]
struct Measured {
    name: String,
    women: Spread,
    men: Spread,
}

#[derive(Deserialize)]
struct Spread {
    percentiles_mm: [f64; 3],
    mean_mm: f64,
}

#[derive(Deserialize)]
struct Sized {
    name: String,
    percentile: f64,
    size_mm: BySex,
}

#[derive(Deserialize)]
struct BySex {
    women: f64,
    men: f64,
}

#[derive(Deserialize)]
struct Limb {
    name: String,
    a_mm: f64,
    b_mm: f64,
    angle_deg: f64,
    distance_mm: f64,
}

/// A suit that adds nothing to the body.
fn unsuited() -> Suit {
    Suit { thickness_m: 0.0, ..Suit::default() }
}

fn figure(percentile: f64, of: Survey) -> Figure {
    let crew = Crew { stature: Some(Stature { percentile, of }), measures: Measures::default() };
    Figure::from(&crew, &unsuited())
}

/// A measure of the survey, taken on the figure, mm; none where the figure has no such length.
fn taken(f: &Figure, name: &str) -> Option<f64> {
    let hip = f.ankle_height + f.shank + f.thigh;
    let chest = hip + f.hip_to_waist + f.abdomen;
    let metres = match name {
        "stature" => f.stature,
        "cervicaleheight" => chest + f.chest_to_neck,
        "acromialheight" => chest + f.chest_to_shoulder,
        "iliocristaleheight" => hip + f.hip_to_waist,
        "trochanterionheight" => hip,
        "lateralfemoralepicondyleheight" => f.ankle_height + f.shank,
        "lateralmalleolusheight" => f.ankle_height,
        "footlength" => f.boot_length,
        "footbreadthhorizontal" => f.boot_breadth,
        "acromionradialelength" => f.upper_arm,
        "radialestylionlength" => f.forearm,
        "handlength" => f.hand,
        "biacromialbreadth" => f.shoulder_spacing,
        "chestbreadth" => 2.0 * f.chest_half_breadth,
        "chestdepth" => 2.0 * f.chest_half_depth,
        "hipbreadth" => 2.0 * f.pelvis_half_breadth,
        "bicristalbreadth" => 2.0 * f.abdomen_half_breadth,
        "headlength" => 2.0 * f.head_radius,
        _ => return None,
    };
    Some(metres * 1e3)
}

/// The distance between the ends of a bent limb, mm.
fn bent(limb: &Limb) -> f64 {
    let arm = limb.name.starts_with("shoulder");
    let (a, b) = (limb.a_mm / 1e3, limb.b_mm / 1e3);
    let measures = if arm {
        Measures { upper_arm_m: Some(a), forearm_m: Some(b), ..Measures::default() }
    } else {
        Measures {
            ankle_height_m: Some(0.0),
            knee_height_m: Some(b),
            trochanterion_height_m: Some(a + b),
            ..Measures::default()
        }
    };
    let suit = unsuited();
    let figure = Figure::from(&Crew { stature: None, measures }, &suit);
    let mut builder = MechanismBuilder::new();
    let plate = builder.fixed("plate", LinkId::STRUCTURE, Pose::identity());
    let links = attach(&mut builder, (plate, 0.25), BodyClass::Rider, (&figure, &suit));
    let mechanism = builder.finish();
    let flexion = 180_f64.to_radians() - limb.angle_deg.to_radians();
    let bent = [("right-elbow-flexion", flexion), ("right-knee-flexion", flexion)];
    let posed = mechanism.pose(&links.named_posture(bent).expect("joints of the body"));
    let hip = mechanism.link_named("rider/right-hip-flexion").expect("a hip");
    let (from, to) = if arm { (links.shoulder.right, links.hand.right) } else { (hip, links.right_boot) };
    (posed.link(from).translation.vector - posed.link(to).translation.vector).norm() * 1e3
}

pub fn deviations() -> Vec<Deviation> {
    let stored = Stored::<Sizes>::read("figure");
    let scipy = format!("survey, {}", stored.made_with("scipy"));
    let sized = stored.content.sized.iter().flat_map(|one| {
        [(Survey::Women, one.size_mm.women), (Survey::Men, one.size_mm.men)].map(|(group, size)| {
            let own = taken(&figure(one.percentile, group), &one.name);
            (own.unwrap_or_else(|| panic!("no {} on the figure", one.name)) - size).abs()
        })
    });
    // Of a normal variable the median is the mean, so the figure of the 50th percentile has every mean.
    let means = stored.content.measures.iter().flat_map(|measured| {
        [(Survey::Women, &measured.women), (Survey::Men, &measured.men)]
            .into_iter()
            .filter_map(|(group, spread)| Some((taken(&figure(50.0, group), &measured.name)? - spread.mean_mm).abs()))
            .collect::<Vec<_>>()
    });
    let limbs = stored.content.limbs.iter().map(|limb| (bent(limb) - limb.distance_mm).abs());
    vec![
        Deviation::of("figure: sizes at seven percentiles of stature (mm)", &scipy, 1e-6, sized),
        Deviation::of("figure: means of 18 measures (mm)", "survey", 1e-6, means),
        Deviation::of("figure: bent limbs (mm)", "law of cosines", 1e-6, limbs),
    ]
}

#[test]
fn sizes_are_those_of_the_survey() {
    assert_allowed(&deviations());
    let stored = Stored::<Sizes>::read("figure");
    let on_the_figure = |measured: &&Measured| taken(&figure(50.0, Survey::Men), &measured.name).is_some();
    assert_eq!(stored.content.measures.iter().filter(on_the_figure).count(), 18);
}

#[test]
fn people_of_extreme_stature_are_not_put_together_from_extreme_parts() {
    // Percentiles do not add: where a measure goes with stature by r < 1, people at the 5th or 95th percentile of stature
    // lie between that measure's own percentile and its mean.
    let stored = Stored::<Sizes>::read("figure");
    let parts = ["acromionradialelength", "radialestylionlength", "handlength"];
    for measured in stored.content.measures.iter().filter(|measured| parts.contains(&measured.name.as_str())) {
        for (group, spread) in [(Survey::Women, &measured.women), (Survey::Men, &measured.men)] {
            let at = |percentile: f64| taken(&figure(percentile, group), &measured.name).expect("a part of the arm");
            let [low, _, high] = spread.percentiles_mm;
            assert!(low < at(5.0) && at(5.0) < spread.mean_mm && spread.mean_mm < at(95.0) && at(95.0) < high);
        }
    }
}
