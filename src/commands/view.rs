//! `view`: what does the plan look like, and what does a change of it do?

use std::path::PathBuf;
use std::process::ExitCode;

#[cfg(feature = "viewer")]
use anyhow::Context;
use anyhow::Result;

/// Size of the window where none is asked for.
const SIZE: &str = "1440x810";

/// Open the 3D viewer on a plan
#[derive(clap::Args)]
pub struct Args {
    /// Plan folder, or the plan file in it; the built-in demo where it is missing
    plan: Option<PathBuf>,
    /// Width and height of the window, pixels
    #[arg(long, value_name = "WIDTHxHEIGHT", default_value = SIZE)]
    size: super::size::Size,
}

/// Opens a window and waits until it is closed.
///
/// # Errors
/// The program was built without the viewer; there is no plan, no display or no graphics driver.
#[cfg(feature = "viewer")]
pub fn run(args: &Args) -> Result<ExitCode> {
    let draft = super::plan::draft(args.plan.as_deref())?;
    let pictures = std::env::current_dir().context("looking for the current folder")?;
    let start = crate::viewer::Start { size: args.size.0, pictures };
    match crate::viewer::open(draft, &start)? {
        crate::viewer::Opened::Closed => Ok(ExitCode::SUCCESS),
        crate::viewer::Opened::Failed => Ok(ExitCode::from(2)),
    }
}

/// Says how to build the viewer.
///
/// # Errors
/// Always.
#[cfg(not(feature = "viewer"))]
pub fn run(args: &Args) -> Result<ExitCode> {
    let plan = args.plan.as_ref().map(|plan| format!(" {}", super::shell::path(plan))).unwrap_or_default();
    let size = Some(args.size.to_string()).filter(|size| size != SIZE);
    let size = size.map(|size| format!(" --size {size}")).unwrap_or_default();
    anyhow::bail!(
        "this program was built without its viewer; to build it and open a window:\n    cargo run --release \
         --features viewer -- view{plan}{size}"
    )
}
