//! Which plan does a command work on?

use std::path::Path;

use super::embedded::DEMO;
use crate::files::{self, Loaded, Problems};

/// The plan at a path, or the demo where there is none.
///
/// # Errors
/// All mistakes in the plan's files.
pub fn load(path: Option<&Path>) -> Result<Loaded, Problems> {
    match path {
        Some(path) => files::read_project(path),
        None => files::read_embedded(DEMO),
    }
}

/// The same, its settings and configurations left open where it leaves them so.
///
/// # Errors
/// All mistakes in the plan's files.
pub fn load_open(path: Option<&Path>) -> Result<Loaded, Problems> {
    match path {
        Some(path) => {
            let (disk, plan) = files::plan_at(path)?;
            files::read_open(&disk, &plan)
        }
        None => files::read_embedded(DEMO),
    }
}

/// The same plan, to be changed.
///
/// # Errors
/// There is no plan, or its file is no text.
#[cfg(feature = "viewer")]
pub fn draft(path: Option<&Path>) -> Result<(files::Draft, files::Found), Problems> {
    match path {
        Some(path) => files::Draft::open(path),
        None => files::Draft::built_in(files::Embedded { files: DEMO }, files::state_folder().as_deref()),
    }
}

/// The same plan as it is on disk, to be looked at only.
///
/// # Errors
/// There is no plan, or its file is no text.
#[cfg(feature = "viewer")]
pub fn untouched(path: Option<&Path>) -> Result<files::Draft, Problems> {
    match path {
        Some(path) => files::Draft::as_on_disk(path),
        None => files::Draft::built_in(files::Embedded { files: DEMO }, None).map(|(draft, _)| draft),
    }
}
