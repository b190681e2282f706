//! Where is kept what a search found, and when is it stopped?

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use anyhow::{Context, Result, bail};

use super::interrupt;
use crate::check::Stopped;
use crate::files::{self, Input, sha256};
use crate::propose::Memory;

/// How a search is stopped, and gone on with.
#[derive(clap::Args)]
pub struct Args {
    /// Keep what is found in a file, also when the search is stopped, and go on from what it holds
    #[arg(long, value_name = "FILE")]
    keep: Option<PathBuf>,
    /// Stop after so many seconds, as Ctrl-C does
    #[arg(long, value_name = "SECONDS", value_parser = seconds)]
    time_limit: Option<f64>,
}

/// A search with what it may go on from.
pub struct Kept<'a> {
    args: &'a Args,
    question: String,
    pub memory: Memory,
    pub stop: Arc<AtomicBool>,
}

impl Args {
    /// Reads what was kept of the same question, which the files that were read and the `asked` words make, and starts the
    /// clock.
    ///
    /// # Errors
    /// The file holds something else, or nothing hears of Ctrl-C.
    pub fn open(&self, inputs: &[Input], asked: &str) -> Result<Kept<'_>> {
        let sums: Vec<&str> = inputs.iter().map(|input| input.sha256.as_str()).collect();
        let version = env!("CARGO_PKG_VERSION");
        let question = sha256(format!("{version}\n{asked}\n{}", sums.join("\n")).as_bytes());
        let memory = match &self.keep {
            Some(file) if file.exists() => read(file, &question)?,
            _ => Memory::default(),
        };
        let stop = interrupt::stop_flag()?;
        if let Some(seconds) = self.time_limit {
            let raised = Arc::clone(&stop);
            std::thread::spawn(move || {
                std::thread::sleep(Duration::from_secs_f64(seconds));
                if !raised.swap(true, Ordering::Relaxed) {
                    eprintln!("the time limit of {seconds} s is over");
                }
            });
        }
        Ok(Kept { args: self, question, memory, stop })
    }
}

impl Kept<'_> {
    /// Writes what was found, and says so where the search was stopped; hands on what came of it.
    ///
    /// # Errors
    /// It was stopped, or the file cannot be written.
    pub fn close<T>(self, found: Result<T, Stopped>) -> Result<T> {
        if let Some(file) = &self.args.keep {
            files::atomic::write(file, &self.memory.written(&self.question))?;
            if found.is_err() {
                eprintln!("what was found is kept in {}; the same command goes on from there", file.display());
            }
        }
        Ok(found?)
    }
}

fn read(file: &Path, question: &str) -> Result<Memory> {
    let bytes = std::fs::read(file).with_context(|| format!("reading `{}`", file.display()))?;
    match Memory::read(&bytes, question) {
        Ok(Some(memory)) => Ok(memory),
        Ok(None) => bail!(
            "`{}` keeps what was found for another plan, other options or by another version; expected a new file, or the \
             one of this plan as it is now",
            file.display()
        ),
        Err(error) => Err(error).with_context(|| {
            format!("`{}` holds nothing that `--keep` has written; expected such a file or a new one", file.display())
        }),
    }
}

fn seconds(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(seconds) if seconds > 0.0 && seconds <= 1e6 => Ok(seconds),
        _ => Err("expected a number of seconds above 0, at most 1000000".to_owned()),
    }
}
