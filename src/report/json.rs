//! What does a machine read?
//!
//! One JSON object. Angles are in degrees (`deg`), all else in SI; values, limits and margins are unrounded, so that a
//! status can be recomputed; configurations of visits and waypoints are rounded to 0.001° and 1 µm, as they are keyed.
//! `segment` counts from 0.

use serde::Serialize;

use super::{CAUTIONS, Counts, Options, Report, joints_then, number};
use crate::check::{
    Bar, Exemption, Finding, JointName, Kind, Moment, MotionSummary, Outcome, Pair, Place, Status, Unit, Value, Visit,
};
use crate::files::Input;
use crate::model::{Bound, Deed, Hands, Limits, Tolerances, Who};
use crate::space::Point;

/// Goes up when a reader of an older one could misread the new one.
pub const SCHEMA_VERSION: u32 = 2;

/// The whole report, ending in a new line.
///
/// # Errors
/// If a value cannot be written as JSON.
pub fn json(report: &Report) -> serde_json::Result<String> {
    serde_json::to_string_pretty(&ReportJson::of(report)).map(|text| text + "\n")
}

#[derive(Serialize)]
struct ReportJson<'a> {
    schema_version: u32,
    program: &'static str,
    program_version: &'static str,
    cautions: &'static str,
    title: &'a str,
    options: &'a Options,
    inputs: &'a [Input],
    notes: &'a [String],
    /// What is odd about the plan's targets, in words.
    odd: &'a [String],
    stated: StatedJson<'a>,
    counts: Counts,
    arm_joints: Vec<JointJson<'a>>,
    visits: Vec<VisitJson<'a>>,
    motions: Vec<MotionJson<'a>>,
    findings: Vec<FindingJson<'a>>,
    may_touch: Vec<ExemptionJson<'a>>,
}

/// What the plan states beside its geometry, with the keys and units of its files.
#[derive(Serialize)]
struct StatedJson<'a> {
    seed: u64,
    near_worksite_m: f64,
    cap_m: f64,
    limits: &'a Limits,
    tolerances: &'a Tolerances,
}

#[derive(Serialize)]
struct JointJson<'a> {
    name: &'a str,
    unit: &'static str,
}

#[derive(Serialize)]
struct VisitJson<'a> {
    worksite: &'a str,
    step: &'a str,
    #[serde(rename = "do")]
    deed: Deed,
    who: Who,
    stand: &'a str,
    approach: [f64; 3],
    detents: Vec<JointValueJson<'a>>,
    plate: PlaceJson,
    arm: Vec<JointValueJson<'a>>,
    targets: Vec<TargetJson<'a>>,
}

#[derive(Serialize)]
struct PlaceJson {
    at_m: [f64; 3],
    quat_xyzw: [f64; 4],
}

#[derive(Serialize)]
struct TargetJson<'a> {
    target: &'a str,
    tool_m: f64,
    hands: Option<Hands>,
    joints: Vec<JointValueJson<'a>>,
}

#[derive(Serialize)]
struct JointValueJson<'a> {
    name: &'a str,
    value: f64,
    unit: &'static str,
}

#[derive(Serialize)]
struct MotionJson<'a> {
    id: &'a str,
    step: &'a str,
    kind: &'static str,
    carries: Vec<&'static str>,
    seconds: Option<f64>,
    joints: Vec<JointJson<'a>>,
    waypoints: Vec<Vec<f64>>,
    /// Of each segment between two waypoints.
    near_worksite: &'a [bool],
    not_checked: Option<&'a str>,
}

#[derive(Serialize)]
struct FindingJson<'a> {
    check: &'static str,
    #[serde(rename = "where")]
    place: &'a Place,
    who: Option<Who>,
    subject: &'a str,
    pair: Option<PairJson<'a>>,
    unit: &'static str,
    known: &'static str,
    value: Option<f64>,
    bound: Option<BoundJson>,
    limit: Option<BarJson>,
    margin: Option<f64>,
    status: &'static str,
    kind: Option<&'static str>,
    reason: Option<&'a str>,
    at: Option<MomentJson<'a>>,
    note: Option<&'a str>,
    help: Option<&'a str>,
    source: Option<&'a str>,
}

#[derive(Serialize)]
struct PairJson<'a> {
    classes: String,
    bodies: Option<&'a [String; 2]>,
}

/// The nominal bracket, and its worse end with tolerances.
#[derive(Serialize)]
struct BoundJson {
    lower: f64,
    upper: f64,
    worst: f64,
}

#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
enum BarJson {
    AtLeast(f64),
    AtMost(f64),
}

#[derive(Serialize)]
struct MomentJson<'a> {
    segment: Option<usize>,
    fraction: f64,
    seconds: Option<f64>,
    /// Those that move, unrounded: the arm's in its order, or a crewmember's; none where the base moves.
    joints: Option<Vec<JointValueJson<'a>>>,
    points_m: Option<[[f64; 3]; 2]>,
}

#[derive(Serialize)]
struct ExemptionJson<'a> {
    a: &'a str,
    b: &'a str,
    reason: &'a str,
}

/// The sign of a unit as machines read it.
pub(super) const fn unit_word(unit: Unit) -> &'static str {
    match unit {
        Unit::Metre => "m",
        Unit::Radian => "deg",
        Unit::Share => "share",
        Unit::Second => "s",
        Unit::MetrePerSecond => "m/s",
        Unit::RadianPerSecond => "deg/s",
    }
}

/// How a value is known, in a word that machines read: `above` is above a cap beyond which nothing is measured.
pub(super) const fn known_word(value: Value) -> &'static str {
    match value {
        Value::Exact(_) => "exact",
        Value::Bounded { .. } => "bounded",
        Value::Above(_) => "above",
        Value::Sampled(_) => "sampled",
        Value::None => "none",
    }
}

/// The word of a kind of violation as machines read it.
pub(super) const fn kind_word(kind: Kind) -> &'static str {
    match kind {
        Kind::Nominal => "nominal",
        Kind::WithTolerances => "with_tolerances",
        Kind::Proven => "proven",
        Kind::NotFound => "not_found",
        Kind::NotTold => "not_told",
    }
}

/// A status's word, the kind of a violation, the reason why not checked.
pub(super) fn status_words(status: &Status) -> (&'static str, Option<&'static str>, Option<&str>) {
    match status {
        Status::Ok => ("ok", None, None),
        Status::Tight => ("tight", None, None),
        Status::Violation(kind) => ("violation", Some(kind_word(*kind)), None),
        Status::NotChecked(reason) => ("not_checked", None, Some(reason)),
    }
}

const fn joint_unit(turns: bool) -> &'static str {
    if turns { "deg" } else { "m" }
}

fn coordinates(point: &Point) -> [f64; 3] {
    [point.x, point.y, point.z]
}

impl<'a> ReportJson<'a> {
    fn of(report: &Report<'a>) -> Self {
        let (plan, outcome) = (&report.project.plan, report.outcome);
        let arm = &outcome.arm_joints;
        Self {
            schema_version: SCHEMA_VERSION,
            program: env!("CARGO_PKG_NAME"),
            program_version: env!("CARGO_PKG_VERSION"),
            cautions: CAUTIONS,
            title: &outcome.title,
            options: report.options,
            inputs: report.inputs,
            notes: report.notes,
            odd: &outcome.odd,
            stated: StatedJson {
                seed: plan.seed,
                near_worksite_m: plan.near_worksite_m,
                cap_m: plan.cap_m,
                limits: &plan.limits,
                tolerances: &plan.tolerances,
            },
            counts: Counts::of(outcome),
            arm_joints: arm.iter().map(|j| JointJson { name: &j.name, unit: joint_unit(j.turns) }).collect(),
            visits: outcome.visits.iter().map(|visit| VisitJson::of(visit, arm)).collect(),
            motions: outcome.motions.iter().map(MotionJson::of).collect(),
            findings: outcome.findings.iter().map(|finding| FindingJson::of(finding, outcome)).collect(),
            may_touch: outcome.exemptions.iter().map(ExemptionJson::of).collect(),
        }
    }
}

impl<'a> VisitJson<'a> {
    fn of(visit: &'a Visit, arm: &'a [JointName]) -> Self {
        let plate = &visit.structure_from_plate;
        let turned = |(name, value): &'a (String, f64)| JointValueJson::of(name, *value, true);
        Self {
            worksite: &visit.worksite,
            step: &visit.step,
            deed: visit.deed,
            who: visit.who,
            stand: &visit.stand,
            approach: visit.approach.into(),
            detents: visit.detents.iter().map(turned).collect(),
            plate: PlaceJson { at_m: plate.translation.vector.into(), quat_xyzw: plate.rotation.coords.into() },
            arm: arm.iter().zip(&visit.arm).map(|(j, value)| JointValueJson::of(&j.name, *value, j.turns)).collect(),
            targets: (visit.targets.iter())
                .map(|target| TargetJson {
                    target: &target.target,
                    tool_m: target.tool,
                    hands: target.hands,
                    joints: target.joints.iter().map(turned).collect(),
                })
                .collect(),
        }
    }
}

impl<'a> JointValueJson<'a> {
    fn of(name: &'a str, value: f64, turns: bool) -> Self {
        Self { name, value: number::keyed(value, turns), unit: joint_unit(turns) }
    }
}

impl<'a> MotionJson<'a> {
    fn of(motion: &'a MotionSummary) -> Self {
        let joints = &motion.joints;
        let keyed = |at: &Vec<f64>| joints.iter().zip(at).map(|(j, q)| number::keyed(*q, j.turns)).collect();
        Self {
            id: &motion.id,
            step: &motion.step,
            kind: motion.kind.word(),
            carries: motion.carries.iter().map(|class| class.word()).collect(),
            seconds: motion.seconds,
            joints: joints.iter().map(|j| JointJson { name: &j.name, unit: joint_unit(j.turns) }).collect(),
            waypoints: motion.waypoints.iter().map(keyed).collect(),
            near_worksite: &motion.near_worksite,
            not_checked: motion.not_checked.as_deref(),
        }
    }
}

impl<'a> FindingJson<'a> {
    fn of(finding: &'a Finding, outcome: &'a Outcome) -> Self {
        let Finding { key, pair, value, limit, margin, unit, at, status, note, help, source } = finding;
        let printed = |value: f64| number::printed(value, *unit);
        let (status, kind, reason) = status_words(status);
        let (value, bound) = match *value {
            Value::Exact(value) | Value::Above(value) | Value::Sampled(value) => (Some(printed(value)), None),
            Value::Bounded { nominal: Bound { lower, upper }, worst } => {
                let [lower, upper, worst] = [lower, upper, worst].map(printed);
                (None, Some(BoundJson { lower, upper, worst }))
            }
            Value::None => (None, None),
        };
        let bar = |bar: Bar| match bar {
            Bar::AtLeast(least) => BarJson::AtLeast(printed(least)),
            Bar::AtMost(most) => BarJson::AtMost(printed(most)),
        };
        Self {
            check: key.check,
            place: &key.place,
            who: key.who,
            subject: &key.subject,
            pair: pair.as_ref().map(PairJson::of),
            unit: unit_word(*unit),
            known: known_word(finding.value),
            value,
            bound,
            limit: limit.map(bar),
            margin: margin.map(printed),
            status,
            kind,
            reason,
            at: at.as_ref().map(|at| MomentJson::of(outcome, finding, at)),
            note: note.as_deref(),
            help: help.as_deref(),
            source: source.as_deref(),
        }
    }
}

impl<'a> PairJson<'a> {
    fn of(pair: &'a Pair) -> Self {
        Self { classes: pair.classes.to_string(), bodies: pair.bodies.as_ref() }
    }
}

impl<'a> MomentJson<'a> {
    fn of(outcome: &'a Outcome, finding: &'a Finding, at: &'a Moment) -> Self {
        let unrounded = |(name, turns, value): (&'a str, bool, f64)| JointValueJson {
            name,
            value: if turns { value.to_degrees() } else { value },
            unit: joint_unit(turns),
        };
        let joints = joints_then(outcome, finding, at);
        Self {
            segment: at.segment,
            fraction: at.fraction,
            seconds: at.seconds,
            joints: joints.map(|joints| joints.into_iter().map(unrounded).collect()),
            points_m: at.points.as_ref().map(|points| points.each_ref().map(coordinates)),
        }
    }
}

impl<'a> ExemptionJson<'a> {
    fn of(exemption: &'a Exemption) -> Self {
        Self { a: &exemption.a, b: &exemption.b, reason: &exemption.reason }
    }
}
