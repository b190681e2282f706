//! `mend`: which least changes would clear a plan's violations?

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::AtomicBool;

use anyhow::{Result, anyhow};

use super::embedded::DEMO;
use super::progress::Bar;
use super::{interrupt, output, plan};
use crate::check::{self, Known};
use crate::files::{self, Draft, Embedded, Loaded, PlanPath, Source};
use crate::model::PlanEdit;
use crate::propose::mend::{self, Mended};
use crate::report::{self, Options, Report};

/// Explain each violation of a plan, and find the least changes that clear it
#[derive(clap::Args)]
pub struct Args {
    /// Plan folder, or the plan file in it; the built-in demo where it is missing
    plan: Option<PathBuf>,
    /// Make the change of this number in the plan's file, and check the plan again
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u32).range(1..))]
    apply: Option<u32>,
    /// Make it in a copy of the plan, in a new or empty folder
    #[arg(long, value_name = "DIR", requires = "apply")]
    out: Option<PathBuf>,
}

/// Looks for mends, writes them, and makes the one that is asked for.
///
/// # Errors
/// The plan's mistakes, a number that no mend has, files that cannot be written, a request to stop.
pub fn run(args: &Args) -> Result<ExitCode> {
    if args.apply.is_some() && args.plan.is_none() && args.out.is_none() {
        return Err(anyhow!("the built-in demo cannot be changed; expected --out DIR for a copy of it"));
    }
    let loaded = plan::load(args.plan.as_deref())?;
    let stop = interrupt::stop_flag()?;
    let bar = Bar::new();
    let checked = check::again((&loaded.project, &loaded.meshes), &Known::default(), &bar, &stop)?;
    let causes = report::causes(&checked.outcome);
    let most = args.apply.map(|number| number as usize);
    let mended = mend::mend((&loaded.project, &loaded.meshes), (&checked, &causes), most, &bar, &stop)?;
    drop(bar);
    let Some(wanted) = most else {
        let told = written(&loaded, &checked.outcome, &mended, args);
        output::deliver(told.as_bytes(), None)?;
        return Ok(ExitCode::from(u8::from(!causes.is_empty())));
    };
    let edits = edits_of(&mended, wanted, causes.len())?;
    let folder = apply(edits, args)?;
    again(&folder, edits, &stop)
}

/// The mends as text.
fn written(loaded: &Loaded, outcome: &check::Outcome, mended: &[Mended], args: &Args) -> String {
    let named = args.plan.as_ref().map(|path| path.display().to_string());
    let report = Report {
        project: &loaded.project,
        inputs: &loaded.inputs,
        notes: &loaded.notes,
        outcome,
        options: &Options::default(),
        named: named.as_deref(),
    };
    let mut told = report::mends(&report, mended, output::ink(None));
    if mend::numbered(mended).next().is_some() {
        let plan = named.map(|named| format!(" {named}")).unwrap_or_default();
        told += &format!("next: trusswalk mend{plan} --apply NUMBER --out DIR, which makes a change in a copy\n");
    }
    told
}

/// The edits of the mend of a number.
fn edits_of(mended: &[Mended], wanted: usize, causes: usize) -> Result<&[PlanEdit]> {
    let found = mend::numbered(mended).find(|(number, _)| *number == wanted);
    let count = mend::numbered(mended).count();
    found.map(|(_, mend)| mend.edits.as_slice()).ok_or_else(|| match (causes, count) {
        (0, _) => anyhow!("no limit is violated: there is nothing to mend"),
        (_, 0) => anyhow!("there is no mend {wanted}: none was found"),
        (_, count) => anyhow!("there is no mend {wanted}; expected 1 to {count}"),
    })
}

/// Makes edits in the plan's file, or in a copy, nothing half; hands back where the plan is.
fn apply(edits: &[PlanEdit], args: &Args) -> Result<PathBuf> {
    match (&args.plan, &args.out) {
        (Some(path), None) => {
            let mut draft = Draft::as_on_disk(path)?;
            for edit in edits {
                draft.apply(edit)?;
            }
            draft.save()?;
            Ok(path.clone())
        }
        (Some(path), Some(folder)) => {
            let (disk, plan) = files::plan_at(path)?;
            copy_with(&disk, &plan, edits, folder)
        }
        (None, Some(folder)) => copy_with(&Embedded { files: DEMO }, &PlanPath::plan(), edits, folder),
        (None, None) => Err(anyhow!("the built-in demo cannot be changed; expected --out DIR for a copy of it")),
    }
}

fn copy_with(source: &dyn Source, plan: &PlanPath, edits: &[PlanEdit], folder: &Path) -> Result<PathBuf> {
    let mut text = files::plan_text(source, plan)?;
    for edit in edits {
        text = files::apply(&text, plan, edit)?;
    }
    files::copy_as(source, plan, folder, &text)?;
    Ok(folder.join(plan.as_str()))
}

/// Checks the plan that was written, and says what came of it.
fn again(plan: &Path, edits: &[PlanEdit], stop: &AtomicBool) -> Result<ExitCode> {
    let loaded = files::read_project(plan)?;
    let outcome = check::run(&loaded.project, &loaded.meshes, &Bar::new(), stop)?;
    let counts = report::Counts::of(&outcome);
    let changed: Vec<String> = edits.iter().map(ToString::to_string).collect();
    let told = format!(
        "changed in {0}: {1}\nits check: {2} ok, {3} tight, {4} violations, {5} not checked; next: trusswalk check {0}\n",
        plan.display(),
        changed.join(", "),
        counts.ok,
        counts.tight,
        counts.violations,
        counts.not_checked
    );
    output::deliver(told.as_bytes(), None)?;
    Ok(ExitCode::from(u8::from(counts.violations > 0)))
}
