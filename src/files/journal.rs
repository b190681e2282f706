//! Where is what a killed program had not saved?
//!
//! A journal is a file beside the plan (of a built-in plan: in the user's state folder) with the text that was edited
//! and the SHA-256 of the text that the edits started from. It is there only while something is not saved.

use std::ffi::OsString;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::{Context, Result};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::atomic;

/// The journal of one plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Journal {
    path: PathBuf,
}

/// What an earlier run has left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    Nothing,
    /// A text whose edits started from the text at hand.
    Edits(String),
    /// Its edits started from another text: the journal was put aside, here.
    Aside(PathBuf),
    /// It cannot be used, because …; it was left where it is.
    Unreadable(String),
}

#[derive(Serialize, Deserialize)]
struct Kept {
    started_from_sha256: String,
    text: String,
}

impl Journal {
    /// The journal of a plan's file.
    pub fn beside(plan: &Path) -> Self {
        let mut name = OsString::from(".");
        name.push(plan.file_name().unwrap_or_default());
        name.push(".unsaved");
        Self { path: plan.with_file_name(name) }
    }

    /// The journal of the plan that the program carries inside; none where the user has no folder for it.
    pub fn of_built_in() -> Option<Self> {
        let set = |name| std::env::var_os(name).filter(|value| !value.is_empty()).map(PathBuf::from);
        let state = set("XDG_STATE_HOME").or_else(|| set("HOME").map(|home| home.join(".local/state")))?;
        Some(Self { path: state.join("trusswalk").join("demo.unsaved") })
    }

    /// Looks for what an earlier run has left of edits of a text.
    pub fn find(&self, text: &str) -> Found {
        let bytes = match fs::read(&self.path) {
            Ok(bytes) => bytes,
            Err(error) if error.kind() == ErrorKind::NotFound => return Found::Nothing,
            Err(error) => return Found::Unreadable(format!("`{}` cannot be read: {error}", self.path.display())),
        };
        match serde_json::from_slice::<Kept>(&bytes) {
            Ok(kept) if kept.started_from_sha256 == sha256(text) && kept.text == text => Found::Nothing,
            Ok(kept) if kept.started_from_sha256 == sha256(text) => Found::Edits(kept.text),
            Ok(_) => self.put_aside(),
            Err(_) => Found::Unreadable(format!("`{}` is no journal of edits; it was left there", self.path.display())),
        }
    }

    fn put_aside(&self) -> Found {
        let free = (1..1000).map(|k| self.path.with_extension(format!("unsaved-{k}"))).find(|path| !path.exists());
        match free.map(|path| (fs::rename(&self.path, &path), path)) {
            Some((Ok(()), path)) => Found::Aside(path),
            _ => Found::Unreadable(format!("`{}` does not fit the plan any more", self.path.display())),
        }
    }

    /// Keeps a text that was edited, and what it started from.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn keep(&self, started_from: &str, text: &str) -> Result<()> {
        if let Some(folder) = self.path.parent() {
            fs::create_dir_all(folder).with_context(|| format!("making the folder `{}`", folder.display()))?;
        }
        let kept = Kept { started_from_sha256: sha256(started_from), text: text.to_owned() };
        atomic::write(&self.path, &serde_json::to_vec(&kept).context("writing a journal")?)
    }

    /// Nothing is left to be kept.
    ///
    /// # Errors
    /// The file cannot be removed.
    pub fn forget(&self) -> Result<()> {
        match fs::remove_file(&self.path) {
            Err(error) if error.kind() != ErrorKind::NotFound => {
                Err(error).with_context(|| format!("removing `{}`", self.path.display()))
            }
            _ => Ok(()),
        }
    }
}

fn sha256(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect()
}
