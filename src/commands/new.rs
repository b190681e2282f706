//! `new`: from which plan can one start?

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Result;

use super::embedded::{DEMO, STARTER};
use super::output;
use crate::files::{Embedded, PlanPath, copy};

/// Write a small commented plan to start from
#[derive(clap::Args)]
pub struct Args {
    /// Folder to write it into; it must be new or empty
    dir: PathBuf,
    /// Write the built-in demo, which uses everything, in place of the small plan
    #[arg(long)]
    demo: bool,
}

/// Writes the plan and says what to do next.
///
/// # Errors
/// If there is something in the folder already, or it cannot be written.
pub fn run(args: &Args) -> Result<ExitCode> {
    let files = if args.demo { DEMO } else { STARTER };
    copy(&Embedded { files }, &PlanPath::plan(), &args.dir)?;
    let next = format!("wrote a plan into {0}; next: trusswalk check {0}\n", args.dir.display());
    output::deliver(next.as_bytes(), None)?;
    Ok(ExitCode::SUCCESS)
}
