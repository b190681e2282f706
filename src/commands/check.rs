//! `check`: which limits does a plan keep, which not, and by how much?

use std::borrow::Cow;
use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::{Context, Result, anyhow};
use clap::ValueEnum;

use super::progress::Bar;
use super::{interrupt, output, plan};
use crate::check::{self, Finding, Known, Outcome, Place};
use crate::files::unknown_name;
use crate::model::Plan;
use crate::propose::mend;
use crate::report::{self, Options, Report};

/// Check a plan: reach, posture, sight, access, joint limits, singularity, clearance, stopping, speed
#[derive(clap::Args, Default)]
pub struct Args {
    /// Plan folder, or the plan file in it; the built-in demo where it is missing
    plan: Option<PathBuf>,
    /// What is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    /// Report one worksite, one motion or one step only
    #[arg(long, value_name = "WORKSITE|MOTION|STEP")]
    only: Option<String>,
    /// Say of each violation which least changes would clear it, as `mend` does
    #[arg(long)]
    explain: bool,
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
    if args.explain && args.format != Format::Text {
        return Err(anyhow!("`--explain` is for people; expected `--format text` with it, or none"));
    }
    let loaded = plan::load(args.plan.as_deref())?;
    let stop = interrupt::stop_flag()?;
    let plan = (&loaded.project, &loaded.meshes);
    let checked = check::again(plan, &Known::default(), &Bar::new(), &stop)?;
    let outcome = match &args.only {
        Some(name) => Cow::Owned(only(checked.outcome.clone(), &loaded.project.plan, name)?),
        None => Cow::Borrowed(&checked.outcome),
    };
    let mut notes = loaded.notes.clone();
    notes.extend(outcome.notes.iter().cloned());
    let named = args.plan.as_ref().map(|path| path.display().to_string());
    let options = Options { only: args.only.clone() };
    let report = Report {
        project: &loaded.project,
        inputs: &loaded.inputs,
        notes: &notes,
        outcome: &outcome,
        options: &options,
        named: named.as_deref(),
    };
    let mut written = written(&report, args)?;
    if args.explain {
        let causes = report::causes(&outcome);
        let mended = mend::mend(plan, (&checked, &causes), None, &Bar::new(), &stop)?;
        written.extend(report::mends(&report, &mended, output::ink(args.out.as_deref())).into_bytes());
    }
    output::deliver(&written, args.out.as_deref())?;
    let violated = outcome.findings.iter().any(|finding| finding.status.is_violation());
    Ok(ExitCode::from(u8::from(violated)))
}

/// The report in the format that was asked for.
fn written(report: &Report, args: &Args) -> Result<Vec<u8>> {
    match args.format {
        Format::Text => Ok(report::text(report, output::ink(args.out.as_deref())).into_bytes()),
        Format::Json => report::json(report).map(String::into_bytes).context("writing the report as JSON"),
        Format::Csv => report::findings_csv(report).context("writing the findings as CSV"),
        Format::Waypoints => report::waypoints_csv(report).context("writing the waypoints as CSV"),
    }
}

/// What belongs to one worksite, one motion or one step; the pairs that may touch stay.
fn only(outcome: Outcome, plan: &Plan, name: &str) -> Result<Outcome> {
    let worksites = || plan.worksite.iter().map(|site| site.id.as_str());
    let steps: Vec<String> = plan.step.iter().enumerate().map(|(index, step)| step.id_at(index)).collect();
    let motions = outcome.motions.iter().map(|motion| motion.id.as_str());
    let names = worksites().chain(motions).chain(steps.iter().map(String::as_str));
    if !names.clone().any(|known| known == name) {
        return Err(unknown_name(name, "worksite, motion or step", names));
    }
    let mut notes = outcome.notes;
    if worksites().any(|id| id == name) && !outcome.visits.iter().any(|visit| visit.worksite == name) {
        let leads =
            |step: &&String| plan.step.iter().zip(&steps).any(|(of, id)| id == *step && of.to.as_deref() == Some(name));
        let leading: Vec<&str> = steps.iter().filter(leads).map(String::as_str).collect();
        let leading = if leading.is_empty() {
            "no step leads there".to_owned()
        } else {
            format!("steps that lead there: {}", leading.join(", "))
        };
        notes.push(format!("worksite {name}: nobody works there; {leading}"));
    }
    let motions: Vec<_> =
        outcome.motions.into_iter().filter(|motion| motion.id == name || motion.step == name).collect();
    let belongs = |finding: &Finding| match &finding.key.place {
        Place::Worksite { worksite, step } => worksite == name || step == name,
        Place::Motion { motion } => motions.iter().any(|kept| kept.id == *motion),
        Place::Step { step } => step == name,
    };
    Ok(Outcome {
        visits: outcome.visits.into_iter().filter(|visit| visit.worksite == name || visit.step == name).collect(),
        findings: outcome.findings.into_iter().filter(belongs).collect(),
        motions,
        notes,
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

    fn plan() -> Plan {
        let text = include_str!("../../scenes/starter/plan.toml");
        toml::from_str(text).expect("the starter's plan")
    }

    #[test]
    fn only_one_motion_is_left() {
        let kept = only(two_motions(), &plan(), "step-1/transit").expect("it is there");
        assert_eq!(kept.motions.iter().map(|motion| motion.id.as_str()).collect::<Vec<_>>(), ["step-1/transit"]);
        assert_eq!(kept.findings, [finding(Place::Motion { motion: "step-1/transit".to_owned() })]);
    }

    #[test]
    fn a_step_keeps_its_motions() {
        let kept = only(two_motions(), &plan(), "step-1").expect("it is there");
        assert_eq!((kept.motions.len(), kept.findings.len()), (2, 2));
        assert_eq!(only(two_motions(), &plan(), "step-2").expect("it is there").findings, []);
    }

    #[test]
    fn a_worksite_at_which_nobody_works_is_no_mistake() {
        let kept = only(two_motions(), &plan(), "far-panel").expect("it is there");
        assert_eq!(kept.notes, ["worksite far-panel: nobody works there; steps that lead there: step-3"]);
    }

    #[test]
    fn an_unknown_name_is_answered_with_the_nearest_one() {
        let told = |name: &str| only(two_motions(), &plan(), name).map_err(|error| error.to_string());
        let near = "`step-1/transitt` is no worksite, motion or step of this plan; nearest: `step-1/transit`";
        assert_eq!(told("step-1/transitt"), Err(near.to_owned()));
        let far = "`x` is no worksite, motion or step of this plan; expected one of: far-panel, near-panel, step-1, \
                   step-1/retreat, step-1/transit, step-2, step-3, step-4, step-5";
        assert_eq!(told("x"), Err(far.to_owned()));
    }
}
