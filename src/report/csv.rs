//! What does a spreadsheet read?
//!
//! One row for each finding, with the words and unrounded values of the JSON report; `segment` counts from 0.

use serde::Serialize;

use super::Report;
use super::json::{known_word, status_words, unit_word};
use super::number::printed;
use crate::check::{Bar, Finding, Place, Value};
use crate::model::Who;

#[derive(Serialize)]
struct Row<'a> {
    check: &'a str,
    #[serde(rename = "where")]
    place: &'a str,
    name: &'a str,
    step: Option<&'a str>,
    who: Option<Who>,
    subject: &'a str,
    classes: Option<String>,
    body_a: Option<&'a str>,
    body_b: Option<&'a str>,
    status: &'a str,
    kind: Option<&'a str>,
    reason: Option<&'a str>,
    unit: &'a str,
    known: &'a str,
    lower: Option<f64>,
    upper: Option<f64>,
    worst: Option<f64>,
    at_least: Option<f64>,
    at_most: Option<f64>,
    margin: Option<f64>,
    segment: Option<usize>,
    fraction: Option<f64>,
    seconds: Option<f64>,
    a_x_m: Option<f64>,
    a_y_m: Option<f64>,
    a_z_m: Option<f64>,
    b_x_m: Option<f64>,
    b_y_m: Option<f64>,
    b_z_m: Option<f64>,
    note: Option<&'a str>,
    help: Option<&'a str>,
    source: Option<&'a str>,
}

/// The findings as CSV with a row of headings.
///
/// # Errors
/// If a row cannot be written.
pub fn findings_csv(report: &Report) -> csv::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for finding in &report.outcome.findings {
        writer.serialize(row(finding))?;
    }
    writer.into_inner().map_err(|error| error.into_error().into())
}

fn row(finding: &Finding) -> Row<'_> {
    let unit = finding.unit;
    let printed = |value: f64| Some(printed(value, unit));
    let (place, name, step) = match &finding.key.place {
        Place::Worksite { worksite, step } => ("worksite", worksite, Some(step.as_str())),
        Place::Motion { motion } => ("motion", motion, None),
        Place::Step { step } => ("step", step, None),
    };
    let (lower, upper, worst) = match finding.value {
        Value::Exact(value) | Value::Sampled(value) => (printed(value), printed(value), None),
        Value::Bounded { nominal, worst } => (printed(nominal.lower), printed(nominal.upper), printed(worst)),
        Value::Above(cap) => (printed(cap), None, None),
        Value::None => (None, None, None),
    };
    let (at_least, at_most) = match finding.limit {
        Some(Bar::AtLeast(least)) => (printed(least), None),
        Some(Bar::AtMost(most)) => (None, printed(most)),
        None => (None, None),
    };
    let (status, kind, reason) = status_words(&finding.status);
    let bodies = finding.pair.as_ref().and_then(|pair| pair.bodies.as_ref());
    let at = finding.at.as_ref();
    let [a, b] = at.and_then(|at| at.points).map_or([None, None], |points| points.map(Some));
    Row {
        check: finding.key.check,
        place,
        name,
        step,
        who: finding.key.who,
        subject: &finding.key.subject,
        classes: finding.pair.as_ref().map(|pair| pair.classes.to_string()),
        body_a: bodies.map(|[a, _]| a.as_str()),
        body_b: bodies.map(|[_, b]| b.as_str()),
        status,
        kind,
        reason,
        unit: unit_word(unit),
        known: known_word(finding.value),
        lower,
        upper,
        worst,
        at_least,
        at_most,
        margin: finding.margin.and_then(printed),
        segment: at.and_then(|at| at.segment),
        fraction: at.map(|at| at.fraction),
        seconds: at.and_then(|at| at.seconds),
        a_x_m: a.map(|p| p.x),
        a_y_m: a.map(|p| p.y),
        a_z_m: a.map(|p| p.z),
        b_x_m: b.map(|p| p.x),
        b_y_m: b.map(|p| p.y),
        b_z_m: b.map(|p| p.z),
        note: finding.note.as_deref(),
        help: finding.help.as_deref(),
        source: finding.source.as_deref(),
    }
}
