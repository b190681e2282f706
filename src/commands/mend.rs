//! `mend`: which least changes would clear a plan's violations?

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, Result, anyhow};

use super::embedded::DEMO;
use super::output::Format;
use super::progress::Bar;
use super::{edited, interrupt, output, plan};
use crate::check::{self, Known};
use crate::files::{self, Draft, Embedded, Loaded, PlanPath};
use crate::model::PlanEdit;
use crate::propose::mend::{self, Mended};
use crate::report::{self, Options, Report};

/// Explain each violation of a plan, and find the least changes that clear it
#[derive(clap::Args)]
pub struct Args {
    /// Plan folder, or the plan file in it; the built-in demo where it is missing
    plan: Option<PathBuf>,
    /// What is written
    #[arg(long, value_enum, default_value_t, conflicts_with = "apply")]
    format: Format,
    /// Make the change of this number in the plan's file, or those of several (`2,5`), and check the plan again
    #[arg(long, value_name = "NUMBER", value_delimiter = ',', value_parser = clap::value_parser!(u32).range(1..))]
    apply: Vec<u32>,
    /// Make them in a copy of the plan, in a new or empty folder
    #[arg(long, value_name = "DIR", requires = "apply")]
    out: Option<PathBuf>,
}

/// Looks for mends, writes them, and makes the one that is asked for.
///
/// # Errors
/// The plan's mistakes, a number that no mend has, files that cannot be written, a request to stop.
pub fn run(args: &Args) -> Result<ExitCode> {
    let destination = if args.apply.is_empty() { None } else { Some(Destination::of(args)?) };
    let loaded = plan::load(args.plan.as_deref())?;
    let stop = interrupt::stop_flag()?;
    let bar = Bar::new();
    let checked = check::again((&loaded.project, &loaded.meshes), &Known::default(), &bar, &stop)?;
    let causes = report::causes(&checked.outcome);
    let most = args.apply.iter().max().map(|number| *number as usize);
    let mended = mend::mend((&loaded.project, &loaded.meshes), (&checked, &causes), most, &bar, &stop)?;
    drop(bar);
    let Some(destination) = destination else {
        let told = written(&loaded, &checked.outcome, &mended, args)?;
        output::deliver(told.as_bytes(), None)?;
        return Ok(ExitCode::from(u8::from(!causes.is_empty())));
    };
    let edits = edits_of(&mended, &args.apply, causes.len())?;
    let plan = destination.make(&edits)?;
    let changed: Vec<String> = edits.iter().map(ToString::to_string).collect();
    let written = format!("changed in {}: {}\n", plan.display(), changed.join(", "));
    edited::check_again(&plan, Some((&written, &plan)), &stop)
}

/// Where edits are made.
enum Destination<'a> {
    /// In the plan's own file.
    InPlace(&'a Path),
    /// In a copy of a plan, or of the demo, in a folder.
    Copy { of: Option<&'a Path>, folder: &'a Path },
}

impl<'a> Destination<'a> {
    fn of(args: &'a Args) -> Result<Self> {
        match (args.plan.as_deref(), args.out.as_deref()) {
            (of, Some(folder)) => {
                files::is_new(folder)?;
                Ok(Self::Copy { of, folder })
            }
            (Some(plan), None) => Ok(Self::InPlace(plan)),
            (None, None) => Err(anyhow!("the built-in demo cannot be changed; expected --out DIR for a copy of it")),
        }
    }

    /// Makes edits there, nothing half; hands back where the plan is.
    fn make(&self, edits: &[PlanEdit]) -> Result<PathBuf> {
        match self {
            Self::InPlace(plan) => {
                let mut draft = Draft::as_on_disk(plan)?;
                draft.apply_all(edits)?;
                draft.save()?;
                Ok(plan.to_path_buf())
            }
            Self::Copy { of: Some(plan), folder } => {
                let (disk, plan) = files::plan_at(plan)?;
                edited::copy_with(&disk, &plan, edits, folder)
            }
            Self::Copy { of: None, folder } => {
                edited::copy_with(&Embedded { files: DEMO }, &PlanPath::plan(), edits, folder)
            }
        }
    }
}

/// The mends in the format that was asked for.
fn written(loaded: &Loaded, outcome: &check::Outcome, mended: &[Mended], args: &Args) -> Result<String> {
    let named = args.plan.as_ref().map(|path| path.display().to_string());
    let report = Report {
        project: &loaded.project,
        inputs: &loaded.inputs,
        notes: &loaded.notes,
        outcome,
        options: &Options::default(),
        named: named.as_deref(),
    };
    if args.format == Format::Json {
        return report::mends_json(&report, mended).context("writing the mends as JSON");
    }
    let mut told = report::mends(&report, mended, output::ink(None));
    told += &report::cautions();
    if mend::numbered(mended).next().is_some() {
        let plan = named.map(|named| format!(" {named}")).unwrap_or_default();
        told += &format!("next: trusswalk mend{plan} --apply NUMBER --out DIR, which makes a change in a copy\n");
    }
    Ok(told)
}

/// The edits of the mends of some numbers, which must not change the same thing.
fn edits_of(mended: &[Mended], wanted: &[u32], causes: usize) -> Result<Vec<PlanEdit>> {
    let count = mend::numbered(mended).count();
    let mut taken: Vec<(u32, &PlanEdit)> = Vec::new();
    for wanted in BTreeSet::from_iter(wanted) {
        let found = mend::numbered(mended).find(|(number, _)| *number == *wanted as usize);
        let (_, mend) = found.ok_or_else(|| match (causes, count) {
            (0, _) => anyhow!("no limit is violated: there is nothing to mend"),
            (_, 0) => anyhow!("there is no mend {wanted}: none was found"),
            (_, count) => anyhow!("there is no mend {wanted}; expected 1 to {count}"),
        })?;
        for edit in &mend.edits {
            if let Some((other, both)) = taken.iter().find(|(other, one)| other != wanted && edit.clashes_with(one)) {
                return Err(anyhow!(
                    "mends {other} and {wanted} change the same: {both}; {edit}. Expected one of them, and `mend` again"
                ));
            }
            taken.push((*wanted, edit));
        }
    }
    Ok(taken.into_iter().map(|(_, edit)| edit.clone()).collect())
}
