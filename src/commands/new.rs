//! `new`: from which plan can one start?

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, Result, bail};

use super::embedded::{DEMO, STARTER};
use super::output;
use crate::files::atomic;

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
    let dir = &args.dir;
    make_empty(dir)?;
    for (name, bytes) in if args.demo { DEMO } else { STARTER } {
        atomic::write(&dir.join(name), bytes)?;
    }
    let next = format!("wrote a plan into {0}; next: trusswalk check {0}\n", dir.display());
    output::deliver(next.as_bytes(), None)?;
    Ok(ExitCode::SUCCESS)
}

/// Makes the folder; one that is there already must be empty.
fn make_empty(dir: &Path) -> Result<()> {
    match fs::read_dir(dir) {
        Ok(mut entries) => {
            if entries.next().is_some() {
                bail!("there is something in {} already; expected a new or empty folder", dir.display());
            }
            Ok(())
        }
        Err(error) if error.kind() == ErrorKind::NotFound => {
            fs::create_dir_all(dir).with_context(|| format!("making the folder {}", dir.display()))
        }
        Err(error) => Err(error).with_context(|| format!("looking into {}", dir.display())),
    }
}
