//! What did the user ask for on the command line?
//!
//! One file for each command: its arguments as typed, and what is done. Results go to stdout or `--out`, everything
//! else to stderr. No mathematics lives here.

mod bodies;
mod check;
mod edited;
mod embedded;
mod interrupt;
mod kept;
mod mend;
mod new;
mod output;
mod plan;
mod poses;
mod progress;
mod propose;
mod render;
mod schema;
#[cfg(not(feature = "viewer"))]
mod shell;
mod size;
mod view;

use std::process::ExitCode;

use anyhow::Result;
use clap::{Parser, Subcommand};

use crate::check::Stopped;
use crate::files::Problems;

/// The input could not be used, or nothing could be written: no statement about the plan.
const UNUSABLE: u8 = 2;
/// What shells report of a program that was stopped by Ctrl-C: 128 + SIGINT.
const INTERRUPTED: u8 = 130;

/// Can this arm carry this crewmember through this job?
#[derive(Parser)]
#[command(
    name = "trusswalk",
    version,
    after_help = "Without a command, the built-in demo is checked.\n\
                  Exit codes: 0 no limit is violated, 1 a limit is violated, 2 the input could not be used, \
                  130 stopped by Ctrl-C or a time limit."
)]
struct Cli {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    Check(check::Args),
    Mend(mend::Args),
    Propose(propose::Args),
    Bodies(bodies::Args),
    Poses(poses::Args),
    Schema(schema::Args),
    New(new::Args),
    View(view::Args),
    Render(render::Args),
}

/// Does what the command line says.
///
/// # Errors
/// Whatever kept the command from its end; [`failed`] tells the user.
pub fn run() -> Result<ExitCode> {
    match Cli::parse().command {
        None => check::run(&check::Args::default()),
        Some(Command::Check(args)) => check::run(&args),
        Some(Command::Mend(args)) => mend::run(&args),
        Some(Command::Propose(args)) => propose::run(&args),
        Some(Command::Bodies(args)) => bodies::run(&args),
        Some(Command::Poses(args)) => poses::run(&args),
        Some(Command::Schema(args)) => schema::run(&args),
        Some(Command::New(args)) => new::run(&args),
        Some(Command::View(args)) => view::run(&args),
        Some(Command::Render(args)) => render::run(&args),
    }
}

/// Tells the user of an error with its whole chain; the one place where errors are printed.
pub fn failed(error: &anyhow::Error) -> ExitCode {
    if error.is::<Stopped>() {
        eprintln!("{error}");
        return ExitCode::from(INTERRUPTED);
    }
    if error.is::<Problems>() {
        eprintln!("{error}");
    } else {
        eprintln!("error: {error}");
        for cause in error.chain().skip(1) {
            eprintln!("  because: {cause}");
        }
    }
    ExitCode::from(UNUSABLE)
}
