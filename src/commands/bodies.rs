//! `bodies`: which bodies does the program see, and where?

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::{Context, Result};
use clap::ValueEnum;

use super::{output, plan};
use crate::check::bodies_at_start;
use crate::report;

/// List every body at the start of a plan: its id, its class, and the box that holds it
#[derive(clap::Args)]
pub struct Args {
    /// Plan folder, or the plan file in it; the built-in demo where it is missing
    plan: Option<PathBuf>,
    /// What is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    /// Write to a file instead of stdout
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For people
    #[default]
    Text,
    /// A list, for machines
    Json,
    /// One row a body
    Csv,
}

/// Writes the list.
///
/// # Errors
/// The plan's mistakes, a result that cannot be written.
pub fn run(args: &Args) -> Result<ExitCode> {
    let loaded = plan::load_open(args.plan.as_deref())?;
    let left_open: Vec<&str> = loaded.open.iter().map(|site| site.worksite.as_str()).collect();
    if !left_open.is_empty() {
        eprintln!(
            "open in the plan: {}; arm, restraint and who stands in it are somewhere until `trusswalk propose` has settled it",
            left_open.join(", ")
        );
    }
    let bodies = bodies_at_start(&loaded.project, &loaded.meshes);
    let written = match args.format {
        Format::Text => report::bodies_text(&bodies, output::ink(args.out.as_deref())).into_bytes(),
        Format::Json => report::bodies_json(&bodies).context("writing the bodies as JSON")?.into_bytes(),
        Format::Csv => report::bodies_csv(&bodies).context("writing the bodies as CSV")?,
    };
    output::deliver(&written, args.out.as_deref())?;
    Ok(ExitCode::SUCCESS)
}
