//! What does a machine read of mends?
//!
//! One JSON object: of each cause, in the order of the violations, what was looked for and what was found.

use schemars::{JsonSchema, Schema, schema_for};
use serde::Serialize;

use super::text::{change, entries};
use super::{CAUTIONS, Report};
use crate::propose::mend::{Mended, Sought};

/// Goes up when a reader of an older one could misread the new one.
const SCHEMA_VERSION: u32 = 1;

/// The mends of all causes for machines, ending in a new line.
///
/// # Errors
/// If a value cannot be written as JSON.
pub fn mends_json(report: &Report, mended: &[Mended]) -> serde_json::Result<String> {
    serde_json::to_string_pretty(&MendsJson::of(report, mended)).map(|text| text + "\n")
}

/// The JSON Schema of it.
pub fn mends_schema() -> Schema {
    schema_for!(MendsJson)
}

#[derive(JsonSchema, Serialize)]
#[serde(deny_unknown_fields)]
struct MendsJson {
    schema_version: u32,
    program_version: &'static str,
    cautions: &'static str,
    title: String,
    causes: Vec<CauseJson>,
}

#[derive(JsonSchema, Serialize)]
struct CauseJson {
    check: &'static str,
    /// The worksite, motion or step.
    #[serde(rename = "where")]
    place: String,
    heading: String,
    governs: String,
    sought: Vec<SoughtJson>,
}

/// What was looked for in one way.
#[derive(JsonSchema, Serialize)]
struct SoughtJson {
    by: String,
    /// Plans that were checked for it.
    tried: usize,
    /// Whether it changes what is done, not how: where a target is, or which hand does it.
    changes_task: bool,
    /// The least that was found; none found is no proof that there is none.
    mend: Option<MendJson>,
}

#[derive(JsonSchema, Serialize)]
struct MendJson {
    /// For `mend --apply`.
    number: usize,
    /// What is changed, from which value to which, with units.
    change: String,
    /// By how much longer all timed motions take; none where none is timed.
    longer_s: Option<f64>,
    /// Violations of other causes that are left.
    violations_left: usize,
}

impl MendsJson {
    fn of(report: &Report, mended: &[Mended]) -> Self {
        let mut number = 0;
        let entries = entries(report.outcome);
        let causes = mended.iter().zip(&entries).map(|(mended, entry)| CauseJson {
            check: mended.cause.check,
            place: mended.cause.place.name().to_string(),
            heading: entry.heading(),
            governs: entry.governing(report),
            sought: mended.sought.iter().map(|sought| SoughtJson::of(report, sought, &mut number)).collect(),
        });
        Self {
            schema_version: SCHEMA_VERSION,
            program_version: env!("CARGO_PKG_VERSION"),
            cautions: CAUTIONS,
            title: report.project.plan.title.clone(),
            causes: causes.collect(),
        }
    }
}

impl SoughtJson {
    fn of(report: &Report, sought: &Sought, number: &mut usize) -> Self {
        let mend = sought.mend.as_ref().map(|mend| {
            *number += 1;
            MendJson {
                number: *number,
                change: change(report.project, mend),
                longer_s: mend.longer,
                violations_left: mend.left,
            }
        });
        Self { by: sought.way.to_string(), tried: sought.tried, changes_task: sought.way.changes_task(), mend }
    }
}
