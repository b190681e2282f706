//! Where does a result go?

use std::fs::File;
use std::io::{self, BufWriter, ErrorKind, IsTerminal, Write};
use std::path::Path;

use anyhow::{Context, Result};

use crate::files::atomic;
use crate::report::Ink;

/// How a result is told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// For people
    #[default]
    Text,
    /// Everything, for machines
    Json,
}

/// A file to write to, or stdout where none is named.
///
/// # Errors
/// If the file cannot be made.
pub fn open(out: Option<&Path>) -> Result<Box<dyn Write>> {
    Ok(match out {
        Some(path) => {
            let file = File::create(path).with_context(|| format!("writing {}", path.display()))?;
            Box::new(BufWriter::new(file))
        }
        None => Box::new(BufWriter::new(io::stdout().lock())),
    })
}

/// Writes a result that is whole; a file that is there is replaced at once, never half.
///
/// # Errors
/// If it cannot be written.
pub fn deliver(bytes: &[u8], out: Option<&Path>) -> Result<()> {
    match out {
        Some(path) => atomic::write(path, bytes),
        None => {
            let mut stdout = io::stdout().lock();
            forgive_closed_pipe(stdout.write_all(bytes).and_then(|()| stdout.flush()).context("writing to stdout"))
        }
    }
}

/// Colour only on a terminal that has not been asked for none.
pub fn ink(out: Option<&Path>) -> Ink {
    let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    if out.is_none() && !refused && io::stdout().is_terminal() { Ink::Coloured } else { Ink::Plain }
}

/// A reader that has read enough and closed its end is no error.
///
/// # Errors
/// Any other one.
pub fn forgive_closed_pipe(written: Result<()>) -> Result<()> {
    let closed = |cause: &(dyn std::error::Error + 'static)| {
        cause.downcast_ref::<io::Error>().is_some_and(|error| error.kind() == ErrorKind::BrokenPipe)
    };
    match written {
        Err(error) if error.chain().any(closed) => Ok(()),
        other => other,
    }
}
