//! `check`: which limits does a plan keep, which not, and by how much?

use std::io::{IsTerminal, stdout};
use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::{Context, Result};
use clap::ValueEnum;

use super::progress::Bar;
use super::{interrupt, output, plan, unknown_name};
use crate::check::{self, Finding, Outcome, Place};
use crate::crew;
use crate::report::{self, Ink, Options, Report};

/// Check a plan: reach, posture, sight, access, joint limits, clearance, speed
#[derive(clap::Args, Default)]
pub struct Args {
    /// Plan folder, or the plan file in it; the built-in demo where it is missing
    plan: Option<PathBuf>,
    /// What is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    /// Report one worksite or one motion only
    #[arg(long, value_name = "WORKSITE|MOTION")]
    only: Option<String>,
    /// Write to a file instead of stdout
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people
    #[default]
    Text,
    /// Everything, for machines
    Json,
    /// The findings, one a row
    Csv,
    /// The waypoints of the motions as CSV, joints in the arm's order
    Waypoints,
}

/// Checks the plan and writes the report.
///
/// # Errors
/// The plan's mistakes, an unknown name, a result that cannot be written, a request to stop.
pub fn run(args: &Args) -> Result<ExitCode> {
    let loaded = plan::load(args.plan.as_deref())?;
    let stop = interrupt::stop_flag()?;
    let mut outcome = check::run(&loaded.project, &loaded.meshes, &Bar::new(), &stop)?;
    if let Some(name) = &args.only {
        outcome = only(outcome, name)?;
    }
    let mut notes = loaded.notes.clone();
    notes.extend(outcome.notes.iter().cloned());
    let options = Options { only: args.only.clone() };
    let report = Report {
        project: &loaded.project,
        inputs: &loaded.inputs,
        notes: &notes,
        outcome: &outcome,
        options: &options,
        joint_words: &crew::words,
    };
    output::deliver(&written(&report, args)?, args.out.as_deref())?;
    let violated = outcome.findings.iter().any(|finding| finding.status.is_violation());
    Ok(ExitCode::from(u8::from(violated)))
}

/// The report in the format that was asked for.
fn written(report: &Report, args: &Args) -> Result<Vec<u8>> {
    match args.format {
        Format::Text => Ok(report::text(report, ink(args)).into_bytes()),
        Format::Json => report::json(report).map(String::into_bytes).context("writing the report as JSON"),
        Format::Csv => report::findings_csv(report).context("writing the findings as CSV"),
        Format::Waypoints => report::waypoints_csv(report).context("writing the waypoints as CSV"),
    }
}

/// Colour only on a terminal that has not been asked for none.
fn ink(args: &Args) -> Ink {
    let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    if args.out.is_none() && !refused && stdout().is_terminal() { Ink::Coloured } else { Ink::Plain }
}

/// What belongs to one worksite or one motion; the pairs that may touch stay.
fn only(outcome: Outcome, name: &str) -> Result<Outcome> {
    let visits = outcome.visits.iter().map(|visit| visit.worksite.as_str());
    let names = visits.chain(outcome.motions.iter().map(|motion| motion.id.as_str()));
    if !names.clone().any(|known| known == name) {
        return Err(unknown_name(name, "worksite or motion", names));
    }
    let belongs = |finding: &Finding| match &finding.key.place {
        Place::Worksite { worksite, .. } => worksite == name,
        Place::Motion { motion } => motion == name,
        Place::Step { .. } => false,
    };
    Ok(Outcome {
        visits: outcome.visits.into_iter().filter(|visit| visit.worksite == name).collect(),
        motions: outcome.motions.into_iter().filter(|motion| motion.id == name).collect(),
        findings: outcome.findings.into_iter().filter(belongs).collect(),
        ..outcome
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::check::{Key, MotionKind, MotionSummary, Status, Unit, Value};

    fn finding(place: Place) -> Finding {
        Finding {
            key: Key { check: "reach", place, who: None, subject: "bolt".to_owned() },
            pair: None,
            value: Value::Exact(1.0),
            limit: None,
            margin: None,
            unit: Unit::Metre,
            at: None,
            status: Status::Ok,
            note: None,
            help: None,
            source: None,
        }
    }

    fn two_motions() -> Outcome {
        let motion = |id: &str| MotionSummary {
            id: id.to_owned(),
            step: "step-1".to_owned(),
            kind: MotionKind::Transit,
            joints: Vec::new(),
            waypoints: Vec::new(),
            near_worksite: Vec::new(),
            seconds: None,
            carries: Vec::new(),
            not_checked: None,
        };
        let place = |id: &str| Place::Motion { motion: id.to_owned() };
        Outcome {
            motions: ["step-1/retreat", "step-1/transit"].map(motion).to_vec(),
            findings: ["step-1/retreat", "step-1/transit"].map(|id| finding(place(id))).to_vec(),
            ..Outcome::default()
        }
    }

    #[test]
    fn only_one_motion_is_left() {
        let kept = only(two_motions(), "step-1/transit").expect("it is there");
        assert_eq!(kept.motions.iter().map(|motion| motion.id.as_str()).collect::<Vec<_>>(), ["step-1/transit"]);
        assert_eq!(kept.findings, [finding(Place::Motion { motion: "step-1/transit".to_owned() })]);
    }

    #[test]
    fn an_unknown_name_is_answered_with_the_nearest_one() {
        let told = |name: &str| only(two_motions(), name).map_err(|error| error.to_string());
        let near = "`step-1/transitt` is no worksite or motion of this plan; nearest: `step-1/transit`";
        assert_eq!(told("step-1/transitt"), Err(near.to_owned()));
        let far = "`x` is no worksite or motion of this plan; expected one of: step-1/retreat, step-1/transit";
        assert_eq!(told("x"), Err(far.to_owned()));
    }
}
