//! What does a machine read of a proposal?
//!
//! One JSON object. Units are in the names; configurations are in degrees or metres, joint by joint in the arm's order. Values
//! are unrounded, but for configurations, which are on the grid that operators key in.

use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::{CAUTIONS, number};
use crate::files::Input;
use crate::model::{JointKind, PlanEdit, Project};
use crate::propose::{
    Answer, Broken, Candidates, Judged, NoWay, Proposal, SecondProposal, SiteProposal, Tally, Violation, WayProposal,
    Why,
};

/// Goes up when a reader of an older one could misread the new one.
const SCHEMA_VERSION: u32 = 1;

/// The whole proposal, with the changes that make the plan, ending in a new line.
///
/// # Errors
/// If a value cannot be written as JSON.
pub fn proposal_json(
    (project, inputs): (&Project, &[Input]),
    proposal: &Proposal,
    changes: &[PlanEdit],
) -> serde_json::Result<String> {
    let written = ProposalJson {
        schema_version: SCHEMA_VERSION,
        program: env!("CARGO_PKG_NAME"),
        program_version: env!("CARGO_PKG_VERSION"),
        cautions: CAUTIONS,
        title: &project.plan.title,
        inputs,
        odd: &proposal.odd,
        is_complete: proposal.unsettled.is_none(),
        arm_joints: project.arm.joint.iter().map(|joint| joint.name.as_str()).collect(),
        second_crew: proposal.second_crew.iter().map(SecondJson::of).collect(),
        settings: proposal.sites.iter().map(|site| SiteJson::of(project, site)).collect(),
        transits: proposal.ways.iter().map(|way| WayJson::of(project, way)).collect(),
        not_settled: proposal.unsettled.as_ref().map(|unsettled| UnsettledJson {
            worksite: &unsettled.worksite,
            told: super::unsettled(unsettled),
            why: WhyJson::of(project, &unsettled.why),
        }),
        violated: proposal.violations.iter().map(BrokenJson::of).collect(),
        changes: changes.iter().map(ToString::to_string).collect(),
    };
    serde_json::to_string_pretty(&written).map(|text| text + "\n")
}

/// The JSON Schema of it.
pub fn proposal_schema() -> Schema {
    schema_for!(ProposalJson)
}

#[derive(JsonSchema, Serialize)]
struct ProposalJson<'a> {
    schema_version: u32,
    program: &'static str,
    program_version: &'static str,
    cautions: &'static str,
    title: &'a str,
    inputs: &'a [Input],
    /// What is odd about the plan's targets, in words.
    odd: &'a [String],
    is_complete: bool,
    arm_joints: Vec<&'a str>,
    second_crew: Vec<SecondJson<'a>>,
    settings: Vec<SiteJson<'a>>,
    transits: Vec<WayJson<'a>>,
    not_settled: Option<UnsettledJson<'a>>,
    /// What the check of the plan with it finds violated.
    violated: Vec<BrokenJson<'a>>,
    /// In words, in the order in which they are made.
    changes: Vec<String>,
}

#[derive(JsonSchema, Serialize)]
struct SiteJson<'a> {
    worksite: &'a str,
    chosen: SettingJson<'a>,
    /// All that keep every limit, best first.
    candidates: Vec<SettingJson<'a>>,
    tried: TriedJson,
}

/// The second crew's restraint at a worksite.
#[derive(JsonSchema, Serialize)]
struct SecondJson<'a> {
    worksite: &'a str,
    detents_deg: Option<Vec<f64>>,
    score: Option<f64>,
    tried: usize,
    left_out: usize,
    keep_every_limit: usize,
    ruled_out_by: Vec<LimitJson>,
}

#[derive(JsonSchema, Serialize)]
struct SettingJson<'a> {
    score: f64,
    reach_m: Option<f64>,
    body_joints_deg: Option<f64>,
    near_neutral_share: Option<f64>,
    sight_share: Option<f64>,
    arm_joints_deg: Option<f64>,
    singularity_m: Option<f64>,
    clearance_m: Option<f64>,
    tight: usize,
    ways_in_and_out_s: f64,
    stand: &'a str,
    detents_deg: Vec<f64>,
    joints_deg_m: Vec<f64>,
}

/// How many were looked at, and what ruled them out.
#[derive(JsonSchema, Serialize)]
struct TriedJson {
    places_drawn: usize,
    places_outside_envelope: usize,
    places_near_structure: usize,
    places_without_posture: usize,
    places_without_posture_by: Vec<LimitJson>,
    places_not_asked: usize,
    bodies_looked_at: usize,
    bodies_not_held: usize,
    bodies_violated: usize,
    bodies_not_held_by: Vec<LimitJson>,
    bodies_violated_by: Vec<LimitJson>,
    places_found: usize,
    arm_combinations: usize,
    arm_combinations_left_out: usize,
    arm_beyond_length: usize,
    arm_not_met: usize,
    arm_configurations: usize,
    arm_near_joint_limit: usize,
    arm_near_singular: usize,
    arm_not_kept: usize,
    servings: usize,
    servings_too_near_at_rest: usize,
    servings_judged: usize,
    servings_violated: usize,
    servings_in_bad_place: usize,
    servings_too_near_by: Vec<LimitJson>,
    servings_violated_by: Vec<LimitJson>,
}

/// A limit and how many it rules out; of a clearance, the two classes.
#[derive(JsonSchema, Serialize)]
struct LimitJson {
    check: String,
    of: String,
    ruled_out: usize,
}

#[derive(JsonSchema, Serialize)]
struct WayJson<'a> {
    step: &'a str,
    waypoints_deg_m: Vec<Vec<f64>>,
    seconds: Option<f64>,
    /// Certified above every limit of clearance and stopping, tolerances taken off.
    margin_at_least_m: f64,
    nodes: usize,
    stretches_asked: usize,
}

#[derive(JsonSchema, Serialize)]
struct UnsettledJson<'a> {
    worksite: &'a str,
    /// What it comes to, and what was looked at, in words.
    told: Vec<String>,
    #[serde(flatten)]
    why: WhyJson<'a>,
}

#[derive(JsonSchema, Serialize)]
#[serde(tag = "why", rename_all = "snake_case")]
enum WhyJson<'a> {
    /// None was found that keeps every limit, which is no proof.
    NoSetting(Box<NothingJson<'a>>),
    /// No setting of the second crew's restraint keeps every limit.
    NoSecondSetting {
        second_crew: SecondJson<'a>,
    },
    NoWay {
        settings_tried: usize,
        proven_impossible: bool,
        breaks: Vec<BrokenJson<'a>>,
        /// Worksites at its ends whose settings are the plan's: others may allow a way.
        given: &'a [String],
    },
    /// Nothing can be done from any of these stands, which is proven.
    NoStand {
        ruled_out: Vec<&'a str>,
    },
    /// No stand serves all of these worksites, and nothing moves the base between them.
    StandsApart {
        served_from: Vec<ServedJson<'a>>,
    },
    SearchesSpent,
}

#[derive(JsonSchema, Serialize)]
struct ServedJson<'a> {
    worksite: &'a str,
    stands: &'a [String],
}

#[derive(JsonSchema, Serialize)]
struct NothingJson<'a> {
    tried: TriedJson,
    /// Stands from which nothing can be done, which is proven.
    no_stand: Vec<&'a str>,
    nearest: Option<SettingJson<'a>>,
    nearest_breaks: Vec<BrokenJson<'a>>,
}

#[derive(JsonSchema, Serialize)]
struct BrokenJson<'a> {
    check: &'a str,
    #[serde(rename = "where")]
    place: &'a str,
    subject: &'a str,
    /// How far it is on the good side, in the unit of the check; below zero.
    margin: Option<f64>,
    /// What would help.
    help: Option<&'a str>,
}

impl<'a> SiteJson<'a> {
    fn of(project: &Project, site: &'a SiteProposal) -> Self {
        Self {
            worksite: &site.worksite,
            chosen: SettingJson::of(project, &site.chosen),
            candidates: site.candidates.good.iter().map(|judged| SettingJson::of(project, judged)).collect(),
            tried: TriedJson::of(&site.candidates),
        }
    }
}

impl<'a> SecondJson<'a> {
    fn of(found: &'a SecondProposal) -> Self {
        Self {
            worksite: &found.worksite,
            detents_deg: found.chosen.as_ref().map(|chosen| chosen.setting.detents_as_written()),
            score: found.chosen.as_ref().map(|chosen| chosen.score),
            tried: found.tried,
            left_out: found.left_out,
            keep_every_limit: found.kept,
            ruled_out_by: LimitJson::all(&found.broken),
        }
    }
}

impl<'a> SettingJson<'a> {
    fn of(project: &Project, judged: &'a Judged) -> Self {
        let (parts, setting) = (&judged.parts, &judged.setting);
        Self {
            score: judged.score,
            reach_m: parts.reach,
            body_joints_deg: parts.body_joints.map(f64::to_degrees),
            near_neutral_share: parts.neutral,
            sight_share: parts.sight,
            arm_joints_deg: parts.arm_joints.map(f64::to_degrees),
            singularity_m: parts.singularity,
            clearance_m: parts.clearance,
            tight: judged.tight,
            ways_in_and_out_s: judged.seconds,
            stand: &setting.stand,
            detents_deg: setting.detents_as_written(),
            joints_deg_m: keyed(project, &setting.arm),
        }
    }
}

impl TriedJson {
    fn of(found: &Candidates) -> Self {
        let Candidates { places, bodies, arms, tried, .. } = found;
        Self {
            places_drawn: places.drawn,
            places_outside_envelope: places.outside_envelope,
            places_near_structure: places.near_structure,
            places_without_posture: places.no_posture.ruled_out,
            places_without_posture_by: LimitJson::all(&places.no_posture),
            places_not_asked: places.not_asked,
            bodies_looked_at: bodies.places,
            bodies_not_held: bodies.not_held.ruled_out,
            bodies_violated: bodies.violated.ruled_out,
            bodies_not_held_by: LimitJson::all(&bodies.not_held),
            bodies_violated_by: LimitJson::all(&bodies.violated),
            places_found: found.places_found,
            arm_combinations: arms.combinations,
            arm_combinations_left_out: arms.left_out,
            arm_beyond_length: arms.beyond_arm,
            arm_not_met: arms.not_met,
            arm_configurations: arms.configurations,
            arm_near_joint_limit: arms.near_joint_limit,
            arm_near_singular: arms.near_singular,
            arm_not_kept: arms.not_kept,
            servings: found.servings,
            servings_too_near_at_rest: tried.too_near.ruled_out,
            servings_judged: tried.judged,
            servings_violated: tried.violated.ruled_out,
            servings_in_bad_place: tried.in_bad_place,
            servings_too_near_by: LimitJson::all(&tried.too_near),
            servings_violated_by: LimitJson::all(&tried.violated),
        }
    }
}

impl LimitJson {
    fn all(tally: &Tally) -> Vec<Self> {
        let limit = |(broken, ruled_out): (&Broken, usize)| {
            let Broken { check, of } = broken.clone();
            Self { check, of, ruled_out }
        };
        tally.most().into_iter().map(limit).collect()
    }
}

impl<'a> WayJson<'a> {
    fn of(project: &Project, way: &'a WayProposal) -> Self {
        Self {
            step: &way.step,
            waypoints_deg_m: way.way.waypoints.iter().map(|q| keyed(project, q)).collect(),
            seconds: way.way.seconds,
            margin_at_least_m: way.way.margin,
            nodes: way.way.nodes,
            stretches_asked: way.way.edges,
        }
    }
}

impl<'a> WhyJson<'a> {
    fn of(project: &Project, why: &'a Why) -> Self {
        match why {
            Why::NoSetting(found) => Self::NoSetting(Box::new(NothingJson {
                tried: TriedJson::of(found),
                no_stand: found.no_stand.iter().map(|(stand, _)| stand.as_str()).collect(),
                nearest: found.nearest.as_ref().map(|judged| SettingJson::of(project, judged)),
                nearest_breaks: found
                    .nearest
                    .iter()
                    .flat_map(|judged| &judged.violations)
                    .map(BrokenJson::of)
                    .collect(),
            })),
            Why::NoSecondSetting(found) => Self::NoSecondSetting { second_crew: SecondJson::of(found) },
            Why::NoWay { tried, last, given } => Self::NoWay {
                settings_tried: *tried,
                proven_impossible: matches!(last, NoWay::Transit(Answer::Impossible(_))),
                breaks: match last {
                    NoWay::Violated(violations) => violations.iter().map(BrokenJson::of).collect(),
                    NoWay::Transit(_) => Vec::new(),
                },
                given,
            },
            Why::NoStand { ruled_out } => {
                Self::NoStand { ruled_out: ruled_out.iter().map(|(stand, _)| stand.as_str()).collect() }
            }
            Why::StandsApart { served_from } => Self::StandsApart {
                served_from: served_from.iter().map(|(worksite, stands)| ServedJson { worksite, stands }).collect(),
            },
            Why::Spent => Self::SearchesSpent,
        }
    }
}

impl<'a> BrokenJson<'a> {
    fn of(broken: &'a Violation) -> Self {
        Self {
            check: &broken.check,
            place: &broken.place,
            subject: &broken.subject,
            margin: broken.margin,
            help: broken.help.as_deref(),
        }
    }
}

/// A configuration (rad or m) in degrees or metres, as it is keyed in.
fn keyed(project: &Project, q: &[f64]) -> Vec<f64> {
    let turns = project.arm.joint.iter().map(|joint| joint.kind == JointKind::Revolute);
    q.iter().zip(turns).map(|(value, turns)| number::keyed(*value, turns)).collect()
}
