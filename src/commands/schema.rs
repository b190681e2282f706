//! `schema`: what may stand in each kind of file?

use std::process::ExitCode;

use anyhow::{Context, Result};
use clap::ValueEnum;
use schemars::{Schema, schema_for};

use super::output;
use crate::model::{Arm, ArmShapes, Plan, Restraint, Structure, Suit};
use crate::report;

/// Print the JSON Schema of a kind of file or result, for editors
#[derive(clap::Args)]
pub struct Args {
    /// Kind of file
    kind: Kind,
}

#[derive(Clone, Copy, ValueEnum)]
enum Kind {
    Plan,
    Structure,
    Arm,
    ArmShapes,
    Restraint,
    Suit,
    /// What `propose --format json` writes
    Proposal,
    /// What `mend --format json` writes
    Mends,
}

impl Kind {
    fn schema(self) -> Schema {
        match self {
            Self::Plan => schema_for!(Plan),
            Self::Structure => schema_for!(Structure),
            Self::Arm => schema_for!(Arm),
            Self::ArmShapes => schema_for!(ArmShapes),
            Self::Restraint => schema_for!(Restraint),
            Self::Suit => schema_for!(Suit),
            Self::Proposal => report::proposal_schema(),
            Self::Mends => report::mends_schema(),
        }
    }
}

/// Prints the schema.
///
/// # Errors
/// If it cannot be written.
pub fn run(args: &Args) -> Result<ExitCode> {
    let text = serde_json::to_string_pretty(&args.kind.schema()).context("writing the schema as JSON")?;
    output::deliver((text + "\n").as_bytes(), None)?;
    Ok(ExitCode::SUCCESS)
}
