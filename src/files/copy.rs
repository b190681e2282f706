//! How does a plan with all its files get into another folder, with nothing there written over?
//!
//! The files are those that reading the plan asks for, so none is forgotten and none is taken that the plan does not
//! name. What a plan shares with plans beside it (`../arms/…`) goes beside the new folder.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow};

use super::atomic;
use super::plan_path::PlanPath;
use super::project::read_from;
use super::source::{Disk, NotRead, Source};

/// Writes a plan and its files into a folder that is new or empty. Of a plan with mistakes, as many as can be read.
///
/// # Errors
/// Something is in the way, or cannot be written; what was written is then removed again.
pub fn copy(source: &dyn Source, plan: &PlanPath, folder: &Path) -> anyhow::Result<Disk> {
    copy_with(source, plan, folder, None)
}

/// The same with another text of the plan itself.
///
/// # Errors
/// As for [`copy`], or the text is no sound plan.
pub fn copy_as(source: &dyn Source, plan: &PlanPath, folder: &Path, text: &str) -> anyhow::Result<Disk> {
    copy_with(source, plan, folder, Some(text))
}

fn copy_with(source: &dyn Source, plan: &PlanPath, folder: &Path, text: Option<&str>) -> anyhow::Result<Disk> {
    let recording = Recording { below: source, files: RefCell::default() };
    let is_sound = read_from(&recording, plan).is_ok() || text.is_some();
    let mut files = recording.files.into_inner();
    if let (Some(text), Some(bytes)) = (text, files.get_mut(plan)) {
        *bytes = text.as_bytes().to_vec();
    }
    if !files.contains_key(plan) {
        return Err(anyhow!("`{plan}` cannot be read"));
    }
    let is_new = make_empty(folder)?;
    let mut written = Vec::new();
    let copied = write_all(folder, &files, &mut written).and_then(|()| {
        let disk = Disk::new(folder).with_context(|| format!("looking into `{}`", folder.display()))?;
        match read_from(&disk, plan) {
            Err(problems) if is_sound => Err(anyhow!("the copy would not read: {problems}")),
            _ => Ok(disk),
        }
    });
    copied.map_err(|error| without(folder, is_new, &written, error))
}

/// A source that keeps what was read from it.
struct Recording<'a> {
    below: &'a dyn Source,
    files: RefCell<BTreeMap<PlanPath, Vec<u8>>>,
}

impl Source for Recording<'_> {
    fn read(&self, path: &PlanPath, cap: u64) -> Result<Vec<u8>, NotRead> {
        let bytes = self.below.read(path, cap)?;
        self.files.borrow_mut().insert(path.clone(), bytes.clone());
        Ok(bytes)
    }

    fn neighbours(&self, path: &PlanPath) -> Vec<String> {
        self.below.neighbours(path)
    }
}

/// Whether a folder into which a plan may be copied is new; one that is there must be empty.
///
/// # Errors
/// There is something in it, or nobody can look into it.
pub fn is_new(folder: &Path) -> anyhow::Result<bool> {
    match fs::read_dir(folder) {
        Ok(entries) => match entries.count() {
            0 => Ok(false),
            _ => Err(anyhow!("there is something in `{}` already; expected a new or empty folder", folder.display())),
        },
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(true),
        Err(error) => Err(error).with_context(|| format!("looking into `{}`", folder.display())),
    }
}

/// Makes a folder, and says whether it is new; one that is there must be empty.
fn make_empty(folder: &Path) -> anyhow::Result<bool> {
    let is_new = is_new(folder)?;
    if is_new {
        fs::create_dir_all(folder).with_context(|| format!("making the folder `{}`", folder.display()))?;
    }
    Ok(is_new)
}

/// Writes files where nothing is yet; one that lies there with the same bytes is left.
fn write_all(folder: &Path, files: &BTreeMap<PlanPath, Vec<u8>>, written: &mut Vec<PathBuf>) -> anyhow::Result<()> {
    for (path, bytes) in files {
        let file = folder.join(path.as_str());
        if fs::read(&file).is_ok_and(|there| there == *bytes) {
            continue;
        }
        if fs::symlink_metadata(&file).is_ok() {
            return Err(anyhow!("`{}` is there already, and is another one", file.display()));
        }
        if let Some(around) = file.parent() {
            fs::create_dir_all(around).with_context(|| format!("making the folder `{}`", around.display()))?;
        }
        atomic::create(&file, bytes)?;
        written.push(file);
    }
    Ok(())
}

/// Removes what was written of a copy, and says where that fails.
fn without(folder: &Path, is_new: bool, written: &[PathBuf], mut error: anyhow::Error) -> anyhow::Error {
    for file in written {
        if let Err(why) = fs::remove_file(file) {
            error = error.context(format!("`{}` is left over: {why}", file.display()));
        }
    }
    if is_new && let Err(why) = fs::remove_dir_all(folder) {
        error = error.context(format!("`{}` is left over: {why}", folder.display()));
    }
    error
}
