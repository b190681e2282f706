//! What becomes of a plan with edits made: where is it written, and what does its check say?

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::AtomicBool;

use anyhow::Result;

use super::output;
use super::progress::Bar;
use crate::check;
use crate::files::{self, PlanPath, Source};
use crate::model::PlanEdit;
use crate::propose::Violation;
use crate::report;

/// Writes a copy of a plan with edits made into a new or empty folder, nothing half; hands back where the plan is.
///
/// # Errors
/// An edit that does not fit, something in the way, or a folder that cannot be written.
pub fn copy_with(source: &dyn Source, plan: &PlanPath, edits: &[PlanEdit], folder: &Path) -> Result<PathBuf> {
    let text = files::apply_all(&files::plan_text(source, plan)?, plan, edits)?;
    files::copy_as(source, plan, folder, &text)?;
    Ok(folder.join(plan.as_str()))
}

/// Checks a plan that was written. Where something is said of the writing, says what came of it behind that, the plan called
/// as given there. Ends with 1 where a limit is violated.
///
/// # Errors
/// The plan does not read, a request to stop, or nobody takes the output.
pub fn check_again(plan: &Path, told: Option<(&str, &Path)>, stop: &AtomicBool) -> Result<ExitCode> {
    let loaded = files::read_project(plan)?;
    let outcome = check::run(&loaded.project, &loaded.meshes, &Bar::new(), stop)?;
    let violations = Violation::all(&outcome.findings);
    if let Some((written, named)) = told {
        let counted = report::counted(&report::Counts::of(&outcome));
        let violated = report::violated(&violations);
        let next = if violations.is_empty() { "check" } else { "mend" };
        let told = format!("{written}its check: {counted}; next: trusswalk {next} {}\n{violated}", named.display());
        output::deliver(told.as_bytes(), None)?;
    }
    Ok(ExitCode::from(u8::from(!violations.is_empty())))
}
